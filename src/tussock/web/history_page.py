"""The history of a programme: every version, what it changed in words, and the way back to any of them."""

from __future__ import annotations

import asyncio
import itertools
from html import escape
from typing import TYPE_CHECKING

from nicegui import ui

from tussock.errors import TussockError
from tussock.record.differences import differences
from tussock.web.desk import Choice, Desk
from tussock.web.shell import button, frame, head, page_address

if TYPE_CHECKING:
    from tussock.store import Version

_SHOWN = 12  # differences of a version told at once
_VERSIONS = 40


class HistoryPage:
    """Versions of a programme, newest first."""

    def __init__(self, desk: Desk, version: Version, choice: Choice, *, author: str) -> None:
        self.desk = desk
        self.version = version
        self.choice = choice
        self.author = author

    async def build(self, theme: str | None) -> None:
        """Write the page."""
        head("History", theme)
        programmes = self.desk.store.programmes
        job = await asyncio.to_thread(self.desk.job, self.version)
        versions = await asyncio.to_thread(programmes.versions, self.version.programme_id)
        shown = versions[:_VERSIONS]
        changes = await asyncio.to_thread(self._changes, versions[: _VERSIONS + 1])
        with frame(self.version, job.programme, "history", self.choice) as around:
            ui.html("What was changed, by whom and why?", sanitize=False, tag="h1").classes("question")
            count = len(versions)
            words = f"<strong>{count}</strong> version{'s' if count > 1 else ''}; nothing was overwritten."
            ui.html(words, sanitize=False, tag="p").classes("answer")
            for version in shown:
                self._row(version, changes.get(version.number, ()))
            if count > len(shown):
                ui.html(f"{count - len(shown)} earlier versions are kept.", sanitize=False, tag="p").classes("note")
        around.show(job.programme, await asyncio.to_thread(self.desk.standings, self.version, self.choice))

    def _changes(self, versions: tuple[Version, ...]) -> dict[int, tuple[str, ...]]:
        """Return what each version changed, in words, by its number."""
        texts = {v.number: self.desk.store.programmes.text(v) for v in versions}
        told: dict[int, tuple[str, ...]] = {}
        for new, old in itertools.pairwise(versions):
            told[new.number] = tuple(str(d) for d in differences(texts[old.number], texts[new.number]))
        return told

    def _row(self, version: Version, changes: tuple[str, ...]) -> None:
        saved = version.created.astimezone()
        rows = "".join(f"<li>{escape(c)}</li>" for c in changes[:_SHOWN])
        if len(changes) > _SHOWN:
            rows += f"<li>and {len(changes) - _SHOWN} more</li>"
        with ui.element("section").classes("change"):
            ui.html(
                f"<h2>Version {version.number}, {saved:%d %b %Y %H:%M}, {escape(version.author)}</h2>"
                f"<p>{escape(version.note or 'no note')}</p>" + (f"<ul>{rows}</ul>" if rows else ""),
                sanitize=False,
            )
            with ui.element("div").classes("tools"):
                if self.author and version.number != self.version.number:
                    back = button("Back to this version").mark(f"back-{version.number}")
                    back.props(f'aria-label="Back to version {version.number}"')
                    back.on("click", lambda version=version: self._back(version))
                address = f"/export/{version.programme_id}/{version.number}"
                links = "".join(
                    f'<a class="quiet plain" href="{address}.{form}" download>{words}</a>'
                    for form, words in (("yaml", "YAML"), ("zip", "ZIP with its files"))
                )
                ui.html(links, sanitize=False)

    async def _back(self, version: Version) -> None:
        """Save an earlier version again as the newest."""
        programmes = self.desk.store.programmes
        try:
            await asyncio.to_thread(
                programmes.restore, version.programme_id, version.number, base=self.version.number, author=self.author
            )
        except TussockError as error:
            ui.notify(str(error), multi_line=True)
            return
        ui.navigate.to(page_address(version.programme_id, "history", self.choice))
