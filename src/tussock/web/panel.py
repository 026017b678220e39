"""One answer on a page: answer, pictures, what moves it, numbers; computed at once, or as a job that is followed."""

from __future__ import annotations

import asyncio
from html import escape
from typing import TYPE_CHECKING

from nicegui import ui

from tussock.errors import TussockError
from tussock.studies.result import Result
from tussock.web.build_tree import show_tree
from tussock.web.hands import HANDS, Hand
from tussock.web.moves import show_moves
from tussock.web.shell import button
from tussock.web.show import show_answer, show_numbers, show_picture, show_tools
from tussock.web.strip import show_strip
from tussock.web.terms import show_terms

if TYPE_CHECKING:
    from tussock.web.jobs import Jobs, JobStatus
    from tussock.web.places import Place
    from tussock.web.question_page import QuestionPage

_LOOK = 0.5  # between two looks at a job [s]


class Panel:
    """The answer of one study on the page's version and choice; `main` has the fields that move it beside it."""

    def __init__(self, page: QuestionPage, jobs: Jobs, place: Place, *, main: bool) -> None:
        self._page = page
        self._jobs = jobs
        self.place = place
        self.choice = page.choice.at(place)
        self._main = main
        self._body: ui.element
        self._clock: ui.element
        self._parts: tuple[ui.element, ...] = ()  # answer, pictures, numbers
        self._hand: Hand | None = None
        self._hand_place: ui.element | None = None

    async def build(self) -> None:
        """Write what stands before anything is computed: the further inputs, and the places of the rest."""
        if self.place.further:
            offered = await asyncio.to_thread(self._page.desk.offered, self._page.version, self.place)
            show_terms(self.place, self.choice, offered)
        if self._main:
            self._page.conflicts = ui.element("div")
        self._body = ui.element("div")
        self._clock = ui.element("div")

    async def open(self) -> bool:
        """Show what is kept, or how a job stands, or offer to compute; true where it is still to be computed."""
        page = self._page
        try:
            kept = await asyncio.to_thread(page.desk.kept, page.version, self.place, self.choice)
        except TussockError as error:
            self._fail(str(error))
            return False
        if kept is not None:
            self._draw(kept)
            return False
        if self.place.long:
            running = self._jobs.running(page.version, self.place.name, self.choice)
            if running is None:
                self._offer()
            else:
                self._follow(running)
            return False
        self._say("Computing ...")
        return True

    async def show_hand(self) -> None:
        """Offer what is moved by hand beside this answer, if anything."""
        offer = HANDS.get(self.place.name)
        if offer is None or self._hand_place is None:
            return
        self._hand_place.clear()
        with self._hand_place:
            self._hand = await offer(self._page)
        if self._hand is not None:
            await self._hand.show()

    async def compute(self, *, moves: bool = True) -> None:
        """Compute in a thread, then draw; what is wrong is said in words."""
        page = self._page
        try:
            result = await asyncio.to_thread(page.desk.result, page.version, self.place, self.choice)
        except TussockError as error:
            self._fail(str(error))
            return
        self._draw(result, moves=moves)

    async def edited(self) -> None:
        """Follow a new version; the boxes stay, so that no typing loses its place."""
        if self.place.long:
            self._offer()
        else:
            await self.compute(moves=False)
            if self._hand is None:
                await self.show_hand()
            else:
                await self._hand.follow(self._page.version)

    def _draw(self, result: Result, *, moves: bool = True) -> None:
        """Show a result; with `moves` also the fields that move it."""
        page = self._page
        if moves or not self._parts:
            self._body.clear()
            with self._body:
                answer = ui.element("div")
                if self._main:
                    with ui.element("div").classes("body-grid"):
                        with ui.element("div"):
                            self._hand, self._hand_place = None, ui.element("div")
                            pictures = ui.element("div")
                        with ui.element("aside").classes("moves").props('aria-label="What moves it"'):
                            show_moves(page, result)
                else:
                    pictures = ui.element("div").classes("beneath")
                self._parts = (answer, pictures, ui.element("div"))
        answer, pictures, numbers = self._parts
        for part in self._parts:
            part.clear()
        with answer:
            show_strip(result, page.version, page.place.name, page.choice)
            show_answer(result)
        with pictures:
            for picture in result.pictures:
                show_picture(picture, page.version, self.place.name, self.choice)
            tree = show_tree(result)
            if tree is not None:
                show_tools(tree, page.version, self.place.name, self.choice)
        with numbers if result.pictures else pictures:  # without a picture the numbers stand in its place
            show_numbers(result, page.version, self.place.name, self.choice)

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
            job = self._jobs.start(self._page.version, self.place.name, self.choice)
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
            await self._page.show_rail()
            await self.show_hand()
