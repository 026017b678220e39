"""Parameters of the vehicle from what was measured on the road."""

from tussock.mechanics.identify.drives import Plan, drive, emulate, figures, find, joined
from tussock.mechanics.identify.fit import Emulator, Fit, Parameter, design, estimate
from tussock.mechanics.identify.sensors import Sensors, usual_places
from tussock.mechanics.identify.statistics import Statistics, motions, statistics
from tussock.mechanics.identify.variants import PARAMETERS, changed

__all__ = [
    "PARAMETERS",
    "Emulator",
    "Fit",
    "Parameter",
    "Plan",
    "Sensors",
    "Statistics",
    "changed",
    "design",
    "drive",
    "emulate",
    "estimate",
    "figures",
    "find",
    "joined",
    "motions",
    "statistics",
    "usual_places",
]
