"""Equilibrium of a linkage under finite loads from the road, carried by its springs: bush loads and what gives way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from tussock.errors import InputError, SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage import kernels
from tussock.mechanics.linkage.model import CHASSIS, Linkage
from tussock.mechanics.linkage.solution import Solution

#: Newton's steps; the loads' own turning is left out of its matrix, so it converges linearly, but fast.
STEPS = 60
#: Step at which the loaded pose is taken [m].
STEP_END = 1e-11
#: Step above which the stiffness matrix is not followed [m].
LARGEST_STEP = 0.02


@dataclass(frozen=True, kw_only=True)
class PointLoad:
    """A force and a moment of constant direction on a body.

    Attributes
    ----------
    body : str
    at : array (3,)
        Point in the stock pose [m]; it moves with the body.
    force, moment : array (3,)
        In chassis axes [N], [N m].
    """

    body: str
    at: Floats
    force: Floats = field(default_factory=lambda: np.zeros(3))
    moment: Floats = field(default_factory=lambda: np.zeros(3))


@dataclass(frozen=True, kw_only=True)
class Support:
    """A spring whose force is whatever holds the travel: seats on a body and on the chassis, stock pose [m]."""

    name: str
    body: str
    at: Floats
    chassis: Floats


def equilibrium(
    linkage: Linkage,
    at: Solution,
    loads: Sequence[PointLoad],
    supports: Sequence[Support] = (),
) -> tuple[Solution, Floats]:
    """Pose of a linkage under loads, its inputs held where they are.

    Parameters
    ----------
    linkage : Linkage
    at : Solution
        A single solved pose without the loads.
    loads : sequence of PointLoad
    supports : sequence of Support
        As many as there are inputs that springs hold (travel, or heave and roll, which stand first): their forces are
        found such that nothing else need hold those inputs. Without any, the inputs are held by unseen hands.

    Returns
    -------
    solution : Solution
        One pose; its `force` is what still holds each input.
    forces : array (number of supports,)
        Force of each spring, pushing apart positive [N].

    Raises
    ------
    SolverError
        The pose under load was not found; the text gives the step left.
    """
    t = linkage.tables
    if len(supports) > t.held.size:
        raise InputError(f"{len(supports)} springs cannot hold {t.held.size} inputs; give one for each at most")
    free, rows = t.free, t.held[: len(supports)]
    q, rot = at.coordinates[0].copy(), np.ascontiguousarray(at.rotation[0].reshape(-1, 9)).copy()
    lam, carried = at.multipliers[0].copy(), np.zeros(len(supports))
    nb, n, m = len(linkage.bodies), q.size, lam.size
    pos, tw = np.zeros((nb, 3)), np.zeros((nb, t.cols.shape[1], 6))
    grad, hess, res, jac = np.zeros(n), np.zeros((n, n)), np.zeros(m), np.zeros((m, n))
    gt, ht, buf = np.zeros((nb, 6)), np.zeros((t.pairs.shape[0], 6, 6)), np.zeros((40, 3))
    eqs = np.concatenate([free, rows])
    scale = np.concatenate([t.scale[free], np.zeros(m + len(supports))])
    step = np.inf
    for _turn in range(STEPS):
        kernels.absorb(t.bi, q, rot)
        kernels.place(t.bi, t.bf, q, pos, rot, tw)
        energy = kernels.assemble(
            1, t.bi, t.cols, t.pairs, t.ei, t.ef, t.ek, pos, rot, tw, lam, gt, ht, buf, grad, hess, res, jac
        )
        outside = sum((_generalised(linkage, load, rot, tw) for load in loads), np.zeros(n))
        lines = np.array([_spring_line(linkage, s, pos, rot, tw) for s in supports]).reshape(-1, n)
        if step < STEP_END:
            break
        open_force = grad - outside - carried @ lines
        matrix = np.block(
            [
                [hess[np.ix_(eqs, free)], jac[:, eqs].T, -lines[:, eqs].T],
                [jac[:, free], np.zeros((m, m + len(supports)))],
            ]
        )
        try:
            x = np.linalg.solve(matrix, -np.concatenate([open_force[eqs], res]))
        except np.linalg.LinAlgError:
            raise SolverError("the linkage cannot carry the load: its stiffness is singular in this pose") from None
        step = float(np.max(np.abs(x) * scale))
        if not np.isfinite(step):
            raise SolverError("the linkage cannot carry the load: a step without a number")
        x *= min(1.0, LARGEST_STEP / step) if step > 0.0 else 1.0
        q[free] += x[: free.size]
        lam += x[free.size : free.size + m]
        carried += x[free.size + m :]
    else:
        raise SolverError(
            f"the linkage was not found in equilibrium under the load after {STEPS} steps; the last was "
            f"{1e3 * step:.3g} mm (accepted: {1e3 * STEP_END:.1g} mm)"
        )
    left = grad - outside - carried @ lines
    nu = t.held.size
    solution = Solution(
        linkage=linkage,
        inputs=q[t.held][None, :],
        position=pos[None],
        rotation=rot.reshape(1, nb, 3, 3),
        twist=np.full((1, nb, nu, 6), np.nan),
        coordinates=q[None],
        multipliers=lam[None],
        energy=np.array([energy]),
        force=left[t.held][None],
        stiffness=np.full((1, nu, nu), np.nan),
        slope=np.full((1, n, nu), np.nan),
        hard_residual=np.array([float(np.abs(res).max(initial=0.0))]),
        distance=np.array([step]),
        iterations=np.zeros(1, dtype=np.int64),
        pieces=np.zeros(1, dtype=np.int64),
        status=np.zeros(1, dtype=np.int64),
        give=np.zeros((1, 0, 0)),
    )
    return solution, carried


def _generalised(linkage: Linkage, load: PointLoad, rot: Floats, tw: Floats) -> Floats:
    """Load by every coordinate (n,)."""
    out = np.zeros(linkage.start.size)
    if load.body == CHASSIS:
        return out
    k = linkage.index[load.body]
    lever = rot[k].reshape(3, 3) @ (load.at - linkage.bodies[k].at)
    wrench = np.concatenate([load.force, load.moment + np.cross(lever, load.force)])
    columns = int(linkage.tables.bi[k, 3])
    np.add.at(out, linkage.tables.cols[k, :columns], tw[k, :columns] @ wrench)
    return out


def _spring_line(linkage: Linkage, s: Support, pos: Floats, rot: Floats, tw: Floats) -> Floats:
    """Load by every coordinate of a unit force that pushes the seats apart (n,)."""
    k = linkage.index[s.body]
    here = pos[k] + rot[k].reshape(3, 3) @ (s.at - linkage.bodies[k].at)
    away = here - s.chassis
    size = float(np.linalg.norm(away))
    if not size > 1e-9:
        raise InputError(f"the seats of '{s.name}' lie on each other; its force has no direction")
    return _generalised(linkage, PointLoad(body=s.body, at=s.at, force=away / size), rot, tw)
