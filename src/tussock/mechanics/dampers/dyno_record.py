"""The samples of a dyno file parted into runs: by number, by pauses, or where the speed changes without a pause."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace

import numpy as np

from tussock.mechanics.arrays import Floats, Ints
from tussock.mechanics.dampers.sine_run import Sine, fit_sine
from tussock.mechanics.dampers.steady_run import MOST_RAMP, Steady, fit_steady
from tussock.mechanics.dampers.sweep_text import Samples

#: of a record to its motion; above it the run is not one motion
MOST_MISFIT = 0.05
_NO_SINE = 0.02  # misfit of the sine above which a steady motion is tried
_SAME_SPEED = 0.08  # by which half periods of one speed may differ


@dataclass(frozen=True, kw_only=True, eq=False)
class Record:
    """The samples of one run, as they stand in the file; arrays of shape (n,) in SI."""

    number: int
    time: Floats
    displacement: Floats
    force: Floats
    line: Ints
    velocity: Floats | None = None
    temperature: Floats | None = None
    place: str = "line"

    def at(self, index: int) -> str:
        """Return where a sample stands in the file: "line 812"."""
        return f"{self.place} {self.line[index]}"

    @property
    def where(self) -> str:
        """What the run is called in messages."""
        return f"run {self.number} (from {self.at(0)})"

    def part(self, first: int, last: int, *, number: int) -> Record:
        """Return the samples from `first` up to, not with, `last` as a run of their own."""
        cut = slice(first, last)
        return replace(
            self,
            number=number,
            time=self.time[cut],
            displacement=self.displacement[cut],
            force=self.force[cut],
            line=self.line[cut],
            velocity=None if self.velocity is None else self.velocity[cut],
            temperature=None if self.temperature is None else self.temperature[cut],
        )


def check_order(samples: Samples) -> list[str]:
    """Return what is wrong with the order of the samples as a whole: reversed, or two sweeps under the same numbers."""
    problems: list[str] = []
    place, line = samples.place, samples.line
    if samples.time.size > 2 and float(np.mean(np.diff(samples.time) < 0.0)) > 0.5:
        problems.append(
            f"time runs backwards, from {samples.time[0]:.4f} s on {place} {line[0]} to {samples.time[-1]:.4f} s on "
            f"{place} {line[-1]}: the file is reversed; sort its rows by time"
        )
    if samples.run is not None and not problems:
        starts = np.concatenate([[0], np.flatnonzero(np.diff(samples.run) != 0.0) + 1])
        seen: dict[float, int] = {}
        for i in starts:
            number = float(samples.run[i])
            if number in seen:
                problems.append(
                    f"{place} {line[i]}: run {number:g} comes back after it began on {place} {line[seen[number]]}; two "
                    "sweeps are glued together, read each by itself or number their runs on"
                )
                break
            seen[number] = int(i)
    return problems


def part_runs(samples: Samples) -> tuple[list[Record], list[str], list[str]]:
    """Return the runs by their number, or by the pauses in time where the file has no numbers; problems and notes."""
    problems: list[str] = []
    notes: list[str] = []
    if samples.run is not None:
        broken = samples.run != np.round(samples.run)
        if np.any(broken):
            at = int(samples.line[int(np.argmax(broken))])
            problems.append(f"{samples.place} {at}: run numbers must be whole numbers")
        numbers = np.round(samples.run).astype(np.int64)
    else:
        steps = np.diff(samples.time)
        # a dyno may sample every speed at its own rate: a pause is long against one of its neighbours
        # where time begins anew the step tells nothing of the rate
        known = np.where(steps > 0.0, steps, np.inf)
        before, after = np.append(known[:1], known[:-1]), np.append(known[1:], known[-1:])
        pause = (steps <= 0.0) | (steps > 5.0 * np.minimum(before, after))
        numbers = 1 + np.concatenate([[0], np.cumsum(pause)]).astype(np.int64)
        back = np.flatnonzero(steps <= 0.0) + 1
        if back.size:
            listed = ", ".join(f"{samples.place} {samples.line[i]}" for i in back[:5])
            notes.append(f"time begins anew on {listed}: several sweeps in one file, all runs are taken together")
    whole = Record(
        number=0,
        time=samples.time,
        displacement=samples.displacement,
        force=samples.force,
        line=samples.line,
        velocity=samples.velocity,
        temperature=samples.temperature,
        place=samples.place,
    )
    records = []
    for number in np.unique(numbers):
        pick = np.flatnonzero(numbers == number)
        if pick[-1] - pick[0] + 1 == pick.size:
            records.append(whole.part(int(pick[0]), int(pick[-1]) + 1, number=int(number)))
    return records, problems, notes


def fit_motion(record: Record) -> Sine | Steady:
    """Return the sine or the steady motion nearest to a record's displacement, whichever is nearer.

    A motion whose ramps leave no steady middle is none: the sine is returned, and its misfit tells.
    """
    sine = fit_sine(record.time, record.displacement)
    if sine.misfit < _NO_SINE or sine.amplitude <= 0.0:
        return sine
    steady = fit_steady(record.time, record.displacement, sine)
    return steady if steady.misfit < 0.7 * sine.misfit and steady.ramp <= MOST_RAMP else sine


def speed_changes(record: Record) -> list[tuple[int, float]]:
    """Return where a record goes on at another speed without a pause: (first sample, peak velocity [m/s]) of each part.

    The times at which the rod passes the middle give half periods; those that agree belong to one speed, and each
    speed wants at least two of them. Between two speeds the cut lies where both fitted motions together leave least.
    Empty when no such parts are found.
    """
    crossings = _crossings(record.displacement)
    if len(crossings) < 5:
        return []
    halves = np.diff(record.time[crossings])
    groups: list[list[int]] = [[0]]
    for k in range(1, halves.size):
        usual = float(np.mean(halves[groups[-1]]))
        if abs(halves[k] / usual - 1.0) < _SAME_SPEED:
            groups[-1].append(k)
        else:
            groups.append([k])
    kept = [g for g in groups if len(g) >= 2]
    if len(kept) < 2:
        return []
    spans = [(crossings[g[0]], crossings[g[-1] + 1]) for g in kept]
    motions = [fit_motion(record.part(a, b + 1, number=0)) for a, b in spans]
    if any(m.misfit > MOST_MISFIT for m in motions):
        return []
    found = [(0, motions[0].peak_velocity)]
    for (left, right), one, other in zip(itertools.pairwise(spans), motions[:-1], motions[1:], strict=True):
        low, high = left[1], right[0]
        cut = slice(low, high + 1)
        time, move = record.time[cut], record.displacement[cut]
        misfit = [(move - m.middle - m.amplitude * m.shape(m.angle(time))) ** 2 for m in (one, other)]
        before = np.concatenate([[0.0], np.cumsum(misfit[0])])
        after = np.concatenate([[0.0], np.cumsum(misfit[1][::-1])])[::-1]
        found.append((low + int(np.argmin(before + after)), other.peak_velocity))
    return found


def _crossings(displacement: Floats) -> list[int]:
    """Return the samples at which a displacement has passed its middle, noise about it passed over."""
    middle = 0.5 * float(np.max(displacement) + np.min(displacement))
    dead = 0.05 * float(np.ptp(displacement))
    side = np.where(displacement > middle + dead, 1, np.where(displacement < middle - dead, -1, 0))
    sure = np.flatnonzero(side)
    turns = np.flatnonzero(np.diff(side[sure]) != 0)
    found = []
    for t in turns:
        a, b = int(sure[t]), int(sure[t + 1])
        # of the samples between, the one nearest to the middle
        found.append(a + int(np.argmin(np.abs(displacement[a : b + 1] - middle))))
    first = int(sure[0]) if sure.size else 0
    if first > 0:  # the record begins in the middle: that is a crossing too
        found.insert(0, int(np.argmin(np.abs(displacement[: first + 1] - middle))))
    return found


def describe_changes(record: Record, changes: list[tuple[int, float]]) -> str:
    """Return the parts in words: "0.130 m/s from line 2, 0.260 m/s from line 182"."""
    return ", ".join(f"{speed:.3f} m/s from {record.at(first)}" for first, speed in changes)


def part_by_speed(record: Record, changes: list[tuple[int, float]], *, number: int) -> list[Record]:
    """Return the parts of a record, numbered from `number`."""
    ends = [first for first, _ in changes[1:]] + [record.time.size]
    return [
        record.part(first, last, number=number + i)
        for i, ((first, _), last) in enumerate(zip(changes, ends, strict=True))
    ]
