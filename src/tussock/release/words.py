"""How cells, titles and figures read in words, for every face that writes; light, as the command line uses it."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable

from tussock.studies.display import KINDS, MINUS, figures, number
from tussock.studies.result import Cell, Column, Table

_NUMBER = re.compile(r"[+\-−]?\d[\d.,]*%?|none")


def is_numeric(column: Column, cells: Iterable[str] = ()) -> bool:
    """Return whether a column reads as numbers, which align at the right: by its kind, or because every cell is one.

    >>> is_numeric(Column(key="mass", title="mass", kind="mass"))
    True
    >>> is_numeric(Column(key="stock", title="stock"), ["3.2", "", "−0.1"])
    True
    """
    if column.kind != "text":
        return True
    filled = [cell for cell in cells if cell]
    return bool(filled) and all(_NUMBER.fullmatch(cell) for cell in filled)


def filled_columns(table: Table) -> tuple[int, ...]:
    """Return which columns hold anything: a page leaves out one that is empty in every row.

    >>> columns = (Column(key="limiter", title="Limiter"), Column(key="remedy", title="What to do"))
    >>> filled_columns(Table(key="t", title="t", columns=columns, rows=(("brake hose", ""),)))
    (0,)
    """
    return tuple(
        i for i in range(len(table.columns)) if not table.rows or any(row[i] not in (None, "") for row in table.rows)
    )


def column_title(column: Column, *, bracket: bool = False) -> str:
    """Return a column's title with its unit.

    >>> column_title(Column(key="rate", title="rate", kind="rate"))
    'rate, N/mm'
    >>> column_title(Column(key="rate", title="rate", kind="rate"), bracket=True)
    'rate [N/mm]'
    """
    unit = KINDS[column.kind].unit
    title = tidy(column.title)
    if not unit:
        return title
    return f"{title} [{unit}]" if bracket else f"{title}, {unit}"


def cell_text(value: Cell, column: Column, *, plain: bool = False) -> str:
    """Write a cell in the unit of its column, without the unit.

    Parameters
    ----------
    value : float, int, str, bool or None
        SI number, word, or nothing.
    column : Column
        Kind, digits and sign of its numbers.
    plain : bool
        For machines: a plain minus sign, two digits more, and nothing for a missing number.

    Examples
    --------
    >>> cell_text(-0.081, Column(key="at", title="at", kind="length"))
    '−81'
    >>> cell_text(-0.081, Column(key="at", title="at", kind="length"), plain=True)
    '-81.00'
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return value if plain else tidy(value)
    if column.kind == "text":
        return str(value).replace("-", "-" if plain else MINUS)
    if not plain:
        return number(value, column.kind, digits=column.digits, sign=column.sign)
    if not math.isfinite(value):
        return ""
    digits = KINDS[column.kind].digits if column.digits is None else column.digits
    # a file is computed with, so it keeps two digits more than a page shows; a count stays whole
    digits = digits if isinstance(value, int) else digits + 2
    return number(value, column.kind, digits=digits, sign=column.sign).replace(MINUS, "-")


def key_columns(table: Table) -> int:
    """Return how many leading columns name a row: a table cut into parts repeats them in each.

    They are the first columns of words that together tell all rows apart, at most three; else the first alone.

    >>> columns = (Column(key="fitout", title="Fit-out"), Column(key="axle", title="Axle"))
    >>> key_columns(Table(key="t", title="t", columns=columns, rows=(("bare", "front"), ("bare", "rear"))))
    2
    """
    for count in range(1, min(3, len(table.columns)) + 1):
        if table.columns[count - 1].kind != "text" and count > 1:
            break
        if len({row[:count] for row in table.rows}) == len(table.rows):
            return count
    return 1


def tidy(text: str) -> str:
    """Set the typed plus-minus as one sign.

    >>> tidy("426 mm +- 3 mm")
    '426 mm ± 3 mm'
    """
    return text.replace("+-", "±")


def hold_units(text: str) -> str:
    """Keep every figure on one line with its unit by no-break spaces.

    >>> hold_units("down 12 mm").split(" ")
    ['down', '12\\xa0mm']
    """
    return "".join(hold(piece) if is_figure else piece for piece, is_figure in figures(text))


def hold(figure: str) -> str:
    """Keep one figure on one line."""
    return figure.replace(" ", "\N{NO-BREAK SPACE}")
