"""How an axle gives way in its bushes under forces from the road, heave, roll and steering held."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage.axle import Axle
from tussock.mechanics.linkage.diagnosis import evaluate


@dataclass(frozen=True, kw_only=True)
class AxleCompliance:
    """Small motion of the axle under loads at its centre, in chassis axes.

    Attributes
    ----------
    heave, roll : float
        [m], [rad].
    matrix : array (6, 6)
        Motion (x, y, z [m]; rotation about x, y, z [rad]) by load (force x, y, z [N]; moment x, y, z [N m]); symmetric.
    lateral : float
        Sideways motion of the contact patches (mean) by side force shared by them, heave and roll held [m/N].
    steer : float
        Yaw of the axle by that side force [rad/N].
    aligning : float
        Yaw of the axle by a moment about the vertical [rad/(N m)].
    braking : float
        Caster lost by a braking force shared by the contact patches, brakes locked to the axle [rad/N].
    """

    heave: float
    roll: float
    matrix: Floats
    lateral: float
    steer: float
    aligning: float
    braking: float


def axle_compliance(axle: Axle, heave: float, roll: float) -> AxleCompliance:
    """Compliance of the axle at a pose, from the exact second derivatives of the energy.

    Parameters
    ----------
    axle : Axle
    heave, roll : float
        [m], [rad].

    Returns
    -------
    AxleCompliance
        Zero where rigid links alone locate the axle.

    Raises
    ------
    SolverError
        The pose cannot be reached.
    """
    s = axle.solve(np.array([heave]), np.array([roll]))
    here = evaluate(axle.linkage, s.coordinates[0], s.rotation[0], s.multipliers[0])
    free = axle.linkage.tables.free
    m = here.residual.size
    g = here.jacobian[:, free]
    kkt = np.block([[here.hessian[np.ix_(free, free)], g.T], [g, np.zeros((m, m))]])
    # the twist of the axle by its six coordinates: translation, then yaw, pitch and roll about their own axes
    yaw, pitch = s.coordinates[0, 3:5]
    twist = np.zeros((6, axle.linkage.start.size))
    twist[:3, :3] = np.eye(3)
    twist[3:, 3] = 0.0, 0.0, 1.0
    twist[3:, 4] = -np.sin(yaw), np.cos(yaw), 0.0
    twist[3:, 5] = np.cos(yaw) * np.cos(pitch), np.sin(yaw) * np.cos(pitch), -np.sin(pitch)
    rows = np.hstack([twist[:, free], np.zeros((6, m))])
    matrix = rows @ np.linalg.solve(kkt, rows.T)
    # a force at the contact patches is the same at the centre with its moment
    contacts = axle.wheel_centres - np.array([0.0, 0.0, axle.wheel_radius])
    lever = np.mean([s.point("axle", contact)[0] for contact in contacts], axis=0) - s.position[0, 0]

    def load(force: Floats) -> Floats:
        return np.concatenate([force, np.cross(lever, force)])

    side, brake = load(np.array([0.0, 1.0, 0.0])), load(np.array([-1.0, 0.0, 0.0]))
    return AxleCompliance(
        heave=heave,
        roll=roll,
        matrix=matrix,
        lateral=float(side @ matrix @ side),
        steer=float(matrix[5] @ side),
        aligning=float(matrix[5, 5]),
        braking=float(matrix[4] @ brake),
    )
