"""Checks of an axle's parts against its layout: steering, springs, bars, bushes, limiters, masses."""

from __future__ import annotations

import math
from collections.abc import Iterator

from tussock.record.layouts import LAYOUTS, STEERINGS, Layout, joints, links, rods
from tussock.record.view import Finding, Path, View, likeliest, nearest

_SAME = 1e-3  # ends of a line closer than this are one point [m]
_BUSH = "{radial: 6.0 kN/mm, axial: 1.2 kN/mm, conical: 28 N m/deg, torsional: 2.4 N m/deg}"
_BAR = ("diameter", "arm", "length", "bush_spacing")


def check_axle_parts(view: View, path: Path) -> Iterator[Finding]:
    """Yield what is wrong between an axle's layout and its parts."""
    layout = view.text(*path, "layout") or ""
    table = LAYOUTS.get(layout)
    if table is not None:
        yield from _steering(view, path, layout, table)
        yield from _inertia(view, path, table)
        yield from spring_kind(view, (*path, "spring"), layout)
        yield from _bar(view, path, table)
        yield from _bushes(view, path, layout, table)
        yield from _limiters(view, path, layout, table)
    yield from _lines(view, path)


def _steering(view: View, path: Path, layout: str, table: Layout) -> Iterator[Finding]:
    if not view.is_mapping(*path, "steering"):
        return
    at: Path = (*path, "steering")
    kind = view.text(*at, "kind")
    if (kind or "drag_link") not in table.steerings:
        may = " or ".join(f"{k} ({STEERINGS[k].words})" for k in table.steerings)
        if kind is None or kind in STEERINGS:
            yield Finding(
                path=(*at, "kind"),
                found=repr(kind) if kind else "nothing, which means drag_link",
                wrong=f"the layout {layout} is steered by {may}",
                example=f"kind: {table.steerings[0]}",
            )
        return
    needed, other = ("travel_per_turn", "ratio") if kind == "rack" else ("ratio", "travel_per_turn")
    example = {"ratio": "ratio: 17.5", "travel_per_turn": "travel_per_turn: 52 mm"}
    given = view.names(*at)
    if needed not in given:
        yield Finding(
            path=(*at, needed),
            found="nothing",
            wrong="a rack needs its travel for one turn of the hand wheel"
            if kind == "rack"
            else "a steering box needs its ratio, hand wheel over pitman arm",
            example=example[needed],
        )
    if other in given:
        yield Finding(
            path=(*at, other),
            found=str(view.get(*at, other)),
            wrong=f"a {'rack has no ratio' if kind == 'rack' else 'steering box has no rack'}; leave it out",
            example=example[needed],
        )


def _inertia(view: View, path: Path, table: Layout) -> Iterator[Finding]:
    if not table.independent and view.is_mapping(*path) and view.get(*path, "inertia") is None:
        yield Finding(
            path=(*path, "inertia"),
            found="nothing",
            wrong="this field is missing: a rigid axle needs its moments of inertia",
            example="{roll: 56 kg m^2, pitch: 9 kg m^2, yaw: 56 kg m^2}",
        )
    if not table.independent and view.get(*path, "alignment") is not None:
        yield Finding(
            path=(*path, "alignment"),
            found="toe and camber",
            wrong="only independent wheels are given toe and camber; a rigid axle's wheels stand square",
            example="leave it out",
        )


def spring_kind(view: View, path: Path, layout: str) -> Iterator[Finding]:
    """Say when a spring is of a kind that a layout cannot have."""
    kind = view.text(*path, "kind") or "coil"
    may = LAYOUTS[layout].springs
    if view.is_mapping(*path) and kind in ("coil", "leaf", "torsion_bar") and kind not in may:
        yield Finding(
            path=(*path, "kind"),
            found=repr(kind),
            wrong=f"the layout {layout} has no spring of this kind, only {' or '.join(may)}",
            example=f"kind: {may[0]}",
        )


def _bar(view: View, path: Path, table: Layout) -> Iterator[Finding]:
    at: Path = (*path, "bar")
    if not view.is_mapping(*at):
        return
    given = view.names(*at)
    by_size = any(name in given for name in (*_BAR, "inner_diameter", "link_spacing"))
    if ("roll_rate" in given) == by_size:
        yield Finding(
            path=(*at, "roll_rate"),
            found="both a roll rate and dimensions" if by_size else "nothing",
            wrong="a bar has either a roll rate or dimensions",
            example="{roll_rate: 250 N m/deg}",
        )
        return
    if not by_size:
        return
    for name in (*_BAR, *(() if table.independent else ("link_spacing",))):
        if name not in given:
            yield Finding(
                path=(*at, name),
                found="nothing",
                wrong="a bar by dimensions needs " + ", ".join(_BAR) + ("" if table.independent else ", link_spacing"),
                example="{diameter: 27 mm, arm: 240 mm, length: 980 mm, bush_spacing: 720 mm}",
            )
    if table.independent and "link_spacing" in given:
        yield Finding(
            path=(*at, "link_spacing"),
            found=str(view.get(*at, "link_spacing")),
            wrong="the drop links of independent wheels are hardpoints: bar_pivot, drop_link_bar, drop_link_lower_arm",
            example="leave it out",
        )
    if table.independent and "bar_pivot" not in view.names(*path, "hardpoints"):
        yield Finding(
            path=(*path, "hardpoints", "bar_pivot"),
            found="nothing",
            wrong="hardpoint missing: a bar given by its dimensions needs bar_pivot, drop_link_bar and its drop link",
            example="bar_pivot: 210, 360, 410 mm",
        )
    apart, whole = view.length(*at, "bush_spacing"), view.length(*at, "length")
    if apart is not None and whole is not None and apart.si > whole.si:
        yield Finding(
            path=(*at, "bush_spacing"),
            found=apart.text,
            wrong=f"the bushes stand further apart than the bar is long, {whole.text}",
            example=f"{700.0 * whole.si:.0f} mm",
        )
    outer, inner = view.length(*at, "diameter"), view.length(*at, "inner_diameter")
    if outer is not None and inner is not None and inner.si >= outer.si:
        yield inner_too_wide(at, inner.text, outer.text, outer.si)


def inner_too_wide(path: Path, inner: str, outer: str, size: float) -> Finding:
    """Return the finding of a tube whose hole is not below its outer diameter `size` [m]."""
    return Finding(
        path=(*path, "inner_diameter"),
        found=inner,
        wrong=f"the hole of a tube is narrower than the tube, {outer}",
        example=f"{600.0 * size:.0f} mm",
    )


def _stiffens(view: View, at: Path) -> Iterator[Finding]:
    """A bush that stiffens was measured further out, and is stiffer there."""
    for word, size in (("radial", "length"), ("axial", "length"), ("conical", "angle"), ("torsional", "angle")):
        law = (*at, f"{word}_stiffens")
        rate = "rate" if size == "length" else "angular_rate"
        after, out = view.quantity(size, *law, "after"), view.quantity(size, *law, "at")
        if after is not None and out is not None and out.si <= after.si:
            yield Finding(
                path=(*law, "at"),
                found=out.text,
                wrong=f"it must lie beyond {after.text}, where the bush begins to stiffen",
                example="5 mm" if size == "length" else "8 deg",
            )
        first, then = view.quantity(rate, *at, word), view.quantity(rate, *law, "rate")
        if first is not None and then is not None and then.si <= first.si:
            yield Finding(
                path=(*law, "rate"),
                found=then.text,
                wrong=f"a bush that stiffens has more than its first rate, {first.text}",
                example="12 kN/mm" if size == "length" else "60 N m/deg",
            )


def _bushes(view: View, path: Path, layout: str, table: Layout) -> Iterator[Finding]:
    given = view.names(*path, "bushes")
    own = links(layout, view.names(*path, "hardpoints"))
    known = (*table.joints, *own)
    for name in given:
        if name not in known:
            yield Finding(
                path=(*path, "bushes", name),
                found=repr(name),
                wrong=f"unknown joint or link; {nearest(name, known)}",
                example=likeliest(name, known, "none: leave it out"),
            )
            continue
        yield from _stiffens(view, (*path, "bushes", name))
        has_link_form = "stiffness" in view.names(*path, "bushes", name)
        if name in table.joints and has_link_form:
            yield Finding(
                path=(*path, "bushes", name),
                found="stiffness",
                wrong="this is a bushed joint; it wants radial, axial, conical and torsional rates",
                example=_BUSH,
            )
        if name in own and not has_link_form and isinstance(view.get(*path, "bushes", name), dict):
            yield Finding(
                path=(*path, "bushes", name),
                found=", ".join(view.names(*path, "bushes", name)) or "nothing",
                wrong="this is a link; it wants one stiffness, its two end bushes in series",
                example="{stiffness: 5.0 kN/mm}",
            )
        twin = {"front": "rear", "rear": "front"}.get(name.rsplit("_", 1)[-1], "")
        other = f"{name.rsplit('_', 1)[0]}_{twin}"
        if twin and other in table.joints and other not in given and not table.bushes_needed:
            yield Finding(
                path=(*path, "bushes", other),
                found="nothing",
                wrong=f"bush missing: an arm on bushes needs both of its pivots, {name} is given alone",
                example=_BUSH,
            )
    for name in table.joints if table.bushes_needed else ():
        if name not in given:
            yield Finding(
                path=(*path, "bushes", name),
                found="nothing",
                wrong="bush missing: "
                + (
                    "two arms over-constrain the axle in roll, so its bush rates are needed"
                    if "arm" in table.bodies
                    else f"the layout {layout} is held by its bushes, so their rates are needed"
                ),
                example=_BUSH,
            )


def _limiters(view: View, path: Path, layout: str, table: Layout) -> Iterator[Finding]:
    points = view.names(*path, "hardpoints")
    known_rods = rods(layout, points, view.steering(*path))
    known_joints = joints(layout)
    for i, _ in view.rows(*path, "limiters"):
        at: Path = (*path, "limiters", i)
        kind, joint, rod = view.text(*at, "kind"), view.text(*at, "joint"), view.text(*at, "rod")
        if kind == "joint" and joint is not None and joint not in known_joints:
            what = "joint" if table.balls else "bushed joint"
            yield Finding(
                path=(*at, "joint"),
                found=repr(joint),
                wrong=f"the layout has no such {what}; {nearest(joint, known_joints)}",
                example=likeliest(joint, known_joints, "none: leave it out"),
            )
        if kind in ("rod_end", "clearance") and rod is not None and rod not in known_rods:
            yield Finding(
                path=(*at, "rod"),
                found=repr(rod),
                wrong=f"the axle has no such rod; {nearest(rod, known_rods)}",
                example=likeliest(rod, known_rods, "none: leave it out"),
            )
        body = view.text(*at, "body")
        if kind == "line" and body is not None and body not in table.bodies:
            yield Finding(
                path=(*at, "body"),
                found=repr(body),
                wrong=f"the layout has no such body; {nearest(body, table.bodies)}",
                example=likeliest(body, table.bodies),
            )
        if kind in ("drive_joint", "drive_plunge") and "drive_inner" not in points:
            yield Finding(
                path=(*at, "kind"),
                found=repr(kind),
                wrong="the axle has no drive shafts; give the hardpoints drive_inner and drive_outer"
                if table.independent
                else "a rigid axle's drive shafts run inside it",
                example="drive_inner: 0, 190, 340 mm" if table.independent else "kind: universal_joint",
            )
        if kind == "universal_joint" and table.independent:
            yield Finding(
                path=(*at, "kind"),
                found=repr(kind),
                wrong="the final drive of independent wheels does not move, so its propshaft's joint never bends",
                example="kind: drive_joint",
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
        apart = math.dist(one.si, two.si)
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
