"""How a sweep is shown: answer, notices, front and effects as tables and pictures."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from tussock.studies.display import show
from tussock.studies.points import INDICES, OUTSIDE
from tussock.studies.result import (
    Axis,
    Cell,
    Column,
    Line,
    LineChart,
    Mark,
    Notice,
    Picture,
    Row,
    RowChart,
    Table,
)

if TYPE_CHECKING:
    from tussock.studies.sweep import Effect, Swept

_TITLES = {"comfort": "Discomfort", "control": "Loss of control"}
_WORTH = 0.005  # a change of an index below this is nothing on a road
_ROWS = 12  # of the front that are shown
_DOTS = 600  # of the points that are drawn


def balance(found: Swept, i: int) -> float:
    """Return the balance of a point over that of the vehicle as it is [-]; over the reference where that failed."""
    both = found.table.column("comfort") * found.table.column("control")
    base = float(both[0]) if math.isfinite(both[0]) else 1.0
    return math.sqrt(float(both[i]) / base)


def settings(found: Swept, i: int) -> str:
    """Return a point's settings in words, what stays as it is left out."""
    words = [
        f"{r.adjuster.title} {r.adjuster.words(float(v))}"
        for r, v in zip(found.ranges, found.table.values[i], strict=True)
        if v != r.adjuster.neutral
    ]
    return ", ".join(words) or "as it is"


def answer(found: Swept, build: str) -> str:
    """Say in one sentence what is best balanced, what it gains, and which adjuster moves each index most."""
    n, best = len(found.finished), found.best
    gain = 1.0 - balance(found, best)
    if best == 0 or gain < _WORTH:
        text = f"None of {n} points balances comfort and control better than {build} as it is by more than a trifle"
    else:
        moves = []
        for index, better, worse in (
            ("comfort", "more comfortable", "less comfortable"),
            ("control", "better controlled", "worse controlled"),
        ):
            column = found.table.column(index)
            change = float(column[best] / column[0] - 1.0) if math.isfinite(column[0]) else float(column[best] - 1.0)
            moves.append(f"{show(abs(change), 'share')} {better if change < 0.0 else worse}")
        text = (
            f"Of {n} points the best balanced is {' and '.join(moves)} than {build} as it is ({settings(found, best)})"
        )
    most = [_most(found, index) for index in INDICES if found.effects.get(index)]
    if not most:
        return f"{text}; {len(found.front)} points no other beats in both."
    (one, by), (other, also) = most
    if one == other:
        return f"{text}; {one} moves both most: discomfort {by}, loss of control {also} over its range."
    return f"{text}; {one} moves discomfort most ({by} over its range), {other} loss of control ({also})."


def _most(found: Swept, index: str) -> tuple[str, str]:
    """Return the adjuster that moves an index most, and by how much over its range."""
    effects = found.effects[index]
    i = max(range(len(effects)), key=lambda k: abs(effects[k].mean) if math.isfinite(effects[k].mean) else -1.0)
    return found.ranges[i].adjuster.title, show(math.expm1(effects[i].mean), "share", sign=True)


def notices(found: Swept, *, against: str) -> tuple[Notice, ...]:
    """Say what failed, what left its map, and where the best lies at the end of a range."""
    out: list[Notice] = []
    failed = found.table.failed
    if failed:
        first = min(failed)
        out.append(
            Notice(
                text=f"{len(failed)} of {len(found.table.values)} points could not be driven; point {first}: "
                f"{failed[first]}",
                remedy="narrow the ranges, or take what failed as the limit that it is",
            )
        )
    beyond = int(np.sum(found.table.column(OUTSIDE)[list(found.finished)] > 0.0))
    if beyond:
        out.append(
            Notice(
                text=f"At {beyond} points an axle moves beyond its computed map",
                remedy="their figures are extrapolated; look at travel and stops before believing them",
            )
        )
    if found.best != 0:
        ends = [
            r.adjuster.title
            for r, v in zip(found.ranges, found.table.values[found.best], strict=True)
            if min(v - r.low, r.high - v) <= 0.02 * (r.high - r.low)
        ]
        if ends:
            out.append(
                Notice(
                    text=f"The best lies at the end of its range in {', '.join(ends)}",
                    remedy="widen that range: the best may lie beyond",
                )
            )
    control = float(found.table.column("control")[found.best])
    if control > 1.0:
        out.append(
            Notice(
                text=f"Even the best balanced holds the road {show(control - 1.0, 'share')} worse than {against}",
                remedy="firm up, or look at another build; comfort is no excuse for a wheel that leaves the ground",
            )
        )
    return tuple(out)


def tables(found: Swept, build: str, *, against: str) -> tuple[Table, ...]:
    """Return what each adjuster does, the front, and what failed."""
    made = [_effect_table(found)] if found.effects else []
    made.append(_front_table(found, build, against))
    if found.table.failed:
        made.append(_failed_table(found))
    return tuple(made)


def _effect_table(found: Swept) -> Table:
    rows: list[tuple[Cell, ...]] = []
    for i, r in enumerate(found.ranges):
        row: list[Cell] = [r.adjuster.title, r.words()]
        for index in INDICES:
            e = found.effects[index][i]
            row += [math.expm1(v) if math.isfinite(v) else None for v in (e.mean, e.low, e.high)]
        rows.append(tuple(row))
    explained = [
        f"{_TITLES[k].lower()} {show(v, 'share', digits=0)}" for k, v in found.explained.items() if v is not None
    ]
    note = (
        f"a straight line through all points, 95 % interval; it explains of {', of '.join(explained)} of what varies"
        if explained
        else "driven by itself, from the low end of its range to the high end"
    )
    ends = bool(explained)
    size = [_size(found, i) for i in range(len(found.ranges))]
    order = sorted(range(len(rows)), key=lambda i: -size[i])
    columns: list[Column] = [Column(key="adjuster", title="Adjuster"), Column(key="range", title="Range")]
    for index, title in _TITLES.items():
        columns.append(Column(key=index, title=title, kind="share", sign=True))
        columns.append(Column(key=f"{index}_low", title="from", kind="share", sign=True))
        columns.append(Column(key=f"{index}_high", title="to", kind="share", sign=True))
    keep = [0, 1, 2, 3, 4, 5, 6, 7] if ends else [0, 1, 2, 5]
    return Table(
        key="effects",
        title="What each adjuster does from the low end of its range to the high end",
        columns=tuple(columns[k] for k in keep),
        rows=tuple(tuple(rows[i][k] for k in keep) for i in order),
        note=f"below 0 is better; {note}",
    )


def _size(found: Swept, i: int) -> float:
    return max((abs(found.effects[k][i].mean) for k in INDICES if math.isfinite(found.effects[k][i].mean)), default=0.0)


def _front_table(found: Swept, build: str, against: str) -> Table:
    step = max(1, math.ceil(len(found.front) / _ROWS))
    shown = sorted({*found.front[::step], *([found.best] if found.best else [])}, key=found.front.index)
    first = [0] if math.isfinite(found.table.column("comfort")[0]) else []
    points = [*first, *(i for i in shown if i != 0)]
    rows: list[tuple[Cell, ...]] = []
    for i in points:
        values = [
            float(v) - 1.0 if r.adjuster.rule.kind == "ratio" else float(v)
            for r, v in zip(found.ranges, found.table.values[i], strict=True)
        ]
        indices = [float(found.table.column(k)[i]) - 1.0 for k in INDICES]
        rows.append((f"{build} as it is" if i == 0 else str(i), *indices, balance(found, i) - 1.0, *values))
    note = f"discomfort and loss of control against {against}, balance against {build} as it is; below 0 is better"
    if step > 1:
        note += f"; one in {step} of the front's {len(found.front)} points"
    return Table(
        key="front",
        title="Settings that no other point beats in both",
        columns=(
            Column(key="point", title="Point"),
            *(Column(key=k, title=t, kind="share", sign=True) for k, t in _TITLES.items()),
            Column(key="balance", title="Balance", kind="share", sign=True),
            *(
                Column(
                    key=r.key,
                    title=r.adjuster.title.capitalize(),
                    kind="share" if r.adjuster.rule.kind == "ratio" else r.adjuster.rule.kind,
                    digits=0 if r.adjuster.rule.kind == "ratio" else None,
                    sign=True,
                )
                for r in found.ranges
            ),
        ),
        rows=tuple(rows),
        strong=(points.index(found.best),),
        note=note,
    )


def _failed_table(found: Swept) -> Table:
    failed = sorted(found.table.failed.items())
    return Table(
        key="failed",
        title="Points that could not be driven",
        columns=(Column(key="point", title="Point"), Column(key="at", title="At"), Column(key="why", title="Why")),
        rows=tuple((str(i), settings(found, i), why) for i, why in failed[:10]),
        note="" if len(failed) <= 10 else f"the first 10 of {len(failed)}",
    )


def pictures(found: Swept, build: str, *, against: str, one: bool) -> tuple[Picture, ...]:
    """Return comfort against control with the front, and what each adjuster does."""
    made: list[Picture] = [_map(found, build, against)]
    if found.effects:
        made.append(_tornado(found))
    if one:
        made.append(_curves(found, build))
    return tuple(made)


def _map(found: Swept, build: str, against: str) -> LineChart:
    comfort, control = (found.table.column(k) - 1.0 for k in INDICES)
    others = [i for i in found.finished if i not in found.front]
    step = max(1, math.ceil(len(others) / _DOTS))
    drawn = others[::step]
    title = "Left is more comfortable, lower is better held"
    if step > 1:
        title += f"; one in {step} points drawn"
    marks = [Mark(text=f"{build} as it is", x=float(comfort[0]), y=float(control[0]))] if _ok(comfort[0]) else []
    if found.best != 0:
        best = found.best
        marks.append(Mark(text="best balanced", x=float(comfort[best]), y=float(control[best]), role="target"))
    lines = []
    if drawn:
        lines.append(
            Line(
                label="points",
                x=tuple(float(comfort[i]) for i in drawn),
                y=tuple(float(control[i]) for i in drawn),
                role="plain",
                dots=True,
            )
        )
    lines.append(
        Line(
            label="none better in both",
            x=tuple(float(comfort[i]) for i in found.front),
            y=tuple(float(control[i]) for i in found.front),
        )
    )
    return LineChart(
        key="front",
        title=title,
        x=Axis(title=f"discomfort against {against}", kind="share"),
        y=Axis(title=f"loss of control against {against}", kind="share"),
        lines=tuple(lines),
        marks=tuple(marks),
    )


def _ok(value: float) -> bool:
    return math.isfinite(value)


def _tornado(found: Swept) -> RowChart:
    order = sorted(range(len(found.ranges)), key=lambda i: -_size(found, i))
    rows = tuple(
        _bar(_TITLES[index], found.ranges[i].adjuster.title, found.effects[index][i])
        for index in INDICES
        for i in order
        if math.isfinite(found.effects[index][i].mean)
    )
    return RowChart(
        key="effects",
        title="What each adjuster does from the low end of its range to the high end",
        x=Axis(title="change (left is better)", kind="share"),
        rows=rows,
        bars=True,
    )


def _bar(group: str, label: str, e: Effect) -> Row:
    at, low, high = (math.expm1(v) for v in (e.mean, e.low, e.high))
    nothing = low <= 0.0 <= high or abs(at) < _WORTH
    text = "nothing" if nothing else show(at, "share", sign=True)
    return Row(group=group, label=label, at=at, low=low, high=high, role="plain" if nothing else "build", text=text)


def _curves(found: Swept, build: str) -> LineChart:
    """Return the balance over each adjuster's range, driven by itself."""
    lines = []
    for k, r in enumerate(found.ranges):
        others = np.delete(found.table.values, k, axis=1)
        by_itself = np.all(others == others[:1], axis=1)
        alone = [i for i in found.finished if i and by_itself[i]]
        alone.sort(key=lambda i: float(found.table.values[i, k]))
        lines.append(
            Line(
                label=r.adjuster.title,
                x=tuple((float(found.table.values[i, k]) - r.low) / (r.high - r.low) for i in alone),
                y=tuple(balance(found, i) - 1.0 for i in alone),
            )
        )
    return LineChart(
        key="one_at_a_time",
        title=f"Balance of comfort and control, one adjuster at a time: lower is better than {build} as it is",
        x=Axis(title="place in its range, low end to high end", kind="share"),
        y=Axis(title="balance", kind="share"),
        lines=tuple(lines),
    )
