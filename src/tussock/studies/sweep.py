"""Sweep: what adjusters do to comfort and control, and which settings no other beats in both."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import stats

import tussock
from tussock.errors import SolverError
from tussock.mechanics.arrays import Floats
from tussock.studies import adjusters, designs, point_runs, points, sweep_shown
from tussock.studies.adjusters import Fittings
from tussock.studies.designs import Range
from tussock.studies.job import STOCK, Job, Setup
from tussock.studies.loop import weights_words
from tussock.studies.point_file import Inputs
from tussock.studies.point_runs import How, PointTable, Report
from tussock.studies.points import INDICES, Scene
from tussock.studies.result import Result

QUESTION = "What do the adjusters do to comfort and control, and which settings are worth building?"
#: Varied where nothing is named.
USUAL = (
    *(
        Range(key=f"{end}_{direction}", low=0.7, high=1.4)
        for end in ("front", "rear")
        for direction in ("rebound", "compression")
    ),
    *(Range(key=f"{end}_spring", low=0.85, high=1.2) for end in ("front", "rear")),
)


@dataclass(frozen=True, kw_only=True)
class Effect:
    """What one adjuster does to an index from the low end of its range to the high end, as a logarithm of a ratio.

    Attributes
    ----------
    mean, low, high : float
        With the interval of the fit; alike where it was driven by itself.
    """

    mean: float
    low: float
    high: float


@dataclass(frozen=True, kw_only=True)
class Swept:
    """A sweep's points and what was found in them.

    Attributes
    ----------
    ranges : tuple of Range
    table : PointTable
        The first point is the vehicle as it is.
    front : tuple of int
        Points that none beats in both indices, the most comfortable first.
    best : int
        The best balanced.
    effects : mapping
        By index, one for each range; empty where there are too few points.
    explained : mapping
        By index, share of the points' variance that the effects explain; of one at a time None.
    """

    ranges: tuple[Range, ...]
    table: PointTable
    front: tuple[int, ...]
    best: int
    effects: dict[str, tuple[Effect, ...]]
    explained: dict[str, float | None]

    @property
    def finished(self) -> tuple[int, ...]:
        """Numbers of the points that could be driven."""
        return tuple(int(i) for i in np.flatnonzero(np.isfinite(self.table.column("comfort"))))


def study(
    job: Job,
    *,
    ranges: Sequence[Range] = (),
    design: str = "latin",
    count: int = 64,
    levels: int = 5,
    seed: int = 1,
    fitout: str | None = None,
    build: str | None = None,
    against: str | None = None,
    only: Sequence[str] | None = None,
    how: How | None = None,
    report: Report | None = None,
) -> Result:
    """Return what adjusters of one build do on the loop.

    Parameters
    ----------
    job : Job
        The programme.
    ranges : sequence of Range
        What is moved and how far; `USUAL` where none is named.
    design : str
        "latin" (Latin hypercube of `count` points), "grid" (every combination of `levels` values) or "one" (`levels`
        values of one adjuster at a time).
    count, levels, seed : int
        Of the design.
    fitout, build, against : str, optional
        What is driven and the build that indices compare with; first fit-out, last build and stock unless said.
    only : sequence of str, optional
        Sections of the loop; all unless said.
    how : How, optional
        Threads, cluster, file of results.
    report : callable, optional
        Told how far it is.

    Returns
    -------
    Result
        Passes when the best balanced point holds the road at least as well as the build compared with.

    Raises
    ------
    InputError
        For an unknown name, a range that cannot be, no points, a file or cluster that cannot be used.
    SolverError
        If no point could be driven.
    """
    setup = job.setup(fitout, build)
    other = job.setup(setup.fitout, STOCK if against is None else against).build
    chosen = tuple(ranges) or USUAL
    values = designs.design(design, chosen, points=count, levels=levels, seed=seed)
    check_fits(adjusters.fittings(job, setup), chosen)
    scene = points.scene_of(job, setup, against=other, keys=[r.key for r in chosen], only=only)
    asked: Inputs = {
        **inputs_of(job, setup, other, scene, chosen),
        "design": [design, count if design == "latin" else levels, seed],
    }
    table = point_runs.run(scene, values, how=how, inputs=asked, report=report)
    found = swept(chosen, table, one=design == "one")
    best = found.best
    control = float(table.column("control")[best])
    return Result(
        stage="sweep",
        question=QUESTION,
        answer=sweep_shown.answer(found, setup.build),
        passes=control <= 1.0,
        provenance=job.provenance(setup, seed=seed),
        notices=sweep_shown.notices(found, against=other),
        pictures=sweep_shown.pictures(found, setup.build, against=other, one=design == "one"),
        tables=sweep_shown.tables(found, setup.build, against=other),
        inputs={
            "design": {
                "latin": f"Latin hypercube of {count} points, seed {seed}",
                "grid": f"grid of {levels} levels",
                "one": f"one adjuster at a time, {levels} levels",
            }[design],
            **{r.adjuster.title: r.words() for r in chosen},
            "road_loop": f"{job.programme.road_loop.name}, seed {job.programme.road_loop.seed}",
            **weights_words(job),
            "sections": ", ".join(s.name for s in scene.road.sections),
            "fit-out": setup.fitout,
            "build": setup.build,
            "against": other,
        },
        values={
            "points": float(len(values)),
            "failed": float(len(table.failed)),
            "best_point": float(best),
            **{f"best_{r.key}": float(v) for r, v in zip(chosen, table.values[best], strict=True)},
            **{f"best_{index}_index": float(table.column(index)[best]) for index in INDICES},
        },
    )


def check_fits(fitted: Fittings, ranges: Sequence[Range]) -> None:
    """Refuse an adjuster that this vehicle does not have, at either end of its range, before anything is driven."""
    for r in ranges:
        for value in (r.low, r.high):
            adjusters.adjusted(fitted, {r.key: value})


def inputs_of(job: Job, setup: Setup, against: str, scene: Scene, ranges: Sequence[Range]) -> Inputs:
    """Return all that a point's figures depend on, for the head of a file of results."""
    return {
        "programme": job.loaded.digest,
        "attached files": dict(sorted(job.loaded.hashes.items())),
        "Tussock": tussock.__version__,
        "fit-out": setup.fitout,
        "build": setup.build,
        "against": against,
        "road seed": job.programme.road_loop.seed,
        "sections": [s.name for s in scene.road.sections],
        "ranges": [[r.key, r.low, r.high] for r in ranges],
    }


def swept(ranges: Sequence[Range], table: PointTable, *, one: bool) -> Swept:
    """Return what is found in a sweep's points; SolverError if none could be driven."""
    comfort, control = (table.column(index) for index in INDICES)
    good = np.flatnonzero(np.isfinite(comfort))
    if good.size == 0:
        raise SolverError(
            f"none of {len(comfort)} points could be driven; the first: {table.failed[min(table.failed)]}"
        )
    unit = np.array([[r.low, r.high] for r in ranges])
    place = (table.values - unit[:, 0]) / (unit[:, 1] - unit[:, 0])
    effects: dict[str, tuple[Effect, ...]] = {}
    explained: dict[str, float | None] = {}
    for index in INDICES:
        logs = np.log(table.column(index))
        if one:
            effects[index] = tuple(_alone(place, logs, i) for i in range(len(ranges)))
            explained[index] = None
        elif good.size >= len(ranges) + 3:
            effects[index], explained[index] = fitted_effects(place[good], logs[good])
    return Swept(
        ranges=tuple(ranges),
        table=table,
        front=pareto(comfort, control),
        best=int(good[np.argmin(comfort[good] * control[good])]),
        effects=effects,
        explained=explained,
    )


def pareto(one: Floats, other: Floats) -> tuple[int, ...]:
    """Return the points that no other beats in both figures, lower being better, sorted by the first; NaN never."""
    order = [int(i) for i in np.lexsort((other, one)) if math.isfinite(one[i]) and math.isfinite(other[i])]
    front: list[int] = []
    least = math.inf
    for i in order:
        if other[i] < least:
            front.append(i)
            least = float(other[i])
    return tuple(front)


def fitted_effects(place: Floats, logs: Floats) -> tuple[tuple[Effect, ...], float]:
    """Return each adjuster's straight-line effect over its range with 95 % intervals, and the share explained.

    Parameters
    ----------
    place : array (n, d)
        Of each point in its ranges, 0 to 1; n at least d + 3.
    logs : array (n,)
        Logarithms of an index.
    """
    n, d = place.shape
    matrix = np.column_stack([np.ones(n), place])
    solved, *_ = np.linalg.lstsq(matrix, logs, rcond=None)
    left = logs - matrix @ solved
    spread = math.sqrt(float(left @ left) / (n - d - 1))
    errors = spread * np.sqrt(np.diag(np.linalg.pinv(matrix.T @ matrix)))
    t = float(stats.t.ppf(0.975, n - d - 1))
    whole = float(np.sum((logs - logs.mean()) ** 2))
    share = 1.0 - float(left @ left) / whole if whole > 0.0 else 1.0
    return tuple(
        Effect(mean=float(b), low=float(b - t * e), high=float(b + t * e))
        for b, e in zip(solved[1:], errors[1:], strict=True)
    ), share


def _alone(place: Floats, logs: Floats, i: int) -> Effect:
    """Return an adjuster's effect between the ends of its range, driven by itself; NaN if an end failed."""
    others = np.delete(place, i, axis=1)
    by_itself = np.all(others == np.delete(place[:1], i, axis=1), axis=1)
    low, high = (np.flatnonzero(by_itself & (place[:, i] == end)) for end in (0.0, 1.0))
    mean = float(logs[high[0]] - logs[low[0]])
    return Effect(mean=mean, low=mean, high=mean)
