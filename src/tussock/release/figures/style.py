"""Which colour, dash, marker and weight a role gets, the same in every picture."""

from __future__ import annotations

from dataclasses import dataclass

from tussock.release.look import DASHES, MARKERS, STOCK_DASH, TARGET_DASH, Look, Weight
from tussock.studies.result import Role


@dataclass(frozen=True, kw_only=True, slots=True)
class Stroke:
    """How a line is drawn: colour, width [pt], dash in widths, marker ('' for none), face of its label."""

    colour: str
    width: float
    dash: tuple[float, ...] = ()
    marker: str = ""
    weight: Weight = "regular"


ATTENTION = "▲ "


def strokes(named: list[tuple[str, Role]], look: Look) -> dict[tuple[str, Role], Stroke]:
    """Give every label its stroke: builds take the series in order, the other roles are always the same.

    Two lines with the same label and role (the two halves of one damper curve) share one stroke.
    """
    found: dict[tuple[str, Role], Stroke] = {}
    builds = 0
    for label, role in named:
        if (label, role) in found:
            continue
        if role == "build":
            i = builds % len(look.series)
            # past the fifth series the colours come round again, each with the next one's dash
            dash = DASHES[(i + builds // len(look.series)) % len(DASHES)]
            found[(label, role)] = Stroke(colour=look.series[i], width=1.5, dash=dash, marker=MARKERS[i])
            builds += 1
        else:
            found[(label, role)] = fixed_stroke(role, look)
    return found


def fixed_stroke(role: Role, look: Look) -> Stroke:
    """Return the stroke of a role that does not depend on the order of the builds."""
    if role == "stock":
        return Stroke(colour=look.stock_line, width=1.3, dash=STOCK_DASH)
    if role == "governs":
        return Stroke(colour=look.attention, width=1.9, weight="semibold")
    if role == "target":
        return Stroke(colour=look.ink, width=0.9, dash=TARGET_DASH)
    if role == "build":
        return Stroke(colour=look.series[0], width=1.5, marker=MARKERS[0])
    return Stroke(colour=look.soft, width=0.8)


def label_of(text: str, role: Role) -> str:
    """Put the triangle before what governs, so that it shows without colour.

    >>> label_of("brake hose", "governs")
    '▲ brake hose'
    """
    return ATTENTION + text if role == "governs" else text
