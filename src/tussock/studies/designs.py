"""Which points a sweep drives: a Latin hypercube, a grid or one adjuster at a time; and how a range is written.

The first point of every design is the vehicle as it is.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias, get_args

import numpy as np
from scipy.stats import qmc

from tussock.errors import InputError
from tussock.mechanics.arrays import Floats
from tussock.record.units import parse
from tussock.studies.adjusters import Adjuster, adjuster, check_range

Kind: TypeAlias = Literal["latin", "grid", "one"]
MOST_POINTS = 200_000
_DIMENSION = {"ratio": "ratio", "length": "length", "roll_rate": "angular_rate"}
_EXAMPLE = {"ratio": "0.8 to 1.3", "length": "-10 mm to 20 mm", "roll_rate": "0 N m/deg to 300 N m/deg"}


@dataclass(frozen=True, kw_only=True)
class Range:
    """An adjuster and the values between which it is moved, in SI."""

    key: str
    low: float
    high: float

    def __post_init__(self) -> None:
        """Refuse an unknown adjuster and a range that cannot be."""
        check_range(self.key, self.low, self.high)

    @property
    def adjuster(self) -> Adjuster:
        """What is moved."""
        return adjuster(self.key)

    def words(self) -> str:
        """Return the range as people say it."""
        return f"{self.adjuster.words(self.low)} to {self.adjuster.words(self.high)}"


def parse_range(text: str) -> Range:
    """Read ``front_rebound: 0.8 to 1.3`` or ``front_stop_height: -10 mm to 20 mm``.

    Raises
    ------
    InputError
        For a text that is no range, an unknown adjuster, a wrong unit, or a range that does not rise.

    Examples
    --------
    >>> parse_range("front_stop_height: -10 mm to 20 mm").high
    0.02
    """
    name, colon, rest = text.partition(":")
    low, between, high = rest.partition(" to ")
    if not colon or not between:
        raise InputError(f"{text!r} is no range; write for example 'front_rebound: 0.8 to 1.3'")
    this = adjuster(name.strip())
    kind = this.rule.kind
    ends = (parse(part.strip(), _DIMENSION[kind], example=_EXAMPLE[kind]).si for part in (low, high))
    return Range(key=this.key, low=next(ends), high=next(ends))


def check_ranges(ranges: Sequence[Range]) -> None:
    """Refuse no range at all, and two for one adjuster."""
    if not ranges:
        raise InputError("nothing is varied; name an adjuster and its range, such as 'front_rebound: 0.8 to 1.3'")
    keys = [r.key for r in ranges]
    twice = next((k for k in keys if keys.count(k) > 1), None)
    if twice:
        raise InputError(f"{twice} is varied twice; give it one range")


def scaled(unit: Floats, ranges: Sequence[Range]) -> Floats:
    """Return points of the unit cube (n, d) between the ends of the ranges."""
    low, high = np.array([r.low for r in ranges]), np.array([r.high for r in ranges])
    return np.asarray(low + unit * (high - low))


def design(kind: str, ranges: Sequence[Range], *, points: int, levels: int, seed: int) -> Floats:
    """Return the points of a sweep (n, d), the vehicle as it is first.

    Parameters
    ----------
    kind : str
        "latin" for a Latin hypercube of `points`, "grid" for every combination of `levels` values of each adjuster,
        "one" for `levels` values of one adjuster at a time, the others as they are.
    ranges : sequence of Range
        What is moved.
    points, levels : int
        How many, apart from the first.
    seed : int
        Of the hypercube.

    Raises
    ------
    InputError
        For an unknown kind, too few or too many points.
    """
    check_ranges(ranges)
    if kind not in get_args(Kind):
        raise InputError(f"there is no design {kind!r}; the designs are {', '.join(get_args(Kind))}")
    present = np.array([[r.adjuster.neutral for r in ranges]])
    if kind == "latin":
        _check_count("points", points, least=1)
        unit = qmc.LatinHypercube(len(ranges), rng=np.random.default_rng(seed)).random(points)
        return np.concatenate([present, scaled(unit, ranges)])
    _check_count("levels", levels, least=2)
    steps = [np.linspace(r.low, r.high, levels) for r in ranges]
    count = float(levels) ** len(ranges) if kind == "grid" else levels * len(ranges)
    if count > MOST_POINTS:
        raise InputError(f"{levels} levels of {len(ranges)} adjusters are {count:.0f} points; {MOST_POINTS} at most")
    if kind == "grid":
        return np.concatenate([present, np.array(list(itertools.product(*steps)))])
    rows = [present]
    for i, values in enumerate(steps):
        block = np.repeat(present, levels, axis=0)
        block[:, i] = values
        rows.append(block)
    return np.concatenate(rows)


def _check_count(name: str, count: int, *, least: int) -> None:
    if not least <= count <= MOST_POINTS:
        raise InputError(f"{count} {name} make no sweep; {least} to {MOST_POINTS} do")
