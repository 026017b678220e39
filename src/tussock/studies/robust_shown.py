"""How a robust choice is shown: answer, spread by cause, the worst vehicle, the front, and what gives way to what."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tussock.studies.display import show
from tussock.studies.job import STOCK
from tussock.studies.loop import LoopIndex
from tussock.studies.points import INDICES
from tussock.studies.result import Axis, Cell, Column, Line, LineChart, Mark, Notice, Picture, Row, RowChart, Table
from tussock.studies.robust_draw import Driven, chance

if TYPE_CHECKING:
    from tussock.studies.robust_draw import Production
    from tussock.studies.sweep import Swept

STEP = 0.10  # by which an adjuster is firmed to say what gives way to what
_TITLES = {"comfort": "Discomfort", "control": "Loss of control"}
_ENDS = (0.05, 0.95)
_SPREAD_COLUMNS = (
    Column(key="low", title="5 of 100", kind="share", sign=True),
    Column(key="median", title="Half", kind="share", sign=True),
    Column(key="high", title="95 of 100", kind="share", sign=True),
    Column(key="better", title="Better than stock", kind="share", digits=0),
    Column(key="least", title="at least", kind="share", digits=0),
    Column(key="most", title="at most", kind="share", digits=0),
)
_WORTH = 0.005  # a gain below this is nothing on a road


@dataclass(frozen=True, kw_only=True, eq=False)
class Shown:
    """All that is shown.

    Attributes
    ----------
    made : Production
    every : Driven
        Drawn over all causes.
    by_cause : mapping
        Vehicles off by one cause alone; "fitouts": as on the drawing in each fit-out.
    worst : int
        Of `every`, the one that holds the road worst.
    blame : mapping
        What each of its causes does to control by itself, logarithm.
    swept : Swept
        Settings of the adjusters; the first is the build as it is.
    builds : mapping
        Indices of the programme's builds, stock among them.
    """

    made: Production
    every: Driven
    by_cause: Mapping[str, Driven]
    worst: int
    blame: Mapping[str, float]
    swept: Swept
    builds: Mapping[str, LoopIndex]

    @property
    def build(self) -> str:
        """The chosen build."""
        return self.made.setup.build

    def titles(self) -> Mapping[str, str]:
        """Return what each cause is called."""
        return {**{c.key: c.title for c in self.made.own}, "fitouts": "fit-outs"}


@dataclass(frozen=True, kw_only=True)
class Trade:
    """What `STEP` more of an adjuster does to an index, as shares with the interval of the fit."""

    title: str
    comfort: tuple[float, float, float]
    control: tuple[float, float, float]

    def words(self) -> str:
        """Say what it costs and what it buys; nothing is said of what cannot be told from none."""
        return f"{show(STEP, 'share', digits=0)} more {self.title} {_gives(self)}"

    @property
    def swaps(self) -> bool:
        """Whether one index gives way to the other, both told from none."""
        return _told(self.comfort) and _told(self.control) and self.comfort[0] * self.control[0] < 0.0


def _told(effect: tuple[float, float, float]) -> bool:
    return effect[1] > 0.0 or effect[2] < 0.0


def _gives(trade: Trade) -> str:
    both = (("comfort", trade.comfort), ("control", trade.control))
    said = []
    for verb, sign in (("costs", 1.0), ("buys", -1.0)):
        what = [f"{show(abs(e[0]), 'share')} {name}" for name, e in both if _told(e) and sign * e[0] > 0.0]
        said += [f"{verb} {' and '.join(what)}"] if what else []
    return " and ".join(said) or "does nothing that can be told"


def trades(swept: Swept) -> tuple[Trade, ...]:
    """Return what each adjuster's `STEP` does, those first that buy most control for their comfort or cost it."""
    out = []
    for i, r in enumerate(swept.ranges):
        share = STEP / (r.high - r.low)
        both = []
        for index in INDICES:
            e = swept.effects[index][i]
            both.append((math.expm1(share * e.mean), math.expm1(share * e.low), math.expm1(share * e.high)))
        out.append(Trade(title=r.adjuster.title, comfort=both[0], control=both[1]))
    return tuple(sorted(out, key=lambda t: (not t.swaps, t.control[0])))


def best_gain(swept: Swept) -> tuple[int, float] | None:
    """Return the setting that holds the road best at no less comfort than the build's, and its gain; None if none."""
    comfort, control = (swept.table.column(index) for index in INDICES)
    if not math.isfinite(comfort[0]):
        return None
    near = [i for i in swept.finished if comfort[i] <= comfort[0] and control[i] < control[0]]
    if not near:
        return None
    best = min(near, key=lambda i: float(control[i]))
    return best, 1.0 - float(control[best] / control[0])


def sentence(every: Driven, made: Production) -> str:
    """Say in how many vehicles the build stays better than stock, and how far control spreads."""
    held, of = every.better("control")
    soft, _ = every.better("comfort")
    low, high = np.quantile(every.index("control"), _ENDS)
    return (
        f"Of {of} vehicles on {made.setup.build}, drawn over {made.over}, {held} hold the road "
        f"better than stock and {soft} ride more comfortably; loss of control spreads from "
        f"{show(low - 1.0, 'share', digits=0, sign=True)} to {show(high - 1.0, 'share', digits=0, sign=True)}"
    )


def few_words(every: Driven, made: Production) -> str:
    """Say the same in few words, with what so few vehicles leave open."""
    held, of = every.better("control")
    least, _ = chance(held, of)
    return (
        f"In {held} of {of} vehicles drawn over {made.over} it stays better "
        f"controlled than stock ({show(least, 'share', digits=0)} of all at least)."
    )


def drawn_table(every: Driven, made: Production) -> Table:
    """Return the spread over all causes alone."""
    rows: list[tuple[Cell, ...]] = []
    for index in INDICES:
        low, middle, high = _spread(every, index)
        rows.append((_TITLES[index], low, middle, high, *chance_cells(every, index)))
    return Table(
        key="drawn",
        title=f"{made.setup.build} over {made.over}, against stock",
        columns=(Column(key="index", title="Index"), *_SPREAD_COLUMNS),
        rows=tuple(rows),
        note=f"{len(every.fitouts)} vehicles; 95 % intervals of Clopper and Pearson; tussock robust says what "
        "comes from where",
    )


def widest(shown: Shown, index: str) -> tuple[str, float]:
    """Return the cause that spreads an index most by itself, and from end to end how far."""

    def width(key: str) -> float:
        values = shown.by_cause[key].index(index)
        return float(np.ptp(values)) if values.size else 0.0

    key = max(shown.by_cause, key=width)
    return shown.titles()[key], width(key)


def answer(shown: Shown) -> str:
    """Say how robust the build is, what spreads it most, and which trade its front offers."""
    title, width = widest(shown, "control")
    text = f"{sentence(shown.every, shown.made)}, most by {title} ({show(width, 'share', digits=0)} in all)"
    gain = best_gain(shown.swept)
    if gain is not None and gain[1] > _WORTH:
        text += f"; other settings of it hold the road {show(gain[1], 'share')} better at no less comfort"
    swaps = [t for t in trades(shown.swept) if t.swaps]
    return f"{text}; {swaps[0].words()}." if swaps else f"{text}; no adjuster buys one for the other."


def notices(shown: Shown) -> tuple[Notice, ...]:
    """Say what failed, what a few vehicles leave open, and what is left out."""
    out: list[Notice] = []
    if shown.every.failed:
        out.append(
            Notice(
                text=f"{len(shown.every.failed)} of {len(shown.every.fitouts)} vehicles could not be driven: "
                f"{shown.every.failed[0]}",
                remedy="look at that vehicle before the build is released",
            )
        )
    held, of = shown.every.better("control")
    if held < of:
        blamed = shown.titles()[max(shown.blame, key=lambda k: shown.blame[k])]
        out.append(
            Notice(
                text=f"{of - held} of {of} vehicles hold the road worse than stock; the worst by "
                f"{show(float(shown.every.control[shown.worst]) - 1.0, 'share')}, most of it from {blamed}",
                remedy="firm up, narrow what scatters, or set another pressure for that fit-out",
            )
        )
    if all(c.key != "oil" for c in shown.made.own):
        out.append(
            Notice(
                text="No damper's valves are known, so cold and hot oil are left out",
                remedy="write body and valves of the dampers",
            )
        )
    return tuple(out)


def pictures(shown: Shown) -> tuple[Picture, ...]:
    """Return the spread by cause, and the front with every build on it."""
    return (_spread_picture(shown), _front_picture(shown))


def _spread(values: Driven, index: str) -> tuple[float, float, float]:
    low, middle, high = np.quantile(values.index(index), (_ENDS[0], 0.5, _ENDS[1])) - 1.0
    return float(low), float(middle), float(high)


def _spread_picture(shown: Shown) -> RowChart:
    rows: list[Row] = []
    for index in reversed(INDICES):
        for key, title in (*shown.titles().items(), ("all", "all together")):
            driven = shown.every if key == "all" else shown.by_cause[key]
            if not driven.index(index).size:
                continue
            low, middle, high = _spread(driven, index)
            rows.append(
                Row(
                    label=title,
                    group=_TITLES[index],
                    at=middle,
                    low=low,
                    high=high,
                    role="governs" if key == "all" else "build",
                    text=f"{show(low, 'share', sign=True)} to {show(high, 'share', sign=True)}",
                )
            )
    return RowChart(
        key="spread",
        title=f"{shown.build}: how far it spreads, by what it comes from",
        x=Axis(title="over stock in the same fit-out; left is better", kind="share"),
        rows=tuple(rows),
        zero_label="stock",
        note="Point: half of the vehicles are better. Line: 90 of 100. A cause by itself is driven in "
        f"{shown.made.setup.fitout}, all else as on the drawing.",
    )


def _front_picture(shown: Shown) -> LineChart:
    comfort, control = (shown.swept.table.column(index) for index in INDICES)
    done = list(shown.swept.finished)
    on = list(shown.swept.front)
    lines = [
        Line(
            label="settings of the adjusters",
            x=tuple(float(comfort[i]) for i in done if i not in on),
            y=tuple(float(control[i]) for i in done if i not in on),
            role="stock",
            dots=True,
        ),
        Line(
            label="none better in both",
            x=tuple(float(comfort[i]) for i in on),
            y=tuple(float(control[i]) for i in on),
            role="target",
        ),
    ]
    marks = tuple(
        Mark(text=build, x=i.comfort, y=i.control, role="governs" if build == shown.build else "plain")
        for build, i in shown.builds.items()
    )
    return LineChart(
        key="front",
        title=f"What {shown.build} could be set to in {shown.made.setup.fitout}: left is more comfortable, lower holds "
        "better",
        x=Axis(title="discomfort over stock", kind="ratio"),
        y=Axis(title="loss of control over stock", kind="ratio"),
        lines=tuple(line for line in lines if line.x),
        marks=marks,
    )


def tables(shown: Shown) -> tuple[Table, ...]:
    """Return spread, chance, the worst vehicle, the trades, and where the builds lie."""
    return (_spread_table(shown), _worst_table(shown), _trade_table(shown), _build_table(shown))


def chance_cells(every: Driven, index: str) -> tuple[float, float, float]:
    """Return the share of vehicles better than stock with its 95 % interval."""
    good, of = every.better(index)
    return (good / of, *chance(good, of))


def _spread_table(shown: Shown) -> Table:
    rows: list[tuple[Cell, ...]] = []
    for key, title in (("all", "all together"), *shown.titles().items()):
        driven = shown.every if key == "all" else shown.by_cause[key]
        for index in INDICES:
            if not driven.index(index).size:
                continue
            low, middle, high = _spread(driven, index)
            share, least, most = chance_cells(driven, index) if key == "all" else (None, None, None)
            rows.append((title, _TITLES[index], driven.index(index).size, low, middle, high, share, least, most))
    return Table(
        key="spread",
        title="Spread over stock, by cause",
        columns=(
            Column(key="cause", title="Cause"),
            Column(key="index", title="Index"),
            Column(key="vehicles", title="Vehicles", kind="count"),
            *_SPREAD_COLUMNS,
        ),
        rows=tuple(rows),
        strong=(0, 1),
        note="below nought is better than stock; at least and at most: 95 % interval of Clopper and Pearson; a cause "
        f"by itself is driven in {shown.made.setup.fitout}",
    )


def _worst_table(shown: Shown) -> Table:
    every = shown.every
    order = sorted(np.flatnonzero(np.isfinite(every.control)), key=lambda i: -float(every.control[i]))[:3]
    rows: list[tuple[Cell, ...]] = []
    for n, i in enumerate(order):
        blame = ""
        if n == 0:
            key = max(shown.blame, key=lambda k: shown.blame[k])
            blame = f"{shown.titles()[key]} {show(math.expm1(shown.blame[key]), 'share', sign=True)}"
        rows.append(
            (
                shown.made.words(every.fitouts[i], every.places[i]),
                float(every.comfort[i]) - 1.0,
                float(every.control[i]) - 1.0,
                blame,
            )
        )
    return Table(
        key="worst",
        title="The vehicles that hold the road worst",
        columns=(
            Column(key="vehicle", title="Vehicle"),
            Column(key="comfort", title="Discomfort", kind="share", sign=True),
            Column(key="control", title="Loss of control", kind="share", sign=True),
            Column(key="blame", title="Most of it from"),
        ),
        rows=tuple(rows),
        strong=(0,),
        note="over stock in the same fit-out; most of it from: what that cause does to control by itself",
    )


def _trade_table(shown: Shown) -> Table:
    found = trades(shown.swept)
    return Table(
        key="trades",
        title=f"What gives way to what, {show(STEP, 'share', digits=0)} more of one adjuster",
        columns=(
            Column(key="adjuster", title="Adjuster"),
            Column(key="comfort", title="Discomfort", kind="share", sign=True),
            Column(key="comfort_low", title="from", kind="share", sign=True),
            Column(key="comfort_high", title="to", kind="share", sign=True),
            Column(key="control", title="Loss of control", kind="share", sign=True),
            Column(key="control_low", title="from", kind="share", sign=True),
            Column(key="control_high", title="to", kind="share", sign=True),
            Column(key="words", title="In words"),
        ),
        rows=tuple((t.title, *t.comfort, *t.control, _gives(t)) for t in found),
        strong=(0,) if found[0].swaps else (),
        note=f"straight line through {len(shown.swept.finished)} settings, 95 % intervals; 10 % less does the opposite",
    )


def _build_table(shown: Shown) -> Table:
    comfort, control = (shown.swept.table.column(index) for index in INDICES)
    rows: list[tuple[Cell, ...]] = []
    for build, i in shown.builds.items():
        beaten = sum(1 for k in shown.swept.finished if comfort[k] < i.comfort and control[k] < i.control)
        rows.append(
            (
                build,
                i.comfort,
                i.control,
                "on it" if not beaten else f"{beaten} setting{'' if beaten == 1 else 's'} better in both",
            )
        )
    return Table(
        key="front_builds",
        title="Builds against the front",
        columns=(
            Column(key="build", title="Build"),
            Column(key="comfort", title="Discomfort", kind="ratio", digits=3),
            Column(key="control", title="Loss of control", kind="ratio", digits=3),
            Column(key="front", title="Front"),
        ),
        rows=tuple(rows),
        strong=(list(shown.builds).index(shown.build),),
        note=f"against {STOCK}; the front is of {shown.build}'s own parts in {shown.made.setup.fitout}",
    )
