"""A line chart as plain data for a page: the same figures and strokes as its picture and its CSV."""

from __future__ import annotations

import csv
import io
import json
import math

import pytest

from tussock.release.chart_json import TOKENS, chart_json, is_read
from tussock.release.look import DASHES, MARKERS
from tussock.release.picture_data import picture_csv
from tussock.studies.result import Axis, Band, Drawing, Line, LineChart, Mark

SPEEDS = tuple(0.01 * i for i in range(-20, 21))
CHART = LineChart(
    key="force",
    title="Force",
    x=Axis(title="wheel travel", kind="length"),
    y=Axis(title="oil", kind="temperature"),
    lines=(
        Line(label="stock", x=SPEEDS, y=tuple(293.15 + v for v in SPEEDS), role="stock"),
        Line(label="B1", x=SPEEDS, y=tuple(303.15 if v else math.nan for v in SPEEDS)),
        Line(label="B2", x=SPEEDS, y=tuple(313.15 for _ in SPEEDS)),
        Line(label="stop", x=(0.1,), y=(300.0,), role="governs", dots=True),
    ),
    bands=(Band(label="permitted", x=(-0.1, 0.1), low=(283.15, 283.15), high=(323.15, 323.15)),),
    marks=(Mark(text="here", x=0.05), Mark(text="too hot", y=353.15, role="governs")),
)


def test_figures_are_those_of_the_csv_in_the_units_shown() -> None:
    told = chart_json(CHART)
    json.dumps(told, allow_nan=False)
    rows = list(csv.reader(io.StringIO(picture_csv(CHART))))[1:]
    written = [(float(x), float(y)) for label, _, x, y in rows if label == "B2"]
    line = next(one for one in told["lines"] if one["label"] == "B2")
    assert line["x"] == pytest.approx([x for x, _ in written], abs=0.51)
    assert line["y"] == pytest.approx([y for _, y in written], abs=0.51)
    assert line["x"][0] == pytest.approx(-200.0)
    assert line["y"][0] == pytest.approx(40.0)
    assert (told["x"]["unit"], told["y"]["unit"]) == ("mm", "°C")
    assert told["bands"][0]["high"] == pytest.approx([50.0, 50.0])
    assert told["marks"][1]["y"] == pytest.approx(80.0)


def test_a_gap_stays_a_gap() -> None:
    line = chart_json(CHART)["lines"][1]
    assert [i for i, y in enumerate(line["y"]) if y is None] == [20]


def test_curves_are_told_apart_without_colour() -> None:
    stock, first, second, stop = (line["stroke"] for line in chart_json(CHART)["lines"])
    assert (first["token"], second["token"]) == ("series-1", "series-2")
    assert (first["marker"], second["marker"]) == MARKERS[:2]
    assert len(first["dash"]) == len(DASHES[0])
    assert len(second["dash"]) == len(DASHES[1])
    assert stock["token"] == "stock-line"
    assert stock["dash"]
    assert stop["token"] == "attention"
    assert chart_json(CHART)["lines"][3]["label"].startswith("▲")


def test_tokens_are_those_of_the_style_sheet() -> None:
    from tussock.web.css import stylesheet

    sheet = stylesheet()
    for token in (TOKENS.ink, TOKENS.soft, TOKENS.stock_line, TOKENS.attention, *TOKENS.series):
        assert sheet.count(f"--{token}:") == 2, "one for each theme"


def test_what_has_no_curve_stays_a_picture() -> None:
    assert is_read(CHART)
    points = LineChart(
        key="m", title="m", x=CHART.x, y=CHART.y, lines=(Line(label="a", x=(1.0,), y=(1.0,), dots=True),)
    )
    assert not is_read(points)
    assert not is_read(Drawing(key="d", title="d", plane="side", shapes=()))
