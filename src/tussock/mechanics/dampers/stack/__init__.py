"""The shim stack: thin discs on a clamp, in contact with each other, a seat and a washer, opened by pressure."""

from tussock.mechanics.dampers.stack.parts import Disc, Material, Port, RingLoad, Seat, Stack, Washer
from tussock.mechanics.dampers.stack.solve import lift_curve, opening_pressure, screen, solve
from tussock.mechanics.dampers.stack.state import Contacts, LiftCurve, StackState, Stresses

__all__ = [
    "Contacts",
    "Disc",
    "LiftCurve",
    "Material",
    "Port",
    "RingLoad",
    "Seat",
    "Stack",
    "StackState",
    "Stresses",
    "Washer",
    "lift_curve",
    "opening_pressure",
    "screen",
    "solve",
]
