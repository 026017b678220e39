"""Times of the disc stack and its robustness over random stacks, on one thread.

``python bench/stack.py`` prints the times of three invented stacks of 12 discs (with their ratio to a general-purpose
solver on the same linear problem in the same run) and of the search's coarse path.
``python bench/stack.py random 2000`` solves that many random stacks of 1 to 15 discs over 20 pressures and lists every
failure; it ends with status 1 if there is one.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from itertools import pairwise

import numpy as np
from scipy.linalg import cholesky, solve_triangular
from scipy.optimize import nnls

from tussock.errors import DomainError, SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.dampers.stack import (
    Disc,
    Material,
    Port,
    RingLoad,
    Seat,
    Stack,
    Washer,
    lift_curve,
    screen,
    solve,
)
from tussock.mechanics.dampers.stack.grid import GAUSS, WEIGHT, grid_of

STEEL = Material(youngs_modulus=206e9, poisson_ratio=0.3, density=7850.0, fatigue_strength=800e6)
MM = 1e-3


def discs(radii: list[float], thickness: list[float]) -> tuple[Disc, ...]:
    """Discs of one steel from millimetres."""
    return tuple(Disc(radius=r * MM, thickness=t * MM, material=STEEL) for r, t in zip(radii, thickness, strict=True))


def examples() -> dict[str, Stack]:
    """Three invented stacks of 12 discs."""
    port = (Port(inner=8 * MM, outer=12 * MM),)
    return {
        "tapered": Stack(
            discs=discs([15 - 0.6 * k for k in range(12)], [0.2] * 12), clamp_radius=5 * MM, ports=port
        ),
        "equal": Stack(discs=discs([14] * 12, [0.2] * 12), clamp_radius=5 * MM, ports=port),
        "cross-over": Stack(
            discs=discs([15, 15, 9] + [14 - 0.5 * k for k in range(9)], [0.2, 0.2, 0.1] + [0.2] * 9),
            clamp_radius=5 * MM,
            ports=port,
        ),
    }  # fmt: skip


def best(job: Callable[[], object], repeats: int) -> float:
    """Least time of a job [ms]; the least is what the machine's other work spares."""
    times = []
    for _ in range(repeats):
        begin = time.perf_counter()
        job()
        times.append(time.perf_counter() - begin)
    return 1e3 * min(times)


def contact_by_library(stack: Stack, pressure: float) -> tuple[Floats, float]:
    """Least-squares with non-negative forces on the same linear plates: deflection of disc 1 and the time [ms] of it.

    Dense plates assembled from the kernel's tables; the time holds the library's factorizations and its contact solver.
    """
    from tussock.mechanics.dampers.stack import kernels

    grid = grid_of(stack)
    n, nodes = grid.clamp.size, grid.radius.size
    table = np.zeros((nodes - 1, 3, 20))
    kernels.element_tables(grid.radius, GAUSS, WEIGHT, 0.0, table)
    stiff = []
    for k in range(n):
        plane = grid.modulus[k] * grid.thickness[k] / (1 - grid.poisson[k] ** 2)
        bend = np.zeros((nodes - 1, 4, 4))
        kernels.disc_tables(
            table, grid.clamp[k], grid.rim[k], plane * grid.thickness[k] ** 2 / 12, 1.0, 0.0, plane,
            grid.poisson[k], bend,
            np.zeros((nodes - 1, 3, 3)), np.zeros((nodes - 1, 3)), np.zeros((nodes - 1, 3)), np.zeros((nodes, 2)),
        )  # fmt: skip
        whole = np.zeros((2 * nodes, 2 * nodes))
        for e in range(grid.clamp[k], grid.rim[k]):
            whole[2 * e : 2 * e + 4, 2 * e : 2 * e + 4] += bend[e]
        part = slice(2 * (grid.clamp[k] + 1), 2 * (grid.rim[k] + 1))
        stiff.append(whole[part, part])
    begin = time.perf_counter()
    size = sum(block.shape[0] for block in stiff)
    offset = np.cumsum([0, *[block.shape[0] for block in stiff]])
    lower = np.zeros((size, size))
    for k, block in enumerate(stiff):
        lower[offset[k] : offset[k + 1], offset[k] : offset[k + 1]] = cholesky(block, lower=True)
    load = np.zeros(size)
    load[: offset[1]] = pressure * grid.load[grid.clamp[0] + 1 : grid.rim[0] + 1].ravel()
    rows = []
    for k, (one, two) in enumerate(pairwise(range(n))):
        for i in range(grid.clamp[0] + 1, min(grid.rim[one], grid.rim[two]) + 1):
            row = np.zeros(size)
            row[offset[k] + 2 * (i - grid.clamp[one] - 1)] = -1.0
            row[offset[k + 1] + 2 * (i - grid.clamp[two] - 1)] = 1.0
            rows.append(row)
    # least |L'w - L^-1 f| with B w >= 0: its dual is non-negative least squares
    columns = solve_triangular(lower, np.array(rows).T, lower=True)
    right = solve_triangular(lower, load, lower=True)
    force, _ = nnls(columns, -right, maxiter=40 * len(rows))
    w = solve_triangular(lower.T, right + columns @ force)
    return w[: offset[1] : 2], 1e3 * (time.perf_counter() - begin)


def random_stack(rng: np.random.Generator) -> Stack | None:
    """A stack such as a search may try, sane or not; None where the parts refuse it."""
    count = int(rng.integers(1, 16))
    clamp = rng.uniform(4.0, 7.0)
    first = rng.uniform(clamp + 4.0, 20.0)
    radii = rng.uniform(clamp + 0.3, 20.0, count)
    style = rng.integers(4)
    if style == 0:
        radii = np.sort(radii)[::-1]
    elif style == 1:
        radii[:] = first
    elif style == 2 and count > 2:
        radii[rng.integers(1, count - 1)] = clamp + rng.uniform(0.2, 2.0)
    radii[0] = first
    radii = np.round(radii, int(rng.integers(1, 4)))
    thickness = rng.choice([0.1, 0.15, 0.2, 0.25, 0.3, 0.4], count)
    mixed = rng.random() < 0.3
    clamps = tuple(MM * min(clamp + (rng.uniform(0.0, 1.0) if mixed else 0.0), r - 0.11) for r in radii)
    gaps = tuple(float(MM * rng.choice([0.0, 0.0, 0.0, 0.1, 0.3])) for _ in range(count - 1))
    inner = rng.uniform(max(clamp + 1.1, 5.0), first - 1.5)
    outer = rng.uniform(inner + 0.5, first - 0.5)
    seats: tuple[Seat, ...] = ()
    if rng.random() < 0.6:
        seats = (
            Seat(radius=MM * rng.uniform(outer, first), height=MM * float(rng.choice([0.0, rng.uniform(0, 0.3)]))),
        )
        if rng.random() < 0.2:
            seats = (Seat(radius=MM * (inner - rng.uniform(0.0, 0.5))), *seats)
    washer = None
    if rng.random() < 0.4:
        washer = Washer(radius=MM * rng.uniform(clamp + 0.5, 18.0), height=MM * rng.uniform(0.3, 1.5))
    try:
        return Stack(
            discs=discs(radii.tolist(), thickness.tolist()),
            clamp_radius=clamps,
            ports=(Port(inner=inner * MM, outer=outer * MM, outer_share=float(rng.choice([1.0, 1.0, 0.0]))),),
            ring_loads=(RingLoad(radius=MM * (outer + 0.2), area=20e-6),) if rng.random() < 0.2 else (),
            seats=seats,
            gaps=gaps,
            washer=washer,
        )
    except DomainError:
        return None


def random_pressures(stack: Stack, rng: np.random.Generator) -> Floats:
    """Twenty pressures up to a linear lift of 0.1 to 2 mm, at most 30 MPa."""
    probe = Stack(discs=stack.discs, clamp_radius=stack.clamp_radius, ports=stack.ports, ring_loads=stack.ring_loads)
    per_pascal = abs(solve(probe, 1.0, linear=True, element=1e-3).tips[0])
    top = min(rng.uniform(0.1e-3, 2e-3) / per_pascal, 30e6)
    return np.linspace(0.0, top, 21)[1:]


def robustness(count: int, seed: int) -> int:
    """Solve random stacks; return the number of failures."""
    rng = np.random.default_rng(seed)
    failures, done, refused, times, iterations, again = 0, 0, 0, [], [], 0
    while done < count:
        stack = random_stack(rng)
        if stack is None:
            refused += 1
            continue
        pressures = random_pressures(stack, rng)
        begin = time.perf_counter()
        try:
            curve = lift_curve(stack, pressures)
        except SolverError as error:
            failures += 1
            print(f"number {done}: {error}")
        else:
            iterations.append(float(np.mean([state.iterations for state in curve.states])))
            worst = min(float(state.contacts.gap.min(initial=0.0)) for state in curve.states)
            if worst < -1e-9 - 1e-5 * max(float(state.tips.max()) for state in curve.states):
                again += 1
                print(f"number {done}: penetration of {worst * 1e9:.3g} nm")
        times.append(1e3 * (time.perf_counter() - begin))
        done += 1
    print(
        f"{done} random stacks (seed {seed}), {refused} drawn and refused in words: {failures} failures, {again} with "
        f"penetration above 1 nm + 1e-5 of the lift; {np.mean(iterations):.2f} Newton steps a pressure"
    )
    print(
        f"curve of 20 pressures: median {np.median(times):.1f} ms, 99 % {np.percentile(times, 99):.0f} ms, slowest "
        f"{max(times):.0f} ms"
    )
    return failures + again


def times() -> None:
    """Print the times."""
    begin = time.perf_counter()
    stacks = examples()
    solve(stacks["equal"], 1e5)
    print(f"first solve (with compilation, or loading it from the disk): {time.perf_counter() - begin:.2f} s")
    for name, stack in stacks.items():
        top = 6e6
        one = best(lambda s=stack, p=top: solve(s, p), 9)
        curve = best(lambda s=stack, p=top: lift_curve(s, np.linspace(0.0, p, 21)[1:]), 5)
        linear = best(lambda s=stack: solve(s, 1e5, linear=True), 9)
        state = solve(stack, top)
        line = (
            f"{name:10s} lift {state.lift * 1e3:.3f} mm: one pressure {one:.2f} ms (target 4), 20 pressures "
            f"{curve:.1f} ms (target 40), linear {linear:.2f} ms"
        )
        if name != "cross-over":
            w, library = contact_by_library(stack, 1e5)
            off = w[-1] / solve(stack, 1e5, linear=True).tips[0] - 1.0
            line += (
                f"; non-negative least squares of a library {library:.1f} ms = {library / linear:.0f} x ({off:+.1e})"
            )
        print(line)
    rng = np.random.default_rng(1)
    candidates = []
    while len(candidates) < 400:
        count = int(rng.integers(5, 14))
        radii = np.sort(rng.uniform(7.0, 15.0, count))[::-1]
        radii[0] = 15.0
        candidates.append(
            (np.round(radii, 1).tolist(), rng.choice([0.1, 0.15, 0.2, 0.25, 0.3], count).tolist())
        )  # fmt: skip
    begin = time.perf_counter()
    built = [
        Stack(discs=discs(r, t), clamp_radius=5 * MM, ports=(Port(inner=8 * MM, outer=12 * MM),)) for r, t in candidates
    ]
    coarse = screen(built, [3e6])[:, 0]
    each = 1e3 * (time.perf_counter() - begin) / len(candidates)
    fine = np.array([solve(stack, 3e6, element=0.3e-3).lift for stack in built])
    off = 100.0 * (coarse / fine - 1.0)
    order = np.corrcoef(np.argsort(np.argsort(coarse)), np.argsort(np.argsort(fine)))[0, 1]
    print(
        f"search: {each:.2f} ms a candidate with building it ({60e3 / each:,.0f} a minute, target 70,000); against "
        f"0.3 mm elements mean {off.mean():+.2f} %, worst {np.abs(off).max():.2f} %, rank correlation {order:.4f}"
    )


if __name__ == "__main__":
    if len(sys.argv) > 1 and sys.argv[1] == "random":
        sys.exit(1 if robustness(int(sys.argv[2]), int(sys.argv[3]) if len(sys.argv) > 3 else 1) else 0)
    times()
