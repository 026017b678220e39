"""Derivatives of a linkage at one pose, and what they say of a linkage that is wrong."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tussock.errors import AssemblyError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage import kernels
from tussock.mechanics.linkage.model import Linkage, Rod
from tussock.mechanics.linkage.solution import Solution

#: Largest stretch of a bush or soft link that a parked vehicle can have [m]; common practice, no source.
STRAIN_ACCEPTED = 0.020


@dataclass(frozen=True, kw_only=True)
class Evaluation:
    """Energy and derivatives of a linkage at one pose.

    Attributes
    ----------
    energy : float
        Elastic energy [J].
    gradient : array (n,)
        Gradient of energy + multipliers times hard rows.
    hessian : array (n, n)
        Its exact second derivative.
    residual : array (m,)
        Hard rows [m or rad].
    jacobian : array (m, n)
        Their gradient.
    """

    energy: float
    gradient: Floats
    hessian: Floats
    residual: Floats
    jacobian: Floats


def evaluate(
    linkage: Linkage, coordinates: Floats, rotation: Floats | None = None, multipliers: Floats | None = None
) -> Evaluation:
    """Energy, gradient, Hessian and hard rows at one pose.

    Parameters
    ----------
    linkage : Linkage
    coordinates : array (n,)
    rotation : array (nb, 3, 3), optional
        Attitudes that free bodies start from; their rotation coordinates turn them further.
    multipliers : array (m,), optional
        Forces of the hard rows; zero if not given.

    Returns
    -------
    Evaluation
    """
    t = linkage.tables
    nb, n, m = len(linkage.bodies), linkage.start.size, len(linkage.hard_rows)
    q = np.array(coordinates, dtype=np.float64)
    rot = (
        np.tile(np.eye(3).ravel(), (nb, 1)) if rotation is None else np.array(rotation, dtype=np.float64).reshape(nb, 9)
    )
    lam = np.zeros(m) if multipliers is None else np.asarray(multipliers, dtype=np.float64)
    pos = np.zeros((nb, 3))
    tw = np.zeros((nb, t.cols.shape[1], 6))
    grad, hess, res, jac = np.zeros(n), np.zeros((n, n)), np.zeros(m), np.zeros((m, n))
    kernels.absorb(t.bi, q, rot)
    kernels.place(t.bi, t.bf, q, pos, rot, tw)
    energy = kernels.assemble(
        1, t.bi, t.cols, t.pairs, t.ei, t.ef, t.ek, pos, rot, tw, lam,
        np.zeros((nb, 6)), np.zeros((t.pairs.shape[0], 6, 6)), np.zeros((40, 3)), grad, hess, res, jac,
    )  # fmt: skip
    return Evaluation(energy=float(energy), gradient=grad, hessian=hess, residual=res, jacobian=jac)


def check_rods_independent(linkage: Linkage) -> None:
    """Check at the stock pose that hard rows do not fight each other; raises AssemblyError with their names."""
    t = linkage.tables
    if not linkage.hard_rows:
        return
    g = evaluate(linkage, linkage.start).jacobian[:, t.free] / t.scale[t.free]
    m = g.shape[0]
    left, values, _ = np.linalg.svd(g, full_matrices=True)
    rank = int(np.sum(values > 1e-7 * max(1.0, values[0])))
    if rank < m:
        weight = np.abs(left[:, rank:]).max(axis=1)
        names = sorted({linkage.hard_rows[r] for r in range(m) if weight[r] > 0.05})
        what = "this rod holds nothing" if len(names) == 1 else "these rods hold the same motion twice"
        raise AssemblyError(
            f"{', '.join(names)}: {what} ({m} hard rows, only {rank} independent); "
            "give them the stiffness of their end bushes, or take one away"
        )


def check_located(linkage: Linkage, at: Solution | None = None) -> None:
    """Check that every coordinate is located, at a solved pose or at stock.

    Raises
    ------
    AssemblyError
        With the name of the direction that is loose.
    """
    t = linkage.tables
    if at is None:
        here = evaluate(linkage, linkage.start)
    else:
        here = evaluate(linkage, at.coordinates[0], at.rotation[0], at.multipliers[0])
    free = t.free
    g = here.jacobian[:, free] / t.scale[free]
    null = np.eye(free.size)
    if g.shape[0]:
        null = np.linalg.svd(g, full_matrices=True)[2][g.shape[0] :].T
    if null.shape[1] == 0:
        return
    scaled = here.hessian[np.ix_(free, free)] / np.outer(t.scale[free], t.scale[free])
    values, vectors = np.linalg.eigh(null.T @ scaled @ null)
    floor = 1e-9 * max(1.0, float(np.abs(np.diag(scaled)).max()))
    if values[0] < floor:
        loose = null @ vectors[:, 0]
        order = np.argsort(-np.abs(loose))[:3]
        parts = [linkage.coordinate_name(int(free[i])) for i in order if abs(loose[i]) > 0.2 * abs(loose[order[0]])]
        raise AssemblyError(
            f"the linkage is not located: nothing resists {', '.join(parts)}"
            f" (stiffness {values[0]:.3g} N/m in that direction); a rod, joint or bush rate is missing"
        )


def why_not_assembled(linkage: Linkage, inputs: Floats, reason: str) -> str:
    """Least-squares fit of the hard rows; the rows that stay open name the rods that miss."""
    from scipy.optimize import least_squares

    t = linkage.tables
    q0 = linkage.start.copy()
    q0[t.held] = inputs

    def full(x: Floats) -> Floats:
        q = q0.copy()
        q[t.free] = x
        return q

    def open_ends(x: Floats) -> Floats:
        return evaluate(linkage, full(x)).residual

    words = f"the linkage cannot be put together at inputs {np.round(inputs, 5).tolist()}: {reason}"
    if not linkage.hard_rows:
        return words
    fit = least_squares(open_ends, q0[t.free], x_scale=1.0 / t.scale[t.free], method="trf")
    open_rows = evaluate(linkage, full(fit.x)).residual
    worst = np.argsort(-np.abs(open_rows))
    parts = [
        f"{linkage.hard_rows[r]} is {1e3 * abs(open_rows[r]):.1f} mm too {'short' if open_rows[r] > 0.0 else 'long'}"
        for r in worst
        if abs(open_rows[r]) > 1e-6
    ]
    if parts:
        return f"{words}; in the closest pose {', '.join(parts[:4])}"
    return f"{words}; the rods alone would fit, so the bush rates or the changed points ask for too much"


def check_strain(home: Solution) -> None:
    """Refuse a pose that only a torn bush could take: a soft row stretched by more than any bush can be."""
    for element in home.linkage.elements:
        if element.spring:
            continue
        held = (True, False, False) if isinstance(element, Rod) else tuple(row is not None for row in element.rows[:3])
        rows = np.abs(home.joint_rows(element.name)[0, :3]) * held
        if rows.max() > STRAIN_ACCEPTED:
            raise AssemblyError(
                f"the linkage cannot be put together: the bushes of {element.name} would have to give by "
                f"{1e3 * rows.max():.1f} mm (more than {1e3 * STRAIN_ACCEPTED:.0f} mm is taken as an error); check its "
                "length, the other rods' and the changed points"
            )
