"""What a spectrum of strokes does to a hot-coiled spring: the hardest stroke, and Miner's sum over all of them.

References
----------
.. [1] EN 13906-1:2013, Goodman diagrams for 100,000 and 2,000,000 cycles, as digitised in a public transcription.
.. [2] M. A. Miner, Cumulative damage in fatigue, J. Applied Mechanics 12 (1945).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.springs.coil import CoilSpring
from tussock.mechanics.springs.fatigue import Cycles, FatigueCheck, goodman_line, permissible_upper_stress
from tussock.mechanics.springs.rainflow import Cycle

_FEW: Cycles = 100_000
_MANY: Cycles = 2_000_000
_MOST_RESERVE = 3.0  # more is not looked for [-]


@dataclass(frozen=True, kw_only=True, slots=True)
class SpectrumLife:
    """What the strokes of a drive take from a coil.

    Attributes
    ----------
    damage : float
        Miner's sum of the strokes given [-]; 1 is the life that the diagrams stand for.
    hardest : FatigueCheck
        The stroke that comes nearest to what two million cycles permit.
    strokes : float
        Strokes counted.
    """

    damage: float
    hardest: FatigueCheck
    strokes: float


def cycles_endured(wire: float, lower: float, upper: float) -> float:
    """Return how many cycles between two corrected stresses the diagrams permit [-]; infinite for none.

    The stress ranges permitted above the lower stress at 100,000 and at 2,000,000 cycles give a straight line in
    logarithms; it is carried on beyond both without an endurance limit (Miner's elementary form, on the safe side
    for small strokes). Above the upper stress that no number of cycles permits, the answer is 0.

    Parameters
    ----------
    wire : float
        Wire diameter [m], 10 to 50 mm.
    lower, upper : float
        Corrected stresses of the stroke [Pa].

    Raises
    ------
    DomainError
        Outside the diagrams' diameters, or a lower stress that is negative or above the upper one.
    """
    if upper < lower:
        raise DomainError(f"fatigue: upper stress {upper / 1e6:g} MPa lies below the lower one, {lower / 1e6:g} MPa")
    if lower < 0.0:
        raise DomainError(f"lower stress {lower / 1e6:g} MPa is negative: the spring would be in tension")
    per_cycle = float(_damages(wire, np.array([lower]), np.array([upper]))[0])
    return math.inf if per_cycle == 0.0 else 1.0 / per_cycle


def _damages(wire: float, lower: Floats, upper: Floats) -> Floats:
    """Return the damage of one cycle of each stroke (n,) [-]; infinite above the greatest stress permitted."""
    permitted: list[Floats] = []
    each: tuple[Cycles, ...] = (_FEW, _MANY)
    for cycles in each:
        at_zero, knee, most = goodman_line(wire, cycles=cycles)
        permitted.append(at_zero + np.minimum(lower / knee, 1.0) * (most - at_zero) - lower)
    few, many = permitted
    stroke = upper - lower
    flat = few - many < 1e-9 * np.abs(few)  # past both knees only the greatest upper stress counts
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        slope = math.log(_MANY / _FEW) / np.log(few / many)
        power = slope * np.log(stroke / many)
        sloping = np.exp(np.minimum(power, 700.0)) / _MANY
    damage = np.where(flat, np.where(stroke <= many, 0.0, math.inf), sloping)
    damage = np.where(many <= 0.0, math.inf, damage)
    return np.asarray(np.where(stroke <= 0.0, 0.0, damage))


@dataclass(frozen=True, slots=True)
class Strokes:
    """Strokes as arrays, made once where many springs are judged by them: longest and shortest length [m], count."""

    longest: Floats
    shortest: Floats
    count: Floats

    @classmethod
    def of(cls, lengths: Sequence[Cycle]) -> Strokes:
        """Return counted strokes as arrays; DomainError where there are none."""
        if not lengths:
            raise DomainError("fatigue: there are no strokes to count")
        table = np.array([(c.high, c.low, c.count) for c in lengths], dtype=np.float64)
        return cls(table[:, 0], table[:, 1], table[:, 2])


def _stresses(spring: CoilSpring, strokes: Strokes) -> tuple[Floats, Floats]:
    """Return lower and upper corrected stress of each stroke [Pa], cut at solid and at free."""
    if not spring.ends.startswith("hot"):
        raise DomainError("fatigue: the diagrams are those of hot-coiled springs")
    per_length = spring.stress(1.0, corrected=True) * spring.rate
    lower, upper = (
        per_length * (spring.free_length - np.clip(ends, spring.solid_length, spring.free_length))
        for ends in (strokes.longest, strokes.shortest)
    )
    return np.asarray(lower), np.asarray(upper)


def spectrum_life(spring: CoilSpring, lengths: Sequence[Cycle]) -> SpectrumLife:
    """Return what strokes counted in spring length take from a hot-coiled spring.

    Parameters
    ----------
    spring : CoilSpring
        The coil.
    lengths : sequence of Cycle
        Strokes of the length [m]; what reaches below solid or above free is cut there.

    Raises
    ------
    DomainError
        No strokes, cold coiling, or a wire outside the diagrams.
    """
    strokes = Strokes.of(lengths)
    lower, upper = _stresses(spring, strokes)
    count = strokes.count
    at_zero, knee, most = goodman_line(spring.wire, cycles=_MANY)
    permitted = at_zero + np.minimum(lower / knee, 1.0) * (most - at_zero)
    i = int(np.argmax(upper / permitted))
    return SpectrumLife(
        damage=float(np.sum(_damages(spring.wire, lower, upper) * count)),
        hardest=FatigueCheck(
            lower=float(lower[i]),
            upper=float(upper[i]),
            permitted=permissible_upper_stress(spring.wire, float(lower[i]), cycles=_MANY),
        ),
        strokes=float(np.sum(count)),
    )


def stress_reserve(spring: CoilSpring, lengths: Sequence[Cycle] | Strokes, *, rounds: float) -> float:
    """Return the factor by which every stress might grow until Miner's sum over so many rounds is 1 [-], at most 3.

    Above 1 the spring outlasts the rounds; it is comparable with a margin on stress, as Miner's sum itself is not.

    Parameters
    ----------
    spring, lengths
        As `spectrum_life`: the strokes of one round.
    rounds : float
        Rounds that are wanted, positive.
    """
    if not rounds > 0.0:
        raise DomainError(f"fatigue: {rounds:g} rounds; a positive number is needed")
    strokes = lengths if isinstance(lengths, Strokes) else Strokes.of(lengths)
    lower, upper = _stresses(spring, strokes)
    count = strokes.count

    def over(factor: float) -> float:
        """Logarithm of Miner's sum with every stress grown; it rises steadily, steeply and without bound."""
        total = rounds * float(np.sum(_damages(spring.wire, factor * lower, factor * upper) * count))
        return math.log(min(max(total, 1e-30), 1e30))

    if over(_MOST_RESERVE) <= 0.0:
        return _MOST_RESERVE
    # no stress, no damage: the root lies between
    return float(brentq(over, 0.0, _MOST_RESERVE, xtol=1e-6))
