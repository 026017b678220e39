"""Stacks tried with the fine model in the whole damper, and how far each lies from what is wanted."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.dampers.assembly import DamperBuild, LiftTables, Parameters, StackValve, assemble, stack_of
from tussock.mechanics.dampers.build import Place
from tussock.mechanics.dampers.hydraulics import Damper, solve
from tussock.mechanics.dampers.hydraulics.valves import Sense
from tussock.mechanics.dampers.search.candidates import Order, Shelf, changes_in_words
from tussock.mechanics.dampers.search.fast import Part, ValvePlace
from tussock.mechanics.dampers.stack import lift_curve


@dataclass(frozen=True, kw_only=True)
class WantedPoint:
    """A wanted force with its band; all are sizes without gas force and friction.

    Parameters
    ----------
    speed : float
        Of the rod [m/s], above 0.
    force : float
        [N].
    least, most : float
        Ends of the band [N].

    Raises
    ------
    DomainError
        If the numbers are no band.
    """

    speed: float
    force: float
    least: float
    most: float

    def __post_init__(self) -> None:
        """Refuse what is no band."""
        if not (self.speed > 0.0 and 0.0 < self.least < self.force < self.most):
            raise DomainError(
                f"wanted: {self.force:g} N at {self.speed:g} m/s, from {self.least:g} to {self.most:g} N; the speed "
                "must be above 0 and the force inside its band"
            )


@dataclass(frozen=True, kw_only=True, eq=False)
class Found:
    """A stack that was tried with the fine model.

    Parameters
    ----------
    order : tuple of int
        Numbers in `Shelf.discs`.
    valve : StackValve
        The stack on its seat.
    changes : int
        Discs swapped, added, taken out or exchanged, from the present stack.
    words : tuple of str
        What to change.
    forces : array (V,)
        At the wanted speeds, sizes [N].
    miss : array (V,)
        Distance from the wanted force over the half band on that side [-]; inside up to 1, negative is too soft.
    usage : float
        Largest stress over fatigue strength at the highest wanted speed [-].
    cavitates : array of bool (V,)
        Whether a chamber cavitates at each wanted speed.
    bears : bool
        Whether the discs keep within the usage allowed and no chamber cavitates at a wanted speed where it did not
        with the present stack.
    """

    order: Order
    valve: StackValve
    changes: int
    words: tuple[str, ...]
    forces: Floats
    miss: Floats
    usage: float
    cavitates: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]
    bears: bool

    @property
    def inside(self) -> bool:
        """Whether every wanted band is met."""
        return bool(np.max(np.abs(self.miss)) <= 1.0)

    @property
    def warnings(self) -> tuple[str, ...]:
        """What must be known before it is built."""
        said = []
        if self.usage > 1.0:
            said.append(
                f"at the highest wanted speed a disc is stressed to {self.usage:.2f} times its fatigue strength"
            )
        if np.any(self.cavitates):
            said.append("the damper cavitates at a wanted speed")
        return tuple(said)

    @property
    def worst(self) -> float:
        """Largest miss [-]."""
        return float(np.max(np.abs(self.miss)))

    @property
    def rank(self) -> tuple[bool, float, int, float]:
        """Inside and bearing first, then fewest changes, then nearest; smaller is better."""
        good = self.inside and self.bears
        return (not good, 0.0 if good else self.worst, self.changes, float(np.sqrt(np.mean(self.miss**2))))


class Trial:
    """Stacks tried with the fine model in the whole damper, each once."""

    def __init__(
        self,
        build: DamperBuild,
        where: Place,
        sense: Sense,
        wanted: tuple[WantedPoint, ...],
        *,
        parameters: Parameters | None = None,
        lifts: LiftTables | None = None,
        temperature: float = 293.15,
        most_usage: float = math.inf,
    ) -> None:
        group = build.valving(where)
        valve = None if group is None else group.valve(sense)
        if not isinstance(valve, StackValve):
            raise DomainError(f"{build.name}: no stack of discs opens in {sense} at the {where}")
        self.build, self.where, self.sense, self.wanted, self.valve = build, where, sense, wanted, valve
        self.parameters = Parameters() if parameters is None else parameters
        self.lifts = LiftTables() if lifts is None else lifts
        self.temperature = temperature
        self.place = self._place(assemble(build, parameters=self.parameters, lifts=self.lifts))
        self._done: dict[tuple[object, ...], Found] = {}
        self._most_usage = most_usage
        self._cavitating: np.ndarray[tuple[int, ...], np.dtype[np.bool_]] = np.zeros(len(wanted), dtype=np.bool_)

    def present(self, shelf: Shelf) -> Found:
        """Return the present stack; another may cavitate where it does."""
        found = self.run(shelf, shelf.order, 0)
        self._cavitating = found.cavitates
        found = replace(found, bears=found.usage <= self._most_usage)
        self._done[found.valve.discs] = found
        return found

    def _place(self, damper: Damper) -> ValvePlace:
        part: Part = "piston" if self.where == "piston" else "base"
        return ValvePlace(damper=damper, part=part, sense=self.sense, temperature=self.temperature)

    def run(self, shelf: Shelf, order: Order, changes: int) -> Found:
        """Return a stack as the fine model has it."""
        valve = shelf.valve(order)
        if valve.discs in self._done:
            return self._done[valve.discs]
        place = self._place(
            assemble(
                with_valve(self.build, self.where, self.sense, valve), parameters=self.parameters, lifts=self.lifts
            )
        )
        sign = 1.0 if self.sense == "compression" else -1.0
        speeds = np.array([p.speed for p in self.wanted])
        state = solve(place.damper, velocities=np.sort(sign * speeds), temperature=self.temperature)
        forces = np.abs(state.hydraulic_force if sign > 0.0 else state.hydraulic_force[::-1])
        off = forces - np.array([p.force for p in self.wanted])
        half = [p.most - p.force if o >= 0.0 else p.force - p.least for p, o in zip(self.wanted, off, strict=True)]
        top = float(np.max(state.lifts[place.part]))
        usage = 0.0
        if top > 0.0:
            pressure = float(np.interp(top, place.valve.lift, place.valve.pressure))
            usage = float(lift_curve(stack_of(valve, self.parameters), [pressure]).usage[0])
        cavitates = state.cavitates if sign > 0.0 else state.cavitates[::-1]
        found = Found(
            order=order,
            valve=valve,
            changes=changes,
            words=changes_in_words(shelf, order),
            forces=np.asarray(forces),
            miss=np.asarray(off / np.array(half)),
            usage=usage,
            cavitates=np.asarray(cavitates),
            bears=not np.any(cavitates & ~self._cavitating) and usage <= self._most_usage,
        )
        self._done[valve.discs] = found
        return found


def with_valve(build: DamperBuild, where: Place, sense: Sense, valve: StackValve) -> DamperBuild:
    """Return a build with another valve at a place that has one."""
    group = build.valving(where)
    assert group is not None  # the caller found a valve there
    changed = replace(group, compression=valve) if sense == "compression" else replace(group, rebound=valve)
    if where == "piston":
        return replace(build, piston=changed)
    if where == "foot":
        return replace(build, foot=changed)
    reservoir = build.body.reservoir
    assert reservoir is not None  # the caller found a valve there
    return replace(build, body=replace(build.body, reservoir=replace(reservoir, valving=changed)))
