"""Pictures of the travel study: spans with their limiters, and the free plane of heave and roll with its edge."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from tussock.studies import model
from tussock.studies.display import show
from tussock.studies.job import ENDS
from tussock.studies.reach import AxleTravel
from tussock.studies.result import Axis, Band, Line, LineChart, Mark, Rung, Span, SpanChart
from tussock.studies.travel_plane import Plane

_RUNGS = 4  # limiters named beside a span, at each end


def span_picture(
    stock: Mapping[str, AxleTravel], kit: Mapping[str, AxleTravel], lift: Mapping[str, float]
) -> SpanChart:
    """Return the level travel of both axles, stock and kit, with what ends it."""
    spans: list[Span] = []
    for end in ENDS:
        spans.append(_span(stock[end], "stock", rungs=False))
        spans.append(_span(kit[end], f"kit {show(lift[end], 'length', sign=True)}", rungs=True))
    return SpanChart(
        key="travel",
        title="Both wheels of an axle together: travel from ride height, and what ends it",
        y=Axis(title="wheel travel", kind="length"),
        spans=tuple(spans),
        zero_label="ride height",
    )


def _span(travel: AxleTravel, label: str, *, rungs: bool) -> Span:
    droop, bump = travel.governing("droop"), travel.governing("bump")
    named = tuple(
        Rung(
            text=f"{s.name} {show(s.heave - travel.ride, 'length', sign=True)}",
            at=s.heave - travel.ride,
            governs=s in (droop, bump),
        )
        for where in ("droop", "bump")
        for s in sorted((x for x in travel.level if x.where == where), key=lambda x: abs(x.heave - travel.ride))[
            :_RUNGS
        ]
    )
    return Span(
        group=travel.end.capitalize(),
        label=label,
        low=(droop.heave if droop else float(model.TRAVEL_HEAVE[0])) - travel.ride,
        high=(bump.heave if bump else float(model.TRAVEL_HEAVE[-1])) - travel.ride,
        role="build" if rungs else "stock",
        rungs=named if rungs else (),
    )


def plane_picture(stock: Plane, kit: Plane) -> LineChart:
    """Return heave over roll: the edge of the kit's free travel, limiter by limiter, against that of stock."""
    low, high = _sides(kit)
    stock_sides = [Line(label="stock", x=x, y=y, role="stock") for x, y in _sides(stock)]
    # the label of a limiter stands at its piece that ends farthest right
    pieces = sorted(_pieces(kit), key=lambda piece: -piece[1][-1])
    return LineChart(
        key=f"plane_{kit.end}",
        title=f"{kit.end.capitalize()}: free travel over roll, and what ends it",
        x=Axis(title="roll, left wheel up", kind="angle"),
        y=Axis(title="middle of the axle from ride height, bump up", kind="length"),
        lines=(
            *stock_sides,
            *(
                Line(label=name, x=x, y=y, role="governs" if name == _level(kit) else "build", marked=False)
                for name, x, y in pieces
            ),
        ),
        marks=(Mark(text="ride height", x=0.0, y=0.0),),
        bands=(Band(label="free with the kit", x=low[0], low=low[1], high=high[1], role="build"),),
    )


def _level(plane: Plane) -> str:
    """Return the name of what ends level droop."""
    level = next((e for e in plane.edges if abs(e.roll) < 1e-9), None)
    return level.low.name if level is not None and level.low is not None else ""


def _heave(plane: Plane, index: int, side: str) -> float:
    stop = getattr(plane.edges[index], side)
    limit = plane.heave[0] if side == "low" else plane.heave[-1]
    return float(limit if stop is None else stop.heave) - plane.ride


def _outline(plane: Plane, side: str) -> tuple[list[float], list[float], list[str]]:
    """Return rolls, heaves from ride height and limiters of the edge below or above, closed at the plane's tips."""
    rolls = [e.roll for e in plane.edges]
    heaves = [_heave(plane, i, side) for i in range(len(rolls))]
    names = [s.name if (s := getattr(e, side)) is not None else "end of what was followed" for e in plane.edges]
    for tip, at in zip(reversed(plane.tips()), (len(rolls), 0), strict=True):
        if tip.limiter and rolls and abs(tip.roll) > abs(rolls[min(at, len(rolls) - 1)]) + 1e-6:
            rolls.insert(at, tip.roll)
            heaves.insert(at, 0.5 * (tip.down + tip.up))
            names.insert(at, names[min(at, len(names) - 1)])
    return rolls, heaves, names


def _sides(plane: Plane) -> list[tuple[tuple[float, ...], tuple[float, ...]]]:
    """Return the edge below and above over roll."""
    outlines = (_outline(plane, side) for side in ("low", "high"))
    return [(tuple(rolls), tuple(heaves)) for rolls, heaves, _ in outlines]


def _pieces(plane: Plane) -> Iterator[tuple[str, tuple[float, ...], tuple[float, ...]]]:
    """Yield the edge in pieces, each with its limiter; where the limiter changes both pieces meet halfway."""
    for side in ("low", "high"):
        rolls, heaves, names = _outline(plane, side)
        first = 0
        for i in range(1, len(rolls) + 1):
            if i < len(rolls) and names[i] == names[first]:
                continue
            x, y = rolls[first:i], heaves[first:i]
            if first > 0:
                x.insert(0, 0.5 * (rolls[first - 1] + rolls[first]))
                y.insert(0, 0.5 * (heaves[first - 1] + heaves[first]))
            if i < len(rolls):
                x.append(0.5 * (rolls[i - 1] + rolls[i]))
                y.append(0.5 * (heaves[i - 1] + heaves[i]))
            yield names[first], tuple(x), tuple(y)
            first = i
