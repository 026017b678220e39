"""What to drive next: by knowledge gradient over safe builds, each against the build driven before it.

Every candidate is weighed by how much better the best build is expected to be known to be after it was driven; wide
moves of several adjusters at once are among them, for small ones drown in the drivers' noise. It is compared with the
build of the drive before, which drivers remember best: a chain of comparisons that the belief puts together.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
from scipy.special import ndtr

from tussock.mechanics.arrays import Ints
from tussock.mechanics.tuning.belief import Belief, BeliefPrior, Drives, fit_belief
from tussock.mechanics.tuning.emulator import Emulator
from tussock.mechanics.tuning.knowledge import expected_best
from tussock.mechanics.tuning.lattice import Lattice, Point, point_of

Verdict: TypeAlias = Literal["drive", "confirm", "keep", "not enough evidence"]

SURE = 0.7
"""Chance to beat the build to hand over from which on the best one believed is called better."""
RELEASED = 0.8
"""Chance to beat the build driven first from which on another is recommended in its place."""
WORTH = 0.1
"""Gain that is worth a build, in units of an attribute's spread over builds [-]."""
FEWEST = 5
"""Least verdicts against another build on which anything is claimed."""
HEARD = 0.2
"""Noise of what one drive says of the whole, all its verdicts and marks together [-]."""
OPTIMUM_EVERY = 4
"""Every so many drives the best build believed is driven: a build must be driven to be released."""
_NINETY = 1.6449
_RANDOM, _MUTATED, _BEST, _SHORT, _BEHIND = 400, 300, 150, 75, 0.8
_LONELY = 1e-9


@dataclass(frozen=True, kw_only=True, eq=False)
class Advice:
    """What to do next, why, and how sure that is.

    Attributes
    ----------
    verdict : str
        "drive" the next build; "confirm" the build to hand over by a repeat drive; "keep" it, nothing is expected to
        beat it; "not enough evidence" to call anything better, drive the pair to learn.
    reasons : tuple of str
        Why, in words.
    next : Point
        Build to drive.
    reference : Point or None
        Which it is compared with: the one driven before it, or the incumbent where that is driven again; None for the
        first drive.
    incumbent : Point or None
        The build that is believed best among those driven: what exploring starts from.
    recommended : Point or None
        The build to hand over now: the best of those driven that are believed to beat the build driven first, or
        that one. None before the first drive.
    gain : float
        By how much the next build is expected to beat the incumbent, in spreads of an attribute over builds [-].
    interval : tuple of float
        Of 90 % of that gain [-].
    chance : float
        Probability that it does [-].
    optimum : Point
        The best build believed, driven or not, that is allowed.
    belief : Belief
        What it comes of.
    """

    verdict: Verdict
    reasons: tuple[str, ...]
    next: Point
    reference: Point | None
    incumbent: Point | None
    recommended: Point | None
    gain: float
    interval: tuple[float, float]
    chance: float
    optimum: Point
    belief: Belief


def advise(
    drives: Drives,
    lattice: Lattice,
    emulator: Emulator,
    *,
    seed: int,
    prior: BeliefPrior | None = None,
    start: Belief | None = None,
) -> Advice:
    """Return what to drive next.

    Parameters
    ----------
    drives : Drives
        What was driven and said.
    lattice : Lattice
        Which builds are safe and in stock, and how far from a driven one to go.
    emulator : Emulator
        Of the simulation, on the same adjusters.
    seed : int
        Of the candidates.
    prior : BeliefPrior, optional
        What is believed before.
    start : Belief, optional
        Of the last advice, to begin the fit at.

    Raises
    ------
    DomainError
        No safe build can be drawn.
    SolverError
        The fit does not settle.
    """
    random = np.random.default_rng(seed)
    belief = fit_belief(drives, emulator, prior, start=start)
    driven = np.array(drives.builds, dtype=np.int64).reshape(len(drives.builds), len(lattice.counts))
    if not len(driven):
        best = _climbed(belief, lattice, driven, lattice.random(random, _RANDOM))
        return _first(best, belief)
    own = belief.mean(driven)
    # the one driven first leads; a reference that was never driven is no candidate
    tried = list(dict.fromkeys(drives.driven)) or list(range(len(driven)))
    incumbent = point_of(driven[max(tried, key=lambda b: own[b])])
    optimum = _climbed(belief, lattice, driven, np.array([incumbent]))
    last = point_of(driven[drives.driven[-1]]) if drives.driven else incumbent
    pool = _pool(random, belief, lattice, driven, incumbent, optimum)
    next_build = optimum
    if optimum == incumbent or (len(drives.driven) + 1) % OPTIMUM_EVERY:
        next_build = point_of(pool[_most_told(belief, pool, last)]) if len(pool) > 1 else incumbent
    gain, spread = (float(v[0]) for v in belief.difference(np.array([next_build]), incumbent))
    chance = float(ndtr(gain / spread)) if spread > _LONELY else 0.5
    recommended = _recommended(belief, driven[tried])
    verdict, reasons = _judged(drives, belief, recommended, optimum)
    return Advice(
        verdict=verdict, reasons=reasons, next=next_build, reference=incumbent if next_build == last else last,
        incumbent=incumbent, recommended=recommended, gain=gain,
        interval=(gain - _NINETY * spread, gain + _NINETY * spread), chance=chance, optimum=optimum, belief=belief,
    )  # fmt: skip


def _first(best: Point, belief: Belief) -> Advice:
    return Advice(
        verdict="not enough evidence", reasons=("nothing has been driven: this is the simulation's opinion",),
        next=best, reference=None, incumbent=None, recommended=None, gain=0.0, interval=(0.0, 0.0), chance=0.5,
        optimum=best, belief=belief,
    )  # fmt: skip


def _recommended(belief: Belief, tried: Ints) -> Point:
    """Return the best build of those driven, first the one that was driven first, that is believed to beat that one.

    The best of many near equals looks better than it is, so what only may be better leaves the first in its place.
    """
    gain, spread = belief.difference(tried, point_of(tried[0]))
    sure = ndtr(gain / np.maximum(spread, _LONELY)) >= RELEASED
    sure[0] = True
    return point_of(tried[int(np.argmax(np.where(sure, gain, -np.inf)))])


def _allowed(lattice: Lattice, points: Ints, driven: Ints) -> Ints:
    return np.asarray(points[lattice.safe(points) & lattice.reached(points, driven)])


def _climbed(belief: Belief, lattice: Lattice, driven: Ints, starts: Ints) -> Point:
    """Return the best allowed build that steps of one or two adjusters find from the best of some starts."""
    at = point_of(starts[int(np.argmax(belief.mean(starts)))])
    value = float(belief.mean(np.array([at]))[0])
    while True:
        near = _allowed(lattice, lattice.neighbours(at), driven)
        worth = belief.mean(near) if len(near) else np.array([-np.inf])
        top = int(np.argmax(worth))
        if worth[top] <= value + _LONELY:
            return at
        at, value = point_of(near[top]), float(worth[top])


def _pool(
    random: np.random.Generator, belief: Belief, lattice: Lattice, driven: Ints, incumbent: Point, optimum: Point
) -> Ints:
    """Return the incumbent, first, and the most promising of random builds and of changes of good ones."""
    some = [lattice.random(random, _RANDOM), *(lattice.mutations(random, p, _MUTATED) for p in (incumbent, optimum))]
    found = np.unique(_allowed(lattice, np.concatenate([*some, driven, [optimum]]), driven), axis=0)
    found = found[np.any(found != np.array(incumbent), axis=1)]
    best = np.argsort(-belief.mean(found))[:_BEST]
    return np.vstack([[incumbent], found[best], [p for p in [optimum] if p != incumbent] or [incumbent]])


def _most_told(belief: Belief, pool: Ints, last: Point) -> int:
    """Return which build of a pool, its first apart, tells most of the best when driven against the last one driven."""
    mean, rows, own = belief.worth(np.vstack([pool, last]))
    to = rows[:-1] - rows[0]
    spread = np.sqrt(np.sum(to**2, axis=1) + own[:-1] + own[0])
    spread[np.all(pool == pool[0], axis=1) | np.all(pool == np.array(last), axis=1)] = 0.0
    good = np.argsort(-(mean[:-1] + 0.7 * spread))[:_SHORT]
    wide = np.argsort(-np.where(mean[:-1] >= mean[0] - _BEHIND, spread, -1.0))[:_SHORT]
    short = np.union1d(good, wide)
    short = short[spread[short] > 0.0]
    if not len(short):
        return 0
    after = expected_best(mean, rows, own, short, noise=HEARD, reference=len(pool))
    return int(short[int(np.argmax(after))])


def _judged(drives: Drives, belief: Belief, recommended: Point, optimum: Point) -> tuple[Verdict, tuple[str, ...]]:
    """Return what may be claimed of the best build believed against the one to hand over, and why."""
    if len(drives.verdicts) < FEWEST:
        few = f"{len(drives.verdicts)} verdicts between builds, fewer than {FEWEST}"
        return "not enough evidence", (f"{few}: what is said is mostly the simulation's opinion",)
    surprised = _surprise(belief)
    if surprised > 0.0:
        text = f"{surprised:.0%} of the latest verdicts were all but ruled out by the others: drivers or model disagree"
        return "not enough evidence", (text,)
    gain, spread = (float(v[0]) for v in belief.difference(np.array([optimum]), recommended))
    chance = float(ndtr(gain / spread)) if spread > _LONELY else 0.5
    if chance >= SURE:
        return "drive", (f"the best build believed beats the one to hand over with {chance:.0%}",)
    if gain + _NINETY * spread < WORTH:
        times = sum(drives.builds[d] == recommended for d in drives.driven)
        if times < 2:
            return "confirm", ("the best of several looks better than it is; it was driven once",)
        return "keep", (f"no build is likely to gain more than {max(gain + _NINETY * spread, 0.0):.2f}",)
    why = f"the best build believed beats the one to hand over with {chance:.0%} only, less than {SURE:.0%}"
    return "not enough evidence", (why,)


def _surprise(belief: Belief, drives_back: int = 5) -> float:
    """Return the share of the latest drives' verdicts that missed by two words or more, 0 unless that is many."""
    told = belief.drives.verdicts
    attributes = len(belief.emulator.attributes) + 1
    latest = told[-drives_back * attributes :]
    points = np.array(belief.drives.builds)
    missed = 0
    prior = belief.prior.preference
    for respect in {v.attribute for v in latest}:
        mine = [v for v in latest if v.attribute == respect]
        worth = belief.mean(points, respect)
        expected = np.array([worth[v.tried] - worth[v.reference] for v in mine]) / prior.noise
        chances = prior.scale.probabilities(expected)
        words = np.array([v.verdict for v in mine]) + 2
        missed += int(np.sum(np.take_along_axis(chances, words[:, None], axis=1)[:, 0] < 2.0 * prior.scale.lapse / 5.0))
    share = missed / len(latest) if latest else 0.0
    # slips alone make some; twice as many and more than chance allows is a sign that the model does not hold
    lapse = 3.0 * prior.scale.lapse
    return share if share > lapse + 2.0 * (lapse * (1.0 - lapse) / max(len(latest), 1)) ** 0.5 else 0.0
