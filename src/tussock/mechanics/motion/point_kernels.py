"""Compiled motion of a point of the body."""

from __future__ import annotations

from tussock.mechanics.arrays import Floats
from tussock.mechanics.compiled import kernel


@kernel
def point_acceleration(centre: Floats, turning: Floats, rate: Floats, lever: Floats, out: Floats) -> None:
    """Fill out (3, n) with the acceleration of a body-fixed point, a + alpha x r + w x (w x r).

    From the acceleration of the centre (3, n), the angular acceleration (3, n), the angular velocity (3, n) and the
    lever (3,) to the point, all in body axes.
    """
    x = lever[0]
    y = lever[1]
    z = lever[2]
    for i in range(out.shape[1]):
        p = rate[0, i]
        q = rate[1, i]
        r = rate[2, i]
        along = x * p + y * q + z * r
        square = p * p + q * q + r * r
        out[0, i] = centre[0, i] + turning[1, i] * z - turning[2, i] * y + along * p - square * x
        out[1, i] = centre[1, i] + turning[2, i] * x - turning[0, i] * z + along * q - square * y
        out[2, i] = centre[2, i] + turning[0, i] * y - turning[1, i] * x + along * r - square * z
