"""Two people saved at once: what the other did, what you did, and how to go on. Nothing is lost either way."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable, Sequence
from html import escape
from typing import TYPE_CHECKING, Literal

from nicegui import ui

from tussock.errors import TussockError
from tussock.record.differences import Difference, differences
from tussock.record.merge import Clash, merge
from tussock.web.desk import Choice
from tussock.web.shell import button, page_address

if TYPE_CHECKING:
    from tussock.store import Conflict, Version
    from tussock.web.desk import Desk

_SHOWN = 20  # of what each did

Settled = Callable[["Version"], Awaitable[None]]


class Settle:
    """The panel of a conflict, written into `box`; `settled` is told the version that came of it."""

    def __init__(
        self, box: ui.element, desk: Desk, conflict: Conflict, mine: str, *, author: str, settled: Settled
    ) -> None:
        self._box = box
        self._programmes = desk.store.programmes
        self._base, self._newest = conflict.base, conflict.newest
        self._mine = mine
        self._author = author
        self._settled = settled
        self._says = str(conflict)

    async def show(self) -> None:
        """Write what both did and the ways on."""
        clashes, renamed, did, own = await asyncio.to_thread(self._compared)
        both = _rows(clashes)
        self._box.clear()
        with self._box, ui.element("section").classes("settle").props('role="alert"'):
            ui.html(
                f"<p><strong>Two of you were editing.</strong> {escape(self._says)}.</p>"
                f"<p>{escape(self._newest.author)} changed:</p><ul>{_rows(did)}</ul>"
                f"<p>You changed:</p><ul>{_rows(own)}</ul>"
                + (f"<p>Both of you changed:</p><ul>{both}</ul>" if both else "")
                + (f"<p>Merged, {escape(renamed)}.</p>" if renamed else ""),
                sanitize=False,
            )
            with ui.element("div").classes("run"):
                words = "Merge, mine where both changed" if clashes else "Merge both"
                button(words, classes="main-button").mark("merge").on("click", lambda: self._merge("mine"))
                if clashes:
                    button("Merge, theirs where both changed").on("click", lambda: self._merge("theirs"))
                button("Keep both: mine as a programme of its own").mark("apart").on("click", self._apart)
                button("Leave mine out").on("click", self._leave)

    def _compared(self) -> tuple[tuple[Clash, ...], str, tuple[Difference, ...], tuple[Difference, ...]]:
        """Return what both changed, which of my entries get another name, what they did, and what I did."""
        base, theirs = self._texts()
        clashes: tuple[Clash, ...] = ()
        renamed = ""
        try:
            merged = merge(base, self._mine, theirs)
            clashes = merged.clashes
            renamed = ", ".join(f"your entry {old} becomes {new}" for old, new in merged.renamed.items())
        except TussockError as error:
            self._says = f"{self._says} The two cannot be merged here: {error}"
        return clashes, renamed, differences(base, theirs), differences(base, self._mine)

    def _texts(self) -> tuple[str, str]:
        return self._programmes.text(self._base), self._programmes.text(self._newest)

    async def _merge(self, side: Literal["mine", "theirs"]) -> None:
        try:
            version = await asyncio.to_thread(self._merged, side)
        except TussockError as error:
            ui.notify(f"Not merged: {error}", multi_line=True)
            return
        await self._end(version)

    def _merged(self, side: Literal["mine", "theirs"]) -> Version:
        base, theirs = self._texts()
        clashes = merge(base, self._mine, theirs).clashes
        merged = merge(base, self._mine, theirs, choose={c.field: side for c in clashes})
        assert merged.text is not None  # every clash is decided
        note = f"merged with version {self._newest.number}"
        return self._programmes.save(
            self._newest.programme_id, merged.text, base=self._newest.number, author=self._author, note=note
        )

    async def _apart(self) -> None:
        note = f"kept beside version {self._newest.number} of programme {self._newest.programme_id}"
        try:
            version = await asyncio.to_thread(
                self._programmes.create, self._mine, author=self._author, note=note, files=self._base.files
            )
        except TussockError as error:
            ui.notify(f"Not kept: {error}", multi_line=True)
            return
        ui.navigate.to(page_address(version.programme_id, "history", Choice()))

    async def _leave(self) -> None:
        await self._end(self._newest)

    async def _end(self, version: Version) -> None:
        self._box.clear()
        await self._settled(version)


def _rows(changes: Sequence[object]) -> str:
    return "".join(f"<li>{escape(str(change))}</li>" for change in changes[:_SHOWN])
