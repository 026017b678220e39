"""Wheels and leaf-sprung axle of the invented double-cab pick-up (Dunnock): every figure is invented."""

from __future__ import annotations

import numpy as np

from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage import BushRates

DEGREE = np.pi / 180.0
RADIUS = 0.365

WISHBONE = {
    "wheel_centre": (0.0, 0.780, 0.365),
    "lower_ball": (0.004, 0.706, 0.268),
    "upper_ball": (-0.018, 0.672, 0.528),
    "lower_arm_front": (0.128, 0.318, 0.296),
    "lower_arm_rear": (-0.212, 0.330, 0.288),
    "upper_arm_front": (0.086, 0.424, 0.533),
    "upper_arm_rear": (-0.128, 0.430, 0.513),
    "tie_rod_outer": (0.142, 0.726, 0.318),
    "tie_rod_inner": (0.136, 0.362, 0.335),
    "spring_lower_arm": (-0.006, 0.590, 0.290),
    "spring_chassis": (-0.030, 0.470, 0.690),
    "damper_lower_arm": (-0.006, 0.590, 0.290),
    "damper_chassis": (-0.030, 0.470, 0.690),
    "stop_lower_arm": (0.060, 0.520, 0.300),
    "stop_chassis": (0.060, 0.505, 0.385),
    "drive_inner": (0.0, 0.240, 0.392),
    "drive_outer": (0.0, 0.716, 0.365),
    "bar_pivot": (0.300, 0.300, 0.400),
    "drop_link_bar": (0.060, 0.480, 0.392),
    "drop_link_lower_arm": (0.066, 0.500, 0.292),
}
STRUT = {
    **{k: v for k, v in WISHBONE.items() if not k.startswith(("upper", "spring", "damper", "drop", "stop"))},
    "strut_top": (-0.046, 0.596, 0.912),
    "strut_lower": (-0.010, 0.650, 0.420),
    "spring_upright": (-0.020, 0.634, 0.560),
    "spring_chassis": (-0.044, 0.599, 0.888),
    "drop_link_bar": (0.060, 0.620, 0.380),
    "drop_link_upright": (0.062, 0.640, 0.560),
}
RELAY = {
    "pitman_shaft": (0.010, 0.300, 0.400),
    "pitman_ball": (0.166, 0.300, 0.350),
    "idler_shaft": (0.010, -0.300, 0.400),
    "idler_ball": (0.166, -0.300, 0.350),
}
ARM_BUSHES = {
    "lower_arm_front": BushRates(radial=9.0e6, axial=1.6e6, conical=30.0 / DEGREE, torsional=1.6 / DEGREE),
    "lower_arm_rear": BushRates(radial=5.0e6, axial=1.0e6, conical=24.0 / DEGREE, torsional=1.4 / DEGREE),
    "upper_arm_front": BushRates(radial=6.0e6, axial=1.0e6, conical=20.0 / DEGREE, torsional=1.0 / DEGREE),
    "upper_arm_rear": BushRates(radial=6.0e6, axial=1.0e6, conical=20.0 / DEGREE, torsional=1.0 / DEGREE),
}


def points(table: dict[str, tuple[float, float, float]], **other: tuple[float, float, float]) -> dict[str, Floats]:
    """Hardpoints as arrays, some replaced or added."""
    return {name: np.array(value) for name, value in {**table, **other}.items()}
