"""The wheels of a suspension as the road sees them: one of an independent wheel, two of a rigid axle."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage.axle import Axle
from tussock.mechanics.linkage.solution import Solution
from tussock.mechanics.linkage.wheel import Wheel
from tussock.mechanics.linkage.wheel_sweep import contact_direction

Suspension = Axle | Wheel
SIDES = ("left", "right")


@dataclass(frozen=True, kw_only=True)
class WheelForce:
    """Forces of the road on one wheel, in chassis axes; a rigid axle has two, an independent wheel one.

    Attributes
    ----------
    forward, left, up : float
        Force at the contact patch, the wheel locked to what carries it: brakes in the wheel, or an axle that holds its
        own final drive [N]. Braking has `forward` below zero.
    drive : float
        Forward force at the wheel centre, whose torque the body takes: traction of an independent wheel, or brakes on
        its final drive [N].
    aligning : float
        Moment about the vertical, left positive [N m].
    roll_torque : float
        Moment about the x axis: half of what the propeller shaft gives to a rigid axle [N m].
    """

    forward: float = 0.0
    left: float = 0.0
    up: float = 0.0
    drive: float = 0.0
    aligning: float = 0.0
    roll_torque: float = 0.0


class Station(NamedTuple):
    """One wheel in the solver's axes: an independent right wheel is held as its left mirror image.

    `turn` is -1 where lateral answers of the solver turn over; `outward` is +1 where outward is to the solver's left.
    """

    side: str
    body: str
    centre: Floats
    spin: Floats
    radius: float
    turn: float
    outward: float


def stations(suspension: Suspension) -> tuple[Station, ...]:
    """Wheels of a rigid axle (left, right) or of an independent wheel (one)."""
    if isinstance(suspension, Wheel):
        w = suspension
        return (Station(w.side, "upright", w.centre, w.spin, w.wheel_radius, w.sign, 1.0),)
    spin = np.array([0.0, 1.0, 0.0])
    return tuple(
        Station(side, body, centre, spin, suspension.wheel_radius, 1.0, outward)
        for side, body, centre, outward in zip(
            SIDES, suspension.wheel_bodies, suspension.wheel_centres, (1.0, -1.0), strict=True
        )
    )


def wheel_spin(station: Station, s: Solution) -> Floats:
    """Direction of the wheel's axis (np, 3)."""
    return s.direction(station.body, station.spin)


def contact_lever(station: Station, s: Solution) -> Floats:
    """From the wheel centre to the lowest point of the wheel (np, 3) [m]."""
    return station.radius * contact_direction(wheel_spin(station, s))


def attitude_rows(station: Station, s: Solution) -> Floats:
    """Change of steer (left), camber (top outward) and caster by a small rotation about chassis axes (np, 3, 3)."""
    spin = wheel_spin(station, s)
    level = s.direction(station.body, np.array([0.0, 1.0, 0.0])) * np.array([1.0, 1.0, 0.0])
    level = level / np.linalg.norm(level, axis=1)[:, None]
    flat = (spin[:, 0] ** 2 + spin[:, 1] ** 2)[:, None]
    zero = np.zeros(spin.shape[0])
    # d spin = turn x spin
    d_x = np.stack([zero, spin[:, 2], -spin[:, 1]], axis=1)
    d_y = np.stack([-spin[:, 2], zero, spin[:, 0]], axis=1)
    d_z = np.stack([spin[:, 1], -spin[:, 0], zero], axis=1)
    steer = (spin[:, 0:1] * d_y - spin[:, 1:2] * d_x) / flat
    camber = -station.outward * d_z / np.sqrt(1.0 - spin[:, 2:3] ** 2)
    return np.stack([station.turn * steer, camber, -level], axis=1)
