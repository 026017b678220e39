"""Bump stops: the curve is data, so the tests are about its handling. The stop is the Tarn's, invented."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from tussock.errors import DomainError
from tussock.mechanics.springs import BumpStop, in_series

STOP = BumpStop(
    compression=np.array([0.0, 10.0, 20.0, 30.0, 40.0, 48.0, 55.0]) * 1e-3,
    force=np.array([0.0, 260.0, 700.0, 1500.0, 3200.0, 6400.0, 12500.0]),
    free_height=78e-3,
    spacer=12e-3,
)


def test_passes_through_its_points() -> None:
    for c, f in zip(STOP.compression, STOP.force, strict=True):
        assert STOP.force_at(float(c)) == pytest.approx(float(f), abs=1e-9)
    assert STOP.height == pytest.approx(90e-3)


def test_forces_of_many_compressions_are_those_of_each() -> None:
    grid = np.array([[-0.02, 0.0, 0.013], [0.055, 0.06, STOP.limit]])
    np.testing.assert_allclose(STOP.forces(grid), [[STOP.force_at(float(c)) for c in row] for row in grid], rtol=1e-12)
    with pytest.raises(DomainError, match="beyond"):
        STOP.forces(np.array([0.0, STOP.limit + 1e-3]))


@given(force=st.floats(0.1, 60e3))
def test_force_and_compression_are_inverse(force: float) -> None:
    try:
        compression = STOP.compression_at(force, extrapolate=True)
    except DomainError:
        assert force > STOP.force_at(STOP.limit)
        return
    assert STOP.force_at(compression) == pytest.approx(force, rel=1e-7)


@given(a=st.floats(0.0, 0.0764), b=st.floats(0.0, 0.0764))
def test_never_falls(a: float, b: float) -> None:
    low, high = sorted((a, b))
    assert STOP.force_at(low) <= STOP.force_at(high) + 1e-9


def test_smooth_where_the_measured_part_ends() -> None:
    """Force and slope join, and the extrapolation steepens."""
    last, step = 55e-3, 1e-7
    before = (STOP.force_at(last) - STOP.force_at(last - step)) / step
    after = (STOP.force_at(last + step) - STOP.force_at(last)) / step
    further = (STOP.force_at(last + 0.01 + step) - STOP.force_at(last + 0.01)) / step
    assert after == pytest.approx(before, rel=2e-3)
    assert further > 1.5 * after
    assert STOP.is_extrapolated(0.056)
    assert not STOP.is_extrapolated(0.055)


def test_energy_against_quadrature() -> None:
    found, _ = quad(STOP.force_at, 0.0, 0.05, points=[0.01, 0.02, 0.03, 0.04, 0.048])
    assert STOP.energy(0.05) == pytest.approx(found, rel=1e-10)


def test_table_reaches_the_limit() -> None:
    compression, force = STOP.table(101)
    assert compression[0] == 0.0
    assert force[0] == 0.0
    assert compression[-1] == pytest.approx(0.98 * 78e-3)
    assert np.all(np.diff(force) > 0.0)


def test_refuses_what_it_does_not_know() -> None:
    with pytest.raises(DomainError, match="lies beyond the measured curve, which ends at 12500 N"):
        STOP.compression_at(13000.0)
    with pytest.raises(DomainError, match="would squeeze it beyond 98%"):
        STOP.compression_at(1e6, extrapolate=True)
    with pytest.raises(DomainError, match="is beyond 98% of its 78 mm"):
        STOP.force_at(0.077)
    with pytest.raises(DomainError, match="outside the measured curve"):
        STOP.energy(0.06)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"compression": np.array([0.0, 0.02, 0.01, 0.03, 0.04, 0.048, 0.055])}, "point 3 of the curve does not rise"),
        ({"force": np.array([0.0, 260.0, 700.0, 700.0, 3200.0, 6400.0, 12500.0])}, "point 4 of the curve"),
        ({"force": np.array([5.0, 260.0, 700.0, 1500.0, 3200.0, 6400.0, 12500.0])}, "must start at 0 mm, 0 N"),
        ({"force": np.array([0.0, np.nan, 700.0, 1500.0, 3200.0, 6400.0, 12500.0])}, "not a number"),
        ({"free_height": 0.05}, "compressed 55 mm in the curve but only 50 mm high"),
        ({"spacer": -1e-3}, "cannot be negative"),
        ({"most_share": 0.6}, "must lie between the last measured one, 0.71, and 1"),
        ({"compression": np.array([0.0, 0.01])}, "at least 3 pairs"),
    ],
)
def test_impossible_stops_are_refused(change: dict[str, object], said: str) -> None:
    with pytest.raises(DomainError, match=said):
        replace(STOP, **change)  # type: ignore[arg-type]


def test_a_force_near_rounding_has_a_compression() -> None:
    """Regression: no root was found below about 1e-15 N, and an index error rose."""
    assert 0.0 <= STOP.compression_at(3.371934304712714e-19) < 1e-9


SOFT = BumpStop(
    compression=np.array([0.0, 15.0, 30.0, 42.0]) * 1e-3,
    force=np.array([0.0, 150.0, 600.0, 2500.0]),
    free_height=60e-3,
    spacer=3e-3,
)
BOTH = in_series(STOP, SOFT)


@given(force=st.floats(0.0, 2500.0))
def test_two_stops_in_series_share_the_force_and_add_their_compressions(force: float) -> None:
    alone = STOP.compression_at(force) + SOFT.compression_at(force)
    assert BOTH.compression_at(force) == pytest.approx(alone, abs=2e-5)
    assert BOTH.height == pytest.approx(STOP.height + SOFT.height)


def test_a_stack_ends_where_its_softer_stop_was_measured_last() -> None:
    assert float(BOTH.force[-1]) == 2500.0
    assert BOTH.is_extrapolated(BOTH.compression_at(2600.0, extrapolate=True))
    other = in_series(SOFT, STOP)
    assert other.force == pytest.approx(BOTH.force)
    assert other.compression == pytest.approx(BOTH.compression)


def test_a_stack_stores_what_its_stops_store() -> None:
    parts = STOP.energy(STOP.compression_at(2000.0)) + SOFT.energy(SOFT.compression_at(2000.0))
    assert BOTH.energy(BOTH.compression_at(2000.0)) == pytest.approx(parts, rel=2e-3)


def test_a_spacer_more_touches_earlier_and_changes_nothing_else() -> None:
    packed = STOP.with_spacer(10e-3)
    assert packed.height == pytest.approx(STOP.height + 10e-3)
    assert packed.force_at(0.02) == STOP.force_at(0.02)
    with pytest.raises(DomainError, match="cannot be negative"):
        STOP.with_spacer(-1e-3)


def test_a_stack_keeps_what_its_stops_keep() -> None:
    lossy = in_series(replace(STOP, loss=0.3), replace(SOFT, loss=0.1))
    works = [stop.energy(stop.compression_at(2500.0)) for stop in (STOP, SOFT)]
    assert lossy.loss == pytest.approx((0.3 * works[0] + 0.1 * works[1]) / sum(works))
    assert BOTH.loss == 0.0
    assert lossy.with_spacer(0.01).loss == lossy.loss
    with pytest.raises(DomainError, match="it keeps 1 of the work"):
        replace(STOP, loss=1.0)
