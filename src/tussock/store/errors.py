"""What can go wrong with a store, each in words that a user can act on; no path or address of a server in any of them.

StoreError
├── NotFound (KeyError)   there is no such programme, version, file, user
├── Conflict              somebody else saved since; carries both versions
├── TooLarge              a file above the limit
├── StoreBusy             another program holds the database for too long
├── StoreFull             no room on the disk
└── NewerStore            the database was written by a newer version of the program
"""

from __future__ import annotations

import contextlib
import errno
from collections.abc import Iterator
from typing import TYPE_CHECKING

from sqlalchemy.exc import DBAPIError, OperationalError, SQLAlchemyError

from tussock.errors import StoreError

if TYPE_CHECKING:
    from tussock.store.versions import Version

__all__ = [
    "Conflict",
    "NewerStore",
    "NotFound",
    "StoreBusy",
    "StoreError",
    "StoreFull",
    "TooLarge",
    "room",
    "translated",
]


class NotFound(StoreError, KeyError):
    """There is no such thing in the store."""

    __str__ = Exception.__str__  # a KeyError would quote its text


class TooLarge(StoreError):
    """A file is larger than the store takes."""


class StoreBusy(StoreError):
    """The database is held by another program; nothing was saved, trying again is safe."""


class StoreFull(StoreError):
    """There is no room left; nothing was saved."""


class NewerStore(StoreError):
    """A newer version of the program has written this database."""


class Conflict(StoreError):
    """Somebody else saved a version after the one that was edited; nothing was saved.

    Attributes
    ----------
    base : Version
        The version that was edited.
    newest : Version
        The version that stands now.
    """

    def __init__(self, base: Version, newest: Version) -> None:
        self.base = base
        self.newest = newest
        super().__init__(
            f"{newest.author} saved version {newest.number} meanwhile ({newest.note or 'no note'}); you edited version "
            f"{base.number}. Nothing was lost: merge the two, or keep both"
        )


_NO_ROOM = "there is no room left where the store lies; nothing was saved. Make room and save again"
_BUSY = ("database is locked", "database table is locked", "55P03", "lock timeout", "40001", "40P01")
_FULL = ("database or disk is full", "53100", "no space left", "disk i/o error")
_READ_ONLY = ("readonly", "read-only", "25006", "42501")
_DAMAGED = ("malformed", "not a database", "XX001")
_AWAY = ("connection", "08", "57P", "could not translate host name", "unable to open")


@contextlib.contextmanager
def translated() -> Iterator[None]:
    """Turn an error of the database into one of the store, in words and without its statement, values or place."""
    try:
        yield
    except DBAPIError as error:
        raise _in_words(error) from None
    except SQLAlchemyError as error:
        raise StoreError(f"the store could not do this ({type(error).__name__}); nothing was saved") from None


@contextlib.contextmanager
def room() -> Iterator[None]:
    """Turn the system's word that a disk is full into one of the store: files wait on a disk before they are kept."""
    try:
        yield
    except OSError as error:
        if error.errno in (errno.ENOSPC, errno.EDQUOT):
            raise StoreFull(_NO_ROOM) from None
        raise


def _in_words(error: DBAPIError) -> StoreError:
    state = str(getattr(error.orig, "sqlstate", "") or "")
    text = f"{state} {error.orig}".lower()

    def says(signs: tuple[str, ...]) -> bool:
        return any(s.lower() in text if len(s) > 3 else state.startswith(s) for s in signs)

    if says(_BUSY):
        return StoreBusy("the store is in use by another program just now; nothing was saved, try again")
    if says(_FULL):
        return StoreFull(_NO_ROOM)
    if says(_READ_ONLY):
        return StoreError("the store may only be read here; nothing was saved. Ask who keeps it for the right to write")
    if says(_DAMAGED):
        return StoreError("the store's file is damaged or no store; go back to a backup with `tussock restore`")
    never_reached = (
        isinstance(error, OperationalError) and type(error.orig).__module__.startswith("psycopg") and not state
    )
    if says(_AWAY) or error.connection_invalidated or never_reached:
        return StoreError("the store's database does not answer; nothing was saved, try again when it runs")
    return StoreError(f"the store could not do this ({type(error.orig).__name__}); nothing was saved")
