"""The log: what has been built, driven and found?"""

from __future__ import annotations

from collections import defaultdict

from tussock.studies.job import Job
from tussock.studies.log_entries import comparisons
from tussock.studies.log_tables import tables
from tussock.studies.result import Result

QUESTION = "What has been built, driven and found?"


def study(job: Job) -> Result:
    """Return the whole log as it counts now: builds with what changed, drives, verdicts, marks and corrections.

    Parameters
    ----------
    job : Job
        The programme.

    Returns
    -------
    Result
        Always passes; drives that disagree are evidence and stand in a table of their own.
    """
    return Result(
        stage="log",
        question=QUESTION,
        answer=_answer(job),
        passes=True,
        provenance=job.provenance(),
        tables=tables(job),
        inputs={"road_loop": job.programme.road_loop.name},
        values={"builds": float(len(job.programme.builds)), "drives": float(len(job.programme.drives))},
    )


def _answer(job: Job) -> str:
    programme = job.programme
    drivers = {d.driver for d in programme.drives}
    text = f"{_count(len(programme.builds), 'build')}, {_count(len(programme.drives), 'drive')}"
    if not programme.drives:
        return f"{text}: nothing has been driven yet."
    last = max(programme.drives, key=lambda d: d.date)
    ahead = most_preferred(job)
    preferred = f"; {ahead}" if ahead else ""
    return f"{text} by {_count(len(drivers), 'driver')}, the last on {last.date} of {last.build}{preferred}."


def _count(n: int, what: str) -> str:
    return f"{n} {what}" if n == 1 else f"{n} {what}s"


def most_preferred(job: Job) -> str:
    """Say which build won most of the verdicts on the whole of it, or nothing."""
    won: dict[str, list[int]] = defaultdict(lambda: [0, 0])
    for c in comparisons(job):
        if c.attribute == "overall" and c.way:
            won[c.build if c.way > 0 else c.against][0] += 1
            won[c.build][1] += 1
            won[c.against][1] += 1
    if not won:
        return ""
    best = max(won, key=lambda b: (won[b][0] / won[b][1], won[b][1]))
    return f"the drivers preferred {best} overall in {won[best][0]} of the {won[best][1]} verdicts in which it stood"
