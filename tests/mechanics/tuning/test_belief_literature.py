"""The adviser's parts against closed forms, brute force and general-purpose libraries.

Sources:

1. scikit-learn: `GaussianProcessRegressor` with a fixed kernel is the local residual from Gaussian marks;
   `PolynomialFeatures` and `Ridge` are the emulator.
2. SciPy: `integrate.quad` over the posterior of one unknown; `optimize.approx_fprime` on the whole posterior.
3. Expected value of the better of two builds, mu Phi(mu / s) + s phi(mu / s) (Clark, The greatest of a finite set of
   random variables, Operations Research 9, 1961, from memory), and brute force by the definition of the knowledge
   gradient (Frazier, Powell and Dayanik 2008, from memory): draw the truth and what is said, condition, take the best.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import integrate, optimize
from scipy.stats import norm
from sklearn.gaussian_process import GaussianProcessRegressor
from sklearn.gaussian_process.kernels import RBF, ConstantKernel
from sklearn.linear_model import Ridge
from sklearn.preprocessing import PolynomialFeatures

from tussock.mechanics.tuning import (
    OVERALL,
    Attribute,
    BeliefPrior,
    Drives,
    Emulator,
    Lattice,
    PairVerdict,
    PreferencePrior,
    Rating,
    VerdictScale,
    fit_belief,
    point_of,
)
from tussock.mechanics.tuning.belief import LatticeModel
from tussock.mechanics.tuning.knowledge import expected_best

LATTICE = Lattice(counts=(7, 7, 5), reach=None)
NONE = 1e-7
#: A driver without level, day or gain of his own.
PLAIN = PreferencePrior(
    weight_spread=NONE, trend_spread=NONE, share_spread=NONE, gain=1.0, gain_spread=NONE, bias_spread=NONE,
    section_spread=NONE, day_spread=NONE, mark_noise=0.5, tails=np.inf,
)  # fmt: skip


def simulated(points: np.ndarray) -> np.ndarray:
    """Return an invented simulation's logarithms, of which one is no quadratic."""
    x = LATTICE.scaled(points)
    firm = 0.5 * (x[:, 0] + x[:, 1])
    return np.stack([0.3 * firm + 0.1 * x[:, 2] ** 2, 0.2 * np.exp(0.7 * firm) - 0.1 * x[:, 2]], axis=1)


@pytest.fixture(scope="module")
def emulator() -> Emulator:
    points = LATTICE.random(np.random.default_rng(0), 150)
    attributes = (Attribute(name="comfort", measures=(0, 1)), Attribute(name="control", measures=(1,)))
    return Emulator.fit(LATTICE, attributes, points, simulated(points))


def test_the_emulator_is_the_library_s_ridge_over_a_quadratic(emulator: Emulator) -> None:
    """Source 1: the same penalty a build, the constant penalised too; 1e-8 of standard deviations."""
    points = LATTICE.random(np.random.default_rng(0), 150)
    made = PolynomialFeatures(degree=2)
    z = (simulated(points) - emulator.centre) / emulator.spread
    library = Ridge(alpha=1e-3 * len(points), fit_intercept=False).fit(made.fit_transform(LATTICE.scaled(points)), z)
    x = LATTICE.scaled(LATTICE.random(np.random.default_rng(1), 40))
    assert emulator.standard(x) == pytest.approx(library.predict(made.transform(x)), abs=1e-8)


def test_the_local_residual_is_the_library_s_gaussian_process(emulator: Emulator) -> None:
    """Source 1: marks of the first attribute alone, all else known; mean and standard deviation elsewhere to 1e-4."""
    random = np.random.default_rng(2)
    builds = tuple(dict.fromkeys(point_of(row) for row in LATTICE.random(random, 12)))
    prior = BeliefPrior(preference=PLAIN, offset_spread=NONE, local_spread=0.6, local_length=0.9, widening=1.0)
    known = fit_belief(Drives(), emulator, prior)
    off = random.normal(scale=0.8, size=len(builds))
    marks = 6.0 + known.mean(np.array(builds), 0) + off
    told = tuple(Rating(build=i, attribute=0, driver=0, day=0, mark=float(m)) for i, m in enumerate(marks))
    belief = fit_belief(Drives(builds=builds, driven=tuple(range(len(builds))), ratings=told), emulator, prior)
    kernel = ConstantKernel(0.6**2, "fixed") * RBF(0.9, "fixed")
    library = GaussianProcessRegressor(kernel, alpha=0.5**2, optimizer=None).fit(LATTICE.scaled(np.array(builds)), off)
    points = LATTICE.random(random, 30)
    mean, spread = library.predict(LATTICE.scaled(points), return_std=True)
    found, rows, own = belief.worth(points, 0)
    assert found - known.mean(points, 0) == pytest.approx(mean, abs=1e-4)
    assert np.sqrt(np.sum(rows**2, axis=1) + own) == pytest.approx(spread, abs=1e-4)


def _spoken(random: np.random.Generator, count: int, attributes: int = 2) -> Drives:
    builds = tuple(dict.fromkeys(point_of(row) for row in LATTICE.random(random, count)))
    respects = (*range(attributes), OVERALL)
    verdicts = tuple(
        PairVerdict(tried=i, reference=i - 1, attribute=a, verdict=int(random.integers(-2, 3)))
        for i in range(1, len(builds))
        for a in respects
    )
    marks = tuple(
        Rating(build=i, attribute=a, driver=i % 2, day=i, mark=float(random.uniform(4.0, 8.0)))
        for i in range(len(builds))
        for a in respects
    )
    return Drives(builds=builds, driven=tuple(range(len(builds))), verdicts=verdicts, ratings=marks)


def test_slopes_of_the_whole_posterior_are_those_of_finite_differences(emulator: Emulator) -> None:
    """Source 2: offset and local residual among all; 1e-4 of the largest slope."""
    random = np.random.default_rng(3)
    model = LatticeModel(_spoken(random, 7), emulator, BeliefPrior())
    theta = model.mean + 0.5 * model.spread * random.normal(size=len(model.mean))
    # in spreads of the prior: padding of short lists of measures is as good as fixed
    slopes = optimize.approx_fprime(theta / model.spread, lambda t: model.posterior(t * model.spread)[0], 1e-6)
    found = model.posterior(theta)[1] * model.spread
    assert found == pytest.approx(slopes, abs=1e-4 * np.max(np.abs(slopes)))
    assert np.max(np.abs(found[model.offset])) > 1e-2 * np.max(np.abs(found))


@pytest.mark.parametrize("firmer", [0.3, -0.2])
def test_an_offset_is_found_from_marks_alone(emulator: Emulator, firmer: float) -> None:
    """Marks without noise of a vehicle that is firmer than computed: the offset to 0.01 of half the range."""
    prior = BeliefPrior(preference=PLAIN, offset_spread=0.5, local_spread=NONE)
    random = np.random.default_rng(4)
    builds = tuple(dict.fromkeys(point_of(row) for row in LATTICE.random(random, 30)))
    model = LatticeModel(Drives(builds=builds), emulator, prior)
    theta = model.mean.copy()
    theta[model.offset.start] = firmer
    worth = model.value(theta, LATTICE.scaled(np.array(builds)), model.columns)
    told = tuple(
        Rating(build=i, attribute=a, driver=0, day=0, mark=6.0 + float(worth[i, a]))
        for i in range(len(builds))
        for a in range(2)
        for _ in range(40)
    )
    belief = fit_belief(Drives(builds=builds, driven=tuple(range(len(builds))), ratings=told), emulator, prior)
    # its first two adjusters enter the simulation as their mean: their offsets are known together only
    found = belief.mode[belief.model.offset]
    assert found[:2].sum() == pytest.approx(firmer, abs=0.03)


@pytest.mark.parametrize("lapse", [0.0, 0.05])
def test_the_gaussian_at_the_mode_against_quadrature(lapse: float) -> None:
    """Source 2: one unknown (a trend), eight verdicts, one against the others; 1 % and 3 % of its doubt."""
    lattice = Lattice(counts=(7,), reach=None)
    points = np.arange(7)[:, None]
    attribute = (Attribute(name="all", measures=(0,)),)
    flat = Emulator.fit(lattice, attribute, np.tile(points, (3, 1)), np.tile(0.3 * lattice.scaled(points), (3, 1)))
    said = (1, 1, 0, 2, 1, -1, 1, 0)
    verdicts = tuple(PairVerdict(tried=1, reference=0, attribute=0, verdict=v) for v in said)
    builds = ((0,), (6,))
    drives = Drives(builds=builds, driven=(0, 1), verdicts=verdicts)
    told = replace(PLAIN, trend_spread=0.5, scale=VerdictScale(lapse=lapse))
    prior = BeliefPrior(preference=told, offset_spread=NONE, local_spread=NONE, widening=1.0)
    belief = fit_belief(drives, flat, prior)
    known = fit_belief(Drives(), flat, replace(prior, preference=PLAIN)).mean(np.array(builds), 0)
    gap = float(known[1] - known[0])
    scale, noise = prior.preference.scale, prior.preference.noise

    def chance(trend: float) -> float:
        p = scale.probabilities((gap + 2.0 * trend) / noise)[np.array(said) + 2]
        return float(np.prod(p) * norm.pdf(trend, scale=0.5))

    total, mean, square = (
        integrate.quad(lambda t, k=k: (gap + 2.0 * t) ** k * chance(t), -2.0, 2.0, epsabs=0.0, limit=300)[0]
        for k in range(3)
    )
    spread = np.sqrt(square / total - (mean / total) ** 2)
    found, doubt = belief.difference(np.array([builds[1]]), builds[0], 0)
    assert found[0] == pytest.approx(mean / total, abs=0.01 * spread)
    assert doubt[0] == pytest.approx(spread, rel=0.03)


@pytest.mark.parametrize(("gap", "doubt", "noise"), [(-0.1, 0.3, 0.35), (-0.3, 0.2, 0.1), (0.0, 0.5, 0.01)])
def test_two_builds_have_the_closed_form(gap: float, doubt: float, noise: float) -> None:
    """Source 3: 21 nodes leave up to 0.01 of the standard deviation at the kink."""
    mean, rows = np.array([0.0, gap]), np.array([[0.0], [doubt]])
    found = expected_best(mean, rows, np.zeros(2), np.array([1]), noise=noise)[0]
    s = doubt**2 / np.hypot(doubt, noise)
    assert found == pytest.approx(gap * norm.cdf(gap / s) + s * norm.pdf(gap / s), abs=0.01 * s)


@pytest.mark.parametrize("reference", [0, 3])
def test_the_knowledge_gradient_is_what_brute_force_of_its_definition_gives(reference: int) -> None:
    """Source 3: eight builds of any covariance, each with a part of its own; 0.01 of some 0.7."""
    random = np.random.default_rng(6)
    mean, rows, own = 0.2 * random.normal(size=8), 0.3 * random.normal(size=(8, 5)), random.uniform(0.01, 0.05, 8)
    noise = 0.35
    tried = np.delete(np.arange(8), reference)
    found = expected_best(mean, rows, own, tried, noise=noise, reference=reference)
    cover = rows @ rows.T + np.diag(own)
    draws = random.multivariate_normal(mean, cover, size=40_000)
    for place, i in enumerate(tried):
        said = draws[:, i] - draws[:, reference] + noise * random.normal(size=len(draws))
        way = cover[:, i] - cover[:, reference]
        kept = mean + np.outer(said - (mean[i] - mean[reference]), way / (way[i] - way[reference] + noise**2))
        assert found[place] == pytest.approx(np.mean(np.max(kept, axis=1)), abs=0.01)
    assert np.ptp(found) > 0.05


def test_intervals_hold_as_often_as_they_say(emulator: Emulator) -> None:
    """40 hidden worlds of the prior's own kind, 9 drives: 90 % intervals of differences hold in 86-94 %."""
    random = np.random.default_rng(7)
    prior = BeliefPrior()
    hits = []
    for _ in range(40):
        spoken = _spoken(random, 9)
        model = LatticeModel(spoken, emulator, prior)
        theta = model.mean + model.spread * random.normal(size=len(model.mean))
        v, r = spoken.verdicts, spoken.ratings
        worth = [
            model.worth(theta, [getattr(t, n) for t in v], [t.attribute for t in v])[0] for n in ("tried", "reference")
        ]
        chances = prior.preference.scale.probabilities((worth[0] - worth[1]) / prior.preference.noise)
        words = [int(random.choice((-2, -1, 0, 1, 2), p=p)) for p in chances]
        felt = model.worth(theta, [t.build for t in r], [t.attribute for t in r])[0]
        at = model.places
        marks = [
            6.0 + np.exp(theta[at.gains][t.driver]) * f + theta[at.biases][t.driver] + theta[at.days][t.day]
            + (theta[at.sections].reshape(-1, 2)[t.driver, t.attribute] if t.attribute != OVERALL else 0.0)
            + prior.preference.mark_noise * random.standard_t(prior.preference.tails)
            for t, f in zip(r, felt, strict=True)
        ]  # fmt: skip
        drives = Drives(
            builds=spoken.builds, driven=spoken.driven,
            verdicts=tuple(PairVerdict(tried=t.tried, reference=t.reference, attribute=t.attribute, verdict=w)
                           for t, w in zip(v, words, strict=True)),
            ratings=tuple(Rating(build=t.build, attribute=t.attribute, driver=t.driver, day=t.day, mark=float(m))
                          for t, m in zip(r, marks, strict=True)),
        )  # fmt: skip
        belief = fit_belief(drives, emulator, prior)
        true = model.worth(theta, range(len(spoken.builds)), [OVERALL] * len(spoken.builds))[0]
        mean, spread = belief.difference(np.array(spoken.builds[1:]), spoken.builds[0])
        hits += list(np.abs(true[1:] - true[0] - mean) <= 1.6449 * spread)
    assert 0.86 <= np.mean(hits) <= 0.94
