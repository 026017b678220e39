"""Programmes, their versions and their differences."""

from __future__ import annotations

import asyncio
from typing import Annotated

from fastapi import APIRouter, Query, Request, Response

from tussock.record.differences import differences
from tussock.record.log import VERDICTS
from tussock.record.scales import SCALES
from tussock.store import Entry
from tussock.store.exchange import take_whole
from tussock.web.api.shapes import (
    LARGEST_KEY,
    Choices,
    DifferenceList,
    DifferenceShape,
    Key,
    Named,
    NewProgramme,
    NewVersion,
    Number,
    ProgrammeList,
    ProgrammeShape,
    ScaleShape,
    VersionList,
    VersionShape,
    VersionText,
    version_fields,
    version_shape,
)
from tussock.web.api.uploads import WHOLE, body_of, received
from tussock.web.desk import Desk


def programme_routes(desk: Desk) -> APIRouter:
    """Return the routes of programmes."""
    router = APIRouter(prefix="/api/programmes", tags=["programmes"])
    kept = desk.store.programmes

    @router.get("")
    def list_programmes() -> ProgrammeList:
        """Which programmes are there?"""
        return ProgrammeList(programmes=tuple(_shown(entry) for entry in kept.list()))

    @router.post("", status_code=201)
    def take_programme(request: Request, body: NewProgramme) -> VersionShape:
        """Take a programme in; its files are sent before."""
        who = request.state.who.name
        return version_shape(kept.create(body.text, author=who, note=body.note, files=body.files))

    @router.post("/import", status_code=201, openapi_extra=body_of(WHOLE))
    async def take_whole_programme(
        request: Request,
        name: Annotated[str, Query(min_length=1, max_length=240, examples=["tarn.zip"])],
    ) -> VersionShape:
        """Take a programme in as it lies on a disk: its YAML, or a ZIP archive with its files."""
        who = request.state.who.name
        async with received(request, name, WHOLE) as (content, media_type):
            packed = media_type == "application/zip"
            made = await asyncio.to_thread(take_whole, desk.store, content, name, packed=packed, author=who)
        return version_shape(made)

    @router.get("/{programme:int}")  # `import` is an address of its own, not a programme
    def show_programme(programme: Key) -> ProgrammeShape:
        """What is this programme, and which version stands?"""
        return _shown(kept.get(programme))

    @router.get("/{programme}/versions")
    def list_versions(programme: Key) -> VersionList:
        """Which versions were saved?"""
        return VersionList(versions=tuple(version_shape(v) for v in kept.versions(programme)))

    @router.post("/{programme}/versions", status_code=201)
    def save_version(request: Request, programme: Key, body: NewVersion) -> VersionShape:
        """Save a version; 409 with both versions where somebody else saved since `base`."""
        who = request.state.who.name
        saved = kept.save(programme, body.text, base=body.base, author=who, note=body.note, files=body.files)
        return version_shape(saved)

    @router.get("/{programme}/versions/{number}")
    def show_version(programme: Key, number: Number) -> VersionText:
        """What does this version say?"""
        version = kept.version(programme, number)
        return VersionText(**version_fields(version), text=kept.text(version))

    @router.get(
        "/{programme}/versions/{number}/programme.yaml",
        response_class=Response,
        responses={200: {"content": {"application/yaml": {"schema": {"type": "object"}}}}},
    )
    def write_version(programme: Key, number: Number) -> Response:
        """The document of this version, as it was written."""
        text = kept.text(kept.version(programme, number))
        headers = {"Content-Disposition": 'attachment; filename="programme.yaml"'}
        return Response(text, media_type="application/yaml", headers=headers)

    @router.get("/{programme}/differences")
    def show_differences(
        programme: Key,
        old: Annotated[int, Query(ge=1, le=LARGEST_KEY, description="number of a version", examples=[1])],
        new: Annotated[int, Query(ge=1, le=LARGEST_KEY, description="number of another", examples=[2])],
    ) -> DifferenceList:
        """What differs between two versions, in words?"""
        before, after = (kept.text(kept.version(programme, number)) for number in (old, new))
        return DifferenceList(
            differences=tuple(
                DifferenceShape(path=[str(p) for p in d.path], kind=d.kind, old=d.old, new=d.new, words=str(d))
                for d in differences(before, after)
            )
        )

    @router.get("/{programme}/choices", tags=["log"])
    def choices(
        request: Request, programme: Key, version: Annotated[int | None, Query(ge=1, le=LARGEST_KEY)] = None
    ) -> Choices:
        """What does the drive log choose from: fit-outs, builds, sections, drivers, attributes and their marks?"""
        found = kept.version(programme, version)
        read = kept.programme(found).programme
        return Choices(
            programme=programme,
            name=read.programme.name,
            version=found.number,
            user=request.state.who.name if request.state.who.signed_in else "",
            fitouts=tuple(Named(name=n, title=getattr(f, "title", "") or "") for n, f in read.fitouts.items()),
            builds=(Named(name="stock"), *(Named(name=n, title=b.title) for n, b in read.builds.items())),
            sections=tuple(s.name for s in read.road_loop.sections),
            drivers=tuple(dict.fromkeys(d.driver for d in read.drives)),
            verdicts=VERDICTS,
            scales=tuple(
                ScaleShape(attribute=a, title=s.title, asks=s.asks, anchors=dict(s.anchors)) for a, s in SCALES.items()
            ),
        )

    return router


def _shown(entry: Entry) -> ProgrammeShape:
    return ProgrammeShape(
        id=entry.id, name=entry.name, title=entry.title, created=entry.created, newest=version_shape(entry.newest)
    )
