"""Tracks as a section builds them, ends blended, against the tables of ISO 8608 for all its classes.

Source: ISO 8608. Class limits at 0.1 cycle/m (32, 128, 512 ... 1e-6 m^3) checked in three public transcriptions;
geometric means 16 * 4^k of Table C.1, means at 1 rad/m (1, 4, 16 ... 1e-6 m^3) of Table C.2, octave bands up to
0.0312, third octaves to 0.25 and twelfth octaves above of the smoothing, range 0.011 to 2.83 cycle/m: from memory.
The standard's full text was not seen. Coherence: isotropic surface, Dodds and Robson 1973, formula from memory,
verified by quadrature.
"""

from __future__ import annotations

import functools
import itertools
import math

import numpy as np
import pytest

from tussock.mechanics.roads import (
    CLASS_MEAN,
    Section,
    Track,
    build,
    class_of,
    coherence,
    displacement_density,
    track_coherence,
)

pytestmark = pytest.mark.literature

# class: lower limit, mean, upper limit at 0.1 cycle/m; mean at 1 rad/m, all in 1e-6 m^3
TABLE = {
    "A": (None, 16, 32, 1),
    "B": (32, 64, 128, 4),
    "C": (128, 256, 512, 16),
    "D": (512, 1024, 2048, 64),
    "E": (2048, 4096, 8192, 256),
    "F": (8192, 16384, 32768, 1024),
    "G": (32768, 65536, 131072, 4096),
    "H": (131072, 262144, None, 16384),
}
SPACING, LENGTH = 0.05, 3000.0


@functools.cache
def track(road_class: str) -> Track:
    section = Section.of_class(road_class, name=f"class {road_class}", length=LENGTH, speed=10.0)
    return build(section, track=1.5, seed=3, spacing=SPACING)


def bands() -> list[tuple[float, float]]:
    """Octaves, third octaves and twelfth octaves of the standard's smoothing that 3 km can fill."""
    edges = [0.0221, 0.0442, *(0.0442 * 2.0 ** (np.arange(1, 9) / 3.0)), *(0.2806 * 2.0 ** (np.arange(1, 41) / 12.0))]
    return [(a, b) for a, b in itertools.pairwise(edges) if b <= 2.83]


def smoothed(road: Track) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return centre of each band, density at 0.1 cycle/m that it stands for, and its number of free values."""
    centre, mean, free = [], [], []
    both = [displacement_density(z, SPACING, segment=400.0) for z in (road.left, road.right)]
    frequency, density = both[0][0], 0.5 * (both[0][1] + both[1][1])
    for a, b in bands():
        pick = (frequency >= a) & (frequency < b)
        centre.append(math.sqrt(a * b))
        mean.append(float(np.mean(density[pick] * (frequency[pick] / 0.1) ** 2)))
        # 14 half-overlapping Hann pieces are worth about 0.95 of themselves; neighbours share a Hann line's 1.5 bins
        free.append(13.0 * max(np.count_nonzero(pick) / 1.5, 1.0))
    return np.array(centre), np.array(mean), np.array(free)


@pytest.mark.parametrize("road_class", TABLE)
def test_table_of_means_and_limits(road_class):
    low, mean, high, angular = TABLE[road_class]
    assert CLASS_MEAN[road_class] == pytest.approx(mean * 1e-6)
    # Gd(1 rad/m) = Gd(n) / 2 pi at n = 1 / 2 pi; Table C.2 is rounded to powers of 4, 0.53 % lower
    at_one = CLASS_MEAN[road_class] * (2.0 * math.pi * 0.1) ** 2 / (2.0 * math.pi)
    assert at_one == pytest.approx(angular * 1e-6, rel=0.0054)
    for limit, side in ((low, 1.001), (high, 0.999)):
        if limit is not None:
            assert class_of(limit * side * 1e-6) == road_class
            assert limit in (mean / 2, mean * 2)  # the mean is geometric: limits lie a factor 2 to either side


@pytest.mark.parametrize("road_class", TABLE)
def test_every_band_of_a_built_road_lies_in_its_class(road_class):
    """All bands within the limits, each within 4 standard errors of the mean, all together within 3 %."""
    low, mean, high, _ = TABLE[road_class]
    _, density, free = smoothed(track(road_class))
    assert density.size == len(bands()) >= 45
    ratio = density / (mean * 1e-6)
    if low is not None:
        assert np.all(density > low * 1e-6)
    if high is not None:
        assert np.all(density < high * 1e-6)
    assert np.all(np.abs(ratio - 1.0) < 4.0 / np.sqrt(free))
    assert np.average(ratio, weights=free) == pytest.approx(1.0, abs=0.03)


@pytest.mark.parametrize("road_class", ["A", "D", "H"])
def test_left_and_right_of_a_built_road(road_class):
    """Coherence of the isotropic surface 1.5 m apart, in bands; the tracks are as rough as each other."""
    road = track(road_class)
    frequency, got = track_coherence(road.left, road.right, SPACING, segment=100.0)
    for a, b in ((0.03, 0.07), (0.07, 0.15), (0.15, 0.3), (0.3, 0.6), (0.6, 1.2)):
        pick = (frequency >= a) & (frequency < b)
        want = float(np.mean(coherence(frequency[pick], track=1.5)))
        error = (1.0 - want**2) / math.sqrt(2.0 * 55.0 * max(np.count_nonzero(pick) / 1.5, 1.0))
        assert float(np.mean(got[pick])) == pytest.approx(want, abs=4.0 * error + 0.005)
