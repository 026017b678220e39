"""Ramp angles: how steep the ground may rise before, behind and between the wheels until the body touches it.

Wheels are circles of the height of their centres, on level ground; every line touches a wheel from below.
SAE J1100 (H106, H107, H147) and ISO 612:1978 (6.10 to 6.12), both from memory.
"""

from __future__ import annotations

import math

from tussock.errors import DomainError

Point = tuple[float, float]


def tangent_angle(point: Point, *, wheel: float, radius: float) -> float:
    """Return the slope at which the ground, touching a wheel from below, meets a point.

    Parameters
    ----------
    point : (float, float)
        Along the vehicle and above the ground [m].
    wheel : float
        Place of the wheel's centre along the vehicle [m].
    radius : float
        Height of the wheel's centre, and radius of the circle [m].

    Returns
    -------
    float
        Above zero where the point is above the ground [rad].

    Raises
    ------
    DomainError
        The point lies within the wheel.
    """
    across, up = abs(point[0] - wheel), point[1] - radius
    away = math.hypot(across, up)
    if away <= radius:
        raise DomainError(f"the point {point[0]:.3f}, {point[1]:.3f} m lies within the wheel at {wheel:.3f} m")
    return math.atan2(up, across) + math.asin(radius / away)


def breakover_angle(points: tuple[Point, ...], *, front: tuple[float, float], rear: tuple[float, float]) -> float:
    """Return the ramp breakover angle: the least sum of both tangents over points between the wheels [rad].

    `front` and `rear` are the place of a wheel's centre along the vehicle and its radius [m].
    """
    return min(
        tangent_angle(p, wheel=front[0], radius=front[1]) + tangent_angle(p, wheel=rear[0], radius=rear[1])
        for p in points
    )
