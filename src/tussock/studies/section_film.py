"""The vehicle moving over a section, to scale, from the side and from behind."""

from __future__ import annotations

from collections.abc import Sized

import numpy as np

from tussock.mechanics.arrays import Floats
from tussock.mechanics.motion import Vehicle
from tussock.mechanics.motion.simulate import STEP, History
from tussock.mechanics.roads import Section, Track
from tussock.studies import outline, suspensions
from tussock.studies.job import ENDS, Job
from tussock.studies.result import Film, Moving, Shape, View
from tussock.studies.section_channels import WHEELS

_FRAMES = 60.0  # a second; a wheel hops 10 to 15 times
_PROFILE = 0.1  # spacing of the ground drawn [m]
_DRAWN = {
    True: "Body from the side, wheels and road are to scale, as is every movement",
    False: "Wheels, road, wheelbase, roof height and width are to scale, as is every movement; the outline "
    "between them is drawn",
}
_HALF_WIDTH = 0.12  # of a tyre drawn [m]


def film(job: Job, vehicle: Vehicle, section: Section, road: Track, h: History, *, title: str) -> Film:
    """Return the film of a driven section.

    Parameters
    ----------
    job : Job
        For the vehicle's outline.
    vehicle, section, road, h
        What was driven, where, and what happened.
    title : str
        What it shows.
    """
    every = max(round(1.0 / (_FRAMES * h.step)), 1)
    frames = np.arange(0, h.time.size, every)
    along = _along(section, h)[frames]
    place = np.arange(road.left.size) * road.spacing
    under = [
        np.interp(along + axle.axle.design_x, place, side) for axle in vehicle.axles for side in (road.left, road.right)
    ]
    slow = max(round(1.0 / (h.step * every)), 1)
    level = _smoothed(np.mean(under, axis=0), slow)
    wheels = wheel_centres(vehicle, h)[frames]
    loads = h.wheel_load[frames]
    pitch, roll = h.position[frames, 4], h.position[frames, 5]
    tyre = float(job.programme.vehicle.tyre.free_radius)
    base, half = vehicle.wheelbase, 0.5 * float(job.programme.vehicle.body_width)
    roof = float(job.programme.vehicle.roof_height)
    ahead, behind = outline.overhangs(job)
    at = np.array(vehicle.body.centre)
    body_up = _height(h, vehicle, (0.0, 0.0, 0.0))[frames] - level  # of the ground under the front axle, body-fixed
    rear_up = _height(h, vehicle, (-base, 0.0, 0.0))[frames] - level
    parts = [
        Moving(
            label="body",
            view="side",
            shapes=outline.body_side(job),
            across=_same(0.0, frames),
            up=_flat(body_up),
            turn=_flat(-pitch),
        ),
        Moving(
            label="body",
            view="rear",
            shapes=_rear_outline(half, tyre, roof),
            across=_same(0.0, frames),
            up=_flat(rear_up),
            turn=_flat(-roll),
        ),
    ]
    for i, name in enumerate(WHEELS):
        lost = tuple(bool(load <= 0.0) for load in loads[:, i])
        front, left = i < 2, i % 2 == 0
        if left:
            parts.append(
                Moving(
                    label=f"{name} wheel",
                    view="side",
                    shapes=outline.wheel_side(tyre),
                    across=_same(0.0 if front else -base, frames),
                    up=_flat(wheels[:, i, 2] - level),
                    turn=_flat(-along / tyre),
                    governs=lost,
                )
            )
        if not front:
            y = vehicle.rear.axle.track * (0.5 if left else -0.5)
            parts.append(
                Moving(
                    label=f"{name} wheel",
                    view="rear",
                    shapes=_wheel_from_behind(tyre),
                    across=_same(-y, frames),
                    up=_flat(wheels[:, i, 2] - level),
                    turn=_flat(-(roll + h.position[frames, 9])),
                    governs=lost,
                )
            )
            parts.append(
                Moving(
                    label=f"road under the {name} wheel",
                    view="rear",
                    shapes=(Shape(label="", points=((-0.28, 0.0), (0.28, 0.0)), role="target"),),
                    across=_same(-y, frames),
                    up=_flat(under[i] - level),
                    turn=_same(0.0, frames),
                )
            )
    if not suspensions.independent(job, "rear"):
        half_track = 0.5 * vehicle.rear.axle.track
        parts.append(
            Moving(
                label="rear axle",
                view="rear",
                shapes=(Shape(label="", points=((-half_track, 0.0), (half_track, 0.0)), role="plain"),),
                across=_same(0.0, frames),
                up=_flat(0.5 * (wheels[:, 2, 2] + wheels[:, 3, 2]) - level),
                turn=_flat(-(roll + h.position[frames, 9])),
            )
        )
    lift = max(
        0.25, float(np.max(np.abs(np.concatenate([np.asarray(p.up) for p in parts if p.label == "body"])))) + 0.15
    )
    start = float(along[0]) - base - behind - 0.5
    ground_at = np.arange(start, float(along[-1]) + ahead + 1.0, _PROFILE)
    hardest = int(np.argmax(np.abs(h.acceleration_at(tuple(-at))[frames, 2])))
    return Film(
        key="film",
        title=title,
        step=every * h.step,
        along=_flat(along, 3),
        level=_flat(level),
        views=(
            View(
                key="side",
                title="from the side, left wheels",
                left=-base - behind - 0.3,
                right=ahead + 0.3,
                ground=_flat(np.interp(ground_at, place, road.left)),
                spacing=_PROFILE,
                start=start,
                bottom=-lift,
                top=roof + lift,
            ),
            View(key="rear", title="from behind", left=-half - 0.3, right=half + 0.3, bottom=-lift, top=roof + lift),
        ),
        parts=tuple(parts),
        still=hardest,
        note=f"{_DRAWN[outline.measured(job)]}. The view follows the road's long rises.",
    )


def wheel_centres(vehicle: Vehicle, h: History) -> Floats:
    """Return where the four wheel centres are: across the road from the sprung centre, and above the road's datum.

    Returns
    -------
    array (n, 4, 3)
        Along [m] from the sprung centre of mass, left [m], up [m].
    """
    out = np.empty((h.time.size, 4, 3))
    for a, _ in enumerate(ENDS):
        axle = vehicle.axles[a].axle
        heave, roll = h.position[:, 6 + 2 * a], h.position[:, 7 + 2 * a]
        for side, sign in enumerate((1.0, -1.0)):
            y = sign * 0.5 * axle.track
            lever = (axle.design_x, y, axle.centre_z0 + heave + y * np.sin(roll))
            out[:, 2 * a + side, 0] = axle.design_x - vehicle.body.centre[0]
            out[:, 2 * a + side, 1] = y
            out[:, 2 * a + side, 2] = _height(h, vehicle, lever)
    return out


def _height(h: History, vehicle: Vehicle, point: tuple[float, float, float | Floats]) -> Floats:
    """Return the height of a point in vehicle axes over time [m]: yaw, pitch and roll, each in the axes before."""
    centre = vehicle.body.centre
    dx, dy, dz = point[0] - centre[0], point[1] - centre[1], point[2] - centre[2]
    pitch, roll = h.position[:, 4], h.position[:, 5]
    return np.asarray(h.position[:, 3] - np.sin(pitch) * dx + np.cos(pitch) * (np.sin(roll) * dy + np.cos(roll) * dz))


def _along(section: Section, h: History) -> Floats:
    """Return how far the front axle has come [m]."""
    speed = section.driven_speed(STEP)
    if not isinstance(speed, np.ndarray):
        return np.asarray(speed * h.time)
    kept = round(h.step / STEP)
    return np.asarray(np.cumsum(speed) * STEP)[kept - 1 :: kept][: h.time.size]


def _smoothed(values: Floats, over: int) -> Floats:
    """Return the running mean over about `over` values, its ends carried on."""
    padded = np.pad(values, over, mode="edge")
    return np.convolve(padded, np.ones(2 * over + 1) / (2 * over + 1), mode="valid")


def _flat(values: Floats, digits: int = 4) -> tuple[float, ...]:
    return tuple(np.round(values, digits).tolist())


def _same(value: float, frames: Sized) -> tuple[float, ...]:
    return (value,) * len(frames)


def _rear_outline(half: float, tyre: float, roof: float) -> tuple[Shape, ...]:
    sill, shoulder = 1.15 * tyre, 0.58 * roof
    body = (
        (-half, sill), (half, sill), (half, shoulder), (half - 0.14, roof), (-half + 0.14, roof), (-half, shoulder),
    )  # fmt: skip
    window = (
        (-half + 0.12, shoulder + 0.04),
        (half - 0.12, shoulder + 0.04),
        (half - 0.22, roof - 0.1),
        (-half + 0.22, roof - 0.1),
    )
    return (
        Shape(label="", points=body, closed=True),
        Shape(label="", points=window, role="plain", closed=True),
    )


def _wheel_from_behind(radius: float) -> tuple[Shape, ...]:
    w = _HALF_WIDTH
    return (Shape(label="", points=((-w, -radius), (w, -radius), (w, radius), (-w, radius)), closed=True),)
