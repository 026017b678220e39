"""Raw dyno sweeps: runs as time, displacement and force become a force-velocity curve.

A file is text with a header line and one row per sample, columns in any order, or an ASAM MDF file (`sweep_mdf`):

    run, time [s], displacement [mm], force [N]

``run`` numbers the runs; without it a pause in time parts them. Each run drives the rod as a sine or steadily to and
fro. Displacement is positive when the rod moves in, force positive when the damper pushes against that; a damper then
takes work out of every cycle, which is how a swapped sign is found. Comma, semicolon and tabulator part the columns; a
decimal comma is read when the columns are parted by something else. Lines that begin with ``#`` are comments. What
other titles and units are understood stands in `channels`.

References
----------
.. [1] QC/T 545-1999: sine test, one force per direction at the velocity peak.
.. [2] Dixon, The Shock Absorber Handbook, 2nd ed., chapter 11 (from memory): gas force is the mean of both directions
   of a slow run, friction half its height.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.dampers import dyno_checks as checks
from tussock.mechanics.dampers.curve import Direction, ForceCurve
from tussock.mechanics.dampers.dyno_notes import notes_on
from tussock.mechanics.dampers.dyno_record import (
    MOST_MISFIT,
    Record,
    check_order,
    fit_motion,
    part_by_speed,
    part_runs,
    speed_changes,
)
from tussock.mechanics.dampers.filtering import low_pass, most_cutoff
from tussock.mechanics.dampers.rest_forces import SLOW, Pair, RestForces, from_turns, mean_of, rest_forces
from tussock.mechanics.dampers.sine_run import Run, Sine, peak_force, work_and_stiffness
from tussock.mechanics.dampers.steady_run import Steady, steady_force
from tussock.mechanics.dampers.sweep_mdf import parse_mdf
from tussock.mechanics.dampers.sweep_text import MOST_BYTES, DynoError, Samples, decode, parse
from tussock.mechanics.dampers.synthesis import synthesise
from tussock.mechanics.mdf_head import is_mdf

__all__ = ["DynoError", "DynoTest", "Point", "Run", "read", "read_bytes", "read_file", "synthesise"]

_LEAST_SPEEDS = 3
_SAME_SPEED = 0.02  # of a speed, by which two runs of one speed may differ


@dataclass(frozen=True, kw_only=True, slots=True)
class Point:
    """One measured point of the curve.

    Attributes
    ----------
    velocity : float
        Positive in compression [m/s].
    force : float
        Hydraulic force, gas force and friction taken off, with the velocity's sign [N].
    error : float
        Standard error from the spread about the fit and between cycles; gas force and friction not counted [N].
    run : int
        Number of the run.
    temperature : float or None
        Mean over the run [K].
    """

    velocity: float
    force: float
    error: float
    run: int
    temperature: float | None


@dataclass(frozen=True, kw_only=True, eq=False)
class DynoTest:
    """All runs of one damper and the curve made from them.

    Attributes
    ----------
    name : str
        The file.
    runs : tuple of Run
        In the order of their numbers, the slow one included.
    curve : ForceCurve
        Hydraulic force at the speeds of the runs, with gas force and friction.
    rest : RestForces
        Gas force and friction with their uncertainties and how they were found.
    cutoff : float or None
        Of the low-pass filter that the force went through, see `filtering` [Hz]; None when it was not filtered.
    warnings : tuple of str
        What is odd but not wrong.
    stated_temperature : float or None
        Of the damper while it ran, by whoever ran it [K]; a channel in the file goes first.
    """

    name: str
    runs: tuple[Run, ...]
    curve: ForceCurve
    rest: RestForces
    cutoff: float | None = None
    warnings: tuple[str, ...] = ()
    stated_temperature: float | None = None

    @property
    def scatter(self) -> float:
        """Largest standard error of a force [N]."""
        return max(run.scatter for run in self.runs)

    @property
    def moving(self) -> tuple[Run, ...]:
        """The runs that make the curve: all above the slow one."""
        return tuple(r for r in self.runs if r.peak_velocity > SLOW)

    @property
    def points(self) -> tuple[Point, ...]:
        """The measured points, from rebound to compression."""
        friction = self.curve.friction
        found = [
            Point(
                velocity=sign * speed,
                force=sign * (size - friction),
                error=error,
                run=run.number,
                temperature=run.mean_temperature,
            )
            for run in self.moving
            for sign, speed, size, error in (
                (1.0, run.speed_in, run.compression, run.compression_error),
                (-1.0, run.speed_out, run.rebound, run.rebound_error),
            )
        ]
        return tuple(sorted(found, key=lambda p: p.velocity))

    def error_at(self, velocity: float) -> float:
        """Return the standard error of the curve at a velocity, those of gas force and friction counted in [N]."""
        mine = [p for p in self.points if p.velocity * velocity > 0.0]
        if not mine:
            return self.rest.friction_error
        at, errors = [p.velocity for p in mine], [p.error for p in mine]
        own = float(np.interp(velocity, at, errors))
        return math.sqrt(own**2 + self.rest.friction_error**2 + self.rest.gas_error**2)

    @property
    def mean_temperature(self) -> float | None:
        """Mean over the runs that make the curve [K], else as stated; None when neither is known."""
        found = [t for r in self.moving if (t := r.mean_temperature) is not None]
        return float(np.mean(found)) if found else self.stated_temperature


def read(
    text: str,
    *,
    name: str,
    channels: Mapping[str, str] | None = None,
    rate: float | None = None,
    cutoff: float | None = None,
    split: bool = False,
) -> DynoTest:
    """Read raw sweeps from text and make the force-velocity curve.

    Parameters
    ----------
    text : str
        The file's content.
    name : str
        What the file is called, for messages.
    channels : mapping, optional
        Title of the column by channel, ``{"force": "cell 2 [kN]"}``, where the file's own titles are not understood.
    rate : float, optional
        Samples in a second, for a file without a time column [Hz].
    cutoff : float, optional
        Of a low-pass filter for the force that shifts nothing in time [Hz]; not filtered unless given. A run sampled
        too slowly for it stands as recorded.
    split : bool
        Whether a run in which the speed changes without a pause is parted there; else such a run is refused.

    Raises
    ------
    DynoError
        With every reason why the file cannot be used: missing columns or units, values that are not numbers, gaps in
        time, too few samples, swapped signs, saturated channels, sweeps glued together.

    Examples
    --------
    >>> curve = ForceCurve.from_points(speeds=[0.13, 0.26, 0.52], compression=[200, 300, 450],
    ...                                rebound=[400, 600, 900], gas_force=110.0, friction=30.0)
    >>> test = read(synthesise(curve, speeds=[0.005, 0.13, 0.26, 0.52], stroke=0.1, seed=1), name="invented")
    >>> round(test.curve.force_at(-0.52), -1)
    -900.0
    """
    samples, problems = parse(text, name, channels=channels, rate=rate)
    return _test(samples, problems, name=name, cutoff=cutoff, split=split)


def read_bytes(
    raw: bytes,
    *,
    name: str,
    channels: Mapping[str, str] | None = None,
    rate: float | None = None,
    cutoff: float | None = None,
    split: bool = False,
) -> DynoTest:
    """Read raw sweeps from a file's bytes, text (UTF-8, UTF-16 or Windows-1252) or ASAM MDF; otherwise as `read`."""
    if len(raw) > MOST_BYTES:
        raise DynoError(name, [f"the file has {len(raw) / 1e6:.0f} MB; sweeps have at most {MOST_BYTES / 1e6:.0f} MB"])
    if is_mdf(raw):
        samples, problems = parse_mdf(raw, name, channels=channels)
        if rate is not None:
            problems.append("an MDF file has its own time; leave the sampling rate out")
        return _test(samples, problems, name=name, cutoff=cutoff, split=split)
    return read(decode(raw, name), name=name, channels=channels, rate=rate, cutoff=cutoff, split=split)


def read_file(
    path: Path,
    *,
    channels: Mapping[str, str] | None = None,
    rate: float | None = None,
    cutoff: float | None = None,
    split: bool = False,
) -> DynoTest:
    """Read raw sweeps from a file; as `read_bytes`, and DynoError when the file cannot be had."""
    try:
        if path.is_file() and path.stat().st_size > MOST_BYTES:
            size = path.stat().st_size / 1e6
            raise DynoError(path.name, [f"the file has {size:.0f} MB; sweeps have at most {MOST_BYTES / 1e6:.0f} MB"])
        raw = path.read_bytes()
    except (OSError, ValueError) as error:
        raise DynoError(str(path), [f"cannot be read: {getattr(error, 'strerror', None) or error}"]) from None
    return read_bytes(raw, name=path.name, channels=channels, rate=rate, cutoff=cutoff, split=split)


def _test(samples: Samples, problems: list[str], *, name: str, cutoff: float | None, split: bool) -> DynoTest:
    order = check_order(samples)
    if order:  # what else seems wrong follows from that
        raise DynoError(name, problems + order)
    records, more, notes = part_runs(samples)
    problems = problems + more
    notes = [*samples.notes, *notes]
    if split:
        records = _parted(records, notes)
    pairs: list[Pair] = []
    for record in records:
        wrong = checks.check_record(record)
        if not wrong:
            drive = fit_motion(record)
            wrong = checks.check_motion(record, drive, last=record is records[-1])
            pairs.append((record, drive))
        problems += wrong
    raw = pairs
    if cutoff is not None and not problems:
        pairs, wrong = _filtered(pairs, cutoff)
        problems += wrong
    rest = rest_forces(pairs) if pairs else None
    if rest is None:
        raise DynoError(name, problems)
    runs = [_run(record, drive, rest.gas) for record, drive in pairs]
    moving = [r for r in runs if r.peak_velocity > SLOW]
    given = [r for r in runs if r.energy < 0.0]
    # an aliased slow run spoils the gas force, and so what that says about the signs
    aliased = [] if given else checks.check_slow_run(moving, rest)
    problems += aliased or checks.check_signs(runs, rest)
    if not problems:
        problems += checks.shared_rails(moving) + checks.check_agreement(moving)
    if not problems and (few := _distinct(moving)) < _LEAST_SPEEDS:
        problems.append(
            f"{few} {'speed' if few == 1 else 'different speeds'} above {SLOW * 1e3:.0f} mm/s; "
            f"a curve needs at least {_LEAST_SPEEDS} speeds, such as 0.13, 0.26, 0.52 m/s"
        )
    if problems:
        raise DynoError(name, problems)
    try:
        curve, rest = _curve(moving, rest, from_turns(pairs), name)
    except DomainError as error:
        raise DynoError(name, [f"the forces at the velocity peaks make no curve: {error}"]) from None
    final = tuple(_run(record, drive, rest.gas) for record, drive in pairs)
    if cutoff is not None:
        bare = [_run(record, drive, rest.gas) for record, drive in raw]
        final = tuple(
            replace(f, filter_change=max(abs(f.compression - b.compression), abs(f.rebound - b.rebound)))
            for f, b in zip(final, bare, strict=True)
        )
    return DynoTest(
        name=name,
        runs=final,
        curve=curve,
        rest=rest,
        cutoff=cutoff,
        warnings=tuple([*notes, *notes_on(final, pairs, curve, rest)]),
    )


def _parted(records: list[Record], notes: list[str]) -> list[Record]:
    """Return the records with those parted in which the speed changes without a pause, numbered on."""
    parted: list[Record] = []
    free = max((r.number for r in records), default=0) + 1
    for record in records:
        changes: list[tuple[int, float]] = []
        if not checks.check_record(record) and fit_motion(record).misfit > MOST_MISFIT:
            changes = speed_changes(record)
        if not changes:
            parted.append(record)
            continue
        parts = part_by_speed(record, changes, number=free)
        free += len(parts)
        listed = ", ".join(f"{p.number} from {p.at(0)}" for p in parts)
        notes.append(f"run {record.number} was parted where its speed changes: runs {listed}")
        parted += parts
    return parted


def _filtered(pairs: list[Pair], cutoff: float) -> tuple[list[Pair], list[str]]:
    """Return the records with their force filtered, and the runs that the filter does not suit.

    A run that is sampled too slowly for the filter stands as recorded, unless all are.
    """
    done: list[Pair] = []
    problems: list[str] = []
    reached = max(most_cutoff(record.time) for record, _ in pairs)
    for record, drive in pairs:
        if most_cutoff(record.time) <= cutoff < reached:
            done.append((record, drive))
            continue
        try:
            force = low_pass(record.time, record.force, cutoff=cutoff, frequency=drive.frequency)
        except DomainError as error:
            problems.append(f"run {record.number}: {error}")
            continue
        done.append((replace(record, force=force), drive))
    return done, problems


def _run(record: Record, drive: Sine | Steady, gas: float) -> Run:
    if isinstance(drive, Sine):
        compression, one = peak_force(drive, record.time, record.force, 1)
        rebound, other = peak_force(drive, record.time, record.force, -1)
    else:
        compression, one = steady_force(drive, record.time, record.displacement, record.force, 1)
        rebound, other = steady_force(drive, record.time, record.displacement, record.force, -1)
    energy, stiffness = work_and_stiffness(drive, record.time, record.force)
    return Run(
        number=record.number,
        time=record.time,
        displacement=record.displacement,
        force=record.force,
        drive=drive,
        energy=energy,
        stiffness=stiffness,
        compression=compression - gas,
        rebound=gas - rebound,
        gas=gas,
        compression_error=one,
        rebound_error=other,
        temperature=record.temperature,
    )


def _distinct(moving: Sequence[Run]) -> int:
    """Return how many speeds there are in the direction that has fewer."""
    return min(len(_groups([r.speed_in for r in moving])), len(_groups([r.speed_out for r in moving])))


def _groups(speeds: Sequence[float]) -> list[list[int]]:
    """Return the places of equal speeds, from the lowest up."""
    groups: list[list[int]] = []
    for i in sorted(range(len(speeds)), key=lambda k: speeds[k]):
        if groups and speeds[i] - speeds[groups[-1][-1]] <= _SAME_SPEED * speeds[i]:
            groups[-1].append(i)
        else:
            groups.append([i])
    return groups


def _curve(
    moving: Sequence[Run], rest: RestForces, turns: RestForces | None, name: str
) -> tuple[ForceCurve, RestForces]:
    """Return the curve through the points, and the forces at rest.

    The slow run still moves: its half loop is friction and a little bleed, its mean is gas force and half the
    difference of the directions. Both shares are taken from the curve itself, until nothing changes. How the bleed
    falls to zero below the first speed is not measured, so half of each share counts into the uncertainty. The turns of
    the sine runs measure it; where there are any, the mean by weight with what they say is taken.
    """
    gas, half_loop = rest.gas, rest.friction
    friction, free_gas = half_loop, gas
    if rest.speed_in > 0.0:
        for _ in range(50):
            curve = _through(moving, friction, gas - free_gas, free_gas, name)
            going_in, going_out = curve.force_at(rest.speed_in), -curve.force_at(-rest.speed_out)
            next_friction = max(half_loop - 0.5 * (going_in + going_out), 0.0)
            next_gas = gas - 0.5 * (going_in - going_out)
            change = max(abs(next_friction - friction), abs(next_gas - free_gas))
            friction, free_gas = next_friction, next_gas
            if change < 1e-6:
                break
    final = replace(
        rest,
        gas=free_gas,
        gas_error=math.hypot(rest.gas_error, 0.5 * (gas - free_gas)),
        friction=friction,
        friction_error=math.hypot(rest.friction_error, 0.5 * (half_loop - friction)),
    )
    if turns is not None and rest.method == "slow run":
        # both assume how the bleed falls to zero, each its own way: the mean by weight, half their difference as doubt
        mean = mean_of([final, turns])
        final = replace(
            mean,
            method=turns.method,
            gas_error=math.hypot(mean.gas_error, 0.5 * (turns.gas - final.gas)),
            friction_error=math.hypot(mean.friction_error, 0.5 * (turns.friction - final.friction)),
        )
    return _through(moving, final.friction, gas - final.gas, final.gas, name), final


def _through(runs: Sequence[Run], friction: float, shift: float, gas: float, name: str) -> ForceCurve:
    """Return the curve through the runs' forces, less friction, with the gas force moved by -`shift` [N]."""

    def side(direction: Direction) -> tuple[Floats, Floats]:
        into = direction == "compression"
        speeds = [r.speed_in if into else r.speed_out for r in runs]
        sizes = [r.compression + shift if into else r.rebound - shift for r in runs]
        # runs at the same speed (other strokes) are averaged: two points at one speed have no slope between them
        groups = _groups(speeds)
        at = np.array([np.mean([speeds[i] for i in g]) for g in groups])
        force = np.array([np.mean([sizes[i] for i in g]) for g in groups]) - friction
        if np.any(force <= 0.0):
            worst = int(np.argmin(force))
            raise DomainError(
                f"{direction} at {at[worst]:.3f} m/s has {force[worst]:.0f} N left after gas force and friction"
            )
        return at, force

    going_in, going_out = side("compression"), side("rebound")
    return ForceCurve(
        velocity=np.concatenate([-going_out[0][::-1], [0.0], going_in[0]]),
        force=np.concatenate([-going_out[1][::-1], [0.0], going_in[1]]),
        gas_force=gas,
        friction=friction,
        name=name,
    )
