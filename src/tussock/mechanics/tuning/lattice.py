"""The builds that could be driven: adjusters in steps, and the rules that a safe build keeps."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats, Ints

_ROUNDS = 200

Point = tuple[int, ...]
"""A build: the level of each adjuster, 0 the softest [steps]."""


@dataclass(frozen=True, kw_only=True)
class NotBelow:
    """A safe build's adjuster stands at least as high as another less some steps.

    Rebound not weaker than compression minus n; springs within n are two of these.
    """

    adjuster: int
    other: int
    slack: int


@dataclass(frozen=True, kw_only=True)
class Lattice:
    """Adjusters with their levels, and the rules of safe builds. A rule is a limit, never a penalty.

    Attributes
    ----------
    counts : tuple of int
        Levels of each adjuster, at least 2.
    rules : tuple of NotBelow
        What every safe build keeps.
    reach : int or None
        Most steps of any adjuster from some build that was driven; None for any.
    allows : callable or None
        A further limit: takes builds (n, adjusters) and returns which keep it (n,), such as what the simulation says of
        travel and control.
    """

    counts: tuple[int, ...]
    rules: tuple[NotBelow, ...] = ()
    reach: int | None = 3
    allows: Callable[[Ints], np.ndarray] | None = None

    def __post_init__(self) -> None:
        """Refuse adjusters without levels and rules about none."""
        if not self.counts or min(self.counts) < 2:
            raise DomainError(f"levels {self.counts}: every adjuster has at least 2")
        for rule in self.rules:
            if not {rule.adjuster, rule.other} <= set(range(len(self.counts))):
                raise DomainError(f"{rule}: there are {len(self.counts)} adjusters")

    def safe(self, points: Ints) -> np.ndarray:
        """Return which builds (n, adjusters) are on the lattice and keep its rules."""
        x = np.atleast_2d(points)
        good = np.all((x >= 0) & (x < np.array(self.counts)), axis=1)
        for rule in self.rules:
            good &= x[:, rule.adjuster] >= x[:, rule.other] - rule.slack
        if self.allows is not None and np.any(good):
            good[good] = self.allows(x[good])
        return np.asarray(good)

    def reached(self, points: Ints, driven: Ints) -> np.ndarray:
        """Return which builds (n, adjusters) stand within reach of some driven build (m, adjusters)."""
        x = np.atleast_2d(points)
        if self.reach is None or len(driven) == 0:
            return np.ones(len(x), dtype=bool)
        good = np.zeros(len(x), dtype=bool)
        for build in np.atleast_2d(driven):
            good |= np.max(np.abs(x - build), axis=1) <= self.reach
        return good

    def scaled(self, points: Ints) -> Floats:
        """Return levels from -1 (softest) to 1 (firmest) (n, adjusters)."""
        return np.asarray(2.0 * np.atleast_2d(points) / (np.array(self.counts) - 1.0) - 1.0)

    def random(self, random: np.random.Generator, count: int) -> Ints:
        """Return safe builds drawn alike (count, adjusters).

        Raises
        ------
        DomainError
            The rules leave too few builds to draw.
        """
        found: list[Ints] = []
        had = 0
        for _ in range(_ROUNDS):
            tried = random.integers(0, self.counts, size=(3 * count, len(self.counts)))
            found.append(tried[self.safe(tried)])
            had += len(found[-1])
            if had >= count:
                return np.concatenate(found)[:count]
        raise DomainError(f"only {had} of {_ROUNDS * 3 * count} random builds keep the rules")

    def mutations(self, random: np.random.Generator, point: Point, count: int) -> Ints:
        """Return safe builds that differ from one in 1 to 4 adjusters by 1 or 2 steps (up to count, adjusters)."""
        n = len(self.counts)
        moves = random.integers(1, 3, size=(count, n)) * random.choice((-1, 1), size=(count, n))
        order = np.argsort(random.random((count, n)), axis=1)
        moves[order >= random.integers(1, min(4, n) + 1, size=(count, 1))] = 0
        tried = np.array(point) + moves
        return np.asarray(tried[self.safe(tried)])

    def neighbours(self, point: Point) -> Ints:
        """Return the safe builds that differ by any change of one adjuster, or one step of two (n, adjusters)."""
        at, rows = np.array(point), []
        for i, count in enumerate(self.counts):
            rows += [_moved(at, {i: level - point[i]}) for level in range(count) if level != point[i]]
        for (i, j), (a, b) in itertools.product(
            itertools.combinations(range(len(self.counts)), 2), itertools.product((-1, 1), repeat=2)
        ):
            rows.append(_moved(at, {i: a, j: b}))
        tried = np.array(rows)
        return np.asarray(tried[self.safe(tried)])


def _moved(at: Ints, by: dict[int, int]) -> Ints:
    row = at.copy()
    for place, steps in by.items():
        row[place] += steps
    return row


def point_of(row: Ints | Sequence[int]) -> Point:
    """Return a row of levels as a build."""
    return tuple(int(v) for v in row)
