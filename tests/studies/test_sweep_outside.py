"""Designs and effects against SciPy: the hypercube is qmc's, effects are those of a linear regression."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from scipy.stats import qmc

from tussock.errors import InputError
from tussock.studies.designs import Range, design
from tussock.studies.sweep import USUAL, fitted_effects, pareto

TWO = (Range(key="front_rebound", low=0.7, high=1.4), Range(key="rear_stop_height", low=-0.01, high=0.02))


def test_a_latin_hypercube_is_that_of_scipy() -> None:
    made = design("latin", USUAL, points=50, levels=0, seed=7)
    low, high = ([getattr(r, end) for r in USUAL] for end in ("low", "high"))
    asked = qmc.scale(qmc.LatinHypercube(len(USUAL), rng=np.random.default_rng(7)).random(50), low, high)
    np.testing.assert_allclose(made[1:], asked, rtol=1e-13)
    np.testing.assert_array_equal(made[0], 1.0)


def test_a_latin_hypercube_has_one_point_in_every_row_of_every_adjuster() -> None:
    made = design("latin", TWO, points=20, levels=0, seed=3)[1:]
    for i, r in enumerate(TWO):
        rows = np.floor(20.0 * (made[:, i] - r.low) / (r.high - r.low)).astype(int)
        assert sorted(rows) == list(range(20))


def test_a_grid_and_one_at_a_time() -> None:
    grid = design("grid", TWO, points=0, levels=3, seed=0)
    assert len(grid) == 1 + 9
    assert {tuple(row) for row in grid[1:].round(6)} == {(a, b) for a in (0.7, 1.05, 1.4) for b in (-0.01, 0.005, 0.02)}
    one = design("one", TWO, points=0, levels=4, seed=0)
    assert len(one) == 1 + 8
    moved = one[1:] != np.array([1.0, 0.0])
    assert np.all(moved.sum(axis=1) <= 1)


@pytest.mark.parametrize(
    ("kind", "points", "levels", "words"),
    [
        ("latin", 0, 5, "0 points make no sweep"),
        ("latin", -3, 5, "-3 points"),
        ("one", 0, 1, "1 levels"),
        ("grid", 0, 3000, "9000000 points; 200000 at most"),
        ("spiral", 5, 5, "no design 'spiral'; the designs are latin, grid, one"),
    ],
)
def test_designs_that_cannot_be_are_refused(kind: str, points: int, levels: int, words: str) -> None:
    with pytest.raises(InputError, match=words):
        design(kind, TWO, points=points, levels=levels, seed=0)


def test_nothing_varied_and_one_varied_twice_are_refused() -> None:
    with pytest.raises(InputError, match="nothing is varied"):
        design("latin", (), points=5, levels=0, seed=0)
    with pytest.raises(InputError, match="front_rebound is varied twice"):
        design("latin", (TWO[0], TWO[0]), points=5, levels=0, seed=0)


def test_an_effect_and_its_interval_are_those_of_a_regression() -> None:
    """One adjuster: slope, its standard error and r squared as scipy.stats.linregress gives them."""
    rng = np.random.default_rng(4)
    place = rng.random((30, 1))
    logs = 0.02 - 0.07 * place[:, 0] + rng.normal(0.0, 0.01, 30)
    (effect,), explained = fitted_effects(place, logs)
    line = stats.linregress(place[:, 0], logs)
    t = stats.t.ppf(0.975, 28)
    assert effect.mean == pytest.approx(line.slope, rel=1e-9)
    assert (effect.low, effect.high) == pytest.approx((line.slope - t * line.stderr, line.slope + t * line.stderr))
    assert explained == pytest.approx(line.rvalue**2, rel=1e-9)


def test_effects_of_a_plane_are_found_exactly() -> None:
    place = design("latin", USUAL, points=20, levels=0, seed=2)[1:]
    wanted = np.array([0.05, -0.02, 0.0, 0.01, -0.04, 0.03])
    effects, explained = fitted_effects(place, 0.3 + place @ wanted)
    np.testing.assert_allclose([e.mean for e in effects], wanted, atol=1e-12)
    assert explained == pytest.approx(1.0)


@given(st.lists(st.tuples(st.integers(0, 9), st.integers(0, 9)), min_size=1, max_size=30))
def test_nothing_beats_a_point_of_the_front_and_something_every_other(cells: list[tuple[int, int]]) -> None:
    x, y = (np.array(side, dtype=float) for side in zip(*cells, strict=True))
    front = pareto(x, y)

    def beaten(i: int) -> bool:
        return bool(np.any((x <= x[i]) & (y <= y[i]) & ((x < x[i]) | (y < y[i]))))

    assert not any(beaten(i) for i in front)
    places = {(x[i], y[i]) for i in front}
    assert all(beaten(i) or (x[i], y[i]) in places for i in range(len(x)))
    assert list(x[list(front)]) == sorted(x[list(front)])


def test_a_point_that_failed_is_on_no_front() -> None:
    assert pareto(np.array([np.nan, 1.0]), np.array([np.nan, 1.0])) == (1,)
