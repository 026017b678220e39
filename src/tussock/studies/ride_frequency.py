"""Frequency of the body on one corner."""

from __future__ import annotations

import math


def ride_frequency(*, rate: float, tyre: float, sprung_corner: float) -> float:
    """Return the frequency of a corner's body on its spring with the tyre in series [Hz].

    Examples
    --------
    Gillespie, Fundamentals of Vehicle Dynamics, chapter 5 example 1 (inputs from memory): 1.14 Hz.

    >>> round(ride_frequency(rate=25043.3, tyre=209803.0, sprung_corner=434.088), 2)
    1.14
    """
    series = rate * tyre / (rate + tyre)
    return math.sqrt(series / sprung_corner) / (2.0 * math.pi)
