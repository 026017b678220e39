"""The kernels' tables, curves, road and solver against SciPy and NumPy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import CubicHermiteSpline, CubicSpline, NdBSpline

from tussock.mechanics.motion import Workspace, kernels, road_kernels
from tussock.mechanics.motion.spline import cells, curve_cells, fit

HEAVE, ROLL = np.linspace(-0.14, 0.14, 15), np.linspace(-0.25, 0.25, 13)
GRID = np.array([-0.14, 50.0, 14.0, -0.25, 24.0, 12.0, 0.02, 0.5 / 12.0])


def test_cells_of_an_axle_map_are_its_b_spline() -> None:
    """Value, both slopes and the curvature along any rate, in every cell and beyond the last."""
    rng = np.random.default_rng(4)
    coefficients = fit(rng.normal(size=(15, 13, kernels.CHANNELS)))
    table = np.concatenate([np.zeros(14 * 12 * 16 * kernels.CHANNELS), cells(coefficients, GRID).ravel()])
    knots = [np.arange(-3, n + 3) * step + first for n, step, first in ((15, 0.02, -0.14), (13, 0.5 / 12.0, -0.25))]
    spline = NdBSpline(tuple(knots), coefficients, 3, extrapolate=True)
    out, worst = np.zeros(64), 0.0
    for h, r, dh, dr in zip(
        *(rng.uniform(-x, x, size=200) for x in (0.15, 0.26, 1.0, 2.0)),
        strict=True,
    ):
        far = kernels.table_at(table, np.tile(GRID, 2), 1, kernels.CHANNELS, h, r, dh, dr, out)
        assert max(far, 0.0) == pytest.approx(max((abs(h) - 0.14) * 50.0, (abs(r) - 0.25) * 24.0, 0.0), abs=1e-9)
        values, slope_h, slope_r, bend = out.reshape(4, 16)

        def scipy(*order: int, at: tuple[float, float] = (h, r)) -> np.ndarray:
            return spline(np.array([at]), nu=order)[0]

        along = dh * dh * scipy(2, 0) + 2.0 * dh * dr * scipy(1, 1) + dr * dr * scipy(0, 2)
        for ours, theirs in ((values, scipy(0, 0)), (slope_h, scipy(1, 0)), (slope_r, scipy(0, 1)), (bend, along)):
            worst = max(worst, float(np.max(np.abs(ours - theirs)) / (1.0 + np.max(np.abs(theirs)))))
    assert worst < 1e-11


def test_curves_are_hermite_splines_that_go_on_straight() -> None:
    rng = np.random.default_rng(5)
    x, values, slopes = np.arange(20) * 0.3, rng.normal(size=20), rng.normal(size=20)
    table = curve_cells(values, slopes, 0.3)[None]
    spline = CubicHermiteSpline(x, values, slopes)
    for at in rng.uniform(0.0, x[-1], size=50):
        assert kernels.cubic(table, 0, at, 1.0 / 0.3) == pytest.approx(float(spline(at)), abs=1e-12)
    for over in (0.1, 5.0):
        assert kernels.cubic(table, 0, -over, 1.0 / 0.3) == pytest.approx(values[0] - over * slopes[0], abs=1e-12)
        beyond = kernels.cubic(table, 0, x[-1] + over, 1.0 / 0.3)
        assert beyond == pytest.approx(values[-1] + over * slopes[-1], abs=1e-12)


def test_the_solver_of_six_is_numpys() -> None:
    rng = np.random.default_rng(6)
    for _ in range(50):
        root = rng.normal(size=(6, 6)) * np.array([30.0, 45.0, 50.0, 40.0, 40.0, 40.0])[:, None]
        matrix = root @ root.T + np.diag([500.0, 2000.0, 2200.0, 1800.0, 1800.0, 1800.0])
        sides = rng.normal(size=(2, 6)) * 1e4
        expected = np.linalg.solve(matrix, sides.T).T
        factors = np.zeros(kernels.FACTORS)
        kernels.factor6(np.tril(matrix), factors)
        kernels.solve6(factors, sides)
        assert np.max(np.abs(sides - expected)) < 1e-11 * np.max(np.abs(expected))


def test_the_road_between_its_points_is_a_clamped_spline() -> None:
    rng = np.random.default_rng(7)
    curves = np.empty((2, 2, 101))
    curves[:, 0] = rng.normal(size=(2, 101))
    for curve in curves:
        road_kernels.slopes(curve[0], curve[1], np.empty(101))
    pace, step, wheelbase = rng.uniform(4.0, 6.0, size=2400), 1e-3, 2.5
    row = np.arange(100.0, 115.0)
    inputs = np.empty((2400, 15))
    road_kernels.follow(curves, 0.1, wheelbase, step, pace, row, inputs)
    front = step * (np.cumsum(pace) - 0.5 * pace)
    assert front[-1] > 10.0  # past the end
    for side in (0, 1):
        spline = CubicSpline(np.arange(101) * 0.1, curves[side, 0], bc_type="clamped")
        for axle, at in enumerate((front, front - wheelbase)):
            wheel, on = 2 * axle + side, (at >= 0.0) & (at <= 10.0)
            slope = np.where(on, spline(np.clip(at, 0.0, 10.0), 1), 0.0)
            assert np.max(np.abs(inputs[:, wheel] - spline(np.clip(at, 0.0, 10.0)))) < 1e-11
            assert np.max(np.abs(inputs[:, 8 + wheel] - slope)) < 1e-10
            assert np.max(np.abs(inputs[:, 4 + wheel] - slope * pace)) < 1e-9
    assert np.array_equal(inputs[:, 12:], np.tile(row[12:], (2400, 1)))
    held = np.empty((500, 12))
    road_kernels.follow(curves, 0.1, wheelbase, step, np.array([8.0]), np.zeros(12), held)
    spline = CubicSpline(np.arange(101) * 0.1, curves[1, 0], bc_type="clamped")
    assert np.max(np.abs(held[:, 1] - spline((np.arange(500) + 0.5) * 8e-3))) < 1e-11


def test_a_workspace_hands_out_the_same_memory() -> None:
    memory = Workspace()
    first = memory.array("logs", 4, 100)
    again = memory.array("logs", 2, 150)
    assert again.shape == (2, 150)
    assert np.shares_memory(first, again)
    assert memory.array("logs", 4, 200).flags.c_contiguous
    assert memory.size == 800 * 8
