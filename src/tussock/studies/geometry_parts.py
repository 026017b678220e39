"""An axle's characteristics about a ride height, as measured or with parts."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal, TypedDict

import numpy as np

from tussock.errors import SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage import (
    Axle,
    AxleSweep,
    Wheel,
    WheelForce,
    WheelSweep,
    ackermann,
    anti_effects,
    leaf_curves,
    sweep,
    sweep_wheel,
    under_load,
    wheel_anti_effects,
)
from tussock.mechanics.mass import GRAVITY
from tussock.studies import model, parts, suspensions
from tussock.studies.job import Job, Setup
from tussock.studies.suspensions import Suspension

_STATIONS = 9  # of the travel window either way
BRAKING = 0.5  # of its load, with which a wheel brakes where the wind-up of an axle is judged [-]
ACKERMANN_STEER = math.radians(15.0)  # of the outer wheel, at which Ackermann's difference is judged
RACK_LOOK, PITMAN_LOOK = 0.06, math.radians(30.0)  # how far the steering is turned for that [m], [rad]


@dataclass(frozen=True, kw_only=True)
class Characteristics:
    """What one axle does about one ride height.

    Angles in rad, lengths in m; over the window means the largest minus the smallest value over the travel window.
    What an axle of this kind does not have is None; sideways throw and pinion of independent wheels are zero.
    """

    caster: float
    pinion: float
    lateral_shift: float
    bump_steer: float
    roll_centre: float
    anti_brake: float
    anti_drive: float
    spring_ratio: float
    damper_ratio: float
    heave: Floats
    shift_curve: Floats
    steer_curve: Floats
    caster_curve: Floats
    camber_curve: Floats | None = None
    lateral_at_ride: float | None = None
    axle_steer_gain: float | None = None
    roll_steer_gain: float | None = None
    track_rod_tilt: float | None = None
    drag_link_tilt: float | None = None
    steering_offset: float | None = None
    wind_up: float | None = None
    shackle_swing: float | None = None
    toe: float | None = None
    camber: float | None = None
    camber_change: float | None = None
    king_pin_inclination: float | None = None
    scrub_radius: float | None = None
    trail: float | None = None
    track_change: float | None = None
    ackermann: float | None = None
    inner_joint: float | None = None
    outer_joint: float | None = None


def characteristics(
    job: Job, axle: Suspension, end: str, *, ride: float, window: tuple[float, float]
) -> Characteristics:
    """Return the characteristics of an axle about a ride height.

    Parameters
    ----------
    job : Job
        The programme.
    axle : Axle or Wheel
        As measured or with parts; of independent wheels the left one.
    end : str
        "front" or "rear".
    ride : float
        Heave at ride height, bump positive from stock kerb [m].
    window : pair of float
        Travel down and up from there [m], both positive.
    """
    heave = _stations(ride, window)
    if isinstance(axle, Wheel):
        return _of_wheel(job, axle, end, heave, ride)
    return _of_axle(job, axle, end, heave, ride)


def measure(axle: Suspension, name: str, *, ride: float, window: tuple[float, float]) -> float | None:
    """Return one of the characteristics that parts are solved for, from the poses alone that it needs.

    Parameters
    ----------
    axle : Axle or Wheel
        With the part tried.
    name : str
        A field of `Characteristics`: one of `MEASURES`.
    ride, window : float, pair of float
        As for `characteristics` [m].

    Returns
    -------
    float or None
        What `characteristics` would say.
    """
    over_window, of_axle, of_wheel = MEASURES[name]
    heave, at = (_stations(ride, window), _STATIONS - 1) if over_window else (np.array([ride]), 0)
    if isinstance(axle, Wheel):
        return of_wheel(sweep_wheel(axle, heave), at)
    return of_axle(sweep(axle, heave, np.zeros(1)), at)


def _stations(ride: float, window: tuple[float, float]) -> Floats:
    down, up = window
    below, above = np.linspace(-down, 0.0, _STATIONS), np.linspace(0.0, up, _STATIONS)[1:]
    return np.asarray(ride + np.concatenate([below, above]))


def _caster(s: AxleSweep, at: int) -> float:
    return float(s.caster[at, 0, 0] if s.caster is not None else s.caster_change[at, 0])


def _bump_steer(s: AxleSweep, at: int) -> float:
    steer = np.mean(s.road_steer[:, 0, :], axis=1)
    return float(np.max(np.abs(steer - steer[at])))


def _wheel_bump_steer(s: WheelSweep, at: int) -> float:
    return float(np.max(np.abs(s.road_steer[:, 0] - s.road_steer[at, 0])))


def _inner_joint(s: WheelSweep, at: int) -> float | None:
    return float(s.drive.inner_angle[at, 0]) if s.drive is not None else None


MEASURES: Mapping[
    str, tuple[bool, Callable[[AxleSweep, int], float | None], Callable[[WheelSweep, int], float | None]]
] = {
    "caster": (False, _caster, lambda s, at: float(s.caster[at, 0])),
    "camber": (False, lambda s, at: None, lambda s, at: float(s.camber[at, 0])),
    "inner_joint": (False, lambda s, at: None, _inner_joint),
    "roll_centre": (
        False,
        lambda s, at: float(s.roll_centre_height[at, 0]),
        lambda s, at: float(s.roll_centre_height[at, 0]),
    ),
    "lateral_shift": (True, lambda s, at: float(np.ptp(s.lateral_shift[:, 0])), lambda s, at: 0.0),
    "bump_steer": (True, _bump_steer, _wheel_bump_steer),
}
"""By name: whether it wants the whole window, and what reads it from a sweep of an axle and of a wheel."""


class _Shares(TypedDict):
    end: Literal["front", "rear"]
    wheelbase: float
    gravity_height: float
    brake_share: float
    drive_share: float


def _shares(job: Job, end: str) -> _Shares:
    """Return what anti-dive, anti-lift and anti-squat need."""
    programme = job.programme
    return {
        "end": "front" if end == "front" else "rear",
        "wheelbase": float(programme.vehicle.wheelbase),
        "gravity_height": parts.kerb_mass(job).centre[2],
        "brake_share": parts.axle_share(programme.vehicle.front_brake_share, end),
        "drive_share": parts.axle_share(programme.vehicle.front_drive_share, end),
    }


def _of_axle(job: Job, axle: Axle, end: str, heave: Floats, ride: float) -> Characteristics:
    roll = np.array([-0.02, 0.0, 0.02])
    s = sweep(axle, heave, roll)
    at = int(np.argmin(np.abs(heave - ride)))
    caster = s.caster[:, 1, 0] if s.caster is not None else s.caster_change[:, 1]
    steer = np.mean(s.road_steer[:, 1, :], axis=1)
    span = roll[2] - roll[0]
    anti = anti_effects(s, **_shares(job, end))
    pose = axle.pose(ride, 0.0)
    tilts = {
        e.name: _tilt(pose.place(e.body_a, e.point_a), pose.place(e.body_b, e.point_b))
        for e in axle.linkage.elements
        if e.name in ("track_rod", "drag_link")
    }
    steering = job.programme.vehicle.axles[end].steering
    ratio = float(steering.ratio) if steering is not None and steering.ratio is not None else None
    leaves = suspensions.leaf_sprung(job, end)
    return Characteristics(
        caster=float(caster[at]),
        pinion=float(s.pinion_angle[at, 1]),
        lateral_shift=float(np.ptp(s.lateral_shift[:, 1])),
        lateral_at_ride=float(s.lateral_shift[at, 1]),
        bump_steer=float(np.max(np.abs(steer - steer[at]))),
        axle_steer_gain=float((s.axle_steer[at, 2] - s.axle_steer[at, 0]) / span),
        roll_steer_gain=float((np.mean(s.road_steer[at, 2]) - np.mean(s.road_steer[at, 0])) / span),
        roll_centre=float(s.roll_centre_height[at, 1]),
        track_rod_tilt=tilts.get("track_rod"),
        drag_link_tilt=tilts.get("drag_link"),
        steering_offset=-float(steer[at]) * ratio if ratio is not None else None,
        anti_brake=float(anti.braking[at, 1]),
        anti_drive=float(anti.driving[at, 1]),
        spring_ratio=float(np.mean(s.lengths["spring"].heave_ratio[at, 1])),
        damper_ratio=float(np.mean(s.lengths["damper"].heave_ratio[at, 1])),
        heave=heave - ride,
        shift_curve=s.lateral_shift[:, 1] - s.lateral_shift[at, 1],
        steer_curve=steer - steer[at],
        caster_curve=np.asarray(caster),
        wind_up=_wind_up(job, axle, end, ride) if leaves else None,
        shackle_swing=float(leaf_curves(axle, np.array([ride]), np.zeros(1)).shackle_swing[0, 0, 0])
        if leaves
        else None,
    )


def _wind_up(job: Job, axle: Axle, end: str, ride: float) -> float:
    """Return how far an axle turns when its wheels brake with `BRAKING` of their load at kerb, nose down [rad]."""
    corners = job.programme.vehicle.corners
    loads = [float(getattr(corners, f"{end}_{side}")) * GRAVITY for side in ("left", "right")]
    braked = under_load(axle, ride, [WheelForce(forward=-BRAKING * load) for load in loads], springs=None)
    return -float(np.mean(braked.caster))


def _of_wheel(job: Job, wheel: Wheel, end: str, heave: Floats, ride: float) -> Characteristics:
    s = sweep_wheel(wheel, heave)
    at = int(np.argmin(np.abs(heave - ride)))
    record = job.programme.vehicle.axles[end]
    anti = wheel_anti_effects(s, **_shares(job, end), inboard_brakes=record.brakes == "inboard")
    steer = s.road_steer[:, 0]
    track = float(np.ptp(s.track_change[:, 0]))
    return Characteristics(
        caster=float(s.caster[at, 0]),
        pinion=0.0,
        lateral_shift=0.0,
        bump_steer=float(np.max(np.abs(steer - steer[at]))),
        roll_centre=float(s.roll_centre_height[at, 0]),
        anti_brake=float(anti.braking[at, 0]),
        anti_drive=float(anti.driving[at, 0]),
        spring_ratio=float(s.lengths["spring"].ratio[at, 0]) if "spring" in s.lengths else math.nan,
        damper_ratio=float(s.lengths["damper"].ratio[at, 0]),
        heave=heave - ride,
        shift_curve=s.track_change[:, 0] - s.track_change[at, 0],
        steer_curve=steer - steer[at],
        caster_curve=s.caster[:, 0],
        camber_curve=s.camber[:, 0],
        roll_steer_gain=_roll_steer(wheel, s, at),
        toe=float(s.toe[at, 0]),
        camber=float(s.camber[at, 0]),
        camber_change=float(np.ptp(s.camber[:, 0])),
        king_pin_inclination=float(s.king_pin_inclination[at, 0]),
        scrub_radius=float(s.king_pin_offset[at, 0]),
        trail=float(s.caster_offset[at, 0]),
        track_change=track,
        ackermann=_ackermann(job, wheel, ride) if wheel.steering != "fixed" else None,
        inner_joint=float(s.drive.inner_angle[at, 0]) if s.drive is not None else None,
        outer_joint=float(s.drive.outer_angle[at, 0]) if s.drive is not None else None,
    )


def _roll_steer(wheel: Wheel, s: WheelSweep, at: int) -> float:
    """Return the mean steer of both wheels per roll: the wheel that rises by half a track turns by its bump steer."""
    return float(-s.bump_steer[at, 0] * wheel.centre[1])


def _ackermann(job: Job, wheel: Wheel, ride: float) -> float | None:
    """Return the share of Ackermann's difference at about `ACKERMANN_STEER` of the outer wheel; None if not reached."""
    limit = RACK_LOOK if wheel.steering == "rack" else PITMAN_LOOK
    turns = np.linspace(-limit, limit, 13)
    try:
        s = sweep_wheel(wheel, np.array([ride]), turns)
    except SolverError:
        return None
    left = s.road_steer[0]
    right = -left[::-1]
    at = int(np.argmin(np.abs(np.minimum(np.abs(left), np.abs(right)) - ACKERMANN_STEER) + (left < 0.0)))
    apart = 2.0 * (float(wheel.centre[1]) - float(s.king_pin_offset[0, 6]))
    got = ackermann(
        left[at : at + 1],
        right[at : at + 1],
        wheelbase=float(job.programme.vehicle.wheelbase),
        king_pin_distance=apart,
    )
    return float(got.share[0])


def _tilt(axle_end: Floats, chassis_end: Floats) -> float:
    """Return the inclination of a rod in front view, chassis end up positive [rad]."""
    along = chassis_end - axle_end
    return math.atan2(float(along[2]), abs(float(along[1])))


def points_of(job: Job, end: str) -> dict[str, Floats]:
    """Return an axle's hardpoints with what the kit moves already [m]: a part found is measured from there."""
    points = parts.hardpoints(job, end)
    for name, moved in model.kit_changes(job, end).items():
        points[name.partition("@")[0]] = moved
    return points


def with_changes(
    job: Job, end: str, changes: Mapping[str, Floats], *, refit: tuple[str, ...] = (), setup: Setup | None = None
) -> Suspension:
    """Return an axle with the kit's changes and more, with some rods set to a new length in the stock pose.

    `setup` says whose springs, where they are part of the linkage.
    """
    every = {**model.kit_changes(job, end), **changes}
    rods = dict(model.kit_rods(job, end))
    for rod in refit:
        rods[rod] = "refit"
    return model.build(job, end, changes=every, rod_lengths=rods, setup=setup)
