"""Shock bands, pitch against heave, the rear's lag, skate and lost grip: closed forms, mirror, scaling.

Sources
-------
1. Wheelbase filter |cos(pi f L / V)|, |sin(pi f L / V)|: Gillespie 1992 chapter 5, from memory; derived here from two
   axles that follow one road.
2. Parseval: squares of disjoint bands add up to the square of the whole.
3. Cornering stiffness over load, sine of a double arctangent: Pacejka, Tire and Vehicle Dynamics, 3rd ed. 2012.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tussock.errors import DomainError
from tussock.mechanics.measures import (
    SHOCK_BANDS,
    band_levels,
    flat_ride,
    grip_lost,
    harshness,
    rms,
    shock_levels,
    skate,
    wheelbase_filter,
)
from tussock.mechanics.tyre import Tyre

STEP = 2e-3
L, AHEAD = 2.7, 1.2


def sine(frequency: float, duration: float) -> np.ndarray:
    return np.sin(2.0 * math.pi * frequency * np.arange(round(duration / STEP)) * STEP)


# ------------------------------------------------------------------------------------------------ shock bands


@pytest.mark.parametrize(("frequency", "key"), [(4.0, "shock_soft"), (12.5, "shock_medium"), (30.0, "shock_sharp")])
def test_a_sine_falls_into_its_band(frequency: float, key: str) -> None:
    got = shock_levels(sine(frequency, 40.0), STEP)
    assert got[key] == pytest.approx(1.0 / math.sqrt(2.0), rel=1e-3)
    assert sum(v for k, v in got.items() if k != key) < 0.02
    assert tuple(got) == tuple(SHOCK_BANDS)


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 10_000), size=st.integers(50, 3000), factor=st.floats(0.01, 100.0))
def test_squares_of_bands_add_up(seed: int, size: int, factor: float) -> None:
    """Source 2, to rounding, odd and even lengths."""
    x = np.random.default_rng(seed).standard_normal(size)
    whole = band_levels(x, STEP, [0.0, 2.0, 8.0, 20.0, 40.0, 1e6])
    assert math.sqrt(np.sum(whole**2)) == pytest.approx(rms(x), rel=1e-9)
    np.testing.assert_allclose(band_levels(-factor * x, STEP, [2.0, 8.0]), factor * whole[1:2], rtol=1e-9)


def test_harshness_is_medium_and_sharp_shocks_together() -> None:
    """Of a signal that Wk leaves as it is but for its gain: 12.5 and 30 Hz."""
    both = harshness(sine(12.5, 40.0) + sine(30.0, 40.0), STEP)
    assert both == pytest.approx(
        math.hypot(harshness(sine(12.5, 40.0), STEP), harshness(sine(30.0, 40.0), STEP)), rel=1e-3
    )


# -------------------------------------------------------------------------------------------------- flat ride


def on_road(speed: float, seed: int = 1, duration: float = 120.0) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Vertical and pitch acceleration of a body whose ends follow one noise, the rear L / V later; and that noise."""
    n = round(duration / STEP)
    f = np.fft.rfftfreq(n, STEP)
    noise = np.fft.rfft(np.random.default_rng(seed).standard_normal(n)) * ((f > 0.3) & (f < 4.0))
    front = np.fft.irfft(noise, n)
    rear = np.fft.irfft(noise * np.exp(-2j * math.pi * f * L / speed), n)
    pitch = (rear - front) / L
    return front + AHEAD * pitch, pitch, noise


@pytest.mark.literature
@pytest.mark.parametrize("speed", [8.0, 15.0, 25.0, 40.0])
def test_a_body_that_follows_the_road_lags_by_its_wheelbase(speed: float) -> None:
    """Source 1: lag L / V within a sample, agreement above 0.95, heave and pitch by the wheelbase filter within 3 %."""
    vertical, pitch, noise = on_road(speed)
    got = flat_ride(vertical, pitch, STEP, ahead=AHEAD, wheelbase=L, longest=1.5 * L / speed)
    assert got.lag == pytest.approx(L / speed, abs=1.01 * STEP)
    assert got.agreement > 0.95
    f = np.fft.rfftfreq(vertical.size, STEP)
    inside = (f >= 0.5) & (f < 3.0)
    heave, turn = wheelbase_filter(f[inside], wheelbase=L, speed=speed)
    power = np.abs(noise[inside]) ** 2
    assert got.ratio == pytest.approx(math.sqrt(np.sum(power * turn**2) / np.sum(power * heave**2)), rel=0.03)
    assert got.heave == pytest.approx(math.sqrt(2.0 * np.sum(power * heave**2)) / vertical.size, rel=0.03)


def test_faster_is_flatter() -> None:
    """Source 1: as L / V shrinks pitch gives way to heave."""
    ratios = []
    for speed in (15.0, 25.0, 40.0, 80.0):
        vertical, pitch, _ = on_road(speed)
        ratios.append(flat_ride(vertical, pitch, STEP, ahead=AHEAD, wheelbase=L, longest=1.0).ratio)
    assert ratios == sorted(ratios, reverse=True)


def test_pure_heave_and_pure_pitch() -> None:
    x = np.random.default_rng(2).standard_normal(20_000)
    still = np.zeros_like(x)
    heave = flat_ride(x, still, STEP, ahead=AHEAD, wheelbase=L, longest=0.5)
    assert (heave.ratio, heave.lag, heave.together) == (0.0, 0.0, pytest.approx(1.0))
    pitch = flat_ride((AHEAD - L / 2) * x, x, STEP, ahead=AHEAD, wheelbase=L, longest=0.1)
    assert pitch.together == pytest.approx(-1.0)
    assert pitch.heave == pytest.approx(0.0, abs=1e-9)
    one_end = flat_ride(AHEAD * x, x, STEP, ahead=AHEAD, wheelbase=L, longest=0.1)  # only the rear moves
    assert (one_end.lag, one_end.ratio) == (0.0, pytest.approx(1.0))
    rest = flat_ride(still, still, STEP, ahead=AHEAD, wheelbase=L, longest=0.1)
    assert (rest.ratio, rest.lag, rest.agreement) == (0.0, 0.0, 0.0)


@settings(max_examples=15, deadline=None)
@given(factor=st.floats(0.01, 50.0), seed=st.integers(0, 1000))
def test_flat_ride_scales_and_turns_round(factor: float, seed: int) -> None:
    """Scaled and upside down nothing but size changes; driven backwards the rear leads by as much."""
    rng = np.random.default_rng(seed)
    z, q = rng.standard_normal((2, 3000))
    one = flat_ride(z, q, STEP, ahead=AHEAD, wheelbase=L, longest=0.3)
    other = flat_ride(-factor * z, -factor * q, STEP, ahead=AHEAD, wheelbase=L, longest=0.3)
    assert other.heave == pytest.approx(factor * one.heave, rel=1e-9)
    assert (other.ratio, other.agreement) == (pytest.approx(one.ratio), pytest.approx(one.agreement))
    assert other.lag == pytest.approx(one.lag, abs=1e-12)
    back = flat_ride(z[::-1], q[::-1], STEP, ahead=AHEAD, wheelbase=L, longest=0.3)
    assert back.agreement == pytest.approx(one.agreement, rel=1e-6)
    assert back.lag == pytest.approx(-one.lag, abs=1e-9)


# ------------------------------------------------------------------------------------------- skate and grip


def test_skate_of_a_steady_slide_and_of_a_swing() -> None:
    """0.2 m/s for 1 s is 200 mm however long; 50 mm to and fro is 100 mm; a body that only rolls over its axle none."""
    n = 5000
    still = np.zeros(n)
    assert skate(np.full(n, 0.2), still, STEP, height=0.4) == pytest.approx(0.2, rel=1e-9)
    w = 2.0 * math.pi * 2.0
    t = np.arange(n) * STEP
    assert skate(0.05 * w * np.cos(w * t), still, STEP, height=0.4) == pytest.approx(0.1, rel=0.01)
    roll = 0.03 * np.sin(w * t)
    assert (
        skate(-0.4 * 0.03 * w * np.cos(w * t), roll, STEP, height=0.4) < 2e-6
    )  # the trapezoids leave (w h)^2 / 12 of 24 mm
    assert skate(np.full(100, 0.2), np.zeros(100), STEP, height=0.4) == pytest.approx(0.2 * 99 * STEP)


@settings(max_examples=20, deadline=None)
@given(seed=st.integers(0, 1000), factor=st.floats(0.01, 50.0))
def test_skate_mirrors_and_scales(seed: int, factor: float) -> None:
    v, phi = np.random.default_rng(seed).standard_normal((2, 1500))
    one = skate(v, phi, STEP, height=0.4)
    assert skate(-factor * v, -factor * phi, STEP, height=0.4) == pytest.approx(factor * one, rel=1e-9)
    assert skate(v + 0.0, phi + 0.1, STEP, height=0.4) == pytest.approx(one, rel=1e-9)  # a lean is no skate


@pytest.mark.literature
def test_grip_lost_is_that_of_the_tyre() -> None:
    """Source 3: of a load that swings evenly between N (1 - s) and N (1 + s), from the tyre's own stiffness: 1e-12."""
    tyre = Tyre(
        vertical_stiffness=240e3, vertical_damping=50.0, free_radius=0.379, cornering_stiffness=58e3,
        reference_load=4400.0, friction=0.85, relaxation_length=0.6,
    )  # fmt: skip
    n = 4400.0
    for swing in (0.1, 0.4, 0.9):
        loads = n * np.array([[1.0 - swing, 1.0 + swing], [1.0 + swing, 1.0 - swing]])
        want = 1.0 - 0.5 * (tyre.cornering(n * (1 - swing)) + tyre.cornering(n * (1 + swing))) / tyre.cornering(n)
        assert grip_lost(loads, np.array([n, n]), peak_load=tyre.cornering_load) == pytest.approx(want, abs=1e-12)
    off = np.zeros((10, 2))
    assert grip_lost(off, np.array([n, n]), peak_load=tyre.cornering_load) == 1.0
    assert grip_lost(off + n, np.array([n, n]), peak_load=tyre.cornering_load) == pytest.approx(0.0, abs=1e-12)


@settings(max_examples=25, deadline=None)
@given(st.lists(st.floats(0.0, 3.0), min_size=2, max_size=40), st.floats(0.1, 10.0))
def test_grip_lost_does_not_depend_on_the_unit_of_force(shares: list[float], factor: float) -> None:
    loads = 4000.0 * np.array([shares, shares[::-1]]).T
    static = np.array([4000.0, 4000.0])
    one = grip_lost(loads, static, peak_load=7500.0)
    assert one <= 1.0
    assert grip_lost(factor * loads, factor * static, peak_load=factor * 7500.0) == pytest.approx(one, abs=1e-9)
    assert grip_lost(loads[:, ::-1], static, peak_load=7500.0) == pytest.approx(one, abs=1e-12)


NAN = math.nan


@pytest.mark.parametrize(("make", "text"), [
    (lambda: band_levels(np.zeros(10), STEP, [3.0, 1.0]), "must rise"),
    (lambda: band_levels(np.array([0.0, NAN]), STEP, [0.0, 1.0]), "no number"),
    (lambda: flat_ride(np.zeros(10), np.zeros(9), STEP, ahead=1.0, wheelbase=2.0, longest=1.0), "as many of both"),
    (lambda: flat_ride(np.zeros(10), np.zeros(10), STEP, ahead=1.0, wheelbase=0.0, longest=1.0), "above 0"),
    (lambda: wheelbase_filter(np.ones(3), wheelbase=2.0, speed=0.0), "above 0"),
    (lambda: skate(np.zeros(10), np.zeros(9), STEP, height=0.4), "as many of both"),
    (lambda: skate(np.zeros(10), np.zeros(10), STEP, height=0.4, window=0.0), "window is 0 s"),
    (lambda: grip_lost(np.zeros((5, 2)), np.array([0.0, 1.0]), peak_load=1.0), "above 0"),
    (lambda: grip_lost(np.zeros(5), np.array([1.0]), peak_load=1.0), "one column a wheel"),
    (lambda: grip_lost(np.full((5, 1), NAN), np.array([1.0]), peak_load=1.0), "not a number"),
])  # fmt: skip
def test_refusals_of_flat_ride_and_skate(make, text) -> None:
    with pytest.raises(DomainError, match=text):
        make()
