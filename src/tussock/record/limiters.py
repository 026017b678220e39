"""What ends an axle's travel beside springs, dampers and bump stops: lines, joints, shafts, clearances."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Literal, TypeAlias

from pydantic import Field

from tussock.record.base import ZERO_LENGTH, AngleLimit, Clearance, Frozen, Name, PartLength, PointAt, Title, Travel


class _Limiter(Frozen):
    name: Title = Field(description="what people call it; once per axle")


class Line(_Limiter):
    """A hose, cable or strap between chassis and axle or wheel: it must not be pulled straight."""

    kind: Literal["line"] = Field(description="hose, cable or strap")
    chassis: PointAt = Field(description="its end on the chassis")
    axle: PointAt = Field(description="its end on the axle or on `body`, at kerb height")
    body: Name | None = Field(
        default=None,
        description="body of the layout that carries that end; left out: the axle, or the upright",
        examples=["lower_arm"],
    )
    length: PartLength = Field(description="along the line, between its ends")
    slack: Clearance = Field(default=ZERO_LENGTH, description="slack that must be left")


class Joint(_Limiter):
    """A bushed joint or a ball joint that may only tilt so far."""

    kind: Literal["joint"] = Field(description="angle of a bushed joint or of a ball joint")
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


class DriveShaftJoint(_Limiter):
    """A constant-velocity joint of a drive shaft to an independent wheel."""

    kind: Literal["drive_joint"] = Field(description="angle of a drive shaft's joint")
    end: Literal["inner", "outer"] = Field(description="at the final drive or at the wheel")
    limit: AngleLimit = Field(description="greatest angle, wheels straight ahead")


class DriveShaftPlunge(_Limiter):
    """How far a drive shaft to an independent wheel may slide out and in."""

    kind: Literal["drive_plunge"] = Field(description="slip of a drive shaft")
    out: Travel = Field(description="how much longer it may become than at kerb")
    inward: Travel = Field(description="how much shorter it may become than at kerb")


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
    """The tyre against measured points of the body."""

    kind: Literal["tyre"] = Field(description="tyre against points of the body")
    chassis: PointAt = Field(description="measured point of the body, left side")
    points: Mapping[Name, PointAt] = Field(
        default_factory=dict, description="further points of the body by name, left side"
    )
    width: PartLength | None = Field(
        default=None,
        description="of the tyre over its sidewalls; left out: wide enough for every point",
        examples=["235 mm"],
    )
    shoulder: PartLength | None = Field(
        default=None, description="radius of its shoulders; left out: a fifth of the width", examples=["45 mm"]
    )
    steer: AngleLimit | None = Field(
        default=None,
        description="angle of the road wheel at lock, looked at either way; needs `width`; left out: straight ahead",
        examples=["32 deg"],
    )
    least: Clearance = Field(description="gap that must be left")


Limiter: TypeAlias = Annotated[
    Line | Joint | RodEnd | UniversalJoint | DriveShaftJoint | DriveShaftPlunge | RodClearance | TyreClearance,
    Field(discriminator="kind"),
]
