"""Flat ride: pitch against heave over speed on one road, and the classic rules that spring rates are chosen by."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from tussock.mechanics.arrays import Floats
from tussock.mechanics.measures import (
    OLLEY_CENTRE,
    OLLEY_MOST,
    OLLEY_RATE,
    OLLEY_SPREAD,
    RIDE_BAND,
    OlleyRules,
    olley_rules,
)
from tussock.mechanics.motion import RoadNoise, Vehicle, bounce_pitch, road_spectrum, road_twin
from tussock.mechanics.roads import CLASS_MEAN
from tussock.studies import model
from tussock.studies.display import show
from tussock.studies.job import ENDS, Job, Setup
from tussock.studies.result import Axis, Cell, Column, Line, LineChart, Table

SPEEDS = np.array([20.0, 30.0, 40.0, 50.0, 60.0, 80.0, 100.0, 120.0]) / 3.6  # [m/s]
ROAD_CLASS = "C"  # of ISO 8608, whose motion gives friction and dampers their slopes; our choice
_SIZED_AT = (30.0 / 3.6, 90.0 / 3.6)  # speeds of that motion; in between both twins count by distance [m/s]
_POINTS = 80


@dataclass(frozen=True, kw_only=True)
class FlatRideOverSpeed:
    """Heave and pitch acceleration of the body over speed on one random road, 0.5 to 3 Hz.

    Attributes
    ----------
    speed : array (n,)
        [m/s].
    heave, pitch : array (n,)
        R.m.s. midway between the axles [m/s^2], [rad/s^2].
    ratio : array (n,)
        Pitch at half a wheelbase over heave [-].
    """

    speed: Floats
    heave: Floats
    pitch: Floats
    ratio: Floats


def over_speed(vehicle: Vehicle, *, speeds: Floats = SPEEDS, road_class: str = ROAD_CLASS) -> FlatRideOverSpeed:
    """Return heave and pitch over speed from the linear twin, the wheelbase's delay included.

    Parameters
    ----------
    vehicle : Vehicle
        What is driven.
    speeds : array (n,)
        [m/s], above 0.
    road_class : str
        ISO 8608 class whose mean is driven.
    """
    density = CLASS_MEAN[road_class]
    noise = RoadNoise(density=density, contact_length=vehicle.front.tyre.contact_length)
    middle = vehicle.front.axle.design_x - vehicle.body.centre[0] - 0.5 * vehicle.wheelbase
    f = np.linspace(*RIDE_BAND, _POINTS)
    slow, fast = _SIZED_AT
    share = np.clip((speeds - slow) / (fast - slow), 0.0, 1.0)
    levels = np.zeros((speeds.size, 2))
    for at, counts in ((slow, 1.0 - share), (fast, share)):
        sized = road_twin(vehicle, speed=at, density=density).model
        rows = [sized.acceleration((middle, 0.0, 0.0), "vertical"), sized.row("rate of pitch rate")]
        for i in np.flatnonzero(counts):
            twin = replace(sized, speed=float(speeds[i]))  # heave and pitch know the speed by the rear's delay alone
            spectrum = road_spectrum(twin, rows, f, road=noise)
            levels[i] += counts[i] * np.sqrt(np.trapezoid(spectrum, f, axis=0))
    heave, pitch = levels.T
    return FlatRideOverSpeed(speed=speeds, heave=heave, pitch=pitch, ratio=0.5 * vehicle.wheelbase * pitch / heave)


def rules(job: Job, setup: Setup) -> OlleyRules:
    """Return what the classic rules look at of a setup, tyres in series with the springs."""
    vehicle = model.vehicle(job, setup)
    ahead = vehicle.front.axle.design_x - vehicle.body.centre[0]
    rates = []
    for end, axle in zip(ENDS, vehicle.axles, strict=True):
        wheel, tyre = model.wheel_rate(job, setup, end), axle.tyre.vertical_stiffness
        rates.append(2.0 * wheel * tyre / (wheel + tyre))
    modes = bounce_pitch(
        mass=vehicle.body.mass,
        gyration=math.sqrt(vehicle.body.inertia[1] / vehicle.body.mass),
        front_lever=ahead,
        rear_lever=vehicle.wheelbase - ahead,
        front_rate=rates[0],
        rear_rate=rates[1],
    )
    return olley_rules(
        frequencies=modes.frequency,
        nodes=modes.node,
        front_rate=rates[0],
        rear_rate=rates[1],
        ahead=ahead,
        wheelbase=vehicle.wheelbase,
    )


def tables(job: Job, setups: Sequence[tuple[str, Setup]]) -> tuple[Table, Table]:
    """Return pitch over heave by speed, and the rules, of named setups."""
    found = [(name, _kept(job, setup)) for name, setup in setups]
    wheelbase = model.vehicle(job, setups[0][1]).wheelbase
    speed = Table(
        key="flat_ride",
        title=f"Flat ride: pitch over heave by speed, road of class {ROAD_CLASS}",
        columns=(
            Column(key="speed", title="Speed", kind="speed"),
            Column(key="lag", title="Rear meets the road later by", kind="time"),
            *(Column(key=f"ratio_{i}", title=name, kind="ratio") for i, (name, _) in enumerate(found)),
        ),
        rows=tuple(
            (float(v), wheelbase / float(v), *(float(curve.ratio[i]) for _, curve in found))
            for i, v in enumerate(SPEEDS)
        ),
        note="pitch acceleration at half a wheelbase over heave acceleration, 0.5 to 3 Hz, by the linear twin: at low "
        "speed the wheelbase lets a body pitch, at high speed heave (wheelbase filter)",
    )
    kept = [(name, rules(job, setup)) for name, setup in setups]
    rows: list[tuple[Cell, ...]] = [
        ("front ride rate over rear", f"{OLLEY_RATE:.2f} or less, or the next", *(r.rate_ratio for _, r in kept)),
        (
            "spring centre behind the mass, over wheelbase",
            f"{OLLEY_CENTRE:g} or more",
            *(r.spring_centre for _, r in kept),
        ),
        ("bounce over pitch frequency", f"below {OLLEY_SPREAD:g}", *(r.bounce_over_pitch for _, r in kept)),
        ("higher of both, Hz", f"{OLLEY_MOST:g} or less", *(r.highest for _, r in kept)),
        ("rules kept, of three", "3", *(float(sum(r.kept)) for _, r in kept)),
    ]
    return speed, Table(
        key="flat_ride_rules",
        title="Classic rules of a flat ride",
        columns=(
            Column(key="rule", title="What"),
            Column(key="asks", title="The rule asks"),
            *(Column(key=f"value_{i}", title=name, kind="ratio") for i, (name, _) in enumerate(kept)),
        ),
        rows=tuple(rows),
        note="Olley 1934, from memory (Gillespie 1992, ch. 5): common practice for cars on long waves, no limit; "
        "undamped body on springs and tyres; a kit for loads and rough tracks may have reasons to leave them",
    )


def picture(job: Job, setups: Sequence[tuple[str, Setup]]) -> LineChart:
    """Return pitch over heave over speed, of named setups."""
    found = [(name, setup, _kept(job, setup)) for name, setup in setups]
    says = _crossing(found[0][2])
    return LineChart(
        key="flat_ride",
        title=f"{found[0][0]}: {says}",
        x=Axis(title="speed", kind="speed"),
        y=Axis(title="pitch over heave, 0 rides flat", kind="ratio"),
        lines=tuple(
            Line(
                label=name,
                x=tuple(map(float, curve.speed)),
                y=tuple(map(float, curve.ratio)),
                role="stock" if setup.stock else "build",
            )
            for name, setup, curve in found
        ),
    )


def _crossing(curve: FlatRideOverSpeed) -> str:
    """Say from which speed on a body heaves more than it pitches."""
    pitches = np.flatnonzero(curve.ratio >= 1.0)
    if not pitches.size:
        return "more heave than pitch at every speed"
    last = int(pitches[-1])
    if last == curve.speed.size - 1:
        return "more pitch than heave at every speed"
    pair = slice(last, last + 2)
    return (
        f"from {show(float(np.interp(-1.0, -curve.ratio[pair], curve.speed[pair])), 'speed')} on more heave than pitch"
    )


def _kept(job: Job, setup: Setup) -> FlatRideOverSpeed:
    key = ("flat ride", setup)
    if key not in job.memo:
        job.memo[key] = over_speed(model.vehicle(job, setup))
    found = job.memo[key]
    assert isinstance(found, FlatRideOverSpeed)
    return found
