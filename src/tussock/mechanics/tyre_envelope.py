"""The room that a tyre takes: a body of revolution with a flat tread and round shoulders, turned by the steering."""

from __future__ import annotations

import numpy as np

from tussock.errors import InputError
from tussock.mechanics.arrays import Floats


def tyre_clearance(
    point: Floats, centre: Floats, axis: Floats, *, radius: float, width: float, shoulder: float
) -> Floats:
    """Distance from points to a tyre's surface; negative inside.

    The section is a rectangle from the axis out to `radius`, `width` wide, its outer corners rounded by `shoulder`. A
    shoulder of half the width makes it a disc with a half-round rim, as a torus seen from outside.

    Parameters
    ----------
    point, centre, axis : array (..., 3)
        The point, the wheel's centre [m] and its axis, of length one; they broadcast.
    radius, width : float
        Outer radius and width over the sidewalls [m].
    shoulder : float
        Radius of the shoulders, at most half the width [m].

    Returns
    -------
    array (...)
        [m].

    Raises
    ------
    InputError
        A size that is not above zero, or a shoulder that does not fit.

    Examples
    --------
    >>> import numpy as np
    >>> above = np.array([0.0, 0.05, 0.5])
    >>> size = {"radius": 0.38, "width": 0.24, "shoulder": 0.04}
    >>> round(float(tyre_clearance(above, np.zeros(3), np.array([0.0, 1.0, 0.0]), **size)), 6)
    0.12
    """
    if min(radius, width) <= 0.0:
        raise InputError(f"a tyre of radius {radius} m and width {width} m: both must be above zero")
    if not 0.0 <= shoulder <= min(0.5 * width, radius):
        raise InputError(f"shoulders of {shoulder} m do not fit a tyre {width} m wide; half of that at most")
    away = point - centre
    along = np.abs(np.sum(away * axis, axis=-1))
    out = np.sqrt(np.maximum(np.sum(away * away, axis=-1) - along**2, 0.0))
    side, rim = along - (0.5 * width - shoulder), out - (radius - shoulder)
    return np.asarray(
        np.hypot(np.maximum(side, 0.0), np.maximum(rim, 0.0)) + np.minimum(np.maximum(side, rim), 0.0) - shoulder
    )


def turned(vector: Floats, about: Floats, angle: float) -> Floats:
    """Return vectors (..., 3) turned about axes of length one (..., 3) by an angle, right-handed [rad]."""
    along = np.sum(vector * about, axis=-1)[..., None] * about
    return np.asarray(np.cos(angle) * vector + np.sin(angle) * np.cross(about, vector) + (1.0 - np.cos(angle)) * along)


def steered(centre: Floats, axis: Floats, lower: Floats, upper: Floats, angle: float) -> tuple[Floats, Floats]:
    """Return a wheel's centre and axis turned about its steering axis.

    Parameters
    ----------
    centre, axis : array (..., 3)
        Of the wheel straight ahead [m].
    lower, upper : array (..., 3)
        Two points of the steering axis [m].
    angle : float
        About it, to the left positive [rad].
    """
    pin = (upper - lower) / np.linalg.norm(upper - lower, axis=-1)[..., None]
    return np.asarray(lower + turned(centre - lower, pin, angle)), turned(axis, pin, angle)
