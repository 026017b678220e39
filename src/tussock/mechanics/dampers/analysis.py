"""What a force curve means: shape, comparison, damping ratio, production band, test speed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
from scipy.optimize import minimize_scalar

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.dampers.curve import Direction, ForceCurve

Kind: TypeAlias = Literal["digressive", "linear", "progressive"]

#: slope past the knee over the slope before it, below and above which a curve is called digressive or progressive
_KIND_BOUNDS = (0.8, 1.25)


@dataclass(frozen=True, kw_only=True, slots=True)
class CurveShape:
    """One direction of a curve as two straight lines that meet at a knee.

    Attributes
    ----------
    direction : {"compression", "rebound"}
        Which side.
    low_slope, high_slope : float
        Slope before and past the knee [N s/m].
    knee : float
        Speed at which they meet [m/s].
    misfit : float
        Largest distance of the curve from the two lines over its greatest force [-]; a large one has no clear knee.
    """

    direction: Direction
    low_slope: float
    high_slope: float
    knee: float
    misfit: float

    @property
    def kind(self) -> Kind:
        """Name that the trade gives to the shape."""
        ratio = self.high_slope / self.low_slope if self.low_slope > 0.0 else math.inf
        if ratio < _KIND_BOUNDS[0]:
            return "digressive"
        return "progressive" if ratio > _KIND_BOUNDS[1] else "linear"


def shape(curve: ForceCurve, direction: Direction) -> CurveShape:
    """Return the two lines, the first through zero, that lie nearest to one direction of a curve.

    Every speed counts alike from 0 to the end of the points; the knee is searched between 3 % and 90 % of that.

    Parameters
    ----------
    curve : ForceCurve
        The damper.
    direction : {"compression", "rebound"}
        Which side.

    Examples
    --------
    >>> curve = ForceCurve.from_points(speeds=[0.1, 0.2, 1.0], compression=[400, 480, 1100], rebound=[800, 960, 2200])
    >>> shape(curve, "rebound").kind
    'digressive'
    """
    sign = _sign(direction)
    most = abs(curve.measured_range[1 if sign > 0.0 else 0])
    speed = np.linspace(0.0, most, 401)
    force = sign * curve.at(sign * speed)

    def solve(knee: float) -> tuple[float, Floats]:
        columns = np.stack([np.minimum(speed, knee), np.maximum(speed - knee, 0.0)], axis=1)
        slopes, *_ = np.linalg.lstsq(columns, force, rcond=None)
        return float(np.sum((columns @ slopes - force) ** 2)), slopes

    grid = np.linspace(0.03 * most, 0.9 * most, 45)
    at = int(np.argmin([solve(float(k))[0] for k in grid]))
    bounds = (float(grid[max(at - 1, 0)]), float(grid[min(at + 1, grid.size - 1)]))
    knee = float(minimize_scalar(lambda k: solve(float(k))[0], bounds=bounds, method="bounded").x)
    _, slopes = solve(knee)
    lines = np.minimum(speed, knee) * slopes[0] + np.maximum(speed - knee, 0.0) * slopes[1]
    return CurveShape(
        direction=direction,
        low_slope=float(slopes[0]),
        high_slope=float(slopes[1]),
        knee=knee,
        misfit=float(np.max(np.abs(lines - force)) / np.max(force)),
    )


def _sign(direction: Direction) -> float:
    if direction not in ("compression", "rebound"):
        raise DomainError(f"direction is {direction!r}; known are compression, rebound")
    return 1.0 if direction == "compression" else -1.0


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Comparison:
    """Two curves beside each other at the same speeds, arrays of shape (n,).

    Attributes
    ----------
    speed : array
        [m/s].
    compression, rebound : array
        Share by which the first curve's force exceeds the second's [-].
    compression_force, rebound_force : array
        Difference of the sizes of the forces, first less second [N].
    ratio, against_ratio : array
        Rebound over compression of the first and of the second curve [-].
    extrapolated : array of bool
        Whether a speed lies beyond the points of either curve.
    """

    speed: Floats
    compression: Floats
    rebound: Floats
    compression_force: Floats
    rebound_force: Floats
    ratio: Floats
    against_ratio: Floats
    extrapolated: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]


def compare(curve: ForceCurve, against: ForceCurve, speeds: Sequence[float] | Floats) -> Comparison:
    """Return how much firmer `curve` is than `against` at each speed.

    Parameters
    ----------
    curve, against : ForceCurve
        The two dampers.
    speeds : sequence of float
        [m/s], above 0.

    Raises
    ------
    DomainError
        For a speed that is not above 0, or none.
    """
    s = np.asarray(speeds, dtype=float)
    if s.size == 0 or not np.all(s > 0.0):
        raise DomainError(f"curves are compared at speeds above 0 m/s, not {list(speeds)}")
    mine, others = (curve.at(s), -curve.at(-s)), (against.at(s), -against.at(-s))
    beyond = [curve.is_extrapolated(v) | against.is_extrapolated(v) for v in (s, -s)]
    return Comparison(
        speed=s,
        compression=mine[0] / others[0] - 1.0,
        rebound=mine[1] / others[1] - 1.0,
        compression_force=mine[0] - others[0],
        rebound_force=mine[1] - others[1],
        ratio=mine[1] / mine[0],
        against_ratio=others[1] / others[0],
        extrapolated=beyond[0] | beyond[1],
    )


def damping_ratio(*, damping: float, motion_ratio: float, wheel_rate: float, sprung_mass: float) -> float:
    """Return the damping ratio of one corner's body mode [-].

    The coefficient at the wheel is the damper's times the motion ratio squared.

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

    Examples
    --------
    >>> round(damping_ratio(damping=2500.0, motion_ratio=0.9, wheel_rate=24e3, sprung_mass=380.0), 3)
    0.335
    """
    if not (wheel_rate > 0.0 and sprung_mass > 0.0):
        raise DomainError(f"wheel rate {wheel_rate:g} N/m and sprung mass {sprung_mass:g} kg must be positive")
    if damping < 0.0:
        raise DomainError(f"damping {damping:g} N s/m cannot be negative")
    return damping * motion_ratio**2 / (2.0 * math.sqrt(wheel_rate * sprung_mass))


def production_band(force: float, direction: Direction) -> float:
    """Return the permitted deviation from a rated force >= 0 in production [N].

    References
    ----------
    QC/T 491-1999, clause 1.2.2, read in a public copy: rebound 14 % + 40 N, compression 16 % + 40 N.
    """
    if force < 0.0:
        raise DomainError(f"a rated force is given as its size, not {force:g} N")
    return (0.16 if _sign(direction) > 0.0 else 0.14) * force + 40.0


def sine_speed(*, stroke: float, per_minute: float) -> float:
    """Return the peak speed of a sine dyno, pi S n / 60 [m/s], for stroke S [m] and n strokes in and out per minute.

    References
    ----------
    QC/T 545-1999.

    Examples
    --------
    >>> round(sine_speed(stroke=0.1, per_minute=100.0), 3)
    0.524
    """
    if stroke <= 0.0 or per_minute <= 0.0:
        raise DomainError(f"stroke {stroke * 1e3:g} mm and {per_minute:g} per minute must be positive")
    return math.pi * stroke * per_minute / 60.0
