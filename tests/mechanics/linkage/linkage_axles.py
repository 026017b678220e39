"""Axles of the invented rescue wagon (Tarn): every figure is invented."""

from __future__ import annotations

import numpy as np

from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage import BushRates

DEGREE = np.pi / 180.0

FRONT = {
    "wheel_centre": (0.0, 0.750, 0.361),
    "arm_chassis": (-0.885, 0.412, 0.432),
    "arm_axle_front": (0.082, 0.428, 0.333),
    "arm_axle_rear": (-0.088, 0.428, 0.349),
    "track_rod_axle": (0.118, -0.458, 0.352),
    "track_rod_chassis": (0.118, 0.424, 0.424),
    "king_pin_lower": (0.006, 0.642, 0.258),
    "king_pin_upper": (-0.005, 0.612, 0.462),
    "tie_rod_left": (-0.158, 0.665, 0.338),
    "drag_link_axle": (0.176, -0.575, 0.356),
    "drag_link_pitman": (0.176, 0.372, 0.436),
    "spring_axle": (0.004, 0.462, 0.432),
    "spring_chassis": (0.002, 0.458, 0.722),
    "damper_axle": (-0.062, 0.545, 0.318),
    "damper_chassis": (-0.030, 0.470, 0.786),
    "stop_axle": (0.004, 0.462, 0.500),
    "stop_chassis": (0.002, 0.458, 0.642),
}
REAR = {
    "wheel_centre": (-2.700, 0.750, 0.361),
    "lower_link_axle": (-2.688, 0.478, 0.302),
    "lower_link_chassis": (-1.934, 0.436, 0.372),
    "upper_link_axle": (-2.706, 0.318, 0.498),
    "upper_link_chassis": (-2.262, 0.386, 0.521),
    "track_rod_axle": (-2.832, 0.472, 0.398),
    "track_rod_chassis": (-2.832, -0.482, 0.458),
    "spring_axle": (-2.690, 0.470, 0.432),
    "spring_chassis": (-2.686, 0.466, 0.722),
    "damper_axle": (-2.784, 0.556, 0.300),
    "damper_chassis": (-2.660, 0.480, 0.762),
    "stop_axle": (-2.692, 0.432, 0.505),
    "stop_chassis": (-2.690, 0.430, 0.645),
}
BUSHES = {
    "arm_chassis": BushRates(radial=6.0e6, axial=1.2e6, conical=28.0 / DEGREE, torsional=2.4 / DEGREE),
    "arm_axle_front": BushRates(radial=9.0e6, axial=1.8e6, conical=42.0 / DEGREE, torsional=3.2 / DEGREE),
    "arm_axle_rear": BushRates(radial=9.0e6, axial=1.8e6, conical=42.0 / DEGREE, torsional=3.2 / DEGREE),
}
STIFFNESS = {"lower_link": 5.0e6, "upper_link": 4.0e6}


def points(table: dict[str, tuple[float, float, float]], **other: tuple[float, float, float]) -> dict[str, Floats]:
    """Hardpoints as arrays, some replaced or added."""
    return {name: np.array(value) for name, value in {**table, **other}.items()}


def three_links(**other: tuple[float, float, float]) -> dict[str, Floats]:
    """Determinate rear axle: two lower links and one central upper link."""
    table = {**REAR, "upper_link_axle": (-2.706, 0.02, 0.52), "upper_link_chassis": (-2.10, 0.02, 0.545)}
    return points(table, **other)
