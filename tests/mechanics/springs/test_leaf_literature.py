"""Leaf springs and torsion bars against printed examples and integrals done another way.

Sources
-------
1. V. B. Bhandari, Design of Machine Elements, example 10.25; figures of a public worked solution of it.
2. U. C. Jindal, Machine Design, chapter 8, example 8-11; figures of a public notebook. Its printed deflection, 52.0 mm,
   comes from an integer division in the notebook, so the formula's 52.6 mm is held instead.
3. J. M. Gere, Mechanics of Materials, chapter 3 (torsion of circular bars).
4. P. S. Fancher and others, SAE 800905 (from memory): law of the friction loop; closed form of its steady loop derived.
5. Beam theory: deflection by SciPy quadrature of the curvature.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad

from tussock.errors import DomainError
from tussock.mechanics.springs.leaf import (
    LeafSpring,
    NippedPack,
    TwoStageLeaf,
    friction_loop,
    parabolic_deflection,
    stiffening_factor,
)
from tussock.mechanics.springs.torsion_bar import TorsionBar

pytestmark = pytest.mark.literature


def test_equalised_pack_bhandari() -> None:
    """Source 1: span 1200 mm, 30 kN at the centre, 2 full + 10 graduated, 600 MPa: t 11.18 mm, at 12 mm 69.68 mm."""
    pack = NippedPack(eye_load=15e3, cantilever=0.6, width=0.060, thickness=0.01118, full=2, graduated=10)
    assert pack.equal_stress == pytest.approx(600e6, rel=1e-3)
    made = NippedPack(eye_load=15e3, cantilever=0.6, width=0.060, thickness=0.012, full=2, graduated=10)
    assert 1e3 * made.deflection == pytest.approx(69.68, abs=0.01)


def test_pack_without_nip() -> None:
    """Source 2: span 1180 mm, 40 kN, 2 full + 8 graduated, 700 MPa: t 13.56 mm, 10909 N on full leaves, 52.6 mm."""
    pack = NippedPack(eye_load=20e3, cantilever=0.59, width=0.075, thickness=0.01356, full=2, graduated=8)
    assert pack.full_stress == pytest.approx(700e6, rel=1e-3)
    assert 2.0 * pack.full_load == pytest.approx(10909.0, abs=0.5)
    # statics: the moments that both kinds of leaf carry hold the eye load
    modulus = pack.width * pack.thickness**2 / 6.0
    carried = modulus * (pack.full * pack.full_stress + pack.graduated * pack.graduated_stress)
    assert carried == pytest.approx(pack.eye_load * pack.cantilever, rel=1e-12)
    made = NippedPack(eye_load=20e3, cantilever=0.59, width=0.075, thickness=0.014, full=2, graduated=8)
    assert 1e3 * made.deflection == pytest.approx(52.6, abs=0.05)


def test_nip_equals_the_difference_of_two_free_cantilevers() -> None:
    """Closing the nip with the bolt load bends both groups by the nip between them (two springs in series)."""
    pack = NippedPack(eye_load=15e3, cantilever=0.6, width=0.060, thickness=0.012, full=2, graduated=10)
    e_b_t3 = pack.elastic_modulus * pack.width * pack.thickness**3
    full_rate = pack.full * e_b_t3 / (4.0 * pack.cantilever**3)
    graduated_rate = pack.graduated * e_b_t3 / (6.0 * pack.cantilever**3)
    # the bolt's load is shared by the two halves of the spring
    closing = 0.5 * pack.bolt_load * (1.0 / full_rate + 1.0 / graduated_rate)
    assert closing == pytest.approx(pack.nip, rel=1e-12)


@pytest.mark.parametrize("share", [0.0, 0.05, 0.125, 0.2, 0.3333, 0.69, 0.71, 0.9, 1.0])
def test_stiffening_by_quadrature(share: float) -> None:
    """Source 5."""
    j = quad(lambda u: u * u / (share + (1.0 - share) * u) if u > 0.0 else 0.0, 0.0, 1.0, epsabs=1e-13)[0]
    assert stiffening_factor(share) == pytest.approx(0.5 / j, rel=1e-9)


@pytest.mark.parametrize(("share", "printed"), [(0.0, 1.0), (0.125, 1.0949), (0.25, 1.1693), (0.375, 1.2347), (1, 1.5)])
def test_stiffening_table(share: float, printed: float) -> None:
    """Values of the trapezoid integral to four decimals (derived for this project apart from the code)."""
    assert stiffening_factor(share) == pytest.approx(printed, abs=6e-5)


def test_unequal_halves_against_a_beam_integral() -> None:
    """Source 5: a bar of uniform section between two eyes, loaded where the seat is, is the classic beam."""
    a, b = 0.55, 0.70
    spring = LeafSpring(thicknesses=(0.012,), width=0.07, front_length=a, rear_length=b, full_length=1)
    ei = spring.elastic_modulus * spring.second_moment
    front = quad(lambda s: (b / (a + b) * s) ** 2, 0.0, a)[0]
    rear = quad(lambda s: (a / (a + b) * s) ** 2, 0.0, b)[0]
    assert spring.rate == pytest.approx(ei / (front + rear), rel=1e-12)
    # handbook form of the same: 3 E I (a + b) / (a^2 b^2)
    assert spring.rate == pytest.approx(3.0 * ei * (a + b) / (a * b) ** 2, rel=1e-12)


def test_symmetric_spring_handbook_forms() -> None:
    """k = 32 E I SF / L^3 (from memory), sigma = P L t / (8 I), wind-up k L^2 / 4."""
    spring = LeafSpring(thicknesses=(0.008,) * 5, width=0.065, front_length=0.65, rear_length=0.65, full_length=1)
    span = 1.3
    expected = 32.0 * spring.elastic_modulus * spring.second_moment * spring.stiffening / span**3
    assert spring.rate == pytest.approx(expected, rel=1e-12)
    assert spring.stresses(8000.0) == pytest.approx(
        np.full(5, 8000.0 * span * 0.008 / (8.0 * spring.second_moment)), rel=1e-12
    )
    assert spring.wind_up_rate == pytest.approx(spring.rate * span**2 / 4.0, rel=1e-12)
    turned = spring.torque_stresses(1000.0)
    assert turned == pytest.approx(np.full(5, 500.0 * 0.004 / spring.second_moment), rel=1e-12)


def test_parabolic_leaf_against_a_beam_integral() -> None:
    """Source 5: depth falls with the root of the distance to the end, so I with its power 1.5."""
    delta = parabolic_deflection(load=4000.0, length=0.7, elastic_modulus=206e9, root_second_moment=4e-8)
    whole = quad(lambda s: s**2 / (s / 0.7) ** 1.5 if s > 0.0 else 0.0, 0.0, 0.7)[0]
    assert delta == pytest.approx(4000.0 * whole / (206e9 * 4e-8), rel=1e-8)


def test_friction_loop_settles_on_its_closed_form() -> None:
    """Source 4: between envelopes +-f a steady stroke +-A ends at f tanh(A / beta); steps of any size give the same."""
    f, beta, amplitude = 300.0, 0.002, 0.003
    for steps in (1, 7, 50):
        path = np.concatenate([np.linspace(0, amplitude, steps + 1)])
        for turn in range(10):
            end = -amplitude if turn % 2 == 0 else amplitude
            path = np.concatenate([path, np.linspace(path[-1], end, steps + 1)[1:]])
        force = friction_loop(path, np.zeros_like(path), half_width=f, reversal=beta, start=0.0)
        assert force[-1] == pytest.approx(f * np.tanh(amplitude / beta), rel=1e-9)


def test_friction_does_not_depend_on_speed_and_loses_energy() -> None:
    rate, f, beta, amplitude = 40e3, 250.0, 0.001, 0.02
    x = amplitude * np.sin(np.linspace(0.0, 4.0 * np.pi, 40001))
    force = friction_loop(x, rate * x, half_width=f, reversal=beta, start=0.0)
    lost = float(np.sum(0.5 * (force[20001:] + force[20000:-1]) * np.diff(x[20000:])))
    # steady loop of the law by hand: on a slope the force lags its envelope by rate times beta
    width = f - rate * beta
    assert lost == pytest.approx(4.0 * width * (amplitude - beta * np.tanh(amplitude / beta)), rel=2e-3)
    held = friction_loop(np.array([0.0, 0.01, 0.01, 0.01]), np.zeros(4), half_width=250.0, reversal=0.001, start=0.0)
    assert np.ptp(held[1:]) == 0.0


def test_two_stage_spring_is_continuous_and_sums_its_rates() -> None:
    spring = TwoStageLeaf(main_rate=30e3, helper_rate=25e3, contact=0.10, blend=0.02)
    x = np.array([0.05, 0.10, 0.12, 0.15])
    assert spring.rate(x) == pytest.approx([30e3, 30e3, 55e3, 55e3])
    area = [quad(lambda s: float(spring.rate(np.array(s))), 0.0, end, points=[0.10, 0.12])[0] for end in x]
    assert spring.force(x) == pytest.approx(area, rel=1e-9)
    sharp = TwoStageLeaf(main_rate=30e3, helper_rate=25e3, contact=0.10)
    assert sharp.force(np.array([0.12])) == pytest.approx([30e3 * 0.12 + 25e3 * 0.02])


def test_torsion_bar_worked_example() -> None:
    """Derived with source 3: d 26, L 1100, G 77 GPa, lever 330 mm; 40 deg of twist."""
    bar = TorsionBar(diameter=0.026, length=1.1, shear_modulus=77e9)
    assert bar.torsional_rate == pytest.approx(3140.4, abs=0.05)
    assert bar.torsional_rate * np.pi / 180.0 == pytest.approx(54.81, abs=0.005)
    assert bar.lever_rate(arm=0.33, angle=0.0, twist=0.0) == pytest.approx(28838.0, abs=1.0)
    torque = bar.torsional_rate * np.deg2rad(40.0)
    assert torque == pytest.approx(2192.4, abs=0.1)
    assert bar.shear_stress(torque) / 1e6 == pytest.approx(635.3, abs=0.05)


@pytest.mark.parametrize("angle", [-0.5, 0.0, 0.3, 0.6])
def test_lever_rate_is_the_slope_of_the_lever_force(angle: float) -> None:
    bar = TorsionBar(diameter=0.028, inner_diameter=0.010, length=1.0)
    step = 1e-5
    low, high = (bar.lever_force(arm=0.33, angle=angle + d, twist=0.6 + d) for d in (-step, step))
    rise = 0.33 * (np.sin(angle + step) - np.sin(angle - step))
    assert bar.lever_rate(arm=0.33, angle=angle, twist=0.6) == pytest.approx((high - low) / rise, rel=1e-7)


def test_tube_between_its_limits() -> None:
    solid, tube = TorsionBar(diameter=0.03, length=1.0), TorsionBar(diameter=0.03, inner_diameter=0.015, length=1.0)
    assert tube.torsional_rate / solid.torsional_rate == pytest.approx(1.0 - 0.5**4, rel=1e-12)
    assert tube.shear_stress(1000.0) == pytest.approx(solid.shear_stress(1000.0) / (1.0 - 0.5**4), rel=1e-12)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: stiffening_factor(1.2), "between 0 and 1"),
        (lambda: LeafSpring(thicknesses=(), width=0.06, front_length=0.6, rear_length=0.6), "for each leaf"),
        (
            lambda: LeafSpring(thicknesses=(0.008,), width=0.06, front_length=0.6, rear_length=0.6, full_length=2),
            "2 leaves of full length among 1",
        ),
        (
            lambda: LeafSpring(
                thicknesses=(0.008,), width=0.06, front_length=0.1, rear_length=0.6, clamp_length=0.3, clamp_share=1.0
            ),
            "clamp is as long",
        ),
        (lambda: TorsionBar(diameter=0.02, inner_diameter=0.03, length=1.0), "30 mm"),
        (lambda: TorsionBar(diameter=-0.02, length=1.0), "-0.02"),
        (lambda: TorsionBar(diameter=0.02, length=1.0).lever_rate(arm=0.3, angle=1.57, twist=0.0), "within 89 deg"),
        (
            lambda: friction_loop(np.zeros(3), np.zeros(2), half_width=1.0, reversal=1.0, start=0.0),
            "one force for each",
        ),
        (lambda: friction_loop(np.zeros(3), np.zeros(3), half_width=1.0, reversal=0.0, start=0.0), "must be positive"),
        (lambda: TwoStageLeaf(main_rate=0.0, helper_rate=1.0, contact=0.1), "main rate"),
        (
            lambda: NippedPack(eye_load=1.0, cantilever=1.0, width=1.0, thickness=1.0, full=0, graduated=0),
            "none is left",
        ),
    ],
)
def test_bad_springs_are_refused(make, words: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(DomainError, match=words):
        make()
