"""Checks between the fields of an axle: hardpoints against layout, sides, zero lengths, order of heights, limiters."""

from __future__ import annotations

import math
from collections.abc import Iterator

from tussock.record.base import AXLES
from tussock.record.fields import Point
from tussock.record.layouts import (
    LAYOUTS,
    LEAST_LINKS,
    ON_ARM,
    SPANS,
    STEERING,
    UPRIGHT,
    Layout,
    hardpoints,
    links,
    rods,
)
from tussock.record.view import Finding, Path, View, likeliest, nearest

_SAME = 1e-3  # points closer than this are one point [m]
_ORIGIN = 0.05  # the origin may lie this far from the wheel centres fore and aft [m]


def check_axles(view: View) -> Iterator[Finding]:
    """Yield what is wrong between the fields of either axle."""
    for axle in AXLES:
        path: Path = ("vehicle", "axles", axle)
        if view.get(*path) is None:
            continue
        points = view.points(*path, "hardpoints")
        layout = LAYOUTS.get(view.text(*path, "layout") or "")
        if layout is not None:
            yield from _names(view, path, layout)
            yield from _sides(view, points, path, layout)
            yield from _bushes(view, path, layout)
            yield from _limiter_names(view, path, layout)
        yield from _spans(points, path)
        yield from _order(points, path)
        yield from _spring_at_kerb(view, points, path)
        yield from _lines(view, path)
    yield from _places_of_wheels(view)


def _distance(a: Point, b: Point) -> float:
    return math.dist(a.si, b.si)


def _names(view: View, path: Path, layout: Layout) -> Iterator[Finding]:
    given = view.names(*path, "hardpoints")
    if not given:
        return
    needed = layout.required
    if view.get(*path, "steering") is not None:
        needed = (*needed, *STEERING)
    for name in needed:
        part, _, end = name.rpartition("_")
        on_arm = end == "axle" and part in ON_ARM and "arm" in layout.bodies and f"{part}_arm" in given
        if name not in given and not on_arm:
            yield Finding(
                path=(*path, "hardpoints", name),
                found="nothing",
                wrong=f"hardpoint missing; the layout {view.text(*path, 'layout')} needs it"
                + (" on an axle that steers" if name in STEERING else ""),
                example=f"{name}: -885, 412, 432 mm +- 2 mm",
            )
    known = hardpoints(view.text(*path, "layout") or "", given)
    own = links(view.text(*path, "layout") or "", given)
    if layout.links and len(own) < LEAST_LINKS:
        yield Finding(
            path=(*path, "hardpoints"),
            found=f"{len(own)} link{'' if len(own) == 1 else 's'}",
            wrong=f"the axle needs at least {LEAST_LINKS} pairs of link hardpoints to be held fore and aft",
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
                wrong=f"unknown hardpoint for the layout {view.text(*path, 'layout')}; {nearest(name, known)}",
                example=likeliest(name, known),
            )


def _sides(view: View, points: dict[str, Point], path: Path, layout: Layout) -> Iterator[Finding]:
    known = hardpoints(view.text(*path, "layout") or "", points)
    once = {f"{link}_{end}" for _, link in view.rows(*path, "central") for end in ("axle", "chassis")}
    left = {
        name: p
        for name, p in points.items()
        if name in known and name not in layout.central and name not in once and not name.endswith("_right")
    }
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
    found = dict.fromkeys(name.rsplit("_", 1)[0] for name in points if name.endswith(("_link_axle", "_link_chassis")))
    own = tuple((link.replace("_", " "), f"{link}_axle", f"{link}_chassis") for link in found)
    for part, one, two in (*SPANS, *own):
        if one in points and two in points and _distance(points[one], points[two]) < _SAME:
            yield Finding(
                path=(*path, "hardpoints", two),
                found=points[two].text,
                wrong=f"the {part} has no length: {two} and {one} are the same point",
                example="two points at least 1 mm apart",
            )


def _order(points: dict[str, Point], path: Path) -> Iterator[Finding]:
    for part, low, high in UPRIGHT:
        one, two = points.get(f"{part}_axle"), points.get(f"{part}_chassis")
        if one is None or two is None or _distance(one, two) < _SAME or one.z < two.z:
            continue
        yield Finding(
            path=(*path, "hardpoints", f"{part}_axle"),
            found=f"{one.text} (chassis end {two.text})",
            wrong=f"the {part}'s {low} on the axle is not below its {high} on the chassis: "
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


def _spring_at_kerb(view: View, points: dict[str, Point], path: Path) -> Iterator[Finding]:
    free = view.length(*path, "spring", "free_length")
    one, two = points.get("spring_axle"), points.get("spring_chassis")
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


def _bushes(view: View, path: Path, layout: Layout) -> Iterator[Finding]:
    given = view.names(*path, "bushes")
    own = links(view.text(*path, "layout") or "", view.names(*path, "hardpoints"))
    known = (*layout.joints, *own)
    for name in given:
        if name not in known:
            yield Finding(
                path=(*path, "bushes", name),
                found=repr(name),
                wrong=f"unknown joint or link; {nearest(name, known)}",
                example=likeliest(name, known, "none: leave it out"),
            )
            continue
        has_link_form = "stiffness" in view.names(*path, "bushes", name)
        if name in layout.joints and has_link_form:
            yield Finding(
                path=(*path, "bushes", name),
                found="stiffness",
                wrong="this is a bushed joint; it wants radial, axial, conical and torsional rates",
                example="{radial: 6.0 kN/mm, axial: 1.2 kN/mm, conical: 28 N m/deg, torsional: 2.4 N m/deg}",
            )
        if name in own and not has_link_form and isinstance(view.get(*path, "bushes", name), dict):
            yield Finding(
                path=(*path, "bushes", name),
                found=", ".join(view.names(*path, "bushes", name)) or "nothing",
                wrong="this is a link; it wants one stiffness, its two end bushes in series",
                example="{stiffness: 5.0 kN/mm}",
            )
    for name in layout.joints:
        if name not in given:
            yield Finding(
                path=(*path, "bushes", name),
                found="nothing",
                wrong="bush missing: two arms over-constrain the axle in roll, so its bush rates are needed",
                example="{radial: 6.0 kN/mm, axial: 1.2 kN/mm, conical: 28 N m/deg, torsional: 2.4 N m/deg}",
            )


def _limiter_names(view: View, path: Path, layout: Layout) -> Iterator[Finding]:
    known_rods = rods(view.text(*path, "layout") or "", view.names(*path, "hardpoints"))
    steers = view.get(*path, "steering") is not None
    if not steers:
        known_rods = tuple(r for r in known_rods if r not in ("drag_link", "tie_rod"))
    for i, _ in view.rows(*path, "limiters"):
        at: Path = (*path, "limiters", i)
        joint, rod = view.text(*at, "joint"), view.text(*at, "rod")
        if view.text(*at, "kind") == "joint" and joint is not None and joint not in layout.joints:
            yield Finding(
                path=(*at, "joint"),
                found=repr(joint),
                wrong=f"the layout has no such bushed joint; {nearest(joint, layout.joints)}",
                example=likeliest(joint, layout.joints, "none: leave it out"),
            )
        if view.text(*at, "kind") in ("rod_end", "clearance") and rod is not None and rod not in known_rods:
            yield Finding(
                path=(*at, "rod"),
                found=repr(rod),
                wrong=f"the axle has no such rod; {nearest(rod, known_rods)}",
                example=likeliest(rod, known_rods, "none: leave it out"),
            )


def _lines(view: View, path: Path) -> Iterator[Finding]:
    seen: set[str] = set()
    for i, _ in view.rows(*path, "limiters"):
        at: Path = (*path, "limiters", i)
        name = view.text(*at, "name")
        if name is not None and name in seen:
            yield Finding(
                path=(*at, "name"),
                found=repr(name),
                wrong="a second limiter of this name on this axle",
                example="a name of its own",
            )
        seen.add(name or "")
        ends = {"line": ("chassis", "axle"), "universal_joint": ("output", "flange")}.get(view.text(*at, "kind") or "")
        if ends is None:
            continue
        one, two = (view.point(*at, end) for end in ends)
        if one is None or two is None:
            continue
        apart = _distance(one, two)
        length = view.length(*at, "length")
        if apart < _SAME:
            yield Finding(
                path=(*at, ends[1]),
                found=two.text,
                wrong=f"{ends[0]} and {ends[1]} are the same point",
                example="the other end",
            )
        elif ends[0] == "chassis" and length is not None and 0.0 < length.si < apart:
            yield Finding(
                path=(*at, "length"),
                found=length.text,
                wrong=f"shorter than the distance between its ends at kerb, {1e3 * apart:.0f} mm: it would be torn",
                example=f"{1e3 * apart + 80.0:.0f} mm",
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
