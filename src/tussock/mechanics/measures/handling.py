"""Measures of how a vehicle holds its lane, answers the hand wheel, and costs its driver work.

References
----------
.. [1] ISO 7401:2011, ISO 4138:2012, ISO 12021:2010: definitions, from memory.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.measures import kernels


def lane_departure(left: Floats) -> float:
    """Return the greatest distance of the vehicle's middle from its path [m].

    Parameters
    ----------
    left : array (n,)
        Distance to the left of the path [m].
    """
    return float(np.abs(left).max()) if left.size else 0.0


def path_scatter(left: Floats) -> float:
    """Return the standard deviation of the vehicle's place across its path [m]."""
    return float(left.std()) if left.size else 0.0


def steering_work(angle: Floats, torque: Floats | None = None) -> float:
    """Return the work that a driver does at the hand wheel: against the wheel's moment, or on turning alone.

    Parameters
    ----------
    angle : array (n,)
        Of the hand wheel [rad].
    torque : array (n,), optional
        Moment of the driver on it, positive where it turns it to the left [N m]. Without it the moment counts as 1 N m,
        and what is returned is the angle turned through, to and fro [J] or [rad].
    """
    if angle.size < 2:
        return 0.0
    whole = np.ascontiguousarray
    turned, work = kernels.turning(whole(angle), whole(angle if torque is None else torque))
    return turned if torque is None else work


def steering_rate(angle: Floats, step: float) -> float:
    """Return the root mean square of the hand wheel's speed [rad/s]."""
    return math.sqrt(kernels.turning_rate(np.ascontiguousarray(angle), step)) if angle.size > 1 else 0.0


@dataclass(frozen=True, kw_only=True, slots=True)
class StepResponse:
    """Answer of one quantity to a step of the hand wheel, ISO 7401 [1]_.

    Attributes
    ----------
    steady : float
        Mean over the last half second.
    response_time : float
        From half of the hand wheel's angle to 90 % of the steady value [s].
    peak_time : float
        From half of the hand wheel's angle to the first peak [s]; NaN where nothing overshoots.
    peak, overshoot : float
        Greatest value, and what it exceeds the steady one by, over it [-].
    """

    steady: float
    response_time: float
    peak_time: float
    peak: float
    overshoot: float


def step_response(time: Floats, value: Floats, hand: Floats) -> StepResponse:
    """Return the answer to a step of the hand wheel.

    Parameters
    ----------
    time, value, hand : array (n,)
        Time [s], the quantity, and the hand wheel's angle [rad], which goes from 0 to a level that it keeps.

    Raises
    ------
    DomainError
        If the hand wheel is not turned, or the quantity does not settle to a level.
    """
    level = float(hand[-1])
    if level == 0.0:
        raise DomainError("step of the hand wheel: it is not turned")
    last = time > time[-1] - 0.5
    steady = float(value[last].mean())
    if steady == 0.0 or float(np.ptp(value[last])) > 0.2 * abs(steady):
        raise DomainError("step of the hand wheel: the vehicle does not settle to a steady turn in the time given")
    start = _crossing(time, hand / level, 0.5)
    share = value / steady
    top = int(np.argmax(share))
    over = float(share[top]) - 1.0
    return StepResponse(
        steady=steady,
        response_time=_crossing(time, share, 0.9) - start,
        peak_time=float(time[top]) - start if over > 0.005 else math.nan,
        peak=float(value[top]),
        overshoot=max(over, 0.0),
    )


def _crossing(time: Floats, share: Floats, level: float) -> float:
    """Return when a quantity first reaches a level [s]."""
    n = int(np.argmax(share >= level))
    if n == 0:
        return float(time[0])
    t = (level - share[n - 1]) / (share[n] - share[n - 1])
    return float(time[n - 1] + t * (time[n] - time[n - 1]))


@dataclass(frozen=True, kw_only=True, slots=True)
class TurnGradients:
    """Steady turning on a constant radius, ISO 4138 [1]_, at small lateral acceleration and at its limit.

    Attributes
    ----------
    understeer : float
        Steer of the front wheels over lateral acceleration, on one radius [rad s^2/m].
    roll, sideslip, torque : float
        Slopes of roll, sideslip and hand wheel moment over lateral acceleration [rad s^2/m], [rad s^2/m], [N s^2].
    limit : float
        Greatest lateral acceleration reached [m/s^2].
    """

    understeer: float
    roll: float
    sideslip: float
    torque: float
    limit: float


LINEAR = (0.5, 3.0)  # lateral acceleration over which gradients are taken [m/s^2]; common practice, no source


def turn_gradients(
    *, lateral: Floats, steer: Floats, roll: Floats, sideslip: Floats, torque: Floats | None = None
) -> TurnGradients:
    """Return the gradients of a slow run round a circle.

    Parameters
    ----------
    lateral, steer, roll, sideslip : array (n,)
        Lateral acceleration, steer of the front wheels, roll and sideslip, each positive for a left turn's sign or all
        mirrored [m/s^2], [rad].
    torque : array (n,), optional
        Moment at the hand wheel [N m].

    Raises
    ------
    DomainError
        If fewer than ten samples lie in the span over which gradients are taken.
    """
    sign = 1.0 if float(np.mean(lateral)) >= 0.0 else -1.0
    a = sign * lateral
    inside = (a >= LINEAR[0]) & (a <= LINEAR[1])
    if int(inside.sum()) < 10 or float(np.ptp(a[inside])) < 0.5 * (LINEAR[1] - LINEAR[0]):
        raise DomainError(
            f"steady circle: lateral acceleration lies between {float(a.min()):.2f} and {float(a.max()):.2f} m/s^2; "
            f"gradients need {LINEAR[0]:g} to {LINEAR[1]:g}"
        )

    def slope(value: Floats) -> float:
        return float(np.polyfit(a[inside], sign * value[inside], 1)[0])

    return TurnGradients(
        understeer=slope(steer),
        roll=slope(roll),
        sideslip=slope(sideslip),
        torque=0.0 if torque is None else slope(torque),
        limit=float(a.max()),
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class GustResponse:
    """Answer to a crosswind with the hand wheel held, ISO 12021 [1]_.

    Attributes
    ----------
    deviation : float
        Off the path, two seconds after the front meets the wind [m].
    yaw_rate, lateral : float
        Greatest yaw rate and lateral acceleration within these two seconds [rad/s], [m/s^2].
    """

    deviation: float
    yaw_rate: float
    lateral: float


def gust_response(time: Floats, *, off: Floats, yaw_rate: Floats, lateral: Floats, meets: float) -> GustResponse:
    """Return the answer to a crosswind that the front meets at a time.

    Parameters
    ----------
    time, off, yaw_rate, lateral : array (n,)
        Distance from the path that it would follow without wind, yaw rate, lateral acceleration [s], [m], [rad/s],
        [m/s^2].
    meets : float
        When the front meets the wind [s].

    Raises
    ------
    DomainError
        If the run ends within the two seconds.
    """
    end = meets + 2.0
    if float(time[-1]) < end:
        raise DomainError(
            f"gust: the run ends {float(time[-1]) - meets:.2f} s after the wind; ISO 12021 reads the path at 2 s"
        )
    inside = (time >= meets) & (time <= end)
    return GustResponse(
        deviation=abs(float(np.interp(end, time, off))),
        yaw_rate=float(np.abs(yaw_rate[inside]).max()),
        lateral=float(np.abs(lateral[inside]).max()),
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class Stop:
    """A stop in a straight line.

    Attributes
    ----------
    deceleration : float
        Mean between the speeds at which the brakes are fully on and still on [m/s^2].
    distance : float
        From the first brake to rest, the last part at the deceleration held [m].
    pitch : float
        Greatest, nose down, against straight running [rad].
    drift : float
        Greatest distance to the side [m].
    variation : float
        Standard deviation of the wheel loads about their own running mean, over the mean, worst wheel [-].
    """

    deceleration: float
    distance: float
    pitch: float
    drift: float
    variation: float


def braking_stop(time: Floats, *, speed: Floats, pitch: Floats, off: Floats, wheel_load: Floats, begins: float) -> Stop:
    """Return the figures of a stop.

    Parameters
    ----------
    time, speed, pitch, off : array (n,)
        [s], [m/s], nose down positive [rad], to the side [m].
    wheel_load : array (n, 4)
        [N].
    begins : float
        When the driver brakes [s].

    Raises
    ------
    DomainError
        If the vehicle does not get slower.
    """
    braking = time >= begins
    t, v = time[braking], speed[braking]
    top, low = float(v[0]), float(v[-1])
    if t.size < 4 or top - low < 0.5:
        raise DomainError(f"braking: the speed goes from {top:.2f} to {low:.2f} m/s; that is no braking")
    inside = (v < top - 0.1 * (top - low)) & (v > low + 0.1 * (top - low))
    held = float(-np.polyfit(t[inside], v[inside], 1)[0])
    first = int(np.argmax(v <= low + 1e-3 * top))
    rolled = float(np.trapezoid(v[: first + 1], t[: first + 1]))
    loads = wheel_load[braking][inside]
    trend = np.polynomial.Polynomial.fit
    spread = max(
        float(np.std(loads[:, n] - trend(t[inside], loads[:, n], 1)(t[inside])) / np.mean(loads[:, n]))
        for n in range(4)
    )
    return Stop(
        deceleration=held,
        distance=rolled + low**2 / (2.0 * held),
        pitch=float(pitch[braking].max() - pitch[~braking][-1]) if np.any(~braking) else float(pitch.max()),
        drift=float(np.abs(off[braking] - off[braking][0]).max()),
        variation=spread,
    )
