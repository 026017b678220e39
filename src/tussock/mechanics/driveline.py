"""Propeller shafts over the travel of an axle: joint angles, unsteady speed, slip; limits of working angle and speed.

Joints are followed in space, not in a side view: the yokes' ears are vectors, so shafts that run sideways and axles
that yaw need no projection. The shafts of independent wheels, whose joints are of constant velocity, are in
`linkage.sweep_wheel`.

References
----------
.. [1] Universal Joint and Driveshaft Design Manual, SAE AE-7: two-joint shafts and the residual angle
   ``sqrt(|b1^2 - b2^2|)`` (section 3.1.1 named by a source; formula from memory).
.. [2] Speed of one joint: ``cos b / (1 - sin^2 b cos^2 t)``, peak to peak ``sin b tan b`` (web page on
   Hooke's joint, seen).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from tussock.errors import InputError
from tussock.mechanics.arrays import Floats, cross
from tussock.mechanics.linkage.axle import Axle
from tussock.mechanics.linkage.model import CHASSIS
from tussock.mechanics.linkage.solution import Solution

JointKind = Literal["single", "constant_velocity"]
#: Angles of a half turn at which the speed is looked at; it repeats after it.
TURN_SAMPLES = 360
#: Peak angular acceleration of a shaft that is common practice as a limit (from memory) [rad/s^2].
LARGEST_ACCELERATION = 1000.0
#: Largest difference of the two angles of a shaft (a shaft maker's rule, seen) [rad].
LARGEST_DIFFERENCE = float(np.deg2rad(1.0))


@dataclass(frozen=True, kw_only=True)
class PropellerShaft:
    """A shaft between a gearbox on the chassis and the pinion of an axle, points and directions in the stock pose.

    Attributes
    ----------
    name : str
    drive_point, driven_point : array (3,)
        Centre of the joint at the gearbox and of that at the pinion [m].
    drive_axis, driven_axis : array (3,)
        Direction of the gearbox's output shaft and of the pinion's shaft, either sense [-].
    drive_joint, driven_joint : {'single', 'constant_velocity'}
        A Cardan joint, or a double Cardan or other joint of constant velocity.
    phase : float
        Turn of the yoke at the pinion against that at the gearbox, both on the shaft [rad]; 0 where their ears are in
        line.
    """

    name: str
    drive_point: Floats
    driven_point: Floats
    drive_axis: Floats
    driven_axis: Floats
    drive_joint: JointKind = "single"
    driven_joint: JointKind = "single"
    phase: float = 0.0

    def __post_init__(self) -> None:
        """Refuse a shaft that cannot be."""
        for word in ("drive_point", "driven_point", "drive_axis", "driven_axis"):
            value = np.asarray(getattr(self, word), dtype=np.float64)
            if value.shape != (3,) or not np.all(np.isfinite(value)):
                raise InputError(f"{self.name}: {word} is {value.tolist()}; it needs three finite numbers")
            if word.endswith("axis") and not float(np.linalg.norm(value)) > 1e-9:
                raise InputError(f"{self.name}: {word} has no length, so it has no direction")
        for word in ("drive_joint", "driven_joint"):
            if getattr(self, word) not in ("single", "constant_velocity"):
                raise InputError(f"{self.name}: {word} is '{getattr(self, word)}'; choose single or constant_velocity")
        if not float(np.linalg.norm(np.subtract(self.driven_point, self.drive_point))) > 0.01:
            raise InputError(f"{self.name}: the joints lie on each other; a shaft needs some length")


@dataclass(frozen=True, kw_only=True)
class ShaftCurves:
    """A propeller shaft over a grid (nh, nr), or over the rows of a solution (np,).

    Attributes
    ----------
    drive_angle, driven_angle : array
        Of the joints at gearbox and pinion [rad].
    plane_angle : array
        Between the planes in which the two joints bend, about the shaft [rad]; 0 or pi where they are one plane.
    shaft_fluctuation, fluctuation : array
        Largest less least speed over a turn, of the shaft itself and of the pinion, over the gearbox's speed [-].
    equivalent_angle : array
        Angle of one joint that would make the pinion's fluctuation [rad].
    length : array
        Distance of the joint centres [m].
    slip : array
        The same against the stock pose, longer positive [m].
    """

    drive_angle: Floats
    driven_angle: Floats
    plane_angle: Floats
    shaft_fluctuation: Floats
    fluctuation: Floats
    equivalent_angle: Floats
    length: Floats
    slip: Floats

    def largest_speed(self) -> Floats:
        """Shaft speed at which the acceleration of the shaft or the pinion reaches the usual limit [rad/s].

        The peak is ``b^2 w^2`` for an angle b, within 2 % to 12 deg; infinite where nothing bends.
        """
        drive = joint_angle_of(self.shaft_fluctuation)
        worst = np.maximum(drive, self.equivalent_angle)
        with np.errstate(divide="ignore"):
            return np.asarray(np.sqrt(LARGEST_ACCELERATION) / worst)


def joint_fluctuation(angle: Floats | float) -> Floats:
    """Largest less least speed over a turn behind one Cardan joint at an angle [rad], over the speed before it [-]."""
    return np.asarray(np.sin(angle) * np.tan(angle))


def joint_angle_of(fluctuation: Floats | float) -> Floats:
    """Angle of one Cardan joint with that fluctuation [rad]; the inverse of `joint_fluctuation`."""
    f = np.asarray(fluctuation, dtype=np.float64)
    # 1 / c - c = f; the angle from its half, since c lies near 1
    lost = 0.5 * (f + 2.0 - np.sqrt(f * f + 4.0))
    return np.asarray(2.0 * np.arcsin(np.sqrt(np.clip(0.5 * lost, 0.0, 1.0))))


def joint_speed(angle: Floats | float, turn: Floats | float) -> Floats:
    """Speed behind one Cardan joint over that before it [-]; `turn` of the driving yoke from its ears in the plane."""
    return np.asarray(np.cos(angle) / (1.0 - np.sin(angle) ** 2 * np.cos(turn) ** 2))


def shaft_curves(axle: Axle, shaft: PropellerShaft, heave: Floats, roll: Floats, *, steer: float = 0.0) -> ShaftCurves:
    """Joint angles, unsteady speed and slip of a propeller shaft over heave [m] and roll [rad] of an axle.

    Raises
    ------
    SolverError
        A node that cannot be reached.
    """
    h, r = np.atleast_1d(np.asarray(heave, dtype=np.float64)), np.atleast_1d(np.asarray(roll, dtype=np.float64))
    flat = shaft_in(axle.solve(h, r, steer), shaft)
    return ShaftCurves(
        **{name: getattr(flat, name).reshape(h.size, r.size) for name in ShaftCurves.__dataclass_fields__}
    )


def shaft_in(s: Solution, shaft: PropellerShaft, *, body: str = "axle") -> ShaftCurves:
    """The same for every row of a solution, such as the pose of an axle under a driving force (wind-up included)."""
    gap = s.point(body, np.asarray(shaft.driven_point)) - s.point(CHASSIS, np.asarray(shaft.drive_point))
    length = np.linalg.norm(gap, axis=1)
    middle = gap / length[:, None]
    drive = _along(s.direction(CHASSIS, _unit(shaft.drive_axis)), middle)
    driven = _along(s.direction(body, _unit(shaft.driven_axis)), middle)
    first, second = _between(drive, middle), _between(middle, driven)
    # a full set of yoke positions over half a turn, (np, samples, 3)
    turn = np.linspace(0.0, np.pi, TURN_SAMPLES, endpoint=False)
    if shaft.drive_joint == "single":
        ears = _circle(drive, turn)
        speed = np.einsum("pi,pi->p", drive, middle)[:, None] / (1.0 - np.einsum("pti,pi->pt", ears, middle) ** 2)
        own = cross(ears, middle[:, None, :])
        own /= np.linalg.norm(own, axis=2)[:, :, None]
    else:
        own, speed = _circle(middle, turn), np.ones((length.size, turn.size))
    shaft_speed = speed
    if shaft.driven_joint == "single":
        c, w = np.cos(shaft.phase), np.sin(shaft.phase)
        yoke = c * own + w * cross(np.broadcast_to(middle[:, None, :], own.shape), own)
        speed = (
            speed * np.einsum("pi,pi->p", middle, driven)[:, None] / (1.0 - np.einsum("pti,pi->pt", yoke, driven) ** 2)
        )
    stock = float(np.linalg.norm(np.subtract(shaft.driven_point, shaft.drive_point)))
    fluctuation = _span(speed)
    return ShaftCurves(
        drive_angle=first,
        driven_angle=second,
        plane_angle=_between(cross(drive, middle), cross(middle, driven)),
        shaft_fluctuation=_span(shaft_speed),
        fluctuation=fluctuation,
        equivalent_angle=joint_angle_of(fluctuation),
        length=length,
        slip=length - stock,
    )


def largest_working_angle(speed: float) -> float:
    """Joint angle at which a single joint reaches the usual peak acceleration at a shaft speed [rad/s] [rad]."""
    if not speed > 0.0:
        raise InputError(f"the shaft's speed is {speed} rad/s; it must be above zero")
    return float(np.sqrt(LARGEST_ACCELERATION) / speed)


def _unit(v: Floats) -> Floats:
    v = np.asarray(v, dtype=np.float64)
    return np.asarray(v / np.linalg.norm(v))


def _along(axis: Floats, middle: Floats) -> Floats:
    """The axis in the sense of the shaft."""
    return np.asarray(axis * np.sign(np.einsum("pi,pi->p", axis, middle))[:, None])


def _between(a: Floats, b: Floats) -> Floats:
    return np.asarray(np.arctan2(np.linalg.norm(cross(a, b), axis=1), np.einsum("pi,pi->p", a, b)))


def _circle(axis: Floats, turn: Floats) -> Floats:
    """Unit vectors across an axis at the given turns (np, nt, 3)."""
    helper = np.where(np.abs(axis[:, 2:3]) < 0.8, np.array([0.0, 0.0, 1.0]), np.array([1.0, 0.0, 0.0]))
    first = cross(axis, helper)
    first /= np.linalg.norm(first, axis=1)[:, None]
    second = cross(axis, first)
    return np.asarray(
        np.cos(turn)[None, :, None] * first[:, None, :] + np.sin(turn)[None, :, None] * second[:, None, :]
    )


def _span(speed: Floats) -> Floats:
    """Largest less least over a turn, each by the parabola through the three samples about it."""
    found = []
    for sign in (1.0, -1.0):
        values = sign * speed
        at = np.argmax(values, axis=1)
        rows, count = np.arange(speed.shape[0]), speed.shape[1]
        before, top, after = (values[rows, (at + k) % count] for k in (-1, 0, 1))
        bend = before - 2.0 * top + after
        with np.errstate(divide="ignore", invalid="ignore"):
            gain = np.where(bend < 0.0, -((after - before) ** 2) / (8.0 * bend), 0.0)
        found.append(sign * (top + gain))
    return np.asarray(found[0] - found[1])
