"""Each wheel alone: how far it droops and bumps while the others stay at their ride heights, and what ends it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import RegularGridInterpolator

from tussock.studies import model
from tussock.studies.display import number, show
from tussock.studies.job import ENDS, Job, Setup
from tussock.studies.limiters import Stop
from tussock.studies.result import Axis, Role, Rung, Span, SpanChart
from tussock.studies.travel_plane import LOOSE, Plane

SIDES = ("left", "right")
_STEP = 0.001  # between places at which margins are read [m]
_BESIDE_STOCK, _BESIDE_KIT = 2, 3  # limiters named at each end of a bar


@dataclass(frozen=True, kw_only=True, slots=True)
class Corner:
    """The travel of one wheel alone.

    Attributes
    ----------
    end, side : str
        "front" or "rear", "left" or "right".
    stops : tuple of Stop
        Where each limiter is used up, the nearest first; their heave is the wheel's travel from its ride height [m].
    low, high : float
        Ends of what was followed [m].
    """

    end: str
    side: str
    stops: tuple[Stop, ...]
    low: float
    high: float

    def governing(self, where: str) -> Stop | None:
        """Return what ends droop or bump; None where nothing does within what was followed."""
        return next((s for s in self.stops if s.where == where and s.name != LOOSE), None)


def corners(job: Job, setup: Setup, plane: Plane) -> tuple[Corner, Corner]:
    """Return the left and the right wheel of an axle, each moved alone over the plane of heave and roll.

    A wheel that moves by w takes the middle of the axle along by w/2 and leans it by w over the track, from where the
    setup stands; margins are read linearly between the plane's stations.
    """
    stood = float(plane.lean(model.posture(job, setup)[plane.end].roll))
    names = list(plane.margins)
    read = RegularGridInterpolator(
        (plane.heave, plane.roll), np.stack([plane.margins[n] for n in names], axis=-1), method="linear"
    )
    made: list[Corner] = []
    for side, sign in zip(SIDES, (1.0, -1.0), strict=True):
        reach = float(max(abs(plane.heave[0] - plane.ride), abs(plane.heave[-1] - plane.ride)))
        moved = np.arange(-round(2.0 * reach / _STEP), round(2.0 * reach / _STEP) + 1) * _STEP
        heave = plane.ride + 0.5 * moved
        lean = (stood + sign * 0.5 * moved) / (0.5 * plane.track)
        roll = np.arcsin(np.clip(lean, -1.0, 1.0))
        inside = (heave >= plane.heave[0]) & (heave <= plane.heave[-1])
        inside &= (roll >= plane.roll[0]) & (roll <= plane.roll[-1])
        moved, places = moved[inside], np.stack([heave, roll], axis=-1)[inside]
        left = read(places)
        here = int(np.argmin(np.abs(moved)))
        stops = [
            stop
            for i, name in enumerate(names)
            for stop in (_stop(name, moved, left[:, i], here, -1), _stop(name, moved, left[:, i], here, 1))
            if stop is not None
        ]
        made.append(
            Corner(
                end=plane.end,
                side=side,
                stops=tuple(sorted(stops, key=lambda s: abs(s.heave))),
                low=float(moved[0]),
                high=float(moved[-1]),
            )
        )
    return made[0], made[1]


def _stop(name: str, moved: np.ndarray, left: np.ndarray, here: int, way: int) -> Stop | None:
    """Return where a margin runs out, going from ride height downwards (-1) or upwards; None where it does not.

    One that is used up at ride height already stops there, in the direction in which it gets worse.
    """
    where = "bump" if way > 0 else "droop"
    if left[here] <= 0.0:
        worse = left[min(max(here + way, 0), left.size - 1)] < left[here]
        return Stop(name=name, where=where, heave=0.0) if worse else None
    along = slice(here, None) if way > 0 else slice(here, None, -1)
    margin, place = left[along], moved[along]
    used = np.flatnonzero(margin <= 0.0)
    if used.size == 0:
        return None
    i = int(used[0])
    share = margin[i - 1] / (margin[i - 1] - margin[i])
    return Stop(name=name, where=where, heave=float(place[i - 1] + share * (place[i] - place[i - 1])))


def ladder(stock: Sequence[Corner], kit: Sequence[Corner], lift: dict[str, float]) -> SpanChart:
    """Return four ladders: each wheel's travel alone, stock and kit side by side, with limiters as rungs."""
    spans: list[Span] = []
    for before, now in zip(stock, kit, strict=True):
        group = f"{now.end.capitalize()} {now.side}"
        spans.append(_span(before, group, "stock", most=_BESIDE_STOCK, role="stock"))
        raised = f"kit {show(lift[now.end], 'length', sign=True)}"
        spans.append(_span(now, group, raised, most=_BESIDE_KIT, role="build"))
    return SpanChart(
        key="corners",
        title="Each wheel alone, the others at ride height: what ends its travel",
        y=Axis(title="wheel travel", kind="length"),
        spans=tuple(spans),
        zero_label="ride height",
        paired=True,
    )


def _span(corner: Corner, group: str, label: str, *, most: int, role: Role) -> Span:
    droop, bump = corner.governing("droop"), corner.governing("bump")
    named = [s for where in ("bump", "droop") for s in [x for x in corner.stops if x.where == where][:most]]
    return Span(
        group=group,
        label=label,
        low=droop.heave if droop else corner.low,
        high=bump.heave if bump else corner.high,
        role=role,
        rungs=tuple(
            Rung(
                text=f"{s.name} {number(s.heave, 'length', sign=True)}",
                at=s.heave,
                governs=s is droop or s is bump,
            )
            for s in named
        ),
    )


def four(job: Job, setup: Setup, planes: dict[str, Plane]) -> tuple[Corner, ...]:
    """Return the wheels of both axles, front left to rear right."""
    return tuple(corner for end in ENDS for corner in corners(job, setup, planes[end]))
