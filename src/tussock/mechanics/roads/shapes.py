"""Shapes of obstacles: heights [m] over the distance from the obstacle's start [m], zero outside [0, length].

The published hump profiles are arc, raised cosine ("sinusoidal"), parabola and flat top. The others share one smooth
edge, 3 s^2 - 2 s^3, which starts and ends level.
"""

from __future__ import annotations

import math

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats


def arc(distance: Floats, *, length: float, height: float) -> Floats:
    """Return the heights of a circular arc of chord `length` and rise `height` [m], zero outside.

    Raises
    ------
    DomainError
        If the arc would be more than half a circle, where it is no longer a height over distance.

    Examples
    --------
    >>> float(arc(np.array([0.925]), length=3.7, height=0.1)[0])
    0.0751
    """
    if height > length / 2.0:
        raise DomainError(
            f"hump: an arc {length:g} m long cannot rise {height:g} m; half its length, {length / 2.0:g} m, is the most"
        )
    radius = (length**2 / 4.0 + height**2) / (2.0 * height)
    lever = np.clip(distance, 0.0, length) - length / 2.0
    return np.asarray(np.maximum(np.sqrt(np.maximum(radius**2 - lever**2, 0.0)) - (radius - height), 0.0))


def raised_cosine(distance: Floats, *, length: float, height: float) -> Floats:
    """Return height/2 (1 - cos 2 pi x / length) inside [0, length], zero outside [m]."""
    inside = np.clip(distance, 0.0, length)
    return np.asarray(height / 2.0 * (1.0 - np.cos(2.0 * math.pi * inside / length)))


def parabola(distance: Floats, *, length: float, height: float) -> Floats:
    """Return 4 h x (L - x) / L^2 inside [0, L], zero outside [m]."""
    inside = np.clip(distance, 0.0, length)
    return np.asarray(4.0 * height * inside * (length - inside) / length**2)


def flat_top(distance: Floats, *, length: float, height: float, ramp: float) -> Floats:
    """Return a table: straight ramps of length `ramp` at both ends of `length` [m].

    Raises
    ------
    DomainError
        If the ramps do not fit into the length.
    """
    if not 0.0 < 2.0 * ramp <= length * (1.0 + 1e-12):
        raise DomainError(f"flat top: two ramps of {ramp:g} m do not fit into {length:g} m")
    return np.asarray(height * _between(distance, length, ramp))


def plateau(distance: Floats, *, length: float, height: float, edge: float) -> Floats:
    """Return a flat piece of `height` (negative: a hollow) with smooth edges of length `edge` at both ends [m].

    Raises
    ------
    DomainError
        If the edges do not fit into the length.
    """
    if not 0.0 < 2.0 * edge <= length * (1.0 + 1e-12):
        raise DomainError(f"plateau: two edges of {edge:g} m do not fit into {length:g} m")
    share = _between(distance, length, edge)
    return np.asarray(height * share**2 * (3.0 - 2.0 * share))


def _between(distance: Floats, length: float, edge: float) -> Floats:
    up = np.clip(distance / edge, 0.0, 1.0)
    down = np.clip((length - distance) / edge, 0.0, 1.0)
    return np.asarray(np.minimum(up, down))
