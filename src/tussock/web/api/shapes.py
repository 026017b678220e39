"""What goes over the wire: one model for each thing of the REST interface, with an example of each."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import Annotated, Any, Literal, TypeAlias
from urllib.parse import urlencode
from uuid import UUID

from fastapi import Path, Query
from pydantic import BaseModel, ConfigDict, Field, StringConstraints

from tussock.record.log import VERDICTS, VerdictWord
from tussock.store import LogEntry, StoredFile, Version
from tussock.web.desk import Choice
from tussock.web.jobs import JobState, JobStatus

LARGEST_KEY = 2**31 - 1
Key: TypeAlias = Annotated[int, Path(ge=1, le=LARGEST_KEY, description="number of the programme")]
Number: TypeAlias = Annotated[int, Path(ge=1, le=LARGEST_KEY, description="number of the version")]
Digest: TypeAlias = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")]
Document: TypeAlias = Annotated[str, StringConstraints(min_length=1, max_length=5_000_000)]
Remark: TypeAlias = Annotated[str, StringConstraints(max_length=4000)]
_DIGEST = "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08"
_UUID = "9b2f0c1e-6a44-4d0e-9a53-3f1b7f2f6c11"


class Shape(BaseModel):
    """Base of all: nothing that is not named is taken."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class ProblemShape(Shape):
    """One fault of a document."""

    line: int = Field(description="line in the document; 0 where none is meant", examples=[12])
    path: str = Field(description="field", examples=["vehicle.wheelbase"])
    found: str = Field(description="what stands there", examples=["'2700'"])
    wrong: str = Field(description="what is wrong with it", examples=["a length needs a unit"])
    example: str = Field(description="what would be right", examples=["2700 mm"])


class Fault(Shape):
    """What was wrong."""

    code: str = Field(description="for programs", examples=["not_found"])
    message: str = Field(description="for people", examples=["there is no programme 7 in this store"])
    problems: tuple[ProblemShape, ...] = Field(default=(), description="every fault of a document")
    base: VersionShape | None = Field(default=None, description="on a conflict: the version that was edited")
    newest: VersionShape | None = Field(default=None, description="on a conflict: the version that stands now")


class FaultShape(Shape):
    """Every answer that is not what was asked for."""

    error: Fault


class VersionShape(Shape):
    """A saved version; it never changes."""

    programme: int = Field(examples=[1])
    number: int = Field(description="1 for the first", examples=[3])
    name: str = Field(examples=["Tarn"])
    title: str = Field(examples=["rescue wagon, 35 mm lift"])
    author: str = Field(examples=["workshop"])
    note: str = Field(examples=["softer front springs"])
    created: datetime = Field(examples=["2026-09-14T08:30:00Z"])
    digest: str = Field(description="SHA-256 of the text", examples=[_DIGEST])
    files: dict[str, str] = Field(
        description="SHA-256 of each file by its path in the text", examples=[{"dyno/front.csv": _DIGEST}]
    )


class VersionText(VersionShape):
    """A version with its document."""

    text: str = Field(description="the programme, YAML", examples=["format: 1\n"])


class ProgrammeShape(Shape):
    """A programme as a list shows it."""

    id: int = Field(examples=[1])
    name: str = Field(examples=["Tarn"])
    title: str = Field(examples=["rescue wagon, 35 mm lift"])
    created: datetime = Field(examples=["2026-09-14T08:30:00Z"])
    newest: VersionShape


class ProgrammeList(Shape):
    """All programmes, the one saved last first."""

    programmes: tuple[ProgrammeShape, ...]


class VersionList(Shape):
    """All versions of a programme, newest first."""

    versions: tuple[VersionShape, ...]


class DifferenceShape(Shape):
    """One thing that differs between two versions."""

    path: list[str] = Field(examples=[["vehicle", "wheelbase"]])
    kind: str = Field(description="changed, added, removed or moved", examples=["changed"])
    old: str = Field(examples=["2700 mm"])
    new: str = Field(examples=["2710 mm"])
    words: str = Field(examples=["vehicle, wheelbase: 2710 mm instead of 2700 mm"])


class DifferenceList(Shape):
    """What differs, in the order of the newer version."""

    differences: tuple[DifferenceShape, ...]


class NewProgramme(Shape):
    """A programme to take in."""

    text: Document = Field(description="the programme, YAML", examples=["format: 1\n"])
    note: Remark = Field(default="", examples=["first draft"])
    files: dict[str, Digest] = Field(
        default_factory=dict, max_length=2000, description="files sent before, by the path that the text names"
    )


class NewVersion(NewProgramme):
    """A version to save."""

    base: int = Field(ge=1, le=LARGEST_KEY, description="number of the version that was edited", examples=[3])


class SessionShape(Shape):
    """Who asks."""

    user: str = Field(examples=["workshop"])
    role: Literal["reader", "engineer", "admin"] = Field(examples=["engineer"])
    token: str = Field(description="to send as X-Tussock-Token with every change", examples=["5f2a"])


class FurtherShape(Shape):
    """What a study asks besides fit-out, build and the build to compare with; sent as `with=name=text`."""

    name: str = Field(examples=["damper"])
    title: str = Field(examples=["Damper"])
    default: str = Field(default="", examples=["3"])
    hint: str = Field(default="", examples=["one a line, such as 0.26 m/s: 800 N"])


class StudyShape(Shape):
    """A study that a programme can be asked for."""

    name: str = Field(examples=["travel"])
    title: str = Field(examples=["Travel"])
    question: str = Field(examples=["How much travel is there, and what limits it?"])
    stage: bool = Field(description="whether it is a stage of the job", examples=[True])
    long: bool = Field(description="whether it runs as a job", examples=[False])
    further: tuple[FurtherShape, ...] = ()


class StudyList(Shape):
    """All studies, the stages of the job first."""

    studies: tuple[StudyShape, ...]


class JobShape(Shape):
    """Where a long study stands."""

    id: str = Field(examples=["4f1c"])
    programme: int = Field(examples=[1])
    version: int = Field(examples=[3])
    study: str = Field(examples=["drive"])
    state: JobState = Field(examples=["running"])
    step: int = Field(examples=[2])
    steps: int = Field(examples=[9])
    words: str = Field(description="what is under way, or why it failed", examples=["opening the programme"])
    seconds: float = Field(description="how long it has run", examples=[12.5])
    result: str | None = Field(default=None, description="where the result is, once done")


class FileShape(Shape):
    """A file by its content."""

    digest: str = Field(description="SHA-256 of its content", examples=[_DIGEST])
    size: int = Field(description="bytes", examples=[245_120])
    name: str = Field(examples=["stop mark.jpg"])
    media_type: str = Field(examples=["image/jpeg"])
    path: str = Field(description="how a programme names it", examples=["attached/9f86d081884c-stop mark.jpg"])


class EntryFile(Shape):
    """A file that comes with an entry."""

    digest: Digest = Field(description="of a file sent before", examples=[_DIGEST])
    name: str = Field(min_length=1, max_length=120, examples=["stop mark.jpg"])


Part: TypeAlias = Literal["drives", "notes", "decisions", "corrections", "builds", "dyno_runs"]
_DRIVE = {
    "date": "2026-09-22",
    "driver": "service",
    "build": "B1",
    "against": "stock",
    "fitout": "crew",
    "section": "moor road",
    "verdicts": [{"section": "moor road", "attribute": "body_float", "verdict": "slightly better"}],
    "ratings": [{"attribute": "overall", "mark": 7}],
}


class NewEntry(Shape):
    """An entry of the log, as the programme's log has it."""

    part: Part = Field(default="drives", examples=["drives"])
    fields: dict[str, Any] = Field(max_length=40, description="as docs/log.md lists them", examples=[_DRIVE])
    files: tuple[EntryFile, ...] = Field(default=(), max_length=100)


class AmendedEntry(Shape):
    """Other fields for an entry that waits."""

    fields: dict[str, Any] = Field(max_length=40, examples=[_DRIVE])


class EntryShape(Shape):
    """An entry as it was sent, and what became of it."""

    client_id: UUID = Field(examples=[_UUID])
    programme: int = Field(examples=[1])
    part: Part = Field(examples=["drives"])
    fields: dict[str, Any] = Field(examples=[_DRIVE])
    author: str = Field(examples=["service"])
    created: datetime = Field(examples=["2026-09-22T15:04:00Z"])
    name: str | None = Field(default=None, description="what the log calls it; none while it waits", examples=["D5"])
    version: int | None = Field(default=None, description="version that took it in; none while it waits", examples=[4])
    problem: str = Field(default="", description="why it waits", examples=[""])


class EntryList(Shape):
    """Entries that devices sent, the last to arrive first."""

    entries: tuple[EntryShape, ...]


class Named(Shape):
    """A choice."""

    name: str = Field(examples=["B2"])
    title: str = Field(default="", examples=["softer rear"])


class ScaleShape(Shape):
    """What drivers judge, and what the marks mean in words."""

    attribute: str = Field(examples=["body_float"])
    title: str = Field(examples=["body float"])
    asks: str = Field(examples=["After a long wave at speed, how long does the body go on?"])
    anchors: dict[int, str] = Field(examples=[{1: "wallows on", 9: "follows the road"}])


class Choices(Shape):
    """All that the drive log chooses from."""

    programme: int
    name: str
    version: int
    user: str = Field(description="who is signed in; empty where nobody signs in", examples=["service"])
    fitouts: tuple[Named, ...]
    builds: tuple[Named, ...]
    sections: tuple[str, ...]
    drivers: tuple[str, ...]
    verdicts: tuple[VerdictWord, ...] = VERDICTS
    scales: tuple[ScaleShape, ...]


_Name: TypeAlias = Annotated[str | None, Query(max_length=40)]


_Further: TypeAlias = Annotated[
    list[str] | None,
    Query(
        alias="with",
        max_length=20,
        description="further inputs of a study as name=text, as /api/studies lists them",
        examples=[["damper=front B"]],
    ),
]


def choice(fitout: _Name = None, build: _Name = None, against: _Name = None, further: _Further = None) -> Choice:
    """Fit-out, build and the build to compare with; left out: the first, the last, stock. `with` may be repeated."""
    pairs = [text.partition("=") for text in further or ()]
    named = {"fitout": fitout, "build": build, "against": against}
    return Choice.of([*((k, v) for k, _, v in pairs), *((k, v) for k, v in named.items() if v is not None)])


def version_shape(version: Version) -> VersionShape:
    """Return a version for the wire."""
    return VersionShape(**version_fields(version))


def version_fields(version: Version) -> dict[str, Any]:
    """Return the fields of a version for the wire."""
    return {
        "programme": version.programme_id,
        "number": version.number,
        "name": version.name,
        "title": version.title,
        "author": version.author,
        "note": version.note,
        "created": version.created,
        "digest": version.digest,
        "files": dict(version.files),
    }


def file_shape(file: StoredFile, name: str = "") -> FileShape:
    """Return a file for the wire."""
    return FileShape(
        digest=file.digest, size=file.size, name=name or file.name, media_type=file.media_type, path=file.kept_path
    )


def job_shape(job: JobStatus) -> JobShape:
    """Return a job for the wire."""
    setup = replace(job.choice, further=()).query()
    told = [("with", f"{name}={text}") for name, text in job.choice.further]
    query = urlencode([("version", str(job.version)), *setup.items(), *told])
    place = f"/api/programmes/{job.programme_id}/studies/{job.study}?{query}"
    return JobShape(
        id=job.id,
        programme=job.programme_id,
        version=job.version,
        study=job.study,
        state=job.state,
        step=job.step,
        steps=job.steps,
        words=job.words,
        seconds=round(job.seconds, 1),
        result=place if job.state == "done" else None,
    )


def entry_shape(entry: LogEntry, name: str | None) -> EntryShape:
    """Return an entry for the wire."""
    return EntryShape(
        client_id=UUID(entry.client_id),
        programme=entry.programme_id,
        part=entry.part,  # type: ignore[arg-type]
        fields=dict(entry.payload),
        author=entry.author,
        created=entry.created,
        name=name,
        version=entry.version,
        problem=entry.problem,
    )


FaultShape.model_rebuild()
