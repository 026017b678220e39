"""Where a store lies and how its database is opened."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError, NoSuchModuleError
from sqlalchemy.orm import Session

from tussock.errors import InputError, StoreError
from tussock.store.errors import translated

WAL_IS_SAFE = (3, 51, 3)
"""First SQLite whose write-ahead log has no race between several connections (sqlite.org/wal.html, "The WAL-Reset Bug",
from memory); before it the rollback journal is used, flushed at every save."""

WRITES = "tussock_writes"
VARIABLE = "TUSSOCK_STORE"


def default_place() -> Path:
    """Return the store's file in the user's data folder."""
    import platformdirs

    return Path(platformdirs.user_data_dir("tussock", appauthor=False)) / "store.sqlite"


def where(url: str | Path | None) -> URL:
    """Return the database's address: given, or of the environment's TUSSOCK_STORE, or the user's own file.

    Raises
    ------
    InputError
        It is neither a file nor the address of a PostgreSQL database.
    """
    given = url if url is not None else os.environ.get(VARIABLE) or default_place()
    if isinstance(given, Path) or "://" not in given:
        return URL.create("sqlite", database=str(Path(given).expanduser().resolve()))
    try:
        parsed = make_url(given)
    except ArgumentError:
        raise InputError("the store's address cannot be read; write postgresql://user@host/database") from None
    kind = parsed.get_backend_name()
    if kind == "postgresql":
        return parsed.set(drivername="postgresql+psycopg")
    if kind == "sqlite" and parsed.database and parsed.database != ":memory:":
        return parsed.set(drivername="sqlite")
    raise InputError(f"a store is a file or a PostgreSQL database, not {kind}")


def journal_mode(version: tuple[int, ...] = sqlite3.sqlite_version_info) -> str:
    """Return the journal mode for a version of SQLite.

    >>> journal_mode((3, 40, 1)), journal_mode((3, 51, 3))
    ('DELETE', 'WAL')
    """
    return "WAL" if version >= WAL_IS_SAFE else "DELETE"


class Database:
    """An engine whose transactions either read or write, and whose errors are the store's."""

    def __init__(self, url: URL, *, patience: float) -> None:
        try:
            self.engine = _sqlite(url, patience) if url.get_backend_name() == "sqlite" else _postgresql(url, patience)
        except (ImportError, NoSuchModuleError):
            raise StoreError(
                "a PostgreSQL store wants the driver psycopg; install it with: pip install tussock[team]"
            ) from None
        self._writer = self.engine.execution_options(**{WRITES: True})

    @property
    def is_sqlite(self) -> bool:
        """Whether the store is a file."""
        return self.engine.dialect.name == "sqlite"

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """One transaction that sees one state of the store."""
        with translated(), Session(self.engine) as session:
            yield session

    @contextmanager
    def writing(self) -> Iterator[Session]:
        """One transaction that is saved whole at its end, or not at all."""
        with translated(), Session(self._writer, expire_on_commit=False) as session, session.begin():
            yield session

    @contextmanager
    def connection(self) -> Iterator[Connection]:
        """One writing transaction without objects, for migrations and copies."""
        with translated(), self._writer.begin() as connection:
            yield connection

    def close(self) -> None:
        """Give back every connection."""
        self.engine.dispose()


def _sqlite(url: URL, patience: float) -> Engine:
    place = Path(str(url.database))
    try:
        place.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        raise StoreError(f"the folder of the store cannot be made: {error.strerror}") from None
    engine = create_engine(url, connect_args={"timeout": patience}, pool_size=20, max_overflow=20)

    @event.listens_for(engine, "connect")
    def _prepare(connection: Any, _record: object) -> None:
        connection.isolation_level = None  # the driver would begin by itself, and never for a read
        for pragma in (
            f"journal_mode={journal_mode()}",
            "synchronous=FULL",
            "foreign_keys=ON",
        ):
            connection.execute(f"PRAGMA {pragma}")

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        # a transaction that reads first and writes later could not wait for another one: it would have to fail
        writes = connection.get_execution_options().get(WRITES)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


def _postgresql(url: URL, patience: float) -> Engine:
    return create_engine(
        url,
        pool_size=10,
        max_overflow=20,
        pool_pre_ping=True,
        connect_args={"connect_timeout": max(int(patience), 2), "options": f"-c lock_timeout={int(1e3 * patience)}"},
    )
