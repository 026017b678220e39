"""The kit, the fit-outs that it serves and the targets that it must meet."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Literal

from pydantic import Field

from tussock.record.air import Air
from tussock.record.air_bags import AirBag, BagPressure
from tussock.record.base import (
    ZERO_LENGTH,
    AngleLimit,
    Clearance,
    FrontRear,
    Frozen,
    HeightChange,
    Name,
    PartLength,
    PartMass,
    PointAt,
    SmallAngle,
    Text,
    Title,
    Travel,
)
from tussock.record.fields import RodLengthRule, quantity
from tussock.record.parts import BumpStop, Coiling, KitDamper, Packer
from tussock.record.springs import AnySpring
from tussock.record.units import Quantity
from tussock.record.weights import Weights

PersonMass = Annotated[Quantity, quantity("mass", example="75 kg", above=0.0, plausible=("10 kg", "250 kg"))]
LoadFactor = Annotated[Quantity, quantity("load_factor", example="3 g", above=0.0, plausible=("0.5 g", "20 g"))]
RideFrequency = Annotated[Quantity, quantity("frequency", example="1.3 Hz", above=0.0, plausible=("0.3 Hz", "5 Hz"))]
DampingRatio = Annotated[Quantity, quantity("ratio", example="0.30", least=0.0, plausible=("0", "3"))]
TargetAngle = Annotated[Quantity, quantity("angle", example="5 deg", above=0.0, plausible=("0.05 deg", "45 deg"))]

RodLength = Annotated[Quantity | Literal["keep", "refit"], RodLengthRule()]


class Item(Frozen):
    """An accessory or a load: what it weighs and where it sits."""

    name: Title = Field(description="what people call it; once per fit-out")
    mass: PartMass = Field(description="of the item")
    at: PointAt = Field(description="its centre of gravity, at kerb height")
    on: Literal["body", "roof", "hitch"] = Field(
        default="body", description="what carries it; a hitch load is what presses on the ball, at the ball"
    )


class Fitout(Frozen):
    """One way in which customers use the vehicle: people, accessories, load, and the springs chosen for it."""

    title: Title = Field(description="what people call it")
    people: Mapping[Name, PersonMass] = Field(default_factory=dict, description="mass of the person on each place")
    items: tuple[Item, ...] = Field(default=(), description="accessories and load", max_length=500)
    springs: FrontRear[Name] = Field(description="spring of the kit at each axle, or stock")
    packers: tuple[Name, ...] = Field(default=(), description="packers of the kit that it wears", max_length=20)
    bags: Mapping[Name, BagPressure] = Field(
        default_factory=dict,
        description="air helper bags of the kit that it wears, with the pressure set when it stands loaded so; at most "
        "one for each axle",
    )
    air: Air | None = Field(
        default=None, description="what the wind sees with it, roof racks and the like; left out: the vehicle's own"
    )


class Lift(Frozen):
    """Target height of one fit-out above the stock kerb height."""

    front: HeightChange = Field(description="front axle, at the wheel centres")
    rear: HeightChange = Field(description="rear axle, at the wheel centres")
    tolerance: Clearance = Field(description="either way")


class FrequencyRange(Frozen):
    """From the least to the most."""

    least: RideFrequency = Field(description="lower end")
    most: RideFrequency = Field(description="upper end")


class RatioRange(Frozen):
    """From the least to the most."""

    least: DampingRatio = Field(description="lower end")
    most: DampingRatio = Field(description="upper end")


class AngleRange(Frozen):
    """From the least to the most."""

    least: SmallAngle = Field(description="lower end")
    most: SmallAngle = Field(description="upper end")


class Targets(Frozen):
    """What the vehicle must become."""

    lift: Mapping[Name, Lift] = Field(description="per fit-out, above the stock kerb height")
    side_to_side: Clearance = Field(description="greatest difference of height left to right")
    droop: FrontRear[Travel] = Field(description="least travel left downwards from ride height")
    bump: FrontRear[Travel] = Field(description="least travel left upwards from ride height")
    bump_force: LoadFactor = Field(
        description="corner load, in static ones, at which the bump stop must end the travel"
    )
    roll: TargetAngle = Field(description="articulation at which the limiters must still hold")
    ride_frequency: FrontRear[FrequencyRange] = Field(description="of the body on each axle's springs")
    damping_ratio: RatioRange = Field(description="of the body on each axle")
    caster: AngleRange = Field(description="at ride height")
    lateral_shift: PartLength = Field(description="greatest sideways throw of an axle over the travel window")
    bump_steer: TargetAngle = Field(description="greatest steer of a road wheel over the travel window")
    pinion_angle: TargetAngle = Field(description="greatest change from stock at ride height")
    weights: Weights | None = Field(
        default=None, description="what comfort and control weigh on the road loop; left out: Tussock's own"
    )
    rules: tuple[Name, ...] = Field(default=(), description="names in the rule table; confirm locally", max_length=50)


class KitLine(Frozen):
    """A hose, cable or strap of the kit that replaces one of the vehicle's."""

    name: Title = Field(description="name of the limiter that it replaces")
    length: PartLength = Field(description="along the line, between its ends")
    slack: Clearance | None = Field(default=None, description="slack that must be left; left out: as stock")
    chassis: PointAt | None = Field(default=None, description="its end on the chassis, if moved")
    axle: PointAt | None = Field(default=None, description="its end on the axle, if moved")


class KitJoint(Frozen):
    """A ball joint, rod end or shaft joint of the kit that replaces one of the vehicle's, or one set at an angle."""

    name: Title = Field(description="name of the limiter that it replaces")
    limit: AngleLimit = Field(description="greatest angle from the vehicle's kerb position")


class Kit(Frozen):
    """The parts that the kit is made of."""

    title: Title = Field(description="what people call it")
    springs: Mapping[Name, AnySpring] = Field(description="by name")
    coiling: Coiling | None = Field(
        default=None, description="wires and room for coils; left out: no coils are proposed"
    )
    packers: Mapping[Name, Packer] = Field(default_factory=dict, description="by name")
    bags: Mapping[Name, AirBag] = Field(default_factory=dict, description="air helper bags, by name")
    dampers: Mapping[Name, KitDamper] = Field(description="by name")
    stop_spacers: FrontRear[Clearance] = Field(
        default=FrontRear[Clearance](front=ZERO_LENGTH, rear=ZERO_LENGTH), description="under the stock bump stops"
    )
    stops: Mapping[Name, BumpStop] = Field(
        default_factory=dict, description="bump stops as measured in the press, by name"
    )
    stop_stacks: FrontRear[tuple[Name, ...]] = Field(
        default=FrontRear[tuple[Name, ...]](front=(), rear=()),
        description="bump stops that replace the stock ones, stood on each other: names of `stops` or of the library "
        "that comes with Tussock; left out: the stock stop stays",
    )
    lines: FrontRear[tuple[KitLine, ...]] = Field(
        default=FrontRear[tuple[KitLine, ...]](front=(), rear=()), description="replacement lines"
    )
    joints: FrontRear[tuple[KitJoint, ...]] = Field(
        default=FrontRear[tuple[KitJoint, ...]](front=(), rear=()), description="replacement joints"
    )
    changes: FrontRear[Mapping[str, PointAt]] = Field(
        default=FrontRear[Mapping[str, PointAt]](front={}, rear={}),
        description="hardpoints that a bracket or an offset bush moves: `point@body`, as fitted in the stock pose",
    )
    rod_lengths: FrontRear[Mapping[Name, RodLength]] = Field(
        default=FrontRear[Mapping[Name, RodLength]](front={}, rear={}),
        description="rods and links that the kit makes longer or shorter: a length, or refit (to the changed points in "
        "the stock pose); the others keep their stock length",
    )
    note: Text = Field(default="", description="anything worth knowing")
