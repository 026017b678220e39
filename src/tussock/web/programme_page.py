"""The programme itself: every field in its place, found by drilling down or by words, edited as on any page."""

from __future__ import annotations

import asyncio
from collections.abc import Mapping
from html import escape
from typing import TYPE_CHECKING, Any

from nicegui import ui
from nicegui.events import GenericEventArguments

from tussock.record.view import View
from tussock.web.desk import Choice, Desk
from tussock.web.fields import Field, all_fields, keys_of, title_of
from tussock.web.files_box import files_box
from tussock.web.moves import note_box, show_fields
from tussock.web.shell import Surround, frame, head, page_address

if TYPE_CHECKING:
    from tussock.record.view import Path
    from tussock.store import Version

MOST = 60  # fields shown at once; more are found by words


class ProgrammePage:
    """Every field of a version, below the place `at`."""

    def __init__(self, desk: Desk, version: Version, choice: Choice, *, at: str, author: str) -> None:
        self.desk = desk
        self.version = version
        self.choice = choice
        self.author = author
        self.note = ""
        self.conflicts: ui.element
        self._at: Path = keys_of(at) if at else ()
        self._around: Surround
        self._found: ui.element

    async def build(self, theme: str | None) -> None:
        """Write the page."""
        head("Programme", theme)
        job = await asyncio.to_thread(self.desk.job, self.version)
        tree = job.loaded.tree.data
        fields = all_fields(tree)
        with frame(self.version, job.programme, "programme", self.choice) as self._around:
            ui.html("What does the programme say?", sanitize=False, tag="h1").classes("question")
            words = f"<strong>{len(fields)}</strong> fields" + (
                "; every one can be edited in its place." if self.author else "."
            )
            ui.html(words, sanitize=False, tag="p").classes("answer")
            self.conflicts = ui.element("div")
            with ui.element("div").classes("field"):
                ui.html("Find fields by words", sanitize=False, tag="label").props('for="search"')
                search = ui.element("input").classes("search").mark("search").props('id="search" type="search"')
                search.on(
                    "input", self._search, js_handler="(e) => emit(e.target.value)", throttle=0.3, leading_events=False
                )
            if self.author:
                note_box(self)
            self._found = ui.element("div").classes("moves")
            self._level(tree)
            files_box(self)
        self._around.show(job.programme, await asyncio.to_thread(self.desk.standings, self.version, self.choice))

    async def edited(self, version: Version) -> None:
        """Follow a new version."""
        self.version = version
        self._around.follow(version)

    def _level(self, tree: Any) -> None:
        """Write what stands at this place: groups as links, fields as boxes."""
        node = View(tree).get(*self._at)
        items = (
            list(node.items()) if isinstance(node, Mapping) else list(enumerate(node)) if isinstance(node, list) else []
        )
        self._found.clear()
        with self._found:
            ui.html(self._crumbs(), sanitize=False)
            groups = [(k, v) for k, v in items if isinstance(v, Mapping | list) and v]
            rows = "".join(self._link((*self._at, k), v) for k, v in groups)
            if rows:
                ui.html(f'<ul class="places">{rows}</ul>', sanitize=False)
            own = [f for f in all_fields(node, self._at) if f.depth == len(self._at) + 1]
            self._boxes(own)
            if not items:
                ui.html("There is nothing at this place.", sanitize=False, tag="p")

    def _boxes(self, fields: list[Field]) -> None:
        with ui.element("div").classes("boxes"):
            show_fields(self, fields[:MOST])
        if len(fields) > MOST:
            more = f"{len(fields) - MOST} more; say more words to find them."
            ui.html(more, sanitize=False, tag="p").classes("note")

    async def _search(self, event: GenericEventArguments) -> None:
        wanted = str(event.args).lower().split()
        loaded = await asyncio.to_thread(self.desk.store.programmes.programme, self.version)
        tree = loaded.tree.data
        if not wanted:
            self._level(tree)
            return
        found = [f for f in all_fields(tree) if all(w in f"{f.path} {f.label} {f.text}".lower() for w in wanted)]
        self._found.clear()
        with self._found:
            ui.html(f"{len(found)} fields found", sanitize=False, tag="p").props('role="status"')
            self._boxes(found)

    def _crumbs(self) -> str:
        parts = [f'<a href="{escape(self._address(()))}">Programme</a>']
        for i in range(len(self._at)):
            path = self._at[: i + 1]
            parts.append(f'<a href="{escape(self._address(path))}">{escape(title_of(path[-1:]))}</a>')
        return f'<p class="crumbs">{" / ".join(parts)}</p>'

    def _link(self, path: Path, value: Any) -> str:
        count = len(all_fields(value))
        name = value.get("name") or value.get("title") if isinstance(value, Mapping) else None
        title = title_of(path[-1:]) + (f", {name}" if isinstance(name, str) else "")
        return f'<li><a href="{escape(self._address(path))}">{escape(title)}</a> <span>{count} fields</span></li>'

    def _address(self, path: Path) -> str:
        return page_address(self.version.programme_id, "programme", self.choice, at=".".join(map(str, path)))
