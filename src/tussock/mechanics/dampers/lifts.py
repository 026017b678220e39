"""Lift over pressure of solved stacks, and the memory that solves each stack once."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from tussock.errors import SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.dampers.stack import Stack, lift_curve, opening_pressure, screen
from tussock.mechanics.dampers.stack.state import STEEPEST

#: No damper is worked beyond this pressure over its discs [Pa]; tables end there (common practice, no source).
HIGHEST = 16e6
#: Pressures of a table, closer together near the opening.
POINTS = 20


@dataclass(frozen=True, kw_only=True, eq=False)
class LiftTable:
    """A solved stack: lift at the seat [m] over pressure [Pa], arrays (n,), and the pressure that opens it [Pa].

    `stopped` says that the table ends on a backing washer or wide open, so that holding its last lift is right.
    """

    pressure: Floats
    lift: Floats
    opening: float
    stopped: bool


@dataclass(kw_only=True)
class LiftTables:
    """Memory of solved stacks; make one for a study or a search and pass it on.

    A stack is solved the first time that it is asked for. Oldest tables are dropped beyond `most`.
    """

    most: int = 5000
    _known: dict[tuple[Stack, float], LiftTable] = field(default_factory=dict, repr=False)

    def of(self, stack: Stack, enough: float) -> LiftTable:
        """Return the table of a stack up to a lift beyond which nothing changes [m], solving it if it is new.

        Raises
        ------
        SolverError
            If the stack cannot be solved.
        """
        key = (stack, enough)
        found = self._known.get(key)
        if found is None:
            found = solve_table(stack, enough)
            while len(self._known) >= self.most:
                del self._known[next(iter(self._known))]
            self._known[key] = found
        return found

    def __len__(self) -> int:
        """Return how many stacks are known."""
        return len(self._known)


def solve_table(stack: Stack, enough: float) -> LiftTable:
    """Solve a stack over the pressures that matter.

    The table runs from the opening pressure to where the lift reaches `enough`, the discs lean more than the plate
    model bears, or the highest pressure that a damper sees.

    Parameters
    ----------
    stack : Stack
    enough : float
        Lift [m].

    Raises
    ------
    SolverError
        If the stack cannot be solved, or does not open below the highest pressure.
    """
    opening = opening_pressure(stack)
    if opening >= HIGHEST:
        raise SolverError(
            f"the stack opens at {opening * 1e-6:.3g} MPa only; a damper is not worked beyond {HIGHEST * 1e-6:g} MPa: "
            "less preload or softer discs"
        )
    coarse = opening + np.geomspace(HIGHEST / 512.0, HIGHEST, 10)
    end, wide = _end(stack, coarse, enough)
    pressure = opening + (end - opening) * np.linspace(0.0, 1.0, POINTS) ** 2
    curve = lift_curve(stack, pressure)
    lift = np.maximum.accumulate(np.maximum(curve.lift, 0.0))
    last = curve.states[-1]
    if lift[-1] <= 0.0:
        raise SolverError(
            f"the stack does not open below {end * 1e-6:.3g} MPa; less preload or softer discs are needed"
        )
    steep = np.array([state.steepest for state in curve.states]) > STEEPEST
    keep = max(int(np.argmax(steep)), 3) if np.any(steep) else pressure.size
    stopped = keep == pressure.size and (wide or last.washer_force > 0.0)
    return LiftTable(pressure=pressure[:keep], lift=lift[:keep], opening=opening, stopped=stopped)


def _end(stack: Stack, coarse: Floats, enough: float) -> tuple[float, bool]:
    """Return the pressure at which a table ends [Pa], and whether it ends wide open."""
    before, pressure = 0.0, float(coarse[0])
    for k in range(coarse.size):
        pressure = float(coarse[k])
        try:
            lift = float(screen([stack], coarse[: k + 1])[0, -1])
        except SolverError:
            # a soft stack far beyond its use; the fine table says so if it fails below this pressure too
            return float(coarse[max(k - 1, 0)]), False
        if lift >= enough:
            share = (enough - before) / (lift - before) if k else 1.0
            return float(coarse[k - 1] + share * (coarse[k] - coarse[k - 1])) if k else pressure, True
        before = lift
    return pressure, False
