"""Speed along a section: held, or changed at places with a limited acceleration."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.ndimage import uniform_filter1d

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats

BUILD_UP = 0.5  # time over which a driver lays an acceleration on [s]; common practice, no source
MOST_ACCELERATION = 8.0  # what tyres hold on a dry road [m/s^2]; common practice, no source


@dataclass(frozen=True, kw_only=True, slots=True)
class SpeedChange:
    """From `at` [m] on the driver goes over to `speed` [m/s]."""

    at: float
    speed: float


@dataclass(frozen=True, kw_only=True)
class Pace:
    """Speed over time along a section: straight lines between its corners, rounded over half a second.

    Attributes
    ----------
    time, speed : array (n,)
        Corners [s], [m/s].
    """

    time: Floats
    speed: Floats

    @property
    def duration(self) -> float:
        """Time to drive it [s]."""
        return float(self.time[-1])

    def at_half_steps(self, step: float) -> Floats:
        """Return the speed in the middle of each time step (n,) [m/s]; every acceleration builds up over 0.5 s."""
        middle = (np.arange(int(self.duration / step)) + 0.5) * step
        straight = np.interp(middle, self.time, self.speed)
        # an odd count: an even one would shift the whole profile by half a step
        return np.asarray(uniform_filter1d(straight, 2 * round(0.5 * BUILD_UP / step) + 1, mode="nearest"))


def pace(*, length: float, speed: float, changes: Sequence[SpeedChange], acceleration: float) -> Pace:
    """Return the speed over time along a section.

    Parameters
    ----------
    length : float
        Of the section [m].
    speed : float
        At its start [m/s].
    changes : sequence of SpeedChange
        In the order driven. Each starts where the driver starts to change; at constant acceleration a the square of
        the speed changes by 2 a per metre.
    acceleration : float
        Of every change, up or down [m/s^2].

    Raises
    ------
    DomainError
        For a speed or acceleration that cannot be, places that do not rise, or a change with too little room.

    Examples
    --------
    >>> slower = pace(length=100.0, speed=20.0, changes=[SpeedChange(at=10.0, speed=10.0)], acceleration=2.5)
    >>> slower.time
    array([0. , 0.5, 4.5, 7.5])
    """
    if not (math.isfinite(acceleration) and 0.0 < acceleration <= MOST_ACCELERATION):
        raise DomainError(
            f"acceleration is {acceleration:g} m/s^2; above 0 and up to {MOST_ACCELERATION:g} can be driven"
        )
    for s in (speed, *(c.speed for c in changes)):
        if not (math.isfinite(s) and s > 0.0):
            raise DomainError(f"speed is {s:g} m/s; it must be above 0")
    ends = [*(c.at for c in changes), length]
    time, speeds, here, now = [0.0], [speed], 0.0, speed
    for change, (start, end) in zip(changes, itertools.pairwise(ends), strict=True):
        if not start >= here:
            raise DomainError(f"the speed changes at {start:g} m, before it reached {now:g} m/s at {here:.1f} m")
        needed = abs(change.speed**2 - now**2) / (2.0 * acceleration)
        if start + needed > end * (1.0 + 1e-12):
            raise DomainError(
                f"from {now:.3g} to {change.speed:.3g} m/s at {acceleration:g} m/s^2 takes {needed:.1f} m; "
                f"from {start:g} m on there are {max(end - start, 0.0):.1f} m"
            )
        time.append(time[-1] + (start - here) / now)
        speeds.append(now)
        time.append(time[-1] + abs(change.speed - now) / acceleration)
        speeds.append(change.speed)
        here, now = start + needed, change.speed
    time.append(time[-1] + (length - here) / now)
    speeds.append(now)
    return Pace(time=np.array(time), speed=np.array(speeds))
