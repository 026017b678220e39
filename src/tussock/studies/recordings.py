"""The logger files of a programme's drives: read, set on one clock, judged, cut by road section."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from tussock.errors import DomainError, InputError, MechanicsError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.logger import (
    Fault,
    Gate,
    Piece,
    Recording,
    Series,
    Wire,
    clock_offset,
    cut_by_gates,
    cut_by_marks,
    even,
    faults,
    read_recording,
)
from tussock.mechanics.motion import Vehicle
from tussock.record.log import Drive
from tussock.record.logger import LOGGED, Logger
from tussock.record.units import unit_factor
from tussock.studies.adjusters import adjusted, fittings
from tussock.studies.build_changes import tyre_pressure
from tussock.studies.job import ENDS, Job, Setup

STEP = 0.004  # of the even clock [s]: the figures go to 30 Hz, the weightings to 100 Hz
SEAT_STEP = 0.002  # of the seat's channels [s]
STANDS = 0.5  # below this speed the vehicle stands [m/s]
LEAST_ALIKE = 0.5  # correlation from which two channels are taken to show one motion
_CLOCK_TIME = 60.0  # of a recording in which clocks are set against each other [s]
_STILL = ("speed", "latitude", "longitude", "mark")
_WHEELS = ("front_left", "front_right", "rear_left", "rear_right")


@dataclass(frozen=True, kw_only=True, eq=False)
class SectionPass:
    """One pass of one section in one recording.

    Attributes
    ----------
    file, section : str
    start, end : float
        [s] on the file's clock.
    speed : float
        Mean [m/s]; 0 if it was not recorded.
    channels : mapping
        Sound channels at even times, every `STEP`; accelerations and rates without their mean.
    seat : array (n, 3) or None
        Acceleration of the seat, every `SEAT_STEP`, if all three axes are sound.
    faults : mapping
        What is wrong with channels here, by channel.
    """

    file: str
    section: str
    start: float
    end: float
    speed: float
    channels: Mapping[str, Floats]
    seat: Floats | None
    faults: Mapping[str, tuple[Fault, ...]]


@dataclass(frozen=True, kw_only=True, eq=False)
class Logged:
    """One recording: its passes, the dampers' position while it stood, and what was found about its clocks."""

    file: str
    seconds: float
    passes: tuple[SectionPass, ...]
    rest: Mapping[str, float] | None
    clocks: tuple[str, ...]


def recorded_drives(job: Job, *, build: str, fitout: str) -> tuple[Drive, ...]:
    """Return the drives of a build and fit-out that have recordings; InputError that says which have."""
    with_files = [d for d in job.programme.drives if d.recordings]
    found = tuple(d for d in with_files if d.build == build and d.fitout == fitout)
    if not found:
        has = sorted({f"{d.build} with {d.fitout}" for d in with_files})
        raise InputError(
            f"no drive of {build} with {fitout} has a recording; "
            + (f"there are recordings of {', '.join(has)}" if has else "write one under drives: recordings")
        )
    return found


def as_driven(job: Job, setup: Setup) -> Vehicle:
    """Return the vehicle of a setup on the tyre pressures of its recorded drives, their mean where they differ.

    A drive that does not say its pressures was driven on those to which its build is set; nothing can be said where
    the vehicle's own pressure is not known.
    """
    drives = recorded_drives(job, build=setup.build, fitout=setup.fitout)
    values: dict[str, float] = {}
    for end in ENDS:
        set_to = tyre_pressure(job, setup.build, end)
        told = [d.tyre_pressure[end].si if d.tyre_pressure is not None else set_to for d in drives]
        known = [p for p in told if p is not None]
        if set_to is not None and known:
            values[f"{end}_tyre_pressure"] = float(np.mean(known)) / set_to
    return adjusted(fittings(job, setup), values)


def read_drives(job: Job, *, build: str, fitout: str) -> tuple[Logged, ...]:
    """Return every recording of a build and fit-out, cut into passes of the loop's sections."""
    key = ("recordings", build, fitout)
    if key not in job.memo:
        made = []
        for drive in recorded_drives(job, build=build, fitout=fitout):
            for one in drive.recordings:
                logger = job.programme.loggers[one.logger]
                try:
                    recording = read_recording(
                        job.loaded.file(one.file), _wires(logger), time=_time(logger), name=one.file
                    )
                    made.append(_logged(job, recording, logger))
                except MechanicsError as error:
                    raise InputError(str(error)) from None
        job.memo[key] = tuple(made)
    kept = job.memo[key]
    assert isinstance(kept, tuple)
    return kept


def _time(logger: Logger) -> Wire:
    return Wire(title=logger.time, factor=1e-3 if logger.time_unit == "ms" else 1.0)


def _wires(logger: Logger) -> dict[str, Wire]:
    out: dict[str, Wire] = {}
    for key, channel in logger.channels.items():
        factor = unit_factor(channel.unit, LOGGED[key]) if channel.unit or key != "mark" else 1.0
        assert factor is not None  # the record has checked it
        clock = 0.0 if channel.clock_ahead is None else float(channel.clock_ahead)
        out[key] = Wire(title=channel.title, factor=-factor if channel.reversed else factor, clock=clock)
    return out


def _logged(job: Job, recording: Recording, logger: Logger) -> Logged:
    channels, said = _on_one_clock(recording, logger)
    pieces = _cut(job, recording, channels)
    rest = _rest(channels)
    passes = tuple(_one_pass(recording.name, piece, channels) for piece in pieces)
    return Logged(
        file=recording.name, seconds=recording.end - recording.start, passes=passes, rest=rest, clocks=tuple(said)
    )


def _cut(job: Job, recording: Recording, channels: Mapping[str, Series]) -> Sequence[Piece]:
    """Return the passes by GPS where sections have gates, else by the driver's marks."""
    sections = job.programme.road_loop.sections
    gates = {
        s.name: (
            Gate(latitude=float(g.start.latitude), longitude=float(g.start.longitude), radius=float(g.radius)),
            Gate(latitude=float(g.end.latitude), longitude=float(g.end.longitude), radius=float(g.radius)),
        )
        for s in sections
        if (g := s.gates) is not None
    }
    if gates and {"latitude", "longitude"} <= channels.keys():
        pieces: Sequence[Piece] = cut_by_gates(channels["latitude"], channels["longitude"], gates)
    elif "mark" in channels:
        pieces = cut_by_marks(channels["mark"], [s.name for s in sections])
    else:
        raise DomainError(
            f"{recording.name}: nothing says where the sections are; give the sections gates and the logger latitude "
            "and longitude, or a mark channel"
        )
    if not pieces:
        raise DomainError(f"{recording.name}: it passes no section of the loop from its start gate to its end gate")
    return pieces


def _on_one_clock(recording: Recording, logger: Logger) -> tuple[dict[str, Series], list[str]]:
    """Return the channels with the dampers' clock set by the hubs' and the body's motion, and what was done."""
    channels = {k: s for k, s in recording.channels.items() if s.size}
    lags = []
    for wheel in _WHEELS:
        names = [f"{stem}_{wheel}" for stem in ("damper", "hub", "body")]
        if not all(n in channels for n in names):
            continue
        start = max(float(channels[n].time[0]) for n in names) + 1.0
        end = min(*(float(channels[n].time[-1]) - 1.0 for n in names), start + _CLOCK_TIME)
        try:
            damper, hub, body = (even(channels[n], start, end, STEP) for n in names)
            closing = np.gradient(np.gradient(damper, STEP), STEP)
            lag, alike = clock_offset(_slow(hub - body), _slow(closing), STEP)
        except DomainError:
            continue
        if alike > LEAST_ALIKE:
            lags.append(lag)
    stated = any(c.clock_ahead is not None for k, c in logger.channels.items() if k.startswith("damper"))
    if not lags or stated:
        return channels, []
    lag = float(np.median(lags))
    if abs(lag) < 0.5 * STEP:
        return channels, []
    for key in channels:
        if key.startswith("damper"):
            channels[key] = Series(np.asarray(channels[key].time) - lag, channels[key].values)
    return channels, [f"the dampers' clock was {1e3 * lag:.0f} ms late against the hubs'; set right"]


def _slow(x: Floats) -> Floats:
    """Return a signal between about 1 and 20 Hz, where dampers, hubs and body tell one story."""
    from scipy.signal import butter, sosfiltfilt

    return np.asarray(sosfiltfilt(butter(2, [1.0, 20.0], "bandpass", fs=1.0 / STEP, output="sos"), x))


def _rest(channels: Mapping[str, Series]) -> dict[str, float] | None:
    """Return the dampers' positions while the vehicle stood before it drove off, or None if that was not recorded."""
    speed = channels.get("speed")
    dampers = {k: s for k, s in channels.items() if k.startswith("damper")}
    if speed is None or len(dampers) < 4:
        return None
    v = np.asarray(speed.values, dtype=np.float64)
    moving = np.flatnonzero(v > STANDS)
    until = float(speed.time[moving[0]]) - 1.0 if moving.size else float(speed.time[-1])
    start = float(speed.time[0])
    if until - start < 2.0:
        return None
    found = {k: float(np.median(s.between(start, until).values)) for k, s in dampers.items()}
    return found if all(np.isfinite(list(found.values()))) else None


def _one_pass(file: str, piece: Piece, channels: Mapping[str, Series]) -> SectionPass:
    wrong: dict[str, tuple[Fault, ...]] = {}
    sound: dict[str, Floats] = {}
    raw: dict[str, Series] = {}
    for key, series in channels.items():
        if key in _STILL:
            continue
        here = series.between(piece.start, piece.end)
        found = faults(here)
        if found:
            wrong[key] = found
        if any(f.spoils for f in found):
            continue
        try:
            values = even(series, piece.start, piece.end, STEP)
        except DomainError:
            continue
        raw[key] = series
        sound[key] = values if key.startswith("damper") else values - np.mean(values)
    seat = None
    if {"seat_x", "seat_y", "seat_z"} <= sound.keys():
        axes = [even(raw[f"seat_{a}"], piece.start, piece.end, SEAT_STEP) for a in "xyz"]
        seat = np.stack([a - np.mean(a) for a in axes], axis=1)
    speed = channels.get("speed")
    mean = float(np.mean(speed.between(piece.start, piece.end).values)) if speed is not None else 0.0
    return SectionPass(
        file=file,
        section=piece.section,
        start=piece.start,
        end=piece.end,
        speed=mean,
        channels=sound,
        seat=seat,
        faults=wrong,
    )
