"""Manoeuvres against published forms: the single-track model, ISO lanes and passing times.

Sources: a worked example on a public page (inputs seen, answer derived; a close relative of Wong, ex. 5.1); Gillespie
1992, ch. 6 and Bundorf, Leffert, SAE 760713 (from memory) for the single-track model; ISO 3888-1 lengths and offset
from a public code, widths from memory; ISO 7401 and ISO 4138 definitions from memory; SciPy's lsim for the linear
answer.
"""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from motion_vehicles import RADIUS, TYRE, WHEELBASE, axle_parts, linear_damper, track_rod_axle
from scipy.signal import StateSpace, lsim

from tussock.mechanics.mass import MassState
from tussock.mechanics.measures import handling as m
from tussock.mechanics.motion import Steering, Vehicle, settle
from tussock.mechanics.motion.air import Body, Lorry
from tussock.mechanics.motion.driver import Driver
from tussock.mechanics.motion.lane import double_lane_change
from tussock.mechanics.motion.manoeuvres import Circle, HandWheel, Manoeuvre, perform
from tussock.mechanics.motion.single_track import SingleTrack, single_track
from tussock.mechanics.roads import Track

POUND, FOOT = 4.4482216152605, 0.3048


def flat_vehicle() -> Vehicle:
    """A full vehicle that comes near to the single-track model: low, stiff in roll, tyres at once and far from grip."""
    tyre = dataclasses.replace(
        TYRE,
        pneumatic_trail=0.0,
        friction=20.0,
        relaxation_length=0.03,
        camber_gain=0.0,
        carcass_time=0.0,
        vertical_stiffness=2e6,
    )
    common = {"tyre": tyre, "bar_rate": 3e6, "damper": linear_damper(6e3), "wheel_inertia": 0.01, "spin_inertia": 0.01}
    rod = {"rod_body": (40.0, 0.0), "rod_axle": (-40.0, 0.0), "seat": 0.46}
    front = axle_parts(track_rod_axle(design_x=0.0, arm=60.0, **rod), mass=20.0, rate=60e3, load=3650.0, **common)
    rear = axle_parts(
        track_rod_axle(design_x=-WHEELBASE, arm=-60.0, **rod), mass=20.0, rate=60e3, load=3350.0, **common
    )
    light = {"inertia": (11.0, 2.0, 11.0)}
    front = dataclasses.replace(front, mass=dataclasses.replace(front.mass, **light))
    rear = dataclasses.replace(rear, mass=dataclasses.replace(rear.mass, **light))
    body = MassState(mass=1500.0, centre=(-1.25, 0.0, 0.05), inertia=(500.0, 2300.0, 2500.0))
    return Vehicle(body=body, front=front, rear=rear)


@pytest.fixture(scope="module")
def vehicle() -> Vehicle:
    return flat_vehicle()


def flat(length: float) -> Track:
    level = np.zeros(round(length / 0.05) + 1)
    return Track(spacing=0.05, left=level, right=level)


def test_understeer_and_characteristic_speed_of_the_worked_example() -> None:
    """E3: W 4520 lb, L 10.5 ft, centre at 0.45 L, 8750 and 8600 lb/rad a tyre: 0.02380 rad/g, 119.2 ft/s (g 32.2)."""
    length, gravity = 10.5 * FOOT, 32.2 * FOOT
    track = SingleTrack(
        mass=4520.0 * POUND / gravity,
        yaw_inertia=4000.0,
        front=0.45 * length,
        rear=0.55 * length,
        front_stiffness=2.0 * 8750.0 * POUND,
        rear_stiffness=2.0 * 8600.0 * POUND,
    )
    assert track.understeer_gradient * gravity == pytest.approx(0.02380, abs=5e-6)
    assert track.characteristic_speed / FOOT == pytest.approx(119.2, abs=0.05)
    # the yaw gain is greatest there, half of what a neutral vehicle has
    speeds = np.linspace(5.0, 70.0, 6501)
    gains = [track.yaw_gain(float(v)) for v in speeds]
    assert speeds[int(np.argmax(gains))] == pytest.approx(track.characteristic_speed, abs=0.02)
    assert max(gains) == pytest.approx(0.5 * track.characteristic_speed / length, rel=1e-6)


@pytest.mark.parametrize("speed", [15.0, 25.0, 100.0 / 3.6])
def test_a_step_of_the_hand_wheel_is_the_single_tracks(vehicle: Vehicle, speed: float) -> None:
    """Yaw rate over time against SciPy's lsim, and the steady gain U / (L + K U^2); full vehicle reduced to the model.

    Within 2.5 % of the steady value all along: what is left is a little roll, tyre lag and load transfer.
    """
    track, hand, ratio = single_track(vehicle), 0.1, 17.5
    asked = Manoeuvre(name="step", ratio=ratio, hand=HandWheel(at=0.5 * speed, corners=((0.0, 0.0), (0.1, hand))))
    run, demand = perform(vehicle, flat(4.0 * speed), asked, speed=speed, rest=settle(vehicle), every=1)
    a, b = track.matrices(speed)
    times = np.arange(run.time.size) * 1e-3
    system = StateSpace(a, b[:, None], np.array([[0.0, 1.0]]), np.zeros((1, 1)))
    steer = np.asarray(demand.steer)[: run.time.size]
    want = lsim(system, steer, times)[1]
    steady = track.yaw_gain(speed) * hand / ratio
    assert float(run.velocity[-1, 2]) == pytest.approx(steady, rel=0.01)
    assert float(np.abs(run.velocity[:, 2] - want).max()) < 0.025 * steady
    got = m.step_response(run.time, run.velocity[:, 2], run.steer)
    linear = m.step_response(times, want, steer)
    assert got.response_time == pytest.approx(linear.response_time, abs=0.01)
    assert got.overshoot == pytest.approx(linear.overshoot, abs=0.02)


def test_an_elastic_steering_softens_the_front_axle(vehicle: Vehicle) -> None:
    """Cornering compliance (Bundorf, Leffert, SAE 760713, from memory): what trail over stiffness gives adds to it."""
    steering = Steering(inertia=2.0, stiffness=15e3, damping=40.0, caster=math.radians(5.0), ratio=17.5)
    front = dataclasses.replace(vehicle.front, tyre=dataclasses.replace(vehicle.front.tyre, pneumatic_trail=0.025))
    soft = dataclasses.replace(vehicle, steering=steering, front=front)
    track, stiff = single_track(soft), single_track(vehicle)
    radius = TYRE.free_radius
    trail = radius * math.tan(math.radians(5.0)) + 0.025
    assert 1.0 / track.front_stiffness == pytest.approx(1.0 / stiff.front_stiffness + trail / 15e3, rel=0.01)
    speed, hand = 25.0, 0.1
    asked = Manoeuvre(name="step", ratio=17.5, hand=HandWheel(at=10.0, corners=((0.0, 0.0), (0.1, hand))))
    run, _ = perform(soft, flat(5.0 * speed), asked, speed=speed, rest=settle(soft), every=10)
    assert float(run.velocity[-1, 2]) == pytest.approx(track.yaw_gain(speed) * hand / 17.5, rel=0.03)
    assert track.yaw_gain(speed) < 0.9 * stiff.yaw_gain(speed)


def test_the_circle_gives_the_single_tracks_gradient(vehicle: Vehicle) -> None:
    """delta = L / R + K a_y over a slow run round a circle (ISO 4138, constant radius)."""
    track, radius = single_track(vehicle), 100.0
    time = np.arange(0.0, 50.0, 1e-3)
    speed = 5.0 + 0.3 * np.maximum(time - 8.0, 0.0)
    asked = Manoeuvre(name="circle", ratio=17.5, driver=Driver(), circle=Circle(at=5.0, radius=radius))
    run, _ = perform(vehicle, flat(float(speed.sum()) * 1e-3 + 1.0), asked, speed=speed, rest=settle(vehicle), every=20)
    use = run.time > 12.0
    lateral = speed[19::20][: run.time.size][use] * run.velocity[use, 2]
    got = m.turn_gradients(
        lateral=lateral, steer=run.steer[use], roll=run.position[use, 5], sideslip=np.zeros(int(use.sum()))
    )
    assert got.understeer == pytest.approx(track.understeer_gradient, abs=0.02 * track.wheelbase / radius)
    level = np.interp(1.0, lateral, run.steer[use])
    assert level == pytest.approx(track.wheelbase / radius + track.understeer_gradient, rel=0.02)


def test_the_lane_of_iso_3888_1() -> None:
    """Lengths 15, 30, 25, 25, 15 m and 15 m to leave, offset 3.5 m (public code); widths from memory."""
    b = 1.85
    lane = double_lane_change(width=b)
    assert [(g.start, g.end) for g in lane.gates] == [(0.0, 15.0), (45.0, 70.0), (95.0, 125.0)]
    assert [g.width for g in lane.gates] == pytest.approx([1.1 * b + 0.25, 1.2 * b + 0.25, 1.3 * b + 0.25])
    assert [g.centre for g in lane.gates] == [0.0, 3.5, 0.0]
    assert [g.centre for g in double_lane_change(width=b, left=False).gates] == [0.0, -3.5, 0.0]
    along, across = lane.cones()
    assert (along.min(), along.max()) == (0.0, 125.0)
    assert across.max() == pytest.approx(3.5 + 0.5 * (1.2 * b + 0.25))


@pytest.mark.parametrize("width", [1.7, 1.85, 2.1])
def test_the_path_through_the_lane_is_as_gentle_as_one_may_be(width: float) -> None:
    """Between two gates the bend of constant size to and fro is the least sharp: 4 d / l^2 for d sideways over l.

    Over the 30 m that are free that would be the bound if the path entered them straight; it may use what the gates
    leave, so it must lie below, and no path whatever lies below the bend over the whole length.
    """
    lane = double_lane_change(width=width)
    path = lane.path(width=width, before=40.0, after=40.0)
    bend = np.abs(np.gradient(np.gradient(path.y, path.spacing), path.spacing))[8:-8]
    room = [0.5 * (g.width - width) for g in lane.gates]
    least = 3.5 - room[0] - room[1]
    assert least * 4.0 / 70.0**2 < float(bend.max()) < 3.5 * 4.0 / 30.0**2
    # and it keeps clear of every cone
    half = 0.5 * width
    clear = lane.clearance(path.x, path.y + half, path.y - half)
    assert float(clear.min()) > 0.04


@pytest.mark.parametrize(("way", "vehicle_speed", "lorry_speed", "seconds"), [
    ("overtaken", 30.0, 25.0, 4.3), ("overtaken", 35.0, 25.0, 2.1), ("oncoming", 25.0, 25.0, 0.43),
])  # fmt: skip
def test_passing_times(way: str, vehicle_speed: float, lorry_speed: float, seconds: float) -> None:
    """t = (L_truck + L_car) / dV of 16.5 and 4.8 m: 4.3 s at 5 m/s, 2.1 s at 10 m/s, 0.43 s at 50 m/s (derived)."""
    lorry = Lorry(meets=0.0, speed=lorry_speed, way=way, side="left", length=16.5)  # type: ignore[arg-type]
    assert lorry.passing_time(vehicle_speed, 4.8) == pytest.approx(
        seconds, abs=0.5 * 10.0 ** -(1 if seconds > 1.0 else 2)
    )


def test_the_flow_of_a_lorry_is_that_of_a_source() -> None:
    """Rankine's source, m / r^2 away from it (any book on potential flow): its integral along a line is 2 m / d."""
    lorry = Lorry(meets=0.0, speed=20.0, way="oncoming", side="left", length=1e5)
    strength = 2.0 * lorry.width * lorry.height * lorry.speed / (4.0 * math.pi)
    away = 0.5 * (lorry.width + 1.8) + lorry.gap
    body = Body(area=2.7, wheelbase=WHEELBASE, width=1.8, height=2.0 * RADIUS, side=3.0, yaw=0.4, roll=1.0, drag=0.4)
    place = np.linspace(-400.0, 400.0, 80001)[None, :]
    wind = lorry.wind_across(place, np.zeros((1, 1)), speed=25.0, start=0.0, body=body)[0]
    assert float(np.trapezoid(-wind, place[0])) == pytest.approx(2.0 * strength / away, rel=1e-4)
