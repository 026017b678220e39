"""Suspension linkages: joints and bodies in equilibrium, rigid-axle layouts, characteristics over heave and roll.

`build_axle` makes an axle from hardpoints, `sweep` gives its characteristics, `axle_map` its map for heights, travel
and motion, `clearance` the gap between round parts.
"""

from __future__ import annotations

from tussock.mechanics.linkage.axle import Attachment, Axle, BushRates, Pose
from tussock.mechanics.linkage.build import build_axle
from tussock.mechanics.linkage.characteristics import (
    AntiEffects,
    AxleSweep,
    LengthCurves,
    anti_effects,
    steering_wheel_offset,
    sweep,
)
from tussock.mechanics.linkage.clearance import clearance
from tussock.mechanics.linkage.compliance import AxleCompliance, axle_compliance
from tussock.mechanics.linkage.layouts import LAYOUTS
from tussock.mechanics.linkage.maps import axle_map
from tussock.mechanics.linkage.steering import straight_ahead

__all__ = [
    "LAYOUTS",
    "AntiEffects",
    "Attachment",
    "Axle",
    "AxleCompliance",
    "AxleSweep",
    "BushRates",
    "LengthCurves",
    "Pose",
    "anti_effects",
    "axle_compliance",
    "axle_map",
    "build_axle",
    "clearance",
    "steering_wheel_offset",
    "straight_ahead",
    "sweep",
]
