"""Everything that can end an axle's travel, as margins over its heave: positive is free, zero is the stop.

A margin may be in any unit (length, angle, force): only where it crosses zero matters. Each limiter is evaluated
over the axle's heave and roll, or along its heave at one roll, on both sides, and the worse side counts.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from tussock.mechanics.arrays import Floats
from tussock.mechanics.axle_map import AxleMap, Side
from tussock.mechanics.linkage.clearance import clearance
from tussock.mechanics.springs import BumpStop


@dataclass(frozen=True)
class AxlePath:
    """An axle over its heave and roll, or along its heave at one roll: where any of its points goes.

    Attributes
    ----------
    axle : AxleMap
        On the grid that is followed.
    column : int, optional
        Index of the roll in it; every roll unless given. What follows has the shape (nh, nr, ...) over the whole
        grid and (nh, ...) at one roll.
    """

    axle: AxleMap
    column: int | None = None

    @property
    def heave(self) -> Floats:
        """Heave of each station [m]."""
        return self.axle.heave

    def pick(self, values: Floats) -> Floats:
        """Return of values over the grid (nh, nr, ...) those that are followed."""
        return values if self.column is None else values[:, self.column]

    def place(self, point: Floats, body: str | None = None) -> Floats:
        """Return where a point that goes with the wheels, given as in the stock pose, goes (..., 3) [m].

        A point left of the middle goes with the left wheel, another with the right one; `body` is the body that it
        sits on, the axle or the upright unless given.
        """
        return self.pick(self.axle.place(point, _side(point), body))

    def turn(self, direction: Floats, at: Floats) -> Floats:
        """Return where a direction fixed in what carries the point `at` points (..., 3)."""
        return self.pick(self.axle.turn(direction, _side(at)))


def _side(point: Floats) -> Side:
    return "left" if point[1] >= 0.0 else "right"


def mirrored(point: Floats) -> Floats:
    """Return the same point on the other side."""
    return np.asarray(point * np.array([1.0, -1.0, 1.0]))


def _both(point: tuple[float, float, float]) -> tuple[Floats, Floats]:
    left = np.asarray(point, dtype=np.float64)
    return left, mirrored(left)


def line_margin(
    path: AxlePath,
    *,
    chassis: tuple[float, float, float],
    axle: tuple[float, float, float],
    usable: float,
    body: str | None = None,
) -> Floats:
    """Return the length left in a hose, cable or strap [m]; a line off the centre plane stands on both sides."""
    worst = np.array(np.inf)
    sides = (
        zip(_both(chassis), _both(axle), strict=True)
        if abs(chassis[1]) > 0.25
        else [(np.array(chassis), np.array(axle))]
    )
    for fixed, moving in sides:
        reach = np.linalg.norm(path.place(moving, body) - fixed, axis=-1)
        worst = np.minimum(worst, usable - reach)
    return worst


def rod_end_margin(path: AxlePath, *, ends: tuple[tuple[Floats, Floats], ...], limit: float) -> Floats:
    """Return the angle left at the ends of a rod, from where it stands at kerb, seen from chassis and axle [rad]."""
    worst = np.array(np.inf)
    for fixed, moving in ends:
        now = path.place(moving) - fixed
        now /= np.linalg.norm(now, axis=-1)[..., None]
        stood = (moving - fixed) / np.linalg.norm(moving - fixed)
        at_chassis = np.arccos(np.clip(now @ stood, -1.0, 1.0))
        at_axle = np.arccos(np.clip(np.sum(now * path.turn(stood, moving), axis=-1), -1.0, 1.0))
        worst = np.minimum(worst, limit - np.maximum(at_chassis, at_axle))
    return worst


def universal_joint_angle(path: AxlePath, *, output: Floats, flange: Floats, pinion_axis: float) -> Floats:
    """Return the angle between the propshaft and the pinion at the axle [rad].

    Parameters
    ----------
    output, flange : array (3,)
        Middle of the joint at the gearbox (chassis) and at the axle, in the stock pose [m].
    pinion_axis : float
        Inclination of the pinion in side view in the stock pose [rad], nose up positive.
    """
    shaft = path.place(flange) - output
    shaft /= np.linalg.norm(shaft, axis=-1)[..., None]
    forward = 1.0 if output[0] > flange[0] else -1.0
    nose = path.turn(np.array([forward * np.cos(pinion_axis), 0.0, np.sin(pinion_axis)]), flange)
    return np.asarray(np.arccos(np.clip(-np.sum(shaft * nose, axis=-1), -1.0, 1.0)))


def rod_clearance_margin(
    path: AxlePath, *, fixed: Floats, moving: Floats, radius: float, points: tuple[Floats, ...], least: float
) -> Floats:
    """Return the clearance left between a rod and points of the chassis, joined by straight lines [m]."""
    end = path.place(moving)
    joined = list(itertools.pairwise(points)) or [(points[0], points[0])]
    return np.asarray(np.min([clearance(fixed, end, a, b, a_radius=radius) - least for a, b in joined], axis=0))


def tyre_margin(
    path: AxlePath, *, point: tuple[float, float, float], wheel: tuple[float, float, float], radius: float, least: float
) -> Floats:
    """Return the clearance left between the tyre's tread and a point of the body on either side [m]."""
    worst = np.array(np.inf)
    for body, centre in zip(_both(point), _both(wheel), strict=True):
        offset = path.place(centre) - body
        worst = np.minimum(worst, np.hypot(offset[..., 0], offset[..., 2]) - radius - least)
    return worst


def spring_margins(path: AxlePath, *, shortest: float | None, free_length: float, packer: float) -> dict[str, Floats]:
    """Return the margins of the spring: loose in its seats, and coils closing at its shortest length, if known [m]."""
    length = path.pick(path.axle.spring) - packer
    margins = {"spring loose": free_length - np.max(length, axis=-1)}
    if shortest is not None:
        margins["coil bind"] = np.min(length, axis=-1) - shortest
    return margins


def damper_margins(path: AxlePath, *, open_length: float, closed_length: float) -> dict[str, Floats]:
    """Return the margins of the damper: fully open and fully closed [m]."""
    length = path.pick(path.axle.damper)
    return {
        "damper open": open_length - np.max(length, axis=-1),
        "damper closed": np.min(length, axis=-1) - closed_length,
    }


def stop_margin(
    path: AxlePath,
    stop: BumpStop,
    *,
    spring: Callable[[Floats], Floats],
    static_load: float,
    load_factor: float,
    beside: Callable[[Floats], Floats] | None = None,
) -> Floats:
    """Return the load left before spring and bump stop carry `load_factor` times the static corner load [N].

    What stands beside the stop (an air bag) carries its part over the same length.
    """
    worst = np.array(np.inf)
    for side in (0, 1):
        carried = spring(path.pick(path.axle.spring)[..., side])
        gap = path.pick(path.axle.stop)[..., side]
        pressed = stop.forces(np.minimum(stop.height - gap, stop.limit))
        helped = beside(gap) if beside is not None else 0.0
        worst = np.minimum(worst, load_factor * static_load - carried - pressed - helped)
    return worst


@dataclass(frozen=True, kw_only=True, slots=True)
class Stop:
    """Where one limiter ends the travel.

    Attributes
    ----------
    name : str
        Of the limiter.
    where : str
        "droop" or "bump".
    heave : float
        Heave of the axle at which the margin is used up [m].
    """

    name: str
    where: str
    heave: float


def stops(margins: Mapping[str, Floats], heave: Floats, *, start: float) -> tuple[Stop, ...]:
    """Return where each margin first runs out going down and going up from `start` [m], the nearest first.

    A limiter that is used up at the start already is reported at the start, in the direction in which it gets worse.
    """
    if not margins:
        return ()
    # all in one: between nodes a curve only rises or falls, so that its ends say whether it crosses zero
    every: Any = PchipInterpolator(heave, np.array(list(margins.values())), axis=1)
    at = int(np.clip(np.searchsorted(heave, start, side="right") - 1, 0, heave.size - 2))
    here, slope = every(start), every(start, 1)
    found: list[Stop] = []
    for i, (name, margin) in enumerate(margins.items()):
        if here[i] <= 0.0:
            found.append(Stop(name=name, where="bump" if slope[i] < 0.0 else "droop", heave=start))
            continue
        used = np.asarray(margin) <= 0.0
        below, above = np.flatnonzero(used[: at + 1]), np.flatnonzero(used[at + 1 :])
        if below.size:
            k = int(below[-1])
            found.append(Stop(name=name, where="droop", heave=_zero(every.c[:, k, i], heave, k, start)))
        if above.size:
            k = at + int(above[0])
            found.append(Stop(name=name, where="bump", heave=_zero(every.c[:, k, i], heave, k, start)))
    return tuple(sorted(found, key=lambda s: abs(s.heave - start)))


def _zero(cubic: Floats, heave: Floats, k: int, start: float) -> float:
    """Return where a cubic from node k on, which only rises or falls up to the next, is zero; on its way to `start`."""
    c3, c2, c1, c0 = (float(c) for c in cubic)
    low, high, first = float(heave[k]), float(heave[k + 1]), float(heave[k])
    if low < start < high:  # only one side of it has the zero looked for
        low, high = (low, start) if c0 <= 0.0 else (start, high)

    def value(x: float) -> float:
        t = x - first
        return ((c3 * t + c2) * t + c1) * t + c0

    one, other = value(low), value(high)
    if one * other >= 0.0:  # it is zero at a node, to rounding
        return low if abs(one) <= abs(other) else high
    return float(brentq(value, low, high, xtol=1e-15))
