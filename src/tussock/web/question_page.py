"""The page of one question: heading, answer, picture, what moves it, numbers. Every study is shown by this one page."""

from __future__ import annotations

import asyncio
from html import escape
from typing import TYPE_CHECKING

from nicegui import ui

from tussock.web.desk import Choice, Desk
from tussock.web.hands import HANDS
from tussock.web.meanwhile import tell_of_saves
from tussock.web.panel import Panel
from tussock.web.places import PLACES, Place
from tussock.web.shell import Surround, frame, head, page_address

if TYPE_CHECKING:
    from tussock.store import Version
    from tussock.web.jobs import Jobs


class QuestionPage:
    """One question on one version, with the answers of other studies below where its place names some."""

    def __init__(self, desk: Desk, jobs: Jobs, place: Place, version: Version, choice: Choice, *, author: str) -> None:
        self.desk = desk
        self.place = place
        self.version = version
        self.choice = choice
        self.author = author
        self.note = ""
        self.conflicts: ui.element
        self._around: Surround
        below = (PLACES[name] for name in place.also)
        self._panels = (
            Panel(self, jobs, place, main=True),
            *(Panel(self, jobs, other, main=False) for other in below),
        )

    async def build(self, theme: str | None) -> None:
        """Write the page; what is not known yet is computed once the page stands."""
        head(self.place.title, theme)
        job = await asyncio.to_thread(self.desk.job, self.version)
        with frame(self.version, job.programme, self.place.name, self.choice) as self._around:
            ui.html(escape(self.place.question), sanitize=False, tag="h1").classes("question")
            tell_of_saves(self, page_address(self.version.programme_id, self.place.name, self.choice))
            main, *below = self._panels
            await main.build()
            for panel in below:
                with ui.element("section").classes("below").props(f'id="{panel.place.name}"'):
                    ui.html(escape(panel.place.question), sanitize=False, tag="h2").classes("question")
                    await panel.build()
        await self.show_rail()
        wanted = [panel for panel in self._panels if await panel.open()]
        handled = [panel for panel in self._panels if panel.place.name in HANDS]
        if wanted or handled:  # the page is sent before what takes time
            await ui.context.client.connected()
        for panel in wanted:
            await panel.compute()
        if wanted:
            await self.show_rail()
        for panel in handled:
            await panel.show_hand()

    async def edited(self, version: Version) -> None:
        """Follow a new version that was saved from this page."""
        self.version = version
        self._around.follow(version)
        for panel in self._panels:
            await panel.edited()
        await self.show_rail()

    async def show_rail(self) -> None:
        """Write the rail again: states may have changed."""
        job = await asyncio.to_thread(self.desk.job, self.version)
        standings = await asyncio.to_thread(self.desk.standings, self.version, self.choice)
        self._around.show(job.programme, standings)
