"""Lanes between cones: the double lane change of ISO 3888-1, and how near to its cones a vehicle comes."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.interpolate import CubicSpline
from scipy.optimize import linprog

from tussock.errors import DomainError, SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.motion.path import Path, path_through

GRID = 1.0  # between the points of a path that are looked for [m]
ROOM = 0.08  # that a driver means to leave beside a cone [m]; common practice, no source
LEAD = 12.0  # before the first and after the last cone from which on the path is straight [m]
CONE_SPACING = 5.0  # between the cones that a picture shows [m]


@dataclass(frozen=True, kw_only=True, slots=True)
class Gate:
    """A stretch of lane between cones: from `start` to `end`, `width` wide about `centre`, left positive [m]."""

    start: float
    end: float
    centre: float
    width: float


@dataclass(frozen=True, kw_only=True)
class Lane:
    """Gates in the order driven; between two of them the driver is free.

    Attributes
    ----------
    gates : tuple of Gate
        [m] along the road.
    """

    gates: tuple[Gate, ...]

    @property
    def start(self) -> float:
        """First cone [m]."""
        return self.gates[0].start

    @property
    def end(self) -> float:
        """Last cone [m]."""
        return self.gates[-1].end

    def path(self, *, width: float, before: float, after: float, shift: float = 0.0) -> Path:
        """Return the path of the least sharpest bend through the gates, with a little room left beside every cone.

        Parameters
        ----------
        width : float
            Of the vehicle [m].
        before, after : float
            How far it goes on straight at both ends [m].
        shift : float
            Added to every place along the road [m].

        Raises
        ------
        DomainError
            If the vehicle does not fit between the cones.
        """
        x = np.arange(self.start - before, self.end + after + 0.5 * GRID, GRID)
        low, high = np.full(x.size, -np.inf), np.full(x.size, np.inf)
        for g in self.gates:
            room = 0.5 * (g.width - width)
            if room <= 0.0:
                raise DomainError(f"lane: a gate of {g.width:.2f} m for a vehicle of {width:.2f} m; it must be wider")
            inside = (x >= g.start - 0.5 * GRID) & (x <= g.end + 0.5 * GRID)
            keep = room - min(ROOM, 0.5 * room)
            low[inside], high[inside] = g.centre - keep, g.centre + keep
        # straight on before and after, in the middle of the first and last gate
        for g, straight in ((self.gates[0], x < self.start - LEAD), (self.gates[-1], x > self.end + LEAD)):
            low[straight], high[straight] = g.centre - 1e-6, g.centre + 1e-6
        y = _straightest(tuple(map(float, low)), tuple(map(float, high)))
        fine = np.arange(x[0], x[-1], 0.1)
        return path_through(fine + shift, CubicSpline(x, y)(fine))

    def clearance(self, x: Floats, left: Floats, right: Floats) -> Floats:
        """Return the room to the nearer row of cones (n,) [m]; below 0 they fall, infinite between gates.

        Parameters
        ----------
        x, left, right : array (n,)
            Place along the road of a station of the vehicle, and its left and right side there [m].
        """
        room = np.full(x.size, np.inf)
        for g in self.gates:
            inside = (x >= g.start) & (x <= g.end)
            near = np.minimum(g.centre + 0.5 * g.width - left, right - g.centre + 0.5 * g.width)
            room[inside] = np.minimum(room[inside], near[inside])
        return room

    def cones(self) -> tuple[Floats, Floats]:
        """Return the cones' places along and across the road (n,), (n,) [m]."""
        along: list[float] = []
        across: list[float] = []
        for g in self.gates:
            even = np.linspace(g.start, g.end, max(round((g.end - g.start) / CONE_SPACING), 1) + 1)
            for side in (0.5, -0.5):
                along.extend(float(v) for v in even)
                across.extend([g.centre + side * g.width] * even.size)
        return np.array(along), np.array(across)


@lru_cache(maxsize=16)
def _straightest(low: tuple[float, ...], high: tuple[float, ...]) -> Floats:
    """Return the line between two bounds whose sharpest bend is least, and then its bend in all (n,) [m].

    A linear programme over the line, the size of every second difference, and the greatest of them.
    """
    n = len(low)
    second = np.eye(n - 2, n) - 2.0 * np.eye(n - 2, n, 1) + np.eye(n - 2, n, 2)
    size, greatest, nothing = np.eye(n - 2), np.full((n - 2, 1), -1.0), np.zeros((n - 2, 1))
    rows = np.block(
        [[second, -size, nothing], [-second, -size, nothing], [np.zeros_like(second), size, greatest]],
    )
    cost = np.concatenate([np.zeros(n), np.full(n - 2, 1.0 / n), [1.0]])
    bounds = [*zip(low, high, strict=True), *[(0.0, None)] * (n - 1)]
    found = linprog(cost, A_ub=rows, b_ub=np.zeros(3 * (n - 2)), bounds=bounds, method="highs")
    if found.status != 0 or found.x is None:
        raise SolverError(f"lane: no path through the gates: {found.message}")
    return np.asarray(found.x[:n])


def double_lane_change(*, width: float, at: float = 0.0, left: bool = True) -> Lane:
    """Return the lane change of ISO 3888-1 for a vehicle of a width without mirrors.

    Lengths 15, 30, 25, 25, 15 m and a further 15 m to leave; widths 1.1 b + 0.25, 1.2 b + 0.25 and 1.3 b + 0.25 m; the
    second lane stands 3.5 m beside the first, here between their middles (lengths and offset from a public code; the
    widths, and between which lines the offset is taken, from memory).

    Parameters
    ----------
    width : float
        Of the vehicle, above 0 [m].
    at : float
        Where the first cones stand along the road [m].
    left : bool
        Which way the other lane is.

    Examples
    --------
    >>> [round(g.width, 3) for g in double_lane_change(width=1.8).gates]
    [2.23, 2.41, 2.59]
    """
    if not width > 0.0:
        raise DomainError(f"lane change: the vehicle is {width:g} m wide; it must have a width")
    beside = 3.5 if left else -3.5
    places = ((0.0, 15.0, 0.0, 1.1), (45.0, 70.0, beside, 1.2), (95.0, 125.0, 0.0, 1.3))
    return Lane(
        gates=tuple(
            Gate(start=at + start, end=at + end, centre=centre, width=factor * width + 0.25)
            for start, end, centre, factor in places
        )
    )
