"""Raw dyno sweeps: sine runs as time, displacement and force become a force-velocity curve.

A file is text with one header line and one row per sample, columns in any order:

    run, time [s], displacement [mm], force [N]

``run`` numbers the sine runs; without it a pause in time parts them. Displacement is positive when the rod moves in,
force positive when the damper pushes against that; a damper then takes work out of every cycle, which is how a swapped
sign is found. Comma, semicolon and tabulator part the columns; a decimal comma is read when the columns are parted by
something else. Lines that begin with ``#`` are comments.

References
----------
.. [1] QC/T 545-1999: sine test, one force per direction at the velocity peak.
.. [2] Dixon, The Shock Absorber Handbook, 2nd ed., chapter 11 (from memory): gas force is the mean of both directions
   of a slow run, friction half its height.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats, Ints
from tussock.mechanics.dampers.curve import ForceCurve
from tussock.mechanics.dampers.sine_run import Run, Sine, fit_sine, peak_force, work_and_stiffness
from tussock.mechanics.dampers.sweep_text import DynoError, Samples, parse
from tussock.mechanics.dampers.synthesis import synthesise

__all__ = ["DynoError", "DynoTest", "Run", "read", "synthesise"]

_LEAST_SAMPLES_PER_CYCLE = 40
_LEAST_CYCLES = 0.9
_SLOW = 0.012  # peak velocity below which a run shows gas force and friction [m/s]
_MOST_MISFIT = 0.05  # of a record to its sine; above it the run is not one sine
_MOST_LAG = 0.15  # of the force behind the velocity [rad]; the peak force is then 1 % low
_NEGATIVE_GAS = -30.0  # gas cannot pull; below this it is not the zero of the load cell either [N]


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
        Hydraulic force at the velocity peaks, with gas force and friction.
    warnings : tuple of str
        What is odd but not wrong.
    """

    name: str
    runs: tuple[Run, ...]
    curve: ForceCurve
    warnings: tuple[str, ...] = ()

    @property
    def scatter(self) -> float:
        """Largest scatter of a peak force [N]."""
        return max(run.scatter for run in self.runs)


@dataclass(frozen=True, kw_only=True, eq=False)
class _Record:
    """The samples of one run, as they stand in the file."""

    number: int
    time: Floats
    displacement: Floats
    force: Floats
    line: Ints


def read(text: str, *, name: str) -> DynoTest:
    """Read raw sweeps from text and make the force-velocity curve.

    Parameters
    ----------
    text : str
        The file's content.
    name : str
        What the file is called, for messages.

    Raises
    ------
    DynoError
        With every reason why the file cannot be used: missing columns or units, values that are not numbers, gaps in
        time, too few samples, swapped signs.

    Examples
    --------
    >>> curve = ForceCurve.from_points(speeds=[0.13, 0.26, 0.52], compression=[200, 300, 450],
    ...                                rebound=[400, 600, 900], gas_force=110.0, friction=30.0)
    >>> test = read(synthesise(curve, speeds=[0.005, 0.13, 0.26, 0.52], stroke=0.1, seed=1), name="invented")
    >>> round(test.curve.force_at(-0.52), -1)
    -900.0
    """
    samples, problems = parse(text, name)
    records, more = _split(samples)
    problems += more
    sines: list[tuple[_Record, Sine]] = []
    for record in records:
        wrong = _check_record(record)
        if not wrong:
            sine = fit_sine(record.time, record.displacement)
            wrong = _check_sine(record, sine)
            sines.append((record, sine))
        problems += wrong
    gas, half_loop, slow = _rest_forces(sines)
    runs = [_run(record, sine, gas) for record, sine in sines]
    problems += _check_signs(runs, gas)
    moving = [r for r in runs if r.peak_velocity > _SLOW]
    if not problems and len(moving) < 3:
        problems.append(
            f"{len(moving)} {'run' if len(moving) == 1 else 'runs'} above {_SLOW * 1e3:.0f} mm/s; "
            "a curve needs at least 3 speeds, such as 0.13, 0.26, 0.52 m/s"
        )
    if problems:
        raise DynoError(name, problems)
    try:
        curve, gas = _curve(moving, gas, half_loop, slow, name)
    except DomainError as error:
        raise DynoError(name, [f"the forces at the velocity peaks make no curve: {error}"]) from None
    final = tuple(_run(record, sine, gas) for record, sine in sines)
    return DynoTest(name=name, runs=final, curve=curve, warnings=tuple(_warnings(final, curve, slow)))


def _split(samples: Samples) -> tuple[list[_Record], list[str]]:
    """Return the runs by their number, or by the pauses in time where the file has no numbers."""
    problems: list[str] = []
    if samples.run is not None:
        broken = samples.run != np.round(samples.run)
        if np.any(broken):
            at = int(samples.line[int(np.argmax(broken))])
            problems.append(f"line {at}: run numbers must be whole numbers")
        numbers = np.round(samples.run).astype(np.int64)
    else:
        steps = np.diff(samples.time)
        # a dyno may sample every speed at its own rate: a pause is long against one of its neighbours
        before, after = np.append(steps[:1], steps[:-1]), np.append(steps[1:], steps[-1:])
        pause = (steps <= 0.0) | (steps > 5.0 * np.minimum(before, after))
        numbers = 1 + np.concatenate([[0], np.cumsum(pause)]).astype(np.int64)
    records = []
    for number in np.unique(numbers):
        pick = numbers == number
        records.append(
            _Record(
                number=int(number),
                time=samples.time[pick],
                displacement=samples.displacement[pick],
                force=samples.force[pick],
                line=samples.line[pick],
            )
        )
    return records, problems


def _check_record(record: _Record) -> list[str]:
    """Return what keeps a run from being fitted at all."""
    where = f"run {record.number} (from line {record.line[0]})"
    if record.time.size < _LEAST_SAMPLES_PER_CYCLE:
        return [f"{where}: {record.time.size} samples; at least {_LEAST_SAMPLES_PER_CYCLE} in a cycle are needed"]
    problems: list[str] = []
    steps = np.diff(record.time)
    if np.any(steps <= 0.0):
        at = int(np.argmax(steps <= 0.0)) + 1
        return [
            f"run {record.number}, line {record.line[at]}: time does not rise at {record.time[at]:.4f} s; "
            "are two runs mixed under one number?"
        ]
    usual = float(np.median(steps))
    wide = np.flatnonzero(steps > 5.0 * usual)
    for at in wide[:3]:
        problems.append(
            f"run {record.number}, line {record.line[at + 1]}: a gap of {steps[at] * 1e3:.1f} ms at "
            f"{record.time[at]:.3f} s (samples are {usual * 1e3:.2f} ms apart)"
        )
    if wide.size > 3:
        problems.append(f"{where}: {wide.size - 3} more gaps in time")
    move = float(np.ptp(record.displacement))
    if move < 1e-3:
        problems.append(f"{where}: the displacement moves by {move * 1e3:.2f} mm only; is it in the stated unit?")
    elif move > 1.0:
        problems.append(f"{where}: a stroke of {move:.1f} m; is the displacement in mm?")
    if float(np.ptp(record.force)) == 0.0:
        problems.append(f"{where}: the force is {record.force[0]:g} N throughout; is the load cell connected?")
    elif float(np.max(np.abs(record.force))) > 1e5:
        most = float(np.max(np.abs(record.force)))
        problems.append(f"{where}: a force of {most / 1e3:.0f} kN; is the force in the stated unit?")
    return problems


def _check_sine(record: _Record, sine: Sine) -> list[str]:
    """Return what keeps a run from being read as a sine."""
    where = f"run {record.number} (from line {record.line[0]})"
    if sine.cycles < _LEAST_CYCLES:
        return [f"{where}: {sine.cycles:.2f} cycles; at least one whole cycle is needed"]
    if sine.misfit > _MOST_MISFIT:
        return [
            f"{where}: the displacement is not one sine (off by {sine.misfit:.0%} of its amplitude); "
            "are several speeds in one run? number them in a column 'run' or leave a pause between them"
        ]
    per_cycle = record.time.size / sine.cycles
    if per_cycle < _LEAST_SAMPLES_PER_CYCLE:
        return [f"{where}: {per_cycle:.0f} samples in a cycle; at least {_LEAST_SAMPLES_PER_CYCLE} are needed"]
    return []


def _rest_forces(sines: list[tuple[_Record, Sine]]) -> tuple[float, float, float]:
    """Return gas force and half the loop of the slowest run [N] and its speed [m/s].

    Without a slow run: the mean force at the ends of stroke, no loop, speed 0.
    """
    if not sines:
        return 0.0, 0.0, 0.0
    record, sine = min(sines, key=lambda pair: pair[1].peak_velocity)
    if sine.peak_velocity > _SLOW:
        ends = np.abs(record.displacement - sine.middle) > 0.98 * sine.amplitude
        return (float(record.force[ends].mean()) if np.any(ends) else float(record.force.mean())), 0.0, 0.0
    turn = np.cos(sine.angle(record.time))
    middle = np.abs(record.displacement - sine.middle) < 0.7 * sine.amplitude
    going_in, going_out = record.force[middle & (turn > 0.0)], record.force[middle & (turn < 0.0)]
    if going_in.size == 0 or going_out.size == 0:
        return float(record.force.mean()), 0.0, 0.0
    # near the ends of stroke the seals only begin to slide, so the middle alone is averaged
    speed = sine.peak_velocity * float(np.mean(np.abs(turn[middle])))
    rising, falling = float(going_in.mean()), float(going_out.mean())
    return 0.5 * (rising + falling), 0.5 * (rising - falling), speed


def _run(record: _Record, sine: Sine, gas: float) -> Run:
    compression, one = peak_force(sine, record.time, record.force, 1)
    rebound, other = peak_force(sine, record.time, record.force, -1)
    energy, stiffness = work_and_stiffness(sine, record.time, record.force)
    return Run(
        number=record.number,
        time=record.time,
        displacement=record.displacement,
        force=record.force,
        frequency=sine.frequency,
        amplitude=sine.amplitude,
        energy=energy,
        stiffness=stiffness,
        compression=compression - gas,
        rebound=gas - rebound,
        scatter=max(one, other),
    )


def _check_signs(runs: list[Run], gas: float) -> list[str]:
    """Return what the work of a cycle and the gas force say about the signs."""
    problems: list[str] = []
    given = [r for r in runs if r.energy < 0.0]
    rule = "displacement is positive when the rod moves in, force when the damper pushes against that"
    if given:
        # the gas always pushes the rod out: its sign tells which of the two columns is the other way round
        which = "displacement or force has"
        if abs(gas) > abs(_NEGATIVE_GAS):
            which = "displacement has" if gas > 0.0 else "force has"
        listed = ", ".join(f"run {r.number} by {-r.energy:.1f} J" for r in given[:5])
        problems.append(f"the damper gives work to the dyno in every cycle ({listed}); {which} the other sign: {rule}")
    elif gas < _NEGATIVE_GAS:
        problems.append(
            f"the gas force comes out as {gas:.0f} N, but gas cannot pull the rod in; displacement and force both have "
            f"the other sign, or the load cell was not zeroed: {rule}"
        )
    for run in runs:
        if not (math.isfinite(run.compression) and math.isfinite(run.rebound)):
            problems.append(f"run {run.number}: too few samples about the velocity peaks in both directions")
    return problems


def _curve(moving: list[Run], gas: float, half_loop: float, slow: float, name: str) -> tuple[ForceCurve, float]:
    """Return the curve through the velocity peaks, and the gas force.

    The slow run still moves: its half loop is friction and a little bleed, its mean is gas force and half the
    difference of the directions. Both shares are taken from the curve itself, until nothing changes.
    """
    friction, free_gas = half_loop, gas
    for _ in range(50):
        curve = _through(moving, friction, gas - free_gas, free_gas, name)
        going_in, going_out = curve.force_at(slow), -curve.force_at(-slow)
        next_friction = max(half_loop - 0.5 * (going_in + going_out), 0.0) if slow > 0.0 else 0.0
        next_gas = gas - 0.5 * (going_in - going_out)
        change = max(abs(next_friction - friction), abs(next_gas - free_gas))
        friction, free_gas = next_friction, next_gas
        if change < 1e-6:
            break
    return _through(moving, friction, gas - free_gas, free_gas, name), free_gas


def _through(runs: list[Run], friction: float, shift: float, gas: float, name: str) -> ForceCurve:
    """Return the curve through the runs' peak forces, less friction, with the gas force moved by -`shift` [N]."""
    ordered = sorted(runs, key=lambda r: r.peak_velocity)
    speeds = np.array([r.peak_velocity for r in ordered])
    # runs at the same speed (other strokes) are averaged: two points at one speed have no slope between them
    group = np.concatenate([[0], np.cumsum(np.diff(speeds) > 0.02 * speeds[1:])])
    count = int(group[-1]) + 1

    def mean(values: Iterable[float]) -> Floats:
        v = np.fromiter(values, dtype=float)
        return np.array([v[group == g].mean() for g in range(count)])

    curve = ForceCurve.from_points(
        speeds=list(mean(speeds)),
        compression=list(mean(r.compression + shift - friction for r in ordered)),
        rebound=list(mean(r.rebound - shift - friction for r in ordered)),
        name=name,
    )
    return replace(curve, gas_force=gas, friction=friction)


def _warnings(runs: tuple[Run, ...], curve: ForceCurve, slow: float) -> list[str]:
    found: list[str] = []
    if slow == 0.0:
        found.append(
            f"no run at or below {_SLOW * 1e3:.0f} mm/s: gas force is taken from the ends of stroke and the seals' "
            "friction is inside the curve"
        )
    at_rest = min(runs, key=lambda r: r.peak_velocity).stiffness if slow > 0.0 else 0.0
    moving = [r for r in runs if r.peak_velocity > _SLOW]
    if all(r.compression > r.rebound for r in moving):
        found.append(
            "compression exceeds rebound at every speed, which is unusual; are both signs the other way round?"
        )
    for run in moving:
        expected = curve.energy_per_cycle(amplitude=run.amplitude, frequency=run.frequency)
        if abs(run.energy / expected - 1.0) > 0.10:
            found.append(
                f"run {run.number}: the loop takes {run.energy:.1f} J, the curve {expected:.1f} J; "
                "free travel or cavitation changes the loop"
            )
        lag = (run.stiffness - at_rest) * run.amplitude / (0.5 * (run.compression + run.rebound))
        if slow > 0.0 and lag > _MOST_LAG:
            found.append(
                f"run {run.number}: the force lags behind the velocity by {math.degrees(math.atan(lag)):.0f} deg; "
                "a soft mount or air in the oil opens the loop, and its peak force is less than the damper's"
            )
        if run.scatter > 0.05 * min(run.compression, run.rebound) and run.scatter > 5.0:
            found.append(f"run {run.number}: the peak force scatters by {run.scatter:.0f} N")
    return found
