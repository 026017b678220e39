"""The preference model against closed forms and general-purpose libraries.

Sources:

1. Bradley, R. A. and Terry, M. E., Rank analysis of incomplete block designs, Biometrika 39, 1952: of two items the
   most likely log odds are ln(wins / losses) (from memory).
2. scikit-learn: `LogisticRegression` with a ridge penalty is the most likely Bradley-Terry model over features under a
   Gaussian prior.
3. Bayesian linear regression in closed form (Gaussian marks): mean and covariance by NumPy; scikit-learn's `Ridge`.
4. SciPy: `optimize.minimize` and `optimize.approx_fprime` on the whole model.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import optimize
from sklearn.linear_model import LogisticRegression, Ridge

from tussock.mechanics.tuning import (
    Evidence,
    PairVerdict,
    PreferencePrior,
    Rating,
    VerdictScale,
    fit_preference,
    log_posterior,
)

BRADLEY_TERRY = VerdictScale(slight=0.0, much=500.0, lapse=0.0, logistic=True)
FLAT = 1e4


def bradley_terry(spread: float) -> PreferencePrior:
    """Verdicts of two kinds alone, weights about nothing."""
    return PreferencePrior(weight=-1e-9, weight_spread=spread * 1e9, trend_spread=1e-9, noise=1.0, scale=BRADLEY_TERRY)


@pytest.mark.parametrize(("wins", "losses"), [(7, 3), (1, 9), (12, 11)])
def test_two_builds_have_the_closed_form(wins: int, losses: int) -> None:
    """Source 1, under a prior so wide that it says nothing: 1e-4 of the log odds; its error by the delta method."""
    evidence = Evidence(
        measures=np.array([[[1.0]], [[0.0]]]),
        steps=np.zeros((2, 0)),
        verdicts=[
            PairVerdict(tried=0, reference=1, attribute=0, verdict=1 if i < wins else -1) for i in range(wins + losses)
        ],
    )
    mean, spread = fit_preference(evidence, bradley_terry(FLAT)).difference(0, 1, 0)
    assert mean == pytest.approx(math.log(wins / losses), abs=1e-4)
    assert spread == pytest.approx(math.sqrt(1.0 / wins + 1.0 / losses), rel=1e-4)


def test_many_builds_over_measures_are_the_library_s_logistic_regression() -> None:
    """Source 2: the same data, the same prior; weights to 1e-4 of the largest (the library stops at a gradient)."""
    rng = np.random.default_rng(5)
    phi, true = rng.normal(size=(9, 3)), np.array([-1.0, 0.4, -0.2])
    pairs = [tuple(rng.choice(9, 2, replace=False)) for _ in range(60)]
    won = [bool(rng.random() < 1.0 / (1.0 + np.exp(-(phi[a] - phi[b]) @ true))) for a, b in pairs]
    spread = 0.8
    evidence = Evidence(
        measures=phi[:, None, :],
        steps=np.zeros((9, 0)),
        verdicts=[
            PairVerdict(tried=int(a), reference=int(b), attribute=0, verdict=1 if w else -1)
            for (a, b), w in zip(pairs, won, strict=True)
        ],
    )
    # our prior is in the unit in which all measures together spread by one over builds
    unit = 1.0 / np.std(np.sum(phi, axis=1))
    ours = fit_preference(evidence, bradley_terry(spread / unit)).weights[0]
    rows = np.array([phi[a] - phi[b] for a, b in pairs])
    theirs = LogisticRegression(C=spread**2, fit_intercept=False, tol=1e-10, max_iter=2000).fit(rows, won).coef_[0]
    np.testing.assert_allclose(ours, theirs, atol=1e-4 * np.max(np.abs(theirs)))


def test_gaussian_marks_are_bayesian_linear_regression() -> None:
    """Source 3: one driver whose level and gain are known; mean and covariance of two builds' difference to 1e-6."""
    rng = np.random.default_rng(8)
    phi = rng.normal(size=(12, 2))
    marks = 6.0 + phi @ np.array([-0.8, -0.3]) + rng.normal(scale=0.5, size=12)
    prior = PreferencePrior(
        weight=-1e-9, weight_spread=1e9, trend_spread=1e-9, gain=1.0, gain_spread=1e-7, bias_spread=1e-7,
        section_spread=1e-7, day_spread=1e-7, mark_noise=0.5, tails=math.inf,
    )  # fmt: skip
    evidence = Evidence(
        measures=phi[:, None, :],
        steps=np.zeros((12, 0)),
        ratings=[Rating(build=i, attribute=0, driver=0, day=0, mark=float(y)) for i, y in enumerate(marks)],
    )
    found = fit_preference(evidence, prior)
    spread = 1.0 / np.std(np.sum(phi, axis=1))
    precision = phi.T @ phi / 0.25 + np.eye(2) / spread**2
    weights = np.linalg.solve(precision, phi.T @ (marks - 6.0) / 0.25)
    np.testing.assert_allclose(found.weights[0], weights, rtol=1e-6)
    step = phi[3] - phi[7]
    mean, error = found.difference(3, 7, 0)
    assert (mean, error) == pytest.approx(
        (step @ weights, math.sqrt(step @ np.linalg.solve(precision, step))), rel=1e-6
    )
    ridge = Ridge(alpha=0.25 / spread**2, fit_intercept=False).fit(phi, marks - 6.0)
    np.testing.assert_allclose(found.weights[0], ridge.coef_, rtol=1e-6)


def whole() -> tuple[Evidence, PreferencePrior]:
    """Two attributes, the whole, two drivers, three days: every kind of parameter has data."""
    rng = np.random.default_rng(3)
    verdicts = [
        PairVerdict(
            tried=int(a), reference=int(b), attribute=int(rng.integers(-1, 2)), verdict=int(rng.integers(-2, 3))
        )
        for a, b in (rng.choice(6, 2, replace=False) for _ in range(15))
    ]
    ratings = [
        Rating(build=int(rng.integers(6)), attribute=int(rng.integers(-1, 2)), driver=int(rng.integers(2)),
               day=int(rng.integers(3)), mark=float(rng.integers(2, 10)))
        for _ in range(18)
    ]  # fmt: skip
    measures, steps = rng.normal(size=(6, 2, 3)), rng.normal(size=(6, 2))
    return Evidence(measures=measures, steps=steps, verdicts=verdicts, ratings=ratings), PreferencePrior()


def test_the_slope_is_that_of_finite_differences() -> None:
    """Source 4, at a point that is nobody's optimum."""
    evidence, prior = whole()
    size = len(fit_preference(evidence, prior).mode)
    theta = 0.3 * np.random.default_rng(1).normal(size=size)
    slope = optimize.approx_fprime(theta, lambda t: log_posterior(evidence, prior, t)[0], 1e-6)
    np.testing.assert_allclose(log_posterior(evidence, prior, theta)[1], slope, atol=2e-4)


def test_the_most_likely_parameters_are_those_of_a_general_minimiser() -> None:
    """Source 4: the same posterior, found by BFGS from the same start."""
    evidence, prior = whole()
    found = fit_preference(evidence, prior)

    def downhill(theta: np.ndarray) -> tuple[float, np.ndarray]:
        value, gradient = log_posterior(evidence, prior, theta)
        return -value, -gradient

    start = np.zeros(len(found.mode))
    theirs = optimize.minimize(downhill, start, jac=True, method="BFGS", options={"gtol": 1e-7, "maxiter": 2000})
    assert log_posterior(evidence, prior, found.mode)[0] == pytest.approx(-theirs.fun, abs=1e-6)
    np.testing.assert_allclose(found.mode, theirs.x, atol=1e-3)
