"""Sections cut by gates and marks, clocks set against each other. All places and data are invented."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tussock.errors import DomainError
from tussock.mechanics.logger import Gate, Series, clock_offset, cut_by_gates, cut_by_marks, ground_distance
from tussock.mechanics.logger.sections import EARTH


def there_and_back(speed: float = 20.0, length: float = 1000.0, rate: float = 10.0) -> tuple[Series, Series]:
    """North along a meridian at a steady speed and back again."""
    t = np.arange(0.0, 2.0 * length / speed, 1.0 / rate)
    north = np.where(speed * t < length, speed * t, 2.0 * length - speed * t)
    return Series(t, 0.5 + north / EARTH), Series(t, np.full(t.size, 0.1))


def at(north: float, radius: float = 15.0) -> Gate:
    return Gate(latitude=0.5 + north / EARTH, longitude=0.1, radius=radius)


def test_every_pass_in_the_right_direction_is_cut() -> None:
    pieces = cut_by_gates(*there_and_back(), {"moor": (at(203.0), at(701.0)), "home": (at(701.0), at(203.0))})
    assert [p.section for p in pieces] == ["moor", "home"]
    assert pieces[0].start == pytest.approx(10.15, abs=0.01)
    assert pieces[0].end == pytest.approx(35.05, abs=0.01)
    assert pieces[1].start == pytest.approx(64.95, abs=0.01)


def test_a_gate_that_is_never_passed_cuts_nothing_and_no_fix_is_no_place() -> None:
    lat, lon = there_and_back()
    assert cut_by_gates(lat, lon, {"other": (at(2000.0), at(3000.0))}) == ()
    lat.values[100:103], lon.values[100:103] = 0.0, 0.0  # the receiver lost its fix
    assert len(cut_by_gates(lat, lon, {"moor": (at(150.0), at(701.0))})) == 1


def test_distance_on_the_ground() -> None:
    """One minute of latitude is a nautical mile, 1,852 m to 0.1 % (its old definition)."""
    gate = Gate(latitude=math.radians(45.0), longitude=0.0)
    minute = math.radians(1.0 / 60.0)
    north = ground_distance(np.array([gate.latitude + minute]), np.array([0.0]), gate)
    east = ground_distance(np.array([gate.latitude]), np.array([minute]), gate)
    assert north[0] == pytest.approx(1852.0, rel=1e-3)
    assert east[0] == pytest.approx(1852.0 / math.sqrt(2.0), rel=1e-3)


def test_marks_part_the_laps() -> None:
    t = np.arange(0.0, 50.0, 0.1)
    mark = np.zeros(t.size)
    for press in (5.0, 12.0, 15.0, 30.0, 32.0, 40.0):
        mark[(t >= press) & (t < press + 0.35)] = 1.0
    pieces = cut_by_marks(Series(t, mark), ["village", "moor"])
    assert [(p.section, round(p.start, 1), round(p.end, 1)) for p in pieces] == [
        ("village", 5.0, 12.0),
        ("moor", 15.0, 30.0),
        ("village", 32.0, 40.0),
    ]
    mark[450:453] = 1.0
    with pytest.raises(DomainError, match="7 marks"):
        cut_by_marks(Series(t, mark), ["village", "moor"])


@given(lag=st.floats(-1.5, 1.5), seed=st.integers(0, 999))
@settings(max_examples=25, deadline=None)
def test_a_clock_offset_is_found_to_a_fraction_of_a_sample(lag: float, seed: int) -> None:
    rng = np.random.default_rng(seed)
    f, phase = np.linspace(0.3, 4.0, 60), rng.uniform(0.0, 2.0 * np.pi, 60)
    t = np.arange(0.0, 60.0, 0.02)

    def speed(when: np.ndarray) -> np.ndarray:
        return np.asarray(np.sum(np.cos(2.0 * np.pi * np.outer(when, f) + phase), axis=1))

    found, alike = clock_offset(speed(t), speed(t - lag) + 0.5 * rng.standard_normal(t.size), 0.02)
    assert found == pytest.approx(lag, abs=0.004)
    assert 0.8 < alike <= 1.0


def test_a_clock_needs_motion() -> None:
    with pytest.raises(DomainError, match="does not move"):
        clock_offset(np.ones(100), np.arange(100.0), 0.01)
    with pytest.raises(DomainError, match="cannot be set against"):
        clock_offset(np.arange(100.0), np.arange(90.0), 0.01)
    with pytest.raises(DomainError, match="latitude lies within"):
        Gate(latitude=2.0, longitude=0.0)
