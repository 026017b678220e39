"""Dampers: force-velocity curves, and dyno sweeps that become them."""

from tussock.mechanics.dampers.analysis import (
    Comparison,
    CurveShape,
    compare,
    damping_ratio,
    production_band,
    shape,
    sine_speed,
)
from tussock.mechanics.dampers.curve import BANDS, Direction, ForceCurve
from tussock.mechanics.dampers.dyno import DynoError, DynoTest, Run, read
from tussock.mechanics.dampers.synthesis import synthesise

__all__ = [
    "BANDS",
    "Comparison",
    "CurveShape",
    "Direction",
    "DynoError",
    "DynoTest",
    "ForceCurve",
    "Run",
    "compare",
    "damping_ratio",
    "production_band",
    "read",
    "shape",
    "sine_speed",
    "synthesise",
]
