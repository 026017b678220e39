"""Faults of sensors are found and named; channels come out on an even clock. All data is invented."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tussock.errors import DomainError
from tussock.mechanics.logger import Series, even, faults, spikes

STEP = 0.002


def noise(seed: int = 3, count: int = 10_000) -> Series:
    """Body acceleration as a rough road makes it: 1 to 30 Hz."""
    from scipy.signal import butter, sosfilt

    white = np.random.default_rng(seed).standard_normal(count)
    return Series(
        STEP * np.arange(count), sosfilt(butter(2, [1.0, 30.0], "bandpass", fs=1 / STEP, output="sos"), white) * 5
    )


def test_a_sound_channel_has_no_fault() -> None:
    assert faults(noise()) == ()


def test_a_dead_channel_is_found_whole_or_in_part() -> None:
    s = noise()
    v = s.values.copy()
    v[4000:5000] = v[4000]
    (found,) = faults(Series(s.time, v))
    assert (found.kind, found.count, found.spoils) == ("dead", 1000, True)
    assert (found.start, found.end) == (pytest.approx(8.0), pytest.approx(9.998))
    (whole,) = faults(Series(s.time, np.full(s.size, 2.5)))
    assert whole.kind == "dead"
    assert "it holds 2.5" in whole.words
    assert faults(Series(s.time, np.full(s.size, 2.5)), still=True) == ()


def test_a_clipped_channel_is_found() -> None:
    s = noise()
    limit = 1.5 * float(np.std(s.values))
    (high, low) = faults(Series(s.time, np.clip(s.values, -limit, limit)))
    assert {high.kind, low.kind} == {"clipped"}
    assert {high.level, low.level} == {limit, -limit}
    assert high.spoils
    assert "range is too small" in high.words


def test_spikes_are_found_and_taken_out() -> None:
    s = noise()
    v = s.values.copy()
    v[[1000, 3333, 7000]] = [80.0, -60.0, 70.0]
    (found,) = faults(Series(s.time, v))
    assert (found.kind, found.count, found.level, found.spoils) == ("spikes", 3, 80.0, False)
    np.testing.assert_allclose(even(Series(s.time, v), 0.0, 19.9, STEP), even(s, 0.0, 19.9, STEP), atol=0.6)


def test_a_pothole_is_no_spike() -> None:
    """A hard blow lasts some milliseconds: eight samples here."""
    s = noise()
    v = s.values + 40.0 * np.exp(-(((s.time - 6.0) / 0.008) ** 2))
    assert not spikes(v).any()


def test_gaps_are_found_and_short_ones_are_bridged() -> None:
    s = noise()
    keep = np.ones(s.size, dtype=bool)
    keep[2000:2008] = False
    (short,) = faults(Series(s.time[keep], s.values[keep]))
    assert (short.kind, short.count, short.spoils) == ("gap", 8, False)
    keep[6000:6200] = False
    (long,) = faults(Series(s.time[keep], s.values[keep]))
    assert (long.count, long.spoils) == (208, True)
    assert long.level == pytest.approx(0.402)


def test_an_empty_channel_is_said() -> None:
    (found,) = faults(Series(np.empty(0), np.empty(0)))
    assert found.kind == "empty"
    (found,) = faults(Series(np.arange(5.0), np.full(5, np.nan)))
    assert found.spoils


@given(rate=st.sampled_from([250.0, 400.0, 500.0, 1000.0, 1600.0]), frequency=st.floats(0.7, 25.0))
@settings(max_examples=25, deadline=None)
def test_a_sine_comes_out_at_its_times_from_every_rate(rate: float, frequency: float) -> None:
    t = np.arange(0.0, 12.0, 1.0 / rate)
    got = even(Series(t, np.sin(2.0 * np.pi * frequency * t)), 2.0, 10.0, STEP)
    wanted = np.sin(2.0 * np.pi * frequency * (2.0 + STEP * np.arange(got.size)))
    # a straight line between samples cuts a sine's crest by (w dt)^2 / 8
    assert np.max(np.abs(got - wanted)) < 1e-3 + (2.0 * np.pi * frequency / rate) ** 2 / 8.0


def test_what_the_even_clock_cannot_show_is_filtered_off() -> None:
    t = np.arange(0.0, 12.0, 1e-4)
    got = even(Series(t, np.sin(2.0 * np.pi * 700.0 * t)), 2.0, 10.0, STEP)
    assert np.max(np.abs(got)) < 0.01


def test_a_span_that_is_not_covered_is_refused() -> None:
    with pytest.raises(DomainError, match="does not cover"):
        even(noise(), 10.0, 30.0, STEP)
