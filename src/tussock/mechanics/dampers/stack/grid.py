"""From a stack to the arrays of the kernel: one radial grid; every rim, clamp, seat and washer edge is a node."""

from __future__ import annotations

import math
from bisect import bisect_left
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats, Ints
from tussock.mechanics.dampers.stack.parts import Port, Stack

#: Rims and clamps closer than this share a node [m]; an element's stiffness grows with 1/h^3, and a far shorter
#: element would spoil the factorization.
MERGE = 0.02e-3
#: Three-point Gauss rule on 0 to 1.
GAUSS = np.array([0.5 - math.sqrt(0.15), 0.5, 0.5 + math.sqrt(0.15)])
#: Length by which a wall shortens a plate's free part, over thickness x nu^2/(1 - nu)^1.5 [-]; from the built-in strip
#: in plane strain (fitted to 0.0106 at nu = 0.3, 0.0150 at 0.34, 0 at 0).
HELD = 0.0692
WEIGHT = np.array([5.0, 8.0, 5.0]) / 18.0


@dataclass(frozen=True, kw_only=True, eq=False)
class Grid:
    """Arrays of one stack, as `kernels.march` takes them (shapes there).

    `radius` (M,) [m], `clamp` and `rim` (n,) node numbers, `thickness`, `modulus`, `poisson` (n,), `shear` (n,)
    [m^2]: 12 times bending over shear stiffness, 0 for plates without shear strain, `root` (n,) factor of the
    bending stiffness of each disc's first element, `gap` (n+1,) [m], `seat_node`, `seat_height` (S,), `washer` node of
    the washer's edge or -1, `load` (M, 2) [N/Pa, N m/Pa].
    """

    radius: Floats
    clamp: Ints
    rim: Ints
    thickness: Floats
    modulus: Floats
    poisson: Floats
    shear: Floats
    root: Floats
    gap: Floats
    seat_node: Ints
    seat_height: Floats
    washer: int
    load: Floats


def _nodes(stack: Stack, element: float, fine_root: bool) -> list[float]:
    """Radii of the nodes [m], rising; rims and clamps first, then what merely wants a node."""
    fixed: list[float] = []
    last = max(disc.radius for disc in stack.discs)
    wanted = [seat.radius for seat in stack.seats] + [ring.radius for ring in stack.ring_loads]
    if stack.washer and min(stack.clamps) < stack.washer.radius < last:
        wanted.append(stack.washer.radius)
    for radius in (*sorted({*stack.clamps, *(disc.radius for disc in stack.discs)}), *wanted):
        at = bisect_left(fixed, radius)
        near = min((abs(fixed[i] - radius) for i in (at - 1, at) if 0 <= i < len(fixed)), default=math.inf)
        if near > MERGE:
            fixed.insert(at, radius)
    clamps = set(stack.clamps) if fine_root else set()
    nodes = [fixed[0]]
    for inner, outer in pairwise(fixed):
        pieces = max(1, math.ceil((outer - inner) / element - 1e-6))
        length = (outer - inner) / pieces
        if inner in clamps and length > 4.0 * MERGE:
            # the root moment wants two short elements
            nodes += (inner + 0.12 * length, inner + 0.4 * length)
        nodes += [inner + length * i for i in range(1, pieces)]
        nodes.append(outer)
    return nodes


def _nearest(nodes: list[float], radius: float) -> int:
    at = bisect_left(nodes, radius)
    if at == len(nodes) or (at and radius - nodes[at - 1] < nodes[at] - radius):
        at -= 1
    return at


def _add_port(load: list[list[float]], nodes: list[float], port: Port, shear: float) -> None:
    """Add the work-equivalent forces and couples of a port; cut elements are integrated exactly over their part."""
    slope = (port.outer_share - port.share) / (port.outer - port.inner)
    for e in range(max(0, bisect_left(nodes, port.inner) - 1), len(nodes) - 1):
        low, high = max(nodes[e], port.inner), min(nodes[e + 1], port.outer)
        if nodes[e] >= port.outer:
            break
        if high <= low:
            continue
        h = nodes[e + 1] - nodes[e]
        soft = shear / h**2
        # share x radius x cubic is of fifth degree: three points are exact
        for place, weight in zip(GAUSS.tolist(), WEIGHT.tolist(), strict=True):
            r = low + (high - low) * place
            f = 2.0 * math.pi * r * (port.share + slope * (r - port.inner)) * weight * (high - low) / (1.0 + soft)
            x = (r - nodes[e]) / h
            y = 1.0 - x
            load[e][0] += f * y * (y * (1.0 + 2.0 * x) + soft)
            load[e][1] += f * h * x * y * (y + 0.5 * soft)
            load[e + 1][0] += f * x * (x * (3.0 - 2.0 * x) + soft)
            load[e + 1][1] -= f * h * x * y * (x + 0.5 * soft)


def grid_of(stack: Stack, element: float = 0.5e-3, *, fine_root: bool = True, shear: bool = True) -> Grid:
    """Lay the grid of a stack.

    Parameters
    ----------
    stack : Stack
        The discs.
    element : float
        Longest element [m]: 0.5 mm is within 0.02 % of the limit in lift, 1 mm within about 1 %.
    fine_root : bool
        Whether two short elements stand at each clamp, for the root stress.
    shear : bool
        Whether the discs yield to transverse shear, with the shear coefficient 5/6 of a section under parabolic stress.

    Raises
    ------
    DomainError
        If two edges of one disc fall on one node, or `element` makes no grid.
    """
    if not 0.02e-3 <= element <= 5e-3:
        raise DomainError(f"element length {element * 1e3:g} mm; choose between 0.02 and 5 mm")
    nodes = _nodes(stack, element, fine_root)
    radius = np.array(nodes)
    load = [[0.0, 0.0] for _ in nodes]
    thickness = np.array([disc.thickness for disc in stack.discs])
    poisson = np.array([disc.material.poisson_ratio for disc in stack.discs])
    # 12 D/(kappa G t) with kappa = 5/6
    flexible = 2.4 * thickness**2 / (1.0 - poisson) if shear else np.zeros(thickness.size)
    clamp = np.array([_nearest(nodes, radius) for radius in stack.clamps])
    first = np.diff(radius)[clamp]
    # a rigid wall holds the section's edge from shrinking sideways, as if the free part were shorter by `held`
    held = HELD * poisson**2 / (1.0 - poisson) ** 1.5 * thickness if shear else np.zeros(thickness.size)
    root = 1.0 / (1.0 - np.minimum(held / first, 0.5))
    for port in stack.ports:
        _add_port(load, nodes, port, float(flexible[0]))
    for ring in stack.ring_loads:
        load[_nearest(nodes, ring.radius)][0] += ring.area
    seats = sorted(stack.seats, key=lambda seat: seat.radius)
    washer = -1
    if stack.washer:
        washer = bisect_left(nodes, stack.washer.radius + MERGE) - 1
    return Grid(
        radius=radius,
        clamp=clamp,
        rim=np.array([_nearest(nodes, disc.radius) for disc in stack.discs]),
        thickness=thickness,
        modulus=np.array([disc.material.youngs_modulus for disc in stack.discs]),
        poisson=poisson,
        shear=flexible,
        root=root,
        gap=np.array([0.0, *stack.spaces, stack.washer.height if stack.washer else 0.0]),
        seat_node=np.array([_nearest(nodes, seat.radius) for seat in seats], dtype=np.int64),
        seat_height=np.array([seat.height for seat in seats], dtype=np.float64),
        washer=washer,
        load=np.array(load),
    )
