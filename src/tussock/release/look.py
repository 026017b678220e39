"""The look: colours, faces of type and the dash and marker of each series, for every picture and page.

The five series colours were chosen by maximising the smallest distance in the CAM02-UCS colour space under full
deuteranomaly, protanomaly and tritanomaly, with contrast above 3:1 on paper. Colour never stands alone: every series
has its own dash and marker, and what needs attention carries a triangle.
"""

from __future__ import annotations

from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Literal

Weight = Literal["regular", "semibold", "italic", "serif"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Look:
    """Colours of one theme as ``#RRGGBB``.

    Attributes
    ----------
    paper, card, rail : str
        Surfaces: page, picture card, side rail.
    ink, soft, line : str
        Text, secondary text, rules and grid.
    stock_fill, stock_line : str
        The vehicle as measured: fill of its bars, its dashed line.
    series : tuple of str
        Builds in order of choice.
    attention, answered : str
        What governs or fails; what is answered.
    """

    paper: str
    card: str
    rail: str
    ink: str
    soft: str
    line: str
    stock_fill: str
    stock_line: str
    series: tuple[str, str, str, str, str]
    attention: str
    answered: str


LIGHT = Look(
    paper="#FAF8F2",
    card="#FFFFFF",
    rail="#EFEBDF",
    ink="#23282A",
    soft="#5E6662",
    line="#DDD8CA",
    stock_fill="#DAD5C6",
    stock_line="#8A8577",
    series=("#528DCA", "#B58427", "#AF3408", "#046A53", "#79387F"),
    attention="#AF3408",
    answered="#046A53",
)

DARK = Look(
    paper="#15191A",
    card="#1D2224",
    rail="#101415",
    ink="#E8E6DF",
    soft="#A3AAA5",
    line="#333A3C",
    stock_fill="#3A4042",
    stock_line="#8C918E",
    series=("#7CBAE5", "#B38012", "#F19770", "#A2EEC4", "#A768CD"),
    attention="#F19770",
    answered="#A2EEC4",
)

# Dash lengths in units of the line's width (empty: solid) and the marker of each series.
DASHES: tuple[tuple[float, ...], ...] = ((), (5.0, 1.8), (1.2, 1.4), (6.0, 1.6, 1.2, 1.6), (2.6, 1.4))
MARKERS: tuple[str, ...] = ("o", "s", "X", "D", "v")
STOCK_DASH: tuple[float, ...] = (3.2, 2.2)
TARGET_DASH: tuple[float, ...] = (7.0, 1.8, 1.2, 1.8, 1.2, 1.8)

# State of a stage as shape and word, never colour alone.
STATE_SHAPES = {"answered": "●", "look": "▲", "open": "○"}

_FILES: dict[Weight, str] = {
    "regular": "SourceSans3-Regular.ttf",
    "semibold": "SourceSans3-SemiBold.ttf",
    "italic": "SourceSans3-Italic.ttf",
    "serif": "SourceSerif4-SemiBold.ttf",
}


def font_folder() -> Path:
    """Return the folder of the fonts that come with Tussock."""
    return Path(str(files("tussock") / "data" / "fonts"))


def font_file(weight: Weight) -> Path:
    """Return the font file of one weight.

    >>> font_file("serif").name
    'SourceSerif4-SemiBold.ttf'
    """
    return font_folder() / _FILES[weight]
