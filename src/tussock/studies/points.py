"""One point of a sweep: adjusters set, the loop driven, a row of measures left. Everything that runs points runs this.

`evaluate` is the one function: serial runs, threads and a cluster call it with the same scene and give the same bits.
No history outlives a point.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from tussock.errors import InputError, MechanicsError
from tussock.mechanics import measures as m
from tussock.mechanics.motion import Workspace, settle
from tussock.studies import adjusters, loop, model
from tussock.studies.adjusters import Fittings
from tussock.studies.job import STOCK, Job, Setup
from tussock.studies.loop import LoopRoad, SectionRun

INDICES = ("comfort", "control")
OUTSIDE = "outside_tables"
#: What a loop's figure is where it is not the mean over its sections.
WORST = ("seat_peak", "toss_peak", "heave_range", "longest_gap", "stops", "top_out_force", "bottom_force")
SUMS = ("stop_count", "top_outs", "bottoms")


@dataclass(frozen=True, kw_only=True)
class Scene:
    """What every point of a sweep has in common, without the programme: it may be sent to another process.

    Attributes
    ----------
    fitted : Fittings
        The vehicle and what adjusters change.
    road : LoopRoad
        Where it is driven.
    reference : tuple of SectionRun
        Of the vehicle compared with, on the same road.
    keys : tuple of str
        Adjusters in the order of a point's values.
    each : bool
        Whether a point keeps every measure of every section besides.
    """

    fitted: Fittings
    road: LoopRoad
    reference: tuple[SectionRun, ...]
    keys: tuple[str, ...] = ()
    each: bool = False

    @property
    def names(self) -> tuple[str, ...]:
        """Names of a point's figures, in order: indices, measures of the loop, indices and measures by section."""
        measures = tuple(self.reference[0].measures)
        by_section = (f"{section.name}: {index}" for section in self.road.sections for index in INDICES)
        every = (f"{section.name}: {key}" for section in self.road.sections for key in measures if self.each)
        return (*INDICES, *measures, OUTSIDE, *by_section, *every)


@dataclass(frozen=True, slots=True)
class Point:
    """A place in the space of adjusters, by its number in the design."""

    number: int
    values: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a point gave: its figures in the order of `Scene.names`, or why there are none."""

    number: int
    values: tuple[float, ...]
    figures: tuple[float, ...] = ()
    failed: str = ""


def scene_of(
    job: Job,
    setup: Setup,
    *,
    against: str = STOCK,
    keys: Sequence[str] = (),
    seed: int | None = None,
    only: Sequence[str] | None = None,
) -> Scene:
    """Return the scene of a setup on the road loop, or on some of its sections, with another road seed if given."""
    road = loop.loop_road(job, setup, seed=seed, only=only)
    other = job.setup(setup.fitout, against)
    if seed is None and not only:
        reference = loop.drive_loop(job, other)  # driven once for all that compare with it
    else:
        there = loop.loop_road(job, other, seed=seed, only=only)
        reference = there.drive_all(model.vehicle(job, other), model.rest(job, other), threads=loop.WORKERS)
    return Scene(
        fitted=adjusters.fittings(job, setup),
        road=road,
        reference=tuple(map(slim, reference)),
        keys=tuple(keys),
    )


def slim(run: SectionRun) -> SectionRun:
    """Return a section's run without what only the life of springs asks for."""
    return dataclasses.replace(run, spring_turns=())


def drive_point(scene: Scene, values: Sequence[float] = (), memory: Workspace | None = None) -> tuple[SectionRun, ...]:
    """Drive the loop with adjusters set, one section after the other, in the given memory.

    Raises
    ------
    MechanicsError
        If the vehicle does not stand or a run diverges.
    InputError
        If an adjuster does not fit this vehicle.
    """
    vehicle = adjusters.adjusted(scene.fitted, dict(zip(scene.keys, values, strict=True)))
    return tuple(map(slim, scene.road.drive_all(vehicle, settle(vehicle), memory=memory)))


def evaluate(scene: Scene, point: Point, memory: Workspace | None = None) -> Outcome:
    """Return a point's figures; a point that cannot be driven is kept with its reason and stops nothing."""
    try:
        runs = drive_point(scene, point.values, memory)
        figures = figures_of(runs, scene.reference, each=scene.each)
    except (MechanicsError, InputError) as error:
        return Outcome(point.number, point.values, failed=" ".join(str(error).split()))
    bad = [name for name, value in zip(scene.names, figures, strict=True) if not math.isfinite(value)]
    if bad:
        return Outcome(point.number, point.values, failed=f"{bad[0]} is not a number")
    return Outcome(point.number, point.values, figures)


def evaluate_all(scene: Scene, points: Sequence[Point]) -> tuple[Outcome, ...]:
    """Return the outcomes of a batch, one after the other."""
    memory = Workspace()
    return tuple(evaluate(scene, point, memory) for point in points)


def figures_of(runs: Sequence[SectionRun], reference: Sequence[SectionRun], *, each: bool = False) -> tuple[float, ...]:
    """Return what is kept of a driven loop, in the order of `Scene.names`."""
    index = loop.loop_index(runs, reference)
    whole = loop_measures([run.measures for run in runs])
    outside = max(run.outside_tables for run in runs)
    by_section = (value for run in runs for value in index.by_section[run.name])
    every = (run.measures[key] for run in runs for key in reference[0].measures if each)
    return tuple(float(v) for v in (index.comfort, index.control, *whole.values(), outside, *by_section, *every))


def loop_measures(sections: Sequence[Mapping[str, float]]) -> dict[str, float]:
    """Return each measure of a loop: the mean over its sections, of peaks the worst, of counts the sum."""
    out: dict[str, float] = {}
    for key in sections[0]:
        values = [s[key] for s in sections]
        if key in SUMS:
            out[key] = math.fsum(values)
        elif key in m.MEASURES and m.MEASURES[key].better == "higher":
            out[key] = min(values)
        else:
            out[key] = max(values) if key in WORST else math.fsum(values) / len(values)
    return out
