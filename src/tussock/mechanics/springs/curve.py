"""What every spring is to the vehicle: load, rate, energy and stress at a length, whatever it is made of.

The length runs along the line of the load and falls as the load grows: the distance between the seats of a coil, the
height of the eyes over the seat of a leaf spring, the height of the pivot over the lever's end of a torsion bar. The
frictionless load is meant; `friction` is half of what loading and unloading differ by.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol, runtime_checkable

import numpy as np
from scipy.interpolate import PchipInterpolator

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats

_SOLID = 1e-9  # how far below its least length a spring may be asked, for rounding [m]


@runtime_checkable
class SpringCurve(Protocol):
    """A spring as load over length.

    Attributes
    ----------
    free_length, least_load_length : float
        Length without load, and the shortest length for which a load is given [m].
    friction : float
        Half the distance between the loading and the unloading branch [N].
    """

    @property
    def free_length(self) -> float:
        """Length without load [m]."""

    @property
    def least_load_length(self) -> float:
        """Shortest length for which a load is given [m]."""

    @property
    def friction(self) -> float:
        """Half the distance between the loading and the unloading branch [N]."""

    def load_at(self, length: float) -> float:
        """Return the load at a length [N]; 0 when loose (leaves and bars pull), DomainError below the least."""

    def rate_at(self, length: float) -> float:
        """Return the rate at a length, load gained per length lost [N/m]; 0 when loose."""

    def energy_at(self, length: float) -> float:
        """Return the work stored from free to a length [J]; 0 when loose."""

    def stress_at(self, length: float) -> float:
        """Return the greatest uncorrected stress at a length [Pa]; 0 where the spring has none."""


def length_under(spring: SpringCurve, load: float) -> float:
    """Return the length of any spring under a load, by bisection on its monotone curve [m].

    Raises
    ------
    DomainError
        A pull, or a load beyond the spring's shortest length.
    """
    low, high = spring.least_load_length, spring.free_length
    most = spring.load_at(low)
    if not 0.0 <= load <= most:
        raise DomainError(
            f"spring: {load:.0f} N is out of its reach; it carries 0 to {most:.0f} N between {high * 1e3:.1f} mm "
            f"and {low * 1e3:.1f} mm"
        )
    for _ in range(60):
        middle = 0.5 * (low + high)
        if spring.load_at(middle) > load:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def require_length(length: float, least: float, what: str) -> None:
    """Raise DomainError when a length lies below a spring's shortest one."""
    if not (math.isfinite(length) and length >= least - _SOLID):
        raise DomainError(f"{what}: length {length * 1e3:.1f} mm is below its shortest, {least * 1e3:.1f} mm")


@dataclass(frozen=True, kw_only=True, eq=False)
class TabulatedSpring:
    """A spring known by a table of loads over lengths, smooth and monotone between its points.

    Parameters
    ----------
    length : array (n,)
        Falling [m].
    load : array (n,)
        Rising [N]; the first one is 0 where the table reaches the free length.
    free_length : float
        Length without load [m], at or above the first length; between it and the first point the load runs straight.
    friction : float
        Half the distance between loading and unloading [N].

    Raises
    ------
    DomainError
        Fewer than 3 points, or a load that does not rise as the length falls.
    """

    length: Floats
    load: Floats
    free_length: float
    friction: float = 0.0

    def __post_init__(self) -> None:
        """Refuse what no spring does."""
        for field in ("length", "load"):
            own = np.array(getattr(self, field), dtype=np.float64)
            own.setflags(write=False)
            object.__setattr__(self, field, own)
        if self.length.ndim != 1 or self.length.shape != self.load.shape or self.length.size < 3:
            raise DomainError("spring table: at least 3 pairs of length and load are needed")
        if not (np.all(np.isfinite(self.length)) and np.all(np.isfinite(self.load))):
            raise DomainError("spring table: a length or load is not a number")
        if np.any(np.diff(self.length) >= 0.0) or np.any(np.diff(self.load) <= 0.0):
            at = int(np.argmax((np.diff(self.length) >= 0.0) | (np.diff(self.load) <= 0.0))) + 1
            raise DomainError(f"spring table: at point {at + 1} the load does not rise as the length falls")
        if self.load[0] < 0.0 or self.free_length < self.length[0]:
            raise DomainError(
                f"spring table: starts with {self.load[0]:g} N at {self.length[0] * 1e3:g} mm, free length "
                f"{self.free_length * 1e3:g} mm; the free length must lie above and the load must not be negative"
            )
        if not self.friction >= 0.0:
            raise DomainError(f"spring table: friction is {self.friction:g} N; it must not be negative")
        x, f = self.free_length - self.length, self.load
        if x[0] > 1e-9:
            if f[0] <= 0.0:
                raise DomainError("spring table: the first load must be positive below the free length")
            x, f = np.insert(x, 0, 0.0), np.insert(f, 0, 0.0)
        elif f[0] > 0.0:
            raise DomainError("spring table: the load at the free length must be 0")
        object.__setattr__(self, "_curve", PchipInterpolator(x, f))

    _curve: PchipInterpolator = None  # type: ignore[assignment]  # made from the table

    @property
    def least_load_length(self) -> float:
        """Shortest length of the table [m]."""
        return float(self.length[-1])

    def _deflection(self, length: float) -> float:
        require_length(length, self.least_load_length, "spring table")
        return min(max(self.free_length - length, 0.0), self.free_length - self.least_load_length)

    def load_at(self, length: float) -> float:
        """Return the load at a length [N]; 0 when loose, DomainError below the table."""
        return float(self._curve(self._deflection(length)))

    def rate_at(self, length: float) -> float:
        """Return the rate at a length [N/m]; 0 when loose."""
        x = self._deflection(length)
        return float(self._curve.derivative()(x)) if x > 0.0 else 0.0

    def energy_at(self, length: float) -> float:
        """Return the work stored from free to a length [J]."""
        return float(self._curve.integrate(0.0, self._deflection(length)))

    def stress_at(self, length: float) -> float:
        """Return 0: a table knows no stress [Pa]."""
        require_length(length, self.least_load_length, "spring table")
        return 0.0
