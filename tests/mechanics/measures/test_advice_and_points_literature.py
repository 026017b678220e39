"""What the standard says of its own measures, and its points beside the seat surface: closed forms and scaling.

Sources
-------
1. ISO 2631-1:1997: crest factor 9 (6.2.1; checked in a public transcription), ratios 1.5 and 1.75 (6.3.3; from memory),
   factors of 8.2.2 and root sum of squares of 8.2.3 (from memory but for backrest x).
2. Griffin 1998, J Sound Vib 215(4) 883-914, abstract: the two ratio criteria conflict. Closed form of a sine that is on
   for t_b of T seconds, both long: MTVV / a = sqrt(T / t_b); VDV / (a T^1/4) = (3/2)^(1/4) (T / t_b)^(1/4). The first
   passes 1.5 at T / t_b = 2.25, the second 1.75 at 6.25: in between they contradict each other.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from tussock.errors import DomainError
from tussock.mechanics.measures import (
    BACKREST,
    FEET,
    SEAT,
    SEAT_ROTATION,
    WC,
    WD,
    WE,
    WK,
    axis_comfort,
    overall_total,
    point_total,
    seat_comfort,
    weighted_comfort,
)

STEP = 1e-3


def burst(on: float, whole: float) -> np.ndarray:
    """A sine of 8 Hz that is on for the first `on` of `whole` seconds; weighted already."""
    t = np.arange(round(whole / STEP)) * STEP
    return np.where(t < on, np.sin(2.0 * math.pi * 8.0 * t), 0.0)


@pytest.mark.literature
@pytest.mark.parametrize(
    ("ratio", "peak", "dose"), [(2.0, False, False), (2.5, True, False), (6.0, True, False), (6.5, True, True)]
)
def test_where_the_two_ratios_contradict_each_other(ratio: float, peak: bool, dose: bool) -> None:
    """Source 2: both ratios to 1e-3, and which of them calls for more than the r.m.s."""
    got = weighted_comfort(burst(4.0, 4.0 * ratio), STEP, axis="z")
    assert got.peak_ratio == pytest.approx(math.sqrt(ratio), rel=1e-3)
    assert got.dose_ratio == pytest.approx(1.5**0.25 * ratio**0.25, rel=1e-3)
    assert (got.peak_ratio > 1.5, got.dose_ratio > 1.75) == (peak, dose)
    assert got.torn == (peak != dose)
    assert ("contradict" in got.advice) == (peak != dose)
    assert got.judge_by == ("r.m.s., VDV, MTVV" if peak or dose else "r.m.s.")
    assert got.crest == pytest.approx(math.sqrt(2.0 * ratio), rel=1e-3)
    assert got.crest < 9.0  # so the crest factor alone would have been content with the r.m.s.


def test_one_jolt_in_a_long_quiet_drive_is_not_torn() -> None:
    """A jolt far above the rest passes all three limits: no contradiction, and dose and peak count."""
    quiet = np.random.default_rng(3).standard_normal(60_000) * 0.01
    quiet[30_000:30_050] += 6.0
    got = axis_comfort(quiet, STEP, axis="z", weighting=WK)
    assert len(got.reasons) == 3
    assert not got.torn


@pytest.mark.literature
@pytest.mark.parametrize(
    ("axes", "weightings", "factors"),
    [
        (BACKREST, (WC, WD, WD), (0.80, 0.50, 0.40)),
        (FEET, (WK, WK, WK), (0.25, 0.25, 0.40)),
        (SEAT_ROTATION, (WE, WE, WE), (0.63, 0.40, 0.20)),
    ],
)
def test_points_beside_the_seat(axes: dict, weightings: tuple, factors: tuple) -> None:
    """Source 1: a settled sine of 4 Hz on one axis after the other, 1 % for the start that is not settled."""
    t = np.arange(40_000) * STEP
    for i, (weighting, factor) in enumerate(zip(weightings, factors, strict=True)):
        a = np.zeros((t.size, 3))
        a[:, i] = 2.0 * np.sin(2.0 * math.pi * 4.0 * t)
        want = factor * float(weighting.gain(np.array([4.0]))[0]) * math.sqrt(2.0)
        assert point_total(a, STEP, axes) == pytest.approx(want, rel=0.01)
        assert point_total(-3.0 * a, STEP, axes) == pytest.approx(3.0 * point_total(a, STEP, axes), rel=1e-9)


def test_points_join_by_squares() -> None:
    a = np.random.default_rng(5).standard_normal((4000, 3))
    turn = np.random.default_rng(6).standard_normal((4000, 3))
    with_rotation = seat_comfort(a, STEP, rotation=turn).total
    joined = overall_total([point_total(a, STEP, SEAT), point_total(turn, STEP, SEAT_ROTATION)])
    assert joined == pytest.approx(with_rotation, rel=1e-12)
    assert overall_total([0.5]) == 0.5


@pytest.mark.parametrize(("make", "text"), [
    (lambda: point_total(np.zeros((10, 2)), STEP, FEET), "three columns"),
    (lambda: overall_total([]), "at least one"),
    (lambda: overall_total([0.1, math.nan]), "without a number"),
])  # fmt: skip
def test_refusals_of_points(make, text) -> None:
    with pytest.raises(DomainError, match=text):
        make()
