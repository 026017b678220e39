"""Damper oil over temperature and pressure: viscosity, density, bulk modulus with entrained air, specific heat."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats

#: Standard atmosphere [Pa].
ATMOSPHERE = 101_325.0
#: 0 degrees Celsius in kelvin [K].
ZERO_CELSIUS = 273.15

_MM2 = 1e-6  # [m2/s] in one mm2/s


def viscosity_to_z(viscosity: Floats | float) -> Floats:
    """Return the Z of ASTM D341 for a kinematic viscosity.

    Z = nu + 0.7 + exp(-1.47 - 1.84 nu - 0.51 nu^2), nu in mm2/s. Above 2 mm2/s the last term is below 0.04 % of Z
    and is nil by 3; keeping it everywhere joins the standard's two branches without a step.

    Parameters
    ----------
    viscosity : float or array
        Kinematic viscosity [m2/s], above 0.

    Returns
    -------
    array
        Z [-].

    References
    ----------
    .. [1] ASTM D341, viscosity-temperature equations.
    """
    nu = np.asarray(viscosity, dtype=float) / _MM2
    return np.asarray(nu + 0.7 + np.exp(-1.47 - 1.84 * nu - 0.51 * nu**2))


def z_to_viscosity(z: Floats | float) -> Floats:
    """Return the kinematic viscosity [m2/s] for a Z of ASTM D341 [-], the standard's own inverse.

    nu = (Z - 0.7) - exp(-0.7487 - 3.295 (Z - 0.7) + 0.6119 (Z - 0.7)^2 - 0.3193 (Z - 0.7)^3).

    References
    ----------
    .. [1] ASTM D341, viscosity-temperature equations.
    """
    e = np.asarray(z, dtype=float) - 0.7
    return np.asarray((e - np.exp(-0.7487 - 3.295 * e + 0.6119 * e**2 - 0.3193 * e**3)) * _MM2)


def walther_constants(*, temperatures: tuple[float, float], viscosities: tuple[float, float]) -> tuple[float, float]:
    """Return A and B of log10 log10 Z = A - B log10 T through two points.

    Parameters
    ----------
    temperatures : pair of float
        [K].
    viscosities : pair of float
        Kinematic viscosity there [m2/s].

    Raises
    ------
    DomainError
        If the temperatures are equal.

    Examples
    --------
    >>> a, b = walther_constants(temperatures=(313.15, 373.15), viscosities=(32e-6, 5.4e-6))
    >>> round(a, 4), round(b, 4)
    (9.5308, 3.7466)
    """
    (t1, t2), (n1, n2) = temperatures, viscosities
    if t1 == t2:
        raise DomainError(
            f"two viscosities at the same temperature ({t1:g} K) give no line; two temperatures are needed"
        )
    y1, y2 = (math.log10(math.log10(float(viscosity_to_z(n)))) for n in (n1, n2))
    b = (y1 - y2) / (math.log10(t2) - math.log10(t1))
    return y1 + b * math.log10(t1), b


def mixture_modulus(
    pressure: Floats | float,
    *,
    modulus: float,
    air_fraction: float,
    exponent: float = 1.4,
    bubbles: Literal["compressed", "constant"] = "compressed",
) -> Floats:
    """Return the bulk modulus of oil with free air at a pressure.

    1/B_e = a/(n p) + (1 - a)/B with the local volume fraction a. Printed texts often take for a the fraction at
    atmospheric pressure ("constant"). "compressed" carries the air as mass: its volume shrinks to a (p_atm/p)^(1/n)
    beside (1 - a) of oil, which gives the local fraction; it is what the damper uses.

    Parameters
    ----------
    pressure : float or array
        Absolute [Pa], above 0.
    modulus : float
        Of the oil without air [Pa].
    air_fraction : float
        Volume of free air over volume of mixture at `p_atm` [-], 0 up to below 1.
    exponent : float
        Polytropic exponent of the bubbles [-], 1 (slow) to 1.4 (quick).
    bubbles : {"compressed", "constant"}
        Reading of the fraction, see above.

    Returns
    -------
    array
        [Pa].

    References
    ----------
    .. [1] M. G. Rabie, Fluid Power Engineering, McGraw-Hill 2009, eqs 2.50 to 2.57.

    Examples
    --------
    >>> round(float(mixture_modulus(1e6, modulus=1.5e9, air_fraction=0.005)) / 1e6)
    733
    """
    p = np.asarray(pressure, dtype=float)
    if np.any(p <= 0.0):
        raise DomainError(f"the bulk modulus wants absolute pressures above 0, not {float(np.min(p)):g} Pa")
    if bubbles == "constant":
        share = np.full_like(p, air_fraction)
    else:
        gas = air_fraction * (ATMOSPHERE / p) ** (1.0 / exponent)
        share = gas / (gas + 1.0 - air_fraction)
    return np.asarray(1.0 / (share / (exponent * p) + (1.0 - share) / modulus))


def bubble_temperature_rise(pressure: float, *, start: float, temperature: float, exponent: float = 1.4) -> float:
    """Return how much warmer a gas bubble gets when compressed without exchange of heat [K].

    Parameters
    ----------
    pressure, start : float
        Absolute pressure after and before [Pa].
    temperature : float
        Before [K].
    exponent : float
        Ratio of specific heats [-].

    References
    ----------
    .. [1] M. G. Rabie, Fluid Power Engineering, McGraw-Hill 2009, eq. 2.89.
    """
    if not (pressure > 0.0 and start > 0.0 and temperature > 0.0):
        raise DomainError(
            f"bubble heating wants pressures and temperature above 0, not {start:g} to {pressure:g} "
            f"Pa at {temperature:g} K"
        )
    return temperature * float((pressure / start) ** ((exponent - 1.0) / exponent) - 1.0)


@dataclass(frozen=True, kw_only=True)
class OilState:
    """Oil at one temperature, as flow sees it.

    Parameters
    ----------
    temperature : float
        [K].
    density : float
        At atmospheric pressure, without air [kg/m3].
    viscosity : float
        Dynamic [Pa s].
    """

    temperature: float
    density: float
    viscosity: float


@dataclass(frozen=True, kw_only=True)
class Oil:
    """A damper oil.

    Parameters
    ----------
    viscosities : tuple of (temperature, viscosity)
        Two or more measured points, [K] and kinematic [m2/s], temperature rising, viscosity falling. Between and
        beyond them the ASTM D341 line of the two neighbours holds. Two points (40 and 100 degrees Celsius) are
        not to be trusted far below 0 degrees Celsius: add a cold one.
    density : float
        At 15 degrees Celsius and atmospheric pressure, without air [kg/m3].
    expansion : float
        Loss of density per kelvin, of that at 15 degrees Celsius [1/K] (7e-4 to 8e-4 for mineral oil, from memory).
    bulk_modulus : float
        Without air [Pa].
    air_fraction : float
        Free air, volume over mixture volume at atmospheric pressure [-].
    air_exponent : float
        Polytropic exponent of the bubbles [-].
    specific_heat : float
        [J/(kg K)].
    conductivity : float
        Of heat [W/(m K)].
    name : str
        For messages.

    Raises
    ------
    DomainError
        For a property that no oil has.

    Examples
    --------
    >>> oil = Oil(viscosities=((313.15, 14e-6), (373.15, 3.6e-6)), density=865.0)
    >>> state = oil.at(293.15)
    >>> round(state.density, 1), round(1e3 * state.viscosity, 1)
    (861.8, 24.8)
    """

    viscosities: tuple[tuple[float, float], ...]
    density: float
    expansion: float = 7.5e-4
    bulk_modulus: float = 1.5e9
    air_fraction: float = 0.001
    air_exponent: float = 1.4
    specific_heat: float = 2060.0
    conductivity: float = 0.12
    name: str = "oil"

    def __post_init__(self) -> None:
        """Refuse an oil that cannot be."""
        if len(self.viscosities) < 2:
            raise DomainError(f"{self.name}: viscosity is known at {len(self.viscosities)} temperatures; 2 are needed")
        t, nu = (np.array(column, dtype=float) for column in zip(*self.viscosities, strict=True))
        if not (np.all(np.isfinite(t)) and np.all(t > 0.0) and np.all(np.diff(t) > 0.0)):
            raise DomainError(f"{self.name}: temperatures of the viscosities must be kelvin and rise, not {t.tolist()}")
        if not (np.all(nu > 0.21 * _MM2) and np.all(np.isfinite(nu)) and np.all(np.diff(nu) < 0.0)):
            raise DomainError(
                f"{self.name}: viscosities must be above 0.21 mm2/s (the range of ASTM D341) and fall "
                "with temperature, "
                f"not {(nu / _MM2).tolist()} mm2/s"
            )
        for field in ("density", "bulk_modulus", "specific_heat", "conductivity"):
            value = getattr(self, field)
            if not (math.isfinite(value) and value > 0.0):
                raise DomainError(f"{self.name}: {field.replace('_', ' ')} {value:g} must be above 0")
        if not 0.0 <= self.expansion < 2e-3:
            raise DomainError(f"{self.name}: expansion {self.expansion:g} 1/K; oils lie near 7e-4 to 8e-4 1/K")
        if not 0.0 <= self.air_fraction < 0.5:
            raise DomainError(f"{self.name}: air fraction {self.air_fraction:g}; it must be from 0 to below 0.5")
        if not 1.0 <= self.air_exponent <= 1.4:
            raise DomainError(f"{self.name}: exponent of the air {self.air_exponent:g}; it lies from 1 to 1.4")

    @cached_property
    def _line(self) -> tuple[Floats, Floats]:
        t, nu = (np.array(column, dtype=float) for column in zip(*self.viscosities, strict=True))
        return np.log10(t), np.log10(np.log10(viscosity_to_z(nu)))

    def kinematic_viscosity(self, temperature: Floats | float) -> Floats:
        """Return the kinematic viscosity [m2/s] at `temperature` [K].

        Raises
        ------
        DomainError
            Where the line leaves the range of ASTM D341 (Z at most 1, below about 0.2 mm2/s).
        """
        kelvin = np.asarray(temperature, dtype=float)
        if np.any(~(kelvin > 0.0)):
            raise DomainError(f"{self.name}: a temperature of {float(np.min(kelvin)):g} K; kelvin above 0 are needed")
        x, (known, y) = np.log10(kelvin), self._line
        i = np.clip(np.searchsorted(known, x) - 1, 0, known.size - 2)
        line = y[i] + (x - known[i]) * (y[i + 1] - y[i]) / (known[i + 1] - known[i])
        with np.errstate(over="ignore"):
            viscosity = z_to_viscosity(10.0 ** (10.0**line))
        bad = ~np.isfinite(viscosity) | (viscosity < 0.2 * _MM2) | (viscosity > 2e7 * _MM2)
        if np.any(bad):
            raise DomainError(
                f"{self.name}: at {float(np.atleast_1d(kelvin)[np.atleast_1d(bad)][0]):.1f} K the "
                "viscosity leaves the range "
                "of ASTM D341 (0.2 to 2e7 mm2/s)"
            )
        return np.asarray(viscosity)

    def at(self, temperature: float) -> OilState:
        """Return density and viscosity at `temperature` [K] and atmospheric pressure.

        Raises
        ------
        DomainError
            If the temperature leaves the range of the viscosity line or the density falls below half.
        """
        density = self.density * (1.0 - self.expansion * (temperature - ZERO_CELSIUS - 15.0))
        if not 0.5 * self.density < density < 1.5 * self.density:
            raise DomainError(f"{self.name}: {temperature:g} K lies outside the range of the linear density")
        viscosity = float(self.kinematic_viscosity(temperature)) * density
        return OilState(temperature=temperature, density=density, viscosity=viscosity)

    def specific_volume(
        self, pressure: Floats | float, *, temperature: float, air_fraction: float | None = None
    ) -> Floats:
        """Return the volume of one kilogram of oil with its air at a pressure.

        The mass of the air never changes: v(p) = v_atm [(1 - a) exp(-(p - p_atm)/B) + a (p_atm/p)^(1/n)].

        Parameters
        ----------
        pressure : float or array
            Absolute [Pa], above 0.
        temperature : float
            [K].
        air_fraction : float, optional
            In place of the oil's own [-].

        Returns
        -------
        array
            [m3/kg], falling with pressure.
        """
        p = np.asarray(pressure, dtype=float)
        a = self.air_fraction if air_fraction is None else air_fraction
        # the air's own mass (a thousandth of a thousandth) is left out of the mass of the mixture
        at_rest = 1.0 / (self.at(temperature).density * (1.0 - a))
        return np.asarray(
            at_rest
            * (
                (1.0 - a) * np.exp(-(p - ATMOSPHERE) / self.bulk_modulus)
                + a * (ATMOSPHERE / p) ** (1.0 / self.air_exponent)
            )
        )
