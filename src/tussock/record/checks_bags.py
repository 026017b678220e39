"""Checks of air helper bags, and of the fit-outs that wear them."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from tussock.record.base import AXLES
from tussock.record.checks_kit import reserved, unknown
from tussock.record.view import Finding, Path, View


def check_bags(view: View) -> Iterator[Finding]:
    """Yield what is wrong between the fields of bags, the axles they stand on and the fit-outs that wear them."""
    yield from reserved(view, "kit", "bags")
    for name in view.names("kit", "bags"):
        path: Path = ("kit", "bags", name)
        yield from _curve(view, path)
        yield from _pressures(view, path)
        axle = view.text(*path, "axle")
        beside = view.text(*path, "beside") or "spring"
        kind = view.text("vehicle", "axles", axle, "spring", "kind") if axle in AXLES else None
        if kind == "torsion_bar" and beside == "spring":
            yield Finding(
                path=(*path, "beside"),
                found="'spring'",
                wrong=f"the {axle} springs are torsion bars, which have no length that a bag could share",
                example="beside: stop",
            )
    yield from _worn(view)


def _curve(view: View, path: Path) -> Iterator[Finding]:
    points = view.curve("length", *path, "loads")
    for (_, before), (i, point) in pairwise(points):
        if point.at >= before.at or point.force <= 0.0:
            yield Finding(
                path=(*path, "loads", i),
                found=point.text,
                wrong=f"heights must fall from point to point and loads be positive, it follows {before.text!r}",
                example="120 mm: 2.3 kN",
            )
            return
    height = view.length(*path, "height")
    if height is not None and len(points) > 1 and not points[-1][1].at <= height.si <= points[0][1].at:
        yield Finding(
            path=(*path, "height"),
            found=height.text,
            wrong=f"outside its curve, {points[-1][1].text} to {points[0][1].text}",
            example=f"{500.0 * (points[0][1].at + points[-1][1].at):.0f} mm",
        )


def _pressures(view: View, path: Path) -> Iterator[Finding]:
    least, most, at = (
        view.quantity("pressure", *path, field) for field in ("least_pressure", "most_pressure", "loads_at")
    )
    if least is not None and most is not None and least.si >= most.si:
        yield Finding(
            path=(*path, "least_pressure"),
            found=f"{least.text} (most {most.text})",
            wrong="the least is not below the most",
            example="0.3 bar",
        )
    if at is not None and at.si <= 0.0:
        yield Finding(
            path=(*path, "loads_at"),
            found=at.text,
            wrong="a curve of loads is measured under pressure",
            example="3 bar",
        )


def _worn(view: View) -> Iterator[Finding]:
    bags = view.names("kit", "bags")
    for fitout in view.names("fitouts"):
        seen: dict[str, str] = {}
        for name in view.names("fitouts", fitout, "bags"):
            path: Path = ("fitouts", fitout, "bags", name)
            if name not in bags:
                yield unknown(path, name, "air bag in the kit", bags)
                continue
            axle = view.text("kit", "bags", name, "axle") or ""
            if axle in seen:
                yield Finding(
                    path=path,
                    found=repr(name),
                    wrong=f"the {axle} axle has a bag already, {seen[axle]}",
                    example="one bag for each axle",
                )
            seen[axle] = name
            most = view.quantity("pressure", "kit", "bags", name, "most_pressure")
            given = view.quantity("pressure", *path)
            if most is not None and given is not None and given.si > most.si:
                yield Finding(
                    path=path, found=given.text, wrong=f"its maker allows {most.text} at most", example=most.text
                )
