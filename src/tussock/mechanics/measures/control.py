"""Control: wheel contact, stops, body motion, head toss, damper work."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.dampers.curve import BANDS
from tussock.mechanics.measures.comfort import rms
from tussock.mechanics.measures.weighting import WD, WK, band, weigh

FLOAT_BAND = (0.3, 3.0)  # body float: slow motion of the body on its springs [Hz]
HARSH_BAND = (8.0, 40.0)  # harshness: shocks that the body feels as blows [Hz]


@dataclass(frozen=True, kw_only=True, slots=True)
class Contact:
    """How one wheel keeps to the road.

    Attributes
    ----------
    variation : float
        R.m.s. of the load's change over its static value [-].
    airborne : float
        Share of time off the ground [-].
    longest : float
        Longest time off the ground in one go [s].
    least : float
        Smallest load over static [-].
    """

    variation: float
    airborne: float
    longest: float
    least: float


def wheel_contact(load: Floats, static: float, step: float) -> Contact:
    """Return the contact measures of one wheel from its load [N], static load [N] and time step [s]."""
    if static <= 0.0:
        raise DomainError(f"static wheel load is {static:g} N; the wheel must stand on the road")
    off = np.asarray(load) <= 0.0
    edges = np.flatnonzero(np.diff(np.concatenate([[False], off, [False]]).astype(np.int8)))
    runs = edges[1::2] - edges[::2]
    return Contact(
        variation=rms(np.asarray(load) - static) / static,
        airborne=float(np.mean(off)),
        longest=float(runs.max()) * step if runs.size else 0.0,
        least=float(np.min(load)) / static,
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class StopHits:
    """Contacts of one stop: how many, the hardest, and the energy per the whole record [N], [J]."""

    count: int
    hardest: float
    energy: float


def stop_hits(force: Floats, velocity: Floats, step: float, *, threshold: float = 100.0) -> StopHits:
    """Return how often and how hard a stop is hit.

    Parameters
    ----------
    force : array (n,)
        Force of the stop [N], 0 when free.
    velocity : array (n,)
        Closing velocity at the stop [m/s].
    step : float
        Time step [s].
    threshold : float
        Force above which a contact counts [N]; it ends when the force falls below half of it, so that a stop that
        chatters counts once.
    """
    f = np.asarray(force)
    above, below = f >= threshold, f < 0.5 * threshold
    count, inside = 0, False
    for i in np.flatnonzero(above | below):
        if above[i] and not inside:
            count, inside = count + 1, True
        elif below[i]:
            inside = False
    closing = np.maximum(np.asarray(velocity), 0.0)
    return StopHits(count=count, hardest=float(np.max(f, initial=0.0)), energy=float(np.sum(f * closing) * step))


@dataclass(frozen=True, kw_only=True, slots=True)
class BodyMotion:
    """How the body moves.

    Attributes
    ----------
    float_heave : float
        R.m.s. heave between 0.3 and 3 Hz relative to the road's long waves [m].
    pitch, roll : float
        R.m.s. angle between 0.3 and 3 Hz [rad].
    pitch_rate, roll_rate : float
        R.m.s. [rad/s].
    heave_range : float
        Largest minus smallest heave [m].
    """

    float_heave: float
    pitch: float
    roll: float
    pitch_rate: float
    roll_rate: float
    heave_range: float


def body_motion(
    *, heave: Floats, pitch: Floats, roll: Floats, pitch_rate: Floats, roll_rate: Floats, step: float
) -> BodyMotion:
    """Return body-motion measures from heave [m], angles [rad] and rates [rad/s]."""
    low, high = FLOAT_BAND
    return BodyMotion(
        float_heave=rms(band(heave, step, low, high)),
        pitch=rms(band(pitch, step, low, high)),
        roll=rms(band(roll, step, low, high)),
        pitch_rate=rms(pitch_rate),
        roll_rate=rms(roll_rate),
        heave_range=float(np.ptp(heave)),
    )


def head_toss(lateral: Floats, step: float) -> float:
    """Return the r.m.s. lateral acceleration at head height, weighted by Wd [m/s^2].

    The weighting is that of a seat's horizontal axis; ISO 2631-1 has none for a free head: our choice, said here.
    """
    return rms(weigh(lateral, step, WD))


def harshness(vertical: Floats, step: float) -> float:
    """Return the r.m.s. vertical seat acceleration between 8 and 40 Hz after Wk weighting [m/s^2]."""
    low, high = HARSH_BAND
    return rms(band(weigh(vertical, step, WK), step, low, high))


@dataclass(frozen=True, kw_only=True, slots=True)
class DamperWork:
    """What one damper does over a record.

    Attributes
    ----------
    edges : array (n + 1,)
        Edges of the velocity classes [m/s].
    share : array (n,)
        Share of time in each class [-].
    bands : dict
        Share of time in the trade's low, mid and high speed band [-].
    power : float
        Mean power turned to heat [W].
    fastest_compression, fastest_rebound : float
        Largest speed each way [m/s].
    """

    edges: Floats
    share: Floats
    bands: dict[str, float]
    power: float
    fastest_compression: float
    fastest_rebound: float


def damper_work(velocity: Floats, force: Floats, *, classes: int = 41, most: float = 2.0) -> DamperWork:
    """Return velocity histogram and mean power of one damper from velocity [m/s] and force [N]."""
    v = np.asarray(velocity)
    edges = np.linspace(-most, most, classes + 1)
    counts, _ = np.histogram(np.clip(v, -most, most), edges)
    speed = np.abs(v)
    return DamperWork(
        edges=np.asarray(edges, dtype=np.float64),
        share=np.asarray(counts / v.size, dtype=np.float64),
        bands={name: float(np.mean((speed >= low) & (speed < high))) for name, (low, high) in BANDS.items()},
        power=float(np.mean(v * np.asarray(force))),
        fastest_compression=float(max(np.max(v), 0.0)),
        fastest_rebound=float(max(-np.min(v), 0.0)),
    )
