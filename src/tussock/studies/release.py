"""Release: what do we hand over, and is it ready?"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from tussock.mechanics.dampers import production_band
from tussock.studies import aim, build_sheet, heights, model, parts
from tussock.studies.cautions import CAUTIONS
from tussock.studies.compliance import compliance_table, greatest_lift, readings
from tussock.studies.display import show
from tussock.studies.job import ENDS, Job, Setup
from tussock.studies.result import Axis, Cell, Column, Line, LineChart, Notice, Result, Table
from tussock.studies.spring_laws import coil_of, spring_law

QUESTION = "What do we hand over, and is it ready?"


def study(job: Job, stages: Sequence[Result], *, fitout: str | None = None, build: str | None = None) -> Result:
    """Return the hand-over: spring chart, parts, fitting sheet, compliance record, and whether every stage is answered.

    Parameters
    ----------
    job : Job
        The programme.
    stages : sequence of Result
        The other stages' results, in order.
    fitout, build : str, optional
        Which; the first fit-out and the last build unless said.

    Returns
    -------
    Result
        Passes when every stage passes and the kit as it stands keeps within the rules named.
    """
    setup = job.setup(fitout, build)
    failing = [r for r in stages if not r.passes]
    looking = [r for r in stages if r.passes and r.notices]
    notices = [
        Notice(
            text=f"{r.stage.capitalize()} does not pass: {r.notices[0].text if r.notices else r.answer}",
            remedy=r.notices[0].remedy if r.notices else "see the stage",
        )
        for r in failing
    ]
    read = readings(job, setup)
    broken = [notice for reading in read for notice in reading.broken]
    notices.extend(broken)
    lamps, lamp_notices = aim.headlamps(job, setup.build)
    notices.extend(lamp_notices)
    sheets = build_sheet.sheets(job, setup)
    return Result(
        stage="release",
        question=QUESTION,
        answer=_answer(job, setup, stages, failing, looking, bool(broken)),
        passes=not (failing or broken),
        provenance=job.provenance(setup, seed=job.programme.road_loop.seed),
        notices=tuple(notices),
        pictures=(_band_picture(job, setup), *sheets[0]),
        tables=(
            _spring_chart(job, setup),
            _parts_list(job, setup, stages),
            _fitting(job, setup, stages),
            compliance_table(read, greatest_lift(job, setup)),
            *((lamps,) if lamps else ()),
            *sheets[1],
            _state(stages),
            _cautions(),
        ),
        inputs={"fit-out": setup.fitout, "build": setup.build},
        values={
            "ready": not (failing or broken),
            "stages_failing": ", ".join(r.stage for r in failing),
            "stages_to_look_at": ", ".join(r.stage for r in looking),
        },
    )


def _answer(
    job: Job, setup: Setup, stages: Sequence[Result], failing: list[Result], looking: list[Result], broken: bool
) -> str:
    springs = {c for f in job.programme.fitouts.values() for c in (f.springs.front, f.springs.rear)}
    ready = "not ready" if failing or broken else "ready to be checked for release"
    text = (
        f"The kit with {'the stock dampers' if setup.stock else setup.build} is {ready}: "
        f"{len(stages) - len(failing)} of {len(stages)} stages pass"
    )
    if failing:
        text += f", {_listed([r.stage for r in failing])} {'does' if len(failing) == 1 else 'do'} not"
    if looking:
        text += f", {_listed([r.stage for r in looking])} {'wants' if len(looking) == 1 else 'want'} a look"
    if broken:
        text += ", a named rule is exceeded"
    return text + f"; it has {len(springs)} springs for {len(job.programme.fitouts)} fit-outs."


def _listed(words: list[str]) -> str:
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1]


def _spring_chart(job: Job, setup: Setup) -> Table:
    rows: list[tuple[Cell, ...]] = [
        (
            job.programme.fitouts[r.fitout].title,
            r.end,
            r.spring,
            ", ".join(parts.fitted_spring(job, Setup(fitout=r.fitout, build=setup.build), r.end).packers) or "none",
            r.lift,
            r.tolerance,
            r.spring_length,
            r.corner_load,
        )
        for r in heights.height_rows(job, setup.build)
    ]
    return Table(
        key="spring_chart",
        title="Spring chart",
        columns=(
            Column(key="fitout", title="Fit-out"),
            Column(key="axle", title="Axle"),
            Column(key="spring", title="Spring"),
            Column(key="packer", title="Packer"),
            Column(key="lift", title="Height over stock kerb", kind="length", sign=True),
            Column(key="tolerance", title="+-", kind="length"),
            Column(key="length", title="Spring length", kind="length"),
            Column(key="load", title="Load on it", kind="force"),
        ),
        rows=tuple(rows),
    )


def _parts_list(job: Job, setup: Setup, stages: Sequence[Result]) -> Table:
    rows: list[tuple[Cell, ...]] = []
    for name, s in job.programme.kit.springs.items():
        coil = coil_of(s)
        made = (
            f"wire {show(coil.wire, 'length_fine')}, mean diameter {show(coil.mean_diameter, 'length')}, "
            f"{coil.active_coils:.1f} active coils"
            if coil
            else "as specified"
        )
        rows.append((name, s.title, f"{spring_law(s).words}; {made}"))
    for end in ENDS:
        name, d = parts.damper_choice(job, setup, end)
        rows.append((name, d.title, f"open {d.open_length}, closed {d.closed_length}"))
    for end in ENDS:
        stops, spacer = parts.stop_choice(job, setup, end)
        if stops:
            rows.append((f"{end}_stops", f"{end} bump stops", " on ".join(reversed(stops))))
        if job.programme.worn(setup.build, "bars", end) is not None:
            rate = parts.bar_rate(job, end, setup.build)
            rows.append((f"{end}_bar", f"{end} anti-roll bar", show(rate, "roll_rate")))
        if spacer > 0.0:
            rows.append((f"{end}_stop_spacer", f"{end} bump-stop spacer", show(spacer, "length")))
    for name, p in job.programme.kit.packers.items():
        rows.append((name, f"{p.axle} spring packer", str(p.height)))
    for end in ENDS:
        for line in job.programme.kit.lines[end]:
            rows.append((f"{end}_{line.name.replace(' ', '_')}", f"{end} {line.name}", f"length {line.length}"))
    for part in _mending(stages):
        rows.append(part)
    return Table(
        key="parts",
        title="Parts",
        columns=(
            Column(key="part", title="Part"),
            Column(key="title", title="What"),
            Column(key="data", title="Data"),
        ),
        rows=tuple(rows),
    )


def _mending(stages: Sequence[Result]) -> list[tuple[Cell, ...]]:
    """Return the brackets and bushes that the geometry stage found."""
    found = next((r for r in stages if r.stage == "geometry"), None)
    if found is None:
        return []
    out: dict[tuple[str, str], tuple[Cell, ...]] = {}
    for row in found.table("parts").rows:
        title, end, size = str(row[0]), str(row[1]), float(row[6] or 0.0)
        key = f"{end}_{title.replace(' ', '_').replace('-', '_')}"
        out[(title, end)] = (key, f"{end} {title}", f"moves the point by {show(size, 'length_fine', sign=True)}")
    rows = list(out.values())
    for table in found.tables:
        if table.key == "levers":
            rows += [(str(r[0]).replace(" ", "_"), str(r[0]), str(r[3])) for r in table.rows if r[3] != "none needed"]
    return rows


def _fitting(job: Job, setup: Setup, stages: Sequence[Result]) -> Table:
    """Return what the fitter sets and checks, in order."""
    posture = model.posture(job, setup)
    droop = {e: next((r for r in stages if r.stage == "travel"), None) for e in ENDS}
    rows: list[tuple[Cell, ...]] = []

    def step(what: str, value: str) -> None:
        rows.append((len(rows) + 1, what, value))

    step("measure and note the stock heights, wheel centre to arch, four corners", "before anything is undone")
    for end in ENDS:
        name, damper = parts.damper_choice(job, setup, end)
        step(f"fit {end} dampers {name}", f"open {damper.open_length}, closed {damper.closed_length}")
        spring = parts.fitted_spring(job, setup, end)
        step(
            f"fit {end} springs {spring.name}", f"free length {show(spring.free_length, 'length')}, seated at both ends"
        )
        if spring.packers:
            step(f"fit {end} packers {', '.join(spring.packers)}", show(spring.packer, "length"))
        for line in job.programme.kit.lines[end]:
            step(f"fit {end} {line.name}", f"length {line.length}; bleed brakes if it is a brake hose")
        _, spacer = parts.stop_choice(job, setup, end)
        if spacer > 0.0:
            step(f"fit {end} bump-stop spacers", show(spacer, "length"))
    for part in _mending(stages):
        step(f"fit {part[1]}", str(part[2]))
    step("tighten all bushes at ride height, on the wheels", "never with the axle hanging")
    for end in ENDS:
        step(f"check {end} height over stock", show(posture[end].lift, "length", sign=True))
    found = droop["front"]
    if found is not None:
        for end in ENDS:
            reach = found.values.get(f"{end}_droop_m")
            if isinstance(reach, float) and math.isfinite(reach):
                step(
                    f"check {end} droop on the hoist from ride height",
                    f"{show(reach, 'length')} before anything is tight",
                )
    step("full lock, full articulation: hoses, lines, tyres, rods", "nothing touches, nothing is tight")
    step("set headlamps, alignment and hand wheel; recalibrate sensors", "with the driver aboard")
    return Table(
        key="fitting",
        title="Fitting sheet",
        columns=(
            Column(key="step", title="", kind="count"),
            Column(key="what", title="Do"),
            Column(key="value", title="Value"),
        ),
        rows=tuple(rows),
    )


def _state(stages: Sequence[Result]) -> Table:
    return Table(
        key="stages",
        title="State of the job",
        columns=(
            Column(key="stage", title="Stage"),
            Column(key="state", title="State"),
            Column(key="answer", title="Answer"),
        ),
        rows=tuple((r.stage, r.state if r.passes else "does not pass", r.answer) for r in stages),
        strong=tuple(i for i, r in enumerate(stages) if not r.passes),
    )


def _cautions() -> Table:
    return Table(
        key="cautions",
        title="Cautions",
        columns=(Column(key="caution", title="Caution"), Column(key="why", title="What to do")),
        rows=CAUTIONS,
    )


def _band_picture(job: Job, setup: Setup) -> LineChart:
    """Return the front damper's rated force with its production band."""
    fitted = parts.fitted(job, setup, "front")
    grid = np.linspace(-1.1, 1.1, 89)
    force = fitted.curve.at(grid)
    band = np.array(
        [
            production_band(abs(float(f)), "rebound" if v < 0 else "compression") if v else 0.0
            for v, f in zip(grid, force, strict=True)
        ]
    )
    x = tuple(map(float, grid))
    return LineChart(
        key="front_band",
        title=f"Front damper {fitted.damper_name}: rated force and production band",
        x=Axis(title="speed, compression positive", kind="velocity"),
        y=Axis(title="force", kind="force"),
        lines=(
            Line(label="rated", x=x, y=tuple(map(float, force))),
            Line(label="most", x=x, y=tuple(map(float, force + np.sign(grid) * band)), role="plain"),
            Line(label="least", x=x, y=tuple(map(float, force - np.sign(grid) * band)), role="plain"),
        ),
    )
