"""Bounce and pitch of textbook cars: the closed form, and the full vehicle's linear twin made to fit it.

Sources (inputs and book answers from memory, every answer computed again apart from the project)
-------
[1] Gillespie, Fundamentals of Vehicle Dynamics, 1992, chapter 5, example 2.
[2] Wong, Theory of Ground Vehicles, chapter 7, example.
[3] Thomson, Theory of Vibration, chapter on two degrees of freedom (book prints 6.90, 9.06 rad/s and -14.6, 1.09 ft).
[4] Rao, Mechanical Vibrations, frequencies and modes of an automobile (book prints 5.8593, 9.4341 rad/s; -2.6461,
    0.3061 m).
[5] Course problem on a car of 1,600 kg (inputs seen, no published answer).

Tolerances are those of the digits given.
"""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from motion_vehicles import TRACK, TYRE, linear_damper

from tussock.errors import DomainError
from tussock.mechanics.axle_map import AxleMap
from tussock.mechanics.mass import GRAVITY, MassState
from tussock.mechanics.motion import AxleParts, Vehicle, bounce_pitch, linearise
from tussock.mechanics.motion.kernels import TOE

pytestmark = pytest.mark.literature

FOOT, POUND, INCH = 0.3048, 0.45359237, 0.0254
SLUG = POUND * 9.80665 / FOOT
POUND_PER_FOOT, POUND_PER_INCH = POUND * 9.80665 / FOOT, POUND * 9.80665 / INCH

# name, inputs, the two circular frequencies [rad/s], the two nodes [m], relative tolerance of frequencies and nodes
_G = {"front": 957.0, "rear": 730.0, "base": 100.6, "index": 1.1}
_B = _G["base"] * _G["rear"] / (_G["front"] + _G["rear"])
CASES = {
    "Gillespie": (
        {
            "mass": 2.0 * (_G["front"] + _G["rear"]) * POUND,
            "gyration": math.sqrt(_G["index"] * _B * (_G["base"] - _B)) * INCH,
            "front_lever": _B * INCH,
            "rear_lever": (_G["base"] - _B) * INCH,
            "front_rate": 2.0 * 127.0 * POUND_PER_INCH,
            "rear_rate": 2.0 * 92.3 * POUND_PER_INCH,
        },
        (math.sqrt(45.0749), math.sqrt(50.4447)),
        (11.69 * INCH, -233.86 * INCH),
        (2e-6, 5e-4),
    ),
    "Wong": (
        {
            "mass": 2120.0,
            "gyration": 1.33,
            "front_lever": 1.267,
            "rear_lever": 1.548,
            "front_rate": 35e3,
            "rear_rate": 38e3,
        },
        (5.58341, 6.52104),
        (-2.09533, 0.84421),
        (2e-6, 6e-6),
    ),
    "Thomson": (
        {
            "mass": 100.0 * SLUG,
            "gyration": 4.0 * FOOT,
            "front_lever": 4.5 * FOOT,
            "rear_lever": 5.5 * FOOT,
            "front_rate": 2400.0 * POUND_PER_FOOT,
            "rear_rate": 2600.0 * POUND_PER_FOOT,
        },
        (6.89943, 9.05147),
        (-14.5962 * FOOT, 1.09618 * FOOT),
        (2e-6, 6e-6),
    ),
    "Rao": (
        {
            "mass": 1000.0,
            "gyration": 0.9,
            "front_lever": 1.0,
            "rear_lever": 1.5,
            "front_rate": 18e3,
            "rear_rate": 22e3,
        },
        (5.85929, 9.43409),
        (-2.64611, 0.30611),
        (2e-6, 2e-5),
    ),
    "course problem": (
        {
            "mass": 1600.0,
            "gyration": 0.95,
            "front_lever": 1.3,
            "rear_lever": 1.6,
            "front_rate": 38e3,
            "rear_rate": 34e3,
        },
        (6.69473, 10.2436),
        (-17.3081, 0.0521431),
        (5e-6, 5e-6),
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_closed_form(name: str) -> None:
    inputs, omega, nodes, (close, near) = CASES[name]
    ride = bounce_pitch(**inputs)
    assert [2.0 * math.pi * f for f in ride.frequency] == pytest.approx(omega, rel=close)
    assert ride.node == pytest.approx(nodes, rel=near)
    assert ride.dynamic_index == pytest.approx(
        inputs["gyration"] ** 2 / (inputs["front_lever"] * inputs["rear_lever"]), rel=1e-14
    )


def test_equal_halves_bounce_and_pitch_purely() -> None:
    ride = bounce_pitch(mass=1000, gyration=1.0, front_lever=1.4, rear_lever=1.4, front_rate=2e4, rear_rate=2e4)
    assert ride.node == (math.inf, 0.0)


def test_impossible_body_is_refused() -> None:
    with pytest.raises(DomainError, match="gyration is 0"):
        bounce_pitch(mass=1000, gyration=0.0, front_lever=1.4, rear_lever=1.4, front_rate=2e4, rear_rate=2e4)


def textbook_car(inputs: dict[str, float]) -> Vehicle:
    """Return the full vehicle as a textbook's body on two springs: axles next to massless, tyres stiff.

    The body's centre stands at wheel height, since a higher one tips over the axles, which the textbook leaves out.
    Springs are raised so that with the tyres in series they give the axle's rate.
    """
    tyre = dataclasses.replace(TYRE, vertical_stiffness=5e6, vertical_damping=0.0, toe=1e-7)
    heave, roll = np.linspace(-0.15, 0.15, 5), np.linspace(-0.2, 0.2, 5)
    h, r = np.meshgrid(heave, roll, indexing="ij")
    base = inputs["front_lever"] + inputs["rear_lever"]
    height = 0.36

    def end(x: float, axle_rate: float, load: float) -> AxleParts:
        wheel = 0.5 * axle_rate
        rate = wheel * tyre.vertical_stiffness / (tyre.vertical_stiffness - wheel)
        length = np.stack([0.4 - h - 0.75 * r, 0.4 - h + 0.75 * r], -1)
        flat = np.zeros_like(h)
        free = 0.4 + load / rate + 0.5 * TOE  # a seated spring has lost half its soft start
        axle = AxleMap.of_rigid(
            heave=heave, roll=roll, centre_x=flat + x, centre_y=flat, centre_z0=height, design_x=x, pitch=flat,
            yaw=flat, spring=length, damper=length, stop=length + 0.5, steer=np.zeros((*h.shape, 2)), energy=flat,
            track=TRACK,
        )  # fmt: skip
        return AxleParts(
            axle=axle,
            mass=MassState(mass=2e-3, centre=(x, 0.0, height), inertia=(2e-3, 2e-3, 2e-3)),
            spin_inertia=0.0,
            spring_rate=(rate, rate),
            spring_length=(free, free),
            stop_height=0.1,
            stop_compression=np.linspace(0.0, 0.1, 8),
            stop_force=np.linspace(0.0, 1e5, 8),
            damper=linear_damper(0.0),
            bar_rate=0.0,
            # as much larger as it sinks, so that the body rests level
            tyre=dataclasses.replace(tyre, free_radius=height + tyre.deflection(load + 0.5 * 2e-3 * GRAVITY)),
        )

    mass = inputs["mass"]
    loads = [0.5 * mass * GRAVITY * inputs[lever] / base for lever in ("rear_lever", "front_lever")]
    return Vehicle(
        body=MassState(
            mass=mass,
            centre=(-inputs["front_lever"], 0.0, height),
            inertia=(0.3 * mass, mass * inputs["gyration"] ** 2, 1.5 * mass),
        ),
        front=end(0.0, inputs["front_rate"], loads[0]),
        rear=end(-base, inputs["rear_rate"], loads[1]),
    )


@pytest.mark.parametrize("name", CASES)
def test_linear_twin_of_the_full_vehicle(name: str) -> None:
    """The full vehicle's modes come within 1e-5 of the textbook's frequencies and 1e-4 of its mode shapes.

    The shape is held as the angle whose tangent is the node's distance in metres: a node tens of metres off, next to
    pure bounce, moves by metres with a millionth of the mass.
    """
    inputs, *_ = CASES[name]
    ride = bounce_pitch(**inputs)
    model = linearise(textbook_car(inputs), speed=0.0)
    place = {s: i for i, s in enumerate(model.states)}
    moving = [
        m for m in model.modes
        if 0.0 < m.frequency < 5.0 and m.shares["body heave"] + m.shares["body pitch"] > 0.99
    ]  # fmt: skip
    assert len(moving) == 2
    for mode, frequency, node in zip(moving, ride.frequency, ride.node, strict=True):
        print(f"{name}: {mode.frequency / frequency - 1.0:+.1e}")
        assert mode.frequency == pytest.approx(frequency, rel=1e-5)
        ratio = mode.vector[place["height"]] / mode.vector[place["pitch"]]
        assert abs(ratio.imag) < 1e-3 * abs(ratio.real)
        assert math.atan(ratio.real) == pytest.approx(math.atan(node), abs=1e-4)
