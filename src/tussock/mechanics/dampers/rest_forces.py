"""Gas force and friction of a damper at rest, told apart from its damping, each with its uncertainty.

A slow run gives both at once: gas force is the mean of its two directions, friction half their distance, each less the
little that the bleed still does [1]_. Without one they come from the turns of sine runs. There the velocity passes
through zero, what the oil does passes through zero with it, and the force steps by twice the friction about the gas
force. A soft mount, or oil that gives, delays that step; so the delay is sought too. The force is fitted there by

    F = gas + rate x + friction sgn(v) + a v + b v |v|, with a and b apart for both directions,

v and x taken before the delay, over windows of several widths about the turn. A narrow window has few samples, a wide
one bends the law; the window is taken whose standard error and change to the next wider one are least together; its
uncertainty is its standard error and what it differs from the widest one.

References
----------
.. [1] Dixon, The Shock Absorber Handbook, 2nd ed., chapter 11 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal, TypeAlias

import numpy as np
from scipy.optimize import minimize_scalar

from tussock.mechanics.arrays import Floats
from tussock.mechanics.dampers.dyno_record import Record
from tussock.mechanics.dampers.sine_run import Sine
from tussock.mechanics.dampers.steady_run import Steady

Pair: TypeAlias = tuple[Record, Sine | Steady]
Method: TypeAlias = Literal[
    "slow run", "slow run and turns of the sine runs", "turns of the sine runs", "lowest speeds carried on to zero"
]

#: peak velocity below which a run shows gas force and friction [m/s]
SLOW = 0.012
_WINDOWS = (0.2, 0.35, 0.5, 0.7)  # of the peak velocity, about a turn
_DELAY_WINDOW = 0.5
_STICK = 1e-3  # velocity over which the seals change from sticking one way to sliding the other [m/s]
_MOST_DELAY = 0.3  # of the force behind the motion [rad]
_LEAST_SAMPLES = 16
_TURNS_USED = 2  # slowest sine runs: at the turns of faster ones few samples are slow


@dataclass(frozen=True, kw_only=True)
class RestForces:
    """Forces at rest, with standard uncertainties.

    Attributes
    ----------
    gas, gas_error : float
        Mean force pushing the rod out at mid-stroke [N].
    friction, friction_error : float
        Half of what the direction of sliding changes [N].
    method : str
        Where they come from.
    speed_in, speed_out : float
        Of the slow run over the part used [m/s]; 0 for the other methods.
    """

    gas: float
    gas_error: float
    friction: float
    friction_error: float
    method: Method
    speed_in: float = 0.0
    speed_out: float = 0.0


def rest_forces(pairs: Sequence[Pair]) -> RestForces:
    """Return gas force and friction from the runs of a file, by the best method that they allow.

    Of a slow run the bleed's share is still inside; `dyno` takes it off by the curve.
    """
    slow = [p for p in pairs if p[1].peak_velocity <= SLOW]
    if slow:
        found = _from_slow_run(*min(slow, key=lambda p: p[1].peak_velocity))
        if found is not None:
            return found
    moving = sorted((p for p in pairs if p[1].peak_velocity > SLOW), key=lambda p: p[1].peak_velocity)
    return from_turns(moving) or _carried_on(moving)


def from_turns(pairs: Sequence[Pair]) -> RestForces | None:
    """Return gas force and friction from the turns of the slowest sine runs; None without any.

    The samples of a slow run, where there is one, are fitted together with each of them: the turns tell what its bleed
    does, it tells the rest.
    """
    ordered = sorted(pairs, key=lambda p: p[1].peak_velocity)
    slow = next((_Still.of(*p) for p in ordered if p[1].peak_velocity <= SLOW), None)
    moving = [(r, d) for r, d in ordered if d.peak_velocity > SLOW and isinstance(d, Sine)]
    turns = [t for r, d in moving if isinstance(d, Sine) and (t := at_turns(r, d, slow=slow)) is not None]
    if not turns:
        return None
    found = mean_of(turns[:_TURNS_USED])
    return found if slow is None else replace(found, method="slow run and turns of the sine runs")


@dataclass(frozen=True, kw_only=True, eq=False)
class _Still:
    """The middle of a slow run's strokes: near the ends the seals only begin to slide. Arrays of shape (n,)."""

    velocity: Floats
    displacement: Floats
    force: Floats

    @classmethod
    def of(cls, record: Record, drive: Sine | Steady) -> _Still | None:
        """Return it, or None with too few samples either way."""
        turn = drive.slope(drive.angle(record.time))
        middle = (np.abs(record.displacement - drive.middle) < 0.7 * drive.amplitude) & (turn != 0.0)
        if min(np.count_nonzero(turn[middle] > 0.0), np.count_nonzero(turn[middle] < 0.0)) < 5:
            return None
        return cls(
            velocity=np.asarray(2.0 * math.pi * drive.frequency * drive.amplitude * turn[middle]),
            displacement=record.displacement[middle] - drive.middle,
            force=record.force[middle],
        )


def _from_slow_run(record: Record, drive: Sine | Steady) -> RestForces | None:
    still = _Still.of(record, drive)
    if still is None:
        return None
    velocity, side = still.velocity, np.sign(still.velocity)
    columns = np.stack([np.ones(side.size), side, still.displacement], axis=1)
    coefficients, errors = _fit(columns, still.force)
    return RestForces(
        gas=float(coefficients[0]),
        gas_error=float(errors[0]),
        friction=float(coefficients[1]),
        friction_error=float(errors[1]),
        method="slow run",
        speed_in=float(np.mean(velocity[side > 0.0])),
        speed_out=-float(np.mean(velocity[side < 0.0])),
    )


def at_turns(record: Record, drive: Sine, *, slow: _Still | None = None) -> RestForces | None:
    """Return gas force and friction from the turns of one sine run; None with too few samples about them."""
    whole = max(math.floor(drive.cycles + 1e-3), 1)
    angle = drive.angle(record.time)
    cycle = angle - angle[0] < 2.0 * math.pi * whole  # part of a cycle would weigh one end of stroke more

    def columns(delay: float, window: float) -> tuple[Floats, Floats] | None:
        late = angle[cycle] - delay
        v = drive.peak_velocity * np.cos(late)
        near = np.abs(v) < window * drive.peak_velocity
        v, x, force = v[near], drive.amplitude * np.sin(late[near]), record.force[cycle][near]
        if v.size < _LEAST_SAMPLES or min(np.count_nonzero(v > _STICK), np.count_nonzero(v < -_STICK)) < 6:
            return None
        if slow is not None:
            v, x, force = (
                np.concatenate([a, b]) for a, b in ((v, slow.velocity), (x, slow.displacement), (force, slow.force))
            )
        going_in, going_out = np.maximum(v, 0.0), np.minimum(v, 0.0)
        parts = [np.ones(v.size), np.tanh(v / _STICK), x, going_in, going_out, going_in**2, going_out**2]
        return np.stack(parts, axis=1), force

    def misfit(delay: float) -> float:
        made = columns(delay, _DELAY_WINDOW)
        if made is None:
            return math.inf
        coefficients, *_ = np.linalg.lstsq(made[0], made[1], rcond=None)
        return float(np.mean((made[1] - made[0] @ coefficients) ** 2))

    grid = np.linspace(-0.1 * _MOST_DELAY, _MOST_DELAY, 45)
    costs = [misfit(float(d)) for d in grid]
    if not np.any(np.isfinite(costs)):
        return None
    at = int(np.argmin(costs))
    bounds = (float(grid[max(at - 1, 0)]), float(grid[min(at + 1, grid.size - 1)]))
    delay = float(minimize_scalar(misfit, bounds=bounds, method="bounded").x)
    found: list[tuple[Floats, Floats]] = []
    for window in _WINDOWS:
        made = columns(delay, window)
        if made is not None and made[0].shape[0] > 2 * made[0].shape[1]:
            found.append(_fit(*made))
    if not found:
        return None
    values, errors = np.array([c[:2] for c, _ in found]), np.array([e[:2] for _, e in found])
    both = np.hypot(errors[:-1], np.abs(np.diff(values, axis=0)))
    if both.shape[0] == 0:
        return None
    gas, friction = (int(k) for k in np.argmin(both, axis=0))
    # two windows may agree by chance: what is stated covers the widest one too
    stated = np.hypot(errors[:-1], np.abs(values[:-1] - values[-1]))
    return RestForces(
        gas=float(values[gas, 0]),
        gas_error=float(stated[gas, 0]),
        friction=max(float(values[friction, 1]), 0.0),
        friction_error=float(stated[friction, 1]),
        method="turns of the sine runs",
    )


def mean_of(found: Sequence[RestForces]) -> RestForces:
    """Return the mean by weight; the error covers what the runs differ by."""

    def join(values: list[float], errors: list[float]) -> tuple[float, float]:
        v, e = np.array(values), np.maximum(np.array(errors), 0.1)
        weight = 1.0 / e**2
        mean = float(np.sum(weight * v) / np.sum(weight))
        own = 1.0 / math.sqrt(float(np.sum(weight)))
        apart = math.sqrt(float(np.sum(weight * (v - mean) ** 2) / np.sum(weight))) if v.size > 1 else 0.0
        return mean, max(own, apart)

    gas, gas_error = join([f.gas for f in found], [f.gas_error for f in found])
    friction, friction_error = join([f.friction for f in found], [f.friction_error for f in found])
    return RestForces(
        gas=gas,
        gas_error=gas_error,
        friction=friction,
        friction_error=friction_error,
        method=found[0].method,
    )


def _carried_on(moving: Sequence[Pair]) -> RestForces:
    """Return as gas force the mean of both directions' forces, carried on from the two lowest speeds to zero.

    Of steady strokes alone: friction cannot be told from the bleed and stays in the curve. The uncertainty is what the
    carrying on changes.
    """
    from tussock.mechanics.dampers.steady_run import steady_force

    points: dict[int, list[tuple[float, float]]] = {1: [], -1: []}
    for record, drive in moving:
        for side, speed in ((1, drive.speed_in), (-1, drive.speed_out)):
            if isinstance(drive, Steady):
                force, _ = steady_force(drive, record.time, record.displacement, record.force, side)
                if math.isfinite(force):
                    points[side].append((speed, force))
    ends: list[tuple[float, float]] = []
    for side in (1, -1):
        lowest = sorted(points[side])[:2]
        if len(lowest) < 2 or lowest[1][0] < 1.02 * lowest[0][0]:
            break
        (v0, f0), (v1, f1) = lowest
        at_zero = f0 - (f1 - f0) / (v1 - v0) * v0
        ends.append((at_zero, abs(f0 - at_zero)))
    if len(ends) < 2:
        forces = np.concatenate([record.force for record, _ in moving]) if moving else np.zeros(1)
        return RestForces(
            gas=float(np.mean(forces)),
            gas_error=float(np.std(forces)),
            friction=0.0,
            friction_error=0.0,
            method="lowest speeds carried on to zero",
        )
    return RestForces(
        gas=0.5 * (ends[0][0] + ends[1][0]),
        gas_error=0.5 * math.hypot(ends[0][1], ends[1][1]),
        friction=0.0,
        friction_error=0.0,
        method="lowest speeds carried on to zero",
    )


def _fit(columns: Floats, force: Floats) -> tuple[Floats, Floats]:
    """Return coefficients of least squares and their standard errors."""
    coefficients, *_ = np.linalg.lstsq(columns, force, rcond=None)
    left = force - columns @ coefficients
    variance = float(left @ left) / max(force.size - columns.shape[1], 1)
    covariance = np.linalg.pinv(columns.T @ columns) * variance
    return np.asarray(coefficients), np.sqrt(np.maximum(np.diag(covariance), 0.0))
