"""The greatest safe lift, limiter by limiter."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from tussock.studies.job import ENDS
from tussock.studies.reach import AxleTravel
from tussock.studies.result import Cell, Column, Table
from tussock.studies.travel_plane import LOOSE


@dataclass(frozen=True, kw_only=True, slots=True)
class LiftStep:
    """How far one limiter lets the body rise.

    Attributes
    ----------
    end, limiter : str
        Which.
    level, rolled : float
        Lift over stock kerb at which just the droop wanted is left, level and at the targets' roll [m]; infinite
        where the limiter does not end droop there.
    """

    end: str
    limiter: str
    level: float
    rolled: float

    @property
    def lift(self) -> float:
        """The less of both; a spring that comes loose in roll may be held captive [m]."""
        return self.level if self.limiter == LOOSE else min(self.level, self.rolled)


def lift_steps(travel: AxleTravel, *, lift: float, wanted: float) -> tuple[LiftStep, ...]:
    """Return how far each limiter of an axle lets the body rise, the first one first: the next follows its mending."""
    level = {s.name: lift + (travel.ride - s.heave) - wanted for s in travel.level if s.where == "droop"}
    rolled: dict[str, float] = {}
    for stop in travel.rolled:
        margin = travel.margin_in_roll(stop.name, "droop", wanted) if stop.where == "droop" else None
        if margin is not None:
            rolled[stop.name] = lift + margin
    steps = [
        LiftStep(end=travel.end, limiter=n, level=level.get(n, math.inf), rolled=rolled.get(n, math.inf))
        for n in dict.fromkeys((*level, *rolled))
    ]
    return tuple(sorted(steps, key=lambda s: s.lift))


def lift_table(steps: Mapping[str, Sequence[LiftStep]], lift: Mapping[str, float]) -> Table:
    """Return the lift that each limiter allows, the first one first."""
    rows: list[tuple[Cell, ...]] = []
    strong: list[int] = []
    for end in ENDS:
        for i, step in enumerate(steps[end]):
            if i == 0:
                strong.append(len(rows))
            rows.append((end, i + 1, step.limiter, step.level, step.rolled, step.lift, step.lift - lift[end]))
    return Table(
        key="lift",
        title="How far it may be lifted, limiter by limiter",
        columns=(
            Column(key="axle", title="Axle"),
            Column(key="order", title="Order", kind="count"),
            Column(key="limiter", title="Limiter"),
            Column(key="level", title="Level", kind="length", sign=True),
            Column(key="rolled", title="In roll", kind="length", sign=True),
            Column(key="lift", title="Greatest lift", kind="length", sign=True),
            Column(key="more", title="Beyond the lift now", kind="length", sign=True),
        ),
        rows=tuple(rows),
        strong=tuple(strong),
        note="over stock kerb, with the droop wanted still left; when one limiter is mended the next in order ends it",
    )
