"""Motion of the full vehicle: equations, rest, runs over roads, linear twin, closed forms."""

from tussock.mechanics.motion.rest import Rest, settle
from tussock.mechanics.motion.road_input import road_inputs
from tussock.mechanics.motion.simulate import STEP, History, march, simulate
from tussock.mechanics.motion.vehicle import AxleParts, DamperParts, Packed, Vehicle, pack

__all__ = [
    "STEP",
    "AxleParts",
    "DamperParts",
    "History",
    "Packed",
    "Rest",
    "Vehicle",
    "march",
    "pack",
    "road_inputs",
    "settle",
    "simulate",
]
