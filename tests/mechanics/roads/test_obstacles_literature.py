"""Obstacles against published dimensions and closed forms.

1. Round-top hump: Watts, TRRL LR 597 (1973); TRL 377: circular, 3.7 m, up to 100 mm; TRL 186: 75 mm. Heights of arc,
   sinusoid and parabola computed from their formulas to 0.1 mm.
2. Corrugations: excitation frequency is speed over wavelength.
3. GB Highways (Road Humps) Regulations 1999: height 25 to 100 mm, length at least 900 mm.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from tussock.mechanics.roads import PUBLISHED_HUMPS, Feature, Section, build, published_hump
from tussock.mechanics.roads.shapes import arc, parabola, raised_cosine

pytestmark = pytest.mark.literature

# distance [m]: arc, sinusoid, parabola [mm] for 3.7 m by 100 mm
HEIGHTS = {
    0.000: (0.0, 0.0, 0.0),
    0.185: (19.0, 2.4, 19.0),
    0.370: (36.1, 9.5, 36.0),
    0.555: (51.1, 20.6, 51.0),
    0.740: (64.1, 34.5, 64.0),
    0.925: (75.1, 50.0, 75.0),
    1.110: (84.0, 65.5, 84.0),
    1.295: (91.0, 79.4, 91.0),
    1.480: (96.0, 90.5, 96.0),
    1.665: (99.0, 97.6, 99.0),
    1.850: (100.0, 100.0, 100.0),
}


@pytest.mark.parametrize(("column", "shape"), list(enumerate((arc, raised_cosine, parabola))))
def test_heights_of_a_hump(column, shape):
    """Source 1, printed to 0.1 mm; both halves."""
    x = np.array(list(HEIGHTS))
    want = np.array([row[column] for row in HEIGHTS.values()])
    np.testing.assert_allclose(1e3 * shape(x, length=3.7, height=0.1), want, atol=0.051)
    np.testing.assert_allclose(1e3 * shape(3.7 - x, length=3.7, height=0.1), want, atol=0.051)


@pytest.mark.parametrize(("length", "height", "slope"), [
    (3.7, 0.100, 0.108425),
    (3.7, 0.075, 0.081215),
    (12 * 0.3048, 3 * 0.0254, 0.083478),
])  # fmt: skip
def test_entry_slope_of_an_arc(length, height, slope):
    """Source 1: entry slope, from R 17.1625, 22.8542 and 21.9837 m."""
    tiny = 1e-7
    assert arc(np.array([tiny]), length=length, height=height)[0] / tiny == pytest.approx(slope, abs=2e-6)


def test_slope_and_end_curvature_of_a_sinusoidal_hump():
    """Source 1: 3.7 m by 100 mm: greatest slope 0.084908, end curvature 0.144187 1/m."""
    x = np.linspace(0.0, 3.7, 37001)
    z = raised_cosine(x, length=3.7, height=0.1)
    assert np.max(np.gradient(z, x)) == pytest.approx(0.084908, abs=1e-6)
    assert 2.0 * z[1] / x[1] ** 2 == pytest.approx(0.144187, abs=1e-5)


@pytest.mark.parametrize("name", PUBLISHED_HUMPS)
def test_published_humps_can_be_driven(name):
    """Each keeps its height and length when laid on a road; a flat top keeps its plateau."""
    hump = PUBLISHED_HUMPS[name]
    section = Section(name="hump", length=40.0, speed=8.0, features=(published_hump(name, 10.0),))
    road = build(section, track=1.5, seed=1, spacing=0.01)
    assert road.left.max() == pytest.approx(hump.height, rel=1e-3)
    raised = road.distance[road.left > 1e-9]
    assert raised[-1] - raised[0] == pytest.approx(hump.length, abs=0.05)
    np.testing.assert_array_equal(road.left, road.right)
    if hump.shape == "flat_top":
        plateau = np.count_nonzero(road.left > hump.height - 1e-9) * 0.01
        assert plateau == pytest.approx(hump.length - 2.0 * hump.ramp, abs=0.03)


def test_british_humps_lie_in_their_legal_envelope():
    """Source 3."""
    for name in ("round_top_3700_100", "round_top_3700_75", "thump_900_37", "short_900_50"):
        hump = PUBLISHED_HUMPS[name]
        assert 0.025 <= hump.height <= 0.100
        assert hump.length >= 0.900


@pytest.mark.parametrize(("wavelength", "speed", "want"), [
    (0.6, 20, 9.26), (0.6, 40, 18.5), (0.6, 60, 27.8), (0.6, 80, 37.0),
    (0.8, 20, 6.94), (0.8, 40, 13.9), (0.8, 60, 20.8), (0.8, 80, 27.8),
    (1.0, 20, 5.56), (1.0, 40, 11.1), (1.0, 60, 16.7), (1.0, 80, 22.2),
])  # fmt: skip
def test_frequency_of_corrugations(wavelength, speed, want):
    """Source 2, printed to 3 digits: crests met per second over a built section."""
    section = Section(
        name="corrugations",
        length=130.0,
        speed=speed / 3.6,
        features=(
            Feature(kind="corrugation", at=5.0, parameters={"length": 120.0, "wavelength": wavelength, "depth": 0.03}),
        ),
    )
    road = build(section, track=1.5, seed=1, spacing=0.01)
    inside = (road.distance > 35.0) & (road.distance < 95.0)
    z, x = road.left[inside], road.distance[inside]
    up = np.flatnonzero((z[:-1] < 0.0) & (z[1:] >= 0.0))
    crossing = x[up] - z[up] * (x[up + 1] - x[up]) / (z[up + 1] - z[up])
    per_metre = (crossing.size - 1) / (crossing[-1] - crossing[0])
    assert section.speed * per_metre == pytest.approx(want, rel=5e-3)
    assert np.ptp(z) == pytest.approx(0.03, rel=5e-3)
    assert math.isclose(float(z.mean()), 0.0, abs_tol=2e-4)
