"""One run of a dyno: the sine that was driven, the forces at its velocity peaks, the work and the loop of a cycle.

What was driven, a sine or a steady to and fro (`steady_run`), is ``middle + amplitude * shape(angle)`` with ``angle``
rising by 2 pi a cycle from 0 in mid-stroke on the way in; ``slope`` is the shape's derivative by the angle.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar, Literal, TypeAlias

import numpy as np
from scipy.optimize import minimize_scalar

from tussock.mechanics.arrays import Floats

if TYPE_CHECKING:
    from tussock.mechanics.dampers.steady_run import Steady

Motion: TypeAlias = Literal["sine", "constant velocity"]

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

    motion: ClassVar[Motion] = "sine"

    frequency: float
    amplitude: float
    phase: float
    middle: float
    misfit: float
    cycles: float

    def shape(self, angle: Floats) -> Floats:
        """Return displacement from the middle over the amplitude [-]."""
        return np.sin(angle)

    def slope(self, angle: Floats) -> Floats:
        """Return the shape's derivative by the angle [-]."""
        return np.cos(angle)

    @property
    def peak_velocity(self) -> float:
        """Largest velocity [m/s]."""
        return 2.0 * math.pi * self.frequency * self.amplitude

    @property
    def speed_in(self) -> float:
        """Largest velocity into compression [m/s]."""
        return self.peak_velocity

    @property
    def speed_out(self) -> float:
        """Largest velocity into rebound, its size [m/s]."""
        return self.peak_velocity

    def angle(self, time: Floats) -> Floats:
        """Return the phase angle at `time` [s]: 0 at the velocity peak into compression, pi at the one out [rad]."""
        return np.asarray(2.0 * math.pi * self.frequency * time + self.phase)


@dataclass(frozen=True, kw_only=True, eq=False)
class Run:
    """One run at one speed: samples in SI and what was fitted to them.

    Attributes
    ----------
    number : int
        Number of the run in the file.
    time, displacement, force : array (n,)
        [s], [m] positive in, [N] positive in compression; the force as filtered, where a filter was asked for.
    drive : Sine or Steady
        The motion nearest to the displacement.
    energy : float
        Work turned to heat in one cycle, friction included [J].
    compression, rebound : float
        Size of the force at `speed_in` and `speed_out` about mid-stroke, gas force taken off, friction left in [N].
    stiffness : float
        Part of the force in phase with the displacement over it [N/m]: gas spring, and whatever opens the loop.
    gas : float
        Gas force that was taken off [N].
    compression_error, rebound_error : float
        Standard error of those forces from the spread about the fit and between cycles [N].
    temperature : array (n,) or None
        [K]; NaN where the file has an empty cell.
    filter_change : float
        By how much a filter moved the two forces at most [N]; 0 without one.
    """

    number: int
    time: Floats
    displacement: Floats
    force: Floats
    drive: Sine | Steady
    energy: float
    compression: float
    rebound: float
    stiffness: float
    gas: float
    compression_error: float
    rebound_error: float
    temperature: Floats | None = None
    filter_change: float = 0.0

    @property
    def motion(self) -> Motion:
        """How the rod was driven."""
        return self.drive.motion

    @property
    def frequency(self) -> float:
        """Of the fitted motion [Hz]."""
        return self.drive.frequency

    @property
    def amplitude(self) -> float:
        """Half the stroke of the fitted motion [m]."""
        return self.drive.amplitude

    @property
    def stroke(self) -> float:
        """Full stroke of the fitted motion [m]."""
        return 2.0 * self.amplitude

    @property
    def speed_in(self) -> float:
        """Speed that `compression` belongs to: peak of a sine, the constant one of a steady stroke in [m/s]."""
        return self.drive.speed_in

    @property
    def speed_out(self) -> float:
        """Speed that `rebound` belongs to [m/s]."""
        return self.drive.speed_out

    @property
    def peak_velocity(self) -> float:
        """Largest speed of the fitted motion [m/s]."""
        return self.drive.peak_velocity

    @property
    def scatter(self) -> float:
        """Larger standard error of the two forces [N]."""
        return max(self.compression_error, self.rebound_error)

    @property
    def mean_temperature(self) -> float | None:
        """Mean over the run [K]; None without a temperature channel or where it holds no number."""
        return _mean(self.temperature)

    @property
    def temperature_rise(self) -> float | None:
        """Last tenth of the run less its first tenth [K]; None as above."""
        if self.temperature is None:
            return None
        tenth = max(self.temperature.size // 10, 1)
        first, last = _mean(self.temperature[:tenth]), _mean(self.temperature[-tenth:])
        return None if first is None or last is None else last - first

    def loop(self, *, points: int = 180) -> tuple[Floats, Floats]:
        """Return one closed force-displacement loop, the mean of the record's whole cycles.

        Parameters
        ----------
        points : int
            Even steps of phase in the cycle.

        Returns
        -------
        displacement, force : array (points + 1,)
            From mid-stroke [m], gas force left in [N]; the last point is the first.
        """
        force = _by_phase(self.drive, self.time, self.force, points)
        phase = self._first + (np.arange(points) + 0.5) * 2.0 * math.pi / points
        move = self.amplitude * self.drive.shape(phase)
        return np.append(move, move[0]), np.append(force, force[0])

    @property
    def _first(self) -> float:
        return float(self.drive.angle(self.time[:1])[0])


def _mean(values: Floats | None) -> float | None:
    if values is None or not np.any(np.isfinite(values)):
        return None
    return float(np.mean(values[np.isfinite(values)]))


def _by_phase(drive: Sine | Steady, time: Floats, force: Floats, points: int) -> Floats:
    """Return the force at even steps of phase from the record's start, mean of its whole cycles [N]."""
    angle = drive.angle(time)
    whole = max(math.floor(drive.cycles + 1e-3), 1)
    even = float(angle[0]) + (np.arange(points * whole) + 0.5) * 2.0 * math.pi / points
    return np.asarray(np.interp(even, angle, force).reshape(whole, points).mean(axis=0))


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


def work_and_stiffness(drive: Sine | Steady, time: Floats, force: Floats) -> tuple[float, float]:
    """Return the work that the rod does in one cycle [J] and the force in phase with displacement over it [N/m].

    From the whole cycles in the record. The force is brought to even steps of phase, so the gas spring's work cancels
    over a cycle.
    """
    steady = _by_phase(drive, time, force, 720)
    even = np.asarray(drive.angle(time[:1])[0] + (np.arange(720) + 0.5) * 2.0 * math.pi / 720.0, dtype=np.float64)
    work = 2.0 * math.pi * drive.amplitude * float(np.mean(steady * drive.slope(even)))
    shape = drive.shape(even)
    shape = shape - np.mean(shape)  # strokes of different length in time leave a mean
    return work, float(np.mean(steady * shape)) / float(np.mean(shape**2)) / drive.amplitude


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


def stroke_forces(run: Run, side: int) -> Floats:
    """Return the force of each whole stroke of one side (1 in, -1 out) at the run's speed, gas force taken off [N].

    Signed as the force is; what makes a run's force, done for every stroke by itself. Empty when no stroke is whole.
    """
    from tussock.mechanics.dampers.steady_run import steady_force

    drive = run.drive
    angle = drive.angle(run.time) - (0.0 if side > 0 else math.pi)
    lap = np.round(angle / (2.0 * math.pi)).astype(np.int64)
    found: list[float] = []
    for k in np.unique(lap):
        pick = lap == k
        if np.count_nonzero(pick) < _LEAST_IN_WINDOW:
            continue
        if isinstance(drive, Sine):
            force, _ = peak_force(drive, run.time[pick], run.force[pick], side)
        else:
            force, _ = steady_force(drive, run.time[pick], run.displacement[pick], run.force[pick], side)
        if math.isfinite(force):
            found.append(force - run.gas)
    return np.array(found)
