"""What a vehicle of the production is off by: each cause as places in a unit cube and the adjusters that they move."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.stats import norm

from tussock.errors import DomainError, InputError, SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.dampers import BANDS, ForceCurve, production_band
from tussock.mechanics.dampers.production import ForceBands, force_bands
from tussock.studies import build_sheet, damper_builds, damper_inside, model, parts
from tussock.studies.adjusters import ADJUSTERS
from tussock.studies.display import show
from tussock.studies.job import ENDS, Job, Setup

DIRECTIONS = ("rebound", "compression")
TEST_SPEEDS = (0.13, 0.52)
"""At which a production's scatter of damper forces is taken [m/s]; both of QC/T 491-2018's."""
SIGMAS = 3.0
"""Beyond which nothing leaves the works: a part outside its drawing is not fitted."""
RATE_SIGMA = 0.015
"""Of a spring's rate where the programme gives none: +-4.5 % in all; common practice, no source."""
PRESSURE = (0.9, 1.15)
"""Cold pressure read a tenth low, to the rise of a tyre driven warm; common practice, no source."""
OIL = (273.15, 363.15)
"""Oil on a cold start and after a long rough road [K]; common practice, no source."""
RUBBER_SIGMA = 0.05
"""Of a rubber bush's rate: +-15 % in all; common practice, no source."""
_SAMPLE = 4000  # of dampers, for a standard deviation
_OIL_NODES = np.linspace(*OIL, 4)
_BAND_SPEEDS = {"low": 0.05, "mid": 0.26, "high": 0.8}  # at which a band's force over temperature is taken [m/s]


@dataclass(frozen=True, kw_only=True)
class Cause:
    """One cause of scatter.

    Attributes
    ----------
    key, title : str
        For programs, and in words.
    words : str
        What is taken, and from where.
    size : int
        Of its places in the unit cube.
    factors : callable
        From a place (size,) to factors or amounts by adjuster; several causes on one adjuster act together.
    told : callable
        The same in few words, for the vehicle that fares worst.
    """

    key: str
    title: str
    words: str
    size: int
    factors: Callable[[Floats], Mapping[str, float]]
    told: Callable[[Floats], str]


def normal(place: float) -> float:
    """Return the normal deviate of a place between 0 and 1, none beyond `SIGMAS`.

    >>> normal(0.5), round(normal(1.0), 9)
    (0.0, 3.0)
    """
    tail = float(norm.cdf(-SIGMAS))
    return float(norm.ppf(tail + (1.0 - 2.0 * tail) * place))


def causes(job: Job, setup: Setup) -> tuple[Cause, ...]:
    """Return what scatters on a setup: dampers, springs, bushes and oil where they are known, tyre pressures."""
    found = (_dampers(job, setup), _springs(job, setup), _bushes(job, setup), _pressures(), _oil(job, setup))
    return tuple(c for c in found if c is not None)


def together(every: Mapping[str, float], more: Mapping[str, float]) -> dict[str, float]:
    """Return the settings of two causes together: factors multiply, lengths add; none beyond what a part can be."""
    out = dict(every)
    for key, value in more.items():
        rule = ADJUSTERS[key].rule
        before = out.get(key, rule.neutral)
        both = before * value if rule.kind == "ratio" else before + value
        out[key] = min(max(both, rule.least), rule.most)
    return out


def damper_sigma(job: Job, setup: Setup, end: str, direction: str) -> tuple[float, str]:
    """Return the standard deviation of an axle's damper force over its force [-], and where it is from.

    From the build's tolerances where its valves are known, else a third of the band that QC/T 491-1999 permits.
    """
    name, damper = parts.damper_choice(job, setup, end)
    if name in job.programme.kit.dampers and damper_builds.is_buildable(damper):
        bands = _bands(job, damper, name)
        side = bands.velocity < 0.0 if direction == "rebound" else bands.velocity > 0.0
        return float(np.mean(np.abs(bands.sigma[side] / bands.nominal[side]))), "their tolerances"
    curve: ForceCurve = job.curve(damper)
    sign = -1.0 if direction == "rebound" else 1.0
    shares = []
    for speed in TEST_SPEEDS:
        force = abs(float(curve.at(np.array([sign * speed]))[0]))
        if force > 0.0:
            shares.append(production_band(force, "rebound" if sign < 0.0 else "compression") / (3.0 * force))
    return (float(np.mean(shares)) if shares else 0.05), "a third of the band of QC/T 491-1999"


def _bands(job: Job, damper: Any, name: str) -> ForceBands:
    """Return how a damper's forces scatter; the house's calibration would move the forces, hardly their scatter."""
    key = ("robust bands", name)
    if key not in job.memo:
        try:
            job.memo[key] = force_bands(
                damper_builds.build_of(job, damper, name),
                parameters=damper_builds.parameters(job),
                tolerances=build_sheet.tolerances(job),
                lifts=damper_builds.lifts(job),
                speeds=TEST_SPEEDS,
                temperature=damper_builds.dyno_temperature(job, damper),
                count=_SAMPLE,
                checks=0,
            )
        except (DomainError, SolverError) as error:
            raise InputError(f"{name}: {error}") from None
    found = job.memo[key]
    assert isinstance(found, ForceBands)
    return found


def _dampers(job: Job, setup: Setup) -> Cause:
    places = [(end, direction) for end in ENDS for direction in DIRECTIONS]
    sigma = {place: damper_sigma(job, setup, *place) for place in places}

    def factors(at: Floats) -> Mapping[str, float]:
        return {
            f"{end}_{direction}_{band}": math.exp(sigma[end, direction][0] * normal(float(at[i])))
            for i, (end, direction) in enumerate(places)
            for band in BANDS
        }

    def told(at: Floats) -> str:
        moved = factors(at)
        return "damping " + ", ".join(
            f"{end} {direction} {show(moved[f'{end}_{direction}_mid'] - 1.0, 'share', digits=0, sign=True)}"
            for end, direction in places
        )

    return Cause(
        key="dampers",
        title="damper tolerances",
        words="force of an axle's pair "
        + ", ".join(f"{e} {d} {show(sigma[e, d][0], 'share')}" for e, d in places)
        + f" standard deviation, from {' and '.join(dict.fromkeys(s for _, s in sigma.values()))}",
        size=len(places),
        factors=factors,
        told=told,
    )


def _springs(job: Job, setup: Setup) -> Cause:
    springs = {end: parts.fitted_spring(job, setup, end) for end in ENDS}
    rate = {e: (s.law.rate_spread / s.law.rate) or RATE_SIGMA for e, s in springs.items()}
    length = {e: s.law.free_length_spread if s.law.kind == "coil" else 0.0 for e, s in springs.items()}

    def factors(at: Floats) -> Mapping[str, float]:
        out: dict[str, float] = {}
        for i, end in enumerate(ENDS):
            out[f"{end}_spring"] = math.exp(rate[end] * normal(float(at[2 * i])))
            if length[end] > 0.0:
                out[f"{end}_packer"] = length[end] * normal(float(at[2 * i + 1]))
        return out

    def told(at: Floats) -> str:
        moved = factors(at)
        return "springs " + ", ".join(
            f"{end} {show(moved[f'{end}_spring'] - 1.0, 'share', sign=True)}"
            + (f" and {show(moved[f'{end}_packer'], 'length', sign=True)}" if f"{end}_packer" in moved else "")
            for end in ENDS
        )

    return Cause(
        key="springs",
        title="spring tolerances",
        words=", ".join(
            f"{end} rate {show(rate[end], 'share')}"
            + (f", free length {show(length[end], 'length')}" if length[end] > 0.0 else "")
            for end in ENDS
        )
        + " standard deviation",
        size=2 * len(ENDS),
        factors=factors,
        told=told,
    )


def _bushes(job: Job, setup: Setup) -> Cause | None:
    """Return how the rubber of those axles scatters whose bushes the programme gives."""
    axles = model.vehicle(job, setup).axles
    given = job.programme.vehicle.axles
    ends = [e for e, axle in zip(ENDS, axles, strict=True) if given[e].bushes and axle.give.shift > 0.0]
    if not ends:
        return None

    def factors(at: Floats) -> Mapping[str, float]:
        return {f"{end}_bush_rate": math.exp(RUBBER_SIGMA * normal(float(at[i]))) for i, end in enumerate(ends)}

    def told(at: Floats) -> str:
        moved = factors(at)
        return "bushes " + ", ".join(
            f"{end} {show(moved[f'{end}_bush_rate'] - 1.0, 'share', digits=0, sign=True)}" for end in ends
        )

    return Cause(
        key="bushes",
        title="bush rates",
        words=f"{' and '.join(ends)} {show(RUBBER_SIGMA, 'share', digits=0)} standard deviation, all of an axle alike",
        size=len(ends),
        factors=factors,
        told=told,
    )


def _pressures() -> Cause:
    low, high = PRESSURE

    def factors(at: Floats) -> Mapping[str, float]:
        return {f"{end}_tyre_pressure": low + (high - low) * float(at[i]) for i, end in enumerate(ENDS)}

    def told(at: Floats) -> str:
        moved = factors(at)
        return "tyres " + ", ".join(
            f"{end} {show(moved[f'{end}_tyre_pressure'] - 1.0, 'share', digits=0, sign=True)}" for end in ENDS
        )

    return Cause(
        key="pressures",
        title="tyre pressures",
        words=f"{show(low - 1.0, 'share', digits=0, sign=True)} to {show(high - 1.0, 'share', digits=0, sign=True)} "
        "of what is set, axle by axle",
        size=len(ENDS),
        factors=factors,
        told=told,
    )


def _oil(job: Job, setup: Setup) -> Cause | None:
    """Return what oil between `OIL` does to those dampers whose valves are known, over the temperature they had."""
    speeds = np.array([*(-v for v in reversed(_BAND_SPEEDS.values())), *_BAND_SPEEDS.values()])
    bands = [*(("rebound", b) for b in reversed(_BAND_SPEEDS)), *(("compression", b) for b in _BAND_SPEEDS)]
    over: dict[str, Floats] = {}
    for end, name, damper in damper_inside.with_valves(job, setup):
        own = damper_builds.dyno_temperature(job, damper)
        base = damper_inside.flow(job, damper, name, speeds, temperature=own).hydraulic_force
        for j, (direction, band) in enumerate(bands):
            forces = [
                damper_inside.flow(job, damper, name, speeds, temperature=float(t)).hydraulic_force[j]
                for t in _OIL_NODES
            ]
            over[f"{end}_{direction}_{band}"] = np.asarray(forces) / base[j]
    if not over:
        return None

    def kelvin(at: Floats) -> float:
        return OIL[0] + (OIL[1] - OIL[0]) * float(at[0])

    return Cause(
        key="oil",
        title="oil temperature",
        words=f"{show(OIL[0], 'temperature')} to {show(OIL[1], 'temperature')}, alike in all dampers",
        size=1,
        factors=lambda at: {key: float(np.interp(kelvin(at), _OIL_NODES, f)) for key, f in over.items()},
        told=lambda at: f"oil at {show(kelvin(at), 'temperature')}",
    )
