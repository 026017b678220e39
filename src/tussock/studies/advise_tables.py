"""Tables of an advice: what to change, doubt per build and per respect, drivers' agreement, what may be changed."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from tussock.mechanics.tuning import OVERALL, Point
from tussock.studies import advise_build
from tussock.studies.advise_ground import FINE, rule_words
from tussock.studies.advise_shown import (
    NINETY,
    candidates,
    change_words,
    difference,
    incumbent,
    marks,
    middle_name,
    support,
)
from tussock.studies.display import show
from tussock.studies.result import Cell, Column, Table

if TYPE_CHECKING:
    from tussock.studies.advise import Advised


def tables(found: Advised) -> tuple[Table, ...]:
    """Return what to change, how sure that is, and what it comes of."""
    base = incumbent(found)
    changes = advise_build.tables(found, found.advice.next, base) if found.advice.next != base else ()
    return (
        *changes,
        _candidate_table(found),
        _respect_table(found),
        _checked_table(found),
        _driver_table(found),
        _ground_table(found),
        _left_out_table(found),
    )


_DOUBT = (
    Column(key="gain", title="Marks better", kind="ratio", digits=1, sign=True),
    Column(key="low", title="5 of 100", kind="ratio", digits=1, sign=True),
    Column(key="high", title="95 of 100", kind="ratio", digits=1, sign=True),
    Column(key="chance", title="Chance", kind="share", digits=0),
)


def _candidate_table(found: Advised) -> Table:
    base = incumbent(found)
    rows: list[tuple[Cell, ...]] = []
    strong: list[int] = []
    for label, point in candidates(found):
        drives = sum(found.drives.builds[d] == point for d in found.drives.driven)
        told: tuple[Cell, ...] = (0.0, None, None, None) if point == base else difference(found, point)
        if point == found.advice.next:
            strong.append(len(rows))
        text = "as it is" if point == base else change_words(found, point, base)
        whose: tuple[Cell, ...] = (None, None)
        if point != base:
            whose = (support(found, point), difference(found, point, belief=found.alone)[0])
        rows.append((label, *told, *whose, _after(found, point), drives, text))
    return Table(
        key="candidates",
        title=f"Builds against {middle_name(found)}",
        columns=(
            Column(key="build", title="Build"),
            *_DOUBT,
            Column(key="support", title="From drives", kind="share", digits=0),
            Column(key="alone", title="Simulation alone", kind="ratio", digits=1, sign=True),
            Column(key="after", title="Doubt after a drive", kind="ratio", digits=1),
            Column(key="drives", title="Drives", kind="count"),
            Column(key="changes", title="Differs in"),
        ),
        rows=tuple(rows),
        strong=tuple(strong),
        note="marks on the scale from 1 to 10, on the whole loop; from drives: share of what is known (one over "
        "variance) that drives added to the simulation; doubt after a drive: half the width of 90 % when one "
        "verdict on the whole has been given, about",
    )


def _after(found: Advised, point: Point) -> Cell:
    """Return half the width of 90 % after one more verdict on the whole, by the rule of two Gaussians [marks]."""
    base = incumbent(found)
    if point == base:
        return None
    spread = float(found.advice.belief.difference(np.array([point]), base)[1][0])
    noise = found.advice.belief.prior.preference.noise
    return marks(found) * NINETY * spread * noise / math.hypot(spread, noise)


def _respect_table(found: Advised) -> Table:
    shares = found.advice.belief.shares
    verdicts: dict[object, int] = {}
    given: dict[object, int] = {}
    for told, counts in ((found.heard.verdicts, verdicts), (found.heard.marks, given)):
        for one in told:
            counts[one.respect] = counts.get(one.respect, 0) + 1
    rows: list[tuple[Cell, ...]] = [
        (
            "overall, whole loop",
            1.0,
            *difference(found, found.advice.next),
            verdicts.get(None, 0),
            given.get(None, 0),
            "",
        )
    ]
    for j, respect in enumerate(found.simulated.respects):
        measures = ", ".join(dict.fromkeys(m.split(": ")[-1].replace("_", " ") for m in found.simulated.measures[j]))
        instead = found.simulated.stands_in.get(j)
        rows.append(
            (
                respect.title,
                float(shares[j]),
                *difference(found, found.advice.next, j),
                verdicts.get(respect, 0),
                given.get(respect, 0),
                f"{measures} of {instead}: its own do not move" if instead else measures,
            )
        )
    return Table(
        key="respects",
        title="The next build in each respect, and what each counts",
        columns=(
            Column(key="respect", title="In what respect"),
            Column(key="share", title="Counts", kind="share", digits=0),
            *_DOUBT,
            Column(key="verdicts", title="Verdicts", kind="count"),
            Column(key="marks", title="Marks", kind="count"),
            Column(key="measures", title="Measures that bear on it"),
        ),
        rows=tuple(rows),
        strong=(0,),
        note="counts: share in the whole as verdicts suggest, half of it comfort and control of the loop before "
        "anybody drives; which measures bear on what is a judgement (common practice, no source)",
    )


def _checked_table(found: Advised) -> Table:
    base = incumbent(found)
    names = found.scene.names
    titles = {base: middle_name(found), found.advice.optimum: "best build believed"}
    titles[found.advice.next] = titles[base] if found.advice.next == base else "drive next"
    rows: list[tuple[Cell, ...]] = []
    for point, outcome in found.checked.items():
        told: tuple[Cell, ...] = (None, None, None)
        if not outcome.failed:
            told = tuple(outcome.figures[names.index(k)] for k in ("comfort", "control", "stops"))
        rows.append((titles[point], *told, outcome.failed))
    return Table(
        key="checked",
        title="What the simulation says of them, against stock",
        columns=(
            Column(key="build", title="Build"),
            Column(key="comfort", title="Discomfort", kind="ratio", digits=3),
            Column(key="control", title="Loss of control", kind="ratio", digits=3),
            Column(key="stops", title="Hardest stop hit", kind="force_k"),
            Column(key="failed", title="Note"),
        ),
        rows=tuple(rows),
        note="below 1 is better than stock; driven on the loop with these very settings",
    )


def _driver_table(found: Advised) -> Table:
    belief = found.advice.belief
    rows: list[tuple[Cell, ...]] = []
    respects = {r: j for j, r in enumerate(found.simulated.respects)}
    for i, driver in enumerate(found.heard.drivers):
        told = [v for v in found.heard.verdicts if v.drive.driver == driver]
        agree, of = 0, 0
        for v in told:
            one, two = (found.ground.places[b] for b in (v.drive.build, str(v.drive.against)))
            if v.value == 0 or one == two:
                continue
            j = OVERALL if v.respect is None else respects[v.respect]
            mean = float(belief.difference(np.array([one]), two, j)[0][0])
            of += 1
            agree += mean * v.value > 0.0
        own = [m for m in found.heard.marks if m.drive.driver == driver]
        marked = bool(own) and i < belief.biases.size
        rows.append(
            (
                driver,
                sum(d.driver == driver for d in found.heard.drives),
                len(told),
                f"{agree} of {of}" if of else "",
                len(own),
                float(belief.biases[i]) if marked else None,
                float(belief.gains[i]) if marked else None,
            )
        )
    return Table(
        key="drivers",
        title="Drivers, and how far they agree",
        columns=(
            Column(key="driver", title="Driver"),
            Column(key="drives", title="Drives", kind="count"),
            Column(key="verdicts", title="Verdicts", kind="count"),
            Column(key="agree", title="Go the common way"),
            Column(key="marks", title="Marks", kind="count"),
            Column(key="level", title="Marks above the others", kind="ratio", digits=1, sign=True),
            Column(key="gain", title="Marks for one unit", kind="ratio", digits=1),
        ),
        rows=tuple(rows),
        note="common way: what all verdicts and marks together say of that pair in that respect, 'same' apart; a "
        "driver's level and how widely he marks are his own and count for no build",
    )


def _ground_table(found: Advised) -> Table:
    rows: list[tuple[Cell, ...]] = [
        (
            a.title,
            advise_build.amount_words(found, a.key, found.ground.middle),
            show(a.factor(a.low) - 1.0, "share", digits=0, sign=True),
            show(a.factor(a.high) - 1.0, "share", digits=0, sign=True),
            "; ".join([a.limits, *([found.felt[a.key].words] if a.key in found.felt else [])]),
        )
        for a in found.ground.axes
    ]
    rows += [(advise_build.title_of(key), "", "held", "held", why) for key, why in found.ground.held.items()]
    limits = [rule_words(), *(f"by the simulation it {w}" for w in found.simulated.limits)]
    return Table(
        key="ground",
        title=f"What may be changed of {found.ground.setup.build}, and how far",
        columns=(
            Column(key="adjuster", title="Adjuster"),
            Column(key="now", title="Is"),
            Column(key="least", title="From"),
            Column(key="most", title="To"),
            Column(key="why", title="What ends it"),
        ),
        rows=tuple(rows),
        note=f"in levels of {FINE:g} step (a step: 25 % of a damper's slope or a bar's rate, 10 % of spring rate or "
        f"pressure); every build proposed keeps: {'; '.join(limits)}",
    )


def _left_out_table(found: Advised) -> Table:
    return Table(
        key="left_out",
        title="What of the log does not count here",
        columns=(Column(key="drive", title="Drive"), Column(key="why", title="Why")),
        rows=tuple(found.heard.left_out.items()),
        note="it stays in the log and in the windows",
    )
