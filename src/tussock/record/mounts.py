"""How dampers and coils are held: what decides whether a part of another vehicle can be bolted in."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from tussock.record.base import Frozen
from tussock.record.fields import quantity
from tussock.record.units import Quantity

MountSize = Annotated[Quantity, quantity("length", example="16 mm", above=0.0, plausible=("3 mm", "120 mm"))]
SeatSize = Annotated[Quantity, quantity("length", example="108 mm", above=0.0, plausible=("20 mm", "400 mm"))]


class Mount(Frozen):
    """One end of a damper."""

    kind: Literal["eye", "stem", "fork"] = Field(description="eye on a bolt, threaded stem, or fork over a bush")
    size: MountSize = Field(description="bolt through the eye or fork, or thread of the stem")
    width: MountSize | None = Field(default=None, description="of an eye or between a fork's sides, along the bolt")


class DamperMounts(Frozen):
    """Both ends of a damper."""

    upper: Mount = Field(description="at the chassis")
    lower: Mount = Field(description="at the axle or arm")


class SpringSeat(Frozen):
    """The seats between which a coil stands."""

    pilot: SeatSize = Field(description="diameter that centres the coil from inside")
    centres_to: SeatSize | None = Field(
        default=None, description="largest inside diameter that a stepped or tapered seat still centres"
    )
    room: SeatSize = Field(description="largest outside diameter of a coil that has room, compressed")
    retained: bool = Field(default=False, description="whether clamps hold the coil in both seats when it is loose")
