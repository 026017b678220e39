"""Many drives of one vehicle over roads of one kind, with parameters spread: what `fit.Emulator` is made from."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np

from tussock.errors import DomainError, SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.identify.fit import Emulator, Fit, Parameter, design, estimate
from tussock.mechanics.identify.sensors import Lever, Sensors
from tussock.mechanics.identify.statistics import SEGMENT, Statistics, statistics
from tussock.mechanics.identify.variants import PARAMETERS, changed
from tussock.mechanics.motion import Vehicle, settle, simulate
from tussock.mechanics.roads import Section, build

EVERY = 4  # every fourth millisecond is kept: 250 Hz carries 30 Hz
STEP = 1e-3  # [s]
WORKERS = 2
ROUGHNESS = (0.25, 4.0)  # span of a section's spectral density over what its class says [-]


NEAR = 0.35  # half width of the second spread of parameters, about the first estimate [-]
WIDE = 0.8  # of the first
FARTHEST = 0.9  # from the middle of the spans at which the second may stand [-]


@dataclass(frozen=True, kw_only=True)
class Plan:
    """What is driven.

    Attributes
    ----------
    vehicle : Vehicle
        The model as it is thought to be.
    sections : tuple of Section
        Random roads, each long enough for a segment of the spectra.
    body : mapping
        Places of the body's accelerometers from the sprung centre of mass [m].
    seat : tuple of float
        That of the seat's.
    track : float
        Distance between the wheel tracks [m].
    keys : tuple of str
        Of `PARAMETERS`, those to find.
    """

    vehicle: Vehicle
    sections: tuple[Section, ...]
    body: Mapping[str, Lever]
    seat: Lever
    track: float
    keys: tuple[str, ...] = tuple(PARAMETERS)

    def __post_init__(self) -> None:
        """Refuse sections that say nothing."""
        if not self.sections:
            raise DomainError("no section to drive; at least one with a random surface is needed")
        for s in self.sections:
            if s.density <= 0.0 or s.length / s.mean_speed < 2.0 * SEGMENT:
                raise DomainError(
                    f"section {s.name!r}: a random surface driven for at least {2.0 * SEGMENT:g} s is needed, "
                    f"it lasts {s.length / s.mean_speed:.1f} s"
                )

    @property
    def parameters(self) -> tuple[Parameter, ...]:
        """The vehicle's, then the roughness of each section."""
        return (
            *(PARAMETERS[k] for k in self.keys),
            *(Parameter(key=f"roughness of {s.name}", low=ROUGHNESS[0], high=ROUGHNESS[1]) for s in self.sections),
        )


def drive(plan: Plan, factors: Mapping[str, float], *, seed: int) -> list[dict[str, Floats]]:
    """Return the channels of every section driven once, on the roads of a seed, with factors on the parameters."""
    vehicle = changed(plan.vehicle, {k: v for k, v in factors.items() if k in PARAMETERS})
    rest = settle(vehicle)
    sensors = Sensors(vehicle=vehicle, rest=rest, body=plan.body, seat=plan.seat)
    out = []
    for section in plan.sections:
        rough = replace(section, density=section.density * factors.get(f"roughness of {section.name}", 1.0))
        road = build(rough, track=plan.track, seed=seed)
        history = simulate(vehicle, road, speed=rough.driven_speed(STEP), step=STEP, rest=rest, every=EVERY)
        out.append(sensors.channels(history))
    return out


def figures(plan: Plan, factors: Mapping[str, float], *, seed: int) -> Statistics:
    """Return the figures of all sections, each name with its section's."""
    vehicle = changed(plan.vehicle, {k: v for k, v in factors.items() if k in PARAMETERS})
    sensors = Sensors(vehicle=vehicle, rest=settle(vehicle), body=plan.body, seat=plan.seat)
    runs = drive(plan, factors, seed=seed)
    return joined(plan, [[run] for run in runs], step=EVERY * STEP, rest=sensors.rest_channels)


def joined(
    plan: Plan, runs: Sequence[Sequence[Mapping[str, Floats]]], *, step: float, rest: Mapping[str, float] | None
) -> Statistics:
    """Return the figures of all sections from the runs of each."""
    names: list[str] = []
    values: list[Floats] = []
    for section, pieces in zip(plan.sections, runs, strict=True):
        got = statistics(list(pieces), step, rest=rest)
        names += [f"{section.name}: {n}" for n in got.names]
        values.append(got.values)
    return Statistics(names=tuple(names), values=np.concatenate(values))


def emulate(
    plan: Plan,
    *,
    count: int,
    seed: int,
    centre: Floats | None = None,
    half: float = 1.0,
    progress: Callable[[int], None] | None = None,
    workers: int = WORKERS,
) -> Emulator:
    """Return the emulator from `count` drives, each with other parameters on other roads.

    Points at which the vehicle cannot be driven are left out.

    Parameters
    ----------
    plan : Plan
        What is driven.
    count : int
        How many.
    seed : int
        Of the parameters and of the roads.
    centre, half : array (p,), float
        Where the parameters are spread, and how far either way, in half widths of their spans.
    progress : callable, optional
        Told how many drives are done.
    workers : int
        Threads.

    Raises
    ------
    SolverError
        If more than a tenth of the drives fail; with the first reason.
    """
    parameters = plan.parameters
    middle = np.zeros(len(parameters)) if centre is None else centre
    theta = design(count, centre=middle, half=half, seed=seed)
    done = [0]
    reasons: list[str] = []

    def one(i: int) -> Statistics | None:
        factors = {p.key: p.factor(float(t)) for p, t in zip(parameters, theta[i], strict=True)}
        try:
            got = figures(plan, factors, seed=seed + 1 + i)
        except (SolverError, DomainError) as error:
            reasons.append(str(error))
            got = None
        done[0] += 1
        if progress is not None:
            progress(done[0])
        return got

    with ThreadPoolExecutor(workers) as pool:
        results = list(pool.map(one, range(count)))
    kept = [i for i, r in enumerate(results) if r is not None]
    if len(kept) < 0.9 * count:
        raise SolverError(f"{count - len(kept)} of {count} drives failed; the first: {reasons[0]}")
    rows = [r for r in results if r is not None]
    names = rows[0].names
    order = [s.name for s in plan.sections]
    blocks = np.array([order.index(n.split(": ")[0]) for n in names], dtype=np.int64)
    return Emulator(parameters, names, blocks, theta[kept], np.stack([r.values for r in rows]))


def find(
    plan: Plan,
    measured: Statistics,
    *,
    count: int = 300,
    seed: int,
    noise: Floats | None = None,
    progress: Callable[[int], None] | None = None,
    workers: int = WORKERS,
) -> Fit:
    """Return the parameters with which the model drives as was measured: a wide look, then a near one about its answer.

    Parameters
    ----------
    plan : Plan
        What is driven.
    measured : Statistics
        Figures of the measured drives on the same sections (`joined`); channels that are not there are left out.
    count : int
        Drives of the near look; the wide one takes half as many.
    seed : int
        Of parameters and roads.
    noise : array, optional
        As `estimate` takes it.
    progress : callable, optional
        Told how many drives are done, of both looks together.
    workers : int
        Threads.

    Raises
    ------
    DomainError
        If a measured figure is none that the simulation has.
    SolverError
        If too many drives fail, or the answer lies outside what was looked at.
    """
    first = max(count // 2, 3 * (1 + 2 * len(plan.parameters)))
    wide = emulate(plan, count=first, seed=seed, half=WIDE, progress=progress, workers=workers).kept(measured.names)
    about = np.clip(estimate(wide, measured.values, noise=noise).theta, -FARTHEST, FARTHEST)
    later = None if progress is None else (lambda done: progress(first + done))
    near = emulate(
        plan, count=count, seed=seed + 1_000_003, centre=about, half=NEAR, progress=later, workers=workers
    ).kept(measured.names)
    fit = estimate(near, measured.values, noise=noise)
    far = [p.key for p, t, c in zip(plan.parameters, fit.theta, about, strict=True) if abs(t - c) > 3.0 * NEAR]
    if far:
        raise SolverError(
            f"{', '.join(far)} would have to lie outside what was looked at; the model is too far from the vehicle: "
            "correct what is known of it first"
        )
    return fit
