"""Paired intervals against SciPy's t test, a textbook's paired example, and their own coverage.

Source: R. A. Fisher, Statistical Methods for Research Workers (1925), the sleep data of Cushny and Peebles (1905), the
first worked paired t test: ten patients, hours gained with each of two drugs; mean difference 1.58, t = 4.06 on nine
degrees of freedom. Figures from memory; R ships them as the data set `sleep`.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from tussock.errors import DomainError
from tussock.studies.paired import paired

FIRST = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0]
SECOND = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4]


@pytest.mark.literature
def test_the_sleep_data() -> None:
    d = paired([b - a for a, b in zip(FIRST, SECOND, strict=True)])
    assert d.mean == pytest.approx(1.58, abs=0.005)
    assert d.mean / (d.spread / math.sqrt(d.count)) == pytest.approx(4.06, abs=0.005)
    assert d.told


@given(
    st.lists(st.tuples(st.floats(-50.0, 50.0), st.floats(-50.0, 50.0)), min_size=3, max_size=20),
    st.sampled_from([0.8, 0.9, 0.95, 0.99]),
)
def test_intervals_are_those_of_scipy(pairs: list[tuple[float, float]], confidence: float) -> None:
    a, b = (np.array(side) for side in zip(*pairs, strict=True))
    difference = a - b
    if np.ptp(difference) < 1e-6 * max(1.0, float(np.abs(difference).max())):
        return
    low, high = stats.ttest_rel(a, b).confidence_interval(confidence)
    d = paired(list(difference), confidence=confidence)
    assert (d.low, d.high) == pytest.approx((float(low), float(high)), rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("count", [2, 4, 8])
def test_an_interval_covers_the_truth_as_often_as_it_says(count: int) -> None:
    """2,000 synthetic sets of roads, each a strong common part and a small own one: 95 % but for the draw."""
    rng = np.random.default_rng(11)
    truth, n = -0.02, 2000
    road = rng.normal(0.0, 0.2, (n, count))
    one, other = road + rng.normal(0.0, 0.01, road.shape) + truth, road + rng.normal(0.0, 0.01, road.shape)
    found = [paired(list(row)) for row in one - other]
    covered = float(np.mean([d.low <= truth <= d.high for d in found]))
    assert covered == pytest.approx(0.95, abs=3.0 * math.sqrt(0.95 * 0.05 / n))
    # unpaired, the roads' own spread would hide it: intervals some fifteen times as wide
    apart = [stats.ttest_ind(a, b).confidence_interval() for a, b in zip(one[:50], other[:50], strict=True)]
    assert np.median([i.high - i.low for i in apart]) > 5.0 * np.median([2.0 * d.half for d in found[:50]])


def test_noise_is_called_a_difference_once_in_twenty() -> None:
    rng = np.random.default_rng(12)
    told = float(np.mean([paired(list(row)).told for row in rng.normal(0.0, 0.03, (2000, 8))]))
    assert told == pytest.approx(0.05, abs=3.0 * math.sqrt(0.95 * 0.05 / 2000))


def test_roads_that_do_not_differ_leave_no_doubt() -> None:
    d = paired([-0.03] * 5)
    assert (d.mean, d.low, d.high, d.spread) == (-0.03, -0.03, -0.03, 0.0)
    assert d.told
    assert not paired([0.0] * 5).told


def test_as_many_roads_as_it_says_would_tell_a_difference() -> None:
    """Of 400 sets with the number of roads that one small set asked for, the difference is told in most."""
    rng = np.random.default_rng(13)
    n = paired(list(rng.normal(0.01, 0.02, 400))).pairs_to_tell()
    assert n is not None
    assert 12 <= n <= 40
    told = np.mean([paired(list(row)).told for row in rng.normal(0.01, 0.02, (400, 2 * n))])
    assert told > 0.75
    assert paired([0.0, 0.0]).pairs_to_tell() is None


@pytest.mark.parametrize(
    ("values", "confidence", "words"),
    [
        ([1.0], 0.95, "1 pairs tell no spread"),
        ([1.0, math.nan], 0.95, "not a number"),
        ([1.0, 2.0], 1.0, "a confidence of 1"),
        ([1.0, 2.0], 0.2, "a confidence of 0.2"),
    ],
)
def test_what_tells_nothing_is_refused(values: list[float], confidence: float, words: str) -> None:
    with pytest.raises(DomainError, match=words):
        paired(values, confidence=confidence)
