"""Cycles of a load history by the rain-flow count.

References
----------
.. [1] ASTM E1049-85, Standard practices for cycle counting in fatigue analysis, 5.4.4 (the steps from memory).
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.compiled import kernel


@dataclass(frozen=True, kw_only=True, slots=True)
class Cycle:
    """A counted cycle: its least and greatest value, and 1 for a whole or 0.5 for a half cycle."""

    low: float
    high: float
    count: float

    @property
    def range(self) -> float:
        """Greatest less least."""
        return self.high - self.low


def reversals(history: Floats, *, least_range: float = 0.0) -> Floats:
    """Return the peaks and valleys of a history, first and last value included.

    Parameters
    ----------
    history : array (n,)
        Any quantity.
    least_range : float
        Swings not above this are passed over, as a hysteresis filter does.

    Returns
    -------
    array (m,)
        In the history's order and unit.

    Raises
    ------
    DomainError
        A history that is empty or holds something that is not a number.
    """
    x = np.ascontiguousarray(history, dtype=np.float64).ravel()
    if x.size == 0 or not np.all(np.isfinite(x)):
        raise DomainError("rain-flow count: the history is empty or holds a value that is not a number")
    kept = np.empty(x.size)
    return kept[: _turns(x, least_range, kept)].copy()


@kernel
def _turns(x: Floats, least_range: float, kept: Floats) -> int:
    """Fill the front of kept (n,) with the turning points of x (n,) and return how many there are."""
    kept[0] = x[0]
    last = 0
    rising = 0
    for i in range(1, x.shape[0]):
        value = x[i]
        way = 1 if value > kept[last] else -1
        if way == rising:
            kept[last] = value
        elif abs(value - kept[last]) > least_range:
            last += 1
            kept[last] = value
            rising = way
    return last + 1


def rainflow(history: Floats, *, least_range: float = 0.0) -> tuple[Cycle, ...]:
    """Count the cycles of a history.

    Parameters
    ----------
    history : array (n,)
        Values in time order, or their peaks and valleys.
    least_range : float
        Swings not above this are left out.

    Examples
    --------
    The standard's own example (from memory).

    >>> cycles = rainflow(np.array([-2.0, 1.0, -3.0, 5.0, -1.0, 3.0, -4.0, 4.0, -2.0]))
    >>> sorted((c.range, c.count) for c in cycles)
    [(3.0, 0.5), (4.0, 0.5), (4.0, 1.0), (6.0, 0.5), (8.0, 0.5), (8.0, 0.5), (9.0, 0.5)]
    """
    cycles: list[Cycle] = []
    stack: list[float] = []
    for point in map(float, reversals(history, least_range=least_range)):
        stack.append(point)
        while len(stack) >= 3 and abs(stack[-1] - stack[-2]) >= abs(stack[-2] - stack[-3]):
            first, second = stack[-3], stack[-2]
            whole = len(stack) > 3
            cycles.append(_cycle(first, second, 1.0 if whole else 0.5))
            if whole:
                del stack[-3:-1]
            else:
                del stack[0]
    cycles.extend(_cycle(a, b, 0.5) for a, b in itertools.pairwise(stack))
    return tuple(cycles)


def _cycle(a: float, b: float, count: float) -> Cycle:
    return Cycle(low=min(a, b), high=max(a, b), count=count)
