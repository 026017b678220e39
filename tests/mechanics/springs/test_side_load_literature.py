"""Coils under side load against the column that the standard's formula comes from.

Sources
-------
1. EN 13906-1:2013, 9.13 (transverse loading) and 9.14 (buckling); 9.13 from memory, the standard was not seen.
2. J. A. Haringx, Philips Research Reports 3-4 (1948-49): a spring as a column whose bending, shear and axial stiffness
   fall with its length; from memory. Here its differential equation is solved by SciPy, apart from the formula.
3. A. M. Wahl, Mechanical Springs: stress of a wave along the wire (from memory).
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.integrate import solve_bvp

from tussock.errors import DomainError
from tussock.mechanics.springs import CoilSpring, impact_stress, side_load, transverse_rate

pytestmark = pytest.mark.literature
COIL = CoilSpring(wire=12.5e-3, mean_diameter=110e-3, active_coils=7.5, free_length=365e-3)


def _column_rate(spring: CoilSpring, length: float) -> float:
    """Source 2: sideways rate of the Haringx column, both ends upright, one moved by 1 mm."""
    e, g = spring.elastic_modulus, spring.shear_modulus
    d, mean, n = spring.wire, spring.mean_diameter, spring.active_coils
    load = spring.force(length)
    bending = length * d**4 * e * g / (16.0 * n * mean * (2.0 * g + e))
    shear = length * e * d**4 / (8.0 * n * mean**3)
    move = 1e-3

    # unknowns: sideways place y, turn of the section, moment, and the side force as a constant
    def slopes(_: np.ndarray, state: np.ndarray, side: np.ndarray) -> np.ndarray:
        _y, turn, moment = state
        across = side[0] + load * turn  # force along the turned section
        return np.vstack([turn + across / shear, moment / bending, -(side[0] + load * (turn + across / shear))])

    def ends(a: np.ndarray, b: np.ndarray, side: np.ndarray) -> np.ndarray:
        return np.array([a[0], a[1], b[0] - move, b[1]])

    z = np.linspace(0.0, length, 101)
    guess = np.vstack([move * z / length, 0.0 * z, 0.0 * z])
    found = solve_bvp(slopes, ends, z, guess, p=[1.0], tol=1e-8, max_nodes=20_000)
    assert found.success
    return float(found.p[0]) / move


@pytest.mark.parametrize("length", [0.355, 0.330, 0.300, 0.270, 0.240, 0.200, 0.150])
def test_transverse_rate_is_that_of_the_column(length: float) -> None:
    assert transverse_rate(COIL, length) == pytest.approx(_column_rate(COIL, length), rel=1e-6)


@given(index=st.floats(5.0, 12.0), slender=st.floats(2.0, 5.0), share=st.floats(0.02, 0.98))
def test_the_sideways_rate_ends_where_the_standard_says_it_buckles(index: float, slender: float, share: float) -> None:
    """Source 1: ends held upright but free to shift have nu = 1; there the rate falls to none."""
    spring = CoilSpring(
        wire=0.01,
        mean_diameter=index * 0.01,
        active_coils=3.0,
        free_length=slender * index * 0.01,
    )
    buckles = spring.buckling_deflection("hinged, hinged")
    deepest = spring.free_length - spring.solid_length
    assume(deepest > 0.01)
    if buckles < deepest * 0.98:
        assert transverse_rate(spring, spring.free_length - buckles) == pytest.approx(0.0, abs=1e-6 * spring.rate)
        assert transverse_rate(spring, spring.free_length - buckles * 0.999) > 0.0
        assert transverse_rate(spring, spring.free_length - buckles * 1.001) < 0.0
    else:
        assert transverse_rate(spring, spring.free_length - share * deepest * 0.98) > 0.0


def test_side_load_balances_its_moments() -> None:
    """Source 1: each end is held by half of F_Q L + F s_Q; no offset, no side load and the plain stress."""
    none = side_load(COIL, length=0.285, offset=0.0)
    assert (none.force, none.seated, none.line_shift) == (0.0, 0.0, 0.0)
    assert none.stress == pytest.approx(COIL.stress_at(0.285), rel=1e-12)
    some = side_load(COIL, length=0.285, offset=0.012)
    load = COIL.force(0.285)
    assert some.force == pytest.approx(some.rate * 0.012)
    assert 2.0 * some.line_shift * load == pytest.approx(some.force * 0.285 + load * 0.012, rel=1e-12)
    assert some.seated == pytest.approx(some.line_shift / (0.5 * COIL.mean_diameter), rel=1e-12)
    assert some.stress > none.stress


def test_held_ends_end_where_the_standard_says_they_buckle() -> None:
    """Source 1: nu = 0.5 for both ends fixed and guided."""
    slim = CoilSpring(wire=10e-3, mean_diameter=70e-3, active_coils=12.0, free_length=480e-3)
    buckles = slim.buckling_deflection("fixed, fixed")
    assert buckles < slim.free_length - slim.solid_length
    assert transverse_rate(slim, slim.free_length - buckles * 0.999) < 0.0
    with pytest.raises(DomainError, match="between held seats"):
        transverse_rate(slim, slim.free_length - buckles * 1.001)


def test_impact_stress() -> None:
    """Source 3: v sqrt(2 rho G): 35.1 MPa per m/s for steel of 78.5 GPa and 7.85 kg/dm3."""
    assert impact_stress(1.0) / 1e6 == pytest.approx(35.106, abs=5e-4)
    assert impact_stress(3.0) == pytest.approx(3.0 * math.sqrt(2.0 * 7850.0 * 78.5e9))
    with pytest.raises(DomainError, match="give its amount"):
        impact_stress(-1.0)


def test_bad_offsets_and_loose_springs_are_refused() -> None:
    with pytest.raises(DomainError, match="not negative"):
        side_load(COIL, length=0.285, offset=-0.01)
    with pytest.raises(DomainError, match="loose"):
        transverse_rate(COIL, 0.366)
