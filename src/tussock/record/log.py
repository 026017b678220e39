"""The log: builds, drives and decisions. Nothing is overwritten; a correction is a new entry."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Literal, TypeAlias

from pydantic import Field

from tussock.record.base import STOCK, AxleName, Day, FilePath, FrontRear, Frozen, Name, Text, Title
from tussock.record.vehicle import Pressure

Attribute: TypeAlias = Literal[
    "overall",
    "comfort",
    "control",
    "small_bumps",
    "big_hits",
    "body_float",
    "pitch",
    "head_toss",
    "steering_return",
    "corrugation_hold",
    "crosswind",
]
"""What drivers judge."""

VerdictWord: TypeAlias = Literal["much worse", "slightly worse", "same", "slightly better", "much better"]
Mark: TypeAlias = Annotated[int, Field(ge=1, le=10)]


class Build(Frozen):
    """What was fitted: a step from its parent."""

    title: Title = Field(description="what people call it")
    parent: Name = Field(default=STOCK, description="build that it was changed from, or stock")
    dampers: Mapping[AxleName, Name] = Field(
        default_factory=dict, description="damper of the kit per axle; left out: as the parent"
    )
    date: Day | None = Field(default=None, description="when it was fitted", examples=["2026-09-14"])
    by: Title | None = Field(default=None, description="who fitted it")
    note: Text = Field(default="", description="why")


class Verdict(Frozen):
    """One comparison: the build driven against the reference, here, in this respect."""

    section: Title = Field(description="section of the road loop")
    attribute: Attribute = Field(default="overall", description="in what respect")
    verdict: VerdictWord = Field(description="the build driven, compared with the reference")


class Drive(Frozen):
    """One drive of one build."""

    date: Day = Field(description="when", examples=["2026-09-14"])
    driver: Title = Field(description="who drove")
    build: Name = Field(description="build driven, or stock")
    against: Name | None = Field(default=None, description="build that it was compared with, or stock")
    fitout: Name = Field(description="fit-out driven")
    tyre_pressure: FrontRear[Pressure] | None = Field(default=None, description="cold")
    weather: Text = Field(default="", description="dry, wet, wind, temperature")
    verdicts: tuple[Verdict, ...] = Field(default=(), description="comparisons by road section", max_length=500)
    ratings: Mapping[Attribute, Mark] = Field(
        default_factory=dict, description="1 (unbearable) to 10 (could not be better)"
    )
    note: Text = Field(default="", description="what was felt")
    files: tuple[FilePath, ...] = Field(default=(), description="logger files, photos", max_length=100)


class Decision(Frozen):
    """What was decided, when and by whom."""

    date: Day = Field(description="when", examples=["2026-09-14"])
    text: Text = Field(description="what was decided and why")
    by: Title = Field(description="who decided")


class Attachment(Frozen):
    """A file that belongs to the programme."""

    file: FilePath = Field(description="path beside the programme file")
    title: Title = Field(description="what it is")
    kind: Literal["dyno", "logger", "photo", "drawing", "document"] = Field(description="what kind of file")
