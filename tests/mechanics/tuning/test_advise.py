"""The adviser on a small invented world: rules kept, the simulation believed at first, drivers in the end."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm

from tussock.errors import DomainError
from tussock.mechanics.tuning import (
    OVERALL,
    Attribute,
    Drives,
    Emulator,
    Lattice,
    NotBelow,
    PairVerdict,
    Point,
    advise,
    fit_belief,
    point_of,
)
from tussock.mechanics.tuning.advise import SURE, WORTH
from tussock.mechanics.tuning.advise import _judged as judged

LATTICE = Lattice(counts=(7, 7, 5), rules=(NotBelow(adjuster=0, other=1, slack=2),), reach=2)
ATTRIBUTES = (Attribute(name="comfort", measures=(0, 1)), Attribute(name="control", measures=(2, 3)))


def measures(points: np.ndarray) -> np.ndarray:
    """Return an invented simulation's logarithms: firmness costs comfort, softness control; the last is dead."""
    x = LATTICE.scaled(points)
    firm, bar = 0.5 * (x[:, 0] + x[:, 1]), x[:, 2]
    return np.stack(
        [0.3 * firm + 0.1 * firm**2, 0.2 * firm + 0.2 * bar, -0.4 * firm + 0.2 * firm**2, np.zeros(len(x))], axis=1
    )


@pytest.fixture(scope="module")
def emulator() -> Emulator:
    points = LATTICE.random(np.random.default_rng(0), 120)
    return Emulator.fit(LATTICE, ATTRIBUTES, points, measures(points))


def test_a_quadratic_world_is_followed_and_a_dead_measure_dropped(emulator: Emulator) -> None:
    assert emulator.alive.tolist() == [True, True, True, False]
    assert emulator.followed[:3] == pytest.approx(1.0, abs=1e-3)
    points = LATTICE.random(np.random.default_rng(1), 20)
    found = emulator.standard(LATTICE.scaled(points)) * emulator.spread + emulator.centre
    assert found[:, :3] == pytest.approx(measures(points)[:, :3], abs=0.01)


def test_slopes_are_those_of_the_features(emulator: Emulator) -> None:
    # the far ones too, where an offset may lead: a slope that is none of the value's would keep a fit from settling
    x = np.concatenate([np.random.default_rng(2).uniform(-0.5, 0.5, size=(4, 3)), np.full((2, 3), [[-3.0], [3.0]])])
    weights = np.random.default_rng(3).normal(size=emulator.shares.shape)
    step = 1e-6
    for a in range(3):
        d = np.eye(3)[a] * step
        by = np.einsum("njk,jk->nj", emulator.features(x + d) - emulator.features(x - d), weights) / (2.0 * step)
        assert emulator.slopes(x, weights)[:, :, a] == pytest.approx(by, rel=1e-6, abs=1e-6)


@settings(deadline=None, max_examples=15)
@given(st.integers(0, 10**6))
def test_what_is_proposed_keeps_the_rules(seed: int) -> None:
    random = np.random.default_rng(seed)
    points = LATTICE.random(np.random.default_rng(0), 60)
    emulator = Emulator.fit(LATTICE, ATTRIBUTES, points, measures(points))
    driven = tuple(dict.fromkeys(point_of(row) for row in LATTICE.random(random, 4)))
    told = tuple(
        PairVerdict(tried=i, reference=0, attribute=OVERALL, verdict=int(random.integers(-2, 3)))
        for i in range(1, len(driven))
    )
    drives = Drives(builds=driven, driven=tuple(range(len(driven))), verdicts=told)
    advice = advise(drives, LATTICE, emulator, seed=seed)
    assert advice.incumbent in driven
    assert advice.recommended in driven
    for build in (advice.next, advice.optimum):
        assert LATTICE.safe(np.array(build)).all()
        assert LATTICE.reached(np.array(build), np.array(driven)).all()


def _told(emulator: Emulator, liked: float, drives: int, seed: int = 0) -> tuple[Drives, list[str]]:
    """Drive what is advised, with a driver who likes firmness against the simulation's opinion."""
    random, said = np.random.default_rng(seed), []
    builds: list[Point] = []
    driven: list[int] = []
    verdicts: list[PairVerdict] = []

    def worth(p: Point) -> float:
        return -abs(sum(p[:2]) / 2.0 - liked)

    for number in range(drives):
        now = Drives(builds=tuple(builds), driven=tuple(driven), verdicts=tuple(verdicts))
        advice = advise(now, LATTICE, emulator, seed=number)
        said.append(advice.verdict)
        for p in (advice.next, advice.reference):
            if p is not None and p not in builds:
                builds.append(p)
        driven.append(builds.index(advice.next))
        if advice.reference not in (None, advice.next):
            d = worth(advice.next) - worth(advice.reference) + 0.3 * random.normal()
            word = int(np.digitize(d, [-1.0, -0.2, 0.2, 1.0])) - 2
            verdicts.append(
                PairVerdict(tried=driven[-1], reference=builds.index(advice.reference), attribute=OVERALL, verdict=word)
            )
    return Drives(builds=tuple(builds), driven=tuple(driven), verdicts=tuple(verdicts)), said


def test_few_drives_are_not_enough_and_many_lead_to_what_drivers_like(emulator: Emulator) -> None:
    drives, said = _told(emulator, liked=5.5, drives=16)
    assert said[:3] == ["not enough evidence"] * 3
    advice = advise(drives, LATTICE, emulator, seed=99)
    assert advice.incumbent is not None
    first = drives.builds[0]
    assert abs(sum(advice.incumbent[:2]) / 2.0 - 5.5) < abs(sum(first[:2]) / 2.0 - 5.5)
    assert advice.interval[0] <= advice.gain <= advice.interval[1]
    assert 0.0 <= advice.chance <= 1.0
    assert advice.reasons


def test_a_single_good_word_releases_nothing_and_many_do(emulator: Emulator) -> None:
    first, other = (3, 3, 2), (4, 4, 2)
    told = PairVerdict(tried=1, reference=0, attribute=OVERALL, verdict=1)
    once = Drives(builds=(first, other), driven=(0, 1), verdicts=(told,))
    for drives, released in ((once, first), (replace(once, verdicts=(replace(told, verdict=2),) * 12), other)):
        advice = advise(drives, LATTICE, emulator, seed=0)
        assert advice.incumbent == other
        assert advice.recommended == released


def test_a_build_is_compared_with_the_one_driven_before_it(emulator: Emulator) -> None:
    first, other = (3, 3, 2), (4, 4, 2)
    told = PairVerdict(tried=1, reference=0, attribute=OVERALL, verdict=-2)
    drives = Drives(builds=(first, other), driven=(0, 1), verdicts=(told,) * 6)
    advice = advise(drives, LATTICE, emulator, seed=0)
    assert advice.incumbent == first
    assert advice.next != other
    assert advice.reference == other  # remembered best, though the other one is believed better


def test_what_may_be_chance_is_not_enough_evidence_and_is_said_with_its_chance(emulator: Emulator) -> None:
    first, other = (3, 3, 2), (4, 4, 2)
    said = tuple(PairVerdict(tried=1, reference=0, attribute=OVERALL, verdict=v) for v in (1, -1, 0, 1, -1, 0))
    advice = advise(Drives(builds=(first, other), driven=(0, 1), verdicts=said), LATTICE, emulator, seed=0)
    assert advice.recommended == first
    gain, spread = advice.belief.difference(np.array([advice.optimum]), first)
    chance = float(norm.cdf(gain[0] / spread[0]))
    assert advice.verdict == ("not enough evidence" if chance < 0.7 else "drive")
    assert f"{chance:.0%}" in advice.reasons[0]


def test_a_build_is_kept_only_where_even_the_hopeful_end_of_a_gain_is_worth_none(emulator: Emulator) -> None:
    drives, _ = _told(emulator, liked=3.0, drives=8)
    again = replace(drives, driven=(*drives.driven, *drives.driven))
    belief, first = fit_belief(again, emulator), again.builds[0]
    points = LATTICE.random(np.random.default_rng(8), 60)
    gain, spread = belief.difference(points, first)
    seen = set()
    for build, mean, doubt in zip(points, gain, spread, strict=True):
        verdict, _ = judged(again, belief, first, point_of(build))
        seen.add(verdict)
        if doubt > 0.0 and norm.cdf(mean / doubt) >= SURE:
            assert verdict == "drive"
        else:
            assert verdict == ("keep" if mean + 1.6449 * doubt < WORTH else "not enough evidence")
    assert {"keep", "not enough evidence"} <= seen


def test_doubt_is_nothing_of_a_build_against_itself_and_grows_with_distance(emulator: Emulator) -> None:
    drives, _ = _told(emulator, liked=3.0, drives=5)
    belief = fit_belief(drives, emulator)
    at = drives.builds[0]
    near = next(p for p in LATTICE.neighbours(at) if np.abs(p - np.array(at)).sum() == 1)
    mean, spread = belief.difference(np.array([at, near]), at)
    assert mean[0] == 0.0
    assert spread[0] == 0.0
    assert spread[1] > 0.0


def test_a_start_from_before_finds_the_same(emulator: Emulator) -> None:
    drives, _ = _told(emulator, liked=3.0, drives=6)
    cold = fit_belief(drives, emulator)
    before = fit_belief(
        Drives(builds=drives.builds, driven=drives.driven[:-1], verdicts=drives.verdicts[:-1]), emulator
    )
    warm = fit_belief(drives, emulator, start=before)
    points = LATTICE.random(np.random.default_rng(5), 20)
    assert warm.mean(points) == pytest.approx(cold.mean(points), abs=0.05)


def test_bad_input_is_refused_in_words() -> None:
    with pytest.raises(DomainError, match="stands twice"):
        Drives(builds=((1, 1, 1), (1, 1, 1)))
    with pytest.raises(DomainError, match="there are 3 adjusters"):
        Lattice(counts=(3, 3, 3), rules=(NotBelow(adjuster=0, other=7, slack=1),))
    with pytest.raises(DomainError, match="too few for 3 adjusters"):
        Emulator.fit(LATTICE, ATTRIBUTES, np.zeros((3, 3), dtype=np.int64), np.zeros((3, 4)))
    with pytest.raises(DomainError, match="keep the rules"):
        Lattice(counts=(3, 3), rules=(NotBelow(adjuster=0, other=1, slack=-9),)).random(np.random.default_rng(0), 5)


def test_a_further_limit_holds_whatever_is_drawn_or_proposed(emulator: Emulator) -> None:
    bounded = replace(LATTICE, allows=lambda x: x[:, 2] <= 1)
    assert bounded.random(np.random.default_rng(0), 200)[:, 2].max() == 1
    assert bounded.safe(np.array([[3, 3, 1], [3, 3, 2], [9, 3, 1]])).tolist() == [True, False, False]
    drives, _ = _told(emulator, liked=3.0, drives=4)
    advice = advise(drives, bounded, replace(emulator, lattice=bounded), seed=3)
    assert advice.next[2] <= 1 or advice.next in drives.builds


def test_an_attribute_counts_in_the_whole_as_is_said_until_drivers_say_more() -> None:
    points = LATTICE.random(np.random.default_rng(0), 60)
    said = (replace(ATTRIBUTES[0], counts=3.0), ATTRIBUTES[1])
    belief = fit_belief(Drives(), Emulator.fit(LATTICE, said, points, measures(points)))
    assert belief.shares == pytest.approx([0.75, 0.25])
    with pytest.raises(DomainError, match="counts 0 in the whole"):
        replace(ATTRIBUTES[0], counts=0.0)
