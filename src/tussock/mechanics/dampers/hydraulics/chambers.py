"""Pressure of an oil chamber from the mass in it, and the flow through a valve set whose discs lag behind.

Scalars only: the dynamic model calls these many times a cycle. The mass is what is carried, so nothing leaks away
however many cycles run.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tussock.errors import DomainError, SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.dampers.hydraulics.oil import ATMOSPHERE, Oil, OilState
from tussock.mechanics.dampers.hydraulics.restrictions import Hose
from tussock.mechanics.dampers.hydraulics.valves import Sense, ValveSet

#: Air that the dynamic model takes at least [-]: without any bubble a cavity has no pressure.
LEAST_AIR = 1e-5
# Drops below this are met in a straight line [Pa]: an orifice has no slope at rest.
_STRAIGHT = 100.0


class OilLaw:
    """Volume, pressure and flow work of oil with air at one temperature.

    Parameters
    ----------
    oil : Oil
    temperature : float
        [K].
    """

    def __init__(self, oil: Oil, *, temperature: float) -> None:
        air = max(oil.air_fraction, LEAST_AIR)
        at_rest = float(oil.specific_volume(ATMOSPHERE, temperature=temperature, air_fraction=air))
        self.modulus: float = oil.bulk_modulus
        self.exponent: float = oil.air_exponent
        self.liquid: float = at_rest * (1.0 - air)
        self.air: float = at_rest * air

    def volume(self, pressure: float) -> float:
        """Return the specific volume [m3/kg] at an absolute pressure [Pa]."""
        liquid = self.liquid * math.exp((ATMOSPHERE - pressure) / self.modulus)
        return liquid + self.air * math.pow(ATMOSPHERE / pressure, 1.0 / self.exponent)

    def flow_work(self, high: float, low: float) -> float:
        """Return the integral of volume over pressure from low to high [J/kg]: the heat of a kilogram that flows."""
        p0, b, n = ATMOSPHERE, self.modulus, self.exponent
        liquid = self.liquid * b * (math.exp((p0 - low) / b) - math.exp((p0 - high) / b))
        if n == 1.0:
            return liquid + self.air * p0 * math.log(high / low)
        rest = 1.0 - 1.0 / n
        return liquid + self.air * math.pow(p0, 1.0 / n) * (math.pow(high, rest) - math.pow(low, rest)) / rest

    def pressure(
        self, mass: float, room: float, *, gas: tuple[float, float, float] | None = None, start: float = ATMOSPHERE
    ) -> float:
        """Return the pressure at which a mass of oil (and gas) fills a room.

        Parameters
        ----------
        mass : float
            Of the oil with its air [kg].
        room : float
            [m3].
        gas : tuple (pressure, volume, exponent), optional
            Gas that shares the room, by one known state [Pa, m3, -].
        start : float
            Guess [Pa].

        Raises
        ------
        SolverError
            If no pressure is found; with the numbers.

        Notes
        -----
        The filled volume falls with pressure and is convex, so that Newton's steps from the left never overshoot.
        """
        p = start
        for _ in range(200):
            compressed = self.liquid * math.exp((ATMOSPHERE - p) / self.modulus)
            bubbles = self.air * math.pow(ATMOSPHERE / p, 1.0 / self.exponent)
            filled = mass * (compressed + bubbles)
            slope = -mass * (compressed / self.modulus + bubbles / (self.exponent * p))
            if gas is not None:
                own = gas[1] * math.pow(gas[0] / p, 1.0 / gas[2])
                filled += own
                slope -= own / (gas[2] * p)
            step = (room - filled) / slope
            if abs(step) <= 1e-12 * p + 4e-15 * self.modulus:  # the second is what rounding of the room leaves
                return p + step
            p = max(p + step, 0.1 * p)
        raise SolverError(
            f"no pressure at which {mass * 1e3:.3f} g of oil fill {room * 1e6:.3f} cm3; the last try was "
            f"{p / 1e6:.6g} MPa"
        )


@dataclass(frozen=True)
class _Table:
    """A value over a rising abscissa, straight between, the last held; lists, since a scalar is asked for."""

    x: list[float]
    y: list[float]

    def at(self, value: float) -> float:
        i = bisect_right(self.x, value)
        if i == 0:
            return self.y[0]
        if i == len(self.x):
            return self.y[-1]
        x0 = self.x[i - 1]
        return self.y[i - 1] + (self.y[i] - self.y[i - 1]) * (value - x0) / (self.x[i] - x0)


@dataclass(frozen=True)
class _OneWay:
    valve: _Table | None  # conductance of the discs [m3/s over the root of Pa] over the drop that they feel [Pa]
    open: _Table  # flow of the open paths [m3/s] over drop [Pa]
    delay: float


class LaggingSet:
    """A valve set (and hose) as flow over the drop now and the drop that its discs feel.

    With both drops equal the flow is that of the steady model; when the drop turns round, discs that have not yet
    closed let oil back.

    Parameters
    ----------
    valves : ValveSet, optional
        None with a hose only.
    oil : OilState
    hose : Hose, optional
        In series with the whole set.
    """

    def __init__(self, valves: ValveSet | None, oil: OilState, *, hose: Hose | None = None) -> None:
        if valves is None and hose is None:
            raise DomainError("a passage needs valves or a hose")
        self._ways = tuple(_one_way(valves, oil, hose, sense) for sense in ("compression", "rebound"))

    @property
    def delays(self) -> tuple[float, float]:
        """Time constants of both valves [s]."""
        return self._ways[0].delay, self._ways[1].delay

    def flow(self, drop: float, felt: Sequence[float]) -> float:
        """Return the flow in the sense of compression [m3/s].

        Parameters
        ----------
        drop : float
            In that sense [Pa].
        felt : pair of float
            Drop that the compression and rebound discs feel, each in its own sense [Pa].
        """
        size = abs(drop)
        root = drop / math.sqrt(size + _STRAIGHT)
        way = self._ways[0] if drop >= 0.0 else self._ways[1]
        total = math.copysign(way.open.at(size), drop)
        for one, pressure in zip(self._ways, felt, strict=True):
            if one.valve is not None and pressure > 0.0:
                total += one.valve.at(pressure) * root
        return total


def _one_way(valves: ValveSet | None, oil: OilState, hose: Hose | None, sense: Sense) -> _OneWay:
    """Tabulate a set in one sense of flow."""
    if valves is None:
        assert hose is not None
        flow = np.geomspace(1e-12, 1e-1, 900)
        return _OneWay(valve=None, open=_table(hose.drop(flow, oil), flow), delay=1.0)
    valve = valves.valve(sense)
    grid = np.geomspace(0.1 * _STRAIGHT, 1e10, 1500)
    if valve is not None:
        kinks = np.concatenate([[valve.opening_pressure], valve.pressure])
        near = valve.opening_pressure * (1.0 + np.geomspace(1e-6, 1e-1, 60))
        grid = np.unique(np.concatenate([grid, kinks[kinks > grid[0]], near[near > grid[0]]]))
    state = valves.at(grid, oil, sense=sense)
    drop = state.drop
    discs = state.flows.get("valve", np.zeros_like(grid)) + state.flows.get("notch", np.zeros_like(grid))
    parallel = state.flows.get("bleed", np.zeros_like(grid)) + state.flows.get("band", np.zeros_like(grid))
    if hose is not None:
        drop = drop + hose.drop(discs + parallel, oil)
    conductance = None if valve is None else _Table(drop.tolist(), (discs / np.sqrt(drop + _STRAIGHT)).tolist())
    delay = 1.0 if valve is None else valve.delay
    return _OneWay(valve=conductance, open=_table(drop, parallel), delay=delay)


def _table(drop: Floats, flow: Floats) -> _Table:
    """A flow over drop from nothing at rest, regular below the straight piece."""
    keep = drop >= 0.1 * _STRAIGHT
    return _Table([0.0, *drop[keep].tolist()], [0.0, *flow[keep].tolist()])
