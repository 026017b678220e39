"""Heat from a tube to the air: air properties, forced and natural convection, radiation."""

from __future__ import annotations

import math
from dataclasses import dataclass

from tussock.errors import DomainError

#: Stefan-Boltzmann [W/(m2 K4)] (CODATA).
STEFAN_BOLTZMANN = 5.670374419e-8
#: Gas constant of dry air [J/(kg K)] and its specific heat [J/(kg K)].
AIR_CONSTANT, AIR_HEAT = 287.05287, 1007.0
#: Free fall [m/s2].
GRAVITY = 9.80665


@dataclass(frozen=True, kw_only=True)
class Air:
    """Dry air: density [kg/m3], kinematic viscosity [m2/s], conductivity [W/(m K)], Prandtl number [-]."""

    density: float
    viscosity: float
    conductivity: float
    prandtl: float


def air(temperature: float, *, pressure: float = 101_325.0) -> Air:
    """Return the properties of dry air.

    Parameters
    ----------
    temperature : float
        [K], 150 to 600.
    pressure : float
        [Pa].

    References
    ----------
    .. [1] US Standard Atmosphere 1976 (viscosity and conductivity), ideal gas; specific heat 1007 J/(kg K).

    Examples
    --------
    >>> round(air(333.15).density, 4), round(air(333.15).conductivity, 5)
    (1.0595, 0.02879)
    """
    if not (150.0 <= temperature <= 600.0 and pressure > 0.0):
        raise DomainError(f"air at {temperature:g} K and {pressure:g} Pa; the fits hold from 150 to 600 K")
    density = pressure / (AIR_CONSTANT * temperature)
    dynamic = 1.458e-6 * temperature**1.5 / (temperature + 110.4)
    conductivity = 2.64638e-3 * temperature**1.5 / (temperature + 245.4 * 10.0 ** (-12.0 / temperature))
    return Air(
        density=density,
        viscosity=dynamic / density,
        conductivity=conductivity,
        prandtl=dynamic * AIR_HEAT / conductivity,
    )


def nusselt_across(reynolds: float, prandtl: float) -> float:
    """Return the mean Nusselt number of a cylinder in cross flow [-].

    Nu = 0.3 + 0.62 Re^(1/2) Pr^(1/3) [1 + (0.4/Pr)^(2/3)]^(-1/4) [1 + (Re/282000)^(5/8)]^(4/5), film properties,
    Re Pr > 0.2.

    References
    ----------
    .. [1] S. W. Churchill and M. Bernstein, Journal of Heat Transfer 99 (1977) 300-306.

    Examples
    --------
    >>> round(nusselt_across(4.219e4, 0.7202), 1)
    124.4
    """
    if not (reynolds >= 0.0 and prandtl > 0.0):
        raise DomainError(f"Re {reynolds:g} and Pr {prandtl:g}; neither may be below 0")
    laminar = 0.62 * math.sqrt(reynolds) * math.pow(prandtl, 1.0 / 3.0)
    laminar /= math.pow(1.0 + math.pow(0.4 / prandtl, 2.0 / 3.0), 0.25)
    return 0.3 + laminar * math.pow(1.0 + math.pow(reynolds / 282_000.0, 0.625), 0.8)


def nusselt_still_upright(rayleigh: float, prandtl: float) -> float:
    """Return the mean Nusselt number of an upright wall in still air, on its height [-].

    For a cylinder too thick to matter, D/L >= 35/Gr^(1/4) (from memory).

    References
    ----------
    .. [1] S. W. Churchill and H. H. S. Chu, International Journal of Heat and Mass Transfer 18 (1975) 1323-1329.
    """
    bracket = math.pow(1.0 + math.pow(0.492 / prandtl, 9.0 / 16.0), 8.0 / 27.0)
    return (0.825 + 0.387 * math.pow(rayleigh, 1.0 / 6.0) / bracket) ** 2


def nusselt_still_lying(rayleigh: float, prandtl: float) -> float:
    """Return the mean Nusselt number of a lying cylinder in still air, on its diameter [-].

    References
    ----------
    .. [1] S. W. Churchill and H. H. S. Chu, International Journal of Heat and Mass Transfer 18 (1975) 1049-1053.
    """
    bracket = math.pow(1.0 + math.pow(0.559 / prandtl, 9.0 / 16.0), 8.0 / 27.0)
    return (0.60 + 0.387 * math.pow(rayleigh, 1.0 / 6.0) / bracket) ** 2


def convection(
    *,
    wall_temperature: float,
    air_temperature: float,
    air_speed: float,
    diameter: float,
    length: float,
    upright: bool = True,
    pressure: float = 101_325.0,
) -> float:
    """Return the heat transfer coefficient of a tube in moving or still air [W/(m2 K)].

    Parameters
    ----------
    wall_temperature, air_temperature : float
        [K]; properties at their mean.
    air_speed : float
        Across the tube, where it sits [m/s]; 0 is still air.
    diameter, length : float
        Of the tube [m].
    upright : bool
        Stands (natural convection on its length) or lies (on its diameter).
    pressure : float
        Of the air [Pa].

    Notes
    -----
    Forced and natural parts join by their fourth powers (mixed convection across cylinders, from memory:
    Incropera and DeWitt), so that the larger one governs.

    Examples
    --------
    >>> h = convection(wall_temperature=353.15, air_temperature=313.15, air_speed=10.0, diameter=0.060, length=0.3)
    >>> round(h, 1)
    49.7
    """
    if not (diameter > 0.0 and length > 0.0 and air_speed >= 0.0):
        raise DomainError(
            f"a tube of {diameter * 1e3:g} x {length * 1e3:g} mm in air of {air_speed:g} m/s; sizes "
            "must be above 0, speed not "
            "below"
        )
    film = air(0.5 * (wall_temperature + air_temperature), pressure=pressure)
    forced = 0.0
    if air_speed > 0.0:
        forced = nusselt_across(air_speed * diameter / film.viscosity, film.prandtl) * film.conductivity / diameter
    size = length if upright else diameter
    buoyancy = GRAVITY * abs(wall_temperature - air_temperature) / (0.5 * (wall_temperature + air_temperature))
    rayleigh = buoyancy * size**3 / film.viscosity**2 * film.prandtl
    nusselt = nusselt_still_upright if upright else nusselt_still_lying
    natural = nusselt(rayleigh, film.prandtl) * film.conductivity / size
    return math.pow(forced**4 + natural**4, 0.25)


def radiation(*, wall_temperature: float, air_temperature: float, emissivity: float) -> float:
    """Return the coefficient of radiation to surroundings at air temperature [W/(m2 K)].

    eps sigma (T_w^2 + T_a^2)(T_w + T_a), both [K]; emissivity 0 to 1 (0.9 for paint).

    Examples
    --------
    >>> round(radiation(wall_temperature=353.15, air_temperature=293.15, emissivity=0.9), 1)
    6.9
    """
    if not 0.0 <= emissivity <= 1.0:
        raise DomainError(f"an emissivity of {emissivity:g}; it lies from 0 to 1")
    w, a = wall_temperature, air_temperature
    return emissivity * STEFAN_BOLTZMANN * (w**2 + a**2) * (w + a)
