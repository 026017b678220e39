"""Pictures as elements of a page: they parse, say what the files say, and take every colour from the style sheet."""

from __future__ import annotations

import dataclasses
import re
import xml.etree.ElementTree as ET

import pytest
from sample_results import axle_drawing, damper_chart, row_chart, travel_chart

from tussock.release.figures import picture_inline
from tussock.release.figures.canvas import Canvas, Dots, Words
from tussock.release.figures.inline import canvas_inline
from tussock.release.figures.picture import sheet
from tussock.release.look import LIGHT
from tussock.studies.result import Picture
from tussock.web.css import stylesheet

PICTURES = [travel_chart(), damper_chart(), axle_drawing(), row_chart(), row_chart(bars=True)]
SVG = "{http://www.w3.org/2000/svg}"


@pytest.mark.parametrize("width", [482.0, 250.0])
@pytest.mark.parametrize("picture", PICTURES, ids=lambda p: p.key)
def test_a_page_shows_the_words_of_the_file_in_its_own_colours(picture: Picture, width: float) -> None:
    written = picture_inline(picture, width=width)
    root = ET.fromstring(written)
    assert root.attrib["role"] == "img"
    assert root.findtext(f"{SVG}title") == picture.title
    wanted = [m.text for m in sheet(picture, LIGHT, width).marks if isinstance(m, Words)]
    assert [t.text or "" for t in root.iter(f"{SVG}text")] == wanted
    assert not re.search(r"#[0-9A-Fa-f]{6}", written), "a colour of one theme would be wrong in the other"
    tokens = set(re.findall(r"var\((--[\w-]+)\)", written))
    assert tokens <= set(re.findall(r"(--[\w-]+):", stylesheet()))


def test_points_stand_where_the_sheet_has_them_upside_down() -> None:
    canvas = Canvas(100.0, 80.0, LIGHT)
    canvas.line([(10.0, 20.0), (30.0, 70.0)], LIGHT.ink, width=2.0, dash=(3.0, 1.0))
    line = ET.fromstring(canvas_inline(canvas, "one line")).find(f"{SVG}polyline")
    assert line is not None
    assert line.attrib["points"] == "10.00,60.00 30.00,10.00"
    assert line.attrib["stroke"] == "var(--ink)"
    assert line.attrib["stroke-dasharray"] == "6.00 2.00"  # a dash counts in widths of its line


def test_every_marker_is_drawn() -> None:
    canvas = Canvas(100.0, 80.0, LIGHT)
    for marker in ("o", "s", "X", "D", "v", "^", "<", ">", "|"):
        canvas.markers([(10.0, 20.0), (30.0, 40.0)], marker, LIGHT.ink)
    dots = [m for m in canvas.marks if isinstance(m, Dots)]
    drawn = list(ET.fromstring(canvas_inline(canvas, "markers")))[1:]
    assert len(drawn) == sum(len(m.points) for m in dots)


def test_what_people_write_is_no_markup() -> None:
    chart = dataclasses.replace(damper_chart(), title="<script>x</script> & more")
    root = ET.fromstring(picture_inline(chart, width=482.0))
    assert root.findtext(f"{SVG}title") == "<script>x</script> & more"
    assert not list(root.iter(f"{SVG}script"))
