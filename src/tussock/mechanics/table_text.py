"""Text of a machine's file to named columns in SI: titles with units, decimal comma, and every problem found at once.

What a column is called and which units it may have is data of the caller, so that one reader serves every machine.
"""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from tussock.errors import InputError
from tussock.mechanics.arrays import Floats, Ints

_NUMBER = re.compile(r"^[+-]?(?:\d+[.,]?\d*|[.,]\d+)(?:[eE][+-]?\d+)?$")
_TITLE = re.compile(r"^(?P<name>[^\[\]()]*?)\s*[\[(]\s*(?P<unit>[^\[\]()]*?)\s*[\])]$")
_SLASHED = re.compile(r"^(?P<name>.+?)\s*(?:\s/\s|\sin\s)\s*(?P<unit>\S+)$")
_MOST_CHARACTERS = 40_000_000
_MOST_PROBLEMS = 20
_MOST_PREAMBLE = 200  # lines of free text above the titles


class TableError(InputError):
    """A file cannot be used; `problems` lists every reason found."""

    def __init__(self, name: str, problems: Iterable[str]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(f"{name}: {p}" for p in self.problems))


@dataclass(frozen=True, kw_only=True, slots=True)
class Wanted:
    """A column that is looked for: words that name it (lower case), and factor to SI by unit; no units, no unit."""

    words: tuple[str, ...]
    units: Mapping[str, float]
    needed: bool = True


@dataclass(frozen=True, kw_only=True, eq=False)
class TextTable:
    """Columns of a file in SI by key, arrays (n,), and the line of each row, 1-based."""

    columns: Mapping[str, Floats]
    line: Ints


def read_table(text: str, name: str, wanted: Mapping[str, Wanted], *, example: str) -> TextTable:
    """Read the columns that are wanted; others are passed over.

    Parameters
    ----------
    text : str
        Lines of ``#`` comment or free text above the titles, one line of titles, one row per sample. Semicolon,
        tabulator or comma part the columns; a decimal comma is read when something else parts them.
    name : str
        What the file is called, for messages.
    wanted : mapping
        Columns by key.
    example : str
        Titles that would be right, for messages.

    Raises
    ------
    TableError
        With everything that is wrong, line by line.
    """
    if len(text) > _MOST_CHARACTERS:
        raise TableError(name, [f"the file has {len(text) / 1e6:.0f} MB; 40 MB are the most"])
    if "\x00" in text:
        raise TableError(name, ["the file is binary; export it as text (CSV)"])
    lines = [
        (at, line)
        for at, line in enumerate(text.removeprefix("\ufeff").splitlines(), start=1)
        if line.strip() and not line.lstrip().startswith("#")
    ]
    if not lines:
        raise TableError(name, [f"the file is empty; expected titles such as {example}"])
    head = _head(lines, wanted)
    at, line = lines[head]
    delimiter = _delimiter(line)
    titles = next(csv.reader([line], delimiter=delimiter))
    found, problems = _match(titles, wanted)
    problems = [f"line {at}: {p}" for p in problems]
    missing = [key for key, want in wanted.items() if want.needed and key not in found]
    if missing:
        said = ", ".join(t.strip() for t in titles)[:200]
        problems.append(f"line {at}: no column for {', '.join(missing)}; found {said}; expected such as {example}")
    if problems:
        raise TableError(name, problems)
    columns, kept, wrong = _rows(lines[head + 1 :], found, delimiter, len(titles))
    if wrong:
        raise TableError(name, wrong)
    if not kept:
        raise TableError(name, [f"no rows below the titles on line {at}"])
    return TextTable(columns=columns, line=np.asarray(kept, dtype=np.int64))


def _delimiter(line: str) -> str:
    return max(";\t,", key=line.count)


def _split(title: str) -> tuple[str, str | None]:
    text = title.strip().strip('"').strip()
    match = _TITLE.match(text) or _SLASHED.match(text)
    return (text, None) if match is None else (match.group("name").strip(), match.group("unit") or None)


def _head(lines: list[tuple[int, str]], wanted: Mapping[str, Wanted]) -> int:
    """Return which line holds the titles: the first that names two columns, else the first of all."""
    words = {word for want in wanted.values() for word in want.words}
    for i, (_, line) in enumerate(lines[:_MOST_PREAMBLE]):
        cells = next(csv.reader([line], delimiter=_delimiter(line)))
        if sum(_split(cell)[0].lower() in words for cell in cells) >= 2:
            return i
    return 0


def _match(titles: list[str], wanted: Mapping[str, Wanted]) -> tuple[dict[str, tuple[int, float]], list[str]]:
    """Return place and factor of each column found, and what is wrong with their titles."""
    found: dict[str, tuple[int, float]] = {}
    problems: list[str] = []
    for key, want in wanted.items():
        named = [i for i, title in enumerate(titles) if _split(title)[0].lower() in want.words]
        if len(named) > 1:
            problems.append(f"columns {', '.join(titles[i].strip() for i in named)} could all be {key}; keep one")
            continue
        if not named:
            continue
        unit = _split(titles[named[0]])[1]
        if not want.units:
            found[key] = (named[0], 1.0)
        elif unit is not None and unit in want.units:
            found[key] = (named[0], want.units[unit])
        else:
            said = "no unit" if unit is None else f"unit {unit!r}"
            first = next(iter(want.units))
            word = _split(titles[named[0]])[0]
            problems.append(f"column '{word}' has {said}; write it as '{word} [{first}]' ({', '.join(want.units)})")
    return found, problems


def _rows(
    lines: list[tuple[int, str]], found: Mapping[str, tuple[int, float]], delimiter: str, width: int
) -> tuple[dict[str, Floats], list[int], list[str]]:
    values: dict[str, list[float]] = {key: [] for key in found}
    kept: list[int] = []
    problems: list[str] = []
    mark_seen = ""
    for at, line in lines:
        cells = [c.strip().strip('"') for c in line.split(delimiter)]
        if len(cells) != width:
            hint = "; is it a decimal comma? then part the columns by ';'" if len(cells) > width else ""
            problems.append(f"line {at}: {len(cells)} columns, the titles are {width}{hint}")
            continue
        row: dict[str, float] = {}
        for key, (i, factor) in found.items():
            cell = cells[i]
            mark = "," if "," in cell else "." if "." in cell else ""
            if not _NUMBER.match(cell) or not math.isfinite(float(cell.replace(",", "."))):
                problems.append(f"line {at}: {key} is {cell[:40]!r}; a number is needed")
            elif mark and mark_seen and mark != mark_seen:
                problems.append(f"line {at}: {key} is {cell!r}; decimal comma and point are mixed, use one throughout")
            else:
                mark_seen = mark or mark_seen
                row[key] = float(cell.replace(",", ".")) * factor
        if len(row) == len(found):
            kept.append(at)
            for key, number in row.items():
                values[key].append(number)
    if len(problems) > _MOST_PROBLEMS:
        more = len(problems) - _MOST_PROBLEMS
        problems = [*problems[:_MOST_PROBLEMS], f"and {more} more lines like these"]
    return {key: np.asarray(v) for key, v in values.items()}, kept, problems
