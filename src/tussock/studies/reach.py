"""How far one axle reaches in one setup: every limiter along its heave, level and rolled."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from tussock.errors import InputError
from tussock.mechanics.arrays import Floats
from tussock.studies import air_bags, limiters, model, parts, reach_parts, suspensions, tyre_envelope
from tussock.studies.job import ENDS, Job, Setup
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


def margins(job: Job, setup: Setup, end: str, path: AxlePath) -> dict[str, Floats]:
    """Return the margin of every limiter of an axle where it is followed, over the plane or along one roll."""
    fitted = parts.fitted(job, setup, end)
    spring = fitted.spring
    out: dict[str, Floats] = {}
    if spring.law.kind == "coil":
        out |= limiters.spring_margins(
            path, shortest=spring.law.shortest, free_length=spring.free_length, packer=spring.packer + spring.seats
        )
    out |= limiters.damper_margins(
        path, open_length=float(fitted.damper.open_length), closed_length=float(fitted.damper.closed_length)
    )
    factor = float(job.programme.targets.bump_force)
    bag = air_bags.fitted_bag(job, setup, end)
    fitted_parts = model.vehicle(job, setup).axles[ENDS.index(end)] if bag is not None else None
    if bag is not None and fitted_parts is not None:
        length = path.axle.spring if bag.beside == "spring" else path.axle.stop
        heights = path.pick(length) - bag.kerb_length(fitted_parts.axle) + bag.kerb_height
        low, top = bag.reach
        out[f"{bag.name} pulled apart"] = top - np.max(heights, axis=-1)
        out[f"{bag.name} pressed flat"] = np.min(heights, axis=-1) - low

    def carried(length: Floats) -> Floats:
        if bag is None or bag.beside != "spring" or fitted_parts is None or fitted_parts.further_force is None:
            return spring.force(length - spring.seats)
        own = spring.force(length - spring.seats) - spring.further_force(length - spring.seats)
        return own + fitted_parts.further_force(length)

    out[f"bump stop, {factor:.0f} g"] = limiters.stop_margin(
        path,
        fitted.stop,
        spring=carried,
        static_load=parts.static_corner_load(job, setup.fitout, end),
        load_factor=factor,
        beside=fitted_parts.stop_side_force if fitted_parts is not None else None,
    )
    out |= reach_parts.linkage_margins(job, setup, end, path)
    for limiter in job.programme.vehicle.axles[end].limiters:
        out[limiter.name] = _margin(job, setup, end, path, limiter)
    return out


def _margin(job: Job, setup: Setup, end: str, path: AxlePath, limiter: Any) -> Floats:
    make = _MARGINS.get(limiter.kind)
    if make is None:
        raise InputError(
            f"{end} axle, limiter {limiter.name!r}: kind {limiter.kind!r} is not known to the travel study"
        )
    return make(_Case(job, setup, end, path), limiter)


@dataclass(frozen=True)
class _Case:
    """Where a limiter is looked at."""

    job: Job
    setup: Setup
    end: str
    path: AxlePath

    def points(self) -> dict[str, Floats]:
        """Return the hardpoints as fitted [m]."""
        points = parts.hardpoints(self.job, self.end)
        if not self.setup.stock:
            for name, moved in model.kit_changes(self.job, self.end).items():
                points[name.partition("@")[0]] = moved
        return points


def _line(case: _Case, limiter: Any) -> Floats:
    usable, chassis, axle = parts.line_of(case.job, case.setup, case.end, limiter)
    return limiters.line_margin(case.path, chassis=chassis, axle=axle, usable=usable, body=limiter.body)


def _joint(case: _Case, limiter: Any) -> Floats:
    allowed = parts.limit_of(case.job, case.setup, case.end, limiter)
    return allowed - reach_parts.joint_angle(case.job, case.setup, case.end, case.path, limiter.joint)


def _rod_end(case: _Case, limiter: Any) -> Floats:
    allowed = parts.limit_of(case.job, case.setup, case.end, limiter)
    if suspensions.independent(case.job, case.end):
        return allowed - reach_parts.joint_angle(case.job, case.setup, case.end, case.path, limiter.rod)
    return limiters.rod_end_margin(case.path, ends=_rod_ends(case.points(), limiter.rod, case.end), limit=allowed)


def _universal_joint(case: _Case, limiter: Any) -> Floats:
    angle = limiters.universal_joint_angle(
        case.path, output=np.array(limiter.output.si), flange=np.array(limiter.flange.si), pinion_axis=0.0
    )
    return parts.limit_of(case.job, case.setup, case.end, limiter) - angle


def _drive_joint(case: _Case, limiter: Any) -> Floats:
    allowed = parts.limit_of(case.job, case.setup, case.end, limiter)
    return allowed - reach_parts.drive_joint_angle(case.job, case.setup, case.end, case.path, limiter.end)


def _drive_plunge(case: _Case, limiter: Any) -> Floats:
    return reach_parts.plunge_margin(
        case.job, case.setup, case.end, case.path, out=float(limiter.out), inward=float(limiter.inward)
    )


def _clearance(case: _Case, limiter: Any) -> Floats:
    fixed, moving = _rod_ends(case.points(), limiter.rod, case.end)[0]
    return limiters.rod_clearance_margin(
        case.path,
        fixed=fixed,
        moving=moving,
        radius=float(limiter.rod_radius),
        points=tuple(np.array(p.si) for p in limiter.chassis),
        least=float(limiter.least),
    )


def _tyre(case: _Case, limiter: Any) -> Floats:
    found = tyre_envelope.clearances(case.job, case.end, case.path, case.points(), limiter)
    return np.asarray(np.min(list(found.values()), axis=0) - float(limiter.least))


_MARGINS: Mapping[str, Callable[[_Case, Any], Floats]] = {
    "line": _line,
    "joint": _joint,
    "rod_end": _rod_end,
    "universal_joint": _universal_joint,
    "drive_joint": _drive_joint,
    "drive_plunge": _drive_plunge,
    "clearance": _clearance,
    "tyre": _tyre,
}
#: Names of a rod's ends: the one that stays and the one that goes with the wheels.
_ROD_ENDS = {"drag_link": ("pitman", "axle"), "tie_rod": ("inner", "outer")}


def _rod_ends(points: dict[str, Floats], rod: str, end: str) -> tuple[tuple[Floats, Floats], ...]:
    """Return chassis and axle end of a rod in the stock pose, both sides of a paired one."""
    still, goes = _ROD_ENDS.get(rod, ("chassis", "axle"))
    try:
        fixed, moving = points[f"{rod}_{still}"], points[f"{rod}_{goes}"]
    except KeyError:
        raise InputError(f"{end} axle: a limiter names the rod {rod!r}, which this layout does not have") from None
    if rod in ("track_rod", "drag_link"):
        return ((fixed, moving),)
    return ((fixed, moving), (limiters.mirrored(fixed), limiters.mirrored(moving)))


def axle_travel(job: Job, setup: Setup, end: str) -> AxleTravel:
    """Return the travel of one axle in a setup."""
    return model.once(job, ("axle travel", setup, end), lambda: _axle_travel(job, setup, end))


def _axle_travel(job: Job, setup: Setup, end: str) -> AxleTravel:
    ride = model.posture(job, setup)[end].heave
    path = AxlePath(model.travel_map(job, end, setup, roll=float(job.programme.targets.roll)))
    every = margins(job, setup, end, path)
    left, level, right = (
        limiters.stops({n: m[:, column] for n, m in every.items()}, path.heave, start=ride) for column in (0, 1, 2)
    )
    worst: dict[tuple[str, str], Stop] = {}
    for stop in (*left, *right):
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
