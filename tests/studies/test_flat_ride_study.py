"""Flat ride over speed and the classic rules: textbook car, the full vehicle in time, the twin sized at each speed.

Sources
-------
1. Gillespie, Fundamentals of Vehicle Dynamics, 1992, chapter 5, example 2: rates 127 and 92.3 lb/in per wheel, loads
   957 and 730 lb, wheelbase 100.6 in, dynamic index 1.1; answers 1.07 and 1.13 Hz, nodes 11.69 in ahead and 233.86 in
   behind (inputs from memory, answers computed anew).
2. Olley's rules, as in Gillespie chapter 5, from memory.
"""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from vary_programme import Vary

from tussock.errors import DomainError
from tussock.mechanics import measures as m
from tussock.mechanics.measures import olley_rules
from tussock.mechanics.motion import RoadNoise, bounce_pitch, road_spectrum, road_twin, simulate
from tussock.mechanics.roads import CLASS_MEAN, Section, build
from tussock.studies import drive, flat_ride, model
from tussock.studies.job import Job, Setup

BARE = Setup("bare", "B3")
INCH, POUND, G = 0.0254, 4.4482216, 386.088 * 0.0254


@pytest.mark.literature
def test_the_textbook_car_against_the_rules() -> None:
    """Sources 1 and 2: front 1.376 of the rear, spring centre 1.2 % ahead of the mass; bounce 1.058 of pitch."""
    front, rear = (2.0 * k * POUND / INCH for k in (127.0, 92.3))
    wheelbase, ahead = 100.6 * INCH, 43.5317 * INCH
    behind = wheelbase - ahead
    mass = 2.0 * (957.0 + 730.0) * POUND / G
    ride = bounce_pitch(
        mass=mass, gyration=math.sqrt(1.1 * ahead * behind), front_lever=ahead, rear_lever=behind, front_rate=front,
        rear_rate=rear,
    )  # fmt: skip
    got = olley_rules(
        frequencies=ride.frequency, nodes=ride.node, front_rate=front, rear_rate=rear, ahead=ahead, wheelbase=wheelbase
    )
    assert got.rate_ratio == pytest.approx(1.376, abs=5e-4)
    assert got.spring_centre == pytest.approx((92.3 * 57.0683 - 127.0 * 43.5317) / 219.3 / 100.6, abs=1e-5)
    assert got.spring_centre == pytest.approx(-0.012, abs=5e-4)
    assert got.bounce_over_pitch == pytest.approx(1.13039 / 1.06853, rel=1e-3)
    assert got.highest == pytest.approx(1.13, abs=0.005)
    assert got.kept == (False, True, True)
    # the other way round the springs keep the first rule
    turned = olley_rules(
        frequencies=ride.frequency, nodes=(-ride.node[0], -ride.node[1]), front_rate=rear, rear_rate=front,
        ahead=behind, wheelbase=wheelbase,
    )  # fmt: skip
    assert turned.spring_centre == pytest.approx(-got.spring_centre)
    assert turned.bounce_over_pitch == got.bounce_over_pitch
    with pytest.raises(DomainError, match="above 0"):
        olley_rules(frequencies=(1.0, 1.2), nodes=(0.1, -5.0), front_rate=0.0, rear_rate=1.0, ahead=1.0, wheelbase=2.0)


def test_two_twins_stand_for_every_speed(job: Job) -> None:
    """Heave, pitch and ratio against a twin sized and linearised at that speed: 3 %."""
    vehicle = model.vehicle(job, BARE)
    speeds = np.array([45.0, 60.0, 110.0]) / 3.6
    got = flat_ride.over_speed(vehicle, speeds=speeds)
    density = CLASS_MEAN["C"]
    noise = RoadNoise(density=density, contact_length=vehicle.front.tyre.contact_length)
    middle = vehicle.front.axle.design_x - vehicle.body.centre[0] - 0.5 * vehicle.wheelbase
    f = np.linspace(0.5, 3.0, 300)
    for i, speed in enumerate(speeds):
        twin = road_twin(vehicle, speed=float(speed), density=density).model
        rows = [twin.acceleration((middle, 0.0, 0.0), "vertical"), twin.row("rate of pitch rate")]
        heave, pitch = np.sqrt(np.trapezoid(road_spectrum(twin, rows, f, road=noise), f, axis=0))
        assert got.heave[i] == pytest.approx(heave, rel=0.03)
        assert got.pitch[i] == pytest.approx(pitch, rel=0.03)
        assert got.ratio[i] == pytest.approx(0.5 * vehicle.wheelbase * pitch / heave, rel=0.03)


def test_the_vehicle_in_time_agrees_with_the_twin(job: Job) -> None:
    """80 km/h on class C, 6 km: 7 %, three standard errors (2.1 % by six seeds) of one such run."""
    vehicle, rest = model.vehicle(job, BARE), model.rest(job, BARE)
    speed = 80.0 / 3.6
    section = Section.of_class("C", name="long", length=6000.0, speed=speed)
    h = simulate(vehicle, build(section, track=vehicle.front.axle.track, seed=5), speed=speed, rest=rest)
    got = m.flat_ride(
        np.ascontiguousarray(h.centre_acceleration[:, 2]),
        np.ascontiguousarray(h.angular_acceleration[:, 1]),
        h.step,
        ahead=vehicle.front.axle.design_x - vehicle.body.centre[0],
        wheelbase=vehicle.wheelbase,
        longest=0.3,
    )
    want = flat_ride.over_speed(vehicle, speeds=np.array([speed]))
    assert got.heave == pytest.approx(float(want.heave[0]), rel=0.07)
    assert got.pitch == pytest.approx(float(want.pitch[0]), rel=0.07)
    assert got.ratio == pytest.approx(float(want.ratio[0]), rel=0.07)
    assert 0.0 < got.lag <= vehicle.wheelbase / speed + h.step  # the rear follows, and has caught up a little


def test_faster_rides_flatter_and_softer_fronts_help(job: Job) -> None:
    """Common practice, no source but source 2: from 50 km/h on faster is flatter; a softer front pitches less."""
    vehicle = model.vehicle(job, BARE)
    fast = np.array([60.0, 80.0, 100.0]) / 3.6
    here = flat_ride.over_speed(vehicle, speeds=fast).ratio
    assert list(here) == sorted(here, reverse=True)
    soft = dataclasses.replace(vehicle.front, spring_rate=tuple(0.8 * r for r in vehicle.front.spring_rate))
    length = [own + 0.25 * float(load) for own, load in zip(soft.spring_length, _spring_compression(job), strict=True)]
    softer = dataclasses.replace(vehicle, front=dataclasses.replace(soft, spring_length=(length[0], length[1])))
    assert flat_ride.over_speed(softer, speeds=fast).pitch[1] < flat_ride.over_speed(vehicle, speeds=fast).pitch[1]


def _spring_compression(job: Job) -> list[float]:
    vehicle, rest = model.vehicle(job, BARE), model.rest(job, BARE)
    return [own - float(rest.spring_length[i]) for i, own in enumerate(vehicle.front.spring_length)]


def test_the_speed_from_which_it_is_flat_is_read_between_the_points() -> None:
    def curve(*ratio: float) -> flat_ride.FlatRideOverSpeed:
        n = np.array(ratio)
        return flat_ride.FlatRideOverSpeed(speed=np.array([10.0, 20.0, 30.0]), heave=n, pitch=n, ratio=n)

    assert flat_ride._crossing(curve(1.5, 1.1, 0.9)) == "from 90 km/h on more heave than pitch"
    assert flat_ride._crossing(curve(0.9, 1.5, 0.5)) == "from 90 km/h on more heave than pitch"
    assert "at every speed" in flat_ride._crossing(curve(0.9, 0.8, 0.7))
    assert flat_ride._crossing(curve(1.5, 1.4, 1.3)).startswith("more pitch")


def test_the_drive_shows_it(vary: Vary) -> None:
    section = {"name": "gravel", "speed": "60 km/h", "length": "60 m", "surface": {"class": "C"}}
    job = vary({"road_loop.sections": [section]})
    result = drive.study(job)
    table = result.table("flat_ride")
    assert [c.title for c in table.columns[2:]] == ["B3", "stock"]
    assert len(table.rows) == flat_ride.SPEEDS.size
    rules = result.table("flat_ride_rules")
    kept = flat_ride.rules(job, job.setup())
    assert rules.rows[0][2] == pytest.approx(kept.rate_ratio)
    assert rules.rows[-1][2] == float(sum(kept.kept))
    same = drive.study(job, against="B3")
    assert len(same.table("flat_ride").columns) == 3
