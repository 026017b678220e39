"""Dyno files that a programme names: read with what the programme says of how they were recorded."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import lru_cache
from typing import Any

from tussock.errors import InputError
from tussock.mechanics.dampers import DynoError, DynoTest, read_bytes
from tussock.record import Programme

ENDS = ("front", "rear")


def dampers_of(programme: Programme) -> Iterator[tuple[str, Any]]:
    """Yield every damper of a programme with its path in the file."""
    for end in ENDS:
        yield f"vehicle.axles.{end}.damper", programme.vehicle.axles[end].damper
    for name, damper in programme.kit.dampers.items():
        yield f"kit.dampers.{name}", damper


def read_attached(programme: Programme, files: Mapping[str, bytes]) -> Mapping[str, DynoTest]:
    """Return every dyno file of a programme, read, by its name.

    Parameters
    ----------
    programme : Programme
        Its dampers' `dyno_run` says oil temperature, channels, sampling rate, filter and parting of a file.
    files : mapping of str to bytes

    Raises
    ------
    InputError
        With everything that is wrong in all of them, and where two dampers say different things of one file.
    """
    runs: dict[str, tuple[str, Any]] = {}
    tests: dict[str, DynoTest] = {}
    problems: list[str] = []
    for path, damper in dampers_of(programme):
        if damper is None or damper.dyno is None:
            continue
        other, known = runs.setdefault(damper.dyno, (path, damper.dyno_run))
        if known != damper.dyno_run:
            problems.append(f"{path}.dyno_run: {damper.dyno} was recorded once; {other} says otherwise of it")
    for i, entry in enumerate(programme.written_dyno_runs):
        other, known = runs.setdefault(entry.dyno, (f"dyno_runs.{i}", entry.dyno_run))
        if entry.dyno_run is not None and known != entry.dyno_run:
            problems.append(f"dyno_runs.{i}.dyno_run: {entry.dyno} was recorded once; {other} says otherwise of it")
    for name, raw in files.items():
        run = runs.get(name, ("", None))[1]
        try:
            tests[name] = _read(raw, name, run)
        except DynoError as error:
            problems.append(str(error))
    if problems:
        raise InputError("\n".join(problems))
    return tests


def _read(raw: bytes, name: str, run: Any) -> DynoTest:
    if run is None:
        return _swept(raw, name)
    test = _swept(
        raw,
        name,
        tuple((c, t) for c, t in run.channels.model_dump().items() if t is not None) or None,
        None if run.rate is None else float(run.rate),
        None if run.cutoff is None else float(run.cutoff),
        run.split,
    )
    stated = None if run.oil_temperature is None else float(run.oil_temperature)
    return replace(test, stated_temperature=stated)


@lru_cache(maxsize=64)  # every version of a programme names mostly the sweeps of the one before
def _swept(
    raw: bytes,
    name: str,
    channels: tuple[tuple[str, str], ...] | None = None,
    rate: float | None = None,
    cutoff: float | None = None,
    split: bool = False,
) -> DynoTest:
    return read_bytes(
        raw, name=name, channels=dict(channels) if channels else None, rate=rate, cutoff=cutoff, split=split
    )
