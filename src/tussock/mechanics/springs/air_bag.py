"""Air helper bags: a closed volume whose pressure follows a polytropic law and pushes on an effective area.

References
----------
.. [1] Rate of an air spring, kappa p A^2 / V less (p - p_atm) dA/dh: handbook formula, from memory; derived here from
   the gas law and virtual work.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from scipy.interpolate import PchipInterpolator

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.springs.curve import require_length

ATMOSPHERE = 101_325.0  # standard atmosphere [Pa]


@dataclass(frozen=True, kw_only=True, eq=False)
class AirBag:
    """An air bag that is filled at one height and then closed.

    Parameters
    ----------
    height : array (n,)
        Heights of the effective-area curve, falling [m].
    area : array (n,)
        Effective area there: load over gauge pressure, as the maker measures it at constant pressure [m^2].
    fill_height : float
        Height at which it is filled [m], within the curve.
    fill_pressure : float
        Gauge pressure there [Pa].
    fill_volume : float
        Volume there, hose and extra tank included [m^3].
    exponent : float
        Polytropic exponent: 1 for slow changes of height (loading), about 1.3 to 1.4 for driving.
    atmosphere : float
        Outside pressure [Pa]; lower in the mountains.

    Raises
    ------
    DomainError
        A curve that cannot be, or a volume too small for the stroke.

    Notes
    -----
    The volume follows from the area by virtual work, dV/dh = A: a wall of cords neither stretches nor stores work.

    Examples
    --------
    >>> bag = AirBag(height=np.array([0.20, 0.15, 0.10]), area=np.array([8e-3, 8e-3, 8e-3]), fill_height=0.15,
    ...              fill_pressure=3e5, fill_volume=1.2e-3)
    >>> round(bag.load_at(0.15)), round(bag.rate_at(0.15) / 1e3, 1)
    (2400, 27.8)
    """

    height: Floats
    area: Floats
    fill_height: float
    fill_pressure: float
    fill_volume: float
    exponent: float = 1.3
    atmosphere: float = ATMOSPHERE

    def __post_init__(self) -> None:
        """Refuse a bag that cannot be."""
        for name in ("height", "area"):
            own = np.array(getattr(self, name), dtype=np.float64)
            own.setflags(write=False)
            object.__setattr__(self, name, own)
        h, a = self.height, self.area
        if h.ndim != 1 or h.shape != a.shape or h.size < 3:
            raise DomainError("air bag: at least 3 pairs of height and effective area are needed")
        if not (np.all(np.isfinite(h)) and np.all(np.isfinite(a))) or np.any(np.diff(h) >= 0.0) or np.any(a <= 0.0):
            raise DomainError("air bag: the heights must fall and every effective area must be positive")
        if not h[-1] <= self.fill_height <= h[0]:
            raise DomainError(
                f"air bag: filled at {self.fill_height * 1e3:g} mm, outside its curve, {h[-1] * 1e3:g} mm to "
                f"{h[0] * 1e3:g} mm"
            )
        if not (self.fill_pressure >= 0.0 and self.fill_volume > 0.0 and self.atmosphere > 0.0):
            raise DomainError(
                f"air bag: {self.fill_pressure:g} Pa gauge in {self.fill_volume:g} m^3 against {self.atmosphere:g} Pa; "
                "pressure must not be negative, volume and atmosphere must be positive"
            )
        if not 1.0 <= self.exponent <= 1.67:
            raise DomainError(f"air bag: the exponent is {self.exponent:g}; a gas has 1 (slow) to 1.67")
        object.__setattr__(self, "_area", PchipInterpolator(h[::-1], a[::-1]))
        if self.volume(float(h[-1])) <= 0.0:
            raise DomainError(
                f"air bag: the volume is used up before {h[-1] * 1e3:g} mm; fill volume or curve is wrong"
            )

    _area: PchipInterpolator = field(default=None, init=False, repr=False)  # type: ignore[assignment]  # of the curve

    @property
    def free_length(self) -> float:
        """Greatest height of its curve [m]: it is pulled apart beyond, and pushes no more."""
        return float(self.height[0])

    @property
    def least_load_length(self) -> float:
        """Least height of its curve [m]."""
        return float(self.height[-1])

    @property
    def friction(self) -> float:
        """Half the distance between loading and unloading [N]: none."""
        return 0.0

    def volume(self, height: float) -> float:
        """Return the volume at a height [m^3]."""
        return self.fill_volume + float(self._area.integrate(self.fill_height, height))

    def gauge_pressure(self, height: float) -> float:
        """Return the gauge pressure at a height [Pa]; not below the vacuum that stops a bag from pushing."""
        require_length(height, self.least_load_length, "air bag")
        absolute = (self.fill_pressure + self.atmosphere) * (self.fill_volume / self.volume(height)) ** self.exponent
        return float(absolute - self.atmosphere)

    def load_at(self, length: float) -> float:
        """Return the load at a height [N]; 0 above its curve or where the pressure has fallen to the outside one."""
        require_length(length, self.least_load_length, "air bag")
        if length > self.free_length:
            return 0.0
        return max(self.gauge_pressure(length), 0.0) * float(self._area(length))

    def forces(self, height: Floats) -> Floats:
        """Return the load at heights (n,) [N], for a motion that may leave the curve.

        Beyond its curve it goes on with the area of the end, so that it fades as it is pulled out; pressed further,
        with the rate of the end.
        """
        h = np.asarray(height, dtype=np.float64)
        low, top = self.least_load_length, self.free_length
        at = np.clip(h, low, top)
        areas = self._area.antiderivative()
        volume = self.fill_volume + areas(at) - areas(self.fill_height) + self._area(top) * np.maximum(h - top, 0.0)
        absolute = (self.fill_pressure + self.atmosphere) * (self.fill_volume / volume) ** self.exponent
        load = np.maximum(absolute - self.atmosphere, 0.0) * self._area(at)
        return np.asarray(load + self.rate_at(low) * np.maximum(low - h, 0.0))

    def held_forces(self, height: Floats) -> Floats:
        """Return the load at heights (n,) with its pressure held at the fill pressure by its line [N]."""
        h = np.clip(np.asarray(height, dtype=np.float64), self.least_load_length, self.free_length)
        return np.asarray(self.fill_pressure * self._area(h))

    def refilled(self, height: float, pressure: float) -> AirBag:
        """Return the same bag filled to a gauge pressure [Pa] at another height [m]."""
        return replace(self, fill_height=height, fill_pressure=pressure, fill_volume=self.volume(height))

    def rate_at(self, length: float) -> float:
        """Return the rate at a height [N/m]; 0 where it carries nothing."""
        if self.load_at(length) <= 0.0:
            return 0.0
        gauge, area = self.gauge_pressure(length), float(self._area(length))
        stiff = self.exponent * (gauge + self.atmosphere) * area**2 / self.volume(length)
        return float(stiff - gauge * self._area.derivative()(length))

    def energy_at(self, length: float) -> float:
        """Return the work put in from its greatest height to a height [J], the outside air's share taken off."""
        require_length(length, self.least_load_length, "air bag")
        # below the height where the pressure equals the outside one the load is none, and so is the work
        top = self.free_length
        if self.gauge_pressure(top) < 0.0:
            filled = (self.fill_pressure + self.atmosphere) / self.atmosphere
            even = self.fill_volume * filled ** (1.0 / self.exponent)
            low, high = self.least_load_length, top
            for _ in range(60):
                middle = 0.5 * (low + high)
                low, high = (middle, high) if self.volume(middle) < even else (low, middle)
            top = low
        if length >= top:
            return 0.0
        v1, v2 = self.volume(top), self.volume(length)
        p1 = self.gauge_pressure(top) + self.atmosphere
        if self.exponent == 1.0:
            gas = p1 * v1 * float(np.log(v1 / v2))
        else:
            k = self.exponent
            gas = p1 * v1 / (k - 1.0) * ((v1 / v2) ** (k - 1.0) - 1.0)
        return gas - self.atmosphere * (v1 - v2)

    def stress_at(self, length: float) -> float:
        """Return 0: a bag has no stress of a steel [Pa]."""
        require_length(length, self.least_load_length, "air bag")
        return 0.0
