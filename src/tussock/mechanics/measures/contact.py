"""How a wheel keeps to the road: variation of its load, time off the ground."""

from __future__ import annotations

import math
from dataclasses import dataclass

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.measures.kernels import gaps
from tussock.mechanics.measures.weighting import time_history


@dataclass(frozen=True, kw_only=True, slots=True)
class Contact:
    """How one wheel keeps to the road.

    Attributes
    ----------
    variation : float
        R.m.s. of the load's difference from its static value, over that value [-].
    airborne : float
        Share of time off the ground [-].
    longest : float
        Longest time off the ground in one go [s].
    least : float
        Smallest load over static [-].
    gaps : int
        How often it leaves the ground.
    """

    variation: float
    airborne: float
    longest: float
    least: float
    gaps: int


def wheel_contact(load: Floats, static: float, step: float) -> Contact:
    """Return the contact measures of one wheel.

    Parameters
    ----------
    load : array (n,)
        Wheel load [N]; 0 or less is off the ground.
    static : float
        Load of the vehicle at rest [N], positive.
    step : float
        Time step [s].

    Raises
    ------
    DomainError
        For a static load that is not positive, or a load that is not a number somewhere.

    Examples
    --------
    >>> import numpy as np
    >>> got = wheel_contact(np.array([4000.0, 8000.0, 0.0, 0.0, 4000.0]), 4000.0, 0.01)
    >>> got.airborne, got.longest, got.gaps
    (0.4, 0.02, 1)
    """
    if not (math.isfinite(static) and static > 0.0):
        raise DomainError(f"static wheel load is {static:g} N; the wheel must stand on the road")
    loads = time_history(load, step)
    square, least, off, count, longest = gaps(loads, static)
    return Contact(
        variation=math.sqrt(square / loads.size) / static,
        airborne=off / loads.size,
        longest=longest * step,
        least=least / static,
        gaps=count,
    )
