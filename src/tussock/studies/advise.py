"""Advise: what to build and drive next, how sure that is, and when the log does not hold enough to say so."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

import tussock
from tussock.errors import DomainError, InputError, SolverError
from tussock.mechanics.arrays import Ints
from tussock.mechanics.tuning import Advice, Belief, Drives, Point, advise, fit_belief
from tussock.studies import advise_shown, advise_tables, points
from tussock.studies.advise_felt import Felt, felt, within
from tussock.studies.advise_ground import Ground, ground, others
from tussock.studies.advise_log import Heard, drives_of, heard
from tussock.studies.advise_measures import Simulated, simulated
from tussock.studies.job import STOCK, Job
from tussock.studies.loop import WORKERS, weights_words
from tussock.studies.point_file import Inputs, digest_of
from tussock.studies.point_runs import How, PointTable, Report, Stopped, run
from tussock.studies.points import Outcome, Scene, loop_measures, scene_of
from tussock.studies.result import Result

QUESTION = "What do we build and drive next, and how sure is that?"
POINTS = 260
"""Settings that are simulated: half again as many as a quadratic in 16 adjusters has terms."""
MOST = 20_000
_LOG = ("builds", "drives", "dyno_runs", "notes", "decisions", "corrections", "loggers", "attachments", "programme")


@dataclass(frozen=True, kw_only=True, eq=False)
class Advised:
    """All that an advice comes of.

    Attributes
    ----------
    job : Job
    ground : Ground
        Where it looks.
    heard : Heard
        What of the log counts.
    felt : mapping
        Closed windows, by adjuster; builds proposed keep them.
    drives : Drives
        The same by places.
    alike : tuple of str
        Pairs of builds that stand on one place.
    scene : Scene
    simulated : Simulated
        What the simulation gives there.
    table : PointTable
        Settings that were simulated.
    advice : Advice
    alone : Belief
        What the simulation says of the same builds without a word of a driver.
    checked : mapping
        Next build, incumbent and best build believed, simulated as they are.
    """

    job: Job
    ground: Ground
    heard: Heard
    felt: Mapping[str, Felt]
    drives: Drives
    alike: tuple[str, ...]
    scene: Scene
    simulated: Simulated
    table: PointTable
    advice: Advice
    alone: Belief
    checked: Mapping[Point, Outcome]


def study(
    job: Job,
    *,
    fitout: str | None = None,
    build: str | None = None,
    count: int = POINTS,
    seed: int = 1,
    results: Path | None = None,
    threads: int = WORKERS,
    report: Report | None = None,
) -> Result:
    """Return what to drive next: a build, a pair, the same once more, or nothing; or that the log does not say enough.

    Parameters
    ----------
    job : Job
        The programme with its log.
    fitout, build : str, optional
        Fit-out whose drives count, and the build around which to look; the first and the last.
    count : int
        Settings to simulate.
    seed : int
        Of those settings and of the candidates.
    results : Path, optional
        Folder that keeps every simulated setting, so that a stopped run goes on and the next question is quick.
    threads : int
        That drive at once.
    report : callable, optional
        Told how far it is.

    Returns
    -------
    Result
        Always passes: to say that there is not enough evidence is an answer.

    Raises
    ------
    InputError
        For an unknown name, stock as the build, too few settings, or a folder that cannot be used.
    SolverError
        If the settings cannot be driven, or the fit does not settle.
    """
    found = advised(
        job, fitout=fitout, build=build, count=count, seed=seed, results=results, threads=threads, report=report
    )
    setup = found.ground.setup
    return Result(
        stage="advise",
        question=QUESTION,
        answer=advise_shown.answer(found),
        passes=True,
        provenance=job.provenance(setup, seed=seed),
        notices=advise_shown.notices(found),
        pictures=advise_shown.pictures(found),
        tables=advise_tables.tables(found),
        inputs={
            "fit-out": setup.fitout,
            "build": setup.build,
            "log": f"{len(found.heard.drives)} drives, {len(found.heard.verdicts)} verdicts, "
            f"{len(found.heard.marks)} marks by {len(found.heard.drivers)} drivers",
            "simulated": f"{len(found.table.values)} settings of {len(found.ground.axes)} adjusters, seed {seed}",
            "road_loop": f"{job.programme.road_loop.name}, seed {job.programme.road_loop.seed}",
            **weights_words(job),
        },
        values=advise_shown.values(found),
    )


def advised(
    job: Job,
    *,
    fitout: str | None = None,
    build: str | None = None,
    count: int = POINTS,
    seed: int = 1,
    results: Path | None = None,
    threads: int = WORKERS,
    report: Report | None = None,
) -> Advised:
    """Return an advice with all that it comes of; parameters and errors are those of `study`."""
    setup = job.setup(fitout, build)
    if setup.build == STOCK:
        raise InputError("stock has nothing that the kit can change; name a build of the kit")
    told = heard(job, setup)
    here = ground(job, setup, [b for b in job.programme.builds if not others(job, b, setup.build)])
    least = 4 * len(here.axes)
    if not least <= count <= MOST:
        raise InputError(f"{count} settings of {len(here.axes)} adjusters tell nothing; {least} to {MOST} do")
    drives, alike = drives_of(told, here.places)
    scene, design, table = _simulate(job, here, count=count, seed=seed, results=results, threads=threads, report=report)
    stock = loop_measures([r.measures for r in scene.reference])
    try:
        made = simulated(scene, here.lattice, design, table, told.respects, stock)
        kept = felt(job, here)
        made = replace(made, emulator=replace(made.emulator, lattice=within(made.emulator.lattice, here, kept)))
        advice = advise(drives, made.emulator.lattice, made.emulator, seed=seed)
        alone = fit_belief(Drives(builds=drives.builds), made.emulator)
    except DomainError as error:
        raise SolverError(f"the simulation leaves nothing to advise: {error}") from None
    wanted = dict.fromkeys(p for p in (advice.incumbent, advice.next, advice.optimum) if p is not None)
    checked = {
        p: points.evaluate(scene, points.Point(i, tuple(map(float, here.factors(np.array(p))[0]))))
        for i, p in enumerate(wanted)
    }
    return Advised(
        job=job, ground=here, heard=told, felt=kept, drives=drives, alike=alike, scene=scene, simulated=made,
        table=table, advice=advice, alone=alone, checked=checked,
    )  # fmt: skip


def _simulate(
    job: Job, here: Ground, *, count: int, seed: int, results: Path | None, threads: int, report: Report | None
) -> tuple[Scene, Ints, PointTable]:
    """Return scene, points and figures of the lattice's design; kept by what they depend on, in memory and on disk."""
    scene = scene_of(job, here.setup, keys=here.keys)
    scene = Scene(fitted=scene.fitted, road=scene.road, reference=scene.reference, keys=scene.keys, each=True)
    design = here.design(count, seed)
    inputs = _inputs(job, here, scene, count=count, seed=seed)
    key = ("advise points", digest_of(inputs))
    if key not in job.memo:
        how = How(threads=threads, folder=results)
        try:
            job.memo[key] = run(scene, here.factors(design), how=how, inputs=inputs, report=report)
        except Stopped as stopped:
            raise Stopped(how.stopped) from stopped
    table = job.memo[key]
    assert isinstance(table, PointTable)
    return scene, design, table


def _inputs(job: Job, here: Ground, scene: Scene, *, count: int, seed: int) -> Inputs:
    """Return all that the settings' figures depend on: not the log, so that a drive does not ask for them anew."""
    rest = {k: v for k, v in job.loaded.tree.data.items() if k not in _LOG}
    parts = [end.curve.table() for end in scene.fitted.ends.values()]
    curves = hashlib.sha256(b"".join(np.ascontiguousarray(a).tobytes() for pair in parts for a in pair))
    build: str = here.setup.build
    chain = []
    while build != STOCK:
        record = job.programme.builds[build]
        chain.append(record.model_dump_json(exclude={"title", "date", "by", "note"}))
        build = record.parent
    return {
        "vehicle, kit and road": hashlib.sha256(json.dumps(rest, sort_keys=True, default=str).encode()).hexdigest(),
        "measured roads": sorted(job.loaded.hashes[name] for name in job.loaded.roads if name in job.loaded.hashes),
        "dampers": curves.hexdigest(),
        "build": chain,
        "fit-out": here.setup.fitout,
        "Tussock": tussock.__version__,
        "adjusters": [[a.key, a.low, a.high] for a in here.axes],
        "rules": [[r.adjuster, r.other, r.slack] for r in here.lattice.rules],
        "design": [count, seed],
    }
