"""Air helper bags of a kit, beside springs or bump stops."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from tussock.record.base import AxleName, Frozen, PartLength, Text, Title
from tussock.record.fields import CurvePoint, CurveRule, quantity
from tussock.record.units import Quantity

BagLoad = Annotated[CurvePoint, CurveRule(dimension="length", example="150 mm: 2.1 kN")]
BagVolume = Annotated[Quantity, quantity("volume", example="1.6 l", above=0.0, plausible=("0.1 l", "30 l"))]
BagPressure = Annotated[Quantity, quantity("pressure", example="2.0 bar", least=0.0, plausible=("0 bar", "12 bar"))]


class AirBag(Frozen):
    """An air helper bag, one of two; each side is closed for itself when it is filled. Pressures are over the air's."""

    title: Title = Field(default="air helper bag", description="what people call it")
    axle: AxleName = Field(description="axle it is made for")
    beside: Literal["spring", "stop"] = Field(
        default="spring", description="what it stands beside, or in, and is pressed like"
    )
    height: PartLength = Field(description="between its plates with the vehicle at stock kerb height")
    loads: tuple[BagLoad, ...] = Field(
        description="heights and the load there at the pressure of its maker's curve, falling heights",
        min_length=3,
        max_length=200,
    )
    loads_at: BagPressure = Field(description="pressure of that curve")
    volume: BagVolume = Field(description="at `height`, hose and tank included")
    least_pressure: BagPressure = Field(description="least that keeps its folds in place")
    most_pressure: BagPressure = Field(description="most that its maker allows")
    note: Text = Field(default="", description="anything worth knowing")
