"""Wheels and leaf-sprung axle of the invented double-cab pick-up (Dunnock): every figure is invented."""

from __future__ import annotations

import numpy as np

from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage import Axle, BushRates, LeafSprings, build_axle, leaf_halves
from tussock.mechanics.springs.leaf import LeafSpring

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


#: Rear axle of the pick-up: springs over the axle, shackles behind.
LEAF = {
    "wheel_centre": (-3.100, 0.780, 0.365),
    "fixed_eye": (-2.480, 0.560, 0.445),
    "shackle_eye": (-3.780, 0.560, 0.475),
    "shackle_pivot": (-3.765, 0.560, 0.600),
    "leaf_seat": (-3.100, 0.560, 0.430),
}
EYE = BushRates(radial=8.0e6, axial=1.2e6, conical=14.0 / DEGREE, torsional=0.8 / DEGREE)
LEAF_BUSHES = {"fixed_eye": EYE, "shackle_eye": EYE, "shackle_pivot": EYE}


def leaf_pair(**other: object) -> LeafSprings:
    """Springs of the pick-up's rear axle: five leaves, two of them of full length."""
    spring = LeafSpring(
        thicknesses=(0.007,) * 5, width=0.065, front_length=0.622, rear_length=0.682, full_length=2, clamp_length=0.12
    )
    front, rear = leaf_halves(spring)
    settings: dict[str, object] = {"front": front, "rear": rear, "clamp": 0.06, "load": 3200.0, **other}
    if "free_camber" in other:
        del settings["load"]
    return LeafSprings(**settings)  # type: ignore[arg-type]


def leaf_axle(table: dict[str, Floats] | None = None, **keywords: object) -> Axle:
    """Rear axle of the pick-up; keywords go to `build_axle`."""
    settings: dict[str, object] = {
        "wheel_radius": RADIUS, "bushes": LEAF_BUSHES, "leaf_springs": leaf_pair(), "name": "rear axle", **keywords,
    }  # fmt: skip
    return build_axle("leaf_springs", points(LEAF) if table is None else table, **settings)  # type: ignore[arg-type]
