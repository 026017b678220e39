"""Spring-tester files: what is read, what the rate and its confidence are worth, what an order makes of it.

Sources
-------
1. SciPy's linregress (an independent least squares) for a file without friction and without memory.
2. ISO 14253-1: the three verdicts.
3. Coverage: of many invented tests with a known rate, about 95 % of the intervals must hold it.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from spring_tests import spring_file

from tussock.errors import DomainError
from tussock.mechanics.springs import Specification, compare, measure, read_spring_test
from tussock.mechanics.springs.measured import Estimate
from tussock.mechanics.springs.specification import LoadPoint, verdict
from tussock.mechanics.table_text import TableError


def _measured(**kwargs: object):  # type: ignore[no-untyped-def]
    return measure(read_spring_test(spring_file(**kwargs), "invented.csv"))  # type: ignore[arg-type]


def test_rate_friction_and_free_length_come_back() -> None:
    m = _measured(cycles=3)
    assert m.rate.low <= 24e3 <= m.rate.high
    assert m.rate.half_width < 100.0
    assert m.friction is not None
    assert m.friction.value == pytest.approx(30.0, abs=2.0)
    assert m.free_length is not None
    assert m.free_length.value == pytest.approx(0.486, abs=3e-4)
    assert not m.progressive
    assert m.cycles == 3
    assert m.scatter_from == "cycles"
    load = m.load_at(0.386)
    assert load.low - 1.0 <= 2400.0 <= load.high + 1.0
    assert m.curve is not None
    assert m.curve.load_at(0.386) == pytest.approx(2400.0, rel=5e-3)
    assert m.curve.friction == pytest.approx(30.0, abs=2.0)


def test_friction_does_not_end_up_in_the_rate() -> None:
    quiet, rough = _measured(friction=0.0, noise=0.5), _measured(friction=150.0, noise=0.5)
    assert rough.rate.value == pytest.approx(quiet.rate.value, rel=1e-3)
    assert rough.friction is not None
    assert rough.friction.value == pytest.approx(150.0, abs=1.0)


def test_the_sample_at_the_turn_belongs_to_the_stroke_before() -> None:
    """Regression: counted on both branches, it bent the midway curve up at the end of the stroke."""
    m = _measured(friction=60.0, noise=0.0)
    assert m.load[-1] == pytest.approx(24e3 * m.deflection[-1], abs=5.0)
    assert m.local[-1].rate.value == pytest.approx(24e3, rel=5e-3)
    assert sum(s.load.size for s in m.strokes) == 2 * 186


def test_without_unloading_friction_is_not_known() -> None:
    m = _measured(unloading=False)
    assert m.friction is None
    assert m.rate.value == pytest.approx(24e3, rel=5e-3)


def test_least_squares_against_scipy() -> None:
    """Source 1: without unloading the fit is the plain one; its interval is at least the textbook's."""
    text = spring_file(unloading=False, friction=0.0, noise=6.0)
    m = measure(read_spring_test(text, "x"))
    s = m.strokes[0]
    most = float(np.max(s.load))
    order = np.argsort(s.load, kind="stable")
    low, high = (float(np.interp(share * most, s.load[order], s.deflection[order])) for share in (0.3, 0.7))
    inside = (s.deflection >= low) & (s.deflection <= high)
    plain = stats.linregress(s.deflection[inside], s.load[inside])
    assert m.rate.value == pytest.approx(plain.slope, rel=1e-12)
    half = stats.t.ppf(0.975, np.count_nonzero(inside) - 2) * plain.stderr
    assert 0.999 * half <= m.rate.half_width < 1.5 * half


@pytest.mark.parametrize(("cycles", "memory", "scatter"), [(1, 0.0, 0.0), (1, 0.7, 0.0), (5, 0.3, 0.003)])
def test_the_interval_holds_the_rate_as_often_as_it_says(cycles: int, memory: float, scatter: float) -> None:
    """Source 3: 95 % within what 60 draws can tell; samples with memory would fail without their correction."""
    held = 0
    for seed in range(60):
        m = _measured(cycles=cycles, memory=memory, scatter=scatter, seed=seed, deepest=0.12)
        held += m.rate.low <= 24e3 <= m.rate.high
    # 95 % of 60 is 57, with a standard deviation of 1.7
    assert 52 <= held <= 60


def test_a_progressive_spring_is_seen_and_its_rate_follows() -> None:
    m = _measured(load=lambda x: 20e3 * x + 60e3 * x**2, noise=2.0, cycles=2)
    assert m.progressive
    for piece in m.local:
        assert piece.rate.value == pytest.approx(20e3 + 120e3 * piece.deflection, rel=0.03)
    assert m.curve is not None
    assert m.curve.rate_at(0.386) == pytest.approx(32e3, rel=0.03)


@pytest.mark.parametrize(
    ("titles", "factor"), [("length [mm];load [N]", 1.0), ("Länge [mm];Kraft [daN]", 10.0), ("L / mm;F / kgf", 9.80665)]
)
def test_titles_and_units(titles: str, factor: float) -> None:
    m = measure(read_spring_test(spring_file(titles=titles, rate=24e3 / factor, friction=3.0, noise=0.05), "x"))
    assert m.rate.value == pytest.approx(24e3, rel=2e-3)


def test_decimal_comma() -> None:
    m = measure(read_spring_test(spring_file(decimal=","), "x"))
    assert m.rate.value == _measured().rate.value


def test_deflections_want_a_free_length_for_loads_at_lengths() -> None:
    rows = [f"{x},{24.0 * x:.2f}" for x in range(101)]
    text = "deflection [mm],load [N]\n" + "\n".join(rows)
    m = measure(read_spring_test(text, "x"))
    assert m.rate.value == pytest.approx(24e3, rel=1e-9)
    assert m.curve is None
    with pytest.raises(DomainError, match="give the free length"):
        m.load_at(0.4)
    placed = measure(read_spring_test(text, "x"), free_length=0.486)
    assert placed.load_at(0.436).value == pytest.approx(1200.0, rel=1e-6)
    with pytest.raises(DomainError, match="was not measured"):
        placed.load_at(0.3)


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("", "the file is empty"),
        ("length [mm];load\n" + "400;0\n" * 9, r"column 'load' has no unit; write it as 'load \[N\]'"),
        ("length [mm];load [kg]\n" + "400;0\n" * 9, "unit 'kg'"),
        ("length [mm];deflection [mm];load [N]\n" + "400;0;0\n" * 9, "both a length and a deflection"),
        ("time [s];load [N]\n" + "1;2\n" * 9, "neither length nor deflection"),
        ("length [mm];load [N]\n400;0\n390;240\n", "at least 8 are needed"),
        ("length [mm];load [N]\n" + "400;5\n" * 9, "nothing moves"),
        ("length [mm];load [N]\n" + "\n".join(f"{400 - i};{-24 * i}" for i in range(20)), "the load does not rise"),
        ("length [mm];load [N]\n" + "\n".join(f"{400 + i};{3000 - 24 * i}" for i in range(20)), "no loading stroke"),
        ("length [mm];load [N]\n400;0\n399;x\n398.5;1,5\n", "line 3: load is 'x'"),
        ("length [mm],load [N]\n400,0,0\n", "is it a decimal comma"),
        ("length [mm];load [N];force [N]\n1;2;3\n", "could all be load"),
        ("length [mm];load [N]\n\x00", "binary"),
        ("length [mm];load [N]\n" + "\n".join(f"{-i};{24 * i}" for i in range(20)), "must be positive"),
    ],
)
def test_what_cannot_be_read_is_said(text: str, wrong: str) -> None:
    with pytest.raises(TableError, match=wrong):
        read_spring_test(text, "bad.csv")


def test_an_order_is_held_against_the_test() -> None:
    m = _measured(cycles=3)
    order = Specification(
        title="front coil",
        rate=24e3,
        rate_tolerance=0.7e3,
        free_length=0.480,
        free_length_tolerance=0.003,
        loads=(LoadPoint(length=0.386, load=2400.0), LoadPoint(length=0.25, load=9e3)),
    )
    found = compare(m, order)
    assert [(f.what, f.verdict, f.stated) for f in found] == [
        ("rate", "within", True),
        ("free length", "outside", True),
        ("load", "within", False),
    ]
    # (1.5 mm + 3 % of 94 mm) times the rate, the order of magnitude that stands in for a tolerance
    assert found[2].tolerance == pytest.approx((1.5e-3 + 0.03 * 0.094) * 24e3)


@given(value=st.floats(90.0, 110.0), half=st.floats(0.0, 5.0), tolerance=st.floats(0.1, 8.0))
def test_verdicts(value: float, half: float, tolerance: float) -> None:
    """Source 2."""
    said = verdict(Estimate(value=value, low=value - half, high=value + half), 100.0, tolerance)
    off = abs(value - 100.0)
    if off + half < tolerance - 1e-9:
        assert said == "within"
    elif off - half > tolerance + 1e-9:
        assert said == "outside"
    elif tolerance - half + 1e-9 < off < tolerance + half - 1e-9:
        assert said == "not proven"
