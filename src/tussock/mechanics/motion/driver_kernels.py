"""Compiled optimum of a driver's preview."""

from __future__ import annotations

import numpy as np

from tussock.mechanics.arrays import Floats, Ints
from tussock.mechanics.compiled import kernel


@kernel
def preview_gains(once: Floats, looks: Ints, late: int, trim: float) -> Floats:
    """Return the wish over what a driver knows, see `driver.Driver.gains`.

    From the transition over one wish of place, lateral speed, heading, yaw rate, steer and a held wish `once` (6, 6),
    the number of wishes to each look ahead `looks` (p,), rising, how many wishes are on their way, and the trim [1/s].
    """
    points = looks.shape[0]
    steps = looks[points - 1]
    # place after n wishes from every state now, and from a wish that acts in one of them
    free = np.zeros((points, 5))
    pulse = np.zeros(steps + 1)
    held = np.zeros(steps + 1)  # of a wish that acts from now on
    row = np.zeros(5)
    after = np.zeros(5)
    row[0] = 1.0
    look = 0
    for n in range(1, steps + 1):
        for j in range(5):
            pulse[n] += row[j] * once[j, 5]
            after[j] = 0.0
            for i in range(5):
                after[j] += row[i] * once[i, j]
        held[n] = held[n - 1] + pulse[n]
        for j in range(5):
            row[j] = after[j]
        while look < points and looks[look] == n:
            for j in range(5):
                free[look, j] = row[j]
            look += 1
    gains = np.zeros(points + 4 + late)
    size = 0.0
    for p in range(points):
        gains[p] = held[max(looks[p] - late, 0)]
        size += gains[p] * gains[p]
    whole = 0.0
    for p in range(points):
        gains[p] /= size
        whole += gains[p]
    for p in range(points):
        gains[points] -= gains[p] * free[p, 1]
        gains[points + 1] -= gains[p] * free[p, 3]
        gains[points + 2] -= gains[p] * free[p, 4]
        for k in range(late):
            gains[points + 4 + k] -= gains[p] * pulse[max(looks[p] - k, 0)]
    gains[points + 3] = trim * whole
    return gains
