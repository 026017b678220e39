"""Coils, progressive coils, proposals: limits, round trips, scaling, and independent computations."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tussock.errors import DomainError
from tussock.mechanics.springs import SEATING, CoilSpring, ProgressiveCoil, propose

FRONT = CoilSpring(wire=14.5e-3, mean_diameter=127e-3, active_coils=8.8, free_length=486e-3)  # invented


@given(force=st.floats(0.0, 5000.0))
def test_force_and_length_are_inverse(force: float) -> None:
    assert FRONT.force(FRONT.length(force)) == pytest.approx(force, abs=1e-6)


@given(scale=st.floats(0.3, 3.0))
def test_similar_springs(scale: float) -> None:
    """Scaled in every length, rate goes with the scale, stress at solid stays, frequency goes with its inverse."""
    other = CoilSpring(
        wire=FRONT.wire * scale,
        mean_diameter=FRONT.mean_diameter * scale,
        active_coils=FRONT.active_coils,
        free_length=FRONT.free_length * scale,
    )
    assert other.rate == pytest.approx(FRONT.rate * scale, rel=1e-12)
    assert other.solid_stress == pytest.approx(FRONT.solid_stress, rel=1e-12)
    assert other.natural_frequency == pytest.approx(FRONT.natural_frequency / scale, rel=1e-12)
    assert other.mass == pytest.approx(FRONT.mass * scale**3, rel=1e-12)
    for seating in SEATING:
        mine, others = FRONT.buckling_deflection(seating), other.buckling_deflection(seating)
        assert others == pytest.approx(mine * scale, rel=1e-9) or (math.isinf(mine) and math.isinf(others))


def test_frequency_against_a_chain_of_masses() -> None:
    """A chain of 400 masses and springs, both ends held, has the same first frequency (independent model)."""
    pieces = 400
    active_mass = FRONT.mass * FRONT.active_coils / FRONT.total_coils
    rate, mass = FRONT.rate * pieces, active_mass / pieces
    inner = pieces - 1
    matrix = (2.0 * np.eye(inner) - np.eye(inner, k=1) - np.eye(inner, k=-1)) * rate / mass
    first = math.sqrt(float(np.linalg.eigvalsh(matrix)[0])) / (2.0 * math.pi)
    assert FRONT.natural_frequency == pytest.approx(first, rel=1e-4)


def test_softer_seating_buckles_sooner() -> None:
    slender = replace(FRONT, free_length=0.7)
    found = [slender.buckling_deflection(s) for s in ("fixed, fixed", "fixed, hinged", "hinged, hinged", "fixed, free")]
    assert found == sorted(found, reverse=True)
    assert found[0] > found[-1]


def test_buckling_begins_at_the_steady_free_length() -> None:
    limit = FRONT.steady_free_length("hinged, hinged")
    below, above = (replace(FRONT, free_length=limit * f) for f in (0.999, 1.001))
    assert math.isinf(below.buckling_deflection("hinged, hinged"))
    assert math.isfinite(above.buckling_deflection("hinged, hinged"))


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"wire": 0.0}, "wire is 0; it must be positive"),
        ({"active_coils": math.nan}, "active_coils is nan"),
        ({"mean_diameter": 14e-3}, "spring index D/d is 0.96"),
        ({"free_length": 0.12}, "free length 120.0 mm is not above the solid length 145.0 mm"),
        ({"ends": "pigtail"}, "ends are 'pigtail'; known are hot, ground"),
        ({"shear_modulus": 300e9}, "shear modulus 300 GPa is not below"),
        ({"wire_most": 14e-3}, "largest wire diameter 14 mm must lie between the nominal 14.5 mm"),
    ],
)
def test_impossible_springs_are_refused(change: dict[str, object], said: str) -> None:
    with pytest.raises(DomainError, match=said):
        replace(FRONT, **change)  # type: ignore[arg-type]


def test_lengths_past_solid_are_refused() -> None:
    with pytest.raises(DomainError, match="below solid"):
        FRONT.force(0.1)
    with pytest.raises(DomainError, match="would need"):
        FRONT.length(20e3)
    with pytest.raises(DomainError, match="needs its tensile strength"):
        _ = replace(FRONT, ends="cold, ground").permitted_solid_stress
    assert replace(FRONT, ends="cold, ground", tensile_strength=1.6e9).permitted_solid_stress == pytest.approx(0.896e9)


def test_check_says_what_fails() -> None:
    check = FRONT.check(longest=0.5, shortest=0.16)
    assert check.loose == pytest.approx(0.014)
    assert check.bind_margin < 0.0
    text = " ".join(check.warnings)
    assert "hangs loose by 14 mm" in text
    assert "below the smallest permissible length" in text


@given(
    gaps=st.lists(st.floats(0.0, 0.03), min_size=1, max_size=12),
    share=st.floats(0.0, 1.0),
)
def test_progressive_coil_is_monotone_and_inverts(gaps: list[float], share: float) -> None:
    spring = ProgressiveCoil.from_turns(wire=13e-3, mean_diameters=[0.115] * len(gaps), gaps=gaps)
    force = share * spring.solid_force
    assert spring.force(spring.deflection(force)) == pytest.approx(force, rel=1e-6, abs=1e-3)
    rates = [s.rate for s in spring.steps()]
    assert rates == sorted(rates)
    assert spring.deflection(spring.solid_force) == pytest.approx(spring.solid_deflection, abs=1e-12)


def test_even_pitch_is_the_plain_coil() -> None:
    """Equal turns close together: the progressive model must give the plain rate up to solid."""
    turns = 8
    spring = ProgressiveCoil.from_turns(wire=14.5e-3, mean_diameters=[127e-3] * turns, gaps=[0.03] * turns)
    plain = replace(FRONT, active_coils=float(turns))
    assert len(spring.steps()) == 2
    assert spring.steps()[0].rate == pytest.approx(plain.rate, rel=1e-12)
    assert math.isinf(spring.steps()[1].rate)


def test_conical_spring_closes_from_its_widest_turn() -> None:
    spring = ProgressiveCoil.from_turns(wire=12e-3, mean_diameters=[0.09, 0.11, 0.13], gaps=[0.02, 0.02, 0.02])
    assert int(np.argmin(spring.closing_forces)) == 2
    assert spring.steps()[1].open_turns == 2


def test_progressive_coil_refuses_nonsense() -> None:
    with pytest.raises(DomainError, match="as many turn rates as gaps"):
        ProgressiveCoil(turn_rates=np.array([1e5]), gaps=np.array([0.01, 0.02]))
    with pytest.raises(DomainError, match="gaps not negative"):
        ProgressiveCoil.from_turns(wire=13e-3, mean_diameters=[0.115], gaps=[-1e-3])
    spring = ProgressiveCoil.from_turns(wire=13e-3, mean_diameters=[0.115], gaps=[1e-2])
    with pytest.raises(DomainError, match="past solid"):
        spring.force(0.02)
    with pytest.raises(DomainError, match="would pull"):
        spring.deflection(-1.0)


WISH = {  # the Tarn's front corner, invented
    "rate": 24e3,
    "load": 3900.0,
    "length": 0.3235,
    "shortest": 0.235,
    "longest": 0.42,
    "inside_least": 0.105,
    "outside_most": 0.150,
    "wires": (13e-3, 13.5e-3, 14e-3, 14.5e-3, 15e-3, 15.5e-3),
}


def test_proposals_hold_what_they_promise() -> None:
    found = propose(**WISH)  # type: ignore[arg-type]
    assert found[0].fits
    for proposal in found:
        spring = proposal.spring
        assert spring.rate == pytest.approx(24e3 * (1.0 + proposal.rate_deviation), rel=1e-12)
        assert abs(proposal.rate_deviation) < 0.01
        assert spring.force(0.3235) == pytest.approx(3900.0, abs=1e-6)
        assert spring.mean_diameter - spring.wire >= 0.105 - 1e-9
        assert spring.mean_diameter + spring.wire <= 0.150 + 1e-9
        assert spring.active_coils / 0.05 == pytest.approx(round(spring.active_coils / 0.05), abs=1e-9)
        check = spring.check(longest=0.42, shortest=0.235)
        assert proposal.fits == (check.warnings == () or check.warnings[0].startswith("the spring hangs loose"))
    fitting = [p for p in found if p.fits]
    for better, worse in itertools.pairwise(fitting):  # by use in steps of 2 %, then by mass
        assert better.worst_use < worse.worst_use + 0.02
        assert better.mass <= worse.mass or better.worst_use < worse.worst_use
    assert [p.fits for p in found] == sorted((p.fits for p in found), reverse=True)


def test_proposals_that_bind_say_so() -> None:
    found = propose(**{**WISH, "shortest": 0.20, "outside_most": 0.138})  # type: ignore[arg-type]
    stout = max(found, key=lambda p: p.spring.wire)
    assert not stout.fits
    assert any("coils touch before full bump" in r for r in stout.reasons)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"rate": -1.0}, "must be positive"),
        ({"shortest": 0.4}, "must be shorter than the installed length"),
        ({"inside_least": 0.2}, "must lie below the outer one"),
        ({"wires": (5e-3,)}, "no coil can be made"),
        ({"outside_most": 0.12}, "no mean diameter lies between"),
    ],
)
def test_impossible_wishes_are_refused(change: dict[str, object], said: str) -> None:
    with pytest.raises(DomainError, match=said):
        propose(**{**WISH, **change})  # type: ignore[arg-type]


def test_proposals_count_the_growth_at_solid() -> None:
    """A coil that just fits free grows past the tower when it closes."""
    tight = propose(**{**WISH, "wires": (15.5e-3,), "inside_least": 0.109, "outside_most": 0.1405})  # type: ignore[arg-type]
    spring = tight[0].spring
    assert spring.mean_diameter + spring.wire <= 0.1405
    assert not tight[0].fits
    assert any(r.startswith("grows to 14") for r in tight[0].reasons)


def test_a_proposal_that_hangs_loose_says_so() -> None:
    found = propose(**{**WISH, "longest": 0.50})  # type: ignore[arg-type]
    assert any(r.startswith("hangs loose by 14 mm") for r in found[0].reasons)
