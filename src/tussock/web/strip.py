"""The sections of the road loop as a strip: each a link that looks at it, with what limits it."""

from __future__ import annotations

from dataclasses import replace
from html import escape
from typing import TYPE_CHECKING

from nicegui import ui

from tussock.release.look import STATE_SHAPES
from tussock.release.words import cell_text
from tussock.studies.display import KINDS
from tussock.studies.result import Result, Table
from tussock.web.desk import Choice
from tussock.web.shell import page_address

if TYPE_CHECKING:
    from tussock.store import Version

KEY = "strip"
"""Key of the table that a strip shows: a row a section, its name first."""

_IN_SIGHT = (
    "const now = document.querySelector('.strip [aria-current]'); "
    "if (now) now.closest('.strip').scrollLeft = now.closest('li').offsetLeft - now.closest('.strip').offsetLeft - 40"
)


def show_strip(result: Result, version: Version, page: str, choice: Choice) -> None:
    """Write the strip of a result that has one; `page` is where its links lead."""
    table = next((t for t in result.tables if t.key == KEY), None)
    if table is None:
        return
    here = dict(choice.further).get("section", str(table.rows[0][0]))
    items = "".join(_item(table, i, version, page, choice, here) for i in range(len(table.rows)))
    strip = ui.html(f'<ol class="strip">{items}</ol>', sanitize=False, tag="nav")
    strip.props(f'aria-label="{escape(table.title)}"')
    strip.client.run_javascript(_IN_SIGHT)


def _item(table: Table, i: int, version: Version, page: str, choice: Choice, here: str) -> str:
    row = {c.key: (cell_text(row, c), c) for row, c in zip(table.rows[i], table.columns, strict=True)}

    def said(key: str) -> str:
        text, column = row[key]
        return escape(f"{text} {KINDS[column.kind].unit}".strip())

    name = str(table.rows[i][0])
    further = dict(choice.further) | {"section": name}
    address = page_address(version.programme_id, page, replace(choice, further=tuple(sorted(further.items()))))
    current = ' aria-current="true"' if name == here else ""
    beyond = i in table.strong
    shape = f'<span class="shape look" aria-hidden="true">{STATE_SHAPES["look"]}</span> ' if beyond else ""
    return (
        f'<li><a href="{escape(address)}#section"{current}><b>{escape(name)}</b>'
        f"<span>{said('surface')}</span><span>{said('driven')}, {said('speed')}</span>"
        f"<span>{shape}{said('limit')}</span><span>seat <b>{said('seat')}</b></span></a></li>"
    )
