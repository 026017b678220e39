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

from tussock.errors import DomainError
from tussock.mechanics.springs.coil import CoilSpring
from tussock.mechanics.springs.fatigue import FatigueCheck, permissible_upper_stress
from tussock.mechanics.springs.rainflow import Cycle

_FEW, _MANY = 100_000, 2_000_000


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
    few = permissible_upper_stress(wire, lower, cycles=100_000) - lower
    many = permissible_upper_stress(wire, lower, cycles=2_000_000) - lower
    stroke = upper - lower
    if stroke <= 0.0:
        return math.inf
    if many <= 0.0:
        return 0.0
    if few - many < 1e-9 * few:  # past both knees only the greatest upper stress counts
        return math.inf if stroke <= many else 0.0
    slope = math.log(_MANY / _FEW) / math.log(few / many)
    power = slope * math.log(many / stroke)
    return _MANY * math.exp(power) if power < 600.0 else math.inf


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
    if not lengths:
        raise DomainError("fatigue: there are no strokes to count")
    if not spring.ends.startswith("hot"):
        raise DomainError("fatigue: the diagrams are those of hot-coiled springs")
    damage = strokes = 0.0
    hardest: FatigueCheck | None = None
    for c in lengths:
        low, high = (min(max(length, spring.solid_length), spring.free_length) for length in (c.low, c.high))
        lower = spring.stress(spring.force(high), corrected=True)
        upper = spring.stress(spring.force(low), corrected=True)
        endured = cycles_endured(spring.wire, lower, upper)
        damage += c.count / endured if endured > 0.0 else math.inf
        strokes += c.count
        here = FatigueCheck(
            lower=lower, upper=upper, permitted=permissible_upper_stress(spring.wire, lower, cycles=2_000_000)
        )
        if hardest is None or here.margin < hardest.margin:
            hardest = here
    assert hardest is not None
    return SpectrumLife(damage=damage, hardest=hardest, strokes=strokes)
