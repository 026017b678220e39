"""Find a stack: which discs of the stock give a wanted curve, and with how few changes?"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from tussock.errors import DomainError, InputError, SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.dampers.assembly import curve_at
from tussock.mechanics.dampers.build import DamperBuild, Place
from tussock.mechanics.dampers.hydraulics.valves import Sense
from tussock.mechanics.dampers.search import (
    Found,
    MissingDisc,
    Search,
    ShelfDisc,
    WantedPoint,
    missing_disc,
    search,
    with_valve,
)
from tussock.mechanics.dampers.stack import Disc
from tussock.record.discs import disc_words
from tussock.record.fields import CurvePoint, CurveRule
from tussock.record.units import parse
from tussock.studies import damper_builds, model, parts, valving_calibration
from tussock.studies.display import show
from tussock.studies.job import Job
from tussock.studies.result import Axis, Cell, Column, Line, LineChart, Notice, Result, Table
from tussock.studies.stack_drawing import stack_drawing

QUESTION = "Which discs of the stock give the wanted curve, and with how few changes?"
_LISTED = 6


@dataclass(frozen=True, kw_only=True)
class Want:
    """What is wanted of one damper.

    Attributes
    ----------
    damper : str
        Of the kit.
    stroke, place : str
        Stroke, and where the stack sits.
    forces : tuple of CurvePoint
        Force over speed; sizes, gas and friction taken off.
    ratios : mapping of float to float
        Damping ratio of the body by damper speed [m/s]: [-]. It is turned into a force of this stroke, the other stroke
        as it is.
    band : float
        Either way of a force [-].
    fitout : str or None
        Fit-out that a ratio speaks of; the first unless said.
    changes, tried : int
        Most changes, and stacks to screen at most.
    """

    damper: str
    stroke: Sense
    place: Place = "piston"
    forces: tuple[CurvePoint, ...] = ()
    ratios: Mapping[float, float] | None = None
    band: float = 0.05
    fitout: str | None = None
    changes: int = 3
    tried: int = 20_000


def read_want(
    *,
    damper: str,
    stroke: str,
    place: str,
    forces: Sequence[str],
    ratios: Sequence[str],
    band: str,
    fitout: str | None,
    changes: int,
    tried: int,
) -> Want:
    """Return what people write as a `Want`: forces as "0.26 m/s: 800 N", ratios as "0.26 m/s: 0.30", the band as "5 %".

    Raises
    ------
    InputError
        For a text that cannot be read; it says what would be.
    """
    if stroke not in ("compression", "rebound"):
        raise InputError(f"the stroke is {stroke!r}; write compression or rebound")
    if place not in ("piston", "foot", "reservoir"):
        raise InputError(f"the place is {place!r}; write piston, foot or reservoir")
    rule = CurveRule(dimension="speed", example="0.26 m/s: 800 N")
    found: dict[float, float] = {}
    for text in ratios:
        speed, _, value = text.partition(":")
        at = abs(float(parse(speed.strip(), "speed", example="0.26 m/s")))
        found[at] = float(parse(value.strip(), "ratio", example="0.30"))
        if not (at > 0.0 and found[at] > 0.0):
            raise InputError(f"{text!r}: speed and ratio must be above 0, such as 0.26 m/s: 0.30")
    return Want(
        damper=damper,
        stroke="compression" if stroke == "compression" else "rebound",
        place="piston" if place == "piston" else "foot" if place == "foot" else "reservoir",
        forces=tuple(rule.read(text) for text in forces),
        ratios=found,
        band=float(parse(band, "ratio", example="5 %")),
        fitout=fitout,
        changes=changes,
        tried=tried,
    )


def study(job: Job, want: Want) -> Result:
    """Return the stacks that give a wanted curve, or the nearest and the disc that is missing.

    Parameters
    ----------
    job : Job
    want : Want

    Returns
    -------
    Result
        Passes when a stack of the stock reaches every band by the fine model.

    Raises
    ------
    InputError
        If the damper has no valves, nothing is wanted, or what is wanted lies beyond any stack.
    """
    damper = _damper(job, want.damper)
    build = damper_builds.build_of(job, damper, want.damper)
    parameters, source = valving_calibration.house_parameters(job)
    temperature = float(job.programme.road_loop.oil_temperature)
    measured = job.dyno_tests[damper.dyno].curve if damper.dyno else None
    if damper.dyno:
        temperature = job.dyno_tests[damper.dyno].mean_temperature or valving_calibration.TEMPERATURE
    points = _points(job, damper, want)
    speeds = np.array(list(points))
    wanted = np.array(list(points.values()))
    sign = 1.0 if want.stroke == "compression" else -1.0
    memory = damper_builds.lifts(job)
    try:
        present = curve_at(build, temperature=temperature, parameters=parameters, lifts=memory)
        # what the dyno shows beside the model of the present stack, the model keeps on missing
        tie = np.ones(speeds.size)
        if measured is not None:
            tie = np.abs(measured.at(sign * speeds)) / np.abs(present.at(sign * speeds))
        model_wanted = tuple(
            WantedPoint(
                speed=float(s), force=float(f), least=float(f) * (1.0 - want.band), most=float(f) * (1.0 + want.band)
            )
            for s, f in zip(speeds, wanted / tie, strict=True)
        )
        found = search(
            build, want.place, want.stroke, model_wanted, shelf(job), parameters=parameters, lifts=memory,
            temperature=temperature, most_changes=want.changes, budget=want.tried,
        )  # fmt: skip
        missing = None if found.reached else missing_disc(found)
    except (DomainError, SolverError) as error:
        raise InputError(str(error)) from None
    return Result(
        stage="find-stack",
        question=QUESTION,
        answer=_answer(want, found, missing, tie, wanted),
        passes=found.reached,
        provenance=job.provenance(),
        notices=_notices(found, missing, build, want),
        pictures=(
            _picture(want, found, missing, tie, wanted),
            stack_drawing(found.best.valve, key="stack", title=f"{want.damper}, {_where(want)}: {_name(found)}"),
        ),
        tables=(
            _stacks_table(found, missing, build, want, tie),
            _discs_table(found, missing),
            _steps_table(found, tie),
            _tried_table(found),
        ),
        inputs={
            "damper": want.damper,
            "stack": _where(want),
            "wanted": ", ".join(f"{s:g} m/s: {f:.0f} N" for s, f in points.items()),
            "band": f"{show(want.band, 'share')} either way",
            "parameters": source,
            "beside the model": "the present damper's dyno run" if measured is not None else "nothing measured",
        },
        values={
            "reached": found.reached,
            "changes": float(found.best.changes),
            "worst_of_half_band": found.best.worst,
            "tried": float(found.tried),
        },
    )


def _damper(job: Job, name: str) -> Any:
    try:
        return job.programme.kit.dampers[name]
    except KeyError:
        have = ", ".join(job.programme.kit.dampers)
        raise InputError(f"there is no damper {name!r} in the kit; it has {have}") from None


def shelf(job: Job) -> tuple[ShelfDisc, ...]:
    """Return the workshop's discs."""
    out = []
    for name, material in job.programme.workshop.discs.items():
        for line in material.sizes:
            steel = damper_builds.material_of(job, replace(line, material=name))
            disc = Disc(radius=0.5 * line.diameter, thickness=line.thickness, material=steel)
            out.append(ShelfDisc(disc=disc, count=line.count or None))
    return tuple(out)


def _points(job: Job, damper: Any, want: Want) -> dict[float, float]:
    """Return wanted force by speed, rising, from forces and ratios."""
    points = {abs(float(p.at)): abs(float(p.force)) for p in want.forces}
    if want.ratios:
        end = str(damper.axle)
        setup = job.setup(want.fitout, None)
        own = job.curve(damper)
        rate, mass = model.wheel_rate(job, setup, end), parts.sprung_corner(job, setup.fitout, end)
        critical = 2.0 * math.sqrt(rate * mass) / model.damper_ratio(job, setup, end) ** 2
        sign = 1.0 if want.stroke == "compression" else -1.0
        for speed, ratio in want.ratios.items():
            both = 2.0 * ratio * critical * speed
            force = both - abs(own.force_at(-sign * speed))
            if force <= 0.0:
                raise InputError(
                    f"{want.damper}: the other stroke alone damps more than {ratio:g} of critical at {speed:g} m/s; "
                    "soften that one first"
                )
            points[speed] = force
    if not points:
        raise InputError("nothing is wanted; say a force at a speed, such as 0.26 m/s: 800 N, or a damping ratio")
    if not 0.0 < want.band < 1.0:
        raise InputError(f"a band of {want.band:g} either way; it lies above 0 and below 1, such as 0.05")
    return dict(sorted(points.items()))


def _where(want: Want) -> str:
    return f"{want.place} {want.stroke}"


def _name(found: Search) -> str:
    return "the stack found" if found.reached else "the nearest stack"


def _answer(want: Want, found: Search, missing: MissingDisc | None, tie: Floats, wanted: Floats) -> str:
    best = found.best
    worst = int(np.argmax(np.abs(best.miss)))
    off = float(best.forces[worst] * tie[worst] - wanted[worst])
    speed = show(found.wanted[worst].speed, "velocity")
    if found.reached and best.changes == 0:
        return f"{want.damper} gives the wanted {want.stroke} as it is, {show(off, 'force', sign=True)} off at {speed}."
    if found.reached:
        count = f"{best.changes} change" + ("" if best.changes == 1 else "s")
        gives = "gives" if best.changes == 1 else "give"
        return (
            f"{count} of the {_where(want)} stack of {want.damper} {gives} the wanted curve, "
            f"{show(off, 'force', sign=True)} off at {speed} at worst; {found.tried:,} stacks were tried."
        )
    text = (
        f"The stock cannot give the wanted {want.stroke} of {want.damper}: the nearest of {found.tried:,} stacks is "
        f"{show(off, 'force', sign=True)} off at {speed}"
    )
    if missing is not None and missing.reaches:
        return (
            f"{text}; one disc {disc_words(missing.disc.thickness, 2 * missing.disc.radius)} mm, not in stock, would."
        )
    return f"{text}; no single disc in steps of 0.05 x 1 mm would either."


def _changed_words(build: DamperBuild, want: Want, one: Found) -> str:
    new = with_valve(build, want.place, want.stroke, one.valve)
    return "; ".join(change.words for change in damper_builds.changes(build, new)) or "none"


def _notices(
    found: Search, missing: MissingDisc | None, build: DamperBuild, want: Want
) -> tuple[Notice, ...]:  # fmt: skip
    out = [
        Notice(text=f"{text[0].upper()}{text[1:]}", remedy="take a stack of more, thinner discs, or accept it as rare")
        for text in found.best.warnings
    ]
    if not found.reached:
        if missing is not None and missing.reaches:
            out.append(
                Notice(
                    text="No stack of this stock reaches every band",
                    remedy=f"get {disc_words(missing.disc.thickness, 2.0 * missing.disc.radius)} mm: "
                    f"{_changed_words(build, want, missing.found)}",
                )
            )
        else:
            out.append(
                Notice(
                    text="No stack of this stock reaches every band, nor would one more disc",
                    remedy="change bleed, seat height or ports, or widen the band",
                )
            )
    if found.unsolved:
        out.append(
            Notice(
                text=f"{found.unsolved} of {found.tried:,} stacks could not be solved and were left out",
                remedy="nothing, unless one of them was meant: solve it by itself",
            )
        )
    return tuple(out)


def _stacks_table(
    found: Search, missing: MissingDisc | None, build: DamperBuild, want: Want, tie: Floats
) -> Table:  # fmt: skip
    rows: list[tuple[Cell, ...]] = []

    def row(title: str, one: Found) -> None:
        rows.append(
            (
                title,
                one.changes,
                _changed_words(build, want, one),
                *(float(f) for f in one.forces * tie),
                one.worst,
                "inside" if one.inside else "outside",
                one.usage,
            )
        )

    listed = [one for one in found.found if one.changes][:_LISTED]
    row("present", found.present)
    for number, one in enumerate(listed, 1):
        row(str(number), one)
    if missing is not None:
        row("with a disc not in stock", missing.found)
    return Table(
        key="stacks",
        title="Stacks by the fine model, best first",
        columns=(
            Column(key="stack", title="Stack"),
            Column(key="changes", title="Changes", kind="count"),
            Column(key="what", title="What changes"),
            *(Column(key=f"at_{p.speed:g}", title=f"{p.speed:.2f} m/s", kind="force") for p in found.wanted),
            Column(key="worst", title="Worst over half band", kind="ratio"),
            Column(key="bands", title="Bands"),
            Column(key="usage", title="Stress over fatigue strength", kind="ratio"),
        ),
        rows=tuple(rows),
        strong=(1,) if listed and found.reached and found.best.changes else (),
        note="forces without gas and friction; stress at the highest wanted speed",
    )


def _discs_table(found: Search, missing: MissingDisc | None) -> Table:
    stacks = [found.present.valve.discs, found.best.valve.discs]
    titles = ["Present", "Found" if found.reached else "Nearest"]
    if missing is not None and missing.reaches:
        stacks.append(missing.found.valve.discs)
        titles.append("With the missing disc")
    longest = max(len(s) for s in stacks)
    rows: list[tuple[Cell, ...]] = [
        (i + 1, *(disc_words(s[i].thickness, 2.0 * s[i].radius) if i < len(s) else "" for s in stacks))
        for i in range(longest)
    ]
    return Table(
        key="discs",
        title="Discs in order from the seat, thickness x outer diameter, mm",
        columns=(
            Column(key="place", title="Place", kind="count"),
            *(Column(key=t.lower().replace(" ", "_"), title=t) for t in titles),
        ),
        rows=tuple(rows),
        strong=tuple(i for i, r in enumerate(rows) if r[1] != r[2]),
    )


def _steps_table(found: Search, tie: Floats) -> Table:
    return Table(
        key="resolution",
        title="Finest steps that one change of disc makes",
        columns=(
            Column(key="speed", title="Speed", kind="velocity"),
            Column(key="present", title="Present force", kind="force"),
            Column(key="softer", title="Softer", kind="force", digits=1, sign=True),
            Column(key="softer_words", title="by"),
            Column(key="firmer", title="Firmer", kind="force", digits=1, sign=True),
            Column(key="firmer_words", title="by"),
        ),
        rows=tuple(
            (
                step.speed,
                step.present * float(t),
                step.softer * float(t) if step.softer else None,
                step.softer_words or "no change does",
                step.firmer * float(t) if step.firmer else None,
                step.firmer_words or "no change does",
            )
            for step, t in zip(found.steps, tie, strict=True)
        ),
        note="steps below 0.2 % of the force are not counted: no dyno sees them",
    )


def _tried_table(found: Search) -> Table:
    return Table(
        key="tried",
        title="Stacks tried",
        columns=(
            Column(key="changes", title="Changes", kind="count"),
            Column(key="tried", title="Stacks", kind="count"),
            Column(key="complete", title="Which"),
        ),
        rows=tuple(
            (one.changes, one.tried, "all that can be built" if one.complete else "those next to the nearest")
            for one in found.levels
        ),
    )


def _picture(want: Want, found: Search, missing: MissingDisc | None, tie: Floats, wanted: Floats) -> LineChart:
    speeds = tuple(p.speed for p in found.wanted)

    def line(label: str, forces: Floats, role: Any) -> Line:
        return Line(label=label, x=speeds, y=tuple(float(f) for f in forces), role=role)

    lines = [
        line("present", found.present.forces * tie, "stock"),
        line("found" if found.reached else "nearest", found.best.forces * tie, "build"),
    ]
    if missing is not None and missing.reaches:
        lines.append(line("with the missing disc", missing.found.forces * tie, "build"))
    lines += [
        line("most", wanted * (1.0 + want.band), "plain"),
        line("least", wanted * (1.0 - want.band), "plain"),
        Line(label="wanted", x=speeds, y=tuple(map(float, wanted)), role="target", dots=True),
    ]
    return LineChart(
        key="curve",
        title=f"{want.damper}, {want.stroke}: wanted and found",
        x=Axis(title="speed", kind="velocity"),
        y=Axis(title="force without gas and friction", kind="force"),
        lines=tuple(lines),
    )
