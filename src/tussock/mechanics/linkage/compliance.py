"""How a suspension gives way in its bushes under small forces from the road, its inputs held: over whole grids.

From the exact second derivatives of the energy, in the same march that solves the poses.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tussock.errors import InputError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage.axle import Axle
from tussock.mechanics.linkage.solution import Solution
from tussock.mechanics.linkage.stations import (
    Suspension,
    WheelForce,
    attitude_rows,
    contact_lever,
    stations,
)
from tussock.mechanics.linkage.wheel import Wheel


@dataclass(frozen=True, kw_only=True)
class SmallResponse:
    """Change of every wheel under small loads, arrays (n1, n2, k) for k wheels.

    Attributes
    ----------
    steer : array
        Left positive [rad].
    toe, camber, caster : array
        Toe-in, top outward, top rearward positive [rad].
    contact, centre : array (n1, n2, k, 3)
        Movement of the contact patch and of the wheel centre, forward, left, up [m].
    """

    steer: Floats
    toe: Floats
    camber: Floats
    caster: Floats
    contact: Floats
    centre: Floats


@dataclass(frozen=True, kw_only=True)
class Compliance:
    """Small motion of the wheels of a suspension under loads, over a grid of its two inputs, which are held.

    Attributes
    ----------
    sides : tuple of str
        The k wheels.
    matrix : array (n1, n2, 6 k, 6 k)
        Motion of the contact patches (x, y, z [m]; rotation about x, y, z [rad]) by loads there (force [N], moment
        [N m]), each wheel locked to what carries it; symmetric. An independent right wheel is as its mirror image.
    levers : array (n1, n2, k, 3)
        From wheel centre to contact patch [m].
    rows : array (n1, n2, k, 3, 3)
        Steer, camber and caster by rotation about chassis axes.
    turns, outward : array (k,)
        Signs of `Station`.
    """

    sides: tuple[str, ...]
    matrix: Floats
    levers: Floats
    rows: Floats
    turns: Floats
    outward: Floats

    def response(self, forces: Sequence[WheelForce]) -> SmallResponse:
        """Small response to forces, one for each wheel; scales with them."""
        k = len(self.sides)
        if len(forces) != k:
            raise InputError(f"{len(forces)} wheel forces for {k} wheels; give one for each")
        shape = self.matrix.shape[:2]
        loads = np.zeros((*shape, 6 * k))
        for w, force in enumerate(forces):
            turn = self.turns[w]
            loads[..., 6 * w : 6 * w + 3] = force.forward + force.drive, turn * force.left, force.up
            loads[..., 6 * w + 3] = turn * force.roll_torque
            loads[..., 6 * w + 5] = turn * force.aligning
            # a force at the centre is one at the contact patch with its moment: (centre - contact) x force
            lever = -self.levers[..., w, :]
            loads[..., 6 * w + 4] += lever[..., 2] * force.drive
            loads[..., 6 * w + 5] -= lever[..., 1] * force.drive
        moved = np.einsum("abij,abj->abi", self.matrix, loads).reshape(*shape, k, 6)
        angles = np.einsum("abkij,abkj->abki", self.rows, moved[..., 3:])
        centre = moved[..., :3] + np.cross(moved[..., 3:], -self.levers)
        side = np.stack([np.ones(k), self.turns, np.ones(k)], axis=1)
        # toe-in is a left wheel's turn to the right
        inward = -self.outward * self.turns
        return SmallResponse(
            steer=angles[..., 0],
            toe=inward * angles[..., 0],
            camber=angles[..., 1],
            caster=angles[..., 2],
            contact=moved[..., :3] * side,
            centre=centre * side,
        )


@dataclass(frozen=True, kw_only=True)
class AxleCompliance:
    """Small motion of a rigid axle under loads shared by its wheels, heave, roll and steering held; arrays (nh, nr).

    Attributes
    ----------
    matrix : array (nh, nr, 6, 6)
        Motion of the axle centre (x, y, z [m]; rotation about x, y, z [rad]) by load there (force [N], moment [N m]);
        symmetric. Zero where rigid links alone locate the axle.
    lateral : array
        Sideways motion of the contact patches (mean) by side force [m/N].
    steer : array
        Road steer (mean) by that side force [rad/N].
    axle_steer : array
        Yaw of the axle by it [rad/N].
    aligning : array
        Road steer by moments about the vertical at the wheels [rad/(N m)].
    longitudinal : array
        Rearward motion of the contact patches by a braking force, brakes locked to the axle [m/N].
    braking : array
        Caster lost by that force: the wind-up [rad/N].
    braking_steer : array
        Road steer by it [rad/N].
    wind_up : array
        Pitch of the axle by a torque about its own line [rad/(N m)].
    """

    matrix: Floats
    lateral: Floats
    steer: Floats
    axle_steer: Floats
    aligning: Floats
    longitudinal: Floats
    braking: Floats
    braking_steer: Floats
    wind_up: Floats


@dataclass(frozen=True, kw_only=True)
class WheelCompliance:
    """Small motion of an independent wheel under loads, travel and steering input held; arrays (nt, ns).

    Attributes
    ----------
    matrix : array (nt, ns, 6, 6)
        As in `Compliance`; zero where every joint is rigid.
    lateral : array
        Inward motion by an inward force [m/N].
    lateral_toe, lateral_camber : array
        Toe-in and camber (top outward) by an inward force, as on the outer wheel in a turn [rad/N].
    braking_toe, braking_caster : array
        Toe-in and caster by a rearward force, brakes in the wheel [rad/N].
    braking : array
        Rearward motion of the contact patch by that force [m/N].
    drive_toe : array
        Toe-in by a forward force at the wheel centre, the drive torque taken by the body [rad/N].
    recession : array
        Rearward motion of the wheel centre by a rearward force there [m/N].
    aligning_toe : array
        Toe-in by a moment that turns the wheel's front inward [rad/(N m)].
    """

    matrix: Floats
    lateral: Floats
    lateral_toe: Floats
    lateral_camber: Floats
    braking_toe: Floats
    braking_caster: Floats
    braking: Floats
    drive_toe: Floats
    recession: Floats
    aligning_toe: Floats


def compliance(
    suspension: Suspension, first: Floats, second: Floats | None = None, *, steer: float = 0.0
) -> Compliance:
    """Compliance of a suspension over a grid.

    Parameters
    ----------
    suspension : Axle or Wheel
    first, second : array (n1,), (n2,)
        Heave [m] and roll [rad] of an axle; travel [m] and steering input [m or rad] of a wheel.
    steer : float, optional
        Angle at which the pitman arm of an axle is held [rad].

    Raises
    ------
    SolverError
        A pose that cannot be reached.
    """
    return _of(suspension, *_solved(suspension, first, second, steer))


def _solved(
    suspension: Suspension, first: Floats, second: Floats | None, steer: float, more: tuple[str, ...] = ()
) -> tuple[Solution, tuple[int, int], list[str]]:
    a = np.atleast_1d(np.asarray(first, dtype=np.float64))
    b = np.zeros(1) if second is None else np.atleast_1d(np.asarray(second, dtype=np.float64))
    bodies = list(dict.fromkeys([station.body for station in stations(suspension)] + list(more)))
    if isinstance(suspension, Axle):
        s = suspension.solve(a, b, steer, loaded=tuple(bodies))
    else:
        s = suspension.solve(a, None if second is None else b, loaded=tuple(bodies))
    return s, (a.size, b.size), bodies


def _of(suspension: Suspension, s: Solution, shape: tuple[int, int], bodies: list[str]) -> Compliance:
    wheels = stations(suspension)
    k, count = len(wheels), s.inputs.shape[0]
    # contact patch by the reference point of the body that carries the wheel
    rows = np.zeros((count, 6 * k, 6 * len(bodies)))
    levers = np.zeros((count, k, 3))
    for w, station in enumerate(wheels):
        at = bodies.index(station.body)
        lever = contact_lever(station, s)
        levers[:, w] = lever
        arm = s.point(station.body, station.centre) + lever - s.position[:, s.linkage.index[station.body]]
        rows[:, 6 * w : 6 * w + 6, 6 * at : 6 * at + 6] = np.eye(6)
        rows[:, 6 * w : 6 * w + 3, 6 * at + 3 : 6 * at + 6] = -_cross(arm)
    matrix = rows @ s.give @ np.swapaxes(rows, 1, 2)
    attitude = np.stack([attitude_rows(station, s) for station in wheels], axis=1)
    return Compliance(
        sides=tuple(station.side for station in wheels),
        matrix=matrix.reshape(*shape, 6 * k, 6 * k),
        levers=levers.reshape(*shape, k, 3),
        rows=attitude.reshape(*shape, k, 3, 3),
        turns=np.array([station.turn for station in wheels]),
        outward=np.array([station.outward for station in wheels]),
    )


def axle_compliance(axle: Axle, heave: Floats, roll: Floats, *, steer: float = 0.0) -> AxleCompliance:
    """Compliance of a rigid axle over a grid of heave [m] and roll [rad], by loads that its wheels share equally.

    Raises
    ------
    SolverError
        A pose that cannot be reached.
    """
    s, shape, bodies = _solved(axle, heave, roll, steer, more=("axle",))
    whole = _of(axle, s, shape, bodies)
    at = 6 * bodies.index("axle")
    matrix = s.give[:, at : at + 6, at : at + 6].reshape(*shape, 6, 6)
    side, moment, brake = (
        whole.response([force, force])
        for force in (WheelForce(left=0.5), WheelForce(aligning=0.5), WheelForce(forward=-0.5))
    )
    # yaw of the axle itself, by side forces at the contact patches: through what carries the wheels
    yaw = _axle_yaw(axle, s, bodies).reshape(shape)
    return AxleCompliance(
        matrix=matrix,
        lateral=side.contact[..., 1].mean(axis=-1),
        steer=side.steer.mean(axis=-1),
        axle_steer=yaw,
        aligning=moment.steer.mean(axis=-1),
        longitudinal=-brake.contact[..., 0].mean(axis=-1),
        braking=-brake.caster.mean(axis=-1),
        braking_steer=brake.steer.mean(axis=-1),
        wind_up=matrix[..., 4, 4],
    )


def _axle_yaw(axle: Axle, s: Solution, bodies: list[str]) -> Floats:
    """Yaw of the axle by a unit side force that the contact patches share (np,) [rad/N]."""
    row = 6 * bodies.index("axle") + 5
    yaw = np.zeros(s.inputs.shape[0])
    for station in stations(axle):
        at = 6 * bodies.index(station.body)
        arm = s.point(station.body, station.centre) + contact_lever(station, s)
        arm = arm - s.position[:, s.linkage.index[station.body]]
        force = np.array([0.0, 0.5, 0.0])
        load = np.concatenate([np.broadcast_to(force, arm.shape), np.cross(arm, force)], axis=1)
        yaw += np.einsum("pi,pi->p", s.give[:, row, at : at + 6], load)
    return yaw


def wheel_compliance(wheel: Wheel, travel: Floats, steer: Floats | None = None) -> WheelCompliance:
    """Compliance of an independent wheel over a grid of travel [m] and steering input [m or rad].

    Raises
    ------
    SolverError
        A pose that cannot be reached.
    """
    found = compliance(wheel, travel, steer)
    inward, turn = -wheel.sign, -wheel.sign
    side, brake, drive, moment = (
        found.response([force])
        for force in (
            WheelForce(left=inward), WheelForce(forward=-1.0), WheelForce(drive=1.0), WheelForce(aligning=turn),
        )
    )  # fmt: skip
    return WheelCompliance(
        matrix=found.matrix,
        lateral=inward * side.contact[..., 0, 1],
        lateral_toe=side.toe[..., 0],
        lateral_camber=side.camber[..., 0],
        braking_toe=brake.toe[..., 0],
        braking_caster=brake.caster[..., 0],
        braking=-brake.contact[..., 0, 0],
        drive_toe=drive.toe[..., 0],
        recession=drive.centre[..., 0, 0],
        aligning_toe=moment.toe[..., 0],
    )


def _cross(v: Floats) -> Floats:
    """Matrices of the cross product with v (np, 3)."""
    zero = np.zeros(v.shape[0])
    return np.stack(
        [
            np.stack([zero, -v[:, 2], v[:, 1]], axis=1),
            np.stack([v[:, 2], zero, -v[:, 0]], axis=1),
            np.stack([-v[:, 1], v[:, 0], zero], axis=1),
        ],
        axis=1,
    )
