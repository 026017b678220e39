"""What comfort and control weigh: the house's own weights for the two indices of the road loop."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Annotated

from pydantic import Field

from tussock.record.base import Frozen, Name
from tussock.record.fields import quantity
from tussock.record.units import Quantity, QuantityError, parse
from tussock.record.view import Finding, View, likeliest, nearest

Weight = Annotated[Quantity, quantity("ratio", example="0.45", least=0.0, most=1.0)]

#: Measures that may be weighed, as `mechanics.measures` names them; a test compares both lists.
MEASURES = (
    "seat", "ride", "seat_peak", "dose", "crest", "peak_ratio", "dose_ratio", "harshness", "shock_soft", "shock_medium",
    "shock_sharp", "toss", "toss_peak", "pitch_rate", "pitch_over_heave", "pitch_lag", "float", "heave_range",
    "roll_rate", "load", "least_load", "airborne", "front_airborne", "rear_airborne", "longest_gap", "front_grip_lost",
    "rear_grip_lost", "front_skate", "rear_skate",
    "hand_turned", "hand_rate", "hand_work", "hand_torque", "drift", "stops", "stop_count", "top_outs", "top_out_force",
    "bottoms", "bottom_force", "mean_speed",
)  # fmt: skip
_SUM = 2e-3  # by which the weights of an index may miss 1, for thirds that are rounded


class Weights(Frozen):
    """Weights of the two indices: a judgement of the house, not a standard. Each index adds up to 1."""

    comfort: Mapping[Name, Weight] = Field(
        description="weight by measure: seat, harshness, toss, pitch_rate and so on; together 1"
    )
    control: Mapping[Name, Weight] = Field(
        description="weight by measure: load, float, roll_rate, airborne and so on; together 1"
    )


def check_weights(view: View) -> Iterator[Finding]:
    """Yield measures that are unknown and weights that do not add up to 1."""
    for index in ("comfort", "control"):
        path = ("targets", "weights", index)
        if not view.is_mapping(*path):
            continue
        names = view.names(*path)
        for name in names:
            if name not in MEASURES:
                yield Finding(
                    path=(*path, name),
                    found=repr(name),
                    wrong=f"there is no measure of this name; {nearest(name, MEASURES)}",
                    example=likeliest(name, MEASURES),
                )
        read = [_number(view.get(*path, name)) for name in names]
        given = [w for w in read if w is not None]
        total = math.fsum(given)
        if len(given) == len(read) and abs(total - 1.0) > _SUM:
            yield Finding(
                path=path,
                found=f"{total:g}" if names else "nothing",
                wrong="the weights of an index add up to 1",
                example="{seat: 0.5, harshness: 0.3, toss: 0.2}"
                if index == "comfort"
                else "{load: 0.6, float: 0.3, airborne: 0.1}",
            )


def _number(value: object) -> float | None:
    if isinstance(value, Quantity):
        return value.si
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        return None
    try:
        return parse(str(value), "ratio", example="").si
    except QuantityError:
        return None
