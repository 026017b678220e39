"""Textbook vehicles driven in time by the full non-linear vehicle, and a published car in a bend.

Sources
-------
[1] Load transfer of a passenger car, a public calculation (inputs seen, recomputed 1027.9 and 1004.4 N m/deg): 1288 kg,
    61 % in front, tracks 1.482 and 1.481 m, springs 48.9 and 80.2 N/mm at motion ratios 0.92 and 0.59, bars of 23 and
    19 mm, 1.008 and 1.026 m long, turning 0.096 and 0.201 deg/mm, G 80 GPa, centre 0.533 m high, roll centres 0.096 and
    0.168 m, no unsprung mass, no tyre: 49.4 % of the roll stiffness and 50.2 % of the load transfer at the rear.
[2] Rao, Mechanical Vibrations, frequencies and modes of an automobile (from memory, recomputed): 1000 kg, gyration
    0.9 m, 1.0 and 1.5 m, 18 and 22 kN/m: 5.8593 and 9.4341 rad/s.
[3] Course problem of the understeer gradient as in `test_motion_cornering_literature`: 0.02380 rad per g.

Textbook axles weigh nothing and their tyres do not give. Here each weighs 10 kg on tyres of 1 kN/mm or 30 kN/mm, which
moves the figures by the tolerances given: they are those of the stand-in, not of the print.
"""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from scipy.optimize import curve_fit
from test_motion_cornering_literature import FOOT, POUND, axle

from tussock.mechanics.arrays import Floats
from tussock.mechanics.mass import GRAVITY, MassState
from tussock.mechanics.motion import AxleParts, History, Vehicle, march, pack, settle, steady_bend
from tussock.mechanics.motion import kernels as k

pytestmark = pytest.mark.literature

LIGHT = 10.0  # mass of a stand-in for a textbook's axle [kg]


def on_tyres(parts: AxleParts, stiffness: float) -> AxleParts:
    """Return an axle on other tyres that stand as high under its load."""
    tyre = dataclasses.replace(parts.tyre, vertical_stiffness=stiffness)
    load = parts.tyre.reference_load
    return dataclasses.replace(
        parts, tyre=dataclasses.replace(tyre, free_radius=parts.axle.centre_z0 + tyre.deflection(load))
    )


def driven(vehicle: Vehicle, *, speed: float, steer: Floats, step: float, lift: Floats | None = None) -> History:
    """Return a run on a level road, the body lifted from rest by `lift` (13,) at the start."""
    rest = settle(vehicle)
    start = rest if lift is None else dataclasses.replace(rest, q=rest.q + lift)
    inputs = np.zeros((steer.size, k.INPUTS))
    inputs[:, k.IN_SPEED], inputs[:, k.IN_STEER] = speed, steer
    packed = pack(vehicle, lag=0.5 * step)
    return march(packed=packed, rest=start, inputs=inputs, step=step, every=10, gravity=vehicle.gravity)


def test_load_transfer_of_a_published_passenger_car() -> None:
    """Source 1, to the digits printed."""
    mass, base = 1288.0, 2.6  # the wheelbase is not given and does not count
    share = {"front": 0.61, "rear": 0.39}
    table = {
        "front": (0.0, 1.482, 48.9e3 * 0.92**2, 0.023, 1.008, 0.096, 0.096),
        "rear": (-base, 1.481, 80.2e3 * 0.59**2, 0.019, 1.026, 0.201, 0.168),
    }
    ends, stiffness = {}, {}
    for end, (x, track, wheel_rate, diameter, length, turns, centre) in table.items():
        springs = 0.5 * wheel_rate * track**2
        twist = math.radians(turns) * 1e3  # of the bar for each metre between the wheels [rad/m]
        bar = math.pi * diameter**4 * 80e9 / (32.0 * length) * (twist * track) ** 2
        stiffness[end] = springs + bar
        parts = axle(
            x=x, height=0.3, track=track, load=0.5 * share[end] * mass * GRAVITY, roll_rate=springs,
            roll_centre=centre, mass=0.5, cornering=8e4,
        )  # fmt: skip
        ends[end] = dataclasses.replace(parts, bar_rate=bar)
    body = MassState(mass=mass, centre=(-0.39 * base, 0.0, 0.533), inertia=(450.0, 1900.0, 2000.0))
    bend = steady_bend(
        Vehicle(body=body, front=ends["front"], rear=ends["rear"]), speed=20.0, lateral_acceleration=0.2 * GRAVITY
    )
    front, rear = bend.transfer
    assert [math.radians(1.0) * stiffness[end] for end in ("front", "rear")] == pytest.approx([1027.9, 1004.4], abs=0.1)
    assert rear / (front + rear) == pytest.approx(0.502, abs=1e-3)
    # the moment about the ground, whatever the split, with the body's own shift by its roll about the roll axis
    whole = front * 1.482 + rear * 1.481
    arm = 0.533 - (0.096 + 0.39 * (0.168 - 0.096))
    assert whole == pytest.approx(mass * GRAVITY * (0.2 * 0.533 + arm * bend.roll), rel=1e-3)


def two_swings(t: Floats, *p: float) -> Floats:
    """Return two sines about a mean: amplitudes, angular frequencies and phases."""
    return np.asarray(p[0] * np.cos(p[1] * t + p[2]) + p[3] * np.cos(p[4] * t + p[5]) + p[6])


def test_free_bounce_and_pitch_in_time() -> None:
    """Source 2: let go from 10 mm nose down; both frequencies to 0.3 %, and no damping appears."""
    mass, a, b, tyres = 1000.0, 1.0, 1.5, 30e6
    ends = []
    for x, lever, rate in ((0.0, b, 18e3), (-(a + b), a, 22e3)):
        # springs that with the tyres in series give the textbook's axle rate
        whole = 2.0 * tyres * rate / (2.0 * tyres - rate)
        parts = axle(
            x=x, height=0.36, track=1.5, load=0.5 * mass * GRAVITY * lever / (a + b), roll_rate=whole * 0.5**2,
            roll_centre=0.36, mass=LIGHT, cornering=6e4,
        )  # fmt: skip
        ends.append(on_tyres(parts, tyres))
    body = MassState(mass=mass, centre=(-a, 0.0, 0.36), inertia=(300.0, mass * 0.9**2, 1500.0))
    lift = np.zeros(k.POSITIONS)
    lift[4] = 0.010
    # the axles stay on the ground, so that they move against the body
    lift[6], lift[8] = a * lift[4], -b * lift[4]
    run = driven(
        Vehicle(body=body, front=ends[0], rear=ends[1]), speed=0.0, steer=np.zeros(80_000), step=1e-4, lift=lift
    )
    pitch = run.position[:, 4]
    start = (0.005, 5.8, 0.0, 0.005, 9.5, 0.0, float(pitch.mean()))
    found, _ = curve_fit(two_swings, run.time, pitch, p0=start)
    print(f"{found[1]:.4f} and {found[4]:.4f} rad/s")
    assert sorted(np.abs(found[[1, 4]])) == pytest.approx([5.8593, 9.4341], rel=3e-3)
    assert np.abs(pitch[-8000 // 10 :]).max() > 0.8 * np.abs(pitch).max()


def test_yaw_gain_of_the_course_problem_in_time() -> None:
    """Source 3: steered gently at 25 m/s, the yaw rate settles at V / (L + K V^2 / g) times the steer."""
    weight, base, speed, angle = 4520.0 * POUND * GRAVITY, 10.5 * FOOT, 25.0, 2e-3
    ends = []
    for x, part, pounds in ((0.0, 0.55, 8750.0), (-base, 0.45, 8600.0)):
        parts = axle(
            x=x, height=0.3, track=1.5, load=0.5 * part * weight - 0.5 * LIGHT * GRAVITY, roll_rate=2e5,
            roll_centre=0.3, mass=LIGHT, cornering=pounds * POUND * GRAVITY,
        )  # fmt: skip
        ends.append(on_tyres(parts, 1e6))
    mass = weight / GRAVITY - 2.0 * LIGHT
    body = MassState(mass=mass, centre=(-0.45 * base, 0.0, 0.3), inertia=(0.3 * mass, mass, mass))
    t = np.arange(24_000) * 2.5e-4
    run = driven(
        Vehicle(body=body, front=ends[0], rear=ends[1]), speed=speed, steer=angle * np.clip(t, 0.0, 1.0), step=2.5e-4
    )
    yaw = float(run.velocity[-200:, 2].mean())
    print(f"gain {yaw / angle:.4f}, textbook {speed / (base + 0.02380 * speed**2 / GRAVITY):.4f} 1/s")
    assert yaw == pytest.approx(angle * speed / (base + 0.02380 * speed**2 / GRAVITY), rel=3e-3)
