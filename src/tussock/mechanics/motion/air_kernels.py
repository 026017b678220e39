"""Compiled sum of what the air does to the strips of a body."""

from __future__ import annotations

import math

from tussock.mechanics.arrays import Floats
from tussock.mechanics.compiled import kernel


@kernel
def strip_forces(wind: Floats, speed: Floats, x: Floats, slopes: Floats, wheelbase: float, out: Floats) -> None:
    """Fill out (4, n) with side force, yaw moment, roll moment, forward force about the middle of the wheelbase.

    From the wind across at the strips (n, s), the speed ahead (n,), the strips' places x (s,), and the slopes of side
    force, yaw, roll and drag (4,), each times half the density and the area over the number of strips. With V the
    size of both speeds, V^2 sin beta is V times the wind, V^2 sin beta cos beta the product of both.
    """
    strips = x.shape[0]
    square = 0.0
    for s in range(strips):
        square += x[s] * x[s]
    turn = slopes[1] * wheelbase * strips / square
    for i in range(wind.shape[0]):
        u = speed[i]
        side = 0.0
        yaw = 0.0
        cross = 0.0
        pressure = 0.0
        for s in range(strips):
            w = wind[i, s]
            v2 = u * u + w * w
            pushed = math.sqrt(v2) * w
            force = slopes[0] * pushed + turn * u * w * x[s]
            side += force
            yaw += force * x[s]
            cross += pushed
            pressure += v2
        out[0, i] = side
        out[1, i] = yaw
        out[2, i] = -slopes[2] * wheelbase * cross
        out[3, i] = -slopes[3] * pressure
