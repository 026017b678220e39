"""Checks between the fields of a programme; those of an axle are in `checks_axle`, of a damper in `checks_damper`."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from itertools import pairwise

from tussock.record.base import AXLES, STOCK
from tussock.record.checks_axle import check_axles
from tussock.record.checks_bags import check_bags
from tussock.record.checks_damper import check_dampers
from tussock.record.checks_kit import check_kit, unknown
from tussock.record.checks_log import check_builds, check_log
from tussock.record.checks_logger import check_loggers
from tussock.record.corrections import Counted, counted
from tussock.record.manoeuvres import STEERED
from tussock.record.road import ACCELERATION
from tussock.record.units import Quantity
from tussock.record.view import Finding, Path, View
from tussock.record.weights import check_weights


def check(data: object) -> list[Finding]:
    """Return everything that is wrong between the fields of a document, its log taken as its corrections leave it.

    Parameters
    ----------
    data : object
        The document as plain dicts, lists and scalars; it may be wrong anywhere.

    Returns
    -------
    list of Finding
        In the order of the checks; empty if nothing is wrong.
    """
    now = counted(data) if isinstance(data, Mapping) else Counted(data=data, changes={})
    view = View(now.data)
    found = [
        *check_axles(view),
        *_masses(view),
        *check_dampers(view),
        *_stops(view),
        *check_kit(view),
        *_fitouts(view),
        *check_bags(view),
        *_targets(view),
        *check_weights(view),
        *check_builds(view),
        *_road(view),
        *check_loggers(view),
        *check_log(view, View(data)),
    ]
    return [replace(f, path=now.written(f.path)) for f in found]


def _masses(view: View) -> Iterator[Finding]:
    corners = [
        view.quantity("mass", "vehicle", "corners", f"{axle}_{side}") for axle in AXLES for side in ("left", "right")
    ]
    gross = view.quantity("mass", "vehicle", "gross_mass")
    if gross is not None and all(c is not None for c in corners):
        kerb = sum(c.si for c in corners if c is not None)
        if 0.0 < gross.si < kerb:
            yield Finding(
                path=("vehicle", "gross_mass"),
                found=gross.text,
                wrong=f"below the kerb mass: the four corners sum to {kerb:.0f} kg",
                example=f"{1.4 * kerb:.0f} kg",
            )
    for axle in AXLES:
        path: Path = ("vehicle", "axles", axle, "mass")
        mass = view.quantity("mass", *path)
        pair = corners[:2] if axle == "front" else corners[2:]
        if mass is not None and all(c is not None for c in pair):
            carried = sum(c.si for c in pair if c is not None)
            if carried > 0.0 and mass.si >= carried:
                yield Finding(
                    path=path,
                    found=mass.text,
                    wrong=f"the unsprung mass is not below what its wheels weigh, {carried:.0f} kg",
                    example=f"{0.17 * carried:.0f} kg",
                )


def _stops(view: View) -> Iterator[Finding]:
    for axle in AXLES:
        path: Path = ("vehicle", "axles", axle, "stop")
        points = view.curve("length", *path, "curve")
        if not points:
            continue
        i, first = points[0]
        if i == 0 and (first.at != 0.0 or first.force != 0.0):
            yield Finding(
                path=(*path, "curve", 0),
                found=first.text,
                wrong="the curve starts where the stop touches",
                example="0 mm: 0 N",
            )
        for (_, before), (i, point) in pairwise(points):
            if point.at <= before.at or point.force < before.force:
                yield Finding(
                    path=(*path, "curve", i),
                    found=point.text,
                    wrong=f"deflection and force must rise from point to point, it follows {before.text!r}",
                    example="10 mm: 260 N",
                )
        height = view.length(*path, "free_height")
        if height is not None and points[-1][1].at >= height.si > 0.0:
            yield Finding(
                path=(*path, "curve", points[-1][0]),
                found=points[-1][1].text,
                wrong=f"a stop of {height.text} cannot be pressed by its whole height",
                example="48 mm: 6400 N",
            )


def _fitouts(view: View) -> Iterator[Finding]:
    springs, packers = view.names("kit", "springs"), view.names("kit", "packers")
    places = view.names("vehicle", "places")
    if view.get("fitouts") == {}:
        yield Finding(
            path=("fitouts",), found="none", wrong="at least one fit-out is needed", example="bare: {title: Bare, ...}"
        )
    for fitout in view.names("fitouts"):
        path: Path = ("fitouts", fitout)
        for place in view.names(*path, "people"):
            if place not in places and view.is_mapping("vehicle", "places"):
                yield unknown((*path, "people", place), place, "place in the vehicle", places)
        for axle in AXLES:
            name = view.text(*path, "springs", axle)
            if name is not None and name not in (*springs, STOCK) and view.is_mapping("kit", "springs"):
                yield unknown((*path, "springs", axle), name, "spring in the kit", (*springs, STOCK))
        for i, name in view.rows(*path, "packers"):
            if isinstance(name, str) and name not in packers and view.get("kit") is not None:
                yield unknown((*path, "packers", i), name, "packer in the kit", packers)
        seen: set[str] = set()
        for i, _ in view.rows(*path, "items"):
            name = view.text(*path, "items", i, "name")
            if name is not None and name in seen:
                yield Finding(
                    path=(*path, "items", i, "name"),
                    found=repr(name),
                    wrong="a second item of this name in this fit-out",
                    example="a name of its own",
                )
            seen.add(name or "")


def _targets(view: View) -> Iterator[Finding]:
    fitouts = view.names("fitouts")
    for name in view.names("targets", "lift"):
        if name not in fitouts and view.is_mapping("fitouts"):
            yield unknown(("targets", "lift", name), name, "fit-out", fitouts)
    ranges: tuple[tuple[str, Path], ...] = (
        ("frequency", ("targets", "ride_frequency", "front")),
        ("frequency", ("targets", "ride_frequency", "rear")),
        ("angle", ("targets", "caster")),
    )
    for dimension, path in ranges:
        least, most = view.quantity(dimension, *path, "least"), view.quantity(dimension, *path, "most")
        if least is not None and most is not None and least.si > most.si:
            yield Finding(
                path=(*path, "least"),
                found=f"{least.text} (most {most.text})",
                wrong="the least is above the most",
                example=most.text,
            )
    low, high = (view.get("targets", "damping_ratio", end) for end in ("least", "most"))
    if isinstance(low, float | int) and isinstance(high, float | int) and low > high:
        yield Finding(
            path=("targets", "damping_ratio", "least"),
            found=f"{low} (most {high})",
            wrong="the least is above the most",
            example=str(high),
        )


def _road(view: View) -> Iterator[Finding]:
    seen: set[str] = set()
    for i, _ in view.rows("road_loop", "sections"):
        path: Path = ("road_loop", "sections", i)
        name = view.text(*path, "name")
        if name is not None and name in seen:
            yield Finding(
                path=(*path, "name"),
                found=repr(name),
                wrong="a second section of this name",
                example="a name of its own",
            )
        seen.add(name or "")
        surface = view.names(*path, "surface")
        given = [name for name in ("class", "density", "file") if name in surface]
        if view.get(*path, "surface") is not None and len(given) != 1:
            yield Finding(
                path=(*path, "surface"),
                found=" and ".join(given) or "none of them",
                wrong="a surface has one of class, density and file",
                example="{class: C}",
            )
        for name, needs in (("start", "file"), ("offset", "file"), ("waviness", "class or density")):
            if len(given) == 1 and name in surface and given[0] not in needs:
                yield Finding(
                    path=(*path, "surface", name),
                    found=f"beside {given[0]}",
                    wrong=f"{name} goes with {needs}",
                    example="left out",
                )
        yield from _speeds(view, path)
        yield from _manoeuvre(view, path)
        whole, wheelbase = view.length(*path, "length"), view.length("vehicle", "wheelbase")
        if whole is not None and wheelbase is not None and whole.si <= wheelbase.si:
            yield Finding(
                path=(*path, "length"),
                found=whole.text,
                wrong=f"no longer than the wheelbase of {wheelbase.text}; both axles must drive over it",
                example="100 m",
            )
        for j, _ in view.rows(*path, "features"):
            yield from _feature(view, (*path, "features", j))
            at, length = view.length(*path, "features", j, "at"), view.length(*path, "features", j, "length")
            if whole is None or at is None or length is None or at.si + length.si <= whole.si * (1.0 + 1e-12):
                continue
            yield Finding(
                path=(*path, "features", j, "at"),
                found=f"{at.text}, {length.text} long",
                wrong=f"it reaches beyond the end of the section, which is {whole.text} long",
                example=f"{max(whole.si - length.si, 0.0):g} m",
            )


def _manoeuvre(view: View, path: Path) -> Iterator[Finding]:
    """Yield what a section's manoeuvre and its driver contradict."""
    kind = view.text(*path, "manoeuvre", "kind")
    driver = view.text(*path, "driver")
    if kind in STEERED and driver == "fixed":
        yield Finding(
            path=(*path, "driver"), found="fixed", wrong=f"{kind} follows a path and needs a driver", example="steering"
        )
    if kind == "step_steer" and driver == "steering":
        yield Finding(
            path=(*path, "driver"), found="steering", wrong="the hand wheel of step_steer is given", example="left out"
        )
    if kind == "braking" and any(True for _ in view.rows(*path, "speed_changes")):
        yield Finding(
            path=(*path, "speed_changes"),
            found="beside braking",
            wrong="a section that is braked on has no other changes of speed",
            example="left out",
        )
    whole, now = view.length(*path, "length"), view.quantity("speed", *path, "speed")
    at = view.length(*path, "manoeuvre", "at")
    if kind is None or whole is None or at is None:
        return
    needs, example = _NEEDS.get(kind, 0.0), ""
    if kind == "gust" and (zone := view.length(*path, "manoeuvre", "length")) is not None:
        needs = zone.si
    if kind == "braking" and now is not None:
        to = view.quantity("speed", *path, "manoeuvre", "to_speed")
        held = view.quantity("acceleration", *path, "manoeuvre", "deceleration")
        to_speed, deceleration = 10.0 / 3.6 if to is None else to.si, 4.0 if held is None else held.si
        if to_speed >= now.si:
            yield Finding(
                path=(*path, "manoeuvre", "to_speed"),
                found=f"{to_speed * 3.6:.0f} km/h from {now.text}",
                wrong="braking ends slower than the section is driven",
                example="10 km/h",
            )
            return
        if deceleration > 0.0:
            needs = (now.si**2 - to_speed**2) / (2.0 * deceleration)
            example = f" at {deceleration:g} m/s^2"
    if at.si + needs > whole.si * (1.0 + 1e-12):
        yield Finding(
            path=(*path, "manoeuvre", "at"),
            found=at.text,
            wrong=f"{kind} takes {needs:.0f} m{example}; the section is {whole.text} long",
            example=f"{max(whole.si - needs, 0.0):.0f} m" if needs < whole.si else "a longer section",
        )
    if kind == "lorry" and now is not None:
        yield from _lorry(view, (*path, "manoeuvre"), now)


def _lorry(view: View, path: Path, now: Quantity) -> Iterator[Finding]:
    lorry, way = view.quantity("speed", *path, "lorry_speed"), view.text(*path, "way")
    if lorry is None or way not in ("overtaking", "overtaken"):
        return
    faster = way == "overtaking"
    if (lorry.si - now.si if faster else now.si - lorry.si) < LEAST_CLOSING:
        better = now.si + (2.0 if faster else -2.0) * LEAST_CLOSING
        yield Finding(
            path=(*path, "lorry_speed"),
            found=f"{lorry.text} beside {now.text}",
            wrong=f"a lorry that {'overtakes' if faster else 'is overtaken'} is {'faster' if faster else 'slower'}, by "
            "2 km/h at least",
            example=f"{better * 3.6:.0f} km/h",
        )


_NEEDS = {"lane_change": 125.0, "circle": 20.0, "step_steer": 20.0, "lorry": 20.0}
"""Least road that a manoeuvre takes [m]; what it takes at a speed is checked when it is driven."""
LEAST_CLOSING = 0.5  # by which a lorry is faster or slower [m/s]


def _speeds(view: View, path: Path) -> Iterator[Finding]:
    """Yield changes of speed that have too little room: the square of the speed changes by 2 a per metre."""
    now, whole = view.quantity("speed", *path, "speed"), view.length(*path, "length")
    given = view.quantity("acceleration", *path, "acceleration")
    acceleration = ACCELERATION if given is None else given.si
    rows = [i for i, _ in view.rows(*path, "speed_changes")]
    for i in rows:
        row: Path = (*path, "speed_changes", i)
        at, speed = view.length(*row, "at"), view.quantity("speed", *row, "speed")
        end = view.length(*path, "speed_changes", i + 1, "at") if i + 1 in rows else whole
        if now is None or at is None or speed is None or end is None or acceleration <= 0.0:
            return
        needed = abs(speed.si**2 - now.si**2) / (2.0 * acceleration)
        if at.si + needed > end.si * (1.0 + 1e-12):
            yield Finding(
                path=(*row, "at"),
                found=f"{at.text}, from {now.text} to {speed.text}",
                wrong=f"at {acceleration:g} m/s^2 this takes {needed:.1f} m, and {end.text} come first",
                example=f"{max(end.si - needed, 0.0):.0f} m",
            )
        now = speed


_SHARES = {"ramp": 0.5, "edge": 0.5, "transition": 0.5, "growth": 0.8, "spacing": 1.0, "entry": 1.0, "exit": 1.0}
"""Lengths inside an obstacle and the greatest share of its own length that they can take."""


def _feature(view: View, path: Path) -> Iterator[Finding]:
    length = view.length(*path, "length")
    for name, share in _SHARES.items():
        part = view.length(*path, name)
        if part is None or length is None or part.si <= share * length.si or length.si <= 0.0:
            continue
        yield Finding(
            path=(*path, name),
            found=f"{part.text} of {length.text}",
            wrong=f"the {name} does not fit into the obstacle's length",
            example=f"{0.5 * share * length.si:g} m",
        )
