"""Stepping the spring's rate, against closed forms of the simple corner, and what no step can do."""

from __future__ import annotations

import itertools
import math

import pytest
from vary_programme import Vary

from tussock.errors import InputError
from tussock.studies import model, parts, spring_steps
from tussock.studies.job import Job, Setup
from tussock.studies.ride_frequency import ride_frequency
from tussock.studies.spring_steps import SpringStep

BARE = Setup("bare", "B3")


@pytest.fixture(scope="module")
def rear(job: Job) -> tuple[SpringStep, ...]:
    return spring_steps.steps(job, BARE, "rear", least=0.9, most=1.5, count=3)


def test_rates_rise_evenly_from_below_stock(job: Job, rear: tuple[SpringStep, ...]) -> None:
    stock = float(job.programme.vehicle.axles["rear"].spring.rate)
    assert [s.rate / stock for s in rear] == pytest.approx([0.9, 1.2, 1.5])


def test_load_stays_so_free_length_follows_it(job: Job, rear: tuple[SpringStep, ...]) -> None:
    """Hooke's law: the height is kept, so rate times deflection is one load for every step."""
    stands = model.posture(job, BARE)["rear"].spring_length
    load = [s.rate * (s.free_length - stands) for s in rear]
    assert load == pytest.approx([load[0]] * 3, rel=2e-3)
    ratio = model.spring_ratio(job, BARE, "rear")
    assert [s.droop_on_spring for s in rear] == pytest.approx(
        [f / s.rate / ratio for f, s in zip(load, rear, strict=True)], rel=2e-3
    )


def test_frequency_at_the_present_rate_is_that_of_the_heights(job: Job) -> None:
    stock = float(job.programme.vehicle.axles["rear"].spring.rate)
    now = parts.fitted_spring(job, BARE, "rear").rate / stock
    step = spring_steps.steps(job, BARE, "rear", least=now - 0.01, most=now, count=2)[-1]
    assert step.frequency == pytest.approx(
        ride_frequency(
            rate=model.wheel_rate(job, BARE, "rear"),
            tyre=float(job.programme.vehicle.tyre.vertical_stiffness),
            sprung_corner=parts.sprung_corner(job, "bare", "rear"),
        ),
        rel=1e-9,
    )
    assert step.roll_rate == pytest.approx(model.roll_rate(job, BARE, "rear"), rel=1e-9)
    assert step.lift_as_it_is == pytest.approx(model.posture(job, BARE)["rear"].lift, abs=1e-4)


def test_firmer_is_faster_stiffer_higher_and_less_comfortable(rear: tuple[SpringStep, ...]) -> None:
    """Common practice, no source."""
    for a, b in itertools.pairwise(rear):
        assert b.frequency > a.frequency
        assert b.roll_rate > a.roll_rate
        assert b.lift_as_it_is > a.lift_as_it_is
        assert b.droop_on_spring < a.droop_on_spring
        assert b.comfort > a.comfort
        assert b.stop_count <= a.stop_count


def test_study_answers_with_the_rates_that_ride_within_the_window(job: Job, vary: Vary) -> None:
    result = spring_steps.study(job, end="rear", least=0.8, most=1.6, count=2)
    assert result.passes
    assert result.table("steps").rows[0][0] == pytest.approx(18e3)
    assert math.isfinite(float(result.values["best_rate_N_per_m"]))
    narrow = vary({"targets.ride_frequency.rear": {"least": "2.4 Hz", "most": "2.5 Hz"}})
    missed = spring_steps.study(narrow, end="rear", count=2)
    assert not missed.passes
    assert "No step rides within" in missed.notices[0].text


def test_steps_that_cannot_be_are_refused(job: Job) -> None:
    with pytest.raises(InputError, match="do not rise"):
        spring_steps.steps(job, BARE, "rear", least=1.2, most=1.0)
    with pytest.raises(InputError, match="front or rear"):
        spring_steps.study(job, end="middle")
