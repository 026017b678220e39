"""The programme: one document that holds what was measured, decided and logged for one vehicle and its kit."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal, Self, TypeVar

from pydantic import Field, ModelWrapValidatorHandler, ValidationError, model_validator
from pydantic_core import InitErrorDetails, PydanticCustomError

from tussock.errors import InputError
from tussock.record.base import STOCK, AxleName, FilePath, Frozen, Name, Text, Title
from tussock.record.checks import check
from tussock.record.damper import Workshop
from tussock.record.kit import Fitout, Kit, Targets
from tussock.record.log import Attachment, Build, Decision, Drive
from tussock.record.parts import Damper
from tussock.record.road import RoadLoop
from tussock.record.springs import AnySpring
from tussock.record.vehicle import Vehicle
from tussock.record.view import nearest

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
    builds: Mapping[Name, Build] = Field(default_factory=dict, description="what was fitted, by name")
    road_loop: RoadLoop = Field(description="the house's road loop")
    drives: tuple[Drive, ...] = Field(default=(), description="drives, oldest first")
    decisions: tuple[Decision, ...] = Field(default=(), description="decisions, oldest first")
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
        while build != STOCK:
            step = _pick(self.builds, build, "build")
            name = step.dampers.get(axle)
            if name == STOCK:
                break
            if name is not None:
                return _pick(self.kit.dampers, name, "damper")
            build = step.parent
        return self.vehicle.axles[axle].damper

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
        for i, drive in enumerate(self.drives):
            found.update({f"drives.{i}.files.{j}": file for j, file in enumerate(drive.files)})
        found.update({f"attachments.{i}.file": a.file for i, a in enumerate(self.attachments)})
        return found


V = TypeVar("V")


def _pick(table: Mapping[str, V], name: str, what: str) -> V:
    try:
        return table[name]
    except KeyError:
        raise InputError(f"there is no {what} {name!r}; {nearest(name, [*table, STOCK])}") from None


def _again(error: Any) -> InitErrorDetails:
    """Carry a fault that was already found over into the joint report."""
    context = dict(error.get("ctx", {}))
    context["message"] = error["msg"]
    kind = PydanticCustomError(error["type"], "{message}", context)
    return InitErrorDetails(type=kind, loc=tuple(error["loc"]), input=error["input"])
