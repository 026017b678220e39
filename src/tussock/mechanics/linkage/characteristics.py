"""Characteristics of a rigid axle over heave and roll, all from virtual work and exact slopes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from tussock.errors import InputError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.later import Later
from tussock.mechanics.linkage.angles import joint_angles
from tussock.mechanics.linkage.axle import Axle, attachment_lengths
from tussock.mechanics.linkage.solution import Solution
from tussock.mechanics.linkage.steering import wheels


@dataclass(frozen=True, kw_only=True)
class LengthCurves:
    """Length of a pair of parts (or of one) over the grid.

    Attributes
    ----------
    length : array (nh, nr, k)
        [m]; k = 2 for left and right, 1 for a single part.
    heave_ratio : array (nh, nr, k)
        Shortening per heave [-]: the motion ratio of a spring or damper in heave.
    roll_ratio : array (nh, nr, k)
        Shortening per roll [m/rad]; over half the track it is the motion ratio of one wheel in roll.
    """

    length: Floats
    heave_ratio: Floats
    roll_ratio: Floats


@dataclass(frozen=True, kw_only=True)
class AxleSweep:
    """Characteristics of a rigid axle over heave and roll relative to the body, hand wheel held.

    Arrays are (nh, nr) unless said; a last axis of 2 is left, right. Angles are relative to the stock pose, so parts of
    a kit show at zero heave too.

    Attributes
    ----------
    heave, roll : array (nh,), (nr,)
        [m], bump positive; [rad], left wheel up positive.
    centre : array (nh, nr, 3)
        Axle centre [m].
    lateral_shift : array
        Movement of the axle centre to the left [m].
    axle_steer : array
        Yaw of the axle, left positive [rad].
    pitch : array
        Rotation about the y axis, top forward positive [rad].
    caster_change : array
        Gain of caster, that is minus the pitch [rad].
    caster, king_pin_inclination : array (nh, nr, 2) or None
        Of the king pins, if given: top rearward, top inward positive [rad].
    pinion_angle : array
        Rise of the pinion's nose [rad].
    steer : array (nh, nr, 2)
        Of the road wheels relative to the axle, by tie rod and drag link, left positive [rad].
    road_steer : array (nh, nr, 2)
        Of the road wheels relative to the body: axle steer and steering linkage [rad].
    total_toe : array
        Right minus left steer, toe-in positive [rad].
    camber : array (nh, nr, 2)
        Relative to the axle's own ground line, top outward positive [rad].
    roll_centre_height : array
        Height above the axle's ground line of the point about which side forces at both contact patches do no work
        in roll at constant heave [m].
    jacking : array
        Sideways motion of the contact patches per heave [-]; side force times it is the jacking force.
    contact_slope, centre_slope : array
        Forward motion per heave of the contact patches (mean of both, fixed to the axle) and of the axle centre [-].
    lengths : mapping of name to LengthCurves
        Springs, dampers, stops and every other pair of attachment points.
    joint_angles : mapping of joint name to array (nh, nr, 2)
        Bush: cone angle and twist; rod: angle of the rod against the body at either end, from stock [rad].
    joint_loads : mapping of joint name to array (nh, nr, 6)
        Loads of bush rows in the bush's frame; a rod has its tension in row 0 [N, N m].
    heave_force, roll_moment : array
        What the bushes ask at the axle to hold the pose [N], [N m].
    heave_rate, roll_rate : array
        What the bushes add to the rates of the axle [N/m], [N m/rad].
    energy : array
        Elastic energy of the bushes [J].
    lock_factor : array
        Largest motion of any coordinate per unit of input; about 1 in mid travel, above 5 near a lock [-].
    distance : array
        Distance of each node from exact equilibrium [m].
    """

    heave: Floats
    roll: Floats
    centre: Floats
    lateral_shift: Floats
    axle_steer: Floats
    pitch: Floats
    caster_change: Floats
    caster: Floats | None
    king_pin_inclination: Floats | None
    pinion_angle: Floats
    steer: Floats
    road_steer: Floats
    total_toe: Floats
    camber: Floats
    roll_centre_height: Floats
    jacking: Floats
    contact_slope: Floats
    centre_slope: Floats
    lengths: Mapping[str, LengthCurves]
    joint_angles: Mapping[str, Floats]
    joint_loads: Mapping[str, Floats]
    heave_force: Floats
    roll_moment: Floats
    heave_rate: Floats
    roll_rate: Floats
    energy: Floats
    lock_factor: Floats
    distance: Floats


@dataclass(frozen=True, kw_only=True)
class AntiEffects:
    """Shares of the pitching reaction that the linkage carries without the springs, (nh, nr) [-]; 1 is full.

    ``braking`` is anti-dive in front and anti-lift behind; ``driving`` is anti-lift in front and anti-squat behind.
    """

    braking: Floats
    driving: Floats


def sweep(axle: Axle, heave: Floats, roll: Floats, *, steer: float = 0.0) -> AxleSweep:
    """Characteristics over a grid.

    Parameters
    ----------
    axle : Axle
    heave, roll : array (nh,), (nr,)
        Relative to the body [m], [rad]; the axle of a kit that lifts by 35 mm stands at heave -0.035.
    steer : float, optional
        Angle at which the pitman arm is held [rad].

    Returns
    -------
    AxleSweep

    Raises
    ------
    SolverError
        A node that cannot be reached, with its place and the reason.
    """
    h, r = np.atleast_1d(np.asarray(heave, dtype=np.float64)), np.atleast_1d(np.asarray(roll, dtype=np.float64))
    s = axle.solve(h, r, steer)
    shape = (h.size, r.size)

    def grid(values: Floats) -> Floats:
        return np.ascontiguousarray(values.reshape(shape + values.shape[1:]))

    carrier = s.coordinates[:, :6]
    yaw, pitch = carrier[:, 3], carrier[:, 4]
    up = s.direction("axle", np.array([0.0, 0.0, 1.0]))
    ground = s.direction("axle", np.array([0.0, 1.0, 0.0]))
    spins, steers = wheels(axle, s)
    contacts = axle.wheel_centres - np.array([0.0, 0.0, axle.wheel_radius])
    slopes = np.mean([s.point_slope("axle", contact) for contact in contacts], axis=0)
    centre_slope = s.point_slope("axle", axle.centre)
    # line on the ground through both contact points, without its part along the vehicle
    side = ground.copy()
    side[:, 0] = 0.0
    side /= np.linalg.norm(side, axis=1)[:, None]
    camber = np.stack(
        [
            sign * np.arcsin(np.clip(np.einsum("pi,pi->p", spin, up), -1, 1))
            for sign, spin in ((-1, spins[0]), (1, spins[1]))
        ],
        axis=1,
    )
    caster = inclination = None
    if axle.king_pin is not None:
        pins = [s.direction("axle", pin) for pin in axle.king_pin]
        caster = grid(np.stack([np.arctan2(-pin[:, 0], pin[:, 2]) for pin in pins], axis=1))
        # against the axle's ground line, so that roll does not count as inclination
        lean = [np.arctan2(-np.einsum("pi,pi->p", pin, ground), np.einsum("pi,pi->p", pin, up)) for pin in pins]
        inclination = grid(np.stack([lean[0], -lean[1]], axis=1))
    elements = {element.name: element for element in axle.linkage.elements}
    return AxleSweep(
        heave=h,
        roll=r,
        centre=grid(carrier[:, :3]),
        lateral_shift=grid(carrier[:, 1] - axle.centre[1]),
        axle_steer=grid(yaw),
        pitch=grid(pitch),
        caster_change=grid(-pitch),
        caster=caster,
        king_pin_inclination=inclination,
        pinion_angle=grid(-pitch if axle.pinion == "forward" else pitch),
        steer=grid(steers),
        road_steer=grid(steers + yaw[:, None]),
        total_toe=grid(steers[:, 1] - steers[:, 0]),
        camber=grid(camber),
        roll_centre_height=grid(np.einsum("pi,pi->p", slopes[:, 1], side)),
        jacking=grid(np.einsum("pi,pi->p", slopes[:, 0], side)),
        contact_slope=grid(slopes[:, 0, 0]),
        centre_slope=grid(centre_slope[:, 0, 0]),
        lengths=Later(axle.attachments, lambda name: _length_curves(axle, s, name, shape)),
        joint_angles=Later(elements, lambda name: grid(joint_angles(s, elements[name]))),
        joint_loads=Later(elements, lambda name: grid(s.joint_loads(name))),
        heave_force=grid(s.force[:, 0]),
        roll_moment=grid(s.force[:, 1]),
        heave_rate=grid(s.stiffness[:, 0, 0]),
        roll_rate=grid(s.stiffness[:, 1, 1]),
        energy=grid(s.energy),
        lock_factor=grid(s.lock_factor),
        distance=grid(s.distance),
    )


def anti_effects(
    curves: AxleSweep,
    *,
    end: Literal["front", "rear"],
    wheelbase: float,
    gravity_height: float,
    brake_share: float,
    drive_share: float,
    inboard_brakes: bool = False,
    inboard_drive: bool = False,
) -> AntiEffects:
    """Anti-dive, anti-lift and anti-squat of a rigid axle by virtual work at the contact patches.

    Brakes in the wheels and a final drive in the axle act between axle and wheel, so both forces act at contact points
    fixed to the axle; what sits on the body pushes at the axle's centre.

    Parameters
    ----------
    curves : AxleSweep
    end : {'front', 'rear'}
    wheelbase, gravity_height : float
        [m].
    brake_share, drive_share : float
        Share of all brake and drive force that this axle carries, 0 to 1.
    inboard_brakes, inboard_drive : bool
        Whether brakes or final drive sit on the body and turn the wheels by shafts (a dead axle). A brake on the
        propeller shaft of a live axle acts through its final drive, so it counts as one in the axle.

    Returns
    -------
    AntiEffects

    References
    ----------
    .. [1] T. D. Gillespie, Fundamentals of Vehicle Dynamics, SAE 1992, chapter 7 (from memory).
    """
    for word, value in (("wheelbase", wheelbase), ("height of the centre of gravity", gravity_height)):
        if not value > 0.0:
            raise InputError(f"the {word} is {value} m; it must be above zero")
    lever = wheelbase / gravity_height
    sign = 1.0 if end == "front" else -1.0
    return AntiEffects(
        braking=sign * brake_share * lever * (curves.centre_slope if inboard_brakes else curves.contact_slope),
        driving=sign * drive_share * lever * (curves.centre_slope if inboard_drive else curves.contact_slope),
    )


def steering_wheel_offset(curves: AxleSweep, *, steering_ratio: float) -> Floats:
    """Steering-wheel angle that keeps the road wheels straight ahead at each node (nh, nr) [rad], left positive.

    Parameters
    ----------
    curves : AxleSweep
    steering_ratio : float
        Steering-wheel angle over road-wheel angle [-].
    """
    return np.asarray(-np.mean(curves.road_steer, axis=-1) * steering_ratio)


def _length_curves(axle: Axle, s: Solution, name: str, shape: tuple[int, int]) -> LengthCurves:
    curves = attachment_lengths(axle, s, name)
    full = (*shape, len(curves))
    return LengthCurves(
        length=np.stack([length for length, _ in curves], axis=1).reshape(full),
        heave_ratio=-np.stack([slope[:, 0] for _, slope in curves], axis=1).reshape(full),
        roll_ratio=-np.stack([slope[:, 1] for _, slope in curves], axis=1).reshape(full),
    )
