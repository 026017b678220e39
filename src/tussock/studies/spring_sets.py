"""Which springs serve which fit-outs, the fewest that serve all, and how heights scatter in production."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations, product

import numpy as np

from tussock.errors import SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.mass import Item
from tussock.mechanics.motion import Still, Vehicle, settle, springing
from tussock.record.layouts import LAYOUTS
from tussock.studies import model, parts
from tussock.studies.job import ENDS, KERB, STOCK, Job, Setup
from tussock.studies.result import Cell, Column, Table

_COUNT = 20_000  # vehicles drawn
_SOFT = 10.0  # rate of a coil that stands for a force [N/m]
_SEED = 20262  # of the draw, unless said


def lifts(job: Job, build: str) -> Mapping[tuple[str, str, str], float]:
    """Return the lift that each kit spring gives on each axle in each fit-out, packers as the fit-out has them [m].

    The other axle keeps the spring that the fit-out chose. A spring on which the vehicle does not come to rest within
    its axle maps is left out.

    Returns
    -------
    mapping
        (axle, spring, fit-out) to lift over stock kerb at that axle.
    """
    kerb = model.rest(job, Setup(fitout=KERB, build=STOCK))
    out: dict[tuple[str, str, str], float] = {}
    for name, end in product(job.programme.fitouts, ENDS):
        setup = Setup(fitout=name, build=build)
        wheels = slice(0, 2) if end == "front" else slice(2, 4)
        kinds = LAYOUTS[job.programme.vehicle.axles[end].layout].springs
        for spring, record in job.programme.kit.springs.items():
            if record.kind not in kinds:
                continue
            fitted = parts.spring_of(job, setup, end, spring, record)
            try:
                here = settle(model.sprung(job, setup, end, fitted))
            except SolverError:
                continue
            out[end, spring, name] = float(np.mean(here.body_height[wheels] - kerb.body_height[wheels]))
    return out


def smallest_sets(job: Job, found: Mapping[tuple[str, str, str], float], end: str) -> tuple[tuple[str, ...], ...]:
    """Return every smallest set of kit springs that holds all fit-outs within tolerance on an axle; empty if none does.

    All subsets are tried, the smallest first: a kit has a handful of springs.
    """
    serves: dict[str, set[str]] = {}
    for (axle, spring, name), lift in found.items():
        wanted = job.programme.targets.lift[name]
        if axle == end and abs(lift - float(getattr(wanted, end))) <= float(wanted.tolerance):
            serves.setdefault(spring, set()).add(name)
    every = set(job.programme.fitouts)
    for size in range(1, len(serves) + 1):
        fit = tuple(c for c in combinations(serves, size) if set().union(*(serves[s] for s in c)) == every)
        if fit:
            return fit
    return ()


def spring_table(job: Job, found: Mapping[tuple[str, str, str], float]) -> Table:
    """Return `lifts` by spring and fit-out, and whether each holds, with the fewest springs that serve all."""
    rows: list[tuple[Cell, ...]] = []
    strong: list[int] = []
    fewest = {end: smallest_sets(job, found, end) for end in ENDS}
    for end in ENDS:
        for spring in job.programme.kit.springs:
            if not any((end, spring, n) in found for n in job.programme.fitouts):
                continue
            if any(spring in s for s in fewest[end]):
                strong.append(len(rows))
            cells: list[Cell] = []
            for name in job.programme.fitouts:
                lift = found.get((end, spring, name))
                wanted = job.programme.targets.lift[name]
                holds = lift is not None and abs(lift - float(getattr(wanted, end))) <= float(wanted.tolerance)
                cells += [lift, "holds" if holds else "off"]
            rows.append((end, spring, *cells))
    words = "; ".join(
        f"{end}: " + (" or ".join(" + ".join(s) for s in fewest[end]) if fewest[end] else "no set of these springs")
        for end in ENDS
    )
    return Table(
        key="spring_sets",
        title="Every kit spring on every fit-out",
        columns=(
            Column(key="axle", title="Axle"),
            Column(key="spring", title="Spring"),
            *(
                column
                for name, record in job.programme.fitouts.items()
                for column in (
                    Column(key=name, title=record.title, kind="length", sign=True),
                    Column(key=f"{name}_holds", title="Target"),
                )
            ),
        ),
        rows=tuple(rows),
        strong=tuple(strong),
        note=f"fewest springs that hold every fit-out: {words}",
    )


@dataclass(frozen=True, kw_only=True)
class Scatter:
    """How the heights of a fit-out scatter over production.

    Attributes
    ----------
    fitout : str
        Which.
    front, rear : tuple of float
        5 and 95 per cent points of the lift [m].
    outside : mapping
        Share of vehicles outside tolerance: "front", "rear", and "side" for the difference side to side [-].
    seed : int
        Of the draw.
    """

    fitout: str
    front: tuple[float, float]
    rear: tuple[float, float]
    outside: Mapping[str, float]
    seed: int


def sensitivities(job: Job, setup: Setup) -> tuple[Floats, Floats]:
    """Return how the four body heights move with what scatters, and the scatter of each.

    Twelve things scatter: the rate and the free length of each of the four springs, and the mass over each wheel.

    Returns
    -------
    (slopes, spread) : array (4, 12), array (12,)
        Body height over each wheel per unit; standard deviation of each unit as the programme states it.
    """
    vehicle = model.vehicle(job, setup)
    at = model.rest(job, setup)
    near = _Near(Still(vehicle), vehicle, at.q)
    columns: list[Floats] = []
    spread: list[float] = []
    corners = job.programme.vehicle.corners
    masses = (corners.front_left, corners.front_right, corners.rear_left, corners.rear_right)
    for a, end in enumerate(ENDS):
        spring = parts.fitted_spring(job, setup, end)
        axle = vehicle.axles[a]
        for side in (0, 1):
            spread += [spring.law.rate_spread, spring.law.free_length_spread]
            if max(axle.spring_rate) <= 0.0:
                slope = near.per_force(end, side, float(at.spring_length[2 * a + side]))
                columns += [slope * force for force in _seat_forces(job, setup, end, spring)]
                continue
            columns += [near.slope(end, side, rate=0.01 * spring.rate), near.slope(end, side, length=1e-3)]
    for i, corner in enumerate(masses):
        end = ENDS[i // 2]
        x, y, z = parts.wheel_centre(job, end)
        place = (x, y if i % 2 == 0 else -y, z + 0.3)
        columns.append(np.asarray(near.under(Item(name="scale", mass=1.0, at=place)) - at.body_height))
        spread.append(corner.spread)
    return np.stack(columns, axis=1), np.array(spread)


@dataclass(frozen=True)
class _Near:
    """Heights of the body of a vehicle that differs a little from one at rest, from where that one stands."""

    still: Still
    vehicle: Vehicle
    start: Floats

    def _heights(self, other: Vehicle) -> Floats:
        return self.still.other(other).rest(start=self.start).body_height

    def under(self, item: Item) -> Floats:
        """Return the heights with one thing more aboard [m]."""
        return self._heights(dataclasses.replace(self.vehicle, body=self.vehicle.body.with_items([item])))

    def on(self, end: str, rate: Sequence[float], length: Sequence[float]) -> Floats:
        """Return the heights on springs of other rates [N/m] and lengths [m] on one axle [m]."""
        axle = self.vehicle.axles[ENDS.index(end)].on_springs((rate[0], rate[1]), (length[0], length[1]))
        front, rear = (axle, self.vehicle.rear) if end == "front" else (self.vehicle.front, axle)
        return self._heights(dataclasses.replace(self.vehicle, front=front, rear=rear))

    def slope(self, end: str, side: int, *, rate: float = 0.0, length: float = 0.0) -> Floats:
        """Return how the heights move with the rate or the length of one spring, about a step of it either way."""
        axle = self.vehicle.axles[ENDS.index(end)]

        def stepped(sign: float) -> Floats:
            rates, lengths = list(axle.spring_rate), list(axle.spring_length)
            rates[side] += sign * rate
            lengths[side] += sign * length
            return self.on(end, rates, lengths)

        return np.asarray((stepped(1.0) - stepped(-1.0)) / (2.0 * (rate or length)))

    def per_force(self, end: str, side: int, length: float) -> Floats:
        """Return how the heights move with a force at the seat of one spring that is part of the linkage [m/N].

        The force is a coil of `_SOFT` rate beside it, at its length [m].
        """
        push, beside = 50.0, self.vehicle.axles[ENDS.index(end)].spring_length

        def pushed(times: float) -> Floats:
            rates, lengths = [0.0, 0.0], list(beside)
            rates[side], lengths[side] = _SOFT, length + times * push / _SOFT
            return self.on(end, rates, lengths)

        # a coil cannot pull: what it pushes at all is compared with twice that
        return np.asarray((pushed(2.0) - pushed(1.0)) / push)


def _seat_forces(job: Job, setup: Setup, end: str, spring: parts.Spring) -> tuple[float, float]:
    """Return the force of one spring of the linkage per its rate [m] and per its free length [N/m], the axle held."""
    heave = model.posture(job, setup)[end].heave

    def force(other: parts.Spring) -> float:
        return 0.5 * springing(model.axle_parts(job, setup, end, spring=other), heave=heave).force

    now, rate, more = force(spring), 0.01 * spring.rate, 1e-3
    stiffer = spring.at_rate(spring.rate + rate, spring.free_length)
    return (force(stiffer) - now) / rate, (force(spring.longer(more)) - now) / more


def scatter(job: Job, setup: Setup, *, seed: int = _SEED, count: int = _COUNT) -> Scatter:
    """Return how the heights of a fit-out scatter over production, drawn from normal distributions to first order.

    Parameters
    ----------
    job, setup : Job, Setup
        Which fit-out and build.
    seed : int
        Of the draw.
    count : int
        Vehicles drawn.
    """
    slopes, spread = sensitivities(job, setup)
    draw = _drawn(seed, count, spread.size) * spread
    kerb = model.rest(job, Setup(fitout=KERB, build=STOCK)).body_height
    heights = model.rest(job, setup).body_height - kerb + draw @ slopes.T
    wanted = job.programme.targets.lift[setup.fitout]
    front, rear = heights[:, :2].mean(axis=1), heights[:, 2:].mean(axis=1)
    # the stock vehicle's own lean is part of what is seen side to side
    lean = np.abs(heights[:, 0::2] + kerb[0::2] - heights[:, 1::2] - kerb[1::2]).max(axis=1)
    tolerance = float(wanted.tolerance)
    allowed = float(job.programme.targets.side_to_side)

    def ends(values: Floats) -> tuple[float, float]:
        low, high = np.percentile(values, [5.0, 95.0])
        return float(low), float(high)

    return Scatter(
        fitout=setup.fitout,
        front=ends(front),
        rear=ends(rear),
        outside={
            "front": float(np.mean(np.abs(front - float(wanted.front)) > tolerance)),
            "rear": float(np.mean(np.abs(rear - float(wanted.rear)) > tolerance)),
            "side": float(np.mean(lean > allowed)),
        },
        seed=seed,
    )


@lru_cache(maxsize=2)
def _drawn(seed: int, count: int, sizes: int) -> Floats:
    """Return standard normal numbers (count, sizes): the same for every fit-out and version."""
    drawn = np.random.default_rng(seed).standard_normal((count, sizes))
    drawn.flags.writeable = False
    return drawn


def scatters(job: Job, build: str, *, seed: int = _SEED) -> tuple[Scatter, ...]:
    """Return the scatter of every fit-out's heights."""
    return tuple(scatter(job, Setup(fitout=name, build=build), seed=seed) for name in job.programme.fitouts)


def scatter_table(job: Job, found: Sequence[Scatter]) -> Table:
    """Return the scatter of every fit-out's heights over production as a table."""
    rows: list[tuple[Cell, ...]] = []
    for s in found:
        rows.append(
            (
                job.programme.fitouts[s.fitout].title,
                *s.front,
                s.outside["front"],
                *s.rear,
                s.outside["rear"],
                s.outside["side"],
            )
        )
    return Table(
        key="scatter",
        title="Heights over production: 5 to 95 per cent, and the share outside tolerance",
        columns=(
            Column(key="fitout", title="Fit-out"),
            Column(key="front_low", title="Front from", kind="length", sign=True),
            Column(key="front_high", title="to", kind="length", sign=True),
            Column(key="front_outside", title="Outside", kind="share"),
            Column(key="rear_low", title="Rear from", kind="length", sign=True),
            Column(key="rear_high", title="to", kind="length", sign=True),
            Column(key="rear_outside", title="Outside", kind="share"),
            Column(key="side_outside", title="Side to side", kind="share"),
        ),
        rows=tuple(rows),
        note="spring rates, free lengths and corner masses drawn with their stated +- as standard deviation, each "
        f"spring for itself; {_COUNT} vehicles, seed {found[0].seed}",
    )
