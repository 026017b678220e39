"""Air helper bags: what they carry in each fit-out, and the pressure that holds its height."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from tussock.errors import SolverError
from tussock.mechanics.motion import Vehicle, settle, springing
from tussock.studies import model, parts
from tussock.studies.air_bags import DRIVING, BagFitted, bag_of
from tussock.studies.display import show
from tussock.studies.job import ENDS, KERB, STOCK, Job, Setup
from tussock.studies.result import Cell, Column, Notice, Table
from tussock.studies.ride_frequency import ride_frequency


@dataclass(frozen=True, kw_only=True)
class BagRow:
    """One bag on one fit-out.

    Attributes
    ----------
    fitout, end, spring : str
        Where, and beside which spring.
    bag : BagFitted
        At the pressure that the fit-out gives it, or that holds its target.
    worn : bool
        Whether the fit-out wears it.
    lift : float
        Of the body over stock kerb at its axle [m].
    height, load, rate : float
        Of one bag, mean of both sides [m], [N], [N/m].
    share : float
        Of the sprung load on its axle that the bags carry [-].
    frequency : float
        Body on springs, bags and tyres [Hz].
    at_bump : float or None
        Pressure at the bump wanted [Pa]; None where it would be pressed below its curve.
    up, down : float
        Travel of the wheel left to the ends of its curve [m].
    """

    fitout: str
    end: str
    spring: str
    bag: BagFitted
    worn: bool
    lift: float
    height: float
    load: float
    rate: float
    share: float
    frequency: float
    at_bump: float | None
    up: float
    down: float


def bag_rows(job: Job, build: str) -> tuple[BagRow, ...]:
    """Return every bag of the kit on every fit-out, as worn, else beside each kit spring that it brings to the height.

    Tried are the springs that some fit-out has on the bag's axle; where the fit-out wears the bag, only its own.
    """
    out: list[BagRow] = []
    every = job.programme.fitouts
    for fitout, record in every.items():
        setup = Setup(fitout=fitout, build=build)
        for name, bag in job.programme.kit.bags.items():
            own = record.springs[bag.axle]
            if name in record.bags:
                out.append(_row(job, setup, own, bag_of(name, bag, float(record.bags[name])), worn=True))
                continue
            for spring in dict.fromkeys((own, *(f.springs[bag.axle] for f in every.values()))):
                pressure = needed_pressure(job, setup, spring, name)
                if pressure is not None:
                    out.append(_row(job, setup, spring, bag_of(name, bag, pressure), worn=False))
    return tuple(out)


def needed_pressure(job: Job, setup: Setup, spring: str, name: str) -> float | None:
    """Return the pressure at which a bag beside a spring puts its axle at the target height [Pa].

    The least pressure is enough where it stands within tolerance; None where no pressure allowed does.
    """
    record = job.programme.kit.bags[name]
    wanted = job.programme.targets.lift[setup.fitout]
    target, tolerance = float(getattr(wanted, record.axle)), float(wanted.tolerance)
    least, most = float(record.least_pressure), float(record.most_pressure)

    def miss(pressure: float) -> float:
        try:
            vehicle = _bagged(job, setup, spring, bag_of(name, record, pressure), record.axle)
            return _lift(job, vehicle, record.axle) - target
        except SolverError:
            return math.copysign(1.0, pressure - 0.5 * (least + most))  # out of its travel: far too high, or too low

    at_least = miss(least)
    if at_least > 0.0:
        return least if at_least <= tolerance else None
    if miss(most) < 0.0:
        return None
    return float(brentq(miss, least, most, xtol=50.0))


def _bagged(job: Job, setup: Setup, spring: str, bag: BagFitted, end: str) -> Vehicle:
    return model.bagged(job, setup, end, bag, _spring(job, setup, spring, end))


def _spring(job: Job, setup: Setup, name: str, end: str) -> parts.Spring:
    return parts.spring_of(job, setup, end, name, job.programme.spring(name, end))


def _lift(job: Job, vehicle: Vehicle, end: str) -> float:
    at = slice(0, 2) if end == "front" else slice(2, 4)
    kerb = model.rest(job, Setup(fitout=KERB, build=STOCK))
    return float(np.mean(settle(vehicle).body_height[at] - kerb.body_height[at]))


def _row(job: Job, setup: Setup, spring: str, bag: BagFitted, *, worn: bool) -> BagRow:
    end = job.programme.kit.bags[bag.name].axle
    vehicle = _bagged(job, setup, spring, bag, end)
    stands = settle(vehicle)
    a = ENDS.index(end)
    parts_here, heave = vehicle.axles[a], float(stands.heave[a])
    grid = parts_here.axle
    height = float(np.mean(bag.heights(grid, heave, float(stands.roll[a]))))
    closed = bag.bag.refilled(float(np.clip(height, *bag.reach)), bag.pressure)
    # height of the bag along the travel of the wheels, level
    travel = np.linspace(float(grid.heave[0]), float(grid.heave[-1]), 121)
    along = np.mean(bag.along(grid, travel, 0.0), axis=1)
    slope = float(-np.gradient(along, travel)[np.argmin(np.abs(travel - heave))])
    low, top = bag.reach
    pressed = float(np.interp(heave + float(job.programme.targets.bump[end]), travel, along))
    acts = springing(parts_here, heave=heave)
    load = float(closed.forces(np.array([height]))[0])
    return BagRow(
        fitout=setup.fitout,
        end=end,
        spring=spring,
        bag=bag,
        worn=worn,
        lift=_lift(job, vehicle, end),
        height=height,
        load=load,
        rate=closed.rate_at(height) if low <= height <= top else 0.0,
        share=load * slope / parts.static_corner_load(job, setup.fitout, end),
        frequency=ride_frequency(
            rate=acts.wheel_rate,
            tyre=float(job.programme.vehicle.tyre.vertical_stiffness),
            sprung_corner=parts.sprung_corner(job, setup.fitout, end),
        ),
        at_bump=closed.gauge_pressure(pressed) if low <= pressed <= top else None,
        # the bag falls in height with bump: its curve ends at the least height upwards, at the greatest downwards
        up=float(np.interp(-low, -along, travel)) - heave,
        down=heave - float(np.interp(-top, -along, travel)),
    )


def bag_table(job: Job, rows: Sequence[BagRow]) -> Table:
    """Return what every bag does as a table."""
    cells: list[tuple[Cell, ...]] = [
        (
            job.programme.fitouts[r.fitout].title,
            r.end,
            r.spring,
            f"{r.bag.name}{'' if r.worn else ', not worn'}",
            bar(r.bag.pressure),
            r.lift,
            r.height,
            r.load,
            r.share,
            r.rate,
            r.frequency,
            "" if r.at_bump is None else bar(r.at_bump),
            r.down,
            r.up,
        )
        for r in rows
    ]
    return Table(
        key="air_bags",
        title="Air helper bags: pressure as worn, or that puts the fit-out at its height",
        columns=(
            Column(key="fitout", title="Fit-out"),
            Column(key="axle", title="Axle"),
            Column(key="spring", title="Spring"),
            Column(key="bag", title="Bag"),
            Column(key="pressure", title="Pressure"),
            Column(key="lift", title="Lift", kind="length", sign=True),
            Column(key="height", title="Bag height", kind="length"),
            Column(key="load", title="One carries", kind="force"),
            Column(key="share", title="Of the axle", kind="share", digits=0),
            Column(key="rate", title="Rate", kind="rate"),
            Column(key="frequency", title="Ride", kind="frequency"),
            Column(key="at_bump", title="At full bump"),
            Column(key="down", title="Droop left", kind="length"),
            Column(key="up", title="Bump left", kind="length"),
        ),
        rows=tuple(cells),
        note="pressure over the air's, set standing loaded so, then closed on each side; a bag in motion follows "
        f"p V^{DRIVING:g} (common practice, no source); droop and bump left: of the wheel, to the ends of its curve",
    )


def bag_notices(job: Job, rows: Sequence[BagRow]) -> list[Notice]:
    """Say which bags that are worn are at the end of what they can."""
    out: list[Notice] = []
    for r in (r for r in rows if r.worn):
        named = f"{job.programme.fitouts[r.fitout].title}, {r.bag.title.lower()}"
        if r.bag.pressure < r.bag.least:
            out.append(
                Notice(
                    text=f"{named}: {bar(r.bag.pressure)} is below the {bar(r.bag.least)} that keep its folds in place",
                    remedy=f"at least {bar(r.bag.least)}, also empty",
                )
            )
        if r.at_bump is not None and r.at_bump > r.bag.most:
            out.append(
                Notice(
                    text=f"{named}: reaches {bar(r.at_bump)} at the bump wanted, its maker allows {bar(r.bag.most)}",
                    remedy="a larger bag, a tank on its line, or a firmer spring and less pressure",
                )
            )
        targets = job.programme.targets
        for left, wanted, way in (
            (r.down, float(targets.droop[r.end]), "is pulled apart"),
            (r.up, float(targets.bump[r.end]), "is pressed flat"),
        ):
            if left < wanted:
                out.append(
                    Notice(
                        text=f"{named}: {way} after {show(max(left, 0.0), 'length')} of travel, "
                        f"{show(wanted, 'length')} are wanted",
                        remedy="another mounting height or a longer bag",
                    )
                )
    return out


def bar(pressure: float) -> str:
    """Write a pressure as people read it off a gauge.

    >>> bar(2.04e5)
    '2.0 bar'
    """
    return f"{1e-5 * pressure:.1f} bar"
