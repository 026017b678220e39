"""What is odd about a dyno test but not wrong: each in words with run and figures."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from tussock.mechanics.dampers.curve import ForceCurve
from tussock.mechanics.dampers.rest_forces import SLOW, Pair, RestForces, at_turns, rest_forces
from tussock.mechanics.dampers.sine_run import Run, Sine

_MOST_LAG = 0.15  # of the force behind the velocity [rad]; the peak force is then 1 % low
_MOST_SHIFT = 15.0  # of the force at rest between runs [N]
_TURN_SPEED = 0.3  # peak velocity up to which the turns of a sine show the force at rest [m/s]
_WARMING = 4.0  # over a test [K]; the width of the 20 +- 2 degC that QC/T 545-1999 allows


def notes_on(runs: Sequence[Run], pairs: Sequence[Pair], curve: ForceCurve, rest: RestForces) -> list[str]:
    """Return what a reader of the test should know.

    Parameters
    ----------
    runs : sequence of Run
        With the final gas force.
    pairs : sequence of (record, motion)
        What the runs were made from, in the same order.
    curve, rest : ForceCurve, RestForces
        The result.
    """
    found = _on_rest(rest)
    moving = [r for r in runs if r.peak_velocity > SLOW]
    slow = [r for r in runs if r.peak_velocity <= SLOW]
    at_rest = slow[0].stiffness if slow else 0.0
    if all(r.compression > r.rebound for r in moving):
        found.append(
            "compression exceeds rebound at every speed, which is unusual; are both signs the other way round?"
        )
    for run in moving:
        expected = _energy(run, curve)
        if abs(run.energy / expected - 1.0) > 0.10:
            found.append(
                f"run {run.number}: the loop takes {run.energy:.1f} J, the curve {expected:.1f} J; "
                "free travel or cavitation changes the loop"
            )
        lag = (run.stiffness - at_rest) * run.amplitude / (0.5 * (run.compression + run.rebound))
        if slow and isinstance(run.drive, Sine) and lag > _MOST_LAG:
            found.append(
                f"run {run.number}: the force lags behind the velocity by {math.degrees(math.atan(lag)):.0f} deg; "
                "a soft mount or air in the oil opens the loop, and its peak force is less than the damper's"
            )
        if run.scatter > 0.05 * min(run.compression, run.rebound) and run.scatter > 5.0:
            found.append(f"run {run.number}: the peak force scatters by {run.scatter:.0f} N")
    return found + _on_drift(runs, pairs) + _on_temperature(runs)


def _energy(run: Run, curve: ForceCurve) -> float:
    """Return the work in a cycle of the run's motion by the curve, friction included [J]."""
    if isinstance(run.drive, Sine):
        return curve.energy_per_cycle(amplitude=run.amplitude, frequency=run.frequency)
    angle = np.asarray((np.arange(2000) + 0.5) * 2.0 * math.pi / 2000.0, dtype=np.float64)
    speed = 2.0 * math.pi * run.frequency * run.amplitude * run.drive.slope(angle)
    power = curve.at(speed) * speed + curve.friction * np.abs(speed)
    return float(np.mean(power)) / run.frequency


def _on_rest(rest: RestForces) -> list[str]:
    if rest.method.startswith("slow run"):
        return []
    missing = f"no run at or below {SLOW * 1e3:.0f} mm/s: "
    if rest.method == "turns of the sine runs":
        return [
            f"{missing}gas force {rest.gas:.0f} +- {rest.gas_error:.0f} N and friction {rest.friction:.0f} +- "
            f"{rest.friction_error:.0f} N are taken from the turns of the sine runs"
        ]
    return [
        f"{missing}gas force {rest.gas:.0f} +- {rest.gas_error:.0f} N is carried on from the lowest speeds, and the "
        "seals' friction is inside the curve"
    ]


def _on_drift(runs: Sequence[Run], pairs: Sequence[Pair]) -> list[str]:
    """Return where the force at rest moves from run to run: the load cell's zero drifts, or the gas warms."""
    levels: list[tuple[float, float, float, int]] = []  # time, force at rest, error, run
    for run, (record, drive) in zip(runs, pairs, strict=True):
        if drive.peak_velocity <= SLOW:
            here = rest_forces([(record, drive)])
        elif isinstance(drive, Sine) and drive.peak_velocity <= _TURN_SPEED:
            turned = at_turns(record, drive)
            if turned is None:
                continue
            here = turned
        else:
            continue
        levels.append((float(record.time[0]), here.gas, here.gas_error, run.number))
    if len(levels) < 2:
        return []
    levels.sort()
    low, high = min(levels, key=lambda level: level[1]), max(levels, key=lambda level: level[1])
    if high[1] - low[1] <= max(_MOST_SHIFT, 5.0 * math.hypot(low[2], high[2])):
        return []
    first, last = sorted((low, high))
    return [
        f"the force at rest is {first[1]:.0f} N in run {first[3]} and {last[1]:.0f} N in run {last[3]}: the load cell "
        "drifts, or the gas warms; all forces carry that difference"
    ]


def _on_temperature(runs: Sequence[Run]) -> list[str]:
    """Return how far the damper warmed over the test, and what that did to the force where two runs show it."""
    known = [(t, r) for r in runs if (t := r.mean_temperature) is not None]
    if len(known) < 2:
        return []
    (cold, _), (warm, _) = min(known, key=lambda k: k[0]), max(known, key=lambda k: k[0])
    if warm - cold <= _WARMING:
        return []
    text = f"the damper was between {cold - 273.15:.0f} and {warm - 273.15:.0f} °C"
    change = temperature_effect(runs)
    if change is not None:
        text += f"; where a speed was run twice its force changed by {100.0 * change:+.1f} % per K"
    return [f"{text}; forces at different speeds belong to different temperatures"]


def temperature_effect(runs: Sequence[Run]) -> float | None:
    """Return the relative change of force with temperature, from speeds run at two temperatures [1/K].

    Least squares over all pairs of runs whose speeds differ by less than 2 % and temperatures by more than 4 K; both
    directions, gas force taken off. None without such a pair.
    """
    top = bottom = 0.0
    ordered = [r for r in runs if r.peak_velocity > SLOW and r.mean_temperature is not None]
    for i, one in enumerate(ordered):
        for other in ordered[i + 1 :]:
            step = (other.mean_temperature or 0.0) - (one.mean_temperature or 0.0)
            same = abs(other.peak_velocity - one.peak_velocity) < 0.02 * one.peak_velocity
            if same and one.motion == other.motion and abs(step) > _WARMING:
                mean = 0.5 * (one.compression + one.rebound + other.compression + other.rebound)
                top += step * (other.compression + other.rebound - one.compression - one.rebound) / mean
                bottom += step * step
    return top / bottom if bottom > 0.0 else None
