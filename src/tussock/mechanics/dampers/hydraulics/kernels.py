"""Compiled search for the pressures at which a valve set carries given flows; the law is that of `valves`."""

from __future__ import annotations

import math

from tussock.mechanics.arrays import Floats
from tussock.mechanics.compiled import kernel


@kernel
def piece(x: Floats, value: float) -> int:
    """Index of the piece of rising breakpoints `x` that holds `value`; the first and last go on."""
    low, high = 0, x.size - 1
    while high - low > 1:
        middle = (low + high) // 2
        if value >= x[middle]:
            low = middle
        else:
            high = middle
    return low


@kernel
def cubic(x: Floats, c: Floats, value: float) -> float:
    """Value of a piecewise cubic with coefficients `c` (4, n) as SciPy has them."""
    i = piece(x, value)
    s = value - x[i]
    return float(((c[0, i] * s + c[1, i]) * s + c[2, i]) * s + c[3, i])


@kernel
def hole_flow(drop: float, hole: Floats, number: Floats, number_c: Floats) -> float:
    """Flow [m3/s] of an orifice. `hole`: area times coefficient times root of 2/rho (no length), or 0; ...

    ... then, of a short tube, P over the drop and flow over Re d/L. `number`, `number_c`: ln(Re d/L) over ln P.
    """
    if hole[0] > 0.0:
        return float(hole[0] * math.sqrt(drop))
    p = drop * hole[1]
    x = math.log(p) if p > 0.0 else -1e300
    if x < number[0]:
        return float(p / 64.0 * hole[2])
    if x > number[number.size - 1]:
        return float(math.sqrt(p / 1.5) * hole[2])
    return math.exp(cubic(number, number_c, x)) * float(hole[2])


@kernel
def loss(number: float, join: Floats) -> float:
    """1/C_d^2 of a short tube over Re d/L [-]; `join`: ends of the span over which the branches are joined."""
    number = max(number, 1e-30)
    slow = 2.28 + 64.0 / number
    quick = 1.5 + 13.74 / math.sqrt(number)
    w = min(max(math.log(number / join[0]) / math.log(join[1] / join[0]), 0.0), 1.0)
    w = w * w * (3.0 - 2.0 * w)
    return (1.0 - w) * slow + w * quick


@kernel
def total_flow(
    p: float, valve: Floats, lift_x: Floats, lift_c: Floats, notch: Floats, holes: Floats, band: float, number: Floats,
    number_c: Floats, join: Floats,
) -> float:  # fmt: skip
    """Flow of all paths at an effective pressure [Pa].

    `valve` (empty without one): half density, jet share [1/m4], land's linear factor, slow flow's linear factor, edge
    length times coefficient, then of the port: area, 1/C_d^2 (0 for a short tube), Re d/L over flow; whether there is a
    notch. `holes` (n, 3) and `notch` (3) as `hole_flow` takes them; `band`: flow over drop.
    """
    drop, total = p, 0.0
    if valve.size > 0:
        last = lift_x.size - 1
        lift = max(cubic(lift_x, lift_c, min(max(p, lift_x[0]), lift_x[last])), 0.0)
        flow = 0.0
        if lift > 0.0:
            area = valve[4] * lift
            square = valve[0] * (1.0 / (area * area) + valve[1])
            linear = (valve[2] / lift + valve[3]) / (lift * lift)
            flow = 2.0 * p / (linear + math.sqrt(linear * linear + 4.0 * square * p))
        curtain = p - valve[0] * valve[1] * flow * flow
        if valve[8] > 0.0 and curtain > 0.0:
            flow += hole_flow(curtain, notch, number, number_c)
        speed = flow / valve[5]
        resistance = valve[6] if valve[6] > 0.0 else loss(flow * valve[7], join)
        drop = curtain + valve[0] * speed * speed * resistance
        total = flow
    for i in range(holes.shape[0]):
        total += hole_flow(drop, holes[i], number, number_c)
    return float(total + band * drop)


@kernel
def pressures(
    need: Floats, ends: Floats, valve: Floats, lift_x: Floats, lift_c: Floats, notch: Floats, holes: Floats,
    band: float, number: Floats, number_c: Floats, join: Floats, out: Floats,
) -> None:  # fmt: skip
    """Fill `out` with ln of the effective pressures that carry the flows `need`; NaN where none was found.

    `ends`: ln of the least and most pressure. A bracket grows from the answer before, then regula falsi in the manner
    of Illinois with halving wherever that is slow.
    """
    guess = math.log(1e5)
    for n in range(need.size):
        wanted = need[n]
        step = 0.25
        low, high = guess, guess
        f = total_flow(math.exp(guess), valve, lift_x, lift_c, notch, holes, band, number, number_c, join)
        f_low = f_high = (f - wanted) / (f + wanted)
        while f_low > 0.0 and low > ends[0]:
            high, f_high = low, f_low
            low = max(low - step, ends[0])
            step *= 2.0
            f = total_flow(math.exp(low), valve, lift_x, lift_c, notch, holes, band, number, number_c, join)
            f_low = (f - wanted) / (f + wanted)
        while f_high < 0.0 and high < ends[1]:
            low, f_low = high, f_high
            high = min(high + step, ends[1])
            step *= 2.0
            f = total_flow(math.exp(high), valve, lift_x, lift_c, notch, holes, band, number, number_c, join)
            f_high = (f - wanted) / (f + wanted)
        out[n] = math.nan
        if f_low > 0.0:
            out[n] = low  # a hole so wide that no pressure worth a name is needed
        elif f_high >= 0.0:
            side = 0
            for turn in range(300):
                width = high - low
                if f_low == 0.0 or width <= 4e-16 * max(abs(low), 1e-300):
                    out[n] = low
                    break
                if f_high == 0.0:
                    out[n] = high
                    break
                x = (low * f_high - high * f_low) / (f_high - f_low)
                if turn % 6 == 5 or not low < x < high:
                    x = 0.5 * (low + high)
                f = total_flow(math.exp(x), valve, lift_x, lift_c, notch, holes, band, number, number_c, join)
                f = (f - wanted) / (f + wanted)
                if abs(f) <= 1e-11:
                    out[n] = x
                    break
                if f > 0.0:
                    high, f_high = x, f
                    if side == 1:
                        f_low *= 0.5
                    side = 1
                else:
                    low, f_low = x, f
                    if side == -1:
                        f_high *= 0.5
                    side = -1
                if high - low <= 4e-16 * max(abs(low), 1e-300):
                    out[n] = 0.5 * (low + high)
                    break
        if math.isfinite(out[n]):
            guess = out[n]
