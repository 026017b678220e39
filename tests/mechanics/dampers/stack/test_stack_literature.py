"""Discs and stacks against plate theory, tables and an independent solid model.

Sources
1. Roark's Formulas for Stress and Strain, annular plate with inner edge fixed and outer edge free: case 1l (line load)
   and 2l (pressure from r0 to the rim), Table 24 of the 5th and 6th, Table 11.2 of the 7th to 9th edition (table
   numbers from memory). Constants as seen in public transcriptions, recomputed for this project; magnitudes agree with
   an integration of the plate's differential equation to 8e-11.
2. S. P. Timoshenko, S. Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed., Table 3 (from memory; entries
   recomputed; the printed 0.293 for a uniform load at a/b = 3 comes out 0.2890).
3. Large deflections: von Karman's equations of an annular plate solved as a boundary-value problem for this project
   (tolerance 1e-9), five digits; the first row set confirmed with solids in CalculiX 2.20 to 0.07 %.
4. Two discs, linear: Hermite plates of 0.05 mm with a non-negative least-squares contact solver, for this project.
5. Stacks as solids: CalculiX 2.20, see stack_decks.py, results in stack_solids.json.
6. Equal discs share one curvature, so that their bending stiffnesses add: plate theory, no source needed.
"""

from __future__ import annotations

import json
import math
import shutil

import numpy as np
import pytest
from scipy.integrate import solve_bvp
from stack_decks import CASES, RESULTS, SHORT, solve_solids
from stack_samples import MM, discs, stack

from tussock.mechanics.dampers.stack import Port, RingLoad, Stack, lift_curve, solve

pytestmark = pytest.mark.literature


def roark(a: float, b: float, r0: float, kind: str) -> tuple[float, float]:
    """(K_y, K_M) of source 1: y = K_y w a^3/D or K_y q a^4/D, root moment K_M w a or K_M q a^2."""
    nu, ratio, q = 0.3, b / a, r0 / a
    big, small = math.log(a / b), math.log(a / r0)
    c2 = 0.25 * (1 - ratio**2 * (1 + 2 * big))
    c3 = 0.25 * ratio * ((ratio**2 + 1) * big + ratio**2 - 1)
    c8 = 0.5 * (1 + nu + (1 - nu) * ratio**2)
    c9 = ratio * ((1 + nu) / 2 * big + (1 - nu) / 4 * (1 - ratio**2))
    l3 = 0.25 * q * ((q**2 + 1) * small + q**2 - 1)
    l9 = q * ((1 + nu) / 2 * small + (1 - nu) / 4 * (1 - q**2))
    l11 = (1 + 4 * q**2 - 5 * q**4 - 4 * q**2 * (2 + q**2) * small) / 64
    l17 = 0.25 * (1 - (1 - nu) / 4 * (1 - q**4) - q**2 * (1 + (1 + nu) * small))
    if kind == "line":
        moment, shear, last = -(q * c9 / ratio - l9) / c8, q / ratio, l3
    else:
        moment, shear, last = -(c9 * (1 - q**2) / (2 * ratio) - l17) / c8, (1 - q**2) / (2 * ratio), l11
    return abs(moment * c2 + shear * c3 - last), abs(moment)


# source 1 through springs tables: b/a, then K_y and K_M for a line load at the rim, pressure on the whole face, a line
# load in the middle and pressure on the middle half
TABLE = [
    (0.30, 0.138947, 1.38200, 0.031818, 0.41034, 0.033055, 0.53484, 0.0126792, 0.191624),
    (0.40, 0.088057, 1.05183, 0.017636, 0.27219, 0.021874, 0.41792, 0.0071373, 0.128033),
    (0.50, 0.050455, 0.78888, 0.008589, 0.17357, 0.013060, 0.32363, 0.0035266, 0.082371),
    (0.60, 0.025259, 0.57221, 0.003508, 0.10301, 0.006803, 0.24329, 0.0014602, 0.049369),
    (0.70, 0.010318, 0.39086, 0.001096, 0.05408, 0.002888, 0.17268, 0.0004621, 0.026186),
    (0.80, 0.002937, 0.23804, 0.000212, 0.02253, 0.000854, 0.10947, 0.0000906, 0.011027),
]
A, T = 15.0e-3, 0.2e-3
D = 206e9 * T**3 / (12 * (1 - 0.3**2))


def single(b: float, loads: dict[str, object]) -> Stack:
    """One disc of radius 15 mm and 0.2 mm."""
    return Stack(discs=discs([15.0], 0.2), clamp_radius=b, **loads)  # type: ignore[arg-type]


@pytest.mark.parametrize("row", TABLE, ids=lambda row: f"b/a {row[0]}")
def test_single_disc_against_handbook_table(row: tuple[float, ...]) -> None:
    b = row[0] * A
    middle, quarter = 0.5 * (A + b), 0.25 * (A - b)
    cases = [
        (single(b, {"ring_loads": (RingLoad(radius=A, area=2 * math.pi * A),)}), A**3, A),
        (single(b, {"ports": (Port(inner=b, outer=A),)}), A**4, A**2),
        (single(b, {"ring_loads": (RingLoad(radius=middle, area=2 * math.pi * middle),)}), A**3, A),
        (single(b, {"ports": (Port(inner=b + quarter, outer=A - quarter),)}), A**4, A**2),
    ]
    for at, (one, lift_scale, moment_scale) in enumerate(cases):
        state = solve(one, 1.0, linear=True)
        k_y, k_m = row[1 + 2 * at], row[2 + 2 * at]
        # the table's last digit, and 1e-4 (the target is 0.2 %)
        digit = 0.5e-7 if at == 3 else 0.5e-6
        assert state.tips[0] * D / lift_scale == pytest.approx(k_y, rel=1e-4, abs=digit)
        assert state.stresses.root[0] * T**2 / 6 / moment_scale == pytest.approx(k_m, rel=5e-3, abs=0.5e-5)


@pytest.mark.parametrize("kind", ["line", "pressure"])
@pytest.mark.parametrize("ratio", [0.25, 0.45, 0.65])
def test_single_disc_against_closed_form(ratio: float, kind: str) -> None:
    b, r0 = ratio * A, (0.4 + 0.6 * ratio) * A
    if kind == "line":
        one = single(b, {"ring_loads": (RingLoad(radius=r0, area=2 * math.pi * r0),)})
        scales = A**3, A
    else:
        one, scales = single(b, {"ports": (Port(inner=r0, outer=A),)}), (A**4, A**2)
    k_y, k_m = roark(A, b, r0, kind)
    state = solve(one, 1.0, linear=True)
    assert state.tips[0] * D / scales[0] == pytest.approx(k_y, rel=1e-4)
    fine = solve(one, 1.0, linear=True, element=0.2e-3)
    assert fine.stresses.root[0] * T**2 / 6 / scales[1] == pytest.approx(k_m, rel=1e-3)


@pytest.mark.parametrize(
    ("ratio", "k1_uniform", "k_uniform", "k1_ring", "k_ring"),
    [
        (1.5, 0.01833, 0.4097, 0.02489, 0.4277),
        (2, 0.09379, 1.0414, 0.08769, 0.7533),
        (3, 0.28902, 2.1528, 0.20949, 1.2055),
    ],
)
def test_single_shim_factors(ratio: float, k1_uniform: float, k_uniform: float, k1_ring: float, k_ring: float) -> None:
    """Source 2: w = k1 q a^4/(E t^3), stress k q a^2/t^2; ring load P: k1 P a^2/(E t^3), k P/t^2."""
    b = A / ratio
    uniform = solve(single(b, {"ports": (Port(inner=b, outer=A),)}), 1.0, linear=True)
    assert uniform.lift * 206e9 * T**3 / A**4 == pytest.approx(k1_uniform, rel=3e-4)
    assert uniform.stresses.root[0] * T**2 / A**2 == pytest.approx(k_uniform, rel=2e-3)
    ring = solve(single(b, {"ring_loads": (RingLoad(radius=A, area=1.0),)}), 1.0, linear=True)
    assert ring.lift * 206e9 * T**3 / A**2 == pytest.approx(k1_ring, rel=3e-4)
    assert ring.stresses.root[0] * T**2 == pytest.approx(k_ring, rel=2e-3)


LARGE = [
    (15, 6, 0.2, ((0.02, 0.11136), (0.05, 0.23243), (0.10, 0.35847), (0.20, 0.50978), (0.40, 0.68964))),
    (12, 6, 0.2, ((0.10, 0.11277), (0.20, 0.20467), (0.40, 0.33469))),
    (16, 5, 0.3, ((0.05, 0.17625), (0.10, 0.30472), (0.20, 0.47311))),
]


@pytest.mark.parametrize(("a", "b", "t", "rows"), LARGE)
def test_large_deflection_of_one_disc(a: float, b: float, t: float, rows: tuple[tuple[float, float], ...]) -> None:
    """Source 3; 0.05 % (the target is 0.5 %) with 15 elements."""
    one = stack([a], t, clamp=b, port=(b, a))
    curve = lift_curve(one, [q * 1e6 for q, _ in rows], element=(a - b) * MM / 15, shear=False, faces=False)
    assert curve.lift / MM == pytest.approx([w for _, w in rows], rel=5e-4)


def test_shear_and_faces_hardly_move_a_thin_disc() -> None:
    """Sources 1 and 3 against the default model, with shear, held edge and faces: thin discs stay near the tables.

    The shortest disc of source 1 (0.8, fifteen thicknesses free) really yields 0.2 % more.
    """
    for a, b, t, rows in LARGE:
        curve = lift_curve(stack([a], t, clamp=b, port=(b, a)), [q * 1e6 for q, _ in rows])
        assert curve.lift / MM == pytest.approx([w for _, w in rows], rel=2e-3)
    for ratio, line, _, pressure, *_ in TABLE:
        b = ratio * A
        under_pressure = solve(single(b, {"ports": (Port(inner=b, outer=A),)}), 10.0).lift / 10.0
        under_line = solve(single(b, {"ring_loads": (RingLoad(radius=A, area=2 * math.pi * A),)}), 1.0).lift
        near = 5e-4 if ratio < 0.75 else 3e-3
        assert under_pressure * D / A**4 == pytest.approx(pressure, rel=near)
        assert under_line * D / A**3 == pytest.approx(line, rel=near)


def test_large_deflection_against_the_differential_equation() -> None:
    """von Karman's equations of the same disc by a collocation solver of a general library: profile and root stress.

    Unknowns w, b = w', k = b', u and n = r N_r. D (b'' + b'/r - b/r^2) = N_r b - Q with Q r the integral of q r from r
    to the rim; n' = N_t; u' = e_r - b^2/2.
    """
    a, c, t, q, young, nu = 15e-3, 6e-3, 0.2e-3, 0.2e6, 206e9, 0.3
    bend, plane = young * t**3 / 12 / (1 - nu**2), young * t / (1 - nu**2)
    scale = 1e-3  # u in micrometres and w in millimetres keep the unknowns near 1

    def field(r: np.ndarray, y: np.ndarray) -> np.ndarray:
        _, b, k, u, n = y
        u = u * 1e-6
        radial = n / r
        du = radial / plane - nu * u / r - 0.5 * b**2
        hoop = plane * (u / r + nu * (du + 0.5 * b**2))
        shear = q * (a**2 - r**2) / 2 / r
        return np.array([b / scale, k, -k / r + b / r**2 + (radial * b - shear) / bend, du / 1e-6, hoop])

    def ends(left: np.ndarray, right: np.ndarray) -> np.ndarray:
        return np.array([left[0], left[1], left[3], right[4], right[2] + nu * right[1] / a])

    grid = np.linspace(c, a, 60)
    guess = np.zeros((5, 60))
    guess[1] = 0.06 * (grid - c) / (a - c)
    guess[0] = 0.06 * (grid - c) ** 2 / (2 * (a - c)) / scale
    exact = solve_bvp(field, ends, grid, guess, tol=1e-7)
    assert exact.success
    state = solve(stack([15.0], 0.2, clamp=6.0, port=(6.0, 15.0)), q, element=0.3e-3, shear=False, faces=False)
    radius, w, b = state.profile(1)
    assert w / scale == pytest.approx(exact.sol(radius)[0], rel=1e-4, abs=1e-5)
    assert b == pytest.approx(exact.sol(radius)[1], rel=1e-3, abs=1e-5)
    root = exact.sol(c)[4] / c / t + 6 * bend * exact.sol(c)[2] / t**2
    assert state.stresses.root[0] == pytest.approx(root, rel=2e-3)


def test_two_discs_linear() -> None:
    """Source 4: rims, the ring force at the small disc's rim, half of the load in the interface."""
    two = stack([14.0, 11.0])
    state = solve(two, 0.05e6, linear=True, element=0.4e-3)
    assert state.tips / MM == pytest.approx([0.065890, 0.041118], abs=1e-6)
    assert state.contacts.total(lower=1, upper=2) == pytest.approx(6.283, abs=1e-3)
    fine = solve(two, 0.05e6, linear=True, element=0.1e-3)
    assert fine.contacts.force[-1] == pytest.approx(2.35, abs=0.005)


SOLIDS = json.loads(RESULTS.read_text())["states"]
# the short case is what the test marked ccx solves anew, on a mesh too coarse for a check of plates
STATES = [(name, i) for name in SOLIDS if name != "short" for i in range(len(SOLIDS[name]))]
IDS = [f"{name}, {SOLIDS[name][i]['pressure']:g} MPa" for name, i in STATES]


@pytest.mark.parametrize(("name", "at"), STATES, ids=IDS)
def test_stacks_against_solids(name: str, at: int) -> None:
    """Source 5: lift and every rim within 0.5 %, the washer carries the same, the solids' clamps carry the load."""
    case, solid = CASES[name], SOLIDS[name][at]
    state = solve(case.stack(), solid["pressure"] * 1e6)
    assert state.tips / MM == pytest.approx(np.array(solid["tips"]), rel=5e-3)
    load = solid["pressure"] * math.pi * (case.port[1] ** 2 - case.port[0] ** 2)
    # pressure that follows the surface loses 0.2 % of its force at these slopes
    held = -sum(solid["clamp"]) - solid["seat"] - solid["washer"]
    assert load == pytest.approx(held, rel=3e-3, abs=0.01)
    if case.washer:
        assert state.washer_force == pytest.approx(-solid["washer"], rel=5e-3, abs=0.01)


MISSED = {
    ("ring", 0): "small ring 3.5 % high: it bends under the difference of 46 N and 44 N on its faces; with elements of "
    "0.05 mm 1.6 %",
    ("tapered", 1): "upper face of the first of twelve discs 2.2 % low, at slopes past 0.06; cause not found",
}


# a disc that rests on its neighbour's clamp edge has hardly any stress at its own clamp: not compared
@pytest.mark.parametrize(
    ("name", "at"),
    [
        pytest.param(
            name,
            i,
            id=text,
            marks=[pytest.mark.xfail(strict=True, reason=MISSED[name, i])] if (name, i) in MISSED else [],
        )
        for (name, i), text in zip(STATES, IDS, strict=True)
        if name != "clamps"
    ],
)
def test_stress_near_the_clamps_against_solids(name: str, at: int) -> None:
    """Source 5: radial stress on both faces of every disc, one thickness from the clamp, within 2 %."""
    solid = SOLIDS[name][at]
    state = solve(CASES[name].stack(), solid["pressure"] * 1e6)
    for number, (radius, lower, upper) in enumerate(solid["root"], 1):
        r, below, above = state.radial_stress(number)
        assert np.interp(radius, r * 1e3, below) / 1e6 == pytest.approx(lower, rel=0.02)
        assert np.interp(radius, r * 1e3, above) / 1e6 == pytest.approx(upper, rel=0.02)


@pytest.mark.ccx
@pytest.mark.skipif(shutil.which("ccx") is None, reason="CalculiX (Debian package calculix-ccx) is not installed")
def test_stored_solids_are_what_the_solver_says() -> None:
    found = solve_solids(SHORT)[0]
    stored = SOLIDS["short"][0]
    assert found["tips"] == pytest.approx(stored["tips"], rel=1e-4)
    assert found["clamp"] == pytest.approx(stored["clamp"], rel=1e-3)


@pytest.mark.parametrize("count", [2, 5, 12])
def test_equal_discs_add_their_stiffness(count: int) -> None:
    """Source 6: n equal discs are n times as stiff as one, at the middle planes and small deflections.

    Forces between nodes are gathered at the nodes, which costs the cube of the element's length: 2e-4 at 0.5 mm.
    """
    one = solve(stack([14.0]), 1e4, linear=True).lift
    assert solve(stack([14.0] * count), 1e4, linear=True).lift * count == pytest.approx(one, rel=2e-4)
    fine = solve(stack([14.0] * count), 1e4, linear=True, element=0.125e-3).lift
    assert fine * count == pytest.approx(one, rel=5e-6)


def test_unequal_thicknesses_of_one_diameter() -> None:
    """Source 6: as one disc of (sum t^3)^(1/3); each interface carries the share of the stiffness above it."""
    thick = np.array([0.1, 0.3, 0.15, 0.2, 0.25])
    same = solve(stack([14.0], float(np.cbrt((thick**3).sum()))), 1e4, linear=True).lift
    off = [
        solve(stack([14.0] * 5, thick.tolist()), 1e4, linear=True, element=h * MM).lift / same - 1.0
        for h in (0.5, 0.25, 0.125)
    ]
    assert off[2] == pytest.approx(0.0, abs=2e-5)
    # third order: an eighth with each halving
    assert off[0] / off[1] == pytest.approx(8.0, rel=0.1)
    assert off[1] / off[2] == pytest.approx(8.0, rel=0.1)
    state = solve(stack([14.0] * 5, thick.tolist()), 1e4, linear=True)
    load = 1e4 * math.pi * (12e-3**2 - 8e-3**2)
    above = np.cumsum((thick**3)[::-1])[::-1] / (thick**3).sum()
    carried = [state.contacts.total(lower=k) / load for k in range(1, 5)]
    assert carried == pytest.approx(above[1:], rel=2e-3)
