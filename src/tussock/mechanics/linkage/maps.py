"""The map of a rigid axle's motion that heights, travel and the moving vehicle read."""

from __future__ import annotations

import numpy as np

from tussock.errors import InputError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.axle_map import AxleMap, BodyPath
from tussock.mechanics.linkage.axle import Axle, attachment_lengths
from tussock.mechanics.linkage.steering import wheels

HEAVE_RANGE = 0.14
ROLL_RANGE = float(np.deg2rad(14.0))
#: The pieces of hardware whose lengths an axle map carries.
MAP_PARTS = ("spring", "damper", "stop")


def uniform_grid(name: str, heave: Floats, roll: Floats) -> None:
    """Refuse a grid that is not uniform and rising with an InputError."""
    for word, values in (("heave", heave), ("roll", roll)):
        steps = np.diff(values)
        if values.ndim != 1 or values.size < 2 or steps.min() <= 0.0 or np.ptp(steps) > 1e-9:
            raise InputError(f"{name}: the {word} values of a map must rise in equal steps; two or more are needed")


def axle_map(axle: Axle, heave: Floats | None = None, roll: Floats | None = None, *, steer: float = 0.0) -> AxleMap:
    """Map of the axle's motion for heights, travel and the moving vehicle.

    Parameters
    ----------
    axle : Axle
        With attachments ``spring``, ``damper`` and ``stop``, left and right.
    heave, roll : array, optional
        Uniform, rising [m], [rad]; 15 values over +-140 mm and 13 over +-14 deg if not given.
    steer : float, optional
        Angle at which the pitman arm is held [rad].

    Returns
    -------
    AxleMap

    Raises
    ------
    SolverError
        A node that cannot be reached or did not settle.
    InputError
        A grid that is not uniform and rising, or a missing attachment.
    """
    h = np.linspace(-HEAVE_RANGE, HEAVE_RANGE, 15) if heave is None else np.asarray(heave, dtype=np.float64)
    r = np.linspace(-ROLL_RANGE, ROLL_RANGE, 13) if roll is None else np.asarray(roll, dtype=np.float64)
    uniform_grid(axle.name, h, r)
    missing = [part for part in MAP_PARTS if part not in axle.attachments]
    if missing:
        raise InputError(
            f"{axle.name}: a map needs the seats of {', '.join(missing)}: hardpoints '{missing[0]}_chassis' and "
            f"'{missing[0]}_axle'"
        )
    s = axle.solve(h, r, steer)
    shape = (h.size, r.size)
    lengths = {}
    for part in MAP_PARTS:
        curves = attachment_lengths(axle, s, part)
        if len(curves) != 2:
            raise InputError(f"{axle.name}: a map needs the {part} on both sides, but '{part}' is called central")
        lengths[part] = np.stack([length for length, _ in curves], axis=1).reshape(*shape, 2)
    spins, steers = wheels(axle, s)
    carrier = s.coordinates[:, :6]
    return AxleMap.of_rigid(
        heave=h,
        roll=r,
        centre_x=carrier[:, 0].reshape(shape),
        centre_y=carrier[:, 1].reshape(shape),
        centre_z0=float(axle.centre[2]),
        design_x=float(axle.centre[0]),
        pitch=carrier[:, 4].reshape(shape),
        yaw=carrier[:, 3].reshape(shape),
        spring=lengths["spring"],
        damper=lengths["damper"],
        stop=lengths["stop"],
        steer=steers.reshape(*shape, 2),
        spin=np.stack(spins, axis=1).reshape(*shape, 2, 3),
        energy=(s.energy - axle.home.energy[0]).reshape(shape),
        track=axle.track,
        bodies={
            body.name: BodyPath(
                stock=body.at,
                position=s.position[:, k].reshape(*shape, 3),
                rotation=s.rotation[:, k].reshape(*shape, 3, 3),
            )
            for k, body in enumerate(axle.linkage.bodies)
        },
    )
