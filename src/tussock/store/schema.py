"""The database's schema: made, brought up to date, or refused where a newer version of the program wrote it."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection, inspect, text
from sqlalchemy.exc import OperationalError, ProgrammingError

from tussock.errors import StoreError
from tussock.store.engine import Database
from tussock.store.errors import NewerStore, translated

HEAD = "r0001"
"""The newest migration; a test holds it against the scripts. A store that has it is opened without Alembic."""

_LOCK = 7_270_511  # any number that is ours: two servers that start at once migrate one after the other


def migrate(database: Database, *, to: str = "head") -> None:
    """Bring a database up to a revision, in one transaction.

    Raises
    ------
    NewerStore
        A newer version of the program wrote it.
    StoreError
        It is a database of something else.
    """
    if to == "head" and _current(database) == HEAD:
        return
    with database.connection() as connection:
        if not database.is_sqlite:
            connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": _LOCK})
        _refuse(connection)
        _upgrade(connection, to)


def configuration(connection: Connection) -> Any:
    """Return Alembic's configuration for an open connection."""
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", "tussock.store:migrations")
    config.attributes["connection"] = connection
    return config


def _upgrade(connection: Connection, to: str) -> None:
    from alembic import command

    command.upgrade(configuration(connection), to)


def _current(database: Database) -> str:
    """Return the revision of a database without Alembic; "" where there is none."""
    with translated(), database.engine.connect() as connection:
        try:
            return str(connection.execute(text("SELECT version_num FROM alembic_version")).scalar() or "")
        except (OperationalError, ProgrammingError) as error:
            if "alembic_version" not in str(error.orig):
                raise
            return ""


def _refuse(connection: Connection) -> None:
    from alembic.script import ScriptDirectory

    tables = inspect(connection).get_table_names()
    if "alembic_version" not in tables:
        if tables:
            raise StoreError("this database holds something else; name an empty one, or a file that is not there yet")
        return
    known = {s.revision for s in ScriptDirectory.from_config(configuration(connection)).walk_revisions()}
    found = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
    if found is not None and found not in known:
        raise NewerStore(
            "a newer version of Tussock has written this store; open it with that version. Nothing was changed"
        )
