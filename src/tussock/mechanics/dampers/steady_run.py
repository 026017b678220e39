"""One run at constant velocity: the rod driven to and fro steadily, with ramps and pauses at the turns.

The motion is a triangle in the simplest case. The speeds in and out may differ, the turns may be rounded by ramps of
constant acceleration, and the rod may stand at both ends. The force is averaged where the rod moves steadily, which
keeps acceleration at the turns and the rise of the force behind a soft mount out of it (dyno practice, from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from scipy.optimize import least_squares

from tussock.mechanics.arrays import Floats, Ints
from tussock.mechanics.dampers.sine_run import Motion, Sine

#: part of the stroke about its middle over which the force is averaged
CENTRAL = 0.5
#: of a stroke's time that each ramp may take; with longer ones the middle is not steady
MOST_RAMP = 0.25
_LEAST_IN_STROKE = 5
_SEARCHED = 1200  # samples that the motion is sought on; the misfit is taken over all


@dataclass(frozen=True, kw_only=True)
class Steady:
    """The steady motion to and fro nearest to a displacement record; other attributes as those of `Sine`.

    Attributes
    ----------
    share_in : float
        Of the period that the stroke in takes, its ramps included [-].
    ramp : float
        Of a stroke's time that each of its two ramps takes [-]; 0 in a triangle.
    pause : float
        Of the period that the rod stands at each end [-].
    """

    motion: ClassVar[Motion] = "constant velocity"

    frequency: float
    amplitude: float
    phase: float
    middle: float
    misfit: float
    cycles: float
    share_in: float = 0.5
    ramp: float = 0.0
    pause: float = 0.0

    @property
    def share_out(self) -> float:
        """Of the period that the stroke out takes [-]."""
        return 1.0 - self.share_in - 2.0 * self.pause

    @property
    def speed_in(self) -> float:
        """The constant speed on the way in [m/s]."""
        return 2.0 * self.amplitude * self.frequency / (self.share_in * (1.0 - self.ramp))

    @property
    def speed_out(self) -> float:
        """The constant speed on the way out [m/s]."""
        return 2.0 * self.amplitude * self.frequency / (self.share_out * (1.0 - self.ramp))

    @property
    def peak_velocity(self) -> float:
        """The larger of both speeds [m/s]."""
        return max(self.speed_in, self.speed_out)

    def shape(self, angle: Floats) -> Floats:
        """Return displacement from the middle over the amplitude [-]."""
        return _shape(angle, self.share_in, self.ramp, self.pause)

    def slope(self, angle: Floats) -> Floats:
        """Return the shape's derivative by the angle [-]."""
        turn = (angle / (2.0 * math.pi) + 0.5 * self.share_in) % 1.0
        going_in = turn < self.share_in
        begin = np.where(going_in, 0.0, self.share_in + self.pause)
        share = np.where(going_in, self.share_in, self.share_out)
        part = (turn - begin) / share
        inside = (part > 0.0) & (part < 1.0)
        ramp = np.minimum(np.minimum(part, 1.0 - part) / max(self.ramp, 1e-12), 1.0)
        steady = np.where(inside, ramp, 0.0) / (1.0 - self.ramp) / share / math.pi
        return np.asarray(np.where(going_in, steady, -steady))

    def angle(self, time: Floats) -> Floats:
        """Return the phase angle at `time` [s]: 0 in mid-stroke on the way in, pi on the way out [rad]."""
        return np.asarray(2.0 * math.pi * self.frequency * time + self.phase)


def _shape(angle: Floats, share_in: float, ramp: float, pause: float) -> Floats:
    """Return the way of the rod over the amplitude: in about angle 0, out about pi [-]."""
    turn = (angle / (2.0 * math.pi) + 0.5 * share_in) % 1.0
    share_out = 1.0 - share_in - 2.0 * pause
    going_in = turn < share_in + pause
    part = np.where(going_in, turn / share_in, (turn - share_in - pause) / share_out)
    part = np.clip(part, 0.0, 1.0)
    near = np.minimum(part, 1.0 - part)  # both ends of a stroke are alike
    way = np.where(near < ramp, near**2 / (2.0 * max(ramp, 1e-12)), near - 0.5 * ramp) / (1.0 - ramp)
    way = np.where(part > 0.5, 1.0 - way, way)
    return np.asarray(np.where(going_in, 2.0 * way - 1.0, 1.0 - 2.0 * way))


def fit_steady(time: Floats, displacement: Floats, sine: Sine) -> Steady:
    """Return the steady motion nearest to the samples by least squares, sought from the sine nearest to them.

    Parameters
    ----------
    time, displacement : array (n,)
        [s] rising, [m].
    sine : Sine
        Of the same record; over whole cycles it has the motion's frequency and nearly its phase.
    """
    middle_time = 0.5 * float(time[0] + time[-1])
    length = float(time[-1] - time[0])
    t = time - middle_time
    start = float(sine.angle(np.array([middle_time]))[0])

    def solve(change: Floats, at: Floats, move: Floats) -> tuple[Floats, Floats]:
        angle = 2.0 * math.pi * (sine.frequency + change[0] / length) * at + start + change[1]
        way = _shape(angle, float(change[2]), float(change[3]), float(change[4]))
        columns = np.stack([way, np.ones_like(at)], axis=1)
        coefficients, *_ = np.linalg.lstsq(columns, move, rcond=None)
        left: Floats = (move - columns @ coefficients) / sine.amplitude
        return left, np.asarray(coefficients, dtype=float)

    few = np.unique(np.linspace(0, time.size - 1, min(time.size, _SEARCHED)).astype(np.int64))

    def misfit(change: Floats) -> Floats:
        return solve(change, t[few], displacement[few])[0]

    lower, upper = [-0.5, -1.6, 0.1, 0.0, 0.0], [0.5, 1.6, 0.9, 0.5, 0.04]
    # one broad start for each sharing of the period: with a stroke far from half of it the sine's phase is off
    best: tuple[float, Floats] | None = None
    for share in (0.5, 0.35, 0.65, 0.22, 0.78):
        begin = np.array([0.0, 0.0, share, 0.05, 0.01])
        found = least_squares(
            misfit,
            begin,
            bounds=(lower, upper),
            x_scale=[0.05, 0.1, 0.05, 0.05, 0.02],
            diff_step=[1e-6] * 5,
            max_nfev=60,
        )
        if best is None or found.cost < best[0]:
            best = (float(found.cost), np.asarray(found.x))
        if best[0] * 2.0 / few.size < 1e-4 * 0.25:  # root mean square below 0.5 %: nothing is left to find
            break
    assert best is not None
    x = best[1]
    left, (amplitude, middle) = solve(x, t, displacement)
    frequency = sine.frequency + float(x[0]) / length
    size = float(amplitude)
    return Steady(
        frequency=frequency,
        amplitude=size,
        phase=start + float(x[1]) - 2.0 * math.pi * frequency * middle_time,
        middle=float(middle),
        misfit=math.sqrt(float(np.mean(left**2))) * sine.amplitude / size if size > 0.0 else math.inf,
        cycles=frequency * length,
        share_in=float(x[2]),
        ramp=float(x[3]),
        pause=float(x[4]),
    )


def _strokes(steady: Steady, time: Floats, displacement: Floats, side: int) -> list[Ints]:
    """Return the samples in the central part of each stroke of one side (1 in, -1 out)."""
    angle = steady.angle(time) - (0.0 if side > 0 else math.pi)
    lap = np.round(angle / (2.0 * math.pi)).astype(np.int64)
    share = steady.share_in if side > 0 else steady.share_out
    going = np.abs(angle - 2.0 * math.pi * lap) < math.pi * share
    central = going & (np.abs(displacement - steady.middle) < CENTRAL * steady.amplitude)
    picks = [np.flatnonzero(central & (lap == k)) for k in np.unique(lap[central])]
    # a stroke that the record cuts into does not reach across the middle
    across = 1.2 * CENTRAL * steady.amplitude
    return [p for p in picks if p.size >= _LEAST_IN_STROKE and float(np.ptp(displacement[p])) > across]


def steady_force(steady: Steady, time: Floats, displacement: Floats, force: Floats, side: int) -> tuple[float, float]:
    """Return the force in mid-stroke at the constant velocity of one side (1 in, -1 out) and its standard error [N].

    A straight line over displacement through the central half of all strokes of that side, taken at its middle: the
    gas spring's slope then leaves the force alone. NaN when no stroke of that side is whole.
    """
    strokes = _strokes(steady, time, displacement, side)
    if not strokes:
        return math.nan, math.nan
    pick = np.concatenate(strokes)
    move = displacement[pick] - steady.middle
    columns = np.stack([np.ones_like(move), move], axis=1)
    coefficients, *_ = np.linalg.lstsq(columns, force[pick], rcond=None)
    left = force[pick] - columns @ coefficients
    variance = float(left @ left) / max(left.size - 2, 1)
    own = math.sqrt(variance * float(np.linalg.inv(columns.T @ columns)[0, 0]))
    means = [float(np.mean(left[np.isin(pick, p)])) for p in strokes]
    between = float(np.std(means, ddof=1)) / math.sqrt(len(means)) if len(means) > 1 else 0.0
    return float(coefficients[0]), math.hypot(own, between)
