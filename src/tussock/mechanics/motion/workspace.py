"""Memory that one run after another may use."""

from __future__ import annotations

import numpy as np

from tussock.mechanics.arrays import Floats


class Workspace:
    """Memory for inputs, states and logs of runs that follow each other, so that a sweep asks for it once.

    A history made with it holds until the next run that uses it. Two threads need two.
    """

    def __init__(self) -> None:
        self._kept: dict[str, Floats] = {}

    def array(self, name: str, rows: int, columns: int) -> Floats:
        """Return the array of that name with these many rows and columns; it holds anything."""
        size = rows * columns
        kept = self._kept.get(name)
        if kept is None or kept.size < size:
            kept = None
            self._kept.pop(name, None)  # before there is a new one, or both would be held
            kept = self._kept[name] = np.empty(size)
        return kept[:size].reshape(rows, columns)

    @property
    def size(self) -> int:
        """How much it holds [B]."""
        return sum(kept.nbytes for kept in self._kept.values())
