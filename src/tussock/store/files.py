"""Files by content: kept once, in pieces, so that none is ever whole in memory."""

from __future__ import annotations

import hashlib
import io
import tempfile
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import IO, BinaryIO

from sqlalchemy import insert, select
from sqlalchemy.orm import Session

from tussock.errors import InputError
from tussock.record.attached import kept_name
from tussock.store.engine import Database
from tussock.store.errors import NotFound, TooLarge, room
from tussock.store.tables import FileRow, PieceRow, put_once

LARGEST = 200_000_000
"""Bytes of a file unless the caller says otherwise; a measured road may have as many."""
PIECE = 1 << 20
_IN_MEMORY = 8 << 20


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredFile:
    """A file of the store.

    Attributes
    ----------
    digest : str
        SHA-256 of its content, hexadecimal: its name in the store.
    size : int
        Bytes.
    name : str
        As it was called when it came first, without folders.
    media_type : str
        Such as ``image/jpeg``.
    created : datetime
        When it came first.
    """

    digest: str
    size: int
    name: str
    media_type: str
    created: datetime

    @property
    def kept_path(self) -> str:
        """The path by which a programme names it: the first digits of its content, then its name."""
        return kept_name(self.name, self.digest)


class Files:
    """Files by their content, and nothing else."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def attach(
        self,
        stream: BinaryIO | IO[bytes],
        name: str,
        media_type: str = "application/octet-stream",
        *,
        most: int = LARGEST,
    ) -> StoredFile:
        """Keep a file; one that is there already is not kept twice.

        Parameters
        ----------
        stream : binary file
            Read to its end, piece by piece.
        name : str
            What it is called; folders before it are dropped.
        media_type : str
            Such as ``text/csv``.
        most : int
            Bytes that are accepted.

        Raises
        ------
        TooLarge
            It is larger than `most`; nothing is kept.
        InputError
            It has no name, or it is empty.
        StoreFull
            There is no room for it; nothing is kept.
        """
        name = plain_name(name)
        content = hashlib.sha256()
        size = 0
        # a slow sender must not hold the database: the file is taken in whole before its transaction begins
        with room(), tempfile.SpooledTemporaryFile(max_size=_IN_MEMORY) as waiting:
            while piece := stream.read(PIECE):
                size += len(piece)
                if size > most:
                    raise TooLarge(f"{name} is larger than {most / 1e6:g} MB; nothing was kept")
                content.update(piece)
                waiting.write(piece)
            if not size:
                raise InputError(f"{name} is empty; nothing was kept")
            waiting.seek(0)
            digest = content.hexdigest()
            with self._database.writing() as session:
                if put_once(
                    session,
                    FileRow,
                    digest=digest,
                    size=size,
                    name=name,
                    media_type=media_type[:120],
                    created=datetime.now(UTC),
                ):
                    number = 0
                    while piece := waiting.read(PIECE):
                        session.execute(insert(PieceRow).values(digest=digest, number=number, content=piece))
                        number += 1
                return _shown(_row(session, digest))

    def get(self, digest: str) -> StoredFile:
        """Return what is known of a file.

        Raises
        ------
        NotFound
            There is none of that content.
        """
        with self._database.reading() as session:
            return _shown(_row(session, digest))

    def open(self, digest: str) -> BinaryIO:
        """Return a file's content as a stream that can be read and sought.

        Raises
        ------
        NotFound
            There is none of that content.
        """
        return io.BufferedReader(_Content(self._database, self.get(digest)), buffer_size=PIECE)


def plain_name(name: str) -> str:
    r"""Return a file's name without folders and without what no file system takes; InputError where nothing is left.

    >>> plain_name("C:\\photos\\stop mark.jpg"), plain_name("../../up.csv")
    ('stop mark.jpg', 'up.csv')
    """
    bare = name.replace("\\", "/").rsplit("/", 1)[-1]
    bare = "".join(c for c in bare if c.isprintable() and c not in ':*?"<>|').strip(" .")
    if not bare:
        raise InputError("a file needs a name, such as front-a.csv")
    if len(bare) > 120:
        stem, dot, tail = bare.rpartition(".")
        bare = f"{stem[: 119 - len(tail)]}{dot}{tail}" if dot and len(tail) < 20 else bare[:120]
    return bare


def _row(session: Session, digest: str) -> FileRow:
    row = session.get(FileRow, digest) if digest.isascii() and digest.isalnum() else None
    if row is None:
        raise NotFound("there is no such file in the store")
    return row


def _shown(row: FileRow) -> StoredFile:
    return StoredFile(digest=row.digest, size=row.size, name=row.name, media_type=row.media_type, created=row.created)


class _Content(io.RawIOBase):
    """A stored file as a raw stream; reads one piece at a time, each in a transaction of its own."""

    def __init__(self, database: Database, file: StoredFile) -> None:
        self._database = database
        self._file = file
        self._at = 0

    def readable(self) -> bool:
        return True

    def seekable(self) -> bool:
        return True

    def seek(self, offset: int, whence: int = io.SEEK_SET) -> int:
        start = {io.SEEK_SET: 0, io.SEEK_CUR: self._at, io.SEEK_END: self._file.size}[whence]
        self._at = max(start + offset, 0)
        return self._at

    def tell(self) -> int:
        return self._at

    def readinto(self, buffer: object) -> int:
        view = memoryview(buffer)  # type: ignore[arg-type]
        if self._at >= self._file.size or not len(view):
            return 0
        number, within = divmod(self._at, PIECE)
        with self._database.reading() as session:
            piece = session.scalar(
                select(PieceRow.content).where(PieceRow.digest == self._file.digest, PieceRow.number == number)
            )
        part = (piece or b"")[within : within + len(view)]
        view[: len(part)] = part
        self._at += len(part)
        return len(part)
