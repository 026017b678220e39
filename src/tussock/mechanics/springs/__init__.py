"""Springs: coils, leaves, torsion bars, bump stops, anti-roll bars, and what spring steel bears."""

from tussock.mechanics.springs.air_bag import AirBag
from tussock.mechanics.springs.anti_roll_bar import AntiRollBar
from tussock.mechanics.springs.bump_stop import BumpStop, in_series
from tussock.mechanics.springs.coil import SEATING, CoilCheck, CoilSpring, Ends, Seating
from tussock.mechanics.springs.curve import SpringCurve, TabulatedSpring, length_under
from tussock.mechanics.springs.fatigue import (
    FatigueCheck,
    endurance_amplitude,
    goodman_line,
    permissible_upper_stress,
    pulsating_margin,
)
from tussock.mechanics.springs.leaf import (
    LeafSpring,
    NippedPack,
    TwoStageLeaf,
    friction_loop,
    parabolic_deflection,
    stiffening_factor,
)
from tussock.mechanics.springs.leaf_pack import LeafPack
from tussock.mechanics.springs.measured import Estimate, MeasuredSpring, measure
from tussock.mechanics.springs.progressive import ProgressiveCoil, RateStep
from tussock.mechanics.springs.propose import Proposal, propose
from tussock.mechanics.springs.rainflow import Cycle, rainflow, reversals
from tussock.mechanics.springs.shaped import ShapedCoil, ShapedLaw
from tussock.mechanics.springs.side_load import SideLoad, impact_stress, side_load, transverse_rate
from tussock.mechanics.springs.specification import Finding, LoadPoint, Specification, compare
from tussock.mechanics.springs.spectrum import SpectrumLife, cycles_endured, spectrum_life, stress_reserve
from tussock.mechanics.springs.tester import SpringTest, read_spring_test
from tussock.mechanics.springs.torsion_bar import TorsionBar, TorsionLever
from tussock.mechanics.springs.wire import (
    GRADES,
    STEELS,
    SpringSteel,
    SteelGrade,
    Wire,
    direct_shear_factor,
    en_factor,
    permissible_solid_stress,
    permissible_solid_stress_cold,
    permissible_working_stress_cold,
    shear_modulus_at,
    tensile_strength,
    torsional_yield,
    wahl_factor,
)

__all__ = [
    "GRADES",
    "SEATING",
    "STEELS",
    "AirBag",
    "AntiRollBar",
    "BumpStop",
    "CoilCheck",
    "CoilSpring",
    "Cycle",
    "Ends",
    "Estimate",
    "FatigueCheck",
    "Finding",
    "LeafPack",
    "LeafSpring",
    "LoadPoint",
    "MeasuredSpring",
    "NippedPack",
    "ProgressiveCoil",
    "Proposal",
    "RateStep",
    "Seating",
    "ShapedCoil",
    "ShapedLaw",
    "SideLoad",
    "Specification",
    "SpectrumLife",
    "SpringCurve",
    "SpringSteel",
    "SpringTest",
    "SteelGrade",
    "TabulatedSpring",
    "TorsionBar",
    "TorsionLever",
    "TwoStageLeaf",
    "Wire",
    "compare",
    "cycles_endured",
    "direct_shear_factor",
    "en_factor",
    "endurance_amplitude",
    "friction_loop",
    "goodman_line",
    "impact_stress",
    "in_series",
    "length_under",
    "measure",
    "parabolic_deflection",
    "permissible_solid_stress",
    "permissible_solid_stress_cold",
    "permissible_upper_stress",
    "permissible_working_stress_cold",
    "propose",
    "pulsating_margin",
    "rainflow",
    "read_spring_test",
    "reversals",
    "shear_modulus_at",
    "side_load",
    "spectrum_life",
    "stiffening_factor",
    "stress_reserve",
    "tensile_strength",
    "torsional_yield",
    "transverse_rate",
    "wahl_factor",
]
