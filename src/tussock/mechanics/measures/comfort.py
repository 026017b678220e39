"""Comfort by ISO 2631-1: weighted r.m.s., running r.m.s., vibration dose, and what the standard says of them.

References
----------
.. [1] ISO 2631-1:1997, clauses 6 and 8, Annexes B and C; equations checked in public transcriptions; the multiplying
   factors other than backrest x, and the ratios 1.5 and 1.75 of clause 6.3.3, are from memory.
.. [2] BS 6841:1987: estimated vibration dose value 1.4 a T^(1/4), from memory.
.. [3] Griffin 1998, J Sound Vib 215(4) 883-914, abstract: the standard's two ratio criteria conflict.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy.signal import lfilter

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.measures.kernels import mean_square, vibration
from tussock.mechanics.measures.weighting import WD, WE, WK, Weighting, time_history, weigh, weigh_all

CREST_LIMIT = 9.0  # above it the r.m.s. alone may mislead, 6.2.1
PEAK_RATIO_LIMIT = 1.5  # running peak over r.m.s., 6.3.3, from memory
DOSE_RATIO_LIMIT = 1.75  # dose over r.m.s. T^(1/4), 6.3.3, from memory

#: Seat surface, seated comfort (8.2.2): weighting and multiplying factor by axis; rotations in m/rad. From memory.
SEAT: dict[str, tuple[Weighting, float]] = {
    "x": (WD, 1.0),
    "y": (WD, 1.0),
    "z": (WK, 1.0),
    "rx": (WE, 0.63),
    "ry": (WE, 0.40),
    "rz": (WE, 0.20),
}


def rms(signal: Floats) -> float:
    """Return the root mean square of a signal, in its own unit.

    >>> rms(np.array([3.0, -4.0, 3.0, -4.0]))
    3.5355
    """
    x = np.ascontiguousarray(signal, dtype=np.float64).reshape(-1)
    mean = mean_square(x) if x.size else math.nan
    if not math.isfinite(mean):
        raise DomainError("r.m.s.: the signal is empty or holds a value that is not a number")
    return math.sqrt(mean)


def running_rms(weighted: Floats, step: float, *, window: float = 1.0, exponential: bool = False) -> Floats:
    """Return the running r.m.s. of a weighted signal (equations 2 and 3 of [1]_) in its own unit.

    The signal counts as zero before the record.

    Parameters
    ----------
    weighted : array (n,)
        Weighted acceleration [m/s^2].
    step : float
        Time step [s].
    window : float
        Integration time or time constant [s], at least one step.
    exponential : bool
        Exponential averaging in place of the sliding window.
    """
    power = np.square(time_history(weighted, step))
    if not (math.isfinite(window) and window >= step):
        raise DomainError(f"running r.m.s.: window is {window:g} s; at least one time step, {step:g} s, is needed")
    if exponential:
        keep = math.exp(-step / window)
        return np.asarray(np.sqrt(lfilter([1.0 - keep], [1.0, -keep], power)), dtype=np.float64)
    total = np.concatenate([[0.0], np.cumsum(power)])
    width = round(window / step)
    start = np.maximum(np.arange(1, total.size) - width, 0)
    return np.asarray(np.sqrt(np.maximum(total[1:] - total[start], 0.0) / width), dtype=np.float64)


def transient_peak(weighted: Floats, step: float, *, exponential: bool = False) -> float:
    """Return the maximum transient vibration value (MTVV): the largest running r.m.s. over 1 s [m/s^2]."""
    if exponential:
        return float(np.max(running_rms(weighted, step, exponential=True)))
    return _vibration(weighted, step)[2]


def vibration_dose(weighted: Floats, step: float) -> float:
    """Return the vibration dose value (VDV) of a weighted acceleration [m/s^1.75]."""
    return _vibration(weighted, step)[1]


def _vibration(weighted: Floats, step: float) -> tuple[float, float, float, float]:
    """Return r.m.s., dose, largest running r.m.s. over 1 s and largest size of a weighted signal."""
    x, width = time_history(weighted, step), max(round(1.0 / step), 1)
    square, fourth, size, most = vibration(np.ascontiguousarray(x), width)
    return math.sqrt(square / x.size), math.sqrt(math.sqrt(fourth * step)), math.sqrt(most / width), size


def estimated_dose(level: float, duration: float) -> float:
    """Return the estimated vibration dose value (eVDV) [2]_ of a steady level [m/s^2] over a duration [s].

    It holds for crest factors below about 6.

    >>> estimated_dose(0.5, 3600.0)
    5.42
    """
    if not (math.isfinite(level) and level >= 0.0 and math.isfinite(duration) and duration > 0.0):
        raise DomainError(f"estimated dose: level {level:g} m/s^2 over {duration:g} s; 0 or more over more than 0 s")
    return 1.4 * level * math.sqrt(math.sqrt(duration))


def crest_factor(weighted: Floats) -> float:
    """Return the largest size of a weighted signal over its r.m.s. [-]; DomainError for a still signal."""
    level = rms(weighted)
    if not level > 0.0:
        raise DomainError("a signal that does not move has no crest factor")
    return float(np.max(np.abs(weighted)) / level)


def joined_rms(levels: Sequence[float], durations: Sequence[float]) -> float:
    """Return the energy-equivalent r.m.s. of several stretches [m/s^2] (equation B.3 of [1]_), durations in [s]."""
    if len(levels) != len(durations) or not levels:
        raise DomainError(f"joined r.m.s.: {len(levels)} levels and {len(durations)} durations; as many of both")
    time = sum(durations)
    if not (math.isfinite(time) and min(durations) >= 0.0 and time > 0.0):
        raise DomainError("joined r.m.s.: a duration is negative, or all are 0 s")
    return math.sqrt(sum(a * a * t for a, t in zip(levels, durations, strict=True)) / time)


def joined_dose(doses: Sequence[float]) -> float:
    """Return the vibration dose of several stretches together [m/s^1.75]: fourth root of the sum of fourth powers."""
    total = math.fsum(d**4 for d in doses)
    if not math.isfinite(total) or min(doses, default=0.0) < 0.0:
        raise DomainError("joined dose: a dose is negative or not a number")
    return math.sqrt(math.sqrt(total))


#: Annex C.2.3, reactions in public transport; the bands overlap on purpose (the edge 2.5 m/s^2 is from memory)
REACTIONS: tuple[tuple[float, float, str], ...] = (
    (0.0, 0.315, "not uncomfortable"),
    (0.315, 0.63, "a little uncomfortable"),
    (0.5, 1.0, "fairly uncomfortable"),
    (0.8, 1.6, "uncomfortable"),
    (1.25, 2.5, "very uncomfortable"),
    (2.0, math.inf, "extremely uncomfortable"),
)


def reaction(total: float) -> str:
    """Return the likely reaction to a vibration total value [m/s^2]; where bands overlap both are named.

    >>> reaction(0.55)
    'a little to fairly uncomfortable'
    >>> reaction(1.4)
    'uncomfortable to very uncomfortable'
    """
    if not (math.isfinite(total) and total >= 0.0):
        raise DomainError(f"a vibration total value of {total:g} m/s^2 cannot be judged; it is 0 or positive")
    names = [name for low, high, name in REACTIONS if low <= total < high]
    if len(names) == 1:
        return names[0]
    if names[0] == "uncomfortable":
        return " to ".join(names)
    return names[0].removesuffix(" uncomfortable") + " to " + names[1]


@dataclass(frozen=True, kw_only=True, slots=True)
class AxisComfort:
    """Weighted vibration along (or about) one axis; m is rad for a rotation.

    Attributes
    ----------
    axis : str
        x, y, z, rx, ry or rz.
    rms : float
        Weighted r.m.s. [m/s^2].
    peak : float
        Maximum transient vibration value, linear average over 1 s [m/s^2].
    dose : float
        Vibration dose value [m/s^1.75].
    crest : float
        Crest factor [-]; 0 for a still axis.
    peak_ratio : float
        Running peak over r.m.s. [-]; 0 for a still axis.
    dose_ratio : float
        Dose over r.m.s. times duration^(1/4) [-]; 0 for a still axis. 1.11 for a sine, 1.32 for normal noise.
    """

    axis: str
    rms: float
    peak: float
    dose: float
    crest: float
    peak_ratio: float
    dose_ratio: float

    @property
    def reasons(self) -> tuple[str, ...]:
        """Why the r.m.s. alone would mislead, in words; empty if it does not."""
        found = []
        if self.crest > CREST_LIMIT:
            found.append(f"crest factor {self.crest:.1f} is above {CREST_LIMIT:g}")
        if self.peak_ratio > PEAK_RATIO_LIMIT:
            found.append(f"running peak is {self.peak_ratio:.2f} times the r.m.s., above {PEAK_RATIO_LIMIT:g}")
        if self.dose_ratio > DOSE_RATIO_LIMIT:
            found.append(f"dose ratio {self.dose_ratio:.2f} is above {DOSE_RATIO_LIMIT:g}")
        return tuple(found)

    @property
    def torn(self) -> bool:
        """Whether the two ratio criteria of 6.3.3 contradict each other, as they may [3]_."""
        return (self.peak_ratio > PEAK_RATIO_LIMIT) != (self.dose_ratio > DOSE_RATIO_LIMIT)

    @property
    def judge_by(self) -> str:
        """The measures to report, in few words; the r.m.s. always is one of them (6.1)."""
        return "r.m.s., VDV, MTVV" if self.reasons else "r.m.s."

    @property
    def advice(self) -> str:
        """Which measure the standard would have used, and why."""
        if self.rms == 0.0:
            return "the seat does not move"
        if not self.reasons:
            return "the r.m.s. is enough"
        text = "judge by dose and running peak too: " + "; ".join(self.reasons)
        if self.torn:
            text += "; the two ratios contradict each other here, so neither alone decides"
        return text


@dataclass(frozen=True, kw_only=True, slots=True)
class SeatComfort:
    """Comfort at one seat surface.

    Attributes
    ----------
    x, y, z : float
        Weighted r.m.s. acceleration by axis [m/s^2].
    total : float
        Vibration total value: root sum of squares over the axes with their multiplying factors [m/s^2].
    peak : float
        Maximum transient vibration value of the vertical axis [m/s^2].
    dose : float
        Vibration dose value of the vertical axis [m/s^1.75].
    crest : float
        Crest factor of the vertical axis [-]; 0 for a still seat.
    advice : str
        Which measure the standard would have used on the vertical axis.
    axes : tuple of AxisComfort
        All measures by axis, x, y, z and, if given, rx, ry, rz.
    vertical : array (n,)
        The weighted vertical acceleration [m/s^2].
    """

    x: float
    y: float
    z: float
    total: float
    peak: float
    dose: float
    crest: float
    advice: str
    axes: tuple[AxisComfort, ...]
    vertical: Floats = field(repr=False, compare=False)


def axis_comfort(acceleration: Floats, step: float, *, axis: str, weighting: Weighting) -> AxisComfort:
    """Return the measures of one axis from its unweighted acceleration [m/s^2 or rad/s^2] and time step [s]."""
    return weighted_comfort(weigh(acceleration, step, weighting), step, axis=axis)


def weighted_comfort(weighted: Floats, step: float, *, axis: str) -> AxisComfort:
    """Return the measures of one axis from its weighted acceleration [m/s^2] and time step [s]."""
    level, dose, peak, size = _vibration(weighted, step)
    moves = level > 0.0
    return AxisComfort(
        axis=axis,
        rms=level,
        peak=peak,
        dose=dose,
        crest=size / level if moves else 0.0,
        peak_ratio=peak / level if moves else 0.0,
        dose_ratio=dose / (level * (weighted.size * step) ** 0.25) if moves else 0.0,
    )


def seat_comfort(
    acceleration: Floats,
    step: float,
    *,
    rotation: Floats | None = None,
    axes: Mapping[str, tuple[Weighting, float]] = SEAT,
) -> SeatComfort:
    """Return the comfort at a seat from its acceleration.

    Parameters
    ----------
    acceleration : array (n, 3)
        Along x, y, z at the seat surface, without gravity [m/s^2].
    step : float
        Time step [s], at most 5 ms.
    rotation : array (n, 3), optional
        Angular acceleration about x, y, z [rad/s^2]; it adds to the total with the factors of its axes.
    axes : mapping
        Weighting and multiplying factor of each axis; those of a seat surface by default.

    Raises
    ------
    DomainError
        For arrays of another shape, a step that is too coarse, or a value that is not a number.
    """
    names, rows = ["x", "y", "z"], [_three(acceleration)]
    if rotation is not None:
        names, rows = [*names, "rx", "ry", "rz"], [*rows, _three(rotation)]
    weighted = weigh_all(np.concatenate(rows), step, [axes[name][0] for name in names])
    return comfort_of(dict(zip(names, weighted, strict=True)), step, axes=axes)


def comfort_of(
    weighted: Mapping[str, Floats], step: float, *, axes: Mapping[str, tuple[Weighting, float]] = SEAT
) -> SeatComfort:
    """Return the comfort at a seat from its weighted accelerations by axis: x, y, z and, if given, rx, ry, rz."""
    found = {name: weighted_comfort(w, step, axis=name) for name, w in weighted.items()}
    z = found["z"]
    return SeatComfort(
        x=found["x"].rms,
        y=found["y"].rms,
        z=z.rms,
        total=math.sqrt(sum((axes[name][1] * a.rms) ** 2 for name, a in found.items())),
        peak=z.peak,
        dose=z.dose,
        crest=z.crest,
        advice=z.advice,
        axes=tuple(found.values()),
        vertical=weighted["z"],
    )


def _three(columns: Floats) -> Floats:
    """Return the three columns of an acceleration as rows."""
    a = np.asarray(columns, dtype=np.float64)
    if a.ndim != 2 or a.shape[1] != 3:
        raise DomainError(f"seat: acceleration has shape {a.shape}; one row a step, three columns are needed")
    return a.T
