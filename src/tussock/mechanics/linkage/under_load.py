"""A suspension under finite loads from the road: how its wheels turn and shift, and what every joint carries."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from tussock.errors import InputError, SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage.axle import Axle
from tussock.mechanics.linkage.loads import PointLoad, Support, equilibrium
from tussock.mechanics.linkage.model import Rod
from tussock.mechanics.linkage.solution import Solution
from tussock.mechanics.linkage.stations import (
    Station,
    Suspension,
    WheelForce,
    attitude_rows,
    contact_lever,
    stations,
    wheel_spin,
)


@dataclass(frozen=True, kw_only=True)
class LoadedState:
    """A suspension under loads, its two inputs held; changes are against the linkage without them. k wheels.

    Attributes
    ----------
    steer : array (k,)
        Left positive [rad].
    toe, camber, caster : array (k,)
        Toe-in, top outward, top rearward positive [rad]; minus the change of caster of a rigid axle is its wind-up.
    contact, centre : array (k, 3)
        Movement of the point that was the contact patch and of the wheel centre, forward, left, up [m].
    joint_loads : mapping of joint name to array (6,)
        In the joint's frame, three forces and three moments; a rod has its tension first [N, N m].
    resultant : mapping of joint name to float
        Size of the force in each joint [N].
    spring_forces : array
        Of the springs that carry the load, compression positive [N]; empty where unseen hands hold the inputs.
    held : array (nu,)
        What still holds each input: up on the axle or wheel, and so on [N], [N m].
    solution : Solution
        The pose under load, one row; its slopes are not filled.
    """

    steer: Floats
    toe: Floats
    camber: Floats
    caster: Floats
    contact: Floats
    centre: Floats
    joint_loads: Mapping[str, Floats]
    resultant: Mapping[str, float]
    spring_forces: Floats
    held: Floats
    solution: Solution


def under_load(
    suspension: Suspension,
    first: float,
    forces: Sequence[WheelForce],
    *,
    second: float = 0.0,
    steer: float = 0.0,
    springs: str | None = "auto",
) -> LoadedState:
    """Equilibrium of a suspension under forces from the road, finite deflections of bushes and leaves included.

    Parameters
    ----------
    suspension : Axle or Wheel
    first, second : float
        Heave [m] and roll [rad] of an axle; travel [m] and steering input [m or rad] of a wheel.
    forces : sequence of WheelForce
        One for each wheel.
    steer : float, optional
        Angle at which the pitman arm of an axle is held [rad].
    springs : str or None
        Attachment whose forces carry the load. 'auto': ``spring``, unless the linkage has springs of its own (leaves, a
        torsion bar). None leaves the heave and roll, or the travel, to unseen hands.

    Returns
    -------
    LoadedState

    Raises
    ------
    SolverError
        The pose or its equilibrium under the load cannot be found.
    InputError
        No such attachment; not one force for each wheel.
    """
    wheels = stations(suspension)
    if len(forces) != len(wheels):
        raise InputError(f"{suspension.name}: {len(forces)} wheel forces for {len(wheels)} wheels; give one for each")
    if isinstance(suspension, Axle):
        s = suspension.solve(np.array([first]), np.array([second]), steer)
    else:
        s = suspension.solve(np.array([first]), np.array([second]))
    loads: list[PointLoad] = []
    patches = []
    for station, force in zip(wheels, forces, strict=True):
        at = _point_on(station, s)
        patches.append(at)
        turn = station.turn
        loads.append(
            PointLoad(
                body=station.body,
                at=at,
                force=np.array([force.forward, turn * force.left, force.up]),
                moment=np.array([turn * force.roll_torque, 0.0, turn * force.aligning]),
            )
        )
        if force.drive != 0.0:
            loads.append(
                PointLoad(body=station.body, at=station.centre, force=np.array([force.drive, 0.0, 0.0]))
            )  # fmt: skip
    try:
        loaded, carried = equilibrium(suspension.linkage, s, loads, _supports(suspension, springs))
    except (InputError, SolverError) as error:
        raise type(error)(f"{suspension.name}: {error}") from None
    angles = np.array([_turned(station, s, loaded) for station in wheels])
    side = np.array([[1.0, station.turn, 1.0] for station in wheels])
    inward = np.array([-station.outward * station.turn for station in wheels])
    joint_loads = {e.name: loaded.joint_loads(e.name)[0] for e in suspension.linkage.elements}

    def moved(points: Sequence[Floats]) -> Floats:
        steps = [
            loaded.point(station.body, at)[0] - s.point(station.body, at)[0]
            for station, at in zip(wheels, points, strict=True)
        ]
        return np.asarray(side * np.array(steps))

    return LoadedState(
        steer=angles[:, 0],
        toe=inward * angles[:, 0],
        camber=angles[:, 1],
        caster=angles[:, 2],
        contact=moved(patches),
        centre=moved([station.centre for station in wheels]),
        joint_loads=joint_loads,
        resultant={name: float(np.linalg.norm(values[:3])) for name, values in joint_loads.items()},
        spring_forces=carried,
        held=loaded.force[0],
        solution=loaded,
    )


def _point_on(station: Station, s: Solution) -> Floats:
    """Place in the stock pose of the body's point that is the contact patch here [m]."""
    turn = s.rotation[0, s.linkage.index[station.body]]
    return np.asarray(station.centre + turn.T @ contact_lever(station, s)[0])


def _turned(station: Station, before: Solution, after: Solution) -> Floats:
    """Change of steer (left), camber and caster between two poses (3,) [rad]; steer and camber exact."""
    was, now = wheel_spin(station, before)[0], wheel_spin(station, after)[0]
    steer = np.arctan2(-now[0], now[1]) - np.arctan2(-was[0], was[1])
    camber = station.outward * (np.arcsin(was[2]) - np.arcsin(now[2]))
    k = before.linkage.index[station.body]
    relative = after.rotation[0, k] @ before.rotation[0, k].T
    turn = 0.5 * np.array(
        [relative[2, 1] - relative[1, 2], relative[0, 2] - relative[2, 0], relative[1, 0] - relative[0, 1]]
    )
    size = float(np.linalg.norm(turn))
    turn *= np.arcsin(size) / size if size > 1e-12 else 1.0
    return np.array([station.turn * steer, camber, float(attitude_rows(station, before)[0, 2] @ turn)])


def _supports(suspension: Suspension, springs: str | None) -> list[Support]:
    """Springs that carry the load."""
    own = any(e.spring for e in suspension.linkage.elements if not isinstance(e, Rod) or e.name == "spring")
    if springs == "auto":
        springs = "spring" if "spring" in suspension.attachments and not own else None
    if springs is None:
        return []
    if springs not in suspension.attachments:
        raise InputError(
            f"{suspension.name}: there is no '{springs}' to carry it; the attachments are "
            + (", ".join(suspension.attachments) or "none")
        )
    if isinstance(suspension, Axle):
        pair = suspension.attachments[springs]
        if len(pair.bodies) != 2:
            raise InputError(f"{suspension.name}: '{springs}' is central; two are needed to hold heave and roll")
        return [
            Support(name=f"{springs}_{side}", body=body, at=at, chassis=chassis)
            for side, body, at, chassis in zip(("left", "right"), pair.bodies, pair.at, pair.chassis, strict=True)
        ]
    part = suspension.attachments[springs]
    return [Support(name=springs, body=part.body, at=part.at, chassis=part.chassis)]
