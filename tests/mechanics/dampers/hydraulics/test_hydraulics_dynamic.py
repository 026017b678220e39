"""Cycles with compressible oil: mass and energy kept; the steady and the linear model as limits."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq
from tarn_dampers import OIL, disc_valve, mono, remote, twin

from tussock.errors import DomainError
from tussock.mechanics.dampers.hydraulics import BandGap, Damper, Orifice, ValveSet, cycle, solve
from tussock.mechanics.dampers.hydraulics.chambers import LaggingSet, OilLaw
from tussock.mechanics.dampers.hydraulics.oil import ATMOSPHERE, mixture_modulus

BUILDS = [twin, mono, remote]


@pytest.mark.parametrize("build", BUILDS)
@pytest.mark.parametrize(("amplitude", "frequency"), [(0.05, 1.667), (0.005, 12.0)])
def test_work_is_heat_and_no_oil_is_lost(build: type[Damper], amplitude: float, frequency: float) -> None:
    """Work of the rod over a settled cycle = heat of the flows (each kilogram gives the integral of v dp)."""
    loop = cycle(build(), amplitude=amplitude, frequency=frequency)
    assert loop.work == pytest.approx(loop.heat, rel=2e-3)
    assert loop.mass_drift < 1e-10


@pytest.mark.parametrize("build", BUILDS)
def test_mid_stroke_of_a_slow_test_is_the_steady_model(build: type[Damper]) -> None:
    """At the peak of speed nothing changes: the loop passes the steady force, to 0.5 % and its gas force."""
    d = build()
    loop = cycle(d, amplitude=0.05, frequency=1.0)
    peak = 2.0 * math.pi * 0.05
    steady = solve(d, velocities=np.array([-peak, 0.0, peak]))
    n = loop.time.size // 4
    assert loop.force[n] == pytest.approx(steady.force[2], rel=5e-3)
    assert loop.force[3 * n] == pytest.approx(steady.force[0], rel=5e-3)


def test_mass_is_kept_over_many_cycles() -> None:
    """The trap of equal volume flows at two pressures: the mean pressure would drift. Thirty cycles move nothing."""
    d = twin(oil=replace(OIL, air_fraction=0.02))
    short = cycle(d, amplitude=0.02, frequency=5.0)
    long = cycle(d, amplitude=0.02, frequency=5.0, least_cycles=30, most_cycles=60)
    assert long.cycles >= 30 > short.cycles
    assert np.mean(long.gas_pressure) == pytest.approx(np.mean(short.gas_pressure), rel=2e-3)
    assert np.sum(long.masses[:, -1]) == pytest.approx(np.sum(short.masses[:, -1]), rel=1e-9)


@pytest.mark.literature
@pytest.mark.parametrize("frequency", [2.0, 20.0, 60.0])
def test_linear_damper_in_closed_form(frequency: float) -> None:
    """Chamber equations (Lang; Duym; Lee, from memory; algebra): a band alone is a linear restriction G, so that
    (V_c/B_e + V_g/(n p)) p_c' = A_p v - G dp and (V_r/B_e) p_r' = G dp - A_a v have an exact harmonic answer."""
    band = BandGap(diameter=0.046, gap=0.12e-3, length=0.010)
    d = mono(
        piston=ValveSet(band=band),
        friction=0.0,
        oil=replace(OIL, air_fraction=0.0, bulk_modulus=0.8e9),
        gas_pressure=6e6,
    )
    amplitude = 2e-4
    loop = cycle(d, amplitude=amplitude, frequency=frequency, repeat=1e-6, most_cycles=80)
    omega = 2.0 * math.pi * frequency
    oil = d.oil.at(293.15)
    conductance = float(band.flow(1.0, oil))
    drag = band.drag_flow(1.0)
    modulus = float(mixture_modulus(6e6, modulus=0.8e9, air_fraction=1e-5))
    c_c = (d.compression_volume() - d.gas_volume) / modulus + d.gas_volume / (d.gas_exponent * 6e6)
    c_r = d.rebound_volume() / modulus
    s = 1j * omega
    matrix = np.array([[s * c_c + conductance, -conductance], [-conductance, s * c_r + conductance]])
    p_c, p_r = np.linalg.solve(matrix, s * np.array([d.piston_area - drag, -(d.annulus_area - drag)]))
    expected = (p_c * d.piston_area - p_r * d.annulus_area) * amplitude
    turn = np.exp(-1j * omega * loop.time[:-1])
    # x = -X cos wt is the real part of -X e^(iwt)
    found = -2.0 * np.mean(loop.force[:-1] * turn)
    assert abs(found - expected) < 5e-3 * abs(expected)


def test_late_discs_open_the_loop() -> None:
    """The longer discs lag, the wider the loop; the work stays positive and the mass whole."""
    gaps = []
    for delay in (0.0002, 0.002, 0.008):
        piston = replace(
            mono().piston,
            compression=replace(disc_valve(opening=0.2e6, firmness=0.5e6), delay=delay),
            rebound=replace(disc_valve(opening=0.5e6, firmness=1.5e6), delay=delay),
        )
        gaps.append(cycle(mono(piston=piston), amplitude=0.01, frequency=6.0).hysteresis)
    assert gaps[0] < gaps[1] < gaps[2]


def test_air_softens_the_turn() -> None:
    """More free air, wider loop (Surace, Worden and Tomlinson 1992, from memory: compressibility gives hysteresis)."""
    gaps = [
        cycle(twin(oil=replace(OIL, air_fraction=a)), amplitude=0.02, frequency=4.0).hysteresis
        for a in (1e-4, 1e-2, 4e-2)
    ]
    assert gaps[0] < gaps[1] < gaps[2]


@pytest.mark.literature
def test_equal_peak_speed_is_not_equal_loop() -> None:
    """Konieczny, Shock and Vibration 2016, 6182847 (abstract): the stroke matters beside the peak speed."""
    d = mono()
    wide, narrow = (cycle(d, amplitude=a, frequency=0.5 / (2 * math.pi * a)) for a in (0.08, 0.008))
    assert narrow.hysteresis > 1.5 * wide.hysteresis


def test_weak_foot_cavitates_and_the_force_lags() -> None:
    """A cavity in compression must close before rebound force builds: it starts late (seen by Guan et al. 2019)."""
    piston = ValveSet(
        compression=disc_valve(opening=0.5e6, firmness=1.5e6), rebound=disc_valve(opening=0.5e6, firmness=1.5e6),
        bleed=(Orifice(area=1e-6),),
    )  # fmt: skip
    good = cycle(twin(piston=piston, gas_pressure=2.5e6), amplitude=0.03, frequency=3.0)
    weak = cycle(
        twin(piston=piston, gas_pressure=0.12e6, foot=replace(twin().foot, bleed=(Orifice(area=2e-5),))),
        amplitude=0.03, frequency=3.0,
    )  # fmt: skip
    assert weak.cavitates
    assert not good.cavitates
    assert weak.force_at(-0.1, quickening=True) > 0.5 * good.force_at(-0.1, quickening=True)
    assert weak.work == pytest.approx(weak.heat, rel=5e-3)


@pytest.mark.parametrize("celsius", [-20.0, 120.0])
@pytest.mark.parametrize("build", BUILDS)
def test_hard_conditions_still_run(build: type[Damper], celsius: float) -> None:
    loop = cycle(build(), amplitude=0.012, frequency=20.0, temperature=celsius + 273.15, most_cycles=40)
    assert np.all(np.isfinite(loop.force))
    assert loop.work > 0.0


def test_chamber_pressure_against_brentq() -> None:
    """The Newton of a chamber against a bracketing root finder, from cavity to high pressure, with and without gas."""
    law = OilLaw(replace(OIL, air_fraction=0.005), temperature=313.15)
    mass = 0.1
    for true in (50.0, 5e3, 1e5, 1e6, 3e7):
        room = mass * law.volume(true)
        assert law.pressure(mass, room, start=1e5) == pytest.approx(true, rel=1e-6)
        gas = (2e6, 5e-5, 1.4)
        p = law.pressure(mass, room + 1e-4, gas=gas, start=1e5)

        def lack(q: float, room: float = room, gas: tuple[float, float, float] = gas) -> float:
            return mass * law.volume(q) + gas[1] * (gas[0] / q) ** (1.0 / gas[2]) - room - 1e-4

        assert p == pytest.approx(brentq(lack, 1.0, 1e9, xtol=1e-6), rel=1e-8)


def test_flow_work_is_the_integral() -> None:
    """Integral of v dp by Gauss-Legendre."""
    for n in (1.0, 1.4):
        law = OilLaw(replace(OIL, air_fraction=0.01, air_exponent=n), temperature=313.15)
        x, w = np.polynomial.legendre.leggauss(60)
        p = 0.5 * (3e6 + ATMOSPHERE) + 0.5 * (3e6 - ATMOSPHERE) * x
        found = 0.5 * (3e6 - ATMOSPHERE) * float(np.sum(w * np.array([law.volume(float(q)) for q in p])))
        assert law.flow_work(3e6, ATMOSPHERE) == pytest.approx(found, rel=1e-9)


@pytest.mark.parametrize("build", BUILDS)
def test_tables_of_the_cycle_meet_the_steady_sets(build: type[Damper]) -> None:
    """Flow from the tables at equal drop and felt drop against the exact network, to 0.1 %."""
    d = build()
    oil = d.oil.at(293.15)
    tables = LaggingSet(d.piston, oil)
    q = np.geomspace(1e-6, 2e-3, 15)
    for sense, sign in (("compression", 1.0), ("rebound", -1.0)):
        drops = d.piston.solve(q, oil, sense=sense).drop  # type: ignore[arg-type]
        keep = drops > 3e3
        found = np.array([tables.flow(sign * p, (sign * p, -sign * p)) for p in drops])
        np.testing.assert_allclose(found[keep], sign * q[keep], rtol=1e-3)


def test_refusals() -> None:
    with pytest.raises(DomainError, match="leave the stroke"):
        cycle(mono(), amplitude=0.15, frequency=1.0)
    with pytest.raises(DomainError, match="must be positive"):
        cycle(mono(), amplitude=0.0, frequency=1.0)
    with pytest.raises(DomainError, match="multiple of 4"):
        cycle(mono(), amplitude=0.01, frequency=1.0, points=42)
    with pytest.raises(DomainError, match="reaches"):
        cycle(mono(), amplitude=0.01, frequency=1.0).force_at(2.0, quickening=True)
