"""A tolerant look at a document that may be wrong anywhere, for checks that compare one field with another.

Every accessor gives None for what is missing or not readable: that fault is reported by the field itself, and the
checks between fields go on with the rest. So one run reports everything.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any, TypeAlias

from tussock.record.fields import CurvePoint, CurveRule, Point, PointRule
from tussock.record.layouts import LAYOUTS, steering_of
from tussock.record.units import Quantity, QuantityError, parse

Key: TypeAlias = str | int
Path: TypeAlias = tuple[Key, ...]

_POINT = PointRule()


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """A fault between fields: where, what was found, what is wrong, what would be right."""

    path: Path
    found: str
    wrong: str
    example: str


@dataclass(frozen=True, slots=True)
class View:
    """A document as plain dicts, lists and scalars."""

    data: Any

    def get(self, *path: Key) -> Any:
        """Return what lies at a path, or None."""
        node = self.data
        for key in path:
            if isinstance(node, Mapping):
                node = node.get(key)
            elif isinstance(node, list | tuple) and isinstance(key, int) and 0 <= key < len(node):
                node = node[key]
            else:
                return None
        return node

    def text(self, *path: Key) -> str | None:
        """Return a text, or None."""
        value = self.get(*path)
        return value if isinstance(value, str) else None

    def is_mapping(self, *path: Key) -> bool:
        """Return whether a mapping stands there: only then can a name be missing from it."""
        return isinstance(self.get(*path), Mapping)

    def names(self, *path: Key) -> tuple[str, ...]:
        """Return the keys of a mapping, or nothing."""
        value = self.get(*path)
        return tuple(k for k in value if isinstance(k, str)) if isinstance(value, Mapping) else ()

    def rows(self, *path: Key) -> Iterator[tuple[int, Any]]:
        """Return the entries of a list with their places, or nothing."""
        value = self.get(*path)
        if isinstance(value, list | tuple):
            yield from enumerate(value)

    def quantity(self, dimension: str, *path: Key) -> Quantity | None:
        """Return a quantity, or None."""
        value = self.get(*path)
        if isinstance(value, Quantity):
            return value
        try:
            return parse(value, dimension, example="") if isinstance(value, str) else None
        except QuantityError:
            return None

    def steering(self, *axle: Key) -> str:
        """Return the key of what steers an axle of a known layout, or holds its tie rods; "" for neither."""
        layout = self.text(*axle, "layout") or ""
        if layout not in LAYOUTS:
            return ""
        given = self.get(*axle, "steering")
        kind = None if given is None else self.text(*axle, "steering", "kind") or "drag_link"
        return steering_of(layout, kind)

    def length(self, *path: Key) -> Quantity | None:
        """Return a length, or None."""
        return self.quantity("length", *path)

    def point(self, *path: Key) -> Point | None:
        """Return a point, or None."""
        try:
            return _POINT.read(self.get(*path))
        except QuantityError:
            return None

    def points(self, *path: Key) -> dict[str, Point]:
        """Return those entries of a mapping that are points."""
        found = {name: self.point(*path, name) for name in self.names(*path)}
        return {name: point for name, point in found.items() if point is not None}

    def curve(self, dimension: str, *path: Key) -> list[tuple[int, CurvePoint]]:
        """Return those entries of a list that are curve points, with their places."""
        rule = CurveRule(dimension=dimension, example="")
        found = []
        for i, value in self.rows(*path):
            try:
                found.append((i, rule.read(value)))
            except QuantityError:
                continue
        return found


def likeliest(name: str, known: tuple[str, ...] | list[str], otherwise: str = "") -> str:
    """Return the known name nearest to `name`, else the first one, else `otherwise`."""
    close = get_close_matches(name[:80], known, 1, 0.6)
    return close[0] if close else (known[0] if known else otherwise)


def nearest(name: str, known: tuple[str, ...] | list[str]) -> str:
    """Say which known name is nearest, and else which there are.

    >>> nearest("front_standart", ["front_standard", "rear_main"])
    "did you mean 'front_standard'?"
    """
    close = get_close_matches(name[:80], known, 1, 0.6)
    if close:
        return f"did you mean {close[0]!r}?"
    return "known: " + ", ".join(list(known)[:12]) if known else "there are none"
