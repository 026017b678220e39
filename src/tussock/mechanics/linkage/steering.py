"""Steering of a rigid axle: the road wheels over heave and roll, and the steering wheel after a lift."""

from __future__ import annotations

import numpy as np

from tussock.errors import InputError, SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage.axle import Axle
from tussock.mechanics.linkage.solution import Solution


def wheels(axle: Axle, s: Solution) -> tuple[list[Floats], Floats]:
    """Spin axes of both wheels in chassis axes, and their steer relative to the axle (np, 2) [rad]."""
    left = np.array([0.0, 1.0, 0.0])
    if not axle.steers:
        return [s.direction("axle", left)] * 2, np.zeros((s.inputs.shape[0], 2))
    forward, side = s.direction("axle", np.array([1.0, 0.0, 0.0])), s.direction("axle", left)
    spins = [s.direction(f"knuckle_{word}", left) for word in ("left", "right")]
    steers = [np.arctan2(-np.einsum("pi,pi->p", v, forward), np.einsum("pi,pi->p", v, side)) for v in spins]
    return spins, np.stack(steers, axis=1)


def steer_slopes(axle: Axle, s: Solution, spins: list[Floats]) -> Floats:
    """Slope of the steer relative to the axle by each input (np, 2, nu)."""
    left, ahead = np.array([0.0, 1.0, 0.0]), np.array([1.0, 0.0, 0.0])
    forward, side = s.direction("axle", ahead), s.direction("axle", left)
    d_forward, d_side = s.direction_slope("axle", ahead), s.direction_slope("axle", left)
    found = []
    for word, spin in zip(("left", "right"), spins, strict=True):
        d_spin = s.direction_slope(f"knuckle_{word}", left)
        x = -np.einsum("pi,pi->p", spin, forward)[:, None]
        y = np.einsum("pi,pi->p", spin, side)[:, None]
        dx = -np.einsum("pui,pi->pu", d_spin, forward) - np.einsum("pi,pui->pu", spin, d_forward)
        dy = np.einsum("pui,pi->pu", d_spin, side) + np.einsum("pi,pui->pu", spin, d_side)
        found.append((y * dx - x * dy) / (x * x + y * y))
    return np.stack(found, axis=1)


def straight_ahead(axle: Axle, heave: float, roll: float = 0.0) -> float:
    """Pitman angle from stock that points the road wheels straight ahead at a pose [rad].

    Times the ratio of the steering box it is the angle at which the steering wheel stands off centre after a lift.

    Raises
    ------
    InputError
        The axle has no pitman arm that turns.
    SolverError
        No angle within 0.5 rad does it.
    """
    if not axle.moves_steering:
        raise InputError(f"{axle.name}: the hardpoint 'pitman_shaft' is needed to turn the steering")
    angle = 0.0
    for _ in range(20):
        s = axle.solve(np.array([heave]), np.array([roll]), angle)
        spins, steers = wheels(axle, s)
        error = float(np.mean(steers) + s.coordinates[0, 3])
        slope = steer_slopes(axle, s, spins)[0, :, 2]
        rate = float(np.mean(slope)) + float(s.slope[0, 3, 2])
        step = -error / rate
        angle += float(np.clip(step, -0.1, 0.1))
        if abs(step) < 1e-12:
            return angle
        if abs(angle) > 0.5:
            break
    raise SolverError(
        f"{axle.name}: no pitman angle within 0.5 rad points the road wheels straight ahead at heave "
        f"{1e3 * heave:.1f} mm; last tried {angle:.3f} rad, {np.rad2deg(error):.3f} deg off"
    )
