"""Solve a stack: at one pressure, over pressures, for its opening pressure, and many stacks fast."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tussock.errors import DomainError, SolverError
from tussock.mechanics.arrays import Floats, Ints
from tussock.mechanics.dampers.stack.grid import GAUSS, WEIGHT, Grid, grid_of
from tussock.mechanics.dampers.stack.parts import Stack
from tussock.mechanics.dampers.stack.state import Contacts, LiftCurve, StackState

#: Relative step, gap [m], relative force, Newton steps, pivots of one contact problem.
LIMITS = np.array([1e-6, 1e-12, 1e-7, 60.0, 600.0])


@dataclass(frozen=True, kw_only=True, eq=False)
class _March:
    """What the kernel hands back; shapes in `kernels.march`."""

    grid: Grid
    deflection: Floats
    membrane: Floats
    bubble: Floats
    contact: Ints
    force: Floats
    gap: Floats
    report: Ints
    figures: Floats

    @property
    def failed(self) -> int:
        """Number of the first pressure without a solution, -1 if all are solved."""
        bad = np.flatnonzero(self.report[:, 0])
        return int(bad[0]) if bad.size else -1


def _march(grid: Grid, pressures: Floats, linear: bool, faces: bool, held_seat: int = -1) -> _March:
    from tussock.mechanics.dampers.stack import kernels  # compiles on first use only

    number, n, nodes = pressures.size, grid.clamp.size, grid.radius.size
    room = nodes * (n + 1) + grid.seat_node.size
    deflection = np.empty((number, n, nodes, 2))
    membrane = np.empty((number, n, nodes))
    bubble = np.empty((number, n, nodes - 1))
    contact = np.empty((room, 3), dtype=np.int64)
    force = np.empty((number, room))
    gap = np.empty((number, room))
    report = np.full((number, 3), kernels.NO_CONVERGENCE, dtype=np.int64)
    figures = np.zeros((number, 2))
    count = kernels.march(
        grid.radius, grid.clamp, grid.rim, grid.thickness, grid.modulus, grid.poisson, grid.shear, grid.root, grid.gap,
        grid.seat_node, grid.seat_height, held_seat, grid.washer, grid.load, pressures, linear, faces and not linear,
        GAUSS, WEIGHT, LIMITS, deflection, membrane, bubble, contact, np.empty(room), force, gap, report, figures,
    )  # fmt: skip
    return _March(
        grid=grid,
        deflection=deflection,
        membrane=membrane,
        bubble=bubble,
        contact=contact[:count],
        force=force[:, :count],
        gap=gap[:, :count],
        report=report,
        figures=figures,
    )


def _refuse(stack: Stack, pressure: float, march: _March, at: int) -> SolverError:
    step, length = march.figures[at]
    why = {
        1: f"no convergence in {march.report[at, 1]} steps, last relative step {step:.2g} at length {length:.2g}",
        2: f"the tangent of a disc is not definite at step {march.report[at, 1]}",
        3: f"no consistent set of contacts in {march.report[at, 2]} trials at step {march.report[at, 1]}",
    }[int(march.report[at, 0])]
    return SolverError(
        f"stack of {len(stack.discs)} discs at {pressure * 1e-6:g} MPa: {why}. Check gaps, seat, washer, and "
        "whether a damper sees such a pressure"
    )


def _solve(
    stack: Stack, pressures: Floats, grid: Grid, linear: bool, faces: bool, held_seat: int = -1
) -> tuple[_March, Ints]:
    """March, and once more in smaller steps from rest where that fails; the numbers of the asked pressures in it."""
    asked = np.arange(pressures.size)
    march = _march(grid, pressures, linear, faces, held_seat)
    if march.failed < 0:
        return march, asked
    shares = np.array([0.125, 0.25, 0.5, 0.75, 1.0])
    begin = np.concatenate(([0.0], pressures[:-1]))
    finer = np.concatenate(([0.0], (begin[:, None] + (pressures - begin)[:, None] * shares).ravel()))
    march = _march(grid, finer, linear, faces, held_seat)
    if march.failed >= 0:
        raise _refuse(stack, float(finer[march.failed]), march, march.failed)
    return march, 5 * (asked + 1)


def _checked(pressures: Sequence[float] | Floats) -> Floats:
    out = np.ascontiguousarray(pressures, dtype=np.float64)
    if out.ndim != 1 or out.size == 0:
        raise DomainError(f"pressures of shape {out.shape}; give a list of at least one")
    bad = np.flatnonzero(~(np.isfinite(out) & (out >= 0.0)))
    if bad.size:
        raise DomainError(
            f"pressure {out[bad[0]] * 1e-6:g} MPa (number {bad[0] + 1}); a stack takes a finite pressure of 0 or above"
        )
    return out


def _lifts(stack: Stack, march: _March, rows: Ints) -> Floats:
    seats = march.grid.seat_node.size
    lift: Floats = march.deflection[rows, 0, march.grid.rim[0], 0]
    if seats:
        # a shut seat's gap is zero but for rounding
        lift = np.where(march.force[rows, seats - 1] > 0.0, 0.0, march.gap[rows, seats - 1])
    return lift


def _states(stack: Stack, pressures: Floats, march: _March, rows: Ints, linear: bool) -> tuple[StackState, ...]:
    grid = march.grid
    n, seats = grid.clamp.size, grid.seat_node.size
    node = march.contact[:, 2]
    upto = np.minimum(node + 1, grid.radius.size - 1)
    area = np.pi * grid.radius[node] * (grid.radius[upto] - grid.radius[node - 1])
    lifts = _lifts(stack, march, rows)
    lower, upper = march.contact[:, 0] + 1, march.contact[:, 1] + 1
    behind = upper == n + 1
    out = []
    for pressure, lift, row in zip(pressures.tolist(), lifts.tolist(), rows.tolist(), strict=True):
        force = np.maximum(march.force[row], 0.0)
        out.append(
            StackState(
                stack=stack,
                pressure=pressure,
                lift=lift,
                tips=march.deflection[row, np.arange(n), grid.rim, 0],
                seat_force=force[:seats],
                washer_force=float(force[behind].sum()),
                contacts=Contacts(
                    lower=lower, upper=upper, radius=grid.radius[node], force=force, gap=march.gap[row], area=area
                ),
                iterations=int(march.report[row, 1]),
                grid=grid,
                deflection=march.deflection[row],
                membrane=march.membrane[row],
                bubble=march.bubble[row],
                linear=linear,
            )
        )
    return tuple(out)


def solve(
    stack: Stack,
    pressure: float,
    *,
    element: float = 0.5e-3,
    linear: bool = False,
    faces: bool = True,
    shear: bool = True,
) -> StackState:
    """Solve a stack at one pressure, from rest.

    Thin plates with moderate rotations in frictionless contact without penalty: among all deflections without
    penetration, the one of least energy. It is unique.

    Parameters
    ----------
    stack : Stack
        What to solve.
    pressure : float
        On the ports [Pa], 0 or above.
    element : float
        Longest element [m].
    linear : bool
        Small deflections of classical thin plates: no membrane strain, no shear strain, contact at the middle planes.
    faces : bool
        Contact at the discs' faces (True) or at their middle planes.
    shear : bool
        Whether discs yield to transverse shear and a rigid clamp keeps their edge from shrinking sideways (True), as
        solids do, or are ideal thin plates. Short stiff discs near the clamp need it.

    Returns
    -------
    StackState
        Lift, contacts, stresses.

    Raises
    ------
    DomainError
        If the pressure is impossible.
    SolverError
        If no solution was found.

    References
    ----------
    .. [1] S. P. Timoshenko and S. Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed., McGraw-Hill 1959, ch. 13
       (large deflections of plates); from memory.

    Examples
    --------
    >>> from tussock.mechanics.dampers.stack import Disc, Material, Port, Stack, solve
    >>> steel = Material(youngs_modulus=206e9, poisson_ratio=0.3, density=7850.0, fatigue_strength=700e6)
    >>> disc = Disc(radius=15e-3, thickness=0.2e-3, material=steel)
    >>> stack = Stack(discs=(disc,), clamp_radius=6e-3, ports=(Port(inner=6e-3, outer=15e-3),))
    >>> round(solve(stack, 0.1e6).lift * 1e3, 3)  # mm; linear theory would say 0.592, a plate without shear 0.358
    0.359
    """
    return lift_curve(stack, [pressure], element=element, linear=linear, faces=faces, shear=shear).states[0]


def lift_curve(
    stack: Stack,
    pressures: Sequence[float] | Floats,
    *,
    element: float = 0.5e-3,
    linear: bool = False,
    faces: bool = True,
    shear: bool = True,
) -> LiftCurve:
    """Solve a stack at several pressures, each from the last; the result does not depend on their order.

    Parameters
    ----------
    stack : Stack
        What to solve.
    pressures : sequence of float (P,)
        [Pa], 0 or above, in any order; rising is fastest.
    element, linear, faces, shear
        See `solve`.

    Returns
    -------
    LiftCurve
        Lift and state at each pressure. Kinks (opening, a gap that closes, the washer) are real: do not smooth them.

    Raises
    ------
    DomainError
        If a pressure is impossible.
    SolverError
        If no solution was found.
    """
    checked = _checked(pressures)
    march, rows = _solve(stack, checked, grid_of(stack, element, shear=shear and not linear), linear, faces)
    states = _states(stack, checked, march, rows, linear)
    return LiftCurve(pressure=checked, lift=np.array([state.lift for state in states]), states=states)


def opening_pressure(
    stack: Stack, *, element: float = 0.5e-3, linear: bool = False, faces: bool = True, shear: bool = True
) -> float:
    """Pressure at which the outermost seat ring lets go [Pa]; 0 where nothing holds it shut at rest.

    The ring is held shut with either sign of its force; the pressure is where that force is zero, which it crosses
    smoothly.

    Parameters
    ----------
    stack : Stack
        What to solve.
    element, linear, faces, shear
        See `solve`.

    Raises
    ------
    SolverError
        If a state was not found, or no pressure up to 1 GPa opens the stack.
    """
    from scipy.optimize import brentq

    if not stack.seats:
        return 0.0
    grid = grid_of(stack, element, shear=shear and not linear)
    ring = grid.seat_node.size - 1
    if grid.seat_height[ring] < 0.0:
        return 0.0

    def force(pressure: float) -> float:
        march, rows = _solve(stack, np.array([pressure]), grid, linear, faces, held_seat=ring)
        return float(march.force[rows[0], ring])

    rest = force(0.0)
    # a bent ring carries newtons; anything below a micronewton is rounding of a seat that is flush
    if rest <= 1e-6:
        return 0.0
    low, high = 0.0, rest / float(grid.load[:, 0].sum())
    while force(high) > 0.0:
        low, high = high, 2.0 * high
        if high > 1e9:
            raise SolverError(
                f"seat ring at {stack.lift_radius * 1e3:g} mm holds {rest:.3g} N at rest and no pressure up to 1 GPa "
                "opens it; a port outside an inner seat ring, or a higher washer, would"
            )
    return float(brentq(force, low, high, xtol=1e-9 * high, rtol=1e-10))


def screen(stacks: Sequence[Stack], pressures: Sequence[float] | Floats, *, element: float = 1e-3) -> Floats:
    """Lifts of many stacks on a coarse grid, for a search; verify the best with `lift_curve`.

    Parameters
    ----------
    stacks : sequence of Stack
        Candidates.
    pressures : sequence of float (P,)
        [Pa]; few and rising.
    element : float
        Longest element [m].

    Returns
    -------
    array (stacks, P)
        Lift as in `StackState` [m].

    Raises
    ------
    DomainError
        If a pressure is impossible.
    SolverError
        If a stack was not solved; none is left out in silence.
    """
    checked = _checked(pressures)
    out = np.empty((len(stacks), checked.size))
    for number, stack in enumerate(stacks):
        march, rows = _solve(stack, checked, grid_of(stack, element, fine_root=False), False, True)
        out[number] = _lifts(stack, march, rows)
    return out
