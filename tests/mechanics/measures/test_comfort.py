"""Comfort measures: closed forms, the standard's own relations, symmetry and scaling.

Sources
-------
1. ISO 2631-1:1997 equations (1) to (5), (10), (B.3), checked in public transcriptions; clause 6.3.3 ratios from memory.
2. Closed forms: sine VDV = A (3 T / 8)^(1/4), crest sqrt 2, VDV / (a T^(1/4)) = 1.10668; normal noise 1.31607.
3. ISO 2631-1 Annex C.2.3 bands; edges checked in two public transcriptions, 2.5 m/s^2 from memory.
4. Directive 2002/44/EC Art. 3: action value 0.5 m/s^2 over 8 h, VDV 9.1 m/s^1.75.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tussock.errors import DomainError
from tussock.mechanics.measures import (
    REACTIONS,
    SEAT,
    WD,
    WE,
    WK,
    band,
    crest_factor,
    estimated_dose,
    harshness,
    head_toss,
    joined_dose,
    joined_rms,
    reaction,
    rms,
    running_rms,
    seat_comfort,
    transient_peak,
    vibration_dose,
    weigh,
    weigh_all,
)

STEP = 1e-3


def sine(amplitude, frequency, duration, step=STEP):
    return amplitude * np.sin(2.0 * math.pi * frequency * np.arange(round(duration / step)) * step)


@pytest.mark.literature
def test_closed_forms_of_a_sine():
    """Source 2, 60 s of 5 Hz: 1e-5."""
    a = sine(0.8, 5.0, 60.0)
    assert rms(a) == pytest.approx(0.8 / math.sqrt(2.0), rel=1e-5)
    assert crest_factor(a) == pytest.approx(math.sqrt(2.0), rel=1e-5)
    assert vibration_dose(a, STEP) == pytest.approx(0.8 * (3.0 * 60.0 / 8.0) ** 0.25, rel=1e-5)
    assert vibration_dose(a, STEP) / (rms(a) * 60.0**0.25) == pytest.approx(1.10668, abs=2e-5)
    assert transient_peak(a, STEP) == pytest.approx(0.8 / math.sqrt(2.0), rel=1e-5)


@pytest.mark.literature
def test_closed_forms_of_normal_noise():
    """Source 2: 3^(1/4) within 4 standard errors; one is sqrt(1 / (6 n)) by the delta method."""
    noise = np.random.default_rng(1).standard_normal(1_000_000)
    ratio = vibration_dose(noise, STEP) / (rms(noise) * 1000.0**0.25)
    assert ratio == pytest.approx(1.31607, rel=4.0 * math.sqrt(1.0 / 6e6))


@pytest.mark.literature
@pytest.mark.parametrize("exponential", [False, True])
def test_running_rms_of_a_step(exponential):
    """Source 1: after a step of size 1, sqrt(t / tau) up to tau (linear), sqrt(1 - exp(-t / tau)) (exponential)."""
    got = running_rms(np.ones(3000), STEP, exponential=exponential)
    t = (np.arange(3000) + 1) * STEP
    want = np.sqrt(1.0 - np.exp(-t)) if exponential else np.sqrt(np.minimum(t, 1.0))
    np.testing.assert_allclose(got, want, rtol=1e-9)


@pytest.mark.literature
def test_estimated_dose_of_the_action_value():
    """Source 4: 0.5 m/s^2 over 8 h is an estimated dose of 9.1 m/s^1.75 (printed to 2 digits)."""
    assert estimated_dose(0.5, 8.0 * 3600.0) == pytest.approx(9.1, abs=0.05)


@pytest.mark.literature
def test_joined_stretches():
    """Source 1: r.m.s. and dose of stretches together equal those of the record in one piece."""
    rng = np.random.default_rng(2)
    pieces = [rng.standard_normal(n) * s for n, s in ((4000, 1.0), (9000, 0.3), (2000, 2.5))]
    whole = np.concatenate(pieces)
    assert joined_rms([rms(p) for p in pieces], [p.size * STEP for p in pieces]) == pytest.approx(rms(whole), rel=1e-12)
    assert joined_dose([vibration_dose(p, STEP) for p in pieces]) == pytest.approx(
        vibration_dose(whole, STEP), rel=1e-12
    )


@pytest.mark.literature
def test_reactions():
    """Source 3: words inside each band and where two overlap."""
    words = {0.2: "not uncomfortable", 0.4: "a little uncomfortable", 0.55: "a little to fairly uncomfortable",
             0.7: "fairly uncomfortable", 0.9: "fairly to uncomfortable", 1.1: "uncomfortable",
             1.4: "uncomfortable to very uncomfortable", 1.8: "very uncomfortable",
             2.2: "very to extremely uncomfortable", 9.0: "extremely uncomfortable"}  # fmt: skip
    for total, want in words.items():
        assert reaction(total) == want
    # no gaps
    for total in np.linspace(0.0, 3.0, 3001):
        assert any(low <= total < high for low, high, _ in REACTIONS)


@pytest.mark.literature
def test_total_value_of_a_seat():
    """Source 1, equation (10) with factors 1, 1, 1 and 0.63, 0.40, 0.20 m/rad (from memory); sines well settled."""
    t = 40.0
    linear = np.stack([sine(1.0, 2.0, t), sine(0.5, 1.0, t), sine(0.7, 5.0, t)], axis=1)
    rotation = np.stack([sine(2.0, 1.0, t), sine(1.0, 1.6, t), sine(0.5, 0.8, t)], axis=1)
    got = seat_comfort(linear, STEP, rotation=rotation)
    levels = [a.rms for a in got.axes]
    factors = [1.0, 1.0, 1.0, 0.63, 0.40, 0.20]
    assert [a.axis for a in got.axes] == ["x", "y", "z", "rx", "ry", "rz"]
    assert got.total == pytest.approx(math.sqrt(sum((k * a) ** 2 for k, a in zip(factors, levels, strict=True))))
    gains = [WD.gain(np.array([2.0])), WD.gain(np.array([1.0])), WK.gain(np.array([5.0])), WE.gain(np.array([1.0]))]
    for level, gain, amplitude in zip(levels, gains, (1.0, 0.5, 0.7, 2.0), strict=False):
        assert level == pytest.approx(gain[0] * amplitude / math.sqrt(2.0), rel=0.01)  # the start is not settled
    assert seat_comfort(linear, STEP).total < got.total
    doubled = {name: (w, 2.0 * k) for name, (w, k) in SEAT.items()}
    assert seat_comfort(linear, STEP, axes=doubled).total == pytest.approx(2.0 * seat_comfort(linear, STEP).total)


def test_advice_follows_the_signal():
    """A steady sine needs the r.m.s. only; one jolt in a minute needs dose and running peak (clause 6.3.3)."""
    steady = np.zeros((60_000, 3))
    steady[:, 2] = sine(1.0, 5.0, 60.0)
    calm = seat_comfort(steady, STEP)
    assert calm.advice == "the r.m.s. is enough"
    assert calm.axes[2].dose_ratio == pytest.approx(1.107, abs=0.01)
    jolt = np.zeros((60_000, 3))
    jolt[30_000:30_100, 2] = 8.0 * np.sin(np.linspace(0.0, math.pi, 100))
    hard = seat_comfort(jolt, STEP)
    assert hard.crest > 9.0
    assert len(hard.axes[2].reasons) == 3
    assert hard.advice.startswith("judge by dose and running peak too: crest factor")
    assert hard.axes[0].reasons == ()


def test_a_still_seat_has_measures_of_zero():
    got = seat_comfort(np.zeros((1000, 3)), STEP)
    assert (got.total, got.peak, got.dose, got.crest) == (0.0, 0.0, 0.0, 0.0)
    assert got.advice == "the seat does not move"


@settings(max_examples=15, deadline=None)
@given(factor=st.floats(0.01, 100.0), seed=st.integers(0, 10_000))
def test_measures_scale_and_mirror(factor, seed):
    a = np.random.default_rng(seed).standard_normal((3000, 3))
    one, scaled, mirrored = (seat_comfort(k * a, STEP) for k in (1.0, factor, -1.0))
    for name in ("x", "y", "z", "total", "peak", "dose"):
        assert getattr(scaled, name) == pytest.approx(factor * getattr(one, name), rel=1e-9)
        assert getattr(mirrored, name) == pytest.approx(getattr(one, name), rel=1e-12)
    assert scaled.crest == pytest.approx(one.crest, rel=1e-9)
    assert harshness(factor * a[:, 1], STEP) == pytest.approx(factor * harshness(a[:, 1], STEP), rel=1e-9)
    toss, more = head_toss(a[:, 1], STEP), head_toss(factor * a[:, 1], STEP)
    assert (more.rms, more.peak) == (pytest.approx(factor * toss.rms), pytest.approx(factor * toss.peak))


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 10_000), delay=st.integers(0, 500))
def test_weighting_is_linear_causal_and_the_same_later(seed, delay):
    rng = np.random.default_rng(seed)
    a, b = rng.standard_normal((2, 2000))
    np.testing.assert_allclose(weigh(a + 3.0 * b, STEP, WK), weigh(a, STEP, WK) + 3.0 * weigh(b, STEP, WK), atol=1e-10)
    later = np.concatenate([np.zeros(delay), a])
    np.testing.assert_allclose(weigh(later, STEP, WK)[delay:], weigh(a, STEP, WK), atol=1e-6)


def test_dose_grows_with_time_and_running_peak_bounds_the_rms():
    a = np.random.default_rng(4).standard_normal(20_000)
    assert vibration_dose(a, STEP) > vibration_dose(a[:10_000], STEP)
    assert transient_peak(a, STEP) >= rms(a)
    # Jensen: the fourth-power mean is at least the square mean
    assert vibration_dose(a, STEP) >= rms(a) * 20.0**0.25


def test_band_passes_inside_and_stops_outside():
    for frequency, low, high in ((1.5, 0.99, 1.01), (20.0, 0.0, 2e-3), (0.05, 0.0, 2e-3)):
        signal = sine(1.0, frequency, 200.0)
        gain = rms(band(signal, STEP, 0.5, 3.0)[50_000:150_000]) / rms(signal)
        assert low <= gain <= high
    assert rms(band(sine(1.0, 0.5, 200.0), STEP, 0.5, 30.0)[50_000:150_000]) == pytest.approx(0.5, rel=0.01)


def test_harshness_hears_blows_not_float():
    assert harshness(sine(1.0, 1.3, 20.0), STEP) < 0.01 * harshness(sine(1.0, 14.0, 20.0), STEP)


@pytest.mark.parametrize(("make", "text"), [
    (lambda: crest_factor(np.zeros(10)), "no crest factor"),
    (lambda: rms(np.array([1.0, math.nan])), "not a number"),
    (lambda: reaction(math.nan), "nan"),
    (lambda: reaction(-1.0), "0 or positive"),
    (lambda: running_rms(np.ones(10), STEP, window=0.0), "window is 0 s"),
    (lambda: estimated_dose(0.5, 0.0), "more than 0 s"),
    (lambda: joined_rms([1.0], [1.0, 2.0]), "as many of both"),
    (lambda: joined_rms([1.0], [0.0]), "all are 0 s"),
    (lambda: joined_dose([-1.0]), "negative"),
    (lambda: seat_comfort(np.zeros((100, 2)), STEP), "three columns"),
    (lambda: seat_comfort(np.zeros(100), STEP), "three columns"),
    (lambda: seat_comfort(np.full((100, 3), math.inf), STEP), "no number at 0.000 s"),
    (lambda: seat_comfort(np.zeros((100, 3)), 0.01), "10 ms"),
    (lambda: band(np.zeros(10), STEP, 3.0, 0.5), "must rise"),
])  # fmt: skip
def test_refusals(make, text):
    with pytest.raises(DomainError, match=text):
        make()


def test_signals_weighted_together_are_those_weighted_one_by_one():
    rows = np.random.default_rng(3).normal(size=(4, 3001))
    which = [WK, WD, WD, WK]
    together = weigh_all(rows, STEP, which)
    for row, weighting, got in zip(rows, which, together, strict=True):
        np.testing.assert_allclose(got, weigh(row, STEP, weighting), rtol=0.0, atol=1e-13)
    rows[2, 17] = math.nan
    with pytest.raises(DomainError, match=f"{17 * STEP:.3f} s"):
        weigh_all(rows, STEP, which)
    with pytest.raises(DomainError, match="one row for each"):
        weigh_all(rows, STEP, which[:3])
