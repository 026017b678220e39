"""Damper hydraulics: oil, restrictions and valves, twin-tube and mono-tube, steady and over a cycle, and heat."""

from tussock.mechanics.dampers.hydraulics.architecture import Damper, MonoTube, RemoteReservoir, TwinTube
from tussock.mechanics.dampers.hydraulics.dynamic import Loop, cycle
from tussock.mechanics.dampers.hydraulics.oil import ATMOSPHERE, Oil, OilState
from tussock.mechanics.dampers.hydraulics.oil_column import oil_column_stiffness
from tussock.mechanics.dampers.hydraulics.quasi_static import QuasiStatic, solve, velocity_grid
from tussock.mechanics.dampers.hydraulics.restrictions import BandGap, Hose, Orifice
from tussock.mechanics.dampers.hydraulics.thermal import Duty, ThermalModel, WarmUp, warm_up
from tussock.mechanics.dampers.hydraulics.valves import DiscValve, ValveSet

__all__ = [
    "ATMOSPHERE",
    "BandGap",
    "Damper",
    "DiscValve",
    "Duty",
    "Hose",
    "Loop",
    "MonoTube",
    "Oil",
    "OilState",
    "Orifice",
    "QuasiStatic",
    "RemoteReservoir",
    "ThermalModel",
    "TwinTube",
    "ValveSet",
    "WarmUp",
    "cycle",
    "oil_column_stiffness",
    "solve",
    "velocity_grid",
    "warm_up",
]
