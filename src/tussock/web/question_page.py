"""The page of one question: heading, answer, picture, what moves it, numbers. Every study is shown by this one page."""

from __future__ import annotations

import asyncio
from html import escape
from typing import TYPE_CHECKING

from nicegui import ui

from tussock.errors import TussockError
from tussock.studies.result import Result
from tussock.web.desk import Choice, Desk
from tussock.web.hands import HANDS, Hand
from tussock.web.moves import show_moves
from tussock.web.places import Place
from tussock.web.shell import Surround, button, frame, head
from tussock.web.show import show_answer, show_numbers, show_picture
from tussock.web.terms import show_terms

if TYPE_CHECKING:
    from tussock.store import Version
    from tussock.web.jobs import Jobs, JobStatus

_LOOK = 0.5  # between two looks at a job [s]


class QuestionPage:
    """One question on one version; `show` draws it again after an edit."""

    def __init__(self, desk: Desk, jobs: Jobs, place: Place, version: Version, choice: Choice, *, author: str) -> None:
        self.desk = desk
        self._jobs = jobs
        self.place = place
        self.version = version
        self.choice = choice.at(place)
        self.author = author
        self.note = ""
        self.conflicts: ui.element
        self._around: Surround
        self._body: ui.element
        self._clock: ui.element
        self._parts: tuple[ui.element, ...] = ()  # answer, pictures, numbers
        self._hand: Hand | None = None
        self._hand_place: ui.element | None = None

    async def build(self, theme: str | None) -> None:
        """Write the page; what is not known yet is computed once the page stands."""
        head(self.place.title, theme)
        job = await asyncio.to_thread(self.desk.job, self.version)
        with frame(self.version, job.programme, self.place.name, self.choice) as self._around:
            ui.html(escape(self.place.question), sanitize=False, tag="h1").classes("question")
            if self.place.further:
                offered = await asyncio.to_thread(self.desk.offered, self.version, self.place)
                show_terms(self.place, self.choice, offered)
            self.conflicts = ui.element("div")
            self._body = ui.element("div")
            self._clock = ui.element("div")
        await self._show_rail()
        try:
            kept = await asyncio.to_thread(self.desk.kept, self.version, self.place, self.choice)
        except TussockError as error:
            self._fail(str(error))
            return
        if kept is not None:
            self._draw(kept)
            if self.place.name in HANDS:  # the page is sent before what is moved by hand is made ready
                await ui.context.client.connected()
                await self._show_hand()
            return
        if self.place.long:
            running = self._jobs.running(self.version, self.place.name, self.choice)
            if running is None:
                self._offer()
            else:
                self._follow(running)
            return
        self._say("Computing ...")
        await ui.context.client.connected()
        await self.compute()

    async def compute(self) -> None:
        """Compute in a thread, then draw; what is wrong is said in words."""
        try:
            result = await asyncio.to_thread(self.desk.result, self.version, self.place, self.choice)
        except TussockError as error:
            self._fail(str(error))
            return
        self._draw(result)
        await self._show_rail()
        await self._show_hand()

    async def edited(self, version: Version) -> None:
        """Follow a new version that was saved from this page; the boxes stay, so that no typing loses its place."""
        self.version = version
        self._around.follow(version)
        if self.place.long:
            self._offer()
            await self._show_rail()
            return
        try:
            result = await asyncio.to_thread(self.desk.result, version, self.place, self.choice)
        except TussockError as error:
            self._fail(str(error))
            return
        self._draw(result, moves=False)
        await self._show_rail()
        if self._hand is None:
            await self._show_hand()
        else:
            await self._hand.follow(version)

    async def _show_hand(self) -> None:
        """Offer what is moved by hand on this page, if anything."""
        offer = HANDS.get(self.place.name)
        if offer is None or self._hand_place is None:
            return
        self._hand_place.clear()
        with self._hand_place:
            self._hand = await offer(self)
        if self._hand is not None:
            await self._hand.show()

    def _draw(self, result: Result, *, moves: bool = True) -> None:
        """Show a result; with `moves` also the fields that move it."""
        moves = moves or not self._parts
        if moves:
            self._body.clear()
            with self._body:
                answer = ui.element("div")
                with ui.element("div").classes("body-grid"):
                    with ui.element("div"):
                        self._hand, self._hand_place = None, ui.element("div")
                        pictures = ui.element("div")
                    with ui.element("aside").classes("moves").props('aria-label="What moves it"'):
                        show_moves(self, result)
                self._parts = (answer, pictures, ui.element("div"))
        answer, pictures, numbers = self._parts
        for part in self._parts:
            part.clear()
        with answer:
            show_answer(result)
        with pictures:
            for picture in result.pictures:
                show_picture(picture, self.version, self.place.name, self.choice)
        with numbers if result.pictures else pictures:  # without a picture the numbers stand in its place
            show_numbers(result, self.version, self.place.name, self.choice)

    def _clear(self) -> None:
        self._body.clear()
        self._parts = ()
        self._hand = self._hand_place = None

    def _say(self, words: str) -> None:
        self._clear()
        with self._body:
            ui.html(escape(words), sanitize=False, tag="p").classes("answer waiting").props('role="status"')

    def _fail(self, why: str) -> None:
        self._clear()
        with self._body:
            words = "".join(f"<br>{escape(line)}" for line in why.splitlines())
            ui.html(
                '<p class="notice" role="alert"><span class="shape" aria-hidden="true">▲</span>'
                f"<span>This cannot be answered yet.{words}</span></p>",
                sanitize=False,
            )

    def _offer(self) -> None:
        """Offer to compute what takes long."""
        self._clear()
        with self._body:
            ui.html("Not computed for this version and choice yet.", sanitize=False, tag="p").classes("answer waiting")
            with ui.element("div").classes("run"):
                start = button("Compute now", classes="main-button")
                start.on("click", self._start)

    def _start(self) -> None:
        try:
            job = self._jobs.start(self.version, self.place.name, self.choice)
        except TussockError as error:
            self._fail(str(error))
            return
        self._follow(job)

    def _follow(self, job: JobStatus) -> None:
        """Show how far a job is until it ends; it goes on when the page is left, and can be stopped."""
        self._say("Computing ...")
        with self._body:
            with ui.element("div").classes("run"):
                bar = ui.html("", sanitize=False).classes("bar").props('aria-hidden="true"')
                words = ui.html("", sanitize=False, tag="p").props('role="status"')
                button("Stop").mark("stop").on("click", lambda: self._jobs.cancel(job.id))

        async def look() -> None:
            now = self._jobs.status(job.id)
            if not now.ended:
                bar.set_content(f'<i style="width:{100.0 * max(now.step - 1, 0) / now.steps:.0f}%"></i>')
                step = f"{now.step} of {now.steps}: " if now.steps > 1 and now.step else ""
                words.set_content(escape(f"{step}{now.words} ({now.seconds:.0f} s)"))
                return
            timer.cancel()
            await self._ended(now)

        with self._clock:  # a timer that is taken away takes what it has begun with it
            timer = ui.timer(_LOOK, look)

    async def _ended(self, job: JobStatus) -> None:
        """Show what came of a job."""
        if job.state == "cancelled":
            self._offer()
        elif job.state == "failed":
            self._fail(job.words)
        else:
            await self.compute()  # the desk has its result

    async def _show_rail(self) -> None:
        job = await asyncio.to_thread(self.desk.job, self.version)
        standings = await asyncio.to_thread(self.desk.standings, self.version, self.choice)
        self._around.show(job.programme, standings)
