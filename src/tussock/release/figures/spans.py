"""Span chart: upright bars of travel on one axis, with what ends the travel as rungs beside them."""

from __future__ import annotations

from dataclasses import dataclass

from tussock.release.figures.canvas import FIGURE_WIDTH, Canvas, line_height, text_width, wrap
from tussock.release.figures.scale import Scale, axis_title, finite, shown, tick_texts, ticks_over
from tussock.release.figures.spread import spread
from tussock.release.figures.style import ATTENTION, Stroke, strokes
from tussock.release.look import Look
from tussock.studies.result import Rung, Span, SpanChart

SIZE = 8.5
_BAR = 26.0
_TICK = 14.0  # a rung's own stroke beside its bar
_LEADER = 12.0  # from that stroke to its label
_GROUP_GAP = 22.0
_SPAN_GAP = 14.0
_WIDEST_LABEL = 150.0
_NARROWEST_LABEL = 56.0


@dataclass(frozen=True, slots=True)
class RungLabel:
    """A rung's words, where the rung lies and where its label goes. [pt]"""

    rung: Rung
    lines: tuple[str, ...]
    at: float
    place: float

    @property
    def height(self) -> float:
        """Height of its lines. [pt]"""
        return line_height(SIZE) * len(self.lines)


def rung_text(rung: Rung) -> str:
    """Return a rung's words; the one that governs carries the triangle.

    >>> rung_text(Rung(text="brake hose", at=-0.08, governs=True))
    '▲ brake hose'
    """
    return ATTENTION + rung.text if rung.governs else rung.text


def place_rungs(rungs: tuple[Rung, ...], kind: str, scale: Scale, *, width: float) -> tuple[RungLabel, ...]:
    """Wrap and spread the labels of one bar's rungs within the scale's ends.

    Parameters
    ----------
    rungs : tuple of Rung
        Limiters of one bar, SI.
    kind : str
        Kind of their numbers.
    scale : Scale
        Upright scale; rungs past its ends are drawn at the end.
    width : float
        Room for a label. [pt]
    """
    lines = [wrap(rung_text(r), width, SIZE, "semibold" if r.governs else "regular") for r in rungs]
    at = [min(max(scale(shown(r.at, kind)), scale.start), scale.end) for r in rungs]
    sizes = [line_height(SIZE) * len(t) for t in lines]
    places = spread(at, sizes, low=scale.start - 6.0, high=scale.end + 6.0, gap=0.5)
    return tuple(RungLabel(r, t, a, p) for r, t, a, p in zip(rungs, lines, at, places, strict=True))


def draw_spans(chart: SpanChart, look: Look, *, width: float = FIGURE_WIDTH, plot_height: float = 220.0) -> Canvas:
    """Lay out and draw a span chart; the plot grows when a bar has more rungs than fit beside it."""
    low, high = _range(chart)
    y_ticks = ticks_over(low, high, 8)
    y_texts = tick_texts(y_ticks, sign=True)
    left = max(text_width(t, SIZE) for t in y_texts) + 14.0
    if chart.zero_label:
        left = max(left, text_width(chart.zero_label, SIZE) + 8.0)
    room = label_room(chart, width - left - 8.0)
    places = place_bars(chart.spans, room, left=left + 10.0)
    # more labelled bars than the narrowest labels leave room for: the sheet grows, and is shown smaller
    width = max([width, *(place.right + 8.0 for place in places)])
    needs = [
        sum(line_height(SIZE) * len(wrap(rung_text(r), w, SIZE, "semibold")) + 0.5 for r in span.rungs)
        for span, w in zip(chart.spans, room, strict=True)
    ]
    plot_height = max([plot_height, *needs])
    title = wrap(chart.title, width - 8.0, 10.5, "semibold")
    names = [_name_lines(span, w) for span, w in zip(chart.spans, room, strict=True)]
    bottom = 12.0 + line_height(SIZE) * max((len(n) for n in names), default=1)
    top = bottom + plot_height
    groups = line_height(SIZE) + 6.0 if any(span.group for span in chart.spans) else 0.0
    height = top + 10.0 + groups + line_height(SIZE) + 4.0 + line_height(10.5) * len(title) + 4.0
    scale = Scale(y_ticks[0], y_ticks[-1], bottom, top)
    canvas = Canvas(width, height, look)
    baseline = height - 11.0
    for text in title:
        canvas.words(2.0, baseline, text, size=10.5, weight="semibold")
        baseline -= line_height(10.5)
    canvas.words(2.0, baseline - 2.0, axis_title(chart.y.title, chart.y.kind), colour=look.soft)
    for tick, text in zip(y_ticks, y_texts, strict=True):
        y = scale(tick)
        if tick != 0.0:
            canvas.line([(left, y), (width - 4.0, y)], look.line, width=0.6)
        canvas.words(left - 6.0, y - 0.33 * SIZE, text, colour=look.soft, align="right")
    taken = strokes([(s.label, s.role) for s in chart.spans], look)
    group_from: dict[str, float] = {}
    for i, (span, place) in enumerate(zip(chart.spans, places, strict=True)):
        group_from.setdefault(span.group, place.left)
        _draw_span(canvas, span, taken[(span.label, span.role)], chart.y.kind, scale, place.bar, room[i])
        lines = names[i]
        canvas.lines_of_words(
            place.bar + 0.5 * _BAR,
            bottom - 8.0 - 0.5 * line_height(SIZE) * len(lines),
            lines,
            size=SIZE,
            colour=look.soft if span.role == "stock" else look.ink,
            align="center",
        )
    # the zero line lies over the bars, so that bump and droop can be told apart in each of them
    canvas.line([(left, scale(0.0)), (width - 4.0, scale(0.0))], look.ink, width=1.0)
    if chart.zero_label:
        canvas.words(
            left - 6.0,
            scale(0.0) - 0.33 * SIZE - line_height(SIZE),
            chart.zero_label,
            colour=look.soft,
            align="right",
            size=7.5,
        )
    for group, start in group_from.items():
        canvas.words(start, top + 12.0, group, weight="semibold")
    return canvas


@dataclass(frozen=True, slots=True)
class BarPlace:
    """Where one bar and its labels lie: left end, left edge of the bar, right end. [pt]"""

    left: float
    bar: float
    right: float


def place_bars(spans: tuple[Span, ...], room: list[float], *, left: float) -> tuple[BarPlace, ...]:
    """Set bars side by side, each with `room` for its labels [pt], from `left` on [pt]."""
    places: list[BarPlace] = []
    at = left
    for i, span in enumerate(spans):
        if i:
            at += _GROUP_GAP if span.group != spans[i - 1].group else _SPAN_GAP
        wide = _BAR + (_TICK + _LEADER + room[i] if span.rungs else max(0.0, room[i] - _BAR))
        places.append(BarPlace(at, at if span.rungs else at + 0.5 * (wide - _BAR), at + wide))
        at += wide
    return tuple(places)


def _range(chart: SpanChart) -> tuple[float, float]:
    """Return the ends of the axis: the bars decide, and rungs up to half a bar past them."""
    kind = chart.y.kind
    ends = [shown(v, kind) for s in chart.spans for v in (s.low, s.high)]
    values = [0.0, *finite(tuple(ends))]
    reach = 0.5 * (max(values) - min(values))
    rungs = [shown(r.at, kind) for s in chart.spans for r in s.rungs]
    low, high = min(values) - reach, max(values) + reach
    values += [min(max(r, low), high) for r in finite(tuple(rungs))]
    return min(values), max(values)


def label_room(chart: SpanChart, width: float) -> list[float]:
    """Share the width between the bars: as much as each label column wants, less where they do not all fit."""
    gaps = 10.0
    for i, span in enumerate(chart.spans[1:], 1):
        gaps += _GROUP_GAP if span.group != chart.spans[i - 1].group else _SPAN_GAP
    fixed = sum(_BAR + (_TICK + _LEADER if s.rungs else 0.0) for s in chart.spans) + gaps
    wants = []
    for span in chart.spans:
        if span.rungs:
            widest = max(text_width(rung_text(r), SIZE, "semibold") for r in span.rungs)
            wants.append(min(widest + 2.0, _WIDEST_LABEL))
        else:
            wants.append(max(_BAR, min(text_width(span.label, SIZE), 60.0)))
    spare = width - fixed - sum(w if s.rungs else w - _BAR for s, w in zip(chart.spans, wants, strict=True))
    labelled = [i for i, s in enumerate(chart.spans) if s.rungs]
    if spare < 0.0 and labelled:
        share = 1.0 + spare / sum(wants[i] for i in labelled)
        for i in labelled:
            wants[i] = max(_NARROWEST_LABEL, wants[i] * share)
    return wants


def _name_lines(span: Span, room: float) -> tuple[str, ...]:
    width = _BAR + 30.0 if span.rungs else max(room, _BAR) + 10.0
    return wrap(span.label, width, SIZE)


def _draw_span(canvas: Canvas, span: Span, stroke: Stroke, kind: str, scale: Scale, left: float, room: float) -> None:
    look = canvas.look
    low, high = scale(shown(span.low, kind)), scale(shown(span.high, kind))
    right = left + _BAR
    if span.role == "stock":
        canvas.bar(left, low, right, high, look.stock_fill)
        canvas.line(
            [(left, low), (left, high), (right, high), (right, low), (left, low)],
            look.stock_line,
            width=0.8,
            dash=stroke.dash,
        )
    elif span.role == "target":
        canvas.line(
            [(left, low), (left, high), (right, high), (right, low), (left, low)], look.ink, width=1.0, dash=stroke.dash
        )
    else:
        canvas.bar(left, low, right, high, stroke.colour)
    for label in place_rungs(span.rungs, kind, scale, width=room):
        governs = label.rung.governs
        colour = look.attention if governs else look.ink
        start = left - 3.0 if governs else right
        canvas.line([(start, label.at), (right + _TICK, label.at)], colour, width=2.0 if governs else 0.9)
        wants = scale(shown(label.rung.at, kind))
        if abs(wants - label.at) > 0.5:  # past the end of the axis: say so by an arrow
            canvas.markers([(right + 0.5 * _TICK, label.at)], "^" if wants > label.at else "v", colour, size=4.0)
        canvas.line([(right + _TICK, label.at), (right + _TICK + _LEADER - 3.0, label.place)], colour, width=0.5)
        canvas.lines_of_words(
            right + _TICK + _LEADER,
            label.place,
            label.lines,
            size=SIZE,
            weight="semibold" if governs else "regular",
            colour=colour,
        )
