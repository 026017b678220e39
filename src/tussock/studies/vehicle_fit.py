"""Fit: which values of what is uncertain make the model drive as the vehicle did?"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from tussock.errors import DomainError, InputError
from tussock.mechanics.identify import Fit, Plan, Statistics, find, joined, usual_places
from tussock.mechanics.identify.fit import ENOUGH
from tussock.mechanics.identify.statistics import SEGMENT
from tussock.mechanics.roads import Section
from tussock.studies import loop, parts
from tussock.studies.display import show
from tussock.studies.job import Job, Setup
from tussock.studies.recordings import STEP, Logged, SectionPass, as_driven, read_drives
from tussock.studies.result import Axis, Cell, Column, Notice, Result, Row, RowChart, Table

QUESTION = "Which values of what is uncertain make the model drive as the vehicle did?"
DRIVES = 300  # of the model in the near look
_TITLES = {
    "front_rebound": "front rebound damping",
    "front_compression": "front compression damping",
    "rear_rebound": "rear rebound damping",
    "rear_compression": "rear compression damping",
    "friction": "friction of dampers and springs",
    "tyre_stiffness": "vertical stiffness of the tyres",
    "centre_height": "height of the sprung mass's centre",
    "pitch_inertia": "pitch inertia of the body",
    "roll_inertia": "roll inertia of the body",
}


def study(
    job: Job,
    *,
    fitout: str | None = None,
    build: str | None = None,
    drives: int = DRIVES,
    seed: int = 1,
    progress: Callable[[int, int, int], None] | None = None,
) -> Result:
    """Return the vehicle's uncertain parameters, as factors on the model's values, from the measured drives.

    Parameters
    ----------
    job : Job
        The programme.
    fitout, build : str, optional
        Which; the first fit-out and the last build unless said otherwise.
    drives : int
        Of the model about the answer; half as many look wide before.
    seed : int
        Of the roads that the model is driven on.
    progress : callable, optional
        Told how many drives are done, of how many, and how many of them failed.

    Raises
    ------
    InputError
        No recording, no random section that was passed for long enough, or no sound channel common to its passes.
    SolverError
        The model cannot be made to drive like the vehicle within what is thought possible.
    """
    setup = job.setup(fitout, build)
    logged = read_drives(job, build=setup.build, fitout=setup.fitout)
    plan, measured, used = _measured(job, setup, logged)
    least = ENOUGH * (1 + 2 * len(plan.parameters))
    if drives < least:  # said before anything is driven
        raise InputError(
            f"{drives} drives are too few for {len(plan.parameters)} parameters; at least {least} are needed"
        )
    first = max(drives // 2, ENOUGH * (1 + 2 * len(plan.parameters)))
    fit = find(
        plan,
        measured,
        count=drives,
        seed=seed,
        progress=None if progress is None else (lambda done: progress(done, first + drives, 0)),
    )
    return _result(job, setup, fit, plan, used, drives=first + drives, seed=seed)


def _measured(
    job: Job, setup: Setup, logged: tuple[Logged, ...]
) -> tuple[Plan, Statistics, dict[str, list[SectionPass]]]:
    """Return the plan of the sections that can be used and the figures measured on them."""
    by_name = {s.name: s for s in loop.sections(job)}
    passes: dict[str, list[SectionPass]] = {}
    for one in logged:
        for p in one.passes:
            section = by_name.get(p.section)
            if section is not None and _usable(section, p):
                passes.setdefault(p.section, []).append(p)
    if not passes:
        raise InputError(
            f"no pass of a section with a random surface and nothing else on it lasted {2.0 * SEGMENT:g} s at a held "
            "speed; the fit wants such a section"
        )
    vehicle = as_driven(job, setup)
    seat = np.asarray(loop.points(job).seat) - np.asarray(vehicle.body.centre)
    sections = []
    for name, runs in passes.items():
        speeds = [p.speed for p in runs if p.speed > 0.0]
        section = by_name[name]
        sections.append(replace(section, speed=float(np.mean(speeds)) if speeds else section.speed))
    plan = Plan(
        vehicle=vehicle,
        sections=tuple(sections),
        body=usual_places(vehicle),
        seat=(float(seat[0]), float(seat[1]), float(seat[2])),
        track=0.5 * (parts.track(job, "front") + parts.track(job, "rear")),
    )
    rests = [one.rest for one in logged if one.rest is not None]
    rest = {k: float(np.mean([r[k] for r in rests])) for k in rests[0]} if rests else None
    common = [[_moving(p) for p in passes[name]] for name in passes]
    try:
        measured = joined(plan, common, step=STEP, rest=rest)
    except DomainError as error:
        raise InputError(f"the recordings give no figures: {error}") from None
    if not measured.names:
        raise InputError("no sound channel is common to the passes of a section; the fit has nothing to go by")
    return plan, measured, passes


def _usable(section: Section, p: SectionPass) -> bool:
    random = section.density > 0.0 and not section.features and not section.speed_changes
    return random and section.length / section.mean_speed >= 2.0 * SEGMENT and p.end - p.start >= 2.0 * SEGMENT


def _moving(p: SectionPass) -> dict[str, np.ndarray[tuple[int, ...], np.dtype[np.float64]]]:
    return {k: v for k, v in p.channels.items() if k not in ("seat_x", "seat_y")}


def _result(
    job: Job, setup: Setup, fit: Fit, plan: Plan, used: dict[str, list[SectionPass]], *, drives: int, seed: int
) -> Result:
    own = [p.key for p in fit.parameters if p.key in _TITLES]
    known = [k for k in own if fit.determined(k)]
    far = max(known, key=lambda k: abs(np.log(fit.factor(k)))) if known else None
    count = sum(len(p) for p in used.values())
    if far is None:
        answer = f"{count} passes do not determine any of the {len(own)} parameters."
    else:
        low, high = fit.interval(far)
        answer = (
            f"{count} passes determine {len(known)} of {len(own)} parameters; furthest from the model is the "
            f"{_TITLES[far]}, {fit.factor(far):.2f} times its value ({low:.2f} to {high:.2f})."
        )
    notices = []
    for key in own:
        if not fit.determined(key):
            twin = fit.twin(key)
            why = f"; it cannot be told from the {_title(twin[0])}" if twin else ""
            notices.append(
                Notice(
                    text=f"The drives do not determine the {_TITLES[key]}{why}",
                    remedy="leave the model's value, or drive what shows it: rough road for friction and tyres, "
                    "bends and braking for the centre's height",
                )
            )
    fits = fit.misfit <= fit.misfit_limit
    if not fits:
        notices.append(
            Notice(
                text=f"The model cannot drive quite like the vehicle: misfit {fit.misfit:.2f}, chance leaves up to "
                f"{fit.misfit_limit:.2f}",
                remedy="something is missing in the model or wrong in a channel; the intervals are too narrow then",
            )
        )
    rows: list[tuple[Cell, ...]] = []
    chart = []
    for p in fit.parameters:
        low, high = fit.interval(p.key)
        word = "yes" if fit.determined(p.key) else "no"
        rows.append((_title(p.key), fit.factor(p.key), low, high, word))
        if p.key in _TITLES:
            chart.append(
                Row(
                    label=_title(p.key),
                    at=fit.factor(p.key) - 1.0,
                    low=low - 1.0,
                    high=high - 1.0,
                    role="build" if fit.determined(p.key) and not low < 1.0 < high else "plain",
                    text=f"{fit.factor(p.key):.2f}",
                )
            )
    return Result(
        stage="fit",
        question=QUESTION,
        answer=answer,
        passes=fits,
        provenance=job.provenance(setup, seed=seed),
        notices=tuple(notices),
        pictures=(
            RowChart(
                key="fit",
                title="What the drives say of the model's values, 90 % intervals",
                x=Axis(title="above or below the model's value", kind="share"),
                rows=tuple(chart),
                zero_label="as in the model",
            ),
        ),
        tables=(
            Table(
                key="fit",
                title="Factors on the model's values",
                columns=(
                    Column(key="parameter", title="Parameter"),
                    Column(key="factor", title="Factor", kind="ratio", digits=3),
                    Column(key="low", title="90 % from", kind="ratio", digits=3),
                    Column(key="high", title="to", kind="ratio", digits=3),
                    Column(key="determined", title="Determined"),
                ),
                rows=tuple(rows),
                note=f"from {drives} drives of the model on other roads of the same kind; a parameter counts as "
                "determined when the drives halve what was thought possible of it; one road driven often is one road, "
                "so more sections say more than more laps",
            ),
        ),
        inputs={
            "fit-out": setup.fitout,
            "build": setup.build,
            **{f"passes of {name}": str(len(p)) for name, p in used.items()},
            **{f"speed on {s.name}": show(s.speed, "speed") for s in plan.sections},
        },
        values={f"{k}_factor": fit.factor(k) for k in own} | {"misfit": fit.misfit},
    )


def _title(key: str) -> str:
    return _TITLES.get(key, key)
