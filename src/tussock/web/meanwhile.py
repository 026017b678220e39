"""Whoever reads a page is told when somebody else saves: what stands there is then of an older version."""

from __future__ import annotations

import asyncio
from html import escape
from typing import TYPE_CHECKING, Protocol

from nicegui import ui

from tussock.errors import TussockError

if TYPE_CHECKING:
    from tussock.store import Version
    from tussock.web.desk import Desk

LOOK = 2.0  # between two looks at the newest version [s]


class Reading(Protocol):
    """A page on one version of a programme."""

    desk: Desk
    version: Version


def tell_of_saves(page: Reading, address: str) -> None:
    """Write the place of the notice and look for newer versions while the page is open; `address` shows the newest."""
    box = ui.html("", sanitize=False).props('role="status"')

    async def look() -> None:
        try:
            newest = await asyncio.to_thread(page.desk.store.programmes.version, page.version.programme_id)
        except TussockError:  # the store is busy, or the programme is gone: the next thing asked says so
            return
        words = ""
        if newest.number > page.version.number:
            words = (
                '<p class="notice"><span class="shape" aria-hidden="true">▲</span>'
                f"<span>{escape(newest.author)} saved version {newest.number}; this page shows version "
                f'{page.version.number}. <a href="{escape(address)}">Show the newest</a></span></p>'
            )
        if box.content != words:
            box.set_content(words)

    ui.timer(LOOK, look, immediate=False)
