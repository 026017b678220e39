"""Row chart: open ends have no cap, marks stand at their levels, and a narrow sheet keeps room to plot."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import pytest

from tussock.release.figures import picture_svg
from tussock.release.figures.canvas import Canvas
from tussock.release.figures.rows import draw_rows
from tussock.release.look import DARK, LIGHT
from tussock.studies.result import Axis, Mark, Row, RowChart

ROW = Row(
    label="compression, middle speed", group="Front", at=1.0, low=-2.0, high=3.0, open_high=True,
    text="open, 5.0 wide · try +56 %", role="governs",
    marks=(Mark(text="|", x=1.0), Mark(text=">", x=-1.0), Mark(text="<", x=4.0), Mark(text="o", x=2.0, role="governs")),
)  # fmt: skip
CHART = RowChart(
    key="windows", title="Windows of the adjusters, from too soft to too firm", x=Axis(title="steps", kind="count"),
    rows=(ROW, Row(label="spring rate", group="Front", at=0.0, low=-3.0, high=5.0, role="plain", text="not driven")),
    zero_label="stock", alike=True, note="A line holds the sweet spot in 90 of 100; dots: that end was not felt yet.",
)  # fmt: skip


class Drawn:
    """What was put on the sheet."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.markers: list[tuple[float, str]] = []
        self.lines: list[tuple[list[tuple[float, float]], tuple[float, ...]]] = []
        markers, line = Canvas.markers, Canvas.line

        def put(canvas, points, marker, *a, **k):  # type: ignore[no-untyped-def]
            self.markers += [(x, marker) for x, _ in points]
            markers(canvas, points, marker, *a, **k)

        def stroke(canvas, points, *a, **k):  # type: ignore[no-untyped-def]
            self.lines.append((list(points), k.get("dash", ())))
            line(canvas, points, *a, **k)

        monkeypatch.setattr(Canvas, "markers", put)
        monkeypatch.setattr(Canvas, "line", stroke)


@pytest.mark.parametrize("width", [482.0, 300.0])
@pytest.mark.parametrize("look", [LIGHT, DARK], ids=["light", "dark"])
def test_marks_stand_in_order_and_open_ends_are_dotted(monkeypatch: pytest.MonkeyPatch, width: float, look) -> None:  # type: ignore[no-untyped-def]
    drawn = Drawn(monkeypatch)
    canvas = draw_rows(CHART, look, width=width)
    assert canvas.width == width
    order = [marker for _, marker in sorted(drawn.markers)]
    assert order == [">", "o", "<"], "alike rows have no point of their own but their marks"
    room = max(x for x, _ in drawn.markers) - min(x for x, _ in drawn.markers)
    assert room > 0.15 * width, "seven of nine steps keep a part of the sheet"
    dotted = [points for points, dash in drawn.lines if dash]
    assert len(dotted) == 1, "one open end"
    (start, end) = dotted[0]
    assert end[0] > start[0], "out to the firm side"
    everything = [x for points, _ in drawn.lines for x, _ in points]
    assert min(everything) >= 0.0
    assert max(everything) <= width


def test_the_picture_says_what_it_is_and_repeats() -> None:
    first = picture_svg(CHART, width=300.0)
    assert picture_svg(CHART, width=300.0) == first
    assert ET.fromstring(first).findtext("{http://www.w3.org/2000/svg}title") == CHART.title
