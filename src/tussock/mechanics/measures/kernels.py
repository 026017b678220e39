"""Compiled passes over time histories: one reading of a record where array operations would take a dozen."""

from __future__ import annotations

import math

from tussock.mechanics.arrays import Floats, Ints
from tussock.mechanics.compiled import kernel


@kernel
def vibration(x: Floats, width: int) -> tuple[float, float, float, float]:
    """Return the sums of squares and of fourth powers of a signal, its largest size, and its largest sum of squares
    over `width` samples in a row; it counts as zero before the record.
    """
    square = 0.0
    fourth = 0.0
    size = 0.0
    window = 0.0
    most = 0.0
    for i in range(x.shape[0]):
        power = x[i] * x[i]
        square += power
        fourth += power * power
        size = max(size, abs(x[i]))
        window += power
        if i >= width:
            window -= x[i - width] * x[i - width]
        most = max(most, window)
    return square, fourth, size, most


@kernel
def damper(v: Floats, f: Floats, most: float, counts: Ints, bands: Ints, edges: Floats) -> tuple[float, float]:
    """Count the samples of a damper in even velocity classes from -most to most and in bands of its speed.

    `counts` (n,) holds everything faster in its ends, `bands` (k, 2) compression and rebound over the speeds `edges`
    (k,) at which the bands begin. Returns the sums of power in compression and in rebound.
    """
    classes = counts.shape[0]
    per = classes / (2.0 * most)
    power_in = 0.0
    power_out = 0.0
    for i in range(v.shape[0]):
        place = int((v[i] + most) * per)
        counts[min(max(place, 0), classes - 1)] += 1
        speed = abs(v[i])
        band = 0
        for b in range(1, edges.shape[0]):
            if speed >= edges[b]:
                band = b
        if v[i] >= 0.0:
            bands[band, 0] += 1
            power_in += v[i] * f[i]
        else:
            bands[band, 1] += 1
            power_out += v[i] * f[i]
    return power_in, power_out


@kernel
def contacts(x: Floats, enter: float, leave: float) -> tuple[int, int, float]:
    """Return how often a contact begins, how many samples it lasts in all, and the largest step up at a beginning.

    It begins where x reaches `enter` and ends where it falls below `leave`.
    """
    count = 0
    inside = 0
    fastest = 0.0
    touching = False
    for i in range(x.shape[0]):
        if touching:
            touching = x[i] >= leave
        elif x[i] >= enter:
            touching = True
            count += 1
            if i > 0:
                fastest = max(fastest, x[i] - x[i - 1])
        if touching:
            inside += 1
    return count, inside, fastest


@kernel
def gaps(load: Floats, static: float) -> tuple[float, float, int, int, int]:
    """Return the sum of a load's squared differences from its static value, the least load, how many samples and how
    often it is 0 or less, and the most such samples in a row.
    """
    square = 0.0
    least = math.inf
    off = 0
    count = 0
    longest = 0
    row = 0
    for i in range(load.shape[0]):
        away = load[i] - static
        square += away * away
        least = min(least, load[i])
        if load[i] <= 0.0:
            off += 1
            row += 1
            if row == 1:
                count += 1
            longest = max(longest, row)
        else:
            row = 0
    return square, least, off, count, longest
