"""Build sheet: what goes into a damper, in order, and between which forces must it dyno?"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

import numpy as np

from tussock.errors import DomainError, InputError, SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.dampers import production_band
from tussock.mechanics.dampers.assembly import StackValve
from tussock.mechanics.dampers.production import SPEEDS, ForceBands, Tolerances, force_bands
from tussock.record.discs import disc_words
from tussock.studies import damper_builds, parts, valving_calibration
from tussock.studies.display import show
from tussock.studies.job import ENDS, Job, Setup
from tussock.studies.result import Axis, Cell, Column, Drawing, Line, LineChart, Notice, Picture, Result, Table
from tussock.studies.stack_drawing import stack_drawing

QUESTION = "What goes into the damper, and between which forces must it dyno?"
_MISFIT = 0.03  # beyond this the sum of effects is said not to hold well [-]


@dataclass(frozen=True, kw_only=True, eq=False)
class Acceptance:
    """Forces between which a damper passes; arrays (V,), friction in, gas force off, signed [N].

    Attributes
    ----------
    velocity, rated : array
        [m/s]; of the dyno run where there is one, of the model else.
    least, most : array
        What the tolerances let happen, about the rated force.
    bands : ForceBands
        The sample behind it.
    measured : bool
        Whether the rated forces are measured.
    """

    velocity: Floats
    rated: Floats
    least: Floats
    most: Floats
    bands: ForceBands
    measured: bool


def acceptance(job: Job, name: str, speeds: tuple[float, ...] = SPEEDS) -> Acceptance:
    """Return the acceptance bands of a damper of the kit at test speeds [m/s], computed once.

    Raises
    ------
    InputError
        If there is no such damper, it has no valves, or it cannot be computed.
    """
    key = ("acceptance", name, speeds)
    if key not in job.memo:
        job.memo[key] = _acceptance(job, name, speeds)
    found = job.memo[key]
    assert isinstance(found, Acceptance)
    return found


def _acceptance(job: Job, name: str, speeds: tuple[float, ...]) -> Acceptance:
    damper = kit_damper(job, name)
    build = damper_builds.build_of(job, damper, name)
    test = job.dyno_tests[damper.dyno] if damper.dyno else None
    temperature = float(job.programme.road_loop.oil_temperature)
    if test is not None:
        temperature = test.mean_temperature or valving_calibration.TEMPERATURE
    try:
        bands = force_bands(
            build, parameters=valving_calibration.house_parameters(job)[0],
            tolerances=tolerances(job), lifts=damper_builds.lifts(job), speeds=speeds, temperature=temperature,
        )  # fmt: skip
    except (DomainError, SolverError) as error:
        raise InputError(str(error)) from None
    v, rated = bands.velocity, bands.nominal
    if test is not None:
        rated = test.curve.at(v) + np.sign(v) * test.curve.friction
    scale = rated / bands.nominal
    return Acceptance(
        velocity=v, rated=rated, least=bands.least * scale, most=bands.most * scale, bands=bands,
        measured=test is not None,
    )  # fmt: skip


def tolerances(job: Job) -> Tolerances:
    """Return what scatters from damper to damper: as the programme states it, the rest as is common.

    Raises
    ------
    InputError
        If nothing scatters.
    """
    record = job.programme.workshop.tolerances
    given = {
        one.name: float(getattr(record, one.name))
        for one in fields(Tolerances)
        if getattr(record, one.name, None) is not None
    }
    try:
        return Tolerances(**given)
    except DomainError as error:
        raise InputError(f"workshop.tolerances: {error}") from None


def kit_damper(job: Job, name: str) -> Any:
    """Return a damper of the kit; InputError with the names that there are."""
    try:
        return job.programme.kit.dampers[name]
    except KeyError:
        raise InputError(
            f"there is no damper {name!r} in the kit; it has {', '.join(job.programme.kit.dampers)}"
        ) from None


def study(job: Job, name: str) -> Result:
    """Return the build sheet of one damper.

    Raises
    ------
    InputError
        If there is no such damper or it has no valves.
    """
    damper = kit_damper(job, name)
    found = acceptance(job, name)
    pictures, tables = sheet(job, name)
    notices = []
    if found.bands.misfit > _MISFIT:
        notices.append(
            Notice(
                text=f"The sum of the tolerances' effects misses whole dampers by up to "
                f"{show(found.bands.misfit, 'share')}: a valve opens near a test speed",
                remedy="widen the band there, or test beside that speed",
            )
        )
    for where in _without_torque(damper):
        notices.append(
            Notice(
                text=f"No tightening torque is stated for the {where} stack",
                remedy="take it from the nut's and the post's maker, and write it as the torque of the damper's valves",
            )
        )
    at = int(np.flatnonzero(np.isclose(found.velocity, -0.52))[0])
    half = 0.5 * (found.most[at] - found.least[at])
    return Result(
        stage="build-sheet",
        question=QUESTION,
        answer=f"{name} is built of {_count(job, damper, name)} discs; at 0.52 m/s it must dyno "
        f"{show(abs(found.rated[at]), 'force')} in rebound, {show(half, 'force')} either way, which the tolerances "
        f"keep in {show(found.bands.coverage, 'share', digits=2)} of dampers.",
        passes=True,
        provenance=job.provenance(seed=found.bands.seed),
        notices=tuple(notices),
        pictures=pictures,
        tables=tables,
        inputs=_inputs(job),
        values={"rebound_052_n": float(abs(found.rated[at])), "half_band_052_n": float(half)},
    )


def sheet(job: Job, name: str) -> tuple[tuple[Picture, ...], tuple[Table, ...]]:
    """Return drawings and tables of one damper's build sheet: discs, sizes, acceptance, sources."""
    damper = kit_damper(job, name)
    build = damper_builds.build_of(job, damper, name)
    found = acceptance(job, name)
    drawings = tuple(
        stack_drawing(valve, key=f"{name}_{place}_{sense}", title=f"{name}: stack at the {place} that opens in {sense}")
        for place, sense, valve in build.valves()
        if isinstance(valve, StackValve)
    )
    return (
        (*drawings, _band_picture(name, found)),
        (_discs_table(name, build), _sizes_table(name, damper, build), _acceptance_table(name, found),
         _sources_table(name, found)),
    )  # fmt: skip


def sheets(job: Job, setup: Setup) -> tuple[tuple[Picture, ...], tuple[Table, ...]]:
    """Return the build sheets of the dampers that a setup wears, side by side, of those whose insides are known."""
    names = [parts.damper_choice(job, setup, end)[0] for end in ENDS]
    known = [
        name
        for name in dict.fromkeys(names)
        if name in job.programme.kit.dampers and damper_builds.is_buildable(job.programme.kit.dampers[name])
    ]
    if not known:
        return (), ()
    every = {name: sheet(job, name) for name in known}
    drawings = tuple(one for pictures, _ in every.values() for one in pictures if isinstance(one, Drawing))
    return drawings, (
        _orders_table(job, known),
        _side_by_side({name: tables[1] for name, (_, tables) in every.items()}),
        _stacked({name: tables[2] for name, (_, tables) in every.items()}),
    )


def _orders_table(job: Job, names: list[str]) -> Table:
    """Return one row a stack: all its discs in order."""
    rows: list[tuple[Cell, ...]] = []
    for name in names:
        build = damper_builds.build_of(job, job.programme.kit.dampers[name], name)
        for place, sense, valve in build.valves():
            if isinstance(valve, StackValve):
                order = ", ".join(disc_words(disc.thickness, 2.0 * disc.radius) for disc in valve.discs)
                rows.append((name, f"{place} {sense}", order))
    return Table(
        key="stacks",
        title="Stacks: discs in order from the piston outward, thickness x outer diameter, mm",
        columns=(
            Column(key="damper", title="Damper"),
            Column(key="stack", title="Stack"),
            Column(key="discs", title="Discs"),
        ),
        rows=tuple(rows),
    )


def _side_by_side(tables: dict[str, Table]) -> Table:
    """Return tables of (what, value) as one, a column a damper."""
    titles = list(dict.fromkeys(str(row[0]) for table in tables.values() for row in table.rows))
    found = [{str(row[0]): row[1] for row in table.rows} for table in tables.values()]
    rows = tuple((title, *(one.get(title, "") for one in found)) for title in titles)
    first = next(iter(tables.values()))
    return Table(
        key="damper_sizes",
        title="Dampers: lengths, oil, gas, bleed and torque",
        columns=(Column(key="what", title="What"), *(Column(key=name, title=name) for name in tables)),
        rows=rows,
        strong=tuple(i for i, row in enumerate(rows) if any(str(cell).startswith("not stated") for cell in row)),
        note=first.note,
    )


def _stacked(tables: dict[str, Table]) -> Table:
    """Return equal tables as one, the damper's name before each row."""
    first = next(iter(tables.values()))
    return Table(
        key="acceptance",
        title="Dyno acceptance bands",
        columns=(Column(key="damper", title="Damper"), *first.columns),
        rows=tuple((name, *row) for name, table in tables.items() for row in table.rows),
        note=first.note,
    )


def _count(job: Job, damper: Any, name: str) -> int:
    build = damper_builds.build_of(job, damper, name)
    return sum(len(valve.discs) for _, _, valve in build.valves() if isinstance(valve, StackValve))


def _valves(damper: Any) -> list[tuple[str, Any]]:
    out = []
    for place in ("piston", "foot", "reservoir"):
        group = getattr(damper.valves, place)
        for sense in ("compression", "rebound"):
            valve = None if group is None else getattr(group, sense)
            if valve is not None:
                out.append((f"{place} {sense}", valve))
    return out


def _without_torque(damper: Any) -> list[str]:
    return [where for where, valve in _valves(damper) if valve.stack is not None and valve.torque is None]


def _inputs(job: Job) -> dict[str, str]:
    """Return the tolerances that the programme states by their fields, the others in words."""
    record = job.programme.workshop.tolerances
    out: dict[str, str] = {}
    for one, (words, value) in zip(
        ("disc_thickness", "seat_height", "bleed", "curtain_discharge", "band_gap", "friction"),
        _tolerance_words(tolerances(job)).items(),
        strict=True,
    ):
        stated = getattr(record, one, None)
        key = f"workshop.tolerances.{one}" if stated is not None else f"{words}, as is common"
        out[key] = value if stated is None else str(stated)
    return out


def _tolerance_words(t: Tolerances) -> dict[str, str]:
    return {
        "disc thickness": f"{show(t.disc_thickness, 'gap')}, standard deviation",
        "seat height": f"{show(t.seat_height, 'gap')}, standard deviation",
        "bleed area": f"{show(t.bleed, 'share')}, standard deviation",
        "curtain discharge": f"{show(t.curtain_discharge, 'ratio')}, standard deviation",
        "band gap": f"{show(t.band_gap, 'gap')}, standard deviation",
        "friction": f"{show(t.friction, 'force')}, standard deviation",
    }


def _discs_table(name: str, build: Any) -> Table:
    rows: list[tuple[Cell, ...]] = []
    for place, sense, valve in build.valves():
        if not isinstance(valve, StackValve):
            continue
        for number, disc in enumerate(valve.discs, 1):
            what = "spacer" if disc.radius <= valve.clamp + 1e-6 else "on the seat" if number == 1 else ""
            rows.append((f"{place} {sense}", number, disc_words(disc.thickness, 2.0 * disc.radius), what))
    return Table(
        key=f"{name}_discs",
        title=f"{name}: discs in order from the piston outward, thickness x outer diameter, mm",
        columns=(
            Column(key="stack", title="Stack"),
            Column(key="place", title="Place", kind="count"),
            Column(key="disc", title="Disc"),
            Column(key="note", title="Note"),
        ),
        rows=tuple(rows),
    )


def _sizes_table(name: str, damper: Any, build: Any) -> Table:
    body = damper.body
    gauge = float(body.gas_pressure) - 101_325.0
    rows: list[tuple[Cell, ...]] = [
        ("length between the mounts, fully extended", str(damper.open_length)),
        ("length between the mounts, fully compressed", str(damper.closed_length)),
        ("stroke", show(build.body.stroke, "length")),
        ("bore and rod", f"{body.bore}, {body.rod}"),
        ("oil", f"{body.oil}, {body.oil_volume}, filled at 20 °C"),
        (
            "gas in mid-stroke at 20 °C",
            f"{body.gas_pressure} absolute, {gauge / 1e5:.1f} bar on the gauge",
        ),
    ]
    for place in ("piston", "foot", "reservoir"):
        group = getattr(damper.valves, place)
        holes = [] if group is None else [f"{hole.holes}, {hole.length or 'sharp edge'}" for hole in group.bleed]
        if holes:
            rows.append((f"bleed at the {place}", "; ".join(holes)))
    for where, valve in _valves(damper):
        if valve.stack is not None:
            rows.append((f"seat height, {where}", str(valve.seat_height or "flush")))
            rows.append((f"torque of the nut, {where}", str(valve.torque or "not stated: ask the maker")))
    return Table(
        key=f"{name}_sizes",
        title=f"{name}: lengths, oil, gas, bleed and torque",
        columns=(Column(key="what", title="What"), Column(key="value", title="Value")),
        rows=tuple(rows),
        strong=tuple(i for i, row in enumerate(rows) if str(row[1]).startswith("not stated")),
        note="torques are the programme's own; nothing here computes them",
    )


def _acceptance_table(name: str, found: Acceptance) -> Table:
    rows: list[tuple[Cell, ...]] = []
    for i, v in enumerate(found.velocity):
        direction = "rebound" if v < 0.0 else "compression"
        size = abs(float(found.rated[i]))
        ends = sorted((abs(float(found.least[i])), abs(float(found.most[i]))))
        standard = production_band(size, "rebound" if v < 0.0 else "compression")
        scale = size / abs(float(found.bands.nominal[i]))
        sigma = float(found.bands.sigma[i]) * scale
        rows.append(
            (direction, abs(float(v)), size, ends[0], ends[1], sigma / size, standard, standard / (3.0 * sigma))
        )
    return Table(
        key=f"{name}_acceptance",
        title=f"{name}: dyno acceptance bands",
        columns=(
            Column(key="direction", title="Direction"),
            Column(key="speed", title="Speed", kind="velocity"),
            Column(key="rated", title="Rated", kind="force"),
            Column(key="least", title="From", kind="force"),
            Column(key="most", title="to", kind="force"),
            Column(key="sigma", title="Standard deviation", kind="share"),
            Column(key="standard", title="QC/T band +-", kind="force"),
            Column(key="cp", title="Cp within it", kind="ratio"),
        ),
        rows=tuple(rows),
        note=f"friction in, gas force off; rated {'as dynoed' if found.measured else 'by the model'}; from and to hold "
        f"{show(found.bands.coverage, 'share', digits=2)} of "
        f"{found.bands.sample.shape[0]:,} sampled dampers, seed {found.bands.seed}; "
        "QC/T 491-1999, 1.2.2, from a public copy",
    )


def _sources_table(name: str, found: Acceptance) -> Table:
    picked = [i for i, v in enumerate(found.velocity) if abs(v) in (0.13, 0.52)]
    return Table(
        key=f"{name}_sources",
        title=f"{name}: where the scatter comes from, shares of the variance",
        columns=(
            Column(key="source", title="Source"),
            *(
                Column(
                    key=f"at_{found.velocity[i]:g}",
                    title=f"{'Rebound' if found.velocity[i] < 0 else 'Compression'} {abs(found.velocity[i]):.2f} m/s",
                    kind="share",
                    digits=0,
                )
                for i in picked
            ),
        ),
        rows=tuple(
            (source, *(float(share[i]) for i in picked)) for source, share in found.bands.sources.items()
        ),
    )  # fmt: skip


def _band_picture(name: str, found: Acceptance) -> LineChart:
    x = tuple(map(float, found.velocity))
    return LineChart(
        key=f"{name}_bands",
        title=f"{name}: dyno acceptance bands",
        x=Axis(title="speed, compression positive", kind="velocity"),
        y=Axis(title="force with friction, without gas", kind="force"),
        lines=(
            Line(label="rated", x=x, y=tuple(map(float, found.rated))),
            Line(label="upper end", x=x, y=tuple(map(float, found.most)), role="plain"),
            Line(label="lower end", x=x, y=tuple(map(float, found.least)), role="plain"),
        ),
    )
