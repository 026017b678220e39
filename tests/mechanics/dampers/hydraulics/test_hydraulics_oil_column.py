"""One stiffness for the oil column: against the full hydraulic cycle, where the valves' steady curve alone misses.

The series k (x - s) = F(s') with the steady curve F is integrated by SciPy's LSODA; the cycle has chambers of oil and
air and discs that lag.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.interpolate import PchipInterpolator
from tarn_dampers import mono, remote, twin

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.dampers.hydraulics import ATMOSPHERE, Damper, Loop, cycle, oil_column_stiffness, solve

TEMPERATURE = 313.15
SPEEDS = np.geomspace(0.005, 1.2, 48)
STROKES = [(0.050, 100.0 / 60.0), (0.010, 8.0), (0.003, 15.0)]


def steady(damper: Damper) -> PchipInterpolator:
    """Hydraulic force over velocity in steady flow."""
    v = np.concatenate([-SPEEDS[::-1], SPEEDS])
    f = solve(damper, velocities=v, temperature=TEMPERATURE).hydraulic_force
    n = SPEEDS.size
    return PchipInterpolator(np.insert(v, n, 0.0), np.insert(f, n, 0.0))


def series(curve: PchipInterpolator, stiffness: float, loop: Loop) -> Floats:
    """Force of the same cycle with the curve on a spring, its third cycle."""
    fine = np.linspace(-1.2, 1.2, 6001)
    force = curve(fine)
    omega, amplitude = 2.0 * math.pi * loop.frequency, loop.amplitude

    def stretch(t: float, s: Floats) -> Floats:
        return np.asarray(np.interp(stiffness * (-amplitude * math.cos(omega * t) - s), force, fine))

    period = 1.0 / loop.frequency
    run = solve_ivp(
        stretch, (0.0, 3.0 * period), [-amplitude], t_eval=2.0 * period + loop.time, method="LSODA", rtol=1e-7,
        atol=1e-10, max_step=period / 200.0,
    )  # fmt: skip
    assert run.success
    return np.asarray(stiffness * (-amplitude * np.cos(omega * run.t) - run.y[0]))


def gap(force: Floats) -> float:
    """Largest gap between both passes of a velocity, as `Loop.hysteresis` has it."""
    n = force.size // 4
    up, down = force[: 2 * n + 1], force[2 * n :]
    return float(max(np.max(np.abs(up - up[::-1])), np.max(np.abs(down - down[::-1]))))


@pytest.mark.parametrize("make", [twin, mono, remote])
def test_the_series_opens_the_loop_as_the_full_cycle_does(make: object) -> None:
    assert callable(make)
    damper = make()
    curve = steady(damper)
    stiffness = oil_column_stiffness(damper, rebound=-float(curve(-0.26)), temperature=TEMPERATURE)
    for amplitude, frequency in STROKES:
        loop = cycle(damper, amplitude=amplitude, frequency=frequency, temperature=TEMPERATURE, points=400)
        whole = loop.force - loop.friction * np.sign(loop.velocity)
        whole = whole - (loop.gas_pressure - ATMOSPHERE) * loop.rod_area
        own = series(curve, stiffness, loop)
        left, before = (float(np.std(f - whole)) for f in (own, curve(loop.velocity)))
        print(
            f"{loop.name}, {2e3 * amplitude:g} mm, {frequency:.3g} Hz: {1e-3 * stiffness:.0f} N/mm, hysteresis "
            f"{loop.hysteresis:.0f} N, series {gap(own):.0f} N ({gap(own) / loop.hysteresis - 1.0:+.1%}), misses "
            f"{left:.1f} N r.m.s. of {np.std(whole):.0f} N, steady curve {before:.1f} N"
        )
        assert gap(own) == pytest.approx(loop.hysteresis, rel=0.25)
        assert left < 0.6 * before


def test_oil_without_air_is_the_closed_form() -> None:
    """B A^2 / V, and entrained air takes from it."""
    base = twin()
    dry = twin(oil=replace(base.oil, air_fraction=0.0))
    closed = base.oil.bulk_modulus * base.annulus_area**2 / base.rebound_volume()
    assert oil_column_stiffness(dry, rebound=900.0, temperature=TEMPERATURE) == pytest.approx(closed, rel=0.01)
    wet = [oil_column_stiffness(base, rebound=force, temperature=TEMPERATURE) for force in (200.0, 900.0, 3000.0)]
    assert wet == sorted(wet)
    assert wet[-1] < closed


@pytest.mark.parametrize("force", [0.0, -5.0, math.nan])
def test_a_force_that_squeezes_nothing_is_refused(force: float) -> None:
    with pytest.raises(DomainError, match="it must be above 0"):
        oil_column_stiffness(twin(), rebound=force, temperature=TEMPERATURE)
