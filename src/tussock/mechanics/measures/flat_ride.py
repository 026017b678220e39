"""Flat ride: how much of the body's motion is pitch, and how far the rear lags the front.

Over one road the rear meets everything a wheelbase later. What the axles pass on as heave is then the road's motion
times cos(pi f L / V), as pitch times sin(pi f L / V) (wheelbase filter, [1]_): at low speed a body pitches, at high
speed it heaves. The classic rules ask for rear springs that let the rear catch up with the front.

References
----------
.. [1] Gillespie, Fundamentals of Vehicle Dynamics, 1992, chapter 5 (wheelbase filtering), from memory.
.. [2] Olley 1934, as in Gillespie chapter 5 and in Milliken and Milliken, Chassis Design, 2002: front ride rate about
   30 % below rear; bounce frequency below 1.2 times pitch; neither above 1.3 Hz. From memory.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.fft import irfft, next_fast_len, rfft

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.measures.weighting import time_history

RIDE_BAND = (0.5, 3.0)  # where the body moves on its springs; our choice [Hz]
#: Olley's rules [2]_, from memory: front over rear ride rate, or spring centre behind the centre of gravity over the
#: wheelbase; bounce over pitch frequency; the higher of both [Hz]
OLLEY_RATE, OLLEY_CENTRE, OLLEY_SPREAD, OLLEY_MOST = 0.70, 0.065, 1.2, 1.3


@dataclass(frozen=True, kw_only=True, slots=True)
class FlatRide:
    """Heave and pitch of the body between 0.5 and 3 Hz.

    Attributes
    ----------
    heave : float
        R.m.s. vertical acceleration midway between the axles [m/s^2].
    pitch : float
        R.m.s. pitch acceleration [rad/s^2].
    ratio : float
        Pitch acceleration times half the wheelbase over heave acceleration [-]: 0 is a flat ride, 1 is as much of
        either, what moves one end only.
    lag : float
        By how much the body above the rear axle follows that above the front axle, where both agree best [s]; negative
        if it leads.
    agreement : float
        Correlation of both at that lag, -1 to 1 [-].
    together : float
        Their correlation without lag [-]: 1 is pure heave, -1 pure pitch.
    """

    heave: float
    pitch: float
    ratio: float
    lag: float
    agreement: float
    together: float


def flat_ride(
    vertical: Floats, pitch: Floats, step: float, *, ahead: float, wheelbase: float, longest: float
) -> FlatRide:
    """Return pitch against heave and the rear's lag from a body's accelerations.

    Parameters
    ----------
    vertical, pitch : array (n,)
        Vertical acceleration of the sprung centre of mass [m/s^2] and pitch acceleration [rad/s^2], nose down positive.
    step : float
        Time step [s].
    ahead : float
        Front axle ahead of that centre [m].
    wheelbase : float
        [m].
    longest : float
        Largest lag or lead that is looked for [s]; 1.5 wheelbases at the speed driven takes in the road's own.

    Raises
    ------
    DomainError
        For histories of different length, values that are not numbers, or a wheelbase or longest lag not above 0.
    """
    z, q = time_history(vertical, step), time_history(pitch, step)
    if z.size != q.size:
        raise DomainError(f"flat ride: {z.size} vertical and {q.size} pitch accelerations; as many of both")
    if not (math.isfinite(wheelbase) and wheelbase > 0.0 and math.isfinite(longest) and longest > 0.0):
        raise DomainError(f"flat ride: wheelbase {wheelbase:g} m and longest lag {longest:g} s must be above 0")
    most = min(math.ceil(longest / step), z.size - 1)
    count = next_fast_len(z.size + most, real=True)
    low, high = (round(f * step * count) for f in RIDE_BAND)
    bands = slice(max(low, 1), max(high, low + 1, 2))
    heave, turn = rfft(np.stack([z, q]), count, axis=1)[:, bands]
    front, rear = heave - ahead * turn, heave + (wheelbase - ahead) * turn
    scale = 2.0 / (float(count) * z.size)

    def level(spectrum: np.ndarray) -> float:
        return math.sqrt(scale * float(np.sum(np.square(spectrum.real) + np.square(spectrum.imag))))

    lift, swing, ahead_moves, behind_moves = (level(x) for x in (0.5 * (front + rear), turn, front, rear))
    ratio = 0.5 * wheelbase * swing / lift if lift > 0.0 else (math.inf if swing > 0.0 else 0.0)
    if not min(ahead_moves, behind_moves) > 1e-9 * max(ahead_moves, behind_moves):  # an end that stays has no lag
        return FlatRide(heave=lift, pitch=swing, ratio=ratio, lag=0.0, agreement=0.0, together=0.0)
    size = ahead_moves * behind_moves
    cross = np.zeros(count // 2 + 1, dtype=np.complex128)
    cross[bands] = rear * front.conj()
    moved = irfft(cross, count) / (z.size * size)
    around = np.concatenate([moved[count - most :], moved[: most + 1]])
    best = int(np.argmax(around))
    return FlatRide(
        heave=lift,
        pitch=swing,
        ratio=ratio,
        lag=(best - most) * step,
        agreement=float(around[best]),
        together=float(moved[0]),
    )


def wheelbase_filter(frequency: Floats, *, wheelbase: float, speed: float) -> tuple[Floats, Floats]:
    """Return how much of the road's motion [1]_ reaches heave and how much pitch, each of the shape given [-].

    Parameters
    ----------
    frequency : array
        [Hz].
    wheelbase, speed : float
        [m], [m/s], above 0.
    """
    if not (wheelbase > 0.0 and speed > 0.0):
        raise DomainError(f"wheelbase {wheelbase:g} m and speed {speed:g} m/s must be above 0")
    phase = math.pi * np.asarray(frequency, dtype=np.float64) * wheelbase / speed
    return np.abs(np.cos(phase)), np.abs(np.sin(phase))


@dataclass(frozen=True, kw_only=True, slots=True)
class OlleyRules:
    """What Olley's rules [2]_ look at.

    Attributes
    ----------
    rate_ratio : float
        Front over rear ride rate [-].
    spring_centre : float
        Where a force heaves the body without pitch, behind the centre of gravity, over the wheelbase [-].
    bounce_over_pitch : float
        Ratio of frequencies [-]; bounce is the mode whose node lies outside the wheelbase.
    highest : float
        Higher of both frequencies [Hz].
    """

    rate_ratio: float
    spring_centre: float
    bounce_over_pitch: float
    highest: float

    @property
    def kept(self) -> tuple[bool, bool, bool]:
        """Whether the rules of rates, of the frequencies' ratio and of the highest frequency are kept."""
        return (
            self.rate_ratio <= OLLEY_RATE or self.spring_centre >= OLLEY_CENTRE,
            self.bounce_over_pitch < OLLEY_SPREAD,
            self.highest <= OLLEY_MOST,
        )


def olley_rules(
    *,
    frequencies: tuple[float, float],
    nodes: tuple[float, float],
    front_rate: float,
    rear_rate: float,
    ahead: float,
    wheelbase: float,
) -> OlleyRules:
    """Return what the classic rules look at.

    Parameters
    ----------
    frequencies, nodes : tuple of 2 floats
        Of the body's two modes [Hz], and where the body stays in each, ahead of the centre of gravity [m].
    front_rate, rear_rate : float
        Of spring and tyre in series, whole axle [N/m].
    ahead : float
        Front axle ahead of the centre of gravity [m].
    wheelbase : float
        [m].

    Raises
    ------
    DomainError
        If a rate or the wheelbase is not above 0.
    """
    if not (front_rate > 0.0 and rear_rate > 0.0 and wheelbase > 0.0):
        raise DomainError(f"flat ride: rates {front_rate:g}, {rear_rate:g} N/m and wheelbase {wheelbase:g} m; above 0")
    # the node of pitch is the one nearer to the middle of the wheelbase
    middle = ahead - 0.5 * wheelbase
    pitch = min((0, 1), key=lambda i: abs(nodes[i] - middle))
    centre = (rear_rate * (wheelbase - ahead) - front_rate * ahead) / (front_rate + rear_rate)
    return OlleyRules(
        rate_ratio=front_rate / rear_rate,
        spring_centre=centre / wheelbase,
        bounce_over_pitch=frequencies[1 - pitch] / frequencies[pitch],
        highest=max(frequencies),
    )
