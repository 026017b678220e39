"""The log: builds, dyno runs, drives, notes, decisions. Nothing is overwritten; a correction is a new entry."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal, TypeAlias

from pydantic import AfterValidator, Field
from pydantic_core import PydanticCustomError

from tussock.record.base import STOCK, AxleName, Clearance, Day, FilePath, FrontRear, Frozen, Name, Text, Title
from tussock.record.damper import DynoRun
from tussock.record.logger import Recording
from tussock.record.parts import AntiRollBar
from tussock.record.scales import BEST, MARK_WORDS, WORST, Attribute
from tussock.record.vehicle import Pressure


def _mark(value: int) -> int:
    if not WORST <= value <= BEST:
        raise PydanticCustomError("mark", MARK_WORDS)
    return value


VerdictWord: TypeAlias = Literal["much worse", "slightly worse", "same", "slightly better", "much better"]
VERDICTS: tuple[VerdictWord, ...] = ("much worse", "slightly worse", "same", "slightly better", "much better")
Mark: TypeAlias = Annotated[
    int, AfterValidator(_mark), Field(examples=[7], json_schema_extra={"minimum": WORST, "maximum": BEST})
]
EntryId: TypeAlias = Annotated[
    Name | None, Field(default=None, description="what other entries call this one; once in the whole log")
]


class Build(Frozen):
    """What was fitted: a step from its parent. What it leaves out is as the parent has it."""

    title: Title = Field(description="what people call it")
    parent: Name = Field(default=STOCK, description="build that it was changed from, or stock")
    dampers: Mapping[AxleName, Name] = Field(
        default_factory=dict, description="damper of the kit per axle; left out: as the parent"
    )
    springs: Mapping[AxleName, Name] = Field(
        default_factory=dict,
        description="spring of the kit per axle, in place of the fit-out's; left out: as the parent",
    )
    packers: tuple[Name, ...] | None = Field(
        default=None,
        description="packers of the kit, in place of the fit-out's; left out: as the parent",
        max_length=20,
    )
    bars: Mapping[AxleName, AntiRollBar] = Field(
        default_factory=dict, description="anti-roll bar in place of the vehicle's; left out: as the parent"
    )
    stop_spacers: Mapping[AxleName, Clearance] = Field(
        default_factory=dict, description="under the bump stop, in place of the kit's; left out: as the parent"
    )
    stop_stacks: Mapping[AxleName, tuple[Name, ...]] = Field(
        default_factory=dict, description="bump stops, in place of the kit's; left out: as the parent"
    )
    tyre_pressure: Mapping[AxleName, Pressure] = Field(
        default_factory=dict, description="cold, to which this build is set; left out: as the parent"
    )
    date: Day | None = Field(default=None, description="when it was fitted", examples=["2026-09-14"])
    by: Title | None = Field(default=None, description="who fitted it")
    note: Text = Field(default="", description="why")


class LoggedDyno(Frozen):
    """A run of one damper of a build on the dyno."""

    id: EntryId
    date: Day = Field(description="when", examples=["2026-09-14"])
    build: Name = Field(description="build whose damper ran, or stock")
    axle: AxleName = Field(description="axle whose damper ran")
    unit: Title | None = Field(default=None, description="which of its dampers: left, right, a serial number")
    dyno: FilePath = Field(description="the sweep, beside the programme")
    dyno_run: DynoRun | None = Field(default=None, description="how it was recorded, where the file does not say so")
    by: Title | None = Field(default=None, description="who ran it")
    note: Text = Field(default="", description="anything worth knowing")


class Verdict(Frozen):
    """One comparison: the build driven against the reference, here, in this respect."""

    section: Title | None = Field(default=None, description="section of the road loop; left out: all that was driven")
    attribute: Attribute = Field(default="overall", description="in what respect")
    verdict: VerdictWord = Field(description="the build driven, compared with the reference")


class Rating(Frozen):
    """One mark on the scale of an attribute."""

    section: Title | None = Field(default=None, description="section of the road loop; left out: all that was driven")
    attribute: Attribute = Field(default="overall", description="in what respect")
    mark: Mark = Field(description="1 (worst) to 10 (best), as the scale of the attribute says in words")


class Drive(Frozen):
    """One drive of one build."""

    id: EntryId
    date: Day = Field(description="when", examples=["2026-09-14"])
    driver: Title = Field(description="who drove")
    build: Name = Field(description="build driven, or stock")
    against: Name | None = Field(default=None, description="build that it was compared with, or stock")
    fitout: Name = Field(description="fit-out driven")
    section: Title | None = Field(default=None, description="section of the road loop; left out: the whole loop")
    tyre_pressure: FrontRear[Pressure] | None = Field(default=None, description="cold, as measured before this drive")
    weather: Text = Field(default="", description="dry, wet, wind, temperature")
    verdicts: tuple[Verdict, ...] = Field(default=(), description="comparisons by road section", max_length=500)
    ratings: tuple[Rating, ...] = Field(default=(), description="marks by attribute", max_length=500)
    note: Text = Field(default="", description="what was felt")
    recordings: tuple[Recording, ...] = Field(default=(), description="files of data loggers", max_length=20)
    files: tuple[FilePath, ...] = Field(default=(), description="photos and other files", max_length=100)


class Note(Frozen):
    """Anything worth keeping that is no drive: words, photos, files."""

    id: EntryId
    date: Day = Field(description="when", examples=["2026-09-14"])
    by: Title = Field(description="who says so")
    about: Name | None = Field(default=None, description="build or entry of the log that it is about")
    text: Text = Field(description="what there is to say")
    files: tuple[FilePath, ...] = Field(default=(), description="photos and other files", max_length=100)


class Decision(Frozen):
    """What was decided, when and by whom."""

    id: EntryId
    date: Day = Field(description="when", examples=["2026-09-14"])
    text: Text = Field(description="what was decided and why")
    by: Title = Field(description="who decided")


class Correction(Frozen):
    """What an earlier entry should have said, or that it does not count. The entry itself stays as it was written.

    A correction may be corrected (its fields are added to, and replace, those of the one before) or withdrawn.
    """

    id: EntryId
    date: Day = Field(description="when", examples=["2026-09-14"])
    by: Title = Field(description="who corrects")
    corrects: Name = Field(description="build or entry of the log that was wrong")
    fields: Mapping[str, Any] = Field(
        default_factory=dict,
        description="fields of the entry as they should be, each whole; nothing stands for left out",
        examples=[{"fitout": "winch"}],
    )
    withdrawn: bool = Field(default=False, description="the entry does not count at all")
    why: Text = Field(description="what was wrong with it")


class Attachment(Frozen):
    """A file that belongs to the programme."""

    file: FilePath = Field(description="path beside the programme file")
    title: Title = Field(description="what it is")
    kind: Literal["dyno", "logger", "photo", "drawing", "document"] = Field(description="what kind of file")


ENTRIES: Mapping[str, type[Frozen]] = {
    "builds": Build,
    "dyno_runs": LoggedDyno,
    "drives": Drive,
    "notes": Note,
    "decisions": Decision,
    "corrections": Correction,
}
"""What the log is made of, by the field of the programme that holds it."""
