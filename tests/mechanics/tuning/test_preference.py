"""The preference model: what few and many data do, who may be swapped, what is refused, and how honest it is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tussock.errors import DomainError
from tussock.mechanics.tuning import (
    OVERALL,
    Evidence,
    PairVerdict,
    PreferencePrior,
    Rating,
    VerdictScale,
    fit_preference,
    log_posterior,
)

PRIOR = PreferencePrior()


def builds(seed: int = 4, count: int = 8) -> Evidence:
    rng = np.random.default_rng(seed)
    return Evidence(measures=rng.normal(size=(count, 2, 3)), steps=rng.uniform(-2.0, 2.0, (count, 2)))


def test_without_data_it_is_the_simulation_s_opinion() -> None:
    evidence = builds()
    none = fit_preference(evidence, PRIOR)
    order = np.argsort([none.utility(b, 0)[0] for b in range(8)])
    np.testing.assert_array_equal(order, np.argsort(-np.sum(evidence.measures[:, 0], axis=1)))
    spread = np.std([none.utility(b, 0)[0] for b in range(8)])
    assert spread == pytest.approx(1.0), "attributes are in the unit of their spread over builds"
    np.testing.assert_allclose(none.shares, [0.5, 0.5])


def test_data_pull_away_from_the_simulation_and_narrow() -> None:
    evidence = builds()
    none = fit_preference(evidence, PRIOR)
    best, worst = (int(f([none.utility(b, 0)[0] for b in range(8)])) for f in (np.argmax, np.argmin))
    against = [PairVerdict(tried=worst, reference=best, attribute=0, verdict=2)]
    means, errors = [], []
    for count in (0, 1, 3, 10, 30):
        mean, error = fit_preference(replace(evidence, verdicts=against * count), PRIOR).difference(worst, best, 0)
        means.append(mean)
        errors.append(error)
    assert means == sorted(means)
    assert means[0] < 0.0 < means[-1]
    assert errors == sorted(errors, reverse=True)


def test_swapping_the_builds_of_a_verdict_changes_nothing() -> None:
    evidence = builds()
    told = [
        PairVerdict(tried=0, reference=1, attribute=OVERALL, verdict=1),
        PairVerdict(tried=4, reference=2, attribute=1, verdict=-2),
    ]
    turned = [
        PairVerdict(tried=v.reference, reference=v.tried, attribute=v.attribute, verdict=-v.verdict) for v in told
    ]
    one, two = (fit_preference(replace(evidence, verdicts=v), PRIOR) for v in (told, turned))
    np.testing.assert_allclose(one.mode, two.mode, atol=1e-9)
    assert one.better(0, 1) == pytest.approx(1.0 - one.better(1, 0))
    assert one.better(3, 3) == 0.5


def test_contradicting_verdicts_are_evidence_and_not_a_fault() -> None:
    evidence = builds()
    none = fit_preference(evidence, PRIOR)
    near = min(range(1, 8), key=lambda b: abs(none.difference(0, b, 0)[0]))  # where no slip is the likelier reason
    up, down = (PairVerdict(tried=0, reference=near, attribute=0, verdict=v) for v in (1, -1))
    torn = fit_preference(replace(evidence, verdicts=[up, down] * 6), PRIOR)
    plain = fit_preference(replace(evidence, verdicts=[up] * 6), PRIOR)
    assert abs(torn.difference(0, near, 0)[0]) < abs(plain.difference(0, near, 0)[0])
    assert torn.better(0, near, 0) == pytest.approx(0.5, abs=0.3)
    assert np.all(np.isfinite(torn.covariance))


def test_a_driver_s_level_and_a_bad_day_are_not_the_build_s() -> None:
    """Marks two points lower all over say nothing of which build is better."""
    evidence = builds()
    marks = [5.0, 7.0, 6.0, 8.0]
    told = [Rating(build=b, attribute=0, driver=0, day=0, mark=m) for b, m in enumerate(marks)]
    lower = [replace(r, mark=r.mark - 2.0) for r in told]
    one, two = (fit_preference(replace(evidence, ratings=r), PRIOR) for r in (told, lower))
    for b in range(3):
        assert one.difference(b, 3, 0)[0] == pytest.approx(two.difference(b, 3, 0)[0], abs=0.15)


def test_a_slip_does_not_turn_the_model_over() -> None:
    evidence = builds()
    agree = [PairVerdict(tried=0, reference=1, attribute=0, verdict=1)] * 8
    plain = fit_preference(replace(evidence, verdicts=agree), PRIOR).difference(0, 1, 0)[0]
    slip = fit_preference(replace(evidence, verdicts=[*agree, replace(agree[0], verdict=-2)]), PRIOR)
    assert 0.0 < slip.difference(0, 1, 0)[0] < plain
    assert slip.better(0, 1, 0) > 0.8


@settings(max_examples=12, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_whatever_is_said_settles_where_nothing_rises(seed: int) -> None:
    """Drivers who contradict themselves and everybody else: the search still ends at a mode, and says how sure."""
    rng = np.random.default_rng(seed)
    count, attributes = int(rng.integers(2, 8)), int(rng.integers(1, 4))
    evidence = Evidence(
        measures=rng.normal(size=(count, attributes, 3)) * 10.0 ** rng.uniform(-1.0, 1.0),
        steps=rng.normal(size=(count, int(rng.integers(0, 4)))),
        verdicts=[
            PairVerdict(tried=int(a), reference=int(b), attribute=int(rng.integers(-1, attributes)),
                        verdict=int(rng.integers(-2, 3)))
            for a, b in (rng.choice(count, 2, replace=False) for _ in range(rng.integers(0, 30)))
        ],
        ratings=[
            Rating(build=int(rng.integers(count)), attribute=int(rng.integers(-1, attributes)),
                   driver=int(rng.integers(3)), day=int(rng.integers(5)), mark=float(rng.integers(1, 11)))
            for _ in range(rng.integers(0, 30))
        ],
    )  # fmt: skip
    found = fit_preference(evidence, PRIOR)
    slope = log_posterior(evidence, PRIOR, found.mode)[1]
    assert slope @ found.covariance @ slope < 1e-5
    assert np.all(np.linalg.eigvalsh(found.covariance) > 0.0)
    assert 0.0 <= found.better(0, 1) <= 1.0


def test_widening_widens() -> None:
    evidence = builds()
    one, wide = (fit_preference(evidence, PRIOR, widening=w) for w in (1.0, 1.6))
    assert wide.difference(0, 1)[1] == pytest.approx(1.6 * one.difference(0, 1)[1])


@pytest.mark.parametrize(
    "change",
    [
        {"verdicts": [PairVerdict(tried=0, reference=0, attribute=0, verdict=1)]},
        {"verdicts": [PairVerdict(tried=0, reference=1, attribute=0, verdict=3)]},
        {"verdicts": [PairVerdict(tried=0, reference=9, attribute=0, verdict=1)]},
        {"verdicts": [PairVerdict(tried=0, reference=1, attribute=2, verdict=1)]},
        {"ratings": [Rating(build=0, attribute=0, driver=-1, day=0, mark=5.0)]},
        {"ratings": [Rating(build=0, attribute=0, driver=0, day=0, mark=float("nan"))]},
        {"measures": np.full((8, 2, 3), np.nan)},
        {"steps": np.zeros((3, 2))},
    ],
)
def test_what_cannot_be_is_refused(change: dict[str, object]) -> None:
    with pytest.raises(DomainError):
        replace(builds(), **change)  # type: ignore[arg-type]


@pytest.mark.parametrize("change", [{"noise": 0.0}, {"weight": 0.0}, {"tails": -1.0}])
def test_a_prior_that_is_none_is_refused(change: dict[str, float]) -> None:
    with pytest.raises(DomainError):
        PreferencePrior(**change)


def panel(seed: int, drives: int) -> tuple[float, list[bool]]:
    """Return how well the whole is ordered after some drives, and whether 90 % intervals hold the differences.

    The hidden drivers are of the model's own kind, with weights, shares, levels and slips drawn from its prior: this
    asks whether the fit is right, not whether the model is.
    """
    rng = np.random.default_rng([20261128, seed])
    evidence = builds(seed=seed, count=12)
    start = fit_preference(evidence, PRIOR)
    weights = start.weights * (1.0 + PRIOR.weight_spread * rng.normal(size=start.weights.shape))
    trends = PRIOR.trend_spread * rng.normal(size=(2, 2))
    share = np.exp(PRIOR.share_spread * rng.normal(size=2))
    share /= np.sum(share)
    each = np.einsum("bjk,jk->bj", evidence.measures, weights) + evidence.steps @ trends.T
    whole = each @ share
    gain = PRIOR.gain * np.exp(PRIOR.gain_spread * rng.normal())
    level, sections = PRIOR.bias_spread * rng.normal(), PRIOR.section_spread * rng.normal(size=2)
    verdicts, ratings = [], []
    for day in range(drives):
        tried, reference = (int(b) for b in rng.choice(12, 2, replace=False))
        for attribute, of in ((0, each[:, 0]), (1, each[:, 1]), (OVERALL, whole)):
            chance = VerdictScale().probabilities((of[tried] - of[reference]) / PRIOR.noise)
            verdict = int(rng.choice(5, p=chance / np.sum(chance))) - 2
            verdicts.append(PairVerdict(tried=tried, reference=reference, attribute=attribute, verdict=verdict))
        mood = PRIOR.day_spread * rng.normal()
        for attribute in (0, 1):
            mark = 6.0 + gain * each[tried, attribute] + level + sections[attribute] + mood
            mark += PRIOR.mark_noise * rng.standard_t(PRIOR.tails)
            ratings.append(Rating(build=tried, attribute=attribute, driver=0, day=day, mark=float(mark)))
    found = fit_preference(replace(evidence, verdicts=verdicts, ratings=ratings), PRIOR)
    held = []
    for b in range(1, 12):
        mean, spread = found.difference(b, 0)
        held.append(abs(mean - (whole[b] - whole[0])) <= 1.645 * spread)
    said = [found.utility(b)[0] for b in range(12)]
    return float(np.corrcoef(said, whole)[0, 1]), held


def test_it_learns_and_its_intervals_are_honest_where_the_model_is_true() -> None:
    """20 hidden panels: correlation with the truth rises with drives; 90 % intervals hold 80 to 97 % of differences."""
    few = [panel(seed, 2) for seed in range(20)]
    many = [panel(seed, 20) for seed in range(20)]
    assert np.median([c for c, _ in many]) > max(np.median([c for c, _ in few]), 0.95)
    for found in (few, many):
        assert 0.80 <= np.mean([h for _, held in found for h in held]) <= 0.97
