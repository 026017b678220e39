"""What drivers prefer: a Bayesian model of attributes over computed measures, from verdicts and marks together.

Each attribute j of a build is f_j = w_j . phi_j + a_j . x: what the simulation's measures phi say, weighted as drivers
weigh them, and what it does not know, a trend over the adjusters x. The whole is U = sum_j softmax(eta)_j f_j. A
verdict is an ordinal comparison of two builds; a mark is gain_d f + bias_d + bias_dj + day_t with noise that has heavy
tails. The prior mean of w is the simulation's opinion, so few data lean on it by themselves.

All of it is one posterior; its mode is found by Newton steps with the Gauss-Newton Hessian (every datum's curvature
from its own likelihood, kept above zero), and it is described by the Gaussian there (Laplace's approximation).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from scipy.linalg import cho_solve
from scipy.special import softmax

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.tuning.mode import find_mode
from tussock.mechanics.tuning.verdicts import VERDICTS, VerdictScale

OVERALL = -1
"""Attribute of a verdict or a mark on the whole."""
_SETTLED = 1e-9  # share of the log posterior that may still be won
_NOISIER = (8.0, 4.0, 2.0)
MIDDLE_MARK = 6.0
"""Mark of a build in the middle of what was computed, before any driver is known [-]."""


@dataclass(frozen=True, kw_only=True)
class PairVerdict:
    """One verdict: builds by their place, attribute by its place or `OVERALL`, verdict of `VERDICTS`."""

    tried: int
    reference: int
    attribute: int
    verdict: int


@dataclass(frozen=True, kw_only=True)
class Rating:
    """One mark of one drive: build, attribute, driver and day by their places, mark 1 to 10."""

    build: int
    attribute: int
    driver: int
    day: int
    mark: float


@dataclass(frozen=True, kw_only=True)
class PreferencePrior:
    """What is believed before anybody drives; attributes have unit spread over builds, so all is in that unit.

    Attributes
    ----------
    weight : float
        Mean of every weight, shared equally: a worse measure makes a worse mark, so below 0 [-].
    weight_spread : float
        Standard deviation of a weight over the size of its mean [-].
    trend_spread : float
        Of the trend over one step of an adjuster that no measure explains [1/step].
    share_spread : float
        Of the logarithm of an attribute's share in the whole [-].
    gain, gain_spread : float
        Marks for one unit, and the standard deviation of its logarithm [-].
    bias_spread, section_spread, day_spread : float
        Of a driver's level, of his level for one attribute, of a day [marks].
    mark_noise : float
        Scale of the noise of a mark [marks].
    tails : float
        Degrees of freedom of that noise (Student); infinite for a Gaussian [-].
    noise : float
        Standard deviation of the noise of one verdict [-].
    scale : VerdictScale
        Bounds of the verdicts in that noise.
    """

    weight: float = -1.0
    weight_spread: float = 0.7
    trend_spread: float = 0.1
    share_spread: float = 0.6
    gain: float = 1.3
    gain_spread: float = 0.2
    bias_spread: float = 1.0
    section_spread: float = 1.5
    day_spread: float = 0.4
    mark_noise: float = 0.8
    tails: float = 6.0
    noise: float = 0.35
    scale: VerdictScale = field(default_factory=VerdictScale)

    def __post_init__(self) -> None:
        """Refuse spreads that are none."""
        positive = {
            n: getattr(self, n)
            for n in (
                "weight_spread", "trend_spread", "share_spread", "gain", "gain_spread", "bias_spread",
                "section_spread", "day_spread", "mark_noise", "tails", "noise",
            )
        }  # fmt: skip
        wrong = [f"{n} {v:g}" for n, v in positive.items() if not v > 0.0]
        if wrong or not math.isfinite(self.weight) or self.weight == 0.0:
            raise DomainError(
                f"preference: {', '.join(wrong) or f'weight {self.weight:g}'} must be above 0 (weight: not 0)"
            )


@dataclass(frozen=True, kw_only=True, eq=False)
class Evidence:
    """What was computed of every build, and what drivers said.

    Attributes
    ----------
    measures : array (builds, attributes, measures)
        Measures of each build that bear on each attribute, standardised over builds; more is worse [-].
    steps : array (builds, adjusters)
        Levels of the adjusters [steps].
    verdicts, ratings : sequences
        Places in them count from 0.
    """

    measures: Floats
    steps: Floats
    verdicts: Sequence[PairVerdict] = ()
    ratings: Sequence[Rating] = ()

    def __post_init__(self) -> None:
        """Refuse places that are not there."""
        if self.measures.ndim != 3 or self.steps.ndim != 2 or len(self.steps) != len(self.measures):
            raise DomainError(
                f"measures {self.measures.shape} are builds x attributes x measures, steps {self.steps.shape} builds x "
                "adjusters, of the same builds"
            )
        if not (np.all(np.isfinite(self.measures)) and np.all(np.isfinite(self.steps))):
            raise DomainError("measures and steps hold a value that is not a number")
        builds, attributes = self.measures.shape[:2]
        for v in self.verdicts:
            if v.tried == v.reference or v.verdict not in VERDICTS:
                raise DomainError(f"{v}: a verdict is one of {VERDICTS} between two builds")
            if not (0 <= v.tried < builds and 0 <= v.reference < builds and OVERALL <= v.attribute < attributes):
                raise DomainError(f"{v}: there are {builds} builds and {attributes} attributes")
        for r in self.ratings:
            inside = 0 <= r.build < builds and OVERALL <= r.attribute < attributes and r.driver >= 0 and r.day >= 0
            if not inside or not math.isfinite(r.mark):
                raise DomainError(f"{r}: there are {builds} builds and {attributes} attributes")

    @property
    def drivers(self) -> int:
        """How many drivers gave marks."""
        return 1 + max((r.driver for r in self.ratings), default=-1)

    @property
    def days(self) -> int:
        """On how many days."""
        return 1 + max((r.day for r in self.ratings), default=-1)


class _Places:
    """Where each block of the parameters lies."""

    def __init__(self, blocks: tuple[slice, ...], size: int) -> None:
        self.weights, self.trends, self.shares, self.gains, self.biases, self.sections, self.days = blocks
        self.size = size


@dataclass(frozen=True, kw_only=True, eq=False)
class Preference:
    """The posterior: most likely parameters and their covariance.

    Attributes
    ----------
    mode : array (n,)
        Most likely parameters.
    covariance : array (n, n)
        Of the Gaussian there.
    widening : float
        Factor on every standard deviation that is told; Laplace's are too narrow, so fix it on development panels [-].
    """

    evidence: Evidence
    prior: PreferencePrior
    mode: Floats
    covariance: Floats
    widening: float = 1.0

    @cached_property
    def _model(self) -> PreferenceModel:
        return PreferenceModel(self.evidence, self.prior)

    def utility(self, build: int, attribute: int = OVERALL) -> tuple[float, float]:
        """Return how good a build of the evidence is, and the standard deviation of that."""
        value, row = self._model.worth(self.mode, [build], [attribute])
        return float(value[0]), self._spread(row[0])

    def difference(self, build: int, reference: int, attribute: int = OVERALL) -> tuple[float, float]:
        """Return by how much a build is better than another, and the standard deviation of that."""
        value, rows = self._model.worth(self.mode, [build, reference], [attribute] * 2)
        return float(value[0] - value[1]), self._spread(rows[0] - rows[1])

    def better(self, build: int, reference: int, attribute: int = OVERALL) -> float:
        """Return the probability that a build is better than another [-]."""
        mean, spread = self.difference(build, reference, attribute)
        if spread == 0.0:
            return 0.5 if mean == 0.0 else float(mean > 0.0)
        return 0.5 * math.erfc(-mean / (spread * math.sqrt(2.0)))

    @property
    def shares(self) -> Floats:
        """Share of each attribute in the whole (attributes,); sums to 1."""
        return np.asarray(softmax(self.mode[self._model.places.shares]))

    @property
    def weights(self) -> Floats:
        """Weights of the measures (attributes, measures) [-]."""
        _, attributes, measures = self.evidence.measures.shape
        return self.mode[self._model.places.weights].reshape(attributes, measures)

    def _spread(self, row: Floats) -> float:
        return self.widening * math.sqrt(max(float(row @ self.covariance @ row), 0.0))


class PreferenceModel:
    """Log posterior, its gradient and its Gauss-Newton Hessian."""

    def __init__(self, evidence: Evidence, prior: PreferencePrior) -> None:
        self.evidence, self.prior = evidence, prior
        _, j, k = evidence.measures.shape
        sizes = (j * k, j * evidence.steps.shape[1], j, *(evidence.drivers,) * 2, evidence.drivers * j, evidence.days)
        ends = np.concatenate([[0], np.cumsum(sizes)])
        self.places = _Places(tuple(slice(int(a), int(b)) for a, b in itertools.pairwise(ends)), int(ends[-1]))
        self.attributes = j
        self.mean, self.spread = self._prior()

    def _prior(self) -> tuple[Floats, Floats]:
        """Return mean and standard deviation of every parameter; equal weights of unit spread together."""
        prior, at = self.prior, self.places
        mean, spread = np.zeros(at.size), np.ones(at.size)
        measures = self.evidence.measures
        sums = np.sum(measures, axis=2)
        together = np.std(sums, axis=0) if len(sums) else np.zeros(sums.shape[1])
        share = np.where(together > 0.0, 1.0 / np.where(together > 0.0, together, 1.0), 1.0)
        mean[at.weights] = np.repeat(prior.weight * share, measures.shape[2])
        spread[at.weights] = prior.weight_spread * np.abs(mean[at.weights])
        spread[at.trends] = prior.trend_spread
        spread[at.shares] = prior.share_spread
        mean[at.gains] = math.log(prior.gain)
        spread[at.gains] = prior.gain_spread
        spread[at.biases] = prior.bias_spread
        spread[at.sections] = prior.section_spread
        spread[at.days] = prior.day_spread
        return mean, spread

    def worth(self, theta: Floats, builds: Sequence[int], attributes: Sequence[int]) -> tuple[Floats, Floats]:
        """Return how good builds are, each in one respect or on the whole (n,), and the derivatives (n, parameters)."""
        at, rows = self.places, np.zeros((len(builds), len(theta)))
        of, respect = np.asarray(builds, dtype=int), np.asarray(attributes, dtype=int)
        phi, x = self.evidence.measures[of], self.evidence.steps[of]
        weights = theta[at.weights].reshape(phi.shape[1:])
        trends = theta[at.trends].reshape(self.attributes, -1)
        each = np.einsum("njk,jk->nj", phi, weights) + x @ trends.T
        shares = softmax(theta[at.shares])
        whole = respect == OVERALL
        share = np.where(whole[:, None], shares, np.arange(self.attributes) == respect[:, None])
        worth = np.sum(share * each, axis=1)
        rows[:, at.weights] = (share[:, :, None] * phi).reshape(len(of), -1)
        rows[:, at.trends] = (share[:, :, None] * x[:, None, :]).reshape(len(of), -1)
        rows[:, at.shares] = np.where(whole[:, None], shares * (each - worth[:, None]), 0.0)
        return worth, rows

    def _verdicts(self, theta: Floats) -> tuple[float, Floats, Floats, Floats]:
        """Return log likelihood, rows, slopes and curvatures of the verdicts."""
        told, noise = self.evidence.verdicts, self.prior.noise
        respect = [v.attribute for v in told]
        one, row_one = self.worth(theta, [v.tried for v in told], respect)
        two, row_two = self.worth(theta, [v.reference for v in told], respect)
        words = np.array([v.verdict for v in told], dtype=int)
        log, slope, curvature = self.prior.scale.log_likelihood((one - two) / noise, words)
        return float(np.sum(log)), (row_one - row_two) / noise, slope, curvature

    def _ratings(self, theta: Floats) -> tuple[float, Floats, Floats, Floats]:
        """Return log likelihood, rows, slopes and curvatures of the marks."""
        at, prior, told = self.places, self.prior, self.evidence.ratings
        respect = np.array([r.attribute for r in told], dtype=int)
        driver, day = (np.array([getattr(r, n) for r in told], dtype=int) for n in ("driver", "day"))
        value, rows = self.worth(theta, [r.build for r in told], list(respect))
        gain = np.exp(theta[at.gains.start + driver])
        rows *= gain[:, None]
        n, single = np.arange(len(told)), respect != OVERALL
        rows[n, at.gains.start + driver] = gain * value
        for place in (at.biases.start + driver, at.days.start + day):
            rows[n, place] = 1.0
        section = at.sections.start + driver * self.attributes + respect
        rows[n[single], section[single]] = 1.0
        shift = theta[at.biases.start + driver] + theta[at.days.start + day]
        shift[single] += theta[section[single]]
        off = np.array([r.mark for r in told]) - (MIDDLE_MARK + gain * value + shift)
        precision, tails = 1.0 / prior.mark_noise**2, prior.tails
        if math.isinf(tails):
            return float(-0.5 * precision * off @ off), rows, precision * off, np.full(len(told), precision)
        heavy = 1.0 + precision * off**2 / tails
        weight = (tails + 1.0) / tails * precision / heavy
        return float(-0.5 * (tails + 1.0) * np.sum(np.log(heavy))), rows, weight * off, weight

    def posterior(self, theta: Floats) -> tuple[float, Floats, Floats]:
        """Return the log posterior up to a constant, its gradient and its Gauss-Newton Hessian, which is positive."""
        pull = (theta - self.mean) / self.spread
        value, gradient, hessian = -0.5 * float(pull @ pull), -pull / self.spread, np.diag(self.spread**-2.0)
        for said, told in ((self.evidence.verdicts, self._verdicts), (self.evidence.ratings, self._ratings)):
            if said:
                log, rows, slope, curvature = told(theta)
                value += log
                gradient = gradient + rows.T @ slope
                root = np.sqrt(curvature)[:, None] * rows  # its own product is half the work of a general one
                hessian = hessian + root.T @ root
        return value, gradient, hessian


def log_posterior(evidence: Evidence, prior: PreferencePrior, theta: Floats) -> tuple[float, Floats]:
    """Return the log posterior of parameters up to a constant, and its gradient (n,), for whoever checks the fit."""
    value, gradient, _ = PreferenceModel(evidence, prior).posterior(np.asarray(theta, dtype=np.float64))
    return value, gradient


def fit_preference(
    evidence: Evidence, prior: PreferencePrior | None = None, *, widening: float = 1.0, steps: int = 500
) -> Preference:
    """Return what drivers prefer, by their verdicts and marks.

    Parameters
    ----------
    evidence : Evidence
        What was computed and said.
    prior : PreferencePrior, optional
        What is believed before.
    widening : float
        Factor on the standard deviations that are told [-].
    steps : int
        Steps of the search at most.

    Raises
    ------
    SolverError
        The steps do not settle; says how far they were.
    """
    prior = prior or PreferencePrior()
    model = PreferenceModel(evidence, prior)
    found = [find_mode(model, model.mean, left=_SETTLED, steps=steps)]
    # Slips make verdicts flat far from what was expected: a whole panel that says otherwise would be taken for slips.
    # Drivers who are taken for noisier at first, and less so step by step, lead there.
    theta = model.mean
    for times in _NOISIER:
        noisy = PreferenceModel(evidence, replace(prior, noise=times * prior.noise))
        theta = find_mode(noisy, theta, left=_SETTLED, steps=steps)[0]
    found.append(find_mode(model, theta, left=_SETTLED, steps=steps))
    mode, factor = max(found, key=lambda f: model.posterior(f[0])[0])
    covariance = cho_solve((factor, True), np.eye(len(mode)))
    return Preference(evidence=evidence, prior=prior, mode=mode, covariance=covariance, widening=widening)
