"""Solving for a part's size, against measures whose answers are known in closed form."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tussock.errors import SolverError
from tussock.studies.mending import Adjustment, least, nearest, smallest


def way(most: float = 0.08, step: float = 1e-3) -> Adjustment:
    return Adjustment(
        key="b", title="bracket", end="front", most=most, step=step, more="up {}", less="down {}",
        changes=lambda size: {"p@axle": np.array([0.0, 0.0, size])},
    )  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(root=st.floats(-0.079, 0.079), slope=st.floats(0.1, 10.0))
def test_smallest_is_the_first_whole_step_that_holds(root: float, slope: float) -> None:
    towards = math.copysign(slope, root)

    def over(size: float) -> float:
        return towards * (root - size)

    part = smallest(way(), over, what="it", kind="length")
    assert over(part.size) <= 1e-6 * slope  # a thousandth of a step is no step more
    assert abs(part.size) == pytest.approx(math.ceil(abs(root) * 1e3 - 1e-3) * 1e-3, abs=1e-9)


def test_smallest_looks_both_ways_and_between_its_looks() -> None:
    both = smallest(way(), lambda x: (0.03 - x) * (x + 0.012), what="it", kind="length")
    assert both.size == pytest.approx(-0.012)
    assert both.words == "down 12 mm"
    narrow = smallest(way(), lambda x: abs(x - 0.0352) - 0.0005, what="it", kind="length")
    assert narrow.size == pytest.approx(0.035)
    assert smallest(way(), lambda x: -1.0, what="it", kind="length").size == 0.0


def test_what_no_size_reaches_is_said_with_the_best() -> None:
    with pytest.raises(SolverError, match=r"no bracket up to 80 mm brings it down.*the best, \+35 mm, is 1.0 mm over"):
        smallest(way(), lambda x: (x - 0.035) ** 2 + 0.001, what="it", kind="length_fine")
    with pytest.raises(SolverError, match=r"the nearest, \+80 mm, stays 20 mm away"):
        nearest(way(), lambda x: x - 0.1, what="it", kind="length")


@settings(max_examples=40, deadline=None)
@given(target=st.floats(-0.07, 0.07))
def test_nearest_and_least_find_the_same_bottom(target: float) -> None:
    assert nearest(way(), lambda x: x - target, what="it", kind="length").size == pytest.approx(target, abs=0.51e-3)
    assert least(way(), lambda x: (x - target) ** 2).size == pytest.approx(target, abs=0.8e-3)


@pytest.mark.parametrize("target", [5e-324, -5e-324, 1e-200, -1e-310])
def test_a_target_all_but_met_already_is_met_by_no_part(target: float) -> None:
    """The product of two errors of one sign, one of them that small, rounds to 0: no change of sign."""
    assert nearest(way(), lambda x: x - target, what="it", kind="length").size == 0.0
