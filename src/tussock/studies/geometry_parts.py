"""An axle's characteristics about a ride height, and the parts that mend what a lift spoils: found by solving."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq, minimize_scalar

from tussock.errors import SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage import Axle, anti_effects, sweep
from tussock.studies import model, parts
from tussock.studies.display import show
from tussock.studies.job import Job

_STATIONS = 9  # of the travel window either way
_MOST_BRACKET = 0.08  # a bracket moves a track rod's end by at most this [m]
_MOST_OFFSET = 0.008  # an offset bush moves its centre by at most this [m]


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
        steering_offset=-float(steer[at]) * float(steering.ratio) if steering is not None else 0.0,
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


@dataclass(frozen=True, kw_only=True)
class Part:
    """A part that mends something: where it moves which hardpoints, and what that gives.

    Attributes
    ----------
    key, title : str
        What it is.
    end : str
        Axle.
    changes : mapping
        Hardpoints in the stock pose, ``point@body`` [m].
    size : float
        Its leading dimension [m].
    words : str
        In a sentence.
    refit : tuple of str
        Rods whose length is set anew with it.
    """

    key: str
    title: str
    end: str
    changes: Mapping[str, Floats]
    size: float
    words: str
    refit: tuple[str, ...] = ()


def track_rod_bracket(job: Job, end: str, *, ride: float, window: tuple[float, float], wanted: float) -> Part | None:
    """Return the lowest bracket at the rod's axle end that brings the lateral shift down to `wanted` again.

    Parameters
    ----------
    job : Job
        The programme.
    end : str
        "front" or "rear".
    ride, window : float, pair of float
        As for `characteristics`.
    wanted : float
        Lateral shift over the window [m].

    Returns
    -------
    Part or None
        None when the shift is as wanted without a bracket.

    Raises
    ------
    SolverError
        If no bracket up to 80 mm reaches it, with the best one.
    """
    stock_end = _points(job, end)["track_rod_axle"]

    def error(rise: float) -> float:
        axle = with_changes(job, end, _rod_change(stock_end, rise), refit=("track_rod",))
        return characteristics(job, axle, end, ride=ride, window=window).lateral_shift - wanted

    # half a millimetre more than stock is no reason for a part, more than the target is
    target = float(job.programme.targets.lateral_shift)
    if error(0.0) <= min(5e-4, max(target - wanted, 0.0)):
        return None
    least = minimize_scalar(error, bounds=(-_MOST_BRACKET, _MOST_BRACKET), method="bounded", options={"xatol": 5e-4})
    if not least.success or float(least.fun) > 0.0:
        raise SolverError(
            f"no bracket up to {_MOST_BRACKET * 1e3:.0f} mm brings the {end} axle's lateral shift down to "
            f"{wanted * 1e3:.1f} mm; the best, {float(least.x) * 1e3:.0f} mm, "
            f"leaves {(float(least.fun) + wanted) * 1e3:.1f} mm"
        )
    # whole millimetres, on the side that keeps what is wanted
    exact = float(brentq(error, 0.0, float(least.x), xtol=1e-5))
    rise = math.copysign(math.ceil(abs(exact) * 1e3 - 1e-6) * 1e-3, exact)
    verb = "raises" if rise > 0 else "lowers"
    return Part(
        key="track_rod_bracket",
        title="track-rod bracket",
        end=end,
        changes=_rod_change(stock_end, rise),
        refit=("track_rod",),
        size=rise,
        words=f"a bracket that {verb} the track rod's axle end by {show(abs(rise), 'length')}",
    )


def drag_link_end(
    job: Job, *, ride: float, window: tuple[float, float], wanted: float, others: tuple[Part, ...]
) -> Part | None:
    """Return the end of the drag link to move, and how far, for the least steer over the travel.

    Both ends are tried, with the other parts fitted: the pitman arm's (a dropped or raised arm) and the steering arm's
    on the knuckle. Of those that bring the steer within target, the one with less steer in roll is taken.
    `wanted` is the steer that needs no part [rad].

    Returns
    -------
    Part or None
        None when the front axle does not steer, steers no more than wanted by more than a twentieth of a degree, or no
        end would gain as much.
    """
    points = _points(job, "front")
    if "drag_link_pitman" not in points:
        return None
    fitted: dict[str, Floats] = {}
    refit: tuple[str, ...] = ("drag_link",)
    for part in others:
        if part.end == "front":
            fitted |= part.changes
            refit += part.refit
    ends = (
        ("drag_link_pitman@chassis", points["drag_link_pitman"], "pitman arm", "drops", "raises"),
        ("drag_link_axle@knuckle", points["drag_link_axle"], "steering arm", "lowers", "raises"),
    )
    best: tuple[tuple[bool, float], Part] | None = None
    as_it_is = characteristics(
        job, with_changes(job, "front", fitted, refit=refit[1:]), "front", ride=ride, window=window
    )
    if as_it_is.bump_steer <= wanted + math.radians(0.05):
        return None
    for name, point, title, down, up in ends:

        def after(rise: float, name: str = name, point: Floats = point) -> Characteristics:
            changes = fitted | {name: point + np.array([0.0, 0.0, rise])}
            return characteristics(
                job, with_changes(job, "front", changes, refit=refit), "front", ride=ride, window=window
            )

        least = minimize_scalar(
            lambda rise: after(float(rise)).bump_steer,
            bounds=(-_MOST_BRACKET, _MOST_BRACKET),
            method="bounded",
            options={"xatol": 5e-4},
        )
        if not least.success:
            raise SolverError(f"no place for the drag link's {title} found after {least.nfev} tries: {least.message}")
        rise = round(float(least.x) * 1e3) * 1e-3
        got = after(rise)
        if after(0.0).bump_steer - got.bump_steer < math.radians(0.05):
            continue
        part = Part(
            key="drag_link_end",
            title=title,
            end="front",
            changes={name: point + np.array([0.0, 0.0, rise])},
            refit=("drag_link",),
            size=rise,
            words=f"a {title} that {down if rise < 0 else up} the drag link's end by {show(abs(rise), 'length')}",
        )
        rank = (got.bump_steer > float(job.programme.targets.bump_steer), abs(got.roll_steer_gain))
        if best is None or rank < best[0]:
            best = (rank, part)
    return best[1] if best else None


def _points(job: Job, end: str) -> dict[str, Floats]:
    """Return an axle's hardpoints with what the kit moves already [m]: a part found is measured from there."""
    points = parts.hardpoints(job, end)
    for name, moved in model.kit_changes(job, end).items():
        points[name.partition("@")[0]] = moved
    return points


def _rod_change(point: Floats, rise: float) -> dict[str, Floats]:
    return {"track_rod_axle@axle": point + np.array([0.0, 0.0, rise])}


def caster_bush(job: Job, *, ride: float, window: tuple[float, float], target: float) -> Part | None:
    """Return the offset bushes on the axle that bring caster back to a target; None without arms or need.

    Front and rear bush of each arm are offset equally and oppositely, up and down, so the axle turns on its arms.

    Raises
    ------
    SolverError
        If even the largest offset does not reach the target.
    """
    points = _points(job, "front")
    if "arm_axle_front" not in points:
        return None

    def error(offset: float) -> float:
        got = characteristics(
            job, with_changes(job, "front", _bush_change(points, offset)), "front", ride=ride, window=window
        )
        return got.caster - target

    if abs(error(0.0)) < math.radians(0.1):
        return None
    low, high = error(-_MOST_OFFSET), error(_MOST_OFFSET)
    if low * high > 0.0:
        reach = max(abs(low), abs(high))
        raise SolverError(
            f"no offset bush up to {_MOST_OFFSET * 1e3:.0f} mm brings caster to {math.degrees(target):.1f} deg; "
            f"the nearest stays {math.degrees(min(abs(low), abs(high), reach)):.1f} deg away: use drop brackets as well"
        )
    offset = round(float(brentq(error, -_MOST_OFFSET, _MOST_OFFSET, xtol=1e-5)) * 1e4) * 1e-4
    return Part(
        key="caster_bush",
        title="offset bush",
        end="front",
        changes=_bush_change(points, offset),
        size=offset,
        words=f"bushes with {show(abs(offset), 'length_fine')} offset in the front arms",
    )


def _bush_change(points: Mapping[str, Floats], offset: float) -> dict[str, Floats]:
    up = np.array([0.0, 0.0, offset])
    return {
        "arm_axle_front@axle": points["arm_axle_front"] - up,
        "arm_axle_rear@axle": points["arm_axle_rear"] + up,
    }


def with_changes(job: Job, end: str, changes: Mapping[str, Floats], *, refit: tuple[str, ...] = ()) -> Axle:
    """Return an axle with the kit's changes and more, with some rods set to a new length in the stock pose."""
    every = {**model.kit_changes(job, end), **changes}
    rods = dict(model.kit_rods(job, end))
    for rod in refit:
        rods[rod] = "refit"
    return model.build(job, end, changes=every, rod_lengths=rods)
