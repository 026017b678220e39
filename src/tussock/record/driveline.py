"""Propeller shafts between gearbox and axle."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from tussock.record.base import Clearance, Frozen, PointAt
from tussock.record.fields import quantity
from tussock.record.units import Quantity

FinalDrive = Annotated[Quantity, quantity("ratio", example="4.1", above=0.0, plausible=("1", "12"))]
TopSpeed = Annotated[Quantity, quantity("speed", example="140 km/h", above=0.0, plausible=("10 km/h", "250 km/h"))]


class Propshaft(Frozen):
    """A propeller shaft, as measured at kerb height."""

    gearbox: PointAt = Field(description="centre of the joint at the gearbox")
    gearbox_shaft: PointAt = Field(description="a second point on the axis of the gearbox's output shaft")
    pinion: PointAt = Field(description="centre of the joint at the axle")
    pinion_shaft: PointAt = Field(description="a second point on the pinion's axis")
    gearbox_joint: Literal["single", "constant_velocity"] = Field(
        default="single", description="a single universal joint, or a double one or other joint of constant velocity"
    )
    pinion_joint: Literal["single", "constant_velocity"] = Field(default="single", description="likewise")
    slip_out: Clearance | None = Field(default=None, description="how much longer the spline lets the shaft become")
    slip_in: Clearance | None = Field(default=None, description="how much shorter")
    final_drive: FinalDrive | None = Field(default=None, description="turns of the shaft by turn of the wheels")
    top_speed: TopSpeed | None = Field(default=None, description="of the vehicle, with this shaft driving")
