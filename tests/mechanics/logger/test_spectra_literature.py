"""Spectra and transfer functions against SciPy, closed forms and the chance errors that the books give."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import bilinear, freqz, lfilter, welch

from tussock.errors import DomainError
from tussock.mechanics.logger import averages, band_power, octave_bands, spectrum, transfer

pytestmark = pytest.mark.literature
STEP = 0.005


def white(seed: int, seconds: float) -> np.ndarray:
    return np.random.default_rng(seed).standard_normal(round(seconds / STEP))


def test_one_record_is_scipys_welch_and_its_power_is_the_mean_square() -> None:
    x = white(1, 200.0)
    s = spectrum([x], STEP)
    f, p = welch(x, 1.0 / STEP, nperseg=800, detrend="constant")
    np.testing.assert_allclose(s.density, p, rtol=1e-12)
    np.testing.assert_allclose(s.frequency, f, rtol=1e-12)
    assert band_power(s.frequency, s.density, np.array([0.0, 100.0]))[0] == pytest.approx(np.mean(x**2), rel=0.01)


def test_the_spread_of_a_spectrum_is_what_welch_1967_and_bendat_and_piersol_say() -> None:
    """Hann, half overlap: variance over n segments is 1/n (1 + 2 (1/6)^2 (n - 1)/n) of the square (Welch 1967)."""
    many = np.array([spectrum([white(i, 42.0)], STEP).density[20:180] for i in range(300)])
    spread = np.sqrt(np.mean(np.var(many, axis=0) / np.mean(many, axis=0) ** 2))
    said = spectrum([white(0, 42.0)], STEP).error
    assert averages([white(0, 42.0)], STEP) == pytest.approx(20 / (1 + 2 * 19 / 20 / 36), rel=2e-3)
    assert spread == pytest.approx(said, rel=0.02)


def test_a_resonator_is_recovered_within_its_stated_error() -> None:
    """A single mass at 1.5 Hz, ratio 0.3, by the bilinear rule; noise on the output lowers coherence."""
    w, z = 2.0 * np.pi * 1.5, 0.3
    b, a = bilinear([2.0 * z * w, w * w], [1.0, 2.0 * z * w, w * w], fs=1.0 / STEP)
    inside, whole = 0, 0
    for seed in range(20):
        x = white(seed, 120.0)
        y = lfilter(b, a, x) + 0.05 * white(seed + 1000, 120.0)
        t = transfer([x[:12000], x[12000:]], [y[:12000], y[12000:]], STEP)
        wanted = np.abs(freqz(b, a, t.frequency, fs=1.0 / STEP)[1])
        band = (t.frequency > 2.5) & (t.frequency < 10.0)  # the segment resolves the resonance well above it
        inside += int(np.sum(np.abs(np.abs(t.gain)[band] / wanted[band] - 1.0) < 1.645 * t.error[band]))
        whole += int(band.sum())
    assert 0.86 < inside / whole < 0.94


def test_bands_are_fractions_of_an_octave() -> None:
    edges = octave_bands(low=0.5, high=32.0, per_octave=3)
    assert edges.size == 19
    assert edges[3] / edges[0] == pytest.approx(2.0)


def test_records_that_do_not_belong_together_are_refused() -> None:
    with pytest.raises(DomainError, match="shorter than a segment"):
        spectrum([white(1, 2.0)], STEP)
    with pytest.raises(DomainError, match="same records"):
        transfer([white(1, 8.0)], [white(1, 9.0)], STEP)
