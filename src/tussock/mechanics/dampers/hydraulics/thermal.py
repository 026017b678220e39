"""Oil and wall temperature of a damper over a drive, its steady state, and the force that fades."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.integrate import solve_ivp
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from tussock.errors import DomainError, SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.dampers.hydraulics.architecture import STEEL_HEAT, Damper
from tussock.mechanics.dampers.hydraulics.convection import convection, radiation
from tussock.mechanics.dampers.hydraulics.oil import ZERO_CELSIUS
from tussock.mechanics.dampers.hydraulics.quasi_static import solve

#: The hottest oil that the model answers for [K] (200 °C; seals give up earlier: common practice, no source).
HOTTEST = 473.15


@dataclass(frozen=True, kw_only=True, eq=False)
class Duty:
    """What a damper does on a stretch of road.

    Parameters
    ----------
    velocities : array (n,)
        Middle of each bin of rod velocity, rising, signed [m/s].
    shares : array (n,)
        Share of the time in each bin [-], in all 1.
    air_speed : float
        Of the air across the damper where it sits [m/s].
    duration : float
        [s].
    name : str
        Of the stretch.

    Raises
    ------
    DomainError
        If the shares are none, or a number cannot be.
    """

    velocities: Floats
    shares: Floats
    air_speed: float
    duration: float
    name: str = "stretch"

    def __post_init__(self) -> None:
        """Refuse a duty that is none."""
        v, s = np.array(self.velocities, dtype=float), np.array(self.shares, dtype=float)
        object.__setattr__(self, "velocities", v)
        object.__setattr__(self, "shares", s)
        if v.ndim != 1 or v.shape != s.shape or v.size == 0 or np.any(np.diff(v) <= 0.0):
            raise DomainError(f"{self.name}: a duty wants as many rising velocities as shares")
        if np.any(s < 0.0) or abs(float(np.sum(s)) - 1.0) > 1e-6:
            raise DomainError(f"{self.name}: shares must not be below 0 and add up to 1, not {float(np.sum(s)):g}")
        if not (self.air_speed >= 0.0 and self.duration > 0.0):
            raise DomainError(
                f"{self.name}: air speed {self.air_speed:g} m/s must not be below 0, duration "
                f"{self.duration:g} s above it"
            )

    @classmethod
    def sine(
        cls,
        *,
        amplitude: float,
        frequency: float,
        air_speed: float,
        duration: float,
        bins: int = 40,
        name: str = "sine",
    ) -> Duty:
        """Return a sine of the rod as a duty, `bins` velocities of equal share.

        Parameters
        ----------
        amplitude : float
            Half the stroke [m].
        frequency : float
            [Hz].
        """
        if not (amplitude > 0.0 and frequency > 0.0 and bins >= 2):
            raise DomainError(f"{name}: amplitude {amplitude:g} m and frequency {frequency:g} Hz must be above 0")
        peak = 2.0 * math.pi * frequency * amplitude
        middle = -np.cos(math.pi * (np.arange(bins) + 0.5) / bins)
        return cls(
            velocities=peak * middle,
            shares=np.full(bins, 1.0 / bins),
            air_speed=air_speed,
            duration=duration,
            name=name,
        )


@dataclass(frozen=True, kw_only=True)
class ThermalModel:
    """Two lumps: what is washed by oil, and the wall that meets the air.

    C_1 T_oil' = P - G (T_oil - T_wall); C_2 T_wall' = G (T_oil - T_wall) - (h + h_r) A (T_wall - T_air).

    Parameters
    ----------
    oil_capacity : float
        Oil, piston, rod and inner tube [J/K].
    wall_capacity : float
        [J/K].
    conductance : float
        From oil to wall [W/K].
    area : float
        Outside [m2].
    diameter, length : float
        Outside [m].
    emissivity : float
        Of the surface [-].
    upright : bool
        Stands or lies.

    Raises
    ------
    DomainError
        If a number is not above 0.
    """

    oil_capacity: float
    wall_capacity: float
    conductance: float
    area: float
    diameter: float
    length: float
    emissivity: float = 0.9
    upright: bool = True

    def __post_init__(self) -> None:
        """Refuse lumps that cannot be."""
        for key in ("oil_capacity", "wall_capacity", "conductance", "area", "diameter", "length"):
            value = getattr(self, key)
            if not (math.isfinite(value) and value > 0.0):
                raise DomainError(f"thermal model: {key.replace('_', ' ')} {value:g} must be above 0")

    @classmethod
    def of(
        cls, damper: Damper, *, film_coefficient: float, emissivity: float = 0.9, upright: bool = True
    ) -> ThermalModel:
        """Return the lumps of a damper.

        Parameters
        ----------
        damper : TwinTube or MonoTube
        film_coefficient : float
            Between oil and the inside of the outer wall [W/(m2 K)]. No published value could be checked: calibrate it
            by one warm-up run.
        """
        if not film_coefficient > 0.0:
            raise DomainError(f"{damper.name}: film coefficient {film_coefficient:g} W/(m2 K) must be above 0")
        return cls(
            oil_capacity=damper.oil_mass * damper.oil.specific_heat + damper.inner_steel_mass * STEEL_HEAT,
            wall_capacity=damper.wall_mass * STEEL_HEAT,
            conductance=film_coefficient * damper.wetted_area,
            area=damper.outer_area,
            diameter=damper.outer_diameter,
            length=damper.length,
            emissivity=emissivity,
            upright=upright,
        )

    def loss(self, wall_temperature: float, *, air_temperature: float, air_speed: float) -> float:
        """Return the heat that the wall gives off [W] at a wall and air temperature [K] and air speed [m/s]."""
        h = convection(
            wall_temperature=wall_temperature,
            air_temperature=air_temperature,
            air_speed=air_speed,
            diameter=self.diameter,
            length=self.length,
            upright=self.upright,
        ) + radiation(wall_temperature=wall_temperature, air_temperature=air_temperature, emissivity=self.emissivity)
        return h * self.area * (wall_temperature - air_temperature)

    def steady(
        self, power: Callable[[float], float], *, air_temperature: float, air_speed: float
    ) -> tuple[float, float]:
        """Return oil and wall temperature [K] at which heat in and out are equal.

        Parameters
        ----------
        power : callable
            Heat [W] over the oil's temperature [K].
        air_temperature : float
            [K].
        air_speed : float
            [m/s].

        Raises
        ------
        DomainError
            If the oil would pass `HOTTEST`.
        """

        def excess(oil: float) -> float:
            heat = power(oil)
            wall = oil - heat / self.conductance
            if wall <= air_temperature:
                return heat  # the wall is too cold to give this heat off
            return heat - self.loss(wall, air_temperature=air_temperature, air_speed=air_speed)

        if excess(HOTTEST) > 0.0:
            raise DomainError(
                f"with {power(HOTTEST):.0f} W and air of {air_speed:g} m/s at "
                f"{air_temperature - ZERO_CELSIUS:.0f} °C the oil "
                f"would pass {HOTTEST - ZERO_CELSIUS:.0f} °C"
            )
        oil = float(brentq(excess, air_temperature, HOTTEST, xtol=1e-9))
        return oil, oil - power(oil) / self.conductance

    def run(
        self,
        power: Callable[[float], float],
        *,
        duration: float,
        air_temperature: float,
        air_speed: float,
        start: tuple[float, float],
        points: int = 101,
    ) -> tuple[Floats, Floats, Floats]:
        """Return time [s], oil and wall temperature [K], each (points,), from `start` (oil, wall) [K] on.

        Raises
        ------
        DomainError
            If the oil passes `HOTTEST`; says when.
        SolverError
            If the integration fails.
        """

        def rates(_: float, state: Floats) -> list[float]:
            oil, wall = float(state[0]), float(state[1])
            across = self.conductance * (oil - wall)
            out = self.loss(wall, air_temperature=air_temperature, air_speed=air_speed)
            return [(power(min(oil, HOTTEST)) - across) / self.oil_capacity, (across - out) / self.wall_capacity]

        def too_hot(_: float, state: Floats) -> float:
            return float(state[0]) - HOTTEST

        too_hot.terminal = True  # type: ignore[attr-defined]
        time = np.linspace(0.0, duration, points)
        run = solve_ivp(
            rates, (0.0, duration), np.array(start), method="LSODA", t_eval=time, rtol=1e-8, atol=1e-6, events=too_hot
        )
        if not run.success:
            raise SolverError(f"the warm-up stopped within {duration:.1f} s: {run.message}")
        if run.status == 1 and run.t_events is not None:
            raise DomainError(
                f"the oil passes {HOTTEST - ZERO_CELSIUS:.0f} °C after {float(run.t_events[0][0]):.0f} s; "
                "such a drive ends the damper"
            )
        oil, wall = np.asarray(run.y[0], dtype=float), np.asarray(run.y[1], dtype=float)
        return time, oil, wall


@dataclass(frozen=True, kw_only=True, eq=False)
class WarmUp:
    """Temperatures and forces over a drive; arrays (n,) unless said."""

    name: str
    time: Floats  # [s]
    stretch: tuple[str, ...]  # name of the stretch at each time
    oil_temperature: Floats  # [K]
    wall_temperature: Floats  # [K]
    power: Floats  # heat at each time [W]
    speeds: Floats  # (k,) rod speeds at which the fade is said [m/s]
    compression_force: Floats  # (k, n) hydraulic [N]
    rebound_force: Floats  # (k, n) hydraulic, negative [N]
    gas_force: Floats  # [N]
    steady: tuple[float, float] | None  # oil and wall if the last stretch never ended [K]; None beyond 200 °C

    @property
    def fade(self) -> tuple[Floats, Floats]:
        """Share of the starting force lost in compression and rebound, each (k, n) [-]."""
        return (
            1.0 - self.compression_force / self.compression_force[:, :1],
            1.0 - self.rebound_force / self.rebound_force[:, :1],
        )

    @property
    def hottest(self) -> float:
        """Highest oil temperature [K]."""
        return float(np.max(self.oil_temperature))


def warm_up(
    damper: Damper,
    *,
    duties: Sequence[Duty],
    air_temperature: float,
    film_coefficient: float,
    start: float | None = None,
    speeds: Sequence[float] = (0.13, 0.52, 1.04),
    emissivity: float = 0.9,
    upright: bool = True,
    points: int = 101,
) -> WarmUp:
    """Drive a damper over stretches of road and return its temperatures and what its force loses.

    Heat follows from the force at the oil's own temperature, so that a fading damper heats itself less.

    Parameters
    ----------
    damper : TwinTube or MonoTube
    duties : sequence of Duty
        One after the other.
    air_temperature : float
        [K].
    film_coefficient : float
        Between oil and outer wall [W/(m2 K)]; see `ThermalModel.of`.
    start : float, optional
        Temperature of oil and wall [K]; that of the air unless given.
    speeds : sequence of float
        Rod speeds at which the fade is said, rising [m/s].
    emissivity : float
        Of the surface [-].
    upright : bool
        Stands or lies.
    points : int
        For each stretch.

    Returns
    -------
    WarmUp

    Raises
    ------
    DomainError
        If there is no duty, or the oil passes 200 °C.
    """
    if len(duties) == 0:
        raise DomainError(f"{damper.name}: a drive needs at least one stretch")
    first = air_temperature if start is None else start
    model = ThermalModel.of(damper, film_coefficient=film_coefficient, emissivity=emissivity, upright=upright)
    knots = np.linspace(min(first, air_temperature) - 1.0, HOTTEST, 13)
    told = np.array(speeds, dtype=float)
    if told.ndim != 1 or told.size == 0 or told[0] <= 0.0 or np.any(np.diff(told) <= 0.0):
        raise DomainError(f"{damper.name}: the speeds of the fade must be above 0 and rise")
    both = np.concatenate([-told[::-1], told])
    states = [solve(damper, velocities=both, temperature=float(t)) for t in knots]
    force = PchipInterpolator(knots, np.array([s.hydraulic_force for s in states]))
    gas = PchipInterpolator(knots, np.array([s.gas_force for s in states]))
    time, oil, wall, heat, names = [], [], [], [], []
    state, begin = (first, first), 0.0
    steady: tuple[float, float] | None = None
    for duty in duties:
        power = heat_over_temperature(damper, duty, knots)
        t, o, w = model.run(
            power, duration=duty.duration, air_temperature=air_temperature, air_speed=duty.air_speed, start=state,
            points=points,
        )  # fmt: skip
        time.append(begin + t)
        oil.append(o)
        wall.append(w)
        heat.append(np.array([power(float(x)) for x in o]))
        names += [duty.name] * t.size
        state, begin = (float(o[-1]), float(w[-1])), begin + duty.duration
        try:
            steady = model.steady(power, air_temperature=air_temperature, air_speed=duty.air_speed)
        except DomainError:
            steady = None
    temperatures = np.concatenate(oil)
    forces = np.asarray(force(temperatures), dtype=float).T
    return WarmUp(
        name=damper.name,
        time=np.concatenate(time),
        stretch=tuple(names),
        oil_temperature=temperatures,
        wall_temperature=np.concatenate(wall),
        power=np.concatenate(heat),
        speeds=told,
        compression_force=forces[told.size :],
        rebound_force=forces[: told.size][::-1],
        gas_force=np.asarray(gas(temperatures), dtype=float),
        steady=steady,
    )


def heat_over_temperature(damper: Damper, duty: Duty, knots: Floats) -> Callable[[float], float]:
    """Return mean heat [W] over oil temperature [K], from the steady force at the knots (n,) [K], rising."""
    heat = [
        float(np.sum(duty.shares * solve(damper, velocities=duty.velocities, temperature=float(t)).heat)) for t in knots
    ]
    curve = PchipInterpolator(knots, np.array(heat))
    return lambda temperature: float(curve(temperature))
