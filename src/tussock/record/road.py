"""The house's road loop: sections with a random surface and obstacles, each driven at its own speed."""

from __future__ import annotations

from typing import Annotated, Literal, TypeAlias

from pydantic import Field

from tussock.record.base import ZERO_LENGTH, FilePath, Frozen, Road, Title
from tussock.record.fields import quantity
from tussock.record.logger import Gates
from tussock.record.manoeuvres import DriverModel, Manoeuvre
from tussock.record.units import Quantity

At = Annotated[Quantity, quantity("length", example="50 m", least=0.0, plausible=("0 m", "100000 m"))]
FeatureHeight = Annotated[Quantity, quantity("length", example="75 mm", above=0.0, plausible=("0.5 mm", "2000 mm"))]
FeatureLength = Annotated[Quantity, quantity("length", example="0.7 m", above=0.0, plausible=("0.02 m", "5000 m"))]
Radius = Annotated[Quantity, quantity("length", example="8 m", above=0.0, plausible=("0.3 m", "10000 m"))]
Offset = Annotated[Quantity, quantity("length", example="1.8 m", plausible=("-20 m", "20 m"))]
Lag = Annotated[Quantity, quantity("length", example="0.2 m", plausible=("-10 m", "10 m"))]
RoadSpeed = Annotated[Quantity, quantity("speed", example="80 km/h", above=0.0, plausible=("1 km/h", "200 km/h"))]
Acceleration = Annotated[Quantity, quantity("acceleration", example="2 m/s^2", above=0.0, most=8.0)]
Roughness = Annotated[Quantity, quantity("density", example="256e-6 m^3", least=0.0, plausible=("0 m^3", "1 m^3"))]
Waviness = Annotated[Quantity, quantity("ratio", example="2", above=1.0, most=4.0)]
CrossSlope = Annotated[Quantity, quantity("slope", example="6 %", above=0.0, most=0.3)]
Irregularity = Annotated[Quantity, quantity("ratio", example="0.1", least=0.0, most=0.5)]

Share = Annotated[Quantity, quantity("ratio", example="2", above=0.0, most=1000.0)]

ACCELERATION = 1.5
"""Of a change of speed that says none [m/s^2]: brisk, common practice, no source."""

Side: TypeAlias = Literal["left", "right", "both"]


class _Feature(Frozen):
    at: At = Field(description="where it starts, from the start of the section")
    length: FeatureLength = Field(description="along the road")

    def parameters(self) -> dict[str, float | int | str]:
        """Return what the obstacle is made of in SI, without its kind and place; what is not given is left out."""
        found: dict[str, float | int | str] = {}
        for name in type(self).model_fields:
            value = getattr(self, name)
            if name not in ("kind", "at") and value is not None:
                found[name] = value.si if isinstance(value, Quantity) else value
        return found


class Hump(_Feature):
    """A traffic hump."""

    kind: Literal["hump"] = Field(description="traffic hump")
    height: FeatureHeight = Field(description="above the road")
    shape: Literal["round_top", "sinusoidal", "parabolic", "flat_top"] = Field(
        default="round_top", description="profile along the road"
    )
    ramp: At = Field(default=ZERO_LENGTH, description="length of each ramp of a flat top; 0: a sixth of the length")
    side: Side = Field(default="both", description="under which wheels")


class Bump(_Feature):
    """A smooth bump."""

    kind: Literal["bump"] = Field(description="smooth bump")
    height: FeatureHeight = Field(description="above the road")
    side: Side = Field(default="left", description="under which wheels")


class Hole(_Feature):
    """A pothole with smooth steep edges."""

    kind: Literal["hole"] = Field(description="pothole")
    depth: FeatureHeight = Field(description="below the road")
    edge: At = Field(default=ZERO_LENGTH, description="length over which an edge is rounded; 0: a fifth of the length")
    side: Side = Field(default="left", description="under which wheels")


class Step(_Feature):
    """A kerb: up, along, down."""

    kind: Literal["step"] = Field(description="kerb")
    height: FeatureHeight = Field(description="above the road")
    edge: At = Field(
        default=Quantity(si=0.06, text="60 mm", unit="mm"),
        description="length over which an edge is rounded; 0: a fifth of the length",
    )
    lag: Lag = Field(default=ZERO_LENGTH, description="how far the right track meets it behind the left: at an angle")
    side: Side = Field(default="both", description="under which wheels")


class Washout(_Feature):
    """Gravel that water has taken away, on one side or across the road."""

    kind: Literal["washout"] = Field(description="gravel washed away")
    depth: FeatureHeight = Field(description="below the road")
    entry: FeatureLength = Field(description="length over which it falls away")
    exit: FeatureLength = Field(description="length over which it climbs out")
    lag: Lag = Field(default=ZERO_LENGTH, description="how far the right track meets it behind the left")
    side: Side = Field(default="both", description="under which wheels")


class Ramp(_Feature):
    """A ramp to another level and one back."""

    kind: Literal["ramp"] = Field(description="ramp to another level and back")
    height: FeatureHeight = Field(description="of the other level, above or below the road")
    ramp: FeatureLength = Field(description="length of each ramp along the road")
    radius: Radius = Field(description="of the curves at foot and head")
    way: Literal["up", "down"] = Field(default="up", description="to a level above the road or below it")
    side: Side = Field(default="both", description="under which wheels")


class Camber(_Feature):
    """A stretch of another cross slope."""

    kind: Literal["camber"] = Field(description="stretch of another cross slope")
    slope: CrossSlope = Field(description="across the road, height over width, beside that of the rest")
    transition: FeatureLength = Field(description="length over which it comes and goes")
    falls: Literal["left", "right"] = Field(default="left", description="side to which the road falls")


class Dip(_Feature):
    """A long hollow."""

    kind: Literal["dip"] = Field(description="long hollow")
    depth: FeatureHeight = Field(description="below the road")
    side: Side = Field(default="both", description="under which wheels")


class Corrugation(_Feature):
    """Washboard."""

    kind: Literal["corrugation"] = Field(description="washboard")
    wavelength: FeatureLength = Field(description="from crest to crest")
    depth: FeatureHeight = Field(description="from crest to trough")
    lag: Lag = Field(default=ZERO_LENGTH, description="distance by which the right track lags the left")
    growth: At = Field(default=ZERO_LENGTH, description="distance over which the depth grows; 0: a fifth of the length")
    irregularity: Irregularity = Field(
        default=Quantity(si=0.0, text="0"), description="random part of spacing and depth, 0 (regular) to 0.5"
    )
    seed: int | None = Field(
        default=None, ge=0, lt=2**32, description="of the irregularity; left out: the section's own"
    )
    side: Side = Field(default="both", description="under which wheels")


class Grid(_Feature):
    """A cattle grid."""

    kind: Literal["grid"] = Field(description="cattle grid")
    spacing: FeatureLength = Field(description="from bar to bar")
    depth: FeatureHeight = Field(description="of the gaps as a tyre feels them")
    side: Side = Field(default="both", description="under which wheels")


class Mogul(_Feature):
    """Cross-axle hollows: crests under left and right wheel in turn."""

    kind: Literal["mogul"] = Field(description="cross-axle hollows")
    wavelength: FeatureLength = Field(description="from crest to crest on one side")
    height: FeatureHeight = Field(description="from crest to trough")


Feature: TypeAlias = Annotated[
    Hump | Bump | Hole | Step | Washout | Ramp | Camber | Dip | Corrugation | Grid | Mogul, Field(discriminator="kind")
]


Temperature = Annotated[Quantity, quantity("temperature", example="40 degC", plausible=("-50 degC", "180 degC"))]


class Surface(Frozen):
    """The surface: a random one of an ISO 8608 class or of a measured spectral density, or one measured as it lies."""

    road_class: Literal["A", "B", "C", "D", "E", "F", "G", "H"] | None = Field(
        default=None, alias="class", description="ISO 8608 class; its geometric mean is built"
    )
    density: Roughness | None = Field(
        default=None, description="displacement spectral density at 0.1 cycle/m, instead of a class"
    )
    waviness: Waviness = Field(default=Quantity(si=2.0, text="2"), description="exponent of the spectrum")
    file: FilePath | None = Field(
        default=None,
        description="a measured surface, instead of a class: CSV with distance, left and right, or ASAM OpenCRG",
    )
    start: At = Field(default=ZERO_LENGTH, description="where the section starts in the file")
    offset: Offset = Field(
        default=ZERO_LENGTH, description="vehicle's middle to the left of an OpenCRG file's reference line"
    )


class SpeedChange(Frozen):
    """Another speed from a place on."""

    at: At = Field(description="where the driver starts to change, from the start of the section")
    speed: RoadSpeed = Field(description="driven from then on")


class RoadSection(Frozen):
    """One section of the loop."""

    name: Title = Field(description="what the drivers call it; once in the loop")
    speed: RoadSpeed = Field(description="driven at, from the start on")
    speed_changes: tuple[SpeedChange, ...] = Field(
        default=(), description="other speeds further on, in the order driven", max_length=100
    )
    acceleration: Acceleration = Field(
        default=Quantity(si=ACCELERATION, text="1.5 m/s^2", unit="m/s^2"),
        description="of every change of speed, up or down",
    )
    length: Road = Field(description="along the road, 1 m to 50 km")
    surface: Surface | None = Field(default=None, description="random or measured surface; left out: smooth")
    share: Share = Field(
        default=Quantity(si=1.0, text="1"),
        description="how much it counts in the loop's comfort and control, against the other sections",
    )
    features: tuple[Feature, ...] = Field(
        default=(), description="obstacles; they add up where they overlap", max_length=500
    )
    gates: Gates | None = Field(default=None, description="where it lies, for cutting logger files by GPS")
    manoeuvre: Manoeuvre | None = Field(default=None, description="what is driven on it; left out: straight on")
    driver: Literal["fixed", "steering"] | None = Field(
        default=None,
        description="fixed: the hand wheel is held where the vehicle runs straight; steering: the loop's driver "
        "steers; left out: steering where the manoeuvre needs it",
    )


class RoadLoop(Frozen):
    """The house's road loop."""

    name: Title = Field(description="what the drivers call it")
    seed: int = Field(ge=0, lt=2**32, description="seed of the random surfaces", examples=[20261])
    oil_temperature: Temperature = Field(
        default=Quantity(si=313.15, text="40 degC", unit="degC"),
        description="of the damper oil, for dampers that are computed from their valves",
    )
    air_temperature: Temperature = Field(
        default=Quantity(si=293.15, text="20 degC", unit="degC"), description="of the air that cools the dampers"
    )
    driver: DriverModel = Field(default_factory=DriverModel, description="who steers where a section asks for it")
    sections: tuple[RoadSection, ...] = Field(description="in the order driven", min_length=1, max_length=100)
