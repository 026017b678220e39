"""Raw dyno sweeps: sine runs as time, displacement and force become a force-velocity curve.

A file is text with one header line and one row per sample, columns in any order:

    run, time [s], displacement [mm], force [N]

``run`` numbers the sine runs (it may be missing when there is one run). Displacement is positive when the rod moves
in, force positive when the damper pushes against that; a damper then takes work out of every cycle, which is how a
swapped sign is found. Comma, semicolon and tabulator part the columns; a decimal comma is read when the columns are
parted by something else.
"""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from tussock.errors import InputError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.dampers.curve import ForceCurve

_UNITS: dict[str, dict[str, float]] = {
    "time": {"s": 1.0, "ms": 1e-3},
    "displacement": {"mm": 1e-3, "m": 1.0, "cm": 1e-2},
    "force": {"N": 1.0, "kN": 1e3},
}
_HEADER = re.compile(r"^\s*(?P<name>[a-zA-Z]+)\s*(?:[\[(]\s*(?P<unit>[^\])]+?)\s*[\])])?\s*$")
_LEAST_SAMPLES_PER_CYCLE = 40
_LEAST_CYCLES = 0.9
_SLOW = 0.012  # peak velocity below which a run shows gas force and friction only [m/s]


class DynoError(InputError):
    """A dyno file cannot be used; `problems` lists every reason found."""

    def __init__(self, name: str, problems: Iterable[str]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(f"{name}: {p}" for p in self.problems))


@dataclass(frozen=True, kw_only=True)
class Run:
    """One sine run: samples in SI and what was fitted to them.

    Attributes
    ----------
    number : int
        Number of the run in the file.
    time, displacement, force : array (n,)
        [s], [m] positive in, [N] positive in compression.
    frequency, amplitude : float
        Of the fitted sine [Hz], [m].
    energy : float
        Work turned to heat in one cycle [J].
    compression, rebound : float
        Size of the force at the velocity peak, gas force taken off, friction left in [N].
    scatter : float
        Standard deviation of those forces over the cycles and fits [N].
    """

    number: int
    time: Floats
    displacement: Floats
    force: Floats
    frequency: float
    amplitude: float
    energy: float
    compression: float
    rebound: float
    scatter: float

    @property
    def peak_velocity(self) -> float:
        """Largest velocity of the fitted sine [m/s]."""
        return 2.0 * math.pi * self.frequency * self.amplitude


@dataclass(frozen=True, kw_only=True)
class DynoTest:
    """All runs of one damper and the curve made from them."""

    name: str
    runs: tuple[Run, ...]
    curve: ForceCurve

    @property
    def scatter(self) -> float:
        """Largest scatter of a peak force [N]."""
        return max(run.scatter for run in self.runs)


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
    """
    samples = _parse(text, name)
    runs, problems = _split(samples)
    fitted: list[Run] = []
    gas, friction = _rest_forces(runs)
    for number, (time, displacement, force) in runs.items():
        wrong = _check_run(number, time, displacement, force)
        if wrong:
            problems.extend(wrong)
        else:
            fitted.append(_fit_run(number, time, displacement, force, gas))
    problems.extend(_check_signs(fitted))
    moving = [r for r in fitted if r.peak_velocity > _SLOW]
    if not problems and len(moving) < 3:
        problems.append(
            f"{len(moving)} runs above {_SLOW * 1e3:.0f} mm/s; "
            "a curve needs at least 3 speeds, such as 0.13, 0.26, 0.52 m/s"
        )
    if problems:
        raise DynoError(name, problems)
    friction = _without_bleed(friction, fitted, moving)
    return DynoTest(name=name, runs=tuple(fitted), curve=_curve(moving, gas, friction, name))


def _parse(text: str, name: str) -> dict[str, Floats]:
    if not text.strip():
        raise DynoError(name, ["the file is empty; expected a header 'run, time [s], displacement [mm], force [N]'"])
    if "\x00" in text[:4096]:
        raise DynoError(name, ["the file is binary; export the sweeps as text (CSV)"])
    lines = text.splitlines()
    delimiter = max(";\t,", key=lines[0].count)
    columns: dict[str, tuple[int, float]] = {}
    problems: list[str] = []
    for i, title in enumerate(lines[0].split(delimiter)):
        match = _HEADER.match(title)
        key = match.group("name").lower() if match else ""
        if key == "run":
            columns["run"] = (i, 1.0)
        elif key in _UNITS and match:
            unit = match.group("unit")
            if unit not in _UNITS[key]:
                known = ", ".join(_UNITS[key])
                found = "no unit" if unit is None else f"unit {unit!r}"
                problems.append(
                    f"line 1: column '{key}' has {found}; write it as '{key} [{next(iter(_UNITS[key]))}]' ({known})"
                )
            columns[key] = (i, _UNITS[key].get(unit or "", 1.0))
    missing = [k for k in _UNITS if k not in columns]
    if missing:
        found = ", ".join(t.strip() for t in lines[0].split(delimiter)) or "nothing"
        problems.append(
            f"line 1: no column for {', '.join(missing)}; found {found[:200]}; "
            "expected 'run, time [s], displacement [mm], force [N]'"
        )
    if problems:
        raise DynoError(name, problems)
    values: dict[str, list[float]] = {k: [] for k in columns}
    width = len(lines[0].split(delimiter))
    decimal_comma = delimiter != "," and any("," in line for line in lines[1:50])
    for at, row in enumerate(csv.reader(io.StringIO("\n".join(lines[1:])), delimiter=delimiter), start=2):
        if not row or all(not c.strip() for c in row):
            continue
        if len(row) != width:
            hint = "; is it a decimal comma? then part the columns by ';'" if len(row) > width else ""
            problems.append(f"line {at}: {len(row)} columns, the header has {width}{hint}")
        else:
            for key, (i, factor) in columns.items():
                cell = row[i].strip()
                try:
                    number = float(cell.replace(",", ".") if decimal_comma else cell)
                except ValueError:
                    problems.append(f"line {at}: {key} is {cell[:40]!r}; a number is needed")
                    continue
                if not math.isfinite(number):
                    problems.append(f"line {at}: {key} is {cell!r}; a finite number is needed")
                values[key].append(number * factor)
        if len(problems) >= 20:
            problems.append("further lines were not read")
            break
    if problems:
        raise DynoError(name, problems)
    if len(values["time"]) < _LEAST_SAMPLES_PER_CYCLE:
        raise DynoError(name, [f"{len(values['time'])} samples; one run alone needs {_LEAST_SAMPLES_PER_CYCLE}"])
    return {k: np.asarray(v) for k, v in values.items()}


def _split(samples: dict[str, Floats]) -> tuple[dict[int, tuple[Floats, Floats, Floats]], list[str]]:
    numbers = samples.get("run", np.ones_like(samples["time"]))
    problems: list[str] = []
    if np.any(numbers != np.round(numbers)):
        problems.append("column run: run numbers must be whole numbers")
    runs: dict[int, tuple[Floats, Floats, Floats]] = {}
    for number in np.unique(np.round(numbers)):
        pick = np.round(numbers) == number
        runs[int(number)] = (samples["time"][pick], samples["displacement"][pick], samples["force"][pick])
    return runs, problems


def _check_run(number: int, time: Floats, displacement: Floats, force: Floats) -> list[str]:
    problems: list[str] = []
    where = f"run {number}"
    if time.size < _LEAST_SAMPLES_PER_CYCLE:
        return [f"{where}: {time.size} samples; at least {_LEAST_SAMPLES_PER_CYCLE} in a cycle are needed"]
    steps = np.diff(time)
    if np.any(steps <= 0.0):
        at = float(time[int(np.argmax(steps <= 0.0))])
        return [f"{where}: time does not rise at {at:.4f} s; are two runs mixed under one number?"]
    usual = float(np.median(steps))
    if float(np.max(steps)) > 5.0 * usual:
        at = float(time[int(np.argmax(steps))])
        problems.append(
            f"{where}: a gap of {np.max(steps) * 1e3:.1f} ms at {at:.3f} s (samples are {usual * 1e3:.2f} ms apart)"
        )
    if float(np.ptp(displacement)) < 1e-3:
        problems.append(
            f"{where}: the displacement moves by {np.ptp(displacement) * 1e3:.2f} mm only; is it in the stated unit?"
        )
    elif float(np.ptp(displacement)) > 1.0:
        problems.append(f"{where}: a stroke of {np.ptp(displacement):.1f} m; is the displacement in mm?")
    if float(np.ptp(force)) == 0.0:
        problems.append(f"{where}: the force is {force[0]:g} N throughout; is the load cell connected?")
    return problems


def _rest_forces(runs: dict[int, tuple[Floats, Floats, Floats]]) -> tuple[float, float]:
    """Return gas force and friction [N] from the slowest run, or the mean of end-of-stroke forces without one."""
    best = (math.inf, 0.0, 0.0)
    for time, displacement, force in runs.values():
        if time.size < _LEAST_SAMPLES_PER_CYCLE or np.any(np.diff(time) <= 0.0):
            continue
        velocity = np.gradient(displacement, time)
        fast = float(np.percentile(np.abs(velocity), 98))
        if fast >= best[0]:
            continue
        middle = np.abs(displacement - displacement.mean()) < 0.35 * float(np.ptp(displacement))
        moving = np.abs(velocity) > 0.5 * fast
        going_in = force[middle & moving & (velocity > 0.0)]
        going_out = force[middle & moving & (velocity < 0.0)]
        if fast <= _SLOW and going_in.size and going_out.size:
            best = (
                fast,
                0.5 * float(going_in.mean() + going_out.mean()),
                0.5 * float(going_in.mean() - going_out.mean()),
            )
        elif not math.isfinite(best[0]):
            ends = np.abs(displacement - displacement.mean()) > 0.49 * float(np.ptp(displacement))
            if np.any(ends):
                best = (math.inf, float(force[ends].mean()), 0.0)
    return best[1], max(best[2], 0.0)


def _without_bleed(half_loop: float, runs: list[Run], moving: list[Run]) -> float:
    """Take the bleed's share out of the slow run's half loop: a straight line through it and the next run, at rest."""
    slowest = min(runs, key=lambda r: r.peak_velocity)
    following = min(moving, key=lambda r: r.peak_velocity)
    if half_loop <= 0.0 or slowest.peak_velocity > _SLOW:
        return half_loop
    mean = 0.5 * (following.compression + following.rebound)
    slope = (mean - half_loop) / (following.peak_velocity - slowest.peak_velocity)
    return max(half_loop - slope * slowest.peak_velocity, 0.0)


def _fit_run(number: int, time: Floats, displacement: Floats, force: Floats, gas: float) -> Run:
    frequency, amplitude, phase = _fit_sine(time, displacement)
    angle = 2.0 * math.pi * frequency * time + phase  # displacement = amplitude sin(angle)
    cycles = frequency * float(time[-1] - time[0])
    whole = max(math.floor(cycles + 1e-6), 1)
    inside = time <= time[0] + whole / frequency * (1.0 + 1e-9)
    energy = float(np.trapezoid(force[inside], displacement[inside])) / whole if cycles >= _LEAST_CYCLES else math.nan
    peaks: dict[int, list[float]] = {1: [], -1: []}
    spread: list[float] = []
    for side in (1, -1):
        centre = 0.0 if side > 0 else math.pi
        turn = np.angle(np.exp(1j * (angle - centre)))
        lap = np.round((angle - centre - turn) / (2.0 * math.pi)).astype(int)
        for k in np.unique(lap):
            near = (lap == k) & (np.abs(turn) < math.radians(20.0))
            if np.count_nonzero(near) < 5 or np.ptp(turn[near]) < math.radians(30.0):
                continue
            fit = np.polynomial.Polynomial.fit(turn[near], force[near], 2)
            peaks[side].append(float(fit(0.0)) - gas)
            spread.append(float(np.std(force[near] - fit(turn[near]))) / math.sqrt(np.count_nonzero(near)))
    both = [float(np.std(p)) for p in peaks.values() if len(p) > 1]
    return Run(
        number=number,
        time=time,
        displacement=displacement,
        force=force,
        frequency=frequency,
        amplitude=amplitude,
        energy=energy,
        compression=float(np.mean(peaks[1])) if peaks[1] else math.nan,
        rebound=-float(np.mean(peaks[-1])) if peaks[-1] else math.nan,
        scatter=float(max([*both, *spread, 0.0])),
    )


def _fit_sine(time: Floats, displacement: Floats) -> tuple[float, float, float]:
    """Return frequency [Hz], amplitude [m] and phase [rad] of the sine nearest to the samples."""
    t = time - time[0]
    length = float(t[-1])
    even = np.linspace(0.0, length, time.size)
    x = np.interp(even, t, displacement) - displacement.mean()
    spectrum = np.abs(np.fft.rfft(x * np.hanning(x.size), 8 * x.size))
    guess = float(np.fft.rfftfreq(8 * x.size, even[1])[int(np.argmax(spectrum[1:])) + 1])

    def solve(frequency: float) -> tuple[float, Floats]:
        w = 2.0 * math.pi * frequency * t
        columns = np.stack([np.sin(w), np.cos(w), np.ones_like(w)], axis=1)
        coefficients, *_ = np.linalg.lstsq(columns, displacement, rcond=None)
        return float(np.sum((displacement - columns @ coefficients) ** 2)), coefficients

    width = 0.6 / length
    for _ in range(7):
        grid = np.linspace(max(guess - width, 0.02 / length), guess + width, 41)
        guess = float(grid[int(np.argmin([solve(float(g))[0] for g in grid]))])
        width /= 10.0
    _, (s, c, _) = solve(guess)
    return guess, math.hypot(s, c), math.atan2(c, s) - 2.0 * math.pi * guess * float(time[0])


def _check_signs(runs: list[Run]) -> list[str]:
    problems: list[str] = []
    for run in runs:
        cycles = run.frequency * float(run.time[-1] - run.time[0])
        per_cycle = run.time.size / max(cycles, 1e-9)
        if cycles < _LEAST_CYCLES:
            problems.append(f"run {run.number}: {cycles:.2f} cycles; at least one whole cycle is needed")
        elif per_cycle < _LEAST_SAMPLES_PER_CYCLE:
            problems.append(
                f"run {run.number}: {per_cycle:.0f} samples in a cycle; at least {_LEAST_SAMPLES_PER_CYCLE} are needed"
            )
        elif run.energy < 0.0:
            problems.append(
                f"run {run.number}: the damper gives {-run.energy:.1f} J to every cycle; displacement or force has the "
                "other sign (both are positive when the rod is pushed in)"
            )
        elif not (math.isfinite(run.compression) and math.isfinite(run.rebound)):
            problems.append(f"run {run.number}: no velocity peak in both directions was found")
    return problems


def _curve(runs: list[Run], gas: float, friction: float, name: str) -> ForceCurve:
    ordered = sorted(runs, key=lambda r: r.peak_velocity)
    speeds = np.array([r.peak_velocity for r in ordered])
    # runs at the same speed (other strokes) are averaged: two points at one speed have no slope between them
    group = np.concatenate([[0], np.cumsum(np.diff(speeds) > 0.02 * speeds[1:])])
    count = int(group[-1]) + 1

    def mean(values: Iterable[float]) -> Floats:
        v = np.fromiter(values, dtype=float)
        return np.array([v[group == g].mean() for g in range(count)])

    return ForceCurve.from_points(
        speeds=list(mean(speeds)),
        compression=list(mean(r.compression - friction for r in ordered)),
        rebound=list(mean(r.rebound - friction for r in ordered)),
        gas_force=gas,
        friction=friction,
        name=name,
    )


def synthesise(
    curve: ForceCurve,
    *,
    speeds: Iterable[float],
    stroke: float,
    seed: int,
    cycles: float = 2.0,
    samples_per_cycle: int = 200,
    stiffness: float = 4e6,
    force_noise: float = 4.0,
    displacement_noise: float = 2e-5,
    force_step: float = 1.0,
) -> str:
    """Write raw sweeps as a dyno would have recorded them: for demo data and tests, not a damper model.

    The rod moves as a sine. Behind it sits the curve in series with a spring (oil and top eye), which opens the loop;
    gas force and friction are added, then sensor noise and the steps of the force channel.

    Parameters
    ----------
    curve : ForceCurve
        The damper, with its gas force and friction.
    speeds : iterable of float
        Peak velocities of the runs [m/s]; the first should be slow (below 12 mm/s).
    stroke : float
        Full stroke [m].
    seed : int
        Of the noise.
    stiffness : float
        Series stiffness [N/m].
    force_noise, displacement_noise : float
        Standard deviation of the sensors [N], [m].
    force_step : float
        Smallest step of the force channel [N].

    Returns
    -------
    str
        CSV text in the form that `read` takes.
    """
    rng = np.random.default_rng(seed)
    rows = ["run, time [s], displacement [mm], force [N]"]
    clock = 0.0
    for number, speed in enumerate(speeds, start=1):
        amplitude = stroke / 2.0
        omega = speed / amplitude
        count = int(cycles * samples_per_cycle)
        inner = 20  # steps of the series spring between samples
        step = 2.0 * math.pi / omega / samples_per_cycle / inner
        grid_v, grid_f = curve.table(most=3.0, points=6001)
        piston = amplitude * math.sin(-0.5)
        for i in range(-samples_per_cycle // 2, count):
            for j in range(inner):
                t = (i + (j + 1) / inner) * inner * step
                rod = amplitude * math.sin(omega * t)
                # implicit step of spring against damper: k (rod - piston) = F(v), piston moves by v * step
                v = _series_velocity(rod - piston, step, stiffness, grid_v, grid_f)
                piston += v * step
            if i < 0:
                continue
            force = stiffness * (rod - piston) + curve.gas_force + curve.friction * math.tanh(v / 1e-4)
            force += rng.normal(0.0, force_noise)
            force = round(force / force_step) * force_step
            shown = rod + rng.normal(0.0, displacement_noise)
            rows.append(f"{number}, {clock + t:.5f}, {shown * 1e3:.3f}, {force:.1f}")
        clock += cycles * 2.0 * math.pi / omega + 1.0
    return "\n".join(rows) + "\n"


def _series_velocity(gap: float, step: float, stiffness: float, grid_v: Floats, grid_f: Floats) -> float:
    """Return the piston velocity after an implicit step of spring against damper [m/s]."""
    left = grid_f + stiffness * step * grid_v  # rises with v, so the root is unique
    return float(np.interp(stiffness * gap, left, grid_v))
