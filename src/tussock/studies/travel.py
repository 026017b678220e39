"""Travel: how far may it droop and bump, and so how far may it be lifted?"""

from __future__ import annotations

import dataclasses
import math
from typing import Any

import numpy as np

from tussock.studies import limiters, model, parts
from tussock.studies.display import show
from tussock.studies.job import ENDS, KERB, STOCK, Job, Setup
from tussock.studies.limiters import AxlePath, Stop
from tussock.studies.reach import AxleTravel, axle_travel, margins
from tussock.studies.result import Axis, Column, Notice, Result, Rung, Span, SpanChart, Table

_MOST_SPACER = 80  # tallest spacer that is tried [mm]
QUESTION = "How far may it droop and bump, and so how far may it be lifted?"


def greatest_lift(job: Job, travel: AxleTravel, lift: float) -> float:
    """Return how far the body may rise over stock kerb before the required droop is used up [m]."""
    stop = travel.governing("droop")
    wanted = float(job.programme.targets.droop[travel.end])
    return math.inf if stop is None else lift + (travel.ride - stop.heave) - wanted


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
    setup = job.setup(fitout, build)
    kit = {end: axle_travel(job, setup, end) for end in ENDS}
    stock = {end: axle_travel(job, Setup(fitout=KERB, build=STOCK), end) for end in ENDS}
    posture = model.posture(job, setup)
    targets = job.programme.targets
    lifts = {end: greatest_lift(job, kit[end], posture[end].lift) for end in ENDS}
    notices: list[Notice] = []
    passes = True
    for end in ENDS:
        for where in ("droop", "bump"):
            wanted = float(getattr(targets, where)[end])
            left = kit[end].left(where)
            stop = kit[end].governing(where)
            if stop is not None and left < wanted:
                passes = False
                notices.append(
                    Notice(
                        text=f"{end.capitalize()} keeps {show(left, 'length')} of {where}, "
                        f"{show(wanted, 'length')} is wanted; {_the(stop.name)} stops it",
                        remedy=_remedy(job, setup, kit[end], stop, wanted - left),
                    )
                )
            for other in kit[end].rolled:
                margin = kit[end].margin_in_roll(other.name, where, wanted) if other.where == where else None
                # a spring may unseat in articulation if it is held captive; everything else must hold
                if margin is not None and margin < 0.0 and other.name != "spring loose":
                    passes = False
                    notices.append(
                        Notice(
                            text=f"{end.capitalize()}, rolled {show(kit[end].roll, 'angle', digits=0)}: "
                            f"{_the(other.name)} is {show(-margin, 'length')} short of "
                            f"{show(wanted, 'length')} of {where}",
                            remedy=_remedy(job, setup, kit[end], other, -margin),
                        )
                    )
        hit = _before_the_stop(job, setup, kit[end])
        if hit is not None:
            passes = False
            notices.append(hit)
        loose = next((s for s in kit[end].level if s.name == "spring loose" and s.where == "droop"), None)
        droop = kit[end].governing("droop")
        if loose is not None and droop is not None and loose.heave >= droop.heave:
            notices.append(
                Notice(
                    text=f"{end.capitalize()}: the spring comes loose at full droop",
                    remedy="hold it captive in its seats, or fit a longer spring",
                )
            )
    return Result(
        stage="travel",
        question=QUESTION,
        answer=_answer(kit, lifts, targets),
        passes=passes,
        provenance=job.provenance(setup),
        notices=tuple(notices),
        pictures=(_picture(stock, kit, posture),),
        tables=(_limiter_table(job, setup, kit), _damper_table(job, setup, kit)),
        inputs=_inputs(job, setup),
        values={
            **{f"{end}_greatest_lift_m": lifts[end] for end in ENDS},
            **{f"{end}_droop_m": kit[end].left("droop") for end in ENDS},
            **{f"{end}_bump_m": kit[end].left("bump") for end in ENDS},
        },
    )


def _before_the_stop(job: Job, setup: Setup, travel: AxleTravel) -> Notice | None:
    """Say what ends bump before the bump stop has taken its load, and the spacer that lets the stop come first."""
    first = travel.governing("bump")
    if first is None or first.name.startswith("bump stop"):
        return None
    path = AxlePath(model.travel_map(job, travel.end, setup, roll=travel.roll), 1)
    fitted = parts.fitted(job, setup, travel.end)
    factor = float(job.programme.targets.bump_force)
    remedy = "a taller bump stop, or less travel"
    for taller in range(1, _MOST_SPACER + 1):
        margin = limiters.stop_margin(
            path,
            dataclasses.replace(fitted.stop, spacer=fitted.stop.spacer + 1e-3 * taller),
            spring=lambda length: fitted.spring.force(length - fitted.spring.seats),
            static_load=parts.static_corner_load(job, setup.fitout, travel.end),
            load_factor=factor,
        )
        if float(np.interp(first.heave, path.heave, margin)) < 0.0:
            remedy = f"a stop spacer {show(1e-3 * taller, 'length')} taller than the kit's"
            break
    return Notice(
        text=f"{travel.end.capitalize()}: {_the(first.name)} ends bump before the bump stop has taken {factor:.0f} g",
        remedy=remedy,
    )


def _the(name: str) -> str:
    return "the coils closing" if name == "coil bind" else f"the {name.split(',')[0]}"


def _answer(kit: dict[str, AxleTravel], lifts: dict[str, float], targets: Any) -> str:
    def rise(end: str) -> str:
        stop = kit[end].governing("droop")
        if stop is None:
            return f"the {end} may rise further than was followed"
        return f"the {end} may rise {show(lifts[end], 'length')} and {_the(stop.name)} stops it"

    droop, bump = (min(kit[e].left(w) for e in ENDS) for w in ("droop", "bump"))
    text = f"{rise('front')}; {rise('rear')}. At ride height both axles keep at least "
    text += f"{show(droop, 'length')} of droop and {show(bump, 'length')} of bump."
    return text[0].upper() + text[1:]


def _remedy(job: Job, setup: Setup, travel: AxleTravel, stop: Stop, short: float) -> str:
    """Return what part gives the missing travel."""
    name, end = stop.name, travel.end
    more = show(math.ceil(short * 1e3) * 1e-3, "length")
    if name == "damper open":
        return f"a damper {_growth(job, setup, travel, stop, short)} longer when open"
    if name == "damper closed":
        return f"a damper {_growth(job, setup, travel, stop, short)} shorter when closed, or a stop spacer of {more}"
    if name == "spring loose":
        return f"hold the spring captive, or {more} more free length at the same load"
    if name == "coil bind":
        return f"a coil {_growth(job, setup, travel, stop, short)} shorter when solid, or a stop spacer of {more}"
    if name.startswith("bump stop"):
        return f"a spacer {more} shorter, or a softer stop"
    for limiter in job.programme.vehicle.axles[end].limiters:
        if limiter.name != name:
            continue
        if limiter.kind == "line":
            return f"a line {_growth(job, setup, travel, stop, short)} longer"
        if limiter.kind in ("clearance", "tyre"):
            return f"a stop spacer of {more}"
        return f"{more} less travel by a strap, or a joint with a wider angle"
    return ""


def _growth(job: Job, setup: Setup, travel: AxleTravel, stop: Stop, short: float) -> str:
    """Return the length that a limiter lacks where the missing travel would be had, in whole millimetres up."""
    path = AxlePath(model.travel_map(job, travel.end, setup, roll=travel.roll), 1 if stop in travel.level else None)
    margin = margins(job, setup, travel.end, path)[stop.name].reshape(path.heave.size, -1).min(axis=1)
    sign = -1.0 if stop.where == "droop" else 1.0
    there = float(np.interp(stop.heave + sign * short, model.TRAVEL_HEAVE, margin))
    return show(math.ceil(max(-there, 1e-3) * 1e3 - 1e-6) * 1e-3, "length")


def _limiter_table(job: Job, setup: Setup, kit: dict[str, AxleTravel]) -> Table:
    rows: list[tuple[float | int | str | bool | None, ...]] = []
    strong: list[int] = []
    for end in ENDS:
        for where in ("droop", "bump"):
            wanted = float(getattr(job.programme.targets, where)[end])
            sign = -1.0 if where == "droop" else 1.0
            found = sorted((s for s in kit[end].level if s.where == where), key=lambda s: abs(s.heave - kit[end].ride))
            for i, stop in enumerate(found):
                if i == 0:
                    strong.append(len(rows))
                reach = sign * (stop.heave - kit[end].ride)
                short = wanted - reach
                rows.append(
                    (
                        stop.name,
                        end,
                        where,
                        sign * reach,
                        reach - wanted,
                        kit[end].margin_in_roll(stop.name, where, wanted),
                        _remedy(job, setup, kit[end], stop, short) if short > 0.0 else "",
                    )
                )
    return Table(
        key="limiters",
        title="What ends the travel, from ride height",
        columns=(
            Column(key="limiter", title="Limiter"),
            Column(key="axle", title="Axle"),
            Column(key="where", title="Where"),
            Column(key="stops_at", title="Stops at", kind="length", sign=True),
            Column(key="margin", title="Margin", kind="length", sign=True),
            Column(
                key="in_roll", title=f"In roll {show(kit['front'].roll, 'angle', digits=0)}", kind="length", sign=True
            ),
            Column(key="remedy", title="What to do"),
        ),
        rows=tuple(rows),
        strong=tuple(strong),
        note="margin: beyond the travel wanted; in roll: the same for the wheel that moves furthest",
    )


def _damper_table(job: Job, setup: Setup, kit: dict[str, AxleTravel]) -> Table:
    """Return the damper lengths that the travel asks for, beside those fitted."""
    rows: list[tuple[float | int | str | bool | None, ...]] = []
    for end in ENDS:
        path = model.travel_map(job, end, setup, roll=kit[end].roll)
        fitted = parts.fitted(job, setup, end).damper

        def length(heave: float, path: Any = path) -> float:
            return float(np.interp(heave, path.heave, np.mean(path.damper[:, 1, :], axis=1)))

        droop = float(job.programme.targets.droop[end])
        stop = kit[end].governing("bump")
        bump = stop.heave if stop else kit[end].ride + float(job.programme.targets.bump[end])
        rows.append(
            (
                end,
                length(kit[end].ride),
                length(kit[end].ride - droop),
                float(fitted.open_length),
                length(bump),
                float(fitted.closed_length),
                float(fitted.open_length) - float(fitted.closed_length),
            )
        )
    return Table(
        key="dampers",
        title="Damper lengths",
        columns=(
            Column(key="axle", title="Axle"),
            Column(key="ride", title="At ride height", kind="length"),
            Column(key="needed_open", title="Wanted open", kind="length"),
            Column(key="open", title="Open", kind="length"),
            Column(key="needed_closed", title="At full bump", kind="length"),
            Column(key="closed", title="Closed", kind="length"),
            Column(key="stroke", title="Stroke", kind="length"),
        ),
        rows=tuple(rows),
    )


def _picture(stock: dict[str, AxleTravel], kit: dict[str, AxleTravel], posture: dict[str, Any]) -> SpanChart:
    spans: list[Span] = []
    for end in ENDS:
        for travel, label, role in (
            (stock[end], "stock", "stock"),
            (kit[end], f"kit {show(posture[end].lift, 'length', sign=True)}", "build"),
        ):
            droop, bump = travel.governing("droop"), travel.governing("bump")
            low = (droop.heave if droop else float(model.TRAVEL_HEAVE[0])) - travel.ride
            high = (bump.heave if bump else float(model.TRAVEL_HEAVE[-1])) - travel.ride
            rungs = tuple(
                Rung(
                    text=f"{s.name} {show(s.heave - travel.ride, 'length', sign=True)}",
                    at=s.heave - travel.ride,
                    governs=s in (droop, bump),
                )
                for where in ("droop", "bump")
                for s in sorted(
                    (x for x in travel.level if x.where == where), key=lambda x: abs(x.heave - travel.ride)
                )[:4]
            )
            spans.append(
                Span(
                    group=end.capitalize(),
                    label=label,
                    low=low,
                    high=high,
                    role="stock" if role == "stock" else "build",
                    rungs=() if role == "stock" else rungs,
                )
            )
    return SpanChart(
        key="travel",
        title="Wheel travel from ride height, and what ends it",
        y=Axis(title="wheel travel", kind="length"),
        spans=tuple(spans),
        zero_label="ride height",
    )


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
