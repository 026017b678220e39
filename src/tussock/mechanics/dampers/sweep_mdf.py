"""A dyno file in ASAM MDF (measurement data format, versions 3 and 4), through the library asammdf (extra ``mdf``).

Channels are found by their names and units as in a text file (`channels`). A file may hold all runs in one data group,
with a run channel or pauses; each run in a data group of its own; or every channel in a group of its own, each with its
own time: then all are brought to the force's time by straight lines.
"""

from __future__ import annotations

import io
from collections.abc import Mapping
from typing import Any

import numpy as np

from tussock.mechanics.arrays import Floats
from tussock.mechanics.dampers.channels import NEEDED, Channel, match_channels, missing_channels
from tussock.mechanics.dampers.sweep_text import DynoError, Samples
from tussock.mechanics.mdf_head import HEAD, points_beyond

_EXTRA = "reading ASAM MDF needs the library asammdf; install it with: pip install 'tussock[mdf]'"
_OPTIONAL = ("velocity", "temperature", "run")


def parse_mdf(raw: bytes, name: str, *, channels: Mapping[str, str] | None = None) -> tuple[Samples, list[str]]:
    """Return the samples of an MDF file and what is wrong with single ones.

    Parameters
    ----------
    raw : bytes
        The file's content.
    name : str
        What the file is called, for messages.
    channels : mapping, optional
        Name of the channel in the file by channel, with its unit where the file has none.

    Raises
    ------
    DynoError
        When no samples can be had: asammdf is not installed, the file is damaged or cut off, a channel or unit is
        missing.
    """
    try:
        from asammdf import MDF
    except ImportError:
        raise DynoError(name, [_EXTRA]) from None
    if beyond := points_beyond(raw[:HEAD], len(raw)):
        raise DynoError(name, [f"the MDF file is cut off: it ends at byte {len(raw)}, but goes on at byte {beyond}"])
    try:
        with MDF(io.BytesIO(raw)) as file:
            return _samples(file, name, channels)
    except DynoError:
        raise
    except Exception as error:  # the library raises whatever a damaged block leads to
        what = f"{type(error).__name__}: {' '.join(str(error).split())[:200]}"
        raise DynoError(name, [f"the MDF file cannot be read, is it cut off or damaged? ({what})"]) from None


def _samples(file: Any, name: str, given: Mapping[str, str] | None) -> tuple[Samples, list[str]]:
    titles, places, whole = _titles(file)
    runs: list[dict[str, tuple[Floats, Floats]]] = []
    problems: list[str] = []
    notes: list[str] = []
    for at, names in titles.items():
        found, wrong, left_out = match_channels(names, f"data group {at + 1}", given=given, rate_given=True)
        if "displacement" in found and "force" in found:
            problems += wrong
            notes += left_out
            runs.append({key: _read(file, places[at][c.index], c) for key, c in found.items() if key != "time"})
    if not runs:  # no group has both: every channel may stand in a group of its own
        everywhere = [place for group in places.values() for place in group]
        found, wrong, notes = match_channels(whole, "the file's channels", given=given, rate_given=True)
        missing = missing_channels(found, whole, "the file's channels", rate_given=True)
        if missing:
            raise DynoError(name, [*wrong, *missing])
        problems += wrong
        runs = [{key: _read(file, everywhere[c.index], c) for key, c in found.items() if key != "time"}]
    parts: dict[str, list[Floats]] = {key: [] for key in ("time", "number", *NEEDED[1:], *_OPTIONAL)}
    for number, run in enumerate(runs, start=1):
        time = run["force"][0]
        if time.size < 2:
            problems.append(f"data group {number}: {time.size} samples of force")
            continue
        parts["time"].append(time)
        parts["number"].append(np.full(time.size, float(number)))
        for key in (*NEEDED[1:], *_OPTIONAL):
            if key not in run:
                parts[key].append(np.full(time.size, np.nan))
                continue
            own, values = run[key]
            if key != "force" and (own.size != time.size or not np.array_equal(own, time)):
                values, wrong_time = _brought(key, own, values, time)
                problems += wrong_time
            parts[key].append(values)
        for key in ("force", "displacement"):
            bad = np.flatnonzero(~np.isfinite(parts[key][-1]))
            if bad.size:
                problems.append(
                    f"{key}, sample {bad[0] + 1} of group {number}: {bad.size} values are not finite numbers"
                )
    if not parts["time"] or any(not np.all(np.isfinite(a)) for key in ("force", "displacement") for a in parts[key]):
        raise DynoError(name, problems or ["the MDF file holds no samples"])
    arrays = {key: np.concatenate(values) for key, values in parts.items()}
    own_runs = np.all(np.isfinite(arrays["run"]))
    numbers = arrays["run"] if own_runs else arrays["number"] if len(runs) > 1 else None
    return (
        Samples(
            time=arrays["time"],
            displacement=arrays["displacement"],
            force=arrays["force"],
            run=numbers,
            line=np.arange(1, arrays["time"].size + 1, dtype=np.int64),
            velocity=_or_none(arrays["velocity"]),
            temperature=_or_none(arrays["temperature"]),
            place="sample",
            notes=tuple(notes),
        ),
        problems,
    )


def _titles(file: Any) -> tuple[dict[int, list[str]], dict[int, list[tuple[int, int]]], list[str]]:
    """Return the titles of each data group's channels, where they stand, and all titles; time channels left out."""
    titles: dict[int, list[str]] = {}
    places: dict[int, list[tuple[int, int]]] = {}
    for at, group in enumerate(file.groups):
        master = file.masters_db.get(at)
        for index, channel in enumerate(group.channels):
            if index == master:
                continue
            unit = str(file.get_channel_unit(group=at, index=index) or "").strip()
            title = str(channel.name).split("\\")[0].strip()
            titles.setdefault(at, []).append(f"{title} [{unit}]" if unit else title)
            places.setdefault(at, []).append((at, index))
    return titles, places, [t for group in titles.values() for t in group]


def _read(file: Any, place: tuple[int, int], channel: Channel) -> tuple[Floats, Floats]:
    """Return time [s] and values in SI of one channel."""
    group, index = place
    signal = file.get(group=group, index=index)
    values = np.asarray(signal.samples)
    if values.ndim != 1 or values.dtype.kind not in "fiub":
        raise DynoError(str(file.name), [f"channel {channel.title!r} holds no plain numbers"])
    time = np.asarray(signal.timestamps, dtype=np.float64)
    return time, np.asarray(values.astype(np.float64) * channel.factor + channel.offset)


def _brought(key: str, own: Floats, values: Floats, time: Floats) -> tuple[Floats, list[str]]:
    """Return a channel at the force's times; NaN beyond its own, for which displacement is refused later."""
    if own.size < 2 or np.any(np.diff(own) <= 0.0):
        return np.full(time.size, np.nan), [f"{key}: its time does not rise"]
    if key == "run":  # a number holds until the next
        at = np.clip(np.searchsorted(own, time, side="right") - 1, 0, own.size - 1)
        return values[at], []
    step = float(np.median(np.diff(own)))
    inside = (time >= own[0] - step) & (time <= own[-1] + step)
    return np.where(inside, np.interp(time, own, values), np.nan), []


def _or_none(values: Floats) -> Floats | None:
    return values if np.any(np.isfinite(values)) else None
