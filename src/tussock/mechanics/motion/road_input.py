"""From two tracks to what the four wheels feel at each half step."""

from __future__ import annotations

import math

import numpy as np
from scipy.ndimage import gaussian_filter1d, uniform_filter1d

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.motion import road_kernels as rk
from tussock.mechanics.roads import Track

LOW_PASS = 100.0  # roads are smoothed to about this frequency: the scheme samples at half steps [Hz]
RUN_IN = 4.0  # a road that does not start level at its datum is faded in over this distance [m]


def half_steps(speed: float | Floats, *, length: float, step: float) -> tuple[int, Floats]:
    """Return how many steps a run takes over a road, and its speed: at each half step, or one number if held.

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
    >>> half_steps(10.0, length=0.05, step=0.001)
    (5, array([10.]))
    """
    given: Floats = np.asarray(speed, dtype=np.float64)
    if given.size == 0 or not (np.all(np.isfinite(given)) and np.all(given > 0.0)):
        worst = float(np.min(given)) if given.size else math.nan
        raise DomainError(f"speed is {worst:g} m/s somewhere; the vehicle must move forward over the road all the time")
    if given.ndim == 0:
        return int(length / float(given) / step), given.reshape(1)
    return given.size, given


def _curve(raw: Floats, *, track: Track, speed: float, contact_length: float, out: Floats) -> None:
    """Fill out (2, n) with a track after the contact patch and the low-pass, level at its start, and its slopes."""
    width = max(round(contact_length / track.spacing), 1)
    # a Gaussian whose response falls to half at the low-pass frequency
    sigma = math.sqrt(2.0 * math.log(2.0)) / (2.0 * math.pi * LOW_PASS) * speed / track.spacing
    smooth = out[0]
    gaussian_filter1d(uniform_filter1d(raw, width, mode="nearest"), max(sigma, 0.5), mode="nearest", output=smooth)
    first = (smooth[1] - smooth[0]) / track.spacing
    over = min(RUN_IN, track.length)
    x = np.arange(min(math.ceil(over / track.spacing) + 1, raw.size)) * track.spacing
    t = np.minimum(x / over, 1.0)
    smooth[: x.size] -= (smooth[0] + first * x) * (1.0 - t * t * t * (10.0 - 15.0 * t + 6.0 * t * t))
    rk.slopes(smooth, out[1], np.empty(raw.size))


def fill_inputs(
    inputs: Floats,
    track: Track,
    *,
    speed: Floats,
    row: Floats,
    wheelbase: float,
    step: float,
    contact_length: float,
) -> None:
    """Fill the rows of a run's inputs (n, c): what each starts from, then height, rate and slope under the wheels.

    The road is as `road_inputs` says.

    Parameters
    ----------
    inputs : array (n, c)
        To fill; the road takes the first twelve columns.
    track : Track
        The road.
    speed : array (n,) or (1,)
        At each half step, or held [m/s], above 0.
    row : array (c,)
        What each row starts from.
    wheelbase, step, contact_length : float
        [m], [s], [m].

    Raises
    ------
    DomainError
        For a road shorter than the wheelbase.
    """
    if track.length <= wheelbase:
        raise DomainError(f"the road is {track.length:.1f} m long, no longer than the wheelbase of {wheelbase:.1f} m")
    curves = np.empty((2, 2, track.left.size))
    for raw, curve in zip((track.left, track.right), curves, strict=True):
        _curve(raw, track=track, speed=float(speed.mean()), contact_length=contact_length, out=curve)
    rk.follow(curves, track.spacing, wheelbase, step, speed, row, inputs)


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
    count, pace = half_steps(speed, length=track.length, step=step)
    wheels = np.empty((count, 12))
    fill_inputs(
        wheels, track, speed=pace, row=np.zeros(12), wheelbase=wheelbase, step=step, contact_length=contact_length
    )
    return wheels[:, 0:4], wheels[:, 4:8], wheels[:, 8:12]
