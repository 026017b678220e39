"""A film as plain data for a page, in metres, radians and seconds; strokes as tokens of the look."""

from __future__ import annotations

from typing import Any

from tussock.release.chart_json import TOKENS
from tussock.release.figures.style import fixed_stroke
from tussock.studies.result import Film, Shape


def film_json(film: Film) -> dict[str, Any]:
    """Return a film as JSON values."""
    return {
        "title": film.title,
        "note": film.note,
        "step": film.step,
        "still": film.still,
        "along": film.along,
        "level": film.level,
        "views": [
            {
                "key": v.key,
                "title": v.title,
                "left": v.left,
                "right": v.right,
                "bottom": v.bottom,
                "top": v.top,
                "ground": v.ground,
                "spacing": v.spacing,
                "start": v.start,
            }
            for v in film.views
        ],
        "parts": [
            {
                "label": p.label,
                "view": p.view,
                "shapes": [_shape(s) for s in p.shapes],
                "across": p.across,
                "up": p.up,
                "turn": p.turn,
                "governs": p.governs if any(p.governs) else (),
            }
            for p in film.parts
        ],
    }


def _shape(shape: Shape) -> dict[str, Any]:
    stroke = fixed_stroke(shape.role, TOKENS)
    return {
        "points": shape.points,
        "circle": shape.circle,
        "closed": shape.closed,
        "token": stroke.colour,
        "width": stroke.width,
        "dash": [] if shape.role == "target" else [stroke.width * d for d in stroke.dash],
    }
