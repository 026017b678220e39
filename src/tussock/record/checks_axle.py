"""Checks between the fields of an axle: hardpoints against layout, sides, zero lengths, order of heights, limiters."""

from __future__ import annotations

import math
from collections.abc import Iterator

from tussock.record.base import AXLES
from tussock.record.checks_axle_parts import check_axle_parts
from tussock.record.fields import Point
from tussock.record.layouts import (
    LAYOUTS,
    SPANS,
    STEERINGS,
    UPRIGHT,
    central,
    hardpoints,
    links,
    part_ends,
)
from tussock.record.view import Finding, Path, View, likeliest, nearest

_SAME = 1e-3  # points closer than this are one point [m]
_BODIES = frozenset(body for table in LAYOUTS.values() for body in table.carriers)
_ORIGIN = 0.05  # the origin may lie this far from the wheel centres fore and aft [m]


def check_axles(view: View) -> Iterator[Finding]:
    """Yield what is wrong between the fields of either axle."""
    for axle in AXLES:
        path: Path = ("vehicle", "axles", axle)
        if view.get(*path) is None:
            continue
        points = view.points(*path, "hardpoints")
        layout = view.text(*path, "layout") or ""
        if layout in LAYOUTS:
            steering = view.steering(*path)
            yield from _names(view, path, layout, steering)
            yield from _sides(view, points, path, layout, steering)
            yield from _order(points, path, layout)
            yield from _spring_at_kerb(view, points, path, layout)
        yield from _spans(points, path)
        yield from check_axle_parts(view, path)
    yield from _places_of_wheels(view)


def _distance(a: Point, b: Point) -> float:
    return math.dist(a.si, b.si)


def _missing(path: Path, name: str, wrong: str) -> Finding:
    return Finding(
        path=(*path, "hardpoints", name), found="nothing", wrong=wrong, example=f"{name}: -885, 412, 432 mm +- 2 mm"
    )


def _names(view: View, path: Path, layout: str, steering: str) -> Iterator[Finding]:
    given = view.names(*path, "hardpoints")
    if not given:
        if view.get(*path, "hardpoints") is None and view.get(*path, "hardpoints_file") is None:
            wrong = "this field is missing: points by name; left side (the right is the mirror), or a hardpoints_file"
            yield Finding(path=(*path, "hardpoints"), found="nothing", wrong=wrong, example="{wheel_centre: ...}")
        return
    table = LAYOUTS[layout]
    needs = f"hardpoint missing; the layout {layout} needs it"
    for name in table.required:
        if name not in given:
            yield _missing(path, name, needs)
    for name in STEERINGS[steering].required if steering else ():
        if name not in given:
            why = f" for {STEERINGS[steering].words}" if table.independent else " on an axle that steers"
            yield _missing(path, name, needs + why)
    yield from _part_names(view, path, layout, given)
    for group in table.groups:
        present = [name for name in group if name in given]
        for name in group if present else ():
            if name not in given:
                yield _missing(path, name, f"hardpoint missing; it belongs to {present[0]}, which is given")
    known = hardpoints(layout, given)
    own = links(layout, given)
    if len(own) < table.least_links:
        yield Finding(
            path=(*path, "hardpoints"),
            found=f"{len(own)} link{'' if len(own) == 1 else 's'}",
            wrong=f"the axle needs at least {table.least_links} pairs of link hardpoints to be held fore and aft",
            example="lower_link_axle, lower_link_chassis, upper_link_axle, upper_link_chassis",
        )
    for link in own:
        for end in ("axle", "chassis"):
            if f"{link}_{end}" not in given:
                yield Finding(
                    path=(*path, "hardpoints", f"{link}_{end}"),
                    found="nothing",
                    wrong=f"hardpoint missing: the {link.replace('_', ' ')} has only one end",
                    example=f"{link}_{end}: -1934, 436, 372 mm +- 2 mm",
                )
    for i, link in view.rows(*path, "central"):
        if isinstance(link, str) and link not in own:
            yield Finding(
                path=(*path, "central", i),
                found=repr(link),
                wrong=f"the layout has no such link; {nearest(link, own)}",
                example=likeliest(link, own, "none: leave it out"),
            )
    for name in given:
        if name not in known:
            yield Finding(
                path=(*path, "hardpoints", name),
                found=repr(name),
                wrong=f"unknown hardpoint for the layout {layout}; {nearest(name, known)}",
                example=likeliest(name, known),
            )


def _part_names(view: View, path: Path, layout: str, given: tuple[str, ...]) -> Iterator[Finding]:
    """Look for both ends of spring, damper, bump stop, and of the drop link where there is a bar."""
    table = LAYOUTS[layout]
    wanted = list(table.parts)
    if "bar_pivot" in given and table.independent:
        wanted.append("drop_link")
    coil = (view.text(*path, "spring", "kind") or "coil") == "coil"
    over_damper = view.get(*path, "damper", "spring_seats") is not None
    for part in wanted:
        moving = [name for name in part_ends(layout, part) if name in given]
        fixed = f"{part}_chassis"
        if part == "spring" and (over_damper or not coil) and not moving and fixed not in given:
            continue
        if part != "drop_link" and fixed not in given:
            yield _missing(path, fixed, f"hardpoint missing; the layout {layout} needs it")
        if not moving:
            others = part_ends(layout, part)[1:]
            either = f", or else {' or '.join(others)}" if others else ""
            yield _missing(path, part_ends(layout, part)[0], f"hardpoint missing; the layout {layout} needs it{either}")
        for name in moving[1:]:
            yield Finding(
                path=(*path, "hardpoints", name),
                found=repr(name),
                wrong=f"a second place for the same end: {moving[0]} is given as well",
                example=moving[0],
            )


def _sides(view: View, points: dict[str, Point], path: Path, layout: str, steering: str) -> Iterator[Finding]:
    known = hardpoints(layout, points)
    once = {f"{link}_{end}" for _, link in view.rows(*path, "central") for end in ("axle", "chassis")}
    once |= central(layout, steering)
    left = {name: p for name, p in points.items() if name in known and name not in once and not name.endswith("_right")}
    wrong = {name: p for name, p in left.items() if p.y <= 0.0}
    if len(wrong) > 2 and len(wrong) == len(left):
        yield Finding(
            path=(*path, "hardpoints"),
            found=f"all {len(left)} left-hand points lie on the right (y below 0)",
            wrong="the side looks mirrored: y points to the left, and points are given for the left side",
            example="wheel_centre: 0, 750, 361 mm",
        )
        return
    for name, p in wrong.items():
        yield Finding(
            path=(*path, "hardpoints", name),
            found=p.text,
            wrong=f"a left-hand point must lie left of the middle (y above 0), this one has y = {1e3 * p.y:g} mm",
            example=f"{1e3 * p.x:g}, {max(1e3 * abs(p.y), 1.0):g}, {1e3 * p.z:g} mm",
        )
    for name, p in points.items():
        if name.endswith("_right") and p.y >= 0.0:
            yield Finding(
                path=(*path, "hardpoints", name),
                found=p.text,
                wrong=f"a right-hand point must lie right of the middle (y below 0), this one has y = {1e3 * p.y:g} mm",
                example=f"{1e3 * p.x:g}, {min(-1e3 * abs(p.y), -1.0):g}, {1e3 * p.z:g} mm",
            )


def _spans(points: dict[str, Point], path: Path) -> Iterator[Finding]:
    found = dict.fromkeys(name.removesuffix("_chassis") for name in points if name.endswith("_chassis"))
    own = tuple(
        ({"stop": "bump stop"}.get(part, part.replace("_", " ")), name, f"{part}_chassis")
        for part in found
        for name in points
        if name.startswith(f"{part}_") and name in (f"{part}_{body}" for body in _BODIES)
    )
    for part, one, two in (*SPANS, *own):
        if one in points and two in points and _distance(points[one], points[two]) < _SAME:
            yield Finding(
                path=(*path, "hardpoints", two),
                found=points[two].text,
                wrong=f"the {part} has no length: {two} and {one} are the same point",
                example="two points at least 1 mm apart",
            )


def _moving(points: dict[str, Point], layout: str, part: str) -> str:
    """Return the name of a part's moving end as given, else the usual one."""
    return next((n for n in part_ends(layout, part) if n in points), part_ends(layout, part)[0])


def _order(points: dict[str, Point], path: Path, layout: str) -> Iterator[Finding]:
    for part, low, high in UPRIGHT:
        end = _moving(points, layout, part)
        one, two = points.get(end), points.get(f"{part}_chassis")
        if one is None or two is None or _distance(one, two) < _SAME or one.z < two.z:
            continue
        body = end.removeprefix(f"{part}_").replace("_", " ")
        yield Finding(
            path=(*path, "hardpoints", end),
            found=f"{one.text} (chassis end {two.text})",
            wrong=f"the {part}'s {low} on the {body} is not below its {high} on the chassis: "
            f"z {1e3 * one.z:g} mm against {1e3 * two.z:g} mm; are the two points swapped?",
            example=f"{1e3 * two.x:g}, {1e3 * two.y:g}, {1e3 * two.z:g} mm",
        )
    for name in ("wheel_centre",):
        if name in points and points[name].z <= 0.0:
            yield Finding(
                path=(*path, "hardpoints", name),
                found=points[name].text,
                wrong="the wheel centre lies at or below the ground; z points upwards from the ground",
                example="0, 750, 361 mm",
            )


def _spring_at_kerb(view: View, points: dict[str, Point], path: Path, layout: str) -> Iterator[Finding]:
    free = view.length(*path, "spring", "free_length")
    one, two = points.get(_moving(points, layout, "spring")), points.get("spring_chassis")
    if free is None or one is None or two is None or not one.z < two.z or one.y * two.y < 0.0:
        return
    seats = _distance(one, two)
    if free.si > 0.0 and free.si <= seats:
        yield Finding(
            path=(*path, "spring", "free_length"),
            found=free.text,
            wrong=f"the stock spring is loose at kerb: its seats are {1e3 * seats:.0f} mm apart there",
            example=f"{1e3 * seats + 150.0:.0f} mm",
        )


def _places_of_wheels(view: View) -> Iterator[Finding]:
    wheelbase = view.length("vehicle", "wheelbase")
    radius = view.length("vehicle", "tyre", "free_radius")
    for axle in AXLES:
        path: Path = ("vehicle", "axles", axle, "hardpoints", "wheel_centre")
        centre = view.point(*path)
        if centre is None:
            continue
        if radius is not None and radius.si > 0.0 and not 0.75 * radius.si < centre.z <= radius.si:
            yield Finding(
                path=path,
                found=centre.text,
                wrong=f"the wheel centre is {1e3 * centre.z:g} mm above the ground; "
                f"a tyre of {radius.text} free radius carries it a little lower than that radius",
                example=f"{1e3 * centre.x:g}, {1e3 * centre.y:g}, {950.0 * radius.si:.0f} mm",
            )
        if axle == "rear" and (wheelbase is None or not 1.0 <= wheelbase.si <= 6.0):
            continue
        wanted = 0.0 if axle == "front" or wheelbase is None else -wheelbase.si
        if abs(centre.x - wanted) > _ORIGIN:
            said = "the origin lies under the front axle" if axle == "front" else "x points forward and the wheelbase"
            if axle == "rear" and wheelbase is not None:
                said += f" is {wheelbase.text}"
            yield Finding(
                path=path,
                found=centre.text,
                wrong=f"{said}, so x of this wheel centre should be about {1e3 * wanted:.0f} mm, "
                f"not {1e3 * centre.x:g} mm",
                example=f"{1e3 * wanted:.0f}, {1e3 * centre.y:g}, {1e3 * centre.z:g} mm",
            )
