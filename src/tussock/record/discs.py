"""Discs and holes as the workshop writes them: "0.20 x 28 mm", "3 of 0.20 x 28 mm", "6 of 4.0 mm"."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from tussock.record.fields import _Rule, kind_of
from tussock.record.units import LONGEST, QuantityError

MOST = 200
"""Equal parts that one line may stand for."""

_NUMBER = r"\d{1,4}(?:\.\d{0,6})?"
_COUNT = r"(?:(?P<count>\d{1,4}) of )?"
_DISC = re.compile(
    rf"{_COUNT}(?P<thickness>{_NUMBER}) x (?P<diameter>{_NUMBER}) mm(?: in (?P<material>[A-Za-z][\w-]*))?"
)
_HOLES = re.compile(rf"{_COUNT}(?P<diameter>{_NUMBER}) mm")

THINNEST, THICKEST = 0.02e-3, 3e-3
"""Thickness of a disc [m]; outside it the unit is almost certainly mixed up (common practice, no source)."""
LEAST, WIDEST = 4e-3, 100e-3
"""Outer diameter of a disc [m], likewise."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DiscLine:
    """One line of a stack or of the stock: equal discs by thickness and outer diameter.

    Attributes
    ----------
    count : int
        How many; 0 where the line does not say.
    thickness, diameter : float
        [m].
    material : str
        Name of the material where the line says it, else "".
    text : str
        As written.
    """

    count: int
    thickness: float
    diameter: float
    material: str
    text: str

    def __str__(self) -> str:
        return self.text

    @property
    def size(self) -> tuple[int, int]:
        """Thickness and diameter in whole micrometres, which two equal discs share however they are written."""
        return round(self.thickness * 1e6), round(self.diameter * 1e6)

    @property
    def words(self) -> str:
        """The disc alone, as people say it."""
        return disc_words(self.thickness, self.diameter)


def disc_words(thickness: float, diameter: float) -> str:
    """Return a disc as people say it, from metres.

    >>> disc_words(0.2e-3, 28e-3)
    '0.20 x 28'
    """
    shown = f"{thickness * 1e3:.3f}"
    return f"{shown[:-1] if shown.endswith('0') else shown} x {diameter * 1e3:g}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Holes:
    """Equal round holes: how many, their diameter [m], and the text."""

    count: int
    diameter: float
    text: str

    def __str__(self) -> str:
        return self.text


def _plain(text: str) -> str:
    return " ".join(text.replace("×", " x ").split())


def _count(found: re.Match[str], text: str, example: str) -> int:
    count = int(found["count"]) if found["count"] else 0
    if found["count"] and not 1 <= count <= MOST:
        raise QuantityError(f"{text!r}: {count} of them; 1 to {MOST} can stand in one line", example)
    return count


@dataclass(frozen=True, kw_only=True)
class DiscRule(_Rule):
    """The rule of one disc line: perhaps a count, thickness x outer diameter, perhaps the material."""

    example: str = "0.20 x 28 mm"

    def read(self, value: object) -> DiscLine:
        """Return the line, or raise QuantityError."""
        if isinstance(value, DiscLine):
            value = value.text
        if not isinstance(value, str):
            raise QuantityError(f"wanted a disc (thickness x outer diameter), found {kind_of(value)}", self.example)
        text = _plain(value[: 2 * LONGEST])
        found = _DISC.fullmatch(text)
        if found is None:
            raise QuantityError(f"{text[:60]!r} is no disc: thickness x outer diameter, then mm", self.example)
        count = _count(found, text, self.example)
        thickness, diameter = float(found["thickness"]) / 1e3, float(found["diameter"]) / 1e3
        if not LEAST <= diameter <= WIDEST and THINNEST <= diameter <= THICKEST and LEAST <= thickness <= WIDEST:
            swapped = f"{found['diameter']} x {found['thickness']} mm"
            raise QuantityError(f"{text!r}: thickness comes first; did you mean {swapped}?", swapped)
        if not THINNEST <= thickness <= THICKEST:
            raise QuantityError(f"{text!r}: discs are {THINNEST * 1e3:g} to {THICKEST * 1e3:g} mm thick", self.example)
        if not LEAST <= diameter <= WIDEST:
            raise QuantityError(f"{text!r}: discs are {LEAST * 1e3:g} to {WIDEST * 1e3:g} mm wide", self.example)
        return DiscLine(
            count=count,
            thickness=thickness,
            diameter=diameter,
            material=found["material"] or "",
            text=value.strip(),
        )

    def schema(self) -> dict[str, Any]:
        """Return the JSON Schema of the line."""
        return {
            "title": "discs: perhaps a count, thickness x outer diameter, perhaps the material",
            "type": "string",
            "maxLength": 2 * LONGEST,
            "pattern": rf"^\s*(\d+\s+of\s+)?{_NUMBER}\s*[x×]\s*{_NUMBER}\s*mm(\s+in\s+[A-Za-z][\w-]*)?\s*$",
            "examples": [self.example, f"3 of {self.example}"],
        }


@dataclass(frozen=True, kw_only=True)
class HolesRule(_Rule):
    """The rule of equal round holes: "6 of 4.0 mm", or "1.2 mm" for one."""

    example: str = "6 of 4.0 mm"

    def read(self, value: object) -> Holes:
        """Return the holes, or raise QuantityError."""
        if isinstance(value, Holes):
            value = value.text
        if not isinstance(value, str):
            raise QuantityError(f"wanted holes (count and diameter), found {kind_of(value)}", self.example)
        text = _plain(value[: 2 * LONGEST])
        found = _HOLES.fullmatch(text)
        if found is None:
            raise QuantityError(f"{text[:60]!r} are no holes: count of diameter, then mm", self.example)
        diameter = float(found["diameter"]) / 1e3
        if not 0.05e-3 <= diameter <= 50e-3:
            raise QuantityError(f"{text!r}: holes are 0.05 to 50 mm wide", self.example)
        return Holes(count=_count(found, text, self.example) or 1, diameter=diameter, text=value.strip())

    def schema(self) -> dict[str, Any]:
        """Return the JSON Schema of the holes."""
        return {
            "title": "equal round holes: count and diameter",
            "type": "string",
            "maxLength": 2 * LONGEST,
            "pattern": rf"^\s*(\d+\s+of\s+)?{_NUMBER}\s*mm\s*$",
            "examples": [self.example],
        }
