"""A line chart as plain data for a page: flat figures in the units that people read, strokes as tokens of the look."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

from tussock.release.figures.scale import axis_title, shown
from tussock.release.figures.style import Stroke, fixed_stroke, label_of, strokes
from tussock.release.look import Look
from tussock.studies.display import KINDS
from tussock.studies.result import Axis, LineChart, Picture

TOKENS = Look(
    paper="paper",
    card="card",
    rail="rail",
    ink="ink",
    soft="soft",
    line="line",
    stock_fill="stock-fill",
    stock_line="stock-line",
    series=("series-1", "series-2", "series-3", "series-4", "series-5"),
    attention="attention",
    answered="answered",
)
"""The look with the names of its tokens in place of colours: whoever draws knows which theme is on."""

_POINTS = 8  # curves of fewer points are read off their labels; there a drawn picture says as much
_FIGURES = 6  # significant figures that go over the wire


def is_read(picture: Picture) -> bool:
    """Return whether reading a picture's values at a pointer says more than the picture: whether it has curves."""
    return isinstance(picture, LineChart) and any(len(line.x) >= _POINTS and not line.dots for line in picture.lines)


def chart_json(chart: LineChart) -> dict[str, Any]:
    """Return a line chart as JSON values; lines, bands and marks in the units shown, a gap as None."""
    taken = strokes([(line.label, line.role) for line in chart.lines], TOKENS)
    across, up = chart.x.kind, chart.y.kind
    return {
        "title": chart.title,
        "x": _axis(chart.x),
        "y": _axis(chart.y),
        "lines": [
            {
                "label": label_of(line.label, line.role),
                "x": _flat(line.x, across),
                "y": _flat(line.y, up),
                "dots": line.dots,
                "marked": line.marked and not line.dots,
                "stroke": _stroke(taken[(line.label, line.role)]),
            }
            for line in chart.lines
        ],
        "bands": [
            {
                "label": band.label,
                "x": _flat(band.x, across),
                "low": _flat(band.low, up),
                "high": _flat(band.high, up),
                "stroke": _stroke(fixed_stroke(band.role, TOKENS)),
            }
            for band in chart.bands
        ],
        "marks": [
            {
                "text": label_of(mark.text, mark.role),
                "x": None if mark.x is None else _rounded(shown(mark.x, across)),
                "y": None if mark.y is None else _rounded(shown(mark.y, up)),
                "stroke": _stroke(fixed_stroke(mark.role, TOKENS)),
            }
            for mark in chart.marks
        ],
    }


def _axis(axis: Axis) -> dict[str, Any]:
    rule = KINDS[axis.kind]
    return {
        "title": axis.title,
        "words": axis_title(axis.title, axis.kind),
        "unit": rule.unit,
        "digits": rule.digits + 1 if rule.digits < 2 else rule.digits,  # read off a curve, one digit more is fair
    }


def _stroke(stroke: Stroke) -> dict[str, Any]:
    return {
        "token": stroke.colour,
        "width": stroke.width,
        "dash": [round(stroke.width * d, 2) for d in stroke.dash],
        "marker": stroke.marker,
        "bold": stroke.weight == "semibold",
    }


def _flat(values: Iterable[float], kind: str) -> list[float | None]:
    return [_rounded(shown(v, kind)) for v in values]


def _rounded(value: float) -> float | None:
    return float(f"{value:.{_FIGURES}g}") if math.isfinite(value) else None
