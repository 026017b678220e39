"""The window: symmetries, contradictions, closing, and whether the expected narrowing is what comes."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tussock.mechanics.tuning import VERDICTS, Comparison, Window, WindowPrior, fit_window

PRIOR = WindowPrior(low=-3.0, high=6.0)
LEVELS = st.sampled_from([-2.0, -1.0, 0.0, 1.0, 2.5, 4.0, 5.0])
TOLD = st.lists(
    st.tuples(LEVELS, LEVELS, st.sampled_from(VERDICTS), st.sampled_from([1.0, 0.4])).filter(lambda t: t[0] != t[1]),
    max_size=8,
)


def window(told: list[tuple[float, float, int, float]], prior: WindowPrior = PRIOR) -> Window:
    made = tuple(Comparison(tried=x, reference=r, verdict=v, weight=w) for x, r, v, w in told)
    return Window(prior=prior, comparisons=made)


@settings(max_examples=30, deadline=None)
@given(TOLD)
def test_who_was_driven_first_and_in_which_order_changes_nothing(told: list[tuple[float, float, int, float]]) -> None:
    here = window(told)
    turned = window([(r, x, -v, w) for x, r, v, w in reversed(told)])
    np.testing.assert_allclose(turned.posterior, here.posterior, rtol=1e-9, atol=1e-15)
    assert (turned.too_soft, turned.too_firm) == pytest.approx((here.too_soft, here.too_firm))


@settings(max_examples=30, deadline=None)
@given(TOLD)
def test_soft_and_firm_are_alike(told: list[tuple[float, float, int, float]]) -> None:
    here = window(told)
    other = window([(-x, -r, v, w) for x, r, v, w in told], WindowPrior(low=-6.0, high=3.0))
    low, high = here.bracket()
    assert other.bracket() == pytest.approx((-high, -low), abs=1e-6)
    assert (other.too_soft, other.too_firm) == (here.too_firm, here.too_soft)


@settings(max_examples=20, deadline=None)
@given(TOLD)
def test_finer_steps_are_the_same_window(told: list[tuple[float, float, int, float]]) -> None:
    """Levels twice as many, sharpness a quarter: nothing but the scale has changed."""
    here = window(told)
    fine = window(
        [(2 * x, 2 * r, v, w) for x, r, v, w in told],
        WindowPrior(low=-6.0, high=12.0, sharpness=PRIOR.sharpness / 4.0),
    )
    assert np.array(fine.bracket()) / 2.0 == pytest.approx(np.array(here.bracket()), abs=0.06)


def test_nothing_driven_leaves_the_prior() -> None:
    empty = fit_window(PRIOR, [[], []])
    assert empty.bracket() == pytest.approx((-2.55, 5.55), abs=1e-6), "5 and 95 % of -3 .. 6"
    assert not empty.closed
    assert not empty.unfelt
    assert (
        fit_window(PRIOR, [[Comparison(tried=1.0, reference=0.0, verdict=2, weight=0.0)]]).bracket() == empty.bracket()
    )


def test_contradicting_verdicts_widen_and_do_not_break() -> None:
    agree = [(3.0, 1.0, 2, 1.0)] * 3 + [(5.0, 3.0, -2, 1.0)] * 3
    clear = window(agree)
    torn = window([*agree, (3.0, 1.0, -2, 1.0), (5.0, 3.0, 2, 1.0)])
    more = window([*agree, (3.0, 1.0, 2, 1.0), (5.0, 3.0, -2, 1.0)])
    assert more.width < clear.width < torn.width
    assert torn.sharpness < clear.sharpness
    assert np.all(np.isfinite(torn.posterior))
    even = window([(2.0, 0.0, 2, 1.0), (2.0, 0.0, -2, 1.0)] * 6)
    assert even.unfelt or even.best == pytest.approx(1.0, abs=0.8)


def drives(*told: tuple[float, float, int]) -> list[list[Comparison]]:
    return [[Comparison(tried=x, reference=r, verdict=v)] for x, r, v in told]


def test_closed_needs_both_ends_and_a_confirming_drive() -> None:
    up = [(2.0, 0.0, 2), (2.0, 0.0, 2), (3.0, 1.0, 2)]
    assert not fit_window(PRIOR, drives(*up * 3)).closed, "too firm was never felt"
    both = [*up, (4.0, 2.0, -2), (5.0, 3.0, -2), (4.0, 2.0, -2)]
    states = [fit_window(PRIOR, drives(*both[:n])) for n in range(1, len(both) + 1)]
    first = next(i for i, s in enumerate(states) if s.bracketed)
    assert not states[first].closed, "one drive alone closes nothing"
    assert states[-1].closed == (first < len(states) - 1)
    sure = fit_window(PRIOR, drives(*both, *both))
    assert sure.closed
    low, high = sure.bracket()
    assert 1.0 < low < 2.6 < high < 4.0
    torn = [(x, r, -v) for x, r, v in both]
    assert not fit_window(PRIOR, drives(*both, *torn)).closed, "what contradicts it opens it again"


def test_drivers_who_say_anything_cannot_feel_it() -> None:
    rng = np.random.default_rng(20261128)
    told = [
        (float(x), float(x - 3), int(v))
        for x, v in zip([2, 5, 3, 4, 5, 2, 4, 5] * 2, rng.integers(-1, 2, 16), strict=True)
    ]
    said = fit_window(PRIOR, drives(*told))
    assert said.unfelt
    assert not said.closed


@pytest.mark.parametrize("reference", [0.0, 3.0])
def test_the_expected_narrowing_is_what_comes_on_average(reference: float) -> None:
    """Verdicts drawn from what is known, 4000 times, against the computed mean width: three standard errors."""
    here = fit_window(PRIOR, drives((2.0, 0.0, 2), (4.0, 2.0, -1)))
    step = here.next_step(reference)
    assert step is not None
    assert step.narrowing == pytest.approx(here.width - step.width)
    rng = np.random.default_rng(7)
    m, k = here.grid
    cells = rng.choice(here.posterior.size, size=4000, p=here.posterior.ravel())
    spots, sharp = m[cells // len(k)], k[cells % len(k)]
    d = 2.0 * sharp * (step.tried - reference) * (spots - 0.5 * (step.tried + reference))
    chance = np.cumsum(PRIOR.scale.probabilities(d), axis=1)
    verdicts = np.sum(rng.random(4000)[:, None] > chance, axis=1) - 2
    after = {
        v: fit_window(PRIOR, [here.comparisons, [Comparison(tried=step.tried, reference=reference, verdict=v)]]).width
        for v in VERDICTS
    }
    widths = np.array([after[int(v)] for v in verdicts])
    assert abs(np.mean(widths) - step.width) < 3.0 * np.std(widths) / np.sqrt(len(widths))
    np.testing.assert_allclose(np.sum(here.probabilities(step.tried, reference)), 1.0, rtol=1e-12)


def test_the_next_step_stays_where_parts_exist() -> None:
    here = Window(prior=PRIOR)
    assert here.next_step(6.0).tried < 6.0  # type: ignore[union-attr]
    assert here.next_step(40.0) is None
