"""Tables and pictures of the springs study."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from tussock.mechanics.springs import Proposal, SpectrumLife
from tussock.mechanics.springs.fatigue import goodman_line
from tussock.studies import parts
from tussock.studies.display import show
from tussock.studies.job import ENDS, Job, Setup
from tussock.studies.result import Axis, Cell, Column, Line, LineChart, Mark, Picture, Rung, Span, SpanChart, Table
from tussock.studies.spring_work import (
    SpringWork,
    loop_length,
    sideways,
    strokes,
)
from tussock.studies.stop_library import stop_library

SOURCE = (
    "EN 13906-1:2013, hot coiled, ground, shot peened EN 10089 steel; formulas and limits from a public transcription, "
    "so check against the standard before release"
)
_MOST_ROAD = 1e9  # what lasts longer lasts for ever [m]
_PROPOSED = 3  # shown for each spring


def made(work: SpringWork) -> str:
    """Return how a spring is made, in words."""
    coil = work.coil
    if coil is None:
        return f"{show(work.rate, 'rate')}, free {show(work.free_length, 'length')}"
    return (
        f"wire {show(coil.wire, 'length_fine')}, mean diameter {show(coil.mean_diameter, 'length')}, "
        f"{coil.active_coils:.2f} active coils, free {show(coil.free_length, 'length')}"
    )


def stress_table(works: Sequence[SpringWork], reserves: Mapping[str, float | None]) -> Table:
    """Return the stresses of every coil at ride, full bump and solid, and what is permitted."""
    rows: list[tuple[Cell, ...]] = []
    strong: list[int] = []
    for w in works:
        coil = w.coil
        if coil is None:
            continue
        margin = coil.permitted_solid_stress / coil.solid_stress
        reserve = reserves[w.name]
        if margin < 1.0 or (reserve is not None and reserve < 1.0):
            strong.append(len(rows))
        at_bump = coil.stress_at(w.bump) if w.bump > coil.solid_length else coil.solid_stress
        rows.append(
            (
                w.name,
                w.fitout,
                w.rate,
                coil.rate,
                w.load,
                coil.stress(w.load),
                at_bump,
                coil.solid_stress,
                coil.permitted_solid_stress,
                margin,
                reserve,
            )
        )
    return Table(
        key="stresses",
        title="Stresses in the fit-out that loads each spring most",
        columns=(
            Column(key="spring", title="Spring"),
            Column(key="fitout", title="Fit-out"),
            Column(key="rate", title="Rate specified", kind="rate"),
            Column(key="rate_from_wire", title="Rate from its wire", kind="rate"),
            Column(key="load", title="Load at ride", kind="force"),
            Column(key="ride", title="Stress at ride", kind="stress"),
            Column(key="bump", title="At full bump", kind="stress"),
            Column(key="solid", title="At solid", kind="stress"),
            Column(key="permitted", title="Permitted at solid", kind="stress"),
            Column(key="safety", title="Safety at solid", kind="ratio"),
            Column(key="reserve", title="Safety on the loop", kind="ratio"),
        ),
        rows=tuple(rows),
        strong=tuple(strong),
        note=f"{SOURCE}. Stresses without curvature factor; safety on the loop is the factor by which every stress "
        "might grow before the life wanted is used up",
    )


def length_table(works: Sequence[SpringWork]) -> Table:
    """Return lengths, clearance, buckling and natural frequency of every coil."""
    rows: list[tuple[Cell, ...]] = []
    strong: list[int] = []
    for w in works:
        coil = w.coil
        if coil is None:
            continue
        if w.bump < coil.least_length:
            strong.append(len(rows))
        buckles = [coil.buckling_deflection(s) for s in ("fixed, fixed", "fixed, hinged")]
        rows.append(
            (
                w.name,
                w.droop,
                w.ride,
                w.bump,
                w.bump_by,
                coil.least_length,
                w.bump - coil.least_length,
                coil.solid_length,
                coil.free_length - w.bump,
                *("never" if math.isinf(b) else show(b, "length") for b in buckles),
                coil.natural_frequency,
                coil.natural_frequency / w.wheel_hop,
            )
        )
    return Table(
        key="lengths",
        title="Lengths, clearance between coils, buckling, natural frequency",
        columns=(
            Column(key="spring", title="Spring"),
            Column(key="droop", title="Full droop", kind="length"),
            Column(key="ride", title="Ride", kind="length"),
            Column(key="bump", title="Full bump", kind="length"),
            Column(key="bump_by", title="Ended by"),
            Column(key="least", title="Shortest allowed", kind="length"),
            Column(key="clear", title="In hand", kind="length"),
            Column(key="solid", title="Solid", kind="length"),
            Column(key="deflection", title="Deflection at bump", kind="length"),
            Column(key="buckles_fixed", title="Buckles, both seats flat"),
            Column(key="buckles_hinged", title="Buckles, one seat tilting"),
            Column(key="surge", title="Natural frequency", kind="frequency", digits=0),
            Column(key="over_hop", title="Over wheel hop", kind="ratio", digits=1),
        ),
        rows=tuple(rows),
        strong=tuple(strong),
        note="packers taken off; seating coefficients 0.5 and 0.7 of EN 13906-1; wheel hop of one wheel between tyre "
        "and spring",
    )


def life_table(job: Job, works: Sequence[SpringWork], lives: Mapping[str, SpectrumLife | None]) -> Table:
    """Return what the road loop does to every coil."""
    rows: list[tuple[Cell, ...]] = []
    length = loop_length(job)
    for w in works:
        life = lives[w.name]
        if life is None:
            continue
        hard = life.hardest
        rows.append(
            (
                w.name,
                w.fitout,
                life.strokes / (length / 1e3),
                hard.lower,
                hard.upper,
                hard.permitted,
                hard.upper / hard.permitted,
                _MOST_ROAD if life.damage <= 0.0 else min(length / life.damage, _MOST_ROAD),
            )
        )
    return Table(
        key="life",
        title="Fatigue on the road loop",
        columns=(
            Column(key="spring", title="Spring"),
            Column(key="fitout", title="Fit-out"),
            Column(key="strokes", title="Strokes per km", kind="count"),
            Column(key="lower", title="Hardest stroke from", kind="stress"),
            Column(key="upper", title="to", kind="stress"),
            Column(key="permitted", title="2 million permit", kind="stress"),
            Column(key="use", title="Share", kind="share", digits=0),
            Column(key="lasts", title="Lasts on the loop", kind="road", digits=0),
        ),
        rows=tuple(rows),
        note="rain-flow count of the driven spring lengths (ASTM E1049), both sides, strokes above 0.2 mm; stresses "
        "with curvature factor; Goodman diagrams of EN 13906-1 for 100,000 and 2 million strokes joined by a line in "
        "logarithms and Miner's sum without an endurance limit; 1,000,000 km means that or "
        "more; rust and stone chips shorten it",
    )


def side_table(works: Sequence[SpringWork]) -> Table:
    """Return what the sideways offset of the seats does to every coil."""
    rows: list[tuple[Cell, ...]] = []
    for w in works:
        for where, words in (("ride", "ride"), ("bump", "full bump")):
            load = sideways(w, where)  # type: ignore[arg-type]
            if load is not None:
                rows.append(
                    (w.name, words, load.offset, load.rate, load.force, load.line_shift, load.seated, load.stress)
                )
    return Table(
        key="side_load",
        title="Side load from seats that do not stand in line",
        columns=(
            Column(key="spring", title="Spring"),
            Column(key="where", title="At"),
            Column(key="offset", title="Seats apart", kind="length_fine"),
            Column(key="rate", title="Sideways rate", kind="rate"),
            Column(key="force", title="Side force", kind="force"),
            Column(key="shift", title="Force line off the seat's middle", kind="length_fine"),
            Column(key="seated", title="Of what lifts an end off its seat", kind="share", digits=0),
            Column(key="stress", title="Stress with it", kind="stress"),
        ),
        rows=tuple(rows),
        note="EN 13906-1, 9.13 (from memory, derived anew), seats taken as parallel; a negative rate pushes the seat "
        "farther out. The end coils shift the force line too: no published figure was at hand, so measure it",
    )


def proposal_table(works: Sequence[SpringWork], proposals: Mapping[str, Sequence[Proposal]]) -> Table:
    """Return the best coils that could be made for each spring's rate, load and length."""
    rows: list[tuple[Cell, ...]] = []
    strong: list[int] = []
    for w in works:
        for rank, p in enumerate(proposals[w.name][:_PROPOSED], start=1):
            if p.fits and rank == 1:
                strong.append(len(rows))
            s = p.spring
            rows.append(
                (
                    w.name,
                    rank,
                    "fits" if p.fits else f"{p.failing} failing",
                    s.wire,
                    s.mean_diameter,
                    s.active_coils,
                    s.free_length,
                    p.worst_use,
                    "; ".join(p.reasons),
                )
            )
    return Table(
        key="proposals",
        title="Coils that could be made for the rate, load and height wanted",
        columns=(
            Column(key="spring", title="Spring"),
            Column(key="rank", title="Rank", kind="count"),
            Column(key="fits", title="Checks"),
            Column(key="wire", title="Wire", kind="length_fine"),
            Column(key="mean_diameter", title="Mean diameter", kind="length"),
            Column(key="coils", title="Active coils", kind="ratio"),
            Column(key="free_length", title="Free length", kind="length"),
            Column(key="use", title="Worst use", kind="share", digits=0),
            Column(key="reasons", title="Why"),
        ),
        rows=tuple(rows),
        strong=tuple(strong),
        note="wires of kit.coiling; fewest failing checks first, then least use of what is permitted in steps of 2 %, "
        "then the lighter spring",
    )


def stop_table(job: Job, setup: Setup) -> Table:
    """Return how far the stop fitted and those of the library are pressed by the load that ends the travel."""
    rows: list[tuple[Cell, ...]] = []
    strong: list[int] = []
    factor = float(job.programme.targets.bump_force)
    for end in ENDS:
        fitted = parts.bump_stop(job, setup, end)
        worst = max(parts.static_corner_load(job, name, end) for name in job.programme.fitouts)
        spacer = fitted.spacer
        strong.append(len(rows))
        for name, title, stop in (
            ("fitted", "as fitted", fitted),
            *((n, s.title, s.stop.with_spacer(spacer)) for n, s in stop_library().items()),
        ):
            load = (factor - 1.0) * worst
            reached = load <= float(stop.force[-1])
            pressed = stop.compression_at(load) if reached else None
            rows.append(
                (
                    end,
                    name,
                    title,
                    stop.height,
                    pressed,
                    None if pressed is None else stop.height - pressed,
                    None if pressed is None else stop.energy(pressed),
                )
            )
    return Table(
        key="stops",
        title=f"Bump stops under {factor - 1.0:.0f} static corner loads",
        columns=(
            Column(key="axle", title="Axle"),
            Column(key="stop", title="Stop"),
            Column(key="title", title="What it is"),
            Column(key="height", title="Height with spacer", kind="length"),
            Column(key="pressed", title="Pressed by", kind="length"),
            Column(key="left", title="Left between the faces", kind="length"),
            Column(key="energy", title="Takes up", kind="energy"),
        ),
        rows=tuple(rows),
        strong=tuple(strong),
        note="the load that the stop must carry beside the spring at most, heaviest fit-out; empty where the stop was "
        "not measured that far; the library's curves are invented",
    )


def pictures(job: Job, works: Sequence[SpringWork], build: str) -> tuple[Picture, ...]:
    """Return the lengths of every coil and the fatigue diagram of the hardest worked one."""
    known = [w for w in works if w.coil is not None]
    drawn = [w for w in works if w.kind != "torsion_bar"]  # a bar has an angle, no length
    out: list[Picture] = [_length_picture(drawn)] if drawn else []
    worn = [w for w in known if w.fatigue_known]
    if worn:
        hardest = max(worn, key=lambda w: _hardest_use(job, w, build))
        out.append(_goodman_picture(job, hardest, build))
    return tuple(out)


def _hardest_use(job: Job, work: SpringWork, build: str) -> float:
    from tussock.studies.spring_work import loop_life

    life = loop_life(job, work, build)
    return 0.0 if life is None else 1.0 / life.hardest.margin


def _length_picture(works: Sequence[SpringWork]) -> SpanChart:
    spans: list[Span] = []
    for w in works:
        coil = w.coil
        low = coil.solid_length if coil is not None else min(w.bump, w.ride) - 0.01
        rungs = [Rung(text=f"full droop {show(w.droop, 'length')}", at=w.droop)]
        rungs.append(Rung(text=f"ride {show(w.ride, 'length')}", at=w.ride))
        rungs.append(Rung(text=f"full bump {show(w.bump, 'length')}", at=w.bump))
        if coil is not None:
            tight = w.bump < coil.least_length
            words = f"shortest allowed {show(coil.least_length, 'length')}"
            rungs.append(Rung(text=words, at=coil.least_length, governs=tight))
        spans.append(Span(group=w.end.capitalize(), label=w.name, low=low, high=w.free_length, rungs=tuple(rungs)))
    return SpanChart(
        key="spring_lengths",
        title="Springs from solid or full bump to free, and where they work",
        y=Axis(title="length of a coil or arch of a leaf spring, packers off", kind="length"),
        spans=tuple(spans),
    )


def _goodman_picture(job: Job, work: SpringWork, build: str) -> LineChart:
    coil = work.coil
    assert coil is not None
    lines: list[Line] = []
    top = 0.0
    for cycles, words in ((2_000_000, "2 million strokes"), (100_000, "100,000 strokes")):
        at_zero, knee, most = goodman_line(coil.wire, cycles=cycles)  # type: ignore[arg-type]
        x = (0.0, knee, max(1.25 * knee, 500e6))
        lines.append(Line(label=words, x=x, y=(at_zero, most, most), role="governs" if cycles > 1e6 else "target"))
        top = max(top, x[-1])
    counted = strokes(job, work, build)
    slope = coil.stress(1.0, corrected=True) * coil.rate
    ends = np.clip(np.array([(c.high, c.low) for c in counted]), coil.solid_length, coil.free_length)
    stress = slope * (coil.free_length - ends)
    # of many thousand strokes the large ones matter: one dot each for the hundred largest
    largest = np.argsort(stress[:, 0] - stress[:, 1])[:100]
    lines.append(
        Line(
            label="strokes",
            x=tuple(float(s) for s in stress[largest, 0]),
            y=tuple(float(s) for s in stress[largest, 1]),
            dots=True,
        )
    )
    ride = coil.stress(work.load, corrected=True)
    return LineChart(
        key="spring_fatigue",
        title=f"{work.title[:1].upper()}{work.title[1:]} ({work.fitout}) on the road loop: its hundred largest strokes",
        x=Axis(title="lower stress of the stroke", kind="stress"),
        y=Axis(title="upper stress", kind="stress"),
        lines=tuple(lines),
        marks=(Mark(text="at rest", x=ride, y=ride),),
    )
