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
    x = np.asarray(history, dtype=np.float64).ravel()
    if x.size == 0 or not np.all(np.isfinite(x)):
        raise DomainError("rain-flow count: the history is empty or holds a value that is not a number")
    # plain turning points first: the loop below then runs over a few values only
    step = np.diff(x)
    x = x[np.concatenate(([True], step != 0.0))]
    if x.size > 2:
        turn = np.diff(x)[:-1] * np.diff(x)[1:] < 0.0
        x = x[np.concatenate(([True], turn, [True]))]
    kept = [float(x[0])]
    rising = 0
    for value in map(float, x[1:]):
        way = 1 if value > kept[-1] else -1
        if way == rising:
            kept[-1] = value
        elif abs(value - kept[-1]) > least_range:
            kept.append(value)
            rising = way
    return np.array(kept)


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
