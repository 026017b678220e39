"""U-shaped anti-roll bars of round section: end rate and roll rate at the axle."""

from __future__ import annotations

import math
from dataclasses import dataclass

from tussock.errors import DomainError


@dataclass(frozen=True, kw_only=True, slots=True)
class AntiRollBar:
    """A U-shaped bar with arms square to it.

    Parameters
    ----------
    diameter : float
        Outer diameter [m].
    inner_diameter : float
        Inner diameter of a tube [m], 0 for a solid bar.
    arm : float
        Length of each arm [m].
    length : float
        Length of the bar between the arms [m].
    bush_spacing : float
        Distance between the bushes [m], at most `length`.
    elastic_modulus, shear_modulus : float
        E and G [Pa].

    Raises
    ------
    DomainError
        If a dimension cannot be.

    Examples
    --------
    >>> bar = AntiRollBar(diameter=0.025, arm=0.25, length=1.0, bush_spacing=0.7)
    >>> round(bar.end_rate / 1e3, 2)
    79.72
    """

    diameter: float
    arm: float
    length: float
    bush_spacing: float
    inner_diameter: float = 0.0
    elastic_modulus: float = 206e9
    shear_modulus: float = 79.3e9

    def __post_init__(self) -> None:
        """Refuse a bar that cannot be."""
        for name in ("diameter", "arm", "length", "bush_spacing", "elastic_modulus", "shear_modulus"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value > 0.0):
                raise DomainError(f"anti-roll bar: {name} is {value:g}; it must be positive")
        if not 0.0 <= self.inner_diameter < self.diameter:
            raise DomainError("anti-roll bar: the inner diameter must be below the outer one")
        if self.bush_spacing > self.length:
            raise DomainError(
                f"anti-roll bar: bushes {self.bush_spacing * 1e3:g} mm apart on a bar of {self.length * 1e3:g} mm"
            )

    @property
    def compliance(self) -> dict[str, float]:
        """End deflection per end load by where it comes from [m/N]: arms, torsion, overhang, span between bushes.

        Castigliano for equal and opposite loads at the ends of the arms.
        """
        d4 = self.diameter**4 - self.inner_diameter**4
        bending = self.elastic_modulus * math.pi * d4 / 64.0
        torsion = self.shear_modulus * math.pi * d4 / 32.0
        overhang = (self.length - self.bush_spacing) / 2.0
        return {
            "arms": self.arm**3 / (3.0 * bending),
            "torsion": self.arm**2 * self.length / (2.0 * torsion),
            "overhang": overhang**3 / (3.0 * bending),
            "span": overhang**2 * self.bush_spacing / (6.0 * bending),
        }

    @property
    def end_rate(self) -> float:
        """Force at one end per its deflection, the other end moving equally the opposite way [N/m]."""
        return 1.0 / sum(self.compliance.values())

    def shear_stress(self, deflection: float) -> float:
        """Return the torsional stress in the bar when the ends move `deflection` [m] opposite ways [Pa]."""
        torque = self.end_rate * abs(deflection) * self.arm
        return 16.0 * torque * self.diameter / (math.pi * (self.diameter**4 - self.inner_diameter**4))

    def roll_rate(self, *, link_spacing: float, motion_ratio: float = 1.0) -> float:
        """Return the roll rate at the axle [N m/rad].

        Parameters
        ----------
        link_spacing : float
            Distance between the drop links at the axle [m].
        motion_ratio : float
            Travel of the bar's end per travel of the axle at the link [-].
        """
        if link_spacing <= 0.0:
            raise DomainError(f"anti-roll bar: links {link_spacing * 1e3:g} mm apart; they must stand apart")
        return 0.5 * self.end_rate * motion_ratio**2 * link_spacing**2
