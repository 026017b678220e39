"""What the springing of an axle does where it stands: force, rates over heave and roll, of whatever kind it is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import RectBivariateSpline

from tussock.errors import DomainError
from tussock.mechanics.motion.vehicle import AxleParts


@dataclass(frozen=True, kw_only=True)
class Springing:
    """Springs, bushes and anti-roll bar of one axle at one heave and roll; bump stops, gas and friction left out.

    Attributes
    ----------
    force : float
        That both wheels together press down with against the body [N].
    moment : float
        That turns the axle back, left wheel up positive [N m].
    heave_rate : float
        Of both wheels together [N/m]; one wheel in heave has half of it.
    roll_rate : float
        [N m/rad].
    """

    force: float
    moment: float
    heave_rate: float
    roll_rate: float

    @property
    def wheel_rate(self) -> float:
        """Rate of one wheel in heave [N/m]."""
        return 0.5 * self.heave_rate


def springing(parts: AxleParts, *, heave: float, roll: float = 0.0) -> Springing:
    """Return force and rates of an axle's springing: first and second slopes of its elastic energy.

    Parameters
    ----------
    parts : AxleParts
        The axle.
    heave, roll : float
        Where it stands relative to the body [m], [rad].

    Raises
    ------
    DomainError
        Outside the axle's map.
    """
    grid = parts.axle
    if not (grid.heave[0] <= heave <= grid.heave[-1] and grid.roll[0] <= roll <= grid.roll[-1]):
        raise DomainError(
            f"heave {1e3 * heave:.0f} mm, roll {np.rad2deg(roll):.1f} deg lies outside the axle's map, which goes from "
            f"{1e3 * grid.heave[0]:.0f} to {1e3 * grid.heave[-1]:.0f} mm and {np.rad2deg(grid.roll[0]):.1f} to "
            f"{np.rad2deg(grid.roll[-1]):.1f} deg"
        )

    def slopes(values: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> tuple[float, float, float, float, float]:
        curve = RectBivariateSpline(grid.heave, grid.roll, values)
        orders = ((0, 0), (1, 0), (0, 1), (2, 0), (0, 2))
        value, h, r, hh, rr = (float(curve.ev([heave], [roll], dx=dx, dy=dy)[0]) for dx, dy in orders)
        return value, h, r, hh, rr

    _, force, moment, heave_rate, roll_rate = slopes(parts.stored)
    for side in (0, 1):
        length, h, r, hh, rr = slopes(grid.spring[..., side])
        rate = parts.spring_rate[side]
        pressed = parts.spring_length[side] - length
        if pressed <= 0.0:
            continue
        force -= rate * pressed * h
        moment -= rate * pressed * r
        heave_rate += rate * (h * h - pressed * hh)
        roll_rate += rate * (r * r - pressed * rr)
    return Springing(force=float(force), moment=float(moment), heave_rate=float(heave_rate), roll_rate=float(roll_rate))
