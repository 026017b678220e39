"""A picture as elements of a page: the same sheet as `picture_svg` draws, with the page's own type and colours.

Words stay words and colours are the tokens of the look, so that one text serves both themes. It takes milliseconds,
where a file with its words as paths takes a hundred times as long: for what follows somebody's hand.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import fields
from functools import lru_cache
from html import escape

from tussock.release.figures.canvas import Area, Canvas, Dots, Mark, Path, Point, Ring, Words
from tussock.release.figures.picture import sheet
from tussock.release.look import LIGHT, Look
from tussock.studies.result import Picture

_ANCHORS = {"left": "start", "center": "middle", "right": "end"}
_FACES = {"regular": "", "semibold": ' font-weight="600"', "italic": ' font-style="italic"', "serif": ' class="serif"'}
# Corners of markers in halves of their size, as matplotlib draws them.
_CORNERS: dict[str, tuple[Point, ...]] = {
    "s": ((-1, -1), (1, -1), (1, 1), (-1, 1)),
    "D": ((0, -1.41), (1.41, 0), (0, 1.41), (-1.41, 0)),
    "v": ((-1, 1), (1, 1), (0, -1)),
    "^": ((-1, -1), (1, -1), (0, 1)),
    "<": ((1, -1), (1, 1), (-1, 0)),
    ">": ((-1, -1), (-1, 1), (1, 0)),
    "X": (
        (-0.5, -1), (0, -0.5), (0.5, -1), (1, -0.5), (0.5, 0), (1, 0.5),
        (0.5, 1), (0, 0.5), (-0.5, 1), (-1, 0.5), (-0.5, 0), (-1, -0.5),
    ),
}  # fmt: skip


def picture_inline(picture: Picture, *, width: float) -> str:
    """Return a picture as an SVG element for a page whose style sheet has the look's tokens.

    Parameters
    ----------
    picture : LineChart, SpanChart, RowChart, Drawing or Film
        In SI.
    width : float
        Width of the sheet [pt]; the element is as wide as its place.
    """
    canvas = sheet(picture, LIGHT, width)
    return canvas_inline(canvas, picture.title)


def canvas_inline(canvas: Canvas, title: str) -> str:
    """Return a sheet as an SVG element, named for screen readers."""
    inside = "".join(part for mark in canvas.marks for part in _parts(mark, canvas))
    return (
        f'<svg class="sheet" role="img" viewBox="0 0 {canvas.width:.1f} {canvas.height:.1f}" '
        f'xmlns="http://www.w3.org/2000/svg"><title>{escape(title)}</title>{inside}</svg>'
    )


@lru_cache(maxsize=4)
def _tokens(look: Look) -> dict[str, str]:
    """Return the style sheet's name of each colour of a look."""
    named: dict[str, str] = {}
    for field in fields(look):
        value = getattr(look, field.name)
        if isinstance(value, tuple):
            for i, colour in enumerate(value, 1):
                named.setdefault(colour, f"var(--series-{i})")
        else:
            named.setdefault(value, f"var(--{field.name.replace('_', '-')})")
    return named


def _parts(mark: Mark, canvas: Canvas) -> Iterator[str]:
    tokens, tall = _tokens(canvas.look), canvas.height

    def colour(name: str) -> str:
        return tokens.get(name, name)

    if isinstance(mark, Path):
        yield (
            f'<polyline points="{_points(mark.points, tall)}" fill="none" stroke="{colour(mark.colour)}" '
            f'stroke-width="{mark.width:g}"{_dash(mark.dash, mark.width)} stroke-linejoin="round"/>'
        )
    elif isinstance(mark, Area):
        opacity = "" if mark.alpha >= 1.0 else f' fill-opacity="{mark.alpha:g}"'
        yield f'<polygon points="{_points(mark.points, tall)}" fill="{colour(mark.fill)}"{opacity}/>'
    elif isinstance(mark, Ring):
        x, y = mark.centre
        yield (
            f'<circle cx="{x:.2f}" cy="{tall - y:.2f}" r="{mark.radius:.2f}" fill="none" '
            f'stroke="{colour(mark.colour)}" stroke-width="{mark.width:g}"{_dash(mark.dash, mark.width)}/>'
        )
    elif isinstance(mark, Words):
        x, y = mark.at
        yield (
            f'<text x="{x:.2f}" y="{tall - y:.2f}" font-size="{mark.size:g}"{_FACES[mark.weight]} '
            f'fill="{colour(mark.colour)}" text-anchor="{_ANCHORS[mark.align]}">{escape(mark.text)}</text>'
        )
    else:
        fill = "var(--card)" if mark.hollow else colour(mark.colour)
        style = f'fill="{fill}" stroke="{colour(mark.colour)}" stroke-width="0.9"'
        yield from (_dot(mark, x, tall - y, style) for x, y in mark.points)


def _dot(mark: Dots, x: float, y: float, style: str) -> str:
    half = 0.5 * mark.size
    if mark.marker == "|":
        return f'<path d="M{x:.2f} {y - half:.2f}V{y + half:.2f}" {style}/>'
    corners = _CORNERS.get(mark.marker)
    if corners is None:
        return f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{half:.2f}" {style}/>'
    points = " ".join(f"{x + a * half:.2f},{y - b * half:.2f}" for a, b in corners)
    return f'<polygon points="{points}" {style}/>'


def _points(points: Sequence[Point], tall: float) -> str:
    return " ".join(f"{x:.2f},{tall - y:.2f}" for x, y in points)


def _dash(dash: tuple[float, ...], width: float) -> str:
    return f' stroke-dasharray="{" ".join(f"{d * width:.2f}" for d in dash)}"' if dash else ""
