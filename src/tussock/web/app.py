"""The app: NiceGUI pages and plain FastAPI routes over one store, served together."""

from __future__ import annotations

import asyncio
import getpass
from dataclasses import dataclass
from importlib.resources import files
from typing import TYPE_CHECKING

from fastapi import FastAPI, HTTPException, Request, Response
from fastapi.staticfiles import StaticFiles
from nicegui import ui

from tussock.errors import TussockError
from tussock.release.look import font_folder
from tussock.web import exchange, handover, linkage_view, pictures
from tussock.web.api.shapes import LARGEST_KEY
from tussock.web.css import stylesheet
from tussock.web.desk import Choice, Desk
from tussock.web.faults_page import NOWHERE, answer_page_faults, cannot_be_shown, not_shown, tell
from tussock.web.history_page import HistoryPage
from tussock.web.home_page import home
from tussock.web.places import PLACES
from tussock.web.plain import add_plain
from tussock.web.programme_page import ProgrammePage
from tussock.web.question_page import QuestionPage
from tussock.web.shell import SCRIPTS, head
from tussock.web.signing import Who

if TYPE_CHECKING:
    from tussock.store import Store
    from tussock.web.jobs import Jobs

_AWAY = 20.0  # a page that was out of reach so long goes on where it stands, and is only then loaded anew [s]
_PATIENCE = 60.0  # a programme is opened before its first page is sent, which on a busy machine takes seconds [s]


@dataclass(frozen=True, kw_only=True, slots=True)
class Settings:
    """How the workbench is served.

    Attributes
    ----------
    author : str
        Who saves where no accounts are asked for: whoever sits at this machine.
    accounts : bool
        Whether people sign in.
    """

    author: str = ""
    accounts: bool = False

    @property
    def writer(self) -> str:
        """The name under which an edit is saved."""
        if self.author:
            return self.author
        try:
            return getpass.getuser()
        except (OSError, KeyError):  # a machine that knows no name for whoever runs this
            return "workshop"


def create_app(store: Store, settings: Settings | None = None) -> FastAPI:
    """Return the workbench over an open store, ready to be served."""
    app = FastAPI(title="Tussock", docs_url=None, redoc_url=None)
    desk = Desk(store)
    app.mount("/fonts", StaticFiles(directory=font_folder()), name="fonts")
    app.include_router(pictures.routes(desk))
    app.include_router(linkage_view.routes(desk))
    app.include_router(exchange.routes(desk))
    app.include_router(handover.routes(desk))
    look = stylesheet()
    scripts = files("tussock") / "web" / "static"

    @app.get("/look.css", include_in_schema=False)
    def stylesheet_route() -> Response:
        return Response(look, media_type="text/css", headers={"Cache-Control": "no-cache"})

    @app.get("/scripts/{name}.js", include_in_schema=False)
    def script_route(name: str) -> Response:
        if name not in SCRIPTS:
            raise HTTPException(404, "there is no such script")
        content = (scripts / f"{name}.js").read_text(encoding="utf-8")
        return Response(content, media_type="text/javascript", headers={"Cache-Control": "no-cache"})

    settings = settings or Settings()
    jobs = add_plain(app, desk, accounts=settings.accounts, local=settings.writer)
    app.state.jobs = jobs
    register_pages(desk, jobs, settings)
    answer_page_faults()
    ui.run_with(
        app,
        title="Tussock",
        dark=None,
        language="en-GB",
        tailwind=False,
        show_welcome_message=False,
        reconnect_timeout=_AWAY,
    )
    return app


def register_pages(desk: Desk, jobs: Jobs, settings: Settings) -> None:
    """Register every page; the last call counts, so that a process may serve one store after another."""

    @ui.page("/", response_timeout=_PATIENCE)
    async def first(request: Request) -> None:
        ui.on_exception(tell)
        head("Programmes", request.cookies.get("theme"))
        who = _who(request)
        entries = await asyncio.to_thread(desk.store.programmes.list)
        home(desk.store, entries, _author(request, settings), signed_in=who.name if who and who.signed_in else "")

    @ui.page("/work/{programme}/{place}", response_timeout=_PATIENCE)
    async def question(
        request: Request,
        programme: str,
        place: str,
        at: str = "",
    ) -> None:
        ui.on_exception(tell)
        theme = request.cookies.get("theme")
        choice = Choice.of(request.query_params.items())
        if not (programme.isascii() and programme.isdecimal() and int(programme) <= LARGEST_KEY):
            cannot_be_shown(NOWHERE, f"There is no programme {programme[:40]!r}.", theme)
            return
        try:
            version = await asyncio.to_thread(desk.store.programmes.version, int(programme))
            await asyncio.to_thread(desk.checked, version, choice)
        except TussockError as error:
            not_shown(error, theme)
            return
        if place == "programme":
            page = ProgrammePage(desk, version, choice, at=at, author=_author(request, settings))
            await page.build(theme)
            return
        if place == "history":
            await HistoryPage(desk, version, choice, author=_author(request, settings)).build(theme)
            return
        if place not in PLACES:
            cannot_be_shown(NOWHERE, f"There is no page {place!r} of a programme.", theme)
            return
        asked = QuestionPage(desk, jobs, PLACES[place], version, choice, author=_author(request, settings))
        await asked.build(theme)


def _author(request: Request, settings: Settings) -> str:
    """Return under which name a page saves; "" for who may read only, which the store refuses."""
    who = _who(request)
    if who is None:
        return settings.writer
    return who.name if who.writes else ""


def _who(request: Request) -> Who | None:
    """Return who asks, as the gate says; tests of single pages have no gate."""
    who: Who | None = getattr(request.state, "who", None)
    return who
