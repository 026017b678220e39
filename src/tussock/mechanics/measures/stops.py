"""Ends of travel: hits of a bump stop, of the stops inside a damper, or of any other stop by its force."""

from __future__ import annotations

import math
from dataclasses import dataclass

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.measures import kernels
from tussock.mechanics.measures.weighting import time_history


@dataclass(frozen=True, kw_only=True, slots=True)
class StopHits:
    """Contacts of one stop over a record.

    Attributes
    ----------
    count : int
        How many.
    hardest : float
        Largest force [N].
    energy : float
        Work done on the stop while it closes, all contacts [J].
    impulse : float
        Integral of its force over time [N s].
    share : float
        Share of time in contact, from threshold to release [-].
    """

    count: int
    hardest: float
    energy: float
    impulse: float
    share: float


def stop_hits(force: Floats, velocity: Floats, step: float, *, threshold: float = 100.0) -> StopHits:
    """Return how often and how hard a stop is hit.

    Parameters
    ----------
    force : array (n,)
        Force of the stop [N], 0 when free, positive when pressed.
    velocity : array (n,)
        Closing velocity at the stop [m/s].
    step : float
        Time step [s].
    threshold : float
        Force above which a contact counts [N]; it ends when the force falls below half of it, so that a stop that
        chatters counts once.

    Raises
    ------
    DomainError
        For a threshold that is not positive, histories of different length, or values that are not numbers.
    """
    if not (math.isfinite(threshold) and threshold > 0.0):
        raise DomainError(f"stop: threshold is {threshold:g} N; it must be positive")
    f, v = time_history(force, step), time_history(velocity, step)
    if f.size != v.size:
        raise DomainError(f"stop: {f.size} forces and {v.size} velocities; as many of both")
    count, inside, hardest, closing, pressed = kernels.stop(f, v, threshold, 0.5 * threshold)
    return StopHits(
        count=count,
        hardest=hardest,
        energy=closing * step,
        impulse=pressed * step,
        share=inside / f.size,
    )
