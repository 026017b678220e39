"""Room of the tyres by point of the body: the least of it, and at which heave, roll and steer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tussock.studies import model, parts, tyre_envelope
from tussock.studies.job import Job, Setup
from tussock.studies.limiters import AxlePath
from tussock.studies.result import Cell, Column, Table
from tussock.studies.travel_plane import Plane


@dataclass(frozen=True, kw_only=True, slots=True)
class TyreRoom:
    """The least room of an axle's tyres to one point of the body.

    Attributes
    ----------
    end, point : str
        Which.
    least : float
        Gap that must be left [m].
    wanted, heave, roll, steer : float
        Least clearance within the droop, bump and roll of the targets [m], and where: heave from ride height [m], roll
        and steer, left positive [rad].
    whole : float
        Least clearance anywhere on the edge of the free travel [m].
    """

    end: str
    point: str
    least: float
    wanted: float
    heave: float
    roll: float
    steer: float
    whole: float


def rooms(job: Job, setup: Setup, plane: Plane) -> tuple[TyreRoom, ...]:
    """Return the least room to every point that the tyres of an axle are held against, the tightest first."""
    targets, out = job.programme.targets, []
    points = parts.hardpoints(job, plane.end)
    if not setup.stock:
        points |= {name.partition("@")[0]: moved for name, moved in model.kit_changes(job, plane.end).items()}
    path = AxlePath(plane.axle)
    for limiter in job.programme.vehicle.axles[plane.end].limiters:
        if limiter.kind != "tyre":
            continue
        for name, by_steer in tyre_envelope.by_steer(job, plane.end, path, points, limiter).items():
            worst = [
                (
                    plane.least(
                        room,
                        droop=float(targets.droop[plane.end]),
                        bump=float(targets.bump[plane.end]),
                        roll=float(targets.roll),
                    ),
                    float(angle),
                )
                for room, angle in zip(by_steer, tyre_envelope.steer_angles(limiter), strict=True)
            ]
            (wanted, heave, roll), steer = min(worst, key=lambda w: w[0][0])
            room = np.min(by_steer, axis=0)
            edge = [
                float(np.interp(stop.heave, plane.heave, room[:, int(np.argmin(np.abs(plane.roll - e.roll)))]))
                for e in plane.edges
                for stop in (e.low, e.high)
                if stop is not None
            ]
            out.append(
                TyreRoom(
                    end=plane.end,
                    point=name,
                    least=float(limiter.least),
                    wanted=wanted,
                    heave=heave - plane.ride,
                    roll=roll,
                    steer=steer,
                    whole=min([wanted, *edge]),
                )
            )
    return tuple(sorted(out, key=lambda r: r.wanted - r.least))


def room_table(found: Sequence[TyreRoom]) -> Table:
    """Return the room of the tyres by point of the body."""
    rows: list[tuple[Cell, ...]] = [
        (r.end, r.point, r.wanted, r.least, r.wanted - r.least, r.heave, r.roll, r.steer, r.whole) for r in found
    ]
    first = [next((i for i, r in enumerate(found) if r.end == end), None) for end in ("front", "rear")]
    return Table(
        key="tyres",
        title="Tyres against the body",
        columns=(
            Column(key="axle", title="Axle"),
            Column(key="point", title="Point of the body"),
            Column(key="clearance", title="Clearance", kind="length"),
            Column(key="least", title="Must be", kind="length"),
            Column(key="margin", title="Margin", kind="length", sign=True),
            Column(key="heave", title="at heave", kind="length", sign=True),
            Column(key="roll", title="roll", kind="angle", sign=True),
            Column(key="steer", title="steer", kind="angle", sign=True),
            Column(key="whole", title="Least of all", kind="length", sign=True),
        ),
        rows=tuple(rows),
        strong=tuple(i for i in first if i is not None),
        note="least within the targets' droop, bump and roll, either side, at any steer angle given; least of all: on "
        "the edge of the free travel; free tyre, as measured unloaded",
    )
