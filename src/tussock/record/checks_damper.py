"""Checks between the fields of a damper: what was measured, its body, its valves, and what lies in stock."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise

from tussock.record.base import AXLES
from tussock.record.discs import DiscLine, DiscRule, Holes, HolesRule
from tussock.record.units import Quantity, QuantityError
from tussock.record.view import Finding, Path, View, likeliest, nearest

SENSES = ("compression", "rebound")
PLACES = ("piston", "foot", "reservoir")
_DISC, _HOLES = DiscRule(), HolesRule()


def check_dampers(view: View) -> Iterator[Finding]:
    """Yield every fault between the fields of the vehicle's and the kit's dampers."""
    stock = _stock(view)
    yield from _twice_in_stock(view)
    paths: list[Path] = [("vehicle", "axles", axle, "damper") for axle in AXLES]
    paths += [("kit", "dampers", name) for name in view.names("kit", "dampers")]
    for path in paths:
        if view.names(*path):
            yield from _measured(view, path)
            yield from _body(view, path)
            yield from _oil(view, path)
            yield from _valves(view, path, stock)


def _mm(value: float) -> str:
    return f"{value * 1e3:g} mm"


def _disc(view: View, *path: str | int) -> DiscLine | None:
    try:
        return _DISC.read(view.get(*path))
    except QuantityError:
        return None


def _holes(view: View, *path: str | int) -> Holes | None:
    try:
        return _HOLES.read(view.get(*path))
    except QuantityError:
        return None


def _stock(view: View) -> dict[str, dict[tuple[int, int], DiscLine]]:
    """Return the discs in stock by material and size."""
    found: dict[str, dict[tuple[int, int], DiscLine]] = {}
    for material in view.names("workshop", "discs"):
        path = ("workshop", "discs", material, "sizes")
        lines = [_disc(view, *path, i) for i, _ in view.rows(*path)]
        found[material] = {line.size: line for line in lines if line is not None}
    return found


def _twice_in_stock(view: View) -> Iterator[Finding]:
    for material in view.names("workshop", "discs"):
        path: Path = ("workshop", "discs", material, "sizes")
        seen: set[tuple[int, int]] = set()
        for i, _ in view.rows(*path):
            line = _disc(view, *path, i)
            if line is None:
                continue
            if line.size in seen:
                yield Finding(
                    path=(*path, i),
                    found=line.text,
                    wrong="a second line of this size in this material",
                    example=f"one line with the count of both, such as 20 of {line.words} mm",
                )
            if line.material:
                yield Finding(
                    path=(*path, i),
                    found=line.text,
                    wrong=f"all sizes listed here are of {material}; the line needs no material",
                    example=f"{line.words} mm",
                )
            seen.add(line.size)


def _measured(view: View, path: Path) -> Iterator[Finding]:
    given = view.names(*path)
    opened, closed = view.length(*path, "open_length"), view.length(*path, "closed_length")
    if opened is not None and closed is not None and opened.si <= closed.si:
        yield Finding(
            path=(*path, "open_length"),
            found=f"{opened.text} (closed {closed.text})",
            wrong="a damper is longer open than closed; are the two swapped?",
            example=f"{1e3 * closed.si + 220.0:.0f} mm",
        )
    if "dyno" in given and "curve" in given:
        yield Finding(
            path=(*path, "dyno"),
            found="both a dyno file and a curve",
            wrong="a damper has either a dyno file or a curve",
            example="dyno: dyno/front-a.csv",
        )
    if not {"dyno", "curve", "valves"} & set(given):
        yield Finding(
            path=(*path, "dyno"),
            found="nothing",
            wrong="a damper has either a dyno file or a curve, or else a body and valves that give its force",
            example="dyno: dyno/front-a.csv",
        )
    if "valves" in given and "body" not in given:
        yield Finding(
            path=(*path, "body"),
            found="valves without a body",
            wrong="valves make a force only on a piston of known size; give the body too",
            example="{architecture: twin_tube, bore: 35 mm, rod: 18 mm, ...}",
        )
    if view.text(*path, "forces_from") == "valves" and "valves" not in given:
        yield Finding(
            path=(*path, "forces_from"),
            found="valves, of which it has none",
            wrong="forces are to come from its valves; give them, or take what was measured",
            example="measured",
        )
    points = view.curve("speed", *path, "curve")
    for (_, before), (i, point) in pairwise(points):
        if point.at <= before.at:
            yield Finding(
                path=(*path, "curve", i),
                found=point.text,
                wrong=f"the velocity must rise from point to point, it follows {before.text!r}",
                example="0.13 m/s: 420 N",
            )


def _body(view: View, damper: Path) -> Iterator[Finding]:
    path: Path = (*damper, "body")
    if not view.is_mapping(*path):
        return
    given = view.names(*path)

    def length(name: str) -> Quantity | None:
        return view.length(*path, name)

    bore, rod, tube, outer, inner = (length(n) for n in ("bore", "rod", "length", "outer_bore", "inner_wall"))
    if bore is not None and rod is not None and rod.si >= bore.si:
        yield Finding(
            path=(*path, "rod"),
            found=f"{rod.text} (bore {bore.text})",
            wrong="the rod is wider than the piston",
            example=f"{500 * bore.si:.0f} mm",
        )
    kind = view.text(*path, "architecture")
    if kind == "twin_tube":
        for name, example in (("outer_bore", "51 mm"), ("inner_wall", "1.5 mm")):
            if name not in given:
                yield Finding(
                    path=(*path, name),
                    found="nothing",
                    wrong="a twin-tube has two tubes; this size of them is missing",
                    example=example,
                )
        if bore is not None and outer is not None and inner is not None and outer.si <= bore.si + 2.0 * inner.si:
            yield Finding(
                path=(*path, "outer_bore"),
                found=outer.text,
                wrong=f"no room round the working tube, which is {_mm(bore.si + 2.0 * inner.si)} outside",
                example=f"{1.45e3 * bore.si:.0f} mm",
            )
    for name, words in (
        ("reservoir", "a twin-tube has its reserve between the tubes; a remote reservoir belongs to a mono-tube"),
        ("floating_piston", "a twin-tube has no floating piston"),
    ):
        if kind == "twin_tube" and name in given:
            yield Finding(path=(*path, name), found=name, wrong=words, example="leave it out")
    if view.is_mapping(*path, "reservoir") and ("hose_bore" in view.names(*path, "reservoir")) != (
        "hose_length" in view.names(*path, "reservoir")
    ):
        yield Finding(
            path=(*path, "reservoir", "hose_bore"),
            found="half a hose",
            wrong="a hose has a bore and a length",
            example="hose_bore: 10 mm, hose_length: 400 mm",
        )
    opened, closed = view.length(*damper, "open_length"), view.length(*damper, "closed_length")
    piston = length("piston_length")
    if tube is not None and opened is not None and closed is not None and opened.si > closed.si:
        need = opened.si - closed.si + (piston.si if piston is not None else 0.030)
        if need > tube.si + 1e-9:
            yield Finding(
                path=(*path, "length"),
                found=tube.text,
                wrong=f"stroke and piston need {_mm(round(need, 6))} inside the tube",
                example=f"{1e3 * need + 60.0:.0f} mm",
            )
    oil = view.text(*path, "oil")
    oils = view.names("workshop", "oils")
    if oil is not None and oil not in oils:
        yield Finding(
            path=(*path, "oil"),
            found=repr(oil),
            wrong=f"the workshop has no oil of this name; {nearest(oil, oils)}",
            example=likeliest(oil, oils, "an oil under workshop.oils"),
        )


def _oil(view: View, damper: Path) -> Iterator[Finding]:
    """Does the oil fit, with room for gas when the rod is in, and is there enough when it is out?"""
    path: Path = (*damper, "body")

    def size(name: str, otherwise: float | None = None) -> float:
        found = view.length(*path, name)
        if found is None:
            return math.nan if otherwise is None else otherwise
        return found.si

    filled = view.quantity("volume", *path, "oil_volume")
    opened, closed = view.length(*damper, "open_length"), view.length(*damper, "closed_length")
    kind = view.text(*path, "architecture")
    if filled is None or opened is None or closed is None or view.is_mapping(*path, "reservoir"):
        return
    quarter, half = math.pi / 4.0, (opened.si - closed.si) / 2.0
    bore, rod = quarter * size("bore") ** 2, quarter * size("rod") ** 2
    tube = size("length")
    free = tube - size("piston_length", 0.030)
    upper = size("upper_length", free / 2.0)
    room = bore * free - rod * upper
    if kind == "twin_tube":
        between = quarter * (size("outer_bore") ** 2 - (size("bore") + 2.0 * size("inner_wall")) ** 2) * tube
        least, most = room + rod * half, room + between - rod * half
    else:
        room -= bore * size("floating_piston", 0.020)
        below = bore * (free - upper - half - size("floating_piston", 0.020))
        least, most = room - below - rod * half, room - rod * half
    # written so that a size that is wrong or missing, which is said elsewhere, finds nothing
    if least < most and (filled.si <= least or filled.si >= most):
        what = "no room for gas when the rod is in" if filled.si >= most else "too little oil when the rod is out"
        yield Finding(
            path=(*path, "oil_volume"),
            found=filled.text,
            wrong=f"{what}; this body takes {1e6 * least:.0f} to {1e6 * most:.0f} cm^3",
            example=f"{1e6 * (0.5 * least + 0.5 * most):.0f} cm^3",
        )


def _valves(view: View, damper: Path, stock: dict[str, dict[tuple[int, int], DiscLine]]) -> Iterator[Finding]:
    path: Path = (*damper, "valves")
    if not view.is_mapping(*path):
        return
    kind = view.text(*damper, "body", "architecture")
    has = view.names(*path)
    remote = view.is_mapping(*damper, "body", "reservoir")
    if kind == "twin_tube" and "foot" not in has:
        yield Finding(
            path=(*path, "foot"), found="nothing", wrong="a twin-tube needs a foot valve", example="{compression: ...}"
        )
    if kind == "mono_tube" and "foot" in has:
        yield Finding(
            path=(*path, "foot"),
            found="a foot valve",
            wrong="a mono-tube has none; valves at its remote reservoir stand under reservoir",
            example="leave it out",
        )
    if "reservoir" in has and not remote:
        yield Finding(
            path=(*path, "reservoir"),
            found="valves",
            wrong="the body has no remote reservoir",
            example="leave them out",
        )
    for place in PLACES:
        where = (*damper, "body", "reservoir", "bore") if place == "reservoir" else (*damper, "body", "bore")
        bore = view.length(*where)
        for sense in SENSES:
            if view.is_mapping(*path, place, sense):
                yield from _valve(view, (*path, place, sense), bore, stock)
        yield from _crossing(view, (*path, place))


def _valve(
    view: View, path: Path, bore: Quantity | None, stock: dict[str, dict[tuple[int, int], DiscLine]]
) -> Iterator[Finding]:
    given = view.names(*path)
    if ("stack" in given) == ("plate" in given):
        yield Finding(
            path=(*path, "stack"),
            found="both a stack and a plate" if "stack" in given else "nothing",
            wrong="a valve has either a stack of discs or a sprung plate",
            example="[2 of 0.20 x 28 mm, 0.20 x 24 mm]",
        )
        return
    seat = view.length(*path, "seat")
    clamp = view.length(*path, "clamp")
    first: DiscLine | None = None
    if "stack" in given:
        rows = [(i, _disc(view, *path, "stack", i)) for i, _ in view.rows(*path, "stack")]
        if isinstance(view.get(*path, "stack"), list | tuple) and not rows:
            yield Finding(
                path=(*path, "stack"),
                found="an empty list",
                wrong="the stack is empty; it needs at least one disc",
                example="[0.20 x 28 mm]",
            )
        if "clamp" not in given:
            yield Finding(
                path=(*path, "clamp"), found="nothing", wrong="a stack is clamped; to what diameter?", example="12 mm"
            )
        for i, disc in rows:
            if disc is not None:
                yield from _one_disc((*path, "stack", i), disc, bore, stock)
        first = rows[0][1] if rows else None
    if first is not None and clamp is not None and clamp.si > first.diameter - 0.2e-3 + 1e-9:
        yield Finding(
            path=(*path, "clamp"),
            found=f"{clamp.text} (seat disc {first.text})",
            wrong="the clamp is not smaller than the seat disc; nothing is left to bend",
            example=f"{430 * first.diameter:.0f} mm",
        )
    if first is not None and seat is not None and seat.si > first.diameter + 1e-9:
        yield Finding(
            path=(*path, "seat"),
            found=f"{seat.text} (seat disc {first.text})",
            wrong="the seat disc does not cover its seat",
            example=f"{1e3 * first.diameter - 1.0:g} mm",
        )
    yield from _ports(view, path, seat, clamp if first is not None else None)


def _one_disc(
    path: Path, disc: DiscLine, bore: Quantity | None, stock: dict[str, dict[tuple[int, int], DiscLine]]
) -> Iterator[Finding]:
    if bore is not None and disc.diameter >= bore.si:
        yield Finding(
            path=path,
            found=disc.text,
            wrong=f"the disc is not smaller than the bore of {bore.text}",
            example=f"{disc.thickness * 1e3:.2f} x {800 * bore.si:.0f} mm",
        )
        return
    if disc.material and disc.material not in stock:
        yield Finding(
            path=path,
            found=disc.text,
            wrong=f"the workshop has no discs of {disc.material!r}; {nearest(disc.material, list(stock))}",
            example=f"{disc.words} mm in {likeliest(disc.material, list(stock), 'spring_steel')}",
        )
        return
    of = [m for m in ([disc.material] if disc.material else stock) if disc.size in stock.get(m, {})]
    if len(of) > 1:
        yield Finding(
            path=path,
            found=disc.text,
            wrong=f"in stock in {' and '.join(of)}; say which",
            example=f"{disc.words} mm in {of[0]}",
        )
    if not of:
        known = {size: line for lines in stock.values() for size, line in lines.items()}
        near = min(known, key=lambda s: abs(s[0] - disc.size[0]) * 60 + abs(s[1] - disc.size[1]), default=None)
        yield Finding(
            path=path,
            found=disc.text,
            wrong="the workshop has no disc of this size"
            + (f"; the nearest is {known[near].words} mm" if near is not None else "; its list is empty"),
            example=f"{known[near].words} mm"
            if near is not None
            else f"workshop.discs.spring_steel.sizes: [{disc.text}]",
        )


def _apart(holes: Holes, circle: Quantity) -> float:
    """Return how far apart the middles of holes on a circle stand [m]."""
    return circle.si * math.sin(math.pi / holes.count) if holes.count > 1 else math.inf


def _fits(holes: Holes, circle: Quantity) -> bool:
    return _apart(holes, circle) >= holes.diameter - 1e-9 and holes.diameter < circle.si


def _ports(view: View, path: Path, seat: Quantity | None, clamp: Quantity | None) -> Iterator[Finding]:
    ports: Path = (*path, "ports")
    holes, circle = _holes(view, *ports, "holes"), view.length(*ports, "circle")
    if holes is None or circle is None or circle.si <= 0.0:
        return
    if not _fits(holes, circle):
        apart = _apart(holes, circle)
        yield Finding(
            path=(*ports, "holes"),
            found=f"{holes.text} on a circle of {circle.text}",
            wrong="the ports overlap" + (f": their middles stand {1e3 * apart:.1f} mm apart" if apart < 1.0 else ""),
            example=f"{holes.count} of {min(0.8e3 * apart, 400 * circle.si):.1f} mm",
        )
        return
    inner, outer = circle.si - holes.diameter, circle.si + holes.diameter
    low, high = view.length(*ports, "recess_inner"), view.length(*ports, "recess_outer")
    if ("recess_inner" in view.names(*ports)) != ("recess_outer" in view.names(*ports)):
        yield Finding(
            path=(*ports, "recess_inner"),
            found="one edge of a groove",
            wrong="a groove has an inner and an outer diameter",
            example=f"{_mm(inner)}, and recess_outer: {_mm(outer)}",
        )
    if low is not None and high is not None:
        if low.si >= high.si:
            yield Finding(
                path=(*ports, "recess_outer"),
                found=f"{high.text} (inner {low.text})",
                wrong="the groove's outer diameter is not the larger one",
                example=_mm(outer),
            )
            return
        inner, outer = low.si, high.si
    if clamp is not None and inner < clamp.si - 1e-9:
        yield Finding(
            path=(*ports, "circle"),
            found=f"pressure from {_mm(round(inner, 7))} (clamp {clamp.text})",
            wrong="the ports reach under the clamp",
            example=f"{1e3 * clamp.si + 1e3 * holes.diameter + 1.0:.0f} mm",
        )
    land = view.length(*path, "land")
    edge = None if seat is None else seat.si - 2.0 * (land.si if land is not None else 0.0)
    if edge is not None and outer > edge + 1e-9:
        yield Finding(
            path=(*path, "seat"),
            found=f"{seat.text if seat else ''} (pressure out to {_mm(round(outer, 7))})",
            wrong="the ports reach past the inner edge of the seat",
            example=f"{1e3 * outer + 2e3 * (land.si if land is not None else 0.0) + 1.0:.1f} mm",
        )


def _crossing(view: View, path: Path) -> Iterator[Finding]:
    """Ports of both strokes that meet on the circle must find room beside each other."""
    found = [(_holes(view, *path, s, "ports", "holes"), view.length(*path, s, "ports", "circle")) for s in SENSES]
    (one, wide), (two, narrow) = found
    if one is None or two is None or wide is None or narrow is None:
        return
    if abs(wide.si - narrow.si) >= one.diameter + two.diameter:
        return
    if not all(_fits(holes, circle) for holes, circle in ((one, wide), (two, narrow))):
        return  # said already
    need = one.count * one.diameter + two.count * two.diameter
    room = math.pi * 0.5 * (wide.si + narrow.si)
    if need > room:
        yield Finding(
            path=(*path, "rebound", "ports", "holes"),
            found=f"{two.text} beside {one.text}",
            wrong=f"ports of both strokes overlap: together {1e3 * need:.0f} mm of a circle {1e3 * room:.0f} mm round",
            example=f"{two.count} of {max(1e3 * (0.9 * room - one.count * one.diameter) / two.count, 0.5):.1f} mm",
        )
