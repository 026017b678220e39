"""A dyno test held against another unit, a prediction or rated forces: difference, uncertainty, production band."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.dampers.analysis import production_band
from tussock.mechanics.dampers.curve import Direction, ForceCurve
from tussock.mechanics.dampers.dyno import DynoTest

#: Speeds at which units are compared [m/s]. 0.13 to 1.04 as QC/T 491-2018 recommends, read in a public restatement;
#: 0.05 is common practice, no source.
SPEEDS = (0.05, 0.13, 0.26, 0.52, 1.04)
#: differences beyond this many standard errors are more than scatter
COVERAGE = 2.0

Unit: TypeAlias = DynoTest | ForceCurve


@dataclass(frozen=True, kw_only=True, slots=True)
class Difference:
    """One speed and direction of two units; forces are sizes.

    Attributes
    ----------
    direction : {"compression", "rebound"}
        Which side.
    speed : float
        [m/s].
    force, reference : float
        Of the unit and of what it is held against [N].
    error : float
        Standard error of their difference [N]; what has no scatter (a prediction) adds none.
    band : float
        Permitted deviation from the reference in production [N], QC/T 491-1999, clause 1.2.2.
    """

    direction: Direction
    speed: float
    force: float
    reference: float
    error: float
    band: float

    @property
    def difference(self) -> float:
        """Unit less reference [N]."""
        return self.force - self.reference

    @property
    def share(self) -> float:
        """Difference over the reference [-]."""
        return self.difference / self.reference

    @property
    def within_band(self) -> bool:
        """Whether the difference is permitted in production."""
        return abs(self.difference) <= self.band

    @property
    def significant(self) -> bool:
        """Whether the difference is more than scatter."""
        return abs(self.difference) > COVERAGE * self.error


@dataclass(frozen=True, kw_only=True, slots=True)
class UnitComparison:
    """All differences of two units.

    Attributes
    ----------
    name, against : str
        What is compared.
    differences : tuple of Difference
        Compression and rebound at every speed that both cover.
    gas_difference, friction_difference : float
        Unit less reference [N]; NaN where the reference states neither.
    """

    name: str
    against: str
    differences: tuple[Difference, ...]
    gas_difference: float
    friction_difference: float

    @property
    def within_band(self) -> bool:
        """Whether every force is permitted in production."""
        return all(d.within_band for d in self.differences)

    @property
    def worst(self) -> Difference:
        """The difference that is most of its band."""
        return max(self.differences, key=lambda d: abs(d.difference) / d.band)


def curve_of(unit: Unit) -> ForceCurve:
    """Return the force-velocity curve of a test, or the curve itself."""
    return unit.curve if isinstance(unit, DynoTest) else unit


def compare_units(unit: Unit, against: Unit, *, speeds: Sequence[float] = SPEEDS) -> UnitComparison:
    """Hold one unit against another at the speeds that both cover.

    Parameters
    ----------
    unit, against : DynoTest or ForceCurve
        What was measured, and another unit, a prediction or rated forces. Hydraulic forces are compared: gas force and
        friction are taken off both.
    speeds : sequence of float
        [m/s], above 0. Those beyond the points of either are left out, each direction by itself.

    Raises
    ------
    DomainError
        When no speed lies within both.

    Examples
    --------
    >>> one = ForceCurve.from_points(speeds=[0.13, 0.52], compression=[200, 450], rebound=[400, 900], name="one")
    >>> other = ForceCurve.from_points(speeds=[0.13, 0.52], compression=[200, 450], rebound=[400, 1200], name="other")
    >>> compare_units(one, other).within_band
    False
    """
    mine, others = curve_of(unit), curve_of(against)
    found: list[Difference] = []
    sides: tuple[tuple[Direction, float], ...] = (("compression", 1.0), ("rebound", -1.0))
    for direction, sign in sides:
        for speed in speeds:
            v = sign * speed
            if not speed > 0.0:
                raise DomainError(f"units are compared at speeds above 0 m/s, not {speed:g}")
            if bool(mine.is_extrapolated(v)) or bool(others.is_extrapolated(v)) or speed < _lowest(mine, others, sign):
                continue
            reference = abs(others.force_at(v))
            errors = [u.error_at(v) for u in (unit, against) if isinstance(u, DynoTest)]
            found.append(
                Difference(
                    direction=direction,
                    speed=speed,
                    force=abs(mine.force_at(v)),
                    reference=reference,
                    error=math.hypot(*errors) if errors else 0.0,
                    band=production_band(reference, direction),
                )
            )
    if not found:
        listed = ", ".join(f"{v:g}" for v in speeds)
        raise DomainError(
            f"{mine.name} was measured from {_span(mine)}, {others.name} from {_span(others)}: none of the speeds "
            f"{listed} m/s lies within both"
        )
    stated = others.gas_force != 0.0 or others.friction != 0.0
    return UnitComparison(
        name=mine.name,
        against=others.name,
        differences=tuple(found),
        gas_difference=mine.gas_force - others.gas_force if stated else math.nan,
        friction_difference=mine.friction - others.friction if stated else math.nan,
    )


def _lowest(one: ForceCurve, other: ForceCurve, sign: float) -> float:
    """Return the lowest speed that both have points at or below [m/s]; below it a curve is only drawn to zero."""
    lows = [float(np.min(np.abs(c.velocity[c.velocity * sign > 0.0]))) for c in (one, other)]
    return 0.97 * max(lows)


def _span(curve: ForceCurve) -> str:
    low, high = curve.measured_range
    return f"{low:.2f} to {high:.2f} m/s"


@dataclass(frozen=True, kw_only=True, slots=True)
class Spread:
    """Scatter of several units at one speed and direction; forces are sizes.

    Attributes
    ----------
    direction : {"compression", "rebound"}
        Which side.
    speed : float
        [m/s].
    mean, least, most : float
        Over the units [N].
    deviation : float
        Sample standard deviation over the units [N].
    count : int
        How many units cover that speed.
    """

    direction: Direction
    speed: float
    mean: float
    least: float
    most: float
    deviation: float
    count: int


def spread_of(units: Sequence[Unit], *, speeds: Sequence[float] = SPEEDS) -> tuple[Spread, ...]:
    """Return how units of one kind scatter, at every speed that at least two of them cover."""
    found: list[Spread] = []
    sides: tuple[tuple[Direction, float], ...] = (("compression", 1.0), ("rebound", -1.0))
    for direction, sign in sides:
        for speed in speeds:
            forces = [
                abs(c.force_at(sign * speed))
                for c in map(curve_of, units)
                if not bool(c.is_extrapolated(sign * speed)) and speed >= _lowest(c, c, sign)
            ]
            if len(forces) > 1:
                found.append(
                    Spread(
                        direction=direction,
                        speed=speed,
                        mean=float(np.mean(forces)),
                        least=min(forces),
                        most=max(forces),
                        deviation=float(np.std(forces, ddof=1)),
                        count=len(forces),
                    )
                )
    return tuple(found)
