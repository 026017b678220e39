"""Every spring keeps one bargain: rate is the slope of load, and load is the slope of energy."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tussock.errors import DomainError
from tussock.mechanics.springs import (
    AirBag,
    CoilSpring,
    LeafPack,
    LeafSpring,
    ShapedCoil,
    SpringCurve,
    TabulatedSpring,
    TorsionBar,
    TorsionLever,
    length_under,
)

COIL = CoilSpring(wire=14.5e-3, mean_diameter=127e-3, active_coils=8.8, free_length=0.486)
BARREL = ShapedCoil(
    turns=np.array([0.0, 3.0, 6.0]),
    wire=np.array([0.010, 0.014, 0.010]),
    mean_diameter=np.array([0.09, 0.13, 0.09]),
    pitch=np.array([0.03, 0.05, 0.03]),
    end_length=0.015,
)
PACK = LeafPack(
    main=LeafSpring(thicknesses=(0.007, 0.007, 0.006), width=0.06, front_length=0.6, rear_length=0.65),
    free_height=0.14,
    helper=LeafSpring(thicknesses=(0.011,), width=0.06, front_length=0.45, rear_length=0.45),
    contact=0.06,
    blend=0.02,
    friction=250.0,
)
BAR = TorsionLever(bar=TorsionBar(diameter=0.026, length=1.1), arm=0.33, free_angle=-math.radians(40.0))
BAG = AirBag(
    height=np.array([0.24, 0.20, 0.16, 0.12]),
    area=np.array([5.0e-3, 7.0e-3, 8.0e-3, 8.4e-3]),
    fill_height=0.18,
    fill_pressure=2.0e5,
    fill_volume=1.6e-3,
)
TABLE = TabulatedSpring(
    length=np.array([0.40, 0.35, 0.30, 0.25]),
    load=np.array([0.0, 900.0, 2000.0, 3600.0]),
    free_length=0.40,
)
SPRINGS: dict[str, SpringCurve] = {"coil": COIL, "barrel": BARREL, "leaf": PACK, "bar": BAR, "bag": BAG, "table": TABLE}


@pytest.mark.parametrize("name", SPRINGS)
def test_rate_and_energy_belong_to_the_load(name: str) -> None:
    spring = SPRINGS[name]
    assert isinstance(spring, SpringCurve)
    step = 1e-6
    low, high = spring.least_load_length, spring.free_length
    for share in np.linspace(0.11, 0.93, 9):
        at = low + share * (high - low)
        slope = (spring.load_at(at - step) - spring.load_at(at + step)) / (2.0 * step)
        work = (spring.energy_at(at - step) - spring.energy_at(at + step)) / (2.0 * step)
        assert work == pytest.approx(spring.load_at(at), rel=1e-5, abs=1e-3)
        # a barrel's pieces close one by one: its slope is known within one piece
        assert spring.rate_at(at) == pytest.approx(slope, rel=4e-3 if name == "barrel" else 1e-5)


@pytest.mark.parametrize("name", SPRINGS)
@given(share=st.floats(0.02, 0.98))
def test_length_and_load_are_inverse(name: str, share: float) -> None:
    spring = SPRINGS[name]
    at = spring.least_load_length + share * (spring.free_length - spring.least_load_length)
    load = spring.load_at(at)
    assert spring.load_at(length_under(spring, load)) == pytest.approx(load, rel=1e-9, abs=1e-6)


@pytest.mark.parametrize("name", SPRINGS)
def test_too_short_is_refused_with_both_lengths(name: str) -> None:
    spring = SPRINGS[name]
    with pytest.raises(DomainError, match=r"mm is below"):
        spring.load_at(spring.least_load_length - 0.001)
    with pytest.raises(DomainError, match=r"out of its reach"):
        length_under(spring, spring.load_at(spring.least_load_length) * 1.01)


def test_loose_springs_carry_nothing_and_leaves_pull() -> None:
    for spring in (COIL, BARREL, BAG, TABLE):
        assert spring.load_at(spring.free_length + 0.01) == 0.0
        assert spring.energy_at(spring.free_length + 0.01) == 0.0
        assert spring.rate_at(spring.free_length + 0.01) == 0.0
    assert PACK.load_at(PACK.free_height + 0.01) == pytest.approx(-0.01 * PACK.main.rate)
    assert BAR.load_at(BAR.free_length + 0.01) < 0.0


def test_stress_follows_the_parts_own_formulas() -> None:
    assert COIL.stress_at(0.4) == COIL.stress(COIL.force(0.4))
    main, helper = PACK.leaf_stresses(0.04)
    assert main == pytest.approx(PACK.main.stresses(PACK.main.rate * 0.10))
    assert PACK.helper is not None
    # 0.10 m of deflection, contact at 0.06, blend 0.02: the helper bends by 0.04 - 0.01
    assert helper == pytest.approx(PACK.helper.stresses(PACK.helper.rate * 0.03))
    assert PACK.stress_at(0.04) == max(main.max(), helper.max())
    assert BAR.stress_at(0.0) == pytest.approx(BAR.bar.shear_stress(BAR.bar.torsional_rate * math.radians(40.0)))


@pytest.mark.parametrize(
    ("length", "load", "free", "wrong"),
    [
        ([0.4, 0.3], [0.0, 1.0], 0.4, "at least 3 pairs"),
        ([0.4, 0.3, 0.35], [0.0, 1.0, 2.0], 0.4, "at point 3 the load does not rise"),
        ([0.4, 0.35, 0.3], [0.0, 1.0, math.nan], 0.4, "not a number"),
        ([0.4, 0.35, 0.3], [1.0, 2.0, 3.0], 0.4, "at the free length must be 0"),
        ([0.4, 0.35, 0.3], [1.0, 2.0, 3.0], 0.39, "free length must lie above"),
    ],
)
def test_tables_that_no_spring_has_are_refused(length: list[float], load: list[float], free: float, wrong: str) -> None:
    with pytest.raises(DomainError, match=wrong):
        TabulatedSpring(length=np.array(length), load=np.array(load), free_length=free)
