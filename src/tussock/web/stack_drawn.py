"""The stack that somebody holds in hand, as markup: the half section to scale, and its discs as a list to pick from."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from tussock.record.discs import DiscLine, DiscRule
from tussock.studies.result import Drawing, Shape

_MILLI = 1e3
_EDGE = 0.35  # round the drawing [mm]
_LABEL = 2.6  # room for the words of the chosen disc [mm]
_FOOT = 0.8  # room for the scale bar below [mm]
_TEXT = 0.38  # height of the words [mm]


def stack_svg(drawing: Drawing, chosen: int) -> str:
    """Return a stack's drawing to scale, the chosen disc marked; each disc carries its number for who points at it."""
    xs = [x * _MILLI for shape in drawing.shapes for x, _ in shape.points]
    ys = [y * _MILLI for shape in drawing.shapes for _, y in shape.points]
    left, right = min(xs) - _EDGE, max(xs) + _LABEL
    top, bottom = max(ys) + _EDGE, min(ys) - _FOOT
    parts = [_metal(shape, top) for shape in drawing.shapes if not _number(shape)]
    marked = ""
    for shape in drawing.shapes:
        number = _number(shape)
        if number:
            parts.append(_disc(shape, number - 1, top, chosen=number - 1 == chosen))
            if number - 1 == chosen:
                (_, low), (_, high) = shape.points[0], shape.points[2]
                x = max(x for x, _ in shape.points) * _MILLI + 0.2
                y = top - 0.5 * (low + high) * _MILLI + 0.35 * _TEXT
                marked = f'<text x="{x:.2f}" y="{y:.2f}" class="picked">{escape(shape.label.partition(": ")[2])}</text>'
    wide, tall = right - left, top - bottom
    bar_y = tall - 0.25
    bar = (
        f'<path d="M{left + 0.3:.2f} {bar_y:.2f}h2m-2 -0.1v0.2m2 -0.2v0.2" class="rule"/>'
        f'<text x="{left + 2.5:.2f}" y="{bar_y + 0.12:.2f}">2 mm, both ways</text>'
    )
    names = "".join(_name(shape, top) for shape in drawing.shapes if shape.label in ("clamp", "seat"))
    return (
        f'<svg class="stack" role="img" viewBox="{left:.2f} 0 {wide:.2f} {tall:.2f}" font-size="{_TEXT}" '
        f'xmlns="http://www.w3.org/2000/svg"><title>{escape(drawing.title)}, {escape(drawing.plane)}</title>'
        f"{''.join(parts)}{names}{marked}{bar}</svg>"
    )


def discs_html(discs: Sequence[str], chosen: int) -> str:
    """Return the discs as options of a list, the nut's side first, each as wide as it is among the others."""
    lines = [DiscRule().read(disc) for disc in discs]
    widest = max((line.diameter for line in lines), default=1.0)
    rows = [_row(line, i, i == chosen, line.diameter / widest) for i, line in enumerate(lines)]
    return "".join(reversed(rows))


def sizes_html(sizes: Sequence[str], disc: str | None) -> str:
    """Return the options of the box that swaps a disc, its own size first where the stock has none like it."""
    every = list(sizes) if disc is None or disc in sizes else [disc, *sizes]
    return "".join(
        f'<option value="{escape(one)}"{" selected" if one == disc else ""}>{escape(one)}</option>' for one in every
    )


def _row(line: DiscLine, index: int, chosen: bool, share: float) -> str:
    words = escape(f"{line.words} mm" + (f" in {line.material}" if line.material else ""))
    return (
        f'<li role="option" id="disc-{index}" data-disc="{index}" aria-selected="{"true" if chosen else "false"}" '
        f'aria-label="{index + 1} from the seat, {words}">'
        f'<span class="grip" aria-hidden="true">⠿</span><span class="nth">{index + 1}</span><span>{words}</span>'
        f'<i style="width:{100.0 * share:.0f}%" aria-hidden="true"></i></li>'
    )


def _number(shape: Shape) -> int:
    """Return which disc a shape is, counted from 1 at the seat; 0 for what is no disc."""
    head = shape.label.partition(":")[0]
    return int(head) if head.isdecimal() else 0


def _rect(shape: Shape, top: float) -> str:
    (left, low), (right, high) = shape.points[0], shape.points[2]
    return (
        f'x="{left * _MILLI:.3f}" y="{top - high * _MILLI:.3f}" width="{(right - left) * _MILLI:.3f}" '
        f'height="{(high - low) * _MILLI:.3f}"'
    )


def _metal(shape: Shape, top: float) -> str:
    return f'<rect {_rect(shape, top)} class="metal"/>'


def _disc(shape: Shape, index: int, top: float, *, chosen: bool) -> str:
    return f'<rect {_rect(shape, top)} class="disc{" picked" if chosen else ""}" data-disc="{index}"/>'


def _name(shape: Shape, top: float) -> str:
    """Return the word under the seat, and beside the clamp."""
    (left, low), (right, _) = shape.points[0], shape.points[2]
    x = 0.5 * (left + right) * _MILLI
    y = top - low * _MILLI + 0.45 if shape.label == "seat" else top - low * _MILLI - 0.15
    return f'<text x="{x:.2f}" y="{y:.2f}" text-anchor="middle">{shape.label}</text>'
