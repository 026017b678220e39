"""What any right solution has: complementarity, uniqueness, the cone, similarity, seats and washers, robustness."""

from __future__ import annotations

import importlib.util
import math
import os
import subprocess
import sys
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from stack_samples import CROSS_OVER, EQUAL, MM, STEEL, TAPERED, discs, stack

from tussock.mechanics.dampers.stack import (
    Disc,
    Material,
    Port,
    RingLoad,
    Seat,
    Stack,
    StackState,
    Washer,
    lift_curve,
    opening_pressure,
    screen,
    solve,
)

ROOT = Path(__file__).parents[4]
SEATED = stack(
    [14, 14, 12.5, 11, 9], [0.2, 0.2, 0.15, 0.2, 0.3], port=(8.0, 12.5), seats=(Seat(radius=13 * MM, height=0.08 * MM),)
)
LIMITED = stack(
    [15, 15, 9, 14, 12],
    [0.2, 0.2, 0.1, 0.2, 0.2],
    gaps=(0.0, 0.1 * MM, 0.0, 0.05 * MM),
    washer=Washer(radius=11 * MM, height=0.15 * MM),
    seats=(Seat(radius=13 * MM),),
)
ALL = {"tapered": TAPERED, "equal": EQUAL, "cross-over": CROSS_OVER, "seated": SEATED, "limited": LIMITED}


def load_of(state: StackState) -> float:
    """Force of the ports [N]."""
    return state.pressure * math.pi * sum(port.outer**2 - port.inner**2 for port in state.stack.ports)


@pytest.mark.parametrize("linear", [False, True])
@pytest.mark.parametrize("name", list(ALL))
def test_parts_touch_or_stand_apart(name: str, linear: bool) -> None:
    for state in lift_curve(ALL[name], [0.1e6, 0.5e6, 2e6], linear=linear).states:
        contacts = state.contacts
        assert contacts.gap.min() > -1e-10
        assert contacts.force.min() >= 0.0
        both = np.minimum(contacts.force / load_of(state), contacts.gap / 1e-3)
        assert both.max() < 1e-6
        assert contacts.force.max() > 0.0


@pytest.mark.parametrize("pressure", [0.2e6, 1e6])
def test_last_disc_alone_bends_the_same_under_its_contact_forces(pressure: float) -> None:
    """Action is reaction: the contact forces put on the last disc as ring loads give its deflection and root stress."""
    state = solve(TAPERED, pressure, faces=False)
    last = len(TAPERED.discs)
    contacts = state.contacts
    chosen = (contacts.upper == last) & (contacts.force > 0.0)
    rings = tuple(
        RingLoad(radius=float(r), area=float(f))
        for r, f in zip(contacts.radius[chosen], contacts.force[chosen], strict=True)
    )
    alone = solve(
        Stack(discs=TAPERED.discs[-1:], clamp_radius=5 * MM, ring_loads=rings), 1.0, element=0.25e-3, faces=False
    )
    assert alone.tips[0] == pytest.approx(state.tips[-1], rel=1e-4)
    assert alone.stresses.root[0] == pytest.approx(state.stresses.root[-1], rel=0.01)


def test_linear_contact_is_a_cone() -> None:
    """Without gaps and seats, lift is proportional to pressure, contact or not; with either it is not."""
    curve = lift_curve(TAPERED, [1e3, 1e4, 1e5, 1e6], linear=True)
    compliance = curve.lift / curve.pressure
    assert compliance == pytest.approx(compliance[0], rel=1e-8)
    # the ring of the cross-over stack leaves a gap past it
    for other in (SEATED, LIMITED, CROSS_OVER):
        curve = lift_curve(other, [3e5, 3e6], linear=True)
        assert curve.lift[1] / curve.lift[0] != pytest.approx(10.0, rel=0.02)


@pytest.mark.parametrize("name", list(ALL))
def test_the_way_to_a_pressure_does_not_matter(name: str) -> None:
    rising = lift_curve(ALL[name], np.linspace(0.0, 2e6, 21)).states[-1]
    falling = lift_curve(ALL[name], [6e6, 4e6, 2e6]).states[-1]
    at_once = solve(ALL[name], 2e6)
    for state in (rising, falling):
        assert state.tips == pytest.approx(at_once.tips, rel=1e-6, abs=1e-12)
        assert state.lift == pytest.approx(at_once.lift, rel=1e-6, abs=1e-12)


def test_small_pressure_is_the_linear_limit() -> None:
    for one in (TAPERED, CROSS_OVER):
        thin = solve(one, 10.0, linear=True).lift
        assert solve(one, 10.0, shear=False, faces=False).lift == pytest.approx(thin, rel=1e-6)
        # shear and the held edge matter to plates as short as a few thicknesses only
        assert solve(one, 10.0).lift == pytest.approx(thin, rel=5e-3)
    assert solve(TAPERED, 4e6).lift < 0.7 * solve(TAPERED, 4e6, linear=True).lift


def penalty_twin(one: Stack, pressure: float, nodes: np.ndarray, stiffness: float) -> np.ndarray:
    """Rims [m] of linear plates with penalty contact: own elements, one dense matrix, Newton on the set."""
    poly = np.polynomial.Polynomial
    n, m = len(one.discs), nodes.size
    whole = np.zeros((2 * n * m, 2 * n * m))
    load = np.zeros(2 * n * m)
    x, weight = np.polynomial.legendre.leggauss(5)
    for e in range(m - 1):
        h = nodes[e + 1] - nodes[e]
        shapes = [poly([1, 0, -3, 2]), poly([0, 1, -2, 1]) * h, poly([0, 0, 3, -2]), poly([0, 0, -1, 1]) * h]
        at = (x + 1) / 2
        r = nodes[e] + h * at
        ring = 2 * np.pi * r * weight * h / 2
        second = np.array([s.deriv(2)(at) / h**2 for s in shapes])
        first = np.array([s.deriv(1)(at) / h for s in shapes]) / r
        nu = 0.3
        unit = (second * ring) @ second.T + (first * ring) @ first.T
        unit += nu * ((second * ring) @ first.T + (first * ring) @ second.T)
        for k, disc in enumerate(one.discs):
            if nodes[e + 1] <= disc.radius + 1e-9:
                part = slice(2 * (k * m + e), 2 * (k * m + e) + 4)
                whole[part, part] += unit * STEEL.youngs_modulus * disc.thickness**3 / 12 / (1 - nu**2)
        port = one.ports[0]
        if port.inner - 1e-9 <= nodes[e] and nodes[e + 1] <= port.outer + 1e-9:
            load[2 * e : 2 * e + 4] += pressure * np.array([s(at) for s in shapes]) @ ring
    live = [
        2 * (k * m + i) + d
        for k, disc in enumerate(one.discs)
        for i in range(1, m)
        for d in (0, 1)
        if nodes[i] <= disc.radius + 1e-9
    ]
    pairs = [
        (2 * (k * m + i), 2 * ((k + 1) * m + i), 2 * np.pi * nodes[i] * (nodes[min(i + 1, m - 1)] - nodes[i - 1]) / 2)
        for k, (a, b) in enumerate(pairwise(one.discs))
        for i in range(1, m)
        if nodes[i] <= min(a.radius, b.radius) + 1e-9
    ]
    touching = [True] * len(pairs)
    w = np.zeros_like(load)
    for _ in range(60):
        matrix = whole.copy()
        for (i, j, area), on in zip(pairs, touching, strict=True):
            if on:
                matrix[[i, j], [i, j]] += stiffness * area
                matrix[[i, j], [j, i]] -= stiffness * area
        w[live] = np.linalg.solve(matrix[np.ix_(live, live)], load[live])
        now = [bool(w[i] - w[j] > 0.0) for i, j, _ in pairs]
        if now == touching:
            break
        touching = now
    else:
        pytest.fail("the penalty twin did not settle")
    return np.array([w[2 * (k * m + int(np.searchsorted(nodes, d.radius - 1e-9)))] for k, d in enumerate(one.discs)])


@pytest.mark.parametrize("radii", [(14, 13, 11, 9), (14, 9, 12, 12, 10)])
def test_penalty_twin(radii: tuple[float, ...]) -> None:
    """An independent discretisation with penalty contact of 1e7 MPa/mm: rims within 0.01 %."""
    one = stack(radii, 0.2, clamp=6.0, port=(8.0, 12.0))
    nodes = np.arange(6.0, 14.01, 0.25) * MM
    twin = penalty_twin(one, 1e5, nodes, 1e16)
    state = solve(one, 1e5, linear=True, element=0.25e-3)
    if radii[1] == 9:
        # the twin knows neighbours only: discs 1 and 3 must not have met past the ring
        assert state.contacts.total(lower=1, upper=3) == 0.0
    assert twin == pytest.approx(state.tips, rel=1e-4)


def test_discs_meet_past_a_ring() -> None:
    one = stack([14, 6.5, 14, 12], [0.2, 0.05, 0.2, 0.2])
    state = solve(one, 1e6)
    assert state.contacts.total(lower=1, upper=3) > 0.0
    assert solve(one, 2e3).contacts.total(lower=1, upper=3) == 0.0


@settings(max_examples=15, deadline=None)
@given(scale=st.floats(0.5, 2.0), stiffer=st.floats(0.3, 3.0), pressure=st.floats(1e4, 2e6))
def test_similar_stacks(scale: float, stiffer: float, pressure: float) -> None:
    """All lengths times s: lift times s at the same pressure. Modulus and pressure times k: the same lift."""
    radii, thick = (14.0, 12.0, 9.0), (0.2, 0.15, 0.3)
    base = solve(stack(radii, thick, seats=(Seat(radius=13 * MM, height=0.05 * MM),)), pressure)
    steel = Material(youngs_modulus=206e9 * stiffer, poisson_ratio=0.3, density=7850.0, fatigue_strength=800e6)
    other = Stack(
        discs=tuple(
            Disc(radius=r * MM * scale, thickness=t * MM * scale, material=steel)
            for r, t in zip(radii, thick, strict=True)
        ),
        clamp_radius=5 * MM * scale,
        ports=(Port(inner=8 * MM * scale, outer=12 * MM * scale),),
        seats=(Seat(radius=13 * MM * scale, height=0.05 * MM * scale),),
    )
    state = solve(other, pressure * stiffer, element=0.5e-3 * scale)
    assert state.lift == pytest.approx(base.lift * scale, rel=1e-6, abs=1e-11)
    assert state.stresses.equivalent == pytest.approx(base.stresses.equivalent * stiffer, rel=1e-5)


@settings(max_examples=15, deadline=None)
@given(order=st.permutations([0.1, 0.15, 0.2, 0.25, 0.3]))
def test_order_of_equal_diameters_does_not_matter(order: list[float]) -> None:
    """Linear, middle planes: what lies on what is the same to discs of one diameter (node forces: 0.1 % at 0.5 mm)."""
    plain = solve(stack([14.0] * 5, [0.3, 0.25, 0.2, 0.15, 0.1], clamp=6.0), 1e4, linear=True, element=0.25e-3).lift
    mixed = solve(stack([14.0] * 5, order, clamp=6.0), 1e4, linear=True, element=0.25e-3).lift
    assert mixed == pytest.approx(plain, rel=1e-3)


@settings(max_examples=20, deadline=None)
@given(
    radii=st.lists(st.floats(6.5, 15.0), min_size=1, max_size=8), factor=st.floats(1.05, 3.0), seed=st.integers(0, 999)
)
def test_lift_grows_with_pressure_and_falls_with_thickness(radii: list[float], factor: float, seed: int) -> None:
    rng = np.random.default_rng(seed)
    radii = [15.0, *sorted(radii, reverse=True)]
    thick = rng.choice([0.1, 0.15, 0.2, 0.3], len(radii))
    port = (12.0, 14.5)
    low, high = lift_curve(stack(radii, thick.tolist(), port=port), [2e5, 2e5 * factor]).lift
    assert 0.0 < low < high < low * factor
    stiff = solve(stack(radii, (thick * 1.2).tolist(), port=port), 2e5).lift
    assert stiff < low


def test_dished_seat_holds_then_lets_go() -> None:
    opening = opening_pressure(SEATED)
    assert opening > 0.0
    curve = lift_curve(SEATED, opening * np.array([0.0, 0.25, 0.5, 0.75, 0.999, 1.001, 1.1]))
    force = np.array([state.seat_force[0] for state in curve.states])
    # exactly: a search must not take rounding for an open seat
    assert np.all(curve.lift[:5] == 0.0)
    assert np.all(screen([SEATED], opening * np.array([0.25, 0.5, 0.9])) == 0.0)
    assert np.all(np.diff(force[:5]) < 0.0)
    # nearly linear fall to zero
    assert force[:4] == pytest.approx(force[0] * np.array([1.0, 0.75, 0.5, 0.25]), rel=0.05)
    assert force[4] < 0.002 * force[0]
    assert force[5:] == pytest.approx(0.0)
    assert 0.0 < curve.lift[5] < 1e-6 < curve.lift[6]


def test_opening_pressure_of_one_disc_by_superposition() -> None:
    """Linear: the seat lets go where the free disc would stand as high as the seat."""
    free = solve(stack([14.0], 0.25), 1.0, linear=True)
    radius, w, _ = free.profile(1)
    per_pascal = np.interp(13e-3, radius, w)
    seated = stack([14.0], 0.25, seats=(Seat(radius=13 * MM, height=0.05 * MM),))
    assert opening_pressure(seated, linear=True) == pytest.approx(0.05 * MM / per_pascal, rel=1e-5)
    assert opening_pressure(stack([14.0])) == 0.0
    assert opening_pressure(stack([14.0], seats=(Seat(radius=13 * MM),))) == 0.0


def test_two_seat_rings() -> None:
    """An inner and an outer seat ring about the port: the outer one opens later than without preload of the inner."""
    outer = Seat(radius=13 * MM, height=0.06 * MM)
    inner = Seat(radius=7.5 * MM, height=0.01 * MM)
    both = stack([14.0], 0.25, port=(8.0, 12.5), seats=(outer, inner))
    one = stack([14.0], 0.25, port=(8.0, 12.5), seats=(outer,))
    rest = solve(both, 0.0)
    assert rest.seat_force.shape == (2,)
    assert rest.seat_force[1] > 0.0
    assert rest.lift == 0.0
    assert 0.0 < opening_pressure(both) <= opening_pressure(one) * (1 + 1e-6)


def test_washer_limits_the_lift() -> None:
    height = 0.15 * MM
    one = stack([14, 13, 12], washer=Washer(radius=11 * MM, height=height))
    free, stopped = solve(stack([14, 13, 12]), 2e6), solve(one, 2e6, faces=False)
    radius, w, _ = stopped.profile(3)
    at = np.searchsorted(radius, 11 * MM - 1e-9)
    assert stopped.washer_force > 0.0
    assert w[at] == pytest.approx(height, abs=1e-10)
    assert stopped.lift < 0.9 * free.lift
    assert solve(one, 1e3).washer_force == 0.0


def test_gap_takes_the_upper_discs_out_until_it_closes() -> None:
    gapped = stack([14, 14], gaps=(0.1 * MM,))
    alone = stack([14])
    assert solve(gapped, 1e4).lift == pytest.approx(solve(alone, 1e4).lift, rel=1e-9)
    assert solve(gapped, 5e5).lift < 0.95 * solve(alone, 5e5).lift
    assert solve(gapped, 5e5).contacts.total(lower=1, upper=2) > 0.0


def test_larger_clamp_radius_of_a_neighbour_is_an_edge() -> None:
    """A disc clamped further out is rigid there: the first disc leans on it and lifts less."""
    plain = solve(stack([14, 12]), 2e5).lift
    two = Stack(discs=discs([14, 12], 0.2), clamp_radius=(5 * MM, 8.5 * MM), ports=(Port(inner=8 * MM, outer=12 * MM),))
    state = solve(two, 2e5)
    assert state.lift < 0.6 * plain
    radius, w, _ = state.profile(1)
    assert w[radius < 8.5 * MM + 1e-9].max() < 1e-9


def test_stress_of_every_disc() -> None:
    """Short stiff discs at the clamp's end can carry the highest stress; usage is stress over fatigue strength."""
    state = solve(stack([14, 14, 12, 8], [0.15, 0.15, 0.15, 0.4]), 2e6)
    stresses = state.stresses
    assert int(np.argmax(stresses.equivalent)) == 3
    assert stresses.usage == pytest.approx(stresses.equivalent / STEEL.fatigue_strength)
    assert any("disc 4" in text and "fatigue" in text for text in state.warnings)
    assert solve(stack([14]), 1e3).warnings == ()


def test_coarse_screen_keeps_the_order() -> None:
    rng = np.random.default_rng(3)
    stacks = [
        stack([15.0, *np.sort(rng.uniform(7, 15, 5))[::-1].round(1)], rng.choice([0.1, 0.15, 0.2, 0.3], 6).tolist())
        for _ in range(40)
    ]
    pressures = [5e5, 1.5e6]
    coarse = screen(stacks, pressures)
    fine = np.array([lift_curve(one, pressures).lift for one in stacks])
    assert coarse == pytest.approx(fine, rel=0.03)
    for column in (0, 1):
        ranks = [np.argsort(np.argsort(lift[:, column])) for lift in (coarse, fine)]
        assert np.corrcoef(*ranks)[0, 1] > 0.995


def test_random_stacks_never_fail() -> None:
    """150 of the 2,000 that ``python bench/stack.py random 2000`` solves, of 1 to 15 discs, over 20 pressures."""
    spec = importlib.util.spec_from_file_location("bench_stack", ROOT / "bench" / "stack.py")
    assert spec is not None
    assert spec.loader is not None
    bench = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(bench)
    assert bench.robustness(150, 7) == 0


TWIN = """
import numpy as np
from tussock.mechanics.dampers.stack import *
steel = Material(youngs_modulus=206e9, poisson_ratio=0.3, density=7850.0, fatigue_strength=800e6)
discs = tuple(Disc(radius=r, thickness=2e-4, material=steel) for r in (14e-3, 12e-3, 9e-3))
one = Stack(discs=discs, clamp_radius=5e-3, ports=(Port(inner=8e-3, outer=12e-3),),
            seats=(Seat(radius=13e-3, height=5e-5),), washer=Washer(radius=8e-3, height=1e-4))
curve = lift_curve(one, [0.0, 3e5, 2e6], element=2e-3)
print(*(float(x).hex() for s in curve.states for x in (s.lift, *s.tips, *s.seat_force, s.washer_force)))
"""


def test_plain_python_says_the_same() -> None:
    """The kernels without compilation are their own oracle."""
    found = []
    for off in ("0", "1"):
        run = subprocess.run(
            [sys.executable, "-c", TWIN],
            env={**os.environ, "NUMBA_DISABLE_JIT": off},
            capture_output=True,
            text=True,
            check=True,
        )
        found.append([float.fromhex(x) for x in run.stdout.split()])
    assert found[1] == pytest.approx(found[0], rel=1e-9, abs=1e-13)


def test_import_neither_compiles_nor_loads_the_stack() -> None:
    code = (
        "import sys, tussock.mechanics.dampers; name = 'tussock.mechanics.dampers.stack.kernels';"
        "assert name not in sys.modules; import tussock.mechanics.dampers.stack; assert name not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
