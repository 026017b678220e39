"""Springs: coils, leaves, torsion bars, bump stops, anti-roll bars, and what spring steel bears."""

from tussock.mechanics.springs.anti_roll_bar import AntiRollBar
from tussock.mechanics.springs.bump_stop import BumpStop
from tussock.mechanics.springs.coil import SEATING, CoilCheck, CoilSpring, Ends, Seating
from tussock.mechanics.springs.fatigue import (
    FatigueCheck,
    endurance_amplitude,
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
from tussock.mechanics.springs.progressive import ProgressiveCoil, RateStep
from tussock.mechanics.springs.propose import Proposal, propose
from tussock.mechanics.springs.torsion_bar import TorsionBar
from tussock.mechanics.springs.wire import (
    STEELS,
    SpringSteel,
    Wire,
    direct_shear_factor,
    en_factor,
    permissible_solid_stress,
    permissible_solid_stress_cold,
    shear_modulus_at,
    tensile_strength,
    wahl_factor,
)

__all__ = [
    "SEATING",
    "STEELS",
    "AntiRollBar",
    "BumpStop",
    "CoilCheck",
    "CoilSpring",
    "Ends",
    "FatigueCheck",
    "LeafSpring",
    "NippedPack",
    "ProgressiveCoil",
    "Proposal",
    "RateStep",
    "Seating",
    "SpringSteel",
    "TorsionBar",
    "TwoStageLeaf",
    "Wire",
    "direct_shear_factor",
    "en_factor",
    "endurance_amplitude",
    "friction_loop",
    "parabolic_deflection",
    "permissible_solid_stress",
    "permissible_solid_stress_cold",
    "permissible_upper_stress",
    "propose",
    "pulsating_margin",
    "shear_modulus_at",
    "stiffening_factor",
    "tensile_strength",
    "wahl_factor",
]
