"""The driver who looks ahead: holds a straight path at every speed, within reaction time, rate and angle."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from motion_vehicles import mirrored, wagon
from scipy.linalg import expm
from scipy.signal import StateSpace, lsim

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.motion import History, Vehicle, simulate
from tussock.mechanics.motion.driver import POINTS, WISH, Driver, transition
from tussock.mechanics.motion.path import Path, circle_path, path_through, straight_path
from tussock.mechanics.motion.single_track import SingleTrack, single_track
from tussock.mechanics.roads import Track

RATIO = 17.5
SPEEDS = [2.0, 8.0, 15.0, 22.0, 30.0, 40.0]


def flat(length: float) -> Track:
    level = np.zeros(round(length / 0.05) + 1)
    return Track(spacing=0.05, left=level, right=level)


def driven(vehicle: Vehicle, path: Path, *, speed: float, seconds: float, driver: Driver, every: int = 10) -> History:
    pilot = driver.arrays(vehicle, path, step=1e-3, start=0.0, ratio=RATIO, speeds=(speed, speed))
    return simulate(vehicle, flat(speed * seconds), speed=speed, every=every, pilot=pilot)


@pytest.mark.parametrize("size", [1e-6, 0.01, 0.5, 3.0, 30.0])
def test_the_transition_is_the_library_s_matrix_exponential(size: float) -> None:
    exponent = np.random.default_rng(5).normal(scale=size / 3.0, size=(6, 6))
    whole = expm(exponent)
    assert transition(exponent) == pytest.approx(whole, rel=1e-11, abs=1e-11 * float(np.abs(whole).max()))


@pytest.mark.parametrize("speed", SPEEDS)
def test_a_driver_half_a_metre_off_comes_back_and_stays(speed: float) -> None:
    run = driven(wagon(), straight_path(y=0.5), speed=speed, seconds=14.0, driver=Driver())
    off = run.position[:, 1] - 0.5
    assert float(off.max()) < 0.25  # less than half as far to the other side
    assert abs(float(off[-1])) < 0.05
    assert float(np.abs(off[-400:]).max() - np.abs(off[-400:]).min()) < 0.05


@pytest.mark.parametrize("speed", [3.0, 8.0, 15.0, 22.0, 28.0, 35.0, 45.0])
def test_vehicle_and_driver_are_stable_together(speed: float) -> None:
    """Up to 35 m/s also with softer tyres, front or rear, than the driver has in mind: soft behind it oversteers."""
    track, driver = single_track(wagon()), Driver()
    assert driver.loop_radius(track, speed) < 1.0
    if speed > 35.0:
        return
    for front, rear in ((0.75, 1.0), (1.0, 0.9)):
        other = SingleTrack(
            mass=track.mass,
            yaw_inertia=track.yaw_inertia,
            front=track.front,
            rear=track.rear,
            front_stiffness=front * track.front_stiffness,
            rear_stiffness=rear * track.rear_stiffness,
        )
        assert driver.loop_radius(other, speed, seen=track) < 1.0


def test_a_driver_who_counts_on_the_wrong_vehicle_swings_out() -> None:
    """A picture with far stiffer tyres and a short look: the loop's radius says so, and so does the full vehicle."""
    track = single_track(wagon())
    late = Driver(preview=0.4, reaction=0.3, lag=0.05)
    stiff = dataclasses.replace(track, front_stiffness=0.3 * track.front_stiffness)
    assert late.loop_radius(track, 30.0, seen=stiff) > 1.0
    assert Driver().loop_radius(track, 30.0, seen=stiff) < late.loop_radius(track, 30.0, seen=stiff)


@pytest.mark.parametrize("speed", [8.0, 22.0, 40.0])
def test_gains_are_the_least_squares_steer_by_scipy(speed: float) -> None:
    """MacAdam 1981 (from memory): the held steer of least squared distance, here from responses of `lsim`."""
    track, driver = single_track(wagon()), Driver(reaction=0.1)
    gains, late = driver.gains(track, speed), driver.late
    a, b = track.full(speed)
    wide = np.zeros((5, 5))
    wide[:4, :4], wide[:4, 4], wide[4, 4] = a, b, -1.0 / driver.lag
    into = np.array([[0.0, 0.0, 0.0, 0.0, 1.0 / driver.lag]]).T
    system = StateSpace(wide, into, np.eye(5)[:1], np.zeros((1, 1)))
    times = np.arange(0.0, driver.preview + 0.5 * WISH, WISH)
    looks = np.round(driver.preview / POINTS * (np.arange(POINTS) + 1.0) / WISH).astype(int)

    def place(wish: Floats, start: Floats) -> Floats:
        return np.asarray(lsim(system, wish, times, X0=start, interp=False)[1])[looks]

    acts = np.where(times >= late * WISH - 1e-9, 1.0, 0.0)
    moved = place(acts, np.zeros(5))
    for column, state in ((POINTS, 1), (POINTS + 1, 3), (POINTS + 2, 4)):
        free = place(np.zeros_like(times), np.eye(5)[state])
        best = np.linalg.lstsq(moved[:, None], -free, rcond=None)[0][0]
        assert gains[column] == pytest.approx(best, rel=1e-5, abs=1e-8)
    for k in (0, late // 2, late - 1):
        pulse = np.where(np.abs(times - k * WISH) < 0.5 * WISH, 1.0, 0.0)
        best = np.linalg.lstsq(moved[:, None], -place(pulse, np.zeros(5)), rcond=None)[0][0]
        assert gains[POINTS + 4 + k] == pytest.approx(best, rel=1e-4)
    seen = np.linspace(0.3, -0.2, POINTS)
    assert gains[:POINTS] @ seen == pytest.approx(np.linalg.lstsq(moved[:, None], seen, rcond=None)[0][0], rel=1e-5)


def test_mirrored_vehicle_and_path_give_the_mirrored_run() -> None:
    x = np.linspace(0.0, 100.0, 401)
    y = 1.5 / (1.0 + np.exp(-(x - 50.0) / 4.0))
    here = driven(wagon(), path_through(x, y), speed=18.0, seconds=5.0, driver=Driver())
    there = driven(mirrored(wagon()), path_through(x, -y), speed=18.0, seconds=5.0, driver=Driver())
    np.testing.assert_allclose(there.steer, -here.steer, atol=1e-9)
    np.testing.assert_allclose(there.position[:, 1], -here.position[:, 1], atol=1e-9)
    assert float(np.abs(here.steer).max()) > 0.005


def test_reaction_rate_and_angle_are_kept() -> None:
    driver = Driver(reaction=0.25, lag=0.0, rate=math.radians(200.0), angle=math.radians(20.0))
    run = driven(wagon(), straight_path(y=4.0), speed=15.0, seconds=2.0, driver=driver, every=1)
    hand = run.steer * RATIO
    started = int(np.argmax(np.abs(hand) > 1e-9))
    assert run.force_time[started] == pytest.approx(0.25, abs=2e-3)
    assert float(np.abs(np.diff(hand)).max()) == pytest.approx(math.radians(200.0) * 1e-3, rel=1e-6)
    assert float(hand.max()) == pytest.approx(math.radians(20.0), rel=1e-9)


def test_a_circle_is_followed_with_the_steer_that_it_needs() -> None:
    """Steady steer: wheelbase over radius and the understeer of the driver's picture, within the full vehicle's own."""
    vehicle, radius, speed = wagon(), 60.0, 12.0
    path = circle_path(radius=radius, straight=15.0, length=400.0, left=True)
    run = driven(vehicle, path, speed=speed, seconds=25.0, driver=Driver())
    off = path.distance_from(run.position[-200:, 0], run.position[-200:, 1])
    assert float(np.abs(off).max()) < 0.25
    assert run.velocity[-1, 2] == pytest.approx(speed / radius, rel=0.01)
    track = single_track(vehicle)
    wanted = track.wheelbase / radius + track.understeer_gradient * speed**2 / radius
    assert float(run.steer[-200:].mean()) == pytest.approx(wanted, rel=0.15)


def test_a_steady_side_wind_is_trimmed_out() -> None:
    vehicle, n = wagon(), 30_000
    pilot = Driver().arrays(vehicle, straight_path(), step=1e-3, start=0.0, ratio=RATIO, speeds=(25.0, 25.0))
    run = simulate(vehicle, flat(25.0 * 30.0), speed=25.0, every=10, pilot=pilot, side_force=np.full(n, 600.0))
    off = np.abs(run.position[:, 1])
    assert 0.05 < float(off.max()) < 0.6
    assert float(off[-100:].max()) < 0.1 * float(off.max())


@given(radius=st.floats(10.0, 300.0), left=st.booleans(), straight=st.floats(0.0, 50.0))
def test_a_circle_path_bends_as_said_and_is_found_again(radius: float, left: bool, straight: float) -> None:
    path = circle_path(radius=radius, straight=straight, length=straight + 3.0 * radius, left=left)
    heading = np.unwrap(np.arctan2(np.diff(path.y), np.diff(path.x)))
    bend = np.diff(heading)[-20:] / path.spacing
    np.testing.assert_allclose(bend, (1.0 if left else -1.0) / radius, rtol=1e-9)
    inward = 0.1 * (1.0 if left else -1.0)
    middle = np.column_stack([path.x[:-1] + path.x[1:], path.y[:-1] + path.y[1:]]) / 2.0
    normal = np.column_stack([-np.sin(heading), np.cos(heading)])
    along, off = path.place_of(*(middle + inward * normal).T)
    np.testing.assert_allclose(off, inward, atol=1e-9)
    np.testing.assert_allclose(np.diff(along), path.spacing, rtol=0.01)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"preview": 0.0}, "preview is 0; it must be above 0"),
        ({"reaction": -0.1}, "reaction is -0.1; it must be 0 or more"),
        ({"rate": math.nan}, "rate is nan"),
        ({"preview": 0.2}, "the preview must be longer"),
    ],
)
def test_a_driver_who_cannot_be_is_refused(changes: dict[str, float], said: str) -> None:
    with pytest.raises(DomainError, match=said):
        Driver(**changes)


def test_a_circle_needs_a_radius() -> None:
    with pytest.raises(DomainError, match="its radius must be above 0"):
        circle_path(radius=0.0, straight=1.0, length=10.0, left=True)
