"""Routes by which a version leaves: its YAML, or a ZIP archive with its files."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from typing import IO, TYPE_CHECKING

from fastapi import APIRouter, HTTPException, Response
from fastapi.responses import StreamingResponse

from tussock.errors import TussockError
from tussock.release.outputs import file_stem
from tussock.store import StoreError
from tussock.store.exchange import export_zip

if TYPE_CHECKING:
    from tussock.web.desk import Desk

_PIECE = 1 << 18


def routes(desk: Desk) -> APIRouter:
    """Return the routes."""
    router = APIRouter(include_in_schema=False)

    @router.get("/export/{programme}/{name}")
    def export(programme: int, name: str) -> Response:
        number, _, form = name.partition(".")
        if not number.isdecimal() or form not in ("yaml", "zip"):
            raise HTTPException(404, "there is no such version to save")
        try:
            version = desk.store.programmes.version(programme, int(number))
            head = {"Content-Disposition": f'attachment; filename="{file_stem(version.name, number)}.{form}"'}
            if form == "yaml":
                return Response(desk.store.programmes.text(version), media_type="application/yaml", headers=head)
            whole = tempfile.TemporaryFile()
            export_zip(desk.store, version, whole)
        except StoreError:  # answered by its kind: a store that is busy is no missing version
            raise
        except TussockError as error:
            raise HTTPException(404, str(error)) from None
        whole.seek(0)
        return StreamingResponse(_pieces(whole), media_type="application/zip", headers=head)

    return router


def _pieces(whole: IO[bytes]) -> Iterator[bytes]:
    with whole:
        while piece := whole.read(_PIECE):
            yield piece
