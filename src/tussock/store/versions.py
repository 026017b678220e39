"""What a store says of its programmes: which there are, and which versions each has."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Version:
    """One saved version of a programme; it never changes.

    Attributes
    ----------
    programme_id : int
        Programme that it belongs to.
    number : int
        1 for the first; each save counts on.
    name, title : str
        Of the vehicle and of the kit, as this version says them.
    author : str
        Who saved it.
    note : str
        Why.
    created : datetime
        When, with its zone.
    digest : str
        SHA-256 of the text, hexadecimal.
    files : mapping
        SHA-256 of every file by its path as the text writes it.
    id : int
        Key in the store.
    """

    id: int
    programme_id: int
    number: int
    name: str
    title: str
    author: str
    note: str
    created: datetime
    digest: str
    files: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """A programme as a list shows it.

    Attributes
    ----------
    id : int
        Key in the store.
    name, title : str
        Of the vehicle and of the kit, as the newest version says them.
    created : datetime
        When the programme came into the store.
    newest : Version
        The version that stands now.
    """

    id: int
    name: str
    title: str
    created: datetime
    newest: Version
