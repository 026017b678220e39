"""The selection chart: which spring and packer holds which load, and the travel that each fit-out keeps."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tussock.errors import SolverError
from tussock.mechanics.mass import Item
from tussock.mechanics.motion import Still, Vehicle
from tussock.studies import model, parts
from tussock.studies.display import show
from tussock.studies.job import ENDS, KERB, STOCK, Job, Setup
from tussock.studies.reach import axle_travel
from tussock.studies.result import Axis, Cell, Column, Line, LineChart, Mark, Table

_LOADS = 7  # loads at which each spring is set to rest
_HEADROOM = 1.25  # the chart goes to this much beyond the heaviest fit-out


@dataclass(frozen=True, kw_only=True)
class Choice:
    """A spring with its packer on one axle: the lift over the load that is added above that axle.

    Attributes
    ----------
    end, spring, packer : str
        Which; the packer's name or "".
    added : tuple of float
        Mass above stock kerb over that axle [kg].
    lift : tuple of float
        Body over stock kerb at that axle [m].
    """

    end: str
    spring: str
    packer: str
    added: tuple[float, ...]
    lift: tuple[float, ...]

    @property
    def words(self) -> str:
        """Spring and packer."""
        return f"{self.spring} + {self.packer}" if self.packer else self.spring

    def holds(self, *, target: float, tolerance: float) -> tuple[float, float] | None:
        """Return the least and the most mass added at which the lift is within tolerance [kg], None if at none."""
        added, lift = np.array(self.added), np.array(self.lift)
        fine = np.linspace(added[0], added[-1], 801)
        inside = np.abs(np.interp(fine, added, lift) - target) <= tolerance
        return (float(fine[inside][0]), float(fine[inside][-1])) if np.any(inside) else None


def added_mass(job: Job, fitout: str, end: str) -> float:
    """Return the mass that a fit-out adds over an axle by the lever rule [kg]."""
    front, rear = parts.wheel_centre(job, "front")[0], parts.wheel_centre(job, "rear")[0]
    total = 0.0
    for item in parts.aboard(job, fitout):
        share = (item.at[0] - rear) / (front - rear)
        total += item.mass * (share if end == "front" else 1.0 - share)
    return total


def choices(job: Job, build: str) -> tuple[Choice, ...]:
    """Return the kit's springs of every kind on the axles that use them, bare and on each packer, over the load."""
    out: list[Choice] = []
    setup = Setup(fitout=KERB, build=build)
    kerb = model.rest(job, Setup(fitout=KERB, build=STOCK))
    for end in ENDS:
        most = _HEADROOM * max((added_mass(job, f, end) for f in job.programme.fitouts), default=0.0)
        added = tuple(map(float, np.linspace(0.0, max(most, 50.0), _LOADS)))
        packers = ["", *(n for n, p in job.programme.kit.packers.items() if p.axle == end)]
        for name, record in job.programme.kit.springs.items():
            if not any(f.springs[end] == name for f in job.programme.fitouts.values()):
                continue
            for packer in packers:
                worn = (packer,) if packer else ()
                raised = parts.spring_of(job, setup, end, name, record, packers=worn)
                vehicle = model.sprung(job, setup, end, raised)
                lifts = _lifts(job, vehicle, end, added, kerb.body_height)
                stood = [(m, z) for m, z in zip(added, lifts, strict=True) if math.isfinite(z)]
                if len(stood) > 1:
                    out.append(
                        Choice(
                            end=end,
                            spring=name,
                            packer=packer,
                            added=tuple(m for m, _ in stood),
                            lift=tuple(z for _, z in stood),
                        )
                    )
    return tuple(out)


def _lifts(job: Job, vehicle: Vehicle, end: str, added: Sequence[float], kerb: np.ndarray) -> list[float]:
    """Return the lift at an axle with masses set above it, nan where the vehicle leaves its travel."""
    x, _, z = parts.wheel_centre(job, end)
    wheels = slice(0, 2) if end == "front" else slice(2, 4)
    out: list[float] = []
    still, near = Still(vehicle), None
    for mass in added:
        body = vehicle.body
        if mass > 0.0:
            body = body.with_items([Item(name="load", mass=mass, at=(x, 0.0, z + 0.5))])
        try:
            rest = still.other(dataclasses.replace(vehicle, body=body)).rest(start=near)
        except SolverError:
            out.append(math.nan)
            near = None
        else:
            near = rest.q
            out.append(float(np.mean(rest.body_height[wheels] - kerb[wheels])))
    return out


def chart_table(job: Job, found: Sequence[Choice]) -> Table:
    """Return for every choice the load range in which it holds each target height."""
    heights: dict[str, list[tuple[float, float]]] = {end: [] for end in ENDS}
    for wanted in job.programme.targets.lift.values():
        for end in ENDS:
            pair = (float(getattr(wanted, end)), float(wanted.tolerance))
            if pair not in heights[end]:
                heights[end].append(pair)
    rows: list[tuple[Cell, ...]] = []
    for choice in found:
        for target, tolerance in heights[choice.end]:
            span = choice.holds(target=target, tolerance=tolerance)
            if span is not None:
                rows.append((choice.end, choice.words, target, tolerance, *span))
    return Table(
        key="selection",
        title="Selection chart: the load over the axle that each spring holds at each height",
        columns=(
            Column(key="axle", title="Axle"),
            Column(key="spring", title="Spring"),
            Column(key="target", title="Height wanted", kind="length", sign=True),
            Column(key="tolerance", title="+-", kind="length"),
            Column(key="from", title="Load from", kind="mass"),
            Column(key="to", title="to", kind="mass"),
        ),
        rows=tuple(rows),
        note="mass added to the stock vehicle at kerb, over that axle by the lever rule, people included; "
        + "; ".join(
            f"{record.title}: {show(added_mass(job, name, 'front'), 'mass')} front, "
            f"{show(added_mass(job, name, 'rear'), 'mass')} rear"
            for name, record in job.programme.fitouts.items()
        ),
    )


def chart_pictures(job: Job, found: Sequence[Choice]) -> tuple[LineChart, ...]:
    """Return lift over load for every spring of each axle, with the fit-outs and their targets as marks."""
    out: list[LineChart] = []
    for end in ENDS:
        own = [c for c in found if c.end == end]
        if not own:
            continue
        marks = tuple(
            Mark(
                text=record.title,
                x=added_mass(job, name, end),
                y=float(getattr(job.programme.targets.lift[name], end)),
                role="target",
            )
            for name, record in job.programme.fitouts.items()
        )
        out.append(
            LineChart(
                key=f"{end}_selection",
                title=f"{end.capitalize()} springs: height over load, and what the fit-outs want",
                x=Axis(title="mass added over the axle", kind="mass"),
                y=Axis(title="body height above stock kerb", kind="length"),
                lines=tuple(
                    Line(label=c.words, x=c.added, y=c.lift, role="plain" if c.packer else "build") for c in own
                ),
                marks=marks,
            )
        )
    return tuple(out)


def travel_left(job: Job, build: str) -> Table:
    """Return the droop and bump that every fit-out keeps, and what ends them."""
    rows: list[tuple[Cell, ...]] = []
    strong: list[int] = []
    targets = job.programme.targets
    for name, record in job.programme.fitouts.items():
        for end in ENDS:
            reach = axle_travel(job, Setup(fitout=name, build=build), end)
            droop, bump = reach.governing("droop"), reach.governing("bump")
            if reach.left("droop") < float(targets.droop[end]) or reach.left("bump") < float(targets.bump[end]):
                strong.append(len(rows))
            rows.append(
                (
                    record.title,
                    end,
                    reach.left("droop") if droop else None,
                    droop.name if droop else "nothing followed",
                    float(targets.droop[end]),
                    reach.left("bump") if bump else None,
                    bump.name if bump else "nothing followed",
                    float(targets.bump[end]),
                )
            )
    return Table(
        key="travel_left",
        title="Travel that each fit-out keeps from its ride height",
        columns=(
            Column(key="fitout", title="Fit-out"),
            Column(key="axle", title="Axle"),
            Column(key="droop", title="Droop", kind="length"),
            Column(key="droop_by", title="ended by"),
            Column(key="droop_wanted", title="Wanted", kind="length"),
            Column(key="bump", title="Bump", kind="length"),
            Column(key="bump_by", title="ended by"),
            Column(key="bump_wanted", title="Wanted", kind="length"),
        ),
        rows=tuple(rows),
        strong=tuple(strong),
        note="marked: less than the targets ask for",
    )
