"""Spreading of labels: none overlaps, each moves least."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import isotonic_regression

from tussock.errors import DomainError
from tussock.release.figures.spread import spread

labels = st.lists(st.tuples(st.floats(-50.0, 250.0), st.floats(1.0, 30.0)), min_size=1, max_size=12)


@given(labels, st.floats(0.0, 3.0))
def test_no_label_overlaps_and_all_stay_inside(items: list[tuple[float, float]], gap: float) -> None:
    wanted, sizes = [w for w, _ in items], [s for _, s in items]
    high = max(200.0, sum(sizes) + gap * len(sizes))
    places = spread(wanted, sizes, low=0.0, high=high, gap=gap)
    order = sorted(range(len(places)), key=lambda i: places[i])
    for below, above in itertools.pairwise(order):
        assert places[above] - places[below] >= 0.5 * (sizes[above] + sizes[below]) + gap - 1e-9
        assert wanted[above] >= wanted[below]  # never reordered
    assert places[order[0]] - 0.5 * sizes[order[0]] >= -1e-9
    assert places[order[-1]] + 0.5 * sizes[order[-1]] <= high + 1e-9


@given(labels)
def test_moves_are_least_squares_against_scipy(items: list[tuple[float, float]]) -> None:
    # outside check: scipy.optimize.isotonic_regression on the shifted problem, with ends too far to matter
    wanted = np.array(sorted(w for w, _ in items))
    sizes = np.array([s for _, s in items])
    places = spread(wanted.tolist(), sizes.tolist(), low=-1e4, high=1e4)
    steps = np.concatenate([[0.0], np.cumsum(0.5 * (sizes[1:] + sizes[:-1]))])
    best = isotonic_regression(wanted - steps).x + steps
    assert np.allclose(sorted(places), best, atol=1e-9)


def test_labels_that_have_room_stay() -> None:
    assert spread([10.0, 50.0, 30.0], [8.0, 8.0, 8.0], low=0.0, high=100.0) == (10.0, 50.0, 30.0)


def test_too_many_labels_say_what_they_need() -> None:
    with pytest.raises(DomainError, match=r"need 60\.0 pt but there are 40\.0 pt"):
        spread([1.0, 2.0, 3.0], [20.0, 20.0, 20.0], low=0.0, high=40.0)


def test_lists_of_different_length_are_refused() -> None:
    with pytest.raises(DomainError, match="2 label positions but 1"):
        spread([1.0, 2.0], [3.0], low=0.0, high=40.0)


def test_nothing_to_spread() -> None:
    assert spread([], [], low=0.0, high=1.0) == ()
