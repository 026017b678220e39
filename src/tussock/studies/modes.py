"""Modes: how does it swing, how well is each motion damped, and what does the road make of it?"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from tussock.errors import InputError
from tussock.mechanics.measures import WK
from tussock.mechanics.motion import LinearModel, Mode, RoadNoise, RoadTwin, Row, road_rms, road_twin
from tussock.mechanics.roads import CLASS_MEAN
from tussock.studies import loop, model
from tussock.studies.display import show
from tussock.studies.job import ENDS, STOCK, Job, Setup
from tussock.studies.mode_pictures import pictures
from tussock.studies.result import Cell, Column, Notice, Result, Table

QUESTION = "How does it swing, how well is each motion damped, and what does the road make of it?"
SPEED, ROAD = 80.0 / 3.6, "C"
LEAST_DAMPING = 0.05  # below it a motion goes on and on
_ROADS = ("A", "B", "C", "D")
_LIFTS = 1.0 / 3.0  # r.m.s. share of the static load from which wheels lift and the linear figures go wrong
_SLOW, _DEAD = 0.2, 0.7  # a motion slower than this [Hz] or damped more is none that shakes


@dataclass(frozen=True, kw_only=True)
class Swinging:
    """One setup at a speed on a road: its twin there and the lever to the driver's seat."""

    setup: Setup
    twin: RoadTwin
    seat: tuple[float, float, float]

    @property
    def model(self) -> LinearModel:
        """The linear twin."""
        return self.twin.model

    @property
    def modes(self) -> tuple[Mode, ...]:
        """The modes that swing."""
        return tuple(m for m in self.model.modes if m.frequency > _SLOW and m.damping < _DEAD)

    def seat_acceleration(self) -> Row:
        """Vertical, at the driver's seat."""
        return self.model.acceleration(self.seat, "vertical")


def swinging(job: Job, setup: Setup, *, speed: float, road: str) -> Swinging:
    """Return a setup's twin on a road, made once for each job."""
    key = ("swinging", setup, speed, road)
    if key not in job.memo:
        vehicle = model.vehicle(job, setup)
        seat = np.asarray(loop.points(job).seat) - np.asarray(vehicle.body.centre)
        job.memo[key] = Swinging(
            setup=setup,
            twin=road_twin(vehicle, speed=speed, density=CLASS_MEAN[road]),
            seat=(float(seat[0]), float(seat[1]), float(seat[2])),
        )
    made = job.memo[key]
    assert isinstance(made, Swinging)
    return made


def study(
    job: Job,
    *,
    fitout: str | None = None,
    build: str | None = None,
    against: str | None = None,
    speed: float = SPEED,
    road: str = ROAD,
) -> Result:
    """Return the modes of a build on a road against another's, its responses, and its mean squares on ISO 8608 roads.

    Parameters
    ----------
    job : Job
        The programme.
    fitout, build, against : str, optional
        Which; the first fit-out, the last build and stock unless said.
    speed : float
        [m/s].
    road : str
        Class of ISO 8608 on which dampers and friction have their slopes.

    Returns
    -------
    Result
        Passes when every motion dies away.

    Raises
    ------
    InputError
        For a speed or a road that is none.
    """
    if not (math.isfinite(speed) and 1.0 <= speed <= 70.0):
        raise InputError(f"a speed of {show(speed, 'speed')} is outside what is looked at: 4 to 250 km/h")
    if road not in CLASS_MEAN:
        raise InputError(f"there is no road class {road!r}; ISO 8608 has {', '.join(CLASS_MEAN)}")
    setup = job.setup(fitout, build)
    other = job.setup(setup.fitout, STOCK if against is None else against)
    here = swinging(job, setup, speed=speed, road=road)
    there = swinging(job, other, speed=speed, road=road)
    notices = _notices(here)
    least = min(here.modes, key=lambda m: m.damping)
    return Result(
        stage="modes",
        question=QUESTION,
        answer=_answer(here, least),
        passes=here.model.stable,
        provenance=job.provenance(setup),
        notices=(*notices, *_remarks(job, here, road)),
        pictures=pictures(here, there),
        tables=(_modes_table(here, there), _road_table(job, here)),
        inputs={
            "fit-out": setup.fitout,
            "build": setup.build,
            "against": other.build,
            "speed": show(speed, "speed"),
            "road": f"class {road}, mean of ISO 8608",
        },
        values={
            "least_damping": least.damping,
            **{f"{m.shape.replace(' ', '_')}_hz": m.frequency for m in here.modes},
        },
    )


def _answer(here: Swinging, least: Mode) -> str:
    body = next((m for m in here.modes if m.shape == "body heave"), here.modes[0])
    return (
        f"At {show(here.model.speed, 'speed')} the {body.words} at {show(body.frequency, 'frequency')} is damped "
        f"{show(body.damping, 'ratio')}; least damped is the {least.words} at {show(least.frequency, 'frequency')} "
        f"with {show(least.damping, 'ratio')}."
    )


def _notices(here: Swinging) -> list[Notice]:
    """Say which motions hardly die away, or grow."""
    out: list[Notice] = []
    for mode in here.model.modes:
        if mode.grows:
            out.append(
                Notice(
                    text=f"At {show(here.model.speed, 'speed')} the {mode.words} grows by itself",
                    remedy="do not drive it at this speed; look at understeer and at the dampers first",
                )
            )
    for mode in here.modes:
        if 0.0 < mode.damping < LEAST_DAMPING:
            damping = show(mode.damping, "damping_ratio")
            out.append(
                Notice(
                    text=f"The {mode.words} at {show(mode.frequency, 'frequency')} is damped {damping} only",
                    remedy=_remedy(mode),
                )
            )
    return out


def _remedy(mode: Mode) -> str:
    """Say what damps a motion."""
    if mode.shape in ("steering", "hand wheel"):
        return "see what the wobble study says: a steering damper, stiffer rods and mounts, less play"
    for end in ENDS:
        if end in mode.shape:
            return f"more damping at low damper speed on the {end} axle, or its dampers further apart"
    return "more damping at low damper speed"


def _remarks(job: Job, here: Swinging, road: str) -> list[Notice]:
    """Say where the linear figures no longer hold."""
    shares = _load_shares(job, here)
    worst = max(shares)
    if worst < _LIFTS:
        return []
    end = ENDS[shares.index(worst)]
    return [
        Notice(
            text=f"On a class {road} road at {show(here.model.speed, 'speed')} the {end} wheel loads vary by "
            f"{show(worst, 'share', digits=0)} of their static load: wheels lift, and linear figures only say so much",
            remedy="read the drive study for such a road",
        )
    ]


def _load_shares(job: Job, here: Swinging) -> list[float]:
    """R.m.s. wheel load over static load, front and rear."""
    still = model.rest(job, here.setup).wheel_load
    rms, out = here.twin.motion.rms, []
    for a, end in enumerate(ENDS):
        loads = [rms(here.model.row(f"wheel load {end} {side}")) for side in ("left", "right")]
        out.append(math.sqrt(float(np.mean(np.square(loads)))) / float(still[2 * a : 2 * a + 2].mean()))
    return out


def _modes_table(here: Swinging, there: Swinging) -> Table:
    rows: list[tuple[Cell, ...]] = []
    for mode in here.modes:
        other = max(there.modes, key=lambda m: m.shares[mode.shape])
        rows.append((mode.words, mode.frequency, mode.damping, other.frequency, other.damping))
    name = "stock" if there.setup.stock else there.setup.build
    least = min(range(len(rows)), key=lambda i: here.modes[i].damping)
    return Table(
        key="modes",
        title=f"Motions at {show(here.model.speed, 'speed')}",
        columns=(
            Column(key="mode", title="Motion"),
            Column(key="frequency", title="Frequency", kind="frequency"),
            Column(key="damping", title="Damping ratio", kind="ratio"),
            Column(key="frequency_against", title=f"of {name}", kind="frequency"),
            Column(key="damping_against", title="damped", kind="ratio"),
        ),
        rows=tuple(rows),
        strong=(least,),
        note="friction and bent damper curves count with the slope that they have in the motion on this road; usual "
        "are 1 to 2 Hz for the body, 8 to 15 Hz for axles, damped 0.15 to 0.5 (common practice, no source)",
    )


def _road_table(job: Job, here: Swinging) -> Table:
    rows: list[tuple[Cell, ...]] = []
    for name in _ROADS:
        on = swinging(job, here.setup, speed=here.model.speed, road=name)
        contact = model.vehicle(job, here.setup).front.tyre.contact_length
        noise = RoadNoise(density=CLASS_MEAN[name], contact_length=contact)
        weighted = road_rms(on.model, [on.seat_acceleration()], road=noise, weighting=WK)
        rms = on.twin.motion.rms
        travel = [
            math.sqrt(float(np.mean([rms(on.model.row(f"spring length {e} {s}")) ** 2 for s in ("left", "right")])))
            for e in ENDS
        ]
        rows.append(
            (
                name,
                rms(on.seat_acceleration()),
                float(weighted[0]),
                *_load_shares(job, on),
                *travel,
                *on.twin.size.damper_speed,
            )
        )
    return Table(
        key="roads",
        title=f"What random roads make of it at {show(here.model.speed, 'speed')}, root mean squares",
        columns=(
            Column(key="road", title="Road"),
            Column(key="seat", title="Seat, vertical", kind="acceleration"),
            Column(key="weighted", title="weighted Wk", kind="acceleration"),
            Column(key="load_front", title="Load varies, front", kind="share", digits=0),
            Column(key="load_rear", title="rear", kind="share", digits=0),
            Column(key="spring_front", title="Spring moves, front", kind="length_fine"),
            Column(key="spring_rear", title="rear", kind="length_fine"),
            Column(key="damper_front", title="Damper speed, front", kind="velocity"),
            Column(key="damper_rear", title="rear", kind="velocity"),
        ),
        rows=tuple(rows),
        note="classes of ISO 8608 by their mean, waviness 2, rear wheels on the front's road a wheelbase later, both "
        "tracks of one isotropic surface; above a third of the load wheels lift and the figures no longer hold",
    )
