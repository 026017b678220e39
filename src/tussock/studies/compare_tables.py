"""How a comparison is shown: the answer, tables read at a glance, and the picture with intervals."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from tussock.mechanics import measures as m
from tussock.studies.display import show
from tussock.studies.paired import Difference
from tussock.studies.result import Axis, Cell, Column, Line, LineChart, Mark, Notice, Row, RowChart, Table

if TYPE_CHECKING:
    from tussock.studies.compare import Compared

NOISE = "cannot be told apart"
_WORDS = {"comfort": ("more comfortable", "less comfortable"), "control": ("better controlled", "worse controlled")}
_TITLES = {"comfort": "Discomfort", "control": "Loss of control"}


def share(value: float) -> float:
    """Return a logarithm of a ratio as a change."""
    return math.expm1(value)


def span(d: Difference) -> str:
    """Return a change with its interval: "−4.2 % (−5.0 to −3.4)"."""
    low, high = (show(share(v), "share", sign=True).removesuffix(" %") for v in (d.low, d.high))
    return f"{show(share(d.mean), 'share', sign=True)} ({low} to {high})"


def reading(d: Difference, *, better: str = "lower") -> str:
    """Say whether a difference is one, and which way."""
    if d.mean == 0.0 and d.spread == 0.0:
        return "the same"
    if not d.told:
        return "noise"
    return "better" if (d.mean < 0.0) == (better == "lower") else "worse"


def half(d: Difference) -> float:
    """Return half the width of an interval, as a change."""
    return 0.5 * (share(d.high) - share(d.low))


def answer(
    found: Sequence[Compared],
    *,
    best: str,
    told: Mapping[str, Difference],
    against: str,
    roads: int,
) -> str:
    """Say in one sentence which build balances best, by how much, and what cannot be told from it."""
    here = next(c for c in found if c.build == best)
    parts = [_words(index, d) for index, d in here.indices.items()]
    place = f" in {here.fitout}" if len({c.fitout for c in found}) > 1 else ""
    lead = f"On the same {roads} roads"
    what = f"it is {' and '.join(parts)} than {against}{place}"
    others = [b for b in told if b != against]
    noise = [b for b in others if not told[b].told]
    if told[against].told and here.balance.mean > 0.0:
        return f"{lead} no build balances better than {against}; {best} comes nearest: {what}."
    if not told[against].told:
        return f"{lead} no build can be told from {against} in balance; {best} comes out first: {what}."
    text = f"{lead} {best} {'balances best' if others else f'balances better than {against}'}: {what}"
    if noise:
        return f"{text}; {' and '.join(noise)} cannot be told apart from it in balance on these roads."
    return (
        f"{text}; the other{'s are' if len(others) > 1 else ' is'} behind by more than noise." if others else f"{text}."
    )


def _words(index: str, d: Difference) -> str:
    better, worse = _WORDS[index]
    if not d.told:
        return f"neither {better} nor {worse} by more than noise"
    size = show(abs(share(d.mean)), "share")
    low, high = (show(v, "share") for v in sorted(abs(share(v)) for v in (d.low, d.high)))
    between = "" if d.spread == 0.0 else f" ({low.removesuffix(' %')} to {high})"
    return f"{size}{between} {worse if d.mean > 0.0 else better}"


def noise_notices(found: Sequence[Compared], *, roads: int) -> tuple[Notice, ...]:
    """Say which differences are noise, and how many roads would tell one of that size."""
    out: list[Notice] = []
    for c in found:
        for index, d in c.indices.items():
            if d.told:
                continue
            more = d.pairs_to_tell()
            remedy = (
                f"if so small a difference matters, drive about {more} roads"
                if more is not None and more <= 200
                else "it is too small to matter on a road: choose by something else"
            )
            out.append(
                Notice(
                    text=f"{_title(c, found)} and {c.against} {NOISE} in {index} on these {roads} roads: {span(d)}",
                    remedy=remedy,
                )
            )
    return tuple(out)


def _title(c: Compared, found: Sequence[Compared]) -> str:
    return f"{c.build}, {c.fitout}" if len({o.fitout for o in found}) > 1 else c.build


def index_table(found: Sequence[Compared], *, best: str, against: str, confidence: float) -> Table:
    """Return both indices of every build with intervals, and the reading."""
    rows: list[tuple[Cell, ...]] = []
    for c in found:
        row: list[Cell] = [_title(c, found)]
        for d in c.indices.values():
            row += [share(d.mean), share(d.low), share(d.high), reading(d)]
        rows.append(tuple(row))
    return Table(
        key="indices",
        title=f"Builds against {against} on the same roads",
        columns=(
            Column(key="build", title="Build"),
            *(
                column
                for index, title in _TITLES.items()
                for column in (
                    Column(key=index, title=title, kind="share", sign=True),
                    Column(key=f"{index}_low", title="from", kind="share", sign=True),
                    Column(key=f"{index}_high", title="to", kind="share", sign=True),
                    Column(key=f"{index}_reading", title="Reading"),
                )
            ),
        ),
        rows=tuple(rows),
        strong=tuple(i for i, c in enumerate(found) if c.build == best),
        note=f"below 0 is better; from and to: {show(confidence, 'share', digits=0)} interval by Student's t over the "
        "roads, each on its own: of twenty that are noise one looks like a difference. "
        "noise: cannot be told apart on these roads",
    )


def section_table(found: Sequence[Compared], *, against: str) -> Table:
    """Return the indices by section with half the width of their intervals."""
    rows: list[tuple[Cell, ...]] = []
    for c in found:
        for section, indices in c.sections.items():
            row: list[Cell] = [section, _title(c, found)]
            for d in indices.values():
                row += [share(d.mean), half(d), reading(d)]
            rows.append(tuple(row))
    return Table(
        key="sections",
        title=f"By section, against {against}",
        columns=(
            Column(key="section", title="Section"),
            Column(key="build", title="Build"),
            *(
                column
                for index, title in _TITLES.items()
                for column in (
                    Column(key=index, title=title, kind="share", sign=True),
                    Column(key=f"{index}_half", title="±", kind="share"),
                    Column(key=f"{index}_reading", title="Reading"),
                )
            ),
        ),
        rows=tuple(rows),
        note="± 0.0 where nothing of the section is drawn by chance",
    )


def _reference_title(found: Sequence[Compared], against: str) -> str:
    name = against.capitalize() if against == "stock" else against
    return f"{name}, {found[0].fitout}" if len({c.fitout for c in found}) > 1 else name


def measure_table(found: Sequence[Compared], *, against: str) -> Table:
    """Return every measure of the loop, a column for each build; a change that is noise is left out, its ± stays."""
    rows: list[tuple[Cell, ...]] = []
    for key in found[0].measures:
        measure = m.MEASURES.get(key)
        there = found[0].reference[key]
        row: list[Cell] = [measure.title if measure else key, show(there, measure.kind) if measure else f"{there:g}"]
        for c in found:
            d = c.measures[key]
            if d is None:
                row += [None, None]
            else:
                row += [share(d.mean) if d.told or d.spread == 0.0 else None, half(d)]
        rows.append(tuple(row))
    return Table(
        key="measures",
        title=f"Measures of the loop, against {against}",
        columns=(
            Column(key="measure", title="Measure"),
            Column(key="reference", title=_reference_title(found, against)),
            *(
                column
                for c in found
                for column in (
                    Column(key=f"{c.fitout}_{c.build}", title=_title(c, found), kind="share", sign=True),
                    Column(key=f"{c.fitout}_{c.build}_half", title="±", kind="share"),
                )
            ),
        ),
        rows=tuple(rows),
        note="empty: noise, smaller than the ± beside it or of no ratio. Mean over sections, of peaks the worst, of "
        "counts the sum; both with the floor that the indices add, so that almost nothing does not look like much",
    )


def picture(found: Sequence[Compared], *, against: str, roads: int, confidence: float) -> RowChart:
    """Return both indices of every build with their intervals."""
    rows = tuple(
        Row(
            group=_TITLES[index],
            label=_title(c, found),
            at=share(d.mean),
            low=share(d.low),
            high=share(d.high),
            role="plain" if not d.told else "stock" if c.build == "stock" else "build",
            text=span(d) if d.told else NOISE,
        )
        for index in _TITLES
        for c in found
        for d in (c.indices[index],)
    )
    return RowChart(
        key="intervals",
        title=f"Against {against} on the same {roads} roads: left of the line is better",
        x=Axis(title=f"change, with its {show(confidence, 'share', digits=0)} interval", kind="share"),
        rows=rows,
        zero_label=f"as {against}",
    )


def section_map(found: Sequence[Compared], *, ranked: Sequence[str], against: str) -> LineChart:
    """Return comfort against control of the two best builds, a point for each section of the first fit-out.

    More builds than two could not be told apart. The best one's first and last section are named.
    """
    best = ranked[0]
    here = {c.build: c for c in reversed(found)}
    places = {
        build: {name: (share(d["comfort"].mean), share(d["control"].mean)) for name, d in here[build].sections.items()}
        for build in ranked[:2]
    }
    points = places[best]
    ends = (min(points, key=lambda n: sum(points[n])), max(points, key=lambda n: sum(points[n])))
    calmer, held = (sum(1 for p in points.values() if p[i] < 0.0) for i in (0, 1))
    return LineChart(
        key="by_section",
        title=f"{best} is more comfortable than {against} on {calmer} of {len(points)} sections, better held on {held}",
        x=Axis(title="change of discomfort", kind="share"),
        y=Axis(title="change of loss of control", kind="share"),
        lines=tuple(
            Line(
                label="Stock" if build == "stock" else build,
                x=tuple(p[0] for p in at.values()),
                y=tuple(p[1] for p in at.values()),
                role="build" if build == best else "stock" if build == "stock" else "plain",
                dots=True,
            )
            for build, at in places.items()
        ),
        marks=(
            Mark(text=f"as {against}", x=0.0, y=0.0, role="stock" if against == "stock" else "plain"),
            *(Mark(text=name, x=points[name][0], y=points[name][1], role="build") for name in dict.fromkeys(ends)),
        ),
    )
