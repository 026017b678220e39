"""Characteristics of an independent wheel over travel and steer, all from virtual work and exact slopes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from tussock.errors import InputError
from tussock.mechanics.arrays import Floats, cross
from tussock.mechanics.later import Later
from tussock.mechanics.linkage.angles import joint_angles
from tussock.mechanics.linkage.characteristics import AntiEffects
from tussock.mechanics.linkage.model import CHASSIS
from tussock.mechanics.linkage.solution import Solution
from tussock.mechanics.linkage.wheel import Wheel


@dataclass(frozen=True, kw_only=True)
class WheelLength:
    """Distance of a pair of points over the grid (nt, ns) [m] and its shortening per wheel travel [-]."""

    length: Floats
    ratio: Floats


@dataclass(frozen=True, kw_only=True)
class DriveShaftCurves:
    """A drive shaft between two constant-velocity joints.

    Attributes
    ----------
    inner_angle, outer_angle : array (nt, ns)
        Between the shaft and the line across the vehicle, and between the shaft and the wheel's axis [rad].
    length_change : array (nt, ns)
        Slip against the stock pose, longer positive [m].
    """

    inner_angle: Floats
    outer_angle: Floats
    length_change: Floats


@dataclass(frozen=True, kw_only=True)
class WheelSweep:
    """Characteristics of one independent wheel over its travel and the steering input.

    Arrays are (nt, ns) unless said. Lateral quantities are outward positive, so both sides of a symmetric vehicle read
    the same; points are in the vehicle's axes.

    Attributes
    ----------
    travel, steer : array (nt,), (ns,)
        Height of the wheel centre above stock, bump positive [m]; rack travel to the left [m] or pitman angle [rad].
    centre, contact : array (nt, ns, 3)
        Wheel centre; lowest point of the wheel [m].
    track_change : array
        Movement of the contact point outward since stock [m].
    wheelbase_change : array
        Movement of the wheel centre forward since stock [m].
    road_steer : array
        Steer of the wheel, left positive [rad].
    toe, camber : array
        Toe-in and top outward positive [rad].
    caster, king_pin_inclination : array
        Of the steering axis, top rearward and top inward positive [rad].
    caster_offset, king_pin_offset : array
        From the contact point to the steering axis at ground height: forward (trail) and inward (scrub radius) [m].
    centre_caster_offset, centre_king_pin_offset : array
        The same at the height of the wheel centre: axis ahead of it, axis inward of it [m].
    bump_steer, bump_camber, bump_caster : array
        Change of toe-in, camber and caster per travel [rad/m].
    steer_ratio : array or None
        Change of road steer per steering input [rad/m] or [-]; None on a wheel that does not steer.
    roll_centre_height : array
        Height above ground of the point in the middle of the vehicle where the virtual work of the side force at this
        contact patch puts it [m]; in a turn of the body each wheel has its own.
    side_slope : array
        Outward movement of the contact patch per travel, the wheel free to roll [-].
    contact_slope, centre_slope : array
        Forward movement per travel of the contact patch, wheel locked to the upright, and of the wheel centre [-].
    lengths : mapping of name to WheelLength
        Springs, dampers, stops and every other pair of attachment points; `ratio` is the motion ratio.
    lower_arm_angle, lower_arm_ratio : array
        Angle of the lower arm since stock, up positive [rad], and its slope by travel [rad/m]; a torsion bar's wheel
        rate is its rate times the square of the slope, plus its torque times the slope's change.
    bar_angle, bar_ratio : array or None
        Angle of the anti-roll bar's arm [rad]; movement of its end per travel [-].
    drive : DriveShaftCurves or None
    joint_angles : mapping of joint name to array (nt, ns, 2)
        Ball or bush: cone angle and twist; rod: angle against the body at either end, from stock [rad].
    joint_loads : mapping of joint name to array (nt, ns, 6)
        From the springs that load the linkage and from the bushes' own twist, at held travel [N, N m].
    wheel_force, wheel_rate : array
        Upward force at the wheel centre that holds the travel, and its slope: springs in the linkage and bushes
        [N], [N/m].
    energy : array
        Elastic energy [J].
    lock_factor : array
        Largest motion of any coordinate per unit of travel, a radian counted as 0.5 m; above 5 near a lock [-].
    distance : array
        Distance of each node from exact equilibrium [m].
    """

    travel: Floats
    steer: Floats
    centre: Floats
    contact: Floats
    track_change: Floats
    wheelbase_change: Floats
    road_steer: Floats
    toe: Floats
    camber: Floats
    caster: Floats
    king_pin_inclination: Floats
    caster_offset: Floats
    king_pin_offset: Floats
    centre_caster_offset: Floats
    centre_king_pin_offset: Floats
    bump_steer: Floats
    bump_camber: Floats
    bump_caster: Floats
    steer_ratio: Floats | None
    roll_centre_height: Floats
    side_slope: Floats
    contact_slope: Floats
    centre_slope: Floats
    lengths: Mapping[str, WheelLength]
    lower_arm_angle: Floats
    lower_arm_ratio: Floats
    bar_angle: Floats | None
    bar_ratio: Floats | None
    drive: DriveShaftCurves | None
    joint_angles: Mapping[str, Floats]
    joint_loads: Mapping[str, Floats]
    wheel_force: Floats
    wheel_rate: Floats
    energy: Floats
    lock_factor: Floats
    distance: Floats


def sweep_wheel(wheel: Wheel, travel: Floats, steer: Floats | None = None) -> WheelSweep:
    """Characteristics over a grid of travel and steer.

    Parameters
    ----------
    wheel : Wheel
    travel : array (nt,)
        Bump positive [m]; a kit that lifts by 45 mm stands at travel -0.045.
    steer : array (ns,), optional
        Rack travel to the left [m] or pitman angle, left positive [rad]; straight ahead if not given.

    Returns
    -------
    WheelSweep

    Raises
    ------
    SolverError
        A node that cannot be reached, with its place and the reason.
    """
    t = np.atleast_1d(np.asarray(travel, dtype=np.float64))
    u = np.zeros(1) if steer is None else np.atleast_1d(np.asarray(steer, dtype=np.float64))
    s = wheel.solve(t, u)
    shape = (t.size, u.size)
    sign, outward = wheel.sign, np.array([1.0, wheel.sign, 1.0])

    def grid(values: Floats) -> Floats:
        return np.ascontiguousarray(values.reshape(shape + values.shape[1:]))

    spin, d_spin = s.direction("upright", wheel.spin), s.direction_slope("upright", wheel.spin)
    down = contact_direction(spin)
    centre = s.point("upright", wheel.centre)
    contact = centre + wheel.wheel_radius * down
    k = s.linkage.index["upright"]
    d_contact = s.twist[:, k, :, :3] + wheel.wheel_radius * cross(s.twist[:, k, :, 3:], down[:, None, :])
    d_centre = s.point_slope("upright", wheel.centre)
    d_rolling = d_centre[:, 0] + wheel.wheel_radius * _contact_direction_slope(spin, d_spin[:, 0])
    steered = np.arctan2(-spin[:, 0], spin[:, 1])
    d_steered = (-d_spin[:, :, 0] * spin[:, 1, None] + spin[:, 0, None] * d_spin[:, :, 1]) / (
        spin[:, 0] ** 2 + spin[:, 1] ** 2
    )[:, None]
    d_camber = -d_spin[:, 0, 2] / np.sqrt(1.0 - spin[:, 2] ** 2)
    (low_body, low_at), (top_body, top_at) = wheel.steering_axis
    low, top = s.point(low_body, low_at), s.point(top_body, top_at)
    axis = top - low
    d_axis = s.point_slope(top_body, top_at)[:, 0] - s.point_slope(low_body, low_at)[:, 0]
    d_caster = (-d_axis[:, 0] * axis[:, 2] + axis[:, 0] * d_axis[:, 2]) / (axis[:, 0] ** 2 + axis[:, 2] ** 2)
    offsets = []
    for point in (contact, centre):
        foot = low + axis * ((point[:, 2] - low[:, 2]) / axis[:, 2])[:, None]
        offsets += [foot[:, 0] - point[:, 0], point[:, 1] - foot[:, 1]]
    arm, arm_slope = lower_arm_angle(wheel, s)
    bar_angle = bar_ratio = None
    if wheel.bar_arm is not None:
        place = int(wheel.linkage.tables.bi[wheel.linkage.index["bar"], 2])
        bar_angle = grid(s.coordinates[:, place])
        bar_ratio = grid(np.abs(s.slope[:, place, 0]) * wheel.bar_arm)
    home_contact = wheel.centre + wheel.wheel_radius * contact_direction(wheel.spin[None, :])[0]
    elements = {element.name: element for element in wheel.linkage.elements}
    return WheelSweep(
        travel=t,
        steer=u,
        centre=grid(centre * outward),
        contact=grid(contact * outward),
        track_change=grid(contact[:, 1] - home_contact[1]),
        wheelbase_change=grid(centre[:, 0] - wheel.centre[0]),
        road_steer=grid(sign * steered),
        toe=grid(-steered),
        camber=grid(-np.arcsin(np.clip(spin[:, 2], -1.0, 1.0))),
        caster=grid(np.arctan2(-axis[:, 0], axis[:, 2])),
        king_pin_inclination=grid(np.arctan2(-axis[:, 1], axis[:, 2])),
        caster_offset=grid(offsets[0]),
        king_pin_offset=grid(offsets[1]),
        centre_caster_offset=grid(offsets[2]),
        centre_king_pin_offset=grid(offsets[3]),
        bump_steer=grid(-d_steered[:, 0]),
        bump_camber=grid(d_camber),
        bump_caster=grid(d_caster),
        # both the input and the answer turn over on the right, so the ratio does not
        steer_ratio=grid(d_steered[:, 1]) if d_steered.shape[1] > 1 else None,
        roll_centre_height=grid(contact[:, 1] * d_rolling[:, 1] / d_rolling[:, 2]),
        side_slope=grid(d_rolling[:, 1]),
        contact_slope=grid(d_contact[:, 0, 0]),
        centre_slope=grid(d_centre[:, 0, 0]),
        lengths=Later(wheel.attachments, lambda name: _length(wheel, s, name, shape)),
        lower_arm_angle=grid(arm),
        lower_arm_ratio=grid(arm_slope),
        bar_angle=bar_angle,
        bar_ratio=bar_ratio,
        drive=None if wheel.drive is None else _drive(wheel, s, spin, shape),
        joint_angles=Later(elements, lambda name: grid(joint_angles(s, elements[name]))),
        joint_loads=Later(elements, lambda name: grid(s.joint_loads(name))),
        wheel_force=grid(s.force[:, 0]),
        wheel_rate=grid(s.stiffness[:, 0, 0]),
        energy=grid(s.energy),
        lock_factor=grid(_lock_factor(s)),
        distance=grid(s.distance),
    )


def contact_direction(spin: Floats) -> Floats:
    """Direction from the wheel centre to the lowest point of the wheel (np, 3), for axes (np, 3)."""
    down = spin * spin[:, 2:3]
    down[:, 2] -= 1.0
    return np.asarray(down / np.linalg.norm(down, axis=1)[:, None])


def _contact_direction_slope(spin: Floats, d_spin: Floats) -> Floats:
    """Change of that direction by the change of the axis (np, 3)."""
    down = spin * spin[:, 2:3]
    down[:, 2] -= 1.0
    size = np.linalg.norm(down, axis=1)[:, None]
    down /= size
    change = d_spin[:, 2:3] * spin + spin[:, 2:3] * d_spin
    return np.asarray((change - down * np.einsum("pi,pi->p", down, change)[:, None]) / size)


def wheel_anti_effects(
    curves: WheelSweep,
    *,
    end: Literal["front", "rear"],
    wheelbase: float,
    gravity_height: float,
    brake_share: float,
    drive_share: float,
    inboard_brakes: bool = False,
) -> AntiEffects:
    """Anti-dive, anti-lift and anti-squat of independent wheels by virtual work.

    Parameters
    ----------
    curves : WheelSweep
    end : {'front', 'rear'}
    wheelbase, gravity_height : float
        [m].
    brake_share, drive_share : float
        Share of all brake and drive force that this end carries, 0 to 1.
    inboard_brakes : bool
        Whether the brakes sit on the final drive, whose torque the body takes; drive torque always does.

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
    lever = (1.0 if end == "front" else -1.0) * wheelbase / gravity_height
    return AntiEffects(
        braking=brake_share * lever * (curves.centre_slope if inboard_brakes else curves.contact_slope),
        driving=drive_share * lever * curves.centre_slope,
    )


def _lock_factor(s: Solution) -> Floats:
    t = s.linkage.tables
    return np.asarray(np.max(np.abs(s.slope[:, t.free, 0]) * t.scale[t.free], axis=1))


def _length(wheel: Wheel, s: Solution, name: str, shape: tuple[int, int]) -> WheelLength:
    part = wheel.attachments[name]
    length, slope = s.length(CHASSIS, part.chassis, part.body, part.at)
    return WheelLength(length=length.reshape(shape), ratio=-slope[:, 0].reshape(shape))


def lower_arm_angle(wheel: Wheel, s: Solution) -> tuple[Floats, Floats]:
    """Angle of the lower arm about its pivots since stock, up positive, and its slope by travel."""
    body = wheel.linkage.bodies[wheel.linkage.index["lower_arm"]]
    front, rear = wheel.arm_pivots
    line = (front - rear) / np.linalg.norm(front - rear)
    turn = s.twist[:, wheel.linkage.index["lower_arm"], 0, 3:] @ line
    first = body.at - front - line * float((body.at - front) @ line)
    second = cross(line, first)
    lever = s.direction("lower_arm", first)
    angle = np.arctan2(lever @ second, lever @ first)
    up = 1.0 if second[2] > 0.0 else -1.0
    return np.asarray(up * angle), np.asarray(up * turn)


def _drive(wheel: Wheel, s: Solution, spin: Floats, shape: tuple[int, int]) -> DriveShaftCurves:
    assert wheel.drive is not None
    inner, outer = wheel.drive
    shaft = s.point("upright", outer) - inner
    length = np.linalg.norm(shaft, axis=1)
    shaft = shaft / length[:, None]
    across = np.broadcast_to(np.array([0.0, 1.0, 0.0]), shaft.shape)

    def between(a: Floats, b: Floats) -> Floats:
        angle = np.arctan2(np.linalg.norm(cross(a, b), axis=1), np.einsum("pi,pi->p", a, b))
        return np.asarray(angle.reshape(shape))

    return DriveShaftCurves(
        inner_angle=between(shaft, across),
        outer_angle=between(shaft, spin),
        length_change=(length - float(np.linalg.norm(outer - inner))).reshape(shape),
    )
