"""Checks of the kit: springs, dampers, packers, lines, moved hardpoints and rods, against the vehicle's axles."""

from __future__ import annotations

from collections.abc import Iterator

from tussock.record.base import AXLES, STOCK
from tussock.record.checks_axle_parts import inner_too_wide, spring_kind
from tussock.record.checks_shape import check_shape
from tussock.record.layouts import LAYOUTS, ends, hardpoints, part_ends, rods, side_apart
from tussock.record.view import Finding, Path, View, likeliest, nearest


def check_kit(view: View) -> Iterator[Finding]:
    """Yield what is wrong between the fields of the kit and those of the vehicle."""
    yield from _springs(view)
    yield from _coil_over(view)
    for what in ("springs", "dampers", "packers"):
        yield from reserved(view, "kit", what)
    yield from _packers(view)
    yield from _spring_kinds(view)
    for axle in AXLES:
        yield from _replacements(view, axle)
        yield from _changes(view, axle)


def unknown(path: Path, name: str, what: str, known: tuple[str, ...]) -> Finding:
    """Return the finding of a name that is not there, with the nearest one."""
    return Finding(
        path=path,
        found=repr(name),
        wrong=f"there is no {what} of this name; {nearest(name, known)}",
        example=likeliest(name, known, "none: leave it out"),
    )


def reserved(view: View, *path: str) -> Iterator[Finding]:
    """Say when the name of the stock vehicle is given to something else."""
    if STOCK in view.names(*path):
        yield Finding(
            path=(*path, STOCK),
            found=repr(STOCK),
            wrong=f"{STOCK!r} is the name of the vehicle as measured and cannot be given to anything else",
            example="front_standard",
        )


def _springs(view: View) -> Iterator[Finding]:
    paths: list[Path] = [("vehicle", "axles", axle, "spring") for axle in AXLES]
    paths += [("kit", "springs", name) for name in view.names("kit", "springs")]
    for path in paths:
        wire, mean = view.length(*path, "wire"), view.length(*path, "mean_diameter")
        if wire is not None and mean is not None and mean.si <= 2.0 * wire.si and wire.si > 0.0:
            yield Finding(
                path=(*path, "mean_diameter"),
                found=mean.text,
                wrong=f"a coil of {wire.text} wire cannot be wound on a mean diameter below twice the wire",
                example=f"{8e3 * wire.si:.0f} mm",
            )
        yield from _leaves(view, path)
        yield from check_shape(view, path)
        outer, inner = view.length(*path, "diameter"), view.length(*path, "inner_diameter")
        if outer is not None and inner is not None and inner.si >= outer.si:
            yield inner_too_wide(path, inner.text, outer.text, outer.si)


def _leaves(view: View, path: Path) -> Iterator[Finding]:
    """Look at the two stages of a leaf spring."""
    if view.text(*path, "kind") != "leaf":
        return
    given = view.names(*path)
    if ("second_rate" in given) != ("second_at" in given):
        lacking = "second_at" if "second_rate" in given else "second_rate"
        yield Finding(
            path=(*path, lacking),
            found="nothing",
            wrong="a spring of two stages needs second_rate and second_at, its rate and the deflection where it begins",
            example="second_at: 120 mm" if lacking == "second_at" else "second_rate: 60 N/mm",
        )
    first, second = view.quantity("rate", *path, "rate"), view.quantity("rate", *path, "second_rate")
    if first is not None and second is not None and second.si <= first.si:
        yield Finding(
            path=(*path, "second_rate"),
            found=second.text,
            wrong=f"helper leaves add to the rate, so the second is above the first, {first.text}",
            example=f"{2e-3 * first.si:g} N/mm",
        )
    helpers = [i for i, _ in view.rows(*path, "leaves") if view.text(*path, "leaves", i, "stage") == "helper"]
    if helpers and "second_rate" not in given:
        yield Finding(
            path=(*path, "leaves", helpers[0], "stage"),
            found="'helper'",
            wrong="a pack with helper leaves has two stages; give second_rate and second_at",
            example="stage: main",
        )


def _coil_over(view: View) -> Iterator[Finding]:
    """Every damper of an axle whose springs sit on the dampers must say where the seats are."""
    for axle in AXLES:
        path: Path = ("vehicle", "axles", axle)
        layout = view.text(*path, "layout") or ""
        points = view.names(*path, "hardpoints")
        seated = view.get(*path, "damper", "spring_seats") is not None
        if layout not in LAYOUTS or not seated:
            continue
        own = [name for name in (*part_ends(layout, "spring"), "spring_chassis") if name in points]
        if own:
            yield Finding(
                path=(*path, "hardpoints", own[0]),
                found=repr(own[0]),
                wrong="the damper carries the spring (spring_seats), so the spring has no hardpoints of its own",
                example="leave it out",
            )
            continue
        for name in view.names("kit", "dampers"):
            if view.text("kit", "dampers", name, "axle") != axle:
                continue
            if view.get("kit", "dampers", name, "spring_seats") is None:
                yield Finding(
                    path=("kit", "dampers", name, "spring_seats"),
                    found="nothing",
                    wrong=f"the {axle} springs sit on the dampers, so every damper for them says how much of its "
                    "length the spring does not fill",
                    example="spring_seats: 150 mm",
                )


def _packers(view: View) -> Iterator[Finding]:
    for name in view.names("kit", "packers"):
        path: Path = ("kit", "packers", name)
        kind, axle = view.text(*path, "kind"), view.text(*path, "axle")
        if axle not in AXLES or kind not in ("block", "shackle"):
            continue
        if (view.text("vehicle", "axles", axle, "spring", "kind") or "coil") != "leaf":
            yield Finding(
                path=(*path, "kind"),
                found=repr(kind),
                wrong=f"the {axle} axle has no leaf springs, so it takes no {kind}",
                example="kind: seat",
            )


def _spring_kinds(view: View) -> Iterator[Finding]:
    """Look at the spring that each fit-out puts on each axle: its kind must be one that the layout has."""
    for fitout in view.names("fitouts"):
        for axle in AXLES:
            name = view.text("fitouts", fitout, "springs", axle)
            layout = view.text("vehicle", "axles", axle, "layout") or ""
            if name is None or layout not in LAYOUTS:
                continue
            for found in spring_kind(view, ("kit", "springs", name), layout):
                yield Finding(
                    path=("fitouts", fitout, "springs", axle),
                    found=repr(name),
                    wrong=f"{found.wrong}; {name} is a {found.found.strip(chr(39))} spring",
                    example=STOCK,
                )


_REPLACED = (
    ("lines", "line", ("line",)),
    ("joints", "joint", ("joint", "rod_end", "universal_joint", "drive_joint")),
)
"""Fields of the kit that replace limiters: what one is called, and the kinds that it may replace."""


def _replacements(view: View, axle: str) -> Iterator[Finding]:
    limiters: Path = ("vehicle", "axles", axle, "limiters")
    for field, word, kinds in _REPLACED:
        known = tuple(
            name
            for i, _ in view.rows(*limiters)
            if view.text(*limiters, i, "kind") in kinds and (name := view.text(*limiters, i, "name"))
        )
        seen: set[str] = set()
        for i, _ in view.rows("kit", field, axle):
            path: Path = ("kit", field, axle, i, "name")
            name = view.text(*path)
            if name is not None and name not in known and view.get("vehicle", "axles", axle) is not None:
                yield unknown(path, name, f"{word} on the {axle} axle", known)
            if name is not None and name in seen:
                wrong = f"this {word} is replaced twice"
                yield Finding(path=path, found=repr(name), wrong=wrong, example=f"once per {word}")
            seen.add(name or "")


def _changes(view: View, axle: str) -> Iterator[Finding]:
    name = view.text("vehicle", "axles", axle, "layout") or ""
    layout = LAYOUTS.get(name)
    if layout is None:
        return
    given = view.names("vehicle", "axles", axle, "hardpoints")
    known = hardpoints(name, given)
    steering = view.steering("vehicle", "axles", axle)
    for change in view.names("kit", "changes", axle):
        point, _, body = change.partition("@")
        bare, side = side_apart(point)
        if point not in known and (side != "left" or bare not in known):
            yield unknown(("kit", "changes", axle, change), point, "hardpoint", known)
            continue
        may_move = ends(name, point, given, steering)
        if body in may_move or (not body and len(may_move) == 1):
            continue
        if not may_move:
            wrong = "this point is where the axle is measured; no part of a kit moves it"
        elif body:
            wrong = f"this point has no end on {body!r}, only on {' and '.join(may_move)}"
        else:
            wrong = f"say which end moves: {' or '.join(may_move)}"
        yield Finding(
            path=("kit", "changes", axle, change),
            found=repr(change),
            wrong=wrong,
            example=f"{point}@{may_move[-1]}" if may_move else "track_rod_chassis",
        )
    own_rods = rods(name, given, steering)
    for rod in view.names("kit", "rod_lengths", axle):
        if rod not in own_rods:
            yield unknown(("kit", "rod_lengths", axle, rod), rod, f"rod on the {axle} axle", own_rods)
