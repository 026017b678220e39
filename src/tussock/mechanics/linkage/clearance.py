"""Distances between round parts: rods, tubes, stops as capsules (a segment with a radius)."""

from __future__ import annotations

import numpy as np

from tussock.errors import InputError
from tussock.mechanics.arrays import Floats


def clearance(
    a_start: Floats, a_end: Floats, b_start: Floats, b_end: Floats, *, a_radius: float = 0.0, b_radius: float = 0.0
) -> Floats:
    """Gap between two capsules; negative where they overlap.

    Parameters
    ----------
    a_start, a_end, b_start, b_end : array (..., 3)
        Ends of the two segments [m]; arrays of poses broadcast. A point is a segment of no length.
    a_radius, b_radius : float, optional
        Radii [m].

    Returns
    -------
    array (...)
        Shortest distance between the surfaces [m].

    Raises
    ------
    InputError
        A radius below zero, or points that are not triples.

    Examples
    --------
    >>> import numpy as np
    >>> rod = np.array([0.0, -0.5, 0.4]), np.array([0.0, 0.5, 0.4])
    >>> float(clearance(*rod, np.array([0.1, 0.0, 0.4]), np.array([0.3, 0.0, 0.4]), a_radius=0.015))
    0.085
    """
    if a_radius < 0.0 or b_radius < 0.0:
        raise InputError(f"radii of {a_radius} m and {b_radius} m: a radius cannot be below zero")
    points = [np.asarray(p, dtype=np.float64) for p in (a_start, a_end, b_start, b_end)]
    if any(p.shape[-1:] != (3,) for p in points):
        raise InputError(f"points need three coordinates; found shapes {', '.join(str(p.shape) for p in points)}")
    p, p_end, r, r_end = np.broadcast_arrays(*points)
    u, v, w = p_end - p, r_end - r, p - r

    def dot(x: Floats, y: Floats) -> Floats:
        return np.asarray(np.einsum("...i,...i->...", x, y))

    def share(numerator: Floats, denominator: Floats) -> Floats:
        return np.clip(
            np.divide(numerator, denominator, out=np.zeros_like(numerator), where=denominator > 1e-24), 0.0, 1.0
        )

    uu, vv, uv, uw, vw = dot(u, u), dot(v, v), dot(u, v), dot(u, w), dot(v, w)
    # the nearest points lie inside both, or at an end of one: the inner pair and the four ends, the least counts
    inner = uu * vv - uv * uv
    s = share(uv * vw - vv * uw, np.where(inner > 1e-12 * uu * vv, inner, 0.0))
    best = np.full(s.shape, np.inf)
    ones = np.ones_like(s)
    for s_try in (s, 0.0 * ones, ones):
        t_try = share(s_try * uv + vw, vv)
        gap = w + s_try[..., None] * u - t_try[..., None] * v
        best = np.minimum(best, dot(gap, gap))
    for t_try in (0.0 * ones, ones):
        s_try = share(t_try * uv - uw, uu)
        gap = w + s_try[..., None] * u - t_try[..., None] * v
        best = np.minimum(best, dot(gap, gap))
    return np.asarray(np.sqrt(best) - a_radius - b_radius)
