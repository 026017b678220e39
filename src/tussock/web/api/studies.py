"""Studies of a programme: short ones answered at once, long ones as jobs with progress and a way to stop them."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Depends, Path, Query, Request, Response
from fastapi.responses import JSONResponse

from tussock.errors import InputError
from tussock.release.outputs import file_stem, table_csv
from tussock.store import NotFound, Version
from tussock.studies.result import Result
from tussock.web.api.shapes import (
    LARGEST_KEY,
    FaultShape,
    FurtherShape,
    JobShape,
    Key,
    StudyList,
    StudyShape,
    choice,
    job_shape,
)
from tussock.web.desk import Choice, Desk
from tussock.web.jobs import Jobs
from tussock.web.places import PLACES, Place

_Study = Annotated[str, Path(max_length=40, description="as /api/studies lists them", examples=["travel"])]
_Version = Annotated[int | None, Query(ge=1, le=LARGEST_KEY, description="left out: the newest")]
_Chosen = Annotated[Choice, Depends(choice)]


def study_routes(desk: Desk, jobs: Jobs) -> APIRouter:
    """Return the routes of studies and jobs."""
    router = APIRouter(prefix="/api", tags=["studies"])

    def asked(programme: int, study: str, version: int | None, chosen: Choice) -> tuple[Version, Place]:
        found = desk.store.programmes.version(programme, version)
        if study not in PLACES:
            raise NotFound(f"there is no study {study!r}; there are {', '.join(PLACES)}")
        desk.checked(found, chosen)
        return found, PLACES[study]

    def answered(programme: int, study: str, version: int | None, chosen: Choice) -> Result:
        found, place = asked(programme, study, version, chosen)
        chosen = chosen.at(place)
        return desk.at_once(found, place, chosen)

    @router.get("/studies")
    def list_studies() -> StudyList:
        """Which questions can a programme be asked?"""
        return StudyList(
            studies=tuple(
                StudyShape(
                    name=p.name,
                    title=p.title,
                    question=p.question,
                    stage=p.stage,
                    long=p.long,
                    further=tuple(
                        FurtherShape(name=f.name, title=f.title, default=f.default, hint=f.hint) for f in p.further
                    ),
                )
                for p in PLACES.values()
            )
        )

    @router.get(
        "/programmes/{programme}/studies/{study}",
        responses={
            200: {
                "description": "The result: question, answer, pictures, tables and notices; numbers in SI with units.",
                "content": {"application/json": {"schema": {"type": "object"}}},
            },
            202: {"description": "It takes long: where its job is.", "model": JobShape},
        },
    )
    def ask_study(programme: Key, study: _Study, chosen: _Chosen, version: _Version = None) -> Response:
        """What is the answer? A long study that nobody has asked for is started as a job."""
        found, place = asked(programme, study, version, chosen)
        chosen = chosen.at(place)
        result = desk.kept(found, place, chosen) if place.long else desk.result(found, place, chosen)
        if result is None:
            job = job_shape(jobs.start(found, study, chosen))
            headers = {"Location": f"/api/jobs/{job.id}"}
            return JSONResponse(job.model_dump(mode="json"), status_code=202, headers=headers)
        body: dict[str, Any] = result.as_json()
        return JSONResponse(body)

    @router.get(
        "/programmes/{programme}/studies/{study}/tables/{table}.csv",
        response_class=Response,
        responses={200: {"content": {"text/csv": {"schema": {"type": "string"}}}}},
    )
    def write_table(
        programme: Key,
        study: _Study,
        table: Annotated[str, Path(max_length=80, examples=["travel"])],
        chosen: _Chosen,
        version: _Version = None,
    ) -> Response:
        """A table of the answer as comma-separated text, in the units that people read."""
        result = answered(programme, study, version, chosen)
        wanted = next((t for t in result.tables if t.key == table), None)
        if wanted is None:
            has = ", ".join(t.key for t in result.tables) or "none"
            raise NotFound(f"there is no table {table!r} in this answer; it has {has}")
        headers = {"Content-Disposition": f'attachment; filename="{file_stem(study, table)}.csv"'}
        return Response(table_csv(wanted), media_type="text/csv", headers=headers)

    @router.get("/jobs/{job}", tags=["jobs"])
    def show_job(job: Annotated[str, Path(max_length=64)]) -> JobShape:
        """How far is this study?"""
        return job_shape(_found(jobs, job))

    @router.delete("/jobs/{job}", tags=["jobs"], responses={403: {"model": FaultShape}})
    def cancel_job(request: Request, job: Annotated[str, Path(max_length=64)]) -> JobShape:
        """Stop this study."""
        _found(jobs, job)
        return job_shape(jobs.cancel(job))

    return router


def _found(jobs: Jobs, job: str) -> Any:
    try:
        return jobs.status(job)
    except InputError as error:
        raise NotFound(str(error)) from None
