"""The first page: which programmes there are."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from typing import TYPE_CHECKING

from nicegui import ui

from tussock.web.api.uploads import WHOLE
from tussock.web.desk import Choice
from tussock.web.files_box import drop_box
from tussock.web.shell import CAUTION, page_address, top

if TYPE_CHECKING:
    from tussock.store import Entry


def home(entries: Sequence[Entry], author: str, *, signed_in: str = "") -> None:
    """Write every programme of the store as a card, and for who may save the way in for another."""
    top(signed_in)
    with ui.element("main").classes("page").props('id="main"'):
        ui.html("Which programme?", sanitize=False, tag="h1").classes("question")
        words = f"The store holds <strong>{len(entries)}</strong> programme{'' if len(entries) == 1 else 's'}."
        ui.html(words, sanitize=False, tag="p").classes("answer")
        with ui.element("div").classes("choose"):
            for entry in entries:
                saved = entry.newest.created.astimezone()
                address = page_address(entry.id, "baseline", Choice())
                ui.html(
                    f'<a href="{escape(address)}"><span class="card" style="display:block"><b>{escape(entry.name)}</b>'
                    f"<span>{escape(entry.title)}</span><small>version {entry.newest.number}, saved "
                    f"{saved:%d %b %Y %H:%M} by {escape(entry.newest.author)}</small></span></a>",
                    sanitize=False,
                )
        if author:
            ui.html("Another programme", sanitize=False, tag="h2").classes("files-title")
            label = "Take in a programme: choose its YAML, or a ZIP with its files, or drop it here"
            opens = page_address(0, "baseline", Choice()).replace("/0/", "/{programme}/")
            drop_box(label, "take-in", to="/api/programmes/import", kinds=WHOLE, opens=opens)
        ui.html(CAUTION, sanitize=False, tag="p").classes("caution")
