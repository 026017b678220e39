"""Text of a dyno file to columns of numbers in SI, with the line of every sample, and every problem found."""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from tussock.errors import InputError
from tussock.mechanics.arrays import Floats, Ints
from tussock.mechanics.dampers.channels import (
    EXAMPLE,
    UNITS,
    Channel,
    match_channels,
    missing_channels,
    recognised,
    split_title,
)

_NUMBER = re.compile(r"^[+-]?(?:\d+[.,]?\d*|[.,]\d+)(?:[eE][+-]?\d+)?$")
_NOT_FINITE = {"nan", "inf", "infinity"}
#: about an hour at 200 Hz on every channel; beyond it the file is something else
MOST_BYTES = 50_000_000
_MOST_CHARACTERS = 40_000_000
_MOST_PROBLEMS = 20  # of the same kind of trouble, one line each
_MOST_PREAMBLE = 200  # lines of free text above the header
_OPTIONAL = ("velocity", "temperature")  # may have empty cells


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
        Line of the file that each sample stands on, 1-based; in a binary file the number of the sample.
    velocity, temperature : array or None
        [m/s], [K]; NaN where a cell is empty, None when the file has no such column.
    place : str
        What `line` counts: "line" or "sample".
    notes : tuple of str
        What was left out, for people.
    """

    time: Floats
    displacement: Floats
    force: Floats
    run: Floats | None
    line: Ints
    velocity: Floats | None = None
    temperature: Floats | None = None
    place: str = "line"
    notes: tuple[str, ...] = ()


def parse(
    text: str, name: str, *, channels: Mapping[str, str] | None = None, rate: float | None = None
) -> tuple[Samples, list[str]]:
    """Return the samples of a file and the problems of single lines.

    Parameters
    ----------
    text : str
        The file's content: comment lines with ``#`` or free text above the header, a header, perhaps a row of units,
        one row per sample. Comma, semicolon or tabulator part the columns; a decimal comma is read when something else
        parts them.
    name : str
        What the file is called, for messages.
    channels : mapping, optional
        Title of the column by channel (see `channels`), where the file's own titles are not understood.
    rate : float, optional
        Samples in a second, for a file without a time column [Hz].

    Raises
    ------
    DynoError
        When no samples can be had: empty or binary text, a missing column or unit.
    """
    if len(text) > _MOST_CHARACTERS:
        raise DynoError(name, [f"the file has {len(text) / 1e6:.0f} MB; sweeps have at most 40 MB"])
    if "\x00" in text:
        raise DynoError(name, ["the file is binary; export the sweeps as text (CSV) or as ASAM MDF"])
    if rate is not None and not (math.isfinite(rate) and rate > 0.0):
        raise DynoError(name, [f"the sampling rate is {rate:g} Hz; it must be above 0, such as 1000 Hz"])
    lines = [
        (at, line)
        for at, line in enumerate(text.removeprefix("\ufeff").splitlines(), start=1)
        if line.strip() and not line.lstrip().startswith("#")
    ]
    if not lines:
        raise DynoError(name, [f"the file is empty; expected a header {EXAMPLE}"])
    head = _header(lines, channels)
    head_at, head_line = lines[head]
    delimiter = _delimiter(head_line)
    titles = next(csv.reader([head_line], delimiter=delimiter))
    body = lines[head + 1 :]
    if body and (units := _unit_row(titles, body[0][1].split(delimiter))):
        titles, body = [f"{t.strip()} [{u}]" if u else t for t, u in zip(titles, units, strict=True)], body[1:]
    where = f"line {head_at}"
    columns, problems, notes = match_channels(titles, where, given=channels, rate_given=rate is not None)
    missing = missing_channels(columns, titles, where, rate_given=rate is not None)
    if rate is not None and any(split_title(t)[0].lower() in ("time", "zeit") for t in titles):
        problems.append(f"{where}: the file has a time column and a sampling rate is given; leave the rate out")
    values, kept, wrong = _rows(body, columns, delimiter, titles, whole=text.endswith(("\n", "\r")))
    problems += missing + wrong
    if missing or not kept:
        raise DynoError(name, problems or [f"no samples below the header on line {head_at}"])
    arrays = {k: np.asarray(v) for k, v in values.items()}
    return (
        Samples(
            time=arrays["time"] if rate is None else np.arange(len(kept)) / rate,
            displacement=arrays["displacement"],
            force=arrays["force"],
            run=arrays.get("run"),
            line=np.asarray(kept, dtype=np.int64),
            velocity=arrays.get("velocity"),
            temperature=arrays.get("temperature"),
            notes=tuple(notes),
        ),
        problems,
    )


def decode(raw: bytes, name: str) -> str:
    """Return the text of a file's bytes: UTF-8 or UTF-16 by their marks, UTF-8 without one, else Windows-1252.

    Raises
    ------
    DynoError
        For bytes that are no text.
    """
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        try:
            return raw.decode("utf-16")
        except UnicodeDecodeError as error:
            place = f"byte {error.start}"
            raise DynoError(name, [f"the file begins as UTF-16 text, but {place} is none; is it cut off?"]) from None
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = raw.decode("cp1252", errors="replace")  # machines of the trade still write it; only titles can suffer
    if "\x00" in text:
        raise DynoError(name, ["the file is binary; export the sweeps as text (CSV) or as ASAM MDF"])
    return text


def _delimiter(line: str) -> str:
    return max(";\t,", key=line.count)


def _header(lines: list[tuple[int, str]], channels: Mapping[str, str] | None) -> int:
    """Return which of the lines is the header: the first that names two channels, else the first of all."""
    for i, (_, line) in enumerate(lines[:_MOST_PREAMBLE]):
        if recognised(next(csv.reader([line], delimiter=_delimiter(line))), channels) >= 2:
            return i
    return 0


def _unit_row(titles: list[str], cells: list[str]) -> list[str]:
    """Return the units of a row that holds units and nothing else, as some dynos write below the header; else none."""
    units = [c.strip().strip(chr(34)).strip("[]()").strip() for c in cells]
    known = {u for table in UNITS.values() for u in table}
    if len(units) != len(titles) or any(split_title(t)[1] for t in titles):
        return []
    return units if sum(u in known for u in units) >= 2 and not any(_NUMBER.match(u) for u in units) else []


def _rows(
    lines: list[tuple[int, str]], columns: dict[str, Channel], delimiter: str, titles: list[str], *, whole: bool
) -> tuple[dict[str, list[float]], list[int], list[str]]:
    """Return the numbers of the good rows, the lines they stand on, and what is wrong with the others."""
    values: dict[str, list[float]] = {k: [] for k in columns}
    kept: list[int] = []
    problems: list[str] = []
    decimal: tuple[str, int] | None = None  # sign of the first decimal seen, and its line
    width = len(titles)
    for at, line in lines:
        row = line.split(delimiter)
        if len(row) != width:
            hint = "; is it a decimal comma? then part the columns by ';'" if len(row) > width else ""
            if at == lines[-1][0] and not whole:
                hint = "; the file ends within this line, is it cut off?"
            problems.append(f"line {at}: {len(row)} columns, the header has {width}{hint}")
            continue
        if recognised(row) >= 2:
            problems.append(f"line {at}: a second header; two files are glued together, read each by itself")
            break
        good: dict[str, float] = {}
        for key, channel in columns.items():
            cell = row[channel.index].strip().strip('"')
            if key in _OPTIONAL and not cell:
                good[key] = math.nan
                continue
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
            number = float(cell.replace(",", ".")) * channel.factor + channel.offset
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
