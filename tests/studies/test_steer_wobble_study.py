"""Wobble of the packaged vehicles: answers hold against the mechanics, notices say what to do, bad input."""

from __future__ import annotations

import math

import pytest
from vary_programme import Vary

from tussock.errors import InputError
from tussock.mechanics.motion.wobble import wobble
from tussock.studies import model, steer_wobble
from tussock.studies.job import Job, Setup
from tussock.studies.modes import swinging
from tussock.studies.result import Result

B3 = Setup("bare", "B3")


@pytest.fixture(scope="module")
def result(job: Job) -> Result:
    return steer_wobble.study(job)


def rows(result: Result) -> dict[str, tuple[float, ...]]:
    """Speed, frequency and damping by change."""
    return {
        str(r[0]): tuple(float(v) for v in (r[1], r[3], r[4]) if isinstance(v, float))
        for r in result.table("wobble").rows
    }


def test_the_answer_is_the_mechanics_own(job: Job, result: Result) -> None:
    speed, frequency, damping = rows(result)["as it is"]
    size = swinging(job, B3, speed=80.0 / 3.6, road="B").twin.size
    found = wobble(model.vehicle(job, B3), speed=speed, size=size).least
    assert (frequency, damping) == pytest.approx((found.frequency, found.damping))
    assert result.values["least_damping"] == pytest.approx(damping)
    assert f"{damping:.3f}" in result.answer
    assert result.passes


def test_trade_facts(result: Result) -> None:
    """More caster damps less at speed, a steering damper more, 8 to 20 Hz: common practice, no source."""
    found = rows(result)
    assert found["caster 2 deg more"][2] < found["as it is"][2] < found["caster 2 deg less"][2]
    assert found["without steering damper"][2] < found["as it is"][2]
    assert all(8.0 < frequency < 22.0 for _, frequency, _ in found.values())


def test_a_wobble_that_grows_is_said_with_the_damper_that_stops_it(vary: Vary) -> None:
    """No damper, no friction: the notice names speed and damper."""
    job = vary(
        {
            "vehicle.axles.front.steering.damper": "0 N s/m",
            "vehicle.axles.front.steering.friction": "0 N m",
        }
    )
    result = steer_wobble.study(job, top=40.0)
    worst = rows(result)["as it is"]
    notices = " ".join(n.text + n.remedy for n in result.notices)
    assert "steering damper of" in notices
    assert "N m s/rad" in notices
    if worst[2] < 0.0:
        assert not result.passes
        assert "can grow" in notices
    else:
        assert worst[2] < 0.05
        assert "rings on" in notices
    damper = result.values["steering_damper_n_m_s_per_rad"]
    assert isinstance(damper, float)
    name = next(k for k in rows(result) if k.startswith("steering damper"))
    assert rows(result)[name][2] == pytest.approx(0.05, abs=3e-3)


def test_what_is_no_speed_is_refused(job: Job) -> None:
    with pytest.raises(InputError, match="40 to 250 km/h"):
        steer_wobble.study(job, top=math.inf)
