"""How far a setup is driven up a ramp with one front wheel before a wheel lifts, and what is used up on the way.

A method of common practice, from memory, no source: a ramp of 20 degrees, index = distance along it over the wheelbase
times 1000.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tussock.errors import SolverError
from tussock.mechanics.arrays import Floats, Ints
from tussock.mechanics.axle_map import AxleMap
from tussock.mechanics.motion import RAMP_ANGLE, RampTravel, Vehicle, ramp_travel
from tussock.studies import model, suspensions
from tussock.studies.job import ENDS, Job, Setup
from tussock.studies.result import Axis, Cell, Column, Line, LineChart, Mark, Notice, Table
from tussock.studies.travel_plane import LOOSE, Plane, plane

MAP_HEAVE = np.linspace(-0.18, 0.14, 17)  # of the maps on the ramp, alike for both axles [m]
_CARRYING = ("damper open", "damper closed")
MAP_ROLL = np.linspace(-math.radians(20.0), math.radians(20.0), 17)  # [rad]


@dataclass(frozen=True, kw_only=True)
class Ramp:
    """One setup on the ramp.

    Attributes
    ----------
    travel : RampTravel
        Where it stands at every distance.
    limiter : str
        The first limiter used up before a wheel lifts, with its axle; empty if none is.
    at : float
        Distance along the ramp at which it is used up [m]; that of the lift if none is.
    loose : tuple of (str, float)
        Axles whose springs come loose on the way, and where [m].
    """

    travel: RampTravel
    limiter: str
    at: float
    loose: tuple[tuple[str, float], ...]

    @property
    def index_within(self) -> float:
        """Ramp travel index with every limiter kept [-]."""
        return self.travel.index_at(min(self.at, float(self.travel.distance[-1])))


def ramp(job: Job, setup: Setup, *, wheel: int = 0) -> Ramp:
    """Return a setup driven up the ramp with its left (0) or right (1) front wheel."""
    key = ("ramp", setup, wheel)
    if key not in job.memo:
        travel = ramp_travel(_vehicle(job, setup), wheel=wheel)
        first, loose = ("", float(travel.distance[-1])), []
        for a, end in enumerate(ENDS):
            here = plane(job, setup, end)
            along = [_used(here, travel, a, name) for name in here.margins]
            for name, at in zip(here.margins, along, strict=True):
                if at is None:
                    continue
                if name == LOOSE:
                    loose.append((end, at))
                # dampers and bump stops carry the vehicle here: their ends are part of the equilibrium
                elif at < first[1] and name not in _CARRYING and not name.startswith("bump stop"):
                    first = (f"{end} {name}", at)
        job.memo[key] = Ramp(travel=travel, limiter=first[0], at=first[1], loose=tuple(loose))
    found = job.memo[key]
    assert isinstance(found, Ramp)
    return found


def _vehicle(job: Job, setup: Setup) -> Vehicle:
    """Return the vehicle of a setup on maps that roll far enough for the ramp."""
    whole = model.vehicle(job, setup)
    try:
        front, rear = (_map(job, setup, end) for end in ENDS)
    except SolverError:  # a linkage that cannot roll so far goes as far as for motion
        return whole
    return dataclasses.replace(
        whole,
        front=dataclasses.replace(whole.front, axle=front),
        rear=dataclasses.replace(whole.rear, axle=rear),
    )


def _map(job: Job, setup: Setup, end: str) -> AxleMap:
    this = model.axle(job, end, stock=setup.stock, setup=setup)
    key = ("ramp map", end, id(this))
    if key not in job.memo:
        job.memo[key] = suspensions.kept_map(job, end, this, MAP_HEAVE, MAP_ROLL)
    found = job.memo[key]
    assert isinstance(found, AxleMap)
    return found


def _used(here: Plane, travel: RampTravel, a: int, name: str) -> float | None:
    """Return the distance along the ramp at which a limiter of an axle is used up; None where it is not [m].

    Beyond the rolls of the plane its last one counts.
    """
    left = _at(
        here,
        here.margins[name],
        np.array([rest.heave[a] for rest in travel.rests]),
        np.array([rest.roll[a] for rest in travel.rests]),
    )
    over = np.flatnonzero(left <= 0.0)
    if over.size == 0:
        return None
    i = int(over[0])
    if i == 0:
        return 0.0
    share = float(left[i - 1] / (left[i - 1] - left[i]))
    return float(travel.distance[i - 1] + share * (travel.distance[i] - travel.distance[i - 1]))


def _at(here: Plane, values: Floats, heave: Floats, roll: Floats) -> Floats:
    """Return values (nh, nr) at places (n,), on straight lines between nodes; the last node's beyond them."""
    (i, u), (j, v) = (_between(nodes, at) for nodes, at in ((here.heave, heave), (here.roll, roll)))
    low, high = ((1.0 - v) * values[k, j] + v * values[k, j + 1] for k in (i, i + 1))
    return np.asarray((1.0 - u) * low + u * high)


def _between(nodes: Floats, at: Floats) -> tuple[Ints, Floats]:
    """Return the node before each place and its share of the way to the next."""
    within = np.clip(at, nodes[0], nodes[-1])
    i = np.clip(np.searchsorted(nodes, within, side="right") - 1, 0, nodes.size - 2)
    return i, (within - nodes[i]) / (nodes[i + 1] - nodes[i])


def ramp_table(ramps: Sequence[tuple[str, Ramp]]) -> Table:
    """Return the ramp travel index of each vehicle, and what ends it."""
    rows: list[tuple[Cell, ...]] = []
    for label, found in ramps:
        travel, last = found.travel, found.travel.rests[-1]
        rows.append(
            (
                label,
                ("left", "right")[travel.wheel],
                travel.index,
                float(travel.distance[-1]),
                float(travel.distance[-1]) * math.sin(travel.angle),
                f"{travel.lifts} lifts" if travel.lifts else travel.ended,
                abs(float(last.roll[0])),
                abs(float(last.roll[1])),
                abs(last.body_roll),
                found.limiter or "none",
                found.index_within,
            )
        )
    return Table(
        key="ramp",
        title=f"Ramp travel index on {math.degrees(RAMP_ANGLE):.0f} degrees",
        columns=(
            Column(key="vehicle", title="Vehicle"),
            Column(key="wheel", title="Front wheel"),
            Column(key="index", title="Index", kind="count"),
            Column(key="distance", title="Up the ramp", kind="length"),
            Column(key="height", title="Wheel raised", kind="length"),
            Column(key="ended", title="Ended by"),
            Column(key="front_roll", title="Front axle to body", kind="angle"),
            Column(key="rear_roll", title="Rear axle to body", kind="angle"),
            Column(key="body_roll", title="Body rolls", kind="angle"),
            Column(key="limiter", title="Used up before"),
            Column(key="within", title="Index within limiters", kind="count"),
        ),
        rows=tuple(rows),
        note="distance up the ramp over wheelbase, times 1000 (common practice, from memory); at rest on springs, "
        "bars, stops, tyres and the ends of the dampers' strokes",
    )


def ramp_picture(ramps: Sequence[tuple[str, Ramp]]) -> LineChart:
    """Return the load of the wheel that carries least over the distance up the ramp."""
    lines: list[Line] = []
    marks: list[Mark] = [Mark(text="wheel lifts", y=0.0, role="target")]
    for label, found in ramps:
        travel = found.travel
        lines.append(
            Line(
                label=label,
                x=tuple(float(d) for d in travel.distance),
                y=tuple(float(v) for v in travel.wheel_load.min(axis=1)),
                role="stock" if label == "stock" else "build",
                marked=False,
            )
        )
        if found.limiter:
            load = float(np.interp(found.at, travel.distance, travel.wheel_load.min(axis=1)))
            marks.append(Mark(text=f"{label}: {found.limiter}", x=found.at, y=load, role="governs"))
    return LineChart(
        key="ramp",
        title="Least wheel load while the left front wheel is driven up a ramp of "
        f"{math.degrees(RAMP_ANGLE):.0f} degrees",
        x=Axis(title="distance up the ramp", kind="length"),
        y=Axis(title="load of the wheel that carries least", kind="force"),
        lines=tuple(lines),
        marks=tuple(marks),
    )


def ramp_notices(found: Ramp, stock: Ramp) -> list[Notice]:
    """Say which limiter is used up on the kit's vehicle before a wheel lifts, where the stock one went farther."""
    if not found.limiter or found.index_within >= stock.index_within:
        return []
    return [
        Notice(
            text=f"On the ramp the {found.limiter} is used up at an index of {found.index_within:.0f}, before a wheel "
            f"lifts ({found.travel.index:.0f})",
            remedy="mend it, or end the droop earlier by a strap or a shorter damper; check on the hoist at full "
            "articulation",
        )
    ]
