"""From two tracks to what the four wheels feel at each half step."""

from __future__ import annotations

import math

import numpy as np
from scipy.ndimage import gaussian_filter1d, uniform_filter1d

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.roads import Track

LOW_PASS = 100.0  # roads are smoothed to about this frequency: the scheme samples at half steps [Hz]


def road_inputs(
    track: Track, *, speed: float, wheelbase: float, step: float, contact_length: float
) -> tuple[Floats, Floats, Floats]:
    """Return road height, its rate and its slope under the wheels at half steps, each (n, 4).

    The road is averaged over the contact length (rolling contact) and smoothed to about 100 Hz. The rear wheels follow
    by the wheelbase. Before its start and after its end the road goes on level.

    Parameters
    ----------
    track : Track
        The road.
    speed : float
        [m/s], above 0.
    wheelbase, contact_length : float
        [m].
    step : float
        Time step [s].

    Raises
    ------
    DomainError
        For a speed that is not above 0 or a road shorter than the wheelbase.
    """
    if not (math.isfinite(speed) and speed > 0.0):
        raise DomainError(f"speed is {speed:g} m/s; the vehicle must move over the road")
    if track.length <= wheelbase:
        raise DomainError(f"the road is {track.length:.1f} m long, no longer than the wheelbase of {wheelbase:.1f} m")
    steps = int(track.length / speed / step)
    front = (np.arange(steps) + 0.5) * step * speed
    width = max(round(contact_length / track.spacing), 1)
    # a Gaussian whose response falls to half at the low-pass frequency
    sigma = math.sqrt(2.0 * math.log(2.0)) / (2.0 * math.pi * LOW_PASS) * speed / track.spacing
    height, rate, slope = (np.zeros((steps, 4)) for _ in range(3))
    for side, raw in enumerate((track.left, track.right)):
        smooth = uniform_filter1d(raw, width, mode="nearest")
        smooth = gaussian_filter1d(smooth, max(sigma, 0.5), mode="nearest")
        gradient = np.gradient(smooth, track.spacing)
        for a in (0, 1):
            at = front - a * wheelbase
            height[:, 2 * a + side] = np.interp(at, track.distance, smooth)
            slope[:, 2 * a + side] = np.interp(at, track.distance, gradient, left=0.0, right=0.0)
    rate[:] = slope * speed
    return height, rate, slope
