"""Checks of the log: names, dates, verdicts that cannot both be, corrections that correct nothing."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from tussock.record.base import AXLES, STOCK
from tussock.record.checks_axle_parts import spring_kind
from tussock.record.checks_kit import reserved, unknown
from tussock.record.corrections import WORDS, entries
from tussock.record.layouts import LAYOUTS
from tussock.record.view import Finding, Path, View

_SIGN = {"much worse": -1, "slightly worse": -1, "same": 0, "slightly better": 1, "much better": 1}
_WHOLE = "the whole loop"


def check_builds(view: View) -> Iterator[Finding]:
    """Look at what builds wear and descend from."""
    yield from reserved(view, "builds")
    builds = view.names("builds")
    parents: dict[str, str] = {}
    for build in builds:
        path: Path = ("builds", build)
        parent = view.text(*path, "parent")
        if parent is not None and parent != STOCK:
            parents[build] = parent
            if parent not in builds:
                yield unknown((*path, "parent"), parent, "build", (*builds, STOCK))
            yield from _not_before(view, (*path, "date"), parent, f"build {build}")
        yield from _parts(view, path)
    for build in builds:
        chain = [build]
        while (parent := parents.get(chain[-1])) is not None and parent not in chain:
            chain.append(parent)
        if parent == build:
            yield Finding(
                path=("builds", build, "parent"),
                found=" <- ".join((*chain, build)) if len(chain) < 8 else f"a circle of {len(chain)} builds",
                wrong="builds that descend from each other in a circle",
                example=STOCK,
            )


def _parts(view: View, path: Path) -> Iterator[Finding]:
    """Look at the parts that a build names."""
    for part, what, own in (("dampers", "damper", True), ("springs", "spring", False)):
        known = view.names("kit", part)
        for axle in AXLES:
            name = view.text(*path, part, axle)
            if name is None or name == STOCK or (name not in known and not view.is_mapping("kit", part)):
                continue
            if name not in known:
                yield unknown((*path, part, axle), name, f"{what} in the kit", (*known, STOCK))
                continue
            made_for = view.text("kit", part, name, "axle")
            layout = view.text("vehicle", "axles", axle, "layout") or ""
            if not own and layout in LAYOUTS:
                for found in spring_kind(view, ("kit", "springs", name), layout):
                    yield Finding(path=(*path, part, axle), found=repr(name), wrong=found.wrong, example=STOCK)
            if own and made_for in AXLES and made_for != axle:
                right = [d for d in known if view.text("kit", part, d, "axle") == axle]
                yield Finding(
                    path=(*path, part, axle),
                    found=repr(name),
                    wrong=f"this {what} is made for the {made_for} axle",
                    example=right[0] if right else STOCK,
                )
    if view.names(*path, "tyre_pressure") and view.get("vehicle", "tyre", "pressure") is None:
        yield Finding(
            path=(*path, "tyre_pressure"),
            found=", ".join(view.names(*path, "tyre_pressure")),
            wrong="the tyre's stiffness holds at a pressure that vehicle.tyre.pressure does not say",
            example="2.4 bar, as vehicle.tyre.pressure",
        )
    packers = view.names("kit", "packers")
    for i, name in view.rows(*path, "packers"):
        if isinstance(name, str) and name not in packers and view.get("kit") is not None:
            yield unknown((*path, "packers", i), name, "packer in the kit", packers)
    for axle in AXLES:
        given, stock = view.names(*path, "bars", axle), view.get("vehicle", "axles", axle, "bar")
        by_rate = isinstance(stock, dict) and stock.get("roll_rate") is not None
        if given and stock is not None and by_rate != ("roll_rate" in given):
            yield Finding(
                path=(*path, "bars", axle),
                found=", ".join(given),
                wrong=f"the bar that it replaces is given by its {'roll rate' if by_rate else 'size'}, so is this one",
                example="{roll_rate: 250 N m/deg}" if by_rate else "{diameter: 26 mm, arm: ..., length: ...}",
            )
        if given and stock is None:
            yield Finding(
                path=(*path, "bars", axle),
                found=", ".join(given),
                wrong=f"the vehicle has no bar at the {axle} axle that this one could take the place of",
                example="leave it out",
            )


def check_log(view: View, written: View) -> Iterator[Finding]:
    """Look at drives, dyno runs, notes and corrections.

    Parameters
    ----------
    view : View
        The document as it counts, corrections applied.
    written : View
        The document as written, for the corrections themselves.
    """
    yield from _ids(written)
    yield from _corrections(written)
    for i, row in view.rows("drives"):
        if row is not None:
            yield from _drive(view, ("drives", i))
    for i, row in view.rows("dyno_runs"):
        if row is not None:
            yield from _dyno(view, ("dyno_runs", i))
    known = (*(name for name, _ in entries(written.data)), STOCK)
    for i, _ in view.rows("notes"):
        about = view.text("notes", i, "about")
        if about is not None and about not in known:
            yield unknown(("notes", i, "about"), about, "build or entry of the log", known)


def _dyno(view: View, path: Path) -> Iterator[Finding]:
    yield from _build_of(view, path, "build")
    yield from _not_before(view, (*path, "date"), view.text(*path, "build"), _label(view, path))


def _label(view: View, path: Path) -> str:
    """Say which entry is meant: by its id, else by its place and date."""
    word = WORDS[str(path[0])]
    name = view.text(*path, "id")
    if name is not None:
        return f"{word} {name}"
    place = int(path[1]) + 1
    date = view.text(*path, "date")
    return f"{word} {place}" + (f" of {date}" if date else "")


def _ids(view: View) -> Iterator[Finding]:
    seen: dict[str, Path] = {}
    for name, path in entries(view.data):
        if name == STOCK and path[0] != "builds":
            wrong = f"{STOCK!r} is the name of the vehicle as measured and cannot be given to an entry"
        elif name in seen:
            wrong = f"a second entry of this name; the first is a {WORDS[str(seen[name][0])]}"
        else:
            seen[name] = path
            continue
        if path[0] != "builds":
            taken = {n for n, _ in entries(view.data)}
            free = next(f"{name}_{k}" for k in range(2, 10_000) if f"{name}_{k}" not in taken)
            yield Finding(path=(*path, "id"), found=repr(name), wrong=wrong, example=free)


def _corrections(view: View) -> Iterator[Finding]:
    places: dict[str, Path] = {}
    for name, path in entries(view.data):
        places.setdefault(name, path)
    known = tuple(places)
    for i, _ in view.rows("corrections"):
        own: Path = ("corrections", i)
        label, target = _label(view, own), view.text(*own, "corrects")
        if target is not None and target not in places:
            yield unknown((*own, "corrects"), target, "build or entry of the log", known)
        elif target is not None:
            yield from _later_than_its_target(view, own, label, places[target])
        fields, withdrawn = view.get(*own, "fields"), view.get(*own, "withdrawn") is True
        if bool(fields) == withdrawn:
            yield Finding(
                path=own,
                found="fields and withdrawn" if withdrawn else "neither fields nor withdrawn",
                wrong=f"{label} says either which fields change or that the entry is withdrawn",
                example="fields: {fitout: winch}",
            )
        if isinstance(fields, dict) and "id" in fields:
            yield Finding(
                path=(*own, "fields", "id"),
                found=repr(fields["id"]),
                wrong=f"{label}: what an entry is called never changes, or others would lose it",
                example="leave it out",
            )


def _later_than_its_target(view: View, path: Path, label: str, target: Path) -> Iterator[Finding]:
    if target[0] == "corrections" and int(target[1]) >= int(path[1]):
        yield Finding(
            path=(*path, "corrects"),
            found=repr(view.text(*path, "corrects")),
            wrong=f"{label} can correct only what stands before it",
            example="an earlier entry",
        )
        return
    mine, theirs = view.text(*path, "date"), view.text(*target, "date")
    if mine is not None and theirs is not None and mine < theirs:
        yield Finding(
            path=(*path, "date"),
            found=mine,
            wrong=f"{label} is dated before what it corrects, {theirs}",
            example=theirs,
        )


def _build_of(view: View, path: Path, key: str) -> Iterator[Finding]:
    builds = (*view.names("builds"), STOCK)
    name = view.text(*path, key)
    if name is not None and name not in builds:
        yield unknown((*path, key), name, "build", builds)


def _not_before(view: View, date: Path, build: str | None, label: str) -> Iterator[Finding]:
    """Refuse a day on which a build was not yet fitted."""
    day = view.text(*date)
    fitted = view.text("builds", build, "date") if build is not None else None
    if day is not None and fitted is not None and day < fitted:
        yield Finding(
            path=date,
            found=day,
            wrong=f"{label} is dated before build {build} was fitted, {fitted}; correct whichever is wrong",
            example=fitted,
        )


def _drive(view: View, path: Path) -> Iterator[Finding]:
    label = _label(view, path)
    for key in ("build", "against"):
        yield from _build_of(view, path, key)
        yield from _not_before(view, (*path, "date"), view.text(*path, key), label)
    build = view.text(*path, "build")
    if build is not None and build == view.text(*path, "against"):
        yield Finding(
            path=(*path, "against"),
            found=repr(build),
            wrong=f"{label}: a build is not compared with itself; a second drive of it is an entry with ratings",
            example=STOCK if build != STOCK else "B1",
        )
    fitout, fitouts = view.text(*path, "fitout"), view.names("fitouts")
    if fitout is not None and fitout not in fitouts and view.is_mapping("fitouts"):
        yield unknown((*path, "fitout"), fitout, "fit-out", fitouts)
    if any(True for _ in view.rows(*path, "verdicts")) and view.get(*path, "against") is None:
        yield Finding(
            path=(*path, "against"),
            found="nothing",
            wrong=f"{label}: verdicts compare with another build; say which",
            example=STOCK,
        )
    yield from _section(view, (*path, "section"))
    for kind in ("verdicts", "ratings"):
        for j, _ in view.rows(*path, kind):
            yield from _section(view, (*path, kind, j, "section"))
            yield from _outside(view, path, (*path, kind, j, "section"), label)
    yield from _said_twice(view, path, "verdicts", "verdict", label)
    yield from _said_twice(view, path, "ratings", "mark", label)


def _section(view: View, path: Path) -> Iterator[Finding]:
    section = view.text(*path)
    sections = tuple(
        name
        for i, _ in view.rows("road_loop", "sections")
        if (name := view.text("road_loop", "sections", i, "name")) is not None
    )
    if section is not None and section not in sections and view.get("road_loop") is not None:
        yield unknown(path, section, "section of the road loop", sections)


def _outside(view: View, drive: Path, path: Path, label: str) -> Iterator[Finding]:
    here, driven = view.text(*path), view.text(*drive, "section")
    if here is not None and driven is not None and here != driven:
        yield Finding(
            path=path,
            found=repr(here),
            wrong=f"{label} was driven on {driven!r} alone; log a drive for each section, or leave its section out",
            example=driven,
        )


def _said_twice(view: View, path: Path, kind: str, key: str, label: str) -> Iterator[Finding]:
    """Refuse two verdicts, or two marks, on the same thing in one drive: over several drives they are evidence."""
    said: dict[tuple[Any, str], str] = {}
    for j, _ in view.rows(*path, kind):
        here = view.text(*path, kind, j, "section") or view.text(*path, "section")
        attribute = view.text(*path, kind, j, "attribute") or "overall"
        value = str(view.get(*path, kind, j, key))
        if (here, attribute) not in said:
            said[here, attribute] = value
            continue
        before = said[here, attribute]
        where = f"{attribute} on {here or _WHOLE}"
        if kind == "verdicts" and _SIGN.get(before, 9) != _SIGN.get(value, 9):
            wrong = f"{label} contradicts itself: {where} was already {before!r}"
        else:
            wrong = f"{label} says {where} twice, {before!r} before"
        yield Finding(
            path=(*path, kind, j),
            found=repr(value),
            wrong=f"{wrong}; keep one, or log the second run as a drive of its own",
            example=before,
        )
