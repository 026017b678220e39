"""What one kit spring goes through: where it stands, how far it moves, and what the road loop does to it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.springs import (
    CoilSpring,
    Cycle,
    SideLoad,
    SpectrumLife,
    rainflow,
    side_load,
    spectrum_life,
)
from tussock.studies import loop, model, parts
from tussock.studies.heights import height_rows
from tussock.studies.job import ENDS, Job, Setup
from tussock.studies.limiters import AxlePath
from tussock.studies.reach import axle_travel


@dataclass(frozen=True, kw_only=True)
class SpringWork:
    """One kit spring in the fit-out that loads it most.

    Attributes
    ----------
    name, title, end, fitout : str
        Which.
    kind : str
        "coil", "shaped" (a coil of tapered wire or variable pitch), "leaf" or "torsion_bar".
    rate, rate_spread, free_length : float
        As specified, the rate where the spring begins to carry [N/m], [N/m], [m].
    packer, seats : float
        Height packed under it, and what the motion counts in its length beside spring and packer [m].
    ride, bump, droop : float
        Its length at ride height and at both ends of the travel, packer off [m].
    load : float
        On it at ride height [N].
    wanted_length : float
        Its length if the vehicle stood at its target height [m].
    bump_by, droop_by : str
        What ends the travel.
    ride_offset, bump_offset : float or None
        Of one seat against the other across the vertical, at ride height and at full bump [m]; None where the layout
        names no seats.
    wheel_hop : float
        Of one wheel between tyre and spring [Hz].
    coil : CoilSpring or None
        None where the dimensions are not given.
    """

    name: str
    title: str
    end: str
    fitout: str
    kind: str
    rate: float
    rate_spread: float
    free_length: float
    packer: float
    seats: float
    ride: float
    bump: float
    droop: float
    load: float
    wanted_length: float
    bump_by: str
    droop_by: str
    ride_offset: float | None
    bump_offset: float | None
    wheel_hop: float
    coil: CoilSpring | None

    @property
    def fatigue_known(self) -> bool:
        """Whether the fatigue diagrams reach the coil: 10 mm wire and more, hot coiled."""
        return self.coil is not None and self.coil.ends.startswith("hot") and self.coil.wire >= 10e-3 - 1e-12


def spring_works(job: Job, build: str, fitout: str | None = None) -> tuple[SpringWork, ...]:
    """Return every kit spring that a fit-out wears, front ones first, in the fit-out that loads it most.

    With a fit-out named, only its springs and in it.
    """
    key = ("spring works", build, fitout)
    if key not in job.memo:
        rows = [r for r in height_rows(job, build) if fitout in (None, r.fitout)]
        out: list[SpringWork] = []
        for end in ENDS:
            for name in job.programme.kit.springs:
                used = [r for r in rows if r.end == end and r.spring == name]
                if used:
                    heaviest = max(used, key=lambda r: r.corner_load)
                    out.append(_work(job, Setup(fitout=heaviest.fitout, build=build), end, name, heaviest.off))
        job.memo[key] = tuple(out)
    found = job.memo[key]
    assert isinstance(found, tuple)
    return found


def _work(job: Job, setup: Setup, end: str, name: str, off: float) -> SpringWork:
    spring = parts.fitted_spring(job, setup, end)
    seats = model.posture(job, setup)[end].spring_length
    ride = seats - spring.packer
    travel = axle_travel(job, setup, end)
    path = AxlePath(model.travel_map(job, end, setup, roll=float(job.programme.targets.roll)), 1)
    lengths = np.mean(path.axle.spring[:, 1, :], axis=1) - spring.packer - spring.seats
    ends: dict[str, tuple[float, str]] = {}
    for where, edge in (("bump", -1), ("droop", 0)):
        stop = travel.governing(where)
        heave = float(path.heave[edge]) if stop is None else stop.heave
        ends[where] = (heave, "nothing within the travel followed" if stop is None else stop.name)
    bump, droop = (float(np.interp(ends[w][0], path.heave, lengths)) for w in ("bump", "droop"))
    offsets = _seat_offsets(job, end, path)
    unsprung = 0.5 * parts.axle_mass(job, end).mass
    tyre = float(job.programme.vehicle.tyre.vertical_stiffness)
    return SpringWork(
        name=name,
        title=spring.title,
        end=end,
        fitout=setup.fitout,
        kind=spring.law.kind if spring.law.shaped is None else "shaped",
        rate=spring.rate,
        rate_spread=spring.law.rate_spread,
        free_length=spring.free_length,
        packer=spring.packer,
        seats=spring.seats,
        ride=ride,
        bump=bump,
        droop=droop,
        load=float(spring.law.force(ride)),
        # a body that stands too high has its springs too long by as much times their motion ratio
        wanted_length=ride - off * abs(model.spring_ratio(job, setup, end)),
        bump_by=ends["bump"][1],
        droop_by=ends["droop"][1],
        ride_offset=None if offsets is None else float(np.interp(travel.ride, path.heave, offsets)),
        bump_offset=None if offsets is None else float(np.interp(ends["bump"][0], path.heave, offsets)),
        wheel_hop=math.sqrt((tyre + model.wheel_rate(job, setup, end)) / unsprung) / (2.0 * math.pi),
        coil=spring.coil,
    )


def _seat_offsets(job: Job, end: str, path: AxlePath) -> Floats | None:
    """Return how far apart the two seats stand across the vertical along the travel, left side [m]; None without."""
    points = parts.hardpoints(job, end)
    if "spring_axle" not in points or "spring_chassis" not in points:
        return None
    apart = path.place(points["spring_axle"]) - points["spring_chassis"]
    return np.asarray(np.hypot(apart[:, 0], apart[:, 1]))


def strokes(job: Job, work: SpringWork, build: str) -> tuple[Cycle, ...]:
    """Return the spring's strokes over one round of the loop, both sides, as lengths packer off [m]."""
    key = ("spring strokes", work.name, work.end, work.fitout, build)
    if key not in job.memo:
        sides = (0, 1) if work.end == "front" else (2, 3)
        found: list[Cycle] = []
        for run in loop.drive_loop(job, Setup(fitout=work.fitout, build=build)):
            for side in sides:
                turns = run.spring_turns[side] - work.packer - work.seats
                found += [Cycle(low=c.low, high=c.high, count=0.5 * c.count) for c in rainflow(turns)]
        job.memo[key] = tuple(found)
    kept = job.memo[key]
    assert isinstance(kept, tuple)
    return kept


def loop_life(job: Job, work: SpringWork, build: str) -> SpectrumLife | None:
    """Return what one round of the loop takes from a coil, mean of both sides; None where the diagrams do not reach."""
    if not work.fatigue_known or work.coil is None:
        return None
    counted = strokes(job, work, build)
    return spectrum_life(work.coil, counted) if counted else None


def loop_length(job: Job) -> float:
    """Return the length of one round of the loop [m]."""
    return sum(float(s.length) for s in job.programme.road_loop.sections)


def sideways(work: SpringWork, where: Literal["ride", "bump"]) -> SideLoad | None:
    """Return what the seats' offset does to a coil at ride height or full bump; None where it is loose or buckles."""
    length, offset = (work.ride, work.ride_offset) if where == "ride" else (work.bump, work.bump_offset)
    if work.coil is None or offset is None:
        return None
    try:
        return side_load(work.coil, length=length, offset=offset)
    except DomainError:
        return None
