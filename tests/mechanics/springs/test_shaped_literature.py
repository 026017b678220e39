"""Coils of changing wire, diameter and pitch against closed forms and quadrature.

Sources
-------
1. A. M. Wahl, Mechanical Springs: rate of a conical spring, G d^4 / [2 n (D1^2 + D2^2) (D1 + D2)] (from memory; the
   integral of the local closing of a turn gives the same), closure coil by coil.
2. M. Rodriguez, M. Paredes, M. Sartor, J. Mech. Design 128 (2006): conical spring of constant pitch, loads of first and
   of last closing G d^4 g / (8 D^3 per turn) at the large and at the small end; telescoping of the closed turns (from
   memory).
3. EN 13906-1:2013 for the cylinder (formulas seen in public transcriptions, not in the standard itself).
4. SciPy quadrature of the local deflection, independent of the pieces that the code cuts the wire into.
"""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from tussock.errors import DomainError
from tussock.mechanics.springs import CoilSpring, ShapedCoil

pytestmark = pytest.mark.literature
G = 78.5e9


def _cone(*, small: float, large: float, wire: float, turns: float, pitch: float) -> ShapedCoil:
    return ShapedCoil(
        turns=np.array([0.0, turns]),
        wire=np.full(2, wire),
        mean_diameter=np.array([small, large]),
        pitch=np.full(2, pitch),
    )


def test_cone_is_linear_until_its_large_end_closes() -> None:
    """Source 1 and 2: rate before the first closing, loads of first and last closing, telescoped solid length."""
    d, small, large, n, pitch = 0.010, 0.060, 0.110, 6.0, 0.022
    cone = _cone(small=small, large=large, wire=d, turns=n, pitch=pitch)
    rate = G * d**4 / (2.0 * n * (small**2 + large**2) * (small + large))
    assert cone.rate_at(cone.free_length - 1e-3) == pytest.approx(rate, rel=1e-5)
    closed = math.sqrt(d**2 - ((large - small) / (2.0 * n)) ** 2)
    assert cone.solid_length == pytest.approx(n * closed, rel=1e-12)
    gap = pitch - closed
    # the outermost pieces are half a piece from the ends
    assert cone.first_closing_force == pytest.approx(G * d**4 * gap / (8.0 * large**3), rel=3e-3)
    assert cone.solid_force == pytest.approx(G * d**4 * gap / (8.0 * small**3), rel=3e-3)
    assert cone.solid_force / cone.first_closing_force == pytest.approx((large / small) ** 3, rel=5e-3)


@pytest.mark.parametrize("share", [0.2, 0.5, 0.8])
def test_cone_past_the_first_closing_by_quadrature(share: float) -> None:
    """Source 4: deflection under a load between first and last closing."""
    d, small, large, n, pitch = 0.010, 0.060, 0.110, 6.0, 0.022
    cone = _cone(small=small, large=large, wire=d, turns=n, pitch=pitch)
    load = cone.first_closing_force + share * (cone.solid_force - cone.first_closing_force)
    gap = pitch - math.sqrt(d**2 - ((large - small) / (2.0 * n)) ** 2)

    def turn(u: float) -> float:
        mean = small + (large - small) * u / n
        return min(8.0 * load * mean**3 / (G * d**4), gap)

    knee = n * (((G * d**4 * gap / (8.0 * load)) ** (1.0 / 3.0)) - small) / (large - small)
    deflection = quad(turn, 0.0, n, points=[knee], epsabs=1e-13)[0]
    assert cone.free_length - cone.length(load) == pytest.approx(deflection, rel=1e-5)


def test_a_cone_steeper_than_its_wire_lies_flat() -> None:
    """Source 2: radius grows by more than a wire per turn, so nothing stands on anything."""
    flat = _cone(small=0.06, large=0.16, wire=0.008, turns=5.0, pitch=0.02)
    assert flat.solid_length == 0.0
    assert flat.free_length == pytest.approx(5.0 * 0.02, rel=1e-12)


def test_tapered_wire_against_its_closed_form() -> None:
    """Source 1: wire from d1 to d2 along a cylinder; 1/R = 8 D^3/G times the mean of 1/d^4, n (d2^-3 - d1^-3)/(-3)."""
    d1, d2, mean, n = 0.0105, 0.0145, 0.115, 7.0
    spring = ShapedCoil(
        turns=np.array([0.0, n]),
        wire=np.array([d1, d2]),
        mean_diameter=np.full(2, mean),
        pitch=np.array([0.04, 0.04]),
    )
    soft = 8.0 * mean**3 / G * n / (d2 - d1) * (d1**-3 - d2**-3) / 3.0
    assert spring.rate_at(spring.free_length - 1e-4) == pytest.approx(1.0 / soft, rel=1e-5)
    # the thin end closes first, though its gap is the larger one: the rate rises from there on
    assert spring.rate_at(spring.solid_length + 5e-3) > 1.5 / soft
    assert spring.solid_length == pytest.approx(n * 0.5 * (d1 + d2), rel=1e-12)


def test_variable_pitch_against_the_turn_by_turn_case() -> None:
    """Source 1: d 13, D 115, gaps 4, 4, 8, 12, 20, 20, 20 mm turn by turn (figures worked out for this project)."""
    gaps = np.array([4, 4, 8, 12, 20, 20, 20]) * 1e-3
    edges = np.arange(8.0)
    turns = np.sort(np.concatenate([edges[:-1], edges[1:] - 1e-9]))
    spring = ShapedCoil(
        turns=turns,
        wire=np.full(14, 0.013),
        mean_diameter=np.full(14, 0.115),
        pitch=0.013 + np.repeat(gaps, 2),
    )
    # 600 pieces do not fall on the steps between seven turns: within one piece
    for load, deflection, rate in [(737.1, 28.0, 36.854), (1474.2, 48.0, 46.068), (2211.3, 64.0, 61.424)]:
        at = spring.length(load * 1.001)
        assert 1e3 * (spring.free_length - at) == pytest.approx(deflection, rel=3e-3)
        assert spring.rate_at(at) / 1e3 == pytest.approx(rate, rel=4e-3)
    assert spring.solid_force == pytest.approx(3685.4, abs=0.06)
    assert 1e3 * (spring.free_length - spring.solid_length) == pytest.approx(88.0, rel=2e-3)


@given(
    wire=st.floats(0.008, 0.02),
    index=st.floats(5.0, 11.0),
    turns=st.floats(3.0, 10.0),
    gap=st.floats(0.005, 0.04),
    share=st.floats(0.05, 0.95),
)
def test_a_cylinder_is_the_plain_coil(wire: float, index: float, turns: float, gap: float, share: float) -> None:
    """Source 3: rate, load, stress, natural frequency and energy of the EN coil come back."""
    mean = index * wire
    plain = CoilSpring(
        wire=wire, mean_diameter=mean, active_coils=turns, free_length=(turns + 1.2) * wire + turns * gap
    )
    shaped = ShapedCoil(
        turns=np.array([0.0, turns]),
        wire=np.full(2, wire),
        mean_diameter=np.full(2, mean),
        pitch=np.full(2, wire + gap),
        end_length=1.2 * wire,
    )
    at = plain.solid_length + share * (plain.free_length - plain.solid_length)
    assert shaped.free_length == pytest.approx(plain.free_length, rel=1e-12)
    assert shaped.rate_at(at) == pytest.approx(plain.rate, rel=1e-10)
    assert shaped.load_at(at) == pytest.approx(plain.load_at(at), rel=1e-9)
    assert shaped.energy_at(at) == pytest.approx(plain.energy_at(at), rel=1e-9)
    assert shaped.stress_at(at) == pytest.approx(plain.stress_at(at), rel=1e-9)
    corrected = float(np.max(shaped.stresses_at(at, corrected=True)))
    assert corrected == pytest.approx(plain.stress(plain.load_at(at), corrected=True), rel=1e-9)
    assert shaped.natural_frequency(at) == pytest.approx(plain.natural_frequency, rel=2e-3)


def test_a_barrel_closes_from_both_ends_and_rings_higher_when_it_has() -> None:
    """Both halves mirror each other; the more turns have closed, the stiffer and the quicker the rest."""
    barrel = ShapedCoil(
        turns=np.array([0.0, 3.0, 6.0]),
        wire=np.array([0.010, 0.013, 0.010]),
        mean_diameter=np.array([0.085, 0.125, 0.085]),
        pitch=np.array([0.030, 0.048, 0.030]),
    )
    lengths = np.linspace(barrel.free_length - 1e-3, barrel.solid_length + 2e-3, 12)
    rates = [barrel.rate_at(float(x)) for x in lengths]
    assert all(b >= a for a, b in itertools.pairwise(rates))
    assert rates[-1] > 1.5 * rates[0]
    half_closed = barrel.length(0.5 * (barrel.first_closing_force + barrel.solid_force))
    frequencies = [barrel.natural_frequency(float(x)) for x in (lengths[0], half_closed)]
    assert frequencies[1] > frequencies[0]
    along = barrel.stresses_at(float(lengths[5]))
    assert along == pytest.approx(along[::-1], rel=1e-9)
    with pytest.raises(DomainError, match="below its shortest"):
        barrel.load_at(barrel.solid_length - 1e-3)


@pytest.mark.parametrize(
    ("change", "wrong"),
    [
        ({"turns": np.array([1.0, 7.0])}, "must rise from 0"),
        ({"wire": np.array([0.012, -0.01])}, "must be positive"),
        ({"pitch": np.array([0.03, 0.005])}, "pitch is less than the wire needs"),
        ({"mean_diameter": np.array([0.1, 0.011])}, "must be above 1"),
        ({"wire": np.array([0.012])}, r"2\+ stations"),
    ],
)
def test_shapes_that_cannot_be_wound_are_refused(change: dict[str, np.ndarray], wrong: str) -> None:
    good = {
        "turns": np.array([0.0, 7.0]),
        "wire": np.full(2, 0.012),
        "mean_diameter": np.full(2, 0.11),
        "pitch": np.full(2, 0.03),
    }
    with pytest.raises(DomainError, match=wrong):
        ShapedCoil(**(good | change))
