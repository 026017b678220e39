"""Invented pick-up with independent front wheels for the tests of motion, and free flight without traction."""

from __future__ import annotations

import dataclasses
from functools import cache
from typing import Literal

import numpy as np
from motion_vehicles import RADIUS, TRACK, axle_parts, rear_map, wagon

from tussock.mechanics.arrays import Floats
from tussock.mechanics.axle_map import AxleMap
from tussock.mechanics.linkage import axle_map_of_wheels, build_wheel
from tussock.mechanics.mass import MassState
from tussock.mechanics.motion import AxleParts, Vehicle, pack
from tussock.mechanics.motion import kernels as k
from tussock.mechanics.motion.rest import Evaluator

WHEEL_MASS, ACROSS, ALONG = 42.0, 1.1, 1.6  # of one wheel with upright; its inertia across and along its axis
WISHBONE = {
    "wheel_centre": (0.0, 0.5 * TRACK, RADIUS),
    "lower_ball": (0.004, 0.676, 0.266),
    "upper_ball": (-0.018, 0.642, 0.524),
    "lower_arm_front": (0.128, 0.288, 0.292),
    "lower_arm_rear": (-0.212, 0.300, 0.284),
    "upper_arm_front": (0.086, 0.394, 0.535),
    "upper_arm_rear": (-0.128, 0.400, 0.505),
    "tie_rod_outer": (0.142, 0.696, 0.314),
    "tie_rod_inner": (0.136, 0.332, 0.326),
    "spring_lower_arm": (-0.006, 0.560, 0.286),
    "spring_chassis": (-0.030, 0.440, 0.686),
    "damper_lower_arm": (0.020, 0.560, 0.286),
    "damper_chassis": (0.004, 0.440, 0.690),
    "stop_lower_arm": (0.060, 0.490, 0.296),
    "stop_chassis": (0.060, 0.475, 0.381),
    "bar_pivot": (0.300, 0.270, 0.396),
    "drop_link_bar": (0.060, 0.450, 0.388),
    "drop_link_lower_arm": (0.066, 0.470, 0.288),
}


def hardpoints(shift: float = 0.0) -> dict[str, Floats]:
    """Return the table of hardpoints, moved forward by `shift` [m]."""
    return {name: np.array(point) + np.array([shift, 0.0, 0.0]) for name, point in WISHBONE.items()}


@cache
def wheels_map(
    *,
    shift: float = 0.0,
    torque_on: Literal["body", "upright"] = "body",
    springing: Literal["coil", "torsion bar"] = "coil",
) -> AxleMap:
    """Return the map of two wheels on wishbones, on the wagon's grid in heave."""
    wheel = build_wheel("double_wishbone", hardpoints(shift), wheel_radius=RADIUS)
    return axle_map_of_wheels(wheel, torque_on=torque_on, springing=springing)


def pair_mass(x: float) -> MassState:
    """Return two wheels with uprights as one mass about their middle."""
    lever = 2.0 * WHEEL_MASS * (0.5 * TRACK) ** 2
    inertia = (2.0 * ACROSS + lever, 2.0 * ALONG, 2.0 * ACROSS + lever)
    return MassState(mass=2.0 * WHEEL_MASS, centre=(x, 0.0, RADIUS), inertia=inertia)


def front_parts(axle: AxleMap | None = None, **changes: object) -> AxleParts:
    """Return the front axle's parts, springs and bar over the arms; keywords replace parts."""
    grid = wheels_map() if axle is None else axle
    plain = axle_parts(grid, mass=2.0 * WHEEL_MASS, rate=62e3, load=6300.0)
    settings: dict[str, object] = {
        "mass": pair_mass(grid.design_x),
        "wheel_inertia": ACROSS,
        "stop_height": 0.055,
        "bar_rate": 900.0,
        "spring_friction": 60.0,
        "friction_travel": 2e-3,
        **changes,
    }
    return dataclasses.replace(plain, **settings)  # type: ignore[arg-type]


def pick_up(*, front: dict[str, object] | None = None, rear: dict[str, object] | None = None) -> Vehicle:
    """Return the wagon on independent front wheels."""
    base = wagon(rear=rear)
    return dataclasses.replace(base, front=front_parts(**(front or {})))  # type: ignore[arg-type]


@dataclasses.dataclass(frozen=True)
class Flight:
    """States of a free flight at each step: q (n, 13), u (n, 12), forward speed (n,)."""

    q: Floats
    u: Floats
    speed: Floats


def free_flight(vehicle: Vehicle, *, q: Floats, u: Floats, speed: float, step: float, steps: int) -> Flight:
    """Integrate the kernels' equations without traction by the classical Runge-Kutta method.

    The kernels hold the forward acceleration by traction; the one that needs none is found from two.
    """
    packed = pack(vehicle, lag=0.0, friction=False)
    evaluate = Evaluator(packed, lag=0.0)
    inputs, local, kin = np.zeros(k.INPUTS), np.zeros(k.LOCAL), np.zeros(k.POSITIONS)

    def slopes(y: Floats) -> Floats:
        place, rate = y[: k.POSITIONS].copy(), y[k.POSITIONS : -1].copy()
        inputs[12] = y[-1]
        pulls = []
        for wanted in (0.0, 1.0):
            inputs[13] = wanted
            evaluate(place, rate, local, inputs)
            pulls.append(evaluate.log[24])
        inputs[13] = -pulls[0] / (pulls[1] - pulls[0])
        acceleration = evaluate(place, rate, local, inputs)
        k.kinematics(place, rate, float(y[-1]), kin)
        return np.concatenate([kin, acceleration, inputs[13:14]])

    y = np.concatenate([q, u, [speed]])
    kept = [y]
    for _ in range(steps):
        a = slopes(y)
        b = slopes(y + 0.5 * step * a)
        c = slopes(y + 0.5 * step * b)
        d = slopes(y + step * c)
        y = y + step * (a + 2.0 * b + 2.0 * c + d) / 6.0
        kept.append(y)
    whole = np.array(kept)
    return Flight(q=whole[:, : k.POSITIONS], u=whole[:, k.POSITIONS : -1], speed=whole[:, -1])


__all__ = [
    "ACROSS",
    "ALONG",
    "WHEEL_MASS",
    "Flight",
    "free_flight",
    "front_parts",
    "hardpoints",
    "pair_mass",
    "pick_up",
    "rear_map",
    "wheels_map",
]
