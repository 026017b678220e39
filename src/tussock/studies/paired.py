"""Paired differences: what is left of a difference when both were driven on the same roads, and whether it is noise."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import stats

from tussock.errors import DomainError


@dataclass(frozen=True, kw_only=True, slots=True)
class Difference:
    """A mean difference with its confidence interval.

    Attributes
    ----------
    mean, low, high : float
        In the unit of the differences.
    spread : float
        Standard deviation of the differences, 0 where all are alike.
    count : int
        Pairs.
    """

    mean: float
    low: float
    high: float
    spread: float
    count: int

    @property
    def told(self) -> bool:
        """Whether nought lies outside the interval: the difference is more than noise."""
        return self.low > 0.0 or self.high < 0.0

    @property
    def half(self) -> float:
        """Half the width of the interval."""
        return 0.5 * (self.high - self.low)

    def pairs_to_tell(self) -> int | None:
        """Return about how many pairs would tell a difference of this size; None where it is all but nothing."""
        if self.mean == 0.0 or self.spread > 20.0 * abs(self.mean):
            return None
        return max(3, math.ceil((2.0 * self.spread / self.mean) ** 2) + 2)


def paired(differences: Sequence[float], *, confidence: float = 0.95) -> Difference:
    """Return the mean of paired differences with its interval by Student's t.

    Parameters
    ----------
    differences : sequence of float
        One for each pair, 2 at least; taken as independent and near enough normal.
    confidence : float
        0.5 to 0.999.

    Raises
    ------
    DomainError
        For fewer than 2 pairs, a number that is not finite, or a confidence that is none.

    Examples
    --------
    >>> paired([1.0, 2.0, 3.0]).told, round(paired([1.0, 2.0, 3.0]).half, 3)
    (False, 2.484)
    """
    d = np.asarray(differences, dtype=np.float64)
    if d.ndim != 1 or d.size < 2:
        raise DomainError(f"{d.size} pairs tell no spread; drive 2 roads at least")
    if not np.all(np.isfinite(d)):
        raise DomainError("a paired difference is not a number")
    if not 0.5 <= confidence <= 0.999:
        raise DomainError(f"a confidence of {confidence:g} is none; 0.5 to 0.999 is right")
    if np.ptp(d) <= 1e-12 * float(np.abs(d).max()):  # roads that do not differ: the difference is what it is
        value = float(d[0])
        return Difference(mean=value, low=value, high=value, spread=0.0, count=int(d.size))
    mean, spread = float(d.mean()), float(d.std(ddof=1))
    half = float(stats.t.ppf(0.5 + 0.5 * confidence, d.size - 1)) * spread / math.sqrt(d.size)
    return Difference(mean=mean, low=mean - half, high=mean + half, spread=spread, count=int(d.size))
