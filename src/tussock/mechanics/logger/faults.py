"""What is wrong with a recorded channel: dead, clipped, spikes, gaps; and a channel on an even clock without them."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.ndimage import median_filter
from scipy.signal import butter, sosfiltfilt

from tussock.errors import DomainError
from tussock.mechanics.arrays import Bools, Floats
from tussock.mechanics.logger.recording import Series

DEAD = 1.0  # a channel that holds one value for this long is dead [s]
CLIPPED_RUN = 3  # samples in a row at the end of the range are clipped
CLIPPED_SHARE = 2e-4  # of the samples; less is chance
SPIKE = 12.0  # times the usual distance from the running median
GAP = 3.0  # usual intervals
BRIDGED = 0.02  # gaps up to this are bridged by a straight line [s]
_LEAST_DEAD = 20  # samples that a channel must have held its value for


@dataclass(frozen=True, kw_only=True, slots=True)
class Fault:
    """One fault of a channel.

    Attributes
    ----------
    kind : str
        "dead", "clipped", "spikes", "gap" or "empty".
    start, end : float
        First and last stamp that it concerns [s].
    count : int
        Samples concerned, or intervals missing.
    level : float
        Value held, value clipped at, tallest spike [SI of the channel]; length of the longest gap [s].
    """

    kind: str
    start: float
    end: float
    count: int
    level: float

    @property
    def words(self) -> str:
        """In words, without the channel's name."""
        span = f"from {self.start:.2f} to {self.end:.2f} s"
        if self.kind == "dead":
            return f"dead {span}: it holds {self.level:.4g}"
        if self.kind == "clipped":
            return f"clipped at {self.level:.4g}: {self.count} samples {span}; its range is too small"
        if self.kind == "spikes":
            return f"{self.count} spikes {span}, the tallest {self.level:.4g}; taken out"
        if self.kind == "gap":
            return f"gaps {span}: {self.count} samples missing, {self.level:.3f} s the longest"
        return "has no samples here"

    @property
    def spoils(self) -> bool:
        """Whether measures from this piece would be wrong: spikes and short gaps are repaired, the rest is not."""
        return self.kind in ("dead", "clipped", "empty") or (self.kind == "gap" and self.level > BRIDGED)


def faults(series: Series, *, still: bool = False) -> tuple[Fault, ...]:
    """Return what is wrong with a piece of a channel.

    Parameters
    ----------
    series : Series
        The piece.
    still : bool
        Whether the channel may well hold one value for long (a temperature, a position at rest): then it is not
        looked for a dead sensor or a clipped range.
    """
    t, v = np.asarray(series.time), np.asarray(series.values, dtype=np.float64)
    if t.size < 2 or not np.any(np.isfinite(v)):
        return (Fault(kind="empty", start=float(t[0]) if t.size else 0.0, end=0.0, count=0, level=0.0),)
    found: list[Fault] = []
    usual = series.interval
    steps = np.diff(t)
    wide = steps > GAP * usual
    if wide.any():
        missing = int(np.sum(np.round(steps[wide] / usual) - 1.0))
        at = np.flatnonzero(wide)
        found.append(
            Fault(kind="gap", start=float(t[at[0]]), end=float(t[at[-1] + 1]), count=missing, level=float(steps.max()))
        )
    spiked = spikes(v)
    if spiked.any():
        at = np.flatnonzero(spiked)
        tallest = float(v[at][np.argmax(np.abs(v[at]))])
        found.append(
            Fault(kind="spikes", start=float(t[at[0]]), end=float(t[at[-1]]), count=int(at.size), level=tallest)
        )
    if still:
        return tuple(found)
    first, last = _longest_run(v)
    if t[last] - t[first] >= min(DEAD, 0.5 * (t[-1] - t[0])) and last - first >= _LEAST_DEAD:
        found.append(
            Fault(kind="dead", start=float(t[first]), end=float(t[last]), count=last - first + 1, level=float(v[first]))
        )
        return tuple(found)
    clean = v[~spiked]
    for level in (float(np.max(clean)), float(np.min(clean))):
        at_end = v == level
        runs = _in_runs(at_end, CLIPPED_RUN)
        if runs.sum() >= max(CLIPPED_SHARE * v.size, CLIPPED_RUN):
            at = np.flatnonzero(runs)
            found.append(
                Fault(kind="clipped", start=float(t[at[0]]), end=float(t[at[-1]]), count=int(at.size), level=level)
            )
    return tuple(found)


def spikes(values: Floats) -> Bools:
    """Return which samples stand alone far from their neighbours: glitches of the wire, at most two samples long."""
    v = np.where(np.isfinite(values), values, 0.0)
    if v.size < 9:
        return np.zeros(v.size, dtype=np.bool_)
    away = np.abs(v - median_filter(v, size=5, mode="nearest"))
    usual = max(float(np.mean(away)), 1e-12 * max(float(np.max(np.abs(v))), 1.0))
    far = (away > SPIKE * usual) & (away > 6.0 * np.std(v))
    # a real blow lasts: its neighbours move too
    padded = np.pad(away, 4, mode="edge")
    beside = np.max([padded[4 + k : 4 + k + v.size] for k in (-4, -3, -2, 2, 3, 4)], axis=0)
    return np.asarray(far & (beside < 0.3 * away))


def _longest_run(v: Floats) -> tuple[int, int]:
    """Return first and last place of the longest run of one value."""
    breaks = np.flatnonzero(np.concatenate([[True], np.diff(v) != 0.0, [True]]))
    lengths = np.diff(breaks)
    i = int(np.argmax(lengths))
    return int(breaks[i]), int(breaks[i + 1] - 1)


def _in_runs(marked: Bools, least: int) -> Bools:
    """Return the marked places that stand in runs of at least so many."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], marked.astype(np.int8), [0]])))
    out = np.zeros(marked.size, dtype=np.bool_)
    for start, end in zip(edges[::2], edges[1::2], strict=True):
        if end - start >= least:
            out[start:end] = True
    return out


def even(series: Series, start: float, end: float, step: float) -> Floats:
    """Return a channel at even times from start, every step [s], up to end: spikes bridged, low-passed, interpolated.

    A channel that is faster than the even clock is low-passed at two fifths of its rate first, both ways, so that
    nothing is shifted.

    Raises
    ------
    DomainError
        If the channel does not cover the span.
    """
    usual = series.interval
    margin = max(40.0 * usual, 30.0 * step)  # the filter's start and end stay outside
    piece = series.between(start - margin, end + margin)
    if piece.size < 8 or piece.time[0] > start + BRIDGED or piece.time[-1] < end - BRIDGED:
        raise DomainError(f"a channel does not cover {start:.2f} to {end:.2f} s")
    v, t = np.array(piece.values, dtype=np.float64), piece.time
    good = np.isfinite(v) & ~spikes(v)
    v = np.interp(t, t[good], v[good])
    if usual < step * (1.0 - 1e-6):
        regular = np.arange(t[0], t[-1] + 0.5 * usual, usual)
        v = np.interp(regular, t, v)
        low = butter(4, 0.4 / step, fs=1.0 / usual, output="sos")
        v = sosfiltfilt(low, v, padlen=min(round(12.0 * step / usual) + 24, v.size - 1))
        t = regular
    wanted = start + step * np.arange(max(math.floor((end - start) / step + 1e-9), 1))
    return np.asarray(np.interp(wanted, t, v))
