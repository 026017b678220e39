"""Comfort and control as two composite indices whose weights are on the table.

Each index is the weighted geometric mean of measures over the same measures of a reference (the stock vehicle), so
0.90 means a tenth less discomfort, or a tenth less loss of control, than the reference. Both are the better the lower.
The weights are a judgement, not a standard: they are data here, shown with every result, and can be replaced.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from tussock.errors import DomainError


@dataclass(frozen=True, kw_only=True, slots=True)
class Measure:
    """A scalar measure.

    Attributes
    ----------
    key : str
        Its name in results and weights.
    title : str
        In words.
    kind : str
        What the number is, for display.
    unit : str
        SI unit.
    better : str
        "lower" or "higher".
    """

    key: str
    title: str
    kind: str
    unit: str
    better: Literal["lower", "higher"] = "lower"


MEASURES: dict[str, Measure] = {
    m.key: m
    for m in (
        Measure(key="seat", title="seat, weighted r.m.s.", kind="acceleration", unit="m/s^2"),
        Measure(key="ride", title="seat with rotations, backrest, feet", kind="acceleration", unit="m/s^2"),
        Measure(key="seat_peak", title="seat, running peak (MTVV)", kind="acceleration", unit="m/s^2"),
        Measure(key="dose", title="vibration dose (VDV)", kind="vibration_dose", unit="m/s^1.75"),
        Measure(key="crest", title="seat, crest factor", kind="ratio", unit="1"),
        Measure(key="peak_ratio", title="seat, MTVV over r.m.s.", kind="ratio", unit="1"),
        Measure(key="dose_ratio", title="seat, VDV over r.m.s. T^1/4", kind="ratio", unit="1"),
        Measure(key="harshness", title="harshness, 8 to 40 Hz", kind="acceleration", unit="m/s^2"),
        Measure(key="shock_soft", title="soft shocks, 2 to 8 Hz", kind="acceleration", unit="m/s^2"),
        Measure(key="shock_medium", title="medium shocks, 8 to 20 Hz", kind="acceleration", unit="m/s^2"),
        Measure(key="shock_sharp", title="sharp shocks, 20 to 40 Hz", kind="acceleration", unit="m/s^2"),
        Measure(key="toss", title="head toss", kind="acceleration", unit="m/s^2"),
        Measure(key="toss_peak", title="head toss, peak", kind="acceleration", unit="m/s^2"),
        Measure(key="pitch_rate", title="pitch rate, r.m.s.", kind="rotation_speed", unit="rad/s"),
        Measure(key="pitch_over_heave", title="pitch over heave", kind="ratio", unit="1"),
        Measure(key="pitch_lag", title="rear behind front, body", kind="time", unit="s"),
        Measure(key="float", title="body float, r.m.s.", kind="length_fine", unit="m"),
        Measure(key="heave_range", title="body heave, range", kind="length", unit="m"),
        Measure(key="roll_rate", title="roll rate, r.m.s.", kind="rotation_speed", unit="rad/s"),
        Measure(key="load", title="wheel-load variation", kind="share", unit="1"),
        Measure(key="least_load", title="least wheel load over static", kind="share", unit="1", better="higher"),
        Measure(key="airborne", title="time off the ground", kind="share", unit="1"),
        Measure(key="front_airborne", title="front wheels off the ground", kind="share", unit="1"),
        Measure(key="rear_airborne", title="rear wheels off the ground", kind="share", unit="1"),
        Measure(key="longest_gap", title="longest time off the ground", kind="time", unit="s"),
        Measure(key="front_grip_lost", title="front side grip lost", kind="share", unit="1"),
        Measure(key="rear_grip_lost", title="rear side grip lost", kind="share", unit="1"),
        Measure(key="front_skate", title="front axle skate in 1 s", kind="length", unit="m"),
        Measure(key="rear_skate", title="rear axle skate in 1 s", kind="length", unit="m"),
        Measure(key="hand_turned", title="hand wheel turned, to and fro", kind="angle", unit="rad"),
        Measure(key="hand_rate", title="hand wheel speed, r.m.s.", kind="rotation_speed", unit="rad/s"),
        Measure(key="hand_work", title="work at the hand wheel", kind="energy", unit="J"),
        Measure(key="hand_torque", title="hand wheel torque, r.m.s.", kind="torque", unit="N m"),
        Measure(key="drift", title="furthest off the path", kind="length", unit="m"),
        Measure(key="stops", title="hardest stop hit", kind="force_k", unit="N"),
        Measure(key="stop_count", title="stop hits", kind="count", unit="1"),
        Measure(key="top_outs", title="droop top-outs", kind="count", unit="1"),
        Measure(key="top_out_force", title="hardest top-out", kind="force_k", unit="N"),
        Measure(key="bottoms", title="dampers bottomed", kind="count", unit="1"),
        Measure(key="bottom_force", title="hardest bottoming of a damper", kind="force_k", unit="N"),
        Measure(key="mean_speed", title="mean speed", kind="speed", unit="m/s", better="higher"),
    )
}

COMFORT_WEIGHTS: dict[str, float] = {"seat": 0.45, "harshness": 0.20, "toss": 0.20, "pitch_rate": 0.15}
CONTROL_WEIGHTS: dict[str, float] = {"load": 0.50, "float": 0.25, "roll_rate": 0.15, "airborne": 0.10}

#: Added to measure and reference before their ratio, in SI, so that a measure that is all but zero does not decide
FLOORS: dict[str, float] = {
    "least_load": 0.05,
    "airborne": 0.01,
    "front_airborne": 0.01,
    "rear_airborne": 0.01,
    "longest_gap": 0.02,
    "front_grip_lost": 0.01,
    "rear_grip_lost": 0.01,
    "front_skate": 0.01,
    "rear_skate": 0.01,
    "drift": 0.05,
    "stops": 500.0,
    "stop_count": 1.0,
    "top_outs": 1.0,
    "top_out_force": 500.0,
    "bottoms": 1.0,
    "bottom_force": 500.0,
    "hand_turned": 0.2,
    "hand_rate": 0.05,
    "hand_work": 0.5,
    "hand_torque": 0.1,
    "toss": 0.02,
    "toss_peak": 0.1,
    "float": 0.001,
    "shock_soft": 0.01,
    "shock_medium": 0.01,
    "shock_sharp": 0.01,
    "pitch_over_heave": 0.05,
    "pitch_lag": 0.02,
}


@dataclass(frozen=True, kw_only=True)
class Weights:
    """What comfort and control weigh, by key of `MEASURES`.

    Attributes
    ----------
    comfort, control : mapping
        Weight by measure [-]; none negative, each index adding up to 1.

    Raises
    ------
    DomainError
        For a measure that is unknown, or weights that do not add up.
    """

    comfort: Mapping[str, float]
    control: Mapping[str, float]

    def __post_init__(self) -> None:
        """Refuse weights that make no index."""
        _check_weights(self.comfort)
        _check_weights(self.control)


def _check_weights(weights: Mapping[str, float]) -> None:
    unknown = [key for key in weights if key not in MEASURES]
    if unknown:
        raise DomainError(f"index: measure {unknown[0]!r} is unknown (known: {', '.join(MEASURES)})")
    total = math.fsum(weights.values())
    if not math.isclose(total, 1.0, abs_tol=1e-9) or min(weights.values()) < 0.0:
        raise DomainError(f"the weights of an index add up to {total:g}; they must add up to 1, none negative")


#: The weights where a programme says none: a judgement, not a standard.
HOUSE = Weights(comfort=COMFORT_WEIGHTS, control=CONTROL_WEIGHTS)


@dataclass(frozen=True, kw_only=True, slots=True)
class Part:
    """One measure's part in an index.

    Attributes
    ----------
    key : str
        The measure.
    weight : float
        Its weight [-].
    ratio : float
        Measure over reference, both with their floor added; inverted for a measure that is better higher [-].
    factor : float
        ratio ** weight; the index is the product of all parts' factors [-].
    """

    key: str
    weight: float
    ratio: float
    factor: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Composite:
    """An index [-], below 1 when better than the reference, and its parts."""

    value: float
    parts: tuple[Part, ...]


def composite(
    measures: Mapping[str, float],
    reference: Mapping[str, float],
    weights: Mapping[str, float],
    *,
    floors: Mapping[str, float] = FLOORS,
) -> Composite:
    """Return an index with the part of each measure.

    Parameters
    ----------
    measures, reference : mapping
        By key of `MEASURES`, in SI.
    weights : mapping
        By key; none negative, adding up to 1.
    floors : mapping
        By key, in SI: added to measure and reference.

    Raises
    ------
    DomainError
        If a measure is unknown, missing, negative or not finite, or the weights are not what they must be.

    Examples
    --------
    >>> got = composite({"seat": 0.5, "toss": 0.18}, {"seat": 1.0, "toss": 0.18}, {"seat": 0.6, "toss": 0.4})
    >>> got.value, got.parts[0].ratio
    (0.6598, 0.5)
    """
    _check_weights(weights)
    parts = []
    for key, weight in weights.items():
        if key not in measures or key not in reference:
            raise DomainError(f"index: measure {key!r} is missing")
        here, there, floor = measures[key], reference[key], floors.get(key, 0.0)
        top, bottom = here + floor, there + floor
        if not (math.isfinite(top) and math.isfinite(bottom) and top > 0.0 and bottom > 0.0):
            raise DomainError(f"index: measure {key!r} is {here:g} against {there:g}; both must be positive")
        ratio = top / bottom if MEASURES[key].better == "lower" else bottom / top
        parts.append(Part(key=key, weight=weight, ratio=ratio, factor=ratio**weight))
    return Composite(value=math.prod(p.factor for p in parts), parts=tuple(parts))


def index(measures: Mapping[str, float], reference: Mapping[str, float], weights: Mapping[str, float]) -> float:
    """Return the value of `composite` alone [-]; 1 for the reference itself."""
    return composite(measures, reference, weights).value
