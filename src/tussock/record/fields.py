"""Field types of the record: quantities, points and curve points, each checked against its dimension and range.

`quantity(...)` makes the rule of one field; `Annotated[Quantity, quantity("length", example="95 mm")]` is then a
field type that Pydantic validates, describes in the JSON Schema and writes back as it was written.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, TypeAlias

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import PydanticCustomError, core_schema

from tussock.record.units import (
    DIMENSIONS,
    LONGEST,
    NUMBER,
    Quantity,
    QuantityError,
    parse,
    unit_factor,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """A measured point.

    Attributes
    ----------
    si : tuple of float
        x forward, y left, z up [m].
    spread : float
        What follows `+-` [m], for each coordinate; 0 where nothing does.
    text : str
        As written.
    """

    si: tuple[float, float, float]
    spread: float = 0.0
    text: str

    def __str__(self) -> str:
        return self.text

    @property
    def x(self) -> float:
        """Forward [m]."""
        return self.si[0]

    @property
    def y(self) -> float:
        """To the left [m]."""
        return self.si[1]

    @property
    def z(self) -> float:
        """Upwards [m]."""
        return self.si[2]


@dataclass(frozen=True, slots=True, kw_only=True)
class CurvePoint:
    """One point of a measured curve: `at` (deflection [m] or velocity [m/s]) and the force there [N]."""

    at: float
    force: float
    text: str

    def __str__(self) -> str:
        return self.text


Rules: TypeAlias = "QuantityRule | PointRule | CurveRule"


class _Rule:
    """What the three rules share: validation through `read`, serialisation as written."""

    def read(self, value: object) -> Any:
        """Return the field's value, or raise QuantityError."""
        raise NotImplementedError

    def schema(self) -> dict[str, Any]:
        """Return the JSON Schema of the field."""
        raise NotImplementedError

    def _validate(self, value: object) -> Any:
        try:
            return self.read(value)
        except QuantityError as error:
            raise PydanticCustomError("quantity", "{wrong}", {"wrong": error.wrong, "example": error.example}) from None

    def __get_pydantic_core_schema__(self, source: object, handler: GetCoreSchemaHandler) -> core_schema.CoreSchema:
        return core_schema.no_info_plain_validator_function(
            self._validate, serialization=core_schema.plain_serializer_function_ser_schema(str)
        )

    def __get_pydantic_json_schema__(
        self, core: core_schema.CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        return self.schema()


@dataclass(frozen=True, kw_only=True)
class QuantityRule(_Rule):
    """The rule of one quantity field; made by `quantity`."""

    dimension: str
    example: str
    least: float | None = None
    above: float | None = None
    most: float | None = None
    window: tuple[float, float] | None = None
    window_text: str = ""

    def read(self, value: object) -> Quantity:
        """Return the quantity, or raise QuantityError."""
        wanted = DIMENSIONS[self.dimension]
        if isinstance(value, Quantity):
            value = value.text
        if isinstance(value, bool) or not isinstance(value, str | int | float):
            raise QuantityError(f"wanted {wanted.words}, found {kind_of(value)}", self.example)
        if isinstance(value, int | float) and not wanted.bare:
            meant = self._meant(float(value)) if abs(value) < 1e12 else ""
            hint = f" (did you mean {meant}?)" if meant else ""
            raise QuantityError(f"{value} has no unit{hint}; wanted {wanted.words}", meant or self.example)
        found = parse(str(value), self.dimension, example=self.example)
        self._check_range(found)
        return found

    def _check_range(self, found: Quantity) -> None:
        if self.above is not None and not found.si > self.above:
            said = "positive" if self.above == 0.0 else f"above {self._show(self.above)}"
            raise QuantityError(f"{found.text} must be {said}", self.example)
        if self.least is not None and found.si < self.least:
            said = "negative" if self.least == 0.0 else f"below {self._show(self.least)}"
            raise QuantityError(f"{found.text} must not be {said}", self.example)
        if self.most is not None and found.si > self.most:
            raise QuantityError(f"{found.text} must not be above {self._show(self.most)}", self.example)
        if self.window is not None and not self.window[0] <= found.si <= self.window[1]:
            factor = unit_factor(found.unit, self.dimension) or 1.0
            meant = self._meant(found.si / factor)
            hint = f"; did you mean {meant}?" if meant else ""
            wrong = f"{found.text} lies outside what is plausible here, {self.window_text}{hint}"
            raise QuantityError(wrong, meant or self.example)

    def _meant(self, number: float) -> str:
        """Return the same number with the unit that makes it plausible, or ""."""
        if self.window is None:
            return ""
        for unit in DIMENSIONS[self.dimension].units:
            factor = unit_factor(unit, self.dimension)
            if factor is not None and self.window[0] <= number * factor <= self.window[1]:
                return f"{number:g} {unit}".strip()
        return ""

    def _show(self, si: float) -> str:
        unit = DIMENSIONS[self.dimension].units[0]
        return f"{si / (unit_factor(unit, self.dimension) or 1.0):g} {unit}".strip()

    def schema(self) -> dict[str, Any]:
        """Return the JSON Schema: a string that holds a number and a unit, or a number where units are optional."""
        dimension = DIMENSIONS[self.dimension]
        text: dict[str, Any] = {"type": "string", "maxLength": LONGEST}
        tail = r"\s*(?:(?:\+\s?/?\s?[-−]|±).*)?$"
        text["pattern"] = rf"^\s*{NUMBER}\s*[A-Za-z%°µ+±].*$" if not dimension.bare else rf"^\s*{NUMBER}\s*%?{tail}"
        title = f"{dimension.words} [{dimension.si_unit}]"
        if dimension.bare:
            return {"title": title, "anyOf": [{"type": "number"}, text], "examples": [_plain(self.example)]}
        return {"title": title, **text, "examples": [self.example]}


def _plain(example: str) -> float | str:
    try:
        return float(example)
    except ValueError:
        return example


def quantity(
    dimension: str,
    *,
    example: str,
    least: float | None = None,
    above: float | None = None,
    most: float | None = None,
    plausible: tuple[str, str] | None = None,
) -> QuantityRule:
    """Make the rule of a quantity field.

    Parameters
    ----------
    dimension : str
        Name of a dimension in `units.DIMENSIONS`.
    example : str
        A right value, shown with every error and in the schema.
    least, above, most : float, optional
        Bounds in SI: not below `least`, strictly above `above`, not above `most`.
    plausible : tuple of str, optional
        Range outside which the unit is almost certainly mixed up, in trade units; the error then offers the unit
        that fits. Common practice, no source.
    """
    window = None
    text = ""
    if plausible is not None:
        low, high = (parse(p, dimension, example=example).si for p in plausible)
        window, text = (low, high), f"{plausible[0]} to {plausible[1]}"
    rule = QuantityRule(
        dimension=dimension, example=example, least=least, above=above, most=most, window=window, window_text=text
    )
    rule.read(example)  # an example that breaks its own rule is a mistake of ours
    return rule


@dataclass(frozen=True, kw_only=True)
class PointRule(_Rule):
    """The rule of a point field: "x, y, z unit", perhaps with `+-`, or a mapping of x, y and z."""

    example: str = "-885, 412, 432 mm +- 2 mm"
    farthest: float = 20.0  # [m]: no point of a vehicle lies farther from its front axle

    def read(self, value: object) -> Point:
        """Return the point, or raise QuantityError."""
        if isinstance(value, Point):
            value = value.text
        if isinstance(value, Mapping):
            return self._read_mapping(value)
        if isinstance(value, list | tuple):
            raise QuantityError("found a list; write the point as one text, its unit at the end", self.example)
        if not isinstance(value, str):
            raise QuantityError(f"wanted a point (x, y, z and a unit), found {kind_of(value)}", self.example)
        if len(value) > 2 * LONGEST:
            raise QuantityError(f"{len(value)} characters are no point", self.example)
        parts = value.split(",")
        if len(parts) != 3:
            raise QuantityError(
                f"{value.strip()!r} has {len(parts)} coordinate{'s' if len(parts) > 1 else ''}, "
                "wanted three (x, y, z), separated by commas",
                self.example,
            )
        last = self._coordinate(parts[2], "")
        first, second = (self._coordinate(part, last.unit) for part in parts[:2])
        return self._point((first, second, last), value.strip())

    def _read_mapping(self, value: Mapping[Any, Any]) -> Point:
        if set(value) != {"x", "y", "z"}:
            raise QuantityError(
                f"a point has x, y and z, found {', '.join(str(k)[:40] for k in list(value)[:6]) or 'nothing'}",
                self.example,
            )
        if not all(isinstance(value[axis], str) for axis in "xyz"):
            raise QuantityError("x, y and z want a unit each, such as 412 mm", self.example)
        x, y, z = (self._coordinate(value[axis], "") for axis in "xyz")
        text = ", ".join(str(value[axis]).split("+-")[0].strip() for axis in "xyz")
        spread = max(x.spread, y.spread, z.spread)
        return self._point((x, y, z), text + (f" +- {1e3 * spread:g} mm" if spread else ""))

    def _coordinate(self, text: str, unit: str) -> Quantity:
        if unit and re.fullmatch(NUMBER, text.strip()):
            text = f"{text} {unit}"
        return parse(text, "length", example=self.example)

    def _point(self, coordinates: tuple[Quantity, Quantity, Quantity], text: str) -> Point:
        for axis, c in zip("xyz", coordinates, strict=True):
            if abs(c.si) > self.farthest:
                raise QuantityError(
                    f"{axis} is {c.si:g} m, farther than any point of a vehicle; is the unit right?", self.example
                )
        x, y, z = coordinates
        return Point(si=(x.si, y.si, z.si), spread=max(x.spread, y.spread, z.spread), text=text)

    def schema(self) -> dict[str, Any]:
        """Return the JSON Schema: one text, or a mapping of three lengths."""
        number = NUMBER
        length = {"type": "string", "pattern": rf"^\s*{number}\s*[A-Za-z].*$"}
        return {
            "title": "a point [m]: x forward, y left, z up",
            "anyOf": [
                {"type": "string", "pattern": rf"^\s*{number}[^,]*,\s*{number}[^,]*,\s*{number}\s*[A-Za-z].*$"},
                {
                    "type": "object",
                    "properties": {axis: length for axis in "xyz"},
                    "required": ["x", "y", "z"],
                    "additionalProperties": False,
                },
            ],
            "examples": [self.example],
        }


@dataclass(frozen=True, kw_only=True)
class CurveRule(_Rule):
    """The rule of one curve point, "10 mm: 260 N": a length or a speed, and the force there."""

    dimension: str
    example: str

    def read(self, value: object) -> CurvePoint:
        """Return the pair, or raise QuantityError."""
        if isinstance(value, CurvePoint):
            value = value.text
        if isinstance(value, Mapping) and len(value) == 1:  # YAML reads an unquoted pair so
            ((key, force),) = value.items()
            value = f"{key}: {force}"
        if not isinstance(value, str):
            raise QuantityError(f"wanted a pair such as {self.example!r}, found {kind_of(value)}", self.example)
        at, colon, force = value[: 2 * LONGEST].partition(":")
        if not colon:
            raise QuantityError(f"{value[:LONGEST]!r} has no colon between the two quantities", self.example)
        first, _, second = self.example.partition(":")
        return CurvePoint(
            at=parse(at, self.dimension, example=first.strip()).si,
            force=parse(force, "force", example=second.strip()).si,
            text=value.strip(),
        )

    def schema(self) -> dict[str, Any]:
        """Return the JSON Schema: a text with a colon, or a mapping of one entry."""
        return {
            "title": f"{DIMENSIONS[self.dimension].words}: the force there [N]",
            "anyOf": [
                {"type": "string", "pattern": rf"^\s*{NUMBER}\s*[A-Za-z][^:]*:\s*{NUMBER}\s*[A-Za-z].*$"},
                {"type": "object", "minProperties": 1, "maxProperties": 1},
            ],
            "examples": [self.example],
        }


@dataclass(frozen=True, kw_only=True)
class RodLengthRule(_Rule):
    """The rule of a rod's length in a kit: a length, or one of the words keep and refit."""

    example: str = "905 mm"

    def read(self, value: object) -> Quantity | str:
        """Return the length or the word, or raise QuantityError."""
        if value in ("keep", "refit"):
            return str(value)
        return _ROD_LENGTH.read(value)

    def schema(self) -> dict[str, Any]:
        """Return the JSON Schema: a length or one of two words."""
        return {"anyOf": [{"enum": ["keep", "refit"]}, _ROD_LENGTH.schema()], "examples": [self.example]}


_ROD_LENGTH = quantity("length", example="905 mm", above=0.0, plausible=("30 mm", "3000 mm"))


def kind_of(value: object) -> str:
    """Say in words what was found in a YAML document.

    >>> kind_of([1, 2])
    'a list of 2'
    """
    words: tuple[tuple[type, Callable[[Any], str]], ...] = (
        (bool, lambda v: f"{str(v).lower()} (yes or no)"),
        (int, lambda v: f"the number {str(v)[:40]}" if abs(v) < 10**30 else "a very long number"),
        (float, lambda v: f"the number {v}"),
        (str, lambda v: repr(v if len(v) <= 60 else v[:57] + "...")),
        (Mapping, lambda v: f"a mapping of {len(v)}"),
        (list, lambda v: f"a list of {len(v)}"),
        (tuple, lambda v: f"a list of {len(v)}"),
    )
    if value is None:
        return "nothing"
    for type_, say in words:
        if isinstance(value, type_):
            return say(value)
    return type(value).__name__
