"""Manoeuvres: what is asked of a run besides the road, as data for one mechanism.

A manoeuvre is a steady hand wheel, or hand wheel angles over time, or a path and a driver; and forces of the air. What
becomes of it on a vehicle at a speed is a `Demand`: series at the half steps of the run.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from scipy.ndimage import uniform_filter1d

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.motion.air import Body, Gust, Lorry, air_forces, strips
from tussock.mechanics.motion.driver import NO_DRIVER, Driver
from tussock.mechanics.motion.lane import Lane
from tussock.mechanics.motion.path import Path, circle_path, straight_path
from tussock.mechanics.motion.rest import Rest
from tussock.mechanics.motion.road_input import half_steps
from tussock.mechanics.motion.simulate import STEP, History, simulate
from tussock.mechanics.motion.vehicle import Packed, Vehicle
from tussock.mechanics.motion.workspace import Workspace
from tussock.mechanics.roads import Track

LEAD = 20.0  # straight road before a path's first bend [m]


@dataclass(frozen=True, kw_only=True, slots=True)
class HandWheel:
    """Hand wheel angles over time, straight between corners, rounded over a tenth of a second.

    Attributes
    ----------
    at : float
        Place of the front axle along the road at time 0 [m].
    corners : tuple of pairs
        Time [s] and angle beyond straight running [rad], left positive; held after the last.
    """

    at: float
    corners: tuple[tuple[float, float], ...]

    def angles(self, distance: Floats, step: float) -> Floats:
        """Return the angle at half steps whose places are given (n,) [rad]."""
        time = (np.arange(distance.size) + 0.5) * step
        begins = float(np.interp(self.at, distance, time))
        raw = np.interp(time - begins, [c[0] for c in self.corners], [c[1] for c in self.corners])
        return np.asarray(uniform_filter1d(raw, 2 * round(0.05 / step) + 1, mode="nearest"))


@dataclass(frozen=True, kw_only=True, slots=True)
class Circle:
    """A circle after a straight: from `at` on the road bends, `left` or not, to `radius` [m]."""

    at: float
    radius: float
    left: bool = True


@dataclass(frozen=True, kw_only=True)
class Demand:
    """What a manoeuvre asks of one run.

    Attributes
    ----------
    steer : float or array (n,)
        Of the front wheels beyond straight running, without the driver's [rad].
    series : mapping
        Outside forces and moments by the keyword of `simulate` (n,) [N], [N m].
    pilot : tuple of array
        The driver, for `simulate`.
    path : Path
        What the vehicle should follow; straight on where nothing else is asked.
    """

    steer: Floats | float = 0.0
    series: Mapping[str, Floats] = field(default_factory=dict)
    pilot: tuple[Floats, Floats, Floats, Floats] = NO_DRIVER
    path: Path = field(default_factory=straight_path)


@dataclass(frozen=True, kw_only=True)
class Manoeuvre:
    """One manoeuvre. Places count along the road from where the front axle starts.

    Attributes
    ----------
    name : str
        For messages.
    driver : Driver, optional
        Who steers along the path; the hand wheel is held if nobody does.
    ratio : float
        Hand wheel angle over the steer of the front wheels [-].
    body : Body, optional
        What the air sees; without one there is no force of the air.
    winds : tuple of Gust and Lorry
        Their forces add up.
    hand : HandWheel, optional
        Hand wheel angles, instead of a driver.
    lane, circle : Lane, Circle, optional
        Path other than straight on; they need a driver.
    width : float
        Of the vehicle between the cones of a lane, without mirrors [m].
    brakes : bool
        Whether the speeds driven are those of a braking: for words only, the run takes it from the speeds.
    """

    name: str
    ratio: float
    driver: Driver | None = None
    body: Body | None = None
    winds: tuple[Gust | Lorry, ...] = ()
    hand: HandWheel | None = None
    lane: Lane | None = None
    circle: Circle | None = None
    width: float = 0.0
    brakes: bool = False

    def __post_init__(self) -> None:
        """Refuse what cannot go together."""
        if not (math.isfinite(self.ratio) and self.ratio > 0.0):
            raise DomainError(f"{self.name}: a steering ratio of {self.ratio:g}; it must be above 0")
        if self.hand is not None and self.driver is not None:
            raise DomainError(f"{self.name}: hand wheel angles and a driver who steers; one of both is meant")
        if (self.lane is not None or self.circle is not None) and self.driver is None:
            raise DomainError(f"{self.name}: a path needs a driver who steers")
        if self.winds and self.body is None:
            raise DomainError(f"{self.name}: wind needs the body that it blows on")

    def check(self, *, length: float, speed: float, wheelbase: float) -> None:
        """Refuse a road that the manoeuvre does not fit on.

        Parameters
        ----------
        length, speed : float
            Of the road [m], driven at its start [m/s].
        wheelbase : float
            [m].

        Raises
        ------
        DomainError
            Says what is too short or too fast, and what would be right.
        """
        needs = 0.0
        for wind in self.winds:
            if isinstance(wind, Gust):
                needs = max(needs, wind.ends + wheelbase)
            else:
                seconds = wind.passing_time(speed, 1.5 * wheelbase)
                needs = max(needs, wind.meets + 0.5 * wheelbase + speed * seconds)
        if self.lane is not None:
            needs = max(needs, self.lane.end + wheelbase)
        if self.hand is not None:
            needs = max(needs, self.hand.at + speed * self.hand.corners[-1][0])
        if self.circle is not None:
            needs = max(needs, self.circle.at + self.circle.radius)
            assert self.driver is not None
            most = min(self.driver.angle / self.ratio, 0.5 * math.pi - 1e-3)
            least = wheelbase / math.tan(most)
            if self.circle.radius <= least:
                raise DomainError(
                    f"{self.name}: a circle of {self.circle.radius:g} m is smaller than the turning circle; with "
                    f"{math.degrees(self.driver.angle):.0f} deg of hand wheel the vehicle turns on {least:.1f} m"
                )
        if needs > length + 1e-9:
            raise DomainError(
                f"{self.name}: needs {needs:.0f} m of road at {speed * 3.6:.0f} km/h, the section has {length:g} m; "
                "make it longer, start sooner, or drive slower"
            )

    def demand(
        self, vehicle: Vehicle, rest: Rest, *, distance: Floats, speed: Floats, step: float, way: float = 0.0
    ) -> Demand:
        """Return what is asked of a run.

        Parameters
        ----------
        vehicle, rest : Vehicle, Rest
            What is driven, and where it stands.
        distance, speed : array (n,)
            Of the front axle along the road, of the vehicle, at half steps [m], [m/s].
        step : float
            Time step [s].
        way : float
            Direction in which the vehicle rolls straight on, along which the road lies [rad].
        """
        ahead = vehicle.front.axle.design_x - vehicle.body.centre[0]  # of the front axle before the sprung centre
        series = self._air(vehicle, rest, distance=distance, speed=speed, step=step) if self.winds else {}
        steer = 0.0 if self.hand is None else self.hand.angles(distance, step) / self.ratio
        path = self._path(float(distance[-1]), ahead).turned(way)
        pilot = NO_DRIVER
        if self.driver is not None:
            start = path.place_of(np.zeros(1), np.zeros(1))[0]
            pilot = self.driver.arrays(
                vehicle,
                path,
                step=step,
                start=float(start[0]),
                ratio=self.ratio,
                speeds=(float(speed.min()), float(speed.max())),
                way=way,
            )
        return Demand(steer=steer, series=series, pilot=pilot, path=path)

    def _path(self, length: float, ahead: float) -> Path:
        """Return the path of the sprung centre of mass, which starts at 0."""
        if self.lane is not None:
            return self.lane.path(width=self.width, before=self.lane.start + LEAD, after=LEAD, shift=ahead)
        if self.circle is not None:
            straight = self.circle.at + ahead + LEAD
            return circle_path(
                radius=self.circle.radius, straight=straight, length=length + 2.0 * LEAD, left=self.circle.left, x=-LEAD
            )
        return straight_path()

    def _air(
        self, vehicle: Vehicle, rest: Rest, *, distance: Floats, speed: Floats, step: float
    ) -> Mapping[str, Floats]:
        assert self.body is not None
        middle = distance - 0.5 * vehicle.wheelbase
        time: Floats = np.asarray((np.arange(distance.size) + 0.5) * step, dtype=np.float64)
        places = middle[:, None] + strips(self.body)
        across = np.zeros_like(places)
        for wind in self.winds:
            if isinstance(wind, Gust):
                across += wind.wind(places, time[:, None])
            else:
                meets = float(np.interp(wind.meets, middle, time))
                pace = float(np.interp(wind.meets, middle, speed))
                across += wind.wind_across(places, time[:, None], speed=pace, start=meets, body=self.body)
        centre = vehicle.body.centre[0] - vehicle.front.axle.design_x + 0.5 * vehicle.wheelbase
        air = air_forces(self.body, across, speed, centre=(centre, float(rest.q[3])))
        return {
            "forward_force": air.forward,
            "side_force": air.side,
            "roll_moment": air.roll,
            "pitch_moment": air.pitch,
            "yaw_moment": air.yaw,
        }


def perform(
    vehicle: Vehicle,
    road: Track,
    manoeuvre: Manoeuvre | None,
    *,
    speed: float | Floats,
    rest: Rest,
    step: float = STEP,
    every: int = 2,
    steer: float = 0.0,
    sideslip: float = 0.0,
    packed: Packed | None = None,
    memory: Workspace | None = None,
) -> tuple[History, Demand]:
    """Drive a manoeuvre over a road; return what happened and what was asked.

    Parameters
    ----------
    vehicle, road, manoeuvre
        What is driven, where, and how; straight on with the hand wheel held for None.
    speed : float or array (n,)
        Held, or at each half step [m/s].
    rest : Rest
        Where the vehicle stands.
    step, every
        Time step [s]; keep every so many.
    steer, sideslip : float
        Of straight running [rad]; the manoeuvre adds to the steer.
    packed, memory
        As for `simulate`.

    Raises
    ------
    SolverError
        If the run diverges.
    """
    asked = Demand()
    if manoeuvre is not None:
        n, pace = half_steps(speed, length=road.length, step=step)
        pace = np.broadcast_to(pace, (n,))
        place = step * (np.cumsum(pace) - 0.5 * pace)
        asked = manoeuvre.demand(vehicle, rest, distance=place, speed=pace, step=step, way=sideslip)
    run = simulate(
        vehicle,
        road,
        speed=speed,
        step=step,
        rest=rest,
        every=every,
        steer=steer + asked.steer,
        sideslip=sideslip,
        pilot=asked.pilot,
        packed=packed,
        memory=memory,
        **asked.series,
    )
    return run, asked
