"""What of a linkage is drawn: its points, each fixed in a body, and the members that join them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Literal, TypeAlias

import numpy as np

from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage import Axle, Wheel
from tussock.mechanics.linkage.model import CHASSIS, Body, Joint, Rod
from tussock.studies.suspensions import Suspension

Kind: TypeAlias = Literal["body", "rod", "spring", "damper", "other", "axle", "shaft"]
OUTWARD = 0.1  # a second point of a wheel's axis lies so far out [m]
_SAME = 1e-6  # points of one body nearer than this are one [m]


@dataclass(frozen=True, kw_only=True)
class Spot:
    """A point of the drawing: its name ("" for one that only carries a line), its body, its place in the stock pose."""

    name: str
    body: str
    at: tuple[float, float, float]


@dataclass(frozen=True, kw_only=True)
class Member:
    """A line through points by their numbers; `closed` joins the last to the first."""

    name: str
    kind: Kind
    points: tuple[int, ...]
    closed: bool = False


@dataclass(frozen=True, kw_only=True)
class Sketch:
    """Points and members of an axle in the stock pose, both sides; see `LinkagePoses` for the rest."""

    spots: tuple[Spot, ...]
    members: tuple[Member, ...]
    wheels: tuple[tuple[int, int, int], ...]
    radius: float
    mirrored: tuple[bool, ...]  # which points are those of a left wheel seen in the mirror


@dataclass
class _Board:
    spots: list[Spot] = field(default_factory=list)
    members: list[Member] = field(default_factory=list)

    def spot(self, name: str, body: str, at: Floats) -> int:
        """Return the number of a point, added unless its body has one there already."""
        for i, one in enumerate(self.spots):
            if one.body == body and one.name and name and float(np.max(np.abs(np.array(one.at) - at))) < _SAME:
                return i
        x, y, z = (float(c) for c in at)
        self.spots.append(Spot(name=name, body=body, at=(x, y, z)))
        return len(self.spots) - 1

    def join(self, name: str, kind: Kind, points: Iterable[int], *, closed: bool = False) -> None:
        run = tuple(points)
        if len(run) > 1:
            self.members.append(Member(name=name, kind=kind, points=run, closed=closed))


def sketch(built: Suspension) -> Sketch:
    """Return what is drawn of an axle; of independent wheels the right one is the left one's mirror image."""
    return _of_axle(built) if isinstance(built, Axle) else _of_wheels(built)


def words(name: str) -> str:
    """Return a name of the linkage as people say it, its side at the end.

    >>> words("arm_axle_front_left"), words("track_rod")
    ('arm axle front, left', 'track rod')
    """
    for side in ("left", "right"):
        if name.endswith(f"_{side}"):
            return f"{name.removesuffix(f'_{side}').replace('_', ' ')}, {side}"
    return name.replace("_", " ")


def _of_axle(axle: Axle) -> Sketch:
    board = _Board()
    held = _elements(board, axle.linkage.elements)
    centres = []
    for side, centre, body in zip(("left", "right"), axle.wheel_centres, axle.wheel_bodies, strict=True):
        centres.append(board.spot(f"wheel centre, {side}", body, centre))
    pins: dict[str, list[int]] = {}
    if axle.king_pin is not None:
        for side, centre, pin in zip(("left", "right"), axle.wheel_centres, axle.king_pin, strict=True):
            knuckle = next(b for b in axle.linkage.bodies if b.name == f"knuckle_{side}")
            foot = centre if knuckle.anchor is None else knuckle.anchor
            across = foot + pin * float((centre - foot) @ pin)
            ends = [board.spot(f"king pin {word}, {side}", "axle", across + s * 0.12 * pin) for word, s in _PIN_ENDS]
            board.join(f"king pin, {side}", "axle", ends)
            pins[f"knuckle_{side}"] = [board.spot("", f"knuckle_{side}", across)]
    beam = [board.spot("", "axle", centre) for centre in axle.wheel_centres]
    board.join("axle", "axle", beam)
    for i in held.pop("axle", []):
        along = np.array(board.spots[i].at)
        foot = board.spot("", "axle", np.array([axle.centre[0], along[1], axle.centre[2]]))
        board.join("axle", "axle", (foot, i))
    for side, centre in zip(("left", "right"), centres, strict=True):
        for i in [*held.pop(f"knuckle_{side}", []), *pins.get(f"knuckle_{side}", [])]:
            board.join(f"knuckle, {side}", "body", (centre, i))
    _bodies(board, axle.linkage.bodies, held)
    for part in axle.attachments.values():
        if part.name == "spring" and axle.layout == "leaf_springs":
            continue  # its leaves are drawn; the seats only carry what measures their arch
        for k, (top, low, body) in enumerate(zip(part.chassis, part.at, part.bodies, strict=True)):
            name = part.name if len(part.bodies) == 1 else f"{part.name}_{('left', 'right')[k]}"
            _attached(board, name, part.name, top, low, body)
    wheels = []
    for sign, centre, body, i in zip((1.0, -1.0), axle.wheel_centres, axle.wheel_bodies, centres, strict=True):
        out = board.spot("", body, centre + np.array([0.0, sign * OUTWARD, 0.0]))
        wheels.append((i, out, _contact(board, f"contact, {'left' if sign > 0.0 else 'right'}")))
    return _closed(board, wheels, axle.wheel_radius, ())


def _of_wheels(wheel: Wheel) -> Sketch:
    """Return both wheels: the points of the left one, then the same again for the right one."""
    board = _Board()
    held = _elements(board, wheel.linkage.elements)
    centre = board.spot("wheel centre", "upright", wheel.centre)
    (low_body, low), (top_body, top) = wheel.steering_axis
    ends = (board.spot("", low_body, low), board.spot("", top_body, top))
    board.join("steering axis", "axle", ends)
    for i in held.pop("upright", []):
        board.join("upright", "body", (centre, i))
    _bodies(board, wheel.linkage.bodies, held)
    for part in wheel.attachments.values():
        _attached(board, part.name, part.name, part.chassis, part.at, part.body)
    if wheel.drive is not None:
        joints = (
            board.spot("inner drive joint", CHASSIS, wheel.drive[0]),
            board.spot("outer drive joint", "upright", wheel.drive[1]),
        )
        board.join("drive shaft", "shaft", joints)
    out = board.spot("", "upright", wheel.centre + OUTWARD * wheel.spin)
    contact = _contact(board, "contact")
    return _doubled(board, (centre, out, contact), wheel)


_PIN_ENDS = (("lower end", -1.0), ("upper end", 1.0))


def _doubled(board: _Board, wheel_points: tuple[int, int, int], wheel: Wheel) -> Sketch:
    count = len(board.spots)
    spots = [_sided(s, "left") for s in board.spots] + [_sided(s, "right") for s in board.spots]
    members = [
        Member(
            name=f"{m.name}, {side}",
            kind=m.kind,
            points=tuple(i + shift for i in m.points),
            closed=m.closed,
        )
        for side, shift in (("left", 0), ("right", count))
        for m in board.members
    ]
    for body, name in (("rack", "rack"), ("bar", "anti-roll bar")):
        inner = next((i for i, s in enumerate(board.spots) if s.body == body and s.name), None)
        if inner is not None:
            members.append(Member(name=name, kind="rod", points=(inner, inner + count)))
    doubled = _Board(spots, members)
    wheels = [wheel_points, tuple(i + count for i in wheel_points)]
    return _closed(doubled, wheels, wheel.wheel_radius, (False,) * count + (True,) * count)


def _sided(spot: Spot, side: str) -> Spot:
    x, y, z = spot.at
    name = f"{spot.name}, {side}" if spot.name else ""
    return Spot(name=name, body=spot.body, at=(x, y if side == "left" else -y, z))


def _closed(board: _Board, wheels: Iterable[tuple[int, ...]], radius: float, mirrored: tuple[bool, ...]) -> Sketch:
    return Sketch(
        spots=tuple(board.spots),
        members=tuple(board.members),
        wheels=tuple((a, b, c) for a, b, c in wheels),
        radius=radius,
        mirrored=mirrored or (False,) * len(board.spots),
    )


def _elements(board: _Board, elements: Iterable[Rod | Joint]) -> dict[str, list[int]]:
    """Add the ends of every rod and the place of every joint; returns the points of each body but the chassis."""
    held: dict[str, list[int]] = {}
    for element in elements:
        name = words(element.name)
        if isinstance(element, Rod):
            ends = [
                board.spot(f"{_stem(name)} on {_body_words(body)}{_side(name) or _side(words(body))}", body, at)
                for body, at in ((element.body_a, element.point_a), (element.body_b, element.point_b))
            ]
            board.join(name, "rod", ends)
            for body, i in zip((element.body_a, element.body_b), ends, strict=True):
                held.setdefault(body, []).append(i)
            continue
        for body, at in ((element.body_a, element.point_a), (element.body_b, element.point_b)):
            if body != CHASSIS:
                held.setdefault(body, []).append(board.spot(name, body, at))
    held.pop(CHASSIS, None)
    return held


def _bodies(board: _Board, bodies: Iterable[Body], held: Mapping[str, list[int]]) -> None:
    """Join the points of each body: two by a line, more around and closed; a hinge ends on its own axis."""
    for body in bodies:
        points = list(dict.fromkeys(held.get(body.name, ())))
        if body.kind == "hinge" and body.anchor is not None and body.parent == CHASSIS and points:
            name = words(body.name)
            if body.name.endswith("_arm") and body.axis is not None:  # its axis runs from the rear pivot to the front
                points.append(board.spot(f"{name} front pivot", CHASSIS, body.anchor))
                points.append(board.spot(f"{name} rear pivot", CHASSIS, body.anchor - body.axis))
            else:
                points.append(board.spot(f"{name} pivot", CHASSIS, body.anchor))
        if points:
            board.join(words(body.name), "body", _around(board, points), closed=len(points) > 2)


def _around(board: _Board, points: list[int]) -> list[int]:
    """Return points in order around their middle, in the plane that fits them."""
    if len(points) < 4:
        return points
    at = np.array([board.spots[i].at for i in points])
    at = at - at.mean(axis=0)
    plane = np.linalg.svd(at, full_matrices=False)[2][:2]
    angle = np.arctan2(at @ plane[1], at @ plane[0])
    return [points[i] for i in np.argsort(angle)]


def _attached(board: _Board, name: str, part: str, top: Floats, low: Floats, body: str) -> None:
    said = words(name)
    ends = (
        board.spot(f"{_stem(said)} on the body{_side(said)}", CHASSIS, top),
        board.spot(f"{_stem(said)} below{_side(said)}", body, low),
    )
    kind: Kind = "spring" if part == "spring" else "damper" if part == "damper" else "other"
    board.join(said, kind, ends)


def _contact(board: _Board, name: str) -> int:
    """Add the lowest point of a wheel: no body carries it, since the wheel turns over it."""
    board.spots.append(Spot(name=name, body=CONTACT, at=(0.0, 0.0, 0.0)))
    return len(board.spots) - 1


CONTACT = "contact"


def _stem(said: str) -> str:
    return said.partition(", ")[0]


def _side(said: str) -> str:
    _, comma, side = said.partition(", ")
    return f"{comma}{side}"


def _body_words(body: str) -> str:
    return "the body" if body == CHASSIS else words(body).partition(", ")[0]
