"""Span chart: upright bars of travel on one axis, with what ends the travel as rungs beside them."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

from tussock.release.figures.canvas import FIGURE_WIDTH, Canvas, line_height, text_width, unbroken, wrap
from tussock.release.figures.scale import Scale, axis_title, finite, shown, tick_texts, ticks_over
from tussock.release.figures.spread import spread
from tussock.release.figures.style import ATTENTION, Stroke, strokes
from tussock.release.look import Look
from tussock.studies.result import Role, Rung, Span, SpanChart

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
    """Lay out and draw a span chart; a plot grows when a bar has more rungs than fit beside it.

    Groups stand side by side; where their labels do not fit the width, each group gets a plot of its own below the
    other, on the same scale; where one group alone does not fit, the sheet grows wider and is shown smaller.
    """
    y_ticks = ticks_over(*_range(chart), 8)
    # the label of the zero line stands on its own tick, where no other label can be
    y_texts = tuple(
        f"{chart.zero_label}  {text}" if tick == 0.0 and chart.zero_label else text
        for tick, text in zip(y_ticks, tick_texts(y_ticks, sign=True), strict=True)
    )
    left = max(text_width(t, SIZE) for t in y_texts) + 14.0
    groups: dict[str, list[Span]] = {}
    for span in chart.spans:
        groups.setdefault(span.group, []).append(span)
    together = tuple(span for group in groups.values() for span in group)
    panels = [_panel(together, chart.y.kind, left, width, plot_height)]
    if panels[0].right > width and len(groups) > 1:
        panels = [_panel(tuple(g), chart.y.kind, left, width, 0.6 * plot_height) for g in groups.values()]
    width = max(width, *(panel.right for panel in panels))
    title = wrap(chart.title, width - 8.0, 10.5, "semibold")
    head = line_height(SIZE) + 4.0 + line_height(10.5) * len(title) + 4.0
    canvas = Canvas(width, sum(panel.height for panel in panels) + head, look)
    baseline = canvas.height - 11.0
    for text in title:
        canvas.words(2.0, baseline, text, size=10.5, weight="semibold")
        baseline -= line_height(10.5)
    canvas.words(2.0, baseline - 2.0, axis_title(chart.y.title, chart.y.kind), colour=look.soft)
    ceiling = canvas.height - head
    for panel in panels:
        ceiling -= panel.height
        _draw_panel(canvas, chart, panel, (y_ticks, y_texts), left, ceiling)
    return canvas


@dataclass(frozen=True, kw_only=True, slots=True)
class _Panel:
    """One plot: its bars, their places and label room, and its heights. [pt]"""

    spans: tuple[Span, ...]
    places: tuple[BarPlace, ...]
    room: tuple[float, ...]
    names: tuple[tuple[str, ...], ...]
    foot: float
    plot_height: float
    head: float

    @property
    def right(self) -> float:
        return max((place.right + 8.0 for place in self.places), default=0.0)

    @property
    def height(self) -> float:
        return self.foot + self.plot_height + self.head


def _panel(spans: tuple[Span, ...], kind: str, left: float, width: float, plot_height: float) -> _Panel:
    room = label_room(spans, width - left - 8.0)
    needs = [
        sum(line_height(SIZE) * len(wrap(rung_text(r), w, SIZE, "semibold")) + 0.5 for r in span.rungs)
        for span, w in zip(spans, room, strict=True)
    ]
    names = tuple(_name_lines(span, w) for span, w in zip(spans, room, strict=True))
    return _Panel(
        spans=spans,
        places=place_bars(spans, room, left=left + 10.0),
        room=tuple(room),
        names=names,
        foot=12.0 + line_height(SIZE) * max((len(n) for n in names), default=1),
        plot_height=max([plot_height, *needs]),
        head=10.0 + (line_height(SIZE) + 6.0 if any(span.group for span in spans) else 0.0),
    )


def _draw_panel(
    canvas: Canvas,
    chart: SpanChart,
    panel: _Panel,
    ticks: tuple[tuple[float, ...], tuple[str, ...]],
    left: float,
    floor: float,
) -> None:
    look, end = canvas.look, canvas.width - 4.0
    bottom = floor + panel.foot
    top = bottom + panel.plot_height
    scale = Scale(ticks[0][0], ticks[0][-1], bottom, top)
    for tick, text in zip(*ticks, strict=True):
        if tick != 0.0:
            canvas.line([(left, scale(tick)), (end, scale(tick))], look.line, width=0.6)
        canvas.words(left - 6.0, scale(tick) - 0.33 * SIZE, text, colour=look.soft, align="right")
    taken = _strokes(panel.spans, look)
    for span, place, room, lines, stroke in zip(panel.spans, panel.places, panel.room, panel.names, taken, strict=True):
        _draw_span(canvas, span, stroke, chart.y.kind, scale, place.bar, room)
        canvas.lines_of_words(
            place.bar + 0.5 * _BAR,
            bottom - 8.0 - 0.5 * line_height(SIZE) * len(lines),
            lines,
            size=SIZE,
            colour=look.soft if span.role == "stock" else look.ink,
            align="center",
        )
    # the zero line lies over the bars, so that bump and droop can be told apart in each of them
    canvas.line([(left, scale(0.0)), (end, scale(0.0))], look.ink, width=1.0)
    starts: dict[str, float] = {}
    for span, place in zip(panel.spans, panel.places, strict=True):
        starts.setdefault(span.group, place.left)
    for group, start in starts.items():
        canvas.words(start, top + 12.0, group, weight="semibold")


def _strokes(spans: tuple[Span, ...], look: Look) -> list[Stroke]:
    """Give bars their strokes: the first build of every group looks the same, whatever its label says."""
    order: dict[str, int] = {}
    named: list[tuple[str, Role]] = []
    for span in spans:
        if span.role == "build":
            order[span.group] = order.get(span.group, 0) + 1
            named.append((str(order[span.group]), span.role))
        else:
            named.append((span.label, span.role))
    taken = strokes(sorted(set(named)), look)
    return [taken[name] for name in named]


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


def label_room(spans: tuple[Span, ...], width: float) -> list[float]:
    """Share the width between the bars: as much as each label column wants, less where they do not all fit.

    No column gets narrower than its longest word, so that a label never reaches the next bar.
    """
    gaps = 10.0
    for before, span in itertools.pairwise(spans):
        gaps += _GROUP_GAP if span.group != before.group else _SPAN_GAP
    fixed = sum(_BAR + (_TICK + _LEADER if s.rungs else 0.0) for s in spans) + gaps
    wants, least = [], []
    for span in spans:
        if span.rungs:
            texts = [rung_text(r) for r in span.rungs]
            widest = max(text_width(t, SIZE, "semibold") for t in texts)
            word = max(text_width(w, SIZE, "semibold") for t in texts for w in unbroken(t) or ("",))
            least.append(max(_NARROWEST_LABEL, word + 1.0))
            wants.append(max(least[-1], min(widest + 2.0, _WIDEST_LABEL)))
        else:
            wants.append(max(_BAR, min(text_width(span.label, SIZE), 60.0)))
            least.append(wants[-1])
    spare = width - fixed - sum(w if s.rungs else w - _BAR for s, w in zip(spans, wants, strict=True))
    give = [w - a for w, a in zip(wants, least, strict=True)]
    if spare < 0.0 and sum(give) > 0.0:
        share = min(1.0, -spare / sum(give))
        wants = [w - share * g for w, g in zip(wants, give, strict=True)]
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
