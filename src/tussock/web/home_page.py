"""The first page: which programmes there are, and how to begin where there is none."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from html import escape
from typing import TYPE_CHECKING

from nicegui import ui

from tussock.web.api.uploads import WHOLE
from tussock.web.demos import DEMOS, load_demo
from tussock.web.desk import Choice
from tussock.web.files_box import drop_box
from tussock.web.shell import CAUTION, button, page_address, top

if TYPE_CHECKING:
    from tussock.store import Entry, Store

_NONE = "The store holds no programme yet. Take yours in below, or look around with a vehicle that we invented."


def home(store: Store, entries: Sequence[Entry], author: str, *, signed_in: str = "") -> None:
    """Write every programme of the store as a card, and for who may save the way in for another."""
    top(signed_in)
    with ui.element("main").classes("page").props('id="main"'):
        ui.html("Which programme?", sanitize=False, tag="h1").classes("question")
        words = f"The store holds <strong>{len(entries)}</strong> programme{'' if len(entries) == 1 else 's'}."
        ui.html(words if entries else _NONE, sanitize=False, tag="p").classes("answer")
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
        if author and not entries:
            _begin(store)
        if author:
            ui.html("Another programme" if entries else "Your programme", sanitize=False, tag="h2").classes(
                "files-title"
            )
            label = "Take in a programme: choose its YAML, or a ZIP with its files, or drop it here"
            opens = page_address(0, "baseline", Choice()).replace("/0/", "/{programme}/")
            drop_box(label, "take-in", to="/api/programmes/import", kinds=WHOLE, opens=opens)
        ui.html(CAUTION, sanitize=False, tag="p").classes("caution")


def _begin(store: Store) -> None:
    """Offer the invented vehicles to whoever has no programme yet."""

    async def take(name: str) -> None:
        box.set_visibility(False)  # two clicks are one wish
        version = await asyncio.to_thread(load_demo, store, name)
        ui.navigate.to(page_address(version.programme_id, "baseline", Choice()))

    with ui.element("div").classes("run") as box:
        for name in DEMOS:
            begin = button(f"Begin with {name.capitalize()}", classes="quiet").mark(f"begin-{name}")
            begin.on("click", lambda name=name: take(name))
