"""How the house's data loggers are wired, and where on the map the sections of the road loop begin and end."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Annotated, Literal, TypeAlias

from pydantic import Field

from tussock.record.base import FilePath, Frozen, Name, Title
from tussock.record.fields import quantity
from tussock.record.units import Quantity

Latitude = Annotated[Quantity, quantity("angle", example="0.10320 deg", plausible=("-90 deg", "90 deg"))]
Longitude = Annotated[Quantity, quantity("angle", example="-32.41875 deg", plausible=("-180 deg", "180 deg"))]
GateRadius = Annotated[Quantity, quantity("length", example="15 m", above=0.0, plausible=("2 m", "200 m"))]
Ahead = Annotated[Quantity, quantity("time", example="0.12 s", plausible=("-3600 s", "3600 s"))]

_WHEELS = ("front_left", "front_right", "rear_left", "rear_right")

LOGGED: Mapping[str, str] = MappingProxyType(
    {
        "speed": "speed",
        "latitude": "angle",
        "longitude": "angle",
        "mark": "ratio",
        "seat_x": "acceleration",
        "seat_y": "acceleration",
        "seat_z": "acceleration",
        **{f"hub_{w}": "acceleration" for w in _WHEELS},
        **{f"body_{w}": "acceleration" for w in _WHEELS},
        **{f"damper_{w}": "length" for w in _WHEELS},
        "roll_rate": "turning_speed",
        "pitch_rate": "turning_speed",
        "yaw_rate": "turning_speed",
    }
)
"""Channels that are understood, and of what dimension each is. Accelerations of hubs and body are vertical."""

ChannelName: TypeAlias = Literal[
    "speed",
    "latitude",
    "longitude",
    "mark",
    "seat_x",
    "seat_y",
    "seat_z",
    "hub_front_left",
    "hub_front_right",
    "hub_rear_left",
    "hub_rear_right",
    "body_front_left",
    "body_front_right",
    "body_rear_left",
    "body_rear_right",
    "damper_front_left",
    "damper_front_right",
    "damper_rear_left",
    "damper_rear_right",
    "roll_rate",
    "pitch_rate",
    "yaw_rate",
]


class LoggerChannel(Frozen):
    """One channel of a logger."""

    title: Title = Field(description="of its column or MDF channel, as the logger writes it")
    unit: str = Field(
        default="", max_length=20, description="that the logger writes it in; left out: none", examples=["g"]
    )
    reversed: bool = Field(
        default=False,
        description="whether it counts the other way; up, forward, left, nose down and a damper shortened are positive",
    )
    clock_ahead: Ahead | None = Field(
        default=None, description="what its clock is ahead of the file's; left out: looked for, or none"
    )


class Logger(Frozen):
    """A data logger as the house wires it: the same for all its files."""

    time: Title = Field(default="time", description="title of the column of stamps; an MDF file has its own")
    time_unit: Literal["s", "ms"] = Field(default="s", description="of the stamps")
    channels: Mapping[ChannelName, LoggerChannel] = Field(description="by what they measure", min_length=1)


class Recording(Frozen):
    """A logger's file of one drive."""

    file: FilePath = Field(description="beside the programme: CSV, plain or .gz, or ASAM MDF")
    logger: Name = Field(description="logger of the programme that wrote it")


class Place(Frozen):
    """A place on the map."""

    latitude: Latitude = Field(description="north positive")
    longitude: Longitude = Field(description="east positive")


class Gates(Frozen):
    """Where a section starts and ends, for cutting a logger's file by its GPS."""

    start: Place = Field(description="where it starts")
    end: Place = Field(description="where it ends")
    radius: GateRadius = Field(
        default=Quantity(si=15.0, text="15 m", unit="m"), description="within which a pass counts"
    )
