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
    heave_range : float
        Largest minus smallest heave [m].
    pitch_rate, roll_rate : float
        R.m.s. [rad/s].
    """

    float_heave: float
    heave_range: float
    pitch_rate: float
    roll_rate: float


def body_motion(*, heave: Floats, pitch_rate: Floats, roll_rate: Floats, step: float) -> BodyMotion:
    """Return body-motion measures from heave [m] and rates [rad/s], each of shape (n,)."""
    return BodyMotion(
        float_heave=rms(band(heave, step, *FLOAT_BAND)),
        heave_range=float(np.ptp(heave)),
        pitch_rate=rms(time_history(pitch_rate, step)),
        roll_rate=rms(time_history(roll_rate, step)),
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
    return toss_of(weigh(lateral, step, WD))


def toss_of(weighted: Floats) -> HeadToss:
    """Return r.m.s. and peak of a lateral acceleration at head height that is weighted already [m/s^2]."""
    return HeadToss(rms=rms(weighted), peak=float(np.max(np.abs(weighted))))
