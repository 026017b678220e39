"""Bump stops over the plane of heave and roll: the spacer with which they come first, how they take up load."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.springs import BumpStop
from tussock.studies import parts
from tussock.studies.job import Job, Setup
from tussock.studies.travel_plane import Plane, edges


@dataclass(frozen=True)
class _Corner:
    """Both sides of an axle pressed into bump: how high the stop must stand to carry its load at a place."""

    plane: Plane
    stop: BumpStop
    spring: Callable[[Floats], Floats]
    static_load: float

    def at(self, values: Floats, j: int, heave: float) -> Floats:
        """Return of values (nh, nr, 2) those of both sides at roll `j` and a heave."""
        return np.array([np.interp(heave, self.plane.heave, values[:, j, side]) for side in (0, 1)])

    def spacer(self, j: int, heave: float, load_factor: float) -> float:
        """Return the spacer with which the first side carries `load_factor` times its static load there [m]."""
        carried = self.spring(self.at(self.plane.axle.spring, j, heave))
        gap = self.at(self.plane.axle.stop, j, heave)
        found: list[float] = []
        for side in (0, 1):
            try:
                pressed = self.stop.compression_at(
                    load_factor * self.static_load - float(carried[side]), extrapolate=True
                )
            except DomainError:
                pressed = self.stop.limit
            found.append(pressed + float(gap[side]) - self.stop.free_height)
        return min(found)

    def loads(self, j: int, heaves: Floats, side: int) -> Floats:
        """Return spring and stop load over the static load of the corner along heaves at roll `j` [-]."""
        length, gap = (
            np.interp(heaves, self.plane.heave, values[:, j, side])
            for values in (self.plane.axle.spring, self.plane.axle.stop)
        )
        pressed = self.stop.forces(np.minimum(self.stop.height - gap, self.stop.limit))
        return np.asarray((self.spring(length) + pressed) / self.static_load)


def _corner(job: Job, setup: Setup, plane: Plane) -> _Corner:
    fitted = parts.fitted(job, setup, plane.end)
    spring = fitted.spring
    return _Corner(
        plane=plane,
        stop=fitted.stop,
        spring=lambda length: spring.force(length - spring.seats),
        static_load=parts.static_corner_load(job, setup.fitout, plane.end),
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class SpacerNeed:
    """Between which heights a bump stop's spacer does its work.

    Attributes
    ----------
    end : str
        Which axle.
    fitted : float
        [m].
    least : float
        With which the stop carries its load before anything else ends bump, up to the roll of the targets [m];
        minus infinity where nothing else does within the heaves followed.
    everywhere : float
        The same at every roll of the plane [m].
    most : float
        With which the bump wanted is still left, level and rolled [m].
    first : str
        The limiter that asks for `least`.
    """

    end: str
    fitted: float
    least: float
    everywhere: float
    most: float
    first: str


def spacer_need(job: Job, setup: Setup, plane: Plane) -> SpacerNeed:
    """Return the spacer that an axle's bump stop needs, solved over the plane."""
    targets, corner = job.programme.targets, _corner(job, setup, plane)
    factor, roll = float(targets.bump_force), float(targets.roll)
    others = {n: m for n, m in plane.ending.items() if not n.startswith("bump stop")}
    least, everywhere, first = -math.inf, -math.inf, ""
    for edge in edges(others, plane.heave, plane.roll, plane.ride):
        if edge.high is None:
            continue
        j = int(np.argmin(np.abs(plane.roll - edge.roll)))
        need = corner.spacer(j, edge.high.heave, factor)
        everywhere = max(everywhere, need)
        if abs(edge.roll) <= roll + 1e-9 and need > least:
            least, first = need, edge.high.name
    bump = float(targets.bump[plane.end])
    most = min(corner.spacer(j, plane.span(j, 0.0, bump)[1], factor) for j in plane.within(roll))
    return SpacerNeed(
        end=plane.end,
        fitted=corner.stop.spacer,
        least=least,
        everywhere=everywhere,
        most=most,
        first=first,
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class Engagement:
    """How one bump stop takes up its load: travel of its wheel from ride height [m] and load over the static one.

    `begins` where it touches, `half` at half the compression that it has at the stated load, `full` at that load.
    None where it does not come so far within the heaves followed.
    """

    end: str
    side: str
    roll: float
    begins: tuple[float, float] | None
    half: tuple[float, float] | None
    full: tuple[float, float] | None


def engagements(job: Job, setup: Setup, plane: Plane) -> tuple[Engagement, ...]:
    """Return how the stops of an axle take up their load: level, and of the rising wheel rolled either way."""
    corner, factor = _corner(job, setup, plane), float(job.programme.targets.bump_force)
    roll = float(job.programme.targets.roll)
    out: list[Engagement] = []
    for angle, side in ((0.0, 0), (0.0, 1), (roll, 0), (-roll, 1)):
        j = int(np.argmin(np.abs(plane.roll - angle)))
        gap = plane.axle.stop[:, j, side]
        pressed = corner.stop.height - gap
        fine = np.linspace(plane.ride, float(plane.heave[-1]), 241)
        squeeze = np.interp(fine, plane.heave, pressed)
        load = corner.loads(j, fine, side)
        lean = float(plane.lean(angle)) * (1.0 if side == 0 else -1.0)

        def where(
            values: Floats,
            level: float,
            fine: Floats = fine,
            load: Floats = load,
            lean: float = lean,
        ) -> tuple[float, float] | None:
            over = np.flatnonzero(values >= level)
            if over.size == 0:
                return None
            i = int(over[0])
            if i == 0:
                return float(fine[0]) - plane.ride + lean, float(load[0])
            share = (level - values[i - 1]) / (values[i] - values[i - 1])
            at = float(fine[i - 1] + share * (fine[i] - fine[i - 1]))
            return at - plane.ride + lean, float(np.interp(at, fine, load))

        full = where(load, factor)
        half = None
        if full is not None:
            at = full[0] - lean + plane.ride
            half = where(squeeze, 0.5 * float(np.interp(at, fine, squeeze)))
        out.append(
            Engagement(
                end=plane.end,
                side=("left", "right")[side],
                roll=angle,
                begins=where(squeeze, 0.0),
                half=half,
                full=full,
            )
        )
    return tuple(out)
