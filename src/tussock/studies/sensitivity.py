"""Sensitivity: which adjuster or uncertain figure of the vehicle moves which measure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from tussock.errors import InputError
from tussock.mechanics import measures as m
from tussock.mechanics.arrays import Floats
from tussock.studies import adjusters, designs, point_runs, points, screening, sensitivity_shown, sweep
from tussock.studies.adjusters import Fittings
from tussock.studies.designs import Range
from tussock.studies.job import STOCK, Job
from tussock.studies.loop import weights_words
from tussock.studies.point_file import Inputs
from tussock.studies.point_runs import How, PointTable, Report
from tussock.studies.points import INDICES
from tussock.studies.result import Result
from tussock.studies.screening import Influence, Screen

QUESTION = "Which adjuster or uncertain figure moves which measure?"
#: Varied where nothing is named and the vehicle has the part: what a build may choose, then what is known only so well.
USUAL = (
    *sweep.USUAL,
    *(Range(key=f"{end}_bar", low=0.7, high=1.4) for end in ("front", "rear")),
    *(Range(key=f"{end}_stop_height", low=-0.01, high=0.01) for end in ("front", "rear")),
    Range(key="tyre_stiffness", low=0.9, high=1.1),
    Range(key="body_mass", low=0.97, high=1.03),
    Range(key="centre_height", low=-0.03, high=0.03),
    Range(key="pitch_inertia", low=0.9, high=1.1),
    Range(key="roll_inertia", low=0.9, high=1.1),
)
SAMPLES = {"morris": 10, "sobol": 64}


@dataclass(frozen=True, kw_only=True)
class Screened:
    """What a screening found.

    Attributes
    ----------
    ranges : tuple of Range
    screen : Screen
        Its design.
    table : PointTable
        Its points.
    found : mapping
        By output (indices, then measures), the influence of each range: of Morris as a share of the output's mean.
    lost : int
        Samples that fell with failed points.
    confidence : float
        Of the intervals.
    """

    ranges: tuple[Range, ...]
    screen: Screen
    table: PointTable
    found: Mapping[str, tuple[Influence, ...]]
    lost: int
    confidence: float


def study(
    job: Job,
    *,
    ranges: Sequence[Range] = (),
    method: str = "morris",
    samples: int | None = None,
    seed: int = 1,
    confidence: float = 0.95,
    fitout: str | None = None,
    build: str | None = None,
    against: str | None = None,
    only: Sequence[str] | None = None,
    how: How | None = None,
    report: Report | None = None,
) -> Result:
    """Return which inputs move which measures of one build on the loop.

    Parameters
    ----------
    job : Job
        The programme.
    ranges : sequence of Range
        What is moved and how far; `USUAL` where none is named.
    method : str
        "morris" (screening by elementary effects) or "sobol" (shares of the variance; many more points).
    samples : int, optional
        Trajectories of Morris (10), or a power of two for Sobol (64).
    seed : int
        Of the design and of the library's resampling.
    confidence : float
        Of the library's intervals, 0.5 to 0.999.
    fitout, build, against, only, how, report
        As `sweep.study`.

    Returns
    -------
    Result
        Passes when one input at least moves an index by more than its interval.

    Raises
    ------
    InputError
        As `sweep.study`; if SALib is not installed.
    SolverError
        If too many points could not be driven.
    """
    if not 0.5 <= confidence <= 0.999:
        raise InputError(f"a confidence of {confidence:g} is none; 0.5 to 0.999 is right")
    setup = job.setup(fitout, build)
    other = job.setup(setup.fitout, STOCK if against is None else against).build
    fitted = adjusters.fittings(job, setup)
    chosen = tuple(ranges) or fitting(fitted)
    designs.check_ranges(chosen)
    sweep.check_fits(fitted, chosen)
    count = SAMPLES.get(method, screening.LEAST_BLOCKS) if samples is None else samples
    made = screening.screen(
        method, [r.key for r in chosen], [(r.low, r.high) for r in chosen], samples=count, seed=seed
    )
    scene = points.scene_of(job, setup, against=other, keys=[r.key for r in chosen], only=only)
    asked: Inputs = {**sweep.inputs_of(job, setup, other, scene, chosen), "design": [method, count, seed]}
    table = point_runs.run(scene, made.values, how=how, inputs=asked, report=report)
    keep = screening.whole_blocks(made, sorted(table.failed))
    found = Screened(
        ranges=chosen,
        screen=made,
        table=table,
        found={
            name: screening.influences(made, relative(name, table.column(name), keep), keep=keep, confidence=confidence)
            for name in (*INDICES, *(key for key in scene.names if key in m.MEASURES))
        },
        lost=int(np.sum(keep == 0)) // made.block,
        confidence=confidence,
    )
    return Result(
        stage="sensitivity",
        question=QUESTION,
        answer=sensitivity_shown.answer(found),
        passes=any(i.matters for index in INDICES for i in found.found[index]),
        provenance=job.provenance(setup, seed=seed),
        notices=sensitivity_shown.notices(found),
        pictures=sensitivity_shown.pictures(found),
        tables=sensitivity_shown.tables(found),
        inputs={
            "method": f"{'Morris, ' if method == 'morris' else 'Sobol, '}{count} samples, {len(made.values)} points, "
            f"seed {seed}",
            **{r.adjuster.title: r.words() for r in chosen},
            "road_loop": f"{job.programme.road_loop.name}, seed {job.programme.road_loop.seed}",
            **weights_words(job),
            "sections": ", ".join(s.name for s in scene.road.sections),
            "fit-out": setup.fitout,
            "build": setup.build,
            "against": other,
        },
        values={
            f"{name}_{r.key}{what}": value
            for name, got in found.found.items()
            for r, i in zip(chosen, got, strict=True)
            for what, value in (("", i.total), ("_half", i.half), ("_alone", i.alone))
        },
    )


def fitting(fitted: Fittings) -> tuple[Range, ...]:
    """Return the usual ranges whose parts this vehicle has."""
    out: list[Range] = []
    for r in USUAL:
        try:
            sweep.check_fits(fitted, [r])
        except InputError:
            continue
        out.append(r)
    return tuple(out)


def relative(name: str, values: Floats, keep: Floats) -> Floats:
    """Return an output so that a difference is a share: logarithm of an index, a measure over its mean and floor."""
    if name in INDICES:
        return np.log(values)
    mean = float(np.mean(values[keep])) + m.FLOORS.get(name, 0.0)
    return np.asarray(values / mean) if mean > 0.0 else np.zeros_like(values)
