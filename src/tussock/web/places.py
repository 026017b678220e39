"""Every page that asks one question: the stages of the job in order, then the studies beside them, as rows."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from importlib import import_module
from typing import Any, TypeAlias

from tussock.studies.job import Job
from tussock.studies.result import Result
from tussock.studies.stages import STAGES, Stage
from tussock.web import asked
from tussock.web import further as f
from tussock.web.further import Further

Told: TypeAlias = Mapping[str, str]
Report: TypeAlias = Callable[[int, int, int], None]
_SETUP = ("fitout", "build", "against")


@dataclass(frozen=True, kw_only=True)
class Place:
    """A page of one question: a stage of the job, or a study that is asked and answered like one.

    Attributes
    ----------
    name, title, question : str
        For programs, for people, and what it answers.
    study : callable
        Takes the job and, as keywords, what `takes` and `further` name.
    takes : tuple of str
        Which choices of the top bar its study takes.
    further : tuple of Further
        What it asks besides.
    stage : bool
        Whether it is a stage of the job; the others stand beside the stages.
    under : str
        Name of the stage that a study serves, below which the rail has it; "" for a stage.
    long : bool
        Whether it takes so long that it runs in a process of its own, which can be stopped, and only when asked to.
    report : str
        Keyword under which its study takes a callable that it tells how far it is; "" for none.
    also : tuple of str
        Names of other pages whose answers stand below its own.
    """

    name: str
    title: str
    question: str
    study: Callable[..., Result]
    takes: tuple[str, ...] = ()
    further: tuple[Further, ...] = ()
    stage: bool = False
    under: str = ""
    long: bool = False
    report: str = ""
    also: tuple[str, ...] = ()

    def run(
        self,
        job: Job,
        *,
        fitout: str | None = None,
        build: str | None = None,
        against: str | None = None,
        told: Told | None = None,
        report: Report | None = None,
    ) -> Result:
        """Return the answer, computed once for each choice; `told` is what its further inputs say."""
        told = told or {}
        chosen = {"fitout": fitout, "build": build, "against": against}
        key = ("page", self.name, *(chosen[k] for k in self.takes), *sorted(told.items()))
        if key not in job.memo:
            words: dict[str, Any] = {k: chosen[k] for k in self.takes}
            if self.report and report is not None:
                words[self.report] = report
            job.memo[key] = self.study(job, **words, **f.arguments(self.further, job, told))
        result = job.memo[key]
        assert isinstance(result, Result)
        return result


@dataclass(frozen=True, kw_only=True, slots=True)
class _Row:
    """A study beside the stages: name, title, module of studies (or its own `study`), stage served, what it takes."""

    name: str
    title: str
    module: str
    under: str
    takes: tuple[str, ...] = ()
    further: tuple[Further, ...] = ()
    study: Callable[..., Result] | None = None
    long: bool = False
    report: str = ""


# Stages that drive the loop, often many times. The release runs every stage.
_LONG = {"drive", "tuning", "release"}
_ALSO = {"drive": ("section",), "tuning": ("advise", "windows", "log")}

_WHICH_DAMPER = Further(
    name="damper", title="Damper", options=f.built_dampers, none="give a damper of the kit its body and valves"
)
_VARY = Further(
    name="ranges",
    title="Adjusters and ranges",
    lines=True,
    read=f.ranges,
    hint="one a line, such as front_rebound: 0.7 to 1.4; left empty, the usual ones",
)
_SEED = Further(name="seed", title="Seed", default="1", read=f.whole(0, 2**31 - 1))
_ONLY = Further(
    name="only",
    title="Section",
    options=f.any_of("all sections", f.sections),
    read=lambda job, text: (text,) if text else None,
)
_SPEED = Further(name="speed", title="Speed", default="80 km/h", read=f.measure("speed", "80 km/h"))

_BESIDE: tuple[_Row, ...] = (
    _Row(
        name="modes",
        title="Modes",
        module="modes",
        under="drive",
        takes=_SETUP,
        further=(
            _SPEED,
            Further(
                name="road",
                title="Road, ISO 8608",
                options=f.words(*((c, f"class {c}") for c in "ABCDEFGH")),
                default="C",
            ),
        ),
    ),
    _Row(
        name="steps",
        title="Spring steps",
        module="spring_steps",
        under="springs",
        takes=("fitout", "build"),
        further=(Further(name="end", title="Axle", options=f.axles),),
    ),
    _Row(name="loads", title="Link loads", module="link_loads", under="geometry", takes=("fitout", "build")),
    _Row(name="hardpoints", title="Hardpoints", module="hardpoint_effects", under="geometry"),
    _Row(
        name="understeer",
        title="Understeer",
        module="understeer",
        under="drive",
        takes=_SETUP,
        further=(
            _SPEED,
            Further(
                name="lateral",
                title="Lateral acceleration",
                default="3 m/s^2",
                read=f.measure("acceleration", "3 m/s^2"),
            ),
        ),
    ),
    _Row(name="wobble", title="Steer wobble", module="steer_wobble", under="drive", takes=_SETUP),
    _Row(
        name="section",
        title="One section",
        module="section",
        under="drive",
        takes=_SETUP,
        further=(
            Further(name="section", title="Section", options=f.sections),
            Further(name="channel", title="Channel", options=asked.channels),
        ),
    ),
    _Row(name="manoeuvres", title="Manoeuvres", module="manoeuvres", under="drive", takes=_SETUP, long=True),
    _Row(
        name="compare",
        title="Compare builds",
        module="compare",
        under="drive",
        takes=("against",),
        long=True,
        report="report",
    ),
    _Row(
        name="sweep",
        title="Sweep",
        module="sweep",
        under="tuning",
        takes=_SETUP,
        further=(
            _VARY,
            Further(
                name="design",
                title="Design",
                options=f.words(
                    ("latin", "Latin hypercube"), ("grid", "every combination"), ("one", "one adjuster at a time")
                ),
            ),
            Further(name="count", title="Points of the hypercube", default="64", read=f.whole(2, 5000)),
            Further(name="levels", title="Values of each, otherwise", default="5", read=f.whole(2, 50)),
            _ONLY,
            _SEED,
        ),
        long=True,
        report="report",
    ),
    _Row(
        name="sensitivity",
        title="Sensitivity",
        module="sensitivity",
        under="tuning",
        takes=_SETUP,
        further=(
            _VARY,
            Further(
                name="method",
                title="Method",
                options=f.words(("morris", "elementary effects (Morris)"), ("sobol", "shares of variance (Sobol)")),
            ),
            Further(
                name="samples",
                title="Trajectories",
                read=f.whole(4, 4096),
                hint="left empty 10; of Sobol a power of two, 64",
            ),
            _ONLY,
            _SEED,
        ),
        long=True,
        report="report",
    ),
    _Row(
        name="robust",
        title="Robust choice",
        module="robust",
        under="tuning",
        takes=("fitout", "build"),
        long=True,
        report="report",
    ),
    _Row(name="log", title="Drive log", module="log", under="tuning"),
    _Row(
        name="windows",
        title="Windows",
        module="windows",
        under="tuning",
        takes=("fitout", "build"),
        further=(
            Further(name="attribute", title="Judged", options=asked.attributes),
            Further(
                name="section",
                title="Where",
                options=f.any_of("whole loop", f.sections),
                read=lambda job, text: text or None,
            ),
        ),
        long=True,
    ),
    _Row(
        name="advise",
        title="Next build",
        module="advise",
        under="tuning",
        takes=("fitout", "build"),
        long=True,
        report="report",
    ),
    _Row(
        name="measured",
        title="Measured drives",
        module="measured",
        under="baseline",
        takes=("fitout", "build"),
        long=True,
    ),
    _Row(
        name="fit",
        title="Fit to drives",
        module="vehicle_fit",
        under="baseline",
        takes=("fitout", "build"),
        further=(
            Further(name="drives", title="Drives of the model", default="300", read=f.whole(60, 20_000)),
            _SEED,
        ),
        long=True,
        report="progress",
    ),
    _Row(
        name="dyno",
        title="Dyno sweep",
        module="dyno",
        under="dampers",
        study=asked.dyno,
        further=(
            Further(
                name="file",
                title="Sweep",
                options=f.dyno_files,
                none="attach a dyno file (CSV or ASAM MDF) on the page Programme",
            ),
            Further(name="damper", title="Held against", options=f.any_of("nothing", f.dampers)),
        ),
    ),
    _Row(name="calibrate", title="Calibration", module="valving_calibration", under="dampers"),
    _Row(
        name="find-stack",
        title="Find a stack",
        module="valving_search",
        under="dampers",
        study=asked.find_stack,
        takes=("fitout",),
        further=(
            _WHICH_DAMPER,
            Further(
                name="stroke", title="Stroke", options=f.words(("rebound", "rebound"), ("compression", "compression"))
            ),
            Further(
                name="place",
                title="Valve",
                options=f.words(("piston", "piston"), ("foot", "foot valve"), ("reservoir", "reservoir")),
            ),
            Further(
                name="forces",
                title="Wanted forces",
                lines=True,
                read=f.split_lines,
                hint="one a line, such as 0.26 m/s: 800 N",
            ),
            Further(
                name="ratios",
                title="Wanted damping ratios of the body",
                lines=True,
                read=f.split_lines,
                hint="instead, one a line, such as 0.26 m/s: 0.30",
            ),
            Further(name="band", title="Either way", default="5 %"),
            Further(name="changes", title="Most changes of disc", default="3", read=f.whole(1, 6)),
        ),
        long=True,
    ),
    _Row(
        name="build-sheet",
        title="Build sheet",
        module="build_sheet",
        under="dampers",
        study=asked.build_sheet,
        further=(_WHICH_DAMPER,),
    ),
    _Row(
        name="batch",
        title="Batch",
        module="valving_batch",
        under="dampers",
        study=asked.batch,
        further=(
            _WHICH_DAMPER,
            Further(
                name="file",
                title="Batch",
                options=f.other_tables,
                first=False,
                read=f.attached_text,
                none="attach its table (first column serial, then one a velocity, as -0.26 m/s) on the page Programme",
            ),
        ),
    ),
    _Row(
        name="carry-over",
        title="Carry-over",
        module="carry_over",
        under="springs",
        study=asked.carry_over,
        takes=("fitout", "build"),
        further=(
            Further(
                name="earlier",
                title="Earlier kit",
                options=f.other_programmes,
                read=f.earlier_job,
                none="this store holds no other programme; take one in on the first page",
            ),
        ),
    ),
)


def _beside(row: _Row) -> Place:
    found = import_module(f"tussock.studies.{row.module}")
    return Place(
        name=row.name,
        title=row.title,
        question=found.QUESTION,
        study=row.study or found.study,
        under=row.under,
        takes=row.takes,
        further=row.further,
        long=row.long,
        report=row.report,
    )


def _stage(stage: Stage) -> Place:
    return Place(
        name=stage.name,
        title=stage.title,
        question=stage.question,
        study=stage.run,
        takes=_SETUP,
        stage=True,
        long=stage.name in _LONG,
        also=_ALSO.get(stage.name, ()),
    )


PLACES: dict[str, Place] = {p.name: p for p in (*map(_stage, STAGES), *map(_beside, _BESIDE))}
FURTHER = frozenset(row.name for place in PLACES.values() for row in place.further)
"""Every name of a further input, as addresses carry it."""
