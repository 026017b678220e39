"""Hardpoints from a measuring table: one named point a line, checked before it enters a programme.

    name, x, y, z, unit
    wheel_centre, 0, 750, 361, mm
    arm_chassis, -885, 412, 432, mm

Comma, semicolon or tabulator part the columns; a decimal comma is read when something else parts them. The unit may
stand in the titles instead (``x [mm]``). A column ``spread`` (or ``+-``) gives the uncertainty in the same unit. Lines
that begin with ``#`` are comments. Points are of the left side or central; a name ending in ``_right`` gives the right
side its own, otherwise it is the mirror image. Axes: x forward, y left, z up.
"""

from __future__ import annotations

import csv
import difflib
import io
import math
import re
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

from tussock.record.fields import Point, PointRule
from tussock.record.layouts import LAYOUTS, central, hardpoints
from tussock.record.problems import Problem, ProgrammeError
from tussock.record.units import QuantityError, unit_factor

EXAMPLE = "arm_chassis, -885, 412, 432, mm"
HEADER = "name, x, y, z, unit"
MOST_CHARACTERS = 1_000_000
#: Half the track of any road vehicle [m]: the wheel centre shows a wrong unit.
HALF_TRACK = (0.35, 1.4)
#: Largest extent of a table of one axle's points [m].
EXTENT = (0.25, 8.0)
#: A right-hand point farther than this from the mirror image of the left one is worth a second look [m].
MIRROR_LIMIT = 0.020
#: Nearer than this it is the mirror image [m].
MIRROR_SAME = 1e-5
_TITLES = {
    "name": ("name", "point", "hardpoint"),
    "x": ("x",),
    "y": ("y",),
    "z": ("z",),
    "unit": ("unit", "units"),
    "spread": ("spread", "+-", "±", "uncertainty"),
}
_NAME = re.compile(r"[a-z][a-z0-9_]{0,63}")


@dataclass(frozen=True, kw_only=True)
class HardpointTable:
    """Points of a file.

    Attributes
    ----------
    points : mapping of name to Point
        In the order of the file.
    notices : tuple of str
        What is worth a second look, though it can be.
    """

    points: Mapping[str, Point]
    notices: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class _Row:
    line: int
    name: str
    point: Point


def read_hardpoints(
    text: str, name: str, *, layout: str = "", steering: str = "", once: Collection[str] = ()
) -> HardpointTable:
    """Read a table of hardpoints.

    Parameters
    ----------
    text : str
        The file's text.
    name : str
        Its name, for messages.
    layout : str, optional
        Key of `LAYOUTS`: names are held against it then.
    steering : str, optional
        Key of `STEERINGS`, for the points that stand once.
    once : collection of str, optional
        Further points that stand once and may lie anywhere across, such as those of one central link.

    Returns
    -------
    HardpointTable

    Raises
    ------
    ProgrammeError
        With every fault, its line and an example: no header, no number, no unit or an unknown one, a point twice, an
        unknown name, sides swapped, units that cannot be.

    Examples
    --------
    >>> text = "name,x,y,z,unit\\nwheel_centre,0,750,361,mm\\narm_chassis,-885,412,432,mm"
    >>> table = read_hardpoints(text, "front.csv")
    >>> table.points["arm_chassis"].si
    (-0.885, 0.412, 0.432)
    """
    if len(text) > MOST_CHARACTERS:
        raise ProgrammeError(
            [_problem(name, 0, f"{len(text)} characters", "a table of hardpoints is no longer than a megabyte")]
        )
    problems: list[Problem] = []
    rows = list(_rows(text.removeprefix("\ufeff"), name, problems))
    if not rows and not problems:
        problems.append(_problem(name, 0, "no line with a point", "the table has no points", HEADER))
    lines: dict[str, _Row] = {}
    for row in rows:
        if row.name in lines:
            problems.append(
                _problem(name, row.line, row.name, f"the point stands in line {lines[row.name].line} already")
            )
        else:
            lines[row.name] = row
    apart = set(once)
    if layout:
        apart |= central(layout, steering)
        problems += _unknown(lines, name, layout)
    problems += list(_units(lines, name)) or list(_sides(lines, name, apart))
    if problems:
        raise ProgrammeError(sorted(problems, key=lambda p: p.line))
    return HardpointTable(points={row.name: row.point for row in lines.values()}, notices=tuple(_notices(lines, apart)))


def write_hardpoints(points: Mapping[str, Point]) -> str:
    """Text of a table in millimetres that `read_hardpoints` reads back to the micrometre."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    spread = any(point.spread for point in points.values())
    writer.writerow(["name", "x", "y", "z", "unit", *(["spread"] if spread else [])])
    for name, point in points.items():
        numbers = [f"{1e3 * value:.3f}".rstrip("0").rstrip(".") for value in point.si]
        writer.writerow([name, *numbers, "mm", *([f"{1e3 * point.spread:g}"] if spread else [])])
    return out.getvalue()


def _problem(file: str, line: int, found: str, wrong: str, example: str = EXAMPLE) -> Problem:
    return Problem(file=file, line=line, path="", found=found[:80], wrong=wrong, example=example)


def _rows(text: str, file: str, problems: list[Problem]) -> Iterator[_Row]:
    """Rows of the table; faults go to `problems`."""
    lines = [
        (number, line)
        for number, line in enumerate(text.splitlines(), start=1)
        if line.strip() and not line.lstrip().startswith("#")
    ]
    if not lines:
        return
    number, head = lines[0]
    parting = max(";\t,", key=head.count)
    titles = [_title(cell) for cell in next(csv.reader([head], delimiter=parting))]
    column = {word: titles.index((word, unit)) for word, unit in titles if word}
    missing = [word for word in ("name", "x", "y", "z") if word not in column]
    if missing:
        problems.append(_problem(file, number, head.strip(), f"the header lacks {', '.join(missing)}", HEADER))
        return
    units = {word: unit for word, unit in titles if word in ("x", "y", "z")}
    if "unit" not in column and not all(units.values()):
        problems.append(
            _problem(file, number, head.strip(), "no unit: give a column 'unit', or write it into the titles", "x [mm]")
        )
        return
    for number, line in lines[1:]:
        cells = [cell.strip() for cell in next(csv.reader([line], delimiter=parting))]
        cells += [""] * (len(titles) - len(cells))
        try:
            yield _Row(line=number, name=_name(cells[column["name"]]), point=_point(cells, column, units, parting))
        except QuantityError as error:
            problems.append(_problem(file, number, line.strip(), str(error).split("; right")[0]))


def _title(cell: str) -> tuple[str, str]:
    """Column that a title means ("" for one that is not read) and the unit in its brackets."""
    match = re.fullmatch(r"\s*([^\[(]*?)\s*(?:[\[(]\s*([^\])]*?)\s*[\])])?\s*", cell)
    word, unit = (match[1].lower(), match[2] or "") if match else (cell.strip().lower(), "")
    return next((key for key, names in _TITLES.items() if word in names), ""), unit


def _name(cell: str) -> str:
    name = cell.strip().lower().replace(" ", "_").replace("-", "_")
    # a point without a side is a left one; the tie rod is named by its left end all the same
    if name.endswith("_left") and name != "tie_rod_left":
        name = name.removesuffix("_left")
    if not _NAME.fullmatch(name):
        raise QuantityError(f"{cell[:40]!r} is no name of a hardpoint: letters, digits and underscores", EXAMPLE)
    return name


def _point(cells: list[str], column: Mapping[str, int], units: Mapping[str, str], parting: str) -> Point:
    written = cells[column["unit"]] if "unit" in column else ""
    values = []
    factors = []
    for axis in "xyz":
        unit = written or units[axis]
        factor = unit_factor(unit, "length") if unit else None
        if factor is None:
            raise QuantityError(f"{unit!r} is no unit of length" if unit else "the unit is missing", EXAMPLE)
        values.append(_number(cells[column[axis]], axis, parting) * factor)
        factors.append(factor)
    farthest = PointRule().farthest
    for axis, value in zip("xyz", values, strict=True):
        if abs(value) > farthest:
            raise QuantityError(
                f"{axis} is {value:g} m, farther than any point of a vehicle; is the unit right?", EXAMPLE
            )
    spread = 0.0
    if "spread" in column and cells[column["spread"]]:
        spread = _number(cells[column["spread"]], "spread", parting) * factors[0]
        if spread < 0.0:
            raise QuantityError("the spread is negative", EXAMPLE)
    shown = ", ".join(f"{1e3 * value:.10g}" for value in values) + " mm"
    return Point(
        si=(values[0], values[1], values[2]),
        spread=spread,
        text=shown + (f" +- {1e3 * spread:.6g} mm" if spread else ""),
    )


def _number(cell: str, what: str, parting: str) -> float:
    text = cell.replace("−", "-")
    if parting != "," and "." not in text:
        text = text.replace(",", ".")
    try:
        value = float(text)
    except ValueError:
        raise QuantityError(f"{what} is {cell[:40]!r}, which is no number", EXAMPLE) from None
    if not math.isfinite(value):
        raise QuantityError(f"{what} is {cell[:40]!r}, which is not finite", EXAMPLE)
    return value


def _unknown(lines: Mapping[str, _Row], file: str, layout: str) -> list[Problem]:
    """Names that the layout does not have; ends of hoses and cables stand elsewhere in a programme."""
    known = hardpoints(layout, lines)
    found = []
    for row in lines.values():
        if row.name not in known:
            near = difflib.get_close_matches(row.name, known, n=1)
            found.append(
                _problem(
                    file, row.line, row.name, f"a hardpoint that the {LAYOUTS[layout].words} does not have",
                    near[0] if near else "",
                )
            )  # fmt: skip
    return found


def _units(lines: Mapping[str, _Row], file: str) -> Iterator[Problem]:
    """Find units that cannot be: a track of 1.5 mm, an axle 40 m across."""
    wheel = lines.get("wheel_centre")
    if wheel is not None:
        half = abs(wheel.point.y)
        if not HALF_TRACK[0] <= half <= HALF_TRACK[1]:
            yield _problem(
                file, wheel.line, wheel.point.text,
                f"the wheel centre lies {1e3 * half:g} mm from the middle, which no road vehicle has"
                + _other_unit(half, HALF_TRACK),
            )  # fmt: skip
        return
    if len(lines) < 3:
        return
    points = [row.point.si for row in lines.values()]
    extent = max(max(p[k] for p in points) - min(p[k] for p in points) for k in range(3))
    if not EXTENT[0] <= extent <= EXTENT[1]:
        yield _problem(
            file, 0, f"{len(points)} points within {1e3 * extent:g} mm",
            "no axle is of this size" + _other_unit(extent, EXTENT),
        )  # fmt: skip


def _other_unit(size: float, limits: tuple[float, float]) -> str:
    """Name units that would make it right."""
    factors = {
        "m written as mm": 1e3, "mm written as m": 1e-3, "cm written as mm": 10.0, "inches written as mm": 25.4,
        "mm written as inches": 1.0 / 25.4,
    }  # fmt: skip
    fits = [words for words, factor in factors.items() if limits[0] <= size * factor <= limits[1]]
    return f"; are these {' or '.join(fits)}?" if fits else ""


def _sides(lines: Mapping[str, _Row], file: str, once: set[str]) -> Iterator[Problem]:
    left = [row for row in lines.values() if not row.name.endswith("_right") and row.name not in once]
    right = [row for row in lines.values() if row.name.endswith("_right")]
    wrong_left = [row for row in left if not row.point.y > 0.0]
    wrong_right = [row for row in right if not row.point.y < 0.0]
    if len(wrong_left) > 2 and len(wrong_left) == len(left) and len(wrong_right) == len(right):
        yield _problem(
            file, 0, f"all {len(left)} left-hand points have y below 0",
            "left and right are swapped: y points to the left, and points without a side are left ones",
        )  # fmt: skip
        return
    for row in wrong_left:
        yield _problem(
            file, row.line, f"{row.name}: y = {1e3 * row.point.y:g} mm",
            "a left-hand point lies left of the middle, y above 0 (name it ..._right if it is a right-hand one)",
        )  # fmt: skip
    for row in wrong_right:
        yield _problem(
            file, row.line, f"{row.name}: y = {1e3 * row.point.y:g} mm",
            "a right-hand point lies right of the middle, y below 0",
        )  # fmt: skip
    for row in right:
        stem = row.name.removesuffix("_right")
        if stem in once:
            yield _problem(file, row.line, row.name, f"'{stem}' stands once, so it has no right-hand point")
        elif stem not in lines and not (stem == "tie_rod" and "tie_rod_left" in lines):
            yield _problem(
                file, row.line, row.name,
                f"the left-hand point '{stem}' is missing; measured on the right alone, it goes in under that name "
                "with the sign of y changed",
            )  # fmt: skip


def _notices(lines: Mapping[str, _Row], once: set[str]) -> Iterator[str]:
    for row in lines.values():
        if not row.name.endswith("_right"):
            continue
        stem = row.name.removesuffix("_right")
        left = lines.get(stem) or lines.get(f"{stem}_left")
        if left is None or stem in once:
            continue
        gap = math.dist(row.point.si, (left.point.x, -left.point.y, left.point.z))
        if gap < MIRROR_SAME:
            yield f"line {row.line}: {row.name} is the mirror image of {stem} and may be left out"
        elif gap > MIRROR_LIMIT:
            yield (
                f"line {row.line}: {row.name} lies {1e3 * gap:.1f} mm from the mirror image of {stem}; measure both "
                "again unless the vehicle is so"
            )
