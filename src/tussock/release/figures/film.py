"""One frame of a film as a drawing to scale, its views side by side."""

from __future__ import annotations

import math

from tussock.studies.result import Drawing, Film, Mark, Shape

_GAP = 0.5  # between two views [m]


def still(film: Film, frame: int | None = None) -> Drawing:
    """Return a frame of a film; the one that stands for it unless said."""
    i = film.still if frame is None else frame
    shapes: list[Shape] = []
    marks: list[Mark] = []
    aside = 0.0
    for view in film.views:
        shift = aside - view.left
        aside = shift + view.right + _GAP
        marks.append(Mark(text=view.title, x=shift + 0.5 * (view.left + view.right), y=view.top))
        if view.ground:
            first = film.along[i] + view.left
            seen = [
                (shift + view.start + k * view.spacing - film.along[i], height - film.level[i])
                for k, height in enumerate(view.ground)
                if first <= view.start + k * view.spacing <= film.along[i] + view.right
            ]
            shapes.append(Shape(label="", points=tuple(seen), role="target"))
        for part in film.parts:
            if part.view == view.key:
                bad = bool(part.governs) and part.governs[i]
                for shape in part.shapes:
                    moved = _moved(shape, shift + part.across[i], part.up[i], part.turn[i])
                    shapes.append(
                        Shape(
                            label=f"{part.label} off the ground" if bad else "",
                            points=moved,
                            role="governs" if bad else shape.role,
                            closed=shape.closed,
                            circle=shape.circle,
                        )
                    )
    return Drawing(
        key=film.key,
        title=f"{film.title}, at {i * film.step:.2f} s",
        plane="across and up, to scale",
        shapes=tuple(shapes),
        marks=tuple(marks),
    )


def _moved(shape: Shape, across: float, up: float, turn: float) -> tuple[tuple[float, float], ...]:
    c, s = math.cos(turn), math.sin(turn)
    return tuple((across + c * x - s * y, up + s * x + c * y) for x, y in shape.points)
