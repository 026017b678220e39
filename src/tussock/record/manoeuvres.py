"""Manoeuvres of the road loop's sections, and the driver who steers."""

from __future__ import annotations

import math
from typing import Annotated, Literal, TypeAlias

from pydantic import Field

from tussock.record.base import Frozen
from tussock.record.fields import quantity
from tussock.record.units import Quantity

Place = Annotated[Quantity, quantity("length", example="60 m", least=0.0, plausible=("0 m", "50000 m"))]
ZoneLength = Annotated[Quantity, quantity("length", example="25 m", above=0.0, plausible=("1 m", "5000 m"))]
LorrySize = Annotated[Quantity, quantity("length", example="16.5 m", above=0.0, plausible=("1.5 m", "60 m"))]
Gap = Annotated[Quantity, quantity("length", example="1.2 m", above=0.0, plausible=("0.3 m", "20 m"))]
Edge = Annotated[Quantity, quantity("length", example="2 m", least=0.0, plausible=("0 m", "100 m"))]
CircleRadius = Annotated[Quantity, quantity("length", example="100 m", above=0.0, plausible=("3 m", "2000 m"))]
WindSpeed = Annotated[Quantity, quantity("speed", example="20 m/s", least=0.0, plausible=("0 m/s", "60 m/s"))]
TravelSpeed = Annotated[Quantity, quantity("speed", example="90 km/h", above=0.0, plausible=("1 km/h", "200 km/h"))]
Deceleration = Annotated[Quantity, quantity("acceleration", example="4 m/s^2", above=0.0, most=8.0)]
HandAngle = Annotated[Quantity, quantity("angle", example="40 deg", plausible=("-900 deg", "900 deg"))]
Turned = Annotated[Quantity, quantity("angle", example="540 deg", above=0.0, plausible=("30 deg", "1200 deg"))]
HandRate = Annotated[
    Quantity, quantity("turning_speed", example="700 deg/s", above=0.0, plausible=("20 deg/s", "2000 deg/s"))
]
Seconds = Annotated[Quantity, quantity("time", example="0.2 s", least=0.0, plausible=("0 s", "5 s"))]
Preview = Annotated[Quantity, quantity("time", example="1.0 s", above=0.0, plausible=("0.2 s", "10 s"))]
Share = Annotated[Quantity, quantity("ratio", example="1", least=0.0, plausible=("0", "10"))]
Trim = Annotated[Quantity, quantity("ratio", example="0.15", least=0.0, plausible=("0", "2"))]

Hand: TypeAlias = Literal["left", "right"]
NO_WIND = Quantity(si=0.0, text="0 m/s", unit="m/s")


class CrosswindGust(Frozen):
    """A zone of wind across the road, as before the wind generator of ISO 12021."""

    kind: Literal["gust"] = Field(description="crosswind gust")
    at: Place = Field(description="where the zone starts")
    length: ZoneLength = Field(
        default=Quantity(si=25.0, text="25 m", unit="m"), description="of the zone; ISO 12021: 15 m or more"
    )
    wind: WindSpeed = Field(
        default=Quantity(si=20.0, text="20 m/s", unit="m/s"),
        description="across the road; ISO 12021: 20 m/s (from memory)",
    )
    blows_from: Hand = Field(default="left", description="side that it comes from")
    edge: Edge = Field(
        default=Quantity(si=2.0, text="2 m", unit="m"), description="length over which it comes and goes"
    )


class LorryPass(Frozen):
    """A lorry that passes or is passed: a pulse of side force and yaw moment."""

    kind: Literal["lorry"] = Field(description="passing lorry")
    at: Place = Field(description="where the vehicle's middle is when the first end of the lorry is beside it")
    lorry_speed: TravelSpeed = Field(description="of the lorry")
    way: Literal["overtaking", "overtaken", "oncoming"] = Field(
        default="oncoming", description="the lorry overtakes, is overtaken, or comes the other way"
    )
    side: Hand = Field(default="right", description="where it passes")
    gap: Gap = Field(
        default=Quantity(si=1.2, text="1.2 m", unit="m"), description="between the sides of lorry and vehicle"
    )
    length: LorrySize = Field(default=Quantity(si=16.5, text="16.5 m", unit="m"), description="of the lorry")
    width: LorrySize = Field(default=Quantity(si=2.55, text="2.55 m", unit="m"), description="of the lorry")
    height: LorrySize = Field(default=Quantity(si=4.0, text="4 m", unit="m"), description="of the lorry")
    wind: WindSpeed = Field(default=NO_WIND, description="steady wind across the road, kept off beside the lorry")
    blows_from: Hand = Field(default="right", description="side that the wind comes from")
    scale: Share = Field(
        default=Quantity(si=1.0, text="1"),
        description="multiplies what the lorry pushes aside: measured pulses were not found for this class",
    )


class LaneChange(Frozen):
    """The double lane change of ISO 3888-1, between cones."""

    kind: Literal["lane_change"] = Field(description="double lane change, ISO 3888-1")
    at: Place = Field(description="where the first cones stand; the last stand 125 m further")
    to: Hand = Field(default="left", description="side of the other lane")


class Braking(Frozen):
    """Braking in a straight line at a held deceleration."""

    kind: Literal["braking"] = Field(description="braking in a straight line")
    at: Place = Field(description="where the driver starts to brake")
    deceleration: Deceleration = Field(
        default=Quantity(si=4.0, text="4 m/s^2", unit="m/s^2"), description="held, built up over half a second"
    )
    to_speed: TravelSpeed = Field(
        default=Quantity(si=10.0 / 3.6, text="10 km/h", unit="km/h"), description="down to which it brakes"
    )


class SteadyCircle(Frozen):
    """A circle of constant radius, ISO 4138."""

    kind: Literal["circle"] = Field(description="steady circle, ISO 4138")
    at: Place = Field(description="where the straight ends")
    radius: CircleRadius = Field(
        default=Quantity(si=100.0, text="100 m", unit="m"), description="ISO 4138 prefers 100 m (from memory)"
    )
    to: Hand = Field(default="left", description="side that it turns to")


class StepSteer(Frozen):
    """The hand wheel turned at once and held, ISO 7401."""

    kind: Literal["step_steer"] = Field(description="step of the hand wheel, ISO 7401")
    at: Place = Field(description="where it is turned")
    angle: HandAngle = Field(description="of the hand wheel, left positive")
    rise: Seconds = Field(
        default=Quantity(si=0.15, text="0.15 s", unit="s"), description="time in which it is turned, 0.15 s at most"
    )


Manoeuvre: TypeAlias = Annotated[
    CrosswindGust | LorryPass | LaneChange | Braking | SteadyCircle | StepSteer, Field(discriminator="kind")
]
STEERED = ("lane_change", "circle")
"""Manoeuvres that need a driver who steers."""


class DriverModel(Frozen):
    """The driver who steers: looks ahead along the path and turns the hand wheel (MacAdam 1981, from memory)."""

    preview: Preview = Field(
        default=Quantity(si=1.0, text="1.0 s", unit="s"), description="time looked ahead; longer is calmer"
    )
    reaction: Seconds = Field(default=Quantity(si=0.2, text="0.2 s", unit="s"), description="before a wish is acted on")
    lag: Seconds = Field(default=Quantity(si=0.05, text="0.05 s", unit="s"), description="of arms and hands")
    rate: HandRate = Field(
        default=Quantity(si=math.radians(700.0), text="700 deg/s", unit="deg/s"),
        description="greatest rate of the hand wheel; common practice, no source",
    )
    angle: Turned = Field(
        default=Quantity(si=math.radians(540.0), text="540 deg", unit="deg"),
        description="hand wheel from straight on to full lock",
    )
    trim: Trim = Field(
        default=Quantity(si=0.15, text="0.15"),
        description="share of a lasting distance from the path that the driver takes out in a second",
    )
