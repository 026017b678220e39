"""The force-velocity curve of a damper: velocity and force positive in compression, negative in rebound."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal, TypeAlias

import numpy as np
from scipy.interpolate import PchipInterpolator

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats

Direction: TypeAlias = Literal["compression", "rebound"]

#: Velocity bands of the trade [m/s]: common practice, no source; 0.13 m/s is also the lowest speed that QC/T 491-2018
#: recommends for a test.
BANDS: dict[str, tuple[float, float]] = {"low": (0.0, 0.13), "mid": (0.13, 0.5), "high": (0.5, math.inf)}


@dataclass(frozen=True, kw_only=True)
class ForceCurve:
    """Force over velocity of one damper, monotone and smooth, without gas force and friction.

    Parameters
    ----------
    velocity : array (n,)
        Rising, from rebound (negative) through 0 to compression [m/s].
    force : array (n,)
        Rising, 0 at velocity 0 [N].
    gas_force : float
        Mean force at rest, pushing the rod out [N].
    friction : float
        Coulomb friction of the seals [N].
    name : str
        What the curve belongs to.

    Raises
    ------
    DomainError
        If the curve falls somewhere, has no point on one side or does not pass through zero.
    """

    velocity: Floats
    force: Floats
    gas_force: float = 0.0
    friction: float = 0.0
    name: str = "damper"

    def __post_init__(self) -> None:
        """Refuse a curve that no damper has."""
        v, f = self.velocity, self.force
        if v.ndim != 1 or v.shape != f.shape or v.size < 3:
            raise DomainError(f"{self.name}: the force curve has {v.size} points; at least 3 are needed")
        if not (np.all(np.isfinite(v)) and np.all(np.isfinite(f))):
            raise DomainError(f"{self.name}: the force curve holds a value that is not a number")
        if np.any(np.diff(v) <= 0.0):
            raise DomainError(f"{self.name}: velocities of the force curve must rise")
        if v[0] >= 0.0 or v[-1] <= 0.0:
            raise DomainError(f"{self.name}: the force curve needs points in rebound and in compression")
        zero = np.flatnonzero(v == 0.0)
        if zero.size != 1 or f[zero[0]] != 0.0:
            raise DomainError(f"{self.name}: the force curve must pass through 0 m/s, 0 N")
        if np.any(np.diff(f) <= 0.0):
            at = float(v[int(np.argmax(np.diff(f) <= 0.0))])
            raise DomainError(
                f"{self.name}: the force falls with velocity near {at:.3f} m/s; "
                "a damper that does so would drive the wheel"
            )
        if self.friction < 0.0:
            raise DomainError(f"{self.name}: friction is {self.friction:g} N; it cannot be negative")

    @classmethod
    def from_points(
        cls,
        *,
        speeds: Sequence[float],
        compression: Sequence[float],
        rebound: Sequence[float],
        gas_force: float = 0.0,
        friction: float = 0.0,
        name: str = "damper",
    ) -> ForceCurve:
        """Build a curve from speeds [m/s] and the size of the force in both directions [N], all positive and rising."""
        s, c, r = (np.asarray(a, dtype=float) for a in (speeds, compression, rebound))
        if not (s.shape == c.shape == r.shape):
            raise DomainError(f"{name}: as many compression and rebound forces as speeds are needed")
        return cls(
            velocity=np.concatenate([-s[::-1], [0.0], s]),
            force=np.concatenate([-r[::-1], [0.0], c]),
            gas_force=gas_force,
            friction=friction,
            name=name,
        )

    @cached_property
    def _curve(self) -> PchipInterpolator:
        return PchipInterpolator(self.velocity, self.force)

    @property
    def measured_range(self) -> tuple[float, float]:
        """Velocities that the points cover [m/s]; beyond them the end slope goes on."""
        return float(self.velocity[0]), float(self.velocity[-1])

    def at(self, velocity: Floats | float) -> Floats:
        """Return the hydraulic force at `velocity` [m/s], in [N]; linear beyond the measured range."""
        v = np.asarray(velocity, dtype=float)
        low, high = self.measured_range
        inside = np.clip(v, low, high)
        force = self._curve(inside)
        slope = self._curve.derivative()
        low_slope = max(float(slope(low)), self._secant(0))
        high_slope = max(float(slope(high)), self._secant(-1))
        beyond = np.where(v < low, (v - low) * low_slope, 0.0) + np.where(v > high, (v - high) * high_slope, 0.0)
        return np.asarray(force + beyond, dtype=float)

    def _secant(self, end: int) -> float:
        i, j = (0, 1) if end == 0 else (-2, -1)
        return 0.5 * float((self.force[j] - self.force[i]) / (self.velocity[j] - self.velocity[i]))

    def force_at(self, velocity: float) -> float:
        """Return the hydraulic force at one velocity [N]."""
        return float(self.at(velocity))

    def scaled(self, factors: Mapping[tuple[Direction, str], float], *, name: str = "") -> ForceCurve:
        """Return the curve with the force steps of a direction and band ("low", "mid", "high") multiplied.

        The *slope* inside a band is scaled and the pieces are joined, so the curve stays continuous and monotone.
        """
        edges = np.array(
            [s for s in (BANDS["low"][1], BANDS["mid"][1]) if s < max(-self.velocity[0], self.velocity[-1])]
        )
        grid = np.unique(np.concatenate([self.velocity, edges, -edges]))
        low, high = self.measured_range
        grid = grid[(grid >= low) & (grid <= high)]
        base = self.at(grid)
        out = np.zeros_like(base)
        zero = int(np.flatnonzero(grid == 0.0)[0])
        sides: tuple[tuple[Direction, int], ...] = (("compression", 1), ("rebound", -1))
        for direction, step in sides:
            i = zero
            while 0 <= i + step < grid.size:
                middle = abs(grid[i] + grid[i + step]) / 2.0
                band = next(b for b, (lo, hi) in BANDS.items() if lo <= middle < hi)
                factor = factors.get((direction, band), 1.0)
                if factor <= 0.0:
                    raise DomainError(f"{self.name}: a force cannot be multiplied by {factor:g}")
                out[i + step] = out[i] + factor * (base[i + step] - base[i])
                i += step
        return ForceCurve(
            velocity=grid, force=out, gas_force=self.gas_force, friction=self.friction, name=name or self.name
        )

    def ratio(self, speed: float) -> float:
        """Return rebound over compression force at a speed > 0 [-]."""
        if speed <= 0.0:
            raise DomainError(f"the ratio wants a speed above 0, not {speed:g} m/s")
        return -self.force_at(-speed) / self.force_at(speed)

    def energy_per_cycle(self, *, amplitude: float, frequency: float) -> float:
        """Return the work that one sine cycle turns into heat [J], friction included.

        Parameters
        ----------
        amplitude : float
            Half the stroke [m].
        frequency : float
            [Hz].
        """
        peak = 2.0 * math.pi * frequency * amplitude
        # the integrand is smooth and periodic between the curve's knots: the trapezoid over a full cycle converges fast
        phase = np.linspace(0.0, 2.0 * math.pi, 2001)[:-1]
        velocity = peak * np.cos(phase)
        power = (self.at(velocity) + self.friction * np.sign(velocity)) * velocity
        return float(np.mean(power)) / frequency

    def equivalent_damping(self, *, amplitude: float, frequency: float) -> float:
        """Return the linear damping that takes the same energy from a sine of that amplitude [N s/m]."""
        omega = 2.0 * math.pi * frequency
        return self.energy_per_cycle(amplitude=amplitude, frequency=frequency) / (math.pi * omega * amplitude**2)

    def mean_damping(self, speed: float) -> float:
        """Return the mean of both directions' force over speed at `speed` [N s/m]."""
        return (self.force_at(speed) - self.force_at(-speed)) / (2.0 * speed)

    def table(self, *, most: float = 3.0, points: int = 121) -> tuple[Floats, Floats]:
        """Return (velocity, force) on an even grid from -most to most [m/s], for the motion's tables."""
        grid = np.linspace(-most, most, points)
        return grid, self.at(grid)


def damping_ratio(*, damping: float, motion_ratio: float, wheel_rate: float, sprung_mass: float) -> float:
    """Return the damping ratio of one corner's body mode [-].

    Parameters
    ----------
    damping : float
        Damping coefficient of the damper itself [N s/m].
    motion_ratio : float
        Damper travel over wheel travel [-].
    wheel_rate : float
        Rate at the wheel [N/m].
    sprung_mass : float
        Sprung mass on the corner [kg].
    """
    if wheel_rate <= 0.0 or sprung_mass <= 0.0:
        raise DomainError("wheel rate and sprung mass must be positive")
    return damping * motion_ratio**2 / (2.0 * math.sqrt(wheel_rate * sprung_mass))


@dataclass(frozen=True, kw_only=True, slots=True)
class Comparison:
    """Two curves beside each other at the same speeds: share by which `force` exceeds `against`, both directions."""

    speed: Floats
    compression: Floats
    rebound: Floats


def compare(curve: ForceCurve, against: ForceCurve, speeds: Sequence[float]) -> Comparison:
    """Return how much firmer `curve` is than `against` at each speed, as a share of the latter [-]."""
    s = np.asarray(speeds, dtype=float)
    if np.any(s <= 0.0):
        raise DomainError("curves are compared at speeds above 0")
    return Comparison(
        speed=s,
        compression=curve.at(s) / against.at(s) - 1.0,
        rebound=curve.at(-s) / against.at(-s) - 1.0,
    )


def production_band(force: float, direction: Direction) -> float:
    """Return the permitted deviation from a rated force >= 0 in production [N].

    References
    ----------
    QC/T 491-1999, clause 1.2.2, read in a public copy: rebound 14 % + 40 N, compression 16 % + 40 N.
    """
    if force < 0.0:
        raise DomainError(f"a rated force is given as its size, not {force:g} N")
    return (0.14 if direction == "rebound" else 0.16) * force + 40.0
