"""Torsion bars of round section: torsional rate, stress, and the rate at the end of their lever."""

from __future__ import annotations

import math
from dataclasses import dataclass

from tussock.errors import DomainError


@dataclass(frozen=True, kw_only=True, slots=True)
class TorsionBar:
    """A round bar twisted between its anchor and a lever (the lower arm, as a rule).

    Parameters
    ----------
    diameter : float
        Outer diameter of the active part [m].
    length : float
        Active length [m].
    inner_diameter : float
        Inner diameter of a tube [m], 0 for a solid bar.
    shear_modulus : float
        G [Pa].

    Raises
    ------
    DomainError
        If a dimension cannot be.

    References
    ----------
    .. [1] J. M. Gere, Mechanics of Materials, chapter 3, torsion of circular bars.

    Examples
    --------
    >>> bar = TorsionBar(diameter=0.026, length=1.1, shear_modulus=77e9)
    >>> round(bar.torsional_rate, 1)
    3140.4
    """

    diameter: float
    length: float
    inner_diameter: float = 0.0
    shear_modulus: float = 77e9

    def __post_init__(self) -> None:
        """Refuse a bar that cannot be."""
        for name in ("diameter", "length", "shear_modulus"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value > 0.0):
                raise DomainError(f"torsion bar: {name} is {value:g}; it must be positive")
        if not 0.0 <= self.inner_diameter < self.diameter:
            raise DomainError(
                f"torsion bar: the inner diameter is {self.inner_diameter * 1e3:g} mm; it must lie between 0 and the "
                f"outer one, {self.diameter * 1e3:g} mm"
            )

    @property
    def torsional_rate(self) -> float:
        """Torque per twist [N m/rad]."""
        d4 = self.diameter**4 - self.inner_diameter**4
        return math.pi * self.shear_modulus * d4 / (32.0 * self.length)

    def shear_stress(self, torque: float) -> float:
        """Return the largest shear stress under a torque [N m], with its sign [Pa]."""
        return 16.0 * torque * self.diameter / (math.pi * (self.diameter**4 - self.inner_diameter**4))

    def lever_force(self, *, arm: float, angle: float, twist: float) -> float:
        """Return the vertical force at the end of the lever that holds the bar at a twist [N].

        Parameters
        ----------
        arm : float
            Length of the lever [m].
        angle : float
            Angle of the lever above the horizontal, where the end is pushed upward as the twist grows [rad].
        twist : float
            Twist of the bar [rad].

        Raises
        ------
        DomainError
            The lever stands upright or has no length: no vertical force can hold it.
        """
        return self.torsional_rate * twist / (_positive_arm(arm) * _level(angle))

    def lever_rate(self, *, arm: float, angle: float, twist: float) -> float:
        """Return the vertical rate at the end of the lever [N/m].

        The slope of `lever_force` over the height of the end: the lever shortens in plan as it rises, so the rate holds
        a share of the torque. Parameters and errors as there.
        """
        radius = _positive_arm(arm)
        torque = self.torsional_rate * twist
        return (self.torsional_rate + torque * math.tan(angle)) / (radius * _level(angle)) ** 2


def _positive_arm(arm: float) -> float:
    if not (math.isfinite(arm) and arm > 0.0):
        raise DomainError(f"torsion bar: the lever is {arm * 1e3:g} mm long; it must be positive")
    return arm


def _level(angle: float) -> float:
    if not abs(angle) < math.radians(89.0):
        raise DomainError(f"torsion bar: the lever stands at {math.degrees(angle):g} deg; it must stay within 89 deg")
    return math.cos(angle)
