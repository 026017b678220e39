"""Compare: builds on the same roads, drawn several times over, and what of their difference is more than noise."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

from tussock.errors import InputError, MechanicsError, SolverError
from tussock.mechanics import measures as m
from tussock.studies import adjusters, loop, points
from tussock.studies.compare_tables import (
    answer,
    index_table,
    measure_table,
    noise_notices,
    picture,
    section_map,
    section_table,
)
from tussock.studies.display import show
from tussock.studies.job import STOCK, Job, Setup
from tussock.studies.loop import SectionRun
from tussock.studies.paired import Difference, paired
from tussock.studies.points import INDICES, Scene
from tussock.studies.result import Result

QUESTION = "Which build is better on these roads, and is the difference more than noise?"
MOST_ROADS = 200
Report = Callable[[int, int, int], None]
Runs = tuple[SectionRun, ...]


@dataclass(frozen=True, kw_only=True)
class Compared:
    """One build against the one compared with, in one fit-out: every figure as the logarithm of a ratio.

    Attributes
    ----------
    fitout, build, against : str
        Who.
    indices : mapping
        Of the whole loop by "comfort" and "control"; below 0 is better.
    sections : mapping
        Likewise by section, then index.
    measures : mapping
        By measure, both sides with the floor that the indices add; None where a ratio is none.
    reference : mapping
        Mean of each measure of the one compared with, in SI.
    balance : Difference
        Mean of both indices.
    """

    fitout: str
    build: str
    against: str
    indices: Mapping[str, Difference]
    sections: Mapping[str, Mapping[str, Difference]]
    measures: Mapping[str, Difference | None]
    reference: Mapping[str, float]
    balance: Difference


def study(
    job: Job,
    *,
    builds: Sequence[str] | None = None,
    fitouts: Sequence[str] | None = None,
    only: Sequence[str] | None = None,
    against: str | None = None,
    roads: int = 8,
    seed: int | None = None,
    confidence: float = 0.95,
    threads: int = loop.WORKERS,
    report: Report | None = None,
) -> Result:
    """Return builds against one of them, each driven over the same roads.

    Parameters
    ----------
    job : Job
        The programme.
    builds, fitouts, only : sequence of str, optional
        Builds (all unless said), fit-outs (the first) and sections (the whole loop).
    against : str, optional
        Build to compare with; stock unless said.
    roads : int
        How many times the random surfaces are drawn, 2 to 200.
    seed : int, optional
        Of the first road, the next ones follow it; the loop's own unless said.
    confidence : float
        Of every interval, each on its own.
    threads : int
        That drive.
    report : callable, optional
        Told how many loops are driven, of how many.

    Returns
    -------
    Result
        Passes when the best build can be told from the one compared with, in comfort or in control.

    Raises
    ------
    InputError
        For an unknown name, too few roads, or nothing to compare.
    SolverError
        If a run diverges; says of which build, on which road.
    """
    against = job.setup(build=STOCK if against is None else against, fitout=None).build
    if not 2 <= roads <= MOST_ROADS:
        raise InputError(f"{roads} roads tell no noise; 2 to {MOST_ROADS} do")
    if not 0.5 <= confidence <= 0.999:
        raise InputError(f"a confidence of {confidence:g} is none; 0.5 to 0.999 is right")
    names = [job.setup(build=b).build for b in builds or (STOCK, *job.programme.builds)]
    names = [b for b in dict.fromkeys(names) if b != against]
    if not names:
        raise InputError(f"nothing to compare with {against}; name another build")
    places = list(dict.fromkeys(job.setup(fitout=f).fitout for f in fitouts or (job.setup().fitout,)))
    first = job.programme.road_loop.seed if seed is None else seed
    if first < 0:
        raise InputError(f"a seed is not negative, as {first} is")
    seeds = tuple(range(first, first + roads))
    driven = drive_all(
        job,
        [Setup(fitout=f, build=b) for f in places for b in (against, *names)],
        seeds,
        only=only,
        threads=threads,
        report=report,
    )
    found = [compared(driven, fitout=f, build=b, against=against, confidence=confidence) for f in places for b in names]
    order = ranking(driven, places, names, against, confidence)
    best = order[0][0]
    told = {
        b: paired(_balances(driven, places, best, b), confidence=confidence) for b in (*names, against) if b != best
    }
    sections = [s.name for s in loop.loop_road(job, Setup(places[0], against), only=only).sections]
    passes = any(d.told for c in found if c.build == best for d in c.indices.values())
    return Result(
        stage="compare",
        question=QUESTION,
        answer=answer(found, best=best, told=told, against=against, roads=roads),
        passes=passes,
        provenance=job.provenance(Setup(places[0], best), seed=first),
        notices=noise_notices(found, roads=roads),
        pictures=(
            picture(found, against=against, roads=roads, confidence=confidence),
            section_map(found, ranked=[build for build, _ in order], against=against),
        ),
        tables=(
            index_table(found, best=best, against=against, confidence=confidence),
            section_table(found, against=against),
            measure_table(found, against=against),
        ),
        inputs={
            "road_loop": f"{job.programme.road_loop.name}, seeds {seeds[0]} to {seeds[-1]}, the same for all",
            **loop.weights_words(job),
            "sections": ", ".join(sections),
            "fit-outs": ", ".join(places),
            "builds": ", ".join(names),
            "against": against,
            "confidence": f"{show(confidence, 'share', digits=1)} for each interval on its own",
        },
        values={
            "best_build": best,
            **{
                f"{c.fitout}_{c.build}_{name}_{what}": math.expm1(value)
                for c in found
                for name, d in {**c.indices, **c.measures}.items()
                if d is not None
                for what, value in (("change", d.mean), ("low", d.low), ("high", d.high))
            },
        },
    )


Driven = Mapping[tuple[str, str], tuple[Runs, ...]]
"""Every road's runs by fit-out and build."""


def drive_all(
    job: Job,
    setups: Sequence[Setup],
    seeds: Sequence[int],
    *,
    only: Sequence[str] | None,
    threads: int,
    report: Report | None,
) -> Driven:
    """Drive every setup over every road; the roads are the same for all setups."""
    scenes = []
    for setup in setups:
        fitted = adjusters.fittings(job, setup)
        for seed in seeds:
            scenes.append(Scene(fitted=fitted, road=loop.loop_road(job, setup, seed=seed, only=only), reference=()))
    out: list[Runs] = []

    def one(i: int) -> Runs:
        try:
            return points.drive_point(scenes[i])
        except MechanicsError as error:
            who, seed = setups[i // len(seeds)], seeds[i % len(seeds)]
            raise SolverError(f"{who.build}, {who.fitout}, road seed {seed}: {error}") from error

    with ThreadPoolExecutor(threads) as pool:
        try:
            for runs in pool.map(one, range(len(scenes))):
                out.append(runs)
                if report is not None:
                    report(len(out), len(scenes), 0)
        except BaseException:
            pool.shutdown(wait=True, cancel_futures=True)
            raise
    n = len(seeds)
    return {(s.fitout, s.build): tuple(out[i * n : (i + 1) * n]) for i, s in enumerate(setups)}


def compared(driven: Driven, *, fitout: str, build: str, against: str, confidence: float) -> Compared:
    """Return one build against another over the same roads."""
    pairs = list(zip(driven[fitout, build], driven[fitout, against], strict=True))
    indices = [loop.loop_index(runs, ref) for runs, ref in pairs]

    def of(values: Sequence[float]) -> Difference:
        return paired([math.log(v) for v in values], confidence=confidence)

    here, there = ([points.loop_measures([r.measures for r in pair[i]]) for pair in pairs] for i in (0, 1))
    measures: dict[str, Difference | None] = {}
    for key in here[0]:
        floor = m.FLOORS.get(key, 0.0)
        tops, bottoms = [h[key] + floor for h in here], [t[key] + floor for t in there]
        right = min(*tops, *bottoms) > 0.0
        measures[key] = of([a / b for a, b in zip(tops, bottoms, strict=True)]) if right else None
    return Compared(
        fitout=fitout,
        build=build,
        against=against,
        indices={name: of([getattr(i, name) for i in indices]) for name in INDICES},
        sections={
            section: {name: of([i.by_section[section][n] for i in indices]) for n, name in enumerate(INDICES)}
            for section in indices[0].by_section
        },
        measures=measures,
        reference={key: math.fsum(t[key] for t in there) / len(there) for key in there[0]},
        balance=paired(_balances(driven, [fitout], build, against), confidence=confidence),
    )


def ranking(
    driven: Driven, places: Sequence[str], names: Sequence[str], against: str, confidence: float
) -> list[tuple[str, Difference]]:
    """Return builds with their balance against the one compared with, over all fit-outs, the best first."""
    found = [(b, paired(_balances(driven, places, b, against), confidence=confidence)) for b in names]
    return sorted(found, key=lambda pair: pair[1].mean)


def _balances(driven: Driven, places: Sequence[str], build: str, against: str) -> list[float]:
    """Return, for each road, the mean over fit-outs of the mean of both indices' logarithms."""
    out: list[float] = []
    for k in range(len(driven[places[0], build])):
        both = [loop.loop_index(driven[f, build][k], driven[f, against][k]) for f in places]
        out.append(math.fsum(0.5 * math.log(i.comfort * i.control) for i in both) / len(both))
    return out
