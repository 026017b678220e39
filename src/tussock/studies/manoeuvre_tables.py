"""Tables of the standard manoeuvres: one for each, a row for each build."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from tussock.studies.job import Setup
from tussock.studies.manoeuvre_runs import BrakeRun, GustRun, Handling
from tussock.studies.result import Cell, Column, Table

Row = Callable[[Handling], tuple[Cell, ...]]


def name_of(setup: Setup) -> str:
    """Return a setup's build as people say it."""
    return "stock" if setup.stock else setup.build


def of(both: Sequence[Handling]) -> tuple[Table, ...]:
    """Return the tables of one or two builds."""
    return (
        _table(both, "lane", "Double lane change, ISO 3888-1: fastest pass without a fallen cone", _LANE, _lane),
        _table(
            both,
            "circle",
            "Steady circle of 100 m, ISO 4138",
            _CIRCLE,
            _circle,
            note="gradients from 0.5 to 3 m/s²; steer of the front wheels, moment at the hand wheel",
        ),
        _table(
            both,
            "step",
            "Step of the hand wheel at 100 km/h to 4 m/s², ISO 7401",
            _STEP,
            _step,
            note="from half of the hand wheel's angle to 90 % of the steady value, and to the peak; TB: sideslip times "
            "peak time",
        ),
        _table(both, "gust", "Crosswind gust of 20 m/s at 100 km/h, ISO 12021", _GUST, lambda h: _gust(h.gust)),
        _table(
            both,
            "lorry",
            "Oncoming lorry beside 90 km/h",
            _GUST,
            lambda h: _gust(h.lorry),
            note="a model, not a measured pulse: compare builds, do not quote it",
        ),
        _table(both, "brake_smooth", "Braking from 80 km/h, smooth road", _BRAKE, lambda h: _brake(h.smooth)),
        _table(
            both,
            "brake_rough",
            "Braking from 80 km/h, gravel with washboard",
            _BRAKE,
            lambda h: _brake(h.rough),
            note="the hardest of a row of decelerations that both axles hold in 3.5 m of lane, the driver steering; "
            "used: brake force over grip",
        ),
    )


def _table(
    both: Sequence[Handling], key: str, title: str, columns: tuple[Column, ...], row: Row, note: str = ""
) -> Table:
    return Table(
        key=key,
        title=title,
        columns=(Column(key="build", title="Build"), *columns),
        rows=tuple((name_of(h.setup), *row(h)) for h in both),
        note=note,
    )


_LANE = (
    Column(key="speed", title="Speed", kind="speed"),
    Column(key="clearance", title="Room to a cone", kind="length"),
    Column(key="roll", title="Roll", kind="angle"),
    Column(key="lateral", title="Lateral", kind="acceleration"),
    Column(key="turned", title="Wheel turned", kind="angle", digits=0),
    Column(key="work", title="Work", kind="energy"),
    Column(key="load", title="Least load", kind="share", digits=0),
    Column(key="ends", title="Faster"),
)


def _lane(h: Handling) -> tuple[Cell, ...]:
    run = h.lane
    if run is None:
        return (None, None, None, None, None, None, None, "fails at once")
    ends = "all passed"
    if h.failed is not None:
        ends = "cones fall" if h.failed.least_load > 0.0 else "a wheel lifts"
    return (run.speed, run.clearance, run.roll, run.lateral, run.turned, run.work, run.least_load, ends)


_CIRCLE = (
    Column(key="understeer", title="Understeer", kind="roll_gradient"),
    Column(key="roll", title="Roll", kind="roll_gradient"),
    Column(key="sideslip", title="Sideslip", kind="roll_gradient"),
    Column(key="torque", title="Moment", kind="torque_gradient"),
    Column(key="limit", title="Up to", kind="acceleration"),
    Column(key="ends", title="Then"),
)


def _circle(h: Handling) -> tuple[Cell, ...]:
    g = h.circle.gradients
    # signs as for a left turn
    return (g.understeer, g.roll, g.sideslip, g.torque, g.limit, h.circle.ends or "not reached")


_STEP = (
    Column(key="hand", title="Hand wheel", kind="angle", digits=0),
    Column(key="yaw_time", title="Yaw rate", kind="time"),
    Column(key="peak_time", title="its peak", kind="time"),
    Column(key="overshoot", title="over", kind="share", digits=0),
    Column(key="lateral_time", title="Lateral", kind="time"),
    Column(key="lateral_over", title="over", kind="share", digits=0),
    Column(key="sideslip", title="Sideslip", kind="angle_fine"),
    Column(key="tb", title="TB", kind="angle_time"),
)


def _step(h: Handling) -> tuple[Cell, ...]:
    s = h.step
    peak = s.yaw_response.peak_time if s.tb is not None else None
    return (
        s.hand,
        s.yaw_response.response_time,
        peak,
        s.yaw_response.overshoot,
        s.lateral_response.response_time,
        s.lateral_response.overshoot,
        s.sideslip,
        s.tb,
    )


_GUST = (
    Column(key="force", title="Side force", kind="force_k"),
    Column(key="moment", title="Yaw moment", kind="torque", digits=0),
    Column(key="off", title="Off at 2 s", kind="distance", digits=2),
    Column(key="yaw", title="Yaw rate", kind="rotation_speed"),
    Column(key="lateral", title="Lateral", kind="acceleration"),
    Column(key="departure", title="Off, steered", kind="distance", digits=2),
    Column(key="turned", title="Wheel turned", kind="angle", digits=0),
    Column(key="work", title="Work", kind="energy", digits=1),
)


def _gust(g: GustRun) -> tuple[Cell, ...]:
    held = g.held
    return (
        g.side_force,
        g.yaw_moment,
        held.deviation,
        held.yaw_rate,
        held.lateral,
        g.departure,
        g.turned,
        g.work,
    )


_BRAKE = (
    Column(key="held", title="Held", kind="acceleration"),
    Column(key="distance", title="Stops in", kind="distance"),
    Column(key="pitch", title="Pitch", kind="angle"),
    Column(key="variation", title="Load variation", kind="share", digits=0),
    Column(key="drift", title="Drift", kind="distance", digits=2),
    Column(key="front", title="Front used", kind="share", digits=0),
    Column(key="rear", title="Rear used", kind="share", digits=0),
    Column(key="locks", title="Locks first"),
)


def _brake(b: BrakeRun) -> tuple[Cell, ...]:
    s = b.stop
    return (s.deceleration, s.distance, s.pitch, s.variation, s.drift, b.front, b.rear, b.locks or "neither")
