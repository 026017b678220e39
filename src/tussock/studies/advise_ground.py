"""Where the adviser looks: adjusters in half steps around a build, and what stock and safety leave of them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from tussock.errors import InputError
from tussock.mechanics.arrays import Floats, Ints
from tussock.mechanics.dampers import BANDS
from tussock.mechanics.tuning import Lattice, NotBelow, Point, point_of
from tussock.studies import model, parts, tuning_levels
from tussock.studies.adjusters import ADJUSTERS, PARTS
from tussock.studies.damper_inside import band_slope
from tussock.studies.display import show
from tussock.studies.job import ENDS, STOCK, Job, Setup

FINE = 0.5
"""One level of the lattice, in the steps of the windows."""
REACH = 4
"""Levels at most from some build that was driven: two steps, what a driver can still place against it."""
APART = 4
"""Levels by which front and rear springs may leave the ratio that they have."""
_NEAR = 2.5  # standard deviation of the settings near the middle, in levels
_DIRECTIONS = ("rebound", "compression")


@dataclass(frozen=True, kw_only=True)
class Axis:
    """One adjuster of the lattice.

    Attributes
    ----------
    key : str
        Of `adjusters.ADJUSTERS`.
    kind : str
        Of `tuning_levels.KINDS`.
    low, high : int
        Levels below and above the build in the middle, which is 0.
    limits : str
        What ends it at either end, in words.
    """

    key: str
    kind: str
    low: int
    high: int
    limits: str

    @property
    def title(self) -> str:
        """In words."""
        return ADJUSTERS[self.key].title

    @property
    def step(self) -> float:
        """Factor of one level [-]."""
        return float((1.0 + tuning_levels.KINDS[self.kind].step) ** FINE)

    def factor(self, level: float) -> float:
        """Return what a level multiplies of the build in the middle."""
        return float(self.step**level)


@dataclass(frozen=True, kw_only=True, eq=False)
class Ground:
    """The lattice around one build.

    Attributes
    ----------
    setup : Setup
        The build in the middle, in the fit-out that is driven.
    axes : tuple of Axis
    lattice : Lattice
        Level 0 of each of its adjusters is the axis's `low`.
    held : mapping
        Adjusters that are left as they are, and why.
    places : mapping
        Where the builds of the log stand, by name.
    off : mapping
        By how many steps a build stands off its place at most.
    """

    setup: Setup
    axes: tuple[Axis, ...]
    lattice: Lattice
    held: Mapping[str, str]
    places: Mapping[str, Point]
    off: Mapping[str, float]

    @property
    def middle(self) -> Point:
        """Where the build in the middle stands."""
        return tuple(-a.low for a in self.axes)

    @property
    def keys(self) -> tuple[str, ...]:
        """Adjusters in the order of a point."""
        return tuple(a.key for a in self.axes)

    def factors(self, points: Ints) -> Floats:
        """Return what points (n, adjusters) multiply of the build in the middle (n, adjusters)."""
        levels = np.atleast_2d(points) + np.array([a.low for a in self.axes])
        return np.asarray(np.array([a.step for a in self.axes]) ** levels)

    def design(self, count: int, seed: int) -> Ints:
        """Return which settings to simulate (count, adjusters): the middle, then safe ones drawn.

        Every second one is near the middle, where builds will be; the others fill the lattice.
        """
        random = np.random.default_rng(seed)
        middle, counts = np.array(self.middle), np.array(self.lattice.counts)
        drawn = self.lattice.random(random, count)
        near = np.empty((0, len(counts)), dtype=np.int64)
        while len(near) < count:
            tried = middle + np.rint(random.normal(scale=_NEAR, size=(4 * count, len(counts)))).astype(np.int64)
            tried = np.clip(tried, 0, counts - 1)
            near = np.concatenate([near, tried[self.lattice.safe(tried)]])
        mixed = np.stack([drawn, near[:count]], axis=1).reshape(2 * count, -1)
        every = np.vstack([middle, mixed])
        _, first = np.unique(every, axis=0, return_index=True)
        return np.asarray(every[np.sort(first)][:count])


def amounts(job: Job, setup: Setup) -> dict[str, float]:
    """Return what each adjuster is on a setup: slope of a damper's force over a speed band [N s/m], rates, pressure."""
    found: dict[str, float] = {}
    for end in ENDS:
        curve = parts.fitted(job, setup, end).curve
        for direction in _DIRECTIONS:
            for band in BANDS:
                found[f"{end}_{direction}_{band}"] = band_slope(curve, direction, band)
    fitted = tuning_levels.amounts(job, setup)
    for end in ENDS:
        found |= {
            f"{end}_{part}": fitted[f"{end}_{name}"]
            for part, name in (("spring", "spring"), ("bar", "bar"), ("tyre_pressure", "tyres"))
        }
    return found


def kind_of(key: str) -> str:
    """Return the kind of `tuning_levels.KINDS` of an adjuster."""
    part = ADJUSTERS[key].part
    return "tyres" if part == "tyre_pressure" else part


def others(job: Job, build: str, middle: str) -> str:
    """Say in what a build differs from another beside the adjusters; "" for nothing."""
    if STOCK in (build, middle):
        return "" if build == middle else "stock stands lower and on its own stops"
    worn = job.programme.worn
    words = [
        title
        for part, title in (("stop_stacks", "bump stops"), ("stop_spacers", "stop spacers"))
        if any(worn(build, part, end) != worn(middle, part, end) for end in ENDS)
    ]
    if worn(build, "packers") != worn(middle, "packers"):
        words.append("packers")
    return f"it has other {' and '.join(words)}" if words else ""


def ground(job: Job, setup: Setup, builds: Sequence[str]) -> Ground:
    """Return the lattice around a setup that holds the builds named.

    Parameters
    ----------
    job : Job
    setup : Setup
        In the middle.
    builds : sequence of str
        Of the log; those that differ in more than adjusters are no places on it and must not be named.

    Raises
    ------
    InputError
        If nothing is left that could be changed.
    """
    here = amounts(job, setup)
    free, held = _free(job, setup, here)
    if not free:
        raise InputError(f"nothing of {setup.build} can be changed: {'; '.join(held.values())}")
    stand: dict[str, list[float]] = {}
    for build in dict.fromkeys((setup.build, *builds)):
        there = amounts(job, Setup(fitout=setup.fitout, build=build))
        stand[build] = [_levels(key, there[key], here[key]) for key in free]
    axes = tuple(_axis(job, setup, key, [at[i] for at in stand.values()], here[key]) for i, key in enumerate(free))
    flat = [a for a in axes if a.low == a.high]
    held |= {a.key: f"{a.title} has no room: {a.limits}" for a in flat}
    kept = [i for i, a in enumerate(axes) if a.low != a.high]
    axes = tuple(axes[i] for i in kept)
    if not axes:
        raise InputError(f"nothing of {setup.build} can be changed: {'; '.join(held.values())}")
    low = np.array([a.low for a in axes])
    levels = {b: np.array(at)[kept] for b, at in stand.items()}
    places = {b: point_of(np.rint(at).astype(int) - low) for b, at in levels.items()}
    return Ground(
        setup=setup,
        axes=axes,
        lattice=Lattice(counts=tuple(a.high - a.low + 1 for a in axes), rules=_rules(axes, places, here), reach=REACH),
        held=held,
        places=places,
        off={b: float(FINE * np.max(np.abs(at - np.rint(at)))) for b, at in levels.items()},
    )


def _levels(key: str, there: float, here: float) -> float:
    return math.log(there / here) / (FINE * math.log1p(tuning_levels.KINDS[kind_of(key)].step))


def _free(job: Job, setup: Setup, here: Mapping[str, float]) -> tuple[list[str], dict[str, str]]:
    """Return the adjusters that the stock lets be changed, and why the others are held."""
    free: list[str] = []
    held: dict[str, str] = {}
    kit = job.programme.kit
    for end in ENDS:
        name, _ = parts.damper_choice(job, setup, end)
        dampers = [f"{end}_{d}_{b}" for d in _DIRECTIONS for b in BANDS]
        if name in kit.dampers:
            free += [k for k in dampers if here[k] > 0.0]
        else:
            held |= {k: f"the {end} damper is not the kit's" for k in dampers}
    for end in ENDS:
        spring, record = parts.spring_choice(job, setup, end)
        kinds = {str(getattr(kit.springs[s], "kind", "coil")) for s in kit.springs}
        if kit.coiling is not None and str(getattr(record, "kind", "coil")) == "coil":
            free.append(f"{end}_spring")
        else:
            have = "no coils are wound for it (kit.coiling)" if "coil" in kinds else "leaves and bars come as they are"
            held[f"{end}_spring"] = f"{end} spring {spring} is kept: {have}"
    for end in ENDS:
        if here[f"{end}_bar"] > 0.0:
            free.append(f"{end}_bar")
        else:
            held[f"{end}_bar"] = f"there is no {end} anti-roll bar"
    for end in ENDS:
        key = f"{end}_tyre_pressure"
        if here[key] > 0.0:
            free.append(key)
        else:
            held[key] = "the programme does not say the tyres' pressure"
    return free, held


def _axis(job: Job, setup: Setup, key: str, levels: Sequence[float], here: float) -> Axis:
    """Return how far an adjuster may go: what was driven, and as far beyond as reach, part and limits allow."""
    kind = kind_of(key)
    size = FINE * math.log1p(tuning_levels.KINDS[kind].step)
    least, most = -float(REACH), float(REACH)
    words = [f"{FINE * REACH:g} steps either way of what was driven"]
    if kind == "spring":
        bounds = _by_frequency(job, setup, key.split("_")[0])
        least, most = max(least, math.log(bounds[0]) / size), min(most, math.log(bounds[1]) / size)
        words.append("ride frequency within its target")
    if kind == "tyres":
        bound, why = _by_load(job, setup, key.split("_")[0], here)
        least, most = max(least, math.log(bound) / size), min(most, 2.0)
        words = [why, "one step firmer than now at most"]
    rule = PARTS[ADJUSTERS[key].part]
    least, most = max(least, math.log(rule.least or 1e-3) / size), min(most, math.log(rule.most) / size)
    low, high = min(math.ceil(least - 1e-9), 0), max(math.floor(most + 1e-9), 0)
    driven = [round(v) for v in levels]
    return Axis(key=key, kind=kind, low=min(low, *driven, 0), high=max(high, *driven, 0), limits="; ".join(words))


def _by_frequency(job: Job, setup: Setup, end: str) -> tuple[float, float]:
    """Return the factors on a spring's rate between which the axle's ride frequency keeps its target."""
    goal = job.programme.targets.ride_frequency[end]
    rate, mass = model.wheel_rate(job, setup, end), parts.sprung_corner(job, setup.fitout, end)
    now = math.sqrt(rate / mass) / (2.0 * math.pi)
    return min((float(goal.least) / now) ** 2, 1.0), max((float(goal.most) / now) ** 2, 1.0)


def _by_load(job: Job, setup: Setup, end: str, here: float) -> tuple[float, str]:
    """Return the least factor on a tyre's pressure that still carries the axle in every fit-out, and why.

    What a tyre may carry is taken as proportional to its pressure, which asks for more than tyre makers' tables do
    (common practice, no source).
    """
    tyre = job.programme.vehicle.tyre
    if tyre.load_limit is None or tyre.pressure is None:
        return 1.0, "no softer: the programme does not say what the tyre may carry (load_limit)"
    load = max(parts.static_corner_load(job, f, end) for f in job.programme.fitouts)
    carried = load / (float(tyre.load_limit) * 9.80665)
    least = carried * float(tyre.pressure)
    return min(max(least, 0.8 * here) / here, 1.0), f"tyres carry every fit-out from {least / 1e5:.2f} bar on"


def _rules(axes: Sequence[Axis], places: Mapping[str, Point], here: Mapping[str, float]) -> tuple[NotBelow, ...]:
    """Return what every safe build keeps; what was driven already keeps it too."""
    at = {a.key: i for i, a in enumerate(axes)}
    out: list[NotBelow] = []

    def rule(above: str, below: str, slack: float) -> None:
        if above in at and below in at:
            i, j = at[above], at[below]
            driven = max(p[j] - p[i] for p in places.values())
            # levels of the lattice count from each axis's softest
            out.append(NotBelow(adjuster=i, other=j, slack=max(math.floor(slack + axes[i].low - axes[j].low), driven)))

    for end in ENDS:
        for band in BANDS:
            rebound, compression = f"{end}_rebound_{band}", f"{end}_compression_{band}"
            if here[rebound] > 0.0 and here[compression] > 0.0:
                rule(rebound, compression, _levels(rebound, here[rebound], here[compression]))
    for one, two in (("front_spring", "rear_spring"), ("rear_spring", "front_spring")):
        rule(one, two, float(APART))
    return tuple(out)


def rule_words() -> str:
    """Say what every proposed build keeps."""
    return (
        "rebound at least as steep as compression in every speed band (common practice, no source); springs at most "
        f"{FINE * APART:g} steps off the front-to-rear ratio that they have; no adjuster more than {FINE * REACH:g} "
        "steps from a build that was driven"
    )


def shown_amount(key: str, value: float) -> str:
    """Write what an adjuster is: slope of the force, rate, pressure in bar."""
    kind = kind_of(key)
    if kind == "tyres":
        return f"{value / 1e5:.2f} bar"
    return show(value, {"damping": "damping", "spring": "rate", "bar": "roll_rate"}[kind])


def moved(ground: Ground, point: Point, base: Point) -> tuple[tuple[Axis, int], ...]:
    """Return which adjusters differ between two points, and by how many levels; the most moved first."""
    found = [(a, point[i] - base[i]) for i, a in enumerate(ground.axes) if point[i] != base[i]]
    return tuple(sorted(found, key=lambda m: -abs(m[1])))
