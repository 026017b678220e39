"""Solving for a part: one size that moves hardpoints, and the size at which a measure is as wanted.

Every bracket, bush, drop or link is an `Adjustment`: data that says what a size moves. The three questions asked of one
are the smallest size that brings a measure down to a limit, the size that hits a target, and the size of least measure.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from tussock.errors import SolverError
from tussock.mechanics.arrays import Floats
from tussock.studies.display import show

_LOOKS = 8  # sizes looked at each way before the search closes in


@dataclass(frozen=True, kw_only=True)
class Adjustment:
    """One way in which a part may move an axle's hardpoints.

    Attributes
    ----------
    key, title : str
        What the part is.
    end : str
        "front" or "rear".
    most : float
        Largest size either way, [m] or for a turn [rad].
    step : float
        It is made to multiples of this.
    changes : callable
        From size [m] to moved hardpoints in the stock pose, ``point@body`` [m].
    refit : tuple of str
        Rods whose length is set anew with it.
    more, less : str
        In a sentence, for a positive and a negative size; ``{}`` stands for the size.
    kind : str
        Display kind of the size.
    """

    key: str
    title: str
    end: str
    most: float
    step: float
    changes: Callable[[float], dict[str, Floats]]
    refit: tuple[str, ...] = ()
    more: str
    less: str
    kind: str = "length"

    def part(self, size: float) -> Part:
        """Return the part of a size [m]."""
        words = (self.more if size >= 0.0 else self.less).format(show(abs(size), self.kind))
        return Part(
            key=self.key,
            title=self.title,
            end=self.end,
            changes=self.changes(size),
            size=size,
            words=words,
            refit=self.refit,
        )


@dataclass(frozen=True, kw_only=True)
class Part:
    """A part that mends something: where it moves which hardpoints, and what that gives.

    Attributes
    ----------
    key, title : str
        What it is.
    end : str
        Axle.
    changes : mapping
        Hardpoints in the stock pose, ``point@body`` [m].
    size : float
        Its leading dimension [m].
    words : str
        In a sentence.
    refit : tuple of str
        Rods whose length is set anew with it.
    """

    key: str
    title: str
    end: str
    changes: Mapping[str, Floats]
    size: float
    words: str
    refit: tuple[str, ...] = ()


def smallest(way: Adjustment, over: Callable[[float], float], *, what: str, kind: str) -> Part:
    """Return the smallest part, either way, that brings a measure down to its limit.

    Parameters
    ----------
    way : Adjustment
        The part.
    over : callable
        Measure less its limit at a size; at or below 0 is as wanted.
    what, kind : str
        The measure in words and its display kind, for the message.

    Raises
    ------
    SolverError
        If no size within bounds does it; says the best and what it leaves.
    """
    looked = {0.0: over(0.0)}
    if looked[0.0] <= 0.0:
        return way.part(0.0)
    roots = _first_roots(way, over, looked, lambda inner, size: looked[size] <= 0.0)
    if not roots:
        best, left = _lowest(way, over, looked)
        if left > 0.0:
            raise SolverError(
                f"no {way.title} up to {show(way.most, way.kind)} brings {what} down as far as wanted; "
                f"the best, {show(best, way.kind, sign=True)}, is {show(left, kind)} over"
            )
        roots.append(_root(way, over, {0.0: looked[0.0], best: left}, 0.0, best))
    exact = min(roots, key=abs)
    # made outwards to whole steps, where what is wanted holds
    return way.part(math.copysign(math.ceil(abs(exact) / way.step - 1e-3) * way.step, exact))


def nearest(way: Adjustment, error: Callable[[float], float], *, what: str, kind: str) -> Part:
    """Return the smallest part that hits a target.

    Parameters
    ----------
    way : Adjustment
        The part.
    error : callable
        Measure less target at a size.
    what, kind : str
        The measure in words and its display kind, for the message.

    Raises
    ------
    SolverError
        If the target lies outside what the bounds reach; says how far off the best stays.
    """
    looked = {0.0: error(0.0)}
    roots = _first_roots(way, error, looked, lambda inner, size: _astride(looked[inner], looked[size]))
    if not roots:
        best = min(looked, key=lambda s: abs(looked[s]))
        raise SolverError(
            f"no {way.title} up to {show(way.most, way.kind)} brings {what} to its target; "
            f"the nearest, {show(best, way.kind, sign=True)}, stays {show(abs(looked[best]), kind)} away"
        )
    return way.part(round(min(roots, key=abs) / way.step) * way.step)


def _astride(one: float, other: float) -> bool:
    return min(one, other) <= 0.0 <= max(one, other)  # not their product, which may round to 0 where they have one sign


def _first_roots(
    way: Adjustment,
    value: Callable[[float], float],
    looked: dict[float, float],
    crossed: Callable[[float, float], bool],
) -> list[float]:
    """Look outwards on both sides at once, so that nothing is looked at beyond the nearest root; fills `looked`."""
    roots: list[float] = []
    for i in range(1, _LOOKS + 1):
        for sign in (1.0, -1.0):
            inner, size = sign * way.most * (i - 1) / _LOOKS, sign * way.most * i / _LOOKS
            looked[size] = value(size)
            if crossed(inner, size):
                roots.append(_root(way, value, looked, inner, size))
        if roots:
            break
    return roots


def _whole(way: Adjustment, one: float, other: float) -> list[float]:
    """Return two sizes and every whole step between them, in their order.

    Only whole steps are made, and only they are tried: an axle with such a part is built once for many versions.
    """
    first, last = sorted((one / way.step, other / way.step))
    inside = [n * way.step for n in range(math.floor(first + 1e-6) + 1, math.ceil(last - 1e-6))]
    return [one, *(inside if one <= other else reversed(inside)), other]


def _root(
    way: Adjustment, value: Callable[[float], float], known: Mapping[float, float], one: float, other: float
) -> float:
    """Return where a value is zero between two sizes at which it is known, on a straight line over the last step."""
    sizes = _whole(way, one, other)
    low, high = 0, len(sizes) - 1
    at_low, at_high = known[one], known[other]
    halve = False
    while high - low > 1:
        share = 0.5 if halve or at_high == at_low else at_low / (at_low - at_high)
        middle = min(max(low + round(share * (high - low)), low + 1), high - 1)
        here, wide = value(sizes[middle]), high - low
        if (here <= 0.0) == (at_low <= 0.0):
            low, at_low = middle, here
        else:
            high, at_high = middle, here
        halve = high - low > 0.5 * wide  # a straight line does badly here
    share = at_low / (at_low - at_high) if at_low != at_high else 0.0
    return sizes[low] + min(max(share, 0.0), 1.0) * (sizes[high] - sizes[low])


def least(way: Adjustment, measure: Callable[[float], float]) -> Part:
    """Return the part with the least measure within bounds, in whole steps."""
    looked = {way.most * i / _LOOKS: measure(way.most * i / _LOOKS) for i in range(-_LOOKS, _LOOKS + 1, 2)}
    best, _ = _lowest(way, measure, looked)
    return way.part(round(best / way.step) * way.step)


def _lowest(way: Adjustment, measure: Callable[[float], float], looked: Mapping[float, float]) -> tuple[float, float]:
    """Return size and measure of the lowest point next to the lowest of those looked at, by thirds of whole steps."""
    ends = sorted(looked)
    at = ends.index(min(looked, key=lambda s: looked[s]))
    sizes = _whole(way, ends[max(at - 1, 0)], ends[min(at + 1, len(ends) - 1)])
    known = dict(looked)

    def here(i: int) -> float:
        if sizes[i] not in known:
            known[sizes[i]] = measure(sizes[i])
        return known[sizes[i]]

    low, high = 0, len(sizes) - 1
    while high - low > 2:
        one = low + max(round(0.382 * (high - low)), 1)
        other = min(max(high - max(round(0.382 * (high - low)), 1), one + 1), high - 1)
        low, high = (low, other) if here(one) <= here(other) else (one, high)
    found = {sizes[i]: here(i) for i in range(low, high + 1)} | {ends[at]: looked[ends[at]]}
    best = min(found, key=lambda size: found[size])
    return best, found[best]
