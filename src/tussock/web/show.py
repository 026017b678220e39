"""A Result as elements of a page: answer, state, notices, pictures, numbers; the one renderer of every question."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from nicegui import ui

from tussock.release.chart_json import is_read
from tussock.studies.result import Film, Picture, Result, Table
from tussock.web.build_tree import KEY
from tussock.web.desk import Choice, standing_of
from tussock.web.film import FilmView
from tussock.web.line_chart import LineChartView
from tussock.web.markup import answer_html, notice_html, state_html, table_html, table_text
from tussock.web.pictures import NARROW, WIDE, picture_address, table_address
from tussock.web.shell import button

if TYPE_CHECKING:
    from tussock.store import Version


def show_answer(result: Result) -> None:
    """Write answer, state and notices."""
    ui.html(answer_html(result.answer), sanitize=False, tag="p").classes("answer slides").props('aria-live="polite"')
    if not result.passes:
        ui.html(state_html("look", "a check fails"), sanitize=False, tag="p").classes("state")
    else:
        standing = standing_of(result)
        ui.html(state_html(standing.state, standing.word), sanitize=False, tag="p").classes("state")
    if result.notices:
        ui.html("".join(notice_html(n) for n in result.notices), sanitize=False)


def show_picture(picture: Picture, version: Version, place: str, choice: Choice) -> None:
    """Write a picture as a card with its files below: a chart to be read where it has curves, else drawn."""

    def address(form: str, **how: str) -> str:
        return escape(picture_address(version, place, choice, picture.key, form, **how))  # type: ignore[arg-type]

    title = escape(picture.title)
    images = "".join(
        f'<picture class="in-{look}"><source media="(max-width: 760px)" '
        f'srcset="{address("svg", look=look, width=str(NARROW))}">'
        f'<img loading="lazy" alt="{title}" src="{address("svg", look=look, width=str(WIDE))}"></picture>'
        for look in ("light", "dark")
    )
    saves = "".join(
        f'<a class="quiet plain" href="{address(form, save="true")}" download>{words}</a>'
        for form, words in (("svg", "SVG"), ("png", "PNG"), ("csv", "Figures, CSV"))
    )
    with ui.element("figure").classes("card"):
        if is_read(picture):
            LineChartView(picture_address(version, place, choice, picture.key, "json"), picture.title).classes("chart")
            images = ""
        elif isinstance(picture, Film):
            FilmView(picture_address(version, place, choice, picture.key, "json"), picture.title)
            images = ""
        ui.html(f'{images}<div class="tools">{saves}</div>', sanitize=False)


def show_table(table: Table, version: Version, place: str, choice: Choice) -> None:
    """Write a table and its two ways out: text on the clipboard, and a file."""
    with ui.element("section"):
        ui.html(table_html(table), sanitize=False)
        show_tools(table, version, place, choice)


def show_tools(table: Table, version: Version, place: str, choice: Choice) -> None:
    """Write the two ways out of a table."""
    with ui.element("div").classes("tools"):
        copied = button("Copy as text", classes="quiet plain")
        copied.props(f'aria-label="Copy as text: {escape(table.title)}"')
        copied.on("click", lambda: _copy(table))
        address = escape(table_address(version, place, choice, table.key))
        ui.html(f'<a class="quiet plain" href="{address}" download>CSV</a>', sanitize=False)


def _copy(table: Table) -> None:
    ui.clipboard.write(table_text(table))
    ui.notify("Copied as text")


def show_numbers(result: Result, version: Version, place: str, choice: Choice) -> None:
    """Write every table but the one that stands as a tree already."""
    with ui.element("div").classes("numbers"):
        for table in (t for t in result.tables if t.key != KEY):
            show_table(table, version, place, choice)
