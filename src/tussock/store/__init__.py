"""Keeps programmes, their history and files: SQLite by default, PostgreSQL for a team."""

from tussock.store.accounts import ROLES, Role, SignIn, User
from tussock.store.entries import LogEntry
from tussock.store.errors import Conflict, NewerStore, NotFound, StoreBusy, StoreError, StoreFull, TooLarge
from tussock.store.files import StoredFile
from tussock.store.results import Question
from tussock.store.store import Store, open_store
from tussock.store.versions import Entry, Version

__all__ = [
    "ROLES",
    "Conflict",
    "Entry",
    "LogEntry",
    "NewerStore",
    "NotFound",
    "Question",
    "Role",
    "SignIn",
    "Store",
    "StoreBusy",
    "StoreError",
    "StoreFull",
    "StoredFile",
    "TooLarge",
    "User",
    "Version",
    "open_store",
]
