"""How an independent wheel gives way in its bushes, and what every joint carries under forces from the road."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from tussock.errors import InputError, SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage.diagnosis import evaluate
from tussock.mechanics.linkage.loads import PointLoad, Support, carrier_twist, equilibrium
from tussock.mechanics.linkage.solution import Solution
from tussock.mechanics.linkage.wheel import Wheel
from tussock.mechanics.linkage.wheel_sweep import contact_direction


@dataclass(frozen=True, kw_only=True)
class WheelCompliance:
    """Small motion of a wheel under loads, travel and steering input held; as of a left wheel.

    Attributes
    ----------
    travel, steer : float
        [m], [m or rad].
    matrix : array (6, 6)
        Motion of the contact patch (x, y, z [m]; rotation about x, y, z [rad]) by load there (force [N], moment [N m]),
        the wheel locked to the upright; symmetric.
    lateral : float
        Inward motion by an inward force [m/N].
    lateral_toe, lateral_camber : float
        Toe-in and camber (top outward) by an inward force, as on the outer wheel in a turn [rad/N].
    braking_toe, braking_caster : float
        Toe-in and caster by a rearward force, brakes in the wheel [rad/N].
    braking : float
        Rearward motion of the contact patch by that force [m/N].
    drive_toe : float
        Toe-in by a forward force at the wheel centre, the drive torque taken by the body [rad/N].
    recession : float
        Rearward motion of the wheel centre by a rearward force there [m/N].
    aligning_toe : float
        Toe-in by a moment that turns the wheel's front inward [rad/(N m)].
    """

    travel: float
    steer: float
    matrix: Floats
    lateral: float
    lateral_toe: float
    lateral_camber: float
    braking_toe: float
    braking_caster: float
    braking: float
    drive_toe: float
    recession: float
    aligning_toe: float


@dataclass(frozen=True, kw_only=True)
class WheelLoad:
    """Forces on a wheel from the road, sides alike (outward positive).

    Attributes
    ----------
    forward, outward, up : float
        Force at the contact patch [N]; braking has `forward` below zero.
    drive : float
        Forward force at the wheel centre: traction, or a brake on the final drive [N].
    aligning : float
        Moment about the vertical that turns the front of the wheel outward [N m].
    """

    forward: float = 0.0
    outward: float = 0.0
    up: float = 0.0
    drive: float = 0.0
    aligning: float = 0.0


@dataclass(frozen=True, kw_only=True)
class LoadedWheel:
    """A wheel under a load case, travel and steering held against the unloaded linkage.

    Attributes
    ----------
    joint_loads : mapping of joint name to array (6,)
        In the joint's frame, three forces and three moments; a rod has its tension first [N, N m].
    resultant : mapping of joint name to float
        Size of the force in each joint [N].
    spring_force : float
        Force of the spring that carries the wheel, compression positive [N]; 0 where no spring was named.
    toe, camber, caster : float
        Change by the load [rad]; caster of the upright.
    contact : array (3,)
        Movement of the contact patch by the load, forward, outward, up [m].
    """

    joint_loads: Mapping[str, Floats]
    resultant: Mapping[str, float]
    spring_force: float
    toe: float
    camber: float
    caster: float
    contact: Floats


def wheel_compliance(wheel: Wheel, travel: float, steer: float = 0.0) -> WheelCompliance:
    """Compliance of a wheel at a pose, from the exact second derivatives of the energy.

    Parameters
    ----------
    wheel : Wheel
    travel, steer : float
        [m], [m or rad].

    Returns
    -------
    WheelCompliance
        Zero where every joint is rigid.

    Raises
    ------
    SolverError
        The pose cannot be reached.
    """
    s = wheel.solve(np.array([travel]), np.array([steer]))
    here = evaluate(wheel.linkage, s.coordinates[0], s.rotation[0], s.multipliers[0])
    free = wheel.linkage.tables.free
    m = here.residual.size
    g = here.jacobian[:, free]
    kkt = np.block([[here.hessian[np.ix_(free, free)], g.T], [g, np.zeros((m, m))]])
    spin = s.direction("upright", wheel.spin)[0]
    lever = wheel.wheel_radius * contact_direction(spin[None, :])[0]
    moved = np.eye(6)
    moved[:3, 3:] = -_cross(lever)
    at_centre = carrier_twist(wheel.linkage, "upright", s)
    rows = np.vstack([moved @ at_centre, at_centre])[:, free]
    rows = np.hstack([rows, np.zeros((12, m))])
    whole = rows @ np.linalg.solve(kkt, rows.T)
    matrix = whole[:6, :6]
    turn = _attitude_rows(wheel, s, spin)
    # rows of the answer: toe, camber and caster by a load at the contact patch
    angles = turn @ whole[3:6, :]
    return WheelCompliance(
        travel=travel,
        steer=steer,
        matrix=matrix,
        lateral=float(matrix[1, 1]),
        lateral_toe=float(-angles[0, 1]),
        lateral_camber=float(-angles[1, 1]),
        braking_toe=float(-angles[0, 0]),
        braking_caster=float(-angles[2, 0]),
        braking=float(matrix[0, 0]),
        drive_toe=float(angles[0, 6]),
        recession=float(whole[6, 6]),
        aligning_toe=float(-angles[0, 5]),
    )


def wheel_under_load(
    wheel: Wheel, travel: float, load: WheelLoad, *, steer: float = 0.0, spring: str | None = "spring"
) -> LoadedWheel:
    """Loads of every joint of a wheel under a load case, finite deflections of the bushes included.

    Parameters
    ----------
    wheel : Wheel
    travel : float
        At which the wheel stands [m].
    load : WheelLoad
    steer : float
        [m or rad].
    spring : str or None
        Attachment whose force carries the wheel; None leaves the vertical force at the wheel centre to unseen hands, as
        for a wheel whose springs are part of the linkage.

    Returns
    -------
    LoadedWheel

    Raises
    ------
    SolverError
        The pose or its equilibrium under the load cannot be found.
    InputError
        No such attachment.
    """
    s = wheel.solve(np.array([travel]), np.array([steer]))
    supports = []
    if spring is not None:
        if spring not in wheel.attachments:
            raise InputError(
                f"{wheel.name}: there is no '{spring}' to carry the wheel; the attachments are "
                + (", ".join(wheel.attachments) or "none")
            )
        part = wheel.attachments[spring]
        supports = [Support(name=spring, body=part.body, at=part.at, chassis=part.chassis)]
    before = s.direction("upright", wheel.spin)[0]
    lever = wheel.wheel_radius * contact_direction(before[None, :])[0]
    contact = wheel.centre + s.rotation[0, wheel.linkage.index["upright"]].T @ lever
    loads = [
        PointLoad(
            body="upright",
            at=contact,
            force=np.array([load.forward, load.outward, load.up]),
            # seen from above a left wheel's front goes outward with a turn to the left
            moment=np.array([0.0, 0.0, load.aligning]),
        ),
        PointLoad(body="upright", at=wheel.centre, force=np.array([load.drive, 0.0, 0.0])),
    ]
    try:
        loaded, forces = equilibrium(wheel.linkage, s, loads, supports)
    except (InputError, SolverError) as error:
        raise type(error)(f"{wheel.name}: {error}") from None
    after = loaded.direction("upright", wheel.spin)[0]
    joint_loads = {e.name: loaded.joint_loads(e.name)[0] for e in wheel.linkage.elements}
    pitch = [q.coordinates[0, int(wheel.linkage.tables.bi[wheel.linkage.index["upright"], 2]) + 4] for q in (s, loaded)]
    return LoadedWheel(
        joint_loads=joint_loads,
        resultant={name: float(np.linalg.norm(values[:3])) for name, values in joint_loads.items()},
        spring_force=float(forces[0]) if supports else 0.0,
        toe=float(np.arctan2(after[0], after[1]) - np.arctan2(before[0], before[1])),
        camber=float(np.arcsin(before[2]) - np.arcsin(after[2])),
        caster=float(pitch[0] - pitch[1]),
        contact=loaded.point("upright", contact)[0] - s.point("upright", contact)[0],
    )


def _cross(v: Floats) -> Floats:
    return np.array([[0.0, -v[2], v[1]], [v[2], 0.0, -v[0]], [-v[1], v[0], 0.0]])


def _attitude_rows(wheel: Wheel, s: Solution, spin: Floats) -> Floats:
    """Change of toe-in, camber and the upright's caster by its rotation about chassis axes (3, 3)."""
    d_spin = -_cross(spin)
    size = spin[0] ** 2 + spin[1] ** 2
    toe = (spin[1] * d_spin[0] - spin[0] * d_spin[1]) / size
    camber = -d_spin[2] / np.sqrt(1.0 - spin[2] ** 2)
    yaw = s.coordinates[0, int(wheel.linkage.tables.bi[wheel.linkage.index["upright"], 2]) + 3]
    # caster is minus the pitch, whose axis lies across the upright, level
    return np.array([toe, camber, np.array([np.sin(yaw), -np.cos(yaw), 0.0])])
