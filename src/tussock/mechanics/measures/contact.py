"""How a wheel keeps to the road: variation of its load, time off the ground."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.measures.comfort import rms
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
    >>> got = wheel_contact(np.array([4000.0, 8000.0, 0.0, 0.0, 4000.0]), 4000.0, 0.01)
    >>> got.airborne, got.longest, got.gaps
    (0.4, 0.02, 1)
    """
    if not (math.isfinite(static) and static > 0.0):
        raise DomainError(f"static wheel load is {static:g} N; the wheel must stand on the road")
    loads = time_history(load, step)
    off = loads <= 0.0
    edges = np.flatnonzero(np.diff(np.concatenate([[False], off, [False]]).astype(np.int8)))
    runs = edges[1::2] - edges[::2]
    return Contact(
        variation=rms(loads - static) / static,
        airborne=float(np.mean(off)),
        longest=float(runs.max()) * step if runs.size else 0.0,
        least=float(np.min(loads)) / static,
        gaps=int(runs.size),
    )
