"""Line chart: curves over one axis, each named at its end."""

from __future__ import annotations

import math
from dataclasses import dataclass

from tussock.release.figures.canvas import FIGURE_WIDTH, Canvas, Point, line_height, text_width, wrap
from tussock.release.figures.notes import SIZE, Box, Flag, Note, level_heights, place_flags, place_notes
from tussock.release.figures.scale import Scale, axis_title, finite, shown, tick_texts, ticks_over
from tussock.release.figures.spread import spread
from tussock.release.figures.style import Stroke, fixed_stroke, label_of, strokes
from tussock.release.look import Look
from tussock.studies.result import Band, Line, LineChart, Mark

_KEY = 20.0  # sample of the line before its label
_LEADER = 16.0  # from the plot's edge to that sample
_LABEL_WIDTH = 112.0
_MARKERS_A_LINE = 7
_BAND_ALPHA = 0.16


@dataclass(frozen=True, slots=True)
class _EndLabel:
    lines: tuple[str, ...]
    anchor: Point
    stroke: Stroke
    dots: bool
    band: bool = False

    @property
    def height(self) -> float:
        return line_height(SIZE) * len(self.lines)


def draw_lines(chart: LineChart, look: Look, *, width: float = FIGURE_WIDTH, plot_height: float = 168.0) -> Canvas:
    """Lay out and draw a line chart.

    Parameters
    ----------
    chart : LineChart
        Curves in SI.
    look : Look
        Colours.
    width, plot_height : float
        Width of the sheet and least height of the plot; the plot grows when its labels need it. [pt]
    """
    xs = [shown(v, chart.x.kind) for line in chart.lines for v in finite(line.x)]
    ys = [shown(v, chart.y.kind) for line in chart.lines for v in finite(line.y)]
    xs += [shown(v, chart.x.kind) for band in chart.bands for v in finite(band.x)]
    ys += [shown(v, chart.y.kind) for band in chart.bands for v in finite((*band.low, *band.high))]
    xs += [shown(m.x, chart.x.kind) for m in chart.marks if m.x is not None]
    ys += [shown(m.y, chart.y.kind) for m in chart.marks if m.y is not None]
    if not xs or not ys:
        xs, ys = xs or [0.0, 1.0], ys or [0.0, 1.0]
    x_low, x_high = min(xs), max(xs)
    if not x_high > x_low:
        x_low, x_high = x_low - 0.5, x_high + 0.5
    elif any(_alone(line, chart) for line in chart.lines):
        # points stand off the edges, so that their names find room
        x_low, x_high = x_low - 0.06 * (x_high - x_low), x_high + 0.06 * (x_high - x_low)
    y_ticks = ticks_over(min(ys), max(ys), 6)

    taken = strokes([(line.label, line.role) for line in chart.lines], look)
    y_texts = tick_texts(y_ticks)
    left = max(text_width(t, SIZE) for t in y_texts) + 12.0
    labels_wide = _label_width(chart)
    right = width - (labels_wide + _LEADER + _KEY + 8.0 if labels_wide else 12.0)
    x_scale = Scale(x_low, x_high, left + 4.0, right)
    slack = 1e-9 * (x_high - x_low)
    most = max(2, min(8, int((right - left) / 42.0)))
    x_ticks = tuple(t for t in ticks_over(x_low, x_high, most) if x_low - slack <= t <= x_high + slack)
    x_texts = tick_texts(x_ticks)

    title = wrap(chart.title, width - 8.0, 10.5, "semibold")
    verticals = [m for m in chart.marks if m.x is not None and m.y is None]
    flags = place_flags(
        [x_scale(shown(m.x or 0.0, chart.x.kind)) for m in verticals],
        [label_of(m.text, m.role) for m in verticals],
        right_end=width - 2.0,
    )
    flag_heights = level_heights(flags)
    label_need = sum(line_height(SIZE) * len(t) + 1.0 for t in _end_texts(chart))
    plot_height = max(plot_height, label_need)
    bottom = 34.0
    top = bottom + plot_height
    head = sum(flag_heights) + 8.0 + line_height(SIZE) + line_height(10.5) * len(title) + 6.0
    y_scale = Scale(y_ticks[0], y_ticks[-1], bottom, top)

    canvas = Canvas(width, top + head, look)
    _head(canvas, chart, title, top + sum(flag_heights) + 8.0)
    for tick, text in zip(y_ticks, y_texts, strict=True):
        y = y_scale(tick)
        zero = tick == 0.0
        canvas.line([(x_scale.start, y), (right, y)], look.ink if zero else look.line, width=0.9 if zero else 0.6)
        canvas.words(left - 4.0, y - 0.33 * SIZE, text, colour=look.soft, align="right")
    last = -math.inf
    for tick, text in zip(x_ticks, x_texts, strict=True):
        x = x_scale(tick)
        inside = tick == 0.0 and x_low < 0.0 < x_high
        canvas.line([(x, bottom), (x, top)], look.ink if inside else look.line, width=0.9 if inside else 0.6)
        half = 0.5 * text_width(text, SIZE)
        if x - half > last:
            canvas.words(x, bottom - 12.0, text, colour=look.soft, align="center")
            last = x + half + 4.0
    middle = 0.5 * (x_scale.start + right)
    canvas.words(middle, bottom - 26.0, axis_title(chart.x.title, chart.x.kind), colour=look.soft, align="center")

    for mark, flag in zip(verticals, flags, strict=True):
        _draw_flag(canvas, mark, flag, x_scale(shown(mark.x or 0.0, chart.x.kind)), bottom, top, flag_heights)
    for mark in chart.marks:
        if mark.x is None and mark.y is not None:
            stroke = fixed_stroke(mark.role, look)
            y = y_scale(shown(mark.y, chart.y.kind))
            canvas.line([(x_scale.start, y), (right, y)], stroke.colour, width=stroke.width, dash=stroke.dash)
    ends: list[_EndLabel] = []
    for band in chart.bands:
        ends += _draw_band(canvas, band, chart, x_scale, y_scale)
    drawn: list[Point] = []
    notes: list[tuple[Note, Stroke]] = []
    named: set[tuple[str, str]] = set()
    for line in sorted(chart.lines, key=lambda a: ("stock", "target", "plain", "build", "governs").index(a.role)):
        stroke = taken[(line.label, line.role)]
        points = _draw_line(canvas, line, stroke, chart, x_scale, y_scale)
        drawn += [] if line.dots else points
        if line.label and points and _alone(line, chart):
            notes.append((Note(points[0], label_of(line.label, line.role), stroke.weight), stroke))
        elif line.label and points and (line.label, line.role) not in named:
            named.add((line.label, line.role))
            label = wrap(label_of(line.label, line.role), _LABEL_WIDTH, SIZE, stroke.weight)
            ends.append(_EndLabel(label, max(points, key=lambda p: p[0]), stroke, line.dots))
    for mark in chart.marks:
        if mark.x is None and mark.y is not None and mark.text:
            stroke = fixed_stroke(mark.role, look)
            label = wrap(label_of(mark.text, mark.role), _LABEL_WIDTH, SIZE, stroke.weight)
            ends.append(_EndLabel(label, (right, y_scale(shown(mark.y, chart.y.kind))), stroke, False))
    _draw_ends(canvas, ends, right, bottom, top)
    for mark in chart.marks:
        if mark.x is not None and mark.y is not None:
            stroke = fixed_stroke(mark.role, look)
            at = (x_scale(shown(mark.x, chart.x.kind)), y_scale(shown(mark.y, chart.y.kind)))
            canvas.markers([at], "o", stroke.colour, size=5.0, hollow=True)
            notes.append((Note(at, label_of(mark.text, mark.role), stroke.weight), stroke))
    _draw_notes(canvas, notes, drawn, Box(x_scale.start, bottom, right, top))
    return canvas


def _alone(line: Line, chart: LineChart) -> bool:
    """Return whether a line is one point that no other line shares its name with: it is named where it stands."""
    points = sum(math.isfinite(x) and math.isfinite(y) for x, y in zip(line.x, line.y, strict=True))
    return points == 1 and sum(other.label == line.label for other in chart.lines) == 1


def _end_texts(chart: LineChart) -> list[tuple[str, ...]]:
    seen: dict[tuple[str, str], tuple[str, ...]] = {}
    for line in chart.lines:
        if line.label and not _alone(line, chart):
            label = label_of(line.label, line.role)
            seen[(line.label, line.role)] = wrap(label, _LABEL_WIDTH, SIZE, "semibold")
    texts = list(seen.values())
    texts += [wrap(label_of(b.label, b.role), _LABEL_WIDTH, SIZE, "semibold") for b in chart.bands if b.label]
    for mark in chart.marks:
        if mark.x is None and mark.y is not None and mark.text:
            texts.append(wrap(label_of(mark.text, mark.role), _LABEL_WIDTH, SIZE, "semibold"))
    return texts


def _label_width(chart: LineChart) -> float:
    return max((text_width(t, SIZE, "semibold") for lines in _end_texts(chart) for t in lines), default=0.0)


def _head(canvas: Canvas, chart: LineChart, title: tuple[str, ...], base: float) -> None:
    """Write the title and, under it, what the upright axis shows."""
    look = canvas.look
    canvas.words(2.0, base, axis_title(chart.y.title, chart.y.kind), colour=look.soft)
    baseline = canvas.height - 11.0
    for text in title:
        canvas.words(2.0, baseline, text, size=10.5, weight="semibold")
        baseline -= line_height(10.5)


def _draw_band(canvas: Canvas, band: Band, chart: LineChart, x_scale: Scale, y_scale: Scale) -> list[_EndLabel]:
    """Fill the area between two curves faintly; returns its label for the end."""
    stroke = fixed_stroke(band.role, canvas.look)
    low, high = (
        [(x_scale(shown(x, chart.x.kind)), y_scale(shown(y, chart.y.kind))) for x, y in zip(band.x, side, strict=True)]
        for side in (band.low, band.high)
    )
    if len(low) < 2:
        return []
    canvas.area([*low, *reversed(high)], stroke.colour, alpha=_BAND_ALPHA)
    if not band.label:
        return []
    label = wrap(label_of(band.label, band.role), _LABEL_WIDTH, SIZE, stroke.weight)
    return [_EndLabel(label, (low[-1][0], 0.5 * (low[-1][1] + high[-1][1])), stroke, dots=False, band=True)]


def _draw_line(
    canvas: Canvas, line: Line, stroke: Stroke, chart: LineChart, x_scale: Scale, y_scale: Scale
) -> list[Point]:
    """Draw one curve; a number that is not finite leaves a gap. Returns the points drawn."""
    runs: list[list[Point]] = [[]]
    for x, y in zip(line.x, line.y, strict=True):
        if math.isfinite(x) and math.isfinite(y):
            runs[-1].append((x_scale(shown(x, chart.x.kind)), y_scale(shown(y, chart.y.kind))))
        elif runs[-1]:
            runs.append([])
    points = [p for run in runs for p in run]
    if line.dots:
        canvas.markers(points, stroke.marker or "o", stroke.colour, size=3.6, hollow=True)
        return points
    for run in runs:
        if len(run) > 1:
            canvas.line(run, stroke.colour, width=stroke.width, dash=stroke.dash)
    if stroke.marker and points and line.marked:
        few = (
            points
            if len(points) <= _MARKERS_A_LINE
            else [points[round(i * (len(points) - 1) / (_MARKERS_A_LINE - 1))] for i in range(_MARKERS_A_LINE)]
        )
        canvas.markers(few, stroke.marker, stroke.colour, size=3.8)
    return points


def _draw_ends(canvas: Canvas, ends: list[_EndLabel], right: float, bottom: float, top: float) -> None:
    """Write every label beside the plot, spread so that none overlaps, with a leader to its line's end."""
    look = canvas.look
    places = spread([e.anchor[1] for e in ends], [e.height for e in ends], low=bottom - 4.0, high=top + 6.0, gap=0.5)
    for end, y in zip(ends, places, strict=True):
        key = right + _LEADER
        canvas.line([end.anchor, (right, end.anchor[1]), (key - 2.0, y)], look.soft, width=0.4)
        stroke = end.stroke
        if end.band:
            corners = [(key, y - 3.0), (key + 18.0, y - 3.0), (key + 18.0, y + 3.0), (key, y + 3.0)]
            canvas.area(corners, stroke.colour, alpha=_BAND_ALPHA)
        elif end.dots:
            canvas.markers([(key + 9.0, y)], stroke.marker or "o", stroke.colour, size=3.6, hollow=True)
        else:
            canvas.line([(key, y), (key + 18.0, y)], stroke.colour, width=stroke.width, dash=stroke.dash)
            if stroke.marker:
                canvas.markers([(key + 9.0, y)], stroke.marker, stroke.colour, size=3.8)
        colour = stroke.colour if stroke.weight == "semibold" else look.ink
        canvas.lines_of_words(key + _KEY + 2.0, y, end.lines, size=SIZE, weight=stroke.weight, colour=colour)


def _draw_flag(
    canvas: Canvas, mark: Mark, flag: Flag, x: float, bottom: float, top: float, heights: list[float]
) -> None:
    stroke = fixed_stroke(mark.role, canvas.look)
    base = top + 2.0 + sum(heights[: flag.level])
    tall = line_height(SIZE) * len(flag.lines)
    canvas.line([(x, bottom), (x, base + tall)], stroke.colour, width=min(stroke.width, 1.2), dash=stroke.dash)
    colour = stroke.colour if mark.role == "governs" else canvas.look.ink
    canvas.lines_of_words(flag.left, base + 0.5 * tall, flag.lines, size=SIZE, weight=stroke.weight, colour=colour)


def _draw_notes(canvas: Canvas, notes: list[tuple[Note, Stroke]], drawn: list[Point], plot: Box) -> None:
    places = place_notes([note for note, _ in notes], drawn, plot)
    for (note, stroke), (box, lines) in zip(notes, places, strict=True):
        x, y = note.at
        middle = 0.5 * (box.bottom + box.top)
        near = (min(max(x, box.left), box.right), min(max(y, box.bottom), box.top))
        if math.hypot(near[0] - x, near[1] - y) > 12.0:  # far enough to be taken for another's
            canvas.line([note.at, near], canvas.look.soft, width=0.4)
        colour = stroke.colour if stroke.weight == "semibold" else canvas.look.ink
        canvas.lines_of_words(box.left, middle, lines, size=SIZE, weight=stroke.weight, colour=colour)
