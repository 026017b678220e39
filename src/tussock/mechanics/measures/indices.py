"""Comfort and control as two composite indices whose weights are on the table.

Each index is the weighted geometric mean of measures over the same measures of a reference (the stock vehicle), so
0.90 means a tenth less discomfort, or a tenth less loss of control, than the reference. Both are the better the lower.
The weights are a judgement, not a standard: they are data here, shown with every result, and can be replaced.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from tussock.errors import DomainError


@dataclass(frozen=True, kw_only=True, slots=True)
class Measure:
    """A scalar measure: its name in results, title, kind for display; all are the better the lower."""

    key: str
    title: str
    kind: str


MEASURES: dict[str, Measure] = {
    m.key: m
    for m in (
        Measure(key="seat", title="seat, weighted r.m.s.", kind="acceleration"),
        Measure(key="dose", title="vibration dose", kind="vibration_dose"),
        Measure(key="harshness", title="harshness, 8 to 40 Hz", kind="acceleration"),
        Measure(key="toss", title="head toss", kind="acceleration"),
        Measure(key="pitch_rate", title="pitch rate, r.m.s.", kind="rotation_speed"),
        Measure(key="float", title="body float, r.m.s.", kind="length_fine"),
        Measure(key="roll_rate", title="roll rate, r.m.s.", kind="rotation_speed"),
        Measure(key="load", title="wheel-load variation", kind="share"),
        Measure(key="airborne", title="time off the ground", kind="share"),
        Measure(key="stops", title="hardest stop hit", kind="force_k"),
    )
}

COMFORT_WEIGHTS: dict[str, float] = {"seat": 0.45, "harshness": 0.20, "toss": 0.20, "pitch_rate": 0.15}
CONTROL_WEIGHTS: dict[str, float] = {"load": 0.50, "float": 0.25, "roll_rate": 0.15, "airborne": 0.10}

#: Added to measure and reference before their ratio, so that a measure that is all but zero does not decide
_FLOOR: dict[str, float] = {"airborne": 0.01, "stops": 500.0, "toss": 0.02, "float": 0.001}


def index(measures: Mapping[str, float], reference: Mapping[str, float], weights: Mapping[str, float]) -> float:
    """Return the weighted geometric mean of measures over reference [-]; 1 for the reference itself.

    Raises
    ------
    DomainError
        If a measure is missing, negative, or the weights do not add up to 1.
    """
    total = sum(weights.values())
    if not math.isclose(total, 1.0, abs_tol=1e-9):
        raise DomainError(f"the weights of an index add up to {total:g}; they must add up to 1")
    log = 0.0
    for key, weight in weights.items():
        if key not in measures or key not in reference:
            raise DomainError(f"index: measure {key!r} is missing")
        floor = _FLOOR.get(key, 0.0)
        top, bottom = measures[key] + floor, reference[key] + floor
        if top <= 0.0 or bottom <= 0.0:
            raise DomainError(
                f"index: measure {key!r} is {measures[key]:g} against {reference[key]:g}; both must be positive"
            )
        log += weight * math.log(top / bottom)
    return math.exp(log)
