"""Whole mono- and twin-tubes against small models written anew: printed formulas, SciPy's root finders and solvers.

Nothing of the package but its inputs is used on the other side: oil by ASTM D341 with 273.15, short tubes with Rabie's
two branches as printed, every drop and force balance as one scalar equation for `brentq`, cycles as differential
equations of pressures (not of masses) for `solve_ivp`.

Sources
1. ASTM D341 (public restatements), both branches; density 1 - a (T - 15) (from memory).
2. M. G. Rabie, Fluid Power Engineering, McGraw-Hill 2009: eqs 2.19 (gap), 2.24 (film), 2.36 (orifice), 2.40 and 2.41
   (short tube, after Merritt 1967), 2.50 to 2.57 (bulk modulus with air).
3. Continuity and force of both kinds: Lang 1977; Dixon 2007, ch. 7; Talbott and Starkey, SAE 2002-01-3337
   (from memory).
4. Chambers: (V/B_e) dp/dt = inflow - dV/dt (Lang; Duym; Lee, from memory).
5. Slow flow through a slit of height h and width w: Q = pi w h^2 dp/(32 mu) (Hasimoto 1958; Wuest 1954, from memory);
   C_d = 0.157 sqrt(Re) of rectangular slots, Re on twice the height (Merritt 1967, from memory).
6. Hagen-Poiseuille, Blasius 0.3164 Re^(-1/4), end losses 0.5 + 1.0 (text books of fluid mechanics, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq
from tarn_dampers import OIL, check_valve, disc_valve, mono, remote, twin

from tussock.mechanics.dampers.hydraulics import (
    BandGap,
    Damper,
    DiscValve,
    Oil,
    OilState,
    Orifice,
    TwinTube,
    ValveSet,
    cycle,
    solve,
)

pytestmark = pytest.mark.literature

P_ATM = 101_325.0


def oil_at(oil: Oil, kelvin: float) -> tuple[float, float]:
    """Density and dynamic viscosity (source 1)."""

    def w(nu: float) -> float:
        z = nu + 0.7 + (math.exp(-1.47 - 1.84 * nu - 0.51 * nu**2) if nu < 2.0 else 0.0)
        return math.log10(math.log10(z))

    (t1, n1), (t2, n2) = oil.viscosities
    b = (w(n1 * 1e6) - w(n2 * 1e6)) / (math.log10(t2) - math.log10(t1))
    a = w(n1 * 1e6) + b * math.log10(t1)
    wanted = a - b * math.log10(kelvin)
    nu = brentq(lambda x: w(x) - wanted, 0.25, 1e6)
    rho = oil.density * (1.0 - oil.expansion * (kelvin - 288.15))
    return rho, nu * 1e-6 * rho


@dataclass
class Passage:
    """A valve set in one direction as flow over drop, written anew (source 2 and 5)."""

    valves: ValveSet
    sense: str
    rho: float
    mu: float

    def hole(self, hole: Orifice, dp: float) -> float:
        """Flow of an orifice or of a short tube by its printed branches."""
        if hole.length == 0.0:
            return hole.discharge * hole.area * math.sqrt(2.0 * dp / self.rho)
        d = math.sqrt(4.0 * hole.area / hole.count / math.pi)

        def own(q: float) -> float:
            s = self.rho * (q / hole.area) * d / self.mu * d / hole.length
            loss = 2.28 + 64.0 / s if s < 50.0 else 1.5 + 13.74 / math.sqrt(s)
            return 0.5 * self.rho * (q / hole.area) ** 2 * loss - dp

        return float(brentq(own, 1e-18, hole.area * math.sqrt(2.0 * dp / self.rho) + 1e-17, xtol=1e-20, rtol=1e-12))

    def lift(self, valve: DiscValve, pressure: float) -> float:
        """Straight between the table's points: independent of the package's interpolation."""
        opening = valve.opening_pressure
        x = np.concatenate([[opening], valve.pressure[valve.pressure > opening]])
        y = np.concatenate([[0.0], valve.lift[valve.pressure > opening]])
        return float(np.interp(pressure, x, y))

    def discs(self, valve: DiscValve, dp: float) -> float:
        """Flow through port and curtain in series at a whole drop, by the curtain's drop as the unknown."""
        width = math.pi * valve.seat_diameter * valve.area_factor
        acted = math.pi * valve.seat_diameter**2 / 4.0 if valve.pressed_area is None else valve.pressed_area

        def flow_at(p: float) -> float:
            # the jet helps to lift: lift and flow have to agree
            def lack(q: float) -> float:
                y = self.lift(valve, p + valve.jet_coefficient * self.rho * q**2 / valve.port.area / acted)
                if y <= 0.0:
                    return q
                linear = 32.0 * self.mu / (math.pi * width * y**2) if valve.creeping else 0.0
                if valve.land > 0.0:
                    linear += (
                        12.0
                        * self.mu
                        * valve.land
                        / (math.pi * (valve.seat_diameter - valve.land) * valve.area_factor * y**3)
                    )
                quadratic = 0.5 * self.rho / (valve.curtain_discharge * width * y) ** 2
                return q - (-linear + math.sqrt(linear**2 + 4.0 * quadratic * p)) / (2.0 * quadratic)

            if lack(0.0) >= 0.0:
                return 0.0
            return float(brentq(lack, 0.0, 10.0, xtol=1e-16, rtol=1e-12))

        def rest(p: float) -> float:
            q = flow_at(p) + (0.0 if valve.notch is None else self.hole(valve.notch, p))
            return self.hole(valve.port, max(dp - p, 1e-9)) - q

        p = dp if rest(dp * (1.0 - 1e-9)) > 0.0 else float(brentq(rest, 1e-6 * dp, dp * (1.0 - 1e-9), rtol=1e-12))
        return flow_at(p) + (0.0 if valve.notch is None else self.hole(valve.notch, p))

    def flow(self, dp: float) -> float:
        """Flow of all paths."""
        total = sum(self.hole(hole, dp) for hole in self.valves.bleed)
        band = self.valves.band
        if band is not None:
            total += math.pi * band.diameter * band.gap**3 * dp / (12.0 * self.mu * band.length) * (
                1.0 + 1.5 * band.eccentricity**2
            )  # fmt: skip
        valve = self.valves.compression if self.sense == "compression" else self.valves.rebound
        return float(total + (0.0 if valve is None else self.discs(valve, dp)))

    def drop(self, q: float) -> float:
        """Drop that carries a flow."""
        if q <= 0.0:
            return 0.0
        return math.exp(brentq(lambda x: self.flow(math.exp(x)) / q - 1.0, math.log(1e-3), math.log(1e9), xtol=1e-9))


def hose_drop(d: Damper, q: float, rho: float, mu: float) -> float:
    """Source 6."""
    hose = d.hose
    assert hose is not None
    v = q / (math.pi * hose.diameter**2 / 4.0)
    re = rho * v * hose.diameter / mu
    factor = max(64.0 / re, 0.3164 / re**0.25)
    return 0.5 * rho * v**2 * (factor * hose.length / hose.diameter + hose.end_losses)


def steady_force(d: Damper, v: float, kelvin: float) -> tuple[float, float]:
    """Rod force and lowest pressure at a rod speed (source 3); no cavity."""
    rho, mu = oil_at(d.oil, kelvin)
    sense = "compression" if v > 0.0 else "rebound"
    bore, rod = math.pi * d.bore**2 / 4.0, math.pi * d.rod**2 / 4.0
    ring = bore - rod
    # gas: the charge at 20 °C, less room where the oil has grown
    grown = d.oil_volume * (oil_at(d.oil, 293.15)[0] / rho - 1.0)
    gas = d.gas_pressure * kelvin / 293.15 * d.gas_volume / (d.gas_volume - grown)
    band = d.piston.band
    drag = 0.0 if band is None else math.pi * band.diameter * band.gap * abs(v) / 2.0
    piston = Passage(d.piston, sense, rho, mu).drop(ring * abs(v) - drag)
    base = 0.0 if d.base is None else Passage(d.base, sense, rho, mu).drop(rod * abs(v))
    if d.hose is not None:
        base += hose_drop(d, rod * abs(v), rho, mu)
    below = gas + base if v > 0.0 else gas - base
    above = below - piston if v > 0.0 else below + piston
    force = below * bore - above * ring - P_ATM * rod + d.friction * math.copysign(1.0, v)
    return force, min(below, above)


def _fine(valve: DiscValve | None) -> DiscValve | None:
    """Take the sample's lift law at many points, so that both sides read one table alike however they interpolate."""
    if valve is None or valve.stopped:
        return valve
    opening, span = valve.opening_pressure, float(valve.pressure[-1]) - valve.opening_pressure
    s = np.linspace(0.0, 1.0, 3000) ** 2
    return replace(valve, pressure=opening + span * s, lift=float(valve.lift[-1]) * s**0.8)


def _fine_set(valves: ValveSet) -> ValveSet:
    return replace(valves, compression=_fine(valves.compression), rebound=_fine(valves.rebound))


def _fine_all(d: Damper) -> Damper:
    d = replace(d, piston=_fine_set(d.piston))
    if isinstance(d, TwinTube):
        return replace(d, foot=_fine_set(d.foot))
    if d.remote is not None and d.remote.valves is not None:
        return replace(d, remote=replace(d.remote, valves=_fine_set(d.remote.valves)))
    return d


def _firm(build: Callable[..., Damper]) -> Damper:
    """One with everything on: jet, land, notch, slow flow, an eccentric band."""
    d = build()
    valve = replace(
        disc_valve(opening=0.4e6, firmness=1.2e6, jet=0.25), creeping=True, land=0.4e-3, notch=Orifice(area=0.6e-6)
    )
    band = BandGap(diameter=d.bore, gap=0.04e-3, length=0.009, eccentricity=0.6)
    return replace(d, piston=replace(d.piston, rebound=valve, band=band))


@pytest.mark.parametrize("build", [twin, mono, remote])
@pytest.mark.parametrize("celsius", [-20.0, 60.0])
def test_force_over_speed_and_temperature(build: Callable[..., Damper], celsius: float) -> None:
    """Sources 1 to 6. Asked 2 %; the largest found over -20 to 90 °C is 0.03 % of the force. Where a short tube's
    printed branches miss each other the package joins them (Re d/L 45 to 55) and may lie 0.9 % off in its flow."""
    for d in (_fine_all(build()), _fine_all(_firm(build))):
        speeds = np.array([-3.0, -0.52, -0.13, -0.01, 0.0, 0.01, 0.13, 0.52, 1.04])
        r = solve(d, velocities=speeds, temperature=celsius + 273.15)
        for i, v in enumerate(speeds):
            if v == 0.0 or r.cavitates[i]:
                continue
            force, lowest = steady_force(d, float(v), celsius + 273.15)
            assert r.force[i] == pytest.approx(force, rel=5e-3, abs=1.0), v
            assert r.margin[i] == pytest.approx(lowest - d.cavitation_pressure, rel=5e-3, abs=1e3), v


def test_slow_flow_under_a_disc() -> None:
    """Source 5: with thick oil the drop is that of slow flow, with thin oil the plain coefficient's; between them the
    coefficient follows 1/C^2 + 1/(0.157^2 Re)."""
    h, d = 0.05e-3, 0.022
    valve = DiscValve(
        port=Orifice(area=1.0), seat_diameter=d, pressure=np.array([0.0, 1e6]), lift=np.array([h, h]), creeping=True
    )
    width = math.pi * d
    thick, thin = (OilState(temperature=293.15, density=850.0, viscosity=mu) for mu in (50.0, 1e-9))
    dp = 1e5
    assert float(valve.at(np.array([dp]), thick).flow[0]) == pytest.approx(
        math.pi * width * h**2 * dp / (32.0 * 50.0), rel=1e-3
    )
    assert float(valve.at(np.array([dp]), thin).flow[0]) == pytest.approx(
        0.7 * width * h * math.sqrt(2.0 * dp / 850.0), rel=1e-3
    )
    oil = OilState(temperature=293.15, density=850.0, viscosity=0.05)
    speed = float(valve.at(np.array([dp]), oil).flow[0]) / (width * h)
    reynolds = 850.0 * speed * 2.0 * h / 0.05
    found = speed / math.sqrt(2.0 * dp / 850.0)
    assert found == pytest.approx((1.0 / 0.7**2 + 1.0 / (0.157**2 * reynolds)) ** -0.5, rel=2e-3)


def _modulus(d: Damper, p: float, air: float) -> float:
    """Source 2 with bubbles that compress; the reading that keeps mass."""
    volume = air * (P_ATM / p) ** (1.0 / d.oil.air_exponent)
    liquid = (1.0 - air) * math.exp(-(p - P_ATM) / d.oil.bulk_modulus)
    share = volume / (volume + liquid)
    return 1.0 / (share / (d.oil.air_exponent * p) + (1.0 - share) / d.oil.bulk_modulus)


@pytest.mark.parametrize(("build", "amplitude", "frequency"), [(twin, 0.05, 1.667), (mono, 0.02, 6.0)])
def test_loops_against_pressures_as_unknowns(build: Callable[..., Damper], amplitude: float, frequency: float) -> None:
    """Source 4. Pressures of both chambers and the lagging drops as unknowns, flows from the passages above: the loop
    agrees to 2 % of the larger peak, the heat of a cycle to 1 %."""
    d = build(piston=replace(
        build().piston, bleed=(Orifice(area=2.5e-6),), compression=check_valve(), rebound=disc_valve(
            opening=0.3e6, firmness=1.2e6, jet=0.0)
    ))  # fmt: skip
    if d.base is not None:
        d = replace(d, foot=ValveSet(bleed=(Orifice(area=4e-6),), rebound=check_valve()))  # type: ignore[call-arg]
    loop = cycle(d, amplitude=amplitude, frequency=frequency)
    rho, mu = oil_at(d.oil, 293.15)
    bore, rod = math.pi * d.bore**2 / 4.0, math.pi * d.rod**2 / 4.0
    ring, omega = bore - rod, 2.0 * math.pi * frequency
    grid = np.concatenate([[0.0], np.geomspace(50.0, 5e7, 160)])
    tables = {}
    for key, valves in (("piston", d.piston), ("base", d.base)):
        for sense in ("compression", "rebound"):
            if valves is not None:
                one = Passage(valves, sense, rho, mu)
                bare = Passage(replace(valves, compression=None, rebound=None), sense, rho, mu)
                past = np.array([0.0, *(bare.flow(p) for p in grid[1:])])
                every = np.array([0.0, *(one.flow(p) for p in grid[1:])])
                tables[key, sense] = past, (every - past) / np.sqrt(grid + 1e-9)
    delays = {s: (getattr(d.piston, s) or check_valve()).delay for s in ("compression", "rebound")}

    def through(key: str, dp: float, felt: dict[str, float]) -> float:
        side = "compression" if dp >= 0.0 else "rebound"
        q = math.copysign(float(np.interp(abs(dp), grid, tables[key, side][0])), dp)
        for sense in ("compression", "rebound"):
            if felt[sense] > 0.0:
                conductance = float(np.interp(felt[sense], grid, tables[key, sense][1]))
                q += conductance * dp / math.sqrt(abs(dp) + 100.0)
        return q

    v_gas = d.gas_volume + rod * amplitude  # at the outer end of the stroke
    start = d.gas_pressure * (d.gas_volume / v_gas) ** d.gas_exponent

    def rates(t: float, y: np.ndarray) -> list[float]:
        p_c, p_r, p_g, pc_felt, pr_felt, bc_felt, br_felt = y
        x, v = -amplitude * math.cos(omega * t), amplitude * omega * math.sin(omega * t)
        drag = 0.0 if d.piston.band is None else d.piston.band.drag_flow(1.0) * v
        q = through("piston", p_c - p_r, {"compression": pc_felt, "rebound": pr_felt}) + drag
        air = d.oil.air_fraction
        room_r = ring * (d.upper + x)
        room_c = d.compression_volume(x)
        # gas volume by its own law
        gas_now = v_gas * (start / p_g) ** (1.0 / d.gas_exponent)
        if d.base is None:
            compliance = (room_c - gas_now) / _modulus(d, p_c, air) + gas_now / (d.gas_exponent * p_c)
            dp_c = (bore * v - q) / compliance
            dp_g = dp_c
        else:
            away = through("base", p_c - p_g, {"compression": bc_felt, "rebound": br_felt})
            dp_c = (bore * v - q - away) / (room_c / _modulus(d, p_c, air))
            held = (d.reserve_volume - gas_now) / _modulus(d, p_g, air) + gas_now / (d.gas_exponent * p_g)
            dp_g = away / held
        dp_r = (q - ring * v) / (room_r / _modulus(d, p_r, air))
        drop, foot = p_c - p_r, p_c - p_g
        return [
            dp_c, dp_r, dp_g, (drop - pc_felt) / delays["compression"], (-drop - pr_felt) / delays["rebound"],
            (foot - bc_felt) / 0.0005, (-foot - br_felt) / 0.0005,
        ]  # fmt: skip

    period = 1.0 / frequency
    y = np.array([start, start, start, 0.0, 0.0, 0.0, 0.0])
    # two cycles: the second is settled
    run = solve_ivp(
        rates, (0.0, 2.0 * period), y, method="LSODA", rtol=1e-6, atol=200.0, max_step=period / 60.0,
        t_eval=period + loop.time,
    )  # fmt: skip
    assert run.success
    own = run.y[0] * bore - run.y[1] * ring - P_ATM * rod
    found = loop.force - loop.friction * np.sign(loop.velocity)
    peak = float(np.max(np.abs(own)))
    np.testing.assert_allclose(found, own, atol=0.02 * peak)
    x = loop.position
    work = float(np.sum(0.5 * (own[1:] + own[:-1]) * np.diff(x)))
    assert loop.work - 4.0 * loop.friction * amplitude == pytest.approx(work, rel=0.01)


def test_oil_of_the_check_is_the_package_s() -> None:
    """Source 1: density and viscosity written anew meet the package's within 0.05 %."""
    for celsius in (-30.0, 0.0, 20.0, 40.0, 100.0):
        rho, mu = oil_at(OIL, celsius + 273.15)
        state = OIL.at(celsius + 273.15)
        assert (state.density, state.viscosity) == pytest.approx((rho, mu), rel=5e-4)
