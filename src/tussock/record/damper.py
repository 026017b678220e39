"""What is inside a damper: its body, its valves as ordered lists of discs, and the discs and oils in stock."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Literal

from pydantic import Field

from tussock.record.base import Frozen, Name, Text
from tussock.record.discs import DiscLine, DiscRule, Holes, HolesRule
from tussock.record.fields import quantity
from tussock.record.units import Quantity

Disc = Annotated[DiscLine, DiscRule()]
Drilled = Annotated[Holes, HolesRule()]

# The windows are common practice, no source: wide enough for any car's damper, narrow enough to catch a unit.
Bore = Annotated[Quantity, quantity("length", example="35 mm", above=0.0, plausible=("10 mm", "150 mm"))]
Rod = Annotated[Quantity, quantity("length", example="18 mm", above=0.0, plausible=("4 mm", "100 mm"))]
Tube = Annotated[Quantity, quantity("length", example="335 mm", above=0.0, plausible=("20 mm", "2000 mm"))]
Wall = Annotated[Quantity, quantity("length", example="1.5 mm", above=0.0, plausible=("0.3 mm", "15 mm"))]
Small = Annotated[Quantity, quantity("length", example="8 mm", above=0.0, plausible=("0.1 mm", "150 mm"))]
Width = Annotated[Quantity, quantity("length", example="0.5 mm", least=0.0, plausible=("0 mm", "20 mm"))]
Dish = Annotated[Quantity, quantity("length", example="0.15 mm", plausible=("-3 mm", "3 mm"))]
Oilful = Annotated[Quantity, quantity("volume", example="430 cm^3", above=0.0, plausible=("10 cm^3", "5000 cm^3"))]
GasCharge = Annotated[Quantity, quantity("pressure", example="5.3 bar", above=0.0, plausible=("1 bar", "50 bar"))]
Spread = Annotated[Quantity, quantity("length", example="0.002 mm", least=0.0, plausible=("0 mm", "0.2 mm"))]
ShareSpread = Annotated[Quantity, quantity("ratio", example="0.02", least=0.0, plausible=("0", "0.5"))]
Slit = Annotated[Quantity, quantity("area", example="0.6 mm^2", above=0.0, plausible=("0.01 mm^2", "100 mm^2"))]
Rubbing = Annotated[Quantity, quantity("force", example="30 N", least=0.0, plausible=("0 N", "500 N"))]
PlateRate = Annotated[Quantity, quantity("rate", example="0.8 N/mm", above=0.0, plausible=("0.01 N/mm", "100 N/mm"))]
PlateForce = Annotated[Quantity, quantity("force", example="0.8 N", least=0.0, plausible=("0 N", "500 N"))]
Torque = Annotated[Quantity, quantity("torque", example="12 N m", above=0.0, plausible=("0.2 N m", "200 N m"))]
Viscosity = Annotated[
    Quantity, quantity("viscosity", example="14 mm^2/s", above=0.0, plausible=("0.5 mm^2/s", "5000 mm^2/s"))
]
MassDensity = Annotated[
    Quantity, quantity("mass_density", example="865 kg/m^3", above=0.0, plausible=("500 kg/m^3", "20000 kg/m^3"))
]
Stiffness = Annotated[Quantity, quantity("pressure", example="206 GPa", above=0.0, plausible=("10 GPa", "500 GPa"))]
Strength = Annotated[Quantity, quantity("pressure", example="800 MPa", above=0.0, plausible=("50 MPa", "3000 MPa"))]
Poisson = Annotated[Quantity, quantity("ratio", example="0.30", least=0.0, most=0.49)]

Share = Annotated[Quantity, quantity("ratio", example="0.64", least=0.0, most=2.0)]
Gap = Annotated[Quantity, quantity("length", example="0.04 mm", above=0.0, plausible=("0.002 mm", "0.12 mm"))]
Offset = Annotated[Quantity, quantity("length", example="-0.02 mm", plausible=("-0.1 mm", "0.1 mm"))]
OilTemperature = Annotated[Quantity, quantity("temperature", example="25 degC", plausible=("-50 degC", "180 degC"))]
SampleRate = Annotated[Quantity, quantity("frequency", example="500 Hz", above=0.0, plausible=("1 Hz", "100000 Hz"))]

STEEL_POISSON = Quantity(si=0.3, text="0.30")
STEEL_DENSITY = Quantity(si=7850.0, text="7850 kg/m^3", unit="kg/m^3")


class DiscMaterial(Frozen):
    """Discs of one material that lie in stock."""

    youngs_modulus: Stiffness = Field(description="Young's modulus of the strip")
    poisson_ratio: Poisson = Field(default=STEEL_POISSON, description="Poisson's ratio")
    density: MassDensity = Field(default=STEEL_DENSITY, description="mass by volume")
    fatigue_strength: Strength = Field(
        description="largest equivalent stress under a load that pulsates from zero; from the strip's supplier"
    )
    sizes: tuple[Disc, ...] = Field(
        description="thickness x outer diameter; a count in front says how many are left", max_length=500
    )
    note: Text = Field(default="", description="anything worth knowing")


class DamperOil(Frozen):
    """A damper oil by its data sheet."""

    viscosity_40: Viscosity = Field(description="kinematic, at 40 degrees Celsius")
    viscosity_100: Viscosity = Field(description="kinematic, at 100 degrees Celsius")
    viscosity_cold: Viscosity | None = Field(
        default=None, description="kinematic, at -20 degrees Celsius; without it the line of the other two goes on"
    )
    density: MassDensity = Field(description="at 15 degrees Celsius")
    note: Text = Field(default="", description="anything worth knowing")


class DynoChannels(Frozen):
    """Which column of a dyno file is which channel: titles with their units, such as 'cell 2 [kN]'."""

    run: Text | None = Field(default=None, description="number of the run")
    time: Text | None = Field(default=None, description="time")
    displacement: Text | None = Field(default=None, description="of the rod, positive inwards")
    force: Text | None = Field(default=None, description="positive where the damper pushes against the rod moving in")
    velocity: Text | None = Field(default=None, description="of the rod, positive inwards")
    temperature: Text | None = Field(default=None, description="of the damper")


class DynoRun(Frozen):
    """How a damper's dyno file was recorded, where the file does not say so."""

    oil_temperature: OilTemperature | None = Field(
        default=None, description="of the damper while it was run; a temperature column in the file goes first"
    )
    channels: DynoChannels = Field(
        default=DynoChannels(), description="titles of columns that are not understood by themselves"
    )
    rate: SampleRate | None = Field(default=None, description="samples in a second, of a file without a time column")
    cutoff: SampleRate | None = Field(default=None, description="low-pass filter of the force; left out: none")
    split: bool = Field(default=False, description="part runs in which the speed changes without a pause")
    note: Text = Field(default="", description="which dyno, when, by whom")


class HouseParameters(Frozen):
    """What no drawing tells of the house's dampers, as a calibration against its dyno found it."""

    curtain_discharge: Share | None = Field(default=None, description="discharge of the gap under the lifted discs")
    port_factor: Share | None = Field(default=None, description="working area of the ports over the drilled one")
    bleed_factor: Share | None = Field(default=None, description="the same for bleeds and notches")
    band_gap: Gap | None = Field(default=None, description="radial gap between the piston's band and the bore")
    seat_offset: Offset | None = Field(default=None, description="added to the height of every stack's seat")
    jet_coefficient: Share | None = Field(default=None, description="force of the jet on the discs")
    seal_friction: Rubbing | None = Field(default=None, description="of the seals, where a body states none")
    note: Text = Field(default="", description="which dampers, when, by whom")


class HouseTolerances(Frozen):
    """What scatters from damper to damper, as standard deviations; a drawing's +- is about three of them."""

    disc_thickness: Spread | None = Field(default=None, description="of the discs; those of one strip deviate alike")
    seat_height: Spread | None = Field(default=None, description="of each stack's seat: the preload")
    bleed: ShareSpread | None = Field(default=None, description="of the area of bleeds and notches")
    curtain_discharge: ShareSpread | None = Field(default=None, description="of the edges' finish")
    band_gap: Spread | None = Field(default=None, description="of the gap at the piston's band")
    friction: Rubbing | None = Field(default=None, description="of the seals")
    note: Text = Field(default="", description="measured on which dampers, when, by whom")


class Workshop(Frozen):
    """What lies on the shelf, discs by material and oils, and how the house's dampers really flow and rub."""

    discs: Mapping[Name, DiscMaterial] = Field(default_factory=dict, description="by material")
    oils: Mapping[Name, DamperOil] = Field(default_factory=dict, description="by name")
    parameters: HouseParameters = Field(
        default=HouseParameters(), description="of all dampers that are computed from their valves"
    )
    tolerances: HouseTolerances = Field(
        default=HouseTolerances(), description="of production, for the dyno bands of build sheets"
    )


class Ports(Frozen):
    """Holes that lead oil under the discs of one valve."""

    holes: Drilled = Field(description="how many, and the diameter of each")
    length: Small = Field(description="of each hole along the flow")
    circle: Small = Field(description="diameter of the circle on which they lie")
    recess_inner: Small | None = Field(
        default=None, description="inner diameter of a groove that spreads the pressure under the discs"
    )
    recess_outer: Small | None = Field(default=None, description="outer diameter of that groove")


class BackingWasher(Frozen):
    """A rigid washer behind the stack that limits its lift."""

    diameter: Small = Field(description="of its edge")
    height: Width = Field(description="free height between the last disc, flat, and the washer")


class Plate(Frozen):
    """A rigid plate on a light spring, in place of a stack, such as a foot valve's intake."""

    rate: PlateRate = Field(description="of its spring")
    preload: PlateForce = Field(description="of its spring, on the seat")
    stop: Small = Field(description="largest lift")


class Valve(Frozen):
    """One valve: ports, a seat, and a stack of discs or a sprung plate over it."""

    stack: tuple[Disc, ...] | None = Field(
        default=None,
        description="discs in order from the seat; a disc no larger than the clamp is a spacer",
        max_length=60,
    )
    plate: Plate | None = Field(default=None, description="instead of a stack")
    clamp: Small | None = Field(default=None, description="diameter up to which the stack is clamped")
    seat: Small = Field(description="diameter of the seat's edge")
    seat_height: Dish | None = Field(
        default=None, description="of the seat's edge above the clamp's plane; above 0 it preloads the stack"
    )
    land: Width | None = Field(default=None, description="width of a flat seat; left out: a sharp edge")
    ports: Ports = Field(description="that feed it")
    notch: Slit | None = Field(default=None, description="area of slits past the shut discs")
    washer: BackingWasher | None = Field(default=None, description="backing washer")
    torque: Torque | None = Field(default=None, description="of the nut, for the build sheet")


class BleedHoles(Frozen):
    """Holes that are always open."""

    holes: Drilled = Field(description="how many, and the diameter of each")
    length: Width | None = Field(default=None, description="along the flow; left out: a sharp edge")


class Valving(Frozen):
    """The valves of one piston, foot or reservoir head; at a foot, rebound is the intake."""

    compression: Valve | None = Field(default=None, description="opens in compression")
    rebound: Valve | None = Field(default=None, description="opens in rebound")
    bleed: tuple[BleedHoles, ...] = Field(default=(), description="always open", max_length=8)


class Valves(Frozen):
    """All valves of a damper."""

    piston: Valving = Field(description="on the piston")
    foot: Valving | None = Field(default=None, description="at the foot of a twin-tube")
    reservoir: Valving | None = Field(default=None, description="at the head of a remote reservoir")


class RemoteReservoir(Frozen):
    """A remote reservoir with a floating piston, at the end of a hose."""

    bore: Bore = Field(description="inside diameter")
    length: Tube = Field(description="inside length")
    wall: Wall = Field(default=Quantity(si=0.002, text="2 mm", unit="mm"), description="thickness of its tube")
    hose_bore: Small | None = Field(default=None, description="inside diameter of the hose; left out: no hose")
    hose_length: Tube | None = Field(default=None, description="length of the hose")


class DamperBody(Frozen):
    """A damper without its valves. Its stroke is open less closed length."""

    architecture: Literal["twin_tube", "mono_tube"] = Field(description="what kind of damper it is")
    bore: Bore = Field(description="inside diameter of the working tube: the piston")
    rod: Rod = Field(description="diameter of the rod")
    length: Tube = Field(description="inside length of the tube")
    piston_length: Small = Field(
        default=Quantity(si=0.03, text="30 mm", unit="mm"), description="of the piston along the rod"
    )
    band_length: Small = Field(
        default=Quantity(si=0.01, text="10 mm", unit="mm"), description="of the piston's band along the rod"
    )
    upper_length: Tube | None = Field(
        default=None, description="free length above the piston in mid-stroke; left out: as much as below it"
    )
    wall: Wall = Field(description="thickness of the tube that meets the air")
    inner_wall: Wall | None = Field(default=None, description="thickness of a twin-tube's working tube")
    outer_bore: Bore | None = Field(default=None, description="inside diameter of a twin-tube's outer tube")
    floating_piston: Small | None = Field(default=None, description="length of a mono-tube's floating piston")
    reservoir: RemoteReservoir | None = Field(default=None, description="of a mono-tube")
    oil: Name = Field(description="name of an oil of the workshop")
    oil_volume: Oilful = Field(description="filled in, at 20 degrees Celsius")
    gas_pressure: GasCharge = Field(description="absolute, in mid-stroke, at 20 degrees Celsius")
    friction: Rubbing | None = Field(default=None, description="of the seals, where it was measured on this damper")
    note: Text = Field(default="", description="anything worth knowing")
