"""The programme: one document that holds what was measured, decided and logged for one vehicle and its kit."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from functools import cached_property
from typing import Any, Literal, Self, TypeVar

from pydantic import Field, ModelWrapValidatorHandler, ValidationError, model_validator
from pydantic_core import InitErrorDetails, PydanticCustomError

from tussock.errors import InputError
from tussock.record.base import STOCK, AxleName, FilePath, Frozen, Name, Text, Title
from tussock.record.checks import check
from tussock.record.corrections import WORDS, Change, corrected, counted
from tussock.record.damper import Workshop
from tussock.record.kit import Fitout, Kit, Targets
from tussock.record.log import ENTRIES, Attachment, Build, Correction, Decision, Drive, LoggedDyno, Note
from tussock.record.logger import Logger
from tussock.record.parts import Damper
from tussock.record.road import RoadLoop
from tussock.record.springs import AnySpring
from tussock.record.vehicle import Vehicle
from tussock.record.view import Path, likeliest, nearest

E = TypeVar("E", bound=Frozen)

FORMAT = 1
"""Version of the document format that this program writes; it reads this one and all before it."""


class Header(Frozen):
    """What the programme is and where its figures come from."""

    name: Title = Field(description="of the vehicle")
    title: Title = Field(description="of the kit")
    data: Literal["measured", "estimated", "invented"] = Field(
        description="where the figures come from; shown on every page of every report"
    )
    author: Title = Field(description="who keeps this document")
    note: Text = Field(default="", description="anything worth knowing")


class Programme(Frozen):
    """Everything that is known about one vehicle and its kit."""

    format: Literal[1] = Field(description="version of the document format")
    programme: Header = Field(description="what this is")
    vehicle: Vehicle = Field(description="the production vehicle as measured")
    fitouts: Mapping[Name, Fitout] = Field(description="how customers use it, by name")
    targets: Targets = Field(description="what it must become")
    kit: Kit = Field(description="the parts of the kit")
    workshop: Workshop = Field(default_factory=Workshop, description="discs and oils in stock")
    written_builds: Mapping[Name, Build] = Field(
        default_factory=dict, alias="builds", description="what was fitted, by name"
    )
    road_loop: RoadLoop = Field(description="the house's road loop")
    loggers: Mapping[Name, Logger] = Field(
        default_factory=dict, description="data loggers and how they are wired, by name"
    )
    written_dyno_runs: tuple[LoggedDyno, ...] = Field(
        default=(), alias="dyno_runs", description="dampers of builds on the dyno, oldest first"
    )
    written_drives: tuple[Drive, ...] = Field(default=(), alias="drives", description="drives, oldest first")
    written_notes: tuple[Note, ...] = Field(
        default=(), alias="notes", description="free notes with photos and files, oldest first"
    )
    written_decisions: tuple[Decision, ...] = Field(
        default=(), alias="decisions", description="decisions, oldest first"
    )
    corrections: tuple[Correction, ...] = Field(
        default=(), description="what earlier entries of the log should have said, oldest first"
    )
    attachments: tuple[Attachment, ...] = Field(default=(), description="other files that belong to it")

    @model_validator(mode="wrap")
    @classmethod
    def _with_checks_between_fields(cls, data: Any, handler: ModelWrapValidatorHandler[Self]) -> Self:
        """Report faults of single fields and faults between fields together."""
        errors: list[InitErrorDetails] = []
        valid: Self | None = None
        try:
            valid = handler(data)
        except ValidationError as error:
            errors += [_again(e) for e in error.errors(include_url=False)]
        errors += _corrected_entries(data) if isinstance(data, dict) else ()
        faulty = {tuple(e["loc"]) for e in errors if "loc" in e}
        for finding in check(data) if isinstance(data, dict) else ():
            if finding.path in faulty:
                continue
            context = {"wrong": finding.wrong, "found": finding.found, "example": finding.example}
            fault = PydanticCustomError("between_fields", "{wrong}", context)
            errors.append(InitErrorDetails(type=fault, loc=finding.path, input=None))
        if errors or valid is None:
            raise ValidationError.from_exception_data(cls.__name__, errors)
        return valid

    @cached_property
    def changes(self) -> Mapping[Path, Change]:
        """What the corrections leave standing over each entry, by its part of the log and its place there."""
        names = {"drives", "dyno_runs", "notes", "decisions", "corrections"}
        plain: dict[str, Any] = {"builds": self.written_builds}
        for part in names:
            rows = self.corrections if part == "corrections" else getattr(self, f"written_{part}")
            plain[part] = [row.model_dump(mode="json", exclude_unset=True) for row in rows]
        return counted(plain).changes

    @cached_property
    def builds(self) -> Mapping[str, Build]:
        """The builds as they count now, corrections applied and withdrawn ones gone, by name."""
        return {name: b for name, b in self._counting("builds", self.written_builds.items())}

    @cached_property
    def dyno_runs(self) -> tuple[LoggedDyno, ...]:
        """The dyno runs as they count now."""
        return tuple(e for _, e in self._counting("dyno_runs", enumerate(self.written_dyno_runs)))

    @cached_property
    def drives(self) -> tuple[Drive, ...]:
        """The drives as they count now."""
        return tuple(e for _, e in self._counting("drives", enumerate(self.written_drives)))

    @cached_property
    def notes(self) -> tuple[Note, ...]:
        """The notes as they count now."""
        return tuple(e for _, e in self._counting("notes", enumerate(self.written_notes)))

    @cached_property
    def decisions(self) -> tuple[Decision, ...]:
        """The decisions as they count now."""
        return tuple(e for _, e in self._counting("decisions", enumerate(self.written_decisions)))

    def _counting(self, part: str, entries: Iterable[tuple[Any, E]]) -> Iterator[tuple[Any, E]]:
        for key, entry in entries:
            change = self.changes.get((part, key))
            if change is None:
                yield key, entry
            elif change.withdrawn_by is None:
                written = entry.model_dump(mode="json", by_alias=True, exclude_unset=True)
                yield key, type(entry).model_validate(corrected(written, change))

    def spring(self, name: str, axle: str) -> AnySpring:
        """Return a spring of the kit, or the vehicle's own for `stock`; InputError for an unknown name."""
        if name == STOCK:
            return self.vehicle.axles[axle].spring
        return _pick(self.kit.springs, name, "spring")

    def fitout(self, name: str) -> Fitout:
        """Return a fit-out; InputError that names the nearest known for an unknown name."""
        return _pick(self.fitouts, name, "fit-out")

    def damper(self, build: str, axle: AxleName) -> Damper:
        """Return the damper that a build wears on an axle, inherited from its parents where it names none.

        Raises
        ------
        InputError
            There is no such build.
        """
        name = self.worn(build, "dampers", axle)
        return self.vehicle.axles[axle].damper if name in (None, STOCK) else _pick(self.kit.dampers, name, "damper")

    def worn(self, build: str, part: str, axle: str | None = None) -> Any:
        """Return what a build or the nearest of its parents says of a part, None if none of them does.

        Parameters
        ----------
        build : str
            Its name, or stock.
        part : str
            Field of `Build`: dampers, springs, packers, bars, stop_spacers, stop_stacks, tyre_pressure.
        axle : str, optional
            For those that are given per axle.

        Raises
        ------
        InputError
            There is no such build.
        """
        for step in self.lineage(build)[:-1]:
            said = getattr(self.builds[step], part)
            said = said if axle is None else said.get(axle)
            if said is not None:
                return said
        return None

    def lineage(self, build: str) -> tuple[str, ...]:
        """Return a build and its parents back to stock."""
        chain = [build]
        while chain[-1] != STOCK:
            chain.append(_pick(self.builds, chain[-1], "build").parent)
        return tuple(chain)

    def files(self) -> dict[str, FilePath]:
        """Return every file that the document names, by field path."""
        found: dict[str, FilePath] = {}
        for axle, value in self.vehicle.axles.items():
            if value.hardpoints_file is not None:
                found[f"vehicle.axles.{axle}.hardpoints_file"] = value.hardpoints_file
            if value.damper.dyno is not None:
                found[f"vehicle.axles.{axle}.damper.dyno"] = value.damper.dyno
        for name, damper in self.kit.dampers.items():
            if damper.dyno is not None:
                found[f"kit.dampers.{name}.dyno"] = damper.dyno
        for i, section in enumerate(self.road_loop.sections):
            if section.surface is not None and section.surface.file is not None:
                found[f"road_loop.sections.{i}.surface.file"] = section.surface.file
        for i, run in enumerate(self.written_dyno_runs):
            found[f"dyno_runs.{i}.dyno"] = run.dyno
        for part in ("drives", "notes"):
            for i, entry in enumerate(getattr(self, f"written_{part}")):
                found.update({f"{part}.{i}.files.{j}": file for j, file in enumerate(entry.files)})
        for i, drive in enumerate(self.written_drives):
            found.update({f"drives.{i}.recordings.{j}.file": r.file for j, r in enumerate(drive.recordings)})
        found.update({f"attachments.{i}.file": a.file for i, a in enumerate(self.attachments)})
        return found


V = TypeVar("V")


def _pick(table: Mapping[str, V], name: str, what: str) -> V:
    try:
        return table[name]
    except KeyError:
        raise InputError(f"there is no {what} {name!r}; {nearest(name, [*table, STOCK])}") from None


def _corrected_entries(data: dict[str, Any]) -> list[InitErrorDetails]:
    """Return what is wrong with the fields that corrections give, each at its place in its correction."""
    errors: list[InitErrorDetails] = []
    now = counted(data)
    for path, change in now.changes.items():
        part, key = str(path[0]), path[1]
        if change.withdrawn_by is not None or part == "corrections" or not change.fields:
            continue
        model = ENTRIES[part]
        try:
            model.model_validate(now.data[part][key])
        except ValidationError as error:
            for one in error.errors(include_url=False):
                at = tuple(one["loc"])
                if at and at[0] not in change.fields and one["type"] != "missing":
                    continue  # said of the entry itself
                again = _again(one)
                place = now.written((*path, *at)) if at and at[0] in change.fields else _blamed(change)
                again["loc"] = place
                if one["type"] == "extra_forbidden":
                    known = list(model.model_fields)
                    words = {
                        "wrong": f"a {WORDS[part]} has no field {str(at[-1])[:60]!r}; {nearest(str(at[-1]), known)}",
                        "found": repr(str(at[-1])[:60]),
                        "example": likeliest(str(at[-1]), known),
                    }
                    again["type"] = PydanticCustomError("between_fields", "{wrong}", words)
                errors.append(again)
    return errors


def _blamed(change: Change) -> Path:
    """Return the place of the first field of a change: what takes a needed field away."""
    return next(iter(change.fields.values()))[1]


def _again(error: Any) -> InitErrorDetails:
    """Carry a fault that was already found over into the joint report."""
    context = dict(error.get("ctx", {}))
    context["message"] = error["msg"]
    kind = PydanticCustomError(error["type"], "{message}", context)
    return InitErrorDetails(type=kind, loc=tuple(error["loc"]), input=error["input"])
