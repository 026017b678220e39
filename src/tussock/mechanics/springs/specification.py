"""A measured spring against what was ordered: rate, free length, loads at lengths, each with its tolerance.

References
----------
.. [1] ISO 14253-1: conformity is said where the whole uncertainty lies inside the tolerance, non-conformity where it
   lies outside; between them nothing is proven.
.. [2] Tolerances: EN 15800 covers cold-coiled springs to 16 mm wire and ISO 11891 hot-coiled ones; neither text was at
   hand, so their limits are not in here. Where an order states none, the order of magnitude of the JIS B 2702 family
   stands in (from memory, unsure): free length +-2 %, load +-(1.5 mm + 3 % of the deflection) times the rate; rate
   +-5 % is common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

from tussock.errors import DomainError
from tussock.mechanics.springs.measured import Estimate, MeasuredSpring

Verdict: TypeAlias = Literal["within", "outside", "not proven"]


@dataclass(frozen=True, kw_only=True, slots=True)
class LoadPoint:
    """A load [N] wanted at a length [m]."""

    length: float
    load: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Specification:
    """What was ordered; a tolerance of 0 means that none was stated.

    Attributes
    ----------
    title : str
        What people call the spring.
    rate, free_length : float
        [N/m], [m].
    rate_tolerance, free_length_tolerance, load_tolerance : float
        Either way [N/m], [m], [N].
    loads : tuple of LoadPoint
        Loads wanted at lengths.
    """

    title: str
    rate: float
    free_length: float
    rate_tolerance: float = 0.0
    free_length_tolerance: float = 0.0
    loads: tuple[LoadPoint, ...] = ()
    load_tolerance: float = 0.0

    def __post_init__(self) -> None:
        """Refuse an order that cannot be."""
        if not (self.rate > 0.0 and self.free_length > 0.0):
            raise DomainError(f"{self.title}: rate and free length must be positive")
        if min(self.rate_tolerance, self.free_length_tolerance, self.load_tolerance) < 0.0:
            raise DomainError(f"{self.title}: a tolerance must not be negative")


@dataclass(frozen=True, kw_only=True, slots=True)
class Finding:
    """One figure against its order: what it is, its kind (rate, length, force), measured, wanted, tolerance, verdict.

    `stated` says whether the order states the tolerance; `length` is where a load was taken [m], 0 for the others.
    """

    what: Literal["rate", "free length", "load"]
    measured: Estimate
    wanted: float
    tolerance: float
    stated: bool
    verdict: Verdict
    length: float = 0.0


def usual_load_tolerance(rate: float, deflection: float) -> float:
    """Return an order of magnitude for a load's tolerance either way [N]: (1.5 mm + 3 % of the deflection) x rate.

    From memory of the JIS B 2702 family, unsure; agree the tolerance with whoever makes the spring.

    >>> round(usual_load_tolerance(24e3, 0.12))
    122
    """
    return (1.5e-3 + 0.03 * deflection) * rate


def verdict(measured: Estimate, wanted: float, tolerance: float) -> Verdict:
    """Return whether a figure lies within its tolerance [1]_.

    >>> verdict(Estimate(value=24.4, low=24.2, high=24.6), 24.0, 0.7)
    'within'
    >>> verdict(Estimate(value=24.6, low=24.4, high=24.8), 24.0, 0.7)
    'not proven'
    """
    low, high = wanted - tolerance, wanted + tolerance
    if low <= measured.low and measured.high <= high:
        return "within"
    if measured.high < low or measured.low > high:
        return "outside"
    return "not proven"


def compare(measured: MeasuredSpring, order: Specification) -> tuple[Finding, ...]:
    """Return every figure of the order that the test reaches, against what was measured."""
    stated = order.rate_tolerance > 0.0
    tolerance = order.rate_tolerance if stated else 0.05 * order.rate
    out = [
        Finding(
            what="rate",
            measured=measured.rate,
            wanted=order.rate,
            tolerance=tolerance,
            stated=stated,
            verdict=verdict(measured.rate, order.rate, tolerance),
        )
    ]
    if measured.free_length is not None and measured.lengths_measured:
        stated = order.free_length_tolerance > 0.0
        tolerance = order.free_length_tolerance if stated else 0.02 * order.free_length
        out.append(
            Finding(
                what="free length",
                measured=measured.free_length,
                wanted=order.free_length,
                tolerance=tolerance,
                stated=stated,
                verdict=verdict(measured.free_length, order.free_length, tolerance),
            )
        )
    for point in order.loads:
        if measured.free_length is None:
            break
        reached = measured.free_length.value - float(measured.deflection[-1])
        if not reached <= point.length <= measured.free_length.value:
            continue
        load = measured.load_at(point.length)
        stated = order.load_tolerance > 0.0
        usual = usual_load_tolerance(order.rate, max(order.free_length - point.length, 0.0))
        tolerance = order.load_tolerance if stated else usual
        out.append(
            Finding(
                what="load",
                measured=load,
                wanted=point.load,
                tolerance=tolerance,
                stated=stated,
                verdict=verdict(load, point.load, tolerance),
                length=point.length,
            )
        )
    return tuple(out)
