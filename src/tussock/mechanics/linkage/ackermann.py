"""How near the two road wheels of an axle come to rolling about one point: Ackermann's condition."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tussock.errors import InputError
from tussock.mechanics.arrays import Floats


@dataclass(frozen=True, kw_only=True)
class Ackermann:
    """Steer of the inner and the outer wheel against Ackermann's condition, along one steering line (ns,).

    Attributes
    ----------
    inner, outer : array
        Size of the steer of the wheel on the inside and the outside of the turn [rad].
    ideal_inner : array
        Steer of the inner wheel at which both axes meet on the line of the rear axle, given the outer one [rad].
    share : array
        Difference of inner and outer over the ideal difference [-]: 1 is full Ackermann, 0 parallel steer; NaN straight
        ahead, where it has no meaning.
    radius : array
        Radius of the middle of the rear axle by the mean of both wheels' cotangents [m]; infinite straight ahead.
    """

    inner: Floats
    outer: Floats
    ideal_inner: Floats
    share: Floats
    radius: Floats


def ackermann(left: Floats, right: Floats, *, wheelbase: float, king_pin_distance: float) -> Ackermann:
    """Compare the steer of both wheels with Ackermann's condition, cot(outer) - cot(inner) = distance / wheelbase.

    Parameters
    ----------
    left, right : array (ns,)
        Road steer of the left and the right wheel at the same steering input, left positive [rad].
    wheelbase : float
        [m].
    king_pin_distance : float
        Between the points where the steering axes meet the ground [m].

    Returns
    -------
    Ackermann

    Raises
    ------
    InputError
        Arrays of different shape, a length that is not positive, or an outer wheel steered so far that the turn's
        centre lies between the wheels.

    References
    ----------
    .. [1] ISO 8855 and SAE J670 for the Ackermann angle; the condition is plane geometry.

    Examples
    --------
    >>> found = ackermann(np.array([0.40]), np.array([0.34]), wheelbase=3.1, king_pin_distance=1.45)
    >>> round(float(found.share[0]), 2)
    0.99
    """
    a, b = np.asarray(left, dtype=np.float64), np.asarray(right, dtype=np.float64)
    if a.shape != b.shape or a.ndim != 1:
        raise InputError(f"the steer of the left wheel has shape {a.shape}, of the right {b.shape}; give equal rows")
    for word, value in (("wheelbase", wheelbase), ("king-pin distance", king_pin_distance)):
        if not (np.isfinite(value) and value > 0.0):
            raise InputError(f"the {word} is {value} m; it must be above zero")
    to_left = a + b >= 0.0
    inner, outer = np.where(to_left, a, -b), np.where(to_left, b, -a)
    turning = np.abs(outer) > 1e-9
    safe = np.where(turning, outer, 1.0)
    cot = 1.0 / np.tan(safe) - king_pin_distance / wheelbase
    if np.any(turning & (cot <= 0.0)):
        raise InputError(
            f"the outer wheel is steered {np.rad2deg(np.max(outer)):.1f} deg: the turn's centre would lie between the "
            "wheels, where the condition has no meaning"
        )
    ideal = np.where(turning, np.arctan2(1.0, cot), 0.0)
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.where(turning, (inner - outer) / np.where(turning, ideal - safe, 1.0), np.nan)
        mean = 0.5 * (1.0 / np.tan(safe) + 1.0 / np.tan(np.where(turning, inner, 1.0)))
    return Ackermann(
        inner=inner,
        outer=outer,
        ideal_inner=ideal,
        share=share,
        radius=np.where(turning, wheelbase * mean, np.inf),
    )
