"""Paths over the ground: points at even lengths, and where a vehicle is against them."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.motion import road_kernels as rk


@dataclass(frozen=True, kw_only=True)
class Path:
    """A path as points at even lengths along it; it goes on straight at both ends.

    Attributes
    ----------
    spacing : float
        [m].
    x, y : array (n,)
        [m], x forward, y to the left.
    """

    spacing: float
    x: Floats
    y: Floats

    @property
    def length(self) -> float:
        """[m]."""
        return self.spacing * (self.x.size - 1)

    def turned(self, angle: float) -> Path:
        """Return the path turned to the left about the origin by an angle [rad]."""
        c, s = math.cos(angle), math.sin(angle)
        return Path(spacing=self.spacing, x=c * self.x - s * self.y, y=s * self.x + c * self.y)

    def distance_from(self, x: Floats, y: Floats) -> Floats:
        """Return how far points lie to the left of the path (n,) [m]."""
        return self.place_of(x, y)[1]

    def place_of(self, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        """Return length along the path (n,) and distance to its left (n,) of points near each other in order [m].

        The foot is looked for from the one before, as the driver does it, so that a path may cross itself.
        """
        along, left = np.zeros(x.size), np.zeros(x.size)
        if x.size:
            nearest = float(np.argmin((self.x - x[0]) ** 2 + (self.y - y[0]) ** 2)) * self.spacing
            own_x, own_y, at_x, at_y = (np.ascontiguousarray(v) for v in (self.x, self.y, x, y))
            rk.feet(own_x, own_y, self.spacing, nearest, at_x, at_y, along, left)
        return along, left


def straight_path(*, x: float = 0.0, y: float = 0.0) -> Path:
    """Return the path straight ahead from a point [m]."""
    return Path(spacing=1.0, x=np.array([x, x + 1.0]), y=np.array([y, y]))


def circle_path(*, radius: float, straight: float, length: float, left: bool, x: float = 0.0, y: float = 0.0) -> Path:
    """Return a straight, a clothoid over as long as a quarter of the radius, and a circle.

    Parameters
    ----------
    radius, straight, length : float
        Of the circle, before it, and of the whole path [m].
    left : bool
        Which way it turns.
    x, y : float
        Where it starts, heading along x [m].

    Raises
    ------
    DomainError
        For a radius that is not above 0.
    """
    if not radius > 0.0:
        raise DomainError(f"a circle of {radius:g} m; its radius must be above 0")
    spacing = min(0.5, radius / 50.0)
    at = np.arange(0.0, length + spacing, spacing)
    bend = np.clip((at - straight) / (0.25 * radius), 0.0, 1.0) / radius * (1.0 if left else -1.0)
    heading = np.concatenate([[0.0], np.cumsum(0.5 * (bend[1:] + bend[:-1]))]) * spacing
    middle = 0.5 * (heading[1:] + heading[:-1])
    return Path(
        spacing=spacing,
        x=x + np.concatenate([[0.0], np.cumsum(np.cos(middle))]) * spacing,
        y=y + np.concatenate([[0.0], np.cumsum(np.sin(middle))]) * spacing,
    )


def path_through(x: Floats, y: Floats, *, spacing: float = 0.25) -> Path:
    """Return a path over closely given points (n,), respaced to even lengths."""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))])
    even = np.arange(0.0, float(along[-1]), spacing)
    return Path(spacing=spacing, x=np.interp(even, along, x), y=np.interp(even, along, y))
