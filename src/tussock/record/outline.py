"""The body as somebody sees it from the left: a few measures with a tape, for drawings to scale and ramp angles."""

from __future__ import annotations

from typing import Annotated, Literal, TypeAlias

from pydantic import Field

from tussock.record.base import Frozen, PointAt
from tussock.record.fields import quantity
from tussock.record.units import Quantity

Overhang = Annotated[Quantity, quantity("length", example="780 mm", above=0.0, plausible=("0.2 m", "3 m"))]
BodyPlace = Annotated[Quantity, quantity("length", example="480 mm", above=0.0, plausible=("0.1 m", "6 m"))]
BodyStyle: TypeAlias = Literal["wagon", "pick_up"]


class Outline(Frozen):
    """The body from the left at kerb height; what is left out is drawn, not measured."""

    style: BodyStyle = Field(
        default="wagon", description="wagon: the roof reaches to the tail; pick_up: a cab, and an open bed behind it"
    )
    front_overhang: Overhang = Field(description="front wheel centre to the foremost point")
    rear_overhang: Overhang = Field(description="rear wheel centre to the rearmost point")
    sill_height: BodyPlace | None = Field(default=None, description="lower edge of the doors above the ground")
    bonnet_height: BodyPlace | None = Field(default=None, description="rear edge of the bonnet above the ground")
    windscreen_foot: BodyPlace | None = Field(default=None, description="foot of the windscreen behind the front axle")
    cab_back: BodyPlace | None = Field(default=None, description="of a pick-up: back of the cab behind the front axle")
    bed_height: BodyPlace | None = Field(
        default=None, description="of a pick-up: top edge of the bed's sides above the ground"
    )
    lowest: PointAt | None = Field(
        default=None, description="lowest point of body or frame between the axles, for the ramp angle"
    )
