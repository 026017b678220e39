"""Heat along the loop: section by section each damper warms its oil, and its force there is the next section's.

Assumptions, said with every result. A section is driven with the force that the oil has on entering it, the mean of
left and right; within it the oil warms by the power that the drive found, which fades with the oil as the computed heat
of that section's rod speeds does. A curve from the dyno fades as its computed valves do. Gas force and friction stay.
The first lap starts with everything as cold as the air. The warm lap starts where laps without end would leave oil and
wall with the first lap's rod speeds, and ends near there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy.interpolate import PchipInterpolator

from tussock.errors import DomainError, InputError, SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.dampers.hydraulics import Damper, ThermalModel, solve
from tussock.mechanics.measures import DamperWork
from tussock.mechanics.motion import AxleParts
from tussock.studies import damper_builds as inside
from tussock.studies import damper_inside, loop, model, parts
from tussock.studies.damper_heat import AIR_SHARE, FADE_AT, FILM, HOT
from tussock.studies.display import show
from tussock.studies.drive_tables import WHEELS
from tussock.studies.job import ENDS, Job, Setup
from tussock.studies.loop import LoopIndex, SectionRun, loop_index
from tussock.studies.result import Axis, Cell, Column, Line, LineChart, Mark, Notice, Table

_HOTTEST = 473.15  # beyond it the model does not answer [K]
_KNOTS = 9  # oil temperatures at which a damper is computed
_FASTEST = 2.0  # rod speed up to which fade is computed, held beyond [m/s]


@dataclass(frozen=True, kw_only=True)
class Lap:
    """One lap, section by section.

    Attributes
    ----------
    runs : tuple of SectionRun
        Each driven with the oil as it entered.
    time : array (sections + 1,)
        At the borders of sections [s].
    oil, wall : array (sections + 1, 4)
        Temperatures there, front left to rear right [K]; NaN where the valves are not known.
    """

    runs: tuple[SectionRun, ...]
    time: Floats
    oil: Floats
    wall: Floats


@dataclass(frozen=True, kw_only=True)
class LoopHeat:
    """First and warm lap of a setup, and what is lost between them.

    Attributes
    ----------
    first, warm : Lap
        From cold, and after laps without end.
    index : LoopIndex
        Comfort and control of the warm lap over the first; below 1 is better.
    fade : mapping of str to pair of float
        By axle: share of the rebound and of the compression force at 0.52 m/s that the warm lap's end has lost against
        the start of the first lap [-].
    """

    first: Lap
    warm: Lap
    index: LoopIndex
    fade: dict[str, tuple[float, float]]

    @property
    def hottest(self) -> float:
        """Highest oil temperature of the warm lap, at the end of a section [K]."""
        return float(np.nanmax(self.warm.oil))


class _Fading:
    """One axle's damper over oil temperature: force against its curve in use, heat by rod speed."""

    def __init__(self, job: Job, setup: Setup, end: str, *, air: float, edges: Floats) -> None:
        fitted = parts.fitted(job, setup, end)
        record: Any = fitted.damper
        self.damper: Damper = inside.assembled(job, record, fitted.damper_name)
        self.model = ThermalModel.of(self.damper, film_coefficient=FILM)
        self.velocity, self.force = fitted.curve.table()
        from_valves = fitted.curve_from == "valves"
        known_at = (
            float(job.programme.road_loop.oil_temperature) if from_valves else inside.dyno_temperature(job, record)
        )
        knots = np.linspace(min(air, known_at) - 1.0, _HOTTEST, _KNOTS)
        middle = 0.5 * (edges[1:] + edges[:-1])
        told = self.velocity[(np.abs(self.velocity) <= _FASTEST) & (np.abs(self.velocity) > 1e-3)]
        asked = np.unique(np.concatenate([told, middle, [-FADE_AT, FADE_AT]]))
        try:
            states = [solve(self.damper, velocities=asked, temperature=float(t)) for t in knots]
            now = solve(self.damper, velocities=asked, temperature=known_at)
        except (DomainError, SolverError) as error:
            raise InputError(f"{fitted.damper_name}, heat along the loop: {error}") from None
        moving = np.abs(asked) > 1e-3
        self._asked = asked[moving]
        self._ratio = PchipInterpolator(
            knots, np.array([s.hydraulic_force[moving] / now.hydraulic_force[moving] for s in states])
        )
        at = np.searchsorted(asked, middle)
        self._heat = PchipInterpolator(knots, np.array([s.heat[at] for s in states]))

    def ratio(self, velocity: Floats, kelvin: float) -> Floats:
        """Return force at an oil temperature over the curve in use, at rod speeds [m/s]."""
        return np.asarray(np.interp(velocity, self._asked, self._ratio(kelvin)))

    def axle(self, axle: AxleParts, kelvin: float) -> AxleParts:
        """Return an axle's parts with the damper at an oil temperature."""
        force = np.maximum.accumulate(self.force * self.ratio(self.velocity, kelvin))
        return replace(axle, damper=replace(axle.damper, velocity=self.velocity, force=force))

    def warm(
        self,
        work: DamperWork,
        driven_at: float,
        start: tuple[float, float],
        *,
        duration: float,
        air: float,
        wind: float,
    ) -> tuple[float, float]:
        """Return oil and wall after a section [K]; `driven_at` is the oil's temperature of the drive."""
        like_then = float(work.share @ self._heat(driven_at))
        scale = work.power / like_then if like_then > 0.0 else 0.0

        def power(kelvin: float) -> float:
            return scale * float(work.share @ self._heat(kelvin))

        _, oil, wall = self.model.run(
            power, duration=duration, air_temperature=air, air_speed=wind, start=start, points=2
        )
        return float(oil[-1]), float(wall[-1])

    def steady(self, runs: Sequence[SectionRun], wheel: int, *, air: float) -> tuple[float, float]:
        """Return oil and wall to which laps without end lead [K], at the rod speeds of one lap."""
        time = np.array([run.duration for run in runs])
        shares = np.average([run.damper[wheel].share for run in runs], axis=0, weights=time)
        power = float(np.average([run.damper[wheel].power for run in runs], weights=time))
        wind = AIR_SHARE * float(np.average([run.speed for run in runs], weights=time))
        reference = float(shares @ self._heat(air))
        scale = power / reference if reference > 0.0 else 0.0
        return self.model.steady(
            lambda kelvin: scale * float(shares @ self._heat(kelvin)), air_temperature=air, air_speed=wind
        )


def loop_heat(job: Job, setup: Setup) -> LoopHeat | None:
    """Return first and warm lap of a setup; None where no damper's valves are known.

    Raises
    ------
    InputError
        If a damper cannot be computed, or its oil passes 200 °C.
    """
    key = ("loop heat", setup)
    if key not in job.memo:
        job.memo[key] = _loop_heat(job, setup)
    found = job.memo[key]
    assert found is None or isinstance(found, LoopHeat)
    return found


def _loop_heat(job: Job, setup: Setup) -> LoopHeat | None:
    known = {end for end, _, _ in damper_inside.with_valves(job, setup)}
    if not known:
        return None
    air = float(job.programme.road_loop.air_temperature)
    edges = loop.drive_loop(job, setup)[0].damper[0].edges
    axles = {end: _Fading(job, setup, end, air=air, edges=edges) for end in ENDS if end in known}
    try:
        first = _lap(job, setup, axles, start=np.full((2, 4), air), air=air)
        warm_start = np.full((2, 4), np.nan)
        for end, axle in axles.items():
            for wheel in _wheels(end):
                warm_start[:, wheel] = axle.steady(first.runs, wheel, air=air)
        warm = _lap(job, setup, axles, start=warm_start, air=air)
    except DomainError as error:
        raise InputError(f"heat along the loop: {error}") from None
    fade: dict[str, tuple[float, float]] = {}
    for end, axle in axles.items():
        at = [float(np.mean(lap.oil[row, _wheels(end)])) for lap, row in ((first, 0), (warm, -1))]
        both = np.array([-FADE_AT, FADE_AT])
        lost = 1.0 - axle.ratio(both, at[1]) / axle.ratio(both, at[0])
        fade[end] = (float(lost[0]), float(lost[1]))
    return LoopHeat(first=first, warm=warm, index=loop_index(warm.runs, first.runs), fade=fade)


def _wheels(end: str) -> list[int]:
    first = 2 * ENDS.index(end)
    return [first, first + 1]


def _lap(job: Job, setup: Setup, axles: dict[str, _Fading], *, start: Floats, air: float) -> Lap:
    """Drive a lap from oil and wall temperatures (2, 4) [K]."""
    base = model.vehicle(job, setup)
    rest, road = model.rest(job, setup), loop.loop_road(job, setup)
    oil, wall = [start[0].copy()], [start[1].copy()]
    time, runs = [0.0], []
    for section in road.sections:
        entering = {end: float(np.mean(oil[-1][_wheels(end)])) for end in axles}
        front, rear = (
            axles[end].axle(worn, entering[end]) if end in axles else worn
            for end, worn in zip(ENDS, base.axles, strict=True)
        )
        run = road.drive(replace(base, front=front, rear=rear), rest, section)
        now = np.full((2, 4), np.nan)
        for end, axle in axles.items():
            for wheel in _wheels(end):
                now[:, wheel] = axle.warm(
                    run.damper[wheel],
                    entering[end],
                    (float(oil[-1][wheel]), float(wall[-1][wheel])),
                    duration=run.duration,
                    air=air,
                    wind=AIR_SHARE * run.speed,
                )
        runs.append(run)
        time.append(time[-1] + run.duration)
        oil.append(now[0])
        wall.append(now[1])
    return Lap(runs=tuple(runs), time=np.array(time), oil=np.array(oil), wall=np.array(wall))


def table(heat: LoopHeat, job: Job) -> Table:
    """Return the oil of each damper at the end of each section, first and warm lap."""
    laps = (("first", heat.first), ("warm", heat.warm))
    short = {"front left": "FL", "front right": "FR", "rear left": "RL", "rear right": "RR"}
    rows: list[tuple[Cell, ...]] = []
    for i, run in enumerate(heat.first.runs):
        temperatures = [None if np.isnan(t) else float(t) for _, lap in laps for t in lap.oil[i + 1]]
        rows.append((run.name, *temperatures))
    fades = "; ".join(
        f"{end} {show(rebound, 'share', digits=0)} of rebound and {show(compression, 'share', digits=0)} of compression"
        for end, (rebound, compression) in heat.fade.items()
    )
    back = float(np.nanmax(np.abs(heat.warm.oil[-1] - heat.warm.oil[0])))
    return Table(
        key="loop_heat",
        title="Oil of each damper at the end of each section, from cold and after laps without end",
        columns=(
            Column(key="section", title="Section"),
            *(
                Column(key=f"{lap}_{wheel.replace(' ', '_')}", title=f"{short[wheel]} {lap}", kind="temperature")
                for lap, _ in laps
                for wheel in WHEELS
            ),
        ),
        rows=tuple(rows),
        note=f"lost at {FADE_AT:g} m/s from cold to the warm lap: {fades}; comfort {heat.index.comfort:.2f}, "
        f"control {heat.index.control:.2f} of the first lap's (below 1 is better). Each section is driven with the "
        "force of the oil as it enters, left and right alike, and warms it for the next; a dyno's curve fades as its "
        f"valves do; the warm lap ends within {show(back, 'temperature_rise')} of its start; air at "
        f"{show(float(job.programme.road_loop.air_temperature), 'temperature')}, film {FILM:g} W/(m2 K) not measured",
    )


def picture(heat: LoopHeat) -> LineChart:
    """Return the oil of the hotter damper of each axle over the lap."""
    lines: list[Line] = []
    for words, lap, role in (("warm", heat.warm, "build"), ("first lap", heat.first, "plain")):
        for end in heat.fade:
            pair = lap.oil[:, _wheels(end)]
            hotter = pair[:, int(np.argmax(np.max(pair, axis=0)))]
            lines.append(
                Line(
                    label=f"{end}, {words}",
                    x=tuple(map(float, lap.time)),
                    y=tuple(map(float, hotter)),
                    role=role,  # type: ignore[arg-type]
                )
            )
    marks = (Mark(text="oil ages", y=HOT, role="target"),) if heat.hottest > HOT - 25.0 else ()
    return LineChart(
        key="loop_heat",
        title=f"Oil of the hotter dampers: {show(float(np.nanmax(heat.first.oil)), 'temperature')} on the first lap, "
        f"{show(heat.hottest, 'temperature')} lap after lap",
        x=Axis(title="time", kind="minutes"),
        y=Axis(title="temperature", kind="temperature"),
        lines=tuple(lines),
        marks=marks,
    )


def notices(heat: LoopHeat) -> tuple[Notice, ...]:
    """Say where the oil gets too hot, lap after lap."""
    if heat.hottest <= HOT:
        return ()
    row, wheel = np.unravel_index(int(np.nanargmax(heat.warm.oil)), heat.warm.oil.shape)
    name = heat.warm.runs[max(int(row) - 1, 0)].name
    return (
        Notice(
            text=f"Lap after lap the oil of the {WHEELS[int(wheel)]} damper reaches "
            f"{show(heat.hottest, 'temperature')} on the {name}",
            remedy="a larger piston and tube, more oil, or less damping there",
        ),
    )
