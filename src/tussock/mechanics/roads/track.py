"""Two wheel tracks: heights over distance, left and right."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats


@dataclass(frozen=True, kw_only=True)
class Track:
    """Heights of the left and right wheel track at even spacing.

    Attributes
    ----------
    spacing : float
        Distance between points [m].
    left, right : array (n,)
        Heights above a level datum [m].
    seed : int or None
        Seed of the random part, if there is one.
    """

    spacing: float
    left: Floats
    right: Floats
    seed: int | None = None

    def __post_init__(self) -> None:
        """Refuse a road that is too short or holds a hole in its numbers."""
        if not self.spacing > 0.0:
            raise DomainError(f"road: point spacing is {self.spacing:g} m; it must be positive")
        if self.left.shape != self.right.shape or self.left.ndim != 1:
            raise DomainError("road: both tracks need the same number of points")
        if self.length < 1.0:
            raise DomainError(f"road: {self.length:.2f} m is too short; at least 1 m is needed")
        for side, heights in (("left", self.left), ("right", self.right)):
            bad = np.flatnonzero(~np.isfinite(heights))
            if bad.size:
                raise DomainError(f"road: the {side} track has no number at {bad[0] * self.spacing:.2f} m")

    @property
    def length(self) -> float:
        """Distance covered [m]."""
        return self.spacing * (self.left.size - 1)

    @property
    def distance(self) -> Floats:
        """Distance of each point from the start [m]."""
        return np.arange(self.left.size, dtype=np.float64) * np.float64(self.spacing)

    def mirrored(self) -> Track:
        """Return the track with left and right swapped."""
        return Track(spacing=self.spacing, left=self.right, right=self.left, seed=self.seed)

    def scaled(self, factor: float) -> Track:
        """Return the track with all heights multiplied."""
        return Track(spacing=self.spacing, left=self.left * factor, right=self.right * factor, seed=self.seed)
