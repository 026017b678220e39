"""Fit-outs against springs, to be read at arm's length."""

from __future__ import annotations

from collections.abc import Mapping

from tussock.studies.display import show
from tussock.studies.job import ENDS, Job
from tussock.studies.result import Axis, Board, BoardCell


def board(job: Job, lifts: Mapping[tuple[str, str, str], float], held: Mapping[tuple[str, str], float]) -> Board:
    """Return the height of every fit-out on every spring that the kit has for an axle.

    Parameters
    ----------
    job : Job
        The programme.
    lifts : mapping
        (axle, spring, fit-out) to lift over stock kerb [m]; what does not come to rest is left out.
    held : mapping
        (axle, fit-out) to the lift on the spring that it wears [m].
    """
    fitouts = job.programme.fitouts
    columns = [(end, s) for end in ENDS for s in job.programme.kit.springs if _worn(job, end, s)]
    rows = tuple(
        (record.title, tuple(_cell(job, lifts, held, end=end, spring=s, fitout=name) for end, s in columns))
        for name, record in fitouts.items()
    )
    return Board(
        key="heights",
        title="Height above stock kerb, by fit-out and spring",
        figure=Axis(title="body height above stock kerb", kind="length"),
        columns=tuple((end.capitalize(), s.replace("_", " ")) for end, s in columns),
        rows=rows,
        note="framed: the spring that the fit-out wears, with its packers; the grey band is what is wanted",
    )


def _worn(job: Job, end: str, spring: str) -> bool:
    return any(f.springs[end] == spring for f in job.programme.fitouts.values())


def _cell(
    job: Job,
    lifts: Mapping[tuple[str, str, str], float],
    held: Mapping[tuple[str, str], float],
    *,
    end: str,
    spring: str,
    fitout: str,
) -> BoardCell:
    wanted = job.programme.targets.lift[fitout]
    target, tolerance = float(getattr(wanted, end)), float(wanted.tolerance)
    chosen = job.programme.fitouts[fitout].springs[end] == spring
    at = held[end, fitout] if chosen else lifts.get((end, spring, fitout))
    if at is None:
        words = "does not stand"
    elif abs(at - target) <= tolerance:
        words = "holds" if chosen else "would hold"
    else:
        way = "high" if at > target else "low"
        words = f"{show(abs(at - target) - tolerance, 'length')} too {way}"
    return BoardCell(at=at, low=target - tolerance, high=target + tolerance, words=words, chosen=chosen)
