"""From two tracks to what the four wheels feel at each half step."""

from __future__ import annotations

import math

import numpy as np
from scipy.interpolate import CubicSpline
from scipy.ndimage import gaussian_filter1d, uniform_filter1d

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.roads import Track

LOW_PASS = 100.0  # roads are smoothed to about this frequency: the scheme samples at half steps [Hz]
RUN_IN = 4.0  # a road that does not start level at its datum is faded in over this distance [m]


def travelled(speed: float | Floats, *, length: float, step: float) -> tuple[Floats, Floats]:
    """Return distance and speed at the half steps of a run, each (n,).

    Parameters
    ----------
    speed : float or array (n,)
        Held speed, for the whole road, or the speed at each half step [m/s]; always above 0.
    length : float
        Of the road [m].
    step : float
        Time step [s].

    Raises
    ------
    DomainError
        For a speed that is not a number above 0.

    Examples
    --------
    >>> distance, speed = travelled(10.0, length=0.05, step=0.001)
    >>> distance
    array([0.005, 0.015, 0.025, 0.035, 0.045])
    """
    given: Floats = np.asarray(speed, dtype=np.float64)
    if given.size == 0 or not (np.all(np.isfinite(given)) and np.all(given > 0.0)):
        worst = float(np.min(given)) if given.size else math.nan
        raise DomainError(f"speed is {worst:g} m/s somewhere; the vehicle must move forward over the road all the time")
    if given.ndim == 0:
        steps = int(length / float(given) / step)
        held = np.full(steps, float(given))
        return np.asarray((np.arange(steps) + 0.5) * step * held, dtype=np.float64), held
    return step * (np.cumsum(given) - 0.5 * given), given


def _filtered(raw: Floats, *, track: Track, speed: float, contact_length: float) -> CubicSpline:
    """Return a track after the contact patch and the low-pass, from level at its start, as a C2 curve."""
    width = max(round(contact_length / track.spacing), 1)
    # a Gaussian whose response falls to half at the low-pass frequency
    sigma = math.sqrt(2.0 * math.log(2.0)) / (2.0 * math.pi * LOW_PASS) * speed / track.spacing
    smooth = uniform_filter1d(raw, width, mode="nearest")
    smooth = gaussian_filter1d(smooth, max(sigma, 0.5), mode="nearest")
    x = track.distance
    first = (smooth[1] - smooth[0]) / track.spacing
    t = np.minimum(x / min(RUN_IN, track.length), 1.0)
    smooth = smooth - (smooth[0] + first * x) * (1.0 - t * t * t * (10.0 - 15.0 * t + 6.0 * t * t))
    return CubicSpline(x, smooth, bc_type="clamped")


def road_inputs(
    track: Track, *, speed: float | Floats, wheelbase: float, step: float, contact_length: float
) -> tuple[Floats, Floats, Floats]:
    """Return road height, its rate and its slope under the wheels at half steps, each (n, 4).

    The road is averaged over the contact length (rolling contact) and smoothed to about 100 Hz at the mean speed. The
    rear wheels follow by the wheelbase. Before its start the road is level at zero height (what it has there is faded
    in); after its end it goes on level.

    Parameters
    ----------
    track : Track
        The road.
    speed : float or array (n,)
        Held speed, or the speed at each half step [m/s], above 0.
    wheelbase, contact_length : float
        [m].
    step : float
        Time step [s].

    Raises
    ------
    DomainError
        For a speed that is not above 0 or a road shorter than the wheelbase.
    """
    if track.length <= wheelbase:
        raise DomainError(f"the road is {track.length:.1f} m long, no longer than the wheelbase of {wheelbase:.1f} m")
    front, pace = travelled(speed, length=track.length, step=step)
    height, slope = np.zeros((front.size, 4)), np.zeros((front.size, 4))
    for side, raw in enumerate((track.left, track.right)):
        curve = _filtered(raw, track=track, speed=float(pace.mean()), contact_length=contact_length)
        gradient = curve.derivative()
        for a in (0, 1):
            at = front - a * wheelbase
            inside = np.clip(at, 0.0, track.length)
            height[:, 2 * a + side] = curve(inside)
            slope[:, 2 * a + side] = np.where(at == inside, gradient(inside), 0.0)
    return height, slope * pace[:, None], slope
