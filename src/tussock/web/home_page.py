"""The first page: which programmes there are."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING

from nicegui import ui

from tussock.web.desk import Choice
from tussock.web.files_box import drop_box, take_programme
from tussock.web.shell import CAUTION, page_address

if TYPE_CHECKING:
    from tussock.store import Entry, Store


def home(store: Store, entries: Sequence[Entry], author: str) -> None:
    """Write every programme of the store as a card."""
    with ui.element("div").classes("page").props('id="main"'):
        ui.html("Which programme?", sanitize=False, tag="h1").classes("question")
        words = f"The store holds <strong>{len(entries)}</strong> programme{'' if len(entries) == 1 else 's'}."
        ui.html(words, sanitize=False, tag="p").classes("answer")
        with ui.element("div").classes("choose"):
            for entry in entries:
                saved = entry.newest.created.astimezone()
                address = page_address(entry.id, "baseline", Choice())
                ui.html(
                    f'<a href="{escape(address)}"><span class="card" style="display:block"><b>{escape(entry.name)}</b>'
                    f"<span>{escape(entry.title)}</span><br><small>version {entry.newest.number}, saved "
                    f"{saved:%d %b %Y %H:%M} by {escape(entry.newest.author)}</small></span></a>",
                    sanitize=False,
                )
        ui.html("Another programme", sanitize=False, tag="h2").classes("files-title")

        async def take(path: Path, name: str, media_type: str) -> None:
            version = await asyncio.to_thread(take_programme, store, path, name, author)
            ui.navigate.to(page_address(version.programme_id, "baseline", Choice()))

        drop_box("Take in a programme: drop its YAML, or a ZIP with its files", take, kinds=".yaml,.yml,.zip")
        ui.html(CAUTION, sanitize=False, tag="p").classes("caution")
