"""Parts of an axle that stock and kit have alike: springs, dampers, bump stops, bars, bushes."""

from __future__ import annotations

from typing import Annotated, Any, Literal, TypeAlias

from pydantic import Discriminator, Field, Tag

from tussock.record.base import AxleName, Clearance, FilePath, FrontRear, Frozen, PartLength, Text, Title
from tussock.record.damper import DamperBody, DynoRun, Valves
from tussock.record.fields import CurvePoint, CurveRule, quantity
from tussock.record.mounts import DamperMounts
from tussock.record.units import Quantity

SpringRate = Annotated[Quantity, quantity("rate", example="28 N/mm", above=0.0, plausible=("1 N/mm", "500 N/mm"))]
Coils = Annotated[Quantity, quantity("ratio", example="8.7", above=0.0, plausible=("1", "40"))]
Turns = Annotated[Quantity, quantity("ratio", example="4.5", least=0.0, plausible=("0", "40"))]
Pitch = Annotated[Quantity, quantity("length", example="38 mm", above=0.0, plausible=("3 mm", "200 mm"))]
WireDiameter = Annotated[Quantity, quantity("length", example="14.5 mm", above=0.0, plausible=("3 mm", "40 mm"))]
CoilDiameter = Annotated[Quantity, quantity("length", example="125 mm", above=0.0, plausible=("20 mm", "400 mm"))]
BodyDiameter = Annotated[Quantity, quantity("length", example="50 mm", above=0.0, plausible=("10 mm", "200 mm"))]
MountStiffness = Annotated[
    Quantity, quantity("rate", example="900 N/mm", above=0.0, plausible=("10 N/mm", "100 kN/mm"))
]
EndStiffness = Annotated[
    Quantity, quantity("rate", example="350 N/mm", above=0.0, most=1e7, plausible=("20 N/mm", "10 kN/mm"))
]
BushTravel = Annotated[Quantity, quantity("length", example="3 mm", least=0.0, plausible=("0 mm", "40 mm"))]
BushTurn = Annotated[Quantity, quantity("angle", example="4 deg", least=0.0, plausible=("0 deg", "60 deg"))]
BushRate = Annotated[Quantity, quantity("rate", example="6.0 kN/mm", above=0.0, plausible=("10 N/mm", "1000 kN/mm"))]
BushAngularRate = Annotated[
    Quantity,
    quantity("angular_rate", example="28 N m/deg", least=0.0, plausible=("0 N m/deg", "5000 N m/deg")),
]
BarRate = Annotated[
    Quantity,
    quantity("angular_rate", example="250 N m/deg", least=0.0, plausible=("0 N m/deg", "20000 N m/deg")),
]
BarDiameter = Annotated[Quantity, quantity("length", example="27 mm", above=0.0, plausible=("8 mm", "80 mm"))]
LoadAtLength = Annotated[CurvePoint, CurveRule(dimension="length", example="365 mm: 2900 N")]
LoadTolerance = Annotated[Quantity, quantity("force", example="90 N", above=0.0, plausible=("1 N", "5 kN"))]
StopLoss = Annotated[Quantity, quantity("ratio", example="25 %", least=0.0, most=0.9, plausible=("0 %", "60 %"))]
StopPoint = Annotated[CurvePoint, CurveRule(dimension="length", example="10 mm: 260 N")]
DamperPoint = Annotated[CurvePoint, CurveRule(dimension="speed", example="0.13 m/s: 420 N")]


class CoilStation(Frozen):
    """Wire, diameter and pitch of a coil at one place along its active turns; straight between two of them."""

    turns: Turns = Field(description="active turns from one end, rising from 0")
    wire: WireDiameter = Field(description="diameter of the wire there")
    mean_diameter: CoilDiameter = Field(description="diameter of the coil there, middle of the wire")
    pitch: Pitch = Field(description="rise for one turn there, without load")


class Spring(Frozen):
    """A coil spring."""

    kind: Literal["coil"] = Field(default="coil", description="coil spring; what a spring is that does not say")
    title: Title = Field(default="spring", description="what people call it")
    rate: SpringRate = Field(description="rate of the spring itself")
    free_length: PartLength = Field(description="length without load")
    wire: WireDiameter | None = Field(default=None, description="diameter of the wire")
    mean_diameter: CoilDiameter | None = Field(default=None, description="diameter of the coil, middle of the wire")
    active_coils: Coils | None = Field(default=None, description="number of coils that work")
    shape: tuple[CoilStation, ...] = Field(
        default=(),
        description="tapered wire, barrels, cones, variable pitch: instead of wire, mean_diameter and active_coils; "
        "its load curve has this form and begins with `rate`",
        max_length=40,
    )
    end_coils: Clearance | None = Field(default=None, description="of a shape: height of its dead coils at both ends")
    loads: tuple[LoadAtLength, ...] = Field(
        default=(), description="loads ordered at lengths between the seats, for inspection", max_length=20
    )
    load_tolerance: LoadTolerance | None = Field(default=None, description="of those loads, either way")
    note: Text = Field(default="", description="anything worth knowing")


class Coiling(Frozen):
    """What the kit's coils can be made from, and the room that they have."""

    wires: tuple[WireDiameter, ...] = Field(description="wire diameters that can be had", min_length=1, max_length=100)
    inside: FrontRear[CoilDiameter] = Field(description="least inner diameter, over stop and spigot")
    outside: FrontRear[CoilDiameter] = Field(description="greatest outer diameter, with the coils closed")


class Damper(Frozen):
    """A damper: its lengths, what was measured of it (a dyno file or a force curve), and what is inside it."""

    title: Title = Field(default="damper", description="what people call it")
    open_length: PartLength = Field(description="between the mounts, fully extended")
    closed_length: PartLength = Field(description="between the mounts, fully compressed")
    dyno: FilePath | None = Field(
        default=None,
        description="file of the dyno sweep, beside the programme",
        examples=["dyno/front-a.csv"],
    )
    dyno_run: DynoRun | None = Field(default=None, description="how that sweep was recorded")
    curve: tuple[DamperPoint, ...] | None = Field(
        default=None,
        description="force over velocity, compression positive, rebound negative; instead of a dyno file",
        min_length=2,
        max_length=2000,
    )
    body: DamperBody | None = Field(default=None, description="its body, oil and gas")
    valves: Valves | None = Field(default=None, description="its valves; with a body they give a computed force curve")
    forces_from: Literal["measured", "valves"] = Field(
        default="measured",
        description="what studies take where it has both; without a dyno file or a curve the valves are taken anyway",
    )
    mount_stiffness: MountStiffness | None = Field(
        default=None, description="of its rubber mounts in series; left out: rigid"
    )
    oil_stiffness: MountStiffness | None = Field(
        default=None,
        description="of its oil column, in series with its mounts, from how wide a dyno's loop opens; left out: from "
        "its body and valves where they are known, else none",
    )
    top_out_stiffness: EndStiffness | None = Field(
        default=None, description="of its rebound stop, from the open length on; left out: 400 N/mm"
    )
    bottom_stiffness: EndStiffness | None = Field(
        default=None, description="of what ends its stroke at the closed length; left out: 4000 N/mm"
    )
    body_diameter: BodyDiameter | None = Field(default=None, description="outer diameter of the body")
    spring_seats: PartLength | None = Field(
        default=None,
        description="coil-over: of the length between its mounts, what the spring does not fill; the axle then needs "
        "no hardpoints of the spring",
    )
    mounts: DamperMounts | None = Field(default=None, description="how it is bolted in")
    note: Text = Field(default="", description="anything worth knowing")


class KitDamper(Damper):
    """A damper of the kit: it also says for which axle it is."""

    axle: AxleName = Field(description="axle it is made for")


class BumpStop(Frozen):
    """A bump stop as measured in the press."""

    free_height: PartLength = Field(description="height without load")
    curve: tuple[StopPoint, ...] = Field(
        description="deflection and the force there, rising; the first point is 0 mm: 0 N",
        min_length=2,
        max_length=2000,
    )
    loss: StopLoss | None = Field(
        default=None,
        description="share of the work of a fast compression that it does not give back: the area of its loop over "
        "that under the way in; 20 to 40 % for microcellular urethane, 10 to 20 % for rubber are common practice, no "
        "source; left out: none",
    )


class AntiRollBar(Frozen):
    """An anti-roll bar, by its roll rate or by its dimensions."""

    roll_rate: BarRate | None = Field(
        default=None, description="roll stiffness at the axle, both ends together; instead of dimensions"
    )
    diameter: BarDiameter | None = Field(default=None, description="outer diameter; instead of a roll rate")
    inner_diameter: BodyDiameter | None = Field(default=None, description="of a tube; left out: solid")
    arm: PartLength | None = Field(default=None, description="length of each arm, square to the bar")
    length: PartLength | None = Field(default=None, description="of the bar between its arms")
    bush_spacing: PartLength | None = Field(default=None, description="between its bushes on the chassis")
    link_spacing: PartLength | None = Field(
        default=None,
        description="rigid axle: between the drop links at the axle; independent wheels have hardpoints instead",
    )


PackerKind = Literal["seat", "block", "shackle"]


class Packer(Frozen):
    """A part that raises a spring: a packer on its seat, a block under a leaf spring, or a longer shackle."""

    axle: AxleName = Field(description="axle it is made for")
    height: Clearance = Field(description="of the packer or block; of a shackle, how much longer it is than stock")
    kind: PackerKind = Field(
        default="seat",
        description="seat: packer between spring and seat; block: between leaf spring and axle; shackle: a longer one",
    )


class Stiffens(Frozen):
    """How a bush grows stiffer along a direction: even up to `after`, then evenly up to `rate` at `at`."""

    after: BushTravel = Field(description="deflection up to which the first rate holds")
    at: BushTravel = Field(description="larger deflection at which the rate was measured again")
    rate: BushRate = Field(description="rate there")


class StiffensTurning(Frozen):
    """The same of tilting or turning."""

    after: BushTurn = Field(description="angle up to which the first rate holds")
    at: BushTurn = Field(description="larger angle at which the rate was measured again")
    rate: BushAngularRate = Field(description="rate there")


class BushRates(Frozen):
    """Rates of a bush in its own directions; its axis lies across the vehicle."""

    radial: BushRate = Field(description="across its axis")
    axial: BushRate = Field(description="along its axis")
    conical: BushAngularRate = Field(description="tilting its axis")
    torsional: BushAngularRate = Field(description="turning about its axis")
    radial_stiffens: Stiffens | None = Field(default=None, description="left out: the rate stays")
    axial_stiffens: Stiffens | None = Field(default=None, description="left out: the rate stays")
    conical_stiffens: StiffensTurning | None = Field(default=None, description="left out: the rate stays")
    torsional_stiffens: StiffensTurning | None = Field(default=None, description="left out: the rate stays")


class LinkStiffness(Frozen):
    """Stiffness of one link along its length, with its end bushes in series."""

    stiffness: BushRate = Field(description="of one link, with its two end bushes in series")


def _which(value: Any) -> str:
    if isinstance(value, LinkStiffness) or (isinstance(value, dict) and "stiffness" in value):
        return "link"
    return "bush"


Bush: TypeAlias = Annotated[
    Annotated[BushRates, Tag("bush")] | Annotated[LinkStiffness, Tag("link")], Discriminator(_which)
]
