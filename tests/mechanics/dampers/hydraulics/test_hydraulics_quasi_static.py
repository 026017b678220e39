"""The steady network: closed forms, identities, an independent root finder, limits, refusals."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq, fsolve
from tarn_dampers import OIL, check_valve, disc_valve, mono, piston, random_build, remote, twin

from tussock.errors import DomainError
from tussock.mechanics.dampers.hydraulics import (
    ATMOSPHERE,
    BandGap,
    Damper,
    DiscValve,
    MonoTube,
    Oil,
    OilState,
    Orifice,
    ValveSet,
    solve,
    velocity_grid,
)

ALL = [twin, mono, remote]
SPEEDS = np.array([-3.0, -1.0, -0.52, -0.26, -0.05, -0.003, 0.0, 0.003, 0.05, 0.26, 0.52, 1.0, 3.0])


@pytest.mark.literature
def test_closed_form_of_a_bare_bleed() -> None:
    """F = rho/2 A_a^3 v^2/(C_d A_b)^2 (recomputed sample): bore 36, rod 12.4 mm, bleed 4 mm2, C_d 0.7, rho 850."""
    bare = MonoTube(
        bore=0.036, rod=0.0124, stroke=0.1, length=0.3, upper_length=0.08, oil_volume=220e-6, gas_pressure=2.5e6,
        oil=Oil(viscosities=((313.15, 14e-6), (373.15, 3.6e-6)), density=850.0, expansion=0.0),
        piston=ValveSet(bleed=(Orifice(area=4e-6, discharge=0.7),)),
    )  # fmt: skip
    assert bare.annulus_area * 1e6 == pytest.approx(897.11, abs=5e-3)
    speeds = np.array([0.02, 0.05, 0.10, 0.15, 0.20])
    printed = np.array([15.66, 97.85, 391.39, 880.64, 1565.58])
    both = solve(bare, velocities=np.concatenate([-speeds[::-1], speeds])).hydraulic_force
    np.testing.assert_allclose(both[5:], printed, atol=5.1e-3)
    np.testing.assert_allclose(-both[4::-1], printed, atol=5.1e-3)


@pytest.mark.literature
@pytest.mark.parametrize("build", ALL)
def test_force_balance_of_the_rod(build: type[Damper]) -> None:
    """Lang 1977, Dixon 2007, Talbott and Starkey 2002 (from memory): F = p_c A_p - p_r A_a - p_atm A_r + F_f sign v,
    and its expanded forms: the foot acts on the rod's area, the piston's drop on the annulus."""
    d = build()
    r = solve(d, velocities=SPEEDS, position=0.03)
    v, a_p, a_a, a_r = r.velocity, d.piston_area, d.annulus_area, d.rod_area
    force = r.compression_pressure * a_p - r.rebound_pressure * a_a - ATMOSPHERE * a_r + d.friction * np.sign(v)
    np.testing.assert_allclose(r.force, force, rtol=1e-9, atol=1e-6)
    foot = r.compression_pressure - r.gas_pressure
    drop = r.compression_pressure - r.rebound_pressure
    expanded = (r.gas_pressure - ATMOSPHERE) * a_r + foot * a_r + drop * a_a + d.friction * np.sign(v)
    np.testing.assert_allclose(r.force, expanded, rtol=1e-9, atol=1e-6)
    if d.base is None:
        np.testing.assert_array_equal(foot, np.zeros_like(foot))


@pytest.mark.parametrize("build", ALL)
def test_flows_meet_what_piston_and_rod_sweep(build: type[Damper]) -> None:
    d = build()
    r = solve(d, velocities=SPEEDS)
    free = ~r.cavitates
    through = sum(q for name, q in r.flows.items() if name.startswith("piston"))
    np.testing.assert_allclose(through[free], d.annulus_area * np.abs(SPEEDS[free]), rtol=1e-9, atol=1e-18)
    if d.base is not None:
        base = sum(q for name, q in r.flows.items() if name.startswith("base"))
        np.testing.assert_allclose(base[free], d.rod_area * np.abs(SPEEDS[free]), rtol=1e-9, atol=1e-18)
        # with a cavity above the piston both together still carry the whole swept volume
        held = r.cavitates & (SPEEDS > 0.0)
        np.testing.assert_allclose((through + base)[held], d.piston_area * SPEEDS[held], rtol=1e-8)


@pytest.mark.parametrize("build", ALL)
def test_parts_add_up_and_heat_is_work(build: type[Damper]) -> None:
    d = build()
    r = solve(d, velocities=SPEEDS)
    np.testing.assert_allclose(sum(r.parts.values()), r.hydraulic_force, rtol=1e-8, atol=1e-8)
    free = ~r.cavitates
    heat = sum(r.power.values()) + d.friction * np.abs(SPEEDS)
    np.testing.assert_allclose(heat[free], ((r.force - r.gas_force) * SPEEDS)[free], rtol=1e-8, atol=1e-12)
    np.testing.assert_array_equal(r.parts["cavity"][free], 0.0)
    assert r.governing[6] == "rest"


def _branch(flow: float, hole: Orifice, oil: OilState) -> float:
    """Drop of a short tube from eqs 2.40 and 2.41, written anew; away from their join."""
    if hole.length == 0.0:
        return 0.5 * oil.density * (flow / (hole.discharge * hole.area)) ** 2
    s = oil.density * flow / hole.area * hole.diameter**2 / (oil.viscosity * hole.length)
    loss = 2.28 + 64.0 / s if s < 50.0 else 1.5 + 13.74 / math.sqrt(s)
    return 0.5 * oil.density * (flow / hole.area) ** 2 * loss


@pytest.mark.parametrize("speed", [0.002, 0.52, 1.0, 3.0])
def test_network_against_a_general_root_finder(speed: float) -> None:
    """All flows, drops and the lift as unknowns of one system, solved by SciPy's fsolve from a rough start."""
    valve = disc_valve(opening=0.3e6, firmness=1e6, jet=0.3)
    bleed = Orifice(area=1.2e-6, length=0.0)
    band = BandGap(diameter=0.046, gap=0.03e-3, length=0.010, eccentricity=0.5)
    d = mono(piston=ValveSet(compression=valve, rebound=valve, bleed=(bleed,), band=band))
    r = solve(d, velocities=np.array([-speed, 0.0]))
    oil = d.oil.at(293.15)
    drag = math.pi * 0.046 * 0.03e-3 * speed / 2.0
    opened = r.lifts["piston"][0] > 0.0
    area = math.pi * valve.seat_diameter * float(r.lifts["piston"][0])
    found = float(r.rebound_pressure[0] - r.compression_pressure[0])

    def residual(x: np.ndarray) -> list[float]:
        q_valve, q_bleed, p, p_curtain, lift = x * np.array([1e-4, 1e-5, 1e6, 1e6, 1e-4])
        q_band = math.pi * 0.046 * (0.03e-3) ** 3 * (1.0 + 1.5 * 0.25) * p / (12.0 * oil.viscosity * 0.010)
        jet = 0.3 * oil.density * q_valve**2 / valve.port.area / (math.pi * valve.seat_diameter**2 / 4.0)
        curtain = 0.7 * math.pi * valve.seat_diameter * lift
        return [
            (q_valve + q_bleed + q_band + drag - d.annulus_area * speed) / 1e-4,
            (0.5 * oil.density * (q_bleed / (0.7 * bleed.area)) ** 2 - p) / 1e6,
            (_branch(abs(q_valve) + 1e-30, valve.port, oil) + p_curtain - p) / 1e6,
            (q_valve - curtain * math.sqrt(2.0 * abs(p_curtain) / oil.density)) / 1e-4,
            (lift - float(np.interp(p_curtain + jet, GRID, valve.lift_at(GRID)))) / 1e-4,
        ]

    start = np.array([
        d.annulus_area * speed / 1e-4 if opened else 0.0, 1.0, found * 1.3 / 1e6, found * 1.1 / 1e6, area / 0.07 * 1.2
    ])  # fmt: skip
    solution, _, ok, message = fsolve(residual, start, full_output=True, xtol=1e-13)
    assert ok == 1, message
    assert np.max(np.abs(residual(solution))) < 1e-9
    assert found == pytest.approx(solution[2] * 1e6, rel=1e-4)


GRID = np.linspace(0.0, 5e6, 50_001)


def test_choked_twin_tube_against_brentq() -> None:
    """A foot too weak for its piston: the cavity's equation solved anew by brentq on the closed form of orifices."""
    hole, foot = Orifice(area=3e-6), Orifice(area=9e-6)
    d = twin(piston=ValveSet(bleed=(hole,)), foot=ValveSet(bleed=(foot,)), gas_pressure=0.2e6)
    r = solve(d, velocities=np.array([0.0, 0.3, 0.6]))
    assert list(r.cavitates) == [False, True, True]
    rho = d.oil.at(293.15).density
    for i in (1, 2):
        v = r.velocity[i]

        def lack(p: float, v: float = v) -> float:
            piston_flow = 0.7 * hole.area * math.sqrt(2.0 * p / rho)
            return piston_flow + 0.7 * foot.area * math.sqrt(2.0 * (p - 0.2e6) / rho) - d.piston_area * v

        p = brentq(lack, 0.2e6, 1e9, xtol=1e-6)
        assert r.compression_pressure[i] == pytest.approx(p, rel=1e-7)
        assert r.rebound_pressure[i] == 0.0


@pytest.mark.literature
def test_cavitation_balance() -> None:
    """Algebra of the chambers (Lee 1997, abstract; Lang 1977, Dixon 2007 ch. 7, from memory): a mono-tube's hydraulic
    compression force ends at (p_gas - p_lim) A_a; a twin-tube's margin is p_gas + foot - piston,
    in rebound p_gas - intake."""
    d = mono(gas_pressure=0.6e6, cavitation_pressure=0.05e6)
    r = solve(d, velocities=np.array([0.0, 0.05, 3.0, 8.0]))
    top = (r.gas_pressure - 0.05e6) * d.annulus_area
    assert np.all(r.hydraulic_force <= top * (1.0 + 1e-12))
    np.testing.assert_allclose(r.hydraulic_force[2:], top, rtol=1e-12)
    assert "compression" in r.warnings[0]
    t = twin()
    s = solve(t, velocities=np.array([-1.0, 0.0, 1.0]))
    oil = t.oil.at(293.15)
    foot = t.foot.solve(np.array([t.rod_area]), oil, sense="compression").drop[0]
    intake = t.foot.solve(np.array([t.rod_area]), oil, sense="rebound").drop[0]
    drag = t.piston.band.drag_flow(1.0)  # type: ignore[union-attr]
    valve = t.piston.solve(np.array([t.annulus_area]), oil, sense="compression", dragged=drag).drop[0]
    assert s.margin[2] == pytest.approx(s.gas_pressure + foot - valve, rel=1e-9)
    assert s.margin[0] == pytest.approx(s.gas_pressure - intake, rel=1e-9)


def test_a_firmer_foot_moves_cavitation_away() -> None:
    weak = twin(foot=ValveSet(compression=check_valve(), rebound=check_valve()), piston=_firm_compression())
    firm = twin(piston=_firm_compression(), foot=ValveSet(
        compression=disc_valve(opening=2.5e6, firmness=4e6, port=40e-6), rebound=check_valve()
    ))  # fmt: skip
    speeds = velocity_grid(most=1.0, points=41)
    assert solve(weak, velocities=speeds).cavitation_onset[1] < 0.6
    assert solve(firm, velocities=speeds).cavitation_onset[1] == math.inf


def _firm_compression() -> ValveSet:
    one = disc_valve(opening=0.5e6, firmness=1.5e6)
    return ValveSet(compression=one, rebound=one, bleed=(Orifice(area=1e-6),))


@pytest.mark.parametrize("build", ALL)
def test_without_drop_the_gas_alone_is_left(build: type[Damper]) -> None:
    """Vast holes: hydraulic force goes to nothing, what is left is (p_gas - p_atm) A_rod."""
    vast = ValveSet(bleed=(Orifice(area=0.5),))
    changes = {"piston": vast, "friction": 0.0}
    d = build(**changes)  # type: ignore[call-arg]
    if d.base is None:
        r = solve(d, velocities=np.array([-0.5, 0.0, 0.5]))
        np.testing.assert_allclose(r.force, d.gas_force(), rtol=1e-6)
    else:
        r = solve(d, velocities=np.array([-1e-6, 0.0, 1e-6]))
        np.testing.assert_allclose(r.force, d.gas_force(), rtol=1e-3)


@pytest.mark.literature
def test_gas_spring() -> None:
    """Ideal gas: p V^n constant with position, rate n p A_r^2/V in mid-stroke, p with T at fixed volume (textbook)."""
    d = mono(oil=replace(OIL, expansion=0.0))
    x = 0.04
    ratio = d.gas_volume / (d.gas_volume - d.rod_area * x)
    assert d.gas_pressure_at(x) == pytest.approx(2.5e6 * ratio**1.4, rel=1e-12)
    h = 1e-6
    assert (d.gas_force(h) - d.gas_force(-h)) / (2 * h) == pytest.approx(d.gas_rate, rel=1e-7)
    assert d.gas_pressure_at(0.0, temperature=353.15) == pytest.approx(2.5e6 * 353.15 / 293.15, rel=1e-12)
    assert mono().gas_pressure_at(0.0, temperature=353.15) > d.gas_pressure_at(0.0, temperature=353.15)


@pytest.mark.parametrize("build", ALL)
@pytest.mark.parametrize("celsius", [-30.0, 20.0, 120.0])
def test_robust_to_10_metres_a_second(build: type[Damper], celsius: float) -> None:
    r = solve(build(), velocities=np.linspace(-10.0, 10.0, 41), temperature=celsius + 273.15)
    for values in (r.force, r.margin, r.compression_pressure, r.rebound_pressure, *r.parts.values()):
        assert np.all(np.isfinite(values))
    assert np.all(np.diff(r.hydraulic_force) >= -1e-6 * np.max(np.abs(r.hydraulic_force)))


def test_random_builds_of_every_kind() -> None:
    """A sample of the 2,000 in bench/hydraulics.py: no failure, no missing value, work is never given back."""
    rng = np.random.default_rng(7)
    for _ in range(60):
        d = random_build(rng)
        r = solve(d, velocities=np.linspace(-10.0, 10.0, 21), temperature=float(rng.uniform(253.15, 413.15)))
        for values in (r.force, r.margin, *r.parts.values(), *r.flows.values()):
            assert np.all(np.isfinite(values))
        assert np.all(r.heat >= 0.0)
        assert np.all(r.margin >= 0.0)


@pytest.mark.literature
def test_twin_tube_of_orifices_in_closed_form() -> None:
    """Piston on A_a, foot on A_r (Lang, Dixon, from memory; algebra): each rho/2 (A v/(C_d A_hole))^2 times A."""
    hole, foot = Orifice(area=9e-6, discharge=0.65), Orifice(area=2.5e-6, discharge=0.6)
    d = twin(piston=ValveSet(bleed=(hole,)), foot=ValveSet(bleed=(foot,)), gas_pressure=4e6)
    v = np.array([-0.3, -0.1, 0.0, 0.1, 0.3])
    r = solve(d, velocities=v)
    half = 0.5 * d.oil.at(293.15).density
    own = half * d.annulus_area**3 * (v / (0.65 * 9e-6)) ** 2 + half * d.rod_area**3 * (v / (0.6 * 2.5e-6)) ** 2
    np.testing.assert_allclose(r.hydraulic_force, np.sign(v) * own, rtol=1e-9)
    np.testing.assert_allclose(r.force, np.sign(v) * (own + d.friction) + (4e6 - ATMOSPHERE) * d.rod_area, rtol=1e-9)


builds = st.fixed_dictionaries({
    "opening": st.floats(0.0, 5e6), "firmness": st.floats(1e4, 2e7), "port": st.floats(5e-6, 3e-4),
    "jet": st.floats(0.0, 0.35), "bleed": st.floats(1e-8, 2e-5), "gap": st.floats(1e-6, 1e-4),
    "length": st.sampled_from([0.0, 0.0005, 0.01]), "celsius": st.floats(-20.0, 130.0),
})  # fmt: skip


def _random(p: dict[str, float]) -> tuple[MonoTube, float]:
    port = min(p["port"], 0.9 * math.pi * 0.022**2 / 4.0)
    valve = disc_valve(opening=p["opening"], firmness=p["firmness"], port=port, jet=p["jet"])
    holes = (Orifice(area=p["bleed"], length=p["length"]),)
    band = BandGap(diameter=0.046, gap=p["gap"], length=0.01)
    return mono(
        piston=ValveSet(compression=valve, rebound=valve, bleed=holes, band=band), gas_pressure=1e12, friction=0.0
    ), p["celsius"] + 273.15


@given(p=builds)
@settings(max_examples=40, deadline=None)
def test_any_valid_build_is_odd_and_rises(p: dict[str, float]) -> None:
    """Equal valves: rebound mirrors compression (a gas pressure beyond reason keeps cavitation out); the force rises
    with speed, flow is met, no value is missing."""
    d, kelvin = _random(p)
    speeds = np.concatenate([np.geomspace(1e-4, 10.0, 16)])
    r = solve(d, velocities=np.concatenate([-speeds[::-1], [0.0], speeds]), temperature=kelvin)
    f = r.hydraulic_force
    np.testing.assert_allclose(f[17:], -f[15::-1], rtol=2e-6, atol=1e-3)
    assert np.all(np.diff(r.rebound_pressure - r.compression_pressure) < 0.0)


@given(p=builds, factor=st.floats(1.1, 4.0))
@settings(max_examples=25, deadline=None)
def test_more_bleed_less_force(p: dict[str, float], factor: float) -> None:
    d, kelvin = _random(p)
    wider = replace(d.piston, bleed=(replace(d.piston.bleed[0], area=factor * p["bleed"]),))
    oil = d.oil.at(kelvin)
    q = np.geomspace(1e-7, 1e-2, 8)
    drops = [one.solve(q, oil, sense="rebound").drop for one in (d.piston, wider)]
    assert np.all(drops[1] <= drops[0] * (1.0 + 1e-9))


@given(scale=st.floats(0.5, 2.0))
@example(scale=0.890625)  # a flow beside the join of the two branches came back 2e-6 off
@settings(max_examples=10, deadline=None)
def test_dynamic_similarity(scale: float) -> None:
    """Same Reynolds number: area by s^2, length by s, flow by s at equal oil gives the drop over s^2."""
    oil = OIL.at(313.15)
    small = Orifice.round(diameter=0.002, length=0.004)
    large = Orifice.round(diameter=0.002 * scale, length=0.004 * scale)
    q = np.geomspace(1e-7, 1e-3, 7)
    np.testing.assert_allclose(large.drop(q * scale, oil), small.drop(q, oil) / scale**2, rtol=1e-9)
    np.testing.assert_allclose(large.flow(large.drop(q, oil), oil), q, rtol=1e-7)


def test_warm_oil_lowers_the_force_where_it_is_viscous() -> None:
    cold, warm = (solve(mono(), velocities=np.array([-0.05, 0.0, 0.05]), temperature=t) for t in (273.15, 353.15))
    assert abs(warm.hydraulic_force[0]) < abs(cold.hydraulic_force[0])
    assert warm.gas_force > cold.gas_force


def test_notch_bleeds_past_closed_discs() -> None:
    notch = replace(disc_valve(opening=1e6, firmness=1e6), notch=Orifice(area=1e-6, length=0.001))
    d = mono(piston=ValveSet(compression=notch, rebound=notch))
    r = solve(d, velocities=np.array([-0.5, -0.005, 0.0, 0.005, 0.5]))
    assert r.lifts["piston"][1] == 0.0
    assert r.governing[1] == "piston notch"
    assert r.lifts["piston"][0] > 0.0
    assert r.flows["piston notch"][0] > r.flows["piston notch"][1]


def test_force_curve_drops_cavitating_points() -> None:
    d = mono(gas_pressure=0.6e6)
    r = solve(d)
    curve = r.force_curve()
    assert curve.velocity[-1] < r.cavitation_onset[1]
    assert curve.gas_force == pytest.approx(d.gas_force())
    assert curve.friction == d.friction
    assert solve(mono()).warnings == ()


def test_lift_table_that_ends_too_soon_is_reported() -> None:
    valve = replace(
        disc_valve(opening=0.1e6, firmness=1e6), pressure=np.array([0.1e6, 0.2e6]), lift=np.array([0.0, 5e-5])
    )
    said = solve(mono(piston=ValveSet(compression=valve, rebound=valve))).warnings
    assert any("lift table ends" in line for line in said)
    stopped = replace(valve, stopped=True)
    said = solve(mono(piston=ValveSet(compression=stopped, rebound=stopped))).warnings
    assert not any("lift table ends" in line for line in said)


@pytest.mark.parametrize(
    ("build", "changes", "words"),
    [
        (twin, {"rod": 0.036}, "wider than the piston"),
        (mono, {"oil_volume": 0.0}, "no oil"),
        (mono, {"gas_pressure": -1e5}, "gas pressure"),
        (mono, {"oil_volume": 900e-6}, "do not fit"),
        (mono, {"oil_volume": 540e-6}, "gas has only"),
        (mono, {"oil_volume": 300e-6}, "floating piston"),
        (twin, {"oil_volume": 250e-6}, "draws gas"),
        (twin, {"tube_bore": 0.037}, "no room"),
        (twin, {"stroke": 0.5}, "need more than"),
        (mono, {"upper_length": 0.05}, "both sides"),
        (mono, {"friction": -1.0}, "friction"),
        (mono, {"cavitation_pressure": 3e6}, "cavitation"),
        (remote, {"oil_volume": 570e-6}, "head of the reservoir"),
        (twin, {"gas_exponent": 3.0}, "exponent"),
    ],
)
def test_impossible_builds(build: type[Damper], changes: dict[str, float], words: str) -> None:
    valid = build()
    with pytest.raises(DomainError, match=words):
        replace(valid, **changes)


def test_impossible_valves() -> None:
    with pytest.raises(DomainError, match="no path for oil in rebound"):
        ValveSet(compression=check_valve())
    with pytest.raises(DomainError, match="snaps the discs open"):
        disc_valve(opening=1e5, firmness=1e2, port=300e-6, jet=3.0)
    with pytest.raises(DomainError, match="must rise"):
        DiscValve(
            port=Orifice(area=1e-5), seat_diameter=0.02, pressure=np.array([1.0, 1.0]), lift=np.array([0.0, 1e-4])
        )
    with pytest.raises(DomainError, match="must not fall"):
        DiscValve(
            port=Orifice(area=1e-5), seat_diameter=0.02, pressure=np.array([0.0, 1.0]), lift=np.array([1e-4, 0.0])
        )
    with pytest.raises(DomainError, match="area of"):
        Orifice(area=0.0)
    with pytest.raises(DomainError, match="10 m/s"):
        solve(mono(), velocities=np.array([0.0, 11.0]))
    with pytest.raises(DomainError, match="outside the stroke"):
        solve(mono(), position=0.2)
    assert piston().valve("rebound") is not None
