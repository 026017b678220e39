"""The job: one programme opened, with what its studies share computed once."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

import tussock
from tussock.errors import InputError
from tussock.record import Loaded, Programme, load
from tussock.studies.kept import Kept
from tussock.studies.result import Provenance
from tussock.studies.rules import lift_rule
from tussock.studies.stop_library import stack

if TYPE_CHECKING:
    from tussock.mechanics.dampers import DynoTest, ForceCurve
    from tussock.mechanics.roads import MeasuredRoad

ENDS = ("front", "rear")
KERB = "kerb"
STOCK = "stock"


@dataclass(frozen=True, slots=True)
class Setup:
    """What stands on the road: a fit-out (or kerb, nobody aboard) and a build (or stock)."""

    fitout: str
    build: str

    @property
    def stock(self) -> bool:
        """Whether this is the vehicle as measured."""
        return self.build == STOCK


class Job:
    """A programme with its dyno tests read; studies take it and never change it."""

    def __init__(self, loaded: Loaded, kept: Kept | None = None) -> None:
        self.loaded = loaded
        self.kept = Kept() if kept is None else kept  # shared with the jobs of other versions, where it is given
        self.memo: dict[tuple[object, ...], object] = {}  # what studies share, built once for this job
        self.tell: Callable[[str], None] = lambda words: None  # told what a long study is at

    @property
    def programme(self) -> Programme:
        """The programme itself."""
        return self.loaded.programme

    @cached_property
    def dyno_tests(self) -> Mapping[str, DynoTest]:
        """Every dyno file of the programme, read, by its name; DynoError with all that is wrong in all of them."""
        from tussock.studies.dyno_attached import read_attached

        return read_attached(self.programme, self.loaded.files)

    @cached_property
    def measured_roads(self) -> Mapping[str, MeasuredRoad]:
        """Every measured road of the programme, read, by its file; InputError with all that is wrong in all of them."""
        from tussock.mechanics.roads import read_road
        from tussock.mechanics.table_text import TableError

        roads: dict[str, MeasuredRoad] = {}
        problems: list[str] = []
        for name, raw in self.loaded.roads.items():
            try:
                roads[name] = read_road(raw, name)
            except TableError as error:
                problems.append(str(error))
        if problems:
            raise InputError("\n".join(problems))
        return roads

    def setup(self, fitout: str | None = None, build: str | None = None) -> Setup:
        """Return a setup by names; the first fit-out and the last build unless said otherwise.

        Raises
        ------
        InputError
            For a name that the programme does not have; says which it has. Or there is no fit-out or build to take.
        """
        fitouts, builds = list(self.programme.fitouts), list(self.programme.builds)
        if fitout is None and not fitouts:
            raise InputError(f"the programme has no fit-out; write one under fitouts, or ask for --fitout {KERB}")
        if build is None and not builds:
            raise InputError(
                "the programme has no build, so nothing of the kit is fitted; write one, such as "
                f"builds: {{B1: {{title: first}}}}, or ask for --build {STOCK}"
            )
        fitout = fitouts[0] if fitout is None else fitout
        build = builds[-1] if build is None else build
        if fitout not in (*fitouts, KERB):
            raise InputError(f"there is no fit-out {fitout!r}; the programme has {', '.join(fitouts)}, and {KERB}")
        if build not in (*builds, STOCK):
            raise InputError(f"there is no build {build!r}; the programme has {', '.join(builds)}, and {STOCK}")
        return Setup(fitout=fitout, build=build)

    def provenance(self, setup: Setup | None = None, *, seed: int | None = None) -> Provenance:
        """Return where figures come from."""
        about = self.programme.programme
        return Provenance(
            programme=f"{about.name}, {about.title}",
            digest=self.loaded.digest,
            tussock=tussock.__version__,
            data=about.data,
            fitout=setup.fitout if setup else "",
            build=setup.build if setup else "",
            seed=seed,
        )

    def curve(self, damper: object) -> ForceCurve:
        """Return the force curve of a damper of the record, as studies take it.

        Measured (its dyno file or its points) where something was, unless the record says to take its valves; beyond
        what was measured, its valves carry it on where they are known. Computed from its valves otherwise, at the road
        loop's oil temperature.
        """
        from tussock.mechanics.dampers import ForceCurve
        from tussock.studies.damper_builds import carried_on, computed_curve, takes_valves

        key = ("studied curve", damper)
        if key not in self.memo:
            if takes_valves(damper):
                self.memo[key] = computed_curve(self, damper, self.damper_name(damper))
            else:
                self.memo[key] = carried_on(self, damper, self.measured_curve(damper))
        curve = self.memo[key]
        assert isinstance(curve, ForceCurve)
        return curve

    def measured_curve(self, damper: object) -> ForceCurve:
        """Return what was measured of a damper of the record: its dyno file's curve or its points, and no more."""
        from tussock.mechanics.dampers import ForceCurve

        dyno = getattr(damper, "dyno", None)
        if dyno is not None:
            return self.dyno_tests[dyno].curve
        points = getattr(damper, "curve", None) or ()
        by_velocity = {0.0: 0.0} | {float(p.at): float(p.force) for p in points}
        velocity = sorted(by_velocity)
        return ForceCurve(
            velocity=np.array(velocity),
            force=np.array([by_velocity[v] for v in velocity]),
            name=str(getattr(damper, "title", "damper")),
        )

    def damper_name(self, damper: object) -> str:
        """Return what the kit calls a damper, or whose stock damper it is."""
        for name, one in self.programme.kit.dampers.items():
            if one is damper:
                return name
        for end in ENDS:
            if self.programme.vehicle.axles[end].damper is damper:
                return f"stock {end} damper"
        return str(getattr(damper, "title", "damper"))


def open_job(path: Path | str) -> Job:
    """Open a programme file and read the files it names; InputError with everything that is wrong."""
    return job_of(load(path))


def job_of(loaded: Loaded, kept: Kept | None = None) -> Job:
    """Open a programme that is read already; InputError with everything that is wrong in the files it names.

    `kept` is what other versions have built.
    """
    job = Job(loaded, kept)
    _ = job.dyno_tests
    if job.measured_roads:
        from tussock.studies.loop import sections

        sections(job)  # a section longer than what was measured is said at once
    for key in job.programme.targets.rules:
        lift_rule(key)  # a rule that the table does not have is an input error, said at once
    for end in ENDS:  # so is a bump stop that is not in the library
        worn = [job.programme.worn(build, "stop_stacks", end) for build in job.programme.builds]
        for stops in (job.programme.kit.stop_stacks[end], *worn):
            if stops:
                stack(*stops, own=job.programme.kit.stops)
    return job
