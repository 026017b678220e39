"""Rest, road inputs, linear twin of the invented wagon, and refusal of what cannot be."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from motion_vehicles import TYRE, axle_parts, linear_damper, mirrored, rear_map, wagon
from scipy.interpolate import PchipInterpolator

from tussock.errors import DomainError, SolverError
from tussock.mechanics.mass import Item, MassState
from tussock.mechanics.motion import DamperParts, Still, linearise, march, pack, road_inputs, settle, simulate
from tussock.mechanics.motion import kernels as k
from tussock.mechanics.motion.linear_system import INPUT_COLUMNS, STATES
from tussock.mechanics.motion.spline import channels, fit
from tussock.mechanics.motion.vehicle import repack
from tussock.mechanics.roads import Track


def level(length: float = 60.0, *, height: float = 0.0) -> Track:
    """Return a level road."""
    n = int(length / 0.05) + 1
    return Track(spacing=0.05, left=np.full(n, height), right=np.full(n, height))


def test_rest_carries_the_weight_with_the_right_moments() -> None:
    """Wheel loads hold weight and moments of all masses about the ground's axes, with the axles where they stand."""
    vehicle = wagon()
    rest = settle(vehicle)
    g = vehicle.gravity
    assert rest.wheel_load.sum() == pytest.approx(vehicle.total_mass * g, rel=1e-9)
    front = rest.wheel_load[:2].sum() / rest.wheel_load.sum()
    masses = [vehicle.body, vehicle.front.mass, vehicle.rear.mass]
    centre = sum(m.mass * m.centre[0] for m in masses) / vehicle.total_mass
    # the axles move a few mm on their arms' arcs and the body leans by minutes of arc
    assert front == pytest.approx(1.0 + centre / vehicle.wheelbase, abs=2e-3)
    lean = (rest.wheel_load[[0, 2]] - rest.wheel_load[[1, 3]]).sum() * 0.75 / (vehicle.total_mass * g)
    offset = vehicle.body.mass * vehicle.body.centre[1] / vehicle.total_mass
    assert lean == pytest.approx(offset, abs=4e-3)
    assert lean > offset  # a body that leans over moves its centre further out


def test_rest_stays_at_rest() -> None:
    """Set down where `settle` says, on a level road, the vehicle does not move: the rest is an equilibrium."""
    vehicle = wagon()
    rest = settle(vehicle)
    inputs = np.zeros((2000, k.INPUTS))
    run = march(packed=pack(vehicle, lag=5e-4), rest=rest, inputs=inputs, step=1e-3, every=10, gravity=vehicle.gravity)
    assert np.abs(run.position[:, 3:] - rest.q[3:]).max() < 2e-5
    assert np.abs(run.wheel_load - rest.wheel_load).max() < 5.0


def test_a_rest_begun_elsewhere_or_packed_from_another_is_the_same() -> None:
    """Where Newton begins moves the rest by rounding only; nor does taking the arrays of one before."""
    vehicle = wagon()
    front = vehicle.front.on_springs(
        (1.2 * vehicle.front.spring_rate[0], 0.9 * vehicle.front.spring_rate[1]),
        (vehicle.front.spring_length[0] + 0.01, vehicle.front.spring_length[1] - 0.01),
    )
    body = vehicle.body.with_items([Item(name="load", mass=300.0, at=(-2.4, 0.3, 1.1))])
    laden = dataclasses.replace(vehicle, body=body, front=front)
    near = settle(vehicle)
    cold, warm = settle(laden), Still(vehicle).other(laden).rest(start=near.q)
    assert np.abs(cold.body_height - near.body_height).max() > 0.01
    np.testing.assert_allclose(warm.q, cold.q, atol=1e-11)
    np.testing.assert_allclose(warm.wheel_load, cold.wheel_load, rtol=1e-9)
    packed, other = (pack(laden, lag=0.0), repack(pack(vehicle, lag=0.0), laden))
    for name in ("body", "axle", "wheel", "table", "grid", "inverse", "stops"):
        np.testing.assert_array_equal(getattr(other, name), getattr(packed, name))


@settings(max_examples=15, deadline=None)
@given(load=st.floats(0.0, 600.0), x=st.floats(-2.9, 0.3), y=st.floats(-0.4, 0.4))
def test_load_is_carried_and_mirrors(load: float, x: float, y: float) -> None:
    vehicle = wagon()
    body = vehicle.body
    laden = dataclasses.replace(
        vehicle,
        body=dataclasses.replace(
            body,
            mass=body.mass + load,
            centre=tuple(
                (body.mass * c + load * o) / (body.mass + load) for c, o in zip(body.centre, (x, y, 0.9), strict=True)
            ),
        ),
    )
    rest, image = settle(laden), settle(mirrored(laden))
    assert rest.wheel_load.sum() == pytest.approx(laden.total_mass * laden.gravity, rel=1e-8)
    np.testing.assert_allclose(image.wheel_load[[1, 0, 3, 2]], rest.wheel_load, rtol=1e-6)
    np.testing.assert_allclose(image.body_height[[1, 0, 3, 2]], rest.body_height, atol=1e-8)


def test_stiffer_front_springs_lift_the_front() -> None:
    low = settle(wagon())
    stiff = wagon(front={"spring_length": tuple(s + 0.03 for s in wagon().front.spring_length)})
    high = settle(stiff)
    assert high.body_height[:2].mean() - low.body_height[:2].mean() == pytest.approx(0.03, abs=0.006)


def test_modes_of_the_wagon_are_those_of_a_wagon() -> None:
    """Body 1.0 to 1.6 Hz, hop and tramp 8 to 15 Hz, damping 0.1 to 0.45: common practice, no source."""
    model = linearise(wagon(), speed=20.0)
    assert model.stable
    assert model.fastest * 1e-3 < 0.6
    for shape in ("body heave", "body pitch", "body roll"):
        mode = model.mode(shape)
        print(f"{shape}: {mode.frequency:.2f} Hz, damping {mode.damping:.2f}")
        assert 1.0 < mode.frequency < 1.6
        assert 0.1 < mode.damping < 0.45
    for shape in ("front axle hop", "front axle tramp", "rear axle hop", "rear axle tramp"):
        mode = model.mode(shape)
        print(f"{shape}: {mode.frequency:.2f} Hz, damping {mode.damping:.2f}")
        assert 8.0 < mode.frequency < 15.0
        assert 0.1 < mode.damping < 0.45
    assert sum(model.modes[0].shares.values()) == pytest.approx(1.0)
    with pytest.raises(SolverError, match="no swinging mode for 'bounce'"):
        model.mode("bounce")


def test_linear_twin_follows_the_engine_on_small_inputs() -> None:
    """A steer step of a hundredth of a degree and a 20 micrometre wave: engine and twin within 0.3 % of range."""
    plain = {"damper": linear_damper(1800.0, gas=60.0, mount=9e5)}
    vehicle = wagon(front=dict(plain), rear=dict(plain))
    model = linearise(vehicle, speed=20.0)
    step, n = 5e-4, 4000
    t = (np.arange(n) + 0.5) * step
    inputs = np.zeros((n, k.INPUTS))
    inputs[:, 12] = 20.0
    inputs[:, 14] = np.where(t > 0.1, 1e-4, 0.0)
    wave = 2e-5 * np.sin(2.0 * np.pi * 3.0 * t) ** 2
    inputs[:, 0] = wave
    inputs[:, 4] = 2e-5 * 2.0 * np.pi * 3.0 * np.sin(4.0 * np.pi * 3.0 * t)
    start = settle(vehicle)
    q, u, local = model.running
    held = inputs.copy()
    held[:, k.IN_STEER] += model.steer
    run = march(
        packed=pack(vehicle, lag=0.5 * step),
        rest=dataclasses.replace(start, q=q, local=local),
        inputs=held,
        step=step,
        every=1,
        gravity=vehicle.gravity,
        velocity=u.copy(),
    )
    columns = list(INPUT_COLUMNS.values())
    x = np.zeros(model.a.shape[0])
    left = np.eye(x.size) - 0.5 * step * model.a
    right = np.eye(x.size) + 0.5 * step * model.a
    advance, push = np.linalg.solve(left, right), np.linalg.solve(left, step * model.b)
    names = (*STATES[:7], *STATES[k.POSITIONS - 3 : k.POSITIONS + 6])  # without the steering's and the frame's own
    at = [model.states.index(name) for name in names]
    twin = np.zeros((n, 16))
    for i in range(n):
        x = advance @ x + push @ inputs[i, columns]
        twin[i] = x[at]
    engine = np.hstack([run.position[:, 3:10], run.velocity[:, :9]]) - model.trim[at]
    for name, a, b in zip(names, engine.T, twin.T, strict=True):
        size = np.ptp(b)
        assert np.abs(a - b).max() < 3e-3 * size, name


def test_wheel_lifts_and_the_body_falls_freely_when_the_road_drops_away() -> None:
    drop = level(40.0)
    x = drop.distance
    fall = np.where(x > 20.0, -0.6, 0.0)
    run = simulate(wagon(), Track(spacing=0.05, left=fall, right=fall), speed=15.0, every=1)
    assert run.wheel_load.min() == 0.0
    assert run.wheel_load.max() > 8000.0
    assert np.all(np.isfinite(run.position))


def test_rear_wheels_follow_by_the_wheelbase() -> None:
    x = np.arange(801) * 0.05
    hump = 0.05 * np.exp(-(((x - 15.0) / 0.4) ** 2))
    track = Track(spacing=0.05, left=hump, right=0.5 * hump)
    height, rate, slope = road_inputs(track, speed=10.0, wheelbase=2.5, step=1e-3, contact_length=0.15)
    np.testing.assert_allclose(height[250:, 2], height[:-250, 0], atol=1e-12)
    np.testing.assert_allclose(height[:, 1], 0.5 * height[:, 0], atol=1e-12)
    assert height[:, 0].max() == pytest.approx(0.05, rel=0.02)
    assert 1e-3 * (np.argmax(height[:, 0]) + 0.5) == pytest.approx(1.5, abs=2e-3)
    np.testing.assert_allclose(rate, 10.0 * slope, rtol=1e-14)
    middle = 0.5 * (rate[1:] + rate[:-1])
    np.testing.assert_allclose(np.diff(height, axis=0), middle * 1e-3, atol=2e-6)


def test_contact_patch_averages_the_road() -> None:
    """A moving average of length L lets a wave of length w through by sin(pi L / w) / (pi L / w): textbook."""
    x = np.arange(20001) * 0.005
    wave = 0.4
    track = Track(spacing=0.005, left=0.01 * np.sin(2.0 * np.pi * x / wave), right=0.0 * x)
    height, _, _ = road_inputs(track, speed=1.0, wheelbase=2.5, step=1e-3, contact_length=0.2)
    expected = 0.01 * math.sin(math.pi * 0.2 / wave) / (math.pi * 0.2 / wave)
    assert height[20000:60000, 0].max() == pytest.approx(expected, rel=1e-3)


def test_road_that_starts_off_its_datum_is_faded_in() -> None:
    track = level(40.0, height=0.12)
    height, rate, _ = road_inputs(track, speed=10.0, wheelbase=2.7, step=1e-3, contact_length=0.15)
    assert abs(height[0, 0]) < 1e-6
    assert height[-1, 0] == pytest.approx(0.12)
    assert np.abs(np.diff(rate, axis=0)).max() < 0.01


def test_speed_profile_brakes_the_vehicle_and_the_nose_dives() -> None:
    speed = np.concatenate([np.full(500, 15.0), 15.0 - 3.0 * np.arange(1500) * 1e-3])
    run = simulate(wagon(), level(60.0), speed=speed, every=1)
    still = settle(wagon())
    assert run.position[-1, 0] == pytest.approx(speed.sum() * 1e-3, rel=1e-6)
    assert run.position[-1, 4] > still.pitch + 0.005
    assert run.traction[-200:].mean() == pytest.approx(-1750.0 * 3.0, rel=0.03)
    front = run.wheel_load[-200:, :2].sum(1).mean() - still.wheel_load[:2].sum()
    # load transfer m a h / L, all masses; the pitched body's shift of its centre adds little: textbook
    height = (1460.0 * still.q[3] + 290.0 * 0.361) / 1750.0
    assert front == pytest.approx(1750.0 * 3.0 * height / 2.7, rel=0.05)


def test_steady_turn_shifts_the_load_that_the_centre_of_mass_asks_for() -> None:
    """Total load transfer is m a_y h over the track plus the centre's shift in roll (static moments, any textbook)."""
    t = np.arange(6000) * 1e-3
    steer = 0.02 * np.clip(t / 1.0, 0.0, 1.0)
    run = simulate(wagon(), level(100.0), speed=15.0, steer=np.resize(steer, int(100.0 / 15.0 / 1e-3)), every=1)
    still = settle(wagon())
    last = slice(5500, 5900)
    ay = 15.0 * run.velocity[last, 2].mean()
    moved = run.wheel_load[last] - still.wheel_load
    moved_right = moved[:, [1, 3]].sum(1).mean()
    h = (1460.0 * still.q[3] + 290.0 * 0.361) / 1750.0
    roll = run.position[last, 5].mean() - still.body_roll
    shift = 1460.0 * 9.80665 * roll * still.q[3]
    transfer = (1750.0 * ay * h + shift) / 1.5
    print(f"{ay:.2f} m/s^2, roll {math.degrees(roll):.2f} deg, transfer {moved_right:.0f} N of {transfer:.0f} N")
    assert 1.0 < ay < 6.0
    assert roll > 0.0
    assert moved_right == pytest.approx(transfer, rel=0.06)


def test_outside_side_force_is_held_by_the_tyres() -> None:
    n = int(60.0 / 15.0 / 1e-3)
    force = np.full(n, 400.0)
    run = simulate(wagon(), level(60.0), speed=15.0, side_force=force, every=1)
    calm = simulate(wagon(), level(60.0), speed=15.0, every=1)
    assert run.position[-1, 1] > calm.position[-1, 1] + 0.05


def test_every_node_of_a_table_is_met() -> None:
    axle = rear_map()
    values = channels(axle, wagon().rear.stored)
    packed = pack(wagon(), lag=0.0)
    for i, h in enumerate(axle.heave):
        for j, r in enumerate(axle.roll):
            out = packed.axle_at(1, float(h), float(r))
            np.testing.assert_allclose(out[0, : values.shape[2]], values[i, j], atol=1e-9, rtol=1e-12)


def test_table_slopes_and_curvature_are_its_own() -> None:
    packed = pack(wagon(), lag=0.0)
    h, r, dh, dr, e = 0.033, -0.071, 0.8, -1.3, 1e-4
    out = packed.axle_at(0, h, r, dh, dr)
    ahead = packed.axle_at(0, h + e * dh, r + e * dr)
    behind = packed.axle_at(0, h - e * dh, r - e * dr)
    along = (ahead[0] - behind[0]) / (2.0 * e)
    np.testing.assert_allclose(out[1] * dh + out[2] * dr, along, rtol=1e-6, atol=1e-6)
    bend = (ahead[0] - 2.0 * out[0] + behind[0]) / e**2
    np.testing.assert_allclose(out[3], bend, rtol=1e-3, atol=1e-4)


def test_damper_force_in_a_run_lies_on_its_curve() -> None:
    """With rigid mounts and no friction every logged pair of speed and force is a point of the dyno curve."""
    damper = DamperParts(
        velocity=np.array([-1.0, -0.3, -0.1, 0.0, 0.1, 0.3, 1.0]),
        force=np.array([-1900.0, -1000.0, -500.0, 0.0, 220.0, 450.0, 900.0]),
    )
    x = np.arange(801) * 0.05
    track = Track(spacing=0.05, left=0.02 * np.sin(3.0 * x), right=0.02 * np.sin(3.1 * x))
    run = simulate(wagon(front={"damper": damper}, rear={"damper": damper}), track, speed=8.0, every=1)
    curve = PchipInterpolator(damper.velocity, damper.force)
    inside = np.abs(run.damper_velocity) < 1.0
    assert np.abs(run.damper_velocity[inside]).max() > 0.2
    # the logged speed is the rod's, a ten-millionth of the force below the whole: the stand-in for a rigid mount
    whole = run.damper_velocity + run.damper_force / 1e7
    assert np.abs(run.damper_force - curve(whole))[inside].max() < 0.2
    # beyond the last point the curve goes on straight
    fast = run.damper_velocity > 1.0
    straight = 900.0 + float(curve.derivative()(1.0)) * (whole - 1.0)
    assert fast.any()
    assert np.abs(run.damper_force - straight)[fast].max() < 0.2


def test_friction_holds_a_damper_that_hardly_moves() -> None:
    damper = linear_damper(1500.0, friction=60.0, mount=9e5)
    x = np.arange(1201) * 0.05
    track = Track(spacing=0.05, left=4e-5 * np.sin(2.0 * x), right=4e-5 * np.sin(2.0 * x))
    run = simulate(wagon(front={"damper": damper}, rear={"damper": damper}), track, speed=6.0, every=1)
    assert np.abs(run.damper_force).max() < 60.0
    assert np.abs(run.damper_velocity).max() < 1e-9


def test_acceleration_of_a_point_is_the_second_derivative_of_its_path() -> None:
    x = np.arange(801) * 0.05
    track = Track(spacing=0.05, left=0.02 * np.sin(1.5 * x), right=0.015 * np.sin(1.6 * x))
    vehicle = wagon()
    run = simulate(vehicle, track, speed=10.0, every=1)
    lever = np.array([0.4, 0.3, 0.5])
    q = run.position
    place = np.zeros((q.shape[0], 3))
    axes = np.zeros((q.shape[0], 3, 3))
    for i, (px, py, yaw, z, pitch, roll) in enumerate(q[:, :6]):
        cz, sz, cy, sy, cx, sx = np.cos(yaw), np.sin(yaw), np.cos(pitch), np.sin(pitch), np.cos(roll), np.sin(roll)
        axes[i] = (
            np.array([[cz, -sz, 0], [sz, cz, 0], [0, 0, 1]])
            @ np.array([[cy, 0, sy], [0, 1, 0], [-sy, 0, cy]])
            @ np.array([[1, 0, 0], [0, cx, -sx], [0, sx, cx]])
        )
        place[i] = np.array([px, py, z]) + axes[i] @ lever
    second = (place[2:] - 2.0 * place[1:-1] + place[:-2]) / 1e-6
    own = run.acceleration_at(tuple(lever))
    half = 0.5 * (own[1:-1] + own[2:])  # forces belong to half a step before
    world = np.einsum("nij,nj->ni", axes[1:-1], half)
    size = np.ptp(world, axis=0)
    assert np.all(np.sqrt(np.mean((second - world)[50:] ** 2, axis=0)) < 0.01 * size + 0.01)


def test_run_outside_its_maps_says_so() -> None:
    soft = {"spring_rate": (9e3, 9e3), "stop_height": 0.0}
    vehicle = wagon(front=dict(soft), rear=dict(soft))
    with pytest.raises(SolverError, match=r"outside its axle maps.*springs are too soft"):
        settle(vehicle)


def test_diverging_run_stops_and_names_time_and_what_grew() -> None:
    inputs = np.zeros((3000, k.INPUTS))
    vehicle = wagon()
    light = dataclasses.replace(vehicle.front.mass, mass=3.0, inertia=(0.4, 0.1, 0.4))
    vehicle = dataclasses.replace(vehicle, front=dataclasses.replace(vehicle.front, mass=light, wheel_inertia=0.1))
    rest = settle(vehicle)
    inputs[:, 12] = 10.0
    inputs[100:, 0] = 0.01
    with pytest.raises(SolverError, match=r"diverged at \d+\.\d+ s.*grew from .* N to .* N"):
        march(packed=pack(vehicle, lag=1e-2), rest=rest, inputs=inputs, step=2e-2, every=1, gravity=9.81)


@pytest.mark.parametrize("bad", [math.nan, math.inf])
def test_number_that_is_none_in_the_inputs_is_refused_with_its_time(bad: float) -> None:
    vehicle = wagon()
    inputs = np.zeros((100, k.INPUTS))
    inputs[40, 2] = bad
    with pytest.raises(DomainError, match=r"not a number at 0\.040 s"):
        march(packed=pack(vehicle, lag=5e-4), rest=settle(vehicle), inputs=inputs, step=1e-3, every=1, gravity=9.81)


@pytest.mark.parametrize("speed", [0.0, -3.0, math.nan, np.array([3.0, 0.0])])
def test_speed_that_does_not_carry_forward_is_refused(speed: float) -> None:
    with pytest.raises(DomainError, match="must move forward"):
        road_inputs(level(), speed=speed, wheelbase=2.7, step=1e-3, contact_length=0.15)


def test_bad_vehicles_are_refused_in_words() -> None:
    with pytest.raises(DomainError, match="rise together"):
        DamperParts(velocity=np.array([-1.0, 0.0, 1.0]), force=np.array([-1.0, 5.0, 2.0]))
    with pytest.raises(DomainError, match="cannot be negative"):
        DamperParts(velocity=np.array([-1.0, 1.0]), force=np.array([-1.0, 5.0]), friction=-1.0)
    with pytest.raises(DomainError, match=r"add up to 1\.2"):
        pack(wagon(front={"drive_share": 0.7}), lag=0.0)
    with pytest.raises(DomainError, match="positive mass"):
        pack(wagon(body=MassState(mass=0.0, centre=(-1.3, 0.0, 0.7), inertia=(1.0, 1.0, 1.0))), lag=0.0)
    with pytest.raises(DomainError, match="bump stop"):
        pack(wagon(front={"stop_force": np.linspace(1.0, -1.0, 64)}), lag=0.0)
    with pytest.raises(DomainError, match="longer than the wheelbase"):
        simulate(wagon(), level(2.0), speed=10.0)
    with pytest.raises(DomainError, match="an input series has 7 values"):
        simulate(wagon(), level(), speed=10.0, steer=np.zeros(7))


def test_uneven_map_is_refused() -> None:
    axle = rear_map()
    heave = axle.heave.copy()
    heave[3] += 0.004
    rear = axle_parts(dataclasses.replace(axle, heave=heave), mass=140.0, rate=24e3, load=3350.0)
    with pytest.raises(SolverError, match="heave nodes of an axle map must rise evenly"):
        pack(wagon().__class__(body=wagon().body, front=wagon().front, rear=rear), lag=0.0)


def test_table_with_a_hole_is_refused() -> None:
    values = channels(rear_map(), wagon().rear.stored)
    values[4, 5, 2] = math.nan
    with pytest.raises(SolverError, match="node"):
        fit(values)


def test_spring_that_is_loose_carries_nothing() -> None:
    assert k.seated_spring(20e3, -0.01) == 0.0
    assert k.seated_spring(20e3, 0.1) == pytest.approx(20e3 * (0.1 - 0.5 * k.TOE))
    assert TYRE.toe > 0.0
