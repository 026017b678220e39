"""Restrictions that carry oil: orifices and short tubes, the gap past a piston band, a hose.

Flow [m3/s] and pressure drop [Pa] are sizes here, not below 0; the sense of flow belongs to the caller.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.interpolate import CubicHermiteSpline

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.dampers.hydraulics.oil import OilState

#: Contraction of a jet from a small plane orifice, pi/(pi + 2) [-] (Rabie 2009, eq. 2.39, after Merritt 1967).
CONTRACTION = math.pi / (math.pi + 2.0)
#: The largest discharge coefficient that a short tube reaches [-].
SHORT_TUBE_LIMIT = 1.5**-0.5

# The two branches of the short tube miss each other by 1.7 % at 50; they are joined over this span of Re d/L.
_JOIN = (45.0, 55.0)


def discharge_with_approach(*, contraction: float, velocity: float, area_ratio: float) -> float:
    """Return the discharge coefficient of an orifice in a passage that is not much wider [-].

    C_d = C_v C_c / sqrt(1 - C_c^2 (A_0/A_1)^2).

    Parameters
    ----------
    contraction, velocity : float
        Coefficients of contraction (0.6 to 0.65) and velocity (0.97 to 0.99) [-].
    area_ratio : float
        Area of orifice over passage [-], 0 to 1.

    References
    ----------
    .. [1] M. G. Rabie, Fluid Power Engineering, McGraw-Hill 2009, eq. 2.37.

    Examples
    --------
    >>> round(discharge_with_approach(contraction=0.64, velocity=0.97, area_ratio=0.0), 2)
    0.62
    """
    if not (0.0 < contraction <= 1.0 and 0.0 < velocity <= 1.0 and 0.0 <= area_ratio <= 1.0):
        raise DomainError(
            f"contraction {contraction:g}, velocity coefficient {velocity:g} and area ratio "
            f"{area_ratio:g} lie from 0 to 1"
        )
    return velocity * contraction / math.sqrt(1.0 - (contraction * area_ratio) ** 2)


def discharge_short_tube(number: Floats | float, *, joined: bool = True) -> Floats:
    """Return the discharge coefficient of a short tube [-].

    Above 50: [1.5 + 13.74 (Re d/L)^(-1/2)]^(-1/2); below: [2.28 + 64 (Re d/L)^(-1)]^(-1/2).

    Parameters
    ----------
    number : float or array
        Re d/L [-], Re on the mean speed in the tube, above 0.
    joined : bool
        Join the branches smoothly from 45 to 55 (they miss each other by 1.7 % at 50), as the damper does; else as
        printed.

    References
    ----------
    .. [1] H. E. Merritt, Hydraulic Control Systems, Wiley 1967, as M. G. Rabie, Fluid Power Engineering,
       McGraw-Hill 2009, eqs 2.40 and 2.41.

    Examples
    --------
    >>> discharge_short_tube(np.array([10.0, 1000.0]), joined=False).round(4)
    array([0.3394, 0.719 ])
    """
    s = np.asarray(number, dtype=float)
    if np.any(~(s > 0.0)):
        raise DomainError(f"Re d/L is {float(np.min(s)):g}; it must be above 0")
    return np.asarray(_loss(s, joined=joined) ** -0.5)


def _loss(number: Floats, *, joined: bool = True) -> Floats:
    """Return 1/C_d^2 of a short tube over Re d/L [-]."""
    slow = 2.28 + 64.0 / number
    quick = 1.5 + 13.74 / np.sqrt(number)
    if not joined:
        return np.where(number < 50.0, slow, quick)
    w = np.clip(np.log(number / _JOIN[0]) / math.log(_JOIN[1] / _JOIN[0]), 0.0, 1.0)
    w = w * w * (3.0 - 2.0 * w)
    return np.asarray((1.0 - w) * slow + w * quick)


@lru_cache(maxsize=1)
def _number_over_drop() -> CubicHermiteSpline:
    """Return ln(Re d/L) over ln P, P = (Re d/L)^2 / C_d^2: one curve for every short tube, oil and temperature."""
    number = np.unique(np.append(np.exp(np.linspace(math.log(1e-9), math.log(1e12), 6001)), _JOIN))
    loss = _loss(number)
    # slope of ln P over ln(Re d/L), written out: the second derivative jumps where the branches are joined, and a curve
    # that is smooth across the jumps would miss by 7e-6 beside them
    low, high = math.log(_JOIN[0]), math.log(_JOIN[1])
    along = np.clip((np.log(number) - low) / (high - low), 0.0, 1.0)
    quick = along * along * (3.0 - 2.0 * along)
    turn = 6.0 * along * (1.0 - along) / (high - low)
    apart = 1.5 + 13.74 / np.sqrt(number) - 2.28 - 64.0 / number
    slope = 2.0 + (turn * apart - (1.0 - quick) * 64.0 / number - quick * 6.87 / np.sqrt(number)) / loss
    return CubicHermiteSpline(np.log(number**2 * loss), np.log(number), 1.0 / slope)


@lru_cache(maxsize=1)
def short_tubes() -> tuple[Floats, Floats, Floats]:
    """Return the law of all short tubes as `kernels` takes it: ln P, coefficients of ln(Re d/L), span of the join."""
    curve = _number_over_drop()
    return np.ascontiguousarray(curve.x), np.ascontiguousarray(curve.c), np.array(_JOIN)


@dataclass(frozen=True, kw_only=True)
class Orifice:
    """One or more equal holes side by side.

    Parameters
    ----------
    area : float
        Of all holes together [m2].
    count : int
        Number of holes.
    length : float
        Length of each hole along the flow [m]. 0 is a sharp plane orifice with the constant `discharge`; with a
        length the discharge follows the Reynolds number (short tube) and `discharge` is not used.
    discharge : float
        Discharge coefficient of a sharp orifice [-]; 0.60 to 0.65 in text books, 0.7 in damper models (from memory).
    name : str
        For messages.

    Raises
    ------
    DomainError
        If a size is not positive, or the coefficient not from 0 to 1.

    Examples
    --------
    >>> bleed = Orifice(area=4e-6, discharge=0.7)
    >>> oil = OilState(temperature=293.15, density=850.0, viscosity=0.02)
    >>> round(float(bleed.drop(8.9711e-5, oil)))
    436279
    """

    area: float
    count: int = 1
    length: float = 0.0
    discharge: float = 0.7
    name: str = "orifice"

    def __post_init__(self) -> None:
        """Refuse a hole that cannot be."""
        if not (math.isfinite(self.area) and self.area > 0.0):
            raise DomainError(f"{self.name}: an area of {self.area * 1e6:g} mm2; it must be above 0")
        if self.count < 1:
            raise DomainError(f"{self.name}: {self.count} holes; at least 1 is needed")
        if not (math.isfinite(self.length) and self.length >= 0.0):
            raise DomainError(f"{self.name}: a length of {self.length * 1e3:g} mm cannot be")
        if not 0.0 < self.discharge <= 1.0:
            raise DomainError(
                f"{self.name}: discharge coefficient {self.discharge:g}; it lies above 0 and at most at 1"
            )

    @classmethod
    def round(
        cls,
        *,
        diameter: float,
        count: int = 1,
        length: float = 0.0,
        discharge: float = 0.7,
        name: str = "orifice",
    ) -> Orifice:
        """Return `count` round holes of `diameter` [m]."""
        return cls(
            area=count * math.pi * diameter**2 / 4.0,
            count=count,
            length=length,
            discharge=discharge,
            name=name,
        )

    @property
    def diameter(self) -> float:
        """Diameter of each hole, taken as round [m]."""
        return math.sqrt(4.0 * self.area / (math.pi * self.count))

    def number(self, flow: Floats | float, oil: OilState) -> Floats:
        """Return Re d/L [-] at a flow [m3/s] (infinite without length)."""
        if self.length == 0.0:
            return np.full_like(np.asarray(flow, dtype=float), math.inf)
        scale = oil.density * self.diameter**2 / (self.area * oil.viscosity * self.length)
        return np.asarray(np.asarray(flow, dtype=float) * scale)

    def figures(self, oil: OilState) -> Floats:
        """Return what `kernels.hole_flow` wants of the holes."""
        if self.length == 0.0:
            return np.array([self.discharge * self.area * math.sqrt(2.0 / oil.density), 0.0, 0.0])
        scale = oil.density * self.diameter**2 / (oil.viscosity * self.length)
        return np.array([0.0, 2.0 * scale**2 / oil.density, self.area / scale])

    def drop(self, flow: Floats | float, oil: OilState) -> Floats:
        """Return the pressure drop [Pa] at a flow of 0 or more [m3/s]."""
        q = np.asarray(flow, dtype=float)
        dynamic = 0.5 * oil.density * (q / self.area) ** 2
        if self.length == 0.0:
            return np.asarray(dynamic / self.discharge**2)
        return np.asarray(dynamic * _loss(np.maximum(self.number(q, oil), 1e-30)))

    def flow(self, drop: Floats | float, oil: OilState) -> Floats:
        """Return the flow [m3/s] at a pressure drop of 0 or more [Pa], the inverse of `drop`."""
        dp = np.asarray(drop, dtype=float)
        if self.length == 0.0:
            return np.asarray(self.discharge * self.area * np.sqrt(2.0 * dp / oil.density))
        # P = dp 2 rho d^4 / (mu L)^2 holds neither speed nor coefficient
        scale = oil.density * self.diameter**2 / (oil.viscosity * self.length)
        p = dp * 2.0 * scale**2 / oil.density
        curve = _number_over_drop()
        span = curve.x
        inside = np.exp(curve(np.log(np.clip(p, math.exp(span[0]), math.exp(span[-1])))))
        number = np.where(p < math.exp(span[0]), p / 64.0, np.where(p > math.exp(span[-1]), np.sqrt(p / 1.5), inside))
        return np.asarray(number * self.area / scale)


@dataclass(frozen=True, kw_only=True)
class BandGap:
    """The gap between a piston's band and the bore.

    Parameters
    ----------
    diameter : float
        Of the bore [m].
    gap : float
        Radial gap of the centred piston [m].
    length : float
        Along the flow [m].
    eccentricity : float
        Offset of the piston over the gap [-], 0 centred to 1 touching.

    Raises
    ------
    DomainError
        If a size is not positive, the gap is no gap beside the bore, or the eccentricity leaves 0 to 1.

    Notes
    -----
    The wall drags oil along with it: half the gap's area times the piston's speed, in the sense of the pressure flow in
    both strokes as seen from the piston. Laminar flow; dp only, without end losses.

    References
    ----------
    .. [1] M. G. Rabie, Fluid Power Engineering, McGraw-Hill 2009, eq. 2.19 (pressure flow).
    .. [2] Fully eccentric gap: 2.5 times the flow (a public lexicon of hydraulics); the law 1 + 1.5 e^2 is
       Merritt 1967, from memory.

    Examples
    --------
    >>> band = BandGap(diameter=0.040, gap=0.03e-3, length=0.010)
    >>> oil = OilState(temperature=313.15, density=850.0, viscosity=0.012)
    >>> round(float(band.flow(1e6, oil)) * 6e4, 4), round(band.drag_flow(0.5) * 6e4, 4)
    (0.1414, 0.0565)
    """

    diameter: float
    gap: float
    length: float
    eccentricity: float = 0.0

    def __post_init__(self) -> None:
        """Refuse a gap that cannot be."""
        for field in ("diameter", "gap", "length"):
            value = getattr(self, field)
            if not (math.isfinite(value) and value > 0.0):
                raise DomainError(f"piston band: {field} {value * 1e3:g} mm must be above 0")
        if self.gap > 0.05 * self.diameter:
            raise DomainError(
                f"piston band: a gap of {self.gap * 1e3:g} mm in a bore of {self.diameter * 1e3:g} mm "
                "is no narrow gap; "
                "at most a twentieth of the bore"
            )
        if not 0.0 <= self.eccentricity <= 1.0:
            raise DomainError(f"piston band: eccentricity {self.eccentricity:g}; 0 is centred, 1 touches the bore")

    def flow(self, drop: Floats | float, oil: OilState) -> Floats:
        """Return the flow by pressure alone [m3/s] at a drop [Pa]."""
        factor = math.pi * self.diameter * self.gap**3 * (1.0 + 1.5 * self.eccentricity**2)
        return np.asarray(factor * np.asarray(drop, dtype=float) / (12.0 * oil.viscosity * self.length))

    def drag_flow(self, speed: float) -> float:
        """Return the flow that the moving wall drags along [m3/s] at a piston speed [m/s]."""
        return math.pi * self.diameter * self.gap * speed / 2.0


@dataclass(frozen=True, kw_only=True)
class Hose:
    """A line to a remote reservoir, filled with oil.

    Parameters
    ----------
    diameter, length : float
        Of the bore [m].
    end_losses : float
        Entry and exit, in dynamic pressures [-] (0.5 + 1.0 for sharp ends, text books of fluid mechanics, from memory).

    Notes
    -----
    Friction factor: the larger of laminar 64/Re and Blasius' 0.3164 Re^(-1/4) for smooth turbulent pipes (from memory),
    so that drop rises with flow without a step.
    """

    diameter: float
    length: float
    end_losses: float = 1.5

    def __post_init__(self) -> None:
        """Refuse a hose that cannot be."""
        if not (self.diameter > 0.0 and self.length > 0.0 and self.end_losses >= 0.0):
            raise DomainError(
                f"hose: bore {self.diameter * 1e3:g} mm and length {self.length * 1e3:g} mm must be "
                "above 0, end losses "
                f"{self.end_losses:g} not below"
            )

    def drop(self, flow: Floats | float, oil: OilState) -> Floats:
        """Return the pressure drop [Pa] at a flow of 0 or more [m3/s]."""
        speed = np.asarray(flow, dtype=float) / (math.pi * self.diameter**2 / 4.0)
        reynolds = np.maximum(oil.density * speed * self.diameter / oil.viscosity, 1e-30)
        factor = np.maximum(64.0 / reynolds, 0.3164 * reynolds**-0.25)
        return np.asarray(0.5 * oil.density * speed**2 * (factor * self.length / self.diameter + self.end_losses))
