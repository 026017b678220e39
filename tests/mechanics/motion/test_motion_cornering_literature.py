"""Steady cornering of the full vehicle's linear twin against the handbook's understeer, roll and load transfer.

Sources
-------
[1] Understeer K = W_f / C_f - W_r / C_r and yaw gain V / (L + K V^2 / g): Gillespie, Fundamentals of Vehicle Dynamics,
    chapter 6, and Wong, Theory of Ground Vehicles, chapter 5 (from memory). Inputs of a published course problem:
    4520 lb, 10.5 ft, centre of gravity at 0.45 of the wheelbase, 8750 and 8600 lb/rad for each tyre; answer derived
    from them, 0.02380 rad per g, characteristic speed 119.2 ft/s.
[2] Roll gradient W h1 / (sum K - W h1) and load transfer of each axle, K phi + F_y h_rc + m_u a_y h_u over the track:
    Gillespie, chapter 6 (from memory); case constructed, answers derived: 1.859 deg, 2173.3 N and 2059.7 N at 0.4 g.

Tolerances are those of the digits given.
"""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from motion_vehicles import TYRE, linear_damper

from tussock.mechanics.axle_map import AxleMap
from tussock.mechanics.mass import GRAVITY, MassState
from tussock.mechanics.motion import AxleParts, LinearModel, Vehicle, linearise
from tussock.mechanics.motion.kernels import TOE

pytestmark = pytest.mark.literature

FOOT, POUND = 0.3048, 0.45359237


def axle(
    *,
    x: float,
    height: float,
    track: float,
    load: float,
    roll_rate: float,
    roll_centre: float,
    mass: float,
    cornering: float,
) -> AxleParts:
    """A rigid axle that turns about its roll centre, on springs 0.5 m off the middle, its tyres next to rigid.

    `load` is the sprung load of one corner [N], `cornering` the stiffness of one tyre at its load [N/rad].
    """
    wheel = load + 0.5 * mass * GRAVITY
    tyre = dataclasses.replace(
        TYRE, pneumatic_trail=0.0, vertical_stiffness=5e7, vertical_damping=0.0, toe=1e-7,
        cornering_stiffness=cornering, reference_load=wheel, camber_gain=0.0, friction=5.0,
    )  # fmt: skip
    heave, roll = np.linspace(-0.15, 0.15, 5), np.linspace(-0.1, 0.1, 41)
    h, r = np.meshgrid(heave, roll, indexing="ij")
    flat = np.zeros_like(h)
    rate = roll_rate / (2.0 * 0.5**2)
    # the roll centre goes up and down in the body and carries the springs: turning about it lifts nothing
    slide = h + (height - roll_centre) * (1.0 - np.cos(r))
    length = np.stack([0.4 - slide - 0.5 * r, 0.4 - slide + 0.5 * r], -1)
    grid = AxleMap.of_rigid(
        heave=heave, roll=roll, centre_x=flat + x, centre_y=-(height - roll_centre) * np.sin(r), centre_z0=height,
        design_x=x, pitch=flat, yaw=flat, spring=length, damper=length, stop=length + 0.5,
        steer=np.zeros((*h.shape, 2)), energy=flat, track=track,
    )  # fmt: skip
    free = 0.4 + load / rate + 0.5 * TOE
    return AxleParts(
        axle=grid,
        mass=MassState(mass=mass, centre=(x, 0.0, height), inertia=(0.3 * mass, 1e-3 * mass, 0.3 * mass)),
        spin_inertia=0.0,
        spring_rate=(rate, rate),
        spring_length=(free, free),
        stop_height=0.1,
        stop_compression=np.linspace(0.0, 0.1, 8),
        stop_force=np.linspace(0.0, 1e5, 8),
        damper=linear_damper(0.0),
        bar_rate=0.0,
        tyre=dataclasses.replace(tyre, free_radius=height + tyre.deflection(wheel)),
    )


def steady(model: LinearModel) -> tuple[dict[str, float], dict[str, float]]:
    """States and outputs of a steady turn, for one radian of steer of both front wheels."""
    column = model.inputs.index("steer")
    x = -np.linalg.solve(model.a, model.b[:, column])
    y = model.c @ x + model.d[:, column]
    return dict(zip(model.states, x, strict=True)), dict(zip(model.outputs, y, strict=True))


@pytest.mark.parametrize("speed", [10.0, 25.0, 36.3])
def test_understeer_of_the_course_problem(speed: float) -> None:
    """Source 1."""
    weight, base = 4520.0 * POUND * GRAVITY, 10.5 * FOOT
    light = 1.0  # the textbook's axles weigh nothing [kg]
    corner = {"front": 0.5 * 0.55 * weight, "rear": 0.5 * 0.45 * weight}
    ends = {
        end: axle(
            x=x, height=0.3, track=1.5, load=corner[end] - 0.5 * light * GRAVITY, roll_rate=1e6, roll_centre=0.3,
            mass=light, cornering=pounds * POUND * GRAVITY,
        )
        for end, x, pounds in (("front", 0.0, 8750.0), ("rear", -base, 8600.0))
    }  # fmt: skip
    mass = weight / GRAVITY - 2.0 * light
    body = MassState(mass=mass, centre=(-0.45 * base, 0.0, 0.3), inertia=(0.3 * mass, mass, mass))
    states, _ = steady(linearise(Vehicle(body=body, front=ends["front"], rear=ends["rear"]), speed=speed))
    gradient = (speed / states["yaw rate"] - base) * GRAVITY / speed**2
    assert gradient == pytest.approx(0.02380, abs=1.5e-5)
    assert math.sqrt(GRAVITY * base / gradient) / FOOT == pytest.approx(119.2, abs=0.1)


def test_roll_and_load_transfer_of_the_constructed_vehicle() -> None:
    """Source 2."""
    mass, a, b, track = 1900.0, 1.35, 1.50, 1.55
    front, rear = (
        axle(
            x=x, height=0.39, track=track, load=0.5 * mass * GRAVITY * lever / (a + b), roll_rate=rate,
            roll_centre=centre, mass=unsprung, cornering=6e4,
        )
        for x, lever, rate, centre, unsprung in ((0.0, b, 45e3, 0.42, 170.0), (-(a + b), a, 35e3, 0.50, 190.0))
    )  # fmt: skip
    body = MassState(mass=mass, centre=(-a, 0.0, 0.78), inertia=(700.0, 2500.0, 2600.0))
    speed = 20.0
    states, outputs = steady(linearise(Vehicle(body=body, front=front, rear=rear), speed=speed))
    scale = 0.4 * GRAVITY / (speed * states["yaw rate"])
    # of the body on its springs: its tyres, as stiff as the solver bears, add thousandths of a degree
    roll = abs(states["front roll"] * scale)
    assert math.degrees(roll) == pytest.approx(1.859, abs=5e-4)
    shifts = [
        0.5 * abs(outputs[f"wheel load {end} right"] - outputs[f"wheel load {end} left"]) * abs(scale)
        for end in ("front", "rear")
    ]
    # the print takes 9.81 m/s^2 for g, here it is 9.80665
    assert shifts == pytest.approx([2173.3 * GRAVITY / 9.81, 2059.7 * GRAVITY / 9.81], abs=0.2)
    assert shifts[0] / sum(shifts) == pytest.approx(0.513, abs=5e-4)
    # the moments about the ground balance whatever the axles do
    whole = mass * 0.78 + 360.0 * 0.39
    assert sum(shifts) * track == pytest.approx(0.4 * GRAVITY * whole + mass * GRAVITY * roll * 0.3221, rel=1e-4)
