"""Torsion bars of round section: torsional rate, stress, and the rate at the end of their lever."""

from __future__ import annotations

import math
from dataclasses import dataclass

from tussock.errors import DomainError
from tussock.mechanics.springs.curve import require_length


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


@dataclass(frozen=True, kw_only=True, slots=True)
class TorsionLever:
    """A torsion bar with its lever as one spring along the vertical at the lever's end.

    Parameters
    ----------
    bar : TorsionBar
        The bar.
    arm : float
        Length of the lever [m].
    free_angle : float
        Angle of the lever above the horizontal without load [rad]; negative where it hangs down.
    friction : float
        Half the distance between loading and unloading at the lever's end [N].

    Raises
    ------
    DomainError
        A lever without length, or one that hangs straight down.

    Notes
    -----
    Its length is the height of the pivot over the lever's end: -arm sin(angle). It falls as the wheel rises and is
    negative when the end stands above the pivot. A torsion bar that is drawn below its free angle pulls.

    Examples
    --------
    >>> spring = TorsionLever(bar=TorsionBar(diameter=0.026, length=1.1), arm=0.33, free_angle=-math.radians(40))
    >>> round(spring.load_at(0.0)), round(spring.rate_at(0.0) / 1e3, 2)
    (6644, 28.84)
    """

    bar: TorsionBar
    arm: float
    free_angle: float
    friction: float = 0.0

    def __post_init__(self) -> None:
        """Refuse a lever that cannot be."""
        _positive_arm(self.arm)
        _level(self.free_angle)
        if not self.friction >= 0.0:
            raise DomainError(f"torsion bar: friction is {self.friction:g} N; it must not be negative")

    @property
    def free_length(self) -> float:
        """Height of the pivot over the lever's end without load [m]."""
        return -self.arm * math.sin(self.free_angle)

    @property
    def least_load_length(self) -> float:
        """The same with the lever nearly upright [m]."""
        return -self.arm * math.sin(math.radians(85.0))

    def angle_at(self, length: float) -> float:
        """Return the lever's angle above the horizontal at a height of the pivot over its end [rad]."""
        require_length(length, self.least_load_length, "torsion bar")
        if length >= self.arm:
            raise DomainError(f"torsion bar: {length * 1e3:.0f} mm is more than its lever of {self.arm * 1e3:.0f} mm")
        return -math.asin(length / self.arm)

    def load_at(self, length: float) -> float:
        """Return the vertical load at the lever's end [N]; negative beyond the free height."""
        angle = self.angle_at(length)
        return self.bar.lever_force(arm=self.arm, angle=angle, twist=angle - self.free_angle)

    def rate_at(self, length: float) -> float:
        """Return the vertical rate at the lever's end [N/m]."""
        angle = self.angle_at(length)
        return self.bar.lever_rate(arm=self.arm, angle=angle, twist=angle - self.free_angle)

    def energy_at(self, length: float) -> float:
        """Return the work stored from free [J]."""
        return 0.5 * self.bar.torsional_rate * (self.angle_at(length) - self.free_angle) ** 2

    def stress_at(self, length: float) -> float:
        """Return the amount of the shear stress in the bar [Pa]."""
        return abs(self.bar.shear_stress(self.bar.torsional_rate * (self.angle_at(length) - self.free_angle)))
