"""From scales to mass, centre of gravity and inertia; items and people added; the sprung share.

Axes are ISO 8855, origin on the ground under the middle of the front axle. Corners are in the order front left,
front right, rear left, rear right.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.mass_estimate import (
    HEIGHT_REGRESSION,
    INERTIA_REGRESSION,
    REGRESSION_RANGE,
    estimate_height,
    estimate_inertia,
    height_from_tilt,
    height_spread_from_tilt,
)
from tussock.mechanics.rollover import critical_sliding_velocity, rollover_threshold, static_stability_factor

__all__ = [
    "GRAVITY",
    "HEIGHT_REGRESSION",
    "INERTIA_REGRESSION",
    "REGRESSION_RANGE",
    "Item",
    "LoadCase",
    "MassState",
    "Weighing",
    "check",
    "combine",
    "corner_loads",
    "critical_sliding_velocity",
    "estimate_height",
    "estimate_inertia",
    "height_from_tilt",
    "height_spread_from_tilt",
    "load_case",
    "rollover_threshold",
    "static_stability_factor",
    "weigh",
]

GRAVITY = 9.80665  # standard acceleration of free fall [m/s^2], ISO 80000-3

PERSON_ISO_2416 = 68.0  # conventional passenger mass [kg], ISO 2416 (number from memory)
LUGGAGE_ISO_2416 = 7.0  # luggage per person [kg], ISO 2416 (number from memory)
DRIVER_EU = 75.0  # driver at the seating reference point [kg], Regulation (EU) 168/2013 art. 5 and 1230/2012

Point: TypeAlias = tuple[float, float, float]
LoadCase: TypeAlias = Literal["kerb", "driver", "normal load", "full"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Item:
    """Something with mass at a place: a person, an accessory, load.

    Parameters
    ----------
    name : str
        What it is, for messages.
    mass : float
        [kg], not negative.
    at : tuple of 3 floats
        Where its centre lies, vehicle axes [m].
    """

    name: str
    mass: float
    at: Point

    def __post_init__(self) -> None:
        """Refuse a negative or unknown mass, or a place that is not one."""
        if not (math.isfinite(self.mass) and self.mass >= 0.0):
            raise DomainError(f"{self.name}: mass is {self.mass:g} kg; it cannot be negative")
        if len(self.at) != 3 or not all(math.isfinite(c) for c in self.at):
            raise DomainError(f"{self.name}: its place {self.at} must be three numbers [m]")


@dataclass(frozen=True, kw_only=True, slots=True)
class MassState:
    """A rigid mass.

    Parameters
    ----------
    mass : float
        Total [kg], not negative.
    centre : tuple of 3 floats
        Centre of gravity in vehicle axes [m].
    inertia : tuple of 3 floats
        Moments about the centre: roll, pitch, yaw [kg m^2], not negative.
    products : tuple of 3 floats
        Products about the centre, the sums of m x y, m x z, m y z [kg m^2].
    """

    mass: float
    centre: Point
    inertia: Point
    products: Point = (0.0, 0.0, 0.0)

    def __post_init__(self) -> None:
        """Refuse a mass that cannot be."""
        numbers = (self.mass, *self.centre, *self.inertia, *self.products)
        if not all(math.isfinite(n) for n in numbers):
            raise DomainError("mass state: mass, centre or inertia is not a number")
        if self.mass < 0.0 or min(self.inertia) < 0.0:
            raise DomainError(f"mass state: mass {self.mass:g} kg and inertia {self.inertia} kg m^2 cannot be negative")

    @property
    def tensor(self) -> Floats:
        """Inertia tensor about the centre, shape (3, 3) [kg m^2]."""
        xx, yy, zz = self.inertia
        xy, xz, yz = self.products
        return np.array([[xx, -xy, -xz], [-xy, yy, -yz], [-xz, -yz, zz]])

    def with_items(self, items: Sequence[Item]) -> MassState:
        """Return the state with point masses added.

        >>> wagon = MassState(mass=1750.0, centre=(-1.29, 0.0, 0.70), inertia=(680.0, 3140.0, 3200.0))
        >>> laden = wagon.with_items([Item(name="winch", mass=38.0, at=(0.70, 0.0, 0.62))])
        >>> round(laden.mass), round(laden.centre[0], 3), round(laden.inertia[2])
        (1788, -1.248, 3347)
        """
        return combine([self, *(MassState(mass=i.mass, centre=i.at, inertia=(0.0, 0.0, 0.0)) for i in items)])

    def without(self, part: MassState) -> MassState:
        """Return what is left when a part is taken away; DomainError if nothing is left.

        Steiner's terms are taken off about the common centre, so `part` must belong to this state.
        """
        mass = self.mass - part.mass
        if mass <= 0.0:
            raise DomainError(f"taking {part.mass:.0f} kg from {self.mass:.0f} kg leaves nothing")
        whole, gone = np.asarray(self.centre), np.asarray(part.centre)
        centre = (self.mass * whole - part.mass * gone) / mass
        tensor = self.tensor - part.tensor - part.mass * _steiner(gone - whole) - mass * _steiner(centre - whole)
        if np.min(np.diag(tensor)) <= 0.0:
            raise DomainError(
                "the inertia that is left comes out as "
                + ", ".join(f"{i:.0f}" for i in np.diag(tensor))
                + " kg m^2; the inertia of the whole is too small for the part taken away"
            )
        return _state(mass, centre, tensor)


def _state(mass: float, centre: Floats, tensor: Floats) -> MassState:
    return MassState(
        mass=float(mass),
        centre=(float(centre[0]), float(centre[1]), float(centre[2])),
        inertia=(float(tensor[0, 0]), float(tensor[1, 1]), float(tensor[2, 2])),
        products=(-float(tensor[0, 1]), -float(tensor[0, 2]), -float(tensor[1, 2])),
    )


def _steiner(lever: Floats) -> Floats:
    """Inertia tensor of a unit mass at `lever` (3,) [m], shape (3, 3)."""
    return np.asarray(np.dot(lever, lever) * np.eye(3) - np.outer(lever, lever), dtype=float)


def combine(parts: Sequence[MassState]) -> MassState:
    """Return the mass state of several parts together; DomainError if there is no mass."""
    mass = sum(p.mass for p in parts)
    if mass <= 0.0:
        raise DomainError("nothing with mass was given")
    centre = sum((p.mass * np.asarray(p.centre) for p in parts), np.zeros(3)) / mass
    tensor = sum((p.tensor + p.mass * _steiner(np.asarray(p.centre) - centre) for p in parts), np.zeros((3, 3)))
    return _state(mass, centre, tensor)


def check(state: MassState, *, wheelbase: float, track: float) -> tuple[str, ...]:
    """Return what is odd about a mass state on its wheels, in words; empty when nothing is.

    Parameters
    ----------
    state : MassState
        The whole vehicle.
    wheelbase, track : float
        [m].
    """
    x, y, z = state.centre
    found = []
    if not -wheelbase < x < 0.0:
        found.append(
            f"the centre of gravity lies {x * 1e3:.0f} mm from the front axle, outside the wheelbase of "
            f"{wheelbase * 1e3:.0f} mm: one axle would lift"
        )
    if abs(y) >= track / 2.0:
        found.append(f"the centre of gravity lies {abs(y) * 1e3:.0f} mm off the middle, outside the track")
    if z <= 0.0:
        found.append(f"the centre of gravity lies {z * 1e3:.0f} mm above the ground; is z measured from the ground?")
    largest = max(state.inertia)
    if largest > (sum(state.inertia) - largest) * (1.0 + 1e-9):
        found.append("one moment of inertia exceeds the other two together, which no body can have")
    return tuple(found)


@dataclass(frozen=True, kw_only=True, slots=True)
class Weighing:
    """What the scales say: total, centre in plan, cross weight, with the uncertainty carried through.

    Attributes
    ----------
    mass : float
        Total [kg].
    x, y : float
        Centre in plan [m].
    mass_spread, x_spread, y_spread : float
        Standard uncertainty of each, first order.
    cross : float
        (front left + rear right) / total [-].
    """

    mass: float
    x: float
    y: float
    mass_spread: float
    x_spread: float
    y_spread: float
    cross: float


def weigh(
    corners: Sequence[float],
    *,
    wheelbase: float,
    track: float,
    rear_track: float | None = None,
    corner_spread: float | Sequence[float] = 0.0,
    wheelbase_spread: float = 0.0,
) -> Weighing:
    """Return mass and centre in plan from the four corner masses.

    Parameters
    ----------
    corners : sequence of 4 floats
        Front left, front right, rear left, rear right [kg], positive.
    wheelbase, track : float
        Wheelbase and (front) track [m].
    rear_track : float, optional
        Rear track [m]; `track` when not given.
    corner_spread : float or sequence of 4 floats
        Uncertainty of every scale, or of each [kg].
    wheelbase_spread : float
        Uncertainty of the wheelbase [m].

    Raises
    ------
    DomainError
        If a corner carries nothing or a length is not positive.

    Examples
    --------
    >>> scales = weigh([459.0, 453.0, 421.0, 417.0], wheelbase=2.7, track=1.5, corner_spread=2.0)
    >>> round(scales.mass), round(scales.x, 4), round(scales.x_spread, 4)
    (1750, -1.2929, 0.0031)
    """
    if len(corners) != 4 or not all(math.isfinite(c) and c > 0.0 for c in corners):
        raise DomainError(f"four corner masses are needed, each above 0 kg; got {list(corners)}")
    half = _half_tracks(wheelbase, track, rear_track)
    spreads = np.broadcast_to(np.asarray(corner_spread, dtype=float), (4,))
    if np.any(spreads < 0.0) or wheelbase_spread < 0.0:
        raise DomainError("an uncertainty cannot be negative")
    each = np.asarray(corners, dtype=float)
    mass = float(np.sum(each))
    places_x = np.array([0.0, 0.0, -wheelbase, -wheelbase])
    places_y = np.array([half[0], -half[0], half[1], -half[1]])
    x, y = float(each @ places_x) / mass, float(each @ places_y) / mass
    # a corner moves the centre by (its own place - the centre) / mass
    return Weighing(
        mass=mass,
        x=x,
        y=y,
        mass_spread=float(np.linalg.norm(spreads)),
        x_spread=math.hypot(
            float(np.linalg.norm(spreads * (places_x - x))) / mass, wheelbase_spread * float(each[2] + each[3]) / mass
        ),
        y_spread=float(np.linalg.norm(spreads * (places_y - y))) / mass,
        cross=float(each[0] + each[3]) / mass,
    )


def _half_tracks(wheelbase: float, track: float, rear_track: float | None) -> tuple[float, float]:
    rear = track if rear_track is None else rear_track
    if not (wheelbase > 0.0 and track > 0.0 and rear > 0.0):
        raise DomainError(f"wheelbase {wheelbase:g} m and track {track:g} m, {rear:g} m must be positive")
    return track / 2.0, rear / 2.0


def corner_loads(
    state: MassState, *, wheelbase: float, track: float, rear_track: float | None = None, cross: float | None = None
) -> Floats:
    """Return the mass on each of the four corners [kg], shape (4,); times `GRAVITY` it is the load in N.

    Four corners carry a rigid vehicle in many ways; `cross` picks one. Without it both axles lean to a side alike,
    as when springs leave no cross weight of their own.

    Parameters
    ----------
    state : MassState
        The whole vehicle.
    wheelbase, track : float
        Wheelbase and (front) track [m].
    rear_track : float, optional
        Rear track [m]; `track` when not given.
    cross : float, optional
        (front left + rear right) / total [-], as `weigh` returns it.
    """
    front_half, rear_half = _half_tracks(wheelbase, track, rear_track)
    x, y, _ = state.centre
    rear = -x / wheelbase * state.mass
    front = state.mass - rear
    moment = state.mass * y
    if cross is None:
        share = moment / (front_half * front + rear_half * rear)
        front_lean, rear_lean = front * share, rear * share
    else:
        twist = state.mass * (2.0 * cross - 1.0)
        front_lean = (moment + rear_half * twist) / (front_half + rear_half)
        rear_lean = front_lean - twist
    return 0.5 * np.array([front + front_lean, front - front_lean, rear + rear_lean, rear - rear_lean])


def load_case(
    case: LoadCase, seats: Sequence[tuple[str, Point]], *, luggage_at: Point | None = None
) -> tuple[Item, ...]:
    """Return the people and luggage of a standard load case, to be given to `MassState.with_items`.

    Parameters
    ----------
    case : LoadCase
        "kerb": nobody; "driver": 75 kg in the driver's seat; "normal load": two in front with up to four seats, one
        more in the second row with five to ten, 68 kg each; "full": every seat with 68 kg and 7 kg of luggage each.
    seats : sequence of (name, point)
        Seat reference points [m]: driver, front passenger, second row, and so on.
    luggage_at : tuple of 3 floats, optional
        Middle of the luggage space [m]; needed by "full".

    Raises
    ------
    DomainError
        Unknown case, too few or more than ten seats, or no place for luggage.

    References
    ----------
    Driver: Regulation (EU) 168/2013 art. 5, 1230/2012. Normal load: 49 CFR 571.110 table 1 (68 kg from memory).
    Full: ISO 2416:1992, 68 kg and 7 kg (numbers from memory).
    """
    if case == "kerb":
        return ()
    if not 2 <= len(seats) <= 10:
        raise DomainError(f"load case: {len(seats)} seats; the plan is known for 2 to 10")
    if case == "driver":
        return (Item(name=seats[0][0], mass=DRIVER_EU, at=seats[0][1]),)
    if case == "normal load":
        taken = seats[: 2 if len(seats) <= 4 else 3]
        return tuple(Item(name=name, mass=PERSON_ISO_2416, at=at) for name, at in taken)
    if case == "full":
        if luggage_at is None:
            raise DomainError("load case: 'full' wants the middle of the luggage space")
        people = tuple(Item(name=name, mass=PERSON_ISO_2416, at=at) for name, at in seats)
        return (*people, Item(name="luggage", mass=LUGGAGE_ISO_2416 * len(seats), at=luggage_at))
    raise DomainError(f"load case is {case!r}; known are kerb, driver, normal load, full")
