"""What a page says when it cannot be shown, or when something goes wrong on it: plain words, and where to go on."""

from __future__ import annotations

from html import escape

from fastapi import Request, Response
from nicegui import Client, app, ui

from tussock.errors import TussockError
from tussock.store import NotFound, StoreError
from tussock.web.api.faults import plain_fault, without_places
from tussock.web.shell import head, top

NOWHERE = "This address leads nowhere"


def cannot_be_shown(heading: str, words: str, theme: str | None) -> None:
    """Say in plain words that a page cannot be shown, and where to go on."""
    head(heading, theme)
    top("")
    with ui.element("main").classes("page").props('id="main"'):
        ui.html(escape(heading), sanitize=False, tag="h1").classes("question")
        ui.html(escape(words), sanitize=False, tag="p").classes("answer").props('role="alert"')
        ui.html(
            '<a class="quiet" href="">Try again</a> <a class="quiet" href="/">To the programmes</a>', sanitize=False
        ).classes("tools")


def not_shown(error: Exception, theme: str | None) -> None:
    """Say why a page cannot be shown."""
    if isinstance(error, StoreError) and not isinstance(error, NotFound):
        cannot_be_shown("The store cannot be read just now", _words(error), theme)
    else:
        cannot_be_shown(NOWHERE if isinstance(error, TussockError) else "A fault", _words(error), theme)


def tell(error: Exception) -> None:
    """Say on the page that stands what went wrong with what was just asked of it."""
    ui.notify(_words(error), multi_line=True, timeout=0, close_button="Close", type="warning")


def answer_page_faults() -> None:
    """Have pages that fail, and addresses that there are not, answered in words and in our own look."""

    def failed(error: Exception) -> None:
        request = ui.context.client.request
        not_shown(error, request.cookies.get("theme") if request else None)

    app.on_page_exception(failed)

    @app.exception_handler(404)
    async def nothing(request: Request, _error: Exception) -> Response:
        if request.url.path.startswith("/api"):
            return plain_fault(404, "not_found", "there is nothing at this address")
        with Client(ui.page(""), request=request) as client:
            cannot_be_shown(NOWHERE, f"There is no page {request.url.path[:200]}.", request.cookies.get("theme"))
        return client.build_response(request, 404)


def _words(error: Exception) -> str:
    if isinstance(error, TussockError):
        told = without_places(str(error))
        return told[:1].upper() + told[1:] + ("" if told.endswith(".") else ".")
    return "This is a fault of Tussock itself. Nothing that was saved is lost; the server's log says more."
