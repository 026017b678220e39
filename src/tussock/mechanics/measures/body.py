"""How the body moves: float, pitch, roll, head toss, harshness.

The bands are our choice (no standard gives them): float holds the body's modes on its springs, harshness the shocks
that reach the seat as blows.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tussock.mechanics.arrays import Floats
from tussock.mechanics.measures.comfort import rms
from tussock.mechanics.measures.weighting import WD, WK, band, time_history, weigh

FLOAT_BAND = (0.5, 3.0)  # [Hz]
HARSH_BAND = (8.0, 40.0)  # [Hz]


@dataclass(frozen=True, kw_only=True, slots=True)
class BodyMotion:
    """How the body moves.

    Attributes
    ----------
    float_heave : float
        R.m.s. heave between 0.5 and 3 Hz [m].
    pitch, roll : float
        R.m.s. angle between 0.5 and 3 Hz [rad].
    heave_rate : float
        R.m.s. [m/s].
    pitch_rate, roll_rate : float
        R.m.s. [rad/s].
    heave_range : float
        Largest minus smallest heave [m].
    pitch_range, roll_range : float
        Largest minus smallest angle [rad].
    """

    float_heave: float
    pitch: float
    roll: float
    heave_rate: float
    pitch_rate: float
    roll_rate: float
    heave_range: float
    pitch_range: float
    roll_range: float


def body_motion(
    *, heave: Floats, pitch: Floats, roll: Floats, pitch_rate: Floats, roll_rate: Floats, step: float
) -> BodyMotion:
    """Return body-motion measures from heave [m], angles [rad] and rates [rad/s], each of shape (n,)."""
    low, high = FLOAT_BAND
    return BodyMotion(
        float_heave=rms(band(heave, step, low, high)),
        pitch=rms(band(pitch, step, low, high)),
        roll=rms(band(roll, step, low, high)),
        heave_rate=rms(np.asarray(np.gradient(heave, step), dtype=np.float64)),
        pitch_rate=rms(time_history(pitch_rate, step)),
        roll_rate=rms(time_history(roll_rate, step)),
        heave_range=float(np.ptp(heave)),
        pitch_range=float(np.ptp(pitch)),
        roll_range=float(np.ptp(roll)),
    )


def head_toss(lateral: Floats, step: float) -> float:
    """Return the r.m.s. lateral acceleration at head height, weighted by Wd [m/s^2].

    The weighting is that of a seat's horizontal axis; ISO 2631-1 has none for a free head: our choice, said here.
    """
    return rms(weigh(lateral, step, WD))


def head_toss_peak(lateral: Floats, step: float) -> float:
    """Return the largest size of the lateral acceleration at head height, weighted by Wd [m/s^2]."""
    return float(np.max(np.abs(weigh(lateral, step, WD))))


def harshness(vertical: Floats, step: float) -> float:
    """Return the r.m.s. vertical seat acceleration between 8 and 40 Hz after Wk weighting [m/s^2]."""
    low, high = HARSH_BAND
    return rms(band(weigh(vertical, step, WK), step, low, high))
