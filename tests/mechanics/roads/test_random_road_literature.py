"""Random roads against published values.

1. ISO 8608: class limits at 0.1 cycle/m (32, 128, 512 ... 1e-6 m^3) checked in three public transcriptions; geometric
   means 16 * 4^k from memory of its Table C.1; fit range 0.011 to 2.83 cycle/m from memory.
2. Dodds, Robson, J. Sound Vib. 31(2), 1973, 175-183; Kamash, Robson, J. Sound Vib. 57(1), 1978, 89-100: isotropic
   surfaces. The coherence formula is from memory; its values below were computed by Bessel function and by quadrature,
   which agree to 6 digits.
3. R.m.s. elevation of a band, sigma^2 = G n0^2 (1/n1 - 1/n2): integral of the ISO spectrum.
4. Structure function of a waviness-2 profile, D(r) = 2 pi^2 n0^2 G r: from the integral of (1 - cos 2 pi n r) / n^2 for
   n from 0 to infinity, pi^2 r (Gradshteyn, Ryzhik, 3.782.2, number from memory; checked by SciPy below).
"""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from scipy.integrate import quad

from tussock.mechanics.roads import CLASS_MEAN, class_of, coherence, fit_road, random_heights
from tussock.mechanics.roads.random_road import BAND

pytestmark = pytest.mark.literature

N0 = 0.1
CLASS_C = 256e-6


@pytest.mark.parametrize(("waviness", "values"), [
    (2.0, {0.05: 0.841470, 0.1: 0.626419, 0.2: 0.307057, 0.5: 0.026276}),
    (2.5, {0.05: 0.889113, 0.1: 0.701412, 0.2: 0.376191, 0.5: 0.037913}),
])  # fmt: skip
def test_coherence_of_an_isotropic_surface(waviness, values):
    """Source 2, track 1.5 m; printed to 6 digits."""
    got = coherence(np.array(list(values)), track=1.5, waviness=waviness)
    np.testing.assert_allclose(got, list(values.values()), atol=6e-7)


def test_limits_of_each_class():
    """Source 1: 1 % to either side of each limit."""
    limits = [32, 128, 512, 2048, 8192, 32768, 131072]
    for below, above, limit in zip("ABCDEFG", "BCDEFGH", limits, strict=True):
        assert class_of(limit * 0.99e-6) == below
        assert class_of(limit * 1.01e-6) == above


@pytest.mark.parametrize("road_class", list("ABCDEFGH"))
def test_class_is_recovered_from_the_roads_own_spectrum(road_class):
    """Source 1. 3 km at 5 cm; about 30 independent segments, so 10 % in density and 0.06 in waviness are wide."""
    mean = CLASS_MEAN[road_class]
    for seed in (1, 2):
        for heights in random_heights(density=mean, length=3000.0, spacing=0.05, track=1.5, seed=seed):
            fit = fit_road(heights, 0.05)
            assert fit.road_class == road_class
            assert (fit.lowest, fit.highest) == (0.011, 2.83)
            assert fit.density == pytest.approx(mean, rel=0.10)
            assert fit.waviness == pytest.approx(2.0, abs=0.06)


@pytest.mark.parametrize("waviness", [1.7, 2.5, 3.3])
def test_waviness_is_recovered(waviness):
    """Source 1: real roads lie between 1.7 and 3.3."""
    left, right = random_heights(density=CLASS_C, length=3000.0, spacing=0.05, track=1.5, seed=3, waviness=waviness)
    for heights in (left, right):
        fit = fit_road(heights, 0.05)
        assert fit.waviness == pytest.approx(waviness, abs=0.08)
        assert fit.density == pytest.approx(CLASS_C, rel=0.12)


def _squares(length: float, seeds: int) -> tuple[float, float, float, float]:
    """Return mean square of a track, of left minus right, each with its standard error."""
    power, difference = [], []
    for seed in range(seeds):
        left, right = random_heights(density=CLASS_C, length=length, spacing=0.05, track=1.5, seed=seed)
        power.append(0.5 * float(np.mean(left**2) + np.mean(right**2)))
        difference.append(float(np.mean((left - right) ** 2)))
    error = math.sqrt(seeds)
    return (
        float(np.mean(power)),
        float(np.std(power)) / error,
        float(np.mean(difference)),
        float(np.std(difference)) / error,
    )


def test_elevation_of_a_band_and_difference_of_the_tracks():
    """Source 3: class C, 0.01 to 10 cycle/m: 15.992 mm. Source 4: E (left - right)^2. 4 standard errors."""
    power, power_error, difference, difference_error = _squares(160.0, 300)
    want = CLASS_C * N0**2 * (1.0 / BAND[0] - 1.0 / BAND[1])
    assert math.sqrt(want) == pytest.approx(15.992e-3, abs=6e-7)
    assert abs(power - want) < 4.0 * power_error
    assert power_error < 0.04 * want  # the test can tell 16 % in mean square
    # all frequencies give 2 pi^2 n0^2 G T; the part below 0.01 and above 10 cycle/m is taken off by quadrature
    whole = 2.0 * math.pi**2 * N0**2 * CLASS_C * 1.5

    def density(n: float) -> float:
        return 2.0 * CLASS_C * (N0 / n) ** 2 * (1.0 - float(coherence(np.array([n]), track=1.5)[0]))

    inside = quad(density, BAND[0], 1.0, limit=200)[0] + quad(density, 1.0, BAND[1], limit=200)[0]
    outside = quad(density, 1e-9, BAND[0], limit=200)[0] + 2.0 * CLASS_C * N0**2 / BAND[1]
    assert inside + outside == pytest.approx(whole, rel=1e-6)
    assert abs(difference - inside) < 4.0 * difference_error
    assert difference_error < 0.01 * inside


@pytest.mark.parametrize("along", [0.0, 0.7, 3.0])
def test_coherence_makes_the_surface_isotropic(along):
    """Source 4: the mean square difference of two points depends on their distance only, not on its direction."""
    across = 1.5

    def integrand(n: float) -> float:
        g = float(coherence(np.array([n]), track=across)[0])
        return 2.0 * CLASS_C * (N0 / n) ** 2 * (1.0 - g * math.cos(2.0 * math.pi * n * along))

    start = 1e-4
    edges = [start, 1e-3, 0.01, *np.arange(0.1, 6.01, 0.1)]
    crossed = sum(quad(integrand, a, b)[0] for a, b in itertools.pairwise(edges))
    # below: 1 - z K1(z) = z^2/2 (ln(2/z) + 1/2 - 0.5772) for small z, and 1 - cos = its square over 2
    small = (2.0 * math.pi * across) ** 2 * (-math.log(math.pi * across * start) + 1.5 - np.euler_gamma)
    crossed += CLASS_C * N0**2 * start * (small + (2.0 * math.pi * along) ** 2)
    crossed += 2.0 * CLASS_C * N0**2 / 6.0  # the coherence has died away above 6 cycle/m
    assert crossed == pytest.approx(2.0 * math.pi**2 * N0**2 * CLASS_C * math.hypot(along, across), rel=2e-5)


@pytest.mark.parametrize("frequency", [0.05, 0.1, 0.2, 0.5])
def test_coherence_of_drawn_tracks(frequency):
    """Source 2. Cross and auto spectra at one frequency, mean over 400 roads; 4 standard errors."""
    spacing, seeds = 0.1, 400
    x = np.arange(3001) * spacing
    probe = np.hanning(x.size) * np.exp(-2j * math.pi * frequency * x)
    cross, auto = 0.0, 0.0
    for seed in range(seeds):
        left, right = random_heights(density=CLASS_C, length=300.0, spacing=spacing, track=1.5, seed=seed)
        a, b = complex(probe @ left), complex(probe @ right)
        cross += (a * b.conjugate()).real
        auto += 0.5 * (abs(a) ** 2 + abs(b) ** 2)
    want = float(coherence(np.array([frequency]), track=1.5)[0])
    assert cross / auto == pytest.approx(want, abs=4.0 * (1.0 - want**2) / math.sqrt(2.0 * seeds))
