"""The measuring points of ISO 2631-1 beside the seat surface: backrest and feet, and all points together."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.measures.comfort import rms
from tussock.mechanics.measures.weighting import WC, WD, WE, WK, Weighting, weigh_all

#: Clause 8.2.2, seated comfort: weighting and multiplying factor by axis. Backrest x checked in a public transcription,
#: all others from memory.
BACKREST: dict[str, tuple[Weighting, float]] = {"x": (WC, 0.80), "y": (WD, 0.50), "z": (WD, 0.40)}
FEET: dict[str, tuple[Weighting, float]] = {"x": (WK, 0.25), "y": (WK, 0.25), "z": (WK, 0.40)}

#: Rotations at the seat surface in [m/rad], from memory: their share is a total of its own, over angular accelerations.
SEAT_ROTATION: dict[str, tuple[Weighting, float]] = {"x": (WE, 0.63), "y": (WE, 0.40), "z": (WE, 0.20)}


def point_total(acceleration: Floats, step: float, axes: Mapping[str, tuple[Weighting, float]]) -> float:
    """Return the vibration total value of one point [m/s^2]: root sum of squares of its factors times weighted r.m.s.

    Parameters
    ----------
    acceleration : array (n, 3)
        Along x, y, z, without gravity [m/s^2]; for `SEAT_ROTATION` about them [rad/s^2].
    step : float
        Time step [s].
    axes : mapping
        Weighting and factor of x, y and z: `BACKREST`, `FEET`, `SEAT_ROTATION` or `SEAT`.
    """
    a = np.asarray(acceleration, dtype=np.float64)
    if a.ndim != 2 or a.shape[1] != 3:
        raise DomainError(f"point: acceleration has shape {a.shape}; one row a step, three columns are needed")
    return total_of(weigh_all(a.T, step, [axes[axis][0] for axis in "xyz"]), axes)


def total_of(weighted: Sequence[Floats] | Floats, axes: Mapping[str, tuple[Weighting, float]]) -> float:
    """Return the vibration total value of one point [m/s^2] from its weighted accelerations, x, y, z as (n,) each."""
    return math.sqrt(math.fsum((axes[axis][1] * rms(row)) ** 2 for axis, row in zip("xyz", weighted, strict=True)))


def overall_total(totals: Sequence[float]) -> float:
    """Return the total over all measuring points [m/s^2]: root sum of squares of theirs (8.2.3, from memory).

    >>> overall_total([0.6, 0.3, 0.2])
    0.7
    """
    if not totals or not all(math.isfinite(t) and t >= 0.0 for t in totals):
        raise DomainError("points: at least one total, none negative or without a number")
    return math.sqrt(math.fsum(t * t for t in totals))
