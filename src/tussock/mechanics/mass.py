"""From scales to mass, centre of gravity and inertia; items added; the sprung share.

Axes are ISO 8855, origin on the ground under the middle of the front axle. Corners are in the order front left,
front right, rear left, rear right.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats

GRAVITY = 9.80665  # standard acceleration of free fall [m/s^2], ISO 80000-3

#: Inertia regressions over total mass for utility vehicles (42 rows, type MP): slope [m^2], offset [kg m^2], scatter.
#: Refit of the Light Vehicle Inertial Parameter Database (SAE 1999-01-1336), as derived from a public copy.
INERTIA_REGRESSION: dict[str, tuple[float, float, float]] = {
    "roll": (0.5851, -343.0, 67.0),
    "pitch": (3.5768, -3122.8, 607.0),
    "yaw": (3.5085, -2944.8, 541.0),
}
#: Centre of gravity height over total mass, same rows: slope [m/kg], offset [m], scatter [m].
HEIGHT_REGRESSION = (1.2302e-4, 0.4657, 0.032)
#: Masses that the rows cover [kg].
REGRESSION_RANGE = (1043.0, 2667.0)

PERSON_ISO_2416 = 68.0  # conventional passenger mass [kg], ISO 2416 (number from memory)
LUGGAGE_ISO_2416 = 7.0  # luggage per person [kg], ISO 2416 (number from memory)


@dataclass(frozen=True, kw_only=True, slots=True)
class Item:
    """Something with mass at a place: a person, an accessory, load, an axle (with a negative sign taken away)."""

    name: str
    mass: float
    at: tuple[float, float, float]

    def __post_init__(self) -> None:
        """Refuse a negative or unknown mass."""
        if not (math.isfinite(self.mass) and self.mass >= 0.0):
            raise DomainError(f"{self.name}: mass is {self.mass:g} kg; it cannot be negative")


@dataclass(frozen=True, kw_only=True, slots=True)
class MassState:
    """A rigid mass: total [kg], centre [m] in vehicle axes, inertia about the centre [kg m^2]."""

    mass: float
    centre: tuple[float, float, float]
    inertia: tuple[float, float, float]

    def with_items(self, items: Sequence[Item]) -> MassState:
        """Return the state with point masses added."""
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
        inertia = (
            np.asarray(self.inertia)
            - np.asarray(part.inertia)
            - part.mass * _steiner(gone - whole)
            - mass * _steiner(centre - whole)
        )
        if np.any(inertia <= 0.0):
            raise DomainError(
                "the sprung inertia comes out as "
                + ", ".join(f"{i:.0f}" for i in inertia)
                + " kg m^2; the inertia of the whole vehicle is too small for its axles"
            )
        return MassState(mass=mass, centre=_triple(centre), inertia=_triple(inertia))


def _triple(values: Floats) -> tuple[float, float, float]:
    return float(values[0]), float(values[1]), float(values[2])


def _steiner(lever: Floats) -> Floats:
    x, y, z = lever
    return np.array([y * y + z * z, x * x + z * z, x * x + y * y])


def combine(parts: Sequence[MassState]) -> MassState:
    """Return the mass state of several parts together; DomainError if there is no mass."""
    mass = sum(p.mass for p in parts)
    if mass <= 0.0:
        raise DomainError("nothing with mass was given")
    centre = sum((p.mass * np.asarray(p.centre) for p in parts), np.zeros(3)) / mass
    inertia = sum(
        (np.asarray(p.inertia) + p.mass * _steiner(np.asarray(p.centre) - centre) for p in parts), np.zeros(3)
    )
    return MassState(mass=float(mass), centre=_triple(centre), inertia=_triple(inertia))


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
    corner_spread: float = 0.0,
    wheelbase_spread: float = 0.0,
) -> Weighing:
    """Return mass and centre in plan from the four corner masses [kg].

    Parameters
    ----------
    corners : sequence of 4 floats
        Front left, front right, rear left, rear right [kg], positive.
    wheelbase, track : float
        [m].
    corner_spread, wheelbase_spread : float
        Uncertainty of one scale [kg] and of the wheelbase [m].

    Raises
    ------
    DomainError
        If a corner carries nothing or a length is not positive.
    """
    if len(corners) != 4 or min(corners) <= 0.0:
        raise DomainError("four corner masses are needed, each above 0 kg")
    if wheelbase <= 0.0 or track <= 0.0:
        raise DomainError(f"wheelbase {wheelbase:g} m and track {track:g} m must be positive")
    fl, fr, rl, rr = corners
    mass = fl + fr + rl + rr
    x = -wheelbase * (rl + rr) / mass
    y = track / 2.0 * (fl + rl - fr - rr) / mass
    # each corner moves x by (its own x - x) / mass
    x_spread = math.hypot(
        corner_spread * math.sqrt(2.0 * (x**2 + (wheelbase + x) ** 2)) / mass, wheelbase_spread * (rl + rr) / mass
    )
    y_spread = corner_spread * math.sqrt(2.0 * ((track / 2.0 - y) ** 2 + (track / 2.0 + y) ** 2)) / mass
    return Weighing(
        mass=mass,
        x=x,
        y=y,
        mass_spread=2.0 * corner_spread,
        x_spread=x_spread,
        y_spread=y_spread,
        cross=(fl + rr) / mass,
    )


def corner_loads(state: MassState, *, wheelbase: float, track: float) -> Floats:
    """Return the four corner masses of a rigid vehicle whose sides share by the lever rule [kg].

    The cross weight that springs add is left out: heights and motion compute it.
    """
    x, y, _ = state.centre
    rear = -x / wheelbase
    left = 0.5 + y / track
    shares = np.array([(1 - rear) * left, (1 - rear) * (1 - left), rear * left, rear * (1 - left)])
    return state.mass * shares


def height_from_tilt(
    *, mass: float, front_level: float, front_raised: float, wheelbase: float, angle: float, axle_height: float
) -> float:
    """Return the height of the centre of gravity from a hoist test with the rear axle raised [m].

    Parameters
    ----------
    mass, front_level, front_raised : float
        Total mass and mass on the front axle, level and tilted [kg].
    wheelbase, axle_height : float
        Wheelbase and height of the wheel centres [m].
    angle : float
        Tilt [rad], above 0.

    References
    ----------
    ISO 10392, form of the formula seen in a public lecture only.
    """
    if angle <= 0.0:
        raise DomainError(f"tilt angle is {math.degrees(angle):g} deg; the axle must be raised")
    return axle_height + (front_raised - front_level) * wheelbase / (mass * math.tan(angle))


def estimate_inertia(mass: float) -> tuple[tuple[float, float, float], tuple[float, float, float]]:
    """Return roll, pitch and yaw inertia of a utility vehicle of a total mass, and their scatter [kg m^2].

    Raises
    ------
    DomainError
        Outside the masses that the regression covers (1043 to 2667 kg).

    References
    ----------
    Regression over 42 rows of the database of SAE 1999-01-1336 (see `INERTIA_REGRESSION`).
    """
    low, high = REGRESSION_RANGE
    if not low <= mass <= high:
        raise DomainError(
            f"{mass:.0f} kg lies outside the inertia regression ({low:.0f} to {high:.0f} kg); give the inertia"
        )
    fits = [INERTIA_REGRESSION[k] for k in ("roll", "pitch", "yaw")]
    values = tuple(slope * mass + offset for slope, offset, _ in fits)
    scatter = tuple(s for _, _, s in fits)
    return (values[0], values[1], values[2]), (scatter[0], scatter[1], scatter[2])


def estimate_height(mass: float) -> tuple[float, float]:
    """Return the height of the centre of gravity of a utility vehicle and its scatter [m] (same rows)."""
    low, high = REGRESSION_RANGE
    if not low <= mass <= high:
        raise DomainError(f"{mass:.0f} kg lies outside the height regression ({low:.0f} to {high:.0f} kg); measure it")
    slope, offset, scatter = HEIGHT_REGRESSION
    return slope * mass + offset, scatter


def static_stability_factor(*, track: float, height: float) -> float:
    """Return track / (2 height) [-]: the lateral acceleration in g at which a rigid vehicle begins to tip.

    References
    ----------
    NHTSA, 65 FR 34998 (1 June 2000), chapter V.
    """
    if track <= 0.0 or height <= 0.0:
        raise DomainError("track and height must be positive")
    return track / (2.0 * height)


def critical_sliding_velocity(*, mass: float, height: float, track: float, roll_inertia: float) -> float:
    """Return the sideways speed at which a kerb strike just tips a rigid vehicle [m/s].

    Angular momentum about the kerb, then energy up to the balance point (metric named by NHTSA, formula derived).
    """
    radius_squared = height**2 + track**2 / 4.0
    about_kerb = roll_inertia + mass * radius_squared
    rise = math.sqrt(radius_squared) - height
    return math.sqrt(2.0 * GRAVITY * about_kerb / (mass * height**2) * rise)
