"""Compiled way from a few lifts of a disc stack to the drop over its valve set, for many stacks and flows at once.

The law is that of `hydraulics.valves`: everything is written over the effective pressure on the discs, in which lift,
flow and drop rise together. What needs a root of its own there (short tubes, bleed, band, notch) comes in as tables
over evenly spaced logarithms.
"""

from __future__ import annotations

import math

import numpy as np

from tussock.mechanics.arrays import Floats
from tussock.mechanics.compiled import kernel


@kernel
def table_at(x: float, first: float, step: float, table: Floats) -> float:
    """Value of a table over an even grid of logarithms at e^x's logarithm `x`; its end slopes go on beyond it."""
    place = (x - first) / step
    i = math.floor(place)
    i = min(max(i, 0), table.size - 2)
    return float(table[i] + (place - i) * (table[i + 1] - table[i]))


@kernel
def lift_like(p: float, pressure: Floats, scale: Floats, opening: float, top: float, shape: Floats) -> float:
    """Lift at `p` of a stack that opens like the present one at p over a factor: `scale` (P) at `pressure` (P).

    `shape` is the present stack's lift over an even grid of the square root of the pressure from `opening` to `top`;
    its last slope goes on beyond it. The factor is straight in the logarithm of the pressure, constant at the ends.
    """
    factor = scale[0]
    last = pressure.size - 1
    if p >= pressure[last]:
        factor = scale[last]
    else:
        for i in range(last):
            if pressure[i] < p <= pressure[i + 1]:
                share = math.log(p / pressure[i]) / math.log(pressure[i + 1] / pressure[i])
                factor = scale[i] + share * (scale[i + 1] - scale[i])
                break
    q = p / factor
    if q <= opening:
        return 0.0
    place = math.sqrt((q - opening) / (top - opening)) * (shape.size - 1)
    i = min(int(place), shape.size - 2)
    if place <= shape.size - 1:
        return float(shape[i] + (place - i) * (shape[i + 1] - shape[i]))
    # straight in the pressure beyond the end
    end = (shape.size - 2) / (shape.size - 1)
    run = (top - opening) * (1.0 - end * end)
    return float(shape[i + 1] + (q - top) * (shape[i + 1] - shape[i]) / run)


@kernel
def drop_and_flow(
    p: float, lift: float, figures: Floats, first: float, step: float, port: Floats, notch: Floats, bypass: Floats,
    out: Floats,
) -> None:  # fmt: skip
    """Fill `out` with the drop over the set and its flow at effective pressure `p` [Pa] and lift [m].

    `figures`: density, viscosity, curtain discharge, flowing circumference [m], jet share [1/m4], land [m], flowing
    circumference of the land's middle [m], whether there is a notch, whether there is a bypass, slow flow's drop times
    lift squared over flow [Pa s/m]. The tables hold ln of the port's drop over ln flow, and of notch and bypass flow
    over ln drop, all from `first` in steps of `step`.
    """
    half = 0.5 * figures[0]
    flow = 0.0
    if lift > 0.0:
        area = figures[2] * figures[3] * lift
        square = half * (1.0 / (area * area) + figures[4])
        linear = figures[9] / (lift * lift)
        if figures[5] > 0.0:
            linear += 12.0 * figures[1] * figures[5] / (figures[6] * lift * lift * lift)
        if linear > 0.0:
            flow = 2.0 * p / (linear + math.sqrt(linear * linear + 4.0 * square * p))
        else:
            flow = math.sqrt(p / square)
    curtain = p - half * figures[4] * flow * flow
    if figures[7] > 0.0 and curtain > 0.0:
        flow += math.exp(table_at(math.log(curtain), first, step, notch))
    drop = curtain
    if flow > 0.0:
        drop += math.exp(table_at(math.log(flow), first, step, port))
    if figures[8] > 0.0:
        flow += math.exp(table_at(math.log(drop), first, step, bypass))
    out[0], out[1] = drop, flow


@kernel
def drops(
    pressure: Floats, scale: Floats, opening: float, top: float, shape: Floats, flows: Floats, figures: Floats,
    first: float, step: float, port: Floats, notch: Floats, bypass: Floats, limits: Floats, out: Floats,
) -> None:  # fmt: skip
    """Fill `out` (N, V) with the drops [Pa] at which N sets carry V flows [m3/s].

    `scale` (N, P), `pressure`, `opening`, `top` and `shape` describe the lifts (see `lift_like`); `limits`: least and
    most effective pressure. Halving of the logarithm until a straight line is of use, then the Illinois rule.
    """
    both = np.zeros(2)
    for n in range(scale.shape[0]):
        for v in range(flows.size):
            need = flows[v]
            low, high = math.log(limits[0]), math.log(limits[1])
            f_low, f_high = -1.0, 1.0
            side = 0
            x = math.log(pressure[pressure.size // 2])
            for turn in range(80):
                p = math.exp(x)
                drop_and_flow(p, lift_like(p, pressure, scale[n], opening, top, shape), figures, first, step, port,
                              notch, bypass, both)  # fmt: skip
                f = (both[1] - need) / (both[1] + need)
                if abs(f) < 1e-8 or high - low < 1e-12:
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
                if high - low > 4.0 or turn % 8 == 7:
                    x = 0.5 * (low + high)
                else:
                    x = (low * f_high - high * f_low) / (f_high - f_low)
            out[n, v] = both[0]
