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
from tussock.mechanics.dampers.dyno import DynoError, DynoTest, Point, Run, read, read_bytes, read_file
from tussock.mechanics.dampers.rest_forces import RestForces
from tussock.mechanics.dampers.synthesis import synthesise

__all__ = [
    "BANDS",
    "Comparison",
    "CurveShape",
    "Direction",
    "DynoError",
    "DynoTest",
    "ForceCurve",
    "Point",
    "RestForces",
    "Run",
    "compare",
    "damping_ratio",
    "production_band",
    "read",
    "read_bytes",
    "read_file",
    "shape",
    "sine_speed",
    "synthesise",
]
