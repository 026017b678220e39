"""Text of a dyno file to columns of numbers in SI, with the line of every sample, and every problem found."""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from tussock.errors import InputError
from tussock.mechanics.arrays import Floats, Ints

_UNITS: dict[str, dict[str, float]] = {
    "time": {"s": 1.0, "ms": 1e-3},
    "displacement": {"mm": 1e-3, "m": 1.0, "cm": 1e-2},
    "force": {"N": 1.0, "kN": 1e3},
}
_HEADER = re.compile(r"^\s*(?P<name>[a-zA-Z]+)\s*(?:[\[(]\s*(?P<unit>[^\])]+?)\s*[\])])?\s*$")
_NUMBER = re.compile(r"^[+-]?(?:\d+[.,]?\d*|[.,]\d+)(?:[eE][+-]?\d+)?$")
_NOT_FINITE = {"nan", "inf", "infinity"}
_EXAMPLE = "'run, time [s], displacement [mm], force [N]'"
_MOST_CHARACTERS = 40_000_000  # about an hour at 200 Hz on every channel; beyond it the file is something else
_MOST_PROBLEMS = 20  # of the same kind of trouble, one line each


class DynoError(InputError):
    """A dyno file cannot be used; `problems` lists every reason found."""

    def __init__(self, name: str, problems: Iterable[str]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(f"{name}: {p}" for p in self.problems))


@dataclass(frozen=True, kw_only=True, eq=False)
class Samples:
    """Columns of a file in SI, arrays of shape (n,).

    Attributes
    ----------
    time, displacement, force : array
        [s], [m], [N].
    run : array or None
        Run number of each sample; None when the file has no such column.
    line : array
        Line of the file that each sample stands on, 1-based.
    """

    time: Floats
    displacement: Floats
    force: Floats
    run: Floats | None
    line: Ints


def parse(text: str, name: str) -> tuple[Samples, list[str]]:
    """Return the samples of a file and the problems of single lines.

    Parameters
    ----------
    text : str
        The file's content: comment lines with ``#``, a header, one row per sample. Comma, semicolon or tabulator part
        the columns; a decimal comma is read when something else parts them.
    name : str
        What the file is called, for messages.

    Raises
    ------
    DynoError
        When no samples can be had: empty or binary text, a missing column or unit.
    """
    if len(text) > _MOST_CHARACTERS:
        raise DynoError(name, [f"the file has {len(text) / 1e6:.0f} MB; sweeps have at most 40 MB"])
    if "\x00" in text:
        raise DynoError(name, ["the file is binary; export the sweeps as text (CSV)"])
    lines = [
        (at, line)
        for at, line in enumerate(text.removeprefix("\ufeff").splitlines(), start=1)
        if line.strip() and not line.lstrip().startswith("#")
    ]
    if not lines:
        raise DynoError(name, [f"the file is empty; expected a header {_EXAMPLE}"])
    head_at, head = lines[0]
    delimiter = max(";\t,", key=head.count)
    titles = next(csv.reader([head], delimiter=delimiter))
    columns, problems = _columns(titles, head_at)
    missing = [k for k in _UNITS if k not in columns]
    if missing:
        found = ", ".join(t.strip() for t in titles) or "nothing"
        problems.append(f"line {head_at}: no column for {', '.join(missing)}; found {found[:200]}; expected {_EXAMPLE}")
    values, kept, wrong = _rows(lines[1:], columns, delimiter, len(titles))
    problems += wrong
    if missing or not kept:
        raise DynoError(name, problems or [f"no samples below the header on line {head_at}"])
    return (
        Samples(
            time=np.asarray(values["time"]),
            displacement=np.asarray(values["displacement"]),
            force=np.asarray(values["force"]),
            run=np.asarray(values["run"]) if "run" in values else None,
            line=np.asarray(kept, dtype=np.int64),
        ),
        problems,
    )


def _columns(titles: list[str], at: int) -> tuple[dict[str, tuple[int, float]], list[str]]:
    """Return index and factor of each known column, and what is wrong with their titles."""
    columns: dict[str, tuple[int, float]] = {}
    problems: list[str] = []
    for i, title in enumerate(titles):
        match = _HEADER.match(title)
        if match is None:
            continue
        key, unit = match.group("name").lower(), match.group("unit")
        if key not in ("run", *_UNITS):
            continue
        if key in columns:
            problems.append(f"line {at}: column '{key}' stands twice")
            continue
        if key == "run":
            columns[key] = (i, 1.0)
            continue
        if unit not in _UNITS[key]:
            known = ", ".join(_UNITS[key])
            found = "no unit" if unit is None else f"unit {unit!r}"
            problems.append(
                f"line {at}: column '{key}' has {found}; write it as '{key} [{next(iter(_UNITS[key]))}]' ({known})"
            )
        columns[key] = (i, _UNITS[key].get(unit or "", 1.0))
    return columns, problems


def _rows(
    lines: list[tuple[int, str]], columns: dict[str, tuple[int, float]], delimiter: str, width: int
) -> tuple[dict[str, list[float]], list[int], list[str]]:
    """Return the numbers of the good rows, the lines they stand on, and what is wrong with the others."""
    values: dict[str, list[float]] = {k: [] for k in columns}
    kept: list[int] = []
    problems: list[str] = []
    decimal: tuple[str, int] | None = None  # sign of the first decimal seen, and its line
    for at, line in lines:
        row = line.split(delimiter)
        if len(row) != width:
            hint = "; is it a decimal comma? then part the columns by ';'" if len(row) > width else ""
            problems.append(f"line {at}: {len(row)} columns, the header has {width}{hint}")
            continue
        good: dict[str, float] = {}
        for key, (i, factor) in columns.items():
            cell = row[i].strip().strip('"')
            if cell.lower().lstrip("+-") in _NOT_FINITE:
                problems.append(f"line {at}: {key} is {cell!r}; a finite number is needed")
                continue
            if not _NUMBER.match(cell):
                problems.append(f"line {at}: {key} is {cell[:40]!r}; a number is needed")
                continue
            mark = "," if "," in cell else "." if "." in cell else ""
            if mark and decimal is None:
                decimal = (mark, at)
            elif mark and decimal is not None and mark != decimal[0]:
                first, other = ("comma", "point") if mark == "," else ("point", "comma")
                problems.append(
                    f"line {at}: {key} is {cell!r} with a decimal {first}, line {decimal[1]} has a decimal {other}; "
                    "use one of them throughout"
                )
                continue
            number = float(cell.replace(",", ".")) * factor
            if math.isfinite(number):
                good[key] = number
            else:
                problems.append(f"line {at}: {key} is {cell[:40]!r}, larger than any number here can be")
        if len(good) == len(columns):
            kept.append(at)
            for key, number in good.items():
                values[key].append(number)
    if len(problems) > _MOST_PROBLEMS:
        more = len(problems) - _MOST_PROBLEMS
        problems = [*problems[:_MOST_PROBLEMS], f"and {more} more lines like these"]
    return values, kept, problems
