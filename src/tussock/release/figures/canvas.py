"""A sheet in points with lines, bars and words on it, written as SVG that is the same for the same input.

Every picture lays itself out in points (1/72 in), origin bottom left, before anything is drawn: label widths come from
the shipped fonts, so that nothing depends on the machine. Words become paths; an SVG needs no font where it is shown.
"""

from __future__ import annotations

import html
import io
import re
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Literal, TypeAlias

import matplotlib
from matplotlib.artist import Artist
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.lines import Line2D
from matplotlib.patches import Circle, Polygon
from matplotlib.text import Text
from matplotlib.textpath import text_to_path
from matplotlib.transforms import Transform

from tussock.release.look import Look, Weight, font_file
from tussock.release.words import hold_units

Align = Literal["left", "center", "right"]
Point = tuple[float, float]

FIGURE_WIDTH = 170.0 / 25.4 * 72.0  # A4 less its margins [pt]
_SETTINGS = threading.Lock()  # matplotlib reads its SVG settings from one global table while it writes


@lru_cache(maxsize=64)
def _face(weight: Weight, size: float) -> FontProperties:
    return FontProperties(fname=str(font_file(weight)), size=size)


@lru_cache(maxsize=4096)
def text_width(text: str, size: float, weight: Weight = "regular") -> float:
    """Return the width of one line of text as it will be drawn. [pt]"""
    if not text:
        return 0.0
    width, _, _ = text_to_path.get_text_width_height_descent(text, _face(weight, size), False)
    return float(width)


def wrap(text: str, width: float, size: float, weight: Weight = "regular") -> tuple[str, ...]:
    """Break a text into lines no wider than `width` [pt]; a longer word, or a figure with its unit, stays whole."""
    lines: list[str] = []
    for word in unbroken(text):
        if lines and text_width(f"{lines[-1]} {word}", size, weight) <= width:
            lines[-1] = f"{lines[-1]} {word}"
        else:
            lines.append(word)
    return tuple(lines)


def unbroken(text: str) -> tuple[str, ...]:
    """Return the pieces of a text that no line may part: its words, and figures with their units.

    >>> unbroken("brake hose 8 mm left")
    ('brake', 'hose', '8 mm', 'left')
    """
    return tuple(w.replace("\N{NO-BREAK SPACE}", " ") for w in hold_units(text).split(" ") if w)


@dataclass(frozen=True, slots=True)
class Path:
    """A polyline [pt]; dash lengths are in units of its width."""

    points: tuple[Point, ...]
    colour: str
    width: float
    dash: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Dots:
    """A marker at every point; hollow ones are filled with the card's colour."""

    points: tuple[Point, ...]
    marker: str
    colour: str
    size: float
    hollow: bool


@dataclass(frozen=True, slots=True)
class Area:
    """A filled polygon without an edge."""

    points: tuple[Point, ...]
    fill: str
    alpha: float


@dataclass(frozen=True, slots=True)
class Ring:
    """A circle's edge."""

    centre: Point
    radius: float
    colour: str
    width: float
    dash: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Words:
    """One line of text with its baseline at `at`."""

    at: Point
    text: str
    size: float
    weight: Weight
    colour: str
    align: Align


Mark: TypeAlias = Path | Dots | Area | Ring | Words


class Canvas:
    """One sheet of `width` by `height` points on the card colour of `look`; what is on it stands in `marks`, in order.

    Nothing is drawn before somebody asks for a file: a page writes the same marks as elements of its own.
    """

    def __init__(self, width: float, height: float, look: Look) -> None:
        self.width = width
        self.height = height
        self.look = look
        self.marks: list[Mark] = []

    def line(self, points: Sequence[Point], colour: str, *, width: float = 0.8, dash: tuple[float, ...] = ()) -> None:
        """Draw a polyline; dash lengths are in units of its width."""
        self.marks.append(Path(tuple(points), colour, width, dash))

    def markers(
        self, points: Sequence[Point], marker: str, colour: str, *, size: float = 4.5, hollow: bool = False
    ) -> None:
        """Draw a marker at every point; hollow ones are filled with the card's colour."""
        self.marks.append(Dots(tuple(points), marker, colour, size, hollow))

    def area(self, points: Sequence[Point], fill: str, *, alpha: float = 1.0) -> None:
        """Fill a polygon without an edge."""
        self.marks.append(Area(tuple(points), fill, alpha))

    def bar(self, left: float, bottom: float, right: float, top: float, fill: str) -> None:
        """Fill a rectangle."""
        self.area([(left, bottom), (right, bottom), (right, top), (left, top)], fill)

    def circle(
        self, centre: Point, radius: float, colour: str, *, width: float = 0.8, dash: tuple[float, ...] = ()
    ) -> None:
        """Draw a circle's edge."""
        self.marks.append(Ring(centre, radius, colour, width, dash))

    def words(
        self,
        x: float,
        y: float,
        text: str,
        *,
        size: float = 8.5,
        weight: Weight = "regular",
        colour: str | None = None,
        align: Align = "left",
    ) -> None:
        """Write one line of text with its baseline at `y`."""
        self.marks.append(Words((x, y), text, size, weight, colour or self.look.ink, align))

    def lines_of_words(
        self,
        x: float,
        middle: float,
        lines: Sequence[str],
        *,
        size: float = 8.5,
        weight: Weight = "regular",
        colour: str | None = None,
        align: Align = "left",
    ) -> None:
        """Write lines of text as a block with its middle height at `middle`, cleared of what lies behind."""
        leading = line_height(size)
        wide = max((text_width(t, size, weight) for t in lines), default=0.0)
        left = x - wide * {"left": 0.0, "center": 0.5, "right": 1.0}[align]
        self.bar(
            left - 1.5,
            middle - 0.42 * leading * len(lines),
            left + wide + 1.5,
            middle + 0.42 * leading * len(lines),
            self.look.card,
        )
        top = middle + 0.5 * leading * len(lines)
        for i, text in enumerate(lines):
            # a third of the size below the middle of its line puts lower-case letters on the middle
            baseline = top - (i + 0.5) * leading - 0.33 * size
            self.words(x, baseline, text, size=size, weight=weight, colour=colour, align=align)

    def svg(self, key: str, title: str) -> str:
        """Return the sheet as SVG text; the same sheet gives the same text."""
        out = io.StringIO()
        figure = self._figure()
        with _SETTINGS, matplotlib.rc_context({"svg.hashsalt": key, "svg.fonttype": "path", "path.simplify": True}):
            figure.savefig(
                out, format="svg", dpi=72, metadata={"Date": None, "Creator": None, "Format": None, "Type": None}
            )
        return _titled(out.getvalue(), title)

    def png(self, *, dots_per_point: float = 2.5) -> bytes:
        """Return the sheet as a PNG picture."""
        out = io.BytesIO()
        figure = self._figure()
        with _SETTINGS:
            figure.savefig(out, format="png", dpi=72.0 * dots_per_point, metadata={"Software": None})
        return out.getvalue()

    def _figure(self) -> Figure:
        figure = Figure(figsize=(self.width / 72.0, self.height / 72.0), dpi=72, facecolor=self.look.card)
        FigureCanvasSVG(figure)
        for order, mark in enumerate(self.marks, 1):
            figure.add_artist(_artist(mark, self.look, figure.dpi_scale_trans, order))
        return figure


def _artist(mark: Mark, look: Look, place: Transform, order: int) -> Artist:
    """Return a mark as matplotlib draws it; sheets are in points, figures in inches."""
    common: dict[str, Any] = {"transform": place, "zorder": order}
    if isinstance(mark, Ring):
        centre = (mark.centre[0] / 72.0, mark.centre[1] / 72.0)
        dash = (0, mark.dash) if mark.dash else "-"
        return Circle(
            centre, mark.radius / 72.0, fill=False, edgecolor=mark.colour, linewidth=mark.width, linestyle=dash,
            **common,
        )  # fmt: skip
    if isinstance(mark, Words):
        return Text(
            mark.at[0] / 72.0, mark.at[1] / 72.0, mark.text, fontproperties=_face(mark.weight, mark.size),
            color=mark.colour, horizontalalignment=mark.align, verticalalignment="baseline", parse_math=False, **common,
        )  # fmt: skip
    if isinstance(mark, Area):
        points = [(x / 72.0, y / 72.0) for x, y in mark.points]
        return Polygon(points, closed=True, facecolor=mark.fill, alpha=mark.alpha, edgecolor="none", **common)
    xs, ys = [x / 72.0 for x, _ in mark.points], [y / 72.0 for _, y in mark.points]
    if isinstance(mark, Path):
        return Line2D(
            xs, ys, color=mark.colour, linewidth=mark.width, linestyle=(0, mark.dash) if mark.dash else "-",
            solid_capstyle="butt", solid_joinstyle="round", **common,
        )  # fmt: skip
    return Line2D(
        xs, ys, linestyle="none", marker=mark.marker, markersize=mark.size, markeredgecolor=mark.colour,
        markeredgewidth=0.9, markerfacecolor=look.card if mark.hollow else mark.colour, **common,
    )  # fmt: skip


def line_height(size: float) -> float:
    """Return the height of one line of text of a size. [pt]

    >>> line_height(10.0)
    12.0
    """
    return 1.2 * size


def _titled(svg: str, title: str) -> str:
    """Say what the picture is to a screen reader, and drop the document type that some readers stumble on."""
    svg = re.sub(r"<!DOCTYPE[^>]*>\s*", "", svg)
    svg = re.sub(r"\s*<metadata>.*?</metadata>", "", svg, flags=re.S)
    return re.sub(
        r"(<svg\b[^>]*)>", lambda m: f'{m[1]} role="img">\n <title>{html.escape(title)}</title>', svg, count=1
    )
