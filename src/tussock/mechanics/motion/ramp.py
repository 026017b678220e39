"""Articulation on a ramp: how far one front wheel can be driven up before the first wheel lifts.

Ramp travel index [-]: distance up the ramp over the wheelbase, times 1000, by common practice (from memory, no source)
on a ramp of 20 degrees. The vehicle stands still at every distance: springs, anti-roll bars, stops, tyres and the ends
of the dampers' strokes in equilibrium with its weight. The ramp lifts its wheel and pushes straight up; that a slope
also pushes back, and that a tyre touches a ramp a little before its middle, is left out.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from tussock.errors import DomainError, SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.motion.rest import Rest, Still
from tussock.mechanics.motion.vehicle import Vehicle

RAMP_ANGLE = math.radians(20.0)
STEP = 0.1  # along the ramp between two rests [m]
FARTHEST = 1.5  # of the wheelbase; no vehicle on four wheels goes so far
_NEAR = 2e-4  # along the ramp within which the lift of a wheel is found [m]
WHEELS = ("front left", "front right", "rear left", "rear right")


@dataclass(frozen=True, kw_only=True)
class RampTravel:
    """A vehicle driven up a ramp with one front wheel.

    Attributes
    ----------
    wheel : int
        The wheel on the ramp, 0 left, 1 right.
    angle, wheelbase : float
        Of the ramp [rad], of the vehicle [m].
    distance : array (n,)
        Along the ramp [m], from the ground to where it ends.
    rests : tuple of Rest
        The vehicle there.
    lifts : str
        Name of the wheel that lifts at the last distance; empty where none has.
    ended : str
        Why it was not followed further; empty where a wheel lifts.
    """

    wheel: int
    angle: float
    wheelbase: float
    distance: Floats
    rests: tuple[Rest, ...]
    lifts: str
    ended: str

    @property
    def index(self) -> float:
        """Ramp travel index [-]; the least that it may be where no wheel lifts."""
        return self.index_at(float(self.distance[-1]))

    def index_at(self, distance: float) -> float:
        """Return the index that a distance along the ramp stands for [-]."""
        return 1000.0 * distance / self.wheelbase

    @property
    def wheel_load(self) -> Floats:
        """(n, 4) [N], front left to rear right."""
        return np.array([rest.wheel_load for rest in self.rests])


def ramp_travel(vehicle: Vehicle, *, wheel: int = 0, angle: float = RAMP_ANGLE) -> RampTravel:
    """Drive a vehicle up a ramp with one front wheel until the first wheel lifts.

    Parameters
    ----------
    vehicle : Vehicle
        The vehicle.
    wheel : {0, 1}
        Left or right front wheel.
    angle : float
        Of the ramp, above 0, at most 45 deg [rad].

    Raises
    ------
    DomainError
        A ramp or wheel that cannot be.
    SolverError
        The vehicle has no rest on level ground, or stands there on three wheels.
    """
    if not 0.0 < angle <= math.radians(45.0):
        raise DomainError(f"a ramp of {math.degrees(angle):g} deg; it must rise, by 45 deg at most")
    if wheel not in (0, 1):
        raise DomainError(f"wheel {wheel} is not a front one: 0 is left, 1 right")
    most, ended = FARTHEST * vehicle.wheelbase, ""
    found: list[tuple[float, Rest]] = []
    still = Still(vehicle)

    def stand(distance: float, near: Rest | None) -> Rest:
        road = np.zeros(4)
        road[wheel] = distance * math.sin(angle)
        return still.rest(road=road, start=None if near is None else near.q)

    found.append((0.0, stand(0.0, None)))
    if float(found[0][1].wheel_load.min()) <= 0.0:
        raise SolverError("the vehicle stands on three wheels on level ground: no ramp travel")
    beyond: float | None = None
    while beyond is None:
        distance = found[-1][0] + STEP
        if distance > most:
            ended = f"no wheel has lifted {most:.2f} m up the ramp"
            break
        try:
            rest = stand(distance, found[-1][1])
        except SolverError as error:
            ended = f"it cannot be followed {distance:.2f} m up the ramp: {error}"
            break
        if float(rest.wheel_load.min()) <= 0.0:
            beyond = distance
        else:
            found.append((distance, rest))
    lifts = ""
    if beyond is not None:
        try:
            last, lifts = _lift(found, beyond, stand)
            found.append(last)
        except SolverError as error:
            ended = f"it cannot be followed where a wheel lifts, up to {beyond:.2f} m up the ramp: {error}"
    return RampTravel(
        wheel=wheel,
        angle=angle,
        wheelbase=vehicle.wheelbase,
        distance=np.array([d for d, _ in found]),
        rests=tuple(rest for _, rest in found),
        lifts=lifts,
        ended=ended,
    )


def _lift(
    found: list[tuple[float, Rest]], beyond: float, stand: Callable[[float, Rest | None], Rest]
) -> tuple[tuple[float, Rest], str]:
    """Return the last place with all wheels on the ground and the name of the wheel that lifts next, by halving."""
    low, rest = found[-1]
    high, lifted = beyond, stand(beyond, rest)
    while high - low > _NEAR:
        middle = 0.5 * (low + high)
        here = stand(middle, rest)
        if float(here.wheel_load.min()) > 0.0:
            low, rest = middle, here
        else:
            high, lifted = middle, here
    return (low, rest), WHEELS[int(np.argmin(lifted.wheel_load))]
