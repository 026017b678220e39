"""What all models of the record share: frozen, nothing unknown, and the names and quantities used in many places."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import Annotated, Generic, Literal, TypeAlias, TypeVar

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, StringConstraints
from pydantic_core import PydanticCustomError

from tussock.record.fields import Point, PointRule, quantity
from tussock.record.units import Quantity

T = TypeVar("T")


def _day(text: str) -> str:
    try:
        date.fromisoformat(text)
    except ValueError:
        raise PydanticCustomError("no_such_day", "there is no such day") from None
    return text


AxleName: TypeAlias = Literal["front", "rear"]
AXLES: tuple[AxleName, AxleName] = ("front", "rear")

STOCK = "stock"
"""Reserved name: the vehicle as measured, wherever a build or a spring is named."""

NAME_PATTERN = r"^[A-Za-z][A-Za-z0-9_\-]{0,39}$"
NAME_WORDS = "a letter, then up to 39 letters, digits, _ or -"
Name: TypeAlias = Annotated[str, StringConstraints(pattern=NAME_PATTERN)]
Title: TypeAlias = Annotated[str, StringConstraints(min_length=1, max_length=120, pattern=r"^[^\x00-\x1f\x7f]*$")]
Text: TypeAlias = Annotated[str, StringConstraints(max_length=4000)]
FilePath: TypeAlias = Annotated[str, StringConstraints(min_length=1, max_length=240, pattern=r"^[^\x00-\x1f\x7f]+$")]
Day: TypeAlias = Annotated[
    str, StringConstraints(pattern=r"^\d{4}-(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])$"), AfterValidator(_day)
]

PointAt: TypeAlias = Annotated[Point, PointRule()]

# The windows below are common practice, no source: wide enough for any four-wheel drive, narrow enough to catch a unit.
PartLength = Annotated[Quantity, quantity("length", example="95 mm", above=0.0, plausible=("1 mm", "3000 mm"))]
Clearance = Annotated[Quantity, quantity("length", example="8 mm", least=0.0, plausible=("0 mm", "300 mm"))]
Travel = Annotated[Quantity, quantity("length", example="70 mm", least=0.0, plausible=("0 mm", "600 mm"))]
HeightChange = Annotated[Quantity, quantity("length", example="35 mm", plausible=("-300 mm", "300 mm"))]
AngleLimit = Annotated[Quantity, quantity("angle", example="14 deg", above=0.0, plausible=("0.05 deg", "90 deg"))]
SmallAngle = Annotated[Quantity, quantity("angle", example="2.5 deg", plausible=("-30 deg", "30 deg"))]
PartMass = Annotated[Quantity, quantity("mass", example="46 kg", above=0.0, plausible=("0.05 kg", "3000 kg"))]
Inertia = Annotated[
    Quantity, quantity("inertia", example="56 kg m^2", above=0.0, plausible=("0.05 kg m^2", "20000 kg m^2"))
]
Road = Annotated[Quantity, quantity("length", example="160 m", above=0.0, plausible=("1 m", "50000 m"))]


ZERO_LENGTH = Quantity(si=0.0, text="0 mm", unit="mm")
NO_ANGLE = Quantity(si=0.0, text="0 deg", unit="deg")


class Frozen(BaseModel):
    """A part of the programme: it cannot be changed, and it refuses fields that it does not know."""

    model_config = ConfigDict(
        frozen=True,
        extra="forbid",
        coerce_numbers_to_str=True,  # title: 35 is a title
        use_attribute_docstrings=False,
        regex_engine="python-re",
        ser_json_inf_nan="null",
    )


class FrontRear(Frozen, Generic[T]):
    """The same thing for the front and for the rear axle."""

    front: T = Field(description="front axle")
    rear: T = Field(description="rear axle")

    def __getitem__(self, axle: str) -> T:
        if axle not in AXLES:
            raise KeyError(axle)
        value: T = getattr(self, axle)
        return value

    def items(self) -> Iterator[tuple[AxleName, T]]:
        """Return front and rear with their names, in that order."""
        yield "front", self.front
        yield "rear", self.rear


class Inertias(Frozen):
    """Moments of inertia about axes through the own centre of gravity."""

    roll: Inertia = Field(description="about the x axis")
    pitch: Inertia = Field(description="about the y axis")
    yaw: Inertia = Field(description="about the z axis")
