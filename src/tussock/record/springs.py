"""Springs of every kind that an axle may have: coil, leaf spring, torsion bar."""

from __future__ import annotations

from typing import Annotated, Any, Literal, TypeAlias

from pydantic import Discriminator, Field, Tag

from tussock.record.base import ZERO_LENGTH, Clearance, Frozen, PartLength, Text, Title, Travel
from tussock.record.fields import quantity
from tussock.record.parts import BarDiameter, BodyDiameter, Spring, SpringRate
from tussock.record.units import Quantity

LeafThickness = Annotated[Quantity, quantity("length", example="8 mm", above=0.0, plausible=("2 mm", "40 mm"))]
LeafWidth = Annotated[Quantity, quantity("length", example="60 mm", above=0.0, plausible=("20 mm", "150 mm"))]
Arch = Annotated[Quantity, quantity("length", example="135 mm", plausible=("-200 mm", "400 mm"))]
SpringFriction = Annotated[Quantity, quantity("force", example="250 N", least=0.0, plausible=("0 N", "10 kN"))]
BarTwistRate = Annotated[
    Quantity, quantity("angular_rate", example="58 N m/deg", above=0.0, plausible=("1 N m/deg", "1000 N m/deg"))
]
FreeAngle = Annotated[Quantity, quantity("angle", example="32 deg", above=0.0, plausible=("1 deg", "120 deg"))]


class Leaf(Frozen):
    """One leaf of a pack."""

    thickness: LeafThickness = Field(description="at the seat")
    length: PartLength = Field(description="from end to end, along the leaf; the main one from eye to eye")
    stage: Literal["main", "helper"] = Field(default="main", description="helper leaves touch only under load")


class LeafSpring(Frozen):
    """A leaf spring as measured in the press, and what it is made of.

    Heights are those of its arch: the line through both eyes over the middle of the main leaf at the seat. The arch
    falls under load, through flat into negative.
    """

    kind: Literal["leaf"] = Field(description="leaf spring")
    title: Title = Field(default="leaf spring", description="what people call it")
    rate: SpringRate = Field(description="at the seat, helper leaves free")
    free_arch: Arch = Field(description="arch without load")
    second_rate: SpringRate | None = Field(
        default=None, description="at the seat with the helper leaves carrying; left out: one stage"
    )
    second_at: Travel | None = Field(
        default=None, description="deflection from free at which the helper leaves begin to carry"
    )
    second_over: Travel = Field(
        default=Quantity(si=0.02, text="20 mm", unit="mm"), description="deflection over which they come in"
    )
    friction: SpringFriction = Field(
        default=Quantity(si=0.0, text="0 N", unit="N"), description="half the width of its loop in the press"
    )
    leaves: tuple[Leaf, ...] = Field(description="leaves from the main one down", min_length=1, max_length=30)
    width: LeafWidth = Field(description="of the leaves")
    clamp_length: Clearance = Field(default=ZERO_LENGTH, description="of the spring that its clamp on the axle holds")
    note: Text = Field(default="", description="anything worth knowing")


class TorsionBarSpring(Frozen):
    """A torsion bar on the pivot line of the lower arm, one for each wheel."""

    kind: Literal["torsion_bar"] = Field(description="torsion bar")
    title: Title = Field(default="torsion bar", description="what people call it")
    diameter: BarDiameter = Field(description="of the working length")
    inner_diameter: BodyDiameter | None = Field(default=None, description="of a tube; left out: solid")
    length: PartLength = Field(description="working length")
    rate: BarTwistRate | None = Field(default=None, description="as measured; left out: from its dimensions")
    free_angle: FreeAngle = Field(
        description="how far the lower arm hangs below its place at kerb where the bar carries nothing; "
        "its adjuster sets it"
    )
    note: Text = Field(default="", description="anything worth knowing")


def _kind(value: Any) -> str:
    """Tell the kinds apart; a spring that does not say is a coil."""
    kind = value.get("kind", "coil") if isinstance(value, dict) else getattr(value, "kind", "coil")
    return str(kind)


AnySpring: TypeAlias = Annotated[
    Annotated[Spring, Tag("coil")]
    | Annotated[LeafSpring, Tag("leaf")]
    | Annotated[TorsionBarSpring, Tag("torsion_bar")],
    Discriminator(_kind),
]
