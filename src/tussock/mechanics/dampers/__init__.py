"""Dampers: force-velocity curves, and dyno sweeps that become them."""

from tussock.mechanics.dampers.curve import (
    BANDS,
    Comparison,
    Direction,
    ForceCurve,
    compare,
    damping_ratio,
    production_band,
)
from tussock.mechanics.dampers.dyno import DynoError, DynoTest, Run, read, synthesise

__all__ = [
    "BANDS",
    "Comparison",
    "Direction",
    "DynoError",
    "DynoTest",
    "ForceCurve",
    "Run",
    "compare",
    "damping_ratio",
    "production_band",
    "read",
    "synthesise",
]
