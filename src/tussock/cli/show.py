"""A Result on the terminal: question, answer, what to look at, numbers, inputs."""

from __future__ import annotations

import sys
import textwrap
from dataclasses import dataclass

from rich.box import SIMPLE_HEAD
from rich.cells import cell_len
from rich.console import Console
from rich.table import Table as RichTable
from rich.text import Text

from tussock.release.look import STATE_SHAPES
from tussock.release.words import cell_text, column_title, filled_columns, hold_units, is_numeric, key_columns, tidy
from tussock.studies.display import figures
from tussock.studies.result import Notice, Result, State, Table

_STYLES: dict[State, str] = {"answered": "bold green", "look": "bold red", "open": "dim"}
_GAP = 2  # between columns


def console(*, stderr: bool = False) -> Console:
    """Return a console that is plain where nobody looks (a pipe, NO_COLOR) and never narrower than 40."""
    made = Console(stderr=stderr, highlight=False, markup=False, emoji=False, soft_wrap=False)
    if made.width < 40:
        made.width = 40
    return made


def show_error(text: str) -> None:
    """Write an error on stderr as it is: file, line and field must stay whole for whoever searches for them."""
    sys.stderr.write(f"▲ {text}\n")


def answer_text(result: Result, width: int) -> Text:
    """Return the answer with its figures bold, wrapped so that no figure parts from its unit."""
    text = Text()
    for i, line in enumerate(_held(result.answer, width)):
        text.append("\n" if i else "")
        for piece, is_figure in figures(line):
            text.append(piece, style="bold" if is_figure else "")
    return text


def state_text(result: Result) -> Text:
    """Return the state as shape and word."""
    word = result.state if result.passes else "look: a check fails"
    return Text(f"{STATE_SHAPES[result.state]} {word}", style=_STYLES[result.state])


def show_result(out: Console, result: Result) -> None:
    """Write a whole result."""
    out.print(Text(result.question, style="dim"))
    out.print(answer_text(result, out.width))
    out.print(state_text(result))
    for notice in result.notices:
        out.print()
        show_notice(out, notice)
    for table in result.tables:
        show_table(out, table)
    if result.inputs:
        out.print()
        out.print(Text("What moves it", style="bold"))
        inputs = RichTable(
            box=SIMPLE_HEAD, header_style="", show_edge=False, pad_edge=False, padding=(0, _GAP - 1, 0, 0)
        )
        inputs.add_column("Input", header_style="dim")
        inputs.add_column("as the programme writes it", header_style="dim")
        for name, value in result.inputs.items():
            inputs.add_row(Text(name), Text(tidy(value)))
        out.print(inputs)


def show_notice(out: Console, notice: Notice) -> None:
    """Write what is so after a triangle, and under it what to do."""
    for i, line in enumerate(_held(notice.text, out.width - 2)):
        out.print(Text("  " if i else "▲ ", style="bold red").append(line, style="bold"))
    for line in _held(notice.remedy, out.width - 2):
        out.print(Text(f"  {line}"))


def _held(text: str, width: int) -> list[str]:
    """Wrap words so that no figure parts from its unit."""
    lines = textwrap.wrap(hold_units(tidy(text)), width, break_on_hyphens=False)
    return [line.replace("\N{NO-BREAK SPACE}", " ") for line in lines]


def show_table(out: Console, table: Table) -> None:
    """Write a table, in several parts where it is wider than the terminal; rows that govern carry a triangle."""
    out.print()
    out.print(Text(tidy(table.title), style="bold"))
    columns = []
    for i in filled_columns(table):
        column = table.columns[i]
        cells = tuple(cell_text(row[i], column) for row in table.rows)
        columns.append(Words(column_title(column), cells, is_numeric(column, cells)))
    if columns and table.strong:
        marked = tuple(f"▲ {cell}" if i in table.strong else f"  {cell}" for i, cell in enumerate(columns[0].cells))
        columns[0] = Words(columns[0].header, marked, columns[0].numeric)
    for i, part in enumerate(split_columns(columns, out.width, keys=key_columns(table))):
        if i:
            out.print()
        out.print(_grid(part, share_width(part, out.width), table.strong))
    for line in _held(table.note, out.width):
        out.print(Text(line, style="dim"))


def _grid(part: list[Words], widths: list[int], strong: tuple[int, ...]) -> RichTable:
    """Lay out columns whose widths are settled; words are wrapped here, so that nothing is cut or folded."""
    grid = RichTable(box=SIMPLE_HEAD, header_style="", show_edge=False, pad_edge=False, padding=(0, _GAP - 1, 0, 0))
    grid.show_header = any(column.header for column in part)
    for column, width in zip(part, widths, strict=True):
        grid.add_column(
            Text(_wrapped(column.header, width), style="dim"),
            justify="right" if column.numeric else "left",
            width=width,
            no_wrap=True,
            vertical="top",
        )
    for i in range(len(part[0].cells)):
        style = "bold" if i in strong else ""
        cells = [c.cells[i] if c.numeric else _wrapped(c.cells[i], w) for c, w in zip(part, widths, strict=True)]
        grid.add_row(*(Text(cell, style=style) for cell in cells))
    return grid


def _wrapped(text: str, width: int) -> str:
    hang = "  " if text.startswith(("▲ ", "  ")) else ""
    return "\n".join(textwrap.wrap(text, width, subsequent_indent=hang, break_on_hyphens=False)) or text


@dataclass(frozen=True, slots=True)
class Words:
    """A column as it will be written: header, cells, and whether it holds numbers."""

    header: str
    cells: tuple[str, ...]
    numeric: bool

    @property
    def wanted(self) -> int:
        """Width at which nothing wraps, within reason; a number's header wraps early."""
        cells = max((cell_len(c) for c in self.cells), default=1)
        return max(self.least, min(max(cells, min(cell_len(self.header), 16)), 48))

    @property
    def least(self) -> int:
        """Narrowest width worth reading: no number and no common word breaks."""
        cells = max((cell_len(c) for c in self.cells), default=1)
        words = max((cell_len(w) for w in self.header.split()), default=1)
        if self.numeric:
            return max(cells, words, min(cell_len(self.header), 6))
        words = max([words, *(cell_len(w) for c in self.cells for w in c.split())])
        return max(min(words, 32), min(cells, 18))


def share_width(part: list[Words], width: int) -> list[int]:
    """Give each column its least width and share what is left by what each still wants.

    >>> share_width([Words("a", ("x" * 40,), False), Words("n", ("12",), True)], 30)
    [26, 2]
    """
    least = [c.least for c in part]
    room = width - _GAP * (len(part) - 1)
    if sum(least) > room:  # two columns of very long words: the widest gives way and its words break
        widest = least.index(max(least))
        least[widest] = max(least[widest] - (sum(least) - room), 8)
    spare = max(room - sum(least), 0)
    wants = [max(c.wanted - a, 0) for c, a in zip(part, least, strict=True)]
    if sum(wants) <= spare:
        return [a + w for a, w in zip(least, wants, strict=True)]
    return [a + spare * w // sum(wants) for a, w in zip(least, wants, strict=True)]


def split_columns(columns: list[Words], width: int, *, keys: int = 1) -> list[list[Words]]:
    """Cut columns into parts that fit `width` characters; each part repeats the first `keys` columns.

    >>> wide = [Words("a", ("1",), True), Words("b" * 6, ("2",), True), Words("c" * 6, ("3",), True)]
    >>> [[c.header for c in part] for part in split_columns(wide, 12)]
    [['a', 'bbbbbb'], ['a', 'cccccc']]
    """
    parts: list[list[Words]] = []
    for column in columns:
        trial = [*parts[-1], column] if parts else [column]
        if len(trial) > keys + 1 and sum(c.least + _GAP for c in trial) - _GAP > width:
            parts.append([*columns[:keys], column])
        elif parts:
            parts[-1] = trial
        else:
            parts.append(trial)
    return parts
