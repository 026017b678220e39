"""The points of a linkage at every node of travel, roll and steer, from its exact poses."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np

from tussock.errors import SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage import Axle, Wheel, sweep, sweep_wheel
from tussock.mechanics.linkage.model import CHASSIS
from tussock.mechanics.linkage.solution import Solution
from tussock.studies.linkage_members import CONTACT, Sketch, Spot

SteerKind: TypeAlias = Literal["fixed", "pitman", "rack", "link"]
MIRROR = np.array([1.0, -1.0, 1.0])


@dataclass(frozen=True, kw_only=True)
class Steered:
    """What steers an axle, and the rigid axle to solve at a turn of it with the turn that its own input then takes."""

    kind: SteerKind
    at: Callable[[float], Axle] | None = None
    own: bool = False


@dataclass(frozen=True, kw_only=True)
class Poses:
    """Points (travel, roll, steer, points, 3) [m] and characteristics (travel, roll, steer) by key and line, in SI."""

    points: Floats
    figures: Mapping[str, dict[str, Floats]]


def pitman_steered(axle: Axle) -> Steered:
    """Return an axle whose pitman arm turns [rad], left positive."""
    return Steered(kind="pitman", at=lambda turn: axle, own=True)


def drag_link_steered(axle: Axle, with_link: Callable[[float], Axle]) -> Steered:
    """Return an axle steered by the end of its drag link, moved along the link [m], wheels to the left positive.

    That is a link so much longer or shorter: `with_link` builds the axle with one of a length [m].
    """
    link = next(e for e in axle.linkage.elements if e.name == "drag_link")
    length = float(getattr(link, "length", 0.0))
    probe = 1e-3
    there = np.zeros(1)
    slope = np.mean(sweep(with_link(length + probe), there, there).road_steer) - np.mean(
        sweep(axle, there, there).road_steer
    )
    sign = 1.0 if slope >= 0.0 else -1.0
    return Steered(kind="link", at=lambda turn: with_link(length + sign * turn))


def axle_poses(drawing: Sketch, steered: Steered, heave: Floats, roll: Floats, turn: Floats) -> Poses:
    """Return a rigid axle at every node; SolverError or AssemblyError where one cannot be reached."""
    assert steered.at is not None
    shape = (heave.size, roll.size)
    points, lines = [], []
    for value in turn:
        axle = steered.at(float(value))
        steer = float(value) if steered.own else 0.0
        solved = axle.solve(heave, roll, steer)
        points.append(_placed(drawing, solved, axle.wheel_radius).reshape(*shape, -1, 3))
        lines.append(_axle_lines(axle, heave, roll, steer))
    return Poses(points=np.stack(points, axis=2), figures=_stacked(lines, axis=2))


def _axle_lines(axle: Axle, heave: Floats, roll: Floats, steer: float) -> dict[str, dict[str, Floats]]:
    s = sweep(axle, heave, roll, steer=steer)
    out = {
        "steer": {"left": s.road_steer[..., 0], "right": s.road_steer[..., 1]},
        "camber": {"left": s.camber[..., 0], "right": s.camber[..., 1]},
        "roll_centre": {"": s.roll_centre_height},
        "sideways": {"": s.lateral_shift},
    }
    if s.caster is not None:
        out["caster"] = {"left": s.caster[..., 0], "right": s.caster[..., 1]}
    return out


def wheel_poses(drawing: Sketch, wheel: Wheel, heave: Floats, roll: Floats, turn: Floats) -> Poses:
    """Return both independent wheels at every node: each at its own travel, the right one as the left one's image.

    The wheel that rises by half the track times sin(roll) has that much more travel. Where a wheel does not reach, its
    points are NaN.
    """
    lean = float(wheel.centre[1]) * np.sin(roll)
    left = heave[:, None] + lean
    both = np.round(np.stack([left, heave[:, None] - lean]), 12)
    unique, place = np.unique(both, return_inverse=True)
    grid = np.asarray(unique, dtype=np.float64)
    place = place.reshape(2, heave.size, roll.size)
    points, lines = [], []
    half = len(drawing.spots) // 2
    for i, value in enumerate(turn):
        sides, figures = [], []
        # the image of a steer to the left is one to the right
        for k, steer in enumerate((float(value), float(turn[turn.size - 1 - i]))):
            at, got = _followed(drawing, wheel, grid, steer)
            at = at[:, :half] if k == 0 else at[:, :half] * MIRROR
            sides.append(at[place[k]])
            figures.append({key: line[place[k]] * (-1.0 if k and key == "steer" else 1.0) for key, line in got.items()})
        points.append(np.concatenate(sides, axis=2))
        lines.append({key: {"left": figures[0][key], "right": figures[1][key]} for key in figures[0]})
    return Poses(points=np.stack(points, axis=2), figures=_stacked(lines, axis=2))


def _followed(drawing: Sketch, wheel: Wheel, grid: Floats, steer: float) -> tuple[Floats, dict[str, Floats]]:
    """Return a wheel's points and characteristics over a grid of travel, NaN beyond what it reaches."""
    points = np.full((grid.size, len(drawing.spots), 3), np.nan)
    figures = {key: np.full(grid.size, np.nan) for key in ("steer", "camber", "caster", "roll_centre", "sideways")}
    try:
        reached, solved = wheel.solve_within(grid, steer)
        s = sweep_wheel(wheel, reached, None if wheel.steering == "fixed" else np.array([steer]))
    except SolverError:
        return points, figures
    first = int(np.argmin(np.abs(grid - reached[0])))
    where = slice(first, first + reached.size)
    points[where] = _placed(drawing, solved, wheel.wheel_radius, spin=wheel.spin)
    for key, name in (
        ("steer", "road_steer"), ("camber", "camber"), ("caster", "caster"), ("roll_centre", "roll_centre_height"),
        ("sideways", "track_change"),
    ):  # fmt: skip
        figures[key][where] = getattr(s, name)[:, 0]
    return points, figures


def _placed(drawing: Sketch, solved: Solution, radius: float, *, spin: Floats | None = None) -> Floats:
    """Return every point of a drawing in each solved pose (poses, points, 3); of mirrored ones the left ones again."""
    count = solved.inputs.shape[0]
    out = np.empty((count, len(drawing.spots), 3))
    for i, spot in enumerate(drawing.spots):
        if spot.body != CONTACT:
            at = np.array(spot.at) * (MIRROR if drawing.mirrored[i] else 1.0)
            out[:, i] = _place(solved, spot, at)
    for centre, outward, contact in drawing.wheels:
        axis = out[:, outward] - out[:, centre]
        out[:, contact] = out[:, centre] + radius * _down(axis)
    return out


def _place(solved: Solution, spot: Spot, at: Floats) -> Floats:
    return np.broadcast_to(at, (solved.inputs.shape[0], 3)) if spot.body == CHASSIS else solved.point(spot.body, at)


def _down(axis: Floats) -> Floats:
    """Return the direction from a wheel's centre to its lowest point (poses, 3) [-]."""
    along = axis / np.linalg.norm(axis, axis=1)[:, None]
    down = along * along[:, 2:3] - np.array([0.0, 0.0, 1.0])
    return np.asarray(down / np.linalg.norm(down, axis=1)[:, None])


def _stacked(lines: list[dict[str, dict[str, Floats]]], *, axis: int) -> dict[str, dict[str, Floats]]:
    return {
        key: {name: np.stack([one[key][name] for one in lines], axis=axis) for name in lines[0][key]}
        for key in lines[0]
    }
