"""Heat of the dampers on the roughest section: temperature, fade, and what a larger body buys."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from tussock.errors import DomainError, InputError, SolverError
from tussock.mechanics.dampers.hydraulics import Damper, Duty, ThermalModel, TwinTube, WarmUp, warm_up
from tussock.mechanics.dampers.hydraulics.thermal import heat_over_temperature
from tussock.studies import damper_builds as inside
from tussock.studies import damper_inside, loop
from tussock.studies.display import show
from tussock.studies.job import Job, Setup
from tussock.studies.result import Axis, Cell, Column, Line, LineChart, Mark, Notice, Table

DURATION = 20.0 * 60.0  # driven without a stop on that section [s]: a long washboard road; our choice
#: From oil to the inside of the outer wall [W/(m2 K)]; no published value could be checked: calibrate by one warm-up.
FILM = 150.0
#: Speed of the air at the damper over that of the vehicle [-]; behind the wheel, common practice, no source.
AIR_SHARE = 1.0 / 3.0
#: Oil hotter than this ages, and seals harden [K] (120 °C; common practice, no source).
HOT = 393.15
FADE_AT = 0.52  # rod speed at which fade is told [m/s]
#: What the larger body has more of piston and outer tube [m]: 30 to 35 and 50 to 54 mm is a step the trade takes.
STEP = (0.005, 0.004)


@dataclass(frozen=True, kw_only=True)
class Heat:
    """One damper of a setup on the section that heats it most."""

    end: str
    name: str
    section: str
    damper: Damper
    duty: Duty
    warm: WarmUp
    air: float  # [K]


def section_of(job: Job) -> str:
    """Return the section on which heat is judged: the longest with corrugations, else the longest."""
    sections = job.programme.road_loop.sections
    rough = [s for s in sections if any(f.kind == "corrugation" for f in s.features)]
    return max(rough or list(sections), key=lambda s: float(s.length)).name


def heats(job: Job, setup: Setup) -> tuple[Heat, ...]:
    """Return temperatures over time of the setup's dampers whose valves are known, driven on the rough section.

    The drive gives how long the rod moves at each speed; the force there follows from the oil's own temperature.
    """
    key = ("damper heat", setup)
    if key not in job.memo:
        job.memo[key] = _heats(job, setup)
    found = job.memo[key]
    assert isinstance(found, tuple)
    return found


def _heats(job: Job, setup: Setup) -> tuple[Heat, ...]:
    known = damper_inside.with_valves(job, setup)
    if not known:
        return ()
    name = section_of(job)
    run = loop.drive_one(job, setup, name)
    air = float(job.programme.road_loop.air_temperature)
    out = []
    for end, damper_name, record in known:
        first = 0 if end == "front" else 2
        work = max(run.damper[first : first + 2], key=lambda w: w.power)
        middle = 0.5 * (work.edges[1:] + work.edges[:-1])
        duty = Duty(
            velocities=middle,
            shares=work.share,
            air_speed=AIR_SHARE * run.speed,
            duration=DURATION,
            name=name,
        )
        damper = inside.assembled(job, record, damper_name)
        try:
            warm = warm_up(
                damper, duties=[duty], air_temperature=air, film_coefficient=FILM, speeds=(0.13, FADE_AT, 1.04)
            )
        except (DomainError, SolverError) as error:
            raise InputError(f"{damper_name} on the {name}: {error}") from None
        out.append(Heat(end=end, name=damper_name, section=name, damper=damper, duty=duty, warm=warm, air=air))
    return tuple(out)


def table(job: Job, setup: Setup) -> Table:
    """Return heat, temperatures and fade of the setup's dampers."""
    rows: list[tuple[Cell, ...]] = []
    for h in heats(job, setup):
        compression, rebound = (float(f[1, -1]) for f in h.warm.fade)
        rows.append(
            (
                h.end, h.name, float(h.warm.power[0]), float(h.warm.oil_temperature[-1]),
                float(h.warm.wall_temperature[-1]), None if h.warm.steady is None else h.warm.steady[0],
                rebound, compression, float(h.warm.gas_force[0]), float(h.warm.gas_force[-1]),
            )
        )  # fmt: skip
    section = section_of(job)
    return Table(
        key="heat",
        title=f"Heat: {show(DURATION, 'minutes')} on the {section} without a stop",
        columns=(
            Column(key="axle", title="Axle"),
            Column(key="damper", title="Damper"),
            Column(key="power", title="Heat at the start", kind="power"),
            Column(key="oil", title="Oil at the end", kind="temperature"),
            Column(key="wall", title="Tube", kind="temperature"),
            Column(key="steady", title="Oil for good", kind="temperature"),
            Column(key="rebound_fade", title=f"Rebound lost at {FADE_AT:g} m/s", kind="share"),
            Column(key="compression_fade", title="Compression lost", kind="share"),
            Column(key="gas_cold", title="Gas force cold", kind="force"),
            Column(key="gas_hot", title="hot", kind="force"),
        ),
        rows=tuple(rows),
        note="rod speeds from the drive; air at "
        f"{show(float(job.programme.road_loop.air_temperature), 'temperature')}, "
        f"{show(AIR_SHARE, 'share', digits=0)} of the vehicle's speed at the damper (common practice, no source); film "
        f"{FILM:g} W/(m2 K) from oil to tube is not measured: one warm-up with a thermometer on the tube calibrates it",
    )


def picture(job: Job, setup: Setup) -> LineChart | None:
    """Return oil and tube temperature over time, None where no valves are known."""
    every = heats(job, setup)
    if not every:
        return None
    lines = []
    marks = []
    for h in every:
        minutes = tuple(map(float, h.warm.time))
        lines.append(Line(label=f"{h.end} oil", x=minutes, y=tuple(map(float, h.warm.oil_temperature))))
        lines.append(Line(label=f"{h.end} tube", x=minutes, y=tuple(map(float, h.warm.wall_temperature)), role="plain"))
    if any(h.warm.hottest > HOT - 25.0 for h in every):
        marks.append(Mark(text="oil ages", y=HOT, role="target"))
    return LineChart(
        key="heat",
        title=f"Oil and tube on the {every[0].section}, driven without a stop",
        x=Axis(title="time", kind="minutes"),
        y=Axis(title="temperature", kind="temperature"),
        lines=tuple(lines),
        marks=tuple(marks),
    )


def notices(job: Job, setup: Setup) -> tuple[Notice, ...]:
    """Say which damper gets too hot."""
    return tuple(
        Notice(
            text=f"After {show(DURATION, 'minutes')} of {h.section} the oil of the {h.end} damper {h.name} "
            f"reaches {show(h.warm.hottest, 'temperature')}",
            remedy="a larger piston and tube, more oil, or less damping there",
        )
        for h in heats(job, setup)
        if h.warm.hottest > HOT
    )


def larger_body(job: Job, setup: Setup) -> Table:
    """Return what another body buys at the same force: working pressure, oil, area, steady temperature."""
    rows: list[tuple[Cell, ...]] = []
    strong = []
    for h in heats(job, setup):
        got = damper_inside.flow(
            job,
            damper_inside.record_of(job, setup, h.name),
            h.name,
            np.array([-FADE_AT, 0.0, FADE_AT]),
            temperature=None,
        )
        force = float(abs(got.hydraulic_force[0]))
        power = _power(h)
        for steps, words in ((-1, "a step smaller"), (0, "as built"), (1, "a step larger")):
            body = _resized(h.damper, steps)
            if body is None:
                continue
            if steps == 0:
                strong.append(len(rows))
            rows.append(
                (
                    h.end, h.name, words, body.bore, body.outer_diameter, force / body.annulus_area, body.oil_volume,
                    body.outer_area, _steady(body, power, air=h.air, speed=h.duty.air_speed),
                )
            )  # fmt: skip
    return Table(
        key="larger_body",
        title="What a larger piston and tube buy at the same force",
        columns=(
            Column(key="axle", title="Axle"),
            Column(key="damper", title="Damper"),
            Column(key="body", title="Body"),
            Column(key="bore", title="Piston", kind="length"),
            Column(key="tube", title="Tube outside", kind="length"),
            Column(key="pressure", title=f"Pressure in rebound at {FADE_AT:g} m/s", kind="pressure"),
            Column(key="oil", title="Oil", kind="volume"),
            Column(key="area", title="Area to the air", kind="area"),
            Column(key="steady", title="Oil for good", kind="temperature"),
        ),
        rows=tuple(rows),
        strong=tuple(strong),
        note=f"a step: piston {show(STEP[0], 'length')}, tube {show(STEP[1], 'length')}, same heat; lower pressure and "
        "cooler running of the larger body: common practice, no source",
    )


def _power(h: Heat) -> Callable[[float], float]:
    knots = np.linspace(h.air - 1.0, 473.15, 7)
    return heat_over_temperature(h.damper, h.duty, knots)


def _steady(damper: Damper, power: Callable[[float], float], *, air: float, speed: float) -> float | None:
    model = ThermalModel.of(damper, film_coefficient=FILM)
    try:
        return model.steady(power, air_temperature=air, air_speed=speed)[0]
    except DomainError:
        return None  # beyond 200 °C


def _resized(damper: Damper, steps: int) -> Damper | None:
    """Return a damper with a larger or smaller piston and tube of the same length; None where it cannot be.

    The gas keeps its volume, since the same rod displaces it; the rest of the room inside is oil.
    """
    if steps == 0:
        return damper
    bore = damper.bore + steps * STEP[0]
    band = damper.piston.band
    piston = replace(damper.piston, band=None if band is None else replace(band, diameter=bore))
    above = damper.rebound_volume() / damper.annulus_area
    below = damper.compression_volume() / damper.piston_area
    area = 0.25 * math.pi * bore**2
    room = area * below + (area - damper.rod_area) * above
    try:
        if not isinstance(damper, TwinTube):
            oil = room + damper.reserve_volume - damper.gas_volume
            return replace(damper, bore=bore, piston=piston, oil_volume=oil)
        tube = damper.tube_bore + steps * STEP[1]
        ring = 0.25 * math.pi * (tube**2 - (bore + 2.0 * damper.inner_wall) ** 2) * damper.length
        oil = room + ring - damper.gas_volume
        return replace(damper, bore=bore, tube_bore=tube, piston=piston, oil_volume=oil)
    except DomainError:
        return None
