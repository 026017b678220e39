"""Measures of handling on signals whose answer is known in closed form."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.measures import handling as m


def second_order(time: Floats, frequency: float, damping: float) -> Floats:
    """Answer of a system of second order to a unit step at time 0."""
    t = np.maximum(time, 0.0)
    turn = math.sqrt(1.0 - damping**2)
    return np.asarray(
        1.0
        - np.exp(-damping * frequency * t)
        * (np.cos(turn * frequency * t) + damping / turn * np.sin(turn * frequency * t))
    )


@given(
    frequency=st.floats(3.0, 8.0),
    damping=st.floats(0.4, 0.8),
    level=st.floats(-2.0, 2.0).filter(lambda x: abs(x) > 0.1),
)
def test_a_system_of_second_order_answers_as_its_closed_form(frequency: float, damping: float, level: float) -> None:
    """Overshoot exp(-pi D / sqrt(1 - D^2)), peak after pi over the damped frequency: any book on control."""
    time = np.arange(-0.5, 8.0, 1e-3)
    hand = np.where(time >= 0.0, 0.3, 0.0)
    got = m.step_response(time, level * second_order(time, frequency, damping), hand)
    turn = math.sqrt(1.0 - damping**2)
    over = math.exp(-math.pi * damping / turn)
    assert got.steady == pytest.approx(level, rel=1e-3)
    assert got.overshoot == pytest.approx(over, abs=2e-3)
    if over > 0.01:
        assert got.peak_time == pytest.approx(math.pi / (turn * frequency), abs=3e-3)
    at = got.response_time - 1e-3
    assert float(second_order(np.array([at]), frequency, damping)[0]) == pytest.approx(0.9, abs=0.02)


def test_times_count_from_half_of_the_hand_wheels_angle() -> None:
    time = np.arange(-0.5, 4.0, 1e-3)
    hand = 0.4 * np.clip(time / 0.2, 0.0, 1.0)
    lag = 1.0 - np.exp(-np.maximum(time, 0.0) / 0.25)
    got = m.step_response(time, lag, hand)
    assert got.response_time == pytest.approx(0.25 * math.log(10.0) - 0.1, abs=2e-3)
    assert math.isnan(got.peak_time)
    assert got.overshoot == pytest.approx(0.0, abs=1e-5)


def test_a_step_that_is_none_or_never_settles_is_refused() -> None:
    time = np.arange(0.0, 4.0, 1e-3)
    with pytest.raises(DomainError, match="it is not turned"):
        m.step_response(time, time, np.zeros_like(time))
    with pytest.raises(DomainError, match="does not settle"):
        m.step_response(time, np.sin(5.0 * time), np.ones_like(time))


@given(
    understeer=st.floats(-0.005, 0.01),
    roll=st.floats(0.004, 0.02),
    slip=st.floats(-0.02, 0.01),
    sign=st.sampled_from([-1, 1]),
)
def test_gradients_of_a_straight_line_are_its_slopes(understeer: float, roll: float, slip: float, sign: int) -> None:
    """delta = L / R + K a_y, and a mirrored run gives the same figures (ISO 4138, from memory)."""
    a = np.linspace(0.2, 6.0, 400)
    got = m.turn_gradients(
        lateral=sign * a,
        steer=sign * (0.027 + understeer * a),
        roll=sign * roll * a,
        sideslip=sign * (0.013 + slip * a),
        torque=sign * 1.4 * a,
    )
    assert got.understeer == pytest.approx(understeer, abs=1e-9)
    assert got.roll == pytest.approx(roll)
    assert got.sideslip == pytest.approx(slip, abs=1e-9)
    assert got.torque == pytest.approx(1.4)
    assert got.limit == pytest.approx(6.0)


def test_gradients_need_the_span_that_they_are_taken_over() -> None:
    a = np.linspace(0.0, 0.8, 50)
    with pytest.raises(DomainError, match=r"between 0.00 and 0.80 m/s\^2; gradients need 0.5 to 3"):
        m.turn_gradients(lateral=a, steer=a, roll=a, sideslip=a)


def test_a_gust_is_read_two_seconds_after_it_met_the_front() -> None:
    """ISO 12021 (from memory); a push of constant acceleration goes 1/2 a t^2."""
    time = np.arange(0.0, 5.0, 1e-3)
    since = np.maximum(time - 1.0, 0.0)
    got = m.gust_response(
        time, off=-0.25 * since**2, yaw_rate=0.03 * np.sin(since), lateral=-0.5 * (since > 0.0), meets=1.0
    )
    assert got.deviation == pytest.approx(1.0, abs=1e-6)
    assert got.yaw_rate == pytest.approx(0.03, rel=1e-4)
    assert got.lateral == 0.5
    with pytest.raises(DomainError, match="after the wind; ISO 12021 reads the path at 2 s"):
        m.gust_response(time[:2001], off=since[:2001], yaw_rate=since[:2001], lateral=since[:2001], meets=1.0)


@given(deceleration=st.floats(1.0, 8.0), top=st.floats(12.0, 40.0))
def test_a_stop_takes_the_square_of_the_speed_over_twice_the_deceleration(deceleration: float, top: float) -> None:
    time = np.arange(0.0, 2.0 + (top - 2.0) / deceleration, 1e-3)
    speed = np.maximum(top - deceleration * np.maximum(time - 1.0, 0.0), 2.0)
    load = np.full((time.size, 4), 4e3)
    load[:, 2] += 400.0 * math.sqrt(2.0) * np.sin(90.0 * time)
    got = m.braking_stop(time, speed=speed, pitch=0.02 * (time > 1.5), off=0.1 * time, wheel_load=load, begins=1.0)
    assert got.deceleration == pytest.approx(deceleration, rel=1e-6)
    assert got.distance == pytest.approx(top**2 / (2.0 * deceleration), rel=2e-3)
    assert got.pitch == pytest.approx(0.02)
    assert got.drift == pytest.approx(0.1 * (time[-1] - 1.0), rel=0.01)
    assert got.variation == pytest.approx(0.1, rel=0.15)
    with pytest.raises(DomainError, match="that is no braking"):
        m.braking_stop(time, speed=np.full_like(time, top), pitch=time, off=time, wheel_load=load, begins=1.0)


def test_work_counts_what_the_driver_gives_and_not_what_comes_back() -> None:
    """A spring that is wound up and let go three times: the driver gives 1/2 c x^2 every quarter that winds it up."""
    angle = 0.4 * np.sin(np.linspace(0.0, 6.0 * math.pi, 60001))
    assert m.steering_work(angle, 5.0 * angle) == pytest.approx(6.0 * 0.5 * 5.0 * 0.4**2, rel=1e-4)
    assert m.steering_work(angle) == pytest.approx(12.0 * 0.4, rel=1e-4)
    assert m.steering_work(angle[:1]) == 0.0
    assert m.steering_rate(np.sin(np.arange(0.0, 100.0, 1e-3)), 1e-3) == pytest.approx(math.sqrt(0.5), rel=1e-2)


def test_departure_is_the_farthest_and_scatter_the_spread() -> None:
    left = 0.3 * np.sin(np.linspace(0.0, 2.0 * math.pi, 4001))[:-1] + 0.1
    assert m.lane_departure(left) == pytest.approx(0.4)
    assert m.lane_departure(-left) == pytest.approx(0.4)
    assert m.path_scatter(left) == pytest.approx(0.3 / math.sqrt(2.0))
    assert m.lane_departure(np.zeros(0)) == m.path_scatter(np.zeros(0)) == 0.0
