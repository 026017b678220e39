"""Production: what the tolerances of a build do to its dyno forces, bands from that, and the verdict on a batch."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.interpolate import PchipInterpolator

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.dampers.assembly import RANGES, DamperBuild, LiftTables, Parameters, StackValve, assemble
from tussock.mechanics.dampers.build import Place
from tussock.mechanics.dampers.capability import Capability, capability
from tussock.mechanics.dampers.hydraulics import solve
from tussock.mechanics.dampers.hydraulics.valves import Sense
from tussock.mechanics.dampers.search.trial import with_valve

#: Speeds of a production test [m/s]; 0.13 to 1.04 as QC/T 491-2018 recommends, 0.05 beside them (common practice).
SPEEDS = (0.05, 0.13, 0.26, 0.52, 1.04)
#: Deviations at which each tolerance is tried, in its standard deviations.
_NODES = np.array([-3.0, -1.3, 0.0, 1.3, 3.0])


@dataclass(frozen=True, kw_only=True)
class Tolerances:
    """Standard deviation of what scatters from damper to damper; a drawing's +- is about three of them.

    Parameters
    ----------
    disc_thickness : float
        Of every disc [m]; discs of one thickness in one stack are cut from one strip and deviate alike.
    seat_height : float
        Of each stack's seat [m]: the preload.
    bleed : float
        Of the area of bleeds and notches [-].
    curtain_discharge : float
        Of the edges' finish [-].
    band_gap : float
        [m].
    friction : float
        [N].

    Raises
    ------
    DomainError
        If a value is below 0, or all are 0.
    """

    disc_thickness: float = 0.002e-3
    seat_height: float = 0.007e-3
    bleed: float = 0.02
    curtain_discharge: float = 0.01
    band_gap: float = 0.003e-3
    friction: float = 5.0

    def __post_init__(self) -> None:
        """Refuse what is no scatter."""
        values = [getattr(self, name) for name in self.__dataclass_fields__]
        if not all(math.isfinite(v) and v >= 0.0 for v in values):
            raise DomainError("a tolerance is below 0 or no number; give standard deviations of 0 or more")
        if not any(values):
            raise DomainError("no tolerance is above 0; nothing scatters")


@dataclass(frozen=True, kw_only=True, eq=False)
class ForceBands:
    """Forces of a production at standard speeds, friction in them, gas force taken off; arrays (V,).

    Parameters
    ----------
    velocity : array
        Positive in compression, rising [m/s].
    nominal, mean, sigma : array
        As drawn; mean and standard deviation of the sample, signed as the velocity [N].
    least, most : array
        Band that holds `coverage` of the production, the tails alike, signed: least is the lower number [N].
    coverage : float
        [-].
    sources : mapping of str to array
        Share of the variance by source [-].
    sample : array (n, V)
        The sample [N].
    misfit : float
        Largest difference between sample and whole model in the dampers checked, over the force [-].
    seed : int
    """

    velocity: Floats
    nominal: Floats
    mean: Floats
    sigma: Floats
    least: Floats
    most: Floats
    coverage: float
    sources: Mapping[str, Floats]
    sample: Floats
    misfit: float
    seed: int


@dataclass(frozen=True)
class _Source:
    """One independent deviation: name for people, standard deviation, and what it changes."""

    name: str
    sigma: float
    where: Place | None = None
    sense: Sense | None = None
    thickness: float = 0.0
    parameter: str = ""


def _sources(build: DamperBuild, tolerances: Tolerances) -> list[_Source]:
    out: list[_Source] = []
    for where, sense, valve in build.valves():
        if not isinstance(valve, StackValve):
            continue
        if tolerances.disc_thickness > 0.0:
            for thickness in dict.fromkeys(disc.thickness for disc in valve.discs):
                out.append(_Source("disc thickness", tolerances.disc_thickness, where, sense, thickness))
        if tolerances.seat_height > 0.0:
            out.append(_Source("seat height", tolerances.seat_height, where, sense))
    for name, sigma, parameter in (
        ("bleed", tolerances.bleed, "bleed_factor"),
        ("curtain discharge", tolerances.curtain_discharge, "curtain_discharge"),
        ("band gap", tolerances.band_gap, "band_gap"),
    ):
        if sigma > 0.0:
            out.append(_Source(name, sigma, parameter=parameter))
    return out


def _deviated(
    build: DamperBuild, parameters: Parameters, source: _Source, amount: float
) -> tuple[DamperBuild, Parameters]:
    """Return build and parameters with one source off by an amount in its unit."""
    if source.parameter:
        low, high = RANGES[source.parameter]
        value = getattr(parameters, source.parameter) + amount
        return build, replace(parameters, **{source.parameter: min(max(value, low), high)})
    assert source.where is not None  # a source without a parameter sits in a stack
    assert source.sense is not None
    group = build.valving(source.where)
    valve = None if group is None else group.valve(source.sense)
    assert isinstance(valve, StackValve)  # listed from the stacks
    if source.thickness > 0.0:
        discs = tuple(
            replace(d, thickness=max(d.thickness + amount, 0.2 * d.thickness)) if d.thickness == source.thickness else d
            for d in valve.discs
        )
        return with_valve(build, source.where, source.sense, replace(valve, discs=discs)), parameters
    moved = replace(valve, seat_height=valve.seat_height + amount)
    return with_valve(build, source.where, source.sense, moved), parameters


def force_bands(
    build: DamperBuild,
    *,
    tolerances: Tolerances | None = None,
    parameters: Parameters | None = None,
    lifts: LiftTables | None = None,
    speeds: Sequence[float] = SPEEDS,
    temperature: float = 293.15,
    coverage: float = 0.9973,
    count: int = 20_000,
    seed: int = 1,
    checks: int = 4,
) -> ForceBands:
    """Return the bands that a production with these tolerances keeps.

    Each deviation's effect on the logarithm of the hydraulic force is found by the whole model at +-1.3 and +-3
    standard deviations; a sample adds them up. A few dampers of the sample are solved whole: `misfit` says how well
    the sum holds.

    Parameters
    ----------
    build : DamperBuild
    tolerances : Tolerances, optional
    parameters, lifts
        As of `assembly.assemble`.
    speeds : sequence of float
        Of the test, in both strokes, rising [m/s].
    temperature : float
        Of the oil [K].
    coverage : float
        Share of the production inside the band [-]; 0.9973 is what +-3 sigma of a normal process hold.
    count : int
        Dampers in the sample.
    seed : int
        Of the sample.
    checks : int
        Dampers of the sample that are solved whole.

    Raises
    ------
    DomainError
        If speeds, coverage or count cannot be.
    SolverError
        If a deviated stack cannot be solved.
    """
    given = np.asarray(speeds, dtype=float)
    if given.ndim != 1 or given.size == 0 or np.any(np.diff(given) <= 0.0) or given[0] <= 0.0:
        raise DomainError("test speeds must be above 0 and rise, such as 0.13, 0.26, 0.52 m/s")
    if not 0.5 <= coverage < 1.0:
        raise DomainError(f"a band for {coverage:g} of the production; choose from 0.5 to below 1, such as 0.9973")
    if count < 10.0 / (1.0 - coverage):
        raise DomainError(
            f"{count} dampers tell nothing of the last {1.0 - coverage:.2%}; take {10 / (1 - coverage):.0f}"
        )
    scatter = Tolerances() if tolerances is None else tolerances
    start = Parameters() if parameters is None else parameters
    memory = LiftTables() if lifts is None else lifts
    v = np.concatenate([-given[::-1], given])

    def forces(one: DamperBuild, p: Parameters) -> Floats:
        state = solve(assemble(one, parameters=p, lifts=memory), velocities=v, temperature=temperature)
        return np.asarray(state.hydraulic_force)

    friction = start.seal_friction if build.body.friction is None else build.body.friction
    base = forces(build, start)
    rng = np.random.default_rng(seed)
    sources = _sources(build, scatter)
    draws = rng.standard_normal((count, len(sources)))
    change = np.zeros((count, v.size))
    by_source: dict[str, Floats] = {}
    for i, source in enumerate(sources):
        effect = np.zeros((_NODES.size, v.size))
        for j, node in enumerate(_NODES):
            if node != 0.0:
                effect[j] = np.log(forces(*_deviated(build, start, source, float(node) * source.sigma)) / base)
        # beyond three standard deviations the end slope goes on
        inner = np.clip(draws[:, i], _NODES[0], _NODES[-1])
        curve = PchipInterpolator(_NODES, effect)
        own = curve(inner) + (draws[:, i] - inner)[:, None] * curve.derivative()(inner)
        change += own
        by_source[source.name] = by_source.get(source.name, np.zeros(v.size)) + np.var(own * base, axis=0)
    rubbing = np.maximum(friction + scatter.friction * rng.standard_normal(count), 0.0)
    if scatter.friction > 0.0:
        by_source["friction"] = np.full(v.size, float(np.var(rubbing)))
    hydraulic = base * np.exp(change)
    sample = hydraulic + rubbing[:, None] * np.sign(v)
    misfit = 0.0
    for k in range(min(checks, count)):
        one, p = build, start
        for i, source in enumerate(sources):
            one, p = _deviated(one, p, source, float(draws[k, i]) * source.sigma)
            # a deviated disc is found by its own thickness: later sources name others
        whole = forces(one, p)
        misfit = max(misfit, float(np.max(np.abs(hydraulic[k] / whole - 1.0))))
    total = sum(by_source.values(), np.zeros(v.size))
    tail = 0.5 * (1.0 - coverage)
    least, most = np.quantile(sample, [tail, 1.0 - tail], axis=0)
    return ForceBands(
        velocity=v,
        nominal=base + friction * np.sign(v),
        mean=np.asarray(np.mean(sample, axis=0)),
        sigma=np.asarray(np.std(sample, axis=0, ddof=1)),
        least=least,
        most=most,
        coverage=coverage,
        sources={name: part / total for name, part in by_source.items()},
        sample=sample,
        misfit=misfit,
        seed=seed,
    )


@dataclass(frozen=True, kw_only=True)
class DamperVerdict:
    """One damper of a batch: whether it passes, and the velocities [m/s] at which it does not."""

    serial: str
    passes: bool
    failing: tuple[float, ...]


@dataclass(frozen=True, kw_only=True, eq=False)
class BatchVerdict:
    """A batch against its bands.

    Parameters
    ----------
    dampers : tuple of DamperVerdict
    capability : tuple of Capability
        One for each velocity.
    velocity : array (V,)
        [m/s].
    """

    dampers: tuple[DamperVerdict, ...]
    capability: tuple[Capability, ...]
    velocity: Floats

    @property
    def passing(self) -> int:
        """Dampers inside every band."""
        return sum(one.passes for one in self.dampers)

    @property
    def governing(self) -> int:
        """Number of the velocity with the least Cpk."""
        return min(range(len(self.capability)), key=lambda i: self.capability[i].cpk)


def batch_verdict(
    serials: Sequence[str],
    forces: Floats,
    *,
    velocity: Floats,
    least: Floats,
    most: Floats,
    confidence: float = 0.95,
) -> BatchVerdict:
    """Judge a batch.

    Parameters
    ----------
    serials : sequence of str (n,)
        One a damper, none twice.
    forces : array (n, V)
        Measured as the bands are: friction in, gas force off, signed [N].
    velocity, least, most : array (V,)
        [m/s] and band [N].
    confidence : float
        Of the capability's intervals [-].

    Raises
    ------
    DomainError
        If the arrays do not fit, a serial stands twice, or there are fewer than two dampers.
    """
    f = np.asarray(forces, dtype=float)
    if f.ndim != 2 or f.shape != (len(serials), velocity.size):
        raise DomainError(
            f"{len(serials)} dampers at {velocity.size} velocities want forces of that shape, not {f.shape}"
        )
    twice = sorted({s for s in serials if list(serials).count(s) > 1})
    if twice:
        raise DomainError(f"serial {', '.join(twice)} stands twice in the batch; each damper is measured once")
    outside = (f < least) | (f > most) | ~np.isfinite(f)
    return BatchVerdict(
        dampers=tuple(
            DamperVerdict(serial=s, passes=not np.any(row), failing=tuple(float(x) for x in velocity[row]))
            for s, row in zip(serials, outside, strict=True)
        ),
        capability=tuple(
            capability(f[:, i], least=float(least[i]), most=float(most[i]), confidence=confidence)
            for i in range(velocity.size)
        ),
        velocity=velocity,
    )
