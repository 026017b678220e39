"""From numbers to points along one direction, and the ticks between."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

from matplotlib.ticker import MaxNLocator

from tussock.studies.display import KINDS, MINUS

_FLAT = 1e-9  # a spread below this share, or below this in shown units, is rounding: nothing rises or falls


@dataclass(frozen=True, slots=True)
class Scale:
    """Linear scale from shown values `low`..`high` to points `start`..`end`."""

    low: float
    high: float
    start: float
    end: float

    def __call__(self, value: float) -> float:
        """Return where a shown value lies. [pt]"""
        return self.start + (value - self.low) * (self.end - self.start) / (self.high - self.low)


def ticks_over(low: float, high: float, most: int) -> tuple[float, ...]:
    """Return round tick values that cover `low`..`high`, in at most about `most` steps.

    >>> ticks_over(-83.0, 92.0, 6)
    (-100.0, -50.0, 0.0, 50.0, 100.0)
    >>> ticks_over(-2e-13, 3e-13, 2)
    (-0.5, 0.0, 0.5)
    """
    if not high - low > _FLAT * max(abs(low), abs(high), 1.0):
        half = 0.5 * abs(low) if abs(low) > _FLAT else 0.5
        low, high = low - half, high + half
    found = MaxNLocator(nbins=most, steps=[1, 2, 2.5, 5, 10]).tick_values(low, high)
    return tuple(round(float(t), 12) + 0.0 for t in found)


def tick_texts(ticks: tuple[float, ...], *, sign: bool = False) -> tuple[str, ...]:
    """Write tick values with as many digits as their step needs and a true minus sign.

    >>> tick_texts((-0.5, 0.0, 0.5))
    ('−0.5', '0.0', '0.5')
    """
    if len(ticks) < 2:
        return tuple(f"{t:g}".replace("-", MINUS) for t in ticks)
    step = min(b - a for a, b in itertools.pairwise(ticks))
    places = 0
    while places < 6 and abs(round(step, places) - step) > 1e-6 * step:
        places += 1
    texts = [f"{t:+.{places}f}" if sign and t else f"{t:.{places}f}" for t in ticks]
    return tuple(t.replace("-", MINUS) for t in texts)


def shown(value: float, kind: str) -> float:
    """Return an SI value in the unit people read."""
    rule = KINDS[kind]
    return (value - rule.zero) * rule.factor


def axis_title(title: str, kind: str) -> str:
    """Return an axis title with its unit.

    >>> axis_title("wheel travel", "length")
    'wheel travel, mm'
    """
    unit = KINDS[kind].unit
    return f"{title}, {unit}" if unit else title


def finite(values: tuple[float, ...]) -> list[float]:
    """Return the finite values only: a gap in a curve is a gap, not an end of the axis."""
    return [v for v in values if math.isfinite(v)]
