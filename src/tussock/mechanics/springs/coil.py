"""Helical compression springs of round wire: rate, stress, solid length, buckling, natural frequency.

References
----------
.. [1] EN 13906-1:2013, Cylindrical helical springs made from round wire and bar, compression springs. Clause list and
   formulas seen in public transcriptions, not in the standard itself.
.. [2] Budynas, Nisbett, Shigley's Mechanical Engineering Design, 10th ed., chapter 10.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, TypeAlias

from tussock.errors import DomainError
from tussock.mechanics.springs.fatigue import Cycles, FatigueCheck, permissible_upper_stress
from tussock.mechanics.springs.wire import (
    en_factor,
    permissible_solid_stress_cold,
    require_index,
)
from tussock.mechanics.springs.wire import (
    permissible_solid_stress as permissible_solid_stress,
)

Ends: TypeAlias = Literal[
    "hot, ground",
    "hot, not ground",
    "cold, ground",
    "cold, not ground",
    "handbook, plain",
    "handbook, plain and ground",
    "handbook, squared",
    "handbook, squared and ground",
]
Seating: TypeAlias = Literal["fixed, fixed", "fixed, hinged", "hinged, hinged", "fixed, free"]

#: dead coils in all, and the term that is added to the total number of coils to give the solid length in wire
#: diameters. Hot and cold: EN 13906-1, 9.8 and 9.10 (the cold rows and "hot, not ground" are from memory).
#: Handbook: Shigley table 10-1 (the plain rows are from memory). The two conventions differ by half a coil and in the
#: solid length, so the convention is part of the name.
_ENDS: dict[Ends, tuple[float, float]] = {
    "hot, ground": (1.5, -0.3),
    "hot, not ground": (1.5, 1.1),
    "cold, ground": (2.0, 0.0),
    "cold, not ground": (2.0, 1.5),
    "handbook, plain": (0.0, 1.0),
    "handbook, plain and ground": (1.0, 0.0),
    "handbook, squared": (2.0, 1.0),
    "handbook, squared and ground": (2.0, 0.0),
}

#: seating coefficient nu (EN 13906-1 figure 5)
SEATING: dict[Seating, float] = {
    "fixed, fixed": 0.5,
    "fixed, hinged": 0.7,
    "hinged, hinged": 1.0,
    "fixed, free": 2.0,
}


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
        How the ends are made and by which convention dead coils and solid length are counted.
    wire_most : float
        Largest wire diameter within tolerance [m], at least `wire`; 0 means `wire`.
    shear_modulus, elastic_modulus : float
        G and E [Pa]; defaults are EN 10089 hot-rolled spring steel.
    density : float
        Density of the steel [kg/m^3].
    tensile_strength : float
        Of the wire [Pa]; only cold-coiled springs need it, for their permissible stress. 0 means not known.

    Raises
    ------
    DomainError
        If a dimension cannot be.

    Examples
    --------
    >>> spring = CoilSpring(wire=12.5e-3, mean_diameter=110e-3, active_coils=7.5, free_length=365e-3)
    >>> round(spring.rate / 1e3, 3)
    23.998
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
    tensile_strength: float = 0.0

    def __post_init__(self) -> None:
        """Refuse a spring that cannot be."""
        for name in (
            "wire",
            "mean_diameter",
            "active_coils",
            "free_length",
            "shear_modulus",
            "elastic_modulus",
            "density",
        ):
            value = getattr(self, name)
            if not (math.isfinite(value) and value > 0.0):
                raise DomainError(f"coil spring: {name} is {value:g}; it must be positive")
        if self.ends not in _ENDS:
            raise DomainError(f"coil spring: ends are {self.ends!r}; known are {'; '.join(_ENDS)}")
        if self.shear_modulus >= self.elastic_modulus:
            raise DomainError(
                f"coil spring: shear modulus {self.shear_modulus / 1e9:g} GPa is not below "
                f"the elastic modulus {self.elastic_modulus / 1e9:g} GPa"
            )
        if self.wire_most != 0.0 and not self.wire <= self.wire_most <= 1.2 * self.wire:
            raise DomainError(
                f"coil spring: largest wire diameter {self.wire_most * 1e3:g} mm must lie between the nominal "
                f"{self.wire * 1e3:g} mm and 20 % above it"
            )
        require_index(self.index)
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
        """Least sum of clearances between active coils under static load, Sa [m] (EN 13906-1, 9.9).

        The cold form (from memory) also serves the handbook conventions, which name no such sum.
        """
        n, d, mean = self.active_coils, self.wire, self.mean_diameter
        if self.ends.startswith("hot"):
            return 0.02 * n * (mean + d)
        return n * (0.0015 * mean**2 / d + 0.1 * d)

    @property
    def clearance_sum_dynamic(self) -> float:
        """The same under dynamic load [m]: twice for hot, 1.5 times for cold coiling (from memory)."""
        return self.clearance_sum * (2.0 if self.ends.startswith("hot") else 1.5)

    @property
    def least_length(self) -> float:
        """Smallest permissible working length Ln = solid length + Sa [m]."""
        return self.solid_length + self.clearance_sum

    @property
    def pitch(self) -> float:
        """Pitch of the active coils in the free spring [m]."""
        # one end coil of a plain and ground spring keeps its pitch
        pitched = self.total_coils if self.ends == "handbook, plain and ground" else self.active_coils
        return self.wire + (self.free_length - self.solid_length) / pitched

    @property
    def mass(self) -> float:
        """Mass of the wire, dead coils included, helix angle left out [kg]."""
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

    @property
    def least_load_length(self) -> float:
        """Shortest length for which a load is given: solid [m]."""
        return self.solid_length

    @property
    def friction(self) -> float:
        """Half the distance between loading and unloading [N]: none."""
        return 0.0

    def load_at(self, length: float) -> float:
        """Return the load at a length [N], as `force`."""
        return self.force(length)

    def rate_at(self, length: float) -> float:
        """Return the rate at a length [N/m]; 0 when loose."""
        return self.rate if self.force(length) > 0.0 else 0.0

    def energy_at(self, length: float) -> float:
        """Return the work stored from free to a length [J]."""
        return 0.5 * self.force(length) ** 2 / self.rate

    def stress_at(self, length: float) -> float:
        """Return the uncorrected stress at a length [Pa]."""
        return self.stress(self.force(length))

    def length(self, force: float) -> float:
        """Return the length under `force` >= 0 [N], in [m]; DomainError past solid."""
        length = self.free_length - force / self.rate
        if force < 0.0 or length < self.solid_length - 1e-9:
            raise DomainError(
                f"coil spring: {force:.0f} N would need {length * 1e3:.1f} mm; the spring works between "
                f"{self.solid_length * 1e3:.1f} mm and {self.free_length * 1e3:.1f} mm"
            )
        return length

    def stress(self, force: float, *, corrected: bool = False, factor: Callable[[float], float] = en_factor) -> float:
        """Return the shear stress under `force` [Pa].

        Parameters
        ----------
        force : float
            Load on the spring [N].
        corrected : bool
            Whether 8 D F / (pi d^3) is multiplied by the curvature factor.
        factor : function
            Curvature factor of the spring index; the EN one unless `wahl_factor` or another is given.
        """
        plain = 8.0 * self.mean_diameter * force / (math.pi * self.wire**3)
        return plain * factor(self.index) if corrected else plain

    @property
    def solid_force(self) -> float:
        """Force at which all coils close [N]."""
        return (self.free_length - self.solid_length) * self.rate

    @property
    def solid_stress(self) -> float:
        """Uncorrected stress with all coils closed [Pa]."""
        return self.stress(self.solid_force)

    @property
    def permitted_solid_stress(self) -> float:
        """Permissible uncorrected stress at solid [Pa] (EN 13906-1, 10.1).

        Raises
        ------
        DomainError
            Outside the table of hot-coiled springs, or for a cold-coiled one whose tensile strength is not known.
        """
        if self.ends.startswith("hot"):
            return permissible_solid_stress(self.wire)
        if self.tensile_strength <= 0.0:
            raise DomainError("coil spring: a cold-coiled spring needs its tensile strength for the permissible stress")
        return permissible_solid_stress_cold(self.tensile_strength)

    def solid_diameter_growth(self) -> float:
        """Return the growth of the outer diameter when compressed to solid [m] (EN 13906-1, 9.11)."""
        d, mean, n = self.wire, self.mean_diameter, self.active_coils
        pitch = (self.free_length - self.solid_length + n * d) / n
        return 0.1 * (pitch**2 - 0.8 * pitch * d - 0.2 * d**2) / mean

    def buckling_deflection(self, seating: Seating) -> float:
        """Return the deflection at which the spring buckles [m]; infinite if it cannot (EN 13906-1, 9.14)."""
        nu = _seating(seating)
        ratio = self.shear_modulus / self.elastic_modulus
        slender = math.pi * self.mean_diameter / (nu * self.free_length)
        under = 1.0 - (1.0 - ratio) / (0.5 + ratio) * slender**2
        if under < 0.0:
            return math.inf
        deflection = self.free_length * 0.5 / (1.0 - ratio) * (1.0 - math.sqrt(under))
        return deflection if deflection < self.free_length else math.inf

    def steady_free_length(self, seating: Seating) -> float:
        """Return the free length below which no deflection buckles a spring of this diameter [m] (Shigley 10-12)."""
        ratio = self.shear_modulus / self.elastic_modulus
        return math.pi * self.mean_diameter / _seating(seating) * math.sqrt((1.0 - ratio) / (0.5 + ratio))

    def fatigue(self, *, longest: float, shortest: float, cycles: Cycles = 2_000_000) -> FatigueCheck:
        """Return the fatigue check of a stroke between two lengths [m] (hot-coiled, shot-peened springs)."""
        if not self.ends.startswith("hot"):
            raise DomainError("coil spring: the fatigue data are those of hot-coiled springs")
        if shortest > longest:
            raise DomainError(f"coil spring: {shortest * 1e3:g} mm is not the shorter length of the stroke")
        lower = self.stress(self.force(longest), corrected=True)
        upper = self.stress(self.force(shortest), corrected=True)
        permitted = permissible_upper_stress(self.wire, lower, cycles=cycles)
        return FatigueCheck(lower=lower, upper=upper, permitted=permitted, cycles=cycles)

    def check(self, *, longest: float, shortest: float, seating: Seating = "fixed, fixed") -> CoilCheck:
        """Return the working checks between full droop and full bump.

        Parameters
        ----------
        longest, shortest : float
            Distance between the spring seats at full droop and at full bump [m].
        seating : Seating
            How the ends are held, for buckling.

        Raises
        ------
        DomainError
            If `shortest` is below solid, or a table does not cover the wire.
        """
        fatigue = None
        if self.ends.startswith("hot") and 10e-3 - 1e-12 <= self.wire <= 50e-3 + 1e-12:
            fatigue = self.fatigue(longest=longest, shortest=shortest)
        return CoilCheck(
            solid_stress_share=self.solid_stress / self.permitted_solid_stress,
            bind_margin=shortest - self.least_length,
            loose=max(longest - self.free_length, 0.0),
            buckling_margin=self.buckling_deflection(seating) - (self.free_length - shortest),
            fatigue=fatigue,
        )


def _seating(seating: Seating) -> float:
    if seating not in SEATING:
        raise DomainError(f"coil spring: seating is {seating!r}; known are {'; '.join(SEATING)}")
    return SEATING[seating]


@dataclass(frozen=True, kw_only=True, slots=True)
class CoilCheck:
    """What a spring has in hand between droop and bump.

    Attributes
    ----------
    solid_stress_share : float
        Stress at solid over the permissible one [-]; at most 1 passes.
    bind_margin : float
        Length at full bump over the smallest permissible length [m]; not negative passes.
    loose : float
        Gap at the seats at full droop [m]; 0 when the spring stays seated.
    buckling_margin : float
        Deflection in hand before it buckles [m]; infinite if it cannot.
    fatigue : FatigueCheck or None
        None where the data do not cover the spring.
    """

    solid_stress_share: float
    bind_margin: float
    loose: float
    buckling_margin: float
    fatigue: FatigueCheck | None

    @property
    def warnings(self) -> tuple[str, ...]:
        """What fails, in words; empty when everything passes."""
        found = []
        if self.solid_stress_share > 1.0:
            found.append(f"stress at solid is {self.solid_stress_share:.0%} of what is permitted")
        if self.bind_margin < 0.0:
            found.append(f"full bump is {-self.bind_margin * 1e3:.0f} mm below the smallest permissible length")
        if self.loose > 0.0:
            found.append(f"the spring hangs loose by {self.loose * 1e3:.0f} mm at full droop")
        if self.buckling_margin < 0.0:
            found.append(f"it buckles {-self.buckling_margin * 1e3:.0f} mm before full bump unless guided")
        if self.fatigue is not None and self.fatigue.margin < 1.0:
            found.append(
                f"upper stress {self.fatigue.upper / 1e6:.0f} MPa exceeds the {self.fatigue.permitted / 1e6:.0f} MPa "
                f"that {self.fatigue.cycles:,} cycles permit"
            )
        return tuple(found)
