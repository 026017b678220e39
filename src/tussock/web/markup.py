"""Parts of a Result as HTML: answer, tables, notices. Every word that comes from a programme is escaped here."""

from __future__ import annotations

from html import escape

from tussock.release.look import STATE_SHAPES
from tussock.release.words import cell_text, column_title, filled_columns, hold, hold_units, is_numeric, tidy
from tussock.studies.display import figures
from tussock.studies.result import Notice, State, Table

_LONG = 36  # characters of a cell that keeps some width on a phone


def answer_html(text: str) -> str:
    """Return a sentence with its figures bold, each on one line with its unit.

    >>> answer_html("It may rise 43 mm.").replace(chr(160), "~")
    'It may rise <strong>43~mm</strong>.'
    """
    return "".join(f"<strong>{escape(hold(p))}</strong>" if bold else escape(p) for p, bold in figures(tidy(text)))


def table_html(table: Table) -> str:
    """Return a table: units in its header, numbers at the right, rows that govern bold, empty columns left out."""
    shown = filled_columns(table)
    cells = {i: [cell_text(row[i], table.columns[i]) for row in table.rows] for i in shown}
    right = {i for i in shown if is_numeric(table.columns[i], cells[i])}
    cells |= {i: [hold_units(cell) for cell in cells[i]] for i in shown if i not in right}
    head = "".join(
        f'<th scope="col"{_right(i in right)}>{escape(_capital(column_title(table.columns[i])))}</th>' for i in shown
    )
    rows = []
    for r in range(len(table.rows)):
        strong = r in table.strong
        row = "".join(f"<td{_kind(cells[i][r], i in right)}>{escape(cells[i][r])}</td>" for i in shown)
        rows.append(f'<tr class="governs">{row}</tr>' if strong else f"<tr>{row}</tr>")
    note = f'<p class="note">{escape(tidy(table.note))}</p>' if table.note else ""
    title = escape(table.title)
    return (
        f'<div class="wide" tabindex="0" role="region" aria-label="{title}"><table>'
        f"<caption>{title}</caption><thead><tr>{head}</tr></thead><tbody>{''.join(rows)}</tbody></table></div>{note}"
    )


def table_text(table: Table) -> str:
    """Return a table as words between tabs, as a spreadsheet or a letter takes it."""
    shown = filled_columns(table)
    lines = ["\t".join(column_title(table.columns[i]) for i in shown)]
    lines += ["\t".join(cell_text(row[i], table.columns[i]) for i in shown) for row in table.rows]
    return "\n".join([table.title, *lines, *([table.note] if table.note else [])]) + "\n"


def notice_html(notice: Notice) -> str:
    """Return a warning and what to do about it."""
    said = notice.text if notice.text.endswith((".", "?", ")")) else f"{notice.text}:"
    return (
        f'<p class="notice"><span class="shape" aria-hidden="true">{STATE_SHAPES["look"]}</span>'
        f"<span>{answer_html(said)} <em>{escape(tidy(notice.remedy))}</em></span></p>"
    )


def state_html(state: State, words: str) -> str:
    """Return a state as shape and words; the shape alone is hidden from screen readers."""
    return (
        f'<span class="shape {state}" aria-hidden="true">{STATE_SHAPES[state]}</span>'
        f'<span class="word">{escape(words)}</span>'
    )


def _kind(cell: str, number: bool) -> str:
    return _right(number) or (' class="long"' if len(cell) > _LONG else "")


def _right(wanted: bool) -> str:
    return ' class="number"' if wanted else ""


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
