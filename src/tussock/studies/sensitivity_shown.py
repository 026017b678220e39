"""How a screening is shown: the answer, who moves the indices with intervals, who moves which measure, tornadoes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from tussock.mechanics import measures as m
from tussock.studies.display import show
from tussock.studies.points import INDICES
from tussock.studies.result import Axis, Cell, Column, Notice, Picture, Row, RowChart, Table
from tussock.studies.screening import Influence

if TYPE_CHECKING:
    from tussock.studies.sensitivity import Screened

_TITLES = {"comfort": "Discomfort", "control": "Loss of control"}
_BOTH_WAYS = 0.5  # a mean effect below this share of its size goes one way here and the other there
_NEXT = 2  # inputs named for each measure
_NOTHING = 0.005


def order(influences: Sequence[Influence]) -> list[int]:
    """Return inputs by what they move, the most first."""
    return sorted(range(len(influences)), key=lambda i: -influences[i].total)


def way(i: Influence) -> str:
    """Return which way Morris's effect goes."""
    if abs(i.alone) < _BOTH_WAYS * i.total:
        return "both ways"
    return "raises" if i.alone > 0.0 else "lowers"


def answer(found: Screened) -> str:
    """Say who moves each index most, and how many move nothing."""
    morris = found.screen.method == "morris"
    parts: list[str] = []
    for index in INDICES:
        got = found.found[index]
        first, second = order(got)[:2]
        what = _TITLES[index].lower()
        names = [f"{found.ranges[k].adjuster.title} ({_figure(got[k], morris)})" for k in (first, second)]
        parts.append(f"{what} hangs most on {names[0]}, then on {names[1]}")
    quiet = sum(all(_idle(found.found[index][k], morris) for index in INDICES) for k in range(len(found.ranges)))
    tail = (
        f"{quiet} of {len(found.ranges)} inputs move neither by anything that counts" if quiet else "no input is idle"
    )
    lead = "Over their ranges" if morris else "Of what varies"
    return f"{lead} {'; '.join(parts)}; {tail}."


def _idle(i: Influence, morris: bool) -> bool:
    return not i.matters or i.total < (_NOTHING if morris else 0.01)


def _figure(i: Influence, morris: bool) -> str:
    return (
        f"{show(i.total, 'share')} ± {show(i.half, 'share').removesuffix(' %')}"
        if morris
        else show(i.total, "share", digits=0)
    )


def notices(found: Screened) -> tuple[Notice, ...]:
    """Say which samples were lost, and where intervals are too wide to rank by."""
    out: list[Notice] = []
    failed = found.table.failed
    if failed:
        first = min(failed)
        out.append(
            Notice(
                text=f"{len(failed)} points could not be driven and took {found.lost} samples with them; "
                f"point {first}: {failed[first]}",
                remedy="narrow the ranges",
            )
        )
    for index in INDICES:
        got = found.found[index]
        first, second = order(got)[:2]
        if got[first].total - got[first].half < got[second].total + got[second].half:
            one, other = (found.ranges[k].adjuster.title for k in (first, second))
            out.append(
                Notice(
                    text=f"What moves {_TITLES[index].lower()} most is not settled: the intervals of {one} and {other} "
                    "overlap",
                    remedy="more samples tell them apart, if it matters",
                )
            )
    return tuple(out)


def tables(found: Screened) -> tuple[Table, ...]:
    """Return who moves the indices, and which inputs move each measure."""
    return _index_table(found), _measure_table(found)


def _index_table(found: Screened) -> Table:
    morris = found.screen.method == "morris"
    by = sorted(range(len(found.ranges)), key=lambda k: -max(found.found[i][k].total for i in INDICES))
    rows: list[tuple[Cell, ...]] = []
    for k in by:
        row: list[Cell] = [found.ranges[k].adjuster.title, found.ranges[k].words()]
        for index in INDICES:
            i = found.found[index][k]
            row += [i.total, i.half, i.alone if not morris else "nothing" if _idle(i, morris) else way(i)]
        rows.append(tuple(row))
    columns: list[Column] = [Column(key="input", title="Input"), Column(key="range", title="Range")]
    for index, title in _TITLES.items():
        columns.append(Column(key=index, title=title, kind="share"))
        columns.append(Column(key=f"{index}_half", title="±", kind="share"))
        last = (
            Column(key=f"{index}_way", title="Way")
            if morris
            else Column(key=f"{index}_alone", title="by itself", kind="share")
        )
        columns.append(last)
    sure = show(found.confidence, "share", digits=0)
    note = (
        f"size of the effect over the range, mean of all trajectories, with its {sure} interval; raises is worse"
        if morris
        else f"share of the variance with all interactions, its {sure} interval, and by itself; shares with "
        "interactions add up to more than 100 %"
    )
    return Table(
        key="indices",
        title="What moves comfort and control",
        columns=tuple(columns),
        rows=tuple(rows),
        note=note,
    )


def _measure_table(found: Screened) -> Table:
    rows: list[tuple[Cell, ...]] = []
    morris = found.screen.method == "morris"
    for name, got in found.found.items():
        if name in INDICES:
            continue
        row: list[Cell] = [m.MEASURES[name].title]
        for k in order(got)[:_NEXT]:
            idle = _idle(got[k], morris)
            title = found.ranges[k].adjuster.title
            row += ["", None, None] if idle else [title, got[k].total, got[k].half]
        rows.append(tuple(row))
    return Table(
        key="measures",
        title="What moves each measure",
        columns=(
            Column(key="measure", title="Measure"),
            *(
                column
                for n, rank in enumerate(("Most", "Then"), start=1)
                for column in (
                    Column(key=f"input_{n}", title=rank),
                    Column(key=f"size_{n}", title="by", kind="share"),
                    Column(key=f"half_{n}", title="±", kind="share"),
                )
            ),
        ),
        rows=tuple(rows),
        note=f"of the measure's {'mean, over the range' if morris else 'variance'}; empty where nothing moves it by "
        "more than its interval",
    )


def pictures(found: Screened) -> tuple[Picture, ...]:
    """Return a tornado for each index."""
    morris = found.screen.method == "morris"
    made: list[Picture] = []
    for index in INDICES:
        got = found.found[index]
        made.append(
            RowChart(
                key=index,
                title=f"What moves {_TITLES[index].lower()}",
                x=Axis(
                    title="effect from the low end of its range to the high end (left is better)"
                    if morris
                    else "share of the variance, interactions included",
                    kind="share",
                ),
                rows=tuple(_bar(found, k, got[k], morris) for k in order(got)),
                bars=True,
            )
        )
    return tuple(made)


def _bar(found: Screened, k: int, i: Influence, morris: bool) -> Row:
    sign = -1.0 if morris and i.alone < 0.0 else 1.0
    idle = _idle(i, morris)
    if idle:
        text = "nothing"
    elif not morris:
        text = show(i.total, "share", digits=0)
    else:
        text = f"{show(sign * i.total, 'share', sign=True)}{' both ways' if way(i) == 'both ways' else ''}"
    at = sign * i.total
    return Row(
        label=found.ranges[k].adjuster.title,
        at=at,
        low=at - i.half,
        high=at + i.half,
        role="plain" if idle else "build",
        text=text,
    )
