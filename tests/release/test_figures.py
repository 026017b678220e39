"""Pictures: they parse, repeat, keep labels apart and stay to scale."""

from __future__ import annotations

import itertools
import math
import re
import xml.etree.ElementTree as ET

import matplotlib
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sample_results import axle_drawing, damper_chart, row_chart, travel_chart

from tussock.release.figures import picture_svg
from tussock.release.figures.board import draw_board
from tussock.release.figures.canvas import FIGURE_WIDTH, Area, Words, line_height, text_width, wrap
from tussock.release.figures.drawing import POINTS_PER_METRE, bar_length, standard_scale
from tussock.release.figures.ladders import draw_ladders
from tussock.release.figures.notes import Box, Note, place_flags, place_notes
from tussock.release.figures.rows import draw_rows
from tussock.release.figures.scale import Scale, tick_texts, ticks_over
from tussock.release.figures.spans import draw_spans, label_room, place_bars, place_rungs
from tussock.release.figures.style import strokes
from tussock.release.look import DARK, LIGHT
from tussock.release.picture_data import picture_csv
from tussock.release.report import describe
from tussock.studies.result import (
    Axis,
    Board,
    BoardCell,
    Drawing,
    Line,
    LineChart,
    Mark,
    Picture,
    Role,
    Row,
    RowChart,
    Rung,
    Shape,
    Span,
    SpanChart,
)

PICTURES = [travel_chart(), damper_chart(), axle_drawing(), row_chart(), row_chart(bars=True)]
SVG = "{http://www.w3.org/2000/svg}"


@pytest.mark.parametrize("picture", PICTURES, ids=lambda p: p.key)
@pytest.mark.parametrize("look", [LIGHT, DARK], ids=["light", "dark"])
def test_picture_is_well_formed_and_repeats(picture: Picture, look: object) -> None:
    first = picture_svg(picture, look=look)  # type: ignore[arg-type]
    root = ET.fromstring(first)
    assert root.tag == f"{SVG}svg"
    assert root.findtext(f"{SVG}title") == picture.title
    assert float(root.attrib["width"].removesuffix("pt")) == pytest.approx(FIGURE_WIDTH, abs=1e-4)
    assert picture_svg(picture, look=look) == first  # type: ignore[arg-type]
    assert "dc:date" not in first
    assert not re.search(r"<text\b", first), "words are paths, so that no font is needed"


def test_settings_of_the_user_change_nothing() -> None:
    plain = picture_svg(damper_chart())
    with matplotlib.rc_context({"lines.linewidth": 9.0, "font.size": 30.0, "axes.facecolor": "red"}):
        assert picture_svg(damper_chart()) == plain
    assert matplotlib.rcParams["svg.hashsalt"] is None


def test_dollar_and_angle_bracket_are_words() -> None:
    chart = LineChart(
        key="odd",
        title="a < b & $x_1$",
        x=Axis(title="time $", kind="time"),
        y=Axis(title="force", kind="force"),
        lines=(Line(label="$a$ <b>", x=(0.0, 1.0), y=(0.0, 1.0)),),
    )
    assert ET.fromstring(picture_svg(chart)).findtext(f"{SVG}title") == "a < b & $x_1$"


def test_gaps_empty_charts_and_flat_lines_draw() -> None:
    x, y = Axis(title="time", kind="time"), Axis(title="force", kind="force")
    nan = math.nan
    for lines in (
        (),
        (Line(label="gap", x=(0.0, 1.0, 2.0, 3.0), y=(1.0, nan, 2.0, 3.0)),),
        (Line(label="all gaps", x=(nan, nan), y=(nan, nan)),),
        (Line(label="flat", x=(0.0, 1.0), y=(5.0, 5.0)),),
        (Line(label="one point", x=(2.0,), y=(0.0,), dots=True),),
    ):
        ET.fromstring(picture_svg(LineChart(key="k", title="t", x=x, y=y, lines=lines)))
    ET.fromstring(picture_svg(SpanChart(key="k", title="t", y=y, spans=())))
    ET.fromstring(picture_svg(Drawing(key="k", title="t", plane="x-z", shapes=())))
    ET.fromstring(picture_svg(RowChart(key="k", title="t", x=y, rows=())))
    bad = Row(label="no figure", at=nan, low=nan, high=nan)
    ET.fromstring(
        picture_svg(RowChart(key="k", title="t", x=y, rows=(bad, Row(label="all", at=0.0, low=0.0, high=0.0))))
    )


def board(columns: int, *, at: float = 0.030) -> Board:
    """Cells wanted at 35 +- 10 mm, the first of each row chosen."""
    cells = tuple(
        BoardCell(at=at, low=0.025, high=0.045, words="holds" if at > 0.025 else "5 mm too low", chosen=i == 0)
        for i in range(columns)
    )
    names = tuple(("Front" if i < 2 else "Rear", f"spring {i}") for i in range(columns))
    return Board(key="b", title="Heights", figure=Axis(title="height", kind="length"), columns=names,
                 rows=(("bare", cells), ("laden", cells)))  # fmt: skip


def test_a_board_stacks_what_does_not_fit_and_keeps_every_word_on_the_sheet() -> None:
    wide, narrow = draw_board(board(4), LIGHT), draw_board(board(4), LIGHT, width=250.0)
    assert narrow.height > 1.8 * wide.height  # the groups stand one below the other
    for canvas in (wide, narrow, draw_board(board(9), LIGHT, width=250.0)):
        for mark in canvas.marks:
            if isinstance(mark, Words) and mark.align == "left":
                assert mark.at[0] + text_width(mark.text, mark.size, mark.weight) <= canvas.width + 0.5
        assert not [m for m in canvas.marks if isinstance(m, Words) and m.text.endswith("…")]
    ET.fromstring(picture_svg(Board(key="k", title="t", figure=Axis(title="z", kind="length"), columns=(), rows=())))


def test_what_misses_is_told_by_shape_and_word_and_the_figures_go_out_as_text() -> None:
    def signs(at: float) -> list[str]:
        return [m.text.strip() for m in draw_board(board(1, at=at), LIGHT).marks if isinstance(m, Words)]

    assert signs(0.020).count("▲") == 2
    assert "5 mm too low" in signs(0.020)
    assert signs(0.030).count("●") == 2
    lines = picture_csv(board(2)).splitlines()
    assert lines[0] == "row,group,column,at [mm],wanted from [mm],to [mm],chosen,words"
    assert lines[1] == "bare,Front,spring 0,30.00,25.00,45.00,yes,holds"
    assert "bare Front spring 0 holds" in describe(board(1))


def test_ladders_stand_two_by_two_or_below_each_other_with_no_label_over_a_bar() -> None:
    rungs = tuple(Rung(text=f"limiter {i} {10 * i}", at=0.02 * i - 0.09, governs=i in (1, 8)) for i in range(10))
    spans = tuple(
        Span(group=group, label=label, low=-0.07, high=0.07, role=role, rungs=rungs)  # type: ignore[arg-type]
        for group in ("Front left", "Front right", "Rear left", "Rear right")
        for label, role in (("stock", "stock"), ("kit +35 mm", "build"))
    )
    chart = SpanChart(key="k", title="t", y=Axis(title="travel", kind="length"), spans=spans, paired=True)
    wide, narrow = draw_ladders(chart, LIGHT, width=482.0), draw_ladders(chart, LIGHT, width=250.0)
    assert narrow.height > 1.8 * wide.height
    for canvas in (wide, narrow):
        bars = [m for m in canvas.marks if isinstance(m, Area) and m.fill not in (LIGHT.card,)]
        edges = [(min(x for x, _ in b.points), max(x for x, _ in b.points)) for b in bars]
        labels = [m for m in canvas.marks if isinstance(m, Words) and "limiter" in m.text]
        assert len(labels) >= 80
        for label in labels:
            size = text_width(label.text, label.size, label.weight)
            start = label.at[0] - (size if label.align == "right" else 0.0)
            assert start >= 0.0
            assert start + size <= canvas.width
            assert not any(low < start + size and start < high for low, high in edges)


def test_thirty_lines_and_forty_rungs_make_the_picture_grow() -> None:
    many = tuple(Line(label=f"section {i} of the loop", x=(0.0, 1.0), y=(0.0, 1.0)) for i in range(30))
    x, y = Axis(title="time", kind="time"), Axis(title="force", kind="force")
    tall = ET.fromstring(picture_svg(LineChart(key="k", title="t", x=x, y=y, lines=many)))
    assert float(tall.attrib["height"].removesuffix("pt")) > 300.0
    rungs = tuple(Rung(text=f"limiter {i}", at=0.001 * i) for i in range(40))
    span = Span(group="Front", label="kit", low=-0.08, high=0.08, rungs=rungs)
    tall = ET.fromstring(picture_svg(SpanChart(key="k", title="t", y=Axis(title="z", kind="length"), spans=(span,))))
    assert float(tall.attrib["height"].removesuffix("pt")) > 400.0


def test_rows_make_the_picture_grow_and_keep_their_order() -> None:
    few, many = (
        draw_rows(
            RowChart(
                key="k",
                title="t",
                x=Axis(title="change", kind="share"),
                rows=tuple(
                    Row(label=f"build {i}", at=0.01 * i, low=0.0, high=0.02 * i, text="noise") for i in range(n)
                ),
            ),
            LIGHT,
        )
        for n in (3, 40)
    )
    assert many.height > few.height + 36 * line_height(8.5)
    assert many.width == few.width == FIGURE_WIDTH


def test_a_long_title_of_an_axis_stays_on_a_narrow_sheet() -> None:
    title = "effect from the low end of its range to the high end (left is better)"
    rows = (Row(label="front rebound", at=0.05, low=0.04, high=0.06),)
    canvas = draw_rows(RowChart(key="k", title="t", x=Axis(title=title, kind="share"), rows=rows), LIGHT, width=250.0)
    written = [m for m in canvas.marks if isinstance(m, Words) and m.align == "center" and m.text[:1].isalpha()]
    assert " ".join(m.text for m in written).startswith("effect from the low end")
    for mark in written:
        half = 0.5 * text_width(mark.text, mark.size, mark.weight)
        assert mark.at[0] - half >= 0.0
        assert mark.at[0] + half <= canvas.width


def test_a_row_without_a_figure_draws_no_marker() -> None:
    x = Axis(title="change", kind="share")
    nan = math.nan

    def drawn(at: float) -> str:
        return picture_svg(RowChart(key="k", title="t", x=x, rows=(Row(label="a", at=at, low=at, high=at),)))

    colour = LIGHT.series[0].lower()
    assert colour in drawn(0.1).lower()
    assert colour not in drawn(nan).lower()


@given(
    st.lists(
        st.tuples(st.floats(-0.3, 0.3), st.sampled_from(["hose", "damper open, 12 mm left", "a " * 30]), st.booleans()),
        min_size=1,
        max_size=8,
    ),
    st.floats(60.0, 150.0),
)
def test_rung_labels_never_overlap(items: list[tuple[float, str, bool]], width: float) -> None:
    rungs = tuple(Rung(text=text, at=at, governs=governs) for at, text, governs in items)
    placed = place_rungs(rungs, "length", Scale(-150.0, 150.0, 0.0, 900.0), width=width)
    placed = tuple(sorted(placed, key=lambda p: p.place))
    for below, above in itertools.pairwise(placed):
        assert above.place - 0.5 * above.height >= below.place + 0.5 * below.height - 1e-9
    for label in placed:
        assert all(text_width(line, 8.5) <= width + 1e-9 for line in label.lines if " " in line)


@given(st.lists(st.tuples(st.integers(2, 14), st.integers(2, 6)), min_size=2, max_size=8, unique=True))
def test_names_of_points_keep_off_each_other(cells: list[tuple[int, int]]) -> None:
    at = [(30.0 * x, 30.0 * y) for x, y in cells]
    notes = [Note(p, f"section {i}") for i, p in enumerate(at)]
    placed = place_notes(notes, at, Box(0.0, 0.0, 480.0, 220.0))
    for (here, _), (there, _) in itertools.combinations(placed, 2):
        assert not here.overlaps(there)


@given(st.lists(st.floats(40.0, 400.0), min_size=1, max_size=8))
def test_flags_meet_neither_each_other_nor_a_line(at: list[float]) -> None:
    flags = place_flags(at, [f"mark number {i}" for i in range(len(at))], right_end=470.0)
    boxes = [(f.level, f.left, f.left + max(text_width(t, 8.5, "semibold") for t in f.lines)) for f in flags]
    for i, (level, left, right) in enumerate(boxes):
        assert right <= 470.0
        for j, (other, near, far) in enumerate(boxes):
            if i != j and level == other:
                assert right <= near or far <= left
            if i != j and other < level and len(set(at)) == len(at):
                assert not near < at[i] < far or other > len(at)


HOSE = Rung(text="brake hose, 8 mm left", at=0.0)


def bars(counts: list[int]) -> SpanChart:
    spans = tuple(
        Span(group="Rear" if 2 * i >= len(counts) else "Front", label="kit", low=-0.08, high=0.08, rungs=(HOSE,) * n)
        for i, n in enumerate(counts)
    )
    return SpanChart(key="c", title="t", y=Axis(title="z", kind="length"), spans=spans)


@given(st.lists(st.integers(0, 6), min_size=1, max_size=8), st.floats(100.0, 900.0))
def test_bars_and_their_labels_stay_apart(counts: list[int], width: float) -> None:
    chart = bars(counts)
    places = place_bars(chart.spans, label_room(chart.spans, width), left=10.0)
    for here, there in itertools.pairwise(places):
        assert here.right < there.left


def test_sheet_keeps_its_width_until_the_narrowest_labels_do_not_fit() -> None:
    assert draw_spans(bars([0, 3, 0, 3]), LIGHT).width == FIGURE_WIDTH
    assert draw_spans(bars([0, 3, 3, 0]), LIGHT).width == FIGURE_WIDTH
    six = draw_spans(bars([3] * 6), LIGHT)  # each group in a plot of its own
    assert six.width == FIGURE_WIDTH
    assert six.height > draw_spans(bars([3] * 2), LIGHT).height
    assert draw_spans(bars([3] * 16), LIGHT).width > FIGURE_WIDTH


def test_first_build_of_every_group_looks_the_same() -> None:
    spans = tuple(Span(group=g, label=f"kit {g}", low=-0.1, high=0.1) for g in ("Front", "Rear"))
    svg = picture_svg(SpanChart(key="c", title="t", y=Axis(title="z", kind="length"), spans=spans))
    assert svg.count(f"fill: {LIGHT.series[0].lower()}") == 2
    assert LIGHT.series[1].lower() not in svg


def test_every_series_has_its_own_dash_and_marker() -> None:
    named: list[tuple[str, Role]] = [(f"build {i}", "build") for i in range(5)]
    found = strokes(named, LIGHT)
    assert len({s.dash for s in found.values()}) == 5
    assert len({s.marker for s in found.values()}) == 5
    assert len({s.colour for s in found.values()}) == 5
    ten = strokes([(f"build {i}", "build") for i in range(10)], LIGHT)
    assert len({(s.colour, s.dash) for s in ten.values()}) == 10


def test_stock_is_always_dashed_grey_whatever_the_order() -> None:
    for named in ([("stock", "stock"), ("kit", "build")], [("kit", "build"), ("stock", "stock")]):
        found = strokes(named, LIGHT)  # type: ignore[arg-type]
        assert found[("stock", "stock")].colour == LIGHT.stock_line
        assert found[("stock", "stock")].dash
        assert found[("kit", "build")].colour == LIGHT.series[0]


@pytest.mark.literature
def test_scales_are_those_recommended() -> None:
    # ISO 5455:1979, table 1: full size 1:1, reductions 1:2, 1:5, 1:10 and decades of them (from memory)
    assert standard_scale(0.06, 0.05, room_width=0.06, room_height=0.05) == (1, 1)
    assert standard_scale(0.12, 0.05, room_width=0.06, room_height=0.05) == (1, 2)
    assert standard_scale(0.121, 0.05, room_width=0.06, room_height=0.05) == (1, 5)
    assert standard_scale(0.012, 0.01, room_width=0.06, room_height=0.05) == (5, 1)


@given(st.floats(1e-3, 20.0), st.floats(1e-3, 8.0))
def test_scaled_object_fits_its_place(width: float, height: float) -> None:
    drawn, true = standard_scale(width, height, room_width=0.14, room_height=0.1)
    assert width * drawn / true <= 0.14
    assert height * drawn / true <= 0.1


def test_drawing_is_to_the_scale_it_says() -> None:
    # a 1 m square: its sides in the SVG must be one metre times the scale, both ways
    square = Shape(label="", points=((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)), closed=True)
    svg = picture_svg(Drawing(key="k", title="t", plane="x-z", shapes=(square,)))
    drawn, true = standard_scale(
        1.0, 1.0, room_width=(FIGURE_WIDTH - 20) / POINTS_PER_METRE, room_height=300 / POINTS_PER_METRE
    )
    side = POINTS_PER_METRE * drawn / true
    fills = [
        p.attrib["d"] for p in ET.fromstring(svg).iter(f"{SVG}path") if "opacity: 0.14" in p.attrib.get("style", "")
    ]
    numbers = [float(n) for n in re.findall(r"-?\d+\.?\d*", fills[0])]
    xs, ys = numbers[0::2], numbers[1::2]
    assert max(xs) - min(xs) == pytest.approx(side, abs=1e-3)
    assert max(ys) - min(ys) == pytest.approx(side, abs=1e-3)


def test_scale_bar_is_round_and_shorter_than_the_drawing() -> None:
    for metres in (0.003, 0.07, 0.9, 2.9, 14.0):
        length = bar_length(metres)
        assert length <= 0.25 * metres
        assert round(length / 10 ** math.floor(math.log10(length) + 1e-9), 9) in (1.0, 2.0, 5.0)


def test_ticks_cover_and_read_with_a_true_minus() -> None:
    assert ticks_over(0.2, 0.2, 5)[0] < 0.2 < ticks_over(0.2, 0.2, 5)[-1]
    assert tick_texts((-0.25, 0.0, 0.25), sign=True) == ("−0.25", "0.00", "+0.25")


@given(st.floats(-1e4, 1e4), st.floats(1e-3, 1e4))
def test_ticks_cover_any_range(low: float, extent: float) -> None:
    ticks = ticks_over(low, low + extent, 6)
    slack = 1e-9 * (abs(low) + extent)
    assert ticks[0] <= low + slack
    assert ticks[-1] >= low + extent - slack
    assert len(set(tick_texts(ticks))) == len(ticks)


def test_wrapping_keeps_every_word() -> None:
    text = "build C, firmer in rebound and in bump than everything that was tried before"
    lines = wrap(text, 80.0, 8.5)
    assert " ".join(lines) == text
    assert all(text_width(line, 8.5) <= 80.0 for line in lines)


def test_points_and_marks_across_the_plot_draw() -> None:
    chart = LineChart(
        key="k",
        title="t",
        x=Axis(title="time", kind="time"),
        y=Axis(title="force", kind="force"),
        lines=(Line(label="a", x=(0.0, 1.0), y=(0.0, 1.0)),),
        marks=tuple(Mark(text=f"note {i}", x=0.5, y=0.5, role="governs" if i else "plain") for i in range(4)),
    )
    ET.fromstring(picture_svg(chart))
