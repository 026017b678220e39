"""Where a build stands on the scale of each adjuster, in steps from stock, and which adjusters two builds differ in.

A step is what a trained driver tells for sure, as a share of what is fitted (common practice, no source); levels are
logarithms, so that two steps up and two down bring back the same part.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from tussock.mechanics.dampers import BANDS
from tussock.mechanics.tuning import WindowPrior
from tussock.studies import parts
from tussock.studies.adjusters import ADJUSTERS
from tussock.studies.build_changes import tyre_pressure
from tussock.studies.damper_inside import band_force
from tussock.studies.display import show
from tussock.studies.job import ENDS, STOCK, Job, Setup

MOVED = 0.5
"""Least difference of two builds that counts as a move of an adjuster [steps]."""


@dataclass(frozen=True, kw_only=True)
class Kind:
    """A kind of quantity: what one step is, and how far from stock its sweet spot may lie [steps]."""

    step: float
    least: float
    most: float


KINDS: Mapping[str, Kind] = {
    "damping": Kind(step=0.25, least=-3.0, most=6.0),
    "spring": Kind(step=0.10, least=-3.0, most=5.0),
    "bar": Kind(step=0.25, least=-3.0, most=4.0),
    "tyres": Kind(step=0.10, least=-3.0, most=3.0),
}


@dataclass(frozen=True, kw_only=True)
class Dial:
    """One adjuster of the log: what moves together on one scale.

    Attributes
    ----------
    key, title : str
        For programs, and in words.
    group : str
        Front, rear or both axles.
    kind : str
        Of `KINDS`.
    quantities : tuple of str
        What it moves; of several their mean level counts.
    """

    key: str
    title: str
    group: str
    kind: str
    quantities: tuple[str, ...]

    @property
    def rule(self) -> Kind:
        """Its kind."""
        return KINDS[self.kind]

    def words(self, steps: float) -> str:
        """Say in words by how much a number of steps changes what is fitted.

        >>> DIALS["front_spring"].words(2.0)
        '+21 %'
        """
        return show((1.0 + self.rule.step) ** steps - 1.0, "share", digits=0, sign=True)

    def prior(self, levels: tuple[float, ...]) -> WindowPrior:
        """Return where its sweet spot may lie: as its kind says, and one step beyond what was driven."""
        least, most = min(self.rule.least, *levels), max(self.rule.most, *levels)
        return WindowPrior(
            low=least - (1.0 if least < self.rule.least else 0.0), high=most + (1.0 if most > self.rule.most else 0.0)
        )


def _damping(key: str) -> tuple[str, ...]:
    this = ADJUSTERS[key]
    return tuple(f"{e}_{d}_{b}" for e in this.ends for d in this.directions for b in this.bands)


def _dials() -> dict[str, Dial]:
    made: list[Dial] = []
    for end in ENDS:
        group = end.capitalize()
        for direction in ("rebound", "compression"):
            keys = [f"{end}_{direction}_{band}" for band in BANDS]
            made += [Dial(key=k, title=ADJUSTERS[k].title, group=group, kind="damping", quantities=(k,)) for k in keys]
        for kind, title in (("spring", "spring rate"), ("bar", "anti-roll bar"), ("tyres", "tyre pressure")):
            key = f"{end}_{kind}"
            made.append(Dial(key=key, title=f"{end} {title}", group=group, kind=kind, quantities=(key,)))
    for end in ENDS:
        for key in (f"{end}_rebound", f"{end}_compression", f"{end}_damping"):
            title = (
                f"{ADJUSTERS[key].title}, all together" if key.endswith("damping") else f"{ADJUSTERS[key].title}, all"
            )
            made.append(Dial(key=key, title=title, group="Moved together", kind="damping", quantities=_damping(key)))
    both = tuple(q for end in ENDS for q in _damping(f"{end}_damping"))
    made.append(
        Dial(key="damping", title="all dampers together", group="Moved together", kind="damping", quantities=both)
    )
    return {d.key: d for d in made}


DIALS: Mapping[str, Dial] = _dials()
"""Every adjuster of the log: single ones by axle first, then those that are moved together."""
QUANTITIES: tuple[str, ...] = tuple(d.key for d in DIALS.values() if len(d.quantities) == 1)


def levels(job: Job, setup: Setup) -> Mapping[str, float]:
    """Return the level of every quantity of a setup that it has, in steps above the vehicle as measured."""
    key = ("tuning levels", setup)
    if key not in job.memo:
        here, stock = amounts(job, setup), amounts(job, Setup(fitout=setup.fitout, build=STOCK))
        job.memo[key] = {
            q: math.log(here[q] / stock[q]) / math.log1p(DIALS[q].rule.step)
            for q in QUANTITIES
            if here.get(q, 0.0) > 0.0 and stock.get(q, 0.0) > 0.0
        }
    found = job.memo[key]
    assert isinstance(found, dict)
    return found


def amounts(job: Job, setup: Setup) -> dict[str, float]:
    """Return what each quantity is: mean force over a speed band [N], rates [N/m], [N m/rad], pressure [Pa]."""
    found: dict[str, float] = {}
    for end in ENDS:
        fitted = parts.fitted(job, setup, end)
        for direction in ("rebound", "compression"):
            for band in BANDS:
                found[f"{end}_{direction}_{band}"] = band_force(fitted.curve, direction, band)
        found[f"{end}_spring"] = fitted.spring.rate
        found[f"{end}_bar"] = fitted.bar_rate
        found[f"{end}_tyres"] = tyre_pressure(job, setup.build, end) or 0.0
    return found


def level(dial: Dial, at: Mapping[str, float]) -> float | None:
    """Return where a setup stands on an adjuster's scale [steps]; None where it has no such part."""
    own = [at[q] for q in dial.quantities if q in at]
    return sum(own) / len(own) if len(own) == len(dial.quantities) else None


def moved(one: Mapping[str, float], two: Mapping[str, float]) -> Mapping[str, float]:
    """Return by how much each quantity that moved differs between two setups, the second less the first [steps]."""
    return {q: two[q] - one[q] for q in one if q in two and abs(two[q] - one[q]) >= MOVED}


def dial_of(differences: Mapping[str, float]) -> Dial | None:
    """Return the narrowest adjuster that explains a difference, None if it takes several or nothing moved.

    All that moved must belong to it and go the same way: then the verdict is about that adjuster alone.
    """
    if not differences or (min(differences.values()) < 0.0 < max(differences.values())):
        return None
    holds = [d for d in DIALS.values() if set(differences) <= set(d.quantities)]
    return min(holds, key=lambda d: len(d.quantities)) if holds else None


def furthest_other(dial: Dial, then: Mapping[str, float], now: Mapping[str, float]) -> float:
    """Return how far any other adjuster has been moved since [steps]."""
    others = [abs(now[q] - then[q]) for q in then if q in now and q not in dial.quantities]
    return max(others, default=0.0)
