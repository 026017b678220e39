"""One run at constant velocity, the rod driven as a triangle: the fit, and the forces over the middle of the stroke.

The force is averaged where the rod moves steadily, which keeps acceleration at the turns and the rise of the force
behind a soft mount out of it (dyno practice, from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from scipy.optimize import minimize

from tussock.mechanics.arrays import Floats
from tussock.mechanics.dampers.sine_run import Motion, Sine

#: part of the stroke about its middle over which the force is averaged
CENTRAL = 0.5
_LEAST_IN_LEG = 5


@dataclass(frozen=True, kw_only=True)
class Triangle:
    """The triangle nearest to a displacement record; attributes as those of `Sine`."""

    motion: ClassVar[Motion] = "triangle"
    mean_square: ClassVar[float] = 1.0 / 3.0

    frequency: float
    amplitude: float
    phase: float
    middle: float
    misfit: float
    cycles: float

    def shape(self, angle: Floats) -> Floats:
        """Return displacement from the middle over the amplitude [-]."""
        return np.asarray(2.0 / math.pi * np.arcsin(np.sin(angle)))

    def slope(self, angle: Floats) -> Floats:
        """Return the shape's derivative by the angle [-]."""
        return np.asarray(2.0 / math.pi * np.sign(np.cos(angle)))

    @property
    def peak_velocity(self) -> float:
        """The constant velocity, 4 amplitude frequency [m/s]."""
        return 4.0 * self.frequency * self.amplitude

    def angle(self, time: Floats) -> Floats:
        """Return the phase angle at `time` [s]: 0 in mid-stroke on the way in, pi on the way out [rad]."""
        return np.asarray(2.0 * math.pi * self.frequency * time + self.phase)


def fit_triangle(time: Floats, displacement: Floats, sine: Sine) -> Triangle:
    """Return the triangle nearest to the samples by least squares, sought from the sine nearest to them.

    Parameters
    ----------
    time, displacement : array (n,)
        [s] rising, [m].
    sine : Sine
        Of the same record; over whole cycles it has the triangle's frequency and phase.
    """
    middle_time = 0.5 * float(time[0] + time[-1])
    length = float(time[-1] - time[0])
    t = time - middle_time
    start = float(sine.angle(np.array([middle_time]))[0])

    def solve(change: Floats) -> tuple[float, Floats]:
        angle = 2.0 * math.pi * (sine.frequency + change[0] / length) * t + start + change[1]
        columns = np.stack([2.0 / math.pi * np.arcsin(np.sin(angle)), np.ones_like(t)], axis=1)
        coefficients, *_ = np.linalg.lstsq(columns, displacement, rcond=None)
        return float(np.mean((displacement - columns @ coefficients) ** 2)), coefficients

    found = minimize(
        lambda c: solve(c)[0],
        np.zeros(2),
        method="Nelder-Mead",
        options={
            "xatol": 1e-7,
            "fatol": 1e-14 * sine.amplitude**2,
            "initial_simplex": np.array([[0.0, 0.0], [0.05, 0.0], [0.0, 0.1]]),
        },
    )
    square, (amplitude, middle) = solve(found.x)
    frequency = sine.frequency + float(found.x[0]) / length
    return Triangle(
        frequency=frequency,
        amplitude=float(amplitude),
        phase=start + float(found.x[1]) - 2.0 * math.pi * frequency * middle_time,
        middle=float(middle),
        misfit=math.sqrt(square) / amplitude if amplitude > 0.0 else math.inf,
        cycles=frequency * length,
    )


def _legs(triangle: Triangle, time: Floats, displacement: Floats, side: int) -> list[np.ndarray[tuple[int], np.dtype[np.int64]]]:
    """Return the samples in the central part of each stroke of one side (1 in, -1 out)."""
    angle = triangle.angle(time) - (0.0 if side > 0 else math.pi)
    lap = np.round(angle / (2.0 * math.pi)).astype(np.int64)
    going = np.abs(angle - 2.0 * math.pi * lap) < 0.5 * math.pi
    central = going & (np.abs(displacement - triangle.middle) < CENTRAL * triangle.amplitude)
    picks = [np.flatnonzero(central & (lap == k)) for k in np.unique(lap[central])]
    # a stroke that the record cuts into does not reach across the middle
    across = 1.2 * CENTRAL * triangle.amplitude
    return [p for p in picks if p.size >= _LEAST_IN_LEG and float(np.ptp(displacement[p])) > across]


def steady_force(
    triangle: Triangle, time: Floats, displacement: Floats, force: Floats, side: int
) -> tuple[float, float]:
    """Return the force in mid-stroke at the constant velocity of one side (1 in, -1 out) and its standard error [N].

    A straight line over displacement through the central half of all strokes of that side, taken at its middle: the
    gas spring's slope then leaves the force alone. NaN when no stroke of that side is whole.
    """
    legs = _legs(triangle, time, displacement, side)
    if not legs:
        return math.nan, math.nan
    pick = np.concatenate(legs)
    move = displacement[pick] - triangle.middle
    columns = np.stack([np.ones_like(move), move], axis=1)
    coefficients, *_ = np.linalg.lstsq(columns, force[pick], rcond=None)
    left = force[pick] - columns @ coefficients
    variance = float(left @ left) / max(left.size - 2, 1)
    own = math.sqrt(variance * float(np.linalg.inv(columns.T @ columns)[0, 0]))
    means = [float(np.mean(force[p] - coefficients[1] * (displacement[p] - triangle.middle))) for p in legs]
    between = float(np.std(means, ddof=1)) / math.sqrt(len(means)) if len(means) > 1 else 0.0
    return float(coefficients[0]), math.hypot(own, between)


def steady_speed(triangle: Triangle, time: Floats, displacement: Floats, side: int) -> float:
    """Return the speed of one side over the central part of its strokes [m/s]; NaN when no stroke is whole."""
    speeds = []
    for pick in _legs(triangle, time, displacement, side):
        t = time[pick] - float(np.mean(time[pick]))
        speeds.append(abs(float(t @ displacement[pick]) / float(t @ t)))
    return float(np.mean(speeds)) if speeds else math.nan
