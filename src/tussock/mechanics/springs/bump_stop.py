"""Bump stops as measured force curves: no built-in law fits a microcellular bumper, so the curve is data."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats


@dataclass(frozen=True, kw_only=True, eq=False)
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
    most_share : float
        Share of the free height beyond which no force is given [-]; between the last measured point and it the curve
        is extrapolated, steepening, and `is_extrapolated` says so.
    loss : float
        Share of the work of a fast compression that it does not give back [-], 0 to below 1; `force_at` is the middle.

    Raises
    ------
    DomainError
        If the curve does not start at zero, falls, or is longer than the stop.

    Examples
    --------
    >>> stop = BumpStop(compression=np.array([0.0, 0.02, 0.04]), force=np.array([0.0, 500.0, 2000.0]),
    ...                 free_height=0.07)
    >>> round(stop.force_at(0.02)), stop.is_extrapolated(0.05)
    (500, True)
    """

    compression: Floats
    force: Floats
    free_height: float
    spacer: float = 0.0
    most_share: float = 0.98
    loss: float = 0.0

    def __post_init__(self) -> None:
        """Refuse a curve that no stop has."""
        for field in ("compression", "force"):
            # a private read-only copy: a frozen stop must not change through the caller's array
            own = np.array(getattr(self, field), dtype=np.float64)
            own.setflags(write=False)
            object.__setattr__(self, field, own)
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
        if not 0.0 <= self.loss < 1.0:
            raise DomainError(f"bump stop: it keeps {self.loss:g} of the work done on it; 0 to below 1 is right")
        if self.spacer < 0.0:
            raise DomainError(f"bump stop: the spacer is {self.spacer * 1e3:g} mm; it cannot be negative")
        if not (math.isfinite(self.free_height) and c[-1] < self.free_height):
            raise DomainError(
                f"bump stop: compressed {c[-1] * 1e3:g} mm in the curve but only {self.free_height * 1e3:g} mm high"
            )
        if not c[-1] <= self.most_share * self.free_height < self.free_height:
            raise DomainError(
                f"bump stop: the greatest share of the height is {self.most_share:g}; it must lie between the last "
                f"measured one, {c[-1] / self.free_height:.2f}, and 1"
            )

    @cached_property
    def _curve(self) -> PchipInterpolator:
        return PchipInterpolator(self.compression, self.force)

    @property
    def height(self) -> float:
        """Free height with its spacer [m]: contact begins when the distance between the faces falls below it."""
        return self.free_height + self.spacer

    @property
    def limit(self) -> float:
        """Greatest compression for which a force is given [m]."""
        return self.most_share * self.free_height

    def is_extrapolated(self, compression: float) -> bool:
        """Say whether a compression [m] lies beyond the last measured point."""
        return compression > float(self.compression[-1])

    def force_at(self, compression: float) -> float:
        """Return the force at a compression [m], in [N]; zero when out of contact.

        Beyond the last measured point the curve goes on from its slope there and steepens: the material left is
        squeezed towards nothing.

        Raises
        ------
        DomainError
            Beyond `most_share` of the free height.
        """
        if compression <= 0.0:
            return 0.0
        if compression > self.limit * (1.0 + 1e-12):
            raise DomainError(
                f"bump stop: {compression * 1e3:.1f} mm of compression is beyond {self.most_share:.0%} of its "
                f"{self.free_height * 1e3:g} mm; the stop is too soft or too short for this load"
            )
        last = float(self.compression[-1])
        if compression <= last:
            return float(self._curve(compression))
        beyond = compression - last
        return float(self.force[-1]) + self._end_slope * beyond * (1.0 + beyond / (self.free_height - last))

    def forces(self, compression: Floats) -> Floats:
        """Return the forces at many compressions [m], in [N]; as `force_at`, DomainError included."""
        c = np.asarray(compression, dtype=np.float64)
        most = float(c.max(initial=0.0))
        if most > self.limit:
            self.force_at(most)
        last = float(self.compression[-1])
        beyond = np.maximum(c - last, 0.0)
        further = self._end_slope * beyond * (1.0 + beyond / (self.free_height - last))
        return np.asarray(self._curve(np.clip(c, 0.0, last)) + further)

    @cached_property
    def _end_slope(self) -> float:
        """Slope where the extrapolation begins [N/m], never below that of the last measured piece."""
        last = float((self.force[-1] - self.force[-2]) / (self.compression[-1] - self.compression[-2]))
        return max(float(self._curve.derivative()(self.compression[-1])), last)

    def compression_at(self, force: float, *, extrapolate: bool = False) -> float:
        """Return the compression under `force` [N], in [m].

        Parameters
        ----------
        force : float
            [N]; zero or less gives 0.
        extrapolate : bool
            Whether a force beyond the measured curve may be answered from the extrapolation, up to `limit`.

        Raises
        ------
        DomainError
            Beyond the measured curve, or beyond `limit` when extrapolating.
        """
        if force <= 0.0:
            return 0.0
        last = float(self.force[-1])
        if force <= last:
            # not PPoly.solve: it finds no root for forces near rounding
            return float(brentq(lambda c: float(self._curve(c)) - force, 0.0, self.compression[-1], xtol=1e-15))
        if not extrapolate:
            raise DomainError(
                f"bump stop: {force:.0f} N lies beyond the measured curve, which ends at {last:.0f} N; "
                "measure further or fit a harder stop"
            )
        # F = F_last + s b (1 + b / room), solved for b
        room = self.free_height - float(self.compression[-1])
        beyond = 0.5 * room * (math.sqrt(1.0 + 4.0 * (force - last) / (self._end_slope * room)) - 1.0)
        compression = float(self.compression[-1]) + beyond
        if compression > self.limit:
            raise DomainError(
                f"bump stop: {force:.0f} N would squeeze it beyond {self.most_share:.0%} of its "
                f"{self.free_height * 1e3:g} mm; fit a harder or longer stop"
            )
        return compression

    def energy(self, compression: float) -> float:
        """Return the energy taken up to `compression` within the measured curve [J]; DomainError outside it."""
        if not 0.0 <= compression <= self.compression[-1]:
            raise DomainError(
                f"bump stop: {compression * 1e3:g} mm lies outside the measured curve, 0 to "
                f"{self.compression[-1] * 1e3:g} mm"
            )
        return float(self._curve.integrate(0.0, compression))

    def with_spacer(self, spacer: float) -> BumpStop:
        """Return the same stop with a rigid spacer more under it [m]: it touches that much earlier."""
        if spacer < 0.0:
            raise DomainError(f"bump stop: the spacer is {spacer * 1e3:g} mm; it cannot be negative")
        return replace(self, spacer=self.spacer + spacer)

    def table(self, points: int = 64) -> tuple[Floats, Floats]:
        """Return (compression [m], force [N]) on an even grid from 0 to `limit`, extrapolated part included.

        Force is 0 and its slope finite at 0; without contact the force is 0.
        """
        if points < 2:
            raise DomainError(f"bump stop: a table wants at least 2 points, not {points}")
        grid = np.linspace(0.0, self.limit, points)
        return grid, self.forces(grid)


def in_series(first: BumpStop, second: BumpStop) -> BumpStop:
    """Return two stops stood on each other as one: equal force, compressions and heights added.

    Measured as far as the softer of the two is: its last force ends the curve, and what follows is extrapolated.
    Spacers add up, and losses by the work that each takes. Friction and bulging between the two are not in it; measure
    the stack if it matters.

    Examples
    --------
    >>> one = BumpStop(compression=np.array([0.0, 0.02, 0.04]), force=np.array([0.0, 500.0, 2000.0]), free_height=0.07)
    >>> both = in_series(one, one)
    >>> round(both.force_at(0.04)), round(both.height, 3)
    (500, 0.14)
    """
    most = min(float(first.force[-1]), float(second.force[-1]))
    forces = np.union1d(first.force, second.force)
    for stop in (first, second):  # steps of compression, fine near contact, where a little force presses far
        steps = np.linspace(0.0, 1.0, 65) ** 2 * stop.compression_at(most)
        forces = np.union1d(forces, [stop.force_at(float(c)) for c in steps])
    forces = np.append(forces[forces < most * (1.0 - 1e-9)], most)
    # forces nearer than rounding are one point
    forces = forces[np.concatenate(([True], np.diff(forces) > 1e-9 * most))]
    compression = np.array([first.compression_at(float(f)) + second.compression_at(float(f)) for f in forces])
    free = first.free_height + second.free_height
    works = [stop.energy(min(stop.compression_at(most), float(stop.compression[-1]))) for stop in (first, second)]
    limit = max(float(compression[-1]), min(first.most_share, second.most_share) * free)
    return BumpStop(
        compression=compression,
        force=forces,
        free_height=free,
        spacer=first.spacer + second.spacer,
        most_share=min(limit / free, 1.0 - 1e-9),
        loss=(first.loss * works[0] + second.loss * works[1]) / math.fsum(works),
    )
