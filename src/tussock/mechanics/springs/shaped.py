"""Coils whose wire, diameter or pitch changes along them: tapered wire, barrels, cones, progressive pitch.

The local closing of the coils is integrated along the wire: every short piece of a turn closes against its neighbour
when its own gap is used up, and what is still open carries on.

References
----------
.. [1] A. M. Wahl, Mechanical Springs: closure coil by coil.
.. [2] M. Rodriguez, M. Paredes, M. Sartor, Analytical behavior law for a constant pitch conical compression spring,
   J. Mech. Design 128 (2006): load of first and of last closing, telescoping (from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.linalg import eigh_tridiagonal

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.springs.curve import length_under, require_length
from tussock.mechanics.springs.progressive import ProgressiveCoil
from tussock.mechanics.springs.wire import en_factor, require_index

_PIECES = 600  # pieces that the active wire is cut into
_STIFFEST = 10.0  # rate over the first one from which a coil is as good as solid [-]


@dataclass(frozen=True, kw_only=True, eq=False)
class ShapedCoil:
    """A compression spring given by wire, coil diameter and pitch at stations along its active turns.

    Parameters
    ----------
    turns : array (k,)
        Active turns counted from one end at each station [-], rising from 0.
    wire, mean_diameter, pitch : array (k,)
        Wire diameter, mean coil diameter and axial rise per turn in the free spring [m]; straight between stations.
    end_length : float
        Height of the dead end coils, both ends together [m]; for ends as `CoilSpring` makes them 1.2 wire diameters
        (hot, ground).
    shear_modulus : float
        G [Pa].
    density : float
        [kg/m^3].

    Raises
    ------
    DomainError
        A shape that cannot be wound.

    Notes
    -----
    A piece closes on its neighbour one turn on. Where the diameter changes by less than a wire from turn to turn the
    closed turns nest and the height per closed turn is sqrt(d^2 - (change of radius)^2); where it changes by more they
    lie inside each other and the height is none [2]_.

    Examples
    --------
    A cylinder is the plain coil.

    >>> coil = ShapedCoil(turns=np.array([0.0, 7.5]), wire=np.full(2, 12.5e-3), mean_diameter=np.full(2, 0.110),
    ...                   pitch=np.full(2, 46.667e-3), end_length=15e-3)
    >>> round(coil.rate_at(0.3) / 1e3, 2), round(coil.free_length, 3)
    (24.0, 0.365)
    """

    turns: Floats
    wire: Floats
    mean_diameter: Floats
    pitch: Floats
    end_length: float = 0.0
    shear_modulus: float = 78.5e9
    density: float = 7850.0

    def __post_init__(self) -> None:
        """Refuse a shape that cannot be wound."""
        for field in ("turns", "wire", "mean_diameter", "pitch"):
            own = np.array(getattr(self, field), dtype=np.float64)
            own.setflags(write=False)
            object.__setattr__(self, field, own)
            if own.ndim != 1 or own.size < 2 or own.shape != self.turns.shape:
                raise DomainError("shaped coil: turns, wire, diameter and pitch need one number at each of 2+ stations")
            if not np.all(np.isfinite(own)):
                raise DomainError(f"shaped coil: {field} holds a value that is not a number")
        if self.turns[0] != 0.0 or np.any(np.diff(self.turns) <= 0.0):
            raise DomainError("shaped coil: the turns must rise from 0 at the first station")
        if np.any(self.wire <= 0.0) or not self.end_length >= 0.0 or not self.shear_modulus > 0.0:
            raise DomainError("shaped coil: wire and modulus must be positive, the end length not negative")
        for mean, wire in zip(self.mean_diameter, self.wire, strict=True):
            require_index(float(mean / wire))
        if np.any(self._gap < -1e-9):
            at = float(self._middle[int(np.argmin(self._gap))])
            raise DomainError(f"shaped coil: at {at:.1f} turns the pitch is less than the wire needs")

    @property
    def _step(self) -> float:
        return float(self.turns[-1]) / _PIECES

    @cached_property
    def _middle(self) -> Floats:
        return np.asarray((np.arange(_PIECES) + 0.5) * self._step)

    def _along(self, values: Floats) -> Floats:
        return np.asarray(np.interp(self._middle, self.turns, values))

    @cached_property
    def _closed_height(self) -> Floats:
        """Height per closed turn [m]."""
        change = 0.5 * np.gradient(self._along(self.mean_diameter), self._step)
        return np.asarray(np.sqrt(np.maximum(self._along(self.wire) ** 2 - change**2, 0.0)))

    @cached_property
    def _gap(self) -> Floats:
        return np.asarray(self._along(self.pitch) - self._closed_height)

    @cached_property
    def closing(self) -> ProgressiveCoil:
        """The pieces as turns that close one after another."""
        rates = self.shear_modulus * self._along(self.wire) ** 4 / (8.0 * self._along(self.mean_diameter) ** 3)
        return ProgressiveCoil(turn_rates=rates / self._step, gaps=np.maximum(self._gap, 0.0) * self._step)

    @property
    def solid_length(self) -> float:
        """Length with all turns closed [m]."""
        return float(np.sum(self._closed_height)) * self._step + self.end_length

    @property
    def free_length(self) -> float:
        """Length without load [m]."""
        return self.solid_length + self.closing.solid_deflection

    @property
    def least_load_length(self) -> float:
        """Shortest length for which a load is given: solid [m]."""
        return self.solid_length

    @property
    def friction(self) -> float:
        """Half the distance between loading and unloading [N]: none."""
        return 0.0

    @property
    def first_closing_force(self) -> float:
        """Load up to which the spring is linear: the first piece closes [N]."""
        return float(np.min(self.closing.closing_forces))

    @property
    def solid_force(self) -> float:
        """Load at which the last piece closes [N]."""
        return self.closing.solid_force

    def _deflection(self, length: float) -> float:
        require_length(length, self.solid_length, "shaped coil")
        return min(max(self.free_length - length, 0.0), self.closing.solid_deflection)

    @cached_property
    def _knees(self) -> tuple[Floats, Floats]:
        """Deflections and loads at which pieces close, from 0, rising."""
        c = self.closing
        order = np.argsort(c.closing_forces, kind="stable")
        force = c.closing_forces[order]
        soft = 1.0 / c.turn_rates[order]
        open_after = np.append(np.cumsum(soft[::-1])[::-1][1:], 0.0)  # compliance of what closes later
        deflection = np.cumsum(c.gaps[order]) + force * open_after
        return np.insert(deflection, 0, 0.0), np.insert(force, 0, 0.0)

    def load_at(self, length: float) -> float:
        """Return the load at a length [N]; 0 when loose, DomainError below solid."""
        deflection, force = self._knees
        return float(np.interp(self._deflection(length), deflection, force))

    def rate_at(self, length: float) -> float:
        """Return the rate at a length [N/m]; 0 when loose, infinite when solid."""
        load = self.load_at(length)
        if load >= self.solid_force * (1.0 - 1e-12):
            return math.inf
        return self.closing.rate(load) if length < self.free_length else 0.0

    def energy_at(self, length: float) -> float:
        """Return the work stored from free to a length [J]."""
        load = self.load_at(length)
        rates, gaps = self.closing.turn_rates, self.closing.gaps
        return float(np.sum(0.5 * rates * np.minimum(load / rates, gaps) ** 2))

    def stresses_at(self, length: float, *, corrected: bool = False) -> Floats:
        """Return the shear stress along the wire at a length, 600 pieces from end to end [Pa].

        A closed piece keeps the stress at which it closed.
        """
        wire, mean = self._along(self.wire), self._along(self.mean_diameter)
        own = np.minimum(self.load_at(length), self.closing.closing_forces)
        plain = 8.0 * mean * own / (math.pi * wire**3)
        if not corrected:
            return np.asarray(plain)
        factor = np.array([en_factor(float(index)) for index in mean / wire])
        return np.asarray(plain * factor)

    def stress_at(self, length: float) -> float:
        """Return the greatest uncorrected stress along the wire at a length [Pa]."""
        return float(np.max(self.stresses_at(length)))

    @property
    def mass(self) -> float:
        """Mass of the active wire [kg]."""
        return float(np.sum(self._piece_mass))

    @cached_property
    def _piece_mass(self) -> Floats:
        wire, mean = self._along(self.wire), self._along(self.mean_diameter)
        return np.asarray(self.density * 0.25 * math.pi * wire**2 * math.pi * mean * self._step)

    def natural_frequency(self, length: float) -> float:
        """Return the lowest natural frequency of the open pieces between their closed ends at a length [Hz].

        A chain of the pieces' masses and rates; closed pieces in the middle of the spring move as one lump.
        """
        load = self.load_at(length)
        rates = np.where(self.closing.closing_forces > load * (1.0 + 1e-12), self.closing.turn_rates, np.inf)
        if np.all(np.isinf(rates)):
            return math.inf
        # lumps between open pieces: half of each open neighbour, all of the closed ones
        open_at = np.flatnonzero(np.isfinite(rates))
        springs = rates[open_at]
        if springs.size < 2:
            return math.inf
        total = np.insert(np.cumsum(self._piece_mass), 0, 0.0)
        centre = 0.5 * (total[open_at] + total[open_at + 1])
        lumps = np.diff(centre)
        diagonal = (springs[:-1] + springs[1:]) / lumps
        beside = -springs[1:-1] / np.sqrt(lumps[:-1] * lumps[1:])
        lowest = eigh_tridiagonal(diagonal, beside, eigvals_only=True, select="i", select_range=(0, 0))[0]
        return math.sqrt(float(lowest)) / (2.0 * math.pi)

    def length(self, force: float) -> float:
        """Return the length under a load [m]; DomainError past solid."""
        return length_under(self, force)


@dataclass(frozen=True, kw_only=True, eq=False)
class ShapedLaw:
    """Load of a shaped coil over its deflection, to the rate that it was measured to begin with.

    Parameters
    ----------
    coil : ShapedCoil
        Its shape, which gives the form of the curve.
    main_rate : float
        Rate where it begins to carry [N/m].
    """

    coil: ShapedCoil
    main_rate: float

    @cached_property
    def _curve(self) -> tuple[Floats, Floats, Floats]:
        """Deflections at which pieces close, loads there, rates from there on; the last one stands past the others."""
        deflection, force = self.coil._knees
        kept = np.insert(np.diff(deflection) > 1e-9, 0, True)
        deflection, force = deflection[kept], force[kept]
        force = force * (self.main_rate * deflection[1] / force[1])
        rates = np.diff(force) / np.diff(deflection)
        # all but solid: the last pieces would be as stiff as their number is large
        soft = int(np.count_nonzero(rates <= _STIFFEST * self.main_rate))
        return deflection[: soft + 1], force[: soft + 1], np.append(rates[:soft], rates[soft - 1])

    def at_rate(self, rate: float) -> ShapedLaw:
        """Return the spring with another rate [N/m] and all loads in proportion: thicker wire, the same gaps."""
        return ShapedLaw(coil=self.coil, main_rate=rate)

    def force(self, deflection: Floats) -> Floats:
        """Return the load [N] at deflections from free [m].

        From where it is ten times as stiff as it began, so all but solid, it goes on at that rate, also past solid: for
        a motion, which a bump stop ends before.
        """
        x = np.asarray(deflection, dtype=np.float64)
        at, force, rates = self._curve
        return np.asarray(np.interp(x, at, force) + rates[-1] * np.maximum(x - at[-1], 0.0))

    def rate(self, deflection: Floats) -> Floats:
        """Return the slope of `force` [N/m]."""
        at, _, rates = self._curve
        here = np.searchsorted(at, np.asarray(deflection, dtype=np.float64), side="right") - 1
        return np.asarray(rates[np.clip(here, 0, rates.size - 1)])
