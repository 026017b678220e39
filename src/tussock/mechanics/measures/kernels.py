"""Compiled passes over time histories: one reading of a record where array operations would take a dozen."""

from __future__ import annotations

import math

import numpy as np

from tussock.mechanics.arrays import Complexes, Floats, Ints
from tussock.mechanics.compiled import kernel


@kernel
def unsound(x: Floats) -> int:
    """Return where x (n,) first holds something that is no number or infinite; -1 if it never does."""
    bad = 0
    for i in range(x.shape[0]):
        bad += x[i] - x[i] != 0.0  # a count, so that the loop goes through vectors
    if bad == 0:
        return -1
    for i in range(x.shape[0]):
        if x[i] - x[i] != 0.0:
            return i
    return -1


@kernel
def mean_square(x: Floats) -> float:
    """Return the mean of the squares of x (n,)."""
    total = 0.0
    for i in range(x.shape[0]):
        total += x[i] * x[i]
    return float(total / x.shape[0])


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
def damper(
    v: Floats, f: Floats, most: float, counts: Ints, bands: Ints, edges: Floats
) -> tuple[float, float, float, float, float, float]:
    """Count the samples of a damper in even velocity classes from -most to most and in bands of its speed.

    `counts` (n,) holds everything faster in its ends, `bands` (k, 2) compression and rebound over the speeds `edges`
    (k,) at which the bands begin. Returns the sums of power in compression and in rebound, greatest and least
    velocity, greatest and least force.
    """
    classes = counts.shape[0]
    per = classes / (2.0 * most)
    power_in = 0.0
    power_out = 0.0
    fast = v[0]
    slow = v[0]
    strong = f[0]
    weak = f[0]
    for i in range(v.shape[0]):
        fast = max(fast, v[i])
        slow = min(slow, v[i])
        strong = max(strong, f[i])
        weak = min(weak, f[i])
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
    return power_in, power_out, fast, slow, strong, weak


@kernel
def stop(f: Floats, v: Floats, enter: float, leave: float) -> tuple[int, int, float, float, float]:
    """Return how often a stop is hit, how many samples it is pressed in all, its greatest force, and the sums of force
    times closing speed while it closes and of force.

    A contact begins where the force reaches `enter` and ends where it falls below `leave`.
    """
    count = 0
    inside = 0
    hardest = 0.0
    closing = 0.0
    pressed = 0.0
    touching = False
    for i in range(f.shape[0]):
        hardest = max(hardest, f[i])
        closing += f[i] * max(v[i], 0.0)
        pressed += f[i]
        if touching:
            touching = f[i] >= leave
        elif f[i] >= enter:
            touching = True
            count += 1
        if touching:
            inside += 1
    return count, inside, hardest, closing, pressed


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


@kernel
def widest(v: Floats, roll: Floats, step: float, height: float, width: int) -> float:
    """Return the largest spread, over `width` samples in a row, of the way gone at speed v (n,) plus height times roll
    (n,).

    Two queues hold the samples of the window that may yet be its greatest or its least, so a sample is looked at twice.
    """
    n = v.shape[0]
    path = np.empty(n)
    high = np.empty(n, dtype=np.int64)
    low = np.empty(n, dtype=np.int64)
    gone = 0.0
    for i in range(n):
        gone += v[i]
        path[i] = (gone - 0.5 * v[i]) * step + height * roll[i]
    most = 0.0
    a = 0
    b = 0
    to_a = 0
    to_b = 0
    for i in range(n):
        x = path[i]
        while to_a > a and path[high[to_a - 1]] <= x:
            to_a -= 1
        high[to_a] = i
        to_a += 1
        while to_b > b and path[low[to_b - 1]] >= x:
            to_b -= 1
        low[to_b] = i
        to_b += 1
        if high[a] <= i - width:
            a += 1
        if low[b] <= i - width:
            b += 1
        most = max(most, path[high[a]] - path[low[b]])
    return most


@kernel
def cornering(loads: Floats, peak: float) -> float:
    """Return the mean over time of N / (1 + (N / peak)^2), summed over the wheels of loads (k, n); none off the ground.

    A load that is no number makes the mean none.
    """
    total = 0.0
    for w in range(loads.shape[0]):
        for i in range(loads.shape[1]):
            load = loads[w, i]
            if load < 0.0:
                load = 0.0
            ratio = load / peak
            total += load / (1.0 + ratio * ratio)
    return float(total / loads.shape[1])


@kernel
def turning(angle: Floats, torque: Floats) -> tuple[float, float]:
    """Return how far an angle (n,) turns, to and fro, and the work of a moment (n,) where it turns it."""
    turned = 0.0
    work = 0.0
    for i in range(1, angle.shape[0]):
        by = angle[i] - angle[i - 1]
        turned += abs(by)
        work += max(0.5 * (torque[i] + torque[i - 1]) * by, 0.0)
    return turned, work


@kernel
def turning_rate(angle: Floats, step: float) -> float:
    """Return the mean square rate of an angle (n,): central differences, one-sided ones at both ends."""
    last = angle.shape[0] - 1
    total = (angle[1] - angle[0]) ** 2 + (angle[last] - angle[last - 1]) ** 2
    for i in range(1, last):
        total += (0.5 * (angle[i + 1] - angle[i - 1])) ** 2
    return float(total / (angle.shape[0] * step * step))


@kernel
def powers(spectrum: Complexes, first: Ints, count: int) -> Floats:
    """Return the power of a real signal of `count` samples between lines `first` (m,) of its half spectrum, (m - 1,).

    All lines but that of zero and of half the sampling frequency stand for two.
    """
    out = np.zeros(first.shape[0] - 1)
    last = spectrum.shape[0] - 1 + count % 2
    for j in range(out.shape[0]):
        total = 0.0
        for i in range(first[j], first[j + 1]):
            power = spectrum[i].real ** 2 + spectrum[i].imag ** 2
            total += 2.0 * power if 0 < i < last else power
        out[j] = total
    return out
