"""The log as the adviser takes it: drives, verdicts, marks by places on the lattice; what is left out and why."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from tussock.mechanics.tuning import OVERALL, Drives, PairVerdict, Point, Rating
from tussock.record.log import VERDICTS, Drive
from tussock.studies.advise_ground import others
from tussock.studies.advise_measures import BASE, Respect
from tussock.studies.job import Job, Setup
from tussock.studies.log_entries import drive_name


@dataclass(frozen=True, kw_only=True)
class Told:
    """One verdict or mark of the log that counts.

    Attributes
    ----------
    drive : Drive
        Of the record.
    respect : Respect or None
        None for the whole vehicle on the whole loop.
    value : int
        Of a verdict -2 to 2, or the mark.
    """

    drive: Drive
    respect: Respect | None
    value: int


@dataclass(frozen=True, kw_only=True)
class Heard:
    """What the log says to the adviser.

    Attributes
    ----------
    drives : tuple of Drive
        Of the fit-out, on builds that differ in adjusters alone; the oldest first.
    verdicts, marks : tuple of Told
    respects : tuple of Respect
        All that is judged, the loop's comfort and control first.
    left_out : mapping
        What does not count, by what it is, and why.
    """

    drives: tuple[Drive, ...]
    verdicts: tuple[Told, ...]
    marks: tuple[Told, ...]
    respects: tuple[Respect, ...]
    left_out: Mapping[str, str]

    @property
    def builds(self) -> tuple[str, ...]:
        """Every build that was driven or compared with."""
        used = [d.build for d in self.drives] + [str(v.drive.against) for v in self.verdicts]
        return tuple(dict.fromkeys(used))

    @property
    def drivers(self) -> tuple[str, ...]:
        """Who drove, in the order of the log."""
        return tuple(dict.fromkeys(d.driver for d in self.drives))


def heard(job: Job, setup: Setup) -> Heard:
    """Return what the log says of builds around one, in its fit-out."""
    kept: list[Drive] = []
    verdicts: list[Told] = []
    marks: list[Told] = []
    left: dict[str, str] = {}
    numbered = [(drive_name(d, i), d) for i, d in enumerate(job.programme.drives)]
    for name, drive in sorted(numbered, key=lambda pair: pair[1].date):
        if drive.fitout != setup.fitout:
            left[name] = f"driven in the fit-out {drive.fitout}: another load is another vehicle"
            continue
        why = others(job, drive.build, setup.build)
        if why:
            left[name] = f"{drive.build}: {why}"
            continue
        kept.append(drive)
        marks += [
            Told(drive=drive, respect=_respect(r.section or drive.section, r.attribute), value=r.mark)
            for r in drive.ratings
        ]
        if not drive.verdicts:
            continue
        why = others(job, str(drive.against), setup.build)
        if why:
            left[f"{name}, verdicts"] = f"{drive.against}: {why}"
            continue
        verdicts += [
            Told(
                drive=drive,
                respect=_respect(v.section or drive.section, v.attribute),
                value=VERDICTS.index(v.verdict) - 2,
            )
            for v in drive.verdicts
        ]
    judged = dict.fromkeys(t.respect for t in (*verdicts, *marks) if t.respect is not None)
    return Heard(
        drives=tuple(kept),
        verdicts=tuple(verdicts),
        marks=tuple(marks),
        respects=tuple(dict.fromkeys((*BASE, *judged))),
        left_out=left,
    )


def _respect(section: str | None, attribute: str) -> Respect | None:
    return None if section is None and attribute == "overall" else Respect(section=section, attribute=attribute)


def drives_of(told: Heard, places: Mapping[str, Point]) -> tuple[Drives, tuple[str, ...]]:
    """Return what the adviser's core takes, and which pairs of builds stand on one place and tell nothing apart."""
    points = tuple(dict.fromkeys(places[b] for b in told.builds))
    at = {p: i for i, p in enumerate(points)}
    where = {b: at[places[b]] for b in told.builds}
    days = {day: i for i, day in enumerate(dict.fromkeys(d.date for d in told.drives))}
    drivers = {name: i for i, name in enumerate(told.drivers)}
    respects = {r: i for i, r in enumerate(told.respects)}

    def place(respect: Respect | None) -> int:
        return OVERALL if respect is None else respects[respect]

    alike: dict[str, None] = {}
    pairs: list[PairVerdict] = []
    for v in told.verdicts:
        one, two = v.drive.build, str(v.drive.against)
        if where[one] == where[two]:
            alike[f"{one} and {two}"] = None
            continue
        pairs.append(PairVerdict(tried=where[one], reference=where[two], attribute=place(v.respect), verdict=v.value))
    return (
        Drives(
            builds=points,
            driven=tuple(where[d.build] for d in told.drives),
            verdicts=tuple(pairs),
            ratings=tuple(
                Rating(
                    build=where[r.drive.build], attribute=place(r.respect), driver=drivers[r.drive.driver],
                    day=days[r.drive.date], mark=float(r.value),
                )
                for r in told.marks
            ),
        ),
        tuple(alike),
    )  # fmt: skip
