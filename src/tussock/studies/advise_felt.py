"""What closed windows say to the adviser: between which levels drivers have felt both too little and too much."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from tussock.mechanics.arrays import Ints
from tussock.mechanics.tuning import Lattice
from tussock.studies import windows
from tussock.studies.advise_ground import FINE, Ground
from tussock.studies.display import number
from tussock.studies.job import Job


@dataclass(frozen=True, kw_only=True)
class Felt:
    """A closed window of one adjuster.

    Attributes
    ----------
    low, high : int
        Levels below and above the build in the middle, which stays inside.
    words : str
    """

    low: int
    high: int
    words: str


def felt(job: Job, ground: Ground) -> Mapping[str, Felt]:
    """Return the closed windows of the adjusters that may be changed, by their keys."""
    keys = {key.replace("tyre_pressure", "tyres"): key for key in ground.keys}
    found: dict[str, Felt] = {}
    for one in windows.windows(job, ground.setup).found:
        if one.dial.key in keys and one.state == "closed":
            ends = one.window.bracket()
            least, most = levels_within(*ends, at=one.at)
            low, high = (number(e, "ratio", digits=1, sign=True) for e in ends)
            found[keys[one.dial.key]] = Felt(
                low=least, high=most, words=f"its window is closed, {low} to {high} steps from stock"
            )
    return found


def levels_within(low: float, high: float, *, at: float) -> tuple[int, int]:
    """Return the levels that keep a bracket [steps], counted from a build that stands at `at` and always keeps it.

    >>> levels_within(-1.0, 0.7, at=0.0), levels_within(1.2, 2.0, at=0.0)
    ((-2, 1), (0, 4))
    """
    return min(math.ceil((low - at) / FINE - 1e-9), 0), max(math.floor((high - at) / FINE + 1e-9), 0)


def within(lattice: Lattice, ground: Ground, told: Mapping[str, Felt]) -> Lattice:
    """Return the lattice on which proposed builds keep closed windows too."""
    if not told:
        return lattice
    rows = [(i, told[a.key].low - a.low, told[a.key].high - a.low) for i, a in enumerate(ground.axes) if a.key in told]
    return Lattice(counts=lattice.counts, rules=lattice.rules, reach=lattice.reach, allows=_Both(lattice, tuple(rows)))


class _Both:
    """What the lattice allowed before, and the levels of closed windows."""

    def __init__(self, lattice: Lattice, rows: tuple[tuple[int, int, int], ...]) -> None:
        self._before = lattice.allows
        self._at, self._low, self._high = (np.array(column) for column in zip(*rows, strict=True))

    def __call__(self, points: Ints) -> np.ndarray:
        x = np.atleast_2d(points)[:, self._at]
        good = np.all((x >= self._low) & (x <= self._high), axis=1)
        if self._before is not None and np.any(good):
            good[good] = self._before(np.atleast_2d(points)[good])
        return np.asarray(good)
