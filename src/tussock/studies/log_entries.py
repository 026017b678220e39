"""Verdicts of the log as comparisons, and where drives disagree."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import Any

from tussock.record.log import VERDICTS
from tussock.studies.job import Job

WHOLE_LOOP = "whole loop"


@dataclass(frozen=True, kw_only=True)
class Comparison:
    """One verdict of the log with the drive that it belongs to.

    Attributes
    ----------
    drive : str
        What the drive is called.
    section : str
        Of the road loop, or the whole of it.
    better : int
        From -2 (the build driven is much worse than the reference) over 0 to 2 (much better).
    """

    drive: str
    date: str
    driver: str
    build: str
    against: str
    fitout: str
    section: str
    attribute: str
    better: int

    @property
    def way(self) -> int:
        """Whether the build driven is better (1), worse (-1) or neither."""
        return (self.better > 0) - (self.better < 0)


def drive_name(drive: Any, place: int) -> str:
    """Return what a drive is called: its id, else its place in the log."""
    return drive.id or f"drive {place + 1}"


def comparisons(job: Job) -> tuple[Comparison, ...]:
    """Return every verdict of the log that counts, the oldest drive first."""
    found = [
        Comparison(
            drive=drive_name(drive, i),
            date=drive.date,
            driver=drive.driver,
            build=drive.build,
            against=str(drive.against),
            fitout=drive.fitout,
            section=verdict.section or drive.section or WHOLE_LOOP,
            attribute=verdict.attribute,
            better=VERDICTS.index(verdict.verdict) - 2,
        )
        for i, drive in enumerate(job.programme.drives)
        for verdict in drive.verdicts
    ]
    return tuple(sorted(found, key=lambda c: c.date))  # stable: the order of the log within a day


@dataclass(frozen=True, kw_only=True)
class Contradiction:
    """Verdicts on one pair in one respect on one section that go both ways over several drives."""

    first: str
    second: str
    section: str
    attribute: str
    better: tuple[str, ...]
    worse: tuple[str, ...]


def contradictions(job: Job) -> tuple[Contradiction, ...]:
    """Return where drives disagree which of two builds is better: evidence of how sure the drivers are, no fault."""
    said: dict[tuple[str, str, str, str], tuple[list[str], list[str]]] = defaultdict(lambda: ([], []))
    for c in comparisons(job):
        turned = c.build > c.against
        pair = (c.against, c.build) if turned else (c.build, c.against)
        way = -c.way if turned else c.way
        if way:
            said[*pair, c.section, c.attribute][way < 0].append(c.drive)
    return tuple(
        Contradiction(first=k[0], second=k[1], section=k[2], attribute=k[3], better=tuple(b), worse=tuple(w))
        for k, (b, w) in said.items()
        if b and w
    )
