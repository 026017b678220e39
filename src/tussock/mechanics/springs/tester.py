"""A spring-tester file to loading and unloading strokes.

=============  ==================================================  =========================
column         names                                               units
=============  ==================================================  =========================
length         length, height, l, laenge, länge, hoehe, höhe       mm, m, cm, in
deflection     deflection, travel, compression, s, weg, federweg   mm, m, cm, in
load           load, force, f, kraft, last                         N, kN, daN, kgf, lbf
run            run, cycle, test, lauf, messung                     none
=============  ==================================================  =========================

A file has a length or a deflection, and a load. The length falls and the deflection rises as the spring is pressed.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from tussock.mechanics.arrays import Floats
from tussock.mechanics.table_text import TableError, Wanted, read_table

_INCH, _POUND, _GRAVITY = 0.0254, 0.45359237, 9.80665  # exact by definition (NIST SP 811, appendix B)
_LENGTHS = {"mm": 1e-3, "m": 1.0, "cm": 1e-2, "in": _INCH}
_LOADS = {"N": 1.0, "kN": 1e3, "daN": 10.0, "kgf": _GRAVITY, "lbf": _POUND * _GRAVITY}
_COLUMNS = {
    "run": Wanted(words=("run", "cycle", "test", "lauf", "messung"), units={}, needed=False),
    "length": Wanted(words=("length", "height", "l", "laenge", "länge", "hoehe", "höhe"), units=_LENGTHS, needed=False),
    "deflection": Wanted(
        words=("deflection", "travel", "compression", "s", "weg", "federweg"), units=_LENGTHS, needed=False
    ),
    "load": Wanted(words=("load", "force", "f", "kraft", "last"), units=_LOADS),
}
_EXAMPLE = "'length [mm]; load [N]' or 'deflection [mm]; load [N]'"
_LEAST_ROWS = 8
_TURN_SHARE = 0.02  # of the whole stroke: smaller movements back are the machine's own


@dataclass(frozen=True, kw_only=True, eq=False)
class Stroke:
    """One stroke in one direction: deflection [m] and load [N] in time order, arrays (n,), and whether it loads."""

    deflection: Floats
    load: Floats
    loading: bool


@dataclass(frozen=True, kw_only=True, eq=False)
class SpringTest:
    """What a tester wrote.

    Attributes
    ----------
    name : str
        Of the file.
    strokes : tuple of Stroke
        In time order. Where the file has lengths, deflection is counted from `zero_length`.
    zero_length : float or None
        Length at zero deflection [m]; None where the file has deflections only.
    """

    name: str
    strokes: tuple[Stroke, ...]
    zero_length: float | None


def read_spring_test(text: str, name: str) -> SpringTest:
    """Read a tester's file.

    Parameters
    ----------
    text : str
        The file's content; see `table_text.read_table` and the table above.
    name : str
        What the file is called, for messages.

    Raises
    ------
    TableError
        With everything that is wrong.
    """
    table = read_table(text, name, _COLUMNS, example=_EXAMPLE)
    columns = table.columns
    if ("length" in columns) == ("deflection" in columns):
        both = "both a length and a deflection; keep one" if "length" in columns else "neither length nor deflection"
        raise TableError(name, [f"the file has {both}; expected {_EXAMPLE}"])
    load = columns["load"]
    if "length" in columns:
        length = columns["length"]
        if np.any(length <= 0.0):
            at = int(table.line[int(np.argmax(length <= 0.0))])
            raise TableError(
                name, [f"line {at}: the length is {1e3 * float(np.min(length)):g} mm; it must be positive"]
            )
        zero_length: float | None = float(np.max(length))
        deflection = float(np.max(length)) - length
    else:
        zero_length, deflection = None, columns["deflection"]
    if load.size < _LEAST_ROWS:
        raise TableError(name, [f"the file has {load.size} rows; at least {_LEAST_ROWS} are needed"])
    span = float(np.ptp(deflection))
    if span <= 0.0 or float(np.ptp(load)) <= 0.0:
        raise TableError(name, ["nothing moves in the file: length and load are the same in every row"])
    if np.corrcoef(deflection, load)[0, 1] < 0.5:
        raise TableError(
            name,
            [
                "the load does not rise as the spring is pressed; a length must fall under load and a deflection must "
                "rise, and loads are positive"
            ],
        )
    runs = columns.get("run")
    strokes: list[Stroke] = []
    for which in [None] if runs is None else np.unique(runs):
        keep = slice(None) if which is None else runs == which
        x, f = deflection[keep], load[keep]
        strokes += [
            Stroke(deflection=x[a:b], load=f[a:b], loading=bool(x[b - 1] > x[a]))
            for a, b in _pieces(x, _TURN_SHARE * span)
            if abs(float(x[b - 1] - x[a])) > 0.3 * span
        ]
    if not any(s.loading for s in strokes):
        raise TableError(name, ["no loading stroke in the file; press the spring from free and record it"])
    return SpringTest(name=name, strokes=tuple(strokes), zero_length=zero_length)


def _pieces(x: Floats, least: float) -> list[tuple[int, int]]:
    """Return begin and end of each piece in one direction; turns smaller than `least` are passed over."""
    turns = [0]
    way, extreme = 0, 0
    for i in range(1, x.size):
        if way == 0:
            if abs(x[i] - x[0]) > least:
                way, extreme = (1 if x[i] > x[0] else -1), i
        elif (x[i] - x[extreme]) * way > 0.0:
            extreme = i
        elif (x[extreme] - x[i]) * way > least:
            turns.append(extreme)
            way, extreme = -way, i
    turns.append(int(x.size - 1))
    # the sample at a turn belongs to the stroke that ends there: its friction still points the old way
    return [(a + (a > 0), b + 1) for a, b in itertools.pairwise(turns) if b > a + 1]
