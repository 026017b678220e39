"""Compiled road: a C2 curve through even points, what four wheels meet along it, and where on a path points lie."""

from __future__ import annotations

import math

from tussock.mechanics.arrays import Floats
from tussock.mechanics.compiled import kernel


@kernel
def slopes(y: Floats, m: Floats, work: Floats) -> None:
    """Fill m (n,) with the slopes, over one spacing, of the cubic spline through y (n,), level at both ends.

    m[i-1] + 4 m[i] + m[i+1] = 3 (y[i+1] - y[i-1]) inside, solved by elimination; work (n,) is scratch.
    """
    n = y.shape[0]
    m[0] = 0.0
    work[0] = 0.0
    for i in range(1, n - 1):
        pivot = 1.0 / (4.0 - work[i - 1])
        work[i] = pivot
        m[i] = (3.0 * (y[i + 1] - y[i - 1]) - m[i - 1]) * pivot
    m[n - 1] = 0.0
    for i in range(n - 2, 0, -1):
        m[i] -= work[i] * m[i + 1]


@kernel
def follow(
    curves: Floats,
    spacing: float,
    wheelbase: float,
    step: float,
    speed: Floats,
    row: Floats,
    inputs: Floats,
) -> None:
    """Fill inputs (n, c): in each row a copy of `row` (c,), then height, rate and slope under the four wheels.

    `curves` (2, 2, m) holds the heights of left and right track and their slopes over one spacing, `speed` (n,) that at
    each half step or (1,) the one held. Beyond both ends the road goes on level.
    """
    n = inputs.shape[0]
    last = curves.shape[2] - 2
    length = spacing * (last + 1)
    held = speed.shape[0] == 1
    gone = 0.0
    for i in range(n):
        pace = speed[0] if held else speed[i]
        front = (i + 0.5) * step * pace if held else gone + 0.5 * step * pace
        gone += step * pace
        for c in range(row.shape[0]):
            inputs[i, c] = row[c]
        for a in range(2):
            at = front - a * wheelbase
            on = min(max(at, 0.0), length)
            place = on / spacing
            cell = min(int(place), last)
            t = place - cell
            graded = 1.0 / spacing if at == on else 0.0
            for side in range(2):
                y0 = curves[side, 0, cell]
                m0 = curves[side, 1, cell]
                m1 = curves[side, 1, cell + 1]
                d = curves[side, 0, cell + 1] - y0
                c2 = 3.0 * d - 2.0 * m0 - m1
                c3 = m0 + m1 - 2.0 * d
                w = 2 * a + side
                gradient = (m0 + t * (2.0 * c2 + t * 3.0 * c3)) * graded
                inputs[i, w] = y0 + t * (m0 + t * (c2 + t * c3))
                inputs[i, 4 + w] = gradient * pace
                inputs[i, 8 + w] = gradient


@kernel
def feet(
    path_x: Floats, path_y: Floats, spacing: float, place: float, x: Floats, y: Floats, along: Floats, left: Floats
) -> None:
    """Fill along (n,) and left (n,) with the length along a path (m,) and the distance to its left of points (n,).

    Each foot is looked for from the one before, the first from `place`. Compiled, because a thread that walks a path in
    plain Python keeps every other one from going on.
    """
    last = path_x.shape[0] - 2
    for n in range(x.shape[0]):
        dx = dy = ax = ay = 0.0
        for _ in range(2):
            i = min(max(math.floor(place / spacing), 0), last)
            t = place / spacing - i
            dx = path_x[i + 1] - path_x[i]
            dy = path_y[i + 1] - path_y[i]
            ax = x[n] - path_x[i] - t * dx
            ay = y[n] - path_y[i] - t * dy
            place += (ax * dx + ay * dy) / spacing
        along[n] = place
        left[n] = (ay * dx - ax * dy) / spacing
