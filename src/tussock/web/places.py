"""Every page that asks one question: the stages of the job in order, then the studies beside them, as rows."""

from __future__ import annotations

from dataclasses import dataclass
from importlib import import_module

from tussock.studies.job import Job
from tussock.studies.result import Result
from tussock.studies.stages import STAGES, Stage


@dataclass(frozen=True, kw_only=True)
class Place(Stage):
    """A page of one question: a stage of the job, or a study that is asked and answered like one.

    Attributes
    ----------
    stage : bool
        Whether it is a stage of the job; the others stand beside the stages.
    long : bool
        Whether it takes so long that it runs in a process of its own, which can be stopped, and only when asked to.
    """

    stage: bool = False
    long: bool = False


# Studies that drive the loop, often many times. The release runs every stage.
_LONG = {"drive", "tuning", "release", "compare", "manoeuvres", "robust", "windows", "measured"}

# Beside the stages: name, title, module of studies, and which choices of the top bar its study takes.
_BESIDE: tuple[tuple[str, str, str, tuple[str, ...]], ...] = (
    ("modes", "Modes", "modes", ("fitout", "build", "against")),
    ("steps", "Spring steps", "spring_steps", ("fitout", "build")),
    ("loads", "Link loads", "link_loads", ("fitout", "build")),
    ("hardpoints", "Hardpoints", "hardpoint_effects", ()),
    ("understeer", "Understeer", "understeer", ("fitout", "build", "against")),
    ("wobble", "Steer wobble", "steer_wobble", ("fitout", "build", "against")),
    ("manoeuvres", "Manoeuvres", "manoeuvres", ("fitout", "build", "against")),
    ("compare", "Compare builds", "compare", ("against",)),
    ("robust", "Robust choice", "robust", ("fitout", "build")),
    ("log", "Drive log", "log", ()),
    ("windows", "Windows", "windows", ("fitout", "build")),
    ("measured", "Measured drives", "measured", ("fitout", "build")),
    ("calibrate", "Calibration", "valving_calibration", ()),
)


def _beside(name: str, title: str, module: str, takes: tuple[str, ...]) -> Place:
    found = import_module(f"tussock.studies.{module}")

    def study(job: Job, fitout: str | None, build: str | None, against: str | None) -> Result:
        choices = {"fitout": fitout, "build": build, "against": against}
        result = found.study(job, **{key: choices[key] for key in takes})
        assert isinstance(result, Result)
        return result

    return Place(name=name, title=title, question=found.QUESTION, study=study, long=name in _LONG)


def _stages() -> tuple[Place, ...]:
    return tuple(
        Place(
            name=stage.name,
            title=stage.title,
            question=stage.question,
            study=stage.study,
            stage=True,
            long=stage.name in _LONG,
        )
        for stage in STAGES
    )


PLACES: dict[str, Place] = {p.name: p for p in (*_stages(), *(_beside(*row) for row in _BESIDE))}
