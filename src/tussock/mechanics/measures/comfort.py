"""Comfort by ISO 2631-1: weighted r.m.s., running r.m.s., vibration dose, and what the standard says of them.

References
----------
.. [1] ISO 2631-1:1997, clauses 6 and 8, Annex C; equations checked in public transcriptions, the multiplying factors
   other than backrest x from memory, clause 6.3.3 from memory.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.signal import lfilter

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.measures.weighting import WD, WK, weigh


def rms(signal: Floats) -> float:
    """Return the root mean square of a signal, in its own unit."""
    return float(np.sqrt(np.mean(np.square(signal))))


def running_rms(weighted: Floats, step: float, *, window: float = 1.0, exponential: bool = False) -> Floats:
    """Return the running r.m.s. of a weighted signal (equations 2 and 3) in its own unit.

    Parameters
    ----------
    weighted : array (n,)
        Weighted acceleration [m/s^2].
    step : float
        Time step [s].
    window : float
        Integration time or time constant [s].
    exponential : bool
        Exponential averaging in place of the sliding window.
    """
    power = np.square(np.asarray(weighted, dtype=float))
    if exponential:
        keep = math.exp(-step / window)
        return np.asarray(np.sqrt(lfilter([1.0 - keep], [1.0, -keep], power)))
    total = np.concatenate([[0.0], np.cumsum(power)])
    width = max(round(window / step), 1)
    start = np.maximum(np.arange(1, total.size) - width, 0)
    return np.asarray(np.sqrt(np.maximum(total[1:] - total[start], 0.0) / width))


def transient_peak(weighted: Floats, step: float, *, exponential: bool = False) -> float:
    """Return the maximum transient vibration value (MTVV): the largest running r.m.s. over 1 s [m/s^2]."""
    return float(np.max(running_rms(weighted, step, exponential=exponential)))


def vibration_dose(weighted: Floats, step: float) -> float:
    """Return the vibration dose value (VDV) of a weighted acceleration [m/s^1.75]."""
    return float((np.sum(np.asarray(weighted, dtype=float) ** 4) * step) ** 0.25)


def crest_factor(weighted: Floats) -> float:
    """Return the largest size of a weighted signal over its r.m.s. [-]; DomainError for a still signal."""
    level = rms(weighted)
    if level == 0.0:
        raise DomainError("a signal that does not move has no crest factor")
    return float(np.max(np.abs(weighted)) / level)


#: Annex C.2.3, reactions in public transport; the bands overlap on purpose (the edge 2.5 m/s^2 is from memory)
REACTIONS: tuple[tuple[float, float, str], ...] = (
    (0.0, 0.315, "not uncomfortable"),
    (0.315, 0.63, "a little uncomfortable"),
    (0.5, 1.0, "fairly uncomfortable"),
    (0.8, 1.6, "uncomfortable"),
    (1.25, 2.5, "very uncomfortable"),
    (2.0, math.inf, "extremely uncomfortable"),
)


def reaction(total: float) -> str:
    """Return the likely reaction to a vibration total value [m/s^2]; where bands overlap both are named.

    >>> reaction(0.55)
    'a little to fairly uncomfortable'
    """
    names = [name for low, high, name in REACTIONS if low <= total < high]
    if len(names) == 1:
        return names[0]
    return (
        names[0].removesuffix(" uncomfortable") + " to " + names[-1]
        if names[0] != "uncomfortable"
        else " to ".join(names)
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class SeatComfort:
    """Comfort at one seat surface.

    Attributes
    ----------
    x, y, z : float
        Weighted r.m.s. acceleration by axis [m/s^2].
    total : float
        Vibration total value, root sum of squares with factors 1, 1, 1 [m/s^2].
    peak : float
        Maximum transient vibration value of the vertical axis [m/s^2].
    dose : float
        Vibration dose value of the vertical axis [m/s^1.75].
    crest : float
        Crest factor of the vertical axis [-].
    advice : str
        Which measure the standard would have used.
    """

    x: float
    y: float
    z: float
    total: float
    peak: float
    dose: float
    crest: float
    advice: str


def seat_comfort(acceleration: Floats, step: float) -> SeatComfort:
    """Return the comfort at a seat from its acceleration.

    Parameters
    ----------
    acceleration : array (n, 3)
        Along x, y, z at the seat surface, without gravity [m/s^2].
    step : float
        Time step [s].
    """
    ax, ay, az = (np.ascontiguousarray(acceleration[:, i]) for i in range(3))
    wx, wy, wz = weigh(ax, step, WD), weigh(ay, step, WD), weigh(az, step, WK)
    x, y, z = rms(wx), rms(wy), rms(wz)
    dose, peak = vibration_dose(wz, step), transient_peak(wz, step)
    crest = crest_factor(wz)
    time = wz.size * step
    reasons = []
    if crest > 9.0:
        reasons.append(f"crest factor {crest:.1f} is above 9")
    if peak / z > 1.5:
        reasons.append(f"running peak is {peak / z:.2f} times the r.m.s., above 1.5")
    if dose / (z * time**0.25) > 1.75:
        reasons.append(f"dose ratio {dose / (z * time**0.25):.2f} is above 1.75")
    advice = "the r.m.s. is enough" if not reasons else "judge by dose and running peak too: " + "; ".join(reasons)
    return SeatComfort(
        x=x, y=y, z=z, total=math.sqrt(x * x + y * y + z * z), peak=peak, dose=dose, crest=crest, advice=advice
    )
