"""Travel: how far may it droop and bump, and so how far may it be lifted?"""

from __future__ import annotations

import math

from tussock.studies import (
    articulation,
    model,
    parts,
    travel_corners,
    travel_lift,
    travel_parts,
    travel_stops,
    travel_tables,
    travel_tyres,
)
from tussock.studies.display import show
from tussock.studies.job import ENDS, KERB, STOCK, Job, Setup
from tussock.studies.reach import AxleTravel, axle_travel
from tussock.studies.result import Notice, Result, Table
from tussock.studies.travel_pictures import plane_picture, span_picture
from tussock.studies.travel_plane import Plane, plane
from tussock.studies.travel_remedies import before_the_stop, remedy, the

QUESTION = "How far may it droop and bump, and so how far may it be lifted?"


def greatest_lift(job: Job, travel: AxleTravel, lift: float) -> float:
    """Return how far the body may rise over stock kerb before the required droop is used up, level or rolled [m]."""
    steps = travel_lift.lift_steps(travel, lift=lift, wanted=float(job.programme.targets.droop[travel.end]))
    return steps[0].lift if steps else math.inf


def study(job: Job, *, fitout: str | None = None, build: str | None = None) -> Result:
    """Return the travel of both axles, stock and kit, and the greatest lift.

    Parameters
    ----------
    job : Job
        The programme.
    fitout, build : str, optional
        Which; the first fit-out and the last build unless said.

    Returns
    -------
    Result
        Passes when both axles keep the required droop and bump at ride height, also in roll, and the bump stop ends
        bump before anything else does.
    """
    setup, kerb = job.setup(fitout, build), Setup(fitout=KERB, build=STOCK)
    kit = {end: axle_travel(job, setup, end) for end in ENDS}
    stock = {end: axle_travel(job, kerb, end) for end in ENDS}
    planes = {end: plane(job, setup, end) for end in ENDS}
    stock_planes = {end: plane(job, kerb, end) for end in ENDS}
    wheels = [travel_corners.four(job, s, p) for s, p in ((kerb, stock_planes), (setup, planes))]
    posture = model.posture(job, setup)
    lift = {end: posture[end].lift for end in ENDS}
    lifts = {end: greatest_lift(job, kit[end], lift[end]) for end in ENDS}
    captives = [c for end in ENDS if (c := travel_parts.captive(job, setup, planes[end])) is not None]
    ramps = [("stock", articulation.ramp(job, kerb)), ("kit", articulation.ramp(job, setup))]
    failures = [n for end in ENDS for n in (*_short(job, setup, kit[end]), *_stop(job, setup, planes[end]))]
    return Result(
        stage="travel",
        question=QUESTION,
        answer=_answer(kit, lifts),
        passes=not failures,
        provenance=job.provenance(setup),
        notices=(*failures, *_loose(captives), *articulation.ramp_notices(ramps[1][1], ramps[0][1])),
        pictures=(
            travel_corners.ladder(wheels[0], wheels[1], lift),
            span_picture(stock, kit, lift),
            *(plane_picture(stock_planes[end], planes[end]) for end in ENDS),
            articulation.ramp_picture(ramps),
        ),
        tables=(
            *_tables(job, setup, kit, lift, planes, stock_planes, captives),
            articulation.ramp_table(
                [
                    (name, articulation.ramp(job, s, wheel=w))
                    for name, s in (("stock", kerb), ("kit", setup))
                    for w in (0, 1)
                ]
            ),
        ),
        inputs=_inputs(job, setup),
        values={
            **{f"{end}_greatest_lift_m": lifts[end] for end in ENDS},
            "both_greatest_lift_m": min(lifts.values()),
            **{f"{end}_droop_m": kit[end].left("droop") for end in ENDS},
            **{f"{end}_bump_m": kit[end].left("bump") for end in ENDS},
            **{f"{name}_ramp_travel_index": ramp.travel.index for name, ramp in ramps},
            **{f"{end}_greatest_roll_rad": abs(planes[end].farthest().roll) for end in ENDS},
        },
    )


def _tables(
    job: Job,
    setup: Setup,
    kit: dict[str, AxleTravel],
    lift: dict[str, float],
    planes: dict[str, Plane],
    stock: dict[str, Plane],
    captives: list[travel_parts.Captive],
) -> tuple[Table, ...]:
    droop = job.programme.targets.droop
    steps = {end: travel_lift.lift_steps(kit[end], lift=lift[end], wanted=float(droop[end])) for end in ENDS}
    lines = [need for end in ENDS for need in travel_parts.line_needs(job, setup, planes[end])]
    dampers = [travel_parts.damper_need(job, setup, planes[end]) for end in ENDS]
    spacers = [travel_stops.spacer_need(job, setup, planes[end]) for end in ENDS]
    stops = [e for end in ENDS for e in travel_stops.engagements(job, setup, planes[end])]
    made = (
        travel_tables.limiter_table(job, setup, kit),
        travel_lift.lift_table(steps, lift),
        travel_tables.plane_table(job, stock, planes),
        travel_tables.crossing_table(stock, planes),
        travel_tables.line_table(lines),
        travel_tables.damper_table(job, setup, dampers),
        travel_tables.spacer_table(spacers),
        travel_tables.engagement_table(stops),
        travel_tables.captive_table(captives),
        travel_tyres.room_table([r for end in ENDS for r in travel_tyres.rooms(job, setup, planes[end])]),
    )
    return tuple(table for table in made if table.rows)


def _short(job: Job, setup: Setup, travel: AxleTravel) -> list[Notice]:
    """Say where an axle keeps less than is wanted, level and rolled."""
    out: list[Notice] = []
    end = travel.end
    for where in ("droop", "bump"):
        wanted = float(getattr(job.programme.targets, where)[end])
        left, stop = travel.left(where), travel.governing(where)
        if stop is not None and left < wanted:
            out.append(
                Notice(
                    text=f"{end.capitalize()} keeps {show(left, 'length')} of {where}, "
                    f"{show(wanted, 'length')} is wanted; {the(stop.name)} stops it",
                    remedy=remedy(job, setup, travel, stop, wanted - left),
                )
            )
        for other in travel.rolled:
            margin = travel.margin_in_roll(other.name, where, wanted) if other.where == where else None
            # a spring may unseat in articulation if it is held captive; everything else must hold
            if margin is not None and margin < 0.0 and other.name != "spring loose":
                out.append(
                    Notice(
                        text=f"{end.capitalize()}, rolled {show(travel.roll, 'angle', digits=0)}: "
                        f"{the(other.name)} is {show(-margin, 'length')} short of "
                        f"{show(wanted, 'length')} of {where}",
                        remedy=remedy(job, setup, travel, other, -margin),
                    )
                )
    return out


def _stop(job: Job, setup: Setup, plane: Plane) -> list[Notice]:
    hit = before_the_stop(job, setup, plane)
    return [] if hit is None else [hit]


def _loose(captives: list[travel_parts.Captive]) -> list[Notice]:
    """Say where a coil that nothing holds comes loose, level or crossed."""
    out: list[Notice] = []
    for c in captives:
        if c.retained or max(c.droop, c.crossed) <= 0.0:
            continue
        level = c.droop > 0.0
        gap = c.droop if level else c.crossed
        out.append(
            Notice(
                text=f"{c.end.capitalize()}: the spring comes loose by {show(gap, 'length')} at full droop"
                + ("" if level else f", rolled {show(abs(c.roll), 'angle', digits=0)}"),
                remedy="hold it captive in its seats, or fit a spring of "
                f"{show(math.ceil(c.longer * 1e3) * 1e-3, 'length')} free length and {show(c.softer, 'rate')}",
            )
        )
    return out


def _answer(kit: dict[str, AxleTravel], lifts: dict[str, float]) -> str:
    def rise(end: str) -> str:
        stop = kit[end].governing("droop")
        if stop is None:
            return f"the {end} may rise further than was followed"
        return f"the {end} may rise {show(lifts[end], 'length')} and {the(stop.name)} stops it"

    droop, bump = (min(kit[e].left(w) for e in ENDS) for w in ("droop", "bump"))
    text = f"{rise('front')}; {rise('rear')}. At ride height both axles keep at least "
    text += f"{show(droop, 'length')} of droop and {show(bump, 'length')} of bump."
    return text[0].upper() + text[1:]


def _inputs(job: Job, setup: Setup) -> dict[str, str]:
    targets = job.programme.targets
    inputs = {
        **{f"targets.droop.{e}": str(targets.droop[e]) for e in ENDS},
        **{f"targets.bump.{e}": str(targets.bump[e]) for e in ENDS},
        **{f"kit.stop_spacers.{e}": str(job.programme.kit.stop_spacers[e]) for e in ENDS},
    }
    for end in ENDS:
        name, damper = parts.damper_choice(job, setup, end)
        inputs[f"damper {name}"] = f"open {damper.open_length}, closed {damper.closed_length}"
        for limiter in job.programme.vehicle.axles[end].limiters:
            if limiter.kind == "line":
                inputs[f"{end} {limiter.name}"] = str(limiter.length)
    return inputs
