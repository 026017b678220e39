"""Forces of the air on a vehicle: crosswind that it drives into, a lorry that it meets.

Quasi-steady strip model: the body is cut into strips along the wheelbase, and each feels the wind where it is, so that
a gust's edge passes the front before the rear. In a wind alike along the body the strips add up to side force and
moments by the definitions of SAE J1594 (from memory):

    side force   1/2 rho V^2 A C_Y        V^2 = U^2 + w^2,  beta = atan(w / U), w the wind across
    yaw moment   1/2 rho V^2 A L C_N      about the middle of the wheelbase on the ground; L wheelbase
    roll moment  1/2 rho V^2 A L C_R      about the same point

Over the angle, C_Y and C_R go as sin beta (force of the cross flow), C_N as sin beta cos beta (moment of a slender
body): their slopes are those at small angles, and both stay near to straight up to 20 deg, as is measured.

Left out: how the vehicle's own yaw and sideways speed turn the wind (some tenths of a degree), lift, and what builds up
behind the quasi-steady state.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.motion.air_kernels import strip_forces

DENSITY = 1.225  # of air at 15 degC and sea level [kg/m^3], ISO 2533:1975 (from memory)
STRIPS = 11
TAIL = 0.5  # share of the air pushed aside that closes in behind a lorry; the rest is its wake. An assumption
SHELTER = 0.8  # share of the wind that a lorry keeps off beside it. An assumption

Passing = Literal["overtaking", "overtaken", "oncoming"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Body:
    """What the air sees of a vehicle.

    Attributes
    ----------
    area : float
        Frontal area [m^2].
    wheelbase, width, height : float
        [m].
    side, yaw, roll : float
        Slopes of the coefficients over the angle of the wind, all positive for a body that the wind pushes away, turns
        off it and leans away [1/rad].
    drag : float
        Coefficient straight ahead [-].
    """

    area: float
    wheelbase: float
    width: float
    height: float
    side: float
    yaw: float
    roll: float
    drag: float

    def __post_init__(self) -> None:
        """Refuse a body that cannot be."""
        for name in ("area", "wheelbase", "width", "height", "side"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value > 0.0):
                raise DomainError(f"air: {name} is {value:g}; it must be above 0")

    @property
    def pressure_height(self) -> float:
        """Height at which the side force acts [m]."""
        return self.roll / self.side * self.wheelbase


@dataclass(frozen=True, kw_only=True, slots=True)
class Gust:
    """A zone of wind across the road.

    Attributes
    ----------
    at, length : float
        Where it starts along the road and how long it is [m].
    speed : float
        Across the road, to the left positive [m/s].
    edge : float
        Length over which the wind comes and goes, outside the zone [m].
    """

    at: float
    length: float
    speed: float
    edge: float = 2.0

    def __post_init__(self) -> None:
        """Refuse a gust without length."""
        if not (math.isfinite(self.length) and self.length > 0.0):
            raise DomainError(f"gust: its zone is {self.length:g} m long; it must have a length, ISO 12021 asks 15 m")
        if not (math.isfinite(self.speed) and abs(self.speed) <= 60.0):
            raise DomainError(f"gust: wind of {self.speed:g} m/s; up to 60 m/s to either side is meant")
        if not (math.isfinite(self.edge) and self.edge >= 0.0):
            raise DomainError(f"gust: an edge of {self.edge:g} m; it cannot be negative")

    @property
    def ends(self) -> float:
        """Where its last wind blows [m]."""
        return self.at + self.length + self.edge

    def wind(self, place: Floats, time: Floats) -> Floats:
        """Return the wind across at places along the road (n, strips) and times (n, 1) [m/s]."""
        return self.speed * _window(place, self.at, self.at + self.length, max(self.edge, 1e-3))


@dataclass(frozen=True, kw_only=True, slots=True)
class Lorry:
    """A lorry that passes, or is passed.

    What it pushes aside is the flow of a source at its nose and a weaker sink at its tail, both twice as strong as its
    frontal area asks because the ground mirrors them (Rankine's body, textbook potential flow). Beside it the vehicle
    stands in its shelter from the wind. Measured peaks for vehicles of this class were not found; published work says
    that a quasi-steady shape is right without wind and too small at motorway speed, and that with wind the real pulse
    may be several times larger (Corin, He, Dominy 2008, seen in extracts): so `scale` is the user's.

    Attributes
    ----------
    meets : float
        Place of the vehicle's middle when the first end of the lorry is beside it [m].
    speed : float
        Of the lorry, above 0 [m/s].
    length, width, height : float
        [m].
    gap : float
        Between the sides of lorry and vehicle [m].
    way : {"overtaking", "overtaken", "oncoming"}
        The lorry overtakes the vehicle, is overtaken, or comes towards it.
    side : {"left", "right"}
        Where the lorry passes.
    wind : float
        Steady wind across the road, to the left positive [m/s].
    scale : float
        Multiplies what the lorry pushes aside [-].
    """

    meets: float
    speed: float
    way: Passing
    side: Literal["left", "right"]
    length: float = 16.5
    width: float = 2.55
    height: float = 4.0
    gap: float = 1.2
    wind: float = 0.0
    scale: float = 1.0

    def __post_init__(self) -> None:
        """Refuse a lorry that cannot be."""
        for name in ("speed", "length", "width", "height", "gap"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value > 0.0):
                raise DomainError(f"lorry: {name} is {value:g}; it must be above 0")
        if not (math.isfinite(self.scale) and self.scale >= 0.0):
            raise DomainError(f"lorry: scale is {self.scale:g}; it cannot be negative")

    def closing_speed(self, speed: float) -> float:
        """Return how fast vehicle and lorry pass each other [m/s]; DomainError if they never do."""
        if self.way == "oncoming":
            return self.speed + speed
        difference = self.speed - speed if self.way == "overtaking" else speed - self.speed
        if difference < 0.5:
            what = "overtakes the vehicle" if self.way == "overtaking" else "is overtaken"
            better = "faster" if self.way == "overtaking" else "slower"
            raise DomainError(
                f"lorry: it {what} at {self.speed * 3.6:.0f} km/h while the vehicle drives {speed * 3.6:.0f} km/h; it "
                f"must be {better} by 2 km/h or more"
            )
        return difference

    def passing_time(self, speed: float, length: float) -> float:
        """Return the time from the first to the last overlap with a vehicle of a length [s]."""
        return (self.length + length) / self.closing_speed(speed)

    def wind_across(self, place: Floats, time: Floats, *, speed: float, start: float, body: Body) -> Floats:
        """Return the wind across at places along the road (n, strips) and times (n, 1) [m/s].

        Parameters
        ----------
        speed, start : float
            Of the vehicle [m/s], and when its middle is where they meet [s].
        body : Body
            The vehicle.
        """
        self.closing_speed(speed)
        ahead = -1.0 if self.way == "oncoming" else 1.0
        # nose where the first end is beside the vehicle at `start`: the nose, or of an overtaken lorry the tail
        first = self.length if self.way == "overtaken" else 0.0
        nose = self.meets + ahead * (first + self.speed * (time - start))
        behind = ahead * (nose - place)  # distance of a place behind the nose, along the lorry
        away = 0.5 * (self.width + body.width) + self.gap
        source = 2.0 * self.width * self.height * self.speed / (4.0 * math.pi)
        pushed = (
            source * away * ((behind**2 + away**2) ** -1.5 - TAIL * ((behind - self.length) ** 2 + away**2) ** -1.5)
        )
        from_left = 1.0 if self.side == "left" else -1.0
        wind = np.full_like(behind, self.wind)
        if self.wind * from_left < 0.0:  # it blows from the lorry's side
            wind *= 1.0 - SHELTER * _window(behind, 0.5 * away, self.length - 0.5 * away, away)
        return wind - from_left * self.scale * pushed


@dataclass(frozen=True, kw_only=True)
class AirForces:
    """Force and moments at a vehicle's sprung centre of mass, for each moment.

    Attributes
    ----------
    forward, side : array (n,)
        [N]; drag is negative, left positive.
    roll, pitch, yaw : array (n,)
        [N m], ISO 8855.
    angle : array (n,)
        Of the wind at the middle of the wheelbase, positive when it blows to the left [rad].
    """

    forward: Floats
    side: Floats
    roll: Floats
    pitch: Floats
    yaw: Floats
    angle: Floats


def strips(body: Body) -> Floats:
    """Return the places of the strips from the middle of the wheelbase, front first (STRIPS,) [m]."""
    even = (np.arange(STRIPS) + 0.5) / STRIPS - 0.5
    return np.asarray(-body.wheelbase * even)


def air_forces(body: Body, wind: Floats, speed: Floats, *, centre: tuple[float, float]) -> AirForces:
    """Return forces at the centre of mass from the wind at the strips.

    Parameters
    ----------
    body : Body
        The vehicle.
    wind : array (n, STRIPS)
        Across, to the left positive [m/s].
    speed : array (n,)
        Of the vehicle [m/s].
    centre : pair of float
        The sprung centre of mass: ahead of the middle of the wheelbase and above the ground [m].
    """
    x = strips(body)
    out = np.empty((4, wind.shape[0]))
    strip_forces(
        np.ascontiguousarray(wind),
        np.ascontiguousarray(speed),
        x,
        0.5 * DENSITY * body.area / STRIPS * np.array([body.side, body.yaw, body.roll, body.drag]),
        body.wheelbase,
        out,
    )
    side, yaw, roll, forward = out
    lever, height = centre
    return AirForces(
        forward=forward,
        side=side,
        roll=roll + height * side,
        pitch=(body.pressure_height - height) * forward,
        yaw=yaw - lever * side,
        angle=np.arctan2(wind[:, STRIPS // 2], speed),
    )


def _window(at: Floats, start: float, end: float, edge: float) -> Floats:
    """Return 1 from `start` to `end`, going smoothly to 0 over `edge` outside."""
    near = np.clip(np.minimum(at - start, end - at) / edge + 1.0, 0.0, 1.0)
    return np.asarray(near * near * (3.0 - 2.0 * near))
