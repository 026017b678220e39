"""Labels inside and above a plot: flags of lines across it, and notes beside points."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from tussock.release.figures.canvas import Point, line_height, text_width, wrap
from tussock.release.look import Weight

SIZE = 8.5


@dataclass(frozen=True, slots=True)
class Box:
    """Where a label lies. [pt]"""

    left: float
    bottom: float
    right: float
    top: float

    def overlaps(self, other: Box) -> bool:
        """Return whether the two share any area."""
        return (
            self.left < other.right and other.left < self.right and self.bottom < other.top and other.bottom < self.top
        )

    def grown(self, by: float) -> Box:
        """Return the box with a rim around it."""
        return Box(self.left - by, self.bottom - by, self.right + by, self.top + by)

    def holds(self, point: Point) -> bool:
        """Return whether a point lies inside."""
        return self.left < point[0] < self.right and self.bottom < point[1] < self.top


@dataclass(frozen=True, slots=True)
class Flag:
    """Label of a vertical mark above the plot: its level, box side and lines."""

    level: int
    left: float
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Note:
    """Words beside a point: the point and the words' face, [pt]."""

    at: Point
    text: str
    weight: Weight = "regular"


def place_flags(at: list[float], texts: list[str], *, right_end: float) -> list[Flag]:
    """Stack the labels of vertical marks in levels so that no label meets another or another's line.

    A label flies to the right of its line, or to the left where the sheet ends.
    """
    placed: dict[int, Flag] = {}
    spans: list[tuple[int, float, float, float]] = []  # level, left, right, line
    for i in sorted(range(len(at)), key=lambda i: -at[i]):
        lines = wrap(texts[i], 120.0, SIZE, "semibold")
        wide = max((text_width(t, SIZE, "semibold") for t in lines), default=0.0) + 4.0
        left = at[i] if at[i] + wide <= right_end else at[i] - wide
        level = 0
        while any(
            (here == level and left < far and near < left + wide)  # two labels
            or (here < level and near < at[i] < far)  # own line through a lower label
            or (here > level and left < pole < left + wide)  # a higher one's line through this label
            for here, near, far, pole in spans
        ) and level <= len(at):
            level += 1
        spans.append((level, left, left + wide, at[i]))
        placed[i] = Flag(level, left + 2.0, lines)
    return [placed[i] for i in range(len(at))]


def level_heights(flags: list[Flag]) -> list[float]:
    """Return the height of each level of flags, lowest first. [pt]"""
    levels = 1 + max((f.level for f in flags), default=-1)
    return [
        max(line_height(SIZE) * len(f.lines) for f in flags if f.level == level) + 2.0
        if any(f.level == level for f in flags)
        else 0.0
        for level in range(levels)
    ]


def place_notes(notes: Sequence[Note], drawn: Sequence[Point], plot: Box) -> list[tuple[Box, tuple[str, ...]]]:
    """Return where each note goes: beside its point, where it covers no other note and least of what is drawn.

    Parameters
    ----------
    notes : sequence of Note
        In order of importance: the first ones choose first.
    drawn : sequence of (float, float)
        Points along the curves, and other points' markers. [pt]
    plot : Box
        Notes stay inside where they can. [pt]

    Returns
    -------
    list of (Box, tuple of str)
        Place and wrapped words of each note.
    """
    dense = _dense(drawn)
    placed: list[tuple[Box, tuple[str, ...]]] = []
    for note in notes:
        lines = wrap(note.text, 130.0, SIZE, note.weight)
        wide = max((text_width(t, SIZE, note.weight) for t in lines), default=0.0)
        tall = line_height(SIZE) * len(lines)
        x, y = note.at
        more = 0.5 * (tall - line_height(SIZE))  # further lines grow away from the point
        others = [other.at for other in notes if other.at != note.at]
        boxes = []
        for reach in (1.0, 1.6, 2.4, 3.6, 5.0):
            for dx, dy in ((8, 0), (6, 10), (6, -10), (-8, 0), (-6, 10), (-6, -10), (0, 13), (0, -13)):
                left = x + dx * reach - (wide if dx < 0 else 0.5 * wide if dx == 0 else 0.0)
                middle = y + dy * reach + more * ((dy > 0) - (dy < 0))
                boxes.append(Box(left, middle - 0.5 * tall, left + wide, middle + 0.5 * tall))

        def cost(box: Box, others: list[Point] = others, at: Point = note.at) -> tuple[float, ...]:
            outside = box.left < plot.left or box.right > plot.right or box.bottom < plot.bottom or box.top > plot.top
            return (
                sum(box.overlaps(other) for other, _ in placed),
                outside,
                5 * sum(box.grown(3.0).holds(p) for p in others) + sum(box.holds(p) for p in dense),
                math.hypot(0.5 * (box.left + box.right) - at[0], 0.5 * (box.bottom + box.top) - at[1]),
            )

        placed.append((min(boxes, key=cost), lines))
    return placed


def _dense(points: Sequence[Point]) -> list[Point]:
    """Return points every few points of length along the curves, for judging what a note would cover."""
    found = list(points)
    for (x0, y0), (x1, y1) in itertools.pairwise(points):
        steps = min(int(math.hypot(x1 - x0, y1 - y0) / 4.0), 40)
        found += [(x0 + (x1 - x0) * i / steps, y0 + (y1 - y0) * i / steps) for i in range(1, steps)]
    return found
