"""Find stacks that give a wanted curve: inside its bands first, then with the fewest changes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from tussock.errors import DomainError, SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.dampers.assembly import DamperBuild, LiftTables, Parameters
from tussock.mechanics.dampers.build import Place
from tussock.mechanics.dampers.hydraulics.valves import Sense
from tussock.mechanics.dampers.search.candidates import Order, Shelf, ShelfDisc
from tussock.mechanics.dampers.search.fast import ValvePlace
from tussock.mechanics.dampers.search.trial import Found, Trial, WantedPoint
from tussock.mechanics.dampers.stack import Stack, screen

#: Elements of the screening [m].
COARSE = 1e-3
#: What the coarse way may miss of a force beside the present stack's own miss, which is taken off [-].
COARSE_MISS = 0.03
#: Stacks screened in one call.
_BATCH = 256


@dataclass(frozen=True, kw_only=True)
class Step:
    """The smallest change of force that one change of disc makes at a wanted speed.

    Parameters
    ----------
    speed : float
        [m/s].
    present : float
        Force of the present stack [N].
    softer, firmer : float
        Steps [N], negative and positive; 0 where no change goes that way.
    softer_words, firmer_words : str
        The change that makes it.
    """

    speed: float
    present: float
    softer: float
    firmer: float
    softer_words: str
    firmer_words: str


@dataclass(frozen=True, kw_only=True)
class Level:
    """What was tried with a number of changes: how many stacks, and whether those were all."""

    changes: int
    tried: int
    complete: bool


@dataclass(frozen=True, kw_only=True, eq=False)
class Search:
    """What a search gave.

    Parameters
    ----------
    place : ValvePlace
        Where the stack sits.
    shelf : Shelf
        What it may be built of.
    wanted : tuple of WantedPoint
    present : Found
        The present stack.
    found : tuple of Found
        Tried with the fine model, best first.
    levels : tuple of Level
        What was screened.
    steps : tuple of Step
        The resolution, for each wanted speed.
    unsolved : int
        Stacks that the coarse model could not solve and that were left out.
    trial : Trial
        The fine model, for more trials.
    """

    place: ValvePlace
    shelf: Shelf
    wanted: tuple[WantedPoint, ...]
    present: Found
    found: tuple[Found, ...]
    levels: tuple[Level, ...]
    steps: tuple[Step, ...]
    unsolved: int
    trial: Trial = field(repr=False)

    @property
    def best(self) -> Found:
        """The best stack."""
        return self.found[0]

    @property
    def reached(self) -> bool:
        """Whether a stack of this stock gives the wanted curve."""
        return self.best.inside and self.best.bears

    @property
    def tried(self) -> int:
        """Stacks screened."""
        return sum(level.tried for level in self.levels)


class Screening:
    """Coarse forces of many stacks at the wanted speeds, tied to the fine model at the present stack."""

    def __init__(self, place: ValvePlace, shelf: Shelf, wanted: Sequence[WantedPoint], present_forces: Floats) -> None:
        self.place, self.shelf = place, shelf
        self.speeds = np.array([p.speed for p in wanted])
        self.force = np.array([p.force for p in wanted])
        self.below = self.force - np.array([p.least for p in wanted])
        self.above = np.array([p.most for p in wanted]) - self.force
        self.rest = place.rest_of_force(self.speeds)
        pressures, lifts = place.wanted_lifts(self.speeds, self.force)
        # a pressure that wants the discs shut tells little of them
        self.pressures = _spread(pressures[lifts > 0.0] if np.any(lifts > 0.0) else pressures)
        self.unsolved = 0
        # what coarse elements do to the present stack they do to its neighbours
        coarse = self._lifts([shelf.stack(shelf.order)])
        self._tie = place.scales(self.pressures, coarse)[0]
        raw = self.rest + place.area * place.drops(self.pressures, np.ones((1, self.pressures.size)), self.speeds)[0]
        self._rest_tie = present_forces / raw

    def forces(self, orders: Sequence[Order]) -> Floats:
        """Return forces (N, V), sizes [N]; NaN where the coarse model found no state."""
        out = np.empty((len(orders), self.speeds.size))
        for at in range(0, len(orders), _BATCH):
            part = orders[at : at + _BATCH]
            lifts = self._lifts([self.shelf.stack(order) for order in part])
            solved = np.isfinite(lifts[:, 0])
            self.unsolved += int(np.sum(~solved))
            scales = self.place.scales(self.pressures, np.where(solved[:, None], lifts, 0.0)) / self._tie
            force = (
                self.rest + self.place.area * self.place.drops(self.pressures, scales, self.speeds)
            ) * self._rest_tie
            out[at : at + len(part)] = np.where(solved[:, None], force, np.nan)
        return out

    def _lifts(self, stacks: Sequence[Stack]) -> Floats:
        try:
            return np.maximum(screen(stacks, self.pressures, element=COARSE), 0.0)
        except SolverError:
            pass
        lifts = np.full((len(stacks), self.pressures.size), np.nan)
        for i, stack in enumerate(stacks):
            try:
                lifts[i] = np.maximum(screen([stack], self.pressures, element=COARSE)[0], 0.0)
            except SolverError:
                continue  # counted, and said in the result
        return lifts

    def miss(self, forces: Floats) -> Floats:
        """Return the signed distance from the wanted forces over the half bands (N, V)."""
        off = forces - self.force
        return np.asarray(np.where(off >= 0.0, off / self.above, off / self.below))


def _spread(pressures: Floats) -> Floats:
    """Return two or three pressures to screen at: least, middle and most of those that the wanted forces need."""
    p = np.sort(np.asarray(pressures, dtype=float))
    keep = [float(p[0])]
    for value in p[1:]:
        if value > 1.15 * keep[-1]:
            keep.append(float(value))
    if len(keep) == 1:
        keep = [0.6 * keep[0], keep[0]]
    if len(keep) > 3:
        middle = math.sqrt(keep[0] * keep[-1])
        inner = min(keep[1:-1], key=lambda value: abs(math.log(value / middle)))
        keep = [keep[0], inner, keep[-1]]
    return np.array(keep)


def check_reach(place: ValvePlace, wanted: Sequence[WantedPoint]) -> None:
    """Refuse wants that no stack at all can give: more than shut discs hold back.

    Raises
    ------
    DomainError
        With what must change instead; see also `ValvePlace.wanted_lifts` for wants that are too soft.
    """
    speeds = np.array([p.speed for p in wanted])
    shut = (
        place.rest_of_force(speeds)
        + place.area * place.drops(np.array([1e6, 1e9]), np.full((1, 2), math.inf), speeds)[0]
    )
    for point, most in zip(wanted, shut, strict=True):
        if most < point.least:
            raise DomainError(
                f"{place.damper.name}: {point.least:.0f} N at {point.speed:g} m/s is more than bleed and leakage hold "
                f"back even with the discs shut ({most:.0f} N); a smaller bleed is needed, no disc helps"
            )


def search(
    build: DamperBuild,
    where: Place,
    sense: Sense,
    wanted: Sequence[WantedPoint],
    stock: Sequence[ShelfDisc],
    *,
    parameters: Parameters | None = None,
    lifts: LiftTables | None = None,
    temperature: float = 293.15,
    most_discs: int | None = None,
    most_height: float | None = None,
    tapered: bool | None = None,
    most_usage: float = math.inf,
    most_changes: int = 3,
    budget: int = 20_000,
    verify: int = 16,
) -> Search:
    """Find stacks that give wanted forces in one stroke.

    From the present stack outward by number of changes: every stack with one change, with two, ... while the budget
    holds them all; beyond it the neighbours of the nearest. Screened at two or three pressures with coarse elements,
    the best of each number of changes tried with the fine model in the whole damper. It stops at the first number of
    changes that reaches the bands.

    Parameters
    ----------
    build : DamperBuild
        The damper with its present stacks.
    where : {"piston", "foot", "reservoir"}
    sense : {"compression", "rebound"}
        Stroke whose stack is changed there; the rest of the damper stays.
    wanted : sequence of WantedPoint
        Speeds rising.
    stock : sequence of ShelfDisc
    parameters, lifts
        As of `assembly.assemble`.
    temperature : float
        Of the oil [K].
    most_discs, most_height, tapered
        As of `Shelf`.
    most_usage : float
        Largest stress over fatigue strength allowed at the highest wanted speed [-]. Not limited unless given: that
        speed is rare, and `Found.warnings` say it.
    most_changes : int
        Changes allowed.
    budget : int
        Stacks to screen at most.
    verify : int
        Stacks of each number of changes to try with the fine model.

    Returns
    -------
    Search

    Raises
    ------
    DomainError
        If nothing is wanted, no stack sits there, or what is wanted lies beyond any stack (says what else must change).
    """
    if not wanted or any(b.speed <= a.speed for a, b in pairwise(wanted)):
        raise DomainError("wanted points must be one or more, with rising speeds")
    if most_changes < 1 or budget < 1 or verify < 1:
        raise DomainError(f"{most_changes} changes, {budget} stacks and {verify} to verify; each must be 1 or more")
    trial = Trial(
        build, where, sense, tuple(wanted), parameters=parameters, lifts=lifts, temperature=temperature,
        most_usage=most_usage,
    )  # fmt: skip
    shelf = Shelf(
        present=trial.valve, stock=tuple(stock), parameters=parameters, most_discs=most_discs,
        most_height=most_height, tapered=tapered,
    )  # fmt: skip
    check_reach(trial.place, wanted)
    present = trial.present(shelf)
    screening = Screening(trial.place, shelf, wanted, present.forces)
    seen: dict[Order, int] = {shelf.order: 0}
    parents: list[Order] = [shelf.order]
    found: list[Found] = [present]
    levels: list[Level] = []
    steps: tuple[Step, ...] = ()
    left, complete = budget, True
    hope = 1.0 + COARSE_MISS * screening.force / np.minimum(screening.below, screening.above)
    for changes in range(1, most_changes + 1):
        # each stack is reached by its changes in any order; where not all can be tried, what is left is shared
        whole = complete and (not levels or len(parents) * levels[0].tried <= changes * left)
        share = left if whole else max(left // (most_changes - changes + 1), 1)
        orders = shelf.level(parents, seen, most=share)
        if not orders:
            break
        complete = complete and len(orders) < share
        left -= len(orders)
        levels.append(Level(changes=changes, tried=len(orders), complete=complete))
        seen.update(dict.fromkeys(orders, changes))
        forces = screening.forces(orders)
        if changes == 1:
            steps = _resolution(trial, shelf, orders, forces, present)
        miss = screening.miss(forces)
        worst = np.where(np.isnan(miss).any(axis=1), np.inf, np.max(np.abs(miss), axis=1))
        near = np.argsort(worst, kind="stable")
        for tried, i in enumerate(near[:verify]):
            if not math.isfinite(worst[i]) or (tried >= 3 and not np.all(np.abs(miss[i]) <= hope)):
                break
            found.append(trial.run(shelf, orders[i], changes))
        if left <= 0 or any(one.inside and one.bears for one in found):
            break
        parents = [orders[i] for i in near if math.isfinite(worst[i])]
    found.sort(key=lambda one: one.rank)
    return Search(
        place=trial.place,
        shelf=shelf,
        wanted=tuple(wanted),
        present=present,
        found=tuple(found),
        levels=tuple(levels),
        steps=steps,
        unsolved=screening.unsolved,
        trial=trial,
    )


def _resolution(
    trial: Trial, shelf: Shelf, orders: Sequence[Order], forces: Floats, present: Found
) -> tuple[Step, ...]:
    """Return the smallest steps at each wanted speed, the nearest few of the coarse way tried with the fine model."""
    out = []
    for v, point in enumerate(trial.wanted):
        change = forces[:, v] - present.forces[v]
        least = 0.002 * present.forces[v]  # below that a change is none that a dyno would see
        best: dict[bool, tuple[float, str]] = {}
        for firmer in (False, True):
            side = np.flatnonzero((change > least) if firmer else (change < -least))
            near = side[np.argsort(np.abs(change[side]), kind="stable")][:3]
            for i in near:
                one = trial.run(shelf, orders[i], 1)
                step = float(one.forces[v] - present.forces[v])
                if (step > least) == firmer and abs(step) > least:
                    before = best.get(firmer)
                    if before is None or abs(step) < abs(before[0]):
                        best[firmer] = (step, ", ".join(one.words))
        softer, firm = best.get(False, (0.0, "")), best.get(True, (0.0, ""))
        out.append(
            Step(
                speed=point.speed,
                present=float(present.forces[v]),
                softer=softer[0],
                firmer=firm[0],
                softer_words=softer[1],
                firmer_words=firm[1],
            )
        )
    return tuple(out)
