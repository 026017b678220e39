"""The force-velocity curve of a damper: velocity and force positive in compression, negative in rebound."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
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
_CLOSE = 0.1  # speed below which the points of a table lie close together [m/s]


@dataclass(frozen=True, kw_only=True, eq=False)
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

    Examples
    --------
    >>> curve = ForceCurve.from_points(speeds=[0.13, 0.52], compression=[200, 450], rebound=[400, 900])
    >>> round(curve.force_at(-0.13)), round(curve.ratio(0.52), 2)
    (-400, 2.0)
    """

    velocity: Floats
    force: Floats
    gas_force: float = 0.0
    friction: float = 0.0
    name: str = "damper"

    def __post_init__(self) -> None:
        """Refuse a curve that no damper has."""
        for field in ("velocity", "force"):
            # a private read-only copy: a frozen curve must not change through the caller's array
            own = np.array(getattr(self, field), dtype=np.float64)
            own.setflags(write=False)
            object.__setattr__(self, field, own)
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
        if not (math.isfinite(self.gas_force) and math.isfinite(self.friction)) or self.friction < 0.0:
            raise DomainError(
                f"{self.name}: friction {self.friction:g} N cannot be negative, nor gas force {self.gas_force:g} N "
                "anything but a number"
            )

    @classmethod
    def from_points(
        cls,
        *,
        speeds: Sequence[float] | Floats,
        compression: Sequence[float] | Floats,
        rebound: Sequence[float] | Floats,
        gas_force: float = 0.0,
        friction: float = 0.0,
        name: str = "damper",
    ) -> ForceCurve:
        """Build a curve from speeds [m/s] and the size of the force in both directions [N], all positive and rising.

        Raises
        ------
        DomainError
            If the lists differ in length, or a number is not positive.
        """
        s, c, r = (np.asarray(a, dtype=float) for a in (speeds, compression, rebound))
        if not (s.shape == c.shape == r.shape):
            raise DomainError(
                f"{name}: {s.size} speeds, {c.size} compression and {r.size} rebound forces; as many of each are needed"
            )
        if s.size and not min(float(np.min(s)), float(np.min(c)), float(np.min(r))) > 0.0:
            raise DomainError(f"{name}: speeds and the sizes of the forces must all be above 0")
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

    @cached_property
    def _end_slopes(self) -> tuple[float, float]:
        """Slopes beyond the points in rebound and compression [N s/m], at least half the last piece's."""
        v, f = self.velocity, self.force
        slope = self._curve.derivative()
        return (
            max(float(slope(v[0])), 0.5 * float((f[1] - f[0]) / (v[1] - v[0]))),
            max(float(slope(v[-1])), 0.5 * float((f[-1] - f[-2]) / (v[-1] - v[-2]))),
        )

    @property
    def measured_range(self) -> tuple[float, float]:
        """Velocities that the points cover [m/s]; beyond them the end slope goes on."""
        return float(self.velocity[0]), float(self.velocity[-1])

    def is_extrapolated(self, velocity: Floats | float) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
        """Say for each velocity [m/s] whether it lies beyond the points."""
        v = np.asarray(velocity, dtype=float)
        low, high = self.measured_range
        # a test that stops at 0.52 m/s also answers for 0.5236 m/s
        return np.asarray((v < 1.01 * low) | (v > 1.01 * high))

    def at(self, velocity: Floats | float) -> Floats:
        """Return the hydraulic force at `velocity` [m/s], in [N]; linear beyond the measured range."""
        v = np.asarray(velocity, dtype=float)
        low, high = self.measured_range
        force = self._curve(np.clip(v, low, high))
        below, above = self._end_slopes
        return np.asarray(force + np.minimum(v - low, 0.0) * below + np.maximum(v - high, 0.0) * above, dtype=float)

    def slope(self, velocity: Floats | float) -> Floats:
        """Return the slope of the curve at `velocity` [m/s], in [N s/m]."""
        v = np.asarray(velocity, dtype=float)
        low, high = self.measured_range
        inside = self._curve.derivative()(np.clip(v, low, high))
        below, above = self._end_slopes
        return np.asarray(np.where(v < low, below, np.where(v > high, above, inside)), dtype=float)

    def force_at(self, velocity: float) -> float:
        """Return the hydraulic force at one velocity [N]."""
        return float(self.at(velocity))

    def extended(self, model: ForceCurve) -> ForceCurve:
        """Return the curve carried on beyond its points by another, scaled to meet each end.

        Parameters
        ----------
        model : ForceCurve
            Such as the force computed from the valves; only its points beyond this curve's are taken.

        Returns
        -------
        ForceCurve
            With gas force, friction and name of this one; `measured_range` then is that of both.

        Examples
        --------
        >>> measured = ForceCurve.from_points(speeds=[0.5, 1.0], compression=[100, 180], rebound=[200, 380])
        >>> model = ForceCurve.from_points(speeds=[0.5, 1.0, 2.0], compression=[90, 160, 400], rebound=[210, 400, 800])
        >>> round(measured.extended(model).force_at(2.0), 9)
        450.0
        """
        velocity, force = [self.velocity], [self.force]
        for side, end in ((-1.0, 0), (1.0, -1)):
            last = float(self.velocity[end])
            beyond = side * model.velocity > 1.02 * side * last
            ratio = float(self.force[end]) / model.force_at(last)
            place = len(velocity) if side > 0.0 else 0
            velocity.insert(place, model.velocity[beyond])
            force.insert(place, ratio * model.force[beyond])
        return replace(self, velocity=np.concatenate(velocity), force=np.concatenate(force))

    def mirrored(self) -> ForceCurve:
        """Return the curve with compression and rebound exchanged."""
        return replace(self, velocity=-self.velocity[::-1], force=-self.force[::-1])

    def scaled(self, factors: Mapping[tuple[Direction, str], float], *, name: str = "") -> ForceCurve:
        """Return the curve with the force steps of a direction and band multiplied.

        The *slope* inside a band is scaled and the pieces are joined, so the curve stays continuous and monotone.

        Parameters
        ----------
        factors : mapping of (direction, band) to float
            Direction "compression" or "rebound", band "low", "mid" or "high" of `BANDS`; what is left out stays.
        name : str
            Name of the new curve; the old one when empty.

        Raises
        ------
        DomainError
            For an unknown direction or band, or a factor that is not positive.
        """
        for (direction, band), factor in factors.items():
            if direction not in ("compression", "rebound") or band not in BANDS:
                raise DomainError(
                    f"{self.name}: there is no {direction} {band}; known are compression and rebound, "
                    f"each {', '.join(BANDS)}"
                )
            if not (math.isfinite(factor) and factor > 0.0):
                raise DomainError(f"{self.name}: a force cannot be multiplied by {factor:g}")
        edges = [
            (1.0 if direction == "compression" else -1.0) * BANDS[below][1]
            for direction in ("compression", "rebound")
            for below, above in (("low", "mid"), ("mid", "high"))
            # where the factor does not change no point is added, so that the curve keeps its exact form
            if factors.get((direction, below), 1.0) != factors.get((direction, above), 1.0)
        ]
        grid = np.unique(np.concatenate([self.velocity, edges]))
        low, high = self.measured_range
        grid = grid[(grid >= low) & (grid <= high)]
        base = self.at(grid)
        out = np.zeros_like(base)
        zero = int(np.flatnonzero(grid == 0.0)[0])
        sides: tuple[tuple[Direction, int], ...] = (("compression", 1), ("rebound", -1))
        for direction, step in sides:
            i = zero
            while 0 <= i + step < grid.size:
                # a piece that crosses an edge has one factor on both sides of it
                middle = abs(grid[i] + grid[i + step]) / 2.0
                band = next(b for b, (lo, hi) in BANDS.items() if lo <= middle < hi)
                factor = factors.get((direction, band), 1.0)
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
        """Return the work that one sine cycle turns into heat, friction included [J].

        Exact to rounding: Gauss-Legendre quadrature on each piece of the curve, friction in closed form.

        Parameters
        ----------
        amplitude : float
            Half the stroke [m], positive.
        frequency : float
            [Hz], positive.

        Examples
        --------
        >>> linear = ForceCurve.from_points(speeds=[0.5, 1.0], compression=[1000, 2000], rebound=[1000, 2000])
        >>> round(linear.energy_per_cycle(amplitude=0.05, frequency=1.667), 2)
        164.53
        """
        if not (amplitude > 0.0 and frequency > 0.0):
            raise DomainError(f"{self.name}: amplitude {amplitude:g} m and frequency {frequency:g} Hz must be positive")
        omega = 2.0 * math.pi * frequency
        peak = omega * amplitude
        knots = self.velocity[np.abs(self.velocity) < peak]
        phase = np.concatenate([[0.0], np.arccos(knots[::-1] / peak), [math.pi]])
        nodes, weights = np.polynomial.legendre.leggauss(16)
        half = 0.5 * np.diff(phase)[:, None]
        angle = 0.5 * (phase[:-1] + phase[1:])[:, None] + half * nodes[None, :]
        velocity = peak * np.cos(angle)
        hydraulic = 2.0 * float(np.sum(half * weights[None, :] * self.at(velocity) * velocity)) / omega
        return hydraulic + 4.0 * self.friction * amplitude

    def mean_power(self, velocities: Floats, shares: Floats) -> float:
        """Return the mean heating power for a velocity histogram, friction included [W].

        Parameters
        ----------
        velocities : array (n,)
            Middle of each bin, signed [m/s].
        shares : array (n,)
            Share of the time in each bin [-], not negative, in all 1.
        """
        v, share = np.asarray(velocities, dtype=float), np.asarray(shares, dtype=float)
        if v.shape != share.shape or v.size == 0 or np.any(share < 0.0) or abs(float(np.sum(share)) - 1.0) > 1e-6:
            raise DomainError(
                f"{self.name}: a velocity histogram wants as many shares as bins, none negative and in all 1, "
                f"not {float(np.sum(share)):g}"
            )
        return float(np.sum(share * (self.at(v) * v + self.friction * np.abs(v))))

    def equivalent_damping(self, *, amplitude: float, frequency: float) -> float:
        """Return the linear damping that takes the same energy from a sine of that amplitude [N s/m]."""
        omega = 2.0 * math.pi * frequency
        return self.energy_per_cycle(amplitude=amplitude, frequency=frequency) / (math.pi * omega * amplitude**2)

    def mean_damping(self, speed: float) -> float:
        """Return the mean of both directions' force over speed at `speed` > 0 [m/s], in [N s/m]."""
        if speed <= 0.0:
            raise DomainError(f"the mean damping wants a speed above 0, not {speed:g} m/s")
        return (self.force_at(speed) - self.force_at(-speed)) / (2.0 * speed)

    def table(self, *, most: float = 4.0, points: int = 161) -> tuple[Floats, Floats]:
        """Return (velocity, force) from -most to most [m/s], for the motion's tables.

        Speeds lie close together near rest, where valves open and the curve bends, and apart where it is straight. An
        odd count of points holds rest itself.
        """
        spread = np.arcsinh(most / _CLOSE)
        grid = np.asarray(_CLOSE * np.sinh(np.linspace(-spread, spread, points)), dtype=float)
        grid[[0, -1]] = -most, most
        return grid, self.at(grid)
