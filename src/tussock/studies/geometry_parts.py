"""An axle's characteristics about a ride height, as measured or with parts."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage import Axle, anti_effects, sweep
from tussock.studies import model, parts
from tussock.studies.job import Job

_STATIONS = 9  # of the travel window either way


@dataclass(frozen=True, kw_only=True)
class Characteristics:
    """What one axle does about one ride height.

    Angles in rad, lengths in m; over the window means the largest minus the smallest value over the travel window.
    """

    caster: float
    pinion: float
    lateral_shift: float
    lateral_at_ride: float
    bump_steer: float
    axle_steer_gain: float
    roll_steer_gain: float
    roll_centre: float
    track_rod_tilt: float
    drag_link_tilt: float | None
    steering_offset: float
    anti_brake: float
    anti_drive: float
    spring_ratio: float
    damper_ratio: float
    heave: Floats
    shift_curve: Floats
    steer_curve: Floats
    caster_curve: Floats


def characteristics(job: Job, axle: Axle, end: str, *, ride: float, window: tuple[float, float]) -> Characteristics:
    """Return the characteristics of an axle about a ride height.

    Parameters
    ----------
    job : Job
        The programme.
    axle : Axle
        As measured or with parts.
    end : str
        "front" or "rear".
    ride : float
        Heave at ride height, bump positive from stock kerb [m].
    window : pair of float
        Travel down and up from there [m], both positive.
    """
    down, up = window
    below, above = np.linspace(-down, 0.0, _STATIONS), np.linspace(0.0, up, _STATIONS)[1:]
    heave = ride + np.concatenate([below, above])
    roll = np.array([-0.02, 0.0, 0.02])
    s = sweep(axle, heave, roll)
    at = int(np.argmin(np.abs(heave - ride)))
    caster = s.caster[:, 1, 0] if s.caster is not None else s.caster_change[:, 1]
    steer = np.mean(s.road_steer[:, 1, :], axis=1)
    span = roll[2] - roll[0]
    programme = job.programme
    kerb = parts.kerb_mass(job)
    anti = anti_effects(
        s,
        end="front" if end == "front" else "rear",
        wheelbase=float(programme.vehicle.wheelbase),
        gravity_height=kerb.centre[2],
        brake_share=parts.axle_share(programme.vehicle.front_brake_share, end),
        drive_share=parts.axle_share(programme.vehicle.front_drive_share, end),
    )
    pose = axle.pose(ride, 0.0)
    tilts = {
        e.name: _tilt(pose.place(e.body_a, e.point_a), pose.place(e.body_b, e.point_b))
        for e in axle.linkage.elements
        if e.name in ("track_rod", "drag_link")
    }
    steering = programme.vehicle.axles[end].steering
    return Characteristics(
        caster=float(caster[at]),
        pinion=float(s.pinion_angle[at, 1]),
        lateral_shift=float(np.ptp(s.lateral_shift[:, 1])),
        lateral_at_ride=float(s.lateral_shift[at, 1]),
        bump_steer=float(np.max(np.abs(steer - steer[at]))),
        axle_steer_gain=float((s.axle_steer[at, 2] - s.axle_steer[at, 0]) / span),
        roll_steer_gain=float((np.mean(s.road_steer[at, 2]) - np.mean(s.road_steer[at, 0])) / span),
        roll_centre=float(s.roll_centre_height[at, 1]),
        track_rod_tilt=tilts["track_rod"],
        drag_link_tilt=tilts.get("drag_link"),
        steering_offset=-float(steer[at]) * float(steering.ratio) if steering is not None and steering.ratio else 0.0,
        anti_brake=float(anti.braking[at, 1]),
        anti_drive=float(anti.driving[at, 1]),
        spring_ratio=float(np.mean(s.lengths["spring"].heave_ratio[at, 1])),
        damper_ratio=float(np.mean(s.lengths["damper"].heave_ratio[at, 1])),
        heave=heave - ride,
        shift_curve=s.lateral_shift[:, 1] - s.lateral_shift[at, 1],
        steer_curve=steer - steer[at],
        caster_curve=np.asarray(caster),
    )


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


def with_changes(job: Job, end: str, changes: Mapping[str, Floats], *, refit: tuple[str, ...] = ()) -> Axle:
    """Return an axle with the kit's changes and more, with some rods set to a new length in the stock pose."""
    every = {**model.kit_changes(job, end), **changes}
    rods = dict(model.kit_rods(job, end))
    for rod in refit:
        rods[rod] = "refit"
    return model.build(job, end, changes=every, rod_lengths=rods)
