"""Does the bracket hold the sweet spot as often as it says? Hidden drivers, fresh seeds, nothing leaks.

Bounds of the categories, share of slips and sweet spot are drawn for each adjuster and unknown to the window. The
figures stand in docs/theory/windows.md; the bounds here are three binomial standard errors below them or wider.
"""

from __future__ import annotations

import functools

import numpy as np
import pytest

from tussock.mechanics.tuning import Comparison, Window, WindowPrior, drive_weight, fit_window

SOFTEST, FIRMEST, STEP, DRIVES = 0, 6, 2, 15
PRIOR = WindowPrior(low=-1.0, high=7.0)
MANY = 400


class Driver:
    """A driver whose scale nobody knows."""

    def __init__(self, rng: np.random.Generator, *, sharpness: float) -> None:
        self.rng, self.sharpness = rng, sharpness
        self.spot = rng.uniform(PRIOR.low, PRIOR.high)
        self.slight, self.much = rng.uniform(0.2, 0.5), rng.uniform(1.0, 1.8)
        self.lapse = rng.uniform(0.02, 0.1)

    def verdict(self, tried: float, reference: float, *, mood: float = 0.0, spot: float | None = None) -> int:
        """Say which is better; `mood` is noise that this drive shares."""
        if self.rng.random() < self.lapse:
            return int(self.rng.integers(-2, 3))
        spot = self.spot if spot is None else spot
        d = 2.0 * self.sharpness * (tried - reference) * (spot - 0.5 * (tried + reference))
        felt = d + mood + np.sqrt(0.5 if mood else 1.0) * self.rng.normal()
        return int(np.sign(felt)) * (0 if abs(felt) < self.slight else 1 if abs(felt) < self.much else 2)


def next_level(reference: float, tried: float, verdict: int, way: int) -> tuple[float, float, int]:
    """Go on the way while it gets better, turn round when it gets worse: the trade's rule."""
    if verdict > 0:
        reference = tried
    elif verdict < 0:
        way = -way
    if not SOFTEST <= reference + way * STEP <= FIRMEST:
        way = -way
    return reference, reference + way * STEP, way


def stepped(seed: int, sharpness: float) -> tuple[Driver, Window]:
    """Return a driver and the window when it closed, or after all drives."""
    driver = Driver(np.random.default_rng([20261128, seed]), sharpness=sharpness)
    told: list[list[Comparison]] = []
    window = Window(prior=PRIOR)
    reference, tried, way = float(SOFTEST), float(SOFTEST + STEP), 1
    for _ in range(DRIVES):
        verdict = driver.verdict(tried, reference)
        told.append([Comparison(tried=tried, reference=reference, verdict=verdict)])
        window = fit_window(PRIOR, told)
        if window.closed:
            break
        reference, tried, way = next_level(reference, tried, verdict, way)
    return driver, window


def holds(driver: Driver, window: Window) -> bool:
    low, high = window.bracket()
    return bool(low <= driver.spot <= high)


@functools.cache
def figures(sharpness: float) -> dict[str, float]:
    found = [stepped(seed, sharpness) for seed in range(MANY)]
    closed = [(d, w) for d, w in found if w.closed]
    return {
        "covered": float(np.mean([holds(d, w) for d, w in found])),
        "closed": len(closed) / MANY,
        "covered_closed": float(np.mean([holds(d, w) for d, w in closed])) if closed else 1.0,
        "closed_wrong": sum(not holds(d, w) for d, w in closed) / MANY,
        "drives": float(np.median([len(w.comparisons) for _, w in closed])) if closed else float(DRIVES),
        "unfelt": float(np.mean([w.unfelt for _, w in found])),
    }


@pytest.mark.parametrize(("sharpness", "least"), [(0.6, 0.88), (0.25, 0.88), (0.1, 0.87), (0.03, 0.76)])
def test_the_bracket_holds_the_sweet_spot(sharpness: float, least: float) -> None:
    """90 % is claimed. Of adjusters that are hardly there 0.84 was found: the prior expects sharper ones."""
    assert figures(sharpness)["covered"] >= least


@pytest.mark.parametrize("sharpness", [0.6, 0.25])
def test_closed_windows_of_what_can_be_felt_hold_it_too(sharpness: float) -> None:
    found = figures(sharpness)
    assert found["closed"] >= 0.3
    assert found["covered_closed"] >= 0.86


@pytest.mark.parametrize("sharpness", [0.6, 0.25, 0.1, 0.03])
def test_few_windows_close_wrongly(sharpness: float) -> None:
    """A weak adjuster that closes is often a lucky streak; few of them may."""
    assert figures(sharpness)["closed_wrong"] <= 0.06


def test_what_cannot_be_felt_is_said_and_what_can_is_not() -> None:
    assert figures(0.6)["unfelt"] <= 0.02
    assert figures(0.25)["unfelt"] <= 0.06
    assert figures(0.03)["unfelt"] >= 0.7
    assert figures(0.03)["closed"] <= 0.05


def test_several_verdicts_of_one_drive_do_not_count_as_so_many_drives() -> None:
    """Four sections a drive, half of the noise shared by the drive: counted one by one they would promise too much."""
    held: dict[bool, list[bool]] = {True: [], False: []}
    for seed in range(MANY):
        rng = np.random.default_rng([11, seed])
        driver = Driver(rng, sharpness=0.25)
        told: list[tuple[float, float, list[int]]] = []
        reference, tried, way = float(SOFTEST), float(SOFTEST + STEP), 1
        for _ in range(8):
            mood = np.sqrt(0.5) * rng.normal()
            verdicts = [driver.verdict(tried, reference, mood=mood) for _ in range(4)]
            told.append((tried, reference, verdicts))
            reference, tried, way = next_level(reference, tried, int(np.sign(sum(verdicts))), way)
        for weighed in held:
            weight = drive_weight(4) if weighed else 1.0
            made = [[Comparison(tried=x, reference=r, verdict=v, weight=weight) for v in vs] for x, r, vs in told]
            held[weighed].append(holds(driver, fit_window(PRIOR, made)))
    assert np.mean(held[True]) >= 0.88
    assert np.mean(held[False]) < np.mean(held[True]) - 0.03


def test_old_verdicts_fade_when_the_rest_has_moved() -> None:
    """The sweet spot moves when other adjusters do; verdicts from before count half then, and the bracket holds."""
    held: dict[float, list[bool]] = {1.0: [], 0.5: []}
    for seed in range(MANY):
        rng = np.random.default_rng([12, seed])
        driver = Driver(rng, sharpness=0.4)
        before = driver.spot - rng.normal(0.0, 1.0)  # three steps of another adjuster later
        told: list[tuple[float, float, int, bool]] = []
        reference, tried, way = float(SOFTEST), float(SOFTEST + STEP), 1
        for i in range(10):
            old = i < 7
            verdict = driver.verdict(tried, reference, spot=before if old else driver.spot)
            told.append((tried, reference, verdict, old))
            reference, tried, way = next_level(reference, tried, verdict, way)
        for fade in held:
            made = [[Comparison(tried=x, reference=r, verdict=v, weight=fade if old else 1.0)] for x, r, v, old in told]
            held[fade].append(holds(driver, fit_window(PRIOR, made)))
    assert np.mean(held[0.5]) > np.mean(held[1.0])
    assert np.mean(held[0.5]) >= 0.80
