"""Suspension linkages: joints and bodies in equilibrium, layouts as tables, characteristics over travel.

`build_axle` makes a rigid axle from hardpoints, `sweep` gives its characteristics, `axle_map` its map for heights,
travel and motion; `build_wheel`, `sweep_wheel` and `axle_map_of_wheels` do it for independent wheels, over travel and
steer; `clearance` is the gap between round parts.
"""

from __future__ import annotations

from tussock.mechanics.linkage.ackermann import Ackermann, ackermann
from tussock.mechanics.linkage.assemblies import Assembly, assemblies_over_travel, other_assemblies
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
from tussock.mechanics.linkage.compliance import (
    AxleCompliance,
    Compliance,
    SmallResponse,
    WheelCompliance,
    axle_compliance,
    compliance,
    wheel_compliance,
)
from tussock.mechanics.linkage.layouts import LAYOUTS
from tussock.mechanics.linkage.leaf_curves import LeafCurves, ShackleLimit, leaf_curves, shackle_limit
from tussock.mechanics.linkage.leaf_springs import (
    PARABOLIC,
    UNIFORM_SECTION,
    UNIFORM_STRENGTH,
    LeafHalf,
    LeafShape,
    LeafSprings,
    fit_two_stage,
    graduated_shape,
    leaf_halves,
)
from tussock.mechanics.linkage.load_cases import CASES, CaseAnswer, CaseRow, CaseTable, EndOfVehicle, case_table
from tussock.mechanics.linkage.maps import axle_map
from tussock.mechanics.linkage.sensitivity import (
    CHARACTERISTICS,
    Sensitivity,
    Spread,
    axle_characteristics,
    sensitivity,
    wheel_characteristics,
)
from tussock.mechanics.linkage.stations import WheelForce
from tussock.mechanics.linkage.steering import straight_ahead
from tussock.mechanics.linkage.under_load import LoadedState, under_load
from tussock.mechanics.linkage.wheel import SpringRod, TorsionSpringing, Wheel
from tussock.mechanics.linkage.wheel_build import build_wheel
from tussock.mechanics.linkage.wheel_layouts import WHEEL_LAYOUTS, WHEEL_STEERING
from tussock.mechanics.linkage.wheel_maps import axle_map_of_wheels
from tussock.mechanics.linkage.wheel_sweep import WheelSweep, sweep_wheel, wheel_anti_effects

__all__ = [
    "CASES",
    "CHARACTERISTICS",
    "LAYOUTS",
    "PARABOLIC",
    "UNIFORM_SECTION",
    "UNIFORM_STRENGTH",
    "WHEEL_LAYOUTS",
    "WHEEL_STEERING",
    "Ackermann",
    "AntiEffects",
    "Assembly",
    "Attachment",
    "Axle",
    "AxleCompliance",
    "AxleSweep",
    "BushRates",
    "CaseAnswer",
    "CaseRow",
    "CaseTable",
    "Compliance",
    "EndOfVehicle",
    "LeafCurves",
    "LeafHalf",
    "LeafShape",
    "LeafSprings",
    "LengthCurves",
    "LoadedState",
    "Pose",
    "Sensitivity",
    "ShackleLimit",
    "SmallResponse",
    "Spread",
    "SpringRod",
    "TorsionSpringing",
    "Wheel",
    "WheelCompliance",
    "WheelForce",
    "WheelSweep",
    "ackermann",
    "anti_effects",
    "assemblies_over_travel",
    "axle_characteristics",
    "axle_compliance",
    "axle_map",
    "axle_map_of_wheels",
    "build_axle",
    "build_wheel",
    "case_table",
    "clearance",
    "compliance",
    "fit_two_stage",
    "graduated_shape",
    "leaf_curves",
    "leaf_halves",
    "other_assemblies",
    "sensitivity",
    "shackle_limit",
    "steering_wheel_offset",
    "straight_ahead",
    "sweep",
    "sweep_wheel",
    "under_load",
    "wheel_anti_effects",
    "wheel_characteristics",
    "wheel_compliance",
]
