"""The figures behind a picture as comma-separated text, in the units that people read."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator

from tussock.release.words import cell_text, column_title
from tussock.studies.result import Axis, Board, Cell, Column, Drawing, Film, LineChart, Picture, RowChart, SpanChart


def picture_csv(picture: Picture) -> str:
    """Return what a picture shows as one table, a row for each point, bar or corner; units stand in the header."""
    columns, rows = _table(picture)
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")  # RFC 4180, section 2
    writer.writerow([column_title(c, bracket=True) for c in columns])
    for row in rows:
        writer.writerow([cell_text(v, c, plain=True) for v, c in zip(row, columns, strict=True)])
    return out.getvalue()


def _words(title: str) -> Column:
    return Column(key=title, title=title)


def _figure(axis: Axis, title: str = "") -> Column:
    return Column(key=title or axis.title, title=title or axis.title, kind=axis.kind)


def _table(picture: Picture) -> tuple[tuple[Column, ...], Iterator[tuple[Cell, ...]]]:
    if isinstance(picture, LineChart):
        columns = (_words("curve"), _words("role"), _figure(picture.x), _figure(picture.y))
        return columns, _curves(picture)
    if isinstance(picture, SpanChart):
        low, high = _figure(picture.y, "low"), _figure(picture.y, "high")
        return (_words("group"), _words("bar"), _words("stop"), low, high, _words("governs")), _spans(picture)
    if isinstance(picture, RowChart):
        figures = tuple(_figure(picture.x, title) for title in ("at", "low", "high"))
        return (_words("group"), _words("row"), *figures, _words("words")), (
            (r.group, r.label, r.at, r.low, r.high, r.text) for r in picture.rows
        )
    if isinstance(picture, Board):
        figures = tuple(_figure(picture.figure, title) for title in ("at", "wanted from", "to"))
        names = tuple(_words(title) for title in ("row", "group", "column"))
        return (*names, *figures, _words("chosen"), _words("words")), _cells(picture)
    if isinstance(picture, Film):
        return _FRAMES, _frames(picture)
    fine = [Column(key=key, title=key, kind="length_fine") for key in ("across", "up")]
    return (_words("shape"), *fine, Column(key="radius", title="radius", kind="length_fine")), _shapes(picture)


_FRAMES = (
    Column(key="time", title="time", kind="time", digits=3),
    Column(key="along", title="along the road", kind="distance", digits=2),
    Column(key="view", title="view"),
    Column(key="part", title="part"),
    Column(key="across", title="across", kind="length_fine"),
    Column(key="up", title="up", kind="length_fine"),
    Column(key="turn", title="turn", kind="angle_fine"),
)


def _frames(film: Film) -> Iterator[tuple[Cell, ...]]:
    for i, along in enumerate(film.along):
        for part in film.parts:
            yield i * film.step, along, part.view, part.label, part.across[i], part.up[i], part.turn[i]


def _curves(chart: LineChart) -> Iterator[tuple[Cell, ...]]:
    for line in chart.lines:
        for x, y in zip(line.x, line.y, strict=True):
            yield line.label, line.role, x, y
    for band in chart.bands:
        for side, values in (("low", band.low), ("high", band.high)):
            for x, y in zip(band.x, values, strict=True):
                yield f"{band.label}, {side}", band.role, x, y


def _spans(chart: SpanChart) -> Iterator[tuple[Cell, ...]]:
    for span in chart.spans:
        yield span.group, span.label, "", span.low, span.high, ""
        for rung in span.rungs:
            yield span.group, span.label, rung.text, rung.at, rung.at, "yes" if rung.governs else ""


def _cells(board: Board) -> Iterator[tuple[Cell, ...]]:
    for label, cells in board.rows:
        for (group, column), cell in zip(board.columns, cells, strict=True):
            yield label, group, column, cell.at, cell.low, cell.high, "yes" if cell.chosen else "", cell.words


def _shapes(drawing: Drawing) -> Iterator[tuple[Cell, ...]]:
    for shape in drawing.shapes:
        for x, y in shape.points:
            yield shape.label, x, y, shape.circle or None
