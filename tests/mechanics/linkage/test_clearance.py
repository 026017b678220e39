"""Capsule distances against a general-purpose bounded minimiser, and their invariances."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy.optimize import lsq_linear

from tussock.errors import InputError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage import Axle, clearance

POINTS = arrays(np.float64, (4, 3), elements=st.floats(-1.0, 1.0, allow_subnormal=False).map(lambda v: round(v, 6)))


def bounded(p: Floats) -> float:
    """Least distance of two segments by SciPy's bounded linear least squares."""
    matrix = np.column_stack([p[1] - p[0], -(p[3] - p[2])])
    fit = lsq_linear(matrix, p[2] - p[0], bounds=(0.0, 1.0), method="bvls", tol=1e-14)
    return float(np.sqrt(2.0 * fit.cost))


@settings(max_examples=150, deadline=None)
@given(p=POINTS)
def test_distance_equals_a_bounded_minimum(p: Floats) -> None:
    assert float(clearance(*p)) == pytest.approx(bounded(p), abs=2e-7)


@settings(max_examples=60, deadline=None)
@given(p=POINTS, shift=arrays(np.float64, 3, elements=st.floats(-5.0, 5.0)), radius=st.floats(0.0, 0.1))
def test_distance_does_not_depend_on_names_or_place(p: Floats, shift: Floats, radius: float) -> None:
    d = float(clearance(*p))
    assert float(clearance(p[2], p[3], p[0], p[1])) == pytest.approx(d, abs=1e-9)
    assert float(clearance(p[1], p[0], p[3], p[2])) == pytest.approx(d, abs=1e-9)
    assert float(clearance(*(p + shift))) == pytest.approx(d, abs=1e-7)
    assert float(clearance(*p, a_radius=radius, b_radius=0.01)) == pytest.approx(d - radius - 0.01, abs=1e-12)


def test_parallel_crossing_and_point_segments() -> None:
    x, y, z = np.eye(3)
    o = np.zeros(3)
    assert float(clearance(o, x, z, x + z)) == pytest.approx(1.0, abs=1e-15)
    assert float(clearance(-x, x, z - y, z + y)) == pytest.approx(1.0, abs=1e-15)
    assert float(clearance(o, x, 3 * x, 4 * x)) == pytest.approx(2.0, abs=1e-15)
    assert float(clearance(o, o, y, y)) == pytest.approx(1.0, abs=1e-15)
    assert float(clearance(-x, x, o, o, a_radius=0.02)) == pytest.approx(-0.02, abs=1e-15)


def test_many_poses_of_a_rod_against_a_chassis_point(front: Callable[..., Axle]) -> None:
    """The track rod rises to the sump as the axle goes up; both ends may be given for all poses at once."""
    axle = front()
    s = axle.solve(np.linspace(-0.1, 0.1, 5), np.zeros(1))
    rod = next(e for e in axle.linkage.elements if e.name == "track_rod")
    sump = np.array([0.118, 0.06, 0.518]), np.array([0.118, -0.16, 0.512])
    gap = clearance(s.point(rod.body_a, rod.point_a), s.point(rod.body_b, rod.point_b), *sump, a_radius=0.016)
    assert gap.shape == (5,)
    assert np.all(np.diff(gap) < 0.0)


def test_wrong_input() -> None:
    with pytest.raises(InputError, match="cannot be below zero"):
        clearance(*np.zeros((4, 3)), a_radius=-0.01)
    with pytest.raises(InputError, match="three coordinates"):
        clearance(*np.zeros((4, 2)))
