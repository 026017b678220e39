"""One picture of a Result becomes one SVG."""

from __future__ import annotations

from tussock.release.figures.board import draw_board
from tussock.release.figures.canvas import FIGURE_WIDTH, Canvas
from tussock.release.figures.drawing import draw_drawing
from tussock.release.figures.film import still
from tussock.release.figures.ladders import draw_ladders
from tussock.release.figures.lines import draw_lines
from tussock.release.figures.rows import draw_rows
from tussock.release.figures.spans import draw_spans
from tussock.release.look import LIGHT, Look
from tussock.studies.result import Board, Film, LineChart, Picture, RowChart, SpanChart


def picture_svg(picture: Picture, *, look: Look = LIGHT, width: float = FIGURE_WIDTH) -> str:
    """Draw a picture.

    Parameters
    ----------
    picture : LineChart, SpanChart, RowChart, Drawing, Board or Film
        What a study wants shown, in SI.
    look : Look
        Colours of the theme.
    width : float
        Width of the sheet, 200 to 1000; a drawing's scale holds at this width. [pt]

    Returns
    -------
    str
        SVG text, the same for the same picture; its words are paths.
    """
    return sheet(picture, look, width).svg(picture.key, picture.title)


def picture_png(picture: Picture, *, look: Look = LIGHT, width: float = FIGURE_WIDTH) -> bytes:
    """Draw a picture as PNG, as `picture_svg` draws it."""
    return sheet(picture, look, width).png()


def sheet(picture: Picture, look: Look, width: float) -> Canvas:
    """Lay a picture out on a sheet of a width [pt]."""
    canvas: Canvas
    if isinstance(picture, LineChart):
        canvas = draw_lines(picture, look, width=width)
    elif isinstance(picture, SpanChart):
        canvas = (draw_ladders if picture.paired else draw_spans)(picture, look, width=width)
    elif isinstance(picture, RowChart):
        canvas = draw_rows(picture, look, width=width)
    elif isinstance(picture, Board):
        canvas = draw_board(picture, look, width=width)
    elif isinstance(picture, Film):
        canvas = draw_drawing(still(picture), look, width=width)
    else:
        canvas = draw_drawing(picture, look, width=width)
    return canvas
