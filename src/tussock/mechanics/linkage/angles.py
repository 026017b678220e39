"""Angles that joints take over the travel of a linkage."""

from __future__ import annotations

import numpy as np

from tussock.mechanics.arrays import Floats, cross
from tussock.mechanics.linkage.model import Joint, Rod
from tussock.mechanics.linkage.solution import Solution


def joint_angles(s: Solution, element: Rod | Joint) -> Floats:
    """Cone and twist of a bush, or the turn of a rod against its two bodies since stock (np, 2) [rad]."""
    if isinstance(element, Joint):
        rows = s.joint_rows(element.name)
        return np.stack([np.arcsin(np.clip(np.hypot(rows[:, 3], rows[:, 4]), 0.0, 1.0)), rows[:, 5]], axis=1)
    gap = s.point(element.body_b, element.point_b) - s.point(element.body_a, element.point_a)
    gap = gap / np.linalg.norm(gap, axis=1)[:, None]
    stock = element.point_b - element.point_a
    stock = stock / np.linalg.norm(stock)
    turned = []
    for body in (element.body_a, element.body_b):
        was = s.direction(body, stock)
        turned.append(np.arctan2(np.linalg.norm(cross(was, gap), axis=1), np.einsum("pi,pi->p", was, gap)))
    return np.stack(turned, axis=1)
