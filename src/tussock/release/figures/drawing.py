"""Drawing to scale: shapes in one plane, at a standard scale, with a scale bar."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from tussock.release.figures.canvas import FIGURE_WIDTH, Canvas, Point, line_height, text_width, wrap
from tussock.release.figures.spread import spread
from tussock.release.figures.style import Stroke, fixed_stroke, label_of, strokes
from tussock.release.look import Look, Weight
from tussock.studies.result import Caption, Drawing, Role

SIZE = 8.5
LARGE = 15.0  # captions that are read from afar
POINTS_PER_METRE = 72.0 / 0.0254
_LABEL_WIDTH = 92.0
_MARGIN = 26.0

# ISO 5455:1979 table 1, "recommended scales": 50:1 20:1 10:1 5:1 2:1, 1:1, 1:2 1:5 1:10 1:20 1:50 ... (from memory)
SCALES: tuple[tuple[int, int], ...] = (
    (50, 1), (20, 1), (10, 1), (5, 1), (2, 1), (1, 1), (1, 2), (1, 5), (1, 10), (1, 20), (1, 50), (1, 100), (1, 200),
)  # fmt: skip
# a vehicle on a page or a phone falls between two of those; these are common practice, no source
BETWEEN: tuple[tuple[int, int], ...] = ((1, 25), (1, 30), (1, 40), (1, 60), (1, 75))
_ALL_SCALES = tuple(sorted((*SCALES, *BETWEEN), key=lambda s: s[1] / s[0]))


@dataclass(frozen=True, slots=True)
class _Label:
    lines: tuple[str, ...]
    anchor: Point
    stroke: Stroke

    @property
    def height(self) -> float:
        return line_height(SIZE) * len(self.lines)


def standard_scale(
    width: float,
    height: float,
    *,
    room_width: float,
    room_height: float,
    among: tuple[tuple[int, int], ...] = SCALES,
) -> tuple[int, int]:
    """Return the largest standard scale at which an object fits.

    Parameters
    ----------
    width, height : float
        Size of the object. [m]
    room_width, room_height : float
        Size of the place on the sheet. [m]
    among : tuple, optional
        Scales to choose from, the largest first.

    Returns
    -------
    tuple of int
        Drawing length and true length, such as (1, 20).

    Examples
    --------
    >>> standard_scale(2.7, 1.1, room_width=0.14, room_height=0.1)
    (1, 20)
    """
    for drawn, true in among:
        if width * drawn / true <= room_width and height * drawn / true <= room_height:
            return drawn, true
    return among[-1]


def bar_length(metres_wide: float) -> float:
    """Return a round length for a scale bar, about a quarter of what is shown. [m]

    >>> bar_length(2.9)
    0.5
    """
    best = 1e-4
    for power in range(-4, 3):
        for digit in (1.0, 2.0, 5.0):
            length = digit * 10.0**power
            if length <= 0.25 * metres_wide:
                best = length
    return best


def draw_drawing(drawing: Drawing, look: Look, *, width: float = FIGURE_WIDTH, most_height: float = 300.0) -> Canvas:
    """Lay out and draw a drawing to scale; it says its scale for the sheet's own width and has a scale bar."""
    xs = [x + s * shape.circle for shape in drawing.shapes for x, _ in shape.points for s in (-1.0, 1.0)]
    ys = [y + s * shape.circle for shape in drawing.shapes for _, y in shape.points for s in (-1.0, 1.0)]
    xs += [m.x for m in drawing.marks if m.x is not None]
    ys += [m.y for m in drawing.marks if m.y is not None]
    xs += [c.x for c in drawing.captions]
    ys += [c.y for c in drawing.captions]
    if not xs or not ys:
        xs, ys = [0.0, 1.0], [0.0, 1.0]
    named = [_text(s.label, s.role) for s in drawing.shapes if s.label]
    named += [_text(m.text, m.role) for m in drawing.marks if m.text]
    side = max((text_width(t, SIZE, "semibold") for lines in named for t in lines), default=0.0)
    side = side + _MARGIN if named else 10.0
    room = width - 2.0 * side
    drawn, true = standard_scale(
        max(max(xs) - min(xs), 1e-6),
        max(max(ys) - min(ys), 1e-6),
        room_width=room / POINTS_PER_METRE,
        room_height=most_height / POINTS_PER_METRE,
        among=_ALL_SCALES if drawing.captions else SCALES,
    )
    scale = POINTS_PER_METRE * drawn / true
    scale = min(scale, room / max(max(xs) - min(xs), 1e-6))
    tall = (max(ys) - min(ys)) * scale
    title = wrap(drawing.title, width - 8.0, 10.5, "semibold")
    downs = [0.0, *(c.down for c in drawing.captions)]
    foot = 30.0 + max(downs) * line_height(SIZE)
    need = 0.5 * sum(line_height(SIZE) * len(lines) + 1.0 for lines in named) + 12.0
    body = max(tall + 16.0, need if len(named) > 1 else 0.0, 60.0)
    head = line_height(10.5) * len(title) + line_height(SIZE) * (1.0 - min(downs)) + 12.0
    canvas = Canvas(width, foot + body + head, look)
    middle_x, middle_y = 0.5 * (min(xs) + max(xs)), 0.5 * (min(ys) + max(ys))

    def place(point: Point) -> Point:
        return (
            0.5 * width + (point[0] - middle_x) * scale,
            foot + 0.5 * body + (point[1] - middle_y) * scale,
        )

    baseline = canvas.height - 11.0
    for text in title:
        canvas.words(2.0, baseline, text, size=10.5, weight="semibold")
        baseline -= line_height(10.5)
    canvas.words(2.0, baseline - 2.0, drawing.plane, colour=look.soft)

    labels = _draw_shapes(canvas, drawing, place, scale)
    for mark in drawing.marks:
        stroke = fixed_stroke(mark.role, look)
        at = place((middle_x if mark.x is None else mark.x, middle_y if mark.y is None else mark.y))
        if mark.x is None or mark.y is None:
            across = [(side, at[1]), (width - side, at[1])] if mark.x is None else [(at[0], foot), (at[0], foot + body)]
            canvas.line(across, stroke.colour, width=0.7, dash=stroke.dash)
            at = across[1]
        else:
            canvas.markers([at], "o", stroke.colour, size=4.5, hollow=mark.role != "governs")
        if mark.text:
            labels.append(_Label(_text(mark.text, mark.role), at, stroke))
    _draw_labels(canvas, labels, side, foot, body)
    for caption in drawing.captions:
        _draw_caption(canvas, caption, place((caption.x, caption.y)))
    _draw_scale_bar(canvas, (drawn, true), scale, (max(xs) - min(xs)))
    return canvas


def _text(label: str, role: Role) -> tuple[str, ...]:
    return wrap(label_of(label, role), _LABEL_WIDTH, SIZE, "semibold")


def _draw_shapes(canvas: Canvas, drawing: Drawing, place: Callable[[Point], Point], scale: float) -> list[_Label]:
    look = canvas.look
    taken = strokes([(s.label, s.role) for s in drawing.shapes], look)
    labels: list[_Label] = []
    named: set[tuple[str, str]] = set()
    for shape in sorted(drawing.shapes, key=lambda s: s.role != "stock"):
        stroke = taken[(shape.label, shape.role)]
        points = [place(p) for p in shape.points]
        if not points:
            continue
        if shape.circle > 0.0:
            for p in points:
                canvas.circle(p, shape.circle * scale, stroke.colour, width=stroke.width, dash=stroke.dash)
        else:
            if shape.closed:
                canvas.area(points, stroke.colour, alpha=0.14)
            outline = [*points, points[0]] if shape.closed else points
            if len(outline) > 1:
                canvas.line(outline, stroke.colour, width=stroke.width, dash=stroke.dash)
                if shape.ends and not shape.closed and len(outline) <= 4:
                    canvas.markers([outline[0], outline[-1]], "o", stroke.colour, size=3.2, hollow=True)
            else:
                canvas.markers(outline, "o", stroke.colour, size=4.0)
        if shape.label and (shape.label, shape.role) not in named:
            named.add((shape.label, shape.role))
            # the point of the shape farthest from the middle makes the shortest leader
            anchor = max(points, key=lambda p: abs(p[0] - 0.5 * canvas.width))
            if shape.circle > 0.0:
                out = 1.0 if anchor[0] >= 0.5 * canvas.width else -1.0
                anchor = (anchor[0] + out * shape.circle * scale, anchor[1])
            labels.append(_Label(_text(shape.label, shape.role), anchor, stroke))
    return labels


def _draw_labels(canvas: Canvas, labels: list[_Label], side: float, foot: float, body: float) -> None:
    """Write labels in the two margins, each side spread, as evenly filled as the room asks."""
    look = canvas.look
    left = [a for a in labels if a.anchor[0] < 0.5 * canvas.width]
    right = [a for a in labels if a.anchor[0] >= 0.5 * canvas.width]
    for here, there in ((left, right), (right, left)):
        here.sort(key=lambda a: abs(a.anchor[0] - 0.5 * canvas.width))
        while sum(a.height + 0.5 for a in here) > body and here:
            there.append(here.pop(0))
    for group, is_left in ((left, True), (right, False)):
        places = spread([a.anchor[1] for a in group], [a.height for a in group], low=foot - 4.0,
                        high=foot + body + 6.0, gap=0.5)  # fmt: skip
        for label, y in zip(group, places, strict=True):
            edge = side - 14.0 if is_left else canvas.width - side + 14.0
            canvas.line([label.anchor, (edge, y)], look.soft, width=0.4)
            colour = look.attention if label.stroke.weight == "semibold" else look.ink
            canvas.lines_of_words(
                edge - 3.0 if is_left else edge + 3.0,
                y,
                label.lines,
                size=SIZE,
                weight=label.stroke.weight,
                colour=colour,
                align="right" if is_left else "left",
            )


def _draw_caption(canvas: Canvas, caption: Caption, at: Point) -> None:
    """Write a caption with its middle at a place, moved in from the sheet's edge where it would pass it."""
    look, size = canvas.look, LARGE if caption.large else SIZE
    text = label_of(caption.text, caption.role)
    weight: Weight = "semibold" if caption.large or caption.role == "governs" else "regular"
    half = 0.5 * text_width(text, size, weight) + 2.0
    x = min(max(at[0], half), canvas.width - half)
    colour = {"governs": look.attention, "stock": look.soft}.get(caption.role, look.ink)
    y = at[1] - caption.down * line_height(SIZE)
    canvas.words(x, y - 0.33 * size, text, size=size, weight=weight, colour=colour, align="center")


def _draw_scale_bar(canvas: Canvas, ratio: tuple[int, int], scale: float, metres: float) -> None:
    look = canvas.look
    millimetres = canvas.width / 72.0 * 25.4
    words = f"Scale {ratio[0]} : {ratio[1]} when this picture is {millimetres:.0f} mm wide"
    right = canvas.width - 8.0
    length = bar_length(max(metres, 1e-3))
    for _ in range(2):  # a narrow sheet has room for a shorter bar only
        if right - length * scale - text_width(f"{length * 1e3:g} mm", SIZE) - 14.0 < text_width(words, SIZE):
            length = bar_length(3.9 * length)
    wide = length * scale
    y = 10.0
    canvas.line([(right - wide, y), (right, y)], look.ink, width=1.2)
    for x in (right - wide, right):
        canvas.line([(x, y - 3.0), (x, y + 3.0)], look.ink, width=0.8)
    text = f"{length * 1e3:g} mm"
    canvas.words(right - wide - 6.0, y - 0.33 * SIZE, text, align="right")
    canvas.words(2.0, y - 0.33 * SIZE, words, colour=look.soft)
