"""Errors of Tussock as answers of the REST interface: one form, plain words, no place of the server in any of them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from typing import Any

from fastapi import FastAPI, Request
from fastapi.encoders import jsonable_encoder
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from starlette.exceptions import HTTPException
from starlette.routing import BaseRoute, Match

from tussock.errors import TussockError
from tussock.record import ProgrammeError
from tussock.store import Conflict, NewerStore, NotFound, StoreBusy, StoreError, StoreFull, TooLarge
from tussock.web.api.shapes import Fault, FaultShape, ProblemShape, version_shape

_STATUS: tuple[tuple[type[TussockError], int, str], ...] = (
    (NotFound, 404, "not_found"),
    (Conflict, 409, "conflict"),
    (TooLarge, 413, "too_large"),
    (StoreBusy, 503, "busy"),
    (StoreFull, 507, "no_room"),
    (NewerStore, 503, "newer_store"),
    (StoreError, 503, "store"),
    (TussockError, 422, "wrong_input"),
)
_PLACE = re.compile(r"(?<![\w.:/])(?:[A-Za-z]:)?[\\/](?:[^\\/\s'\",;:]+[\\/])+(?=[^\\/\s])")


class WrongType(TussockError):
    """A file of a kind that is not taken here."""


def without_places(text: str) -> str:
    """Return words with folders of the server taken out of them; a file's own name stays.

    >>> without_places("cannot read /home/anna/.local/tussock/front.csv: no such file")
    'cannot read front.csv: no such file'
    >>> without_places("write dyno/front-a.csv, at 3/4 of 28 N/mm")
    'write dyno/front-a.csv, at 3/4 of 28 N/mm'
    """
    return _PLACE.sub("", text)


def fault(error: TussockError) -> tuple[int, FaultShape]:
    """Return status and body for an error of Tussock."""
    if isinstance(error, WrongType):
        status, code = 415, "wrong_type"
    else:
        status, code = next((s, c) for kind, s, c in _STATUS if isinstance(error, kind))
    more: dict[str, Any] = {}
    if isinstance(error, Conflict):
        more = {"base": version_shape(error.base), "newest": version_shape(error.newest)}
    if isinstance(error, ProgrammeError):
        shown = (
            ProblemShape(line=p.line, path=p.path, found=p.found, wrong=without_places(p.wrong), example=p.example)
            for p in error.problems[:500]
        )
        more = {"problems": tuple(shown)}
    return status, FaultShape(error=Fault(code=code, message=without_places(str(error)), **more))


def plain_fault(status: int, code: str, message: str) -> JSONResponse:
    """Return an answer with a fault in words."""
    shape = FaultShape(error=Fault(code=code, message=message))
    return JSONResponse(jsonable_encoder(shape, exclude_none=True), status_code=status)


def answer_faults(app: FastAPI) -> None:
    """Have an app answer every error under /api in the one form."""

    @app.exception_handler(TussockError)
    async def told(_request: Request, error: TussockError) -> JSONResponse:
        status, shape = fault(error)
        headers = {"Retry-After": "2"} if status == 503 else None
        return JSONResponse(jsonable_encoder(shape, exclude_none=True), status_code=status, headers=headers)

    @app.exception_handler(RequestValidationError)
    async def invalid(_request: Request, error: RequestValidationError) -> JSONResponse:
        found = [f"{'.'.join(str(p) for p in e['loc'])}: {e['msg']}" for e in error.errors()[:20]]
        return plain_fault(422, "wrong_input", without_places("; ".join(found)))

    @app.exception_handler(HTTPException)
    async def refused(request: Request, error: HTTPException) -> JSONResponse:
        words = {404: "there is nothing at this address", 405: "this address does not take that method"}
        code = {404: "not_found", 405: "wrong_method"}.get(error.status_code, "wrong_input")
        known = error.detail if error.detail not in ("Not Found", "Method Not Allowed") else ""
        answer = plain_fault(error.status_code, code, without_places(known) or words.get(error.status_code, "refused"))
        answer.headers.update(error.headers or {})
        if error.status_code == 405:
            answer.headers["Allow"] = ", ".join(sorted(_methods(request)))
        return answer


def _methods(request: Request) -> set[str]:
    """Return every method that an address takes (RFC 9110, 15.5.6); the framework names those of its first route."""
    found: set[str] = set()
    for route in _flat(request.app.routes):
        if route.matches(request.scope)[0] is not Match.NONE:
            found |= getattr(route, "methods", None) or set()
    return found


def _flat(routes: Iterable[BaseRoute]) -> Iterator[BaseRoute]:
    for route in routes:
        inner = getattr(getattr(route, "original_router", None), "routes", None)
        if inner is None:
            yield route
        else:
            yield from _flat(inner)
