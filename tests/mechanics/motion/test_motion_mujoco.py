"""The whole vehicle against MuJoCo, a general-purpose rigid-body engine, on the same hardpoints.

Three free bodies on eight rods, 0.2 ms steps in the engine, 1 ms in ours. Largest difference over the range of each
signal; 0.5 % is the limit.
"""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from motion_vehicles import TYRE
from mujoco_vehicle import Engine, LinkedVehicle, Motion, Road, as_motion, at_rest, linked_wagon

from tussock.mechanics.arrays import Floats
from tussock.mechanics.motion import Rest, Steering, Vehicle, march, pack, settle
from tussock.mechanics.motion import kernels as k

LIMIT = 0.005
STEP, FINE, EVERY = 1e-3, 2e-4, 5


def flat(_: float) -> tuple[Floats, Floats, Floats]:
    return np.zeros(4), np.zeros(4), np.zeros(4)


def left_hump(*, height: float, length: float, at: float, speed: float, wheelbase: float) -> Road:
    """A raised cosine under the left wheels alone, met by the rear axle a wheelbase later."""

    def road(t: float) -> tuple[Floats, Floats, Floats]:
        z, slope = np.zeros(4), np.zeros(4)
        for n, behind in ((0, 0.0), (2, wheelbase)):
            x = speed * t - behind - at
            if 0.0 < x < length:
                turn = 2.0 * np.pi / length
                z[n], slope[n] = 0.5 * height * (1.0 - np.cos(turn * x)), 0.5 * height * turn * np.sin(turn * x)
        return z, speed * slope, slope

    return road


def steered_by(steering: Steering | None) -> LinkedVehicle:
    """Return the wagon, its front wheels free to turn about king pins against a column if one is given."""
    linked = linked_wagon()
    return dataclasses.replace(linked, vehicle=dataclasses.replace(linked.vehicle, steering=steering))


def engine_run(road: Road, *, start: Floats, speed: float, seconds: float, steering: Steering | None = None) -> Motion:
    """Return the engine's motion, at the times of ours."""
    engine = Engine(steered_by(steering), timestep=FINE)
    engine.place(start, speed=speed)
    motion = engine.march(road, speed=speed, seconds=seconds, every=round(EVERY * STEP / FINE))
    parts = {name: getattr(motion, name)[1:] for name in ("time", "body", "axle", "steer")}
    return Motion(**parts)


def our_run(vehicle: Vehicle, road: Road, *, start: Rest, speed: float, seconds: float) -> tuple[Motion, Floats]:
    """Return our motion and wheel loads."""
    t = (np.arange(round(seconds / STEP)) + 0.5) * STEP
    inputs = np.zeros((t.size, k.INPUTS))
    for n, time in enumerate(t):
        inputs[n, 0:4], inputs[n, 4:8], inputs[n, 8:12] = road(time)
    inputs[:, k.IN_SPEED] = speed
    run = march(
        packed=pack(vehicle, lag=0.5 * STEP), rest=start, inputs=inputs, step=STEP, every=EVERY, gravity=vehicle.gravity
    )
    return as_motion(linked_wagon(), run.time, run.position), run.wheel_load


def misses(theirs: Motion, ours: Motion) -> dict[str, float]:
    """Return the largest difference over the range, by signal."""
    columns = {
        "body lateral": (theirs.body[:, 1], ours.body[:, 1]),
        "body heave": (theirs.body[:, 2], ours.body[:, 2]),
        "body pitch": (theirs.body[:, 4], ours.body[:, 4]),
        "body roll": (theirs.body[:, 5], ours.body[:, 5]),
    }
    for a, end in enumerate(("front", "rear")):
        for i, what in enumerate(("heave", "roll", "lateral")):
            columns[f"{end} axle {what}"] = (theirs.axle[:, a, i], ours.axle[:, a, i])
    assert np.abs(theirs.time - ours.time).max() < 1e-9
    out = {name: float(np.abs(x - y).max() / np.ptp(x)) for name, (x, y) in columns.items()}
    print(", ".join(f"{name} {100 * miss:.2f} %" for name, miss in out.items()))
    return out


def test_at_rest_the_engine_stays_where_we_settle() -> None:
    linked = linked_wagon()
    rest = settle(linked.vehicle)
    engine = Engine(linked, timestep=FINE)
    engine.place(rest.q, speed=0.0)
    motion = engine.march(flat, speed=0.0, seconds=0.2, every=50)
    print("drift", np.ptp(motion.body, axis=0), np.ptp(motion.axle, axis=0))
    assert np.ptp(motion.body[:, 2]) < 5e-6
    assert np.ptp(motion.axle[:, :, 0], axis=0).max() < 5e-6
    assert np.ptp(motion.body[:, 3:], axis=0).max() < 2e-5


def test_dropped_leaning_onto_its_wheels() -> None:
    """150 mm and 2.9 deg: all wheels off, stops hit."""
    vehicle = linked_wagon().vehicle
    rest = settle(vehicle)
    start = dataclasses.replace(rest, q=at_rest(rest, height=0.15, roll=0.05))
    theirs = engine_run(flat, start=start.q, speed=0.0, seconds=0.9)
    ours, loads = our_run(vehicle, flat, start=start, speed=0.0, seconds=0.9)
    assert loads.min() == 0.0
    assert loads.max() > 8000.0
    assert max(misses(theirs, ours).values()) < LIMIT


def test_driven_over_a_hump_on_one_side() -> None:
    """60 mm high, 1.2 m long, under the left wheels alone at 8 m/s. A tyre softer by two per cent would be seen."""
    vehicle, speed = linked_wagon().vehicle, 8.0
    road = left_hump(height=0.06, length=1.2, at=0.4, speed=speed, wheelbase=vehicle.wheelbase)
    start = settle(vehicle)
    theirs = engine_run(road, start=start.q, speed=speed, seconds=0.9)
    ours, loads = our_run(vehicle, road, start=start, speed=speed, seconds=0.9)
    assert loads.min() == 0.0
    assert loads.max() > 6000.0
    assert max(misses(theirs, ours).values()) < LIMIT
    soft = dataclasses.replace(TYRE, vertical_stiffness=0.98 * TYRE.vertical_stiffness)
    ends = [dataclasses.replace(end, tyre=soft) for end in vehicle.axles]
    other, _ = our_run(
        dataclasses.replace(vehicle, front=ends[0], rear=ends[1]), road, start=start, speed=speed, seconds=0.9
    )
    assert max(misses(theirs, other).values()) > LIMIT


@pytest.mark.parametrize(
    ("height", "caster", "ahead", "limit", "steer_limit"),
    [
        (0.006, 0.0, 0.0, LIMIT, 0.01),
        (0.006, 4.0, 0.0, LIMIT, 0.06),
        (0.06, 0.0, 0.0, 0.02, 0.03),
        (0.06, 0.0, 0.06, 0.01, 0.03),
    ],
)
def test_front_wheels_free_about_their_king_pins(
    height: float, caster: float, ahead: float, limit: float, steer_limit: float
) -> None:
    """Spinning wheels, tramp and an elastic column over a hump on one side at 12 m/s: 5 to 29 mrad of steer.

    The engine's king pins sit in the axle, ours turn and lean with it but carry the wheels' mass as they stand: on a
    low hump with upright pins the steer differs by 0.8 % of its range, with caster (the wheels' inertia about the
    forward direction then turns them too) by 5.3 %, and on a high hump with its 3 deg of axle roll by 2.6 %, the
    sideways motion by 1.7 %. With pins 60 mm ahead of the wheel centres, and 80 mm inward, the wheels' load turns
    them as the axle leans: the steer differs by 2.8 %, the sideways motion by 1.0 % (8.7 % and 6.8 % with pins that
    do not lean).
    """
    steering = Steering(
        inertia=3.0,
        stiffness=18e3,
        damping=60.0,
        caster=math.radians(caster),
        caster_offset=ahead,
        king_pin_offset=4.0 / 3.0 * ahead,
    )
    vehicle, speed = steered_by(steering).vehicle, 12.0
    road = left_hump(height=height, length=1.2, at=0.4, speed=speed, wheelbase=vehicle.wheelbase)
    start = settle(vehicle)
    theirs = engine_run(road, start=start.q, speed=speed, seconds=0.9, steering=steering)
    ours, _ = our_run(vehicle, road, start=start, speed=speed, seconds=0.9)
    steer = float(np.abs(theirs.steer - ours.steer).max() / np.ptp(theirs.steer))
    print(f"steer {100 * steer:.2f} % of {1e3 * np.ptp(theirs.steer):.1f} mrad")
    assert np.ptp(theirs.steer) > 4e-3
    assert max(misses(theirs, ours).values()) < limit
    assert steer < steer_limit
