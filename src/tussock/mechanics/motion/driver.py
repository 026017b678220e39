"""A driver who looks ahead and steers: optimal preview after MacAdam, with reaction time, lag and limits.

The driver carries a simple picture of the vehicle, the linear single-track model. A hundred times a second the driver
wishes the steer that, held, would bring the vehicle closest to the path over the time looked ahead: the least sum of
squared distances at even times. Because the picture is linear this is a fixed gain on each distance seen and on the
vehicle's lateral speed, yaw rate and steer, for each speed [1]_, [2]_. The wish is carried out after a reaction time,
through a lag of first order, and within a rate and an angle of the hand wheel. What the driver has wished already and
the hands have not done yet is known and counted on, as a predictor does it [3]_. A slow trim, which is in none of the
sources, takes out what a steady side wind or a cross slope would leave.

References
----------
.. [1] MacAdam, An optimal preview control for linear systems, J. Dyn. Sys. Meas. Control 102 (1980) 188 (from memory).
.. [2] MacAdam, Application of an optimal preview control for simulation of closed-loop automobile driving, IEEE Trans.
   Systems, Man, Cybernetics SMC-11 (1981) 393 (from memory).
.. [3] Smith, Closer control of loops with dead time, Chem. Eng. Progress 53 (1957) 217 (from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.motion.driver_kernels import preview_gains
from tussock.mechanics.motion.path import Path
from tussock.mechanics.motion.single_track import SingleTrack, single_track
from tussock.mechanics.motion.vehicle import Vehicle

POINTS = 10  # looks ahead in the time of preview
SLOWEST, SPEED_STEP = 1.0, 2.0  # least speed for which gains are made, and most between two [m/s]
TRIMS_TO = 0.5  # distance from the path that the trim takes for real [m]: a lane change must not wind it up
KNOWS = 4.0  # lateral acceleration for which the driver has learnt what the tyres answer [m/s^2]: a brisk bend
WISH = 0.01  # between two wishes [s]

NO_DRIVER = (np.zeros(0), np.zeros((0, 0)), np.zeros((2, 0)), np.zeros(0))
"""What `kernels.run` takes when nobody steers."""


_TERMS = 16  # of the series for a matrix of norm 1/2 or less: the next one is below 1e-19


def transition(exponent: Floats) -> Floats:
    """Return the exponential of a small matrix (n, n), by its series after halving and squared back.

    SciPy's asks the threads of the linear algebra for every 6 x 6 system, and those go on spinning: on two cores they
    take the second one from a sweep.
    """
    halvings = max(math.ceil(math.log2(2.0 * max(float(np.abs(exponent).sum(axis=1).max()), 0.5))), 0)
    part = exponent / 2.0**halvings
    term = np.eye(len(exponent))
    total = term.copy()
    for n in range(1, _TERMS):
        term = term @ part / n
        total += term
    for _ in range(halvings):
        total = total @ total
    return np.asarray(total)


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

    preview: float = 1.0
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
        if self.reaction + self.lag + 3.0 * WISH >= self.preview:
            raise DomainError(
                f"driver: looks {self.preview:g} s ahead and needs {self.reaction + self.lag:g} s to act; the preview "
                "must be longer"
            )

    @property
    def late(self) -> int:
        """Number of wishes that are on their way."""
        return round(self.reaction / WISH)

    def _once(self, track: SingleTrack, speed: float) -> Floats:
        """Return the transition (6, 6) of place, speed, heading, yaw rate, steer and a held wish over one wish."""
        a, b = track.full(speed)
        lag = max(self.lag, 0.1 * WISH)
        wide = np.zeros((6, 6))
        wide[:4, :4], wide[:4, 4] = a, b
        wide[4, 4], wide[4, 5] = -1.0 / lag, 1.0 / lag
        return transition(wide * WISH)

    def gains(self, track: SingleTrack, speed: float) -> Floats:
        """Return the wish (POINTS + 4 + late,) over what the driver knows.

        Over each distance ahead [rad/m]; over lateral speed [rad s/m], yaw rate [s] and steer; rate of the trim over
        the distance here [rad/(m s)]; over each wish on its way, the oldest first.
        """
        return _gains(self, track, speed)

    def arrays(
        self,
        vehicle: Vehicle,
        path: Path,
        *,
        step: float,
        start: float,
        ratio: float,
        speeds: tuple[float, float],
        way: float = 0.0,
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
        speeds : pair of float
            Slowest and fastest of the run [m/s].
        way : float
            Direction in which the vehicle rolls straight on, against where it points, small, left positive [rad].
        """
        track = single_track(vehicle, lateral=min(KNOWS, 0.5 * vehicle.front.tyre.friction * vehicle.gravity))
        low = max(speeds[0], SLOWEST)
        cells = max(math.ceil((speeds[1] - low) / SPEED_STEP), 1)
        spacing = max((speeds[1] - low) / cells, 1e-3)
        grid = low + spacing * np.arange(cells + 1)
        pilot = np.array(
            [
                path.spacing,
                self.preview / POINTS,
                low,
                1.0 / spacing,
                self.lag,
                self.rate / ratio,
                self.angle / ratio,
                TRIMS_TO,
                WISH,
                POINTS,
                way,
            ]
        )
        memory = np.zeros(6 + self.late)
        memory[0], memory[4] = start, step
        return pilot, np.stack([self.gains(track, float(s)) for s in grid]), np.stack([path.x, path.y]), memory

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
        gains, late = self.gains(track if seen is None else seen, speed), self.late
        times = self.preview / POINTS * (np.arange(POINTS) + 1.0)
        whole = gains[:POINTS].sum()
        size = 6 + late  # vehicle (4), steer after the lag, trim, wishes on their way
        # a distance ahead is -(y + U t psi)
        wish = np.zeros(size)
        wish[:5] = -whole, gains[POINTS], -speed * (gains[:POINTS] @ times), gains[POINTS + 1], gains[POINTS + 2]
        wish[6:] = gains[POINTS + 4 :]
        wish[5] = 1.0 - gains[POINTS + 2] - gains[POINTS + 4 :].sum()
        acts = np.zeros(size)
        if late:
            acts[6] = 1.0
        else:
            acts = wish
        once = self._once(track, speed)
        loop = np.zeros((size, size))
        loop[:5, :5] = once[:5, :5]
        loop[:5] += np.outer(once[:5, 5], acts)
        loop[5, 0], loop[5, 5] = -WISH * gains[POINTS + 3], 1.0
        for k in range(late - 1):
            loop[6 + k, 7 + k] = 1.0
        if late:
            loop[5 + late] = wish
        return float(np.abs(np.linalg.eigvals(loop)).max() ** (1.0 / WISH))


@lru_cache(
    maxsize=512
)  # one vehicle asks for the same few speeds on section after section, a sweep at point after point
def _gains(driver: Driver, track: SingleTrack, speed: float) -> Floats:
    looks = np.round(driver.preview / POINTS * (np.arange(POINTS) + 1.0) / WISH).astype(np.int64)
    gains = preview_gains(driver._once(track, speed), looks, driver.late, driver.trim)
    gains.flags.writeable = False
    return gains
