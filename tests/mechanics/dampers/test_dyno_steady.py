"""Constant-velocity runs: what was driven and what was measured come back. All data invented."""

from __future__ import annotations

import numpy as np
import pytest
from dyno_samples import SPEEDS, TRUE, numbers, sine_text, steady_text

from tussock.mechanics.dampers import DynoTest, read
from tussock.mechanics.dampers.sine_run import fit_sine
from tussock.mechanics.dampers.steady_run import fit_steady

SLOW_FIRST = (0.005, *SPEEDS)


def assert_recovers(test: DynoTest, tolerance: float) -> None:
    for point in test.points:
        assert point.force == pytest.approx(TRUE.force_at(point.velocity), abs=tolerance), point
    assert test.curve.gas_force == pytest.approx(110.0, abs=tolerance)
    assert test.curve.friction == pytest.approx(34.0, abs=tolerance)


@pytest.mark.parametrize("ramp", [0.0, 0.1, 0.2])
@pytest.mark.parametrize("pause", [0.0, 0.03])
def test_triangle_and_trapezoid(ramp: float, pause: float) -> None:
    """Noise 4 N over at least 90 samples of the middle: 0.5 N; what is allowed is the slow run's bleed, 3 N."""
    test = read(steady_text(speeds_in=SLOW_FIRST, ramp=ramp, pause=pause), name="steady")
    assert {r.motion for r in test.runs} == {"constant velocity"}
    assert_recovers(test, 3.0)
    assert test.warnings == ()
    for run, speed in zip(test.runs, SLOW_FIRST, strict=True):
        assert run.speed_in == pytest.approx(speed, rel=2e-3)
        assert run.speed_out == pytest.approx(speed, rel=2e-3)
        assert run.stroke == pytest.approx(0.1, rel=2e-3)


@pytest.mark.parametrize("factor", [0.4, 0.6, 1.7])
def test_speeds_that_differ_in_and_out(factor: float) -> None:
    out = tuple(v * factor for v in SLOW_FIRST)
    test = read(steady_text(speeds_in=SLOW_FIRST, speeds_out=out, ramp=0.08), name="lopsided")
    for run, one, other in zip(test.runs, SLOW_FIRST, out, strict=True):
        assert (run.speed_in, run.speed_out) == pytest.approx((one, other), rel=3e-3)
    assert_recovers(test, 4.0)
    assert test.curve.velocity[0] == pytest.approx(-1.05 * factor, rel=3e-3)
    assert test.curve.velocity[-1] == pytest.approx(1.05, rel=3e-3)


def test_gas_spring_leaves_the_force_in_mid_stroke_alone() -> None:
    assert_recovers(read(steady_text(speeds_in=SLOW_FIRST, gas_rate=2000.0), name="gas"), 3.0)


def test_without_a_slow_run_the_friction_stays_inside_and_is_said_to() -> None:
    test = read(steady_text(speeds_in=SPEEDS), name="no slow run")
    assert "the seals' friction is inside the curve" in test.warnings[0]
    assert test.curve.friction == 0.0
    assert abs(test.rest.gas - 110.0) < 2.0 * test.rest.gas_error
    assert test.curve.force_at(0.52) == pytest.approx(555.0 + 34.0, abs=test.rest.gas_error)


def test_sine_and_steady_runs_in_one_file() -> None:
    """The slow run steady, as many dynos drive it, the others sines."""
    slow = steady_text(speeds_in=(0.005,))
    rows = list(zip(*numbers(sine_text()), strict=True))[180:]
    later = [f"{a + 1:g}, {b + 500.0:.6f}, {c:.3f}, {d:.1f}" for a, b, c, d in rows]
    test = read(slow + "\n".join(later) + "\n", name="both")
    assert [r.motion for r in test.runs] == ["constant velocity", *["sine"] * 5]
    assert_recovers(test, 6.0)


def test_work_of_a_steady_cycle_by_hand() -> None:
    """Force times way: (F_in + F_out + 2 friction) times the stroke, in a triangle without ramps."""
    test = read(steady_text(speeds_in=SLOW_FIRST, noise=0.0), name="work")
    for run in test.runs[1:]:
        expected = 0.1 * (TRUE.force_at(run.speed_in) - TRUE.force_at(-run.speed_out) + 2 * 34.0)
        assert run.energy == pytest.approx(expected, rel=0.01)


@pytest.mark.parametrize(("share", "ramp", "pause"), [(0.5, 0.0, 0.0), (0.3, 0.15, 0.02), (0.68, 0.05, 0.0)])
def test_slope_is_the_derivative_of_the_shape(share: float, ramp: float, pause: float) -> None:
    from tussock.mechanics.dampers.steady_run import Steady

    drive = Steady(
        frequency=1.0,
        amplitude=0.05,
        phase=0.0,
        middle=0.0,
        misfit=0.0,
        cycles=1.0,
        share_in=share,
        ramp=ramp,
        pause=pause,
    )
    angle = np.linspace(-3.0, 9.0, 4001)
    slope = np.gradient(drive.shape(angle), angle)
    smooth = np.abs(np.diff(drive.slope(angle), prepend=0.0)) < 0.02  # not across a corner
    smooth &= np.roll(smooth, -1)
    assert np.allclose(slope[1:-1][smooth[1:-1]], drive.slope(angle)[1:-1][smooth[1:-1]], atol=0.02)
    assert float(drive.shape(np.array([0.0]))[0]) == pytest.approx(0.0, abs=1e-12)
    assert float(drive.shape(np.array([np.pi]))[0]) == pytest.approx(0.0, abs=1e-12)


def test_a_sine_is_never_taken_for_a_steady_run() -> None:
    assert {r.motion for r in read(sine_text(), name="sine").runs} == {"sine"}


def test_fit_of_a_noisy_triangle_by_hand() -> None:
    """A triangle of 40 mm each way in 1.6 s, written point by point."""
    t = np.arange(0.0, 3.2, 0.004)
    x = 0.04 * (4.0 * np.abs((t / 1.6 + 0.2) % 1.0 - 0.5) - 1.0) + np.random.default_rng(2).normal(0.0, 2e-5, t.size)
    found = fit_steady(t, x, fit_sine(t, x))
    assert found.amplitude == pytest.approx(0.04, rel=2e-3)
    assert found.speed_in == pytest.approx(0.1, rel=2e-3)
    assert found.misfit < 2e-3
