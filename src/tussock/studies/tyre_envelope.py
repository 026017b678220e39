"""Tyres against measured points of the body over heave, roll and steer."""

from __future__ import annotations

from typing import Any

import numpy as np

from tussock.errors import InputError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.tyre_envelope import steered, tyre_clearance
from tussock.studies import limiters, parts
from tussock.studies.job import Job
from tussock.studies.limiters import AxlePath

SHOULDER = 0.2  # radius of a shoulder over the tyre's width where it is not given; common practice, no source
_STEERS = 5  # angles from lock to lock
#: Two points of a steering axis, and the body that each goes with besides the carrier.
_AXES: tuple[tuple[str, str, str | None], ...] = (
    ("king_pin_lower", "king_pin_upper", None),
    ("lower_ball", "upper_ball", None),
    ("lower_ball", "strut_top", "chassis"),
)


def body_points(limiter: Any) -> dict[str, tuple[float, float, float]]:
    """Return the measured points that a tyre is held against, by name [m]."""
    return {limiter.name: limiter.chassis.si} | {name: point.si for name, point in limiter.points.items()}


def clearances(job: Job, end: str, path: AxlePath, points: dict[str, Floats], limiter: Any) -> dict[str, Floats]:
    """Return the least clearance of either tyre over all steer angles, by point of the body [m]."""
    return {name: np.min(found, axis=0) for name, found in by_steer(job, end, path, points, limiter).items()}


def steer_angles(limiter: Any) -> Floats:
    """Return the steer angles that are looked at, lock to lock; straight ahead where no lock is given [rad]."""
    if limiter.steer is None:
        return np.zeros(1)
    lock = float(limiter.steer)
    return np.linspace(-lock, lock, _STEERS)


def by_steer(job: Job, end: str, path: AxlePath, points: dict[str, Floats], limiter: Any) -> dict[str, Floats]:
    """Return the clearance of the nearer tyre by point, over steer angles and what `path` follows (ns, ...) [m]."""
    radius = float(job.programme.vehicle.tyre.free_radius)
    wheel = parts.wheel_centre(job, end)
    named = body_points(limiter)
    if limiter.width is None and limiter.steer is not None:
        raise InputError(f"{end} axle, limiter {limiter.name!r}: a tyre at lock needs its `width`, such as 235 mm")
    if limiter.width is None:  # as wide as need be, seen from the side
        return {
            name: limiters.tyre_margin(path, point=point, wheel=wheel, radius=radius, least=0.0)[None]
            for name, point in named.items()
        }
    width = float(limiter.width)
    shoulder = SHOULDER * width if limiter.shoulder is None else float(limiter.shoulder)
    out: dict[str, list[Floats]] = {name: [] for name in named}
    for side in (0, 1):
        centre, axis = path.place(_on(wheel, side)), _spin(path, side)
        pin = _pin(path, points, side) if limiter.steer is not None else None
        if limiter.steer is not None and pin is None:
            raise InputError(
                f"{end} axle, limiter {limiter.name!r}: it names a steer angle, but the axle does not steer"
            )
        for angle in steer_angles(limiter):
            at, along = (centre, axis) if pin is None else steered(centre, axis, *pin, float(angle))
            for name, point in named.items():
                out[name].append(
                    tyre_clearance(_on(point, side), at, along, radius=radius, width=width, shoulder=shoulder)
                )
    count = steer_angles(limiter).size
    return {name: np.minimum(np.array(each[:count]), np.array(each[count:])) for name, each in out.items()}


def _on(point: tuple[float, float, float], side: int) -> Floats:
    left = np.asarray(point, dtype=np.float64)
    return left if side == 0 else limiters.mirrored(left)


def _spin(path: AxlePath, side: int) -> Floats:
    """Return the direction of a wheel's axis, to the left (..., 3)."""
    lean, steer = path.pick(path.axle.inclination)[..., side], path.pick(path.axle.steer)[..., side]
    return np.stack([-np.sin(steer) * np.cos(lean), np.cos(steer) * np.cos(lean), np.sin(lean)], axis=-1)


def _pin(path: AxlePath, points: dict[str, Floats], side: int) -> tuple[Floats, Floats] | None:
    for lower, upper, on in _AXES:
        if lower in points and upper in points:
            low, up = (_on(tuple(points[n]), side) for n in (lower, upper))
            return path.place(low), path.place(up, on)
    return None
