"""Stepping: the spring of one axle made softer and firmer in steps from below stock, and what each step does.

The engineer creeps up: every step keeps the height by its free length, so that only the rate is felt.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from tussock.errors import InputError, SolverError
from tussock.mechanics.motion import Vehicle, settle, springing
from tussock.studies import loop, model, parts
from tussock.studies.display import show
from tussock.studies.job import ENDS, KERB, STOCK, Job, Setup
from tussock.studies.result import Axis, Cell, Column, Line, LineChart, Mark, Notice, Result, Table
from tussock.studies.ride_frequency import ride_frequency
from tussock.studies.spring_laws import spring_law

QUESTION = "How firm may the spring be before it is too much?"
_MOST_LENGTH = 0.15  # free length is sought this far either way of the present one [m]; of a bar's angle [rad]
_FIRST_LENGTH = 0.02  # and first within this of what the load asks for


@dataclass(frozen=True, kw_only=True)
class SpringStep:
    """One rate on one axle, standing at the same height as the present spring.

    Attributes
    ----------
    rate, free_length : float
        Of the spring [N/m], [m], packer apart; as its law counts them.
    lift_as_it_is : float
        Height over stock kerb if the free length stayed as it is [m]; nan if the vehicle would not stand.
    frequency : float
        Body on spring and tyre in series [Hz].
    droop_on_spring : float
        Droop from ride height until the spring is loose [m].
    roll_rate : float
        Of the axle [N m/rad].
    stop_count : int
    hardest : float
        Bump stop hits over the loop and the hardest of this axle [N].
    comfort, control : float
        Indices on the loop against stock; below 1 is better.
    """

    rate: float
    free_length: float
    lift_as_it_is: float
    frequency: float
    droop_on_spring: float
    roll_rate: float
    stop_count: int
    hardest: float
    comfort: float
    control: float


def _height(vehicle: Vehicle, end: str) -> float:
    at = slice(0, 2) if end == "front" else slice(2, 4)
    return float(np.mean(settle(vehicle).body_height[at]))


def steps(
    job: Job, setup: Setup, end: str, *, least: float = 0.8, most: float = 1.6, count: int = 7
) -> tuple[SpringStep, ...]:
    """Return steps of spring rate on one axle, the other axle and the dampers as the setup has them.

    Parameters
    ----------
    job, setup : Job, Setup
        What is driven.
    end : str
        "front" or "rear".
    least, most : float
        First and last rate over the stock spring's rate [-].
    count : int
        Steps, 2 at least.

    Raises
    ------
    InputError
        For steps that do not rise.
    SolverError
        If no free length holds the height at a rate.
    """
    if not (0.2 <= least < most <= 4.0 and count >= 2):
        raise InputError(
            f"steps from {least:g} to {most:g} of the stock rate in {count} do not rise; say 0.8 to 1.6 in 7"
        )
    base = model.vehicle(job, setup)
    fitted = parts.fitted_spring(job, setup, end)
    wanted = _height(base, end)
    kerb = _height(model.vehicle(job, Setup(fitout=KERB, build=STOCK)), end)
    ratio = model.spring_ratio(job, setup, end)
    stands = model.posture(job, setup)[end]
    carried = float(fitted.force(stands.spring_length))
    corner = parts.sprung_corner(job, setup.fitout, end)
    reference = loop.drive_loop(job, Setup(fitout=setup.fitout, build=STOCK))
    stock = spring_law(job.programme.vehicle.axles[end].spring).rate
    out: list[SpringStep] = []
    for share in np.linspace(least, most, count):
        rate = float(share) * stock

        def stepped(longer: float, rate: float = rate) -> Vehicle:
            return model.sprung(job, setup, end, fitted.at_rate(rate, fitted.free_length + longer))

        def miss(longer: float, stepped: Callable[[float], Vehicle] = stepped) -> float:
            return _height(stepped(longer), end) - wanted

        # Hooke's law says about where to look; helper leaves take part in both
        longer = _root(miss, carried / rate - carried / fitted.rate, show(rate, fitted.law.rate_kind), end)
        vehicle = stepped(longer)
        runs = loop.drive_loop(job, setup, vehicle=vehicle)
        index = loop.loop_index(runs, reference)
        try:
            lift = _height(stepped(0.0), end) - kerb
        except SolverError:
            lift = math.nan  # it would rest outside its travel: shown as none
        acts = springing(vehicle.axles[ENDS.index(end)], heave=stands.heave)
        wheels = slice(0, 2) if end == "front" else slice(2, 4)
        out.append(
            SpringStep(
                rate=rate,
                free_length=fitted.free_length + longer,
                lift_as_it_is=lift,
                frequency=ride_frequency(
                    rate=acts.wheel_rate,
                    tyre=float(job.programme.vehicle.tyre.vertical_stiffness),
                    sprung_corner=corner,
                ),
                droop_on_spring=fitted.longer(longer).droop(stands.spring_length, ratio),
                roll_rate=acts.roll_rate,
                stop_count=int(sum(r.measures["stop_count"] for r in runs)),
                hardest=max(max(r.stops[wheels]) for r in runs),
                comfort=index.comfort,
                control=index.control,
            )
        )
    return tuple(out)


def _root(miss: Callable[[float], float], near: float, rate: str, end: str) -> float:
    """Return the change of free length that holds the height; the vehicle may leave its travel far away from it."""

    def safe(longer: float) -> float:
        try:
            return miss(longer)
        except SolverError:
            return math.copysign(1.0, longer - near)

    reach = _FIRST_LENGTH
    while safe(near - reach) * safe(near + reach) > 0.0:
        reach *= 2.0
        if reach > _MOST_LENGTH:
            raise SolverError(
                f"no spring within {show(_MOST_LENGTH, 'length')} of the length that the load asks for holds the "
                f"{end} height at {rate}"
            )
    return float(brentq(safe, near - reach, near + reach, xtol=1e-8))


def study(
    job: Job,
    *,
    end: str = "front",
    fitout: str | None = None,
    build: str | None = None,
    least: float = 0.8,
    most: float = 1.6,
    count: int = 7,
) -> Result:
    """Return the steps of one axle's spring, and the firmest that still rides within its window.

    Parameters
    ----------
    job : Job
        The programme.
    end : str
        "front" or "rear".
    fitout, build : str, optional
        The first fit-out and the last build unless said.
    least, most, count : float, float, int
        Rates over stock, and how many.

    Returns
    -------
    Result
        Passes when one step at least rides within the frequency window of the targets.
    """
    if end not in ENDS:
        raise InputError(f"there is no axle {end!r}; say front or rear")
    setup = job.setup(fitout, build)
    found = steps(job, setup, end, least=least, most=most, count=count)
    window = job.programme.targets.ride_frequency[end]
    low, high = float(window.least), float(window.most)
    inside = [s for s in found if low <= s.frequency <= high]
    stock = spring_law(job.programme.vehicle.axles[end].spring).rate
    present = parts.fitted_spring(job, setup, end)
    notices: list[Notice] = []
    if not inside:
        notices.append(
            Notice(
                text=f"No step rides within {show(low, 'frequency')} to {show(high, 'frequency')}",
                remedy="other steps, or another window: the load asks for it",
            )
        )
    best = min(inside or found, key=lambda s: s.comfort * s.control)
    return Result(
        stage="steps",
        question=QUESTION,
        answer=_answer(end, best, inside, present),
        passes=bool(inside),
        provenance=job.provenance(setup, seed=job.programme.road_loop.seed),
        notices=tuple(notices),
        pictures=(_picture(end, found, present, stock),),
        tables=(_table(end, found, present, stock, best),),
        inputs={
            f"targets.ride_frequency.{end}": f"{window.least} to {window.most}",
            f"{end} spring": f"{present.name}, {show(present.rate, present.law.rate_kind)}",
        },
        values={"best_rate_N_per_m": best.rate, "best_free_length_m": best.free_length},
    )


def _answer(end: str, best: SpringStep, inside: list[SpringStep], present: parts.Spring) -> str:
    kind = present.law.rate_kind
    if not inside:
        return (
            f"No step of the {end} spring rides within its window; the nearest to balance is {show(best.rate, kind)} "
            f"at {show(best.frequency, 'frequency')}."
        )
    return (
        f"From {show(inside[0].rate, kind)} to {show(inside[-1].rate, kind)} the {end} rides within its window; "
        f"{show(best.rate, kind)} balances comfort and control best on the loop "
        f"({show(best.frequency, 'frequency')}, {show(best.droop_on_spring, 'length')} of droop before it is loose; "
        f"the present spring has {show(present.rate, kind)})."
    )


def _table(end: str, found: tuple[SpringStep, ...], present: parts.Spring, stock: float, best: SpringStep) -> Table:
    law = present.law
    rows: list[tuple[Cell, ...]] = [
        (
            s.rate,
            s.rate / stock - 1.0,
            s.free_length,
            s.lift_as_it_is if math.isfinite(s.lift_as_it_is) else None,
            s.frequency,
            s.roll_rate,
            s.droop_on_spring,
            s.stop_count,
            s.hardest,
            s.comfort - 1.0,
            s.control - 1.0,
        )
        for s in found
    ]
    return Table(
        key="steps",
        title=f"{end.capitalize()} spring, step by step",
        columns=(
            Column(key="rate", title="Rate", kind=law.rate_kind),
            Column(key="over_stock", title="Over stock", kind="share", digits=0, sign=True),
            Column(key="free_length", title=law.length_name.capitalize(), kind=law.length_kind),
            Column(key="lift", title=f"Lift if the {law.length_name} stayed", kind="length", sign=True),
            Column(key="frequency", title="Ride", kind="frequency"),
            Column(key="roll_rate", title="Roll rate", kind="roll_rate"),
            Column(key="droop", title="Droop on the spring", kind="length"),
            Column(key="stops", title="Stop hits", kind="count"),
            Column(key="hardest", title="Hardest", kind="force_k"),
            Column(key="comfort", title="Discomfort", kind="share", sign=True),
            Column(key="control", title="Loss of control", kind="share", sign=True),
        ),
        rows=tuple(rows),
        strong=(found.index(best),),
        note=f"each step keeps the present height by its {law.length_name}; comfort and control on the road loop with "
        "the present dampers, against stock, less is better. A firmer spring wants more rebound damping",
    )


def _picture(end: str, found: tuple[SpringStep, ...], present: parts.Spring, stock: float) -> LineChart:
    rates = tuple(s.rate for s in found)
    return LineChart(
        key=f"{end}_steps",
        title=f"{end.capitalize()} spring rate: comfort and control on the loop",
        x=Axis(title="spring rate", kind=present.law.rate_kind),
        y=Axis(title="against stock, less is better", kind="share"),
        lines=(
            Line(label="discomfort", x=rates, y=tuple(s.comfort - 1.0 for s in found)),
            Line(label="loss of control", x=rates, y=tuple(s.control - 1.0 for s in found), role="governs"),
        ),
        marks=(Mark(text="stock", x=stock, role="stock"), Mark(text="present", x=present.rate)),
    )
