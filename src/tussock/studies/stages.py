"""The stages of the job in order: one list for command line, report and whoever comes after."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from tussock.studies import baseline, dampers, drive, geometry, heights, release, springs, targets, travel, tuning
from tussock.studies.job import Job
from tussock.studies.result import Result


@dataclass(frozen=True, kw_only=True)
class Stage:
    """One stage of the job.

    Attributes
    ----------
    name, title, question : str
        For programs, for people, and what it answers.
    study : callable
        Takes job, fit-out, build and the build to compare with.
    """

    name: str
    title: str
    question: str
    study: Callable[[Job, str | None, str | None, str | None], Result]

    def run(
        self, job: Job, *, fitout: str | None = None, build: str | None = None, against: str | None = None
    ) -> Result:
        """Return the stage's result, computed once for each choice."""
        key = self._key(fitout, build, against)
        if key not in job.memo:
            job.memo[key] = self.study(job, fitout, build, against)
        result = job.memo[key]
        assert isinstance(result, Result)
        return result

    def know(self, job: Job, result: Result, *, fitout: str | None, build: str | None, against: str | None) -> None:
        """Give a job the result that was computed for the same programme and choice before."""
        job.memo[self._key(fitout, build, against)] = result

    def _key(self, fitout: str | None, build: str | None, against: str | None) -> tuple[str | None, ...]:
        return ("stage", self.name, fitout, build, against)


STAGES: tuple[Stage, ...] = (
    Stage(name="baseline", title="Baseline", question=baseline.QUESTION, study=lambda j, f, b, a: baseline.study(j)),
    Stage(name="targets", title="Targets", question=targets.QUESTION, study=lambda j, f, b, a: targets.study(j)),
    Stage(
        name="heights",
        title="Heights, springs",
        question=heights.QUESTION,
        study=lambda j, f, b, a: heights.study(j, fitout=f, build=b),
    ),
    Stage(
        name="travel",
        title="Travel",
        question=travel.QUESTION,
        study=lambda j, f, b, a: travel.study(j, fitout=f, build=b),
    ),
    Stage(
        name="springs",
        title="Springs",
        question=springs.QUESTION,
        study=lambda j, f, b, a: springs.study(j, fitout=f, build=b),
    ),
    Stage(
        name="geometry",
        title="Geometry",
        question=geometry.QUESTION,
        study=lambda j, f, b, a: geometry.study(j, fitout=f, build=b),
    ),
    Stage(
        name="dampers",
        title="Valving",
        question=dampers.QUESTION,
        study=lambda j, f, b, a: dampers.study(j, fitout=f, build=b),
    ),
    Stage(
        name="drive",
        title="Drive",
        question=drive.QUESTION,
        study=lambda j, f, b, a: drive.study(j, fitout=f, build=b, against=a),
    ),
    Stage(
        name="tuning",
        title="Tuning",
        question=tuning.QUESTION,
        study=lambda j, f, b, a: tuning.study(j, fitout=f, build=b),
    ),
    Stage(
        name="release",
        title="Release",
        question=release.QUESTION,
        study=lambda j, f, b, a: release.study(j, run_before_release(j, f, b, a), fitout=f, build=b),
    ),
)


def run_before_release(
    job: Job, fitout: str | None = None, build: str | None = None, against: str | None = None
) -> Sequence[Result]:
    """Return the results of every stage before the release, in order."""
    return tuple(s.run(job, fitout=fitout, build=build, against=against) for s in STAGES if s.name != "release")
