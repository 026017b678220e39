"""Addresses and routes of pictures and tables: drawn on request, for the theme and width of whoever looks."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from typing import TYPE_CHECKING, Literal
from urllib.parse import quote, urlencode

from fastapi import APIRouter, HTTPException, Request, Response
from fastapi.responses import JSONResponse

import tussock
from tussock.errors import TussockError
from tussock.release.chart_json import chart_json
from tussock.release.figures import picture_png, picture_svg
from tussock.release.film_json import film_json
from tussock.release.look import DARK, LIGHT, Look
from tussock.release.outputs import file_stem, table_csv
from tussock.release.picture_data import picture_csv
from tussock.store import StoreError
from tussock.studies.result import Film, LineChart, Picture, Result
from tussock.web.desk import Choice, Desk
from tussock.web.places import PLACES

if TYPE_CHECKING:
    from tussock.store import Version

LOOKS: dict[str, Look] = {"light": LIGHT, "dark": DARK}
WIDE, NARROW = 482.0, 250.0  # sheet widths for a screen and for a phone, where the words then have the same size [pt]
FOR_A_DAY = {"Cache-Control": "private, max-age=86400"}  # the address names what it shows by its content

Form = Literal["svg", "png", "csv", "json"]


def stamp(version: Version) -> str:
    """Return what tells contents apart in an address: another store, or another Tussock, may have the same numbers."""
    parts = (
        tussock.__version__,
        version.digest,
        *(f"{path} {digest}" for path, digest in sorted(version.files.items())),
    )
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()[:12]


def picture_address(version: Version, place: str, choice: Choice, key: str, form: Form, **how: str) -> str:
    """Return the address of a picture or of its figures."""
    query = urlencode({**choice.query(), **how, "of": stamp(version)})
    return f"/figures/{version.programme_id}/{version.number}/{place}/{quote(key)}.{form}?{query}"


def table_address(version: Version, place: str, choice: Choice, key: str) -> str:
    """Return the address of a table as comma-separated text."""
    query = urlencode({**choice.query(), "of": stamp(version)})
    return f"/tables/{version.programme_id}/{version.number}/{place}/{quote(key)}.csv?{query}"


def routes(desk: Desk) -> APIRouter:
    """Return the routes; each runs in a thread of its own, off the event loop."""
    router = APIRouter(include_in_schema=False)

    def found(programme: int, number: int, place: str, choice: Choice) -> Result:
        if place not in PLACES:
            raise HTTPException(404, f"there is no page {place!r}")
        try:
            version = desk.store.programmes.version(programme, number)
            return desk.at_once(version, PLACES[place], choice.at(PLACES[place]))
        except StoreError:  # answered by its kind: a store that is busy is no missing picture
            raise
        except TussockError as error:
            raise HTTPException(404, str(error)) from None

    @router.get("/figures/{programme}/{number}/{place}/{name:path}")  # a key may hold the name of a file in a folder
    def figure(
        request: Request,
        programme: int,
        number: int,
        place: str,
        name: str,
        look: str = "light",
        width: float = WIDE,
        save: bool = False,
    ) -> Response:
        result = found(programme, number, place, Choice.of(request.query_params.items()))
        key, _, form = name.rpartition(".")
        picture = next((p for p in result.pictures if p.key == key), None)
        if isinstance(picture, LineChart) and form == "json":
            return JSONResponse(chart_json(picture), headers=FOR_A_DAY)
        if isinstance(picture, Film) and form == "json":
            return JSONResponse(film_json(picture), headers=FOR_A_DAY)
        if picture is None or form not in _WRITERS:
            raise HTTPException(404, f"there is no picture {name!r} on this page")
        body, kind = _WRITERS[form](picture, LOOKS.get(look, LIGHT), min(max(width, 200.0), 1000.0))
        headers = dict(FOR_A_DAY)
        if save:
            headers["Content-Disposition"] = f'attachment; filename="{file_stem(place, key)}.{form}"'
        return Response(body, media_type=kind, headers=headers)

    @router.get("/tables/{programme}/{number}/{place}/{name:path}")
    def table(
        request: Request,
        programme: int,
        number: int,
        place: str,
        name: str,
    ) -> Response:
        result = found(programme, number, place, Choice.of(request.query_params.items()))
        key = name.removesuffix(".csv")
        wanted = next((t for t in result.tables if t.key == key), None)
        if wanted is None:
            raise HTTPException(404, f"there is no table {name!r} on this page")
        headers = {**FOR_A_DAY, "Content-Disposition": f'attachment; filename="{file_stem(place, key)}.csv"'}
        return Response(table_csv(wanted), media_type="text/csv; charset=utf-8", headers=headers)

    return router


_WRITERS: dict[str, Callable[[Picture, Look, float], tuple[str | bytes, str]]] = {
    "svg": lambda picture, look, width: (picture_svg(picture, look=look, width=width), "image/svg+xml"),
    "png": lambda picture, look, width: (picture_png(picture, look=look, width=width), "image/png"),
    "csv": lambda picture, look, width: (picture_csv(picture), "text/csv; charset=utf-8"),
}
