"""The vehicle as measured: weights, tyre, axles with their hardpoints, places of people, lamp, sensors."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Literal, TypeAlias

from pydantic import Field

from tussock.record.air import Air
from tussock.record.base import (
    NO_ANGLE,
    AngleLimit,
    AxleName,
    Clearance,
    FilePath,
    FrontRear,
    Frozen,
    Inertia,
    Inertias,
    Name,
    PartLength,
    PartMass,
    PointAt,
    SmallAngle,
    Text,
    Title,
)
from tussock.record.driveline import Propshaft
from tussock.record.fields import quantity
from tussock.record.layouts import LAYOUTS, STEERINGS
from tussock.record.limiters import Limiter
from tussock.record.mounts import SpringSeat
from tussock.record.outline import Outline
from tussock.record.parts import AntiRollBar, BarRate, BumpStop, Bush, Damper
from tussock.record.springs import AnySpring
from tussock.record.units import Quantity

Wheelbase = Annotated[Quantity, quantity("length", example="2700 mm", above=0.0, plausible=("1 m", "6 m"))]
BodyLength = Annotated[Quantity, quantity("length", example="1760 mm", above=0.0, plausible=("0.2 m", "5 m"))]
CornerMass = Annotated[Quantity, quantity("mass", example="459 kg +- 2 kg", above=0.0, plausible=("50 kg", "3000 kg"))]
VehicleMass = Annotated[Quantity, quantity("mass", example="2650 kg", above=0.0, plausible=("300 kg", "12000 kg"))]
TyreRadius = Annotated[Quantity, quantity("length", example="379 mm", above=0.0, plausible=("150 mm", "800 mm"))]
TyreStiffness = Annotated[Quantity, quantity("rate", example="240 N/mm", above=0.0, plausible=("50 N/mm", "2000 N/mm"))]
TyreDamping = Annotated[
    Quantity, quantity("damping", example="150 N s/m", least=0.0, plausible=("0 N s/m", "5000 N s/m"))
]
SideStiffness = Annotated[
    Quantity, quantity("side_stiffness", example="58 kN/rad", above=0.0, plausible=("5 kN/rad", "500 kN/rad"))
]
WheelLoad = Annotated[Quantity, quantity("force", example="4.4 kN", above=0.0, plausible=("200 N", "40 kN"))]
CushionStiffness = Annotated[Quantity, quantity("rate", example="70 N/mm", above=0.0, plausible=("5 N/mm", "500 N/mm"))]
CushionDamping = Annotated[
    Quantity, quantity("damping", example="300 N s/m", least=0.0, plausible=("0 N s/m", "5000 N s/m"))
]
Friction = Annotated[Quantity, quantity("ratio", example="0.85", above=0.0, plausible=("0.05", "2"))]
Pressure = Annotated[Quantity, quantity("pressure", example="2.4 bar", above=0.0, plausible=("0.3 bar", "10 bar"))]
AxleShare = Annotated[Quantity, quantity("ratio", example="0.6", least=0.0, most=1.0)]
SteeringRatio = Annotated[Quantity, quantity("ratio", example="17.5", above=0.0, plausible=("2", "60"))]
TargetPitch = Annotated[Quantity, quantity("angle", example="1.5 deg", above=0.0, plausible=("0.05 deg", "15 deg"))]
LampSlope = Annotated[Quantity, quantity("slope", example="-1.2 %", plausible=("-10 %", "5 %"))]

BushFriction = Annotated[Quantity, quantity("force", example="60 N", least=0.0, plausible=("0 N", "1 kN"))]
HandTorque = Annotated[Quantity, quantity("torque", example="0.8 N m", least=0.0, plausible=("0 N m", "10 N m"))]
SteeringDamping = Annotated[
    Quantity, quantity("damping", example="900 N s/m", least=0.0, plausible=("0 N s/m", "20000 N s/m"))
]
PinInertia = Annotated[
    Quantity, quantity("inertia", example="1.3 kg m^2", above=0.0, plausible=("0.001 kg m^2", "20 kg m^2"))
]
FrameStiffness = Annotated[
    Quantity,
    quantity("angular_rate", example="4000 N m/deg", above=0.0, plausible=("200 N m/deg", "100000 N m/deg")),
]
TwistDamping = Annotated[Quantity, quantity("ratio", example="0.05", least=0.0, most=1.0)]
RollShare = Annotated[Quantity, quantity("ratio", example="0.5", least=0.05, most=0.95)]
RackTravel = Annotated[Quantity, quantity("length", example="52 mm", above=0.0, plausible=("15 mm", "150 mm"))]

LayoutName: TypeAlias = Literal[
    "arms_track_rod", "links_track_rod", "links", "leaf_springs", "double_wishbone", "strut"
]
SteeringName: TypeAlias = Literal["drag_link", "rack", "relay"]
if set(LayoutName.__args__) != set(LAYOUTS):  # type: ignore[attr-defined]
    raise RuntimeError("the layout names of the record do not match its table")
if {*SteeringName.__args__, "fixed"} != set(STEERINGS):  # type: ignore[attr-defined]
    raise RuntimeError("the steering names of the record do not match its table")


class Corners(Frozen):
    """Mass on each wheel, weighed at kerb: full tank, nobody aboard."""

    front_left: CornerMass = Field(description="front left scale")
    front_right: CornerMass = Field(description="front right scale")
    rear_left: CornerMass = Field(description="rear left scale")
    rear_right: CornerMass = Field(description="rear right scale")

    @property
    def total(self) -> float:
        """Mass of the vehicle at kerb [kg]."""
        return self.front_left.si + self.front_right.si + self.rear_left.si + self.rear_right.si


class Tyre(Frozen):
    """The tyre as fitted, one of four."""

    size: Title = Field(default="tyre", description="size and tread in words")
    free_radius: TyreRadius = Field(description="radius without load")
    vertical_stiffness: TyreStiffness = Field(description="at the pressure given")
    vertical_damping: TyreDamping = Field(
        default=Quantity(si=50.0, text="50 N s/m", unit="N s/m"), description="of the rolling tyre"
    )
    cornering_stiffness: SideStiffness = Field(description="of one tyre at its reference load")
    reference_load: WheelLoad = Field(description="load at which the cornering stiffness holds")
    friction: Friction = Field(default=Quantity(si=0.8, text="0.8"), description="greatest side force over load")
    relaxation_length: BodyLength = Field(
        default=Quantity(si=0.6, text="600 mm", unit="mm"), description="distance over which the side force builds up"
    )
    pressure: Pressure | None = Field(default=None, description="cold")
    contact_length: TyreRadius | None = Field(default=None, description="length of the contact patch")
    pneumatic_trail: Clearance | None = Field(
        default=None,
        description="of the side force at little slip and reference load; left out: a sixth of the contact length",
    )
    load_limit: PartMass | None = Field(
        default=None, description="most that one tyre may carry at the pressure given, by its load index"
    )


class Cushion(Frozen):
    """A seat cushion under a person, as pressed by the person's weight."""

    stiffness: CushionStiffness = Field(description="up and down, about the sitting person's load")
    damping: CushionDamping = Field(description="likewise")


class Place(Frozen):
    """Where a person sits."""

    seat: PointAt = Field(description="seat reference point: where the person's mass and comfort are taken")
    head: PointAt = Field(description="middle of the head")
    backrest: PointAt | None = Field(
        default=None, description="middle of the backrest, where its vibration is taken; left out: not judged"
    )
    feet: PointAt | None = Field(default=None, description="under the feet, likewise")
    cushion: Cushion | None = Field(
        default=None,
        description="the seat's cushion with a person of a published model on it; left out: the seat is taken as rigid",
    )


class Headlamp(Frozen):
    """The dipped beam as set at kerb."""

    height: BodyLength = Field(description="lower edge of the lamp above the ground")
    inclination: LampSlope = Field(description="of the dipped beam, downwards negative")


class Steering(Frozen):
    """The steering gear; an axle that has it steers."""

    kind: SteeringName = Field(
        default="drag_link",
        description="; ".join(f"{k}: {v.words}" for k, v in STEERINGS.items() if k != "fixed"),
    )
    ratio: SteeringRatio | None = Field(default=None, description="hand wheel angle over pitman arm angle")
    travel_per_turn: RackTravel | None = Field(
        default=None, description="of a rack, for one turn of the hand wheel; instead of a ratio"
    )
    stiffness: BarRate | None = Field(
        default=None, description="torque over angle at the hand wheel, the road wheels held; left out: common practice"
    )
    friction: HandTorque | None = Field(
        default=None, description="torque that turns the hand wheel with the wheels off the ground; likewise"
    )
    damper: SteeringDamping | None = Field(default=None, description="rate of a steering damper; left out: none")
    damper_arm: PartLength | None = Field(
        default=None, description="of the steering damper about the king pins; 150 mm if left out"
    )
    wheel_inertia: PinInertia | None = Field(
        default=None, description="of one wheel with hub and brake about its king pin; left out: estimated"
    )
    hand_wheel_inertia: PinInertia | None = Field(
        default=None, description="of the hand wheel with its column; likewise"
    )


class Alignment(Frozen):
    """How independent wheels stand at kerb height."""

    toe: SmallAngle = Field(default=NO_ANGLE, description="of one wheel, toe-in positive")
    camber: SmallAngle = Field(default=NO_ANGLE, description="top outward positive")


class Sensor(Frozen):
    """A height sensor with a lever and a link to the axle (headlamp level, load-sensing brake valve, ride height)."""

    name: Title = Field(description="what people call it")
    kind: Literal["level", "brake_valve"] = Field(
        default="level",
        description="level: headlamp or ride height, its angle at ride height counts; brake_valve: load-sensing, its "
        "angle must follow the load",
    )
    axle: AxleName = Field(description="axle that it follows")
    pivot: PointAt = Field(description="axis of the lever, on the chassis")
    axis: PointAt | None = Field(
        default=None, description="a second point on the lever's axis; left out: the axis lies across the vehicle"
    )
    lever: PointAt = Field(description="end of the lever, where the link hangs, at kerb height")
    link: PointAt = Field(description="end of the link on the axle, at kerb height")
    range: AngleLimit | None = Field(default=None, description="lever angle each way that the sensor can follow")
    note: Text = Field(default="", description="anything worth knowing")


class Aimed(Frozen):
    """A camera, radar or other sensor fixed to the body that looks ahead and counts on the body's pitch."""

    name: Title = Field(description="what people call it")
    kind: Literal["camera", "radar", "other"] = Field(description="what it is")
    range: TargetPitch = Field(description="pitch of the body each way that it can correct for, as its maker states")
    height: BodyLength | None = Field(default=None, description="above the ground at kerb height")


class Axle(Frozen):
    """One axle, or one pair of independent wheels, with everything that is fitted to it, as measured at kerb height."""

    layout: LayoutName = Field(
        description="suspension layout: " + "; ".join(f"{k}: {v.words}" for k, v in LAYOUTS.items())
    )
    mass: PartMass = Field(description="unsprung, both sides: axle, wheels, tyres, brakes, half of the links and arms")
    inertia: Inertias | None = Field(
        default=None, description="of the whole unsprung axle; independent wheels: from mass and track if left out"
    )
    wheel_spin_inertia: Inertia = Field(description="of one wheel with its tyre about its own axis")
    bush_friction: BushFriction | None = Field(
        default=None, description="of its rubber bushes, as a force at one wheel each way; left out: none"
    )
    hardpoints_file: FilePath | None = Field(
        default=None,
        description="table of hardpoints beside the programme; what `hardpoints` says itself stands over it",
        examples=["points/front.csv"],
    )
    hardpoints: Mapping[str, PointAt] = Field(
        default_factory=dict,
        description="points by name; left side (the right is the mirror unless `<name>_right` is given) or central",
    )
    central: tuple[Name, ...] = Field(
        default=(), description="links that stand once and are not mirrored, such as upper_link", max_length=10
    )
    bushes: Mapping[str, Bush] = Field(default_factory=dict, description="by joint or link name")
    steering: Steering | None = Field(default=None, description="given for an axle that steers")
    alignment: Alignment | None = Field(default=None, description="of independent wheels; left out: straight, upright")
    brakes: Literal["outboard", "inboard"] = Field(
        default="outboard", description="inboard: on the final drive, their torque taken by the body"
    )
    spring: AnySpring = Field(description="stock spring, one of two")
    spring_seat: SpringSeat | None = Field(default=None, description="seats of a coil, for springs of other vehicles")
    bar: AntiRollBar | None = Field(default=None, description="anti-roll bar, left out if there is none")
    damper: Damper = Field(description="stock damper, one of two")
    stop: BumpStop = Field(description="bump stop, one of two")
    propshaft: Propshaft | None = Field(default=None, description="that drives it, for its joint angles and slip")
    limiters: tuple[Limiter, ...] = Field(default=(), description="what else may end its travel", max_length=200)

    def points(self) -> dict[str, tuple[float, float, float]]:
        """Return the hardpoints in SI [m]."""
        return {name: point.si for name, point in self.hardpoints.items()}


class LadderFrame(Frozen):
    """A frame that twists between the axles, front and rear body roll joined by a torsional spring."""

    stiffness: FrameStiffness = Field(
        description="torsional, between the axles, with body and body mounts on it, as a twist test measures it"
    )
    damping: TwistDamping = Field(
        default=Quantity(si=0.05, text="0.05"),
        description="damping ratio of the twist; 0.05 is common practice, no source",
    )
    front_share: RollShare | None = Field(
        default=None,
        description="share of the body's roll inertia that goes with the front end; left out: as its mass, by the "
        "lever rule",
    )


class Vehicle(Frozen):
    """The production vehicle as it came, measured at kerb."""

    wheelbase: Wheelbase = Field(description="between the wheel centres")
    corners: Corners = Field(description="weighed at kerb: full tank, nobody aboard")
    centre_of_gravity_height: BodyLength = Field(description="above the ground at kerb height")
    inertia: Inertias | None = Field(
        default=None, description="of the sprung body; left out: estimated from a published regression"
    )
    gross_mass: VehicleMass = Field(description="greatest mass the maker allows")
    axle_limits: FrontRear[VehicleMass] | None = Field(
        default=None, description="greatest mass on each axle that the maker allows"
    )
    roof_limit: PartMass | None = Field(default=None, description="most on the roof while driving, rack included")
    hitch_limit: PartMass | None = Field(default=None, description="most that may press on the hitch ball")
    bumper_height: FrontRear[BodyLength] | None = Field(
        default=None,
        description="lower edge of the bumpers above the ground at kerb height, for the ramp angles and for rules",
    )
    frame_height: FrontRear[BodyLength] | None = Field(
        default=None, description="lower edge of the frame at its ends, likewise"
    )
    frame: LadderFrame | None = Field(default=None, description="how the frame twists; left out: rigid")
    body_width: BodyLength = Field(description="width of the body")
    roof_height: BodyLength = Field(description="above the ground at kerb height")
    outline: Outline | None = Field(default=None, description="the body from the left; left out: drawn as a wagon")
    air: Air = Field(default_factory=Air, description="what the wind sees of it")
    tyre: Tyre = Field(description="fitted at all four corners")
    places: Mapping[Name, Place] = Field(description="where people sit, by name")
    headlamp: Headlamp | None = Field(default=None, description="for the beam's inclination after the lift")
    axles: FrontRear[Axle] = Field(description="front and rear axle")
    front_brake_share: AxleShare = Field(
        default=Quantity(si=0.6, text="0.6"),
        description="share of the brake force at the front axle; 0.6 is common practice, no source",
    )
    front_drive_share: AxleShare = Field(
        default=Quantity(si=0.5, text="0.5"),
        description="share of the drive force at the front axle; 0.5 with the centre differential locked",
    )
    sensors: tuple[Sensor, ...] = Field(default=(), description="height sensors", max_length=50)
    aimed: tuple[Aimed, ...] = Field(
        default=(), description="cameras and radars that the body's pitch turns", max_length=20
    )
    ground_clearance: Clearance | None = Field(default=None, description="least, at kerb height")
