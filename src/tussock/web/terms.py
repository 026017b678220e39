"""The further inputs of a study, under its question: what is chosen stands in the address, so that a link shows it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from html import escape
from typing import TYPE_CHECKING

from nicegui import ui

from tussock.web.desk import Choice
from tussock.web.further import LONGEST, Further, Option

if TYPE_CHECKING:
    from tussock.web.places import Place

FOLLOW = (
    "(e) => { const to = new URL(window.location); to.searchParams.set(e.target.name, e.target.value); "
    "window.location.assign(to); }"
)


def show_terms(place: Place, choice: Choice, offered: Mapping[str, Sequence[Option]]) -> None:
    """Write a box for each further input."""
    said = dict(choice.further)
    boxes = "".join(_box(row, said.get(row.name), offered.get(row.name, ())) for row in place.further)
    ui.html(boxes, sanitize=False).classes("terms").on("change", js_handler=FOLLOW)


def _box(row: Further, said: str | None, options: Sequence[Option]) -> str:
    name, text = f"with-{row.name}", row.default if said is None else said
    about = f'id="{name}" name="{row.name}"'
    hint = f'<p class="says" id="{name}-says">{escape(row.hint)}</p>' if row.hint else ""
    about += f' aria-describedby="{name}-says"' if hint else ""
    if row.options is not None:
        first = "" if row.first or any(o.key == text for o in options) else '<option value="">choose</option>'
        rows = "".join(
            f'<option value="{escape(o.key)}"{" selected" if o.key == text else ""}>{escape(o.words or o.key)}</option>'
            for o in options
        )
        box = f"<select {about}>{first}{rows}</select>"
    elif row.lines:
        box = f'<textarea {about} rows="3" maxlength="{LONGEST}" spellcheck="false">{escape(text)}</textarea>'
    else:
        box = f'<input {about} autocomplete="off" maxlength="{LONGEST}" value="{escape(text)}">'
    return f'<div class="field"><label for="{name}">{escape(row.title)}</label>{box}{hint}</div>'
