"""Modes and understeer of the packaged vehicles: figures against what stands elsewhere, notices, bad input."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from vary_programme import Vary

from tussock.errors import InputError
from tussock.studies import model, modes, parts, understeer
from tussock.studies.job import Job, Setup
from tussock.studies.modes import Swinging, swinging
from tussock.studies.result import Result
from tussock.studies.ride_frequency import ride_frequency

B3 = Setup("bare", "B3")


@pytest.fixture(scope="module")
def result(job: Job) -> Result:
    return modes.study(job)


@pytest.fixture(scope="module")
def bends(job: Job) -> Result:
    return understeer.study(job)


def test_motions_are_those_of_a_wagon(result: Result) -> None:
    """Body 1 to 2 Hz, axles 8 to 15 Hz, damped 0.15 to 0.5: common practice, no source."""
    assert result.passes
    table = result.table("modes")
    assert len(table.rows) >= 7
    for words, frequency, damping, *_ in table.rows:
        assert isinstance(words, str)
        if "steering" in words:  # wheels on their column, the hand wheel held
            continue
        assert isinstance(frequency, float)
        assert isinstance(damping, float)
        low, high = (1.0, 2.0) if words.startswith("body") else (8.0, 15.0)
        assert low < frequency < high, words
        assert 0.15 < damping < 0.5, words
    weakest = result.values["least_damping"]
    assert weakest == min(row[2] for row in table.rows)
    assert f"{weakest:.2f}" in result.answer


def test_body_heave_lies_by_the_corners_ride_frequencies(job: Job) -> None:
    """Between the two corners' frequencies on spring and tyre, within a tenth: friction and dampers move it little."""
    tyre = float(job.programme.vehicle.tyre.vertical_stiffness)
    corners = [
        ride_frequency(rate=model.wheel_rate(job, B3, e), tyre=tyre, sprung_corner=parts.sprung_corner(job, "bare", e))
        for e in ("front", "rear")
    ]
    heave = swinging(job, B3, speed=modes.SPEED, road="C").model.mode("body heave").frequency
    assert 0.9 * min(corners) < heave < 1.1 * max(corners)


def test_roads_scale_with_their_class_until_friction_holds(result: Result) -> None:
    """Twice the amplitude from class to class; a smoother one is worse by what friction keeps stiff."""
    seats = [row[1] for row in result.table("roads").rows]
    assert all(isinstance(s, float) for s in seats)
    ratios = np.array(seats[1:], dtype=float) / np.array(seats[:-1], dtype=float)
    assert np.all((ratios > 1.7) & (ratios < 2.2))


def test_seat_on_the_road_as_the_drive_has_it(job: Job, result: Result) -> None:
    """Fast gravel is a class C road at 70 km/h: the drive's seat in time and the closed form within 15 %.

    380 m of one seed are some twenty waves of the body; the total value there counts feet, back and other axes too.
    """
    from tussock.studies import loop

    section = next(s for s in loop.sections(job) if s.name == "fast gravel")
    on = swinging(job, B3, speed=section.mean_speed, road="C")
    vehicle = model.vehicle(job, B3)
    road = loop.tracks(job)["fast gravel"]
    from tussock.mechanics.motion import simulate

    run = simulate(vehicle, road, speed=section.mean_speed, rest=model.rest(job, B3))
    seen = float(run.acceleration_at(on.seat)[500:, 2].std())
    assert on.twin.motion.rms(on.seat_acceleration()) == pytest.approx(seen, rel=0.15)
    assert result.table("roads").rows[2][1] == pytest.approx(seen, rel=0.25)


def test_a_motion_that_hardly_dies_away_is_said(job: Job) -> None:
    here = swinging(job, B3, speed=modes.SPEED, road="C")
    weak = dataclasses.replace(here.model.mode("front axle hop"), damping=0.03)
    growing = dataclasses.replace(here.modes[0], eigenvalue=0.4 + 7.0j, damping=-0.06)
    twin = dataclasses.replace(here.twin, model=dataclasses.replace(here.model, modes=(growing, weak)))
    notices = modes._notices(Swinging(setup=B3, twin=twin, seat=here.seat))
    assert len(notices) == 2
    assert "grows by itself" in notices[0].text
    assert "damped 0.030 only" in notices[1].text
    assert "axle" in notices[1].remedy or "low damper speed" in notices[1].remedy


def test_a_road_that_lifts_the_wheels_is_said(job: Job) -> None:
    rough = modes.study(job, road="D")
    assert any("wheels lift" in n.text for n in rough.notices)
    assert rough.passes


def test_causes_add_up(bends: Result) -> None:
    rows = bends.table("causes").rows
    for column in (1, 2):
        values = [row[column] for row in rows]
        assert all(isinstance(v, float) for v in values)
        assert sum(values[:-1]) == pytest.approx(values[-1])
    assert bends.values["understeer_rad_s2_per_m"] == rows[-1][1]
    gradient = float(rows[-1][1])
    assert bends.passes == (gradient >= 0.0)
    speed = math.sqrt(float(job_wheelbase(bends)) / abs(gradient))
    assert f"{3.6 * speed:.0f} km/h" in bends.answer


def job_wheelbase(result: Result) -> float:
    """Wheelbase from the table's own characteristic or critical speed: V^2 K."""
    row = result.table("gradients").rows[0]
    speed = row[2] if row[2] is not None else row[3]
    assert isinstance(speed, float)
    assert isinstance(row[1], float)
    return speed**2 * abs(row[1])


def test_wheelbase_and_stability_are_the_vehicles(job: Job, bends: Result) -> None:
    assert job_wheelbase(bends) == pytest.approx(model.vehicle(job, B3).wheelbase)
    rows = {row[0]: row for row in bends.table("gradients").rows}
    assert float(rows["B3"][6]) < float(rows["stock"][6])  # a lift takes stability
    for row in rows.values():
        # on its springs a vehicle lifts its wheels before the rigid one does; NHTSA's own figure is the rigid one
        assert 0.85 * float(row[6]) < float(row[7]) < float(row[6])


def test_an_oversteering_build_is_said(vary: Vary, bends: Result) -> None:
    """A rear anti-roll bar of 9 kN m/deg moves all load transfer to the rear axle."""
    job = vary({"vehicle.axles.rear.bar.roll_rate": "9000 N m/deg"})
    result = understeer.study(job)
    assert not result.passes
    assert "critical speed" in result.answer
    assert any("oversteers" in n.text and "km/h" in n.text for n in result.notices)
    assert float(result.table("causes").rows[1][1]) < float(bends.table("causes").rows[1][1])


def test_what_is_no_speed_road_or_bend_is_refused(job: Job) -> None:
    with pytest.raises(InputError, match="4 to 250 km/h"):
        modes.study(job, speed=0.0)
    with pytest.raises(InputError, match="no road class 'K'"):
        modes.study(job, road="K")
    with pytest.raises(InputError, match="11 to 250 km/h"):
        understeer.study(job, speed=math.nan)
    with pytest.raises(InputError, match="outside what is looked at"):
        understeer.study(job, lateral=20.0)
