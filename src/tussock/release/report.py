"""The release report: question, answer, pictures and numbers of every stage on A4, as PDF."""

from __future__ import annotations

import datetime
import json
import re
import shutil
import tempfile
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any

from tussock.errors import InputError, TussockError
from tussock.record import Programme
from tussock.release.figures import picture_svg
from tussock.release.figures.canvas import FIGURE_WIDTH
from tussock.release.look import LIGHT, STATE_SHAPES, font_folder
from tussock.release.outputs import file_stem, staged
from tussock.release.tables import TablePart, fit_table
from tussock.release.words import hold, hold_units, tidy
from tussock.studies.cautions import CAUTIONS
from tussock.studies.display import figures
from tussock.studies.result import Board, Film, LineChart, Picture, Result, RowChart, SpanChart

_PPI = 96.0  # of pages as pictures
PAGE_SIZE = (794, 1123)  # an A4 page at that many points an inch
_TALLEST = 235.0 / 25.4 * 72.0  # a picture taller than this is fitted to the page [pt]


@dataclass(frozen=True, kw_only=True, slots=True)
class Cover:
    """What stands on the first page.

    Attributes
    ----------
    name, title : str
        Name of the programme and what the kit is ("Tarn", "rescue wagon, 35 mm lift").
    vehicle : str
        The vehicle in words.
    date : datetime.date
        Date of the report; given, never read from the clock, so that equal input gives equal bytes.
    author : str
        Who answers for the programme.
    """

    name: str
    title: str
    vehicle: str
    date: datetime.date
    author: str = ""


def cover_of(programme: Programme, date: datetime.date) -> Cover:
    """Return the first page of a programme's report."""
    about = programme.programme
    return Cover(name=about.name, title=about.title, vehicle=about.note, date=date, author=about.author)


def write_report(
    results: Sequence[Result], folder: Path, *, cover: Cover, file_name: str = "report.pdf", pages: bool = False
) -> Path:
    """Write the report of a job as PDF (A4, tagged, fonts embedded).

    Parameters
    ----------
    results : sequence of Result
        Stages in the order of the job, at least one.
    folder : Path
        Where to; made if it does not exist, but its parent must.
    cover : Cover
        First page and date.
    file_name : str
        Name of the file in the folder.
    pages : bool
        Whether to write each page as a picture beside it (`page_picture`), for a screen.

    Returns
    -------
    Path
        The file. The same input gives the same bytes.

    Raises
    ------
    InputError
        If there is nothing to report, or the folder cannot be written.
    TussockError
        If the typesetter fails; the text carries its message.
    """
    import typst

    if not results:
        raise InputError("there is no result to report; run at least one stage")
    date = datetime.datetime.combine(cover.date, datetime.time(12), tzinfo=datetime.UTC)
    with tempfile.TemporaryDirectory(prefix="tussock-report-") as made:
        desk = Path(made)
        shutil.copyfile(str(files("tussock.release") / "report.typ"), desk / "report.typ")
        (desk / "data.json").write_text(json.dumps(report_data(results, cover, desk)), encoding="utf-8")
        same: dict[str, Any] = {
            "root": desk,
            "font_paths": [font_folder()],
            "ignore_system_fonts": True,
            "timestamp": date,
        }
        try:
            pdf = typst.compile(desk / "report.typ", pdf_standards=["ua-1"], **same)
            if pages:  # straight to files, so that no more than a page is held at once
                typst.compile(desk / "report.typ", output=str(desk / "page-{p}.png"), format="png", ppi=_PPI, **same)
        except typst.TypstError as error:
            raise TussockError(f"the report could not be set: {error}") from error
        if not isinstance(pdf, bytes):
            raise TussockError("the typesetter gave no single document")
        with staged(folder) as stage:
            (stage / file_name).write_bytes(pdf)
            for page in desk.glob("page-*.png"):
                shutil.copyfile(page, page_picture(stage, int(page.stem.removeprefix("page-"))))
    return folder / file_name


def page_picture(folder: Path, page: int) -> Path:
    """Return where a page of the report, the first being 1, stands as a picture of `PAGE_SIZE`."""
    return folder / f"page-{page}.png"


def report_data(results: Sequence[Result], cover: Cover, desk: Path) -> dict[str, object]:
    """Return what the template sets, as plain values, and put the pictures beside it on the desk."""
    first = results[0].provenance
    invented = first.data.strip().lower() == "invented"
    return {
        "name": cover.name,
        "title": cover.title,
        "vehicle": cover.vehicle,
        "author": cover.author,
        "date": [cover.date.year, cover.date.month, cover.date.day],
        "invented": invented,
        "statement": "All data in this report is invented. It describes no real vehicle, part or place."
        if invented
        else f"Data: {first.data}.",
        "digest": first.digest,
        "tussock": first.tussock,
        "look": {k: v for k, v in asdict(LIGHT).items() if isinstance(v, str)},
        "gold": LIGHT.series[1],
        "stages": [_stage(result, desk) for result in results],
        "cautions": [list(c) for c in CAUTIONS],
    }


def _part(part: TablePart) -> dict[str, object]:
    """Return part of a table as plain values; a word joiner keeps a unit such as N/mm in one piece."""
    plain = asdict(part)
    plain["header"] = [h if "\u200b" in h else h.replace("/", "/\u2060") for h in part.header]
    plain["rows"] = [[hold_units(cell) for cell in row] for row in part.rows]
    return plain


def _height(svg: str) -> float:
    """Height of a picture when it is as wide as the page. [pt]"""
    box = re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', svg)
    assert box is not None  # the canvas always writes one
    return float(box[2]) / float(box[1]) * FIGURE_WIDTH


def _stage(result: Result, desk: Path) -> dict[str, object]:
    pictures = []
    for picture in result.pictures:
        name = f"{file_stem(result.stage, picture.key)}.svg"
        svg = picture_svg(picture)
        (desk / name).write_text(svg, encoding="utf-8")
        pictures.append({"file": name, "alt": describe(picture), "tall": _height(svg) > _TALLEST})
    tables = [
        {"title": tidy(t.title), "note": tidy(t.note), "parts": [_part(p) for p in fit_table(t, FIGURE_WIDTH)]}
        for t in result.tables
        if t.key != "cautions"  # they have a page of their own
    ]
    provenance = result.provenance
    return {
        "stage": result.stage[:1].upper() + result.stage[1:],
        "state": result.state,
        "shape": STATE_SHAPES[result.state],
        "passes": result.passes,
        "question": result.question,
        "answer": [[hold(text) if bold else text, bold] for text, bold in figures(result.answer)],
        "notices": [{"text": hold_units(n.text), "remedy": hold_units(n.remedy)} for n in result.notices],
        "pictures": pictures,
        "tables": tables,
        "inputs": [[name, tidy(value)] for name, value in result.inputs.items()],
        "provenance": [
            provenance.fitout,
            provenance.build,
            "" if provenance.seed is None else str(provenance.seed),
            provenance.digest,
        ],
    }


def describe(picture: Picture) -> str:
    """Say in words what a picture shows, for those who cannot see it.

    >>> from tussock.studies.result import Axis, Line, LineChart
    >>> describe(LineChart(key="f", title="Force", x=Axis(title="velocity", kind="velocity"),
    ...     y=Axis(title="force", kind="force"), lines=(Line(label="stock", x=(0.0, 1.0), y=(0.0, 1.0)),)))
    'Chart: Force. force over velocity: stock.'
    """
    if isinstance(picture, LineChart):
        names = ", ".join(dict.fromkeys(line.label for line in picture.lines if line.label))
        return f"Chart: {picture.title}. {picture.y.title} over {picture.x.title}: {names}."
    if isinstance(picture, SpanChart):
        governs = ", ".join(f"{s.group} {s.label}: {r.text}" for s in picture.spans for r in s.rungs if r.governs)
        return f"Chart: {picture.title}. What governs: {governs or 'nothing'}."
    if isinstance(picture, RowChart):
        rows = ", ".join(f"{r.group} {r.label} {r.text}".strip() for r in picture.rows)
        return f"Chart: {picture.title}. {picture.x.title}: {rows}."
    if isinstance(picture, Board):
        chosen = ", ".join(
            f"{label} {group} {column} {cell.words}"
            for label, cells in picture.rows
            for (group, column), cell in zip(picture.columns, cells, strict=True)
            if cell.chosen
        )
        return f"Table: {picture.title}. {picture.figure.title}: {chosen}."
    if isinstance(picture, Film):
        sides = " and ".join(view.title for view in picture.views)
        return f"Film to scale, one frame of it: {picture.title}, {sides}."
    names = ", ".join(dict.fromkeys(shape.label for shape in picture.shapes if shape.label))
    return f"Drawing to scale: {picture.title} ({picture.plane}): {names}."
