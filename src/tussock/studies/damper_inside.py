"""What is inside the dampers: what each part adds to the force, what governs, and what a build changed."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from tussock.errors import DomainError, InputError, SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.dampers import BANDS, ForceCurve
from tussock.mechanics.dampers.hydraulics import QuasiStatic, solve
from tussock.studies import damper_builds as inside
from tussock.studies import parts
from tussock.studies.display import show
from tussock.studies.job import ENDS, KERB, STOCK, Job, Setup
from tussock.studies.result import Axis, Cell, Column, Line, LineChart, Mark, Notice, Table

FASTEST = 1.05  # end of the high-speed band [m/s]; the fastest run of the demo's sweeps, common practice, no source
SPEEDS = (0.05, 0.13, 0.26, 0.52, 1.05)  # at which parts and margins are told [m/s]
_GRID = np.linspace(-1.1, 1.1, 111)


def flow(job: Job, damper: Any, name: str, velocities: Floats, *, temperature: float | None = None) -> QuasiStatic:
    """Return pressures and forces of a damper with valves at rod speeds [m/s]; the road loop's oil unless given."""
    kelvin = float(job.programme.road_loop.oil_temperature) if temperature is None else temperature
    key = ("damper flow", damper, tuple(velocities.tolist()), kelvin)
    if key not in job.memo:
        try:
            job.memo[key] = solve(inside.assembled(job, damper, name), velocities=velocities, temperature=kelvin)
        except (DomainError, SolverError) as error:
            raise InputError(str(error)) from None
    found = job.memo[key]
    assert isinstance(found, QuasiStatic)
    return found


def with_valves(job: Job, setup: Setup) -> tuple[tuple[str, str, Any], ...]:
    """Return (end, name, record) of those dampers of a setup whose valves are known."""
    chosen = ((end, *parts.damper_choice(job, setup, end)) for end in ENDS)
    return tuple((end, name, damper) for end, name, damper in chosen if inside.is_buildable(damper))


def sentence(title: str) -> str:
    """Return a title as the begin of a sentence."""
    return title[:1].upper() + title[1:]


def record_of(job: Job, setup: Setup, name: str) -> Any:
    """Return the record of a damper that a setup wears, by its name."""
    return next(damper for _, n, damper in with_valves(job, setup) if n == name)


def base_words(damper: Any) -> str:
    """Return what the restrictions between working tube and gas are called."""
    return "foot" if damper.body.architecture == "twin_tube" else "reservoir"


def groups(got: QuasiStatic, base: str) -> Mapping[str, Floats]:
    """Return the force of a damper by what the workshop can change [N]; they add up to the hydraulic force."""
    named = {
        "piston curtain": "piston discs", "piston notch": "piston bleed", "piston port": "piston ports",
        "piston bleed": "piston bleed", "piston band": "past the band", "cavity": "cavity",
    }  # fmt: skip
    out: dict[str, Floats] = {}
    for part, force in got.parts.items():
        name = named.get(part, f"{base} valve")
        out[name] = out.get(name, np.zeros_like(force)) + force
    return {name: force for name, force in out.items() if np.any(np.abs(force) > 0.5)}


def pictures(job: Job, setup: Setup) -> tuple[LineChart, ...]:
    """Return for each axle of a setup the computed force with the share of each part, and what was measured."""
    return tuple(_picture(job, setup, end, name, damper) for end, name, damper in with_valves(job, setup))


def _picture(job: Job, setup: Setup, end: str, name: str, damper: Any) -> LineChart:
    got = flow(job, damper, name, _GRID, temperature=inside.dyno_temperature(job, damper))
    lines = [_line("computed force", got.hydraulic_force)]
    shares = groups(got, base_words(damper))
    largest = sorted(shares, key=lambda n: -float(np.max(np.abs(shares[n]))))[:4]
    lines += [Line(label=n, x=_floats(_GRID), y=_floats(shares[n])) for n in largest]
    if damper.dyno is not None or damper.curve is not None:
        measured = measured_curve(job, damper)
        told = np.array([*(-s for s in reversed(SPEEDS)), *SPEEDS])
        lines.append(Line(label="measured", x=_floats(told), y=_floats(measured.at(told)), role="stock", dots=True))
    return LineChart(
        key=f"{end}_parts",
        title=f"{sentence(damper.title)}: what each part adds to the force, oil at "
        f"{show(got.temperature, 'temperature')}",
        x=Axis(title="speed, compression positive", kind="velocity"),
        y=Axis(title="force", kind="force"),
        lines=tuple(lines),
        marks=_openings(job, damper, name),
    )


def _openings(job: Job, damper: Any, name: str) -> tuple[Mark, ...]:
    """Mark where the piston's discs leave their seats."""
    fine = np.linspace(-0.5, 0.5, 401)
    lift = flow(job, damper, name, fine).lifts["piston"]
    out = []
    for side, words in ((fine < 0.0, "rebound discs open"), (fine > 0.0, "compression discs open")):
        lifted = np.abs(fine[side & (lift > 2e-6)])
        if lifted.size and float(np.min(lifted)) > 0.01:
            sign = -1.0 if words.startswith("rebound") else 1.0
            out.append(Mark(text=words, x=sign * float(np.min(lifted))))
    return tuple(out)


def _floats(values: Floats) -> tuple[float, ...]:
    return tuple(map(float, values))


def _line(label: str, force: Floats) -> Line:
    return Line(label=label, x=_floats(_GRID), y=_floats(force), role="build")


def measured_curve(job: Job, damper: Any) -> ForceCurve:
    """Return what was measured of a damper, whatever studies take."""
    return job.measured_curve(damper)


def parts_table(job: Job, setup: Setup) -> Table:
    """Return what governs by speed, the share of each part, pressures and the margin to cavitation."""
    rows: list[tuple[Cell, ...]] = []
    strong: list[int] = []
    told = np.array([*(-s for s in reversed(SPEEDS)), 0.0, *SPEEDS])
    for end, name, damper in with_valves(job, setup):
        got = flow(job, damper, name, told)
        base = base_words(damper)
        for i in [*range(len(SPEEDS) - 1, -1, -1), *range(len(SPEEDS) + 1, told.size)]:
            total, first = float(got.hydraulic_force[i]), got.governing[i]
            if got.cavitates[i]:
                strong.append(len(rows))
            rows.append(
                (
                    end, name, "rebound" if told[i] < 0.0 else "compression", abs(float(told[i])), abs(total),
                    first.replace("base", base), float(got.parts[first][i]) / total, float(got.lifts["piston"][i]),
                    float(got.working_pressure[i]), float(got.margin[i]),
                )
            )  # fmt: skip
    return Table(
        key="parts",
        title="Inside: what governs at each speed, and how near cavitation is",
        columns=(
            Column(key="axle", title="Axle"),
            Column(key="damper", title="Damper"),
            Column(key="direction", title="Direction"),
            Column(key="speed", title="Speed", kind="velocity"),
            Column(key="force", title="Computed force", kind="force"),
            Column(key="restriction", title="Most from"),
            Column(key="share", title="Its share", kind="share", digits=0),
            Column(key="lift", title="Lift of the discs", kind="length_fine", digits=2),
            Column(key="pressure", title="Pressure over the gas", kind="pressure"),
            Column(key="margin", title="Margin to cavitation", kind="pressure"),
        ),
        rows=tuple(rows),
        strong=tuple(strong),
        note=f"steady flow, oil at {show(float(job.programme.road_loop.oil_temperature), 'temperature')}; the curtain "
        "is the gap under the lifted discs; a margin of 0 cavitates",
    )


def notices(job: Job, setup: Setup) -> tuple[Notice, ...]:
    """Say where a damper of a setup cavitates within the speeds that are told."""
    out = []
    grid = np.linspace(-FASTEST, FASTEST, 43)
    for end, name, damper in with_valves(job, setup):
        low, high = flow(job, damper, name, grid).cavitation_onset
        for where, speed in (("rebound", -low), ("compression", high)):
            if np.isfinite(speed):
                out.append(
                    Notice(
                        text=f"The {end} damper {name} cavitates in {where} from {show(speed, 'velocity')} on",
                        remedy="more gas pressure, or a firmer foot valve and softer piston"
                        if where == "compression"
                        else "a freer intake at the foot, or more gas pressure",
                    )
                )
    return tuple(out)


def against_measured(job: Job) -> Table:
    """Return how far the computed force lies from what was measured, damper by damper."""
    rows: list[tuple[Cell, ...]] = []
    told = np.array([*(-s for s in reversed(SPEEDS)), *SPEEDS])
    for name, damper in job.programme.kit.dampers.items():
        if not inside.is_buildable(damper) or (damper.dyno is None and damper.curve is None):
            continue
        measured = measured_curve(job, damper)
        kelvin = inside.dyno_temperature(job, damper)
        computed = inside.computed_curve(job, damper, name, temperature=kelvin)
        off = (computed.at(told) - measured.at(told)) / measured.at(told)
        half = len(SPEEDS)
        worst = int(np.argmax(np.abs(off)))
        rows.append(
            (
                name,
                "valves" if inside.takes_valves(damper) else "measurement",
                kelvin,
                float(np.sqrt(np.mean(off[:half] ** 2))),
                float(np.sqrt(np.mean(off[half:] ** 2))),
                float(off[worst]),
                float(told[worst]),
                computed.gas_force - measured.gas_force,
                computed.friction - measured.friction,
            )
        )
    return Table(
        key="against_measured",
        title="Computed against measured",
        columns=(
            Column(key="damper", title="Damper"),
            Column(key="taken", title="Studies take the"),
            Column(key="oil", title="Oil", kind="temperature"),
            Column(key="rebound", title="Rebound off by", kind="share", digits=0),
            Column(key="compression", title="Compression off by", kind="share", digits=0),
            Column(key="worst", title="Farthest off", kind="share", digits=0, sign=True),
            Column(key="at", title="at", kind="velocity"),
            Column(key="gas", title="Gas force", kind="force", sign=True),
            Column(key="friction", title="Friction", kind="force", sign=True),
        ),
        rows=tuple(rows),
        note="root mean square over five speeds; the measurement is the truth, the computation its prediction with "
        f"{'the calibrated' if inside.calibrated(job) else 'text-book'} parameters (workshop.parameters), the "
        "oil as the dyno file or dyno_run states it, else as on the road loop",
    )


def comparable(job: Job, one: Any, one_name: str, two: Any, two_name: str) -> tuple[ForceCurve, ForceCurve]:
    """Return curves of two dampers from the same source: both computed where both have valves, else as studies do."""
    if inside.is_buildable(one) and inside.is_buildable(two):
        return inside.computed_curve(job, one, one_name), inside.computed_curve(job, two, two_name)
    return job.curve(one), job.curve(two)


def band_force(curve: ForceCurve, direction: str, band: str) -> float:
    """Return the mean size of the force over a speed band, the high one up to `FASTEST` [N]."""
    low, high = BANDS[band][0], min(BANDS[band][1], FASTEST)
    speed = np.linspace(low, high, 65)
    return float(np.mean(np.abs(curve.at(speed if direction == "compression" else -speed))))


def band_slope(curve: ForceCurve, direction: str, band: str) -> float:
    """Return the slope of the chord over a speed band, the high one up to `FASTEST` [N s/m]."""
    low, high = BANDS[band][0], min(BANDS[band][1], FASTEST)
    sign = 1.0 if direction == "compression" else -1.0
    return (curve.force_at(sign * high) - curve.force_at(sign * low)) / (sign * (high - low))


def changes_tables(job: Job) -> tuple[Table, Table]:
    """Return what every build changed from its parent: in words, and as mean force in the three speed bands."""
    words: list[tuple[Cell, ...]] = []
    forces: list[tuple[Cell, ...]] = []
    for build, record in job.programme.builds.items():
        for end in ENDS:
            name, damper = parts.damper_choice(job, Setup(fitout=KERB, build=build), end)
            old_name, old = parts.damper_choice(job, Setup(fitout=KERB, build=record.parent), end)
            where = (build, record.parent, end)
            if name == old_name:
                words.append((*where, "the same damper"))
                forces.append((*where, *[0.0] * 6))
                continue
            new_curve, old_curve = comparable(job, damper, name, old, old_name)
            words.append((*where, change_words(job, old, old_name, damper, name)))
            forces.append(
                (
                    *where,
                    *(
                        band_force(new_curve, direction, band) - band_force(old_curve, direction, band)
                        for direction in ("rebound", "compression")
                        for band in BANDS
                    ),
                )
            )
    low, mid = BANDS["low"][1], BANDS["mid"][1]
    said = {"low": f"to {low:g} m/s", "mid": f"to {mid:g}", "high": f"to {FASTEST:g}"}
    where_columns = (
        Column(key="build", title="Build"), Column(key="parent", title="From"), Column(key="axle", title="Axle")
    )  # fmt: skip
    return (
        Table(
            key="changes",
            title="What each build changed",
            columns=(*where_columns, Column(key="words", title="Change")),
            rows=tuple(words),
            note="discs as thickness x diameter in mm, counted from the seat",
        ),
        Table(
            key="change_forces",
            title="Mean force that the change adds in each speed band",
            columns=(
                *where_columns,
                *(
                    Column(
                        key=f"{direction}_{band}",
                        title=f"{direction.capitalize()} {said[band]}",
                        kind="force",
                        sign=True,
                    )
                    for direction in ("rebound", "compression")
                    for band in BANDS
                ),
            ),
            rows=tuple(forces),
            note="both computed where both have valves, else as studies take them",
        ),
    )


def change_words(job: Job, old: Any, old_name: str, new: Any, new_name: str) -> str:
    """Return in words what was changed inside between two dampers."""
    if not (inside.is_buildable(old) and inside.is_buildable(new)):
        lacking = old_name if not inside.is_buildable(old) else new_name
        return f"{new_name} for {'the stock damper' if old_name == STOCK else old_name} (no valves known of {lacking})"
    found: dict[str, list[str]] = {}
    for change in inside.changes(inside.build_of(job, old, old_name), inside.build_of(job, new, new_name)):
        found.setdefault(change.where, []).append(change.words)
    return "; ".join(f"{where}: {', '.join(words)}" for where, words in found.items()) or "nothing inside"


def slopes_table(job: Job, setup: Setup) -> Table:
    """Return the slopes of a build's curves in the three speed bands, beside stock's."""
    rows: list[tuple[Cell, ...]] = []
    for end in ENDS:
        for build in dict.fromkeys((STOCK, setup.build)):
            name, damper = parts.damper_choice(job, Setup(fitout=KERB, build=build), end)
            curve = job.curve(damper)
            for direction in ("rebound", "compression"):
                slopes = (band_slope(curve, direction, band) for band in BANDS)
                rows.append((end, build, name, direction, *slopes, parts.curve_source(damper)))
    return Table(
        key="slopes",
        title="Slope of the force in each speed band",
        columns=(
            Column(key="axle", title="Axle"),
            Column(key="build", title="Build"),
            Column(key="damper", title="Damper"),
            Column(key="direction", title="Direction"),
            Column(key="low", title="Low, to 0.13 m/s", kind="damping"),
            Column(key="mid", title="Mid, to 0.5", kind="damping"),
            Column(key="high", title=f"High, to {FASTEST:g}", kind="damping"),
            Column(key="source", title="Curve from"),
        ),
        rows=tuple(rows),
        note="chords; speed bands are common practice, no source",
    )
