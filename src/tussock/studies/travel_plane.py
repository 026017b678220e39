"""The plane of heave and roll of one axle: every limiter's margin, the edge of what is free, what governs there."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from tussock.errors import SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.axle_map import AxleMap
from tussock.studies import limiters, model, parts, suspensions
from tussock.studies.job import Job, Setup
from tussock.studies.limiters import AxlePath, Stop
from tussock.studies.reach import margins

ROLL_STEP = math.radians(1.7)  # about; the roll of the targets is a node
ROLL_MOST = math.radians(12.0)  # looked at either way at least
LOOSE = "spring loose"  # ends nothing where the spring is held captive
_FINE = 0.0005  # step along heave at which a column is searched for room [m]


@dataclass(frozen=True, kw_only=True, slots=True)
class Edge:
    """Where the free travel ends at one roll.

    Attributes
    ----------
    roll : float
        Left wheel up positive [rad].
    low, high : Stop or None
        What ends droop and bump; None where nothing does within the heaves followed.
    """

    roll: float
    low: Stop | None
    high: Stop | None


@dataclass(frozen=True, kw_only=True, slots=True)
class Crossing:
    """How far the wheels of an axle cross.

    Attributes
    ----------
    roll : float
        Of the axle against the body [rad].
    down, up : float
        Travel of the lower and of the upper wheel from ride height [m]; down is negative.
    limiter : str
        What ends it; empty where nothing does within the rolls followed.
    """

    roll: float
    down: float
    up: float
    limiter: str


@dataclass(frozen=True, kw_only=True)
class Plane:
    """Margins of one axle's limiters over heave and roll.

    Attributes
    ----------
    end : str
        "front" or "rear".
    ride, track : float
        Heave at which it stands, distance of the wheel centres [m].
    axle : AxleMap
        The grid followed.
    margins : mapping of name to array (nh, nr)
        What is left; positive is free.
    edges : tuple of Edge
        The edge of the free travel, roll by roll; rolls without any are left out.
    """

    end: str
    ride: float
    track: float
    axle: AxleMap
    margins: Mapping[str, Floats]
    edges: tuple[Edge, ...]

    @property
    def heave(self) -> Floats:
        """[m]."""
        return self.axle.heave

    @property
    def roll(self) -> Floats:
        """[rad]."""
        return self.axle.roll

    @property
    def ending(self) -> dict[str, Floats]:
        """The margins of what ends the travel: all but a spring that comes loose."""
        return {name: m for name, m in self.margins.items() if name != LOOSE}

    def lean(self, roll: float | Floats) -> Floats:
        """Return how far a wheel stands above the middle of the axle at a roll [m]."""
        return np.asarray(0.5 * self.track * np.sin(roll))

    def row(self, name: str, heave: float) -> Floats:
        """Return a limiter's margin over roll at one heave (nr,)."""
        m = self.margins[name]
        return np.array([np.interp(heave, self.heave, m[:, j]) for j in range(self.roll.size)])

    def about_ride(self) -> tuple[Crossing, Crossing]:
        """Return how far the axle rolls either way about its ride height: right wheel up, then left wheel up."""
        found = limiters.stops({n: self.row(n, self.ride) for n in self.ending}, self.roll, start=0.0)
        out: list[Crossing] = []
        for sign, where in ((-1.0, "droop"), (1.0, "bump")):
            first = next((s for s in found if s.where == where), None)
            roll = first.heave if first is not None else float(sign * self.roll[-1])
            lean = abs(float(self.lean(roll)))
            out.append(Crossing(roll=roll, down=-lean, up=lean, limiter=first.name if first else ""))
        return out[0], out[1]

    def loose_at(self) -> float | None:
        """Return the least roll about ride height at which a spring comes loose [rad]; None if none does."""
        if LOOSE not in self.margins:
            return None
        found = limiters.stops({LOOSE: self.row(LOOSE, self.ride)}, self.roll, start=0.0)
        return min((abs(s.heave) for s in found), default=None)

    def tips(self) -> tuple[Crossing, Crossing]:
        """Return the greatest crossing either way, as far as any heave allows: right wheel up, then left wheel up."""
        return self._tips

    @cached_property
    def _tips(self) -> tuple[Crossing, Crossing]:
        return self._tip(float(self.roll[0])), self._tip(float(self.roll[-1]))

    @cached_property
    def _fine(self) -> tuple[Floats, Floats]:
        """Heaves searched for room (n,), and what is left of each limiter at them and every roll (nl, n, nr)."""
        fine = np.arange(self.heave[0], self.heave[-1] + 0.5 * _FINE, _FINE)
        k = np.clip(np.searchsorted(self.heave, fine, side="right") - 1, 0, self.heave.size - 2)
        share = np.clip((fine - self.heave[k]) / (self.heave[k + 1] - self.heave[k]), 0.0, 1.0)[None, :, None]
        every = np.array(list(self.ending.values()))
        return fine, (1.0 - share) * every[:, k] + share * every[:, k + 1]

    def farthest(self) -> Crossing:
        """Return the greater of both crossings at the tips of the plane."""
        return max(self.tips(), key=lambda tip: round(abs(tip.roll), 9))  # alike both ways: the first

    def _tip(self, most: float) -> Crossing:
        """Return the last free place towards a roll, and the limiters that leave no room there."""
        inside, outside, ended = 0.0, most, True
        if self._room(most) is not None:
            inside, ended = most, False
        for _ in range(16 if ended else 0):
            middle = 0.5 * (inside + outside)
            inside, outside = (inside, middle) if self._room(middle) is None else (middle, outside)
        heave, name = self._room(inside) or (self.ride, "")
        lean, at = abs(float(self.lean(inside))), heave - self.ride
        return Crossing(roll=inside, down=at - lean, up=at + lean, limiter=name if ended else "")

    def span(self, j: int, droop: float, bump: float) -> tuple[float, float]:
        """Return the heaves at roll `j` between which no wheel goes beyond `droop` and `bump` from ride height [m]."""
        lean = abs(float(self.lean(float(self.roll[j]))))
        low, high = self.ride - droop + lean, self.ride + bump - lean
        return min(low, self.ride), max(high, self.ride)

    def within(self, roll: float) -> tuple[int, ...]:
        """Return the indices of the rolls up to `roll` either way."""
        return tuple(int(j) for j in np.flatnonzero(np.abs(self.roll) <= roll + 1e-9))

    def least(self, values: Floats, *, droop: float, bump: float, roll: float) -> tuple[float, float, float]:
        """Return the least of values (nh, nr), its heave and roll, within wheel travels from ride height and a roll."""
        best = (math.inf, self.ride, 0.0)
        for j in self.within(roll):
            low, high = self.span(j, droop, bump)
            at = np.concatenate([[low], self.heave[(self.heave > low) & (self.heave < high)], [high]])
            here = np.interp(at, self.heave, values[:, j])
            i = int(np.argmin(here))
            if here[i] < best[0]:
                best = (float(here[i]), float(at[i]), float(self.roll[j]))
        return best

    def _room(self, roll: float) -> tuple[float, str] | None:
        """Return the middle of the free heaves at a roll and what ends them below and above; None without any."""
        fine, every = self._fine
        at = float(np.interp(roll, self.roll, np.arange(self.roll.size)))
        j, share = min(int(at), self.roll.size - 2), at - min(int(at), self.roll.size - 2)
        names = list(self.ending)
        rows = (1.0 - share) * every[:, :, j] + share * every[:, :, j + 1]
        free = np.flatnonzero((rows > 0.0).all(axis=0))
        if free.size == 0:
            return None
        low, high = int(free[0]), int(free[-1])
        below = names[int(np.argmin(rows[:, max(low - 1, 0)] > 0.0))] if low > 0 else ""
        above = names[int(np.argmin(rows[:, min(high + 1, fine.size - 1)] > 0.0))] if high < fine.size - 1 else ""
        return 0.5 * float(fine[low] + fine[high]), " and ".join(dict.fromkeys(n for n in (below, above) if n))


def plane_rolls(wanted: float) -> Floats:
    """Return the rolls followed: even steps, level and the roll wanted among them [rad]."""
    step = wanted / max(round(wanted / ROLL_STEP), 1)
    count = max(math.ceil(ROLL_MOST / step - 1e-9), round(wanted / step))
    return np.asarray(step * np.arange(-count, count + 1), dtype=np.float64)


def _map(job: Job, setup: Setup, end: str) -> AxleMap:
    """Return the axle's map over the plane; less roll where its linkage cannot be solved so far out."""
    this = model.axle(job, end, stock=setup.stock, setup=setup)
    key = ("plane map", end, id(this))
    if key not in job.memo:
        wanted = float(job.programme.targets.roll)
        rolls = plane_rolls(wanted)
        while True:
            try:
                job.memo[key] = suspensions.kept_map(job, end, this, model.TRAVEL_HEAVE, rolls)
                break
            except SolverError:
                if rolls[-2] < wanted - 1e-9:
                    raise
                rolls = rolls[1:-1]
    found = job.memo[key]
    assert isinstance(found, AxleMap)
    return found


def plane(job: Job, setup: Setup, end: str) -> Plane:
    """Return the margins of an axle's limiters over heave and roll, and the edge of the free travel."""
    key = ("plane", end, setup)
    if key not in job.memo:
        axle = _map(job, setup, end)
        ride = model.posture(job, setup)[end].heave
        found = margins(job, setup, end, AxlePath(axle))
        job.memo[key] = Plane(
            end=end,
            ride=ride,
            track=parts.track(job, end),
            axle=axle,
            margins=found,
            edges=edges({n: m for n, m in found.items() if n != LOOSE}, axle.heave, axle.roll, ride),
        )
    made = job.memo[key]
    assert isinstance(made, Plane)
    return made


def edges(ending: Mapping[str, Floats], heave: Floats, roll: Floats, ride: float) -> tuple[Edge, ...]:
    """Return where the travel ends at every roll that leaves any, followed from ride height or the place nearest it."""
    names = list(ending)
    every = np.array(list(ending.values()))
    free = np.asarray((every > 0.0).all(axis=0))
    out: list[Edge] = []
    for j, angle in enumerate(roll):
        rows, start = every[:, :, j], ride
        if min(float(np.interp(ride, heave, row)) for row in rows) <= 0.0:
            open_nodes = np.flatnonzero(free[:, j])
            if open_nodes.size == 0:
                continue
            start = float(heave[open_nodes[int(np.argmin(np.abs(heave[open_nodes] - ride)))]])
        low = _first(names, rows[:, ::-1], -heave[::-1], -start)
        high = _first(names, rows, heave, start)
        out.append(
            Edge(
                roll=float(angle),
                low=None if low is None else Stop(name=low[0], where="droop", heave=-low[1]),
                high=None if high is None else Stop(name=high[0], where="bump", heave=high[1]),
            )
        )
    return tuple(out)


def _first(names: list[str], rows: Floats, heave: Floats, start: float) -> tuple[str, float] | None:
    """Return which row (n, nh) of margins first runs out beyond a free place, and where on straight lines between."""
    first = int(np.searchsorted(heave, start, side="right"))
    used = rows[:, first:] <= 0.0
    if not used.any():
        return None
    best: tuple[str, float] | None = None
    for i in np.flatnonzero(used.any(axis=1)):
        k = first + int(np.argmax(used[i]))
        before = start if k == first else float(heave[k - 1])
        left = float(np.interp(before, heave, rows[i]))
        at = before + (float(heave[k]) - before) * left / (left - float(rows[i, k]))
        if best is None or at < best[1]:
            best = (names[int(i)], at)
    return best
