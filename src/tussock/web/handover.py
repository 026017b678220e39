"""What is handed over, from the page Release: the report page by page, as PDF, and all with its data as one archive."""

from __future__ import annotations

import asyncio
import tempfile
import zipfile
from html import escape
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import urlencode

from fastapi import APIRouter, HTTPException, Request, Response
from nicegui import ui

from tussock.errors import TussockError
from tussock.release.outputs import file_stem, write_outputs
from tussock.release.report import PAGE_SIZE, cover_of, page_picture, write_report
from tussock.studies.advise_kept import kept_of, with_advice
from tussock.studies.result import Result
from tussock.studies.stages import STAGES
from tussock.web.desk import Choice, Desk
from tussock.web.pictures import FOR_A_DAY, stamp
from tussock.web.places import PLACES
from tussock.web.shell import button

if TYPE_CHECKING:
    from tussock.store import Version
    from tussock.web.question_page import QuestionPage

FORMS = {"pdf": "application/pdf", "zip": "application/zip"}
_FIXED = (1980, 1, 1, 0, 0, 0)  # equal content gives equal bytes


def handover_address(version: Version, choice: Choice, form: str) -> str:
    """Return the address of the report (`pdf`), or of all that is handed over (`zip`)."""
    return _address(version, choice, f"release.{form}")


def page_address(version: Version, choice: Choice, page: int) -> str:
    """Return the address of a page of the report as a picture."""
    return _address(version, choice, f"page-{page}.png")


def _address(version: Version, choice: Choice, name: str) -> str:
    query = urlencode({**choice.query(), "of": stamp(version)})
    return f"/handover/{version.programme_id}/{version.number}/{name}?{query}"


def routes(desk: Desk) -> APIRouter:
    """Return the routes; each runs in a thread of its own, off the event loop."""
    router = APIRouter(include_in_schema=False)

    @router.get("/handover/{programme}/{number}/release.{form}")
    def handed_over(request: Request, programme: int, number: int, form: str) -> Response:
        if form not in FORMS:
            raise HTTPException(404, "what is handed over is a pdf or a zip")
        version = desk.store.programmes.version(programme, number)
        choice = Choice.of(request.query_params.items())
        report = _report(desk, version, choice)
        content = report.read_bytes() if form == "pdf" else _archive(desk, version, choice, report)
        name = f"{file_stem(version.name, str(number))}-release.{form}"
        return Response(
            content, media_type=FORMS[form], headers={"Content-Disposition": f'attachment; filename="{name}"'}
        )

    @router.get("/handover/{programme}/{number}/page-{page}.png")
    def page(request: Request, programme: int, number: int, page: int) -> Response:
        version = desk.store.programmes.version(programme, number)
        picture = page_picture(papers(desk, version, Choice.of(request.query_params.items())), page)
        if not picture.is_file():
            raise HTTPException(404, f"the report has no page {page}")
        return Response(picture.read_bytes(), media_type="image/png", headers=FOR_A_DAY)

    return router


class Handover:
    """The links on the page Release and the pages of the report below them; they follow the version."""

    def __init__(self, page: QuestionPage) -> None:
        self._desk = page.desk
        self._choice = page.choice
        self._version = page.version
        self._box = ui.html("", sanitize=False).classes("run")
        self._pages = ui.element("section").classes("papers").props('aria-label="The report, page by page"')

    async def show(self) -> None:
        """Write the links, and the pages where they stand already."""
        to = {form: escape(handover_address(self._version, self._choice, form)) for form in FORMS}
        links = "".join(
            f'<a class="{look}" href="{to[form]}" download>{words}</a>'
            for form, look, words in (
                ("pdf", "main-button", "Report as PDF"),
                ("zip", "quiet", "Report, tables, pictures and data as ZIP"),
            )
        )
        self._box.set_content(links)
        self._pages.clear()
        key = await asyncio.to_thread(_key, self._desk, self._version, self._choice)
        if self._desk.shelf.kept(key) is not None:
            await self._open()
            return
        with self._pages:
            button("Show the pages here").mark("pages").on("click", self._open)

    async def follow(self, version: Version) -> None:
        """Follow a new version."""
        self._version = version
        await self.show()

    async def _open(self) -> None:
        """Show the report page by page; a picture is fetched when its page comes near the screen."""
        version, choice = self._version, self._choice
        self._pages.clear()
        with self._pages:
            ui.html("Setting the pages ...", sanitize=False, tag="p").classes("note").props('role="status"')
        try:
            folder = await asyncio.to_thread(papers, self._desk, version, choice)
        except TussockError as error:
            self._pages.clear()
            with self._pages:
                ui.html(escape(str(error)), sanitize=False, tag="p").classes("note").props('role="alert"')
            return
        if version is not self._version:  # a newer one came in between
            return
        count = len(list(folder.glob("page-*.png")))
        self._pages.clear()
        with self._pages:
            ui.html(_pages_html(version, choice, count), sanitize=False)


async def handover(page: QuestionPage) -> Handover:
    """Offer what is handed over."""
    return Handover(page)


def _pages_html(version: Version, choice: Choice, count: int) -> str:
    wide, high = PAGE_SIZE
    figures = "".join(
        f'<li><figure><img loading="lazy" decoding="async" width="{wide}" height="{high}" '
        f'src="{escape(page_address(version, choice, n))}" alt="Page {n} of the report; the PDF has it as text">'
        f"<figcaption>{n} of {count}</figcaption></figure></li>"
        for n in range(1, count + 1)
    )
    return f'<h2>The report, {count} pages</h2><ol tabindex="0">{figures}</ol>'


def _key(desk: Desk, version: Version, choice: Choice) -> str:
    advised = "" if _advice(desk, version, choice) is None else " advised"
    return f"{version.id}?{urlencode(choice.query())}{advised}"


def papers(desk: Desk, version: Version, choice: Choice) -> Path:
    """Return the folder with the report and its pages, made once; dated by the day on which the version was saved.

    Raises
    ------
    InputError
        The release is not computed yet.
    """
    return desk.shelf.folder(
        _key(desk, version, choice), lambda folder: _write(desk, version, choice, folder, pages=True)
    )


def _report(desk: Desk, version: Version, choice: Choice) -> Path:
    """Return the report alone, which is set sooner than its pages are drawn."""
    key = _key(desk, version, choice)
    folder = desk.shelf.kept(key) or desk.shelf.folder(
        f"pdf {key}", lambda made: _write(desk, version, choice, made, pages=False)
    )
    return folder / "report.pdf"


def _write(desk: Desk, version: Version, choice: Choice, folder: Path, *, pages: bool) -> None:
    cover = cover_of(desk.job(version).programme, version.created.astimezone().date())
    write_report(_results(desk, version, choice), folder, cover=cover, pages=pages)


def _results(desk: Desk, version: Version, choice: Choice) -> tuple[Result, ...]:
    stages = [desk.at_once(version, PLACES[s.name], choice.at(PLACES[s.name])) for s in STAGES]
    advice = _advice(desk, version, choice)
    return with_advice(stages, [] if advice is None else [kept_of(advice, asked=f"with version {version.number}")])


def _advice(desk: Desk, version: Version, choice: Choice) -> Result | None:
    """Return what the page Next build has answered; it takes minutes, so it is never asked here."""
    place = PLACES["advise"]
    return desk.kept(version, place, choice.at(place))


def _archive(desk: Desk, version: Version, choice: Choice, report: Path) -> bytes:
    """Return the report with tables, pictures and data as one archive."""
    with tempfile.TemporaryDirectory(prefix="tussock-handover-") as made:
        folder = Path(made) / "release"
        written = write_outputs(_results(desk, version, choice), folder)
        named = {report.name: report, **{str(path.relative_to(folder)): path for path in written}}
        whole = BytesIO()
        with zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED) as archive:
            for name in sorted(named):
                archive.writestr(zipfile.ZipInfo(name, _FIXED), named[name].read_bytes(), zipfile.ZIP_DEFLATED)
        return whole.getvalue()
