"""Calibration: what do the dyno runs say of the parameters that no drawing tells, and how far to trust the model?"""

from __future__ import annotations

import numpy as np

from tussock.errors import DomainError, InputError, SolverError
from tussock.mechanics.dampers.assembly import Parameters
from tussock.mechanics.dampers.calibrate import (
    Calibration,
    Estimate,
    HeldOut,
    Observation,
    calibrate,
    leave_one_out,
    predict,
)
from tussock.mechanics.dampers.seat_tables import SeatGridTables
from tussock.studies import damper_builds
from tussock.studies.display import show
from tussock.studies.job import Job
from tussock.studies.result import Axis, Cell, Column, Line, LineChart, Notice, Result, Table

QUESTION = "What do the dyno runs say of leakage, discharge, preload and friction?"
#: Scatter between two equal dampers that no dyno error holds [-], and the least error of a force [N]; common practice,
#: no source.
BUILD_SCATTER, LEAST_ERROR = 0.02, 3.0
#: Oil temperature where the record has none: a dyno run begins warm [K].
TEMPERATURE = 298.15

_KINDS = {
    "curtain_discharge": ("ratio", "Discharge of the curtain"),
    "port_factor": ("ratio", "Ports, working over drilled area"),
    "bleed_factor": ("ratio", "Bleeds, working over drilled area"),
    "band_gap": ("gap", "Gap at the piston's band"),
    "seat_offset": ("gap", "Seat height beside the drawing"),
    "jet_coefficient": ("ratio", "Jet on the discs"),
    "seal_friction": ("force", "Seal friction"),
}


def observations(job: Job) -> tuple[Observation, ...]:
    """Return a run for every damper of the kit that has dyno file and valves, grouped by the build it is in."""
    out = []
    for name, damper in job.programme.kit.dampers.items():
        if damper.dyno is None or not damper_builds.is_buildable(damper):
            continue
        test = job.dyno_tests[damper.dyno]
        group = next((b for b, record in job.programme.builds.items() if name in record.dampers.values()), name)
        v = np.array([p.velocity for p in test.points])
        hydraulic = np.array([p.force for p in test.points])
        force = hydraulic + np.sign(v) * test.curve.friction
        error = np.sqrt(
            np.array([test.error_at(float(x)) for x in v]) ** 2 + (BUILD_SCATTER * force) ** 2 + LEAST_ERROR**2
        )
        out.append(
            Observation(
                build=damper_builds.build_of(job, damper, name),
                velocity=v,
                force=force,
                sigma=error,
                temperature=test.mean_temperature or TEMPERATURE,
                group=group,
            )
        )
    return tuple(out)


def _memory(job: Job) -> SeatGridTables:
    found = job.memo.setdefault(("seat grid tables",), SeatGridTables())
    assert isinstance(found, SeatGridTables)
    return found


def fitted(job: Job) -> Calibration | None:
    """Return the calibration to all runs, computed once; None where no damper has both dyno file and valves.

    Raises
    ------
    InputError
        If a build cannot be assembled or the fit does not end.
    """
    key = ("damper calibration",)
    if key not in job.memo:
        runs = observations(job)
        try:
            job.memo[key] = calibrate(runs, lifts=_memory(job)) if runs else None
        except (DomainError, SolverError) as error:
            raise InputError(str(error)) from None
    found = job.memo[key]
    assert found is None or isinstance(found, Calibration)
    return found


def house_parameters(job: Job) -> tuple[Parameters, str]:
    """Return the parameters that valving studies compute with, and where they come from.

    Those that the programme states (`workshop.parameters`); else those fitted to its dyno runs; else as assumed.
    """
    if damper_builds.calibrated(job):
        return damper_builds.parameters(job), "stated in workshop.parameters"
    found = fitted(job)
    if found is None:
        return damper_builds.parameters(job), "as assumed"
    return found.parameters, "calibrated to the dyno runs"


def held_out(job: Job) -> tuple[HeldOut, ...]:
    """Return every build predicted from the others, computed once; empty where there is one build only."""
    key = ("dampers held out",)
    if key not in job.memo:
        runs = observations(job)
        many = len({one.group for one in runs}) > 1
        job.memo[key] = leave_one_out(runs, lifts=_memory(job)) if many else ()
    found = job.memo[key]
    assert isinstance(found, tuple)
    return found


def study(job: Job) -> Result:
    """Return fitted parameters with their confidence, and what a held-out build's prediction misses.

    Raises
    ------
    InputError
        If no damper of the kit has both a dyno file and its valves.
    """
    found = fitted(job)
    if found is None:
        raise InputError(
            "no damper of the kit has both a dyno file and its body and valves; a calibration needs one at least"
        )
    held = held_out(job)
    runs = observations(job)
    notices = tuple(Notice(text=f"{text[0].upper()}{text[1:]}", remedy=_remedy(text)) for text in found.words)
    return Result(
        stage="calibration",
        question=QUESTION,
        answer=_answer(found, held, len(runs)),
        passes=all(one.after.rms <= one.before.rms for one in held),
        provenance=job.provenance(),
        notices=notices,
        pictures=(_picture(job, _telling(job, runs), found),),
        tables=(
            _estimates_table(found),
            *((_held_table(held),) if held else ()),
            _residual_table(found, runs),
            _statement_table(found),
        ),
        inputs={f"kit.dampers.{one.name}": f"{one.velocity.size} dynoed velocities" for one in runs},
        values={
            **{_value_name(one.name): one.value for one in found.estimates},
            **({"held_out_share": max(one.after.share for one in held)} if held else {}),
        },
    )


def _telling(job: Job, runs: tuple[Observation, ...]) -> Observation:
    """Return the run that the parameters as assumed miss most: there the fit shows."""

    def off(one: Observation) -> float:
        force = predict(
            one.build, one.velocity, parameters=Parameters(), temperature=one.temperature, lifts=_memory(job)
        )  # fmt: skip
        return float(np.sqrt(np.mean((force - one.force) ** 2) / np.mean(one.force**2)))

    return max(runs, key=off)


def _value_name(name: str) -> str:
    return name + {"band_gap": "_m", "seat_offset": "_m", "seal_friction": "_n"}.get(name, "")


def _remedy(text: str) -> str:
    if "together only" in text:
        return "a run with the bleed shut, or at another oil temperature, parts them"
    if "as assumed" in text:
        return "dyno a build that depends on it, or leave it as assumed"
    if "end of its range" in text:
        return "check drawing, disc sizes and oil of the dynoed builds"
    return "look for what the drawing does not hold: a worn seat, other oil, air"


def _answer(found: Calibration, held: tuple[HeldOut, ...], count: int) -> str:
    told = [one for one in found.estimates if one.knowledge == "from the data"]
    text = f"{count} dynoed dampers tell {len(told)} of {len(found.estimates)} parameters"
    if not held:
        return text + "; a second build is needed to say how well a new one is predicted."
    before, after = max(one.before.share for one in held), max(one.after.share for one in held)
    worst = max(one.after.worst for one in held)
    return (
        f"{text}; a build left out of the fit is predicted within {show(after, 'share')} of its force "
        f"({show(worst, 'force')} at worst), with the parameters as assumed it was {show(before, 'share')}."
    )


def _estimates_table(found: Calibration) -> Table:
    def cells(one: Estimate) -> tuple[Cell, ...]:
        kind, title = _KINDS[one.name]
        shown = [show(x, kind) for x in (one.assumed, one.assumed_sigma, one.value, one.low, one.high)]
        return (title, f"{shown[0]} +- {shown[1]}", shown[2], shown[3], shown[4], one.knowledge)

    return Table(
        key="parameters",
        title="Parameters that no drawing tells",
        columns=(
            Column(key="parameter", title="Parameter"),
            Column(key="assumed", title="Assumed"),
            Column(key="fitted", title="Fitted"),
            Column(key="low", title=f"{show(found.confidence, 'share', digits=0)} from"),
            Column(key="high", title="to"),
            Column(key="knowledge", title="Known"),
        ),
        rows=tuple(cells(one) for one in found.estimates),
        strong=tuple(i for i, one in enumerate(found.estimates) if one.knowledge == "at its bound"),
        note=f"residuals are {found.scatter:.2f} times the scatter of dyno and build "
        f"({show(BUILD_SCATTER, 'share')} of the force, {show(LEAST_ERROR, 'force')} at least)",
    )


def _held_table(held: tuple[HeldOut, ...]) -> Table:
    rows: list[tuple[Cell, ...]] = []
    for one in held:
        for which, miss in (("as assumed", one.before), ("fitted to the others", one.after)):
            rows.append((one.name, which, miss.rms, miss.share, miss.worst, miss.worst_share))
    return Table(
        key="held_out",
        title="Each build predicted from the others",
        columns=(
            Column(key="build", title="Build left out"),
            Column(key="parameters", title="Parameters"),
            Column(key="rms", title="Miss, root mean square", kind="force"),
            Column(key="share", title="of its force", kind="share"),
            Column(key="worst", title="Worst miss", kind="force"),
            Column(key="worst_share", title="of the force there", kind="share"),
        ),
        rows=tuple(rows),
        note="both axles' dampers of the build are left out together; friction is in, gas force is off",
    )


def _statement_table(found: Calibration) -> Table:
    """Return what to write into the programme, so that every study computes with it."""
    written = []
    for one in found.estimates:
        kind, _ = _KINDS[one.name]
        text = f"{one.value * 1e3:.4f} mm" if kind == "gap" else f"{one.value:.3f}"
        written.append((one.name, f"{one.value:.1f} N" if kind == "force" else text))
    return Table(
        key="statement",
        title="To compute with it everywhere, write under workshop: parameters:",
        columns=(Column(key="field", title="Field"), Column(key="value", title="Value")),
        rows=tuple(written),
        note="until then heat, loops and predictions take the parameters as assumed",
    )


def _residual_table(found: Calibration, runs: tuple[Observation, ...]) -> Table:
    rows: list[tuple[Cell, ...]] = []
    for one in runs:
        off = found.residuals[one.name]
        at = int(np.argmax(np.abs(off)))
        rows.append(
            (
                one.name,
                float(np.sqrt(np.mean(off**2))),
                float(off[at]),
                float(one.velocity[at]),
                float(off[at] / one.force[at]),
            )
        )
    return Table(
        key="residuals",
        title="Model less dyno after the fit to all",
        columns=(
            Column(key="damper", title="Damper"),
            Column(key="rms", title="Root mean square", kind="force"),
            Column(key="worst", title="Largest", kind="force", sign=True),
            Column(key="at", title="at", kind="velocity", sign=True),
            Column(key="share", title="of the force there", kind="share", sign=True),
        ),
        rows=tuple(rows),
    )


def _picture(job: Job, run: Observation, found: Calibration) -> LineChart:
    least, most = float(run.velocity[0]), float(run.velocity[-1])
    grid = np.unique(np.concatenate([np.linspace(least, -1e-3, 45), np.linspace(1e-3, most, 45)]))

    def line(label: str, parameters: Parameters, plain: bool) -> Line:
        force = predict(
            run.build, grid, parameters=parameters, temperature=run.temperature, lifts=_memory(job)
        )  # fmt: skip
        return Line(
            label=label, x=tuple(map(float, grid)), y=tuple(map(float, force)), role="plain" if plain else "build"
        )

    return LineChart(
        key="fit",
        title=f"Damper {run.name}: model and dyno",
        x=Axis(title="speed, compression positive", kind="velocity"),
        y=Axis(title="force with friction, without gas", kind="force"),
        lines=(
            line("as assumed", Parameters(), True),
            line("calibrated", found.parameters, False),
            Line(
                label="dyno",
                x=tuple(map(float, run.velocity)),
                y=tuple(map(float, run.force)),
                role="target",
                dots=True,
            ),
        ),
    )
