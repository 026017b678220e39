"""What is handed over, from the page Release: the report as PDF, and everything with its data as one archive."""

from __future__ import annotations

import tempfile
import zipfile
from html import escape
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import urlencode

from fastapi import APIRouter, HTTPException, Request, Response
from nicegui import ui

from tussock.release.outputs import file_stem, write_outputs
from tussock.release.report import cover_of, write_report
from tussock.studies.stages import STAGES
from tussock.web.desk import Choice, Desk
from tussock.web.places import PLACES

if TYPE_CHECKING:
    from tussock.store import Version
    from tussock.web.question_page import QuestionPage

FORMS = {"pdf": "application/pdf", "zip": "application/zip"}
_FIXED = (1980, 1, 1, 0, 0, 0)  # equal content gives equal bytes


def handover_address(version: Version, choice: Choice, form: str) -> str:
    """Return the address of the report (`pdf`), or of all that is handed over (`zip`)."""
    query = urlencode(choice.query())
    path = f"/handover/{version.programme_id}/{version.number}/release.{form}"
    return f"{path}?{query}" if query else path


def routes(desk: Desk) -> APIRouter:
    """Return the routes; each runs in a thread of its own, off the event loop."""
    router = APIRouter(include_in_schema=False)

    @router.get("/handover/{programme}/{number}/release.{form}")
    def handed_over(request: Request, programme: int, number: int, form: str) -> Response:
        if form not in FORMS:
            raise HTTPException(404, "what is handed over is a pdf or a zip")
        version = desk.store.programmes.version(programme, number)
        content = _made(desk, version, Choice.of(request.query_params.items()), form)
        name = f"{file_stem(version.name, str(number))}-release.{form}"
        return Response(
            content, media_type=FORMS[form], headers={"Content-Disposition": f'attachment; filename="{name}"'}
        )

    return router


class Handover:
    """The links on the page Release; they follow the version."""

    def __init__(self, page: QuestionPage) -> None:
        self._choice = page.choice
        self._version = page.version
        self._box = ui.html("", sanitize=False).classes("run")

    async def show(self) -> None:
        """Write the links."""
        to = {form: escape(handover_address(self._version, self._choice, form)) for form in FORMS}
        links = "".join(
            f'<a class="{look}" href="{to[form]}" download>{words}</a>'
            for form, look, words in (
                ("pdf", "main-button", "Report as PDF"),
                ("zip", "quiet", "Report, tables, pictures and data as ZIP"),
            )
        )
        self._box.set_content(links)

    async def follow(self, version: Version) -> None:
        """Follow a new version."""
        self._version = version
        await self.show()


async def handover(page: QuestionPage) -> Handover:
    """Offer what is handed over."""
    return Handover(page)


def _made(desk: Desk, version: Version, choice: Choice, form: str) -> bytes:
    """Return the bytes of what is handed over, dated by the day on which the version was saved."""
    results = [desk.at_once(version, PLACES[s.name], choice.at(PLACES[s.name])) for s in STAGES]
    cover = cover_of(desk.job(version).programme, version.created.astimezone().date())
    with tempfile.TemporaryDirectory(prefix="tussock-handover-") as made:
        folder = Path(made) / "release"
        report = write_report(results, folder, cover=cover)
        if form == "pdf":
            return report.read_bytes()
        whole = BytesIO()
        with zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED) as archive:
            for path in sorted((report, *write_outputs(results, folder))):
                archive.writestr(
                    zipfile.ZipInfo(str(path.relative_to(folder)), _FIXED), path.read_bytes(), zipfile.ZIP_DEFLATED
                )
        return whole.getvalue()
