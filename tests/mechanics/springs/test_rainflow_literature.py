"""Rain-flow count and the life it gives.

Sources
-------
1. ASTM E1049-85, 5.4.4, worked example of its rain-flow figure: -2, 1, -3, 5, -1, 3, -4, 4, -2 gives ranges
   3: 0.5, 4: 1.5, 6: 0.5, 8: 1.0, 9: 0.5 (from memory).
2. EN 13906-1:2013 Goodman diagrams as digitised in a public transcription; the standard was not seen.
3. M. A. Miner, J. Applied Mechanics 12 (1945): damages add.
"""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tussock.errors import DomainError
from tussock.mechanics.springs import (
    CoilSpring,
    Cycle,
    cycles_endured,
    permissible_upper_stress,
    rainflow,
    reversals,
    spectrum_life,
    stress_reserve,
)

pytestmark = pytest.mark.literature
EXAMPLE = np.array([-2.0, 1.0, -3.0, 5.0, -1.0, 3.0, -4.0, 4.0, -2.0])
COIL = CoilSpring(wire=15e-3, mean_diameter=120e-3, active_coils=8.0, free_length=0.42)


def test_the_standards_example() -> None:
    """Source 1."""
    counted: Counter[float] = Counter()
    for cycle in rainflow(EXAMPLE):
        counted[cycle.range] += cycle.count  # type: ignore[assignment]  # halves
    assert counted == {3.0: 0.5, 4.0: 1.5, 6.0: 0.5, 8.0: 1.0, 9.0: 0.5}


def test_samples_between_the_turns_change_nothing() -> None:
    fine = np.interp(np.linspace(0.0, 8.0, 801), np.arange(9.0), EXAMPLE)
    assert rainflow(fine) == rainflow(EXAMPLE)


def test_small_swings_are_passed_over_and_the_large_ones_kept() -> None:
    rough = EXAMPLE.repeat(3) + np.tile([0.0, 0.05, 0.0], 9)
    large = [c for c in rainflow(rough, least_range=0.2) if c.range > 0.2]
    assert [(round(c.range), c.count) for c in large] == [(round(c.range), c.count) for c in rainflow(EXAMPLE)]
    assert reversals(np.array([0.0, 0.05, 0.0, 0.05]), least_range=0.2) == pytest.approx([0.0])


@given(st.lists(st.integers(-20, 20), min_size=2, max_size=60))
def test_half_cycles_make_up_the_whole_path(values: list[int]) -> None:
    """Every rise and fall is counted once: twice the sum of range times count is the path between the turns."""
    x = np.array(values, dtype=float)
    turns = reversals(x)
    path = float(np.sum(np.abs(np.diff(turns))))
    assert 2.0 * sum(c.range * c.count for c in rainflow(x)) == pytest.approx(path)
    if turns.size > 1:
        assert max(c.range for c in rainflow(x)) == x.max() - x.min()


def test_a_steady_stroke_is_counted_as_its_cycles() -> None:
    cycles = rainflow(np.tile([0.0, 1.0], 50))
    assert sum(c.count for c in cycles) == pytest.approx(49.5)
    assert {(c.low, c.high) for c in cycles} == {(0.0, 1.0)}


@pytest.mark.parametrize("cycles", [100_000, 2_000_000])
@pytest.mark.parametrize("lower", [0.0, 80e6, 200e6])
def test_the_diagrams_come_back_as_cycles(cycles: int, lower: float) -> None:
    """Source 2: on a line of the diagram the life is that line's number."""
    upper = permissible_upper_stress(15e-3, lower, cycles=cycles)  # type: ignore[arg-type]
    assert cycles_endured(15e-3, lower, upper) == pytest.approx(cycles, rel=1e-9)


def test_life_falls_with_the_stroke_and_ends_at_the_greatest_stress() -> None:
    lives = [cycles_endured(15e-3, 200e6, 200e6 + s) for s in (50e6, 300e6, 450e6, 600e6)]
    assert lives == sorted(lives, reverse=True)
    assert cycles_endured(15e-3, 300e6, 300e6) == np.inf
    # past both knees only the greatest upper stress counts: 830 MPa for 15 mm wire
    assert cycles_endured(15e-3, 500e6, 829e6) == np.inf
    assert cycles_endured(15e-3, 500e6, 831e6) == 0.0
    with pytest.raises(DomainError, match="lies below the lower one"):
        cycles_endured(15e-3, 300e6, 200e6)


def test_damages_add() -> None:
    """Source 3, and the hardest stroke is the one nearest to its limit."""
    small, large = Cycle(low=0.28, high=0.32, count=1.0), Cycle(low=0.20, high=0.40, count=0.5)
    both = spectrum_life(COIL, [small, large])
    alone = [spectrum_life(COIL, [c]) for c in (small, large)]
    assert both.damage == pytest.approx(sum(a.damage for a in alone), rel=1e-12)
    assert both.strokes == 1.5
    assert both.hardest == alone[1].hardest
    hard = cycles_endured(COIL.wire, alone[1].hardest.lower, alone[1].hardest.upper)
    assert alone[1].damage == pytest.approx(0.5 / hard, rel=1e-12)


def test_strokes_beyond_the_spring_are_cut_at_it() -> None:
    wild = spectrum_life(COIL, [Cycle(low=0.0, high=1.0, count=1.0)])
    most = spectrum_life(COIL, [Cycle(low=COIL.solid_length, high=COIL.free_length, count=1.0)])
    assert wild == most
    with pytest.raises(DomainError, match="no strokes"):
        spectrum_life(COIL, [])


@pytest.mark.parametrize("rounds", [1e3, 1e5])
def test_the_reserve_is_the_factor_that_uses_up_the_life(rounds: float) -> None:
    """A spring whose every stress is that much higher lasts just the rounds: the same strokes on a stiffer steel."""
    strokes = [Cycle(low=0.26, high=0.34, count=3.0), Cycle(low=0.22, high=0.40, count=0.5)]
    reserve = stress_reserve(COIL, strokes, rounds=rounds)
    harder = CoilSpring(
        wire=COIL.wire,
        mean_diameter=COIL.mean_diameter,
        active_coils=COIL.active_coils,
        free_length=COIL.free_length,
        shear_modulus=COIL.shear_modulus * reserve,
        elastic_modulus=COIL.elastic_modulus * reserve,
    )
    # the line is steep: a part in 10^6 of the factor is a few parts in 10^5 of the life
    assert rounds * spectrum_life(harder, strokes).damage == pytest.approx(1.0, rel=1e-3)
    assert (reserve > 1.0) == (rounds * spectrum_life(COIL, strokes).damage < 1.0)
    with pytest.raises(DomainError, match="a positive number"):
        stress_reserve(COIL, strokes, rounds=0.0)
