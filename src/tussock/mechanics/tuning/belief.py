"""What drivers prefer anywhere on a lattice: the preference model with what the simulation does not know.

To the weights and trends of `preference` come one shared offset of the adjusters (the hardware is firmer or softer than
computed, whatever is judged) and a local residual over builds, a Gaussian process that grows with the drives: near
driven builds it bends to what drivers say, far from them it widens the doubt.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from scipy.linalg import solve_triangular
from scipy.special import softmax

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats, Ints
from tussock.mechanics.tuning import preference as pref
from tussock.mechanics.tuning.emulator import Emulator
from tussock.mechanics.tuning.lattice import Point
from tussock.mechanics.tuning.mode import find_mode
from tussock.mechanics.tuning.preference import OVERALL, PairVerdict, PreferencePrior, Rating

_SETTLED = 1e-6  # share of the log posterior that may still be won: far below what one verdict tells


@dataclass(frozen=True, kw_only=True)
class Drives:
    """What was driven and said.

    Attributes
    ----------
    builds : tuple of Point
        Every build that was driven or compared with, each once, in the order in which they came.
    driven : tuple of int
        Which build each drive was, by its place; the oldest first.
    verdicts, ratings : tuples
        What was said; places count the builds, the emulator's attributes, drivers and days from 0.
    """

    builds: tuple[Point, ...] = ()
    driven: tuple[int, ...] = ()
    verdicts: tuple[PairVerdict, ...] = ()
    ratings: tuple[Rating, ...] = ()

    def __post_init__(self) -> None:
        """Refuse a build that is told twice, and places that are not there."""
        if len(set(self.builds)) != len(self.builds):
            raise DomainError("a build stands twice among those driven: verdicts on it would count as of two")
        used = (*self.driven, *(r.build for r in self.ratings), *(b for v in self.verdicts for b in _pair(v)))
        if used and not (0 <= min(used) and max(used) < len(self.builds)):
            raise DomainError(f"a drive or a verdict is of build {max(used)}; there are {len(self.builds)}")


def _pair(verdict: PairVerdict) -> tuple[int, int]:
    return verdict.tried, verdict.reference


@dataclass(frozen=True, kw_only=True)
class BeliefPrior:
    """What is believed before anybody drives.

    Attributes
    ----------
    preference : PreferencePrior
        Of weights, trends, shares, drivers and noise; trends over levels scaled to -1..1.
    offset_spread : float
        Of the shared offset of each adjuster [half its range].
    local_spread : float
        Of the local residual [-].
    local_length : float
        Over which it changes, in levels scaled to -1..1 [-].
    widening : float
        Factor on every standard deviation that is told, fixed on worlds of our own [-].
    """

    preference: PreferencePrior = field(
        default_factory=lambda: PreferencePrior(weight_spread=0.7, trend_spread=0.05, share_spread=0.9)
    )
    offset_spread: float = 0.1
    local_spread: float = 0.06
    local_length: float = 1.5
    widening: float = 1.2


class LatticeModel(pref.PreferenceModel):
    """The posterior of `preference` with offset and local residual; builds are points of the lattice."""

    def __init__(self, drives: Drives, emulator: Emulator, prior: BeliefPrior) -> None:
        self.emulator, self.wide = emulator, prior
        lattice = emulator.lattice
        points = np.array(drives.builds, dtype=np.int64).reshape(len(drives.builds), len(lattice.counts))
        x = lattice.scaled(points)
        told = pref.Evidence(
            measures=emulator.features(x), steps=x, verdicts=drives.verdicts, ratings=drives.ratings
        )  # fmt: skip
        self.root = np.linalg.cholesky(self._kernel(x, x) + 1e-6 * np.eye(len(x)))
        super().__init__(told, prior.preference)
        first = self.places.size
        self.offset = slice(first, first + x.shape[1])
        self.local = slice(self.offset.stop, self.offset.stop + len(x))
        self.places.size = self.local.stop
        self.mean = np.concatenate([self.mean, np.zeros(x.shape[1] + len(x))])
        self.spread = np.concatenate(
            [self.spread, np.full(x.shape[1], prior.offset_spread), np.full(len(x), prior.local_spread)]
        )
        self.columns = self.columns_of(x)
        self._last: tuple[Floats, Floats, tuple[Floats, ...]] | None = None

    def _prior(self) -> tuple[Floats, Floats]:
        """Return mean and spread of the parameters of `preference`; weights as the emulator's shares believe."""
        mean, spread = super()._prior()
        at, share = self.places, self.emulator.shares
        both = self.emulator.standard_sums
        mean[at.weights] = (self.prior.weight * share / both[:, None]).ravel()
        # a small share may well be a middling one: the spread never falls below half of an equal share's
        equal = 1.0 / np.maximum((share > 0.0).sum(axis=1), 1)[:, None]
        size = np.where(share > 0.0, np.maximum(share, 0.5 * equal) / both[:, None], 1e-6)
        spread[at.weights] = (self.prior.weight_spread * abs(self.prior.weight) * size).ravel()
        mean[at.shares] = np.log([a.counts for a in self.emulator.attributes])
        return mean, spread

    def _kernel(self, one: Floats, two: Floats) -> Floats:
        square = np.sum(one**2, axis=1)[:, None] + np.sum(two**2, axis=1) - 2.0 * one @ two.T
        return np.asarray(np.exp(-0.5 * np.maximum(square, 0.0) / self.wide.local_length**2))

    def columns_of(self, x: Floats) -> Floats:
        """Return how the local residual at levels (n, adjusters) hangs on its coefficients (n, builds)."""
        return np.asarray(solve_triangular(self.root, self._kernel(self.known, x), lower=True).T)

    @property
    def known(self) -> Floats:
        """Scaled levels of the builds driven."""
        return self.evidence.steps

    def worth(self, theta: Floats, builds: Sequence[int], attributes: Sequence[int]) -> tuple[Floats, Floats]:
        """Return how good builds of the evidence are (n,), and the derivatives (n, parameters)."""
        if self._last is None or not np.array_equal(self._last[0], theta):  # asked three times of the same parameters
            each, made = self.each(theta, self.known, self.columns)
            self._last = (theta.copy(), each, made)
        _, each, made = self._last
        return self.shared(theta, each, made, np.asarray(builds, dtype=int), np.asarray(attributes, dtype=int))

    def value(self, theta: Floats, x: Floats, columns: Floats) -> Floats:
        """Return every attribute of builds (n, attributes)."""
        weights = theta[self.places.weights].reshape(self.emulator.shares.shape)
        trends = theta[self.places.trends].reshape(self.attributes, -1)
        phi = self.emulator.features(x + theta[self.offset])
        told = np.einsum("njk,jk->nj", phi, weights) + x @ trends.T
        return np.asarray(told + (columns @ theta[self.local])[:, None])

    def each(self, theta: Floats, x: Floats, columns: Floats) -> tuple[Floats, tuple[Floats, ...]]:
        """Return every attribute of builds (n, attributes) and what its derivatives are made of."""
        at = self.places
        moved = x + theta[self.offset]
        phi = self.emulator.features(moved)
        weights = theta[at.weights].reshape(phi.shape[1:])
        return self.value(theta, x, columns), (phi, x, self.emulator.slopes(moved, weights), columns)

    def shared(
        self, theta: Floats, each: Floats, made: tuple[Floats, ...], of: Ints, respect: Ints
    ) -> tuple[Floats, Floats]:
        """Return values and derivatives of builds, each in one respect or on the whole."""
        at, (phi, x, slopes, columns) = self.places, made
        rows = np.zeros((len(of), len(theta)))
        shares = softmax(theta[at.shares])
        whole = respect == OVERALL
        share = np.where(whole[:, None], shares, np.arange(self.attributes) == respect[:, None])
        value = np.sum(share * each[of], axis=1)
        rows[:, at.weights] = (share[:, :, None] * phi[of]).reshape(len(of), -1)
        rows[:, at.trends] = (share[:, :, None] * x[of][:, None, :]).reshape(len(of), -1)
        rows[:, at.shares] = np.where(whole[:, None], shares * (each[of] - value[:, None]), 0.0)
        rows[:, self.offset] = np.einsum("nj,nja->na", share, slopes[of])
        rows[:, self.local] = columns[of]
        return value, rows

    def blocks(self) -> tuple[slice, ...]:
        """Return where each block of the parameters lies."""
        at = self.places
        return (at.weights, at.trends, at.shares, at.gains, at.biases, at.sections, at.days, self.offset, self.local)


@dataclass(frozen=True, kw_only=True, eq=False)
class Belief:
    """The posterior over the lattice: most likely parameters and the Gaussian there.

    Attributes
    ----------
    drives : Drives
        What it comes of.
    emulator : Emulator
        Of the simulation.
    prior : BeliefPrior
        What was believed before.
    mode : array (n,)
        Most likely parameters.
    factor : array (n, n)
        Lower Cholesky factor of the Hessian there.
    """

    drives: Drives
    emulator: Emulator
    prior: BeliefPrior
    mode: Floats
    factor: Floats

    @cached_property
    def model(self) -> LatticeModel:
        """What computes values and their derivatives."""
        return LatticeModel(self.drives, self.emulator, self.prior)

    def worth(self, points: Ints, attribute: int = OVERALL) -> tuple[Floats, Floats, Floats]:
        """Return how good builds (n, adjusters) are: mean (n,), spread rows (n, m), own variance (n,).

        The covariance of two builds is the product of their spread rows; a build's own variance is what no other
        driven build tells of it. Widened as the prior says.
        """
        model, x = self.model, self.emulator.lattice.scaled(points)
        columns = model.columns_of(x)
        each, made = model.each(self.mode, x, columns)
        n = np.arange(len(x))
        value, rows = model.shared(self.mode, each, made, n, np.full(len(x), attribute))
        own = np.maximum(1.0 - np.sum(columns**2, axis=1), 0.0) * self.prior.local_spread**2
        wide = self.prior.widening
        return value, wide * solve_triangular(self.factor, rows.T, lower=True).T, wide**2 * own

    def mean(self, points: Ints, attribute: int = OVERALL) -> Floats:
        """Return how good builds are believed to be (n,), without the doubt."""
        model, x = self.model, self.emulator.lattice.scaled(points)
        each = model.value(self.mode, x, model.columns_of(x))
        return np.asarray(
            each @ softmax(self.mode[model.places.shares]) if attribute == OVERALL else each[:, attribute]
        )

    def difference(self, points: Ints, reference: Point, attribute: int = OVERALL) -> tuple[Floats, Floats]:
        """Return by how much builds (n, adjusters) are better than another, and the standard deviation (n,)."""
        both = np.vstack([np.atleast_2d(points), reference])
        value, rows, own = self.worth(both, attribute)
        same = np.all(both[:-1] == both[-1], axis=1)
        variance = np.sum((rows[:-1] - rows[-1]) ** 2, axis=1) + own[:-1] + own[-1]
        return value[:-1] - value[-1], np.where(same, 0.0, np.sqrt(variance))

    @property
    def weights(self) -> Floats:
        """Weights of the bent measures by attribute (attributes, k), in the emulator's order [-]."""
        return self.mode[self.model.places.weights].reshape(self.emulator.shares.shape)

    @property
    def shares(self) -> Floats:
        """Share of each attribute in the whole (attributes,); sums to 1."""
        return np.asarray(softmax(self.mode[self.model.places.shares]))

    @property
    def biases(self) -> Floats:
        """How many marks above or below the others each driver marks (drivers,)."""
        return self.mode[self.model.places.biases]

    @property
    def gains(self) -> Floats:
        """How many marks each driver gives for one unit (drivers,)."""
        return np.asarray(np.exp(self.mode[self.model.places.gains]))


def fit_belief(
    drives: Drives, emulator: Emulator, prior: BeliefPrior | None = None, *, start: Belief | None = None
) -> Belief:
    """Return what drivers prefer over the lattice.

    Parameters
    ----------
    drives : Drives
        What was driven and said; none leaves the simulation's opinion.
    emulator : Emulator
        Of the simulation.
    prior : BeliefPrior, optional
        What is believed before.
    start : Belief, optional
        From earlier drives of the same vehicle: the search begins there.

    Raises
    ------
    SolverError
        The steps do not settle; says how far they were.
    """
    prior = prior or BeliefPrior()
    model = LatticeModel(drives, emulator, prior)
    if start is None:
        # verdicts far from what was expected look like slips: drivers taken for noisier at first lead there
        noisy = replace(prior, preference=replace(prior.preference, noise=3.0 * prior.preference.noise))
        theta = find_mode(LatticeModel(drives, emulator, noisy), model.mean, left=_SETTLED)[0]
    else:
        theta = model.mean.copy()
        for old, new in zip(start.model.blocks(), model.blocks(), strict=True):
            n = min(old.stop - old.start, new.stop - new.start)
            theta[new.start : new.start + n] = start.mode[old.start : old.start + n]
    theta, factor = find_mode(model, theta, left=_SETTLED)
    return Belief(drives=drives, emulator=emulator, prior=prior, mode=theta, factor=factor)
