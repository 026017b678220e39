"""Where on the road loop a recording was: sections cut out by gates or marks, and clocks set against each other."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.signal import correlate, correlation_lags

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.logger.recording import Series

EARTH = 6_371_008.8
"""Mean radius of the earth [m] (IUGG, from memory)."""
SLOWEST = 0.5  # below this the vehicle stands [m/s]


@dataclass(frozen=True, kw_only=True, slots=True)
class Gate:
    """Where a section starts or ends: latitude and longitude [rad], and how near a pass must come [m]."""

    latitude: float
    longitude: float
    radius: float = 15.0

    def __post_init__(self) -> None:
        """Refuse a place that is not on earth."""
        if not (abs(self.latitude) <= 0.5 * math.pi and abs(self.longitude) <= math.pi and self.radius > 0.0):
            raise DomainError(
                f"gate at {math.degrees(self.latitude):g}, {math.degrees(self.longitude):g} deg, {self.radius:g} m: "
                "latitude lies within 90 deg, longitude within 180 deg, the radius is above 0"
            )


@dataclass(frozen=True, kw_only=True, slots=True)
class Piece:
    """One pass of a section: from start to end [s]."""

    section: str
    start: float
    end: float


def ground_distance(latitude: Floats, longitude: Floats, gate: Gate) -> Floats:
    """Return the distance from a gate (n,) [m] of positions [rad], on a sphere flattened about the gate."""
    north = EARTH * (latitude - gate.latitude)
    east = EARTH * math.cos(gate.latitude) * (longitude - gate.longitude)
    return np.asarray(np.hypot(north, east))


def cut_by_gates(latitude: Series, longitude: Series, gates: Mapping[str, tuple[Gate, Gate]]) -> tuple[Piece, ...]:
    """Return every pass of every section: from where its start gate is nearest to where its end gate is, in turn.

    Parameters
    ----------
    latitude, longitude : Series
        [rad], the same samples.
    gates : mapping
        Start and end by section.
    """
    if latitude.size != longitude.size:
        raise DomainError(f"{latitude.size} latitudes and {longitude.size} longitudes; as many of both")
    time = np.asarray(latitude.time, dtype=np.float64)
    lat, lon = np.asarray(latitude.values, dtype=np.float64), np.asarray(longitude.values, dtype=np.float64)
    good = np.isfinite(lat) & np.isfinite(lon) & ~((lat == 0.0) & (lon == 0.0))  # no fix is written as 0, 0
    time, lat, lon = time[good], lat[good], lon[good]
    found: list[Piece] = []
    for section, (first, last) in gates.items():
        starts, ends = (_passes(time, ground_distance(lat, lon, g), g.radius) for g in (first, last))
        for i, start in enumerate(starts):
            until = starts[i + 1] if i + 1 < len(starts) else math.inf
            end = next((e for e in ends if start < e <= until), None)
            if end is not None:
                found.append(Piece(section=section, start=start, end=end))
    return tuple(sorted(found, key=lambda p: p.start))


def _passes(time: Floats, distance: Floats, radius: float) -> list[float]:
    """Return when each pass through a gate was nearest, by a parabola through the three nearest fixes."""
    inside = distance <= radius
    edges = np.flatnonzero(np.diff(np.concatenate([[0], inside.astype(np.int8), [0]])))
    found = []
    for low, high in zip(edges[::2], edges[1::2], strict=True):
        i = int(low + np.argmin(distance[low:high]))
        when = float(time[i])
        if 0 < i < distance.size - 1:
            a, b, c = distance[i - 1] ** 2, distance[i] ** 2, distance[i + 1] ** 2
            bend = a - 2.0 * b + c
            if bend > 0.0:
                when += 0.5 * (a - c) / bend * 0.5 * float(time[i + 1] - time[i - 1])
        found.append(when)
    return found


def cut_by_marks(mark: Series, order: Sequence[str]) -> tuple[Piece, ...]:
    """Return the sections between presses of the driver's button, in the order driven.

    The button is pressed at the start and at the end of each section; a mark is a rise through one half. The list of
    sections is gone through again for the next lap.

    Raises
    ------
    DomainError
        If a press is missing: an odd number of them.
    """
    high = np.asarray(mark.values, dtype=np.float64) > 0.5
    rises = np.asarray(mark.time)[1:][high[1:] & ~high[:-1]]
    if rises.size % 2:
        raise DomainError(
            f"{rises.size} marks; each section has one at its start and one at its end, so one is missing"
        )
    if not order:
        raise DomainError("no sections to give the marks to")
    return tuple(
        Piece(section=order[i % len(order)], start=float(rises[2 * i]), end=float(rises[2 * i + 1]))
        for i in range(rises.size // 2)
    )


def clock_offset(one: Floats, other: Floats, step: float, *, most: float = 2.0) -> tuple[float, float]:
    """Return how far `other` lags `one` [s] and how alike they are then (normalised correlation, 0 to 1).

    Both are at the same even times and show the same motion: a speed twice, or an acceleration and the second
    difference of a displacement. The peak of the cross-correlation, refined by a parabola.

    Parameters
    ----------
    one, other : array (n,)
        At even times.
    step : float
        Between them [s].
    most : float
        Largest offset looked for [s].

    Raises
    ------
    DomainError
        If the arrays differ in length, or one of them does not move.
    """
    if one.shape != other.shape or one.size < 16:
        raise DomainError(f"two channels of {one.size} and {other.size} samples cannot be set against each other")
    a, b = one - one.mean(), other - other.mean()
    size = math.sqrt(float(a @ a) * float(b @ b))
    if size == 0.0:
        raise DomainError("a channel that does not move says nothing of its clock")
    whole = correlate(b, a, method="fft") / size
    lags = correlation_lags(b.size, a.size)
    near = np.abs(lags) * step <= most
    whole, lags = whole[near], lags[near]
    i = int(np.argmax(whole))
    lag = float(lags[i])
    if 0 < i < whole.size - 1:
        bend = whole[i - 1] - 2.0 * whole[i] + whole[i + 1]
        if bend < 0.0:
            lag += 0.5 * float(whole[i - 1] - whole[i + 1]) / float(bend)
    return lag * step, float(whole[i])
