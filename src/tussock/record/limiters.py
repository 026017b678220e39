"""What ends an axle's travel beside springs, dampers and bump stops: lines, joints, shafts, clearances."""

from __future__ import annotations

from typing import Annotated, Literal, TypeAlias

from pydantic import Field

from tussock.record.base import ZERO_LENGTH, AngleLimit, Clearance, Frozen, Name, PartLength, PointAt, Title


class _Limiter(Frozen):
    name: Title = Field(description="what people call it; once per axle")


class Line(_Limiter):
    """A hose, cable or strap between chassis and axle: it must not be pulled straight."""

    kind: Literal["line"] = Field(description="hose, cable or strap")
    chassis: PointAt = Field(description="its end on the chassis")
    axle: PointAt = Field(description="its end on the axle, at kerb height")
    length: PartLength = Field(description="along the line, between its ends")
    slack: Clearance = Field(default=ZERO_LENGTH, description="slack that must be left")


class Joint(_Limiter):
    """A bushed joint that may only twist or tilt so far."""

    kind: Literal["joint"] = Field(description="angle of a bushed joint")
    joint: Name = Field(description="name of the joint in the layout", examples=["arm_chassis"])
    limit: AngleLimit = Field(description="greatest angle from the kerb position")


class RodEnd(_Limiter):
    """The ball joints at the ends of a rod."""

    kind: Literal["rod_end"] = Field(description="angle of a rod's ball joints")
    rod: Name = Field(description="name of the rod in the layout", examples=["drag_link"])
    limit: AngleLimit = Field(description="greatest angle from the kerb position")


class UniversalJoint(_Limiter):
    """A propshaft's universal joint at the axle."""

    kind: Literal["universal_joint"] = Field(description="angle of a propshaft's joint")
    output: PointAt = Field(description="centre of the joint at the gearbox side")
    flange: PointAt = Field(description="centre of the joint at the axle, at kerb height")
    limit: AngleLimit = Field(description="greatest angle between shaft and pinion")


class RodClearance(_Limiter):
    """A rod that must not touch measured points of the chassis."""

    kind: Literal["clearance"] = Field(description="a rod against points of the chassis")
    rod: Name = Field(description="name of the rod in the layout", examples=["track_rod"])
    rod_radius: PartLength = Field(description="outer radius of the rod")
    chassis: tuple[PointAt, ...] = Field(
        description="measured points of the chassis, joined by straight lines", min_length=1, max_length=200
    )
    least: Clearance = Field(description="gap that must be left")


class TyreClearance(_Limiter):
    """The tyre's tread against a point of the body."""

    kind: Literal["tyre"] = Field(description="tyre against a point of the body")
    chassis: PointAt = Field(description="measured point of the body, left side")
    least: Clearance = Field(description="gap that must be left")


Limiter: TypeAlias = Annotated[
    Line | Joint | RodEnd | UniversalJoint | RodClearance | TyreClearance, Field(discriminator="kind")
]
