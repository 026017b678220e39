"""A store copied whole: into a file that is a store itself, and back; consistent while others go on saving."""

from __future__ import annotations

import hashlib
import os
import shutil
import sqlite3
import tempfile
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Table, delete, func, insert, select, text

from tussock.errors import InputError, StoreError
from tussock.store.engine import Database, where
from tussock.store.errors import translated
from tussock.store.schema import migrate
from tussock.store.tables import Base, DocumentRow, EntryRow, FileRow, PieceRow, ProgrammeRow, SessionRow, VersionRow

_ROWS = 16
"""Rows copied at a time: a piece of a file has a megabyte."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Holding:
    """How much a store holds, every text and file found to be what its hash says."""

    programmes: int
    versions: int
    files: int
    entries: int

    def __str__(self) -> str:
        return (
            f"{self.programmes} programme{_s(self.programmes)}, {self.versions} version{_s(self.versions)}, "
            f"{self.files} file{_s(self.files)}, {self.entries} entr{'y' if self.entries == 1 else 'ies'} of the log"
        )


def _s(count: int) -> str:
    return "" if count == 1 else "s"


def back_up(database: Database, out: Path) -> Holding:
    """Copy a store as it stands at one moment into a new file, which is a store itself, and check the copy.

    Parameters
    ----------
    database : Database
        What is copied; others may save meanwhile.
    out : pathlib.Path
        The file; it must not be there yet. It appears when it is whole.

    Raises
    ------
    InputError
        The file is there already, or cannot be written.
    StoreError
        The store cannot be read, or what it holds is damaged.
    """
    if out.exists():
        raise InputError(f"there is a file {out.name} already; name another one, nothing is overwritten")
    if not out.parent.is_dir():
        raise InputError(f"there is no folder {out.parent}; make it first")
    part = out.with_name(f".{out.name}.part")
    try:
        with suppress(FileNotFoundError):
            part.unlink()
        if database.is_sqlite:
            _copy_file(Path(str(database.engine.url.database)), part)
        else:
            _copy_rows(database, part)
        copy = Database(where(part), patience=5.0)
        try:
            held = verify(copy)
        finally:
            copy.close()
        with part.open("rb+") as stream:
            os.fsync(stream.fileno())
        part.rename(out)
        return held
    except (OSError, sqlite3.Error) as error:
        said = getattr(error, "strerror", None) or str(error)
        raise InputError(f"{out.name} cannot be written: {said}") from None
    finally:
        for left in (part, part.with_name(f"{part.name}-journal"), part.with_name(f"{part.name}-wal")):
            with suppress(OSError):
                left.unlink()


def put_back(backup: Path, database: Database, *, replace: bool = False) -> Holding:
    """Put a backup into a store, in one transaction: the store is either as before or as the backup.

    Parameters
    ----------
    backup : pathlib.Path
        A file that `back_up` wrote, of this or an earlier version; it stays as it is.
    database : Database
        The store, up to date.
    replace : bool
        Whether a store that holds something may be replaced by the backup.

    Raises
    ------
    InputError
        There is no such file, or the store holds something and `replace` is not said.
    NewerStore
        A newer version of the program wrote the backup.
    StoreError
        The backup is damaged or no store.
    """
    if not backup.is_file():
        raise InputError(f"there is no backup {backup}")
    with tempfile.TemporaryDirectory(prefix="tussock-") as folder:
        work = Path(folder) / "backup.sqlite"
        shutil.copyfile(backup, work)
        source = Database(where(work), patience=5.0)
        try:
            migrate(source)
            held = verify(source)
            with source.reading() as old, database.connection() as new:
                if not replace and new.scalar(select(func.count()).select_from(ProgrammeRow)):
                    raise InputError("the store holds programmes; back it up, then say --replace to put this in place")
                for table in reversed(Base.metadata.sorted_tables):
                    new.execute(delete(table))
                for table in Base.metadata.sorted_tables:
                    _copy_table(old.connection(), new, table)
                new.execute(delete(SessionRow))  # who signed out since must not be signed in again
                if not database.is_sqlite:
                    _count_on(new)
        finally:
            source.close()
    return held


def verify(database: Database) -> Holding:
    """Return what a store holds after reading it whole.

    Raises
    ------
    StoreError
        A text or a file is not what its hash says, or the database finds itself damaged.
    """
    with database.reading() as session:
        if database.is_sqlite:
            found = session.scalar(text("PRAGMA integrity_check"))
            if found != "ok":
                raise StoreError(f"the store's file is damaged: {str(found)[:120]}; go back to a backup")
            if session.execute(text("PRAGMA foreign_key_check")).first() is not None:
                raise StoreError("the store's file is damaged: a version without its text; go back to a backup")
        for row in session.execute(select(DocumentRow.digest, DocumentRow.text)).yield_per(_ROWS):
            if hashlib.sha256(row.text.encode()).hexdigest() != row.digest:
                raise StoreError("a version in the store is not what it was when it was saved; go back to a backup")
        for file in session.execute(select(FileRow.digest, FileRow.size, FileRow.name)).all():
            content, size = hashlib.sha256(), 0
            pieces = select(PieceRow.content).where(PieceRow.digest == file.digest).order_by(PieceRow.number)
            for piece in session.scalars(pieces).yield_per(_ROWS):
                content.update(piece)
                size += len(piece)
            if (content.hexdigest(), size) != (file.digest, file.size):
                raise StoreError(f"the file {file.name} in the store is not what it was; go back to a backup")

        def count(table: type[Base]) -> int:
            return session.scalar(select(func.count()).select_from(table)) or 0

        return Holding(
            programmes=count(ProgrammeRow),
            versions=count(VersionRow),
            files=count(FileRow),
            entries=count(EntryRow),
        )


def _copy_file(source: Path, part: Path) -> None:
    with closing(sqlite3.connect(source)) as old, closing(sqlite3.connect(part)) as new:
        old.backup(new)  # all pages in one step: a copy of one moment
        new.execute("PRAGMA journal_mode=DELETE")


def _copy_rows(database: Database, part: Path) -> None:
    copy = Database(where(part), patience=5.0)
    try:
        migrate(copy)
        with translated(), database.engine.connect() as plain:
            # every table as it stood at one moment
            old = plain.execution_options(isolation_level="REPEATABLE READ", postgresql_readonly=True)
            with old.begin(), copy.connection() as new:
                for table in Base.metadata.sorted_tables:
                    _copy_table(old, new, table)
    finally:
        copy.close()


def _copy_table(old: Connection, new: Connection, table: Table) -> None:
    rows: list[dict[str, Any]] = []
    for row in old.execution_options(yield_per=_ROWS).execute(select(table)).mappings():
        rows.append(dict(row))
        if len(rows) == _ROWS:
            new.execute(insert(table), rows)
            rows = []
    if rows:
        new.execute(insert(table), rows)


def _count_on(new: Connection) -> None:
    """Let PostgreSQL's counters go on behind the keys that were put in."""
    for table in Base.metadata.sorted_tables:
        key = list(table.primary_key)
        if [c.name for c in key] == ["id"]:
            new.execute(
                text(
                    f"SELECT setval(pg_get_serial_sequence('{table.name}', 'id'), "
                    f"(SELECT COALESCE(MAX(id), 0) + 1 FROM {table.name}), false)"
                )
            )
