"""Bump stops as measured force curves: no built-in law fits a microcellular bumper, so the curve is data."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.interpolate import PchipInterpolator

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats


@dataclass(frozen=True, kw_only=True)
class BumpStop:
    """A bump stop: force over compression, as measured, made smooth and monotone.

    Parameters
    ----------
    compression : array (n,)
        Rising, first value 0 [m].
    force : array (n,)
        Rising, first value 0 [N].
    free_height : float
        Height of the unloaded stop [m], above the last measured compression.
    spacer : float
        Height of a spacer under the stop [m].

    Raises
    ------
    DomainError
        If the curve does not start at zero, falls, or is longer than the stop.
    """

    compression: Floats
    force: Floats
    free_height: float
    spacer: float = 0.0

    def __post_init__(self) -> None:
        """Refuse a curve that no stop has."""
        c, f = self.compression, self.force
        if c.ndim != 1 or c.shape != f.shape or c.size < 3:
            raise DomainError(f"bump stop: the curve has {c.size} points; at least 3 pairs are needed")
        if not (np.all(np.isfinite(c)) and np.all(np.isfinite(f))):
            raise DomainError("bump stop: the curve holds a value that is not a number")
        if c[0] != 0.0 or f[0] != 0.0:
            raise DomainError(
                f"bump stop: the curve starts at {c[0] * 1e3:g} mm, {f[0]:g} N; it must start at 0 mm, 0 N"
            )
        if np.any(np.diff(c) <= 0.0) or np.any(np.diff(f) <= 0.0):
            at = int(np.argmax((np.diff(c) <= 0.0) | (np.diff(f) <= 0.0))) + 1
            raise DomainError(f"bump stop: point {at + 1} of the curve does not rise above the one before it")
        if self.spacer < 0.0:
            raise DomainError(f"bump stop: the spacer is {self.spacer * 1e3:g} mm; it cannot be negative")
        if c[-1] >= self.free_height:
            raise DomainError(
                f"bump stop: compressed {c[-1] * 1e3:g} mm in the curve but only {self.free_height * 1e3:g} mm high"
            )

    @cached_property
    def _curve(self) -> PchipInterpolator:
        return PchipInterpolator(self.compression, self.force)

    @property
    def height(self) -> float:
        """Free height with its spacer [m]: contact begins when the distance between the faces falls below it."""
        return self.free_height + self.spacer

    def force_at(self, compression: float) -> float:
        """Return the force at a compression [m], in [N]; past the last point the last slope goes on, steepening.

        >>> stop = BumpStop(compression=np.array([0.0, 0.02, 0.04]), force=np.array([0.0, 500.0, 2000.0]),
        ...                 free_height=0.07)
        >>> round(stop.force_at(0.02))
        500
        """
        if compression <= 0.0:
            return 0.0
        last = float(self.compression[-1])
        if compression <= last:
            return float(self._curve(compression))
        slope = float(self._curve.derivative()(last))
        beyond = compression - last
        room = self.free_height - last
        # the material left is squeezed towards nothing: the slope grows as it goes
        return float(self.force[-1]) + slope * beyond * (1.0 + beyond / room)

    def compression_at(self, force: float) -> float:
        """Return the compression under `force` within the measured curve [m]; DomainError beyond it."""
        if force <= 0.0:
            return 0.0
        if force > self.force[-1]:
            raise DomainError(
                f"bump stop: {force:.0f} N lies beyond the measured curve, which ends at {self.force[-1]:.0f} N; "
                "measure further or fit a harder stop"
            )
        return float(self._curve.solve(force, extrapolate=False)[0])

    def energy(self, compression: float) -> float:
        """Return the energy taken up to `compression` within the measured curve [J]."""
        if not 0.0 <= compression <= self.compression[-1]:
            raise DomainError(f"bump stop: {compression * 1e3:g} mm lies outside the measured curve")
        return float(self._curve.integrate(0.0, compression))

    def table(self, points: int = 64) -> tuple[Floats, Floats]:
        """Return (compression [m], force [N]) on an even grid from 0 to 98 % of the free height."""
        grid = np.linspace(0.0, 0.98 * self.free_height, points)
        return grid, np.array([self.force_at(float(c)) for c in grid])
