"""How far one axle reaches in one setup: every limiter along its heave, level and rolled."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from tussock.errors import InputError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage import sweep
from tussock.studies import limiters, model, parts
from tussock.studies.job import Job, Setup
from tussock.studies.limiters import AxlePath, Stop


@dataclass(frozen=True, kw_only=True)
class AxleTravel:
    """The travel of one axle in one setup.

    Attributes
    ----------
    end : str
        "front" or "rear".
    ride : float
        Heave at which it stands, bump positive from stock kerb [m].
    level, rolled : tuple of Stop
        Where each limiter ends the travel without roll, and at the articulation of the targets.
    roll : float
        That articulation [rad].
    track : float
        [m].
    """

    end: str
    ride: float
    level: tuple[Stop, ...]
    rolled: tuple[Stop, ...]
    roll: float
    track: float

    def governing(self, where: str) -> Stop | None:
        """Return the limiter that ends droop or bump first, None if nothing does within the stations followed."""
        found = [s for s in self.level if s.where == where]
        if not found:
            return None
        return max(found, key=lambda s: s.heave) if where == "droop" else min(found, key=lambda s: s.heave)

    def left(self, where: str) -> float:
        """Return the travel from ride height to the governing limiter [m]; infinite without one."""
        stop = self.governing(where)
        return math.inf if stop is None else abs(stop.heave - self.ride)

    def margin_in_roll(self, name: str, where: str, wanted: float) -> float | None:
        """Return the heave left at a limiter when one wheel has used `wanted` travel with the axle rolled [m].

        The wheel that droops (or bumps) has moved by `wanted` from ride height; the axle's centre has then moved by
        that less half the track times the sine of the roll.
        """
        lever = 0.5 * self.track * math.sin(self.roll)
        sign = -1.0 if where == "droop" else 1.0
        heave = self.ride + sign * (wanted - lever)
        for s in self.rolled:
            if s.name == name and s.where == where:
                return sign * (s.heave - heave)
        return None


def margins(job: Job, setup: Setup, end: str, column: int) -> dict[str, Floats]:
    """Return the margin of every limiter of an axle along its travel at one roll.

    `column` is 0 with the left wheel down, 1 level, 2 with the left wheel up.
    """
    roll = float(job.programme.targets.roll)
    path = AxlePath(model.travel_map(job, end, stock=setup.stock, roll=roll), column)
    fitted = parts.fitted(job, setup, end)
    spring = fitted.spring
    out: dict[str, Floats] = {}
    out |= limiters.spring_margins(path, spring.coil, free_length=spring.free_length, packer=spring.packer)
    out |= limiters.damper_margins(
        path, open_length=float(fitted.damper.open_length), closed_length=float(fitted.damper.closed_length)
    )
    factor = float(job.programme.targets.bump_force)
    out[f"bump stop, {factor:.0f} g"] = limiters.stop_margin(
        path,
        fitted.stop,
        spring=spring.force,
        static_load=parts.static_corner_load(job, setup.fitout, end),
        load_factor=factor,
    )
    for limiter in job.programme.vehicle.axles[end].limiters:
        out[limiter.name] = _margin(job, setup, end, path, column, limiter)
    return out


def _margin(job: Job, setup: Setup, end: str, path: AxlePath, column: int, limiter: Any) -> Floats:
    points = parts.hardpoints(job, end)
    if not setup.stock:
        for name, moved in model.kit_changes(job, end).items():
            points[name.partition("@")[0]] = moved
    kind = limiter.kind
    if kind == "line":
        usable, chassis, axle = parts.line_of(job, setup, end, limiter)
        return limiters.line_margin(path, chassis=chassis, axle=axle, usable=usable)
    if kind == "joint":
        return float(limiter.limit) - _bush_angle(job, setup, end, path, column, limiter.joint)
    if kind == "rod_end":
        return limiters.rod_end_margin(path, ends=_rod_ends(points, limiter.rod, end), limit=float(limiter.limit))
    if kind == "universal_joint":
        angle = limiters.universal_joint_angle(
            path, output=np.array(limiter.output.si), flange=np.array(limiter.flange.si), pinion_axis=0.0
        )
        return float(limiter.limit) - angle
    if kind == "clearance":
        fixed, moving = _rod_ends(points, limiter.rod, end)[0]
        return limiters.rod_clearance_margin(
            path,
            fixed=fixed,
            moving=moving,
            radius=float(limiter.rod_radius),
            points=tuple(np.array(p.si) for p in limiter.chassis),
            least=float(limiter.least),
        )
    if kind == "tyre":
        return limiters.tyre_margin(
            path,
            point=limiter.chassis.si,
            wheel=parts.wheel_centre(job, end),
            radius=float(job.programme.vehicle.tyre.free_radius),
            least=float(limiter.least),
        )
    raise InputError(f"{end} axle, limiter {limiter.name!r}: kind {kind!r} is not known to the travel study")


def _rod_ends(points: dict[str, Floats], rod: str, end: str) -> tuple[tuple[Floats, Floats], ...]:
    """Return chassis and axle end of a rod in the stock pose, both sides of a paired one."""
    chassis = "pitman" if rod == "drag_link" else "chassis"
    try:
        fixed, moving = points[f"{rod}_{chassis}"], points[f"{rod}_axle"]
    except KeyError:
        raise InputError(f"{end} axle: a limiter names the rod {rod!r}, which this layout does not have") from None
    if rod in ("track_rod", "drag_link"):
        return ((fixed, moving),)
    return ((fixed, moving), (limiters.mirrored(fixed), limiters.mirrored(moving)))


def _bush_angle(job: Job, setup: Setup, end: str, path: AxlePath, column: int, joint: str) -> Floats:
    """Return the larger cone angle of a bush on both sides along the travel [rad]."""
    roll = float(job.programme.targets.roll)
    this = model.axle(job, end, stock=setup.stock)
    key = ("joints", end, id(this), roll)
    if key not in job.memo:
        job.memo[key] = sweep(this, model.TRAVEL_HEAVE, np.array([-roll, 0.0, roll])).joint_angles
    angles: Any = job.memo[key]
    found = [
        a[:, column, 0]
        for name, a in angles.items()
        if name == joint or name.removesuffix("_left").removesuffix("_right") == joint
    ]
    if not found:
        raise InputError(f"{end} axle: a limiter names the joint {joint!r}; the axle has {', '.join(angles)}")
    return np.asarray(np.max(np.abs(found), axis=0))


def axle_travel(job: Job, setup: Setup, end: str) -> AxleTravel:
    """Return the travel of one axle in a setup."""
    ride = model.posture(job, setup)[end].heave
    heave = model.TRAVEL_HEAVE
    level = limiters.stops(margins(job, setup, end, 1), heave, start=ride)
    either = [limiters.stops(margins(job, setup, end, column), heave, start=ride) for column in (0, 2)]
    worst: dict[tuple[str, str], Stop] = {}
    for stop in (*either[0], *either[1]):
        key = (stop.name, stop.where)
        if key not in worst or abs(stop.heave - ride) < abs(worst[key].heave - ride):
            worst[key] = stop
    return AxleTravel(
        end=end,
        ride=ride,
        level=level,
        rolled=tuple(worst.values()),
        roll=float(job.programme.targets.roll),
        track=parts.track(job, end),
    )
