"""Tables of the travel study: limiters, the plane of heave and roll, crossing wheels, and what the parts need."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from tussock.studies import parts
from tussock.studies.display import show
from tussock.studies.job import ENDS, Job, Setup
from tussock.studies.reach import AxleTravel
from tussock.studies.result import Cell, Column, Table
from tussock.studies.travel_parts import Captive, DamperNeed, LineNeed
from tussock.studies.travel_plane import Edge, Plane
from tussock.studies.travel_remedies import remedy
from tussock.studies.travel_stops import Engagement, SpacerNeed


def limiter_table(job: Job, setup: Setup, kit: Mapping[str, AxleTravel]) -> Table:
    """Return where every limiter ends the level travel, its margin there and in roll, and what mends it."""
    rows: list[tuple[float | int | str | bool | None, ...]] = []
    strong: list[int] = []
    for end in ENDS:
        for where in ("droop", "bump"):
            wanted = float(getattr(job.programme.targets, where)[end])
            sign = -1.0 if where == "droop" else 1.0
            found = sorted((s for s in kit[end].level if s.where == where), key=lambda s: abs(s.heave - kit[end].ride))
            for i, stop in enumerate(found):
                if i == 0:
                    strong.append(len(rows))
                reach = sign * (stop.heave - kit[end].ride)
                short = wanted - reach
                rows.append(
                    (
                        stop.name,
                        end,
                        where,
                        sign * reach,
                        reach - wanted,
                        kit[end].margin_in_roll(stop.name, where, wanted),
                        remedy(job, setup, kit[end], stop, short) if short > 0.0 else "",
                    )
                )
    return Table(
        key="limiters",
        title="What ends the travel, from ride height",
        columns=(
            Column(key="limiter", title="Limiter"),
            Column(key="axle", title="Axle"),
            Column(key="where", title="Where"),
            Column(key="stops_at", title="Stops at", kind="length", sign=True),
            Column(key="margin", title="Margin", kind="length", sign=True),
            Column(
                key="in_roll", title=f"In roll {show(kit['front'].roll, 'angle', digits=0)}", kind="length", sign=True
            ),
            Column(key="remedy", title="What to do"),
        ),
        rows=tuple(rows),
        strong=tuple(strong),
        note="margin: beyond the travel wanted; in roll: the same for the wheel that moves furthest",
    )


def plane_table(job: Job, stock: Mapping[str, Plane], kit: Mapping[str, Plane]) -> Table:
    """Return droop and bump left from ride height at several rolls, and what governs, stock against kit."""
    rows: list[tuple[Cell, ...]] = []
    strong: list[int] = []
    wanted = float(job.programme.targets.roll)
    for end in ENDS:
        for share in (-2.0, -1.0, 0.0, 1.0, 2.0):
            for label, plane in (("stock", stock[end]), ("kit", kit[end])):
                if abs(share) * wanted > plane.roll[-1] + 1e-9:
                    continue
                edge = _edge(plane, share * wanted)
                if label == "kit" and share == 0.0:
                    strong.append(len(rows))
                rows.append((end, share * wanted, label, *_sides(plane, edge)))
    return Table(
        key="plane",
        title="Droop and bump left over roll, and what ends them",
        columns=(
            Column(key="axle", title="Axle"),
            Column(key="roll", title="Roll", kind="angle", sign=True),
            Column(key="vehicle", title="Vehicle"),
            Column(key="droop", title="Droop", kind="length", sign=True),
            Column(key="droop_by", title="ended by"),
            Column(key="bump", title="Bump", kind="length", sign=True),
            Column(key="bump_by", title="ended by"),
        ),
        rows=tuple(rows),
        strong=tuple(strong),
        note="of the middle of the axle from ride height; left wheel up positive; below zero: ride height is not free",
    )


def _edge(plane: Plane, roll: float) -> Edge | None:
    return next((e for e in plane.edges if abs(e.roll - roll) < 1e-6), None)


def _sides(plane: Plane, edge: Edge | None) -> tuple[Cell, Cell, Cell, Cell]:
    if edge is None:
        return (None, "nothing is free", None, "nothing is free")
    out: list[Cell] = []
    for sign, stop in ((-1.0, edge.low), (1.0, edge.high)):
        out += [None, "nothing followed"] if stop is None else [sign * (stop.heave - plane.ride), stop.name]
    return (out[0], out[1], out[2], out[3])


def crossing_table(stock: Mapping[str, Plane], kit: Mapping[str, Plane]) -> Table:
    """Return how far the wheels of each axle cross, stock against kit."""
    rows: list[tuple[Cell, ...]] = []
    for end in ENDS:
        for label, plane in (("stock", stock[end]), ("kit", kit[end])):
            loose = plane.loose_at()
            about = min(plane.about_ride(), key=lambda c: round(abs(c.roll), 9))  # alike both ways: the first
            for place, crossing in (("about ride height", about), ("at most", plane.farthest())):
                early = loose is not None and loose < abs(crossing.roll)
                rows.append(
                    (
                        end,
                        label,
                        place,
                        abs(crossing.roll),
                        crossing.down,
                        crossing.up,
                        crossing.limiter or "nothing followed",
                        ("left" if crossing.roll > 0.0 else "right") + " wheel up",
                        loose if early else None,
                    )
                )
    return Table(
        key="crossing",
        title="How far the wheels of an axle cross",
        columns=(
            Column(key="axle", title="Axle"),
            Column(key="vehicle", title="Vehicle"),
            Column(key="place", title="Where"),
            Column(key="roll", title="Roll", kind="angle"),
            Column(key="down", title="Lower wheel", kind="length", sign=True),
            Column(key="up", title="Upper wheel", kind="length", sign=True),
            Column(key="limiter", title="Ended by"),
            Column(key="side", title="with"),
            Column(key="loose", title="Spring loose at", kind="angle"),
        ),
        rows=tuple(rows),
        note="wheel travel from ride height; about ride height: the lesser of both ways",
    )


def line_table(needs: Sequence[LineNeed]) -> Table:
    """Return the length that every line needs."""
    return Table(
        key="lines",
        title="Hoses, cables and straps: length needed",
        columns=(
            Column(key="axle", title="Axle"),
            Column(key="line", title="Line"),
            Column(key="length", title="Fitted", kind="length"),
            Column(key="slack", title="Slack", kind="length"),
            Column(key="wanted", title="Wanted", kind="length"),
            Column(key="margin", title="Margin", kind="length", sign=True),
            Column(key="heave", title="Longest at heave", kind="length", sign=True),
            Column(key="roll", title="and roll", kind="angle", sign=True),
            Column(key="order", title="Order for the targets", kind="length"),
            Column(key="whole", title="Order to be last", kind="length"),
            Column(key="part", title="Part"),
        ),
        rows=tuple(
            (
                n.end,
                n.name,
                n.length,
                n.slack,
                n.wanted,
                n.length - n.wanted,
                n.heave,
                n.roll,
                n.order,
                n.whole,
                "stays" if n.length >= n.wanted - 1e-6 else f"{n.name} of {show(n.order, 'length')}",
            )
            for n in needs
        ),
        strong=tuple(i for i, n in enumerate(needs) if n.length < n.wanted - 1e-6),
        note="slack included, in steps of 5 mm; to be last: whatever heave and roll the other limiters allow",
    )


def damper_table(job: Job, setup: Setup, needs: Sequence[DamperNeed]) -> Table:
    """Return the damper lengths that the travel asks for, beside those fitted."""
    rows: list[tuple[Cell, ...]] = []
    strong: list[int] = []
    for n in needs:
        if min(n.open_length - n.longest, n.shortest - n.closed_length) < 0.0:
            strong.append(len(rows))
        rows.append(
            (
                n.end,
                _mounts(job, setup, n.end),
                n.ride,
                n.longest,
                n.open_length,
                n.open_length - n.longest,
                n.shortest,
                n.closed_length,
                n.shortest - n.closed_length,
                n.stroke,
                n.stroke_wanted,
                n.room,
            )
        )
    return Table(
        key="dampers",
        title="Damper lengths between mounts",
        columns=(
            Column(key="axle", title="Axle"),
            Column(key="mounts", title="Mounts"),
            Column(key="ride", title="At ride height", kind="length"),
            Column(key="needed_open", title="Wanted open", kind="length"),
            Column(key="open", title="Open", kind="length"),
            Column(key="open_margin", title="Left at full droop", kind="length", sign=True),
            Column(key="needed_closed", title="At full bump", kind="length"),
            Column(key="closed", title="Closed", kind="length"),
            Column(key="closed_margin", title="Left at full bump", kind="length", sign=True),
            Column(key="stroke", title="Stroke", kind="length"),
            Column(key="stroke_wanted", title="Stroke wanted", kind="length"),
            Column(key="room", title="Room for this make", kind="length", sign=True),
        ),
        rows=tuple(rows),
        strong=tuple(strong),
        note="worse side, level and up to the targets' roll; stroke wanted: 5 mm kept at either end (common practice); "
        "room: closed length left by that stroke and by what this damper's own ends take",
    )


def _mounts(job: Job, setup: Setup, end: str) -> str:
    found = getattr(parts.fitted(job, setup, end).damper, "mounts", None)
    if found is None:
        found = getattr(job.programme.vehicle.axles[end].damper, "mounts", None)
    if found is None:
        return ""
    return " / ".join(f"{m.kind} {show(float(m.size), 'length')}" for m in (found.upper, found.lower))


def spacer_table(needs: Sequence[SpacerNeed]) -> Table:
    """Return between which heights the spacers of the bump stops must lie."""
    return Table(
        key="spacers",
        title="Bump-stop spacers",
        columns=(
            Column(key="axle", title="Axle"),
            Column(key="fitted", title="Fitted", kind="length"),
            Column(key="least", title="At least", kind="length"),
            Column(key="first", title="else it ends at"),
            Column(key="most", title="At most", kind="length"),
            Column(key="everywhere", title="To come first at every roll", kind="length"),
        ),
        rows=tuple(
            (
                n.end,
                n.fitted,
                max(n.least, 0.0) if np.isfinite(n.least) else None,
                n.first or "nothing followed",
                n.most,
                max(n.everywhere, 0.0) if np.isfinite(n.everywhere) else None,
            )
            for n in needs
        ),
        strong=tuple(i for i, n in enumerate(needs) if not n.least - 1e-6 <= n.fitted <= n.most + 1e-6),
        note="at least: the stop has taken its load before anything else ends bump, up to the targets' roll; "
        "at most: the bump wanted is left",
    )


def engagement_table(found: Sequence[Engagement]) -> Table:
    """Return how each bump stop takes up its load."""
    rows: list[tuple[Cell, ...]] = []
    for e in found:
        cells: list[Cell] = []
        for place in (e.begins, e.half, e.full):
            cells += [None, None] if place is None else list(place)
        rows.append((e.end, e.side, e.roll, *cells))
    return Table(
        key="stops",
        title="How the bump stops take up their load",
        columns=(
            Column(key="axle", title="Axle"),
            Column(key="side", title="Wheel"),
            Column(key="roll", title="Roll", kind="angle", sign=True),
            Column(key="begins", title="Touches at", kind="length", sign=True),
            Column(key="begins_load", title="load, g", kind="ratio"),
            Column(key="half", title="Half used at", kind="length", sign=True),
            Column(key="half_load", title="load, g", kind="ratio"),
            Column(key="full", title="Stated load at", kind="length", sign=True),
            Column(key="full_load", title="load, g", kind="ratio"),
        ),
        rows=tuple(rows),
        note="travel of that wheel from ride height; load: spring and stop over the sprung corner at rest; half of the "
        "compression at the stated load",
    )


def captive_table(found: Sequence[Captive]) -> Table:
    """Return how the coils stand at full droop."""
    return Table(
        key="springs",
        title="Springs at full droop",
        columns=(
            Column(key="axle", title="Axle"),
            Column(key="droop", title="Gap at full droop", kind="length"),
            Column(key="crossed", title="Gap at worst", kind="length"),
            Column(key="roll", title="at roll", kind="angle", sign=True),
            Column(key="pressed", title="Still pressed by", kind="length"),
            Column(key="retained", title="Held by"),
            Column(key="free_length", title="Free length", kind="length"),
            Column(key="rate", title="Rate", kind="rate"),
            Column(key="longer", title="Free length to stay seated", kind="length"),
            Column(key="softer", title="with rate", kind="rate"),
        ),
        rows=tuple(
            (
                c.end,
                max(c.droop, 0.0),
                max(c.crossed, 0.0),
                c.roll,
                max(-c.crossed, 0.0),
                "clamps in both seats" if c.retained else "its own load" if c.crossed <= 0.0 else "nothing",
                c.free_length,
                c.rate,
                c.longer,
                c.softer,
            )
            for c in found
        ),
        strong=tuple(i for i, c in enumerate(found) if c.crossed > 0.0 and not c.retained),
        note="worst: anywhere on the edge of the free travel; the longer spring carries the same load at ride height",
    )
