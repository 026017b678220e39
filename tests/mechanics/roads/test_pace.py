"""Speed along a section: uniformly accelerated motion between held speeds, and what it refuses."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tussock.errors import DomainError
from tussock.mechanics.roads import Section, SpeedChange, pace

STEP = 1e-3


def test_braking_distance_and_time():
    """From 20 to 10 m/s at 2.5 m/s^2: 60 m (v^2 / 2a) in 4 s (v / a)."""
    slower = pace(length=100.0, speed=20.0, changes=[SpeedChange(at=10.0, speed=10.0)], acceleration=2.5)
    assert slower.duration == pytest.approx(10.0 / 20.0 + 4.0 + 30.0 / 10.0)
    speed = slower.at_half_steps(STEP)
    assert speed.sum() * STEP == pytest.approx(100.0, abs=0.02)
    rate = np.diff(speed) / STEP
    assert rate.min() == pytest.approx(-2.5, rel=1e-9)
    # the acceleration builds up over half a second, so its own rate is bounded
    assert np.max(np.abs(np.diff(rate))) / STEP == pytest.approx(2.5 / 0.5, rel=0.01)
    travelled = np.cumsum(speed) * STEP
    assert travelled[np.argmin(np.abs(speed - 15.0))] == pytest.approx(10.0 + (400 - 225) / 5.0, abs=0.05)


@settings(max_examples=40, deadline=None)
@given(
    speeds=st.lists(st.floats(2.0, 30.0), min_size=1, max_size=6),
    acceleration=st.floats(0.3, 6.0),
    gap=st.floats(1.0, 60.0),
)
def test_covers_the_section_at_bounded_acceleration(speeds, acceleration, gap):
    now, at, changes = speeds[0], gap, []
    for s in speeds[1:]:
        changes.append(SpeedChange(at=at, speed=s))
        at += abs(s * s - now * now) / (2.0 * acceleration) + gap
        now = s
    length = at + gap
    section = Section(name="s", length=length, speed=speeds[0], speed_changes=tuple(changes), acceleration=acceleration)
    series = section.driven_speed(STEP)
    if not changes:
        assert series == section.mean_speed == speeds[0]
        return
    assert np.sum(series) * STEP == pytest.approx(length, abs=0.05 + 0.5 * max(speeds) * 0.01)
    assert min(speeds) - 1e-9 <= series.min() <= series.max() <= max(speeds) + 1e-9
    assert np.max(np.abs(np.diff(series))) / STEP <= acceleration * (1.0 + 1e-6)
    assert section.mean_speed * section.pace.duration == pytest.approx(length)


@pytest.mark.parametrize(("changes", "acceleration", "said"), [
    ([(10.0, 10.0)], 1.0, "takes 150.0 m; from 10 m on there are 90.0 m"),
    ([(10.0, 10.0), (40.0, 12.0)], 2.5, "takes 60.0 m; from 10 m on there are 30.0 m"),
    ([(50.0, 19.0), (20.0, 20.0)], 2.5, "from 50 m on there are 0.0 m"),
    ([(101.0, 19.0)], 2.5, "from 101 m on there are 0.0 m"),
    ([(-1.0, 19.0)], 2.5, "the speed changes at -1 m, before"),
    ([(math.nan, 19.0)], 2.5, "the speed changes at nan m"),
    ([(10.0, 0.0)], 2.5, "speed is 0 m/s; it must be above 0"),
    ([(10.0, math.nan)], 2.5, "speed is nan m/s"),
    ([], 0.0, "acceleration is 0 m/s.2"),
    ([], 9.0, "up to 8"),
    ([], math.nan, "acceleration is nan"),
])  # fmt: skip
def test_refusals(changes, acceleration, said):
    with pytest.raises(DomainError, match=f"section 's': .*{said}"):
        Section(
            name="s",
            length=100.0,
            speed=20.0,
            speed_changes=tuple(SpeedChange(at=a, speed=s) for a, s in changes),
            acceleration=acceleration,
        )


def test_rounding_does_not_shift_the_speed():
    """Halfway through an even change of speed the speed is halfway, whatever the step: a window of even count was late.

    From 20 to 10 m/s at 2.5 m/s^2 the change begins at 0.5 s and its middle comes at 2.5 s.
    """
    slower = pace(length=100.0, speed=20.0, changes=[SpeedChange(at=10.0, speed=10.0)], acceleration=2.5)
    for step in (STEP, 0.5 * STEP):
        speed = slower.at_half_steps(step)
        middle = (np.arange(speed.size) + 0.5) * step
        assert np.interp(2.5, middle, speed) == pytest.approx(15.0, abs=1e-6)
