"""Robust choice: does the chosen build stay better than stock over production, fit-outs, pressures and temperature?"""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np

from tussock.errors import InputError
from tussock.studies import designs, robust_shown, sweep, tuning
from tussock.studies.job import STOCK, Job, Setup
from tussock.studies.loop import WORKERS, weights_words
from tussock.studies.point_runs import How, Report, Stopped, run
from tussock.studies.points import INDICES
from tussock.studies.result import Result
from tussock.studies.robust_draw import alone, blamed, drawn, production

QUESTION = "Does the chosen build stay better than stock in every vehicle that leaves the works, and what gives way?"
SURE = 0.95
"""Share of the vehicles that must stay better controlled than stock."""
MOST = 20_000


def study(
    job: Job,
    *,
    fitout: str | None = None,
    build: str | None = None,
    count: int = 48,
    each: int = 12,
    front: int = 48,
    seed: int = 1,
    threads: int = WORKERS,
    results: Path | None = None,
    report: Report | None = None,
) -> Result:
    """Return how a build spreads over what nobody can hold exactly, and where it lies between comfort and control.

    Parameters
    ----------
    job : Job
        The programme.
    fitout, build : str, optional
        Fit-out in which single causes and the front are driven, and the build chosen; the first, and the best balanced.
    count : int
        Vehicles drawn over all causes and fit-outs.
    each : int
        Vehicles drawn for each cause alone.
    front : int
        Settings of the adjusters for the front of comfort against control.
    seed : int
        Of every draw.
    threads : int
        That drive.
    results : Path, optional
        Folder that keeps every vehicle driven, so that a stopped study goes on.
    report : callable, optional
        Told how many loops of a step are driven, of how many, and how many failed.

    Returns
    -------
    Result
        Passes when `SURE` of the vehicles stay better controlled than stock.

    Raises
    ------
    InputError
        For an unknown name, stock as the build, or too few vehicles.
    SolverError
        If no vehicle could be driven.
    """
    setup = job.setup(fitout, build)
    if setup.build == STOCK:
        raise InputError("stock is what the chosen build is held against; name a build of the kit")
    for name, n, least in (("vehicles", count, 8), ("vehicles for each cause", each, 4), ("settings", front, 12)):
        if not least <= n <= MOST:
            raise InputError(f"{n} {name} tell nothing; {least} to {MOST} do")
    if build is None:
        setup = Setup(fitout=setup.fitout, build=tuning.best_build(job, setup.fitout))
    how = How(threads=threads, folder=results)
    try:
        made = production(job, setup)
        every = drawn(made, count=count, seed=seed, how=how, report=report)
        by_cause = alone(made, count=each, seed=seed, how=how, report=report)
        worst, blame = blamed(made, every, how=how)
        ranges = sweep.USUAL
        scene = dataclasses.replace(made.scenes[setup.fitout], keys=tuple(r.key for r in ranges))
        values = designs.design("latin", ranges, points=front, levels=2, seed=seed)
        asked = {**made.inputs, "fit-out": setup.fitout}
        swept = sweep.swept(ranges, run(scene, values, how=how, inputs=asked, report=report), one=False)
    except Stopped:
        raise Stopped(how.stopped) from None
    builds = tuning.build_indices(job, setup.fitout)
    shown = robust_shown.Shown(
        made=made, every=every, by_cause=by_cause, worst=worst, blame=blame, swept=swept, builds=builds
    )
    good, of = every.better("control")
    return Result(
        stage="robust",
        question=QUESTION,
        answer=robust_shown.answer(shown),
        passes=good >= SURE * of,
        provenance=job.provenance(setup, seed=seed),
        notices=robust_shown.notices(shown),
        pictures=robust_shown.pictures(shown),
        tables=robust_shown.tables(shown),
        inputs={
            "fit-out": setup.fitout,
            "build": setup.build,
            "drawn": f"{count} vehicles, {each} for each cause alone, {front} settings, seed {seed}",
            **{c.title: c.words for c in made.own},
            "fit-outs": ", ".join(made.fitouts),
            "road_loop": f"{job.programme.road_loop.name}, seed {job.programme.road_loop.seed}, the same for all",
            **weights_words(job),
        },
        values={
            **{
                f"{name}_{what}_index": float(np.quantile(every.index(name), q))
                for name in INDICES
                for what, q in (("low", 0.05), ("median", 0.5), ("high", 0.95))
            },
            **{f"{name}_better_than_stock_share": every.better(name)[0] / every.better(name)[1] for name in INDICES},
            "worst_control_index": float(every.control[worst]),
            "front_points_count": float(len(swept.front)),
        },
    )
