"""A driver who looks ahead and steers: optimal preview after MacAdam, with reaction time, lag and limits.

The driver carries a simple picture of the vehicle, the linear single-track model. At every moment the steer is the one
that, held, would bring the vehicle closest to the path over the time that the driver looks ahead: the least sum of
squared distances at even times. Because the picture is linear this is a fixed gain on each distance seen and on the
vehicle's lateral speed and yaw rate, for each speed [1]_, [2]_. The wish is carried out after a reaction time, through
a lag of first order, and within a rate and an angle of the hand wheel. A slow trim, which is not in the source, takes
out what a steady side wind or a cross slope would leave.

References
----------
.. [1] MacAdam, An optimal preview control for linear systems, J. Dyn. Sys. Meas. Control 102 (1980) 188 (from memory).
.. [2] MacAdam, Application of an optimal preview control for simulation of closed-loop automobile driving, IEEE Trans.
   Systems, Man, Cybernetics SMC-11 (1981) 393 (from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.linalg import expm

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.motion.path import Path
from tussock.mechanics.motion.single_track import SingleTrack, single_track
from tussock.mechanics.motion.vehicle import Vehicle

POINTS = 10  # looks ahead in the time of preview
SLOWEST, FASTEST, SPEED_STEP = 2.0, 60.0, 2.0  # for which gains are made [m/s]
TRIMS_TO = 0.5  # distance from the path that the trim takes for real [m]: a lane change must not wind it up
SAMPLE = 0.01  # between the samples of the loop whose stability is looked at [s]

NO_DRIVER = (np.zeros(0), np.zeros((0, 0)), np.zeros((2, 0)), np.zeros(0))
"""What `kernels.run` takes when nobody steers."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Driver:
    """How a driver steers. Defaults lie within what is published for car drivers (MacAdam 1981, from memory).

    Attributes
    ----------
    preview : float
        Time looked ahead [s].
    reaction : float
        Time before a wish is carried out [s].
    lag : float
        Time constant of arms and hands [s].
    rate, angle : float
        Largest rate and angle of the hand wheel [rad/s], [rad].
    trim : float
        How fast a lasting distance from the path is taken out [1/s].
    """

    preview: float = 1.3
    reaction: float = 0.2
    lag: float = 0.05
    rate: float = math.radians(700.0)
    angle: float = math.radians(540.0)
    trim: float = 0.15

    def __post_init__(self) -> None:
        """Refuse a driver who cannot be."""
        for name in ("preview", "rate", "angle"):
            if not (math.isfinite(getattr(self, name)) and getattr(self, name) > 0.0):
                raise DomainError(f"driver: {name} is {getattr(self, name):g}; it must be above 0")
        for name in ("reaction", "lag", "trim"):
            if not (math.isfinite(getattr(self, name)) and getattr(self, name) >= 0.0):
                raise DomainError(f"driver: {name} is {getattr(self, name):g}; it must be 0 or more")
        if self.reaction + self.lag >= self.preview:
            raise DomainError(
                f"driver: looks {self.preview:g} s ahead and needs {self.reaction + self.lag:g} s to act; the preview "
                "must be longer"
            )

    def gains(self, track: SingleTrack, speed: float) -> Floats:
        """Return the steer of the front wheels (POINTS + 3,) over each distance ahead, lateral speed, yaw rate, trim.

        [rad/m], then [rad s/m], [s], and the trim's rate [rad/(m s)].
        """
        a, b = track.full(speed)
        step = self.preview / POINTS
        # response to a steer held from now on: add the steer as a state of its own
        wide = np.zeros((5, 5))
        wide[:4, :4], wide[:4, 4] = a, b
        once = expm(wide * step)
        here = np.eye(5)
        moves = np.zeros((POINTS, 5))
        for n in range(POINTS):
            here = once @ here
            moves[n] = here[0]
        gain = moves[:, 4] / np.sum(moves[:, 4] ** 2)
        return np.array([*gain, -gain @ moves[:, 1], -gain @ moves[:, 3], self.trim * gain.sum()])

    def arrays(
        self, vehicle: Vehicle, path: Path, *, step: float, start: float, ratio: float
    ) -> tuple[Floats, Floats, Floats, Floats]:
        """Return what `kernels.run` takes.

        Parameters
        ----------
        vehicle, path : Vehicle, Path
            Who is driven where.
        step : float
            Time step [s].
        start : float
            Place along the path at the start [m].
        ratio : float
            Hand wheel angle over the steer of the front wheels [-].
        """
        track = single_track(vehicle)
        speeds = np.arange(SLOWEST, FASTEST + 0.5 * SPEED_STEP, SPEED_STEP)
        pilot = np.array(
            [
                path.spacing,
                self.preview / POINTS,
                SLOWEST,
                1.0 / SPEED_STEP,
                self.lag,
                self.rate / ratio,
                self.angle / ratio,
                TRIMS_TO,
            ]
        )
        memory = np.zeros(5 + round(self.reaction / step))
        memory[0] = start
        return pilot, np.stack([self.gains(track, s) for s in speeds]), np.stack([path.x, path.y]), memory

    def loop_radius(self, track: SingleTrack, speed: float, *, seen: SingleTrack | None = None) -> float:
        """Return the spectral radius over one second of vehicle and driver on a straight road; below 1 is stable.

        Parameters
        ----------
        track : SingleTrack
            The vehicle.
        speed : float
            [m/s].
        seen : SingleTrack, optional
            The driver's picture of it, if that is another.
        """
        gains = self.gains(track if seen is None else seen, speed)
        times = self.preview / POINTS * (np.arange(POINTS) + 1.0)
        whole = gains[:POINTS].sum()
        # wish over y, v, psi, r: a distance ahead is -(y + U t psi)
        sees = np.array([-whole, gains[POINTS], -speed * (gains[:POINTS] @ times), gains[POINTS + 1]])
        a, b = track.full(speed)
        late = round(self.reaction / SAMPLE)
        size = 6 + late  # vehicle, steer after the lag, trim, wishes on their way
        wide = np.zeros((5, 5))
        wide[:4, :4], wide[:4, 4] = a, b
        once = expm(wide * SAMPLE)
        share = SAMPLE / (self.lag + SAMPLE)
        loop = np.zeros((size, size))
        loop[:4, :4], loop[:4, 4] = once[:4, :4], once[:4, 4]
        wish = np.zeros(size)
        wish[:4], wish[5] = sees, 1.0
        loop[5, 0], loop[5, 5] = -SAMPLE * gains[POINTS + 2], 1.0
        if late:
            loop[6] = wish
            for n in range(1, late):
                loop[6 + n, 5 + n] = 1.0
            oldest = np.zeros(size)
            oldest[5 + late] = 1.0
        else:
            oldest = wish
        loop[4] = share * oldest
        loop[4, 4] += 1.0 - share
        return float(np.abs(np.linalg.eigvals(loop)).max() ** (1.0 / SAMPLE))
