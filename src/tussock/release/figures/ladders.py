"""Paired bars as ladders: two bars of a group side by side on one scale, the limiters of either as rungs outwards."""

from __future__ import annotations

from dataclasses import dataclass

from tussock.release.figures.canvas import Canvas, line_height, text_width, wrap
from tussock.release.figures.scale import Scale, axis_title, finite, shown, tick_texts, ticks_over
from tussock.release.figures.spread import spread
from tussock.release.figures.style import ATTENTION, strokes
from tussock.release.look import Look
from tussock.studies.result import Rung, Span, SpanChart

SIZE, LARGE = 8.5, 9.5
_BAR = 20.0
_BETWEEN = 5.0  # the two bars of a pair
_RUNG = 9.0  # a rung beyond its bar
_LEADER = 9.0
_GAP = 14.0  # between two ladders
_TWO = 400.0  # sheets at least so wide have two ladders in a row
_PLOT = 165.0
_BEYOND = 0.25  # of the bars' length that is shown of rungs past them
_TICKS = 6


def draw_ladders(chart: SpanChart, look: Look, *, width: float) -> Canvas:
    """Lay out and draw a paired span chart; rungs of the first bar of a pair stand to its left, of the second right."""
    groups: dict[str, list[Span]] = {}
    for span in chart.spans:
        groups.setdefault(span.group, []).append(span)
    ticks = ticks_over(*_range(chart), _TICKS)
    texts = tick_texts(ticks, sign=True)
    across = 2 if width >= _TWO and len(groups) > 1 else 1
    wide = (width - 4.0 - (across - 1) * _GAP) / across
    left = max((text_width(t, SIZE) for t in texts), default=0.0) + 8.0
    room = (wide - left - 2.0 * (_BAR + _RUNG + _LEADER) - _BETWEEN) / 2.0
    plots = {name: max(_PLOT, *(_need(span, room) for span in spans)) for name, spans in groups.items()}
    rows = [list(groups)[i : i + across] for i in range(0, len(groups), across)]
    head_of, foot_of = line_height(10.5) + 8.0, line_height(SIZE) + 12.0
    heights = [max(plots[name] for name in row) + head_of + foot_of for row in rows]
    title = wrap(chart.title, width - 8.0, 10.5, "semibold")
    head = line_height(10.5) * len(title) + line_height(SIZE) + 6.0
    canvas = Canvas(width, head + sum(heights), look)
    baseline = canvas.height - 11.0
    for text in title:
        canvas.words(2.0, baseline, text, size=10.5, weight="semibold")
        baseline -= line_height(10.5)
    canvas.words(2.0, baseline - 2.0, f"{axis_title(chart.y.title, chart.y.kind)}, from {chart.zero_label}",
                 colour=look.soft)  # fmt: skip
    top = canvas.height - head
    for row, height in zip(rows, heights, strict=True):
        for i, name in enumerate(row):
            at = 2.0 + i * (wide + _GAP)
            canvas.words(at, top - 11.0, name, size=10.5, weight="semibold")
            scale = Scale(ticks[0], ticks[-1], top - height + foot_of, top - head_of)
            place = _Place(left=at, plot=at + left, right=at + wide, room=room)
            _draw_ladder(canvas, chart, groups[name], (ticks, texts), scale, place)
        top -= height
    return canvas


@dataclass(frozen=True, kw_only=True, slots=True)
class _Place:
    """Where one ladder lies across the sheet: its left end, its plot, its right end, room for a label. [pt]"""

    left: float
    plot: float
    right: float
    room: float


def _range(chart: SpanChart) -> tuple[float, float]:
    """Return the ends of the axis: the bars decide, and rungs a little past them."""
    ends = [0.0, *finite(tuple(shown(v, chart.y.kind) for s in chart.spans for v in (s.low, s.high)))]
    reach = _BEYOND * (max(ends) - min(ends))
    rungs = finite(tuple(shown(r.at, chart.y.kind) for s in chart.spans for r in s.rungs))
    low, high = min(ends) - reach, max(ends) + reach
    values = [*ends, *(min(max(r, low), high) for r in rungs)]
    return min(values), max(values)


def _lines(rung: Rung, room: float) -> tuple[str, ...]:
    text = ATTENTION + rung.text if rung.governs else rung.text
    return wrap(text, room, _size(rung), "semibold" if rung.governs else "regular")


def _size(rung: Rung) -> float:
    return LARGE if rung.governs else SIZE


def _need(span: Span, room: float) -> float:
    return sum(line_height(_size(r)) * len(_lines(r, room)) + 1.0 for r in span.rungs)


def _draw_ladder(
    canvas: Canvas,
    chart: SpanChart,
    spans: list[Span],
    ticks: tuple[tuple[float, ...], tuple[str, ...]],
    scale: Scale,
    place: _Place,
) -> None:
    look, kind = canvas.look, chart.y.kind
    for tick, text in zip(*ticks, strict=True):
        ink = tick == 0.0
        canvas.line([(place.plot, scale(tick)), (place.right, scale(tick))], look.line, width=0.6)
        colour = look.ink if ink else look.soft
        canvas.words(place.plot - 5.0, scale(tick) - 0.33 * SIZE, text, colour=colour, align="right")
    first = place.plot + place.room + _LEADER + _RUNG
    lefts = (first, first + _BAR + _BETWEEN)
    taken = strokes([(span.label, span.role) for span in spans], look)
    for span, left, out in zip(spans, lefts, (-1.0, 1.0), strict=False):
        low, high = scale(shown(span.low, kind)), scale(shown(span.high, kind))
        stroke = taken[span.label, span.role]
        stock = span.role == "stock"
        canvas.bar(left, low, left + _BAR, high, look.stock_fill if stock else stroke.colour)
        if stock:
            edge = [(left, low), (left, high), (left + _BAR, high), (left + _BAR, low), (left, low)]
            canvas.line(edge, look.stock_line, width=0.8, dash=stroke.dash)
        name_at = left + _BAR if out < 0.0 else left
        canvas.words(
            name_at, scale.start - 11.0, span.label, colour=look.soft if stock else look.ink,
            align="right" if out < 0.0 else "left",
        )  # fmt: skip
    # over the bars, so that bump and droop can be told apart in each of them, and under the labels
    canvas.line([(place.plot, scale(0.0)), (place.right, scale(0.0))], look.ink, width=1.0)
    for span, left, out in zip(spans, lefts, (-1.0, 1.0), strict=False):
        _draw_rungs(canvas, span, kind, scale, left=left, out=out, room=place.room)


def _draw_rungs(canvas: Canvas, span: Span, kind: str, scale: Scale, *, left: float, out: float, room: float) -> None:
    look, stock = canvas.look, span.role == "stock"
    edge = left if out < 0.0 else left + _BAR
    lines = [_lines(r, room) for r in span.rungs]
    at = [min(max(scale(shown(r.at, kind)), scale.start), scale.end) for r in span.rungs]
    sizes = [line_height(_size(r)) * len(t) for r, t in zip(span.rungs, lines, strict=True)]
    places = spread(at, sizes, low=scale.start - 4.0, high=scale.end + 6.0, gap=1.0)
    for rung, text, here, where in zip(span.rungs, lines, at, places, strict=True):
        strong = rung.governs and not stock
        colour = look.attention if strong else look.soft if stock else look.ink
        over = left + _BAR if out < 0.0 else left  # a rung that governs crosses its bar
        start = over if rung.governs else edge
        tip = edge + out * _RUNG
        canvas.line([(start, here), (tip, here)], colour, width=2.2 if rung.governs else 0.9)
        wants = scale(shown(rung.at, kind))
        if abs(wants - here) > 0.5:  # past the end of the axis: said by an arrow
            canvas.markers([(tip, here)], "^" if wants > here else "v", colour, size=4.0)
        canvas.line([(tip, here), (tip + out * (_LEADER - 2.0), where)], colour, width=0.5)
        canvas.lines_of_words(
            tip + out * _LEADER, where, text, size=_size(rung), weight="semibold" if rung.governs else "regular",
            colour=colour, align="right" if out < 0.0 else "left",
        )  # fmt: skip
