"""Carry-over: do springs and dampers of an earlier kit fit this vehicle, and what would they give?"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from tussock.errors import SolverError
from tussock.mechanics.dampers import damping_ratio
from tussock.mechanics.motion import settle, springing
from tussock.record.layouts import LAYOUTS
from tussock.studies import model, parts
from tussock.studies.display import show
from tussock.studies.job import ENDS, KERB, STOCK, Job, Setup
from tussock.studies.reach import axle_travel
from tussock.studies.result import Cell, Column, Notice, Result, Table
from tussock.studies.ride_frequency import ride_frequency
from tussock.studies.spring_laws import SpringLaw, spring_law

QUESTION = "Which parts of the earlier kit fit here, and what would they give?"
_LOOSE = 6e-3  # a coil centred by more play than this on its pilot walks; common practice, no source [m]
_KIND_WORDS = {"coil": "coils", "leaf": "leaf springs", "torsion_bar": "torsion bars"}
_SAME = 0.3e-3  # bolts, threads and widths count as equal within this [m]
_JUDGED = 0.26  # damper speed at which the body's own motion is damped [m/s]; common practice, no source


@dataclass(frozen=True, kw_only=True)
class SpringTrial:
    """A spring on one axle of this vehicle in one fit-out.

    Attributes
    ----------
    source, name, end : str
        "stock", "this kit" or the other programme's name; the spring; the axle.
    law : SpringLaw
        What it does.
    lift : float
        Body over stock kerb at that axle [m]; nan where the vehicle does not stand within its travel.
    frequency : float
        Body on spring and tyre [Hz].
    droop_on_spring, left_at_bump : float
        Droop until the spring carries nothing, and what is left of a coil to its shortest length at the bump wanted
        [m]; nan if unknown.
    faults : tuple of str
        What does not fit.
    """

    source: str
    name: str
    end: str
    law: SpringLaw
    lift: float
    frequency: float
    droop_on_spring: float
    left_at_bump: float
    faults: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class DamperTrial:
    """A damper on one axle of this vehicle.

    Attributes
    ----------
    source, name, end : str
        As for springs.
    open_length, closed_length : float
        [m].
    open_left, closed_left : float
        Length left at the droop wanted, and at full bump [m]; negative does not reach.
    ratio : float
        Damping ratio of the body there [-].
    faults : tuple of str
        What does not fit.
    """

    source: str
    name: str
    end: str
    open_length: float
    closed_length: float
    open_left: float
    closed_left: float
    ratio: float
    faults: tuple[str, ...]


def spring_trials(job: Job, other: Job, setup: Setup) -> tuple[SpringTrial, ...]:
    """Return stock, this kit's and the other kit's springs on both axles in one fit-out, of kinds that the axle takes.

    Springs of another kind are judged where no spring of the other kit is of a kind that the axle takes.
    """
    out: list[SpringTrial] = []
    for end in ENDS:
        axle = job.programme.vehicle.axles[end]
        rows: list[tuple[str, str, Any]] = [(STOCK, STOCK, axle.spring)]
        name, record = parts.spring_choice(job, setup, end)
        if name != STOCK:
            rows.append(("this kit", name, record))
        theirs = [(other.programme.programme.name, n, s) for n, s in other.programme.kit.springs.items()]
        kinds = LAYOUTS[axle.layout].springs
        rows += [row for row in theirs if row[2].kind in kinds] or theirs
        out += [_spring(job, setup, end, source, name, record) for source, name, record in rows]
    return tuple(out)


def _spring(job: Job, setup: Setup, end: str, source: str, name: str, record: Any) -> SpringTrial:
    law = spring_law(record)
    layout = job.programme.vehicle.axles[end].layout
    wheels = slice(0, 2) if end == "front" else slice(2, 4)
    faults = list(_seat_faults(job, end, record))
    lift = frequency = droop = bump = math.nan
    if law.kind not in LAYOUTS[layout].springs:
        faults.append(f"this axle takes no {_KIND_WORDS[law.kind]}")
    else:
        fitted = parts.spring_of(job, setup, end, name, record, packers=())
        vehicle = model.sprung(job, setup, end, fitted)
        kerb = model.rest(job, Setup(fitout=KERB, build=STOCK))
        try:
            rest = settle(vehicle)
        except SolverError:
            faults.append("the vehicle would not stand within its travel on it")
        else:
            lift = float(np.mean(rest.body_height[wheels] - kerb.body_height[wheels]))
            stands = float(np.mean(rest.spring_length[wheels])) - fitted.seats
            ratio = model.spring_ratio(job, setup, end)
            at = ENDS.index(end)
            wheel = springing(vehicle.axles[at], heave=float(rest.heave[at])).wheel_rate
            frequency = ride_frequency(
                rate=wheel,
                tyre=float(job.programme.vehicle.tyre.vertical_stiffness),
                sprung_corner=parts.sprung_corner(job, setup.fitout, end),
            )
            droop = fitted.droop(stands, ratio)
            if law.shortest is not None:
                bump = stands - ratio * float(job.programme.targets.bump[end]) - law.shortest
                if bump < 0.0:
                    faults.append(f"its coils close {show(-bump, 'length')} before full bump")
            stop = axle_travel(job, setup, end).governing("bump")
            left = math.inf if stop is None else stop.heave - float(rest.heave[at])
            if left < float(job.programme.targets.bump[end]):
                faults.append(f"it leaves {show(max(left, 0.0), 'length')} of bump travel")
            if droop < float(job.programme.targets.droop[end]):
                faults.append(f"it carries nothing after {show(droop, 'length')} of droop")
    return SpringTrial(
        source=source,
        name=name,
        end=end,
        law=law,
        lift=lift,
        frequency=frequency,
        droop_on_spring=droop,
        left_at_bump=bump,
        faults=tuple(faults),
    )


def _seat_faults(job: Job, end: str, record: Any) -> Sequence[str]:
    """Return what keeps a coil from the axle's seats; nothing is said where a size is not known."""
    seat = job.programme.vehicle.axles[end].spring_seat
    if seat is None or record.kind != "coil" or record.wire is None or record.mean_diameter is None:
        return ()
    inside = float(record.mean_diameter) - float(record.wire)
    outside = float(record.mean_diameter) + float(record.wire)
    faults: list[str] = []
    if inside < float(seat.pilot):
        faults.append(f"{show(float(seat.pilot) - inside, 'length_fine')} too narrow for the seat")
    elif inside > (largest := float(seat.pilot) + _LOOSE if seat.centres_to is None else float(seat.centres_to)):
        faults.append(f"{show(inside - largest, 'length_fine')} too wide to be centred by the seat")
    if outside > float(seat.room):
        faults.append(f"{show(outside - float(seat.room), 'length_fine')} too wide for its room")
    return faults


def damper_trials(job: Job, other: Job, setup: Setup) -> tuple[DamperTrial, ...]:
    """Return stock, this kit's and the other kit's dampers on both axles, lengths judged at the travel wanted."""
    out: list[DamperTrial] = []
    for end in ENDS:
        reach = axle_travel(job, setup, end)
        path = model.travel_map(job, end, setup, roll=reach.roll)
        mean = np.mean(path.damper[:, 1, :], axis=1)
        droop = reach.ride - float(job.programme.targets.droop[end])
        stop = reach.governing("bump")
        bump = stop.heave if stop else reach.ride + float(job.programme.targets.bump[end])
        longest, shortest = (float(np.interp(h, path.heave, mean)) for h in (droop, bump))
        stock = job.programme.vehicle.axles[end].damper
        rows: list[tuple[Job, str, str, Any]] = [(job, STOCK, STOCK, stock)]
        name, record = parts.damper_choice(job, setup, end)
        if name != STOCK:
            rows.append((job, "this kit", name, record))
        rows += [(other, other.programme.programme.name, n, d) for n, d in other.programme.kit.dampers.items()]
        for owner, source, name, record in rows:
            open_left = float(record.open_length) - longest
            closed_left = shortest - float(record.closed_length)
            faults = list(_mount_faults(stock, record))
            if open_left < 0.0:
                faults.append(f"{show(-open_left, 'length')} short of the droop wanted")
            if closed_left < 0.0:
                faults.append(f"closes {show(-closed_left, 'length')} before full bump")
            out.append(
                DamperTrial(
                    source=source,
                    name=name,
                    end=end,
                    open_length=float(record.open_length),
                    closed_length=float(record.closed_length),
                    open_left=open_left,
                    closed_left=closed_left,
                    ratio=damping_ratio(
                        damping=owner.curve(record).mean_damping(_JUDGED),
                        motion_ratio=model.damper_ratio(job, setup, end),
                        wheel_rate=model.wheel_rate(job, setup, end),
                        sprung_mass=parts.sprung_corner(job, setup.fitout, end),
                    ),
                    faults=tuple(faults),
                )
            )
    return tuple(out)


def _mount_faults(stock: Any, record: Any) -> Sequence[str]:
    """Return how a damper's ends differ from the stock one's; nothing is said where either is not known."""
    if stock.mounts is None or record.mounts is None:
        return ()
    faults: list[str] = []
    for place in ("upper", "lower"):
        has, wants = getattr(record.mounts, place), getattr(stock.mounts, place)
        if has.kind != wants.kind:
            faults.append(f"{place} end is {_a(has.kind)}, {_a(wants.kind)} is wanted")
        elif abs(float(has.size) - float(wants.size)) > _SAME:
            faults.append(f"{place} {has.kind} of {has.size}, {wants.size} is wanted")
        elif has.width is not None and wants.width is not None and abs(float(has.width) - float(wants.width)) > _SAME:
            faults.append(f"{place} {has.kind} {has.width} wide, {wants.width} is wanted")
    return faults


def _a(word: str) -> str:
    return f"an {word}" if word[0] in "aeiou" else f"a {word}"


def study(job: Job, other: Job, *, fitout: str | None = None, build: str | None = None) -> Result:
    """Return what an earlier kit's springs and dampers do on this vehicle beside stock and this kit.

    Parameters
    ----------
    job, other : Job
        This programme, and the earlier one whose kit is tried.
    fitout, build : str, optional
        Of this programme; the first fit-out and the last build unless said.

    Returns
    -------
    Result
        Passes when one spring for each axle and one damper for each axle of the earlier kit fits.
    """
    setup = job.setup(fitout, build)
    springs, dampers = spring_trials(job, other, setup), damper_trials(job, other, setup)
    theirs = other.programme.programme.name
    fits = {
        (what, end): [t.name for t in trials if t.source == theirs and t.end == end and not t.faults]
        for what, trials in (("spring", springs), ("damper", dampers))
        for end in ENDS
    }
    unknown = [
        f"{end} {what}"
        for end in ENDS
        for what, known in (
            ("spring seats", job.programme.vehicle.axles[end].spring_seat is not None),
            ("damper mounts", job.programme.vehicle.axles[end].damper.mounts is not None),
        )
        if not known
    ]
    notices = (
        (
            Notice(
                text=f"Sizes of {', '.join(unknown)} are not in the programme, so they are not compared",
                remedy="measure them and enter spring_seat and mounts",
            ),
        )
        if unknown
        else ()
    )
    return Result(
        stage="carry-over",
        question=QUESTION,
        answer=_answer(theirs, fits),
        passes=all(fits.values()),
        provenance=job.provenance(setup),
        notices=notices,
        tables=(_spring_table(job, setup, springs), _damper_table(dampers)),
        inputs={"earlier kit": f"{theirs}, {other.programme.programme.title}", "fit-out": setup.fitout},
        values={f"{end}_{what}s_that_fit": ", ".join(names) for (what, end), names in fits.items()},
    )


def _answer(theirs: str, fits: dict[tuple[str, str], list[str]]) -> str:
    good = [f"{', '.join(names)} as {end} {what}" for (what, end), names in fits.items() if names]
    bad = [f"{end} {what}" for (what, end), names in fits.items() if not names]
    if not good:
        return f"Nothing of the kit for {theirs} fits here; each part's reason stands in the tables."
    text = f"Of the kit for {theirs}, {'; '.join(good)} would fit"
    return text + (f"; no {' and no '.join(bad)} does." if bad else ".")


def _spring_table(job: Job, setup: Setup, trials: Sequence[SpringTrial]) -> Table:
    def cell(value: float) -> Cell:
        return value if math.isfinite(value) else None

    rows: list[tuple[Cell, ...]] = [
        (
            t.end,
            t.source,
            t.name,
            show(t.law.rate, t.law.rate_kind),
            show(t.law.free_length, t.law.length_kind),
            cell(t.lift),
            cell(t.frequency),
            cell(t.droop_on_spring),
            cell(t.left_at_bump),
            "; ".join(t.faults) or "fits",
        )
        for t in trials
    ]
    return Table(
        key="springs",
        title=f"Springs on this vehicle, {job.programme.fitouts[setup.fitout].title}",
        columns=(
            Column(key="axle", title="Axle"),
            Column(key="source", title="From"),
            Column(key="spring", title="Spring"),
            Column(key="rate", title="Rate"),
            Column(key="free_length", title="Free"),
            Column(key="lift", title="Lift", kind="length", sign=True),
            Column(key="frequency", title="Ride", kind="frequency"),
            Column(key="droop", title="Droop on it", kind="length"),
            Column(key="bump", title="Left at bump", kind="length", sign=True),
            Column(key="verdict", title="Reading"),
        ),
        rows=tuple(rows),
        strong=tuple(i for i, t in enumerate(trials) if not t.faults and t.source not in (STOCK, "this kit")),
        note="without packers, blocks and longer shackles; free: length, arch or angle without load; a seat centres a "
        "coil with 6 mm of play (common practice, no source) or as it says",
    )


def _damper_table(trials: Sequence[DamperTrial]) -> Table:
    rows: list[tuple[Cell, ...]] = [
        (
            t.end,
            t.source,
            t.name,
            t.open_length,
            t.open_left,
            t.closed_length,
            t.closed_left,
            t.ratio,
            "; ".join(t.faults) or "fits",
        )
        for t in trials
    ]
    return Table(
        key="dampers",
        title="Dampers on this vehicle",
        columns=(
            Column(key="axle", title="Axle"),
            Column(key="source", title="From"),
            Column(key="damper", title="Damper"),
            Column(key="open", title="Open", kind="length"),
            Column(key="open_left", title="Left at droop", kind="length", sign=True),
            Column(key="closed", title="Closed", kind="length"),
            Column(key="closed_left", title="Left at bump", kind="length", sign=True),
            Column(key="ratio", title="Damping ratio", kind="ratio"),
            Column(key="verdict", title="Reading"),
        ),
        rows=tuple(rows),
        strong=tuple(i for i, t in enumerate(trials) if not t.faults and t.source not in (STOCK, "this kit")),
        note="at the droop wanted and at full bump of this vehicle; damping of the body at 0.26 m/s",
    )
