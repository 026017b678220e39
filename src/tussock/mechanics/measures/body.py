"""How the body moves: float, pitch, roll, head toss.

The band of float is our choice (no standard gives it): it holds the body's modes on its springs.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tussock.mechanics.arrays import Floats
from tussock.mechanics.measures.comfort import rms
from tussock.mechanics.measures.weighting import WD, band, time_history, weigh

FLOAT_BAND = (0.5, 3.0)  # [Hz]


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


@dataclass(frozen=True, kw_only=True, slots=True)
class HeadToss:
    """Lateral acceleration at head height weighted by Wd: its r.m.s. and largest size [m/s^2]."""

    rms: float
    peak: float


def head_toss(lateral: Floats, step: float) -> HeadToss:
    """Return r.m.s. and peak of a lateral acceleration at head height [m/s^2], weighted by Wd.

    The weighting is that of a seat's horizontal axis; ISO 2631-1 has none for a free head: our choice, said here.
    """
    weighted = weigh(lateral, step, WD)
    return HeadToss(rms=rms(weighted), peak=float(np.max(np.abs(weighted))))
