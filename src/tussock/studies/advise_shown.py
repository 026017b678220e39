"""How an advice is shown: answer, doubt per candidate and per attribute, what to change, drivers' agreement."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import ndtr

from tussock.mechanics.tuning import OVERALL, Belief, Point, PreferencePrior
from tussock.studies.advise_ground import Axis, moved
from tussock.studies.display import number, show
from tussock.studies.log_entries import contradictions
from tussock.studies.result import Axis as ChartAxis
from tussock.studies.result import Mark, Notice, Picture, Row, RowChart

if TYPE_CHECKING:
    from tussock.studies.advise import Advised

NINETY = 1.6449
_NAMED = 3
_MOSTLY = 0.5  # less than this share of what is known comes from drives: the simulation's opinion


def marks(found: Advised) -> float:
    """Return how many marks one unit of the model is: what drivers' marks say, else what is taken for them."""
    gains = found.advice.belief.gains
    return float(np.mean(gains)) if gains.size else PreferencePrior().gain


def build_names(found: Advised, point: Point) -> str:
    """Return the builds of the log that stand at a point; "" for none."""
    return " or ".join(b for b, p in found.ground.places.items() if p == point)


def incumbent(found: Advised) -> Point:
    """Return the best build driven, or the one in the middle where nothing was."""
    return found.ground.middle if found.advice.incumbent is None else found.advice.incumbent


def change(axis: Axis, levels: int) -> str:
    """Say by how much an adjuster is changed.

    >>> change(Axis(key="front_bar", kind="bar", low=-4, high=4, limits=""), 2)
    'front anti-roll bar +25 %'
    """
    return f"{axis.title} {show(axis.factor(levels) - 1.0, 'share', digits=0, sign=True)}"


def words(found: Advised, point: Point, base: Point) -> str:
    """Say which build a point is: its name, else what is changed from another one, most first."""
    name = build_names(found, point)
    if name:
        return name
    return change_words(found, point, base)


def change_words(found: Advised, point: Point, base: Point) -> str:
    """Say what is changed from one point to another: what moves most, and how much more there is."""
    changes = moved(found.ground, point, base)
    said = ", ".join(change(a, n) for a, n in changes[:_NAMED])
    more = len(changes) - _NAMED
    return said + (f" and {more} more {'change' if more == 1 else 'changes'}" if more > 0 else "")


def difference(
    found: Advised, point: Point, attribute: int = OVERALL, *, belief: Belief | None = None
) -> tuple[float, float, float, float]:
    """Return by how many marks a point beats the incumbent, both ends of 90 %, and the chance that it does.

    By the advice's belief, unless another is given.
    """
    belief = found.advice.belief if belief is None else belief
    mean, spread = (float(v[0]) for v in belief.difference(np.array([point]), incumbent(found), attribute))
    scale = marks(found)
    chance = float(ndtr(mean / spread)) if spread > 0.0 else 0.5
    return scale * mean, scale * (mean - NINETY * spread), scale * (mean + NINETY * spread), chance


def support(found: Advised, point: Point, attribute: int = OVERALL) -> float:
    """Return which share of what is known of a point against the incumbent comes from drives [0 to 1].

    Knowledge is counted as one over variance, so that what drives add to what the simulation alone says is a share.
    """
    now, before = (
        float(b.difference(np.array([point]), incumbent(found), attribute)[1][0])
        for b in (found.advice.belief, found.alone)
    )
    return share_of_drives(before=before, now=now)


def share_of_drives(*, before: float, now: float) -> float:
    """Return the share of knowledge that drives added, from standard deviations without and with them.

    >>> share_of_drives(before=2.0, now=1.0), share_of_drives(before=1.0, now=1.1)
    (0.75, 0.0)
    """
    return max(0.0, 1.0 - (now / before) ** 2) if before > 0.0 else 0.0


def answer(found: Advised) -> str:
    """Say what to drive next, against what, how sure that is, and why."""
    advice = found.advice
    base = incumbent(found)
    name = middle_name(found)
    what = words(found, advice.next, base)
    why = "; ".join(advice.reasons).replace("%", " %")
    if advice.incumbent is None:
        first = name if advice.next == base else f"{name} first, then against it a build with {what}"
        return f"Not enough evidence: {why}; drive {first}."
    held = name if advice.recommended is None else build_names(found, advice.recommended) or name
    if advice.verdict == "keep":
        return f"Keep {held}: {why}."
    if advice.verdict == "confirm":
        return f"Drive {held} once more before it is kept: {why}."
    if advice.next == base:
        step = f"drive {name} once more"
    else:
        new = what if build_names(found, advice.next) else f"{name} with {what}"
        figures = _figures(found)
        step = f"drive {new}, against {name} next: {figures}"
        if advice.reference is not None and advice.reference != base and build_names(found, advice.reference):
            last = build_names(found, advice.reference)
            step = f"drive {new} next, judged against {last}, driven last; against {name} it is {figures}"
    if advice.verdict == "not enough evidence":
        return (
            f"Not enough evidence to call any build better than {held} ({why}); to learn most, {step}{_until(found)}."
        )
    return f"{step[:1].upper()}{step[1:]}; {_where_from(found)}{_until(found)}."


def _until(found: Advised) -> str:
    """Say which build to hand over meanwhile, where that is not the one that leads."""
    recommended = found.advice.recommended
    if recommended is None or recommended == found.advice.incumbent:
        return ""
    return f"; until then hand over {build_names(found, recommended)}, which nothing surely beats"


def middle_name(found: Advised) -> str:
    """Return what the incumbent is called."""
    return build_names(found, incumbent(found)) or found.ground.setup.build


def _where_from(found: Advised) -> str:
    """Say in which respects the next build is expected to gain most, and in which to lose."""
    parts = [
        (float(share) * difference(found, found.advice.next, j)[0], r.title)
        for j, (share, r) in enumerate(zip(found.advice.belief.shares, found.simulated.respects, strict=True))
    ]
    best = sorted(parts, reverse=True)[:2]
    worst = min(parts)
    text = f"most of it in {' and '.join(title for gain, title in best if gain > 0.0)}"
    if worst[0] < -0.1 * abs(best[0][0]):
        text += f", at some cost in {worst[1]}"
    return text


def chance_words(chance: float) -> str:
    """Write a chance; none is certain.

    >>> chance_words(0.831), chance_words(0.9991), chance_words(0.002)
    ('83 %', 'over 99 %', 'under 1 %')
    """
    if chance > 0.99:
        return f"over {show(0.99, 'share', digits=0)}"
    if chance < 0.01:
        return f"under {show(0.01, 'share', digits=0)}"
    return show(chance, "share", digits=0)


def _figures(found: Advised) -> str:
    """Say how much better the next build is expected to be, how sure that is, and whose word it is."""
    mean, low, high, chance = difference(found, found.advice.next)
    share = support(found, found.advice.next)
    opinion = "by the simulation's opinion " if share < _MOSTLY else ""
    return (
        f"{opinion}better with {chance_words(chance)}, by {_mark(mean)} marks ({_mark(low)} to {_mark(high)}); "
        f"{share_words(share)}"
    )


def share_words(share: float) -> str:
    """Say how much of what is known drives have supported.

    >>> share_words(0.184)
    '18 % of that is known from drives, the rest from the simulation'
    >>> share_words(0.0)
    'all of that from the simulation, nothing from drives yet'
    """
    if share < 0.005:
        return "all of that from the simulation, nothing from drives yet"
    return f"{show(share, 'share', digits=0)} of that is known from drives, the rest from the simulation"


def _mark(value: float) -> str:
    return number(value, "ratio", digits=1, sign=True)


def values(found: Advised) -> Mapping[str, float | str | bool]:
    """Return the figures of the answer."""
    advice, base = found.advice, incumbent(found)
    mean, low, high, chance = difference(found, advice.next)
    levels = found.ground.factors(np.array([advice.next]))[0]
    return {
        "verdict": advice.verdict,
        "incumbent": build_names(found, base),
        "hand_over": "" if advice.recommended is None else build_names(found, advice.recommended),
        "next_build": build_names(found, advice.next),
        "gain_marks": mean,
        "gain_low_marks": low,
        "gain_high_marks": high,
        "chance_share": chance,
        "support_share": support(found, advice.next),
        **{f"next_{a.key}_ratio": float(v) for a, v in zip(found.ground.axes, levels, strict=True)},
    }


def notices(found: Advised) -> tuple[Notice, ...]:
    """Say what stands in the way of a better advice."""
    out: list[Notice] = []
    failed = len(found.table.failed)
    if failed:
        first = found.table.failed[min(found.table.failed)]
        out.append(
            Notice(
                text=f"{failed} of {len(found.table.values)} settings could not be driven; the first: {first}",
                remedy="nothing, unless they are many: the others tell of the neighbourhood",
            )
        )
    if found.heard.verdicts and found.advice.next != incumbent(found):
        alone, share = difference(found, found.advice.next, belief=found.alone), support(found, found.advice.next)
        if share < _MOSTLY:
            out.append(
                Notice(
                    text=f"{show(share, 'share', digits=0)} of what is known of it comes from drives; without any the "
                    f"simulation would say {_mark(alone[0])} marks ({_mark(alone[1])} to {_mark(alone[2])})",
                    remedy="take it as the simulation's opinion, and drive it before parts are ordered in numbers",
                )
            )
    torn = contradictions(found.job)
    if torn:
        often = "once" if len(torn) == 1 else f"{len(torn)} times"
        out.append(
            Notice(
                text=f"drives disagree {often} which of two builds is better; both count, and the doubt grows",
                remedy="drive such a pair once more, each build first once (table of the log: where drives disagree)",
            )
        )
    if found.alike:
        out.append(
            Notice(
                text=f"{', '.join(found.alike)} differ by less than half a step: their verdicts tell nothing apart",
                remedy="move an adjuster by a step or more between two builds",
            )
        )
    for limit in found.simulated.dropped:
        out.append(
            Notice(
                text=f"the simulation does not say which settings it {limit}",
                remedy="look at travel and stops of the build itself before it is driven",
            )
        )
    checked = found.checked.get(found.advice.next)
    if checked is not None and checked.failed:
        out.append(
            Notice(text=f"the build advised cannot be driven: {checked.failed}", remedy="do not build it; name another")
        )
    return tuple(out)


def pictures(found: Advised) -> tuple[Picture, ...]:
    """Return the doubt of each candidate and, of the next build, in each respect."""
    base = incumbent(found)
    name = middle_name(found)
    axis = ChartAxis(title=f"marks better than {name}, 1 to 10 scale", kind="ratio")
    shown = [_row(label, difference(found, point), found, point) for label, point in candidates(found) if point != base]
    each = [("Whole", "overall, whole loop", OVERALL)]
    each += [("In each respect", r.title, j) for j, r in enumerate(found.simulated.respects)]
    of_next = [
        _row(title, difference(found, found.advice.next, j), found, None, group=group) for group, title, j in each
    ]
    out = [
        RowChart(
            key="candidates",
            title=f"Builds against {name}: what drivers are expected to say",
            x=axis,
            rows=tuple(shown),
            zero_label=name,
            alike=True,
            note="A line holds the difference in 90 of 100, a stroke what is expected.",
        )
    ]
    if found.advice.next != base:
        out.append(
            RowChart(
                key="respects",
                title="The next build in each respect",
                x=axis,
                rows=tuple(of_next),
                zero_label=name,
                alike=True,
                note="Faint: cannot be told from no difference.",
            )
        )
    return tuple(p for p in out if p.rows)


def _row(
    label: str, told: tuple[float, float, float, float], found: Advised, point: Point | None, *, group: str = ""
) -> Row:
    mean, low, high, chance = told
    plain = low < 0.0 < high
    return Row(
        label=label,
        group=group,
        at=mean,
        low=low,
        high=high,
        role="governs" if point is not None and point == found.advice.next else "plain" if plain else "build",
        text=f"better with {chance_words(chance)}"
        + ("" if point is None else f", {show(support(found, point), 'share', digits=0)} of it from drives"),
        marks=(Mark(text="|", x=mean),),
    )


def candidates(found: Advised) -> tuple[tuple[str, Point], ...]:
    """Return the next build, the best believed, and those driven, named."""
    advice = found.advice
    named: dict[Point, str] = {}
    for b, p in found.ground.places.items():
        if p in found.drives.builds:
            named[p] = f"{named[p]} or {b}" if p in named else b
    out = {p: name for p, name in named.items()}
    titles = [(advice.optimum, "best build believed"), (advice.next, "drive next")]
    if advice.recommended is not None:
        titles.insert(0, (advice.recommended, "to hand over now"))
    for point, title in titles:
        out[point] = f"{out[point]}, {title}" if point in out else title
    return tuple((name, p) for p, name in sorted(out.items(), key=lambda pair: -difference(found, pair[0])[0]))
