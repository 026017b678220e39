"""Manoeuvres of the full vehicle: wind, lorries, lanes and hand wheel; what cannot be driven is refused in words."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from motion_vehicles import mirrored, wagon

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.motion import History, Vehicle, settle
from tussock.mechanics.motion.air import STRIPS, Body, Gust, Lorry, air_forces, strips
from tussock.mechanics.motion.driver import Driver
from tussock.mechanics.motion.lane import double_lane_change
from tussock.mechanics.motion.manoeuvres import Circle, Demand, HandWheel, Manoeuvre, perform
from tussock.mechanics.roads import Track

BODY = Body(area=2.74, wheelbase=2.7, width=1.76, height=1.83, side=2.92, yaw=0.37, roll=1.05, drag=0.45)


def flat(length: float) -> Track:
    level = np.zeros(round(length / 0.05) + 1)
    return Track(spacing=0.05, left=level, right=level)


def driven(manoeuvre: Manoeuvre | None, *, speed: float, length: float, vehicle: Vehicle | None = None) -> History:
    what = wagon() if vehicle is None else vehicle
    return perform(what, flat(length), manoeuvre, speed=speed, rest=settle(what), every=10)[0]


def windy(*winds: Gust | Lorry, driver: Driver | None = None, body: Body = BODY) -> Manoeuvre:
    return Manoeuvre(name="wind", ratio=17.5, winds=winds, body=body, driver=driver)


@given(wind=st.floats(-30.0, 30.0), speed=st.floats(5.0, 45.0))
def test_a_wind_alike_along_the_body_gives_the_coefficients(wind: float, speed: float) -> None:
    """SAE J1594 (from memory): at the middle of the wheelbase on the ground."""
    air = air_forces(BODY, np.full((1, STRIPS), wind), np.full(1, speed), centre=(0.0, 0.0))
    angle = math.atan(wind / speed)
    pressure = 0.5 * 1.225 * (speed**2 + wind**2) * BODY.area
    assert air.side[0] == pytest.approx(pressure * BODY.side * math.sin(angle), abs=1e-9)
    slender = math.sin(angle) * math.cos(angle)
    assert air.yaw[0] == pytest.approx(pressure * BODY.wheelbase * BODY.yaw * slender, abs=1e-9)
    assert air.roll[0] == pytest.approx(-pressure * BODY.wheelbase * BODY.roll * math.sin(angle), abs=1e-9)
    assert air.forward[0] == pytest.approx(-pressure * BODY.drag)
    assert air.angle[0] == pytest.approx(angle)
    # the roll moment is the side force at the height of pressure
    assert -air.roll[0] == pytest.approx(BODY.pressure_height * air.side[0], abs=1e-9)


@given(ahead=st.floats(-0.5, 0.5), height=st.floats(0.4, 1.2))
def test_moments_move_with_their_point(ahead: float, height: float) -> None:
    """Two points, one force: moments differ by lever times force."""
    wind, speed = np.linspace(-4.0, 9.0, STRIPS)[None, :], np.full(1, 25.0)
    at, ref = air_forces(BODY, wind, speed, centre=(ahead, height)), air_forces(BODY, wind, speed, centre=(0.0, 0.0))
    assert at.yaw[0] == pytest.approx(ref.yaw[0] - ahead * ref.side[0])
    assert at.roll[0] == pytest.approx(ref.roll[0] + height * ref.side[0])
    assert at.side[0] == ref.side[0]


def test_a_gusts_edge_turns_the_nose_off_before_it_pushes() -> None:
    """Half in the zone, the front alone feels it: more yaw moment than in the full wind, half the side force."""
    half = np.where(strips(BODY) > 1e-9, 20.0, 0.0)[None, :]
    whole = np.full((1, STRIPS), 20.0)
    speed = np.full(1, 100.0 / 3.6)
    one, all_ = (air_forces(BODY, w, speed, centre=(0.0, 0.0)) for w in (half, whole))
    assert one.yaw[0] > 1.5 * all_.yaw[0]
    assert 0.3 < one.side[0] / all_.side[0] < 0.7


def test_wind_from_the_left_blows_the_vehicle_to_the_right_and_leans_it_right() -> None:
    run = driven(windy(Gust(at=20.0, length=25.0, speed=-20.0)), speed=100.0 / 3.6, length=100.0)
    calm = driven(None, speed=100.0 / 3.6, length=100.0)
    off, lean = (run.position - calm.position)[:, 1], (run.position - calm.position)[:, 5]
    assert -6.0 < float(off[-1]) < -1.0
    assert float(lean.max()) > 2e-3
    assert float(lean.max()) > -float(lean.min())


def test_a_steady_wind_is_held_by_the_driver_and_not_by_the_held_wheel() -> None:
    gust = Gust(at=30.0, length=300.0, speed=-8.0)
    held = driven(windy(gust), speed=25.0, length=340.0)
    steered = driven(windy(gust, driver=Driver()), speed=25.0, length=340.0)
    assert abs(float(held.position[-1, 1])) > 3.0
    assert float(np.abs(steered.position[:, 1]).max()) < 0.4


@pytest.mark.parametrize("way", ["overtaking", "overtaken", "oncoming"])
def test_a_lorry_pushes_away_at_its_nose_and_draws_in_at_its_tail(way: str) -> None:
    lorry = Lorry(
        meets=100.0, speed={"overtaking": 35.0, "overtaken": 20.0, "oncoming": 25.0}[way], way=way, side="left"
    )  # type: ignore[arg-type]
    time = np.linspace(0.0, 12.0, 2401)[:, None]
    speed, start = 27.0, 100.0 / 27.0
    wind = lorry.wind_across(speed * time, time, speed=speed, start=start, body=BODY)[:, 0]
    at_start = int(np.argmin(np.abs(time[:, 0] - start)))
    end = start + lorry.passing_time(speed, 0.0)
    first, last = wind[at_start], wind[int(np.argmin(np.abs(time[:, 0] - end)))]
    nose, tail = (last, first) if way == "overtaken" else (first, last)
    assert nose < -1.0 < 0.0 < tail  # from the left the nose pushes to the right
    assert abs(wind[0]) < 0.25 * abs(nose)


def test_a_lorry_keeps_the_wind_off_and_gives_it_back() -> None:
    lorry = Lorry(meets=100.0, speed=20.0, way="oncoming", side="left", wind=-10.0, scale=0.0)
    time = np.linspace(0.0, 8.0, 1601)[:, None]
    wind = lorry.wind_across(27.0 * time, time, speed=27.0, start=100.0 / 27.0, body=BODY)[:, 0]
    assert wind[0] == wind[-1] == -10.0
    assert float(wind.max()) == pytest.approx(-2.0)
    # from the other side it comes unhindered
    other = dataclasses.replace(lorry, wind=10.0)
    assert set(other.wind_across(27.0 * time, time, speed=27.0, start=3.7, body=BODY)[:, 0]) == {10.0}


def test_scale_and_side_of_a_lorry() -> None:
    time = np.linspace(0.0, 8.0, 801)[:, None]

    def wind(**changes: object) -> Floats:
        lorry = dataclasses.replace(Lorry(meets=100.0, speed=20.0, way="oncoming", side="left"), **changes)
        return lorry.wind_across(27.0 * time, time, speed=27.0, start=3.7, body=BODY)

    np.testing.assert_allclose(wind(scale=2.5), 2.5 * wind())
    np.testing.assert_allclose(wind(side="right"), -wind())
    assert float(np.abs(wind(gap=3.0)).max()) < 0.6 * float(np.abs(wind()).max())
    np.testing.assert_allclose(wind(width=2.55, height=2.0), 0.5 * wind(), rtol=1e-12)


def test_a_light_vehicle_is_moved_more_by_a_passing_lorry() -> None:
    """Common practice, no source: the same body on a third less mass goes further aside."""
    lorry = Lorry(meets=60.0, speed=25.0, way="oncoming", side="left")
    heavy = wagon()
    body = heavy.body
    light = dataclasses.replace(
        heavy,
        body=dataclasses.replace(
            body, mass=body.mass * 2.0 / 3.0, inertia=(body.inertia[0], *(2.0 / 3.0 * i for i in body.inertia[1:]))
        ),
    )

    def moved(vehicle: Vehicle) -> float:
        there, calm = (driven(m, speed=27.0, length=130.0, vehicle=vehicle) for m in (windy(lorry), None))
        return float(np.abs(there.position[:, 1] - calm.position[:, 1]).max())

    assert moved(light) > 1.15 * moved(heavy) > 0.02


@pytest.mark.parametrize(
    "manoeuvre",
    [
        windy(Gust(at=10.0, length=25.0, speed=-20.0)),
        windy(Lorry(meets=40.0, speed=20.0, way="oncoming", side="left", wind=-6.0), driver=Driver()),
        Manoeuvre(name="step", ratio=17.5, hand=HandWheel(at=20.0, corners=((0.0, 0.0), (0.15, 0.6)))),
        Manoeuvre(name="lane", ratio=17.5, driver=Driver(), lane=double_lane_change(width=1.76, at=10.0), width=1.76),
        Manoeuvre(name="circle", ratio=17.5, driver=Driver(), circle=Circle(at=10.0, radius=60.0)),
    ],
)
def test_mirrored_manoeuvres_give_mirrored_runs(manoeuvre: Manoeuvre) -> None:
    def flipped(m: Manoeuvre) -> Manoeuvre:
        winds = tuple(
            dataclasses.replace(w, speed=-w.speed)
            if isinstance(w, Gust)
            else dataclasses.replace(w, wind=-w.wind, side="right" if w.side == "left" else "left")
            for w in m.winds
        )
        hand = (
            None if m.hand is None else dataclasses.replace(m.hand, corners=tuple((t, -a) for t, a in m.hand.corners))
        )
        lane = None if m.lane is None else double_lane_change(width=1.76, at=10.0, left=False)
        circle = None if m.circle is None else dataclasses.replace(m.circle, left=False)
        return dataclasses.replace(m, winds=winds, hand=hand, lane=lane, circle=circle)

    here = driven(manoeuvre, speed=15.0, length=150.0)
    there = driven(flipped(manoeuvre), speed=15.0, length=150.0, vehicle=mirrored(wagon()))
    for k in (1, 2, 5):
        np.testing.assert_allclose(there.position[:, k], -here.position[:, k], atol=1e-8)
    assert float(np.abs(here.position[:, 1]).max()) > 0.02


def test_the_lane_of_iso_3888_1_is_driven_without_touching_a_cone() -> None:
    lane, vehicle = double_lane_change(width=1.76, at=20.0), wagon()
    run, asked = perform(
        vehicle,
        flat(170.0),
        Manoeuvre(name="lane", ratio=17.5, driver=Driver(), lane=lane, width=1.76),
        speed=60.0 / 3.6,
        rest=settle(vehicle),
        every=10,
    )
    assert float(np.abs(asked.path.distance_from(run.position[:, 0], run.position[:, 1])).max()) < 0.15
    room = lane.clearance(run.position[:, 0] - 1.29, run.position[:, 1] + 0.88, run.position[:, 1] - 0.88)
    assert 0.0 < float(room.min()) < 0.15


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda: Gust(at=0.0, length=0.0, speed=20.0), "gust: its zone is 0 m long; it must have a length"),
        (lambda: Gust(at=0.0, length=20.0, speed=99.0), "wind of 99 m/s"),
        (lambda: Lorry(meets=0.0, speed=20.0, way="oncoming", side="left", gap=0.0), "gap is 0"),
        (lambda: dataclasses.replace(BODY, area=-1.0), "area is -1"),
        (lambda: double_lane_change(width=0.0), "the vehicle is 0 m wide"),
        (lambda: Manoeuvre(name="x", ratio=0.0), "a steering ratio of 0"),
        (lambda: Manoeuvre(name="x", ratio=17.0, circle=Circle(at=0.0, radius=9.0)), "a path needs a driver"),
        (lambda: Manoeuvre(name="x", ratio=17.0, winds=(Gust(at=0.0, length=9.0, speed=9.0),)), "wind needs the body"),
        (
            lambda: Manoeuvre(
                name="x", ratio=17.0, driver=Driver(), hand=HandWheel(at=0.0, corners=((0.0, 0.0), (1.0, 1.0)))
            ),
            "one of both is meant",
        ),
    ],
)
def test_what_cannot_be_is_refused(make: object, said: str) -> None:
    with pytest.raises(DomainError, match=said):
        make()  # type: ignore[operator]


@pytest.mark.parametrize(
    ("changes", "speed", "said"),
    [
        (
            {"winds": (Lorry(meets=50.0, speed=20.0, way="overtaking", side="left"),), "body": BODY},
            25.0,
            "overtakes the vehicle at 72 km/h while the vehicle drives 90 km/h; it must be faster",
        ),
        (
            {"winds": (Lorry(meets=50.0, speed=30.0, way="overtaken", side="left"),), "body": BODY},
            25.0,
            "is overtaken at 108 km/h .* must be slower",
        ),
        (
            {"winds": (Lorry(meets=90.0, speed=26.0, way="overtaking", side="left"),), "body": BODY},
            25.0,
            "needs 605 m of road at 90 km/h, the section has 200 m",
        ),
        ({"winds": (Gust(at=190.0, length=20.0, speed=9.0),), "body": BODY}, 25.0, "the section has 200 m"),
        ({"lane": double_lane_change(width=1.8, at=90.0), "driver": Driver()}, 20.0, "needs 218 m of road"),
        ({"circle": Circle(at=10.0, radius=4.0), "driver": Driver()}, 5.0, "smaller than the turning circle"),
        ({"hand": HandWheel(at=190.0, corners=((0.0, 0.0), (5.0, 1.0)))}, 20.0, "needs 290 m of road"),
    ],
)
def test_what_does_not_fit_on_its_road_is_refused(changes: dict[str, object], speed: float, said: str) -> None:
    manoeuvre = Manoeuvre(name="here", ratio=17.5, **changes)  # type: ignore[arg-type]
    with pytest.raises(DomainError, match=said):
        manoeuvre.check(length=200.0, speed=speed, wheelbase=2.7)


def test_a_demand_for_nothing_is_straight_on() -> None:
    vehicle = wagon()
    rest = settle(vehicle)
    asked = Manoeuvre(name="none", ratio=17.5).demand(
        vehicle, rest, distance=np.array([1.0, 2.0]), speed=np.full(2, 10.0), step=0.1
    )
    assert asked.pilot[0].size == 0
    assert (asked.steer, dict(asked.series)) == (0.0, {})
    assert Demand().path.distance_from(np.zeros(1), np.ones(1))[0] == 1.0
