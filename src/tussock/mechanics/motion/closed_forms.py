"""What two small models of a vehicle do, in closed form: quarter car on white noise, bounce and pitch of the body.

They are rough answers before the full vehicle is there, and outside checks of it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from tussock.errors import DomainError

REFERENCE_WAVE = 0.1  # n0 of ISO 8608 [cycles/m]


def _positive(where: str, **values: float) -> None:
    """Refuse a value that is not a positive number."""
    for name, value in values.items():
        if not (math.isfinite(value) and value > 0.0):
            raise DomainError(f"{where}: {name} is {value:g}; it must be positive")


@dataclass(frozen=True, kw_only=True, slots=True)
class QuarterCar:
    """Sprung and unsprung mass over each other, a tyre without damping.

    Parameters
    ----------
    sprung, unsprung : float
        Masses [kg].
    spring, tyre : float
        Rates at the wheel [N/m].
    damping : float
        At the wheel, linear [N s/m].
    """

    sprung: float
    unsprung: float
    spring: float
    tyre: float
    damping: float

    def __post_init__(self) -> None:
        """Refuse a part that is not positive."""
        _positive(
            "quarter car",
            sprung=self.sprung,
            unsprung=self.unsprung,
            spring=self.spring,
            tyre=self.tyre,
            damping=self.damping,
        )

    @property
    def damping_ratio(self) -> float:
        """Damping over the critical damping of the body on its spring alone [-]."""
        return self.damping / (2.0 * math.sqrt(self.spring * self.sprung))


@dataclass(frozen=True, kw_only=True, slots=True)
class MeanSquares:
    """Mean squares of a quarter car on a road whose vertical speed is white noise.

    Attributes
    ----------
    acceleration : float
        Of the sprung mass [m^2/s^4].
    travel, travel_speed : float
        Of the suspension [m^2], [m^2/s^2].
    tyre_deflection : float
        [m^2].
    tyre_force : float
        [N^2].
    body_speed, wheel_speed : float
        Absolute [m^2/s^2].
    damper_power : float
        Mean [W].
    """

    acceleration: float
    travel: float
    travel_speed: float
    tyre_deflection: float
    tyre_force: float
    body_speed: float
    wheel_speed: float
    damper_power: float


def road_intensity(*, roughness: float, speed: float) -> float:
    r"""Return the intensity q of a road's vertical speed, E[w(t) w(t + s)] = q delta(s), for waviness 2 [m^2/s].

    .. math:: q = 2 \pi^2 n_0^2 G_d(n_0) V

    Parameters
    ----------
    roughness : float
        Displacement density Gd(n0) at 0.1 cycles/m, one-sided [m^3].
    speed : float
        [m/s].

    Examples
    --------
    >>> round(road_intensity(roughness=256e-6, speed=80 / 3.6), 9)
    0.001122942
    """
    _positive("road", roughness=roughness, speed=speed)
    return 2.0 * (math.pi * REFERENCE_WAVE) ** 2 * roughness * speed


def mean_squares(car: QuarterCar, *, intensity: float) -> MeanSquares:
    """Return the mean squares of a quarter car on white-noise road speed [1]_.

    Parameters
    ----------
    car : QuarterCar
        The model.
    intensity : float
        q of the road's vertical speed [m^2/s]; see `road_intensity`.

    Notes
    -----
    Linear: the wheel is held on the road. Where the tyre force's root mean square passes about a third of the static
    load the wheel lifts and these are too large or too small.

    References
    ----------
    .. [1] Model and kind of formula: Gobbi, Mastinu, J. Sound Vib. 245(3), 2001, 457-481; the forms here were derived
       from the Lyapunov equation of the model.

    Examples
    --------
    >>> car = QuarterCar(sprung=240, unsprung=36, spring=16000, tyre=160000, damping=980)
    >>> round(mean_squares(car, intensity=1.0).acceleration, 5)
    1986.96145
    """
    _positive("road", intensity=intensity)
    ms, mu, ks, kt, c, q = car.sprung, car.unsprung, car.spring, car.tyre, car.damping, intensity
    m = ms + mu
    bracket = m**3 * ks**2 / (kt**2 * ms**2) - 2.0 * mu * m * ks / (kt * ms) + mu
    tyre = 0.5 * q * (m**2 * c / (kt * ms**2) + bracket / c)
    common = m * kt * c**2 + m**2 * ks**2
    wheel = common - ks * kt * ms * (ms + 2.0 * mu) + kt**2 * ms**2
    return MeanSquares(
        acceleration=0.5 * q * (kt * c / ms**2 + m * ks**2 / (c * ms**2)),
        travel=q * m / (2.0 * c),
        travel_speed=q * kt / (2.0 * c),
        tyre_deflection=tyre,
        tyre_force=kt**2 * tyre,
        body_speed=q * (common + ks * kt * ms**2) / (2.0 * c * kt * ms**2),
        wheel_speed=q * wheel / (2.0 * c * kt * ms**2),
        damper_power=0.5 * q * kt,
    )


def least_acceleration_damping(car: QuarterCar) -> float:
    """Return the damping that gives the sprung mass the least acceleration, all else held [N s/m].

    >>> car = QuarterCar(sprung=240, unsprung=36, spring=16000, tyre=160000, damping=980)
    >>> round(least_acceleration_damping(car), 3)
    664.53
    """
    return car.spring * math.sqrt((car.sprung + car.unsprung) / car.tyre)


def least_tyre_damping(car: QuarterCar) -> float:
    """Return the damping that gives the tyre the least deflection, all else held [N s/m].

    >>> car = QuarterCar(sprung=240, unsprung=36, spring=16000, tyre=160000, damping=980)
    >>> round(least_tyre_damping(car), 2)
    1948.14
    """
    ms, mu, ks, kt = car.sprung, car.unsprung, car.spring, car.tyre
    m = ms + mu
    bracket = m**3 * ks**2 / (kt**2 * ms**2) - 2.0 * mu * m * ks / (kt * ms) + mu
    return math.sqrt(bracket * kt) * ms / m


def quarter_car_modes(car: QuarterCar) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return natural frequency [Hz] and damping ratio [-] of body and wheel hop, with damping.

    Raises
    ------
    DomainError
        If the damping is so high that a mode no longer swings.

    Examples
    --------
    >>> car = QuarterCar(sprung=240, unsprung=36, spring=16000, tyre=160000, damping=980)
    >>> [(round(f, 3), round(z, 3)) for f, z in quarter_car_modes(car)]
    [(1.251, 0.218), (11.025, 0.201)]
    """
    ms, mu, ks, kt, c = car.sprung, car.unsprung, car.spring, car.tyre, car.damping
    roots = np.roots([ms * mu, c * (ms + mu), ms * (ks + kt) + mu * ks, c * kt, ks * kt])
    swinging = sorted((r for r in roots if r.imag > 1e-9), key=abs)
    if len(swinging) != 2:
        raise DomainError(f"quarter car: with {c:g} N s/m a mode no longer swings; damping must be lower")
    body, hop = swinging
    return (
        (float(abs(body)) / (2.0 * math.pi), float(-body.real / abs(body))),
        (float(abs(hop)) / (2.0 * math.pi), float(-hop.real / abs(hop))),
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class BouncePitch:
    """The two modes of a rigid body on two springs, the slower one first.

    Attributes
    ----------
    frequency : tuple of 2 floats
        [Hz].
    node : tuple of 2 floats
        Where the body does not move in that mode, ahead of the centre of gravity [m]; infinite in pure bounce.
    dynamic_index : float
        Square of the radius of gyration over the product of the levers [-]; near 1 front and rear move by themselves.
    """

    frequency: tuple[float, float]
    node: tuple[float, float]
    dynamic_index: float


def bounce_pitch(
    *, mass: float, gyration: float, front_lever: float, rear_lever: float, front_rate: float, rear_rate: float
) -> BouncePitch:
    """Return frequencies and nodes of bounce and pitch, without damping or unsprung mass [1]_.

    Parameters
    ----------
    mass : float
        Sprung mass [kg].
    gyration : float
        Radius of gyration in pitch [m].
    front_lever, rear_lever : float
        From the centre of gravity to the axles [m].
    front_rate, rear_rate : float
        Rate of a whole axle [N/m].

    References
    ----------
    .. [1] Gillespie, Fundamentals of Vehicle Dynamics, 1992, chapter 5 (form from memory, checked by eigenvalues).

    Examples
    --------
    >>> ride = bounce_pitch(mass=1000, gyration=0.9, front_lever=1.0, rear_lever=1.5, front_rate=18e3, rear_rate=22e3)
    >>> [round(f * 2 * math.pi, 4) for f in ride.frequency], [round(n, 4) for n in ride.node]
    ([5.8593, 9.4341], [-2.6461, 0.3061])
    """
    _positive(
        "bounce and pitch",
        mass=mass,
        gyration=gyration,
        front_lever=front_lever,
        rear_lever=rear_lever,
        front_rate=front_rate,
        rear_rate=rear_rate,
    )
    alpha = (front_rate + rear_rate) / mass
    beta = (rear_rate * rear_lever - front_rate * front_lever) / mass
    gamma = (front_rate * front_lever**2 + rear_rate * rear_lever**2) / (mass * gyration**2)
    middle, half = 0.5 * (alpha + gamma), math.hypot(0.5 * (alpha - gamma), beta / gyration)
    slow, fast = middle - half, middle + half

    def node(square: float) -> float:
        # of the two rows of the eigenproblem the better conditioned one
        heave, pitch = alpha - square, gamma - square
        if abs(heave) >= abs(pitch) and heave != 0.0:
            return -beta / heave
        return -(gyration**2) * pitch / beta if beta != 0.0 else math.inf

    return BouncePitch(
        frequency=(math.sqrt(slow) / (2.0 * math.pi), math.sqrt(fast) / (2.0 * math.pi)),
        node=(node(slow), node(fast)),
        dynamic_index=gyration**2 / (front_lever * rear_lever),
    )
