"""Manoeuvres: how does it behave in wind, bends, a lane change and braking?"""

from __future__ import annotations

import math

import numpy as np

from tussock.mechanics.arrays import Floats
from tussock.mechanics.motion.lane import double_lane_change
from tussock.studies import manoeuvre_runs as runs
from tussock.studies import manoeuvre_tables as tables
from tussock.studies.display import show
from tussock.studies.job import STOCK, Job
from tussock.studies.manoeuvre_runs import Handling, handling
from tussock.studies.manoeuvre_tables import name_of
from tussock.studies.result import Axis, Line, LineChart, Mark, Notice, Result, Role

QUESTION = "How does it behave in wind, bends, a lane change and braking?"
NEUTRAL = math.radians(0.05) / 9.80665  # understeer that nobody feels [rad s^2/m]; common practice, no source
_POINTS = 240  # of a curve in a picture


def study(job: Job, *, fitout: str | None = None, build: str | None = None, against: str | None = None) -> Result:
    """Return the standard manoeuvres of one build against another.

    Parameters
    ----------
    job : Job
        The programme.
    fitout, build : str, optional
        Which; the first fit-out and the last build unless said.
    against : str, optional
        Build to compare with; stock unless said.

    Returns
    -------
    Result
        Passes when it understeers, no wheel lifts in the fastest lane change that it passes, the step of the hand wheel
        settles, and the rear axle does not lock before the front.
    """
    setup = job.setup(fitout, build)
    other = job.setup(setup.fitout, STOCK if against is None else against)
    both = (handling(job, setup), handling(job, other)) if other != setup else (handling(job, setup),)
    failures = _failures(both[0])
    driver = job.programme.road_loop.driver
    return Result(
        stage="manoeuvres",
        question=QUESTION,
        answer=_answer(both),
        passes=not failures,
        provenance=job.provenance(setup, seed=job.programme.road_loop.seed),
        notices=(*failures, *_remarks(both[0])),
        pictures=(
            _lane_picture(float(job.programme.vehicle.body_width), both),
            _gust_picture(both),
            _understeer_picture(both),
            _yaw_picture(both),
            _hand_picture(both),
        ),
        tables=tables.of(both),
        inputs={
            "fit-out": setup.fitout,
            "build": setup.build,
            "against": other.build,
            "gust": f"{show(abs(runs.GUST.speed), 'velocity', digits=0)} across over {runs.GUST.length:g} m at "
            f"{show(runs.FAST, 'speed')}, ISO 12021",
            "lorry": f"oncoming at {show(runs.LORRY.speed, 'speed')}, {runs.LORRY.gap:g} m beside "
            f"{show(runs.LORRY_SPEEDS[0], 'speed')}; its pulse is potential flow, not measured",
            "circle": f"{runs.RADIUS:g} m, ISO 4138",
            "step of the hand wheel": f"{show(runs.FAST, 'speed')}, {runs.LATERAL:g} m/s², ISO 7401",
            "lane change": "ISO 3888-1",
            "braking": f"from {show(runs.BRAKES_AT, 'speed')}, smooth and {runs.BRAKING_ROAD}",
            "driver": f"looks {driver.preview} ahead, reacts in {driver.reaction}",
            "air": "coefficients from the programme; its defaults are from memory, unconfirmed",
        },
        values={
            "gust_off_path_m": both[0].gust.held.deviation,
            "understeer_rad_s2_per_m": both[0].circle.gradients.understeer,
            "roll_gradient_rad_s2_per_m": both[0].circle.gradients.roll,
            "lateral_limit_m_per_s2": both[0].circle.gradients.limit,
            "lane_speed_m_per_s": both[0].lane.speed if both[0].lane is not None else 0.0,
            "stop_smooth_m": both[0].smooth.stop.distance,
            "stop_rough_m": both[0].rough.stop.distance,
        },
    )


def _answer(both: tuple[Handling, ...]) -> str:
    one = both[0]

    def beside(text: str) -> str:
        return f" ({name_of(both[1].setup)} {text})" if len(both) > 1 else ""

    def lane(h: Handling) -> str:
        return show(h.lane.speed, "speed") if h.lane is not None else "no speed tried"

    gust = beside(show(both[-1].gust.held.deviation, "distance", digits=2))
    gradient = one.circle.gradients.understeer
    steers = (
        f"{_steers(gradient)} by {show(abs(gradient), 'roll_gradient')}" if abs(gradient) > NEUTRAL else "is neutral"
    )
    return (
        f"{name_of(one.setup)} passes the double lane change at up to {lane(one)}{beside(lane(both[-1]))}; at "
        f"{show(runs.FAST, 'speed')} a gust of {show(abs(runs.GUST.speed), 'velocity', digits=0)} moves it "
        f"{show(one.gust.held.deviation, 'distance', digits=2)} aside in two seconds{gust}; it {steers}"
        f"{beside(show(both[-1].circle.gradients.understeer, 'roll_gradient'))} and stops from "
        f"{show(runs.BRAKES_AT, 'speed')} in {show(one.smooth.stop.distance, 'distance')} on a smooth road, in "
        f"{show(one.rough.stop.distance, 'distance')} on washboard{beside(_stops(both[-1]))}."
    )


def _steers(gradient: float) -> str:
    return "understeers" if gradient >= 0.0 else "oversteers"


def _stops(h: Handling) -> str:
    return f"{show(h.smooth.stop.distance, 'distance')} and {show(h.rough.stop.distance, 'distance')}"


def _failures(h: Handling) -> list[Notice]:
    out: list[Notice] = []
    if h.circle.gradients.understeer < -NEUTRAL:
        out.append(
            Notice(
                text=f"It oversteers by {show(-h.circle.gradients.understeer, 'roll_gradient')} in steady bends",
                remedy="more roll stiffness in front, less behind; look at roll steer of the rear axle (tussock "
                "understeer says what makes it so)",
            )
        )
    if h.lane is None:
        out.append(
            Notice(
                text=f"No speed from {runs.LANE_SPEEDS[0]} km/h on passes the lane change without a fallen cone",
                remedy="look at steering, roll and tyres before anybody drives this on a road",
            )
        )
    elif h.lane.least_load <= 0.0:
        out.append(
            Notice(
                text=f"A wheel lifts in the lane change at {show(h.lane.speed, 'speed')}",
                remedy="more roll stiffness, shared otherwise between the axles, or a lower load",
            )
        )
    for what, run in (("on a smooth road", h.smooth), ("on washboard", h.rough)):
        if run.locks == "rear":
            out.append(
                Notice(
                    text=f"The rear wheels lock first when braked harder than "
                    f"{show(run.stop.deceleration, 'acceleration')} {what}",
                    remedy="less brake share behind; the vehicle turns round when its rear wheels lock",
                )
            )
    return out


def _remarks(h: Handling) -> list[Notice]:
    out = [
        Notice(
            text="Forces of wind and lorry follow from coefficients and a model that nobody measured on this vehicle",
            remedy="compare builds with them; set air of the vehicle or fit-out, and the lorry's scale, where known",
        )
    ]
    if "tip" in h.circle.ends:
        out.append(
            Notice(
                text=f"On the circle of {runs.RADIUS:g} m it tips over before its tyres slide",
                remedy="never drive this without outriggers; lower the load or stiffen it in roll",
            )
        )
    return out


def _role(h: Handling, at: int) -> Role:
    return "stock" if h.setup.stock else ("build" if at == 0 else "plain")


def _thin(x: Floats, y: Floats) -> tuple[tuple[float, ...], tuple[float, ...]]:
    pick = np.unique(np.linspace(0, x.size - 1, min(_POINTS, x.size)).astype(int))
    return tuple(map(float, x[pick])), tuple(map(float, y[pick]))


def _lane_picture(width: float, both: tuple[Handling, ...]) -> LineChart:
    lane = double_lane_change(width=width, at=30.0)
    along, across = lane.cones()
    lines = [Line(label="cones", x=tuple(map(float, along)), y=tuple(map(float, across)), role="target", dots=True)]
    title = "No speed passes the lane change"
    for n, h in enumerate(both):
        run = h.lane if h.lane is not None else h.failed
        if run is None:
            continue
        inside = (run.x >= 10.0) & (run.x <= lane.end + 10.0)
        x, y = _thin(run.x[inside], run.y[inside])
        lines.append(Line(label=f"{name_of(h.setup)}, {show(run.speed, 'speed')}", x=x, y=y, role=_role(h, n)))
        if n == 0 and h.lane is not None:
            room = show(run.clearance, "distance", digits=2)
            title = f"Double lane change: {name_of(h.setup)} passes at {show(run.speed, 'speed')} with {room} to spare"
    return LineChart(
        key="lane_change",
        title=title,
        x=Axis(title="along the road", kind="distance"),
        y=Axis(title="middle of the front axle, to the left", kind="distance"),
        lines=tuple(lines),
    )


def _gust_picture(both: tuple[Handling, ...]) -> LineChart:
    lines = []
    for n, h in enumerate(both):
        inside = (h.gust.time >= -0.2) & (h.gust.time <= 2.2)
        x, y = _thin(h.gust.time[inside], np.abs(h.gust.off[inside]))
        lines.append(Line(label=name_of(h.setup), x=x, y=y, role=_role(h, n)))
    return LineChart(
        key="gust",
        title=f"Crosswind, hand wheel held: {show(both[0].gust.held.deviation, 'distance', digits=2)} aside after 2 s",
        x=Axis(title="since the front met the wind", kind="time"),
        y=Axis(title="off the path", kind="distance"),
        lines=tuple(lines),
        marks=(Mark(text="2 s", x=2.0),),
    )


def _understeer_picture(both: tuple[Handling, ...]) -> LineChart:
    lines = []
    for n, h in enumerate(both):
        order = np.argsort(h.circle.lateral)
        x, y = _thin(h.circle.lateral[order], h.circle.steer[order])
        lines.append(Line(label=name_of(h.setup), x=x, y=y, role=_role(h, n), marked=False))
    first = both[0].circle.gradients
    kind = _steers(first.understeer).capitalize()
    return LineChart(
        key="understeer",
        title=f"{kind} by {show(abs(first.understeer), 'roll_gradient')}, up to {show(first.limit, 'acceleration')} on "
        f"{runs.RADIUS:g} m",
        x=Axis(title="lateral acceleration", kind="acceleration"),
        y=Axis(title="steer of the front wheels", kind="angle_fine"),
        lines=tuple(lines),
    )


def _yaw_picture(both: tuple[Handling, ...]) -> LineChart:
    lines = []
    for n, h in enumerate(both):
        inside = (h.step.time >= -0.2) & (h.step.time <= 2.5)
        x, y = _thin(h.step.time[inside], h.step.yaw[inside])
        lines.append(Line(label=name_of(h.setup), x=x, y=y, role=_role(h, n)))
    got = both[0].step.yaw_response
    over = f", {show(got.overshoot, 'share', digits=0)} over" if math.isfinite(got.peak_time) else ", no overshoot"
    return LineChart(
        key="step_steer",
        title=f"Step of the hand wheel: yaw rate within {show(got.response_time, 'time')}{over}",
        x=Axis(title="since the hand wheel was turned", kind="time"),
        y=Axis(title="yaw rate", kind="rotation_speed"),
        lines=tuple(lines),
    )


def _hand_picture(both: tuple[Handling, ...]) -> LineChart:
    lines = []
    most = 0.0
    for n, h in enumerate(both):
        run = h.lane if h.lane is not None else h.failed
        if run is None:
            continue
        x, y = _thin(run.time, run.hand)
        most = most or float(np.abs(run.hand).max())
        label = f"{name_of(h.setup)}, {show(run.speed, 'speed')}"
        lines.append(Line(label=label, x=x, y=y, role=_role(h, n), marked=False))
    return LineChart(
        key="hand_wheel",
        title=f"Hand wheel in the lane change: up to {show(most, 'angle', digits=0)}",
        x=Axis(title="time", kind="time"),
        y=Axis(title="hand wheel, to the left", kind="angle"),
        lines=tuple(lines),
    )
