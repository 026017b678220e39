"""One sine run of a dyno: the sine that was driven, the forces at its velocity peaks, the work of a cycle."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize_scalar

from tussock.mechanics.arrays import Floats

#: half the window of phase about a velocity peak, in which a parabola is fitted to the force
_WINDOW = math.radians(25.0)
_LEAST_IN_WINDOW = 5


@dataclass(frozen=True, kw_only=True)
class Sine:
    """The sine nearest to a displacement record: middle + amplitude sin(2 pi frequency time + phase).

    Attributes
    ----------
    frequency : float
        [Hz].
    amplitude : float
        Half the stroke [m].
    phase : float
        At time 0 [rad].
    middle : float
        [m].
    misfit : float
        Root mean square distance of the record over the amplitude [-].
    cycles : float
        How many the record holds [-].
    """

    frequency: float
    amplitude: float
    phase: float
    middle: float
    misfit: float
    cycles: float

    @property
    def peak_velocity(self) -> float:
        """Largest velocity [m/s]."""
        return 2.0 * math.pi * self.frequency * self.amplitude

    def angle(self, time: Floats) -> Floats:
        """Return the phase angle at `time` [s]: 0 at the velocity peak into compression, pi at the one out [rad]."""
        return np.asarray(2.0 * math.pi * self.frequency * time + self.phase)


@dataclass(frozen=True, kw_only=True, eq=False)
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
        Work turned to heat in one cycle, friction included [J].
    compression, rebound : float
        Size of the force at the velocity peak, gas force taken off, friction left in [N].
    stiffness : float
        Part of the force in phase with the displacement over it [N/m]: gas spring, and whatever opens the loop.
    scatter : float
        Standard uncertainty of those forces from the spread about the fit and between cycles [N].
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
    stiffness: float
    scatter: float

    @property
    def stroke(self) -> float:
        """Full stroke of the fitted sine [m]."""
        return 2.0 * self.amplitude

    @property
    def peak_velocity(self) -> float:
        """Largest velocity of the fitted sine [m/s]."""
        return 2.0 * math.pi * self.frequency * self.amplitude


def fit_sine(time: Floats, displacement: Floats) -> Sine:
    """Return the sine nearest to the samples by least squares; frequency searched, the rest linear.

    Parameters
    ----------
    time, displacement : array (n,)
        [s] rising, [m].
    """
    t = time - time[0]
    length = float(t[-1])
    even = np.linspace(0.0, length, time.size)
    x = np.interp(even, t, displacement)
    spectrum = np.abs(np.fft.rfft((x - x.mean()) * np.hanning(x.size), 8 * x.size))
    guess = float(np.fft.rfftfreq(8 * x.size, even[1])[int(np.argmax(spectrum[1:])) + 1])

    def solve(frequency: float) -> tuple[float, Floats]:
        w = 2.0 * math.pi * frequency * t
        columns = np.stack([np.sin(w), np.cos(w), np.ones_like(w)], axis=1)
        coefficients, *_ = np.linalg.lstsq(columns, displacement, rcond=None)
        return float(np.mean((displacement - columns @ coefficients) ** 2)), coefficients

    # records of one or two cycles have a broad spectral line: search its whole width, then refine
    width = 0.6 / length
    grid = np.linspace(max(guess - width, 0.05 / length), guess + width, 49)
    at = int(np.argmin([solve(float(g))[0] for g in grid]))
    low, high = float(grid[max(at - 1, 0)]), float(grid[min(at + 1, grid.size - 1)])
    found = minimize_scalar(
        lambda f: solve(float(f))[0], bounds=(low, high), method="bounded", options={"xatol": 1e-9 * high}
    )
    frequency = float(found.x)
    square, (s, c, middle) = solve(frequency)
    amplitude = math.hypot(s, c)
    return Sine(
        frequency=frequency,
        amplitude=amplitude,
        phase=math.atan2(c, s) - 2.0 * math.pi * frequency * float(time[0]),
        middle=float(middle),
        misfit=math.sqrt(square) / amplitude if amplitude > 0.0 else math.inf,
        cycles=frequency * length,
    )


def work_and_stiffness(sine: Sine, time: Floats, force: Floats) -> tuple[float, float]:
    """Return the work that the rod does in one cycle [J] and the force in phase with displacement over it [N/m].

    From the whole cycles in the record. The force is brought to even steps of phase, so the gas spring's work cancels
    over a cycle.
    """
    angle = sine.angle(time)
    whole = max(math.floor(sine.cycles + 1e-3), 1)
    steps = 720 * whole
    even = float(angle[0]) + (np.arange(steps) + 0.5) * 2.0 * math.pi / 720.0
    steady = np.interp(even, angle, force)
    work = 2.0 * math.pi * sine.amplitude * float(np.mean(steady * np.cos(even)))
    return work, 2.0 * float(np.mean(steady * np.sin(even))) / sine.amplitude


def peak_force(sine: Sine, time: Floats, force: Floats, side: int) -> tuple[float, float]:
    """Return the force at the velocity peaks of one side (1 in, -1 out) and its standard uncertainty [N].

    One parabola over phase, fitted to all cycles together within 25 degrees of the peak: a single sample would carry
    the sensor's noise. NaN when too few samples lie there.
    """
    centre = 0.0 if side > 0 else math.pi
    angle = sine.angle(time)
    turn = np.angle(np.exp(1j * (angle - centre)))
    near = np.abs(turn) < _WINDOW
    if np.count_nonzero(near) < _LEAST_IN_WINDOW or float(np.ptp(turn[near])) < 1.2 * _WINDOW:
        return math.nan, math.nan
    columns = np.stack([np.ones(int(np.count_nonzero(near))), turn[near], turn[near] ** 2], axis=1)
    coefficients, *_ = np.linalg.lstsq(columns, force[near], rcond=None)
    left = force[near] - columns @ coefficients
    variance = float(left @ left) / max(left.size - 3, 1)
    covariance = np.linalg.inv(columns.T @ columns) * variance
    lap = np.round((angle[near] - centre - turn[near]) / (2.0 * math.pi)).astype(int)
    means = [float(left[lap == k].mean()) for k in np.unique(lap) if np.count_nonzero(lap == k) >= _LEAST_IN_WINDOW]
    between = float(np.std(means)) / math.sqrt(len(means)) if len(means) > 1 else 0.0
    return float(coefficients[0]), math.hypot(math.sqrt(float(covariance[0, 0])), between)
