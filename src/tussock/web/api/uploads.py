"""Files by content: taken piece by piece, with a limit for each kind, and only kinds that the job has."""

from __future__ import annotations

import asyncio
import tempfile
from collections.abc import AsyncIterator, Iterator, Mapping
from contextlib import asynccontextmanager
from dataclasses import dataclass
from typing import IO, Annotated, Any, cast
from urllib.parse import quote

from fastapi import APIRouter, Query, Request
from fastapi.responses import StreamingResponse

from tussock.store import Store, TooLarge
from tussock.store.errors import room
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
    ends : tuple of str
        How its name ends, in small letters: what a browser's choice of files goes by.
    starts : tuple of bytes
        What its content begins with, at `at`; empty for text, which holds no null character.
    """

    words: str
    most: int
    ends: tuple[str, ...]
    starts: tuple[bytes, ...] = ()
    at: int = 0


PHOTO, SWEEP, RECORDING, PAPER = 20_000_000, 50_000_000, 200_000_000, 20_000_000
KINDS: dict[str, Kind] = {
    "image/jpeg": Kind(words="photo", most=PHOTO, ends=(".jpg", ".jpeg"), starts=(b"\xff\xd8\xff",)),
    "image/png": Kind(words="photo", most=PHOTO, ends=(".png",), starts=(b"\x89PNG\r\n\x1a\n",)),
    "image/webp": Kind(words="photo", most=PHOTO, ends=(".webp",), starts=(b"WEBP",), at=8),
    "image/heic": Kind(words="photo", most=PHOTO, ends=(".heic", ".heif"), starts=(b"ftyp",), at=4),
    "text/csv": Kind(words="table", most=RECORDING, ends=(".csv",)),
    "application/gzip": Kind(words="packed table", most=RECORDING, ends=(".gz",), starts=(b"\x1f\x8b",)),
    "text/plain": Kind(words="text", most=SWEEP, ends=(".txt",)),
    "application/yaml": Kind(words="programme", most=5_000_000, ends=(".yaml", ".yml")),
    "application/pdf": Kind(words="document", most=PAPER, ends=(".pdf",), starts=(b"%PDF-",)),
    "application/x-mdf": Kind(words="ASAM MDF file", most=RECORDING, ends=(".mf4",), starts=(b"MDF     ", b"UnFinMF ")),
    "application/x-opencrg": Kind(words="ASAM OpenCRG road", most=RECORDING, ends=(".crg",), starts=(b"$", b"*")),
}
"""What is attached to a programme."""
WHOLE: dict[str, Kind] = {
    "application/yaml": KINDS["application/yaml"],
    "application/zip": Kind(words="archive", most=RECORDING, ends=(".zip",), starts=(b"PK\x03\x04", b"PK\x05\x06")),
}
"""How a whole programme comes."""


def file_routes(store: Store) -> APIRouter:
    """Return the routes of files."""
    router = APIRouter(prefix="/api/files", tags=["files"])

    @router.post("", status_code=201, openapi_extra=body_of(KINDS))
    async def send_file(
        request: Request,
        name: Annotated[str, Query(min_length=1, max_length=240, examples=["stop mark.jpg"])],
    ) -> FileShape:
        """Send a file as the body of the request; the same content again is kept once."""
        async with received(request, name, KINDS) as (content, media_type):
            most = KINDS[media_type].most
            return file_shape(await asyncio.to_thread(store.files.attach, content, name, media_type, most=most))

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


@asynccontextmanager
async def received(request: Request, name: str, kinds: Mapping[str, Kind]) -> AsyncIterator[tuple[IO[bytes], str]]:
    """Give the body of a request as a file at its start, and its media type, which is one of `kinds`.

    Raises
    ------
    WrongType
        It is of another kind, or its content is not what its type says.
    TooLarge
        It is larger than its kind may be.
    StoreFull
        There is no room for it.
    """
    media_type = request.headers.get("content-type", "").split(";")[0].strip().lower()
    kind = kinds.get(media_type)
    if kind is None:
        said = media_type[:60] or "that is not said"
        raise WrongType(f"a file of the type {said} is not taken; {taken(kinds)}")
    told = request.headers.get("content-length", "")
    if told.isdecimal() and int(told) > kind.most:
        async for _ in request.stream():  # read to its end, so that the sender hears the answer
            pass
        raise _too_large(name, kind)
    with room(), tempfile.SpooledTemporaryFile(max_size=_IN_MEMORY) as waiting:
        size = 0
        async for piece in request.stream():
            size += len(piece)
            if size <= kind.most:
                await asyncio.to_thread(waiting.write, piece)
        if size > kind.most:
            raise _too_large(name, kind)
        check_content(waiting, name, kind)
        yield cast("IO[bytes]", waiting), media_type


def check_content(content: IO[bytes], name: str, kind: Kind) -> None:
    """Refuse a file that is not what its type says; the content is left at its start."""
    content.seek(0)
    start = content.read(4096)
    content.seek(0)
    right = any(start[kind.at :].startswith(s) for s in kind.starts) if kind.starts else b"\x00" not in start
    if start and not right:
        raise WrongType(f"{name[:120]} is no {kind.words}: its content is something else; nothing was kept")


def taken(kinds: Mapping[str, Kind]) -> str:
    """Say which kinds of files are taken, and up to which size."""
    ends: dict[tuple[str, int], list[str]] = {}
    for kind in kinds.values():
        ends.setdefault((kind.words, kind.most), []).extend(kind.ends)
    said = (f"{words} ({', '.join(e)}) to {most / 1e6:.0f} MB" for (words, most), e in ends.items())
    return "taken are " + ", ".join(said)


def body_of(kinds: Mapping[str, Kind]) -> dict[str, Any]:
    """Return what the interface's document says of a body of these kinds."""
    content = {kind: {"schema": {"type": "string", "format": "binary"}} for kind in kinds}
    return {"requestBody": {"required": True, "content": content}}


def _too_large(name: str, kind: Kind) -> TooLarge:
    return TooLarge(f"{name[:120]} is too large: a {kind.words} has at most {kind.most / 1e6:.0f} MB; nothing was kept")


def _pieces(store: Store, digest: str) -> Iterator[bytes]:
    with store.files.open(digest) as stream:
        while piece := stream.read(PIECE):
            yield piece
