"""The window of one adjuster: from too soft to too firm, as far as verdicts support it.

How good a level is falls off from a sweet spot m with the square of the distance: U(x) = -k (x - m)^2, k the sharpness
per step squared in units of a verdict's noise. So a build at x against a reference at r is better by
2 k (x - r) (m - (x + r) / 2). Sweet spot and sharpness get a posterior on a grid; the bracket holds the sweet spot.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.tuning.verdicts import VERDICTS, VerdictScale

CLOSED_WIDTH = 3.0
"""Widest bracket that counts as closed [steps]."""
FELT_WITHIN = 3.0
"""Drivers can feel an adjuster if so far off the sweet spot, or half the span that was driven if that is more, the loss
is above the noise of one verdict [steps]."""
SURE = 0.85
"""Probability from which on it is said that drivers cannot feel an adjuster, or that they can [-]."""


@dataclass(frozen=True, kw_only=True)
class Comparison:
    """One verdict on one adjuster, all others held.

    Attributes
    ----------
    tried, reference : float
        Level of the build driven, and of the one that it is compared with; up is firmer [steps].
    verdict : int
        Of `VERDICTS`.
    weight : float
        What it counts, 0 to 1: verdicts of one drive share its mood, old ones fade [-].
    """

    tried: float
    reference: float
    verdict: int
    weight: float = 1.0

    def __post_init__(self) -> None:
        """Refuse a comparison of nothing."""
        if self.verdict not in VERDICTS or not 0.0 <= self.weight <= 1.0:
            raise DomainError(
                f"a verdict is one of {VERDICTS} with a weight of 0 to 1, not {self.verdict}, {self.weight}"
            )
        if not (math.isfinite(self.tried) and math.isfinite(self.reference)) or self.tried == self.reference:
            raise DomainError(f"levels {self.tried:g} and {self.reference:g} are not two: nothing was compared")

    @property
    def firmer(self) -> int:
        """Sign of the verdict on the firmer of the two: 1 the softer was too soft, -1 the firmer too firm."""
        return (
            (self.verdict > 0) - (self.verdict < 0)
            if self.tried > self.reference
            else ((self.verdict < 0) - (self.verdict > 0))
        )

    @property
    def count(self) -> float:
        """What it counts as felt: a clear verdict 1, a slight one a half, times its weight."""
        return 0.5 * abs(self.verdict) * self.weight


@dataclass(frozen=True, kw_only=True)
class WindowPrior:
    """What is believed before anybody drives.

    Attributes
    ----------
    low, high : float
        Where the sweet spot may lie, everywhere alike [steps].
    sharpness, spread : float
        Median of the sharpness [noise/step^2] and standard deviation of its logarithm [-].
    scale : VerdictScale
        How verdicts follow from differences.
    """

    low: float
    high: float
    sharpness: float = 0.1
    spread: float = 1.3
    scale: VerdictScale = field(default_factory=VerdictScale)

    def __post_init__(self) -> None:
        """Refuse a range that does not rise."""
        if not (math.isfinite(self.low) and math.isfinite(self.high) and self.low < self.high):
            raise DomainError(f"a sweet spot between {self.low:g} and {self.high:g} steps: the range does not rise")
        if not (self.sharpness > 0.0 and self.spread > 0.0):
            raise DomainError(f"sharpness {self.sharpness:g} and its spread {self.spread:g} must be above 0")


@lru_cache(maxsize=64)
def _grid(prior: WindowPrior) -> tuple[Floats, Floats]:
    count = max(round((prior.high - prior.low) / 0.1), 40) + 1
    return (
        np.linspace(prior.low, prior.high, count),
        prior.sharpness * np.exp(prior.spread * np.linspace(-2.5, 2.5, 15)),
    )


@lru_cache(maxsize=256)
def _likelihoods(prior: WindowPrior, tried: float, reference: float) -> Floats:
    """Return the probability of each verdict at each point of the grid (n, k, 5)."""
    m, k = _grid(prior)
    difference = 2.0 * k * (tried - reference) * (m[:, None] - 0.5 * (tried + reference))
    return prior.scale.probabilities(difference)


@dataclass(frozen=True, kw_only=True)
class Step:
    """A comparison that could be driven next.

    Attributes
    ----------
    tried, reference : float
        Levels [steps].
    width : float
        Bracket that is expected after it [steps].
    narrowing : float
        By how much that is narrower than now, on average over the verdicts to be expected [steps].
    """

    tried: float
    reference: float
    width: float
    narrowing: float


@dataclass(frozen=True, kw_only=True, eq=False)
class Window:
    """What verdicts say of one adjuster.

    Attributes
    ----------
    prior : WindowPrior
        What was believed before.
    comparisons : tuple of Comparison
        What was driven.
    before : Window or None
        The window before the last drive, which a closed one must have been closed in already.
    """

    prior: WindowPrior
    comparisons: tuple[Comparison, ...] = ()
    before: Window | None = None

    @property
    def grid(self) -> tuple[Floats, Floats]:
        """Sweet spots (n,) [steps] and sharpnesses (k,) [noise/step^2] of the grid."""
        return _grid(self.prior)

    @cached_property
    def posterior(self) -> Floats:
        """Probability of each point of the grid (n, k); sums to 1."""
        _, k = self.grid
        log = np.broadcast_to(
            -0.5 * (np.log(k / self.prior.sharpness) / self.prior.spread) ** 2, (len(self.grid[0]), len(k))
        )
        for c in self.comparisons:
            if c.weight > 0.0:
                with np.errstate(divide="ignore"):  # without lapses a verdict may be impossible somewhere
                    log = log + c.weight * np.log(_likelihoods(self.prior, c.tried, c.reference)[..., c.verdict + 2])
        if not np.any(np.isfinite(log)):
            raise DomainError("these verdicts cannot all be true without slips: give the verdict scale a lapse above 0")
        p = np.exp(log - np.max(log))
        p[[0, -1]] *= 0.5  # the cells at the ends of the range are half as wide
        return np.asarray(p / np.sum(p))

    def _bracket(self, posterior: Floats, share: float = 0.9) -> tuple[float, float]:
        m = self.grid[0]
        weight = np.sum(posterior, axis=1)
        half = 0.5 * (m[1] - m[0])
        edges = np.concatenate([[m[0]], m[:-1] + half, [m[-1]]])
        below = np.concatenate([[0.0], np.cumsum(weight)])
        low, high = np.interp([0.5 - 0.5 * share, 0.5 + 0.5 * share], below, edges)
        return float(low), float(high)

    def bracket(self, share: float = 0.9) -> tuple[float, float]:
        """Return between which levels the sweet spot lies with a probability, its tails alike [steps]."""
        return self._bracket(self.posterior, share)

    @property
    def width(self) -> float:
        """Width of the bracket of 90 % [steps]."""
        low, high = self.bracket()
        return high - low

    @property
    def best(self) -> float:
        """Mean of the sweet spot [steps]."""
        return float(np.sum(self.posterior, axis=1) @ self.grid[0])

    @property
    def sharpness(self) -> float:
        """Mean of the sharpness [noise/step^2]."""
        return float(np.sum(self.posterior, axis=0) @ self.grid[1])

    @property
    def felt(self) -> float:
        """Probability that drivers can feel this adjuster at all [-]."""
        driven = [x for c in self.comparisons for x in (c.tried, c.reference)]
        off = max(FELT_WITHIN, 0.5 * (max(driven) - min(driven))) if driven else FELT_WITHIN
        return float(np.sum(self.posterior[:, self.grid[1] * off**2 >= 1.0]))

    @property
    def too_soft(self) -> float:
        """What was felt as too soft: clear verdicts count 1, slight ones a half [-]."""
        return sum(c.count for c in self.comparisons if c.firmer > 0)

    @property
    def too_firm(self) -> float:
        """What was felt as too firm, likewise [-]."""
        return sum(c.count for c in self.comparisons if c.firmer < 0)

    @property
    def bracketed(self) -> bool:
        """Whether too soft and too firm were both felt, drivers can feel it, and the bracket is narrow enough."""
        return self.too_soft >= 1.0 and self.too_firm >= 1.0 and self.width <= CLOSED_WIDTH and self.felt >= SURE

    @property
    def closed(self) -> bool:
        """Whether the window is closed: bracketed, and confirmed by a drive after the one that bracketed it."""
        return self.bracketed and self.before is not None and self.before.bracketed

    @property
    def unfelt(self) -> bool:
        """Whether drivers, as far as can be told, cannot feel this adjuster."""
        return bool(self.comparisons) and self.felt <= 1.0 - SURE

    def probabilities(self, tried: float, reference: float) -> Floats:
        """Return how likely each of `VERDICTS` is for a comparison that has not been driven (5,)."""
        return np.asarray(np.einsum("mk,mkv->v", self.posterior, _likelihoods(self.prior, tried, reference)))

    def expected(self, tried: float, reference: float) -> Step:
        """Return what a comparison is expected to do to the bracket.

        Every verdict that could come is taken in turn: how likely it is by what is known now, and the bracket after it.
        """
        joint = self.posterior[..., None] * _likelihoods(self.prior, tried, reference)
        chance = np.sum(joint, axis=(0, 1))
        width = 0.0
        for verdict, p in enumerate(chance):
            if p > 0.0:
                low, high = self._bracket(joint[..., verdict] / p)
                width += float(p) * (high - low)
        return Step(tried=tried, reference=reference, width=width, narrowing=self.width - width)

    def next_step(self, reference: float, steps: Sequence[float] = (-2.0, -1.0, 1.0, 2.0)) -> Step | None:
        """Return the step from a level that should narrow the bracket most, None if none is within the range."""
        inside = [reference + s for s in steps if self.prior.low <= reference + s <= self.prior.high]
        found = [self.expected(tried, reference) for tried in inside]
        return max(found, key=lambda s: s.narrowing) if found else None


def drive_weight(count: int, likeness: float = 0.5) -> float:
    """Return what each of several verdicts of one drive counts.

    Verdicts of one drive share the driver, the day and the road: `count` of them tell as much as
    count / (1 + (count - 1) likeness) of different drives (Kish's design effect, 1965).

    Parameters
    ----------
    count : int
        Verdicts of the drive on this adjuster, at least 1.
    likeness : float
        How alike their noise is, 0 to 1 [-].

    Examples
    --------
    >>> drive_weight(1), drive_weight(5)
    (1.0, 0.3333333333333333)
    """
    if count < 1 or not 0.0 <= likeness <= 1.0:
        raise DomainError(f"{count} verdicts with a likeness of {likeness:g}: at least one, and 0 to 1")
    return 1.0 / (1.0 + (count - 1) * likeness)


def fit_window(prior: WindowPrior, drives: Sequence[Sequence[Comparison]]) -> Window:
    """Return the window that drives leave open.

    Parameters
    ----------
    prior : WindowPrior
        What was believed before.
    drives : sequence of sequences of Comparison
        The verdicts of each drive, the oldest drive first.
    """
    told = [tuple(c for c in drive if c.weight > 0.0) for drive in drives]
    told = [drive for drive in told if drive]
    if not told:
        return Window(prior=prior)
    before = Window(prior=prior, comparisons=tuple(c for drive in told[:-1] for c in drive))
    return Window(prior=prior, comparisons=tuple(c for drive in told for c in drive), before=before)
