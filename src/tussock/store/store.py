"""A store opened: programmes, files, the log as devices send it, results, users."""

from __future__ import annotations

from pathlib import Path
from types import TracebackType
from typing import Self

from tussock.store.accounts import Accounts
from tussock.store.engine import Database, where
from tussock.store.entries import Entries
from tussock.store.files import Files
from tussock.store.programmes import Programmes
from tussock.store.results import Results
from tussock.store.schema import migrate
from tussock.store.workplace import Workplace


class Store:
    """Everything that is kept, in one database; may be used by several threads at once.

    Attributes
    ----------
    programmes : Programmes
        Programmes and their versions.
    files : Files
        Attached files by content.
    entries : Entries
        The log as devices send it.
    results : Results
        Results that were computed.
    accounts : Accounts
        Users and sign-ins.
    """

    def __init__(self, database: Database) -> None:
        self.database = database
        self.files = Files(database)
        self._workplace = Workplace(self.files)
        self.programmes = Programmes(database, self._workplace)
        self.entries = Entries(database, self.programmes, self._workplace)
        self.results = Results(database)
        self.accounts = Accounts(database)

    def close(self) -> None:
        """Give back connections and remove what this process laid out."""
        self._workplace.close()
        self.database.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def open_store(url: str | Path | None = None, *, patience: float = 10.0) -> Store:
    """Open a store, make it where there is none, and bring an earlier one up to date.

    Parameters
    ----------
    url : str or pathlib.Path, optional
        A file for SQLite, or ``postgresql://user@host/database``; the environment's TUSSOCK_STORE, else a file in the
        user's data folder, unless said.
    patience : float
        How long to wait for others who hold the database [s].

    Raises
    ------
    StoreError
        It cannot be opened, a newer version of the program wrote it, or it holds something else.
    InputError
        `url` is no address of a store.
    """
    database = Database(where(url), patience=patience)
    try:
        migrate(database)
        return Store(database)
    except BaseException:
        database.close()
        raise
