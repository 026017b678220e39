"""What keeps a run of a dyno file from being used, each in words with run, line and figures."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from tussock.mechanics.arrays import Floats
from tussock.mechanics.dampers.analysis import production_band
from tussock.mechanics.dampers.curve import Direction
from tussock.mechanics.dampers.dyno_record import MOST_MISFIT, Record, describe_changes, speed_changes
from tussock.mechanics.dampers.rest_forces import SLOW, RestForces
from tussock.mechanics.dampers.sine_run import Run, Sine
from tussock.mechanics.dampers.steady_run import Steady

LEAST_SAMPLES_PER_CYCLE = 40
LEAST_CYCLES = 0.9
_NEGATIVE_GAS = -30.0  # gas cannot pull; below this it is not the zero of the load cell either [N]
_PLATEAU = 0.04  # of a cycle at exactly the greatest force: a saturated channel
_STILL = 0.15  # of a cycle without any change of the displacement: a dead channel
_SILENT = 0.25  # the same for the force
_COLDEST, _HOTTEST = 203.0, 523.0  # oil that a temperature channel can have seen [K]


def check_record(record: Record) -> list[str]:
    """Return what keeps a run from being fitted at all."""
    where = record.where
    if record.time.size < LEAST_SAMPLES_PER_CYCLE:
        return [f"{where}: {record.time.size} samples; at least {LEAST_SAMPLES_PER_CYCLE} in a cycle are needed"]
    problems: list[str] = []
    steps = np.diff(record.time)
    if np.any(steps <= 0.0):
        at = int(np.argmax(steps <= 0.0)) + 1
        why = "are two runs mixed under one number?"
        if np.all(steps >= 0.0):
            why = "is the time written with too few decimals? state the sampling rate instead"
        return [f"run {record.number}, {record.at(at)}: time does not rise at {record.time[at]:.4f} s; {why}"]
    usual = float(np.median(steps))
    wide = np.flatnonzero(steps > 5.0 * usual)
    for at in wide[:3]:
        problems.append(
            f"run {record.number}, {record.at(at + 1)}: a gap of {steps[at] * 1e3:.1f} ms at "
            f"{record.time[at]:.3f} s (samples are {usual * 1e3:.2f} ms apart)"
        )
    if wide.size > 3:
        problems.append(f"{where}: {wide.size - 3} more gaps in time")
    move = float(np.ptp(record.displacement))
    if move < 1e-3:
        problems.append(f"{where}: the displacement moves by {move * 1e3:.2f} mm only; is it in the stated unit?")
    elif move > 1.0:
        problems.append(f"{where}: a stroke of {move:.1f} m; is the displacement in mm?")
    most = float(np.max(np.abs(record.force)))
    if float(np.ptp(record.force)) == 0.0:
        problems.append(f"{where}: the force is {record.force[0]:g} N throughout; is the load cell connected?")
    elif most > 1e5:
        problems.append(f"{where}: a force of {most / 1e3:.0f} kN; is the force in the stated unit?")
    problems += _check_temperature(record)
    return problems


def _check_temperature(record: Record) -> list[str]:
    if record.temperature is None:
        return []
    wrong = np.flatnonzero((record.temperature < _COLDEST) | (record.temperature > _HOTTEST))
    if not wrong.size:
        return []
    at = int(wrong[0])
    return [
        f"run {record.number}, {record.at(at)}: a temperature of {record.temperature[at] - 273.15:.0f} °C; a damper "
        f"stays between {_COLDEST - 273.15:.0f} and {_HOTTEST - 273.15:.0f} °C, is the sensor connected and its "
        "unit right?"
    ]


def check_motion(record: Record, drive: Sine | Steady, *, last: bool) -> list[str]:
    """Return what keeps a run from being read as a sine or a steady motion; `last` says that the file ends with it."""
    where = record.where
    if drive.cycles < LEAST_CYCLES:
        cut = "; is the file cut off within it?" if last else ""
        return [f"{where}: {drive.cycles:.2f} cycles; at least one whole cycle is needed{cut}"]
    if drive.misfit > MOST_MISFIT:
        still = _check_still(record, drive)
        if still:
            return still
        changes = speed_changes(record)
        if changes:
            return [
                f"{where}: the displacement is not one sine, {len(changes)} speeds are glued together without a pause: "
                f"{describe_changes(record, changes)}; number them in a column 'run', or read the file with 'split'"
            ]
        return [
            f"{where}: the displacement is not one sine and no steady to and fro (off by {drive.misfit:.0%} of its "
            "amplitude); are several speeds in one run? number them in a column 'run' or leave a pause between them"
        ]
    per_cycle = record.time.size / drive.cycles
    if per_cycle < LEAST_SAMPLES_PER_CYCLE:
        return [
            f"{where}: {per_cycle:.0f} samples in a cycle; at least {LEAST_SAMPLES_PER_CYCLE} are needed, sample at "
            f"{LEAST_SAMPLES_PER_CYCLE * drive.frequency:.0f} Hz or faster"
        ]
    return check_channels(record, drive) + check_velocity(record, drive)


def check_channels(record: Record, drive: Sine | Steady) -> list[str]:
    """Return where a channel is saturated or dead within the run."""
    problems = _check_still(record, drive)
    cycle = record.time.size / drive.cycles
    if drive.motion != "sine" or drive.peak_velocity <= SLOW:
        return problems  # there the force may truly stand still
    for rail, word in ((float(np.max(record.force)), "highest"), (float(np.min(record.force)), "lowest")):
        first, count = _longest(record.force, only=rail)
        if count > max(_PLATEAU * cycle, 4) and _would_move(record, drive, count / cycle):
            problems.append(
                f"run {record.number}, {record.at(first)}: the force stands at {rail:.0f} N, its {word}, for {count} "
                f"samples ({count / cycle:.0%} of a cycle): the channel is saturated; choose a larger range and "
                "test again"
            )
    first, count = _longest(record.force)
    if not problems and count > _SILENT * cycle:
        problems.append(
            f"run {record.number}, {record.at(first)}: the force stands still at {record.force[first]:.0f} N for "
            f"{count} samples ({count / cycle:.0%} of a cycle); the channel is dead there, see to its cable"
        )
    return problems


def _check_still(record: Record, drive: Sine | Steady) -> list[str]:
    cycle = record.time.size / drive.cycles
    first, count = _longest(record.displacement)
    if count <= _STILL * cycle:
        return []
    return [
        f"run {record.number}, {record.at(first)}: the displacement stands still at "
        f"{record.displacement[first] * 1e3:.2f} mm for {count} samples ({count / cycle:.0%} of a cycle); the "
        "channel is dead or saturated there"
    ]


def _would_move(record: Record, drive: Sine | Steady, share: float) -> bool:
    """Return whether the force must move by more than two of its steps over a share of the cycle about a peak.

    Even a force that grows only with the fourth root of speed falls by a quarter of what the speed falls.
    """
    distinct = np.unique(record.force)
    step = float(np.min(np.diff(distinct)))
    swing = 0.5 * float(distinct[-1] - distinct[0])
    return 0.25 * (1.0 - math.cos(math.pi * share)) * swing > 2.0 * step


def _longest(values: Floats, *, only: float | None = None) -> tuple[int, int]:
    """Return first sample and length of the longest stretch of equal values, or of values equal to `only`."""
    same = np.diff(values) == 0.0 if only is None else (values[1:] == only) & (values[:-1] == only)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], same.astype(np.int8), [0]])))
    starts, ends = edges[::2], edges[1::2]
    if not starts.size:
        return 0, 1
    k = int(np.argmax(ends - starts))
    return int(starts[k]), int(ends[k] - starts[k]) + 1


def check_velocity(record: Record, drive: Sine | Steady) -> list[str]:
    """Return where a velocity channel contradicts the displacement."""
    if record.velocity is None:
        return []
    there = np.isfinite(record.velocity)
    if np.count_nonzero(there) < LEAST_SAMPLES_PER_CYCLE:
        return []
    own = drive.amplitude * 2.0 * math.pi * drive.frequency * drive.slope(drive.angle(record.time))[there]
    factor = float(own @ record.velocity[there]) / float(own @ own)
    if factor < 0.0:
        return [
            f"{record.where}: the velocity channel has the other sign than the change of the displacement; both are "
            "positive when the rod moves in"
        ]
    if abs(factor - 1.0) > 0.1:
        return [
            f"{record.where}: the velocity channel shows {factor:.2f} times the change of the displacement; one of the "
            "units is wrong, or the time is"
        ]
    return []


def check_signs(runs: Sequence[Run], rest: RestForces) -> list[str]:
    """Return what the work of a cycle and the gas force say about the signs."""
    problems: list[str] = []
    gas = rest.gas
    given = [r for r in runs if r.energy < 0.0]
    rule = "displacement is positive when the rod moves in, force when the damper pushes against that"
    if given:
        # the gas always pushes the rod out: its sign tells which of the two columns is the other way round
        which = "displacement or force has"
        if abs(gas) > abs(_NEGATIVE_GAS):
            which = "displacement has" if gas > 0.0 else "force has"
        listed = ", ".join(f"run {r.number} by {-r.energy:.1f} J" for r in given[:5])
        problems.append(
            f"the damper gives work to the dyno in every cycle ({listed}); {which} the other sign, or the "
            f"rows run backwards in time: {rule}"
        )
    elif gas < _NEGATIVE_GAS - 2.0 * rest.gas_error:
        problems.append(
            f"the gas force comes out as {gas:.0f} N, but gas cannot pull the rod in; displacement and force both have "
            f"the other sign, or the load cell was not zeroed: {rule}"
        )
    for run in runs:
        if not (math.isfinite(run.compression) and math.isfinite(run.rebound)):
            problems.append(f"run {run.number}: too few samples about the velocity peaks in both directions")
    return problems


def check_slow_run(moving: Sequence[Run], rest: RestForces) -> list[str]:
    """Return whether the slow run has more force than a faster one: it only looks slow.

    Parameters
    ----------
    moving : sequence of Run
        Runs above the slow one.
    rest : RestForces
        As measured, the bleed's share of a slow run inside.
    """
    if rest.method != "slow run" or not moving:
        return []
    first = min(moving, key=lambda r: r.peak_velocity)
    half = 0.5 * (first.compression + first.rebound)
    if rest.friction <= max(half, 0.0) + 3.0 * rest.friction_error:
        return []
    return [
        f"the slow run has {rest.friction:.0f} N either way, run {first.number} at {first.peak_velocity:.3f} m/s only "
        f"{half:.0f} N; was the slow run sampled too slowly (aliased), so that it only looks slow?"
    ]


def check_agreement(moving: Sequence[Run]) -> list[str]:
    """Return where runs contradict each other: two dampers, or more force at less speed.

    Parameters
    ----------
    moving : sequence of Run
        Runs above the slow one, signs checked.
    """
    problems: list[str] = []
    sides: tuple[tuple[Direction, str], ...] = (("compression", "speed_in"), ("rebound", "speed_out"))
    for side, speed in sides:
        ordered = sorted(moving, key=lambda r: float(getattr(r, speed)))
        for i, one in enumerate(ordered):
            for other in ordered[i + 1 :]:
                v, w = float(getattr(one, speed)), float(getattr(other, speed))
                a, b = float(getattr(one, side)), float(getattr(other, side))
                band = production_band(max(a, 0.0), side)
                if w < 1.02 * v and abs(a - b) > band:
                    problems.append(
                        f"runs {one.number} and {other.number}, both at {v:.2f} m/s, differ by {abs(a - b):.0f} N in "
                        f"{side}, more than two dampers of one kind may ({band:.0f} N); are two sweeps glued together? "
                        "read each by itself"
                    )
                elif w >= 1.02 * v and a - b > 0.02 * a + 6.0 * (one.scatter + other.scatter):
                    problems.append(
                        f"run {other.number} at {w:.3f} m/s has {a - b:.0f} N less {side} than run {one.number} at "
                        f"{v:.3f} m/s; is one of them sampled too slowly (aliased), or of another damper?"
                    )
    return problems[:6] + ([f"and {len(problems) - 6} more such pairs of runs"] if len(problems) > 6 else [])


def shared_rails(moving: Sequence[Run]) -> list[str]:
    """Return where runs at different speeds reach the very same greatest force and stay there: a saturated channel."""
    problems: list[str] = []
    for least, word in ((False, "highest"), (True, "lowest")):
        rails: dict[float, list[Run]] = {}
        for run in moving:
            rail = float(np.min(run.force) if least else np.max(run.force))
            if _longest(run.force, only=rail)[1] >= 4:
                rails.setdefault(rail, []).append(run)
        for rail, runs in rails.items():
            speeds = [r.peak_velocity for r in runs]
            if len(runs) > 1 and max(speeds) > 1.1 * min(speeds):
                listed = ", ".join(str(r.number) for r in runs)
                problems.append(
                    f"runs {listed} at different speeds all have exactly {rail:.0f} N as their {word} force and stay "
                    "there: the channel is saturated; choose a larger range and test again"
                )
    return problems
