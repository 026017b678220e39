"""Springs: coils, bump stops, anti-roll bars."""

from tussock.mechanics.springs.anti_roll_bar import AntiRollBar
from tussock.mechanics.springs.bump_stop import BumpStop
from tussock.mechanics.springs.coil import CoilSpring, FatigueCheck, ProgressiveCoil, Proposal, propose

__all__ = ["AntiRollBar", "BumpStop", "CoilSpring", "FatigueCheck", "ProgressiveCoil", "Proposal", "propose"]
