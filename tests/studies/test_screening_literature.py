"""Screening against functions whose indices are known in closed form, through the wrapper that studies use.

Sources: Ishigami and Homma, ISUMA 1990: sin x1 + a sin^2 x2 + b x3^4 sin x1 on -pi to pi, with a = 7, b = 0.1; its
variance shares in closed form (Saltelli et al., Global Sensitivity Analysis: The Primer, 2008; from memory, computed
below). SALib's own `test_functions.Ishigami` is the function. Morris 1991: of a linear function the elementary
effects are its slopes.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from tussock.errors import InputError, SolverError
from tussock.studies.screening import influences, screen, whole_blocks

pytestmark = pytest.mark.literature
PI = math.pi
NAMES = ("x1", "x2", "x3")
BOUNDS = ((-PI, PI),) * 3
A, B = 7.0, 0.1
V1 = 0.5 * (1.0 + B * PI**4 / 5.0) ** 2
V2 = A**2 / 8.0
V13 = B**2 * PI**8 * (1.0 / 18.0 - 1.0 / 50.0)
WHOLE = V1 + V2 + V13


def test_sobol_of_ishigami() -> None:
    ishigami = pytest.importorskip("SALib.test_functions.Ishigami")
    made = screen("sobol", NAMES, BOUNDS, samples=2048, seed=3)
    assert made.values.shape == (2048 * 5, 3)
    found = influences(made, ishigami.evaluate(made.values))
    alone, total = (V1 / WHOLE, V2 / WHOLE, 0.0), ((V1 + V13) / WHOLE, V2 / WHOLE, V13 / WHOLE)
    assert (alone[0], total[0], total[2]) == pytest.approx((0.3139, 0.5576, 0.2437), abs=5e-5)  # as printed
    for got, one, all_of_it in zip(found, alone, total, strict=True):
        assert got.alone == pytest.approx(one, abs=0.015)
        assert got.total == pytest.approx(all_of_it, abs=0.015)
        assert abs(got.total - all_of_it) < 1.5 * got.half  # its interval holds the truth, with something to spare


def test_morris_of_a_plane_is_its_slopes_over_the_ranges() -> None:
    bounds = ((0.7, 1.4), (-0.01, 0.02), (2.0, 4.0))
    made = screen("morris", NAMES, bounds, samples=10, seed=1)
    assert made.values.shape == (40, 3)
    for low, high in zip(made.values.min(axis=0), made.values.max(axis=0), strict=True):
        assert low < high
    slopes = np.array([3.0, -40.0, 0.0])
    found = influences(made, 1.0 + made.values @ slopes)
    over = slopes * np.array([high - low for low, high in bounds])
    for got, effect in zip(found, over, strict=True):
        assert got.alone == pytest.approx(effect, abs=1e-9)
        assert got.total == pytest.approx(abs(effect), abs=1e-9)
        assert got.apart == pytest.approx(0.0, abs=1e-9)
        assert got.half == pytest.approx(0.0, abs=1e-9)


def test_morris_tells_an_interaction_by_its_scatter() -> None:
    made = screen("morris", NAMES, ((-1.0, 1.0),) * 3, samples=40, seed=2)
    x = made.values
    one, two, idle = influences(made, x[:, 0] * x[:, 1])
    assert abs(one.alone) < 0.5 * one.total
    assert one.apart > 0.5
    assert two.total > 0.5
    assert idle.total == pytest.approx(0.0, abs=1e-12)
    assert not idle.matters


@pytest.mark.parametrize("method", ["morris", "sobol"])
def test_the_same_seed_gives_the_same_points_and_intervals(method: str) -> None:
    first, again, other = (screen(method, NAMES, BOUNDS, samples=16, seed=s) for s in (5, 5, 6))
    np.testing.assert_array_equal(first.values, again.values)
    assert not np.array_equal(first.values, other.values)
    y = np.sin(first.values).sum(axis=1)
    assert influences(first, y) == influences(again, y)


@pytest.mark.parametrize("method", ["morris", "sobol"])
def test_an_output_that_nothing_moves_has_no_influences(method: str) -> None:
    made = screen(method, NAMES, BOUNDS, samples=8, seed=5)
    assert {i.total for i in influences(made, np.full(len(made.values), 0.25))} == {0.0}


@pytest.mark.parametrize("method", ["morris", "sobol"])
def test_a_failed_point_takes_its_block_and_leaves_the_rest_right(method: str) -> None:
    made = screen(method, NAMES, BOUNDS, samples=64, seed=5)
    y = made.values @ np.array([3.0, 2.0, 1.0])
    holes = y.copy()
    lost = [0, made.block * 7 + 1, made.block * 7 + 2]
    holes[lost] = np.nan
    keep = whole_blocks(made, lost)
    assert int(np.sum(~keep)) == 2 * made.block
    whole, less = influences(made, y), influences(made, holes, keep=keep)
    for a, b in zip(whole, less, strict=True):
        assert b.total == pytest.approx(a.total, rel=0.15)
    with pytest.raises(SolverError, match="could not be driven and take 60 of 64 samples"):
        whole_blocks(made, [made.block * i for i in range(60)])


@pytest.mark.parametrize(
    ("method", "names", "samples", "words"),
    [
        ("guess", NAMES, 8, "no method 'guess'; the methods are morris, sobol"),
        ("morris", NAMES[:1], 8, "two adjusters at least"),
        ("morris", NAMES, 1, "1 samples tell nothing"),
        ("sobol", NAMES, 60, "a power of two, which 60 is not; 32 or 64 is"),
    ],
)
def test_what_no_method_takes_is_refused(method: str, names: tuple[str, ...], samples: int, words: str) -> None:
    with pytest.raises(InputError, match=words):
        screen(method, names, BOUNDS[: len(names)], samples=samples, seed=1)
