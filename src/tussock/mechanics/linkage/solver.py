"""Solves a linkage over a grid of inputs, and says in words why one cannot be solved."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from tussock.errors import AssemblyError, InputError, SolverError
from tussock.mechanics.arrays import Floats, Ints
from tussock.mechanics.linkage import kernels
from tussock.mechanics.linkage.diagnosis import (
    check_located,
    check_rods_independent,
    check_strain,
    why_not_assembled,
)
from tussock.mechanics.linkage.model import Linkage
from tussock.mechanics.linkage.solution import STATUS_WORDS, Solution

#: Largest input steps of a march: 30 mm and 4 degrees, far inside what branch jumps need.
HEAVE_STEP = 0.030
ROLL_STEP = np.deg2rad(4.0)
#: Neighbouring nodes of a grid are at least this far apart [m or rad]: closer ones are rounding, not meant.
LEAST_APART = 1e-7
#: The second-order prediction divides by the step before: after one this much shorter it is left out.
VANISHING = 1e-3
#: Newton ends when the step just taken was below this [m]; the error left is of the order of its square.
STEP_END = 1e-7
#: Largest distance to equilibrium that is accepted [m].
DISTANCE_ACCEPTED = 1e-9


class GridAxis(NamedTuple):
    """One direction of a grid: its word for messages, what one SI unit is on the screen, that unit, largest step."""

    word: str
    factor: float
    unit: str
    step: float

    def say(self, value: float) -> str:
        """Words for a value."""
        return f"{self.word} {self.factor * value:.{1 if self.unit == 'mm' else 2}f} {self.unit}"


Axes = tuple[GridAxis, GridAxis]
RIGID_AXES: Axes = (
    GridAxis("heave", 1e3, "mm", HEAVE_STEP),
    GridAxis("roll", float(np.rad2deg(1.0)), "deg", float(ROLL_STEP)),
)


@dataclass(frozen=True, kw_only=True)
class Plan:
    """Order of a march: inputs of every node, the node each starts from and the one before that on the same line."""

    inputs: Floats
    parent: Ints
    grand: Ints
    wanted: Ints
    axes: Axes = RIGID_AXES


def run(
    linkage: Linkage,
    inputs: Floats,
    parent: Ints,
    grand: Ints,
    *,
    start: Floats | None = None,
    start_rotation: Floats | None = None,
    iterations: int = 12,
    most_pieces: int = 16,
    offset: Floats | None = None,
    step_end: float = STEP_END,
    loaded: tuple[str, ...] = (),
) -> Solution:
    """March over nodes in the given order; the status of each node is in the answer, nothing is raised.

    Parameters
    ----------
    linkage : Linkage
    inputs : array (np, nu)
        Values of the prescribed coordinates [m or rad].
    parent, grand : array (np,)
        Node that each node starts from (-1: the start pose) and the node before that on the same line (-1: none).
    start, start_rotation : array (n,), (nb, 3, 3), optional
        Pose that root nodes start from; stock if not given.
    iterations, most_pieces : int
        Limits of Newton's iteration and of cutting an input step.
    offset : array (ne, 25), optional
        Added to the elements' data, for approaching a far pose in stages.
    step_end : float
        Newton ends once the step taken was below this [m]; slopes are exact to about as much per metre of curvature.
    loaded : tuple of body names
        Bodies whose motion by unit loads is wanted, inputs held: `Solution.give`.

    Returns
    -------
    Solution
    """
    t = linkage.tables
    nodes, nu = inputs.shape
    nb, n, m = len(linkage.bodies), linkage.start.size, len(linkage.hard_rows)
    size = t.free.size + m
    ef = t.ef if offset is None else t.ef + offset
    rot0 = np.tile(np.eye(3).ravel(), (nb, 1))
    if start_rotation is not None:
        rot0 = np.ascontiguousarray(start_rotation, dtype=np.float64).reshape(nb, 9)
    out_q, out_lam = np.full((nodes, n), np.nan), np.full((nodes, m), np.nan)
    out_slope = np.full((nodes, n + m, nu), np.nan)
    out_pos, out_rot = np.full((nodes, nb, 3), np.nan), np.full((nodes, nb, 9), np.nan)
    out_twist = np.full((nodes, nb, nu, 6), np.nan)
    out_stiff, out_force = np.full((nodes, nu, nu), np.nan), np.full((nodes, nu), np.nan)
    out_info = np.full((nodes, 5), np.nan)
    status = np.zeros(nodes, dtype=np.int64)
    bodies = np.array([linkage.index[name] for name in loaded], dtype=np.int64)
    place_of = np.full(n, -1, dtype=np.int64)
    place_of[t.free] = np.arange(t.free.size)
    out_give = np.full((nodes, 6 * bodies.size, 6 * bodies.size), np.nan)
    kernels.march(
        t.bi, t.bf, t.cols, t.pairs, t.ei, ef, t.ek, t.free, t.held, t.scale,
        np.ascontiguousarray(inputs), parent, grand, np.array([step_end, 0.05, iterations, most_pieces]),
        linkage.start if start is None else np.ascontiguousarray(start), rot0,
        out_q, out_lam, out_slope, out_pos, out_rot, out_twist, out_stiff, out_force, out_info, status,
        np.zeros((nb, 3)), np.zeros((nb, 9)), np.zeros((nb, t.cols.shape[1], 6)), np.zeros((nb, 6)),
        np.zeros((t.pairs.shape[0], 6, 6)), np.zeros((40, 3)), np.zeros(n), np.zeros((n, n)), np.zeros(m),
        np.zeros((m, n)), np.zeros(n), np.zeros(m), np.zeros((size, size)), np.zeros(size), np.zeros(size),
        np.zeros(size), np.zeros((n + m, nu)), np.zeros((n + m, nu)),
        bodies, place_of, out_give, np.zeros(n + m),
    )  # fmt: skip
    info = np.nan_to_num(out_info, nan=0.0)
    return Solution(
        linkage=linkage,
        inputs=inputs,
        position=out_pos,
        rotation=out_rot.reshape(nodes, nb, 3, 3),
        twist=out_twist,
        coordinates=out_q,
        multipliers=out_lam,
        energy=out_info[:, 0],
        force=out_force,
        stiffness=out_stiff,
        slope=out_slope[:, :n],
        hard_residual=out_info[:, 1],
        distance=out_info[:, 2],
        iterations=info[:, 3].astype(np.int64),
        pieces=info[:, 4].astype(np.int64),
        status=status,
        give=out_give,
        loaded=loaded,
    )


def solve_home(linkage: Linkage, inputs: Floats) -> Solution:
    """Equilibrium at the given inputs, starting from the stock pose (a single row).

    Tried in turn: Newton from the stock pose; every joint brought from where it is to where it belongs in 4, then in 16
    stages.

    Raises
    ------
    AssemblyError
        No pose fits the hard rows (the text says which rod misses by how much), the linkage is not located, or rods
        are redundant.
    """
    check_rods_independent(linkage)
    u = np.ascontiguousarray(inputs, dtype=np.float64).reshape(1, -1)
    alone = np.full(1, -1, dtype=np.int64)
    answer = run(linkage, u, alone, alone, iterations=60)
    if _accepted(answer):
        check_located(linkage, answer)
        check_strain(answer)
        return answer
    start, rotation = linkage.start.copy(), None
    start[linkage.tables.held] = u[0]
    gap = _gaps(linkage, start)
    for stages in (4, 16):
        pose, attitude = start, rotation
        for stage in range(1, stages + 1):
            offset = gap * (1.0 - stage / stages)
            step = run(linkage, u, alone, alone, start=pose, start_rotation=attitude, iterations=60, offset=offset)
            if not _accepted(step):
                break
            pose, attitude = step.coordinates[0], step.rotation[0]
        else:
            check_located(linkage, step)
            check_strain(step)
            return step
    check_located(linkage)
    raise AssemblyError(why_not_assembled(linkage, u[0], STATUS_WORDS[int(answer.status[0])]))


def _gaps(linkage: Linkage, start: Floats) -> Floats:
    """What to add to the element data so that every joint is at rest in a pose of unturned bodies."""
    t = linkage.tables
    home = np.zeros((len(linkage.bodies) + 1, 3))  # the last is the chassis
    for k, body in enumerate(linkage.bodies):
        # a hinge or slide has one coordinate, not three
        first = int(t.bi[k, 2])
        home[k] = body.at if body.kind in ("hinge", "slide") else start[first : first + 3]
    gap = np.zeros_like(t.ef)
    span = home[t.ei[:, 2]] + t.ef[:, 3:6] - home[t.ei[:, 1]] - t.ef[:, 0:3]
    rod = t.ei[:, 0] == 0
    gap[rod, 24] = np.linalg.norm(span[rod], axis=1) - t.ef[rod, 24]
    gap[~rod, 0:3] = span[~rod]
    return gap


def _accepted(solution: Solution) -> bool:
    """Tell whether every node is solved and at rest."""
    return bool(np.all(solution.status == 0)) and bool(np.all(solution.distance < DISTANCE_ACCEPTED))


@lru_cache(maxsize=64)
def _plan(heave: bytes, roll: bytes, extra: tuple[float, ...], axes: Axes) -> Plan:
    """Order the nodes: along heave at zero roll outward from design, then along roll outward from that line."""
    h, r = np.frombuffer(heave), np.frombuffer(roll)
    rows: list[tuple[float, float]] = [(0.0, 0.0)]
    parent, grand = [-1], [-1]
    # further inputs (steer) are reached first, at design, in steps of their own
    turns = max(1, int(np.ceil(max(map(abs, extra), default=0.0) / float(ROLL_STEP))))
    for k in range(1, turns + 1 if any(extra) else 0):
        rows.append((0.0, 0.0))
        parent.append(k - 1)
        grand.append(k - 2)
    foot = len(rows) - 1
    wanted = np.zeros((h.size, r.size), dtype=np.int64)

    def line(values: Floats, along: int, other: float, root: int, step: float) -> dict[int, int]:
        """Walk outward from zero on both sides; the node number of each asked value."""
        found: dict[int, int] = {}
        for side in (1.0, -1.0):
            picks = [
                i for i in np.argsort(np.abs(values)) if values[i] * side > 0.0 or (side > 0.0 and values[i] == 0.0)
            ]
            last, before, at, stride = root, -1, 0.0, 0.0
            for i in picks:
                goal = float(values[i])
                pieces = max(1, int(np.ceil(abs(goal - at) / step - 1e-9)))
                if goal == at:
                    found[int(i)] = last
                    continue
                begin = at
                for k in range(1, pieces + 1):
                    step_from, at = at, goal if k == pieces else begin + (goal - begin) * k / pieces
                    ahead = abs(at - step_from)
                    rows.append((at, other) if along == 0 else (other, at))
                    parent.append(last)
                    grand.append(before if stride > VANISHING * ahead else -1)
                    last, before, stride = len(rows) - 1, last, ahead
                found[int(i)] = last
        return found

    spine = line(h, 0, 0.0, foot, axes[0].step)
    for i in range(h.size):
        branch = line(r, 1, float(h[i]), spine[i], axes[1].step)
        for j, node in branch.items():
            wanted[i, j] = node
    inputs = np.empty((len(rows), 2 + len(extra)))
    inputs[:, :2] = rows
    inputs[:, 2:] = extra
    inputs[: foot + 1, 2:] = np.outer(np.linspace(0.0, 1.0, foot + 1) if foot else np.ones(1), extra)
    return Plan(
        inputs=inputs,
        parent=np.array(parent, dtype=np.int64),
        grand=np.array(grand, dtype=np.int64),
        wanted=wanted,
        axes=axes,
    )


def plan_grid(heave: Floats, roll: Floats, extra: tuple[float, ...] = (), axes: Axes = RIGID_AXES) -> Plan:
    """Order of a march over a grid of two inputs (kept for equal grids); `extra` are further inputs, held constant.

    `axes` names the two inputs, heave and roll unless said, and gives the largest step along each.

    Raises
    ------
    InputError
        Two values closer than `LEAST_APART`, or one that is not finite.
    """
    for axis, values in zip(axes, (heave, roll), strict=True):
        word, factor, unit = axis.word, axis.factor, axis.unit
        if values.ndim != 1 or values.size == 0 or not np.all(np.isfinite(values)):
            raise InputError(f"the {word} values of a grid must be a row of finite numbers, got {values.tolist()}")
        steps = np.diff(np.sort(values))
        if steps.size and steps.min() < LEAST_APART:
            at = float(factor * np.sort(values)[np.argmin(steps)])
            raise InputError(
                f"the {word} values of a grid must lie at least {factor * LEAST_APART:.2g} {unit} apart; two at "
                f"{at:.6g} {unit} lie {factor * steps.min():.2g} {unit} apart: leave one of them out"
            )
    return _plan(
        np.ascontiguousarray(heave, dtype=np.float64).tobytes(),
        np.ascontiguousarray(roll, dtype=np.float64).tobytes(),
        tuple(float(value) for value in extra),
        axes,
    )


def solve_plan(
    linkage: Linkage,
    plan: Plan,
    home: Solution,
    zero: Floats,
    *,
    step_end: float = STEP_END,
    loaded: tuple[str, ...] = (),
) -> Solution:
    """March over a plan from a solved home pose; inputs of the plan count from `zero`; `loaded` as in `run`.

    Raises
    ------
    SolverError
        A node that could not be solved, with its inputs and the reason; for a lock, where it begins.
    """
    answer = run(
        linkage,
        plan.inputs + zero,
        plan.parent,
        plan.grand,
        start=home.coordinates[0],
        start_rotation=home.rotation[0],
        step_end=step_end,
        loaded=loaded,
    )
    if _accepted(answer):
        return answer
    bad = np.flatnonzero((answer.status != 0) & (answer.status != 4))
    if bad.size == 0:
        bad = np.array([int(np.nanargmax(answer.distance))])
    node = int(bad[0])
    raise SolverError(_where_it_ends(linkage, plan, answer, node, zero))


def _where_it_ends(linkage: Linkage, plan: Plan, answer: Solution, node: int, zero: Floats) -> str:
    """Words for a node that failed: bisect from its neighbour to the last pose that can be reached."""

    def place(inputs: Floats) -> str:
        return ", ".join(axis.say(float(value)) for axis, value in zip(plan.axes, inputs, strict=False))

    here = plan.inputs[node]
    text = place(here)
    if answer.status[node] == 0:
        return (
            f"the linkage did not settle at {text}: {answer.distance[node]:.3g} m from equilibrium "
            f"(accepted: {DISTANCE_ACCEPTED:.1g} m)"
        )
    reason = STATUS_WORDS[int(answer.status[node])]
    root = int(plan.parent[node])
    if root < 0:
        return f"the linkage could not be solved at {text}: {reason}"
    base = plan.inputs[root]
    start, rotation = answer.coordinates[root], answer.rotation[root]
    good, bad = 0.0, 1.0
    factor = float(answer.lock_factor[root])
    links = np.array([-1, 0], dtype=np.int64), np.array([-1, -1], dtype=np.int64)
    for _ in range(9):
        share = 0.5 * (good + bad)
        trial = run(
            linkage, np.stack([base, base + share * (here - base)]) + zero, *links, start=start, start_rotation=rotation
        )
        if _accepted(trial):
            good, factor = share, float(trial.lock_factor[1])
        else:
            bad = share
    last = base + good * (here - base)
    return (
        f"the linkage could not be solved at {text}: {reason}; it moves freely to {place(last)}, "
        f"where a coordinate moves {factor:.1f} times as far as the wheels"
    )
