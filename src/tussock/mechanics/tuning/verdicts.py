"""How likely a driver gives each of five verdicts, for a difference between two builds: ordinal probit with lapses."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import expit, ndtr

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats, Ints

VERDICTS = (-2, -1, 0, 1, 2)
"""Much worse, slightly worse, same, slightly better, much better: the build driven against the reference."""


@dataclass(frozen=True, kw_only=True)
class VerdictScale:
    """Where one verdict ends and the next begins, in units of the noise of one verdict.

    The difference that a driver feels is the true one plus noise of unit standard deviation (Thurstone's law of
    comparative judgement, case V; ordered categories as McCullagh 1980). A share of the verdicts is a slip: any of the
    five, alike.

    With `logistic` noise the two-way choice is that of Bradley and Terry (1952).

    Parameters
    ----------
    slight : float
        Felt difference below which a driver says 'same' [noise].
    much : float
        Felt difference above which a driver says 'much' [noise].
    lapse : float
        Share of slips, 0 to below 1 [-].
    logistic : bool
        Noise of the standard logistic distribution in place of the normal one.

    Raises
    ------
    DomainError
        If the bounds do not rise from 0, or the share is none.
    """

    slight: float = 0.35
    much: float = 1.4
    lapse: float = 0.05
    logistic: bool = False

    def __post_init__(self) -> None:
        """Refuse bounds that no verdict has."""
        if not (0.0 <= self.slight < self.much < math.inf and 0.0 <= self.lapse < 1.0):
            raise DomainError(
                f"verdicts: slight {self.slight:g} and much {self.much:g} must rise from 0, "
                f"and lapse {self.lapse:g} be a share below 1"
            )

    def probabilities(self, difference: Floats | float) -> Floats:
        """Return the probability of each of `VERDICTS`.

        Parameters
        ----------
        difference : array (...)
            By how much the build driven is better than the reference [noise].

        Returns
        -------
        array (..., 5)
            Sums to 1 along the last axis.

        Examples
        --------
        >>> VerdictScale(slight=0.0, lapse=0.0).probabilities(0.0).round(3)
        array([0.081, 0.419, 0.   , 0.419, 0.081])
        """
        d = np.asarray(difference, dtype=np.float64)[..., None]
        bounds = np.array([-self.much, -self.slight, self.slight, self.much])
        below = self._below(bounds - d)
        zero, one = np.zeros_like(d), np.ones_like(d)
        share = np.diff(np.concatenate([zero, below, one], axis=-1), axis=-1)
        # far above, differences of numbers near 1 lose their digits; there the other tail is exact
        mirrored = np.diff(np.concatenate([zero, self._below(d - bounds)[..., ::-1], one], axis=-1), axis=-1)[..., ::-1]
        return np.asarray((1.0 - self.lapse) * np.where(d > 0.0, mirrored, share) + self.lapse / len(VERDICTS))

    def _below(self, at: Floats) -> Floats:
        """Return the share of the noise below a value."""
        return np.asarray(expit(at) if self.logistic else ndtr(at))

    def _density(self, at: Floats) -> Floats:
        """Return the density of the noise; 0 at infinity."""
        if self.logistic:
            return np.asarray(expit(at) * expit(-at))
        return np.asarray(np.exp(-0.5 * at**2) / math.sqrt(2.0 * math.pi))

    def log_likelihood(self, difference: Floats, verdict: Ints) -> tuple[Floats, Floats, Floats]:
        """Return the logarithm of verdicts' probabilities, its slope, and how sharply it bends.

        Parameters
        ----------
        difference : array (n,)
            By how much each build driven is better than its reference [noise].
        verdict : array (n,)
            Of `VERDICTS`.

        Returns
        -------
        tuple of arrays (n,)
            Log probability [-], its derivative by the difference, and minus its second derivative, kept above 1e-3
            where slips bend it the other way.

        Raises
        ------
        DomainError
            Without slips a verdict cannot come from its difference.
        """
        bounds = np.array([-math.inf, -self.much, -self.slight, self.slight, self.much, math.inf])
        low, high = bounds[verdict + 2] - difference, bounds[verdict + 3] - difference
        p = np.take_along_axis(self.probabilities(difference), (verdict + 2)[:, None], axis=-1)[:, 0]
        if np.any(p <= 0.0):
            i = int(np.argmin(p))
            raise DomainError(
                f"verdict {int(verdict[i])} cannot come of a difference of {difference[i]:g} without slips"
            )
        first = (1.0 - self.lapse) * (self._density(low) - self._density(high)) / p
        second = (1.0 - self.lapse) * (self._turn(high) - self._turn(low)) / p
        return np.log(p), np.asarray(first), np.maximum(first**2 - second, 1e-3)

    def _turn(self, at: Floats) -> Floats:
        """Return the slope of the density: -x f(x) of the normal noise, (1 - 2 F) f of the logistic; 0 at infinity."""
        inside = np.where(np.isfinite(at), at, 0.0)
        return self._density(at) * (1.0 - 2.0 * expit(inside) if self.logistic else -inside)
