"""Verdicts against closed forms and a general-purpose library.

Sources:

1. Thurstone, L. L., A law of comparative judgment, Psychological Review 34, 1927: case V, the share of 'better' is
   Phi(d) with d the difference in units of the noise of one comparison (from memory).
2. McCullagh, P., Regression models for ordinal data, J. R. Statist. Soc. B 42, 1980: ordered categories are bounds on
   one latent scale (from memory).
3. Kish, L., Survey sampling, Wiley 1965: design effect 1 + (n - 1) rho of n answers alike by rho (from memory).
4. SciPy: `stats.norm`, `integrate.simpson`.
"""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from scipy import integrate, stats

from tussock.errors import DomainError
from tussock.mechanics.tuning import VERDICTS, Comparison, VerdictScale, Window, WindowPrior, drive_weight


@pytest.mark.parametrize("difference", [-40.0, -6.0, -0.4, 0.0, 1.3, 8.0, 39.0])
def test_categories_are_bounds_on_one_scale(difference: float) -> None:
    """Source 2, each category from whichever tail SciPy computes without loss; 1e-13 of each share."""
    scale = VerdictScale(slight=0.3, much=1.2, lapse=0.0)
    bounds = [-math.inf, -1.2, -0.3, 0.3, 1.2, math.inf]
    noise = stats.norm(loc=difference)
    wanted = [
        noise.cdf(high) - noise.cdf(low) if difference <= 0.0 else noise.sf(low) - noise.sf(high)
        for low, high in itertools.pairwise(bounds)
    ]
    np.testing.assert_allclose(scale.probabilities(difference), wanted, rtol=1e-13, atol=1e-300)


def test_slips_are_shared_among_all_verdicts() -> None:
    p = VerdictScale(lapse=0.1).probabilities(np.array([60.0, -60.0]))
    np.testing.assert_allclose(p, [[0.02, 0.02, 0.02, 0.02, 0.92], [0.92, 0.02, 0.02, 0.02, 0.02]], atol=1e-14)
    np.testing.assert_allclose(np.sum(p, axis=-1), 1.0, rtol=1e-15)


@pytest.mark.parametrize(("won", "of"), [(7, 10), (1, 8), (19, 20)])
def test_two_builds_give_thurstone_s_closed_form(won: int, of: int) -> None:
    """Source 1: 'better' in n of N verdicts puts the difference most likely at the normal quantile of n / N.

    One pair, no 'same', no slips, sharpness held: the most likely sweet spot m solves 2 k (x - r)(m - (x + r) / 2) =
    Phi^-1(n / N). Read off the grid of 0.1 steps.
    """
    k, tried, reference = 0.3, 2.0, 1.0
    scale = VerdictScale(slight=0.0, much=50.0, lapse=0.0)  # 'much' is out of reach: better or worse alone
    prior = WindowPrior(low=-8.0, high=11.0, sharpness=k, spread=1e-9, scale=scale)
    told = [Comparison(tried=tried, reference=reference, verdict=1 if i < won else -1) for i in range(of)]
    window = Window(prior=prior, comparisons=tuple(told))
    most_likely = window.grid[0][int(np.argmax(np.sum(window.posterior, axis=1)))]
    closed_form = 1.5 + stats.norm.ppf(won / of) / (2.0 * k)
    assert most_likely == pytest.approx(closed_form, abs=0.051)


def test_the_posterior_is_what_a_general_integrator_gives() -> None:
    """Source 4: probability below a level by Simpson's rule on a fine grid over sweet spot and log sharpness."""
    told = [(2.0, 0.0, 2), (4.0, 2.0, 1), (6.0, 4.0, -1), (5.0, 3.0, 0), (3.0, 4.0, 1)]
    prior = WindowPrior(low=-1.0, high=7.0, sharpness=0.2, spread=0.6)
    window = Window(prior=prior, comparisons=tuple(Comparison(tried=x, reference=r, verdict=v) for x, r, v in told))
    bounds = np.array([-math.inf, -1.4, -0.35, 0.35, 1.4, math.inf])
    m, log_k = np.linspace(-1.0, 7.0, 1601)[:, None], np.linspace(-1.5, 1.5, 401)  # our own sharpnesses reach so far
    density = np.exp(-0.5 * (log_k / 0.6) ** 2) * np.ones_like(m)
    for x, r, v in told:
        d = 2.0 * 0.2 * np.exp(log_k) * (x - r) * (m - 0.5 * (x + r))
        density *= 0.95 * (stats.norm.cdf(bounds[v + 3] - d) - stats.norm.cdf(bounds[v + 2] - d)) + 0.01
    by_level = integrate.simpson(density, x=log_k, axis=1)
    below = integrate.cumulative_simpson(by_level, x=m[:, 0], initial=0.0) / integrate.simpson(by_level, x=m[:, 0])
    low, high = window.bracket()
    assert np.interp([low, high], m[:, 0], below) == pytest.approx([0.05, 0.95], abs=0.003)
    assert window.best == pytest.approx(
        integrate.simpson(by_level * m[:, 0], x=m[:, 0]) / integrate.simpson(by_level, x=m[:, 0]), abs=0.01
    )


def test_verdicts_of_one_drive_count_by_the_design_effect() -> None:
    """Source 3."""
    for n in (1, 2, 5, 12):
        assert n * drive_weight(n, likeness=0.3) == pytest.approx(n / (1.0 + 0.3 * (n - 1)))
    assert drive_weight(7, likeness=1.0) * 7 == pytest.approx(1.0), "all alike count as one"


@pytest.mark.parametrize(
    "make",
    [
        lambda: VerdictScale(slight=1.5, much=1.0),
        lambda: VerdictScale(lapse=1.0),
        lambda: WindowPrior(low=2.0, high=2.0),
        lambda: WindowPrior(low=0.0, high=2.0, sharpness=0.0),
        lambda: Comparison(tried=1.0, reference=1.0, verdict=1),
        lambda: Comparison(tried=1.0, reference=2.0, verdict=3),
        lambda: Comparison(tried=1.0, reference=math.nan, verdict=1),
        lambda: drive_weight(0),
    ],
)
def test_what_cannot_be_is_refused(make) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(DomainError):
        make()


def test_verdicts_without_slips_that_exclude_each_other_are_said() -> None:
    scale = VerdictScale(slight=0.0, much=1e6, lapse=0.0)
    window = Window(
        prior=WindowPrior(low=0.0, high=1.0, sharpness=1.0, spread=1e-6, scale=scale),
        comparisons=(Comparison(tried=1.0, reference=0.0, verdict=VERDICTS[-1]),),
    )
    with pytest.raises(DomainError, match="lapse above 0"):
        _ = window.posterior
