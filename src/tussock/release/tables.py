"""Fitting a table to the width of a page: smaller type, wrapped words, and at last several parts."""

from __future__ import annotations

import re
from dataclasses import dataclass

from tussock.release.figures.canvas import text_width
from tussock.release.words import cell_text, column_title, filled_columns, is_numeric, key_columns
from tussock.studies.result import Table

SIZES = (8.5, 8.0, 7.5, 7.0)  # [pt]
GUTTER = 10.0  # between columns [pt]
_LONGEST_WORD = 130.0
_WIDEST_TEXT = 320.0
_READABLE = 60.0
_MOST_LINES = 6  # a cell of more lines than this asks for a wider column


@dataclass(frozen=True, kw_only=True, slots=True)
class TablePart:
    """Part of a table as it is set: header and cells as words, widths that fit the page.

    Attributes
    ----------
    size : float
        Size of type. [pt]
    widths : tuple of float
        Widths of the columns, without the gutter between them. [pt]
    numeric : tuple of bool
        Which columns hold numbers and align at the right.
    header, rows : tuple
        Words of the header and the cells.
    strong : tuple of int
        Rows that govern.
    """

    size: float
    widths: tuple[float, ...]
    numeric: tuple[bool, ...]
    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    strong: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class _Column:
    numeric: bool
    header: str
    cells: tuple[str, ...]

    def least(self, size: float) -> float:
        """Width below which a word would stick out."""
        words = self.header.split()
        # a number never breaks, words do
        words += list(self.cells) if self.numeric else [w for c in self.cells for w in c.split()]
        width = max((text_width(w, size, "semibold") for word in words for w in word.split("\u200b")), default=0.0)
        if not self.numeric:  # a column of sentences one word wide cannot be read, nor one of many lines
            longest = max((text_width(c, size, "semibold") for c in self.cells), default=0.0)
            width = max(width, min(_READABLE, longest), min(_WIDEST_TEXT, longest / _MOST_LINES))
        return width + 1.0

    def wanted(self, size: float) -> float:
        """Width at which nothing wraps, within reason."""
        widest = max((text_width(t, size, "semibold") for t in (self.header, *self.cells)), default=0.0) + 1.0
        return max(self.least(size), min(widest, _WIDEST_TEXT))


def fit_table(table: Table, width: float) -> tuple[TablePart, ...]:
    """Set a table into a width [pt]; a table too wide at the smallest size is cut into parts.

    Every part repeats the columns that name a row, so that each can be read alone.
    """
    columns = []
    for i in filled_columns(table):
        column = table.columns[i]
        cells = tuple(cell_text(row[i], column) for row in table.rows)
        header = _breakable(column_title(column))
        columns.append(_Column(is_numeric(column, cells), header, tuple(_breakable(c) for c in cells)))
    for size in SIZES:
        if sum(c.least(size) for c in columns) + GUTTER * (len(columns) - 1) <= width:
            return (_part(columns, size, width, table.strong),)
    size = SIZES[1]
    keys = key_columns(table)
    parts = _cut(columns, keys, size, width)
    # the fewest parts that fit, then as even as they can be
    narrowest = width
    while narrowest > 0.5 * width and len(_cut(columns, keys, size, narrowest - 4.0)) == len(parts):
        narrowest -= 4.0
    return tuple(_part(p, size, width, table.strong) for p in _cut(columns, keys, size, narrowest))


def _cut(columns: list[_Column], keys: int, size: float, width: float) -> list[list[_Column]]:
    parts: list[list[_Column]] = [columns[:keys]]
    for column in columns[keys:]:
        trial = [*parts[-1], column]
        if len(trial) > keys + 1 and sum(c.least(size) for c in trial) + GUTTER * (len(trial) - 1) > width:
            parts.append([*columns[:keys], column])
        else:
            parts[-1] = trial
    return parts


def _part(columns: list[_Column], size: float, width: float, strong: tuple[int, ...]) -> TablePart:
    least = [c.least(size) for c in columns]
    wants = [c.wanted(size) - a for c, a in zip(columns, least, strict=True)]
    spare = max(width - GUTTER * (len(columns) - 1) - sum(least), 0.0)
    share = 1.0 if sum(wants) <= spare else spare / sum(wants)
    widths = [a + share * w for a, w in zip(least, wants, strict=True)]
    too_wide = sum(widths) + GUTTER * (len(columns) - 1) - width
    if too_wide > 0.0:  # two columns of very long words: the widest gives way and its words break
        widest = widths.index(max(widths))
        widths[widest] = max(widths[widest] - too_wide, 30.0)
    return TablePart(
        size=size,
        widths=tuple(widths),
        numeric=tuple(c.numeric for c in columns),
        header=tuple(c.header for c in columns),
        rows=tuple(zip(*(c.cells for c in columns), strict=True)),
        strong=strong,
    )


def _breakable(text: str) -> str:
    """Let words too long for a column break after a sign, or anywhere if they have none."""

    def cut(match: re.Match[str]) -> str:
        word = match.group()
        if text_width(word, SIZES[0], "semibold") <= _LONGEST_WORD:
            return word
        pieces = re.sub(r"([/._\-])", "\\1\u200b", word).split("\u200b")
        return "\u200b".join("\u200b".join(p[i : i + 20] for i in range(0, len(p), 20)) for p in pieces if p)

    return re.sub(r"\S+", cut, text)
