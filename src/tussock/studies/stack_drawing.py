"""A stack of discs drawn to scale: half a section from the clamp outward, the seat below."""

from __future__ import annotations

from collections.abc import Sequence

from tussock.mechanics.dampers.assembly import StackValve
from tussock.mechanics.dampers.stack import Disc
from tussock.record.discs import disc_words
from tussock.studies.result import Drawing, Shape

#: How much of the piston's face is drawn below the discs, and of the post inside the clamp [m].
_FACE, _POST = 0.6e-3, 1.5e-3


def _box(label: str, left: float, bottom: float, right: float, top: float, stock: bool = False) -> Shape:
    return Shape(
        label=label,
        points=((left, bottom), (right, bottom), (right, top), (left, top)),
        role="stock" if stock else "plain",
        closed=True,
    )


def stack_drawing(valve: StackValve, *, key: str, title: str, discs: Sequence[Disc] | None = None) -> Drawing:
    """Return the drawing: discs flat, at rest, in order from the seat upwards.

    Parameters
    ----------
    valve : StackValve
    key, title : str
        Of the picture.
    discs : sequence of Disc, optional
        Drawn instead of the valve's own: also a stack that cannot be built is to be seen.
    """
    discs = valve.discs if discs is None else discs
    inner, outer = valve.ports.ring
    left = valve.clamp - _POST
    lift = max(valve.seat_height, 0.0)
    edge = min(max(valve.land, 0.3e-3), valve.seat - outer) if valve.seat > outer else 0.3e-3
    shapes = [
        _box("clamp" if discs else "", left, 0.0, valve.clamp, sum(d.thickness for d in discs), stock=True),
        _box("piston face", left, -_FACE, max(inner, left + 1e-4), 0.0, stock=True),
        _box("seat", valve.seat - edge, -_FACE, valve.seat, lift, stock=True),
    ]
    at = 0.0
    for number, disc in enumerate(discs, 1):
        shapes.append(
            _box(
                f"{number}: {disc_words(disc.thickness, 2.0 * disc.radius)}",
                valve.clamp if disc.radius > valve.clamp else left,
                at,
                disc.radius,
                at + disc.thickness,
            )
        )
        at += disc.thickness
    if valve.washer is not None:
        low = at + valve.washer.height
        shapes.append(_box("backing washer", left, low, valve.washer.radius, low + 0.5e-3, stock=True))
    return Drawing(
        key=key,
        title=title,
        plane="half section from the clamp outward, piston below, discs drawn flat",
        shapes=tuple(shapes),
    )
