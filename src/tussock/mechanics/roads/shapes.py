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


def gully(distance: Floats, *, length: float, depth: float, entry: float, exit: float) -> Floats:
    """Return a hollow of `depth` with a smooth edge over `entry` at its start and over `exit` at its end [m].

    Raises
    ------
    DomainError
        If the edges do not fit into the length.
    """
    if not (entry > 0.0 and exit > 0.0 and entry + exit <= length * (1.0 + 1e-12)):
        raise DomainError(f"washout: edges of {entry:g} m and {exit:g} m do not fit into {length:g} m")
    share = np.minimum(np.clip(distance / entry, 0.0, 1.0), np.clip((length - distance) / exit, 0.0, 1.0))
    return np.asarray(-depth * share**2 * (3.0 - 2.0 * share))


def incline(distance: Floats, *, height: float, run: float, radius: float) -> Floats:
    """Return a rise to `height` over `run`, straight between vertical curves of `radius`; level before and after [m].

    The curves are parabolas of second derivative 1 / radius, as road design draws them. Height and length give the
    grade g of the straight part from height = g (run - radius g).

    Raises
    ------
    DomainError
        If the curves alone need more than the run.

    Examples
    --------
    >>> float(incline(np.array([2.0]), height=0.5, run=4.0, radius=5.0)[0])
    0.25
    """
    room = run * run - 4.0 * radius * height
    if not room >= -1e-12 * run * run:
        raise DomainError(
            f"ramp: curves of radius {radius:g} m cannot rise {height:g} m in {run:g} m; "
            f"at most {run * run / (4.0 * height):.3g} m fits"
        )
    # the smaller root, written so that it stays exact for small radii
    grade = 2.0 * height / (run + math.sqrt(max(room, 0.0)))
    curve = radius * grade
    x = np.clip(distance, 0.0, run)
    foot, head = np.minimum(x, curve), np.maximum(x - (run - curve), 0.0)
    straight = np.clip(x - curve, 0.0, run - curve)
    return np.asarray(foot * foot / (2.0 * radius) + grade * straight - head * head / (2.0 * radius))


def _between(distance: Floats, length: float, edge: float) -> Floats:
    up = np.clip(distance / edge, 0.0, 1.0)
    down = np.clip((length - distance) / edge, 0.0, 1.0)
    return np.asarray(np.minimum(up, down))
