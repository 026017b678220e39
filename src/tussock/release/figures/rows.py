"""Row chart: figures with their intervals, one below the other on one axis, each with its words beside it."""

from __future__ import annotations

import math

from tussock.release.figures.canvas import FIGURE_WIDTH, Canvas, line_height, text_width, wrap
from tussock.release.figures.scale import Scale, axis_title, finite, shown, tick_texts, ticks_over
from tussock.release.figures.style import Stroke, fixed_stroke, label_of, strokes
from tussock.release.look import Look, Weight
from tussock.studies.result import Mark, Row, RowChart

SIZE = 8.5
_WIDEST_LABEL = 150.0
_WIDEST_TEXT = 120.0
_LABEL_SHARE, _TEXT_SHARE = 0.33, 0.27  # of a narrow sheet
_TICK_ROOM = 24.0
_PAD = 5.0  # above and below the words of a row
_GROUP_HEAD = 19.0
_CAP = 3.0  # half the height of the stroke that ends an interval
_BAR = 3.6  # half the height of a bar
_TAIL = 9.0  # length of the dots past an open end
_ACROSS = 5.0  # half the height of a stroke across the line


def draw_rows(chart: RowChart, look: Look, *, width: float = FIGURE_WIDTH) -> Canvas:
    """Lay out and draw a row chart.

    Parameters
    ----------
    chart : RowChart
        Figures in SI.
    look : Look
        Colours.
    width : float
        Width of the sheet. [pt]
    """
    placed = [(row.at, row.low, row.high, *(m.x for m in row.marks if m.x is not None)) for row in chart.rows]
    values = [shown(v, chart.x.kind) for own in placed for v in finite(own)]
    values.append(shown(0.0, chart.x.kind))
    widest_label, widest_text = min(_WIDEST_LABEL, _LABEL_SHARE * width), min(_WIDEST_TEXT, _TEXT_SHARE * width)
    labels = [wrap(label_of(row.label, row.role), widest_label, SIZE, _weight(row)) for row in chart.rows]
    words = [wrap(row.text, widest_text, SIZE) for row in chart.rows]
    left = max((text_width(t, SIZE, "semibold") for lines in labels for t in lines), default=0.0) + 16.0
    beside = max((text_width(t, SIZE) for lines in words for t in lines), default=0.0)
    right = width - (beside + 16.0 if beside else 14.0)
    ticks = ticks_over(min(values), max(values), max(2, min(6, int((right - left) / _TICK_ROOM))))
    texts = tick_texts(ticks, sign=True)
    scale = Scale(ticks[0], ticks[-1], left + (_TAIL if chart.alike else 0.0), right - (_TAIL if chart.alike else 0.0))
    heights = [
        line_height(SIZE) * max(len(label), len(text), 1) + _PAD for label, text in zip(labels, words, strict=True)
    ]
    groups = tuple(dict.fromkeys(row.group for row in chart.rows))
    headed = [group for group in groups if group]
    title = wrap(chart.title, width - 8.0, 10.5, "semibold")
    head = line_height(10.5) * len(title) + 6.0 + (line_height(SIZE) if chart.zero_label else 0.0)
    note = wrap(chart.note, width - 8.0, SIZE)
    below = wrap(axis_title(chart.x.title, chart.x.kind), width - 8.0, SIZE)
    bottom = 34.0 + line_height(SIZE) * (len(note) + len(below) - 1)
    top = bottom + sum(heights) + _GROUP_HEAD * len(headed) + 4.0
    canvas = Canvas(width, top + head, look)
    baseline = canvas.height - 11.0
    for line in title:
        canvas.words(2.0, baseline, line, size=10.5, weight="semibold")
        baseline -= line_height(10.5)
    for tick, tick_text in zip(ticks, texts, strict=True):
        x = scale(tick)
        canvas.line([(x, bottom), (x, top)], look.ink if tick == 0.0 else look.line, width=0.9 if tick == 0.0 else 0.6)
        canvas.words(x, bottom - 12.0, tick_text, colour=look.soft, align="center")
    for i, line in enumerate(below):  # under its axis, or where it would pass the sheet's edge moved in from it
        half = 0.5 * text_width(line, SIZE) + 2.0
        middle = min(max(0.5 * (left + right), half), width - half)
        canvas.words(middle, bottom - 26.0 - i * line_height(SIZE), line, colour=look.soft, align="center")
    if chart.zero_label:
        canvas.words(scale(0.0), top + 3.0, chart.zero_label, colour=look.soft, align="center")
    named = [(row.label, row.role) for row in chart.rows]
    # bars are all of one kind; points are builds, each in its colour and marker
    taken = {n: fixed_stroke(n[1], look) for n in named} if chart.bars or chart.alike else strokes(named, look)
    for i, line in enumerate(reversed(note)):
        canvas.words(2.0, 3.0 + i * line_height(SIZE), line, size=SIZE, colour=look.soft)
    ceiling = top - 2.0
    for group in groups:
        if group:
            ceiling -= _GROUP_HEAD
            canvas.words(2.0, ceiling + 4.0, group, weight="semibold")
        for row, label, text, height in zip(chart.rows, labels, words, heights, strict=True):
            if row.group != group:
                continue
            ceiling -= height
            stroke = taken[(row.label, row.role)]
            y = ceiling + 0.5 * height
            colour = stroke.colour if stroke.weight == "semibold" else look.ink
            canvas.lines_of_words(left - 10.0, y, label, size=SIZE, weight=_weight(row), colour=colour, align="right")
            _draw_row(canvas, chart, row, stroke, scale, y)
            if text:
                canvas.lines_of_words(right + 10.0, y, text, size=SIZE, colour=look.soft if _faint(row) else look.ink)
    return canvas


def _faint(row: Row) -> bool:
    return row.role == "plain"


def _weight(row: Row) -> Weight:
    return "semibold" if row.role == "governs" else "regular"


def _draw_row(canvas: Canvas, chart: RowChart, row: Row, stroke: Stroke, scale: Scale, y: float) -> None:
    if not math.isfinite(row.at):
        return
    at, low, high = (scale(shown(v, chart.x.kind)) for v in (row.at, row.low, row.high))
    if chart.bars:
        zero = scale(shown(0.0, chart.x.kind))
        canvas.bar(min(zero, at), y - _BAR, max(zero, at), y + _BAR, stroke.colour)
        edge = canvas.look.ink
    else:
        edge = stroke.colour
    if high > low:
        canvas.line([(low, y), (high, y)], edge, width=1.8 if chart.alike and not _faint(row) else 1.2)
        for end, way, is_open in ((low, -1.0, row.open_low), (high, 1.0, row.open_high)):
            if is_open:
                canvas.line([(end, y), (end + way * _TAIL, y)], edge, width=1.2, dash=(1.0, 1.5))
            else:
                canvas.line([(end, y - _CAP), (end, y + _CAP)], edge, width=1.2)
    if not chart.bars and not chart.alike:
        canvas.markers([(at, y)], stroke.marker or "o", stroke.colour, size=5.0, hollow=_faint(row))
    for mark in row.marks:
        if mark.x is not None:
            _draw_mark(canvas, mark, scale(shown(mark.x, chart.x.kind)), y)


def _draw_mark(canvas: Canvas, mark: Mark, x: float, y: float) -> None:
    stroke = fixed_stroke(mark.role, canvas.look)
    colour = stroke.colour if mark.role == "governs" else canvas.look.ink
    if mark.text == "|":
        canvas.line([(x, y - _ACROSS), (x, y + _ACROSS)], colour, width=1.4)
    else:
        canvas.markers([(x, y)], mark.text, colour, size=5.5, hollow=mark.text == "o")
