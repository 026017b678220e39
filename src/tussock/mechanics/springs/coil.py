"""Helical compression springs of round wire: rate, stress, solid length, buckling, natural frequency.

References
----------
.. [1] EN 13906-1:2013, Cylindrical helical springs made from round wire and bar, compression springs. Clause list and
   formulas seen in public transcriptions, not in the standard itself.
.. [2] Budynas, Nisbett, Shigley's Mechanical Engineering Design, 10th ed., chapter 10.
.. [3] Wahl, Mechanical Springs: closure of a spring coil by coil.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats

Ends: TypeAlias = Literal["hot, ground", "hot, not ground", "cold, ground", "cold, not ground"]
Seating: TypeAlias = Literal["fixed, fixed", "fixed, hinged", "hinged, hinged", "fixed, free"]

#: dead coils in all, and the term that is added to the total number of coils to give the solid length in wire
#: diameters (EN 13906-1, 9.8 and 9.10; the cold rows are from memory)
_ENDS: dict[Ends, tuple[float, float]] = {
    "hot, ground": (1.5, -0.3),
    "hot, not ground": (1.5, 1.1),
    "cold, ground": (2.0, 0.0),
    "cold, not ground": (2.0, 1.5),
}

#: seating coefficient nu (EN 13906-1 figure 5)
SEATING: dict[Seating, float] = {
    "fixed, fixed": 0.5,
    "fixed, hinged": 0.7,
    "hinged, hinged": 1.0,
    "fixed, free": 2.0,
}

#: permissible uncorrected stress at solid, hot-coiled springs of EN 10089 steel, by wire diameter
#: (EN 13906-1, 10.1.2, figure as digitised in a public transcription): mm, MPa
_SOLID_STRESS = np.array(
    [
        [7.5, 955.0],
        [10.0, 925.0],
        [12.5, 896.9],
        [15.0, 874.4],
        [20.0, 840.2],
        [25.0, 813.1],
        [30.0, 794.6],
        [40.0, 761.3],
        [50.0, 735.8],
        [60.6, 716.5],
    ]
)

#: Goodman data for 2e6 cycles, hot coiled, ground or peeled and shot peened (same transcription):
#: wire diameter mm, permissible upper stress at zero lower stress, knee of the lower stress, greatest upper stress, MPa
_GOODMAN_2E6 = np.array(
    [
        [10.0, 645.0, 390.0, 890.0],
        [15.0, 555.0, 410.0, 830.0],
        [25.0, 475.0, 440.0, 780.0],
        [35.0, 405.0, 460.0, 740.0],
        [50.0, 325.0, 490.0, 690.0],
    ]
)


def wahl_factor(index: float) -> float:
    """Return Wahl's stress correction for spring index ``index`` = D/d [-], index > 1 [2]_.

    >>> round(wahl_factor(8.0), 4)
    1.184
    """
    _require_index(index)
    return (4.0 * index - 1.0) / (4.0 * index - 4.0) + 0.615 / index


def en_factor(index: float) -> float:
    """Return the stress correction of EN 13906-1, equal to Bergstraesser's, for index D/d > 1 [-] [1]_.

    >>> round(en_factor(8.0), 4)
    1.1724
    """
    _require_index(index)
    return (index + 0.5) / (index - 0.75)


def _require_index(index: float) -> None:
    if not index > 1.0:
        raise DomainError(f"spring index D/d is {index:g}; it must be above 1 (the wire would cross the axis)")


def permissible_solid_stress(wire: float) -> float:
    """Return the permissible uncorrected stress at solid of a hot-coiled EN 10089 spring [Pa].

    Parameters
    ----------
    wire : float
        Wire diameter [m], 7.5 to 60.6 mm.

    Raises
    ------
    DomainError
        Outside the diameters of the table.

    References
    ----------
    EN 13906-1:2013, 10.1.2, figure as digitised in a public transcription.
    """
    mm = wire * 1e3
    low, high = float(_SOLID_STRESS[0, 0]), float(_SOLID_STRESS[-1, 0])
    if not low <= mm <= high:
        raise DomainError(
            f"wire diameter {mm:g} mm lies outside the table of permissible stress ({low:g} to {high:g} mm)"
        )
    return float(np.interp(mm, _SOLID_STRESS[:, 0], _SOLID_STRESS[:, 1])) * 1e6


def permissible_upper_stress(wire: float, lower: float) -> float:
    """Return the upper corrected stress that 2e6 cycles permit above a lower corrected stress [Pa].

    Parameters
    ----------
    wire : float
        Wire diameter [m], 10 to 50 mm.
    lower : float
        Corrected stress at the lower end of the stroke [Pa], not negative.

    Raises
    ------
    DomainError
        Outside the diameters of the table, or for a negative lower stress.

    References
    ----------
    EN 13906-1:2013 Goodman diagram for hot-coiled, shot-peened springs, as digitised in a public transcription.
    """
    mm = wire * 1e3
    table = _GOODMAN_2E6
    if not table[0, 0] <= mm <= table[-1, 0]:
        raise DomainError(f"wire diameter {mm:g} mm lies outside the fatigue table (10 to 50 mm)")
    if lower < 0.0:
        raise DomainError(f"lower stress {lower / 1e6:g} MPa is negative: the spring would be in tension")
    at_zero, knee, most = (float(np.interp(mm, table[:, 0], table[:, i])) for i in (1, 2, 3))
    share = min(lower / 1e6 / knee, 1.0)
    return (at_zero + share * (most - at_zero)) * 1e6


@dataclass(frozen=True, kw_only=True, slots=True)
class CoilSpring:
    """A cylindrical compression spring of round wire.

    Parameters
    ----------
    wire : float
        Wire diameter d [m].
    mean_diameter : float
        Mean coil diameter D [m], above d.
    active_coils : float
        Number of active coils n [-].
    free_length : float
        Free length L0 [m], above the solid length.
    ends : Ends
        How the ends are made; decides dead coils and solid length (EN 13906-1).
    wire_most : float
        Largest wire diameter within tolerance [m]; 0 means `wire`.
    shear_modulus, elastic_modulus : float
        G and E [Pa]; defaults are EN 10089 hot-rolled spring steel.
    density : float
        Density of the steel [kg/m^3].

    Raises
    ------
    DomainError
        If a dimension cannot be.
    """

    wire: float
    mean_diameter: float
    active_coils: float
    free_length: float
    ends: Ends = "hot, ground"
    wire_most: float = 0.0
    shear_modulus: float = 78.5e9
    elastic_modulus: float = 206e9
    density: float = 7850.0

    def __post_init__(self) -> None:
        """Refuse a spring that cannot be."""
        for name in ("wire", "mean_diameter", "active_coils", "free_length", "shear_modulus", "elastic_modulus"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value > 0.0):
                raise DomainError(f"coil spring: {name} is {value:g}; it must be positive")
        if self.ends not in _ENDS:
            raise DomainError(f"coil spring: ends are {self.ends!r}; known are {', '.join(_ENDS)}")
        _require_index(self.index)
        if self.free_length <= self.solid_length:
            raise DomainError(
                f"coil spring: free length {self.free_length * 1e3:.1f} mm is not above "
                f"the solid length {self.solid_length * 1e3:.1f} mm"
            )

    @property
    def index(self) -> float:
        """Spring index D/d [-]."""
        return self.mean_diameter / self.wire

    @property
    def rate(self) -> float:
        """Rate G d^4 / (8 D^3 n) [N/m]."""
        return self.shear_modulus * self.wire**4 / (8.0 * self.mean_diameter**3 * self.active_coils)

    @property
    def total_coils(self) -> float:
        """Active and dead coils together [-]."""
        return self.active_coils + _ENDS[self.ends][0]

    @property
    def solid_length(self) -> float:
        """Length with all coils closed [m]."""
        return (self.total_coils + _ENDS[self.ends][1]) * max(self.wire, self.wire_most)

    @property
    def clearance_sum(self) -> float:
        """Least sum of clearances between active coils under static load, Sa [m] (EN 13906-1, 9.9)."""
        n, d, mean = self.active_coils, self.wire, self.mean_diameter
        if self.ends.startswith("hot"):
            return 0.02 * n * (mean + d)
        return n * (0.0015 * mean**2 / d + 0.1 * d)

    @property
    def least_length(self) -> float:
        """Smallest permissible working length Ln = solid length + Sa [m]."""
        return self.solid_length + self.clearance_sum

    @property
    def mass(self) -> float:
        """Mass of the wire, dead coils included [kg]."""
        return self.density * math.pi * self.wire**2 / 4.0 * math.pi * self.mean_diameter * self.total_coils

    @property
    def natural_frequency(self) -> float:
        """First natural frequency with both ends held [Hz] (EN 13906-1, 9.12; exact constant)."""
        d, mean, n = self.wire, self.mean_diameter, self.active_coils
        return d / (2.0 * math.pi * math.sqrt(2.0) * n * mean**2) * math.sqrt(self.shear_modulus / self.density)

    def force(self, length: float) -> float:
        """Return the force at `length` [N]; zero when the spring is loose.

        Raises
        ------
        DomainError
            Below the solid length.
        """
        if length < self.solid_length - 1e-9:
            raise DomainError(
                f"coil spring: length {length * 1e3:.1f} mm is below solid, {self.solid_length * 1e3:.1f} mm"
            )
        return max(self.free_length - length, 0.0) * self.rate

    def length(self, force: float) -> float:
        """Return the length under `force` >= 0 [N], in [m]; DomainError past solid."""
        length = self.free_length - force / self.rate
        if force < 0.0 or length < self.solid_length:
            raise DomainError(
                f"coil spring: {force:.0f} N would need {length * 1e3:.1f} mm; the spring works between "
                f"{self.solid_length * 1e3:.1f} mm and {self.free_length * 1e3:.1f} mm"
            )
        return length

    def stress(self, force: float, *, corrected: bool = False) -> float:
        """Return the shear stress under `force` [N]: 8 D F / (pi d^3), times the EN factor if `corrected` [Pa]."""
        plain = 8.0 * self.mean_diameter * force / (math.pi * self.wire**3)
        return plain * en_factor(self.index) if corrected else plain

    @property
    def solid_stress(self) -> float:
        """Uncorrected stress with all coils closed [Pa]."""
        return self.stress((self.free_length - self.solid_length) * self.rate)

    def solid_diameter_growth(self) -> float:
        """Return the growth of the outer diameter when compressed to solid [m] (EN 13906-1, 9.11)."""
        d, mean, n = self.wire, self.mean_diameter, self.active_coils
        pitch = (self.free_length - self.solid_length + n * d) / n
        return 0.1 * (pitch**2 - 0.8 * pitch * d - 0.2 * d**2) / mean

    def buckling_deflection(self, seating: Seating) -> float:
        """Return the deflection at which the spring buckles [m]; infinite if it cannot (EN 13906-1, 9.14)."""
        nu = SEATING[seating]
        ratio = self.shear_modulus / self.elastic_modulus
        slender = math.pi * self.mean_diameter / (nu * self.free_length)
        under = 1.0 - (1.0 - ratio) / (0.5 + ratio) * slender**2
        if under < 0.0:
            return math.inf
        deflection = self.free_length * 0.5 / (1.0 - ratio) * (1.0 - math.sqrt(under))
        return deflection if deflection < self.free_length else math.inf

    def fatigue(self, *, longest: float, shortest: float) -> FatigueCheck:
        """Return the fatigue check of a stroke between two lengths [m] for 2e6 cycles."""
        lower = self.stress(self.force(longest), corrected=True)
        upper = self.stress(self.force(shortest), corrected=True)
        return FatigueCheck(lower=lower, upper=upper, permitted=permissible_upper_stress(self.wire, lower))


@dataclass(frozen=True, kw_only=True, slots=True)
class FatigueCheck:
    """Corrected stresses of a stroke and the upper stress that 2e6 cycles permit [Pa]."""

    lower: float
    upper: float
    permitted: float

    @property
    def margin(self) -> float:
        """Permitted over actual upper stress [-]; above 1 passes."""
        return self.permitted / self.upper


@dataclass(frozen=True, kw_only=True, slots=True)
class ProgressiveCoil:
    """A spring whose coils close one after another: one rate and one clear gap for each turn.

    Parameters
    ----------
    turn_rates : array (n,)
        Rate of each single turn, G d^4 / (8 D^3) [N/m].
    gaps : array (n,)
        Clear gap of each turn in the free spring [m].

    References
    ----------
    Coil-by-coil closure as in Wahl, Mechanical Springs [3]_.
    """

    turn_rates: Floats
    gaps: Floats

    def __post_init__(self) -> None:
        """Refuse turns that cannot be."""
        if self.turn_rates.shape != self.gaps.shape or self.turn_rates.size == 0:
            raise DomainError("progressive coil: as many turn rates as gaps are needed, and at least one turn")
        if np.any(self.turn_rates <= 0.0) or np.any(self.gaps < 0.0):
            raise DomainError("progressive coil: turn rates must be positive and gaps not negative")

    @property
    def closing_forces(self) -> Floats:
        """Force at which each turn closes [N]."""
        return self.turn_rates * self.gaps

    def deflection(self, force: float) -> float:
        """Return the deflection under `force` >= 0 [m]."""
        return float(np.sum(np.minimum(force / self.turn_rates, self.gaps)))

    def rate(self, force: float) -> float:
        """Return the rate just above `force` [N/m]; infinite when solid."""
        open_turns = self.closing_forces > force
        if not np.any(open_turns):
            return math.inf
        return float(1.0 / np.sum(1.0 / self.turn_rates[open_turns]))


@dataclass(frozen=True, kw_only=True, slots=True)
class Proposal:
    """A coil that could be made for a wanted load, length and rate, with what speaks for and against it."""

    spring: CoilSpring
    solid_stress_share: float
    bind_margin: float
    reasons: tuple[str, ...]
    fits: bool


def propose(
    *,
    rate: float,
    load: float,
    length: float,
    shortest: float,
    wires: tuple[float, ...],
    inside_least: float,
    outside_most: float,
    ends: Ends = "hot, ground",
) -> tuple[Proposal, ...]:
    """Propose coils for a wanted rate and load at a length, the best first.

    Each wire of the list is tried with mean diameters in steps of 1 mm between the seats' limits; the number of coils
    follows from the rate. For each wire the mean diameter with the lowest stress at solid that still closes late
    enough is kept.

    Parameters
    ----------
    rate, load, length : float
        Wanted rate [N/m] and load [N] at the installed length [m].
    shortest : float
        Length at full bump [m]; the spring must stay above its smallest permissible length there.
    wires : tuple of float
        Wire diameters that can be had [m].
    inside_least, outside_most : float
        Least inner and greatest outer diameter [m].

    Returns
    -------
    tuple of Proposal
        Those that fit first, by stress at solid over the permissible one.
    """
    if min(rate, load, length) <= 0.0 or shortest >= length:
        raise DomainError("propose: rate, load and length must be positive and full bump shorter than ride height")
    best: list[Proposal] = []
    for wire in wires:
        candidates: list[Proposal] = []
        steps = int((outside_most - wire - (inside_least + wire)) * 1e3) + 1
        for step in range(max(steps, 0)):
            mean = inside_least + wire + step * 1e-3
            coils = 78.5e9 * wire**4 / (8.0 * mean**3 * rate)
            try:
                spring = CoilSpring(
                    wire=wire, mean_diameter=mean, active_coils=coils, free_length=length + load / rate, ends=ends
                )
                candidates.append(_judge(spring, shortest))
            except DomainError:
                continue  # not a spring: longer solid than free, or outside the tables
        if candidates:
            best.append(min(candidates, key=lambda p: (not p.fits, p.solid_stress_share)))
    return tuple(sorted(best, key=lambda p: (not p.fits, p.solid_stress_share)))


def _judge(spring: CoilSpring, shortest: float) -> Proposal:
    share = spring.solid_stress / permissible_solid_stress(spring.wire)
    bind = shortest - spring.least_length
    reasons = [f"stress at solid {share:.0%} of what is permitted", f"{bind * 1e3:.0f} mm above coil bind at full bump"]
    buckles = spring.buckling_deflection("fixed, fixed")
    steady = spring.free_length - shortest < buckles
    if not steady:
        reasons.append(f"buckles at {buckles * 1e3:.0f} mm of deflection unless guided")
    good_index = 4.0 <= spring.index <= 16.0
    if not good_index:
        reasons.append(f"spring index {spring.index:.1f} is hard to coil (4 to 16)")
    return Proposal(
        spring=spring,
        solid_stress_share=share,
        bind_margin=bind,
        reasons=tuple(reasons),
        fits=share <= 1.0 and bind >= 0.0 and steady and good_index and spring.active_coils >= 3.0,
    )
