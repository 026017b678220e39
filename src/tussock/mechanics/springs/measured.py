"""A measured spring: rate with its confidence, friction apart from it, rate over length, and the specification.

References
----------
.. [1] Rate between 30 % and 70 % of the load at the shortest length: practice of EN 13906-1 and its tolerance
   standards (from memory).
.. [2] Ordinary least squares with Student's t. Samples of a tester follow each other closely, so they count as fewer:
   n (1 - r) / (1 + r) with r the correlation of neighbouring residuals (G. V. Bayley, J. M. Hammersley, The
   "effective" number of independent observations in an autocorrelated time series, 1946; from memory).
.. [3] ISO 14253-1: inside a tolerance is said only where the whole uncertainty lies inside it, outside likewise.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import stats

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.springs.curve import TabulatedSpring
from tussock.mechanics.springs.tester import SpringTest, Stroke

_WINDOW = (0.3, 0.7)  # shares of the greatest load [1]_
_FREE_WINDOW = (0.04, 0.20)  # where the line is carried on to no load: the end coils have not closed yet
_CONFIDENCE = 0.95
_PIECES = 12  # of the rate over length
_PROGRESSIVE = 0.05  # change of rate over the curve that is more than a linear spring's


@dataclass(frozen=True, kw_only=True, slots=True)
class Estimate:
    """A figure with the 95 % confidence interval that the measurement gives it."""

    value: float
    low: float
    high: float

    @property
    def half_width(self) -> float:
        """Half of the interval."""
        return 0.5 * (self.high - self.low)


@dataclass(frozen=True, kw_only=True, slots=True)
class LocalRate:
    """Rate over one piece of the stroke: middle deflection [m], load there [N], rate [N/m]."""

    deflection: float
    load: float
    rate: Estimate


@dataclass(frozen=True, kw_only=True, eq=False)
class MeasuredSpring:
    """What a test says about a spring.

    Attributes
    ----------
    rate : Estimate
        Between 30 % and 70 % of the greatest load, friction apart [N/m].
    friction : Estimate or None
        Half the distance between loading and unloading [N]; None without an unloading stroke.
    free_length : Estimate or None
        Length at no load, carried on from the smallest loads [m]; None where the file has deflections only and no
        length was given.
    curve : TabulatedSpring or None
        Load over length midway between the two branches; None without a length.
    deflection, load : array (n,)
        The same curve over deflection from free [m], [N].
    local : tuple of LocalRate
        The rate along the stroke.
    cycles : int
        Loading strokes.
    scatter_from : str
        Where the confidence of the rate comes from: "cycles" or "samples".
    strokes : tuple of Stroke
        Samples, their deflection counted from free.
    lengths_measured : bool
        Whether the file itself has lengths.
    """

    name: str
    rate: Estimate
    friction: Estimate | None
    free_length: Estimate | None
    curve: TabulatedSpring | None
    deflection: Floats
    load: Floats
    local: tuple[LocalRate, ...]
    cycles: int
    scatter_from: str
    strokes: tuple[Stroke, ...]
    lengths_measured: bool

    @property
    def rate_change(self) -> float:
        """Rate near the end of the stroke over that near its beginning, less 1 [-]."""
        return self.local[-2].rate.value / self.local[1].rate.value - 1.0

    @property
    def progressive(self) -> bool:
        """Whether the rate rises by more than 5 % and by more than its confidence over the stroke."""
        first, last = self.local[1].rate, self.local[-2].rate
        return self.rate_change > _PROGRESSIVE and last.low > first.high

    def load_at(self, length: float) -> Estimate:
        """Return the load at a length, midway between the branches [N].

        Raises
        ------
        DomainError
            For a file of deflections without a free length, or a length that was not reached.
        """
        if self.free_length is None:
            raise DomainError(f"{self.name}: the file has deflections only; give the free length")
        at = self.free_length.value - length
        step, most = float(self.deflection[1]), float(self.deflection[-1])
        if not 0.0 <= at <= most:
            raise DomainError(
                f"{self.name}: {length * 1e3:.1f} mm was not measured; the test runs from "
                f"{self.free_length.value * 1e3:.1f} mm to {(self.free_length.value - most) * 1e3:.1f} mm"
            )
        level = _fit(self.strokes, at - step, at + step, self.name, about=at).level
        # lengths are read off the tester; a given free length carries its doubt into every load
        doubt = 0.0 if self.lengths_measured else self.free_length.half_width * self.rate.value
        half = math.hypot(level.half_width, doubt)
        return Estimate(value=level.value, low=level.value - half, high=level.value + half)


def measure(test: SpringTest, *, free_length: float | None = None) -> MeasuredSpring:
    """Return what a test says about its spring.

    Parameters
    ----------
    test : SpringTest
        The strokes.
    free_length : float, optional
        Free length measured apart [m]; it places a file of deflections on lengths.

    Raises
    ------
    DomainError
        Too few samples where the rate is taken.

    Notes
    -----
    Load = line over deflection, plus friction when loading, less friction when unloading: both are found together, so
    that friction does not end up in the rate. With three or more cycles the confidence comes from their scatter, else
    from the samples, counted as fewer where neighbours move together. The load cell's own error is not in it.
    """
    zero, zero_spread = _free_deflection(test)
    shifted = [Stroke(deflection=s.deflection - zero, load=s.load, loading=s.loading) for s in test.strokes]
    most = float(np.median([np.max(s.load) for s in shifted if s.loading]))
    low, high = (_deflection_at(shifted, share * most) for share in _WINDOW)
    whole = _fit(shifted, low, high, test.name)
    cycles = _cycles(shifted)
    if len(cycles) >= 3:
        rates = np.array([_fit(c, low, high, test.name).rate.value for c in cycles])
        rate, scatter_from = _from_scatter(rates), "cycles"
    else:
        rate, scatter_from = whole.rate, "samples"
    length: Estimate | None = None
    if test.zero_length is not None:
        at = test.zero_length - zero
        length = Estimate(value=at, low=at - zero_spread, high=at + zero_spread)
    elif free_length is not None:
        length = Estimate(value=free_length, low=free_length - zero_spread, high=free_length + zero_spread)
    local = _local(shifted, test.name)
    x, f = _centre(shifted)
    curve = None
    if length is not None:
        curve = TabulatedSpring(
            length=length.value - x,
            load=f,
            free_length=length.value,
            friction=0.0 if whole.friction is None else max(whole.friction.value, 0.0),
        )
    return MeasuredSpring(
        name=test.name,
        rate=rate,
        friction=whole.friction,
        free_length=length,
        curve=curve,
        deflection=x,
        load=f,
        local=local,
        cycles=len(cycles),
        scatter_from=scatter_from,
        strokes=tuple(shifted),
        lengths_measured=test.zero_length is not None,
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class _Fit:
    level: Estimate
    rate: Estimate
    friction: Estimate | None


def _fit(strokes: Sequence[Stroke], low: float, high: float, name: str, *, about: float | None = None) -> _Fit:
    """Fit line and friction between two deflections; the level is the load at `about`, or in the middle."""
    xs: list[Floats] = []
    fs: list[Floats] = []
    signs: list[Floats] = []
    for s in strokes:
        inside = (s.deflection >= low) & (s.deflection <= high)
        xs.append(s.deflection[inside])
        fs.append(s.load[inside])
        signs.append(np.full(int(np.count_nonzero(inside)), 1.0 if s.loading else -1.0))
    x, f, sign = np.concatenate(xs), np.concatenate(fs), np.concatenate(signs)
    both = bool(np.any(sign > 0.0) and np.any(sign < 0.0))
    middle = 0.5 * (low + high) if about is None else about
    columns = [np.ones_like(x), x - middle, *([sign] if both else [])]
    if x.size < len(columns) + 2 or float(np.ptp(x)) <= 0.0:
        raise DomainError(
            f"{name}: {x.size} samples between {low * 1e3:.1f} mm and {high * 1e3:.1f} mm of deflection; "
            "more are needed there, record at smaller steps"
        )
    design = np.stack(columns, axis=1)
    found = np.linalg.lstsq(design, f, rcond=None)[0]
    residual = f - design @ found
    lags = [(residual[a:b][:-1], residual[a:b][1:]) for a, b in _bounds(xs) if b - a > 2]
    square = float(residual @ residual)
    joined = sum(float(one @ other) for one, other in lags)
    alike = min(max(joined / square, 0.0), 0.99) if square > 0.0 else 0.0
    count = max(x.size * (1.0 - alike) / (1.0 + alike), len(columns) + 2.0)
    freedom = count - len(columns)
    variance = square / (x.size - len(columns)) * x.size / count
    spread = np.sqrt(np.diag(np.linalg.inv(design.T @ design)) * variance)
    t = float(stats.t.ppf(0.5 + 0.5 * _CONFIDENCE, freedom))

    def estimate(i: int) -> Estimate:
        value, half = float(found[i]), t * float(spread[i])
        return Estimate(value=value, low=value - half, high=value + half)

    return _Fit(level=estimate(0), rate=estimate(1), friction=estimate(2) if both else None)


def _bounds(pieces: Sequence[Floats]) -> list[tuple[int, int]]:
    ends = np.cumsum([0, *(p.size for p in pieces)])
    return [(int(a), int(b)) for a, b in itertools.pairwise(ends)]


def _from_scatter(values: Floats) -> Estimate:
    mean = float(np.mean(values))
    half = float(
        stats.t.ppf(0.5 + 0.5 * _CONFIDENCE, values.size - 1) * np.std(values, ddof=1) / math.sqrt(values.size)
    )
    return Estimate(value=mean, low=mean - half, high=mean + half)


def _cycles(strokes: Sequence[Stroke]) -> list[list[Stroke]]:
    """Return loading strokes, each with the unloading that follows it."""
    out: list[list[Stroke]] = []
    for s in strokes:
        if s.loading:
            out.append([s])
        elif out:
            out[-1].append(s)
    return out


def _free_deflection(test: SpringTest) -> tuple[float, float]:
    """Return the deflection, as recorded, at which the load begins, and its 95 % half-width [m].

    The line through the smallest loads carried on to none; on the loading branch the friction is already there, so
    where both branches are known the two are averaged.
    """
    ends: list[tuple[bool, float]] = []
    for s in test.strokes:
        most = float(np.max(s.load))
        inside = (s.load >= _FREE_WINDOW[0] * most) & (s.load <= _FREE_WINDOW[1] * most)
        x, f = s.deflection[inside], s.load[inside]
        if x.size < 3 or float(np.ptp(x)) <= 0.0:
            continue
        slope, start = np.polyfit(x - np.mean(x), f, 1)
        if slope > 0.0:
            ends.append((s.loading, float(np.mean(x) - start / slope)))
    if not ends:
        raise DomainError(
            f"{test.name}: fewer than 3 samples between {_FREE_WINDOW[0]:.0%} and {_FREE_WINDOW[1]:.0%} of the "
            "greatest load; record the beginning of the stroke too"
        )
    loading = np.array([e for up, e in ends if up])
    rest = np.array([e for up, e in ends if not up])
    if min(loading.size, rest.size) >= 3:
        count = min(loading.size, rest.size)
        pairs = _from_scatter(0.5 * (loading[:count] + rest[:count]))
        return pairs.value, pairs.half_width
    branches = [float(np.mean(b)) for b in (loading, rest) if b.size]
    # with a cycle or two, what the branches differ by is all that is known of it
    return float(np.mean(branches)), 0.5 * float(np.ptp([e for _, e in ends]))


def _deflection_at(strokes: Sequence[Stroke], load: float) -> float:
    """Return the mean deflection at which the loading strokes pass a load [m]."""
    out: list[float] = []
    for s in strokes:
        if s.loading:
            order = np.argsort(s.load, kind="stable")
            out.append(float(np.interp(load, s.load[order], s.deflection[order])))
    return float(np.mean(out))


def _local(strokes: Sequence[Stroke], name: str) -> tuple[LocalRate, ...]:
    most = min(float(np.max(s.deflection)) for s in strokes if s.loading)
    edges = np.linspace(0.02 * most, 0.98 * most, _PIECES + 1)
    x, f = _centre(strokes)
    out: list[LocalRate] = []
    for low, high in itertools.pairwise(edges):
        middle = 0.5 * (low + high)
        reach = max(high - low, 0.0)  # neighbours overlap by half: a smooth rate, honest confidence
        out.append(
            LocalRate(
                deflection=float(middle),
                load=float(np.interp(middle, x, f)),
                rate=_fit(strokes, float(middle - reach), float(middle + reach), name).rate,
            )
        )
    return tuple(out)


def _centre(strokes: Sequence[Stroke]) -> tuple[Floats, Floats]:
    """Return the load midway between the branches over deflection from free, rising from (0, 0)."""
    most = min(float(np.max(s.deflection)) for s in strokes if s.loading)
    grid = np.linspace(0.0, most, 2 * _PIECES + 1)
    step = grid[1]
    branches: list[Floats] = []
    for loading in (True, False):
        mine = [s for s in strokes if s.loading == loading]
        if not mine:
            continue
        x = np.concatenate([s.deflection for s in mine])
        f = np.concatenate([s.load for s in mine])
        values = np.empty_like(grid)
        for i, at in enumerate(grid):
            near = np.abs(x - at) <= step
            if np.count_nonzero(near) >= 2 and float(np.ptp(x[near])) > 0.2 * step:
                _slope, start = np.polyfit(x[near] - at, f[near], 1)
                values[i] = start
            else:
                order = np.argsort(x, kind="stable")
                values[i] = np.interp(at, x[order], f[order])
        branches.append(values)
    load = np.mean(branches, axis=0)
    load[0] = 0.0
    # noise may make a load fall: such points are left out, so that the curve rises
    highest = np.maximum.accumulate(load)
    keep = np.concatenate(([True], highest[1:] > highest[:-1]))
    return grid[keep], load[keep]
