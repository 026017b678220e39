"""The REST interface: plain functions over the store and the studies, described by an OpenAPI document."""

from __future__ import annotations

from typing import Any

from fastapi import FastAPI, Request

import tussock
from tussock.web.api.entries import entry_routes
from tussock.web.api.faults import answer_faults
from tussock.web.api.programmes import programme_routes
from tussock.web.api.shapes import FaultShape, SessionShape
from tussock.web.api.studies import study_routes
from tussock.web.api.uploads import file_routes
from tussock.web.desk import Desk
from tussock.web.jobs import Jobs

FAULTS: dict[int | str, dict[str, Any]] = {
    status: {"model": FaultShape, "description": words}
    for status, words in {
        400: "The body cannot be read.",
        401: "Sign in first.",
        403: "Not with this role, from this page or without the token.",
        404: "There is no such thing.",
        409: "Somebody else saved since; both versions are in the answer.",
        413: "Too large.",
        415: "A kind of file that is not taken.",
        422: "The input is wrong; the answer says what would be right.",
        503: "The store is busy; nothing was saved, try again.",
    }.items()
}


def add_api(app: FastAPI, desk: Desk, jobs: Jobs) -> None:
    """Add the REST interface to an app."""
    answer_faults(app)

    @app.get("/api/session", tags=["session"], responses=FAULTS)
    def session(request: Request) -> SessionShape:
        """Who asks, and which token goes with every change?"""
        who = request.state.who
        return SessionShape(user=who.name, role=who.role, token=who.token)

    for router in (programme_routes(desk), study_routes(desk, jobs), file_routes(desk.store), entry_routes(desk.store)):
        app.include_router(router, responses=FAULTS)
    app.title, app.version = "Tussock", tussock.__version__
    app.description = (
        "Programmes, versions, studies, files and log entries. Numbers are SI with their unit; every change carries "
        "the token of /api/session as X-Tussock-Token. Figures are design aids, not certification."
    )
