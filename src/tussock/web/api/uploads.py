"""Files by content: taken piece by piece, with a limit for each kind, and only kinds that the job has."""

from __future__ import annotations

import asyncio
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from typing import IO, Annotated, cast
from urllib.parse import quote

from fastapi import APIRouter, Query, Request
from fastapi.responses import StreamingResponse

from tussock.store import Store, TooLarge
from tussock.store.files import PIECE
from tussock.web.api.faults import WrongType
from tussock.web.api.shapes import Digest, FileShape, file_shape

_IN_MEMORY = 1 << 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """A kind of file that is taken.

    Attributes
    ----------
    words : str
        What people call it.
    most : int
        Bytes of the largest that is taken.
    starts : tuple of bytes
        What its content begins with, at `at`; empty for text, which holds no null character.
    """

    words: str
    most: int
    starts: tuple[bytes, ...] = ()
    at: int = 0


PHOTO, SWEEP, RECORDING, PAPER = 20_000_000, 50_000_000, 200_000_000, 20_000_000
KINDS: dict[str, Kind] = {
    "image/jpeg": Kind(words="photo", most=PHOTO, starts=(b"\xff\xd8\xff",)),
    "image/png": Kind(words="photo", most=PHOTO, starts=(b"\x89PNG\r\n\x1a\n",)),
    "image/webp": Kind(words="photo", most=PHOTO, starts=(b"WEBP",), at=8),
    "image/heic": Kind(words="photo", most=PHOTO, starts=(b"ftyp",), at=4),
    "text/csv": Kind(words="table", most=RECORDING),
    "text/plain": Kind(words="text", most=SWEEP),
    "application/yaml": Kind(words="programme", most=5_000_000),
    "application/pdf": Kind(words="document", most=PAPER, starts=(b"%PDF-",)),
    "application/x-mdf": Kind(words="ASAM MDF file", most=RECORDING, starts=(b"MDF     ", b"UnFinMF ")),
    "application/x-opencrg": Kind(words="ASAM OpenCRG road", most=RECORDING, starts=(b"$", b"*")),
}


def file_routes(store: Store) -> APIRouter:
    """Return the routes of files."""
    router = APIRouter(prefix="/api/files", tags=["files"])
    bodies = {kind: {"schema": {"type": "string", "format": "binary"}} for kind in KINDS}

    @router.post("", status_code=201, openapi_extra={"requestBody": {"required": True, "content": bodies}})
    async def send_file(
        request: Request,
        name: Annotated[str, Query(min_length=1, max_length=240, examples=["stop mark.jpg"])],
    ) -> FileShape:
        """Send a file as the body of the request; the same content again is kept once."""
        media_type = request.headers.get("content-type", "").split(";")[0].strip().lower()
        kind = KINDS.get(media_type)
        if kind is None:
            raise WrongType(f"a file of the type {media_type[:60] or 'that is not said'} is not taken; {taken()}")
        told = request.headers.get("content-length", "")
        if told.isdecimal() and int(told) > kind.most:
            async for _ in request.stream():  # read to its end, so that the sender hears the answer
                pass
            raise _too_large(name, kind)
        with tempfile.SpooledTemporaryFile(max_size=_IN_MEMORY) as waiting:
            size = 0
            async for piece in request.stream():
                size += len(piece)
                if size <= kind.most:
                    await asyncio.to_thread(waiting.write, piece)
            if size > kind.most:
                raise _too_large(name, kind)
            check_content(waiting, name, kind)
            kept = await asyncio.to_thread(
                store.files.attach, cast("IO[bytes]", waiting), name, media_type, most=kind.most
            )
        return file_shape(kept)

    @router.get(
        "/{digest}",
        response_class=StreamingResponse,
        responses={200: {"content": {"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}}}},
    )
    def get_file(digest: Digest) -> StreamingResponse:
        """The file of this content."""
        file = store.files.get(digest)
        shown = file.media_type if file.media_type.startswith("image/") else "application/octet-stream"
        headers = {
            "Content-Length": str(file.size),
            "Content-Disposition": f"attachment; filename*=UTF-8''{quote(file.name)}",
            "Cache-Control": "private, max-age=31536000, immutable",
        }
        return StreamingResponse(_pieces(store, digest), media_type=shown, headers=headers)

    return router


def check_content(content: IO[bytes], name: str, kind: Kind) -> None:
    """Refuse a file that is not what its type says; the content is left at its start."""
    content.seek(0)
    start = content.read(4096)
    content.seek(0)
    right = any(start[kind.at :].startswith(s) for s in kind.starts) if kind.starts else b"\x00" not in start
    if start and not right:
        raise WrongType(f"{name[:120]} is no {kind.words}: its content is something else; nothing was kept")


def taken() -> str:
    """Say which kinds of files are taken, and up to which size."""
    sizes: dict[str, int] = {}
    for kind in KINDS.values():
        sizes[kind.words] = kind.most
    return "taken are " + ", ".join(f"{words} to {most / 1e6:.0f} MB" for words, most in sizes.items())


def _too_large(name: str, kind: Kind) -> TooLarge:
    return TooLarge(f"{name[:120]} is too large: a {kind.words} has at most {kind.most / 1e6:.0f} MB; nothing was kept")


def _pieces(store: Store, digest: str) -> Iterator[bytes]:
    with store.files.open(digest) as stream:
        while piece := stream.read(PIECE):
            yield piece
