"""Dyno evaluation against published figures and general-purpose libraries.

1. QC/T 545-1999, read in a public copy: force test at 100 mm stroke and 100 per minute, v = pi S n / 60.
2. SciPy's nonlinear least squares (``curve_fit``): the four-parameter sine fit, as IEEE 1057 has it (from memory).
3. SciPy's frequency response of one pass: the gain of a filter run both ways is its square.
"""

from __future__ import annotations

import numpy as np
import pytest
from dyno_samples import SPEEDS, TRUE, sine_text
from scipy.optimize import curve_fit
from scipy.signal import butter, sosfreqz

from tussock.mechanics.dampers import read, sine_speed
from tussock.mechanics.dampers.filtering import gain
from tussock.mechanics.dampers.sine_run import fit_sine

pytestmark = pytest.mark.literature


@pytest.mark.parametrize(
    ("per_minute", "speed"),
    [(10, 0.052), (25, 0.131), (50, 0.262), (75, 0.393), (100, 0.524), (150, 0.785), (200, 1.047)],
)
def test_speed_of_a_100_mm_stroke(per_minute: float, speed: float) -> None:
    """Source 1; three printed digits."""
    assert sine_speed(stroke=0.1, per_minute=per_minute) == pytest.approx(speed, abs=5e-4)


def test_the_force_test_is_read_back_at_its_speed() -> None:
    """Source 1: the run at pi 0.1 100 / 60 m/s among others has that stroke, rate and speed."""
    test = read(sine_text(speeds=(0.005, 0.13, 0.26, sine_speed(stroke=0.1, per_minute=100.0))), name="force test")
    run = test.runs[-1]
    assert run.frequency * 60.0 == pytest.approx(100.0, rel=1e-3)
    assert run.stroke == pytest.approx(0.1, rel=1e-3)
    assert run.peak_velocity == pytest.approx(0.524, abs=1e-3)
    assert test.curve.force_at(0.5236) == pytest.approx(TRUE.force_at(0.5236), abs=6.0)


@pytest.mark.parametrize("speed", SPEEDS)
def test_sine_fit_against_scipy(speed: float) -> None:
    """Source 2: both find the least squares of the same noisy record (seed 8)."""
    omega = speed / 0.05
    t = np.linspace(0.0, 1.7 * 2 * np.pi / omega, 240)
    x = 0.003 + 0.05 * np.sin(omega * t + 0.6) + np.random.default_rng(8).normal(0.0, 5e-5, t.size)
    mine = fit_sine(t, x)
    (frequency, amplitude, phase, middle), _ = curve_fit(
        lambda t, f, a, p, m: m + a * np.sin(2 * np.pi * f * t + p), t, x, p0=(omega / 2 / np.pi, 0.05, 0.6, 0.0)
    )
    assert mine.frequency == pytest.approx(frequency, rel=1e-7)
    assert mine.amplitude == pytest.approx(amplitude, rel=1e-7)
    assert mine.middle == pytest.approx(middle, abs=1e-9)
    assert np.angle(np.exp(1j * (mine.phase - phase))) == pytest.approx(0.0, abs=1e-6)


def test_filter_gain_against_scipy() -> None:
    """Source 3: Butterworth of second order, its cut-off over (sqrt(2) - 1)^(1/4), both ways."""
    design = 50.0 / (np.sqrt(2.0) - 1.0) ** 0.25
    at = np.array([1.0, 10.0, 50.0, 100.0])
    _, once = sosfreqz(butter(2, design, output="sos", fs=1e5), worN=at, fs=1e5)
    assert np.abs(once) ** 2 == pytest.approx([gain(f, 50.0) for f in at], rel=1e-4)
