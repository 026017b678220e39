"""Checks of coils of tapered wire, changing diameter or variable pitch."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from tussock.record.view import Finding, Path, View


def check_shape(view: View, path: Path) -> Iterator[Finding]:
    """Yield what is wrong between the stations of a coil and its other fields."""
    stations = [i for i, _ in view.rows(*path, "shape")]
    given = view.names(*path)
    if not stations:
        if "end_coils" in given:
            wrong = "only a coil given by its shape has the height of its end coils"
            yield Finding(path=(*path, "end_coils"), found="a height", wrong=wrong, example="leave it out")
        return
    for plain in ("wire", "mean_diameter", "active_coils"):
        if plain in given:
            yield Finding(
                path=(*path, plain),
                found="a plain coil beside a shape",
                wrong="a coil is given by its shape or by wire, mean_diameter and active_coils, not by both",
                example="leave it out",
            )
    if "end_coils" not in given:
        wrong = "a coil given by its shape says how high its dead coils are, both ends together"
        yield Finding(path=(*path, "end_coils"), found="nothing", wrong=wrong, example="end_coils: 18 mm")
    turns = [_number(view, (*path, "shape", i, "turns")) for i in stations]
    falls = [i for i, (a, b) in enumerate(pairwise(turns), start=1) if a is not None and b is not None and b <= a]
    if len(stations) < 2 or falls or turns[0] not in (None, 0.0):
        yield Finding(
            path=(*path, "shape", falls[0] if falls else 0),
            found="one station" if len(stations) < 2 else "turns that do not rise from 0",
            wrong="a shape has two stations or more, their turns rising from 0",
            example="{turns: 0, wire: 12 mm, mean_diameter: 120 mm, pitch: 30 mm}",
        )


def _number(view: View, path: Path) -> float | None:
    value = view.get(*path)
    if isinstance(value, int | float) and not isinstance(value, bool):
        return float(value)
    found = view.quantity("ratio", *path)
    return None if found is None else found.si
