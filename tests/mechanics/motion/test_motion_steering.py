"""Elastic steering, give of the bushes, combined slip: laws that hold for any vehicle, and figures worked by hand.

Sources: Gillespie, Fundamentals of Vehicle Dynamics (1992), chapter 8, moments about the king pins (from memory);
Wong, Theory of Ground Vehicles, friction ellipse (from memory).
"""

from __future__ import annotations

import dataclasses
import itertools

import numpy as np
import pytest
from full_vehicle import STEERING, full
from motion_energy import energy
from motion_vehicles import TYRE, linear_damper, mirrored, wagon
from motion_wheels import pick_up
from test_motion_conservation import corrugation, inputs_over, rough_track, steered

from tussock.errors import DomainError, SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.motion import History, Steering, Vehicle, march, pack, settle, simulate
from tussock.mechanics.motion import kernels as k
from tussock.mechanics.roads import Track

STEP = 1e-3


def level(length: float) -> Track:
    return Track(spacing=0.1, left=np.zeros(int(length / 0.1) + 1), right=np.zeros(int(length / 0.1) + 1))


def marched(vehicle: Vehicle, inputs: Floats, *, step: float = STEP, every: int = 1) -> History:
    return march(
        packed=pack(vehicle, lag=0.5 * step),
        rest=settle(vehicle),
        inputs=inputs,
        step=step,
        every=every,
        gravity=vehicle.gravity,
    )


def driven_by_hand(*, free: bool = False) -> Floats:
    """Return inputs of a lane change at 20 m/s, the hand wheel held or let go of at its end."""
    inputs = steered(wagon())
    inputs[:, k.IN_STEER_RATE] = np.gradient(inputs[:, k.IN_STEER], STEP)
    if free:
        inputs[1500:, k.IN_STEER] = inputs[1500, k.IN_STEER]
        inputs[1500:, k.IN_STEER_RATE] = 0.0
        inputs[1500:, k.IN_HANDS_OFF] = 1.0
    return inputs


def braked() -> Floats:
    """Return inputs of a stop from 20 to 8 m/s at 5 m/s^2 on a level road, in a gentle bend."""
    inputs = np.zeros((3000, k.INPUTS))
    t = (np.arange(3000) + 0.5) * STEP
    inputs[:, k.IN_ACCELERATION] = -5.0 * np.clip((t - 0.3) / 0.2, 0.0, 1.0) * np.clip((2.7 - t) / 0.2, 0.0, 1.0)
    inputs[:, k.IN_SPEED] = 20.0 + STEP * (np.cumsum(inputs[:, k.IN_ACCELERATION]) - 0.5 * inputs[:, k.IN_ACCELERATION])
    inputs[:, k.IN_BRAKING] = 1.0
    inputs[:, k.IN_STEER] = 0.01 * np.clip(t / 0.3, 0.0, 1.0)
    inputs[:, k.IN_STEER_RATE] = np.gradient(inputs[:, k.IN_STEER], STEP)
    return inputs


CASES = {
    "lane change": lambda v: driven_by_hand(),
    "hands off": lambda v: driven_by_hand(free=True),
    "one-sided corrugation": lambda v: inputs_over(v, corrugation(one_side=True), speed=9.0),
    "braking": lambda v: braked(),
}


@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize("make", [wagon, pick_up])
def test_energy_closes_with_steering_and_bushes(case: str, make: object) -> None:
    vehicle = full(make())  # type: ignore[operator]
    inputs = CASES[case](vehicle)
    run = marched(vehicle, inputs)
    packed, rest = pack(vehicle, lag=0.5 * STEP), settle(vehicle)
    ends = []
    for q, u, n in ((rest.q, np.zeros(k.SPEEDS), 0), (run.position[-1], run.velocity[-1], -1)):
        # the speed at the ends of the run; inputs stand half a step inside
        speed = inputs[n, k.IN_SPEED] + (0.5 + n) * STEP * inputs[n, k.IN_ACCELERATION]
        hand = inputs[n, k.IN_STEER] + (0.5 + n) * STEP * inputs[n, k.IN_STEER_RATE]
        road = inputs[n, :4] if n else np.zeros(4)
        ends.append(energy(vehicle, packed, q=q, u=u, speed=speed, road=road, hand=hand if n else 0.0))
    gained = ends[1] - ends[0] - float(run.work.sum())
    turned_over = float(np.abs(run.work).sum())
    print(f"{case}: {gained:.3f} J of {turned_over:.0f} J turned over, {100 * abs(gained) / turned_over:.4f} %")
    assert turned_over > 500.0
    assert abs(gained) < 1e-3 * turned_over


@pytest.mark.parametrize("make", [wagon, pick_up])
def test_mirrored_vehicle_moves_as_the_mirror_image(make: object) -> None:
    vehicle, track = full(make()), rough_track(length=90.0)  # type: ignore[operator]
    other = mirrored(vehicle)
    mirror = np.array([1, -1, -1, 1, 1, -1, 1, -1, 1, -1, -1, -1, -1])
    steer = 0.02 * np.sin(2.0 * np.pi * np.arange(int(90.0 / 18.0 / STEP)) / 3000.0)
    here = simulate(vehicle, track, speed=18.0, steer=steer)
    there = simulate(other, track.mirrored(), speed=18.0, steer=-steer)
    size = np.ptp(here.position, axis=0)
    assert size[10] > 0.02
    assert np.all(np.abs(there.position * mirror - here.position).max(0) <= 1e-9 * size)
    assert np.abs(there.steering_moment + here.steering_moment).max() < 1e-9 * np.ptp(here.steering_moment)


def test_halving_the_step_divides_the_error_by_four() -> None:
    """Steered and braked on a smooth road, without friction and impacts."""
    compression = np.linspace(0.0, 0.07, 64)
    smooth = {
        "damper": linear_damper(1800.0, gas=60.0, mount=9e5),
        "stop_compression": compression,
        "stop_force": 1e4 * compression,
        "stop_height": 0.02,
    }
    vehicle = full(wagon(front=dict(smooth), rear=dict(smooth)), friction=0.0)
    rest, total = settle(vehicle), 1.6

    def march_with(step: float) -> Floats:
        t = (np.arange(round(total / step)) + 0.5) * step
        inputs = np.zeros((t.size, k.INPUTS))
        inputs[:, k.IN_SPEED] = 18.0 - 2.0 * np.sin(np.pi * t / total) ** 4
        inputs[:, k.IN_ACCELERATION] = -8.0 * np.sin(np.pi * t / total) ** 3 * np.cos(np.pi * t / total) * np.pi / total
        inputs[:, k.IN_STEER] = 0.02 * np.sin(2.0 * np.pi * 0.7 * t) ** 3
        inputs[:, k.IN_STEER_RATE] = 0.12 * np.pi * 0.7 * np.sin(1.4 * np.pi * t) ** 2 * np.cos(1.4 * np.pi * t)
        s = 2.0 * np.pi * 1.3
        for n, phase in enumerate((0.0, 0.9, 1.7, 2.2)):
            inputs[:, n] = 0.012 * (1.0 - np.cos(s * t)) * np.cos(phase)
            inputs[:, 4 + n] = 0.012 * s * np.sin(s * t) * np.cos(phase)
        packed, every = pack(vehicle, lag=0.5 * step), round(0.02 / step)
        return march(packed=packed, rest=rest, inputs=inputs, step=step, every=every, gravity=vehicle.gravity).position

    runs = [march_with(h) for h in (1e-3, 5e-4, 2.5e-4)]
    errors = [np.sqrt(np.mean((a - b)[:, 3:] ** 2, axis=0)) for a, b in itertools.pairwise(runs)]
    moves = errors[1] > 0.0
    ratio = errors[0][moves] / errors[1][moves]
    print("error ratios on halving:", np.round(ratio, 2))
    assert moves.sum() == 8
    assert np.all((ratio > 3.6) & (ratio < 4.4))


def test_a_vehicle_at_rest_stays_there_with_its_wheels_as_they_stand() -> None:
    vehicle = full(wagon())
    inputs = np.zeros((2000, k.INPUTS))
    rest = settle(vehicle)
    run = marched(vehicle, inputs)
    assert rest.q[10] != 0.0  # the loads are not quite alike, and the king pins lean
    assert np.abs(run.position[:, 3:] - rest.q[3:]).max() < 2e-5


def test_a_stiff_column_is_a_rigid_one() -> None:
    """With all offsets away the king pin is the wheel's upright through its centre: the rigid steering's motion.

    On an axle that does not pitch: rigid steering turns wheels about the body's own upward direction.
    """
    base = wagon()
    flat = dataclasses.replace(base.front.axle, pitch=np.zeros_like(base.front.axle.pitch))
    base = dataclasses.replace(base, front=dataclasses.replace(base.front, axle=flat))
    elastic = dataclasses.replace(base, steering=Steering(inertia=0.5, stiffness=1e6, damping=200.0))
    inputs = driven_by_hand()
    step = 1e-4
    fine = np.repeat(inputs, 10, axis=0)[:20000]
    here = marched(base, fine, step=step, every=100).position[:, :10]
    there = marched(elastic, fine, step=step, every=100).position[:, :10]
    assert np.abs(there - here)[:, 1:].max(0) == pytest.approx(
        np.zeros(9), abs=2e-3 * np.ptp(here[:, 1:], axis=0).max()
    )


def circle(vehicle: Vehicle, *, steer: float, speed: float = 15.0) -> History:
    inputs = np.zeros((6000, k.INPUTS))
    inputs[:, k.IN_SPEED] = speed
    inputs[:, k.IN_STEER] = steer * np.clip(np.arange(6000) / 500.0, 0.0, 1.0)
    return marched(vehicle, inputs, every=10)


def test_moment_about_the_king_pins_is_the_sum_of_what_the_ground_does() -> None:
    """Side forces times trail, aligning moments, loads over caster and inclination, to first order in the angles."""
    vehicle = full(wagon(), friction=0.0, damper=0.0)
    run = circle(vehicle, steer=0.03)
    s, radius = STEERING, pack(vehicle, lag=0.0).axle[0, 9]
    side, load = run.side_force[-1, :2], run.wheel_load[-1, :2]
    sign = np.array([1.0, -1.0])
    lean, tilt, steer = np.tan(s.caster), np.tan(s.inclination), run.position[-1, 10]
    lifts = -sign * (lean * s.king_pin_offset + tilt * s.caster_offset)
    lifts += (lean * s.caster_offset - tilt * s.king_pin_offset) * steer
    ground = float(-side.sum() * s.trail(radius) + run.aligning_moment[-1, :2].sum() + load @ lifts)
    held = float(run.steering_moment[-1])
    print(f"hand wheel holds {held:.1f} N m about the king pins, {held / s.ratio:.2f} N m; by hand {-ground:.1f}")
    assert side.sum() > 1500.0
    assert held > 0.0  # towards the side that it is turned to: the wheels want back
    assert held == pytest.approx(-ground, rel=0.03)
    assert run.position[-1, 10] == pytest.approx(0.03 - held / s.stiffness, abs=1e-5)


def test_a_softer_column_understeers_more() -> None:
    rates = [circle(full(wagon(), stiffness=c), steer=0.03).velocity[-1, 2] for c in (6e3, 25e3, 1e5)]
    assert rates[0] < rates[1] < rates[2]


def test_side_force_makes_room_by_the_friction_ellipse() -> None:
    """A braked wheel holds sqrt(1 - (Fx / mu N)^2) of the side force that it would hold rolling freely."""
    vehicle = full(wagon())
    run = marched(vehicle, braked())
    n = 1500
    load, force = run.wheel_load[n], run.longitudinal_force[n]
    used = force / (TYRE.friction * load)
    print("share of friction used along the road:", np.round(np.abs(used), 2))
    assert np.all(force < 0.0)
    assert force[:2].sum() / force.sum() == pytest.approx(0.6, abs=1e-9)
    assert force.sum() == pytest.approx(run.traction[n], rel=1e-9)
    assert float(np.abs(used).min()) > 0.3
    # steady: the lag has passed, and what is held is that share of the brush's force at the same slip
    free = np.abs(run.side_force[n]) / np.sqrt(1.0 - used**2)
    assert np.all(free < TYRE.friction * load)
    ratio = run.aligning_moment[n] / run.side_force[n]
    assert np.all((ratio < 0.0) & (ratio > -TYRE.half_contact))


def test_more_than_the_tyres_hold_is_said_with_place_and_numbers() -> None:
    inputs = braked()
    inputs[:, k.IN_ACCELERATION] *= 1.9
    inputs[:, k.IN_SPEED] = 40.0 + STEP * np.cumsum(inputs[:, k.IN_ACCELERATION])
    with pytest.raises(
        SolverError, match=r"tyres of the rear axle cannot hold .* at 0\.[4-9]\d* s, .* times what friction"
    ):
        marched(full(wagon()), inputs)


def test_outboard_brakes_turn_the_axle_and_a_shaft_does_not() -> None:
    """A rigid axle that takes the torque dives or lifts by its links; one that does not feels force alone."""
    base = full(wagon())
    other = dataclasses.replace(base, front=dataclasses.replace(base.front, carries_brakes=False))
    pitch = [marched(v, braked()).position[1500, 6] for v in (base, other)]
    assert abs(pitch[0] - pitch[1]) > 1e-3


def test_brakes_on_one_side_turn_vehicle_and_wheels_to_it() -> None:
    """More brake force on the left: the vehicle yaws left, and with an axis inside the tread the wheels follow."""
    vehicle = full(wagon())
    inputs = braked()
    inputs[:, k.IN_STEER] = inputs[:, k.IN_STEER_RATE] = 0.0
    inputs[:, k.IN_SHARE : k.IN_SHARE + 4] = (0.1, -0.1, 0.0, 0.0)
    run = marched(vehicle, inputs)
    assert run.velocity[550, 2] > 0.01
    assert run.position[550, 10] > 1e-3
    inward = dataclasses.replace(vehicle, steering=dataclasses.replace(vehicle.steering, king_pin_offset=-0.02))
    assert marched(inward, inputs).position[550, 10] < 0.0


def test_wobble_needs_speed_and_a_damper_ends_it() -> None:
    """A knock on free wheels with little friction: without a damper it rings on longer than with one."""

    def ring(damper: float) -> float:
        vehicle = full(wagon(), damping=5.0, damper=damper, friction=2.0)
        inputs = np.zeros((2500, k.INPUTS))
        inputs[:, k.IN_SPEED] = 25.0
        t = (np.arange(2500) + 0.5) * STEP
        bump = 0.02 * np.sin(np.pi * np.clip((t - 0.1) / 0.04, 0.0, 1.0)) ** 2
        inputs[:, 0], inputs[:, 4] = bump, np.gradient(bump, STEP)
        run = marched(vehicle, inputs)
        late = run.position[400:900, 10]
        return float(np.ptp(late))

    assert ring(0.0) > 2.0 * ring(60.0)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"stiffness": 0.0}, "stiffness is 0; it must be positive"),
        ({"inertia": float("nan")}, "inertia is not a number"),
        ({"damper": -1.0}, "damper is -1; it cannot be negative"),
        ({"caster": 0.8}, "beyond 30 deg"),
    ],
)
def test_a_steering_that_cannot_be_is_refused(change: dict[str, float], words: str) -> None:
    with pytest.raises(DomainError, match=words):
        dataclasses.replace(STEERING, **change)
