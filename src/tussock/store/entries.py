"""Entries of the log as devices send them: each is taken once, however often it is sent, and none is lost."""

from __future__ import annotations

import threading
import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import select, update
from sqlalchemy.orm import Session

from tussock.errors import InputError
from tussock.record.append import flow, with_entry
from tussock.record.load import Loaded
from tussock.record.log import ENTRIES
from tussock.store.engine import Database
from tussock.store.errors import NotFound, StoreBusy
from tussock.store.programmes import Programmes, locked_newest, put_version, said
from tussock.store.tables import EntryRow, VersionRow, put_once
from tussock.store.versions import Version
from tussock.store.workplace import Workplace

_TRIES = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class LogEntry:
    """An entry as it was sent, and what became of it.

    Attributes
    ----------
    client_id : str
        The UUID that the device gave it.
    programme_id : int
        Programme whose log it belongs to.
    part : str
        drives, notes, builds, dyno_runs, decisions or corrections.
    payload : mapping
        Its fields as people write them.
    files : mapping
        SHA-256 of the files that come with it, by the path that the payload names.
    author : str
        Who sent it.
    created : datetime
        When it arrived first.
    version : int or None
        Number of the version that took it in; None while it waits.
    problem : str
        Why it waits: what is wrong with it, in words.
    """

    client_id: str
    programme_id: int
    part: str
    payload: Mapping[str, Any]
    files: Mapping[str, str]
    author: str
    created: datetime
    version: int | None
    problem: str


class Entries:
    """The log as devices send it."""

    def __init__(self, database: Database, programmes: Programmes, workplace: Workplace) -> None:
        self._database = database
        self._programmes = programmes
        self._workplace = workplace
        self._turns: dict[int, threading.Lock] = {}

    def add(
        self,
        programme_id: int,
        client_id: str,
        payload: Mapping[str, Any],
        *,
        author: str,
        part: str = "drives",
        files: Mapping[str, str] | None = None,
    ) -> LogEntry:
        """Take an entry into the log, as a new version of the programme.

        An entry that the programme as it stands now cannot take (its section was renamed meanwhile) is kept and waits,
        with what is wrong in words: a device that has had an answer may forget its copy.

        Parameters
        ----------
        programme_id : int
            The programme.
        client_id : str
            A UUID of the device's own; the same one again changes nothing and returns what is there.
        payload : mapping
            Fields of the entry, without its name in the log.
        author : str
            Who sends it.
        part : str
            Which part of the log.
        files : mapping, optional
            SHA-256 of attached files by the path that the payload names.

        Raises
        ------
        InputError
            `client_id` is no UUID, or there is no such part.
        NotFound
            There is no such programme.
        """
        client_id = _uuid(client_id)
        author, _ = said(author, "")
        if part not in ENTRIES:
            raise InputError(f"the log has no part {part[:40]!r}; it has {', '.join(ENTRIES)}")
        payload, files = dict(payload), dict(files or {})
        with self._database.reading() as session:
            found = session.get(EntryRow, client_id)
            if found is not None:
                return _shown(session, found)
        self._programmes.get(programme_id)
        values = {
            "client_id": client_id,
            "programme_id": programme_id,
            "part": part,
            "payload": payload,
            "files": files,
            "author": author,
            "created": datetime.now(UTC),
        }
        # entries of one programme queue here: each follows the one before, and none has to be tried again for that
        with self._turns.setdefault(programme_id, threading.Lock()):
            for _ in range(_TRIES):
                newest = self._programmes.version(programme_id)
                taken, problem = self._taken(newest, part, payload, files)
                with self._database.writing() as session:
                    if locked_newest(session, programme_id).number != newest.number:
                        continue  # somebody saved meanwhile; the entry goes after that
                    if put_once(session, EntryRow, **values, version_id=None, problem=problem) and taken is not None:
                        self._put(session, newest, taken, client_id, part, files, author)
                    return _shown(session, session.get_one(EntryRow, client_id))
        raise StoreBusy("others save faster than this entry can be added; send it again")

    def amend(self, client_id: str, payload: Mapping[str, Any], *, author: str) -> LogEntry:
        """Try a waiting entry again with other fields; the note of the version that takes it in keeps the first ones.

        Raises
        ------
        ProgrammeError
            With what is still wrong.
        NotFound
            There is no such entry.
        InputError
            It does not wait.
        """
        author, _ = said(author, "")
        entry = self.get(client_id)
        if entry.version is not None:
            raise InputError(f"version {entry.version} took this entry in; add a correction instead")
        for _ in range(_TRIES):
            newest = self._programmes.version(entry.programme_id)
            taken = self._with(newest, entry.part, payload, entry.files)
            with self._database.writing() as session:
                row = session.get_one(EntryRow, entry.client_id)
                if locked_newest(session, entry.programme_id).number != newest.number or row.version_id is not None:
                    continue
                row.payload = dict(payload)
                row.problem = ""
                session.flush()
                sent = f"; {entry.author} had sent {flow(dict(entry.payload))}"
                self._put(session, newest, taken, entry.client_id, entry.part, entry.files, author, besides=sent)
                return _shown(session, row)
        raise StoreBusy("others save faster than this entry can be added; try again")

    def get(self, client_id: str) -> LogEntry:
        """Return an entry by the UUID of the device; NotFound if it never arrived."""
        with self._database.reading() as session:
            row = session.get(EntryRow, _uuid(client_id))
            if row is None:
                raise NotFound("there is no such entry")
            return _shown(session, row)

    def list(self, programme_id: int, *, waiting: bool = False) -> tuple[LogEntry, ...]:
        """Return the entries of a programme, the last to arrive first; only those that wait if so asked."""
        self._programmes.get(programme_id)
        query = select(EntryRow).where(EntryRow.programme_id == programme_id).order_by(EntryRow.created.desc())
        if waiting:
            query = query.where(EntryRow.version_id.is_(None))
        with self._database.reading() as session:
            return tuple(_shown(session, row) for row in session.scalars(query))

    def _taken(
        self, newest: Version, part: str, payload: Mapping[str, Any], files: Mapping[str, str]
    ) -> tuple[Loaded | None, str]:
        try:
            return self._with(newest, part, payload, files), ""
        except InputError as error:
            return None, str(error)

    def _with(self, newest: Version, part: str, payload: Mapping[str, Any], files: Mapping[str, str]) -> Loaded:
        text = self._programmes.text(newest)
        return with_entry(self._workplace.read(text, {**newest.files, **files}), part, payload)

    def _put(
        self,
        session: Session,
        newest: Version,
        taken: Loaded,
        client_id: str,
        part: str,
        files: Mapping[str, str],
        author: str,
        besides: str = "",
    ) -> None:
        version = put_version(
            session,
            newest.programme_id,
            newest.number + 1,
            taken,
            {**newest.files, **files},
            author=author,
            note=f"log: {_WORDS[part]}{besides}",
        )
        session.execute(update(EntryRow).where(EntryRow.client_id == client_id).values(version_id=version.id))
        session.flush()


_WORDS = {
    "builds": "a build",
    "dyno_runs": "a dyno run",
    "drives": "a drive",
    "notes": "a note",
    "decisions": "a decision",
    "corrections": "a correction",
}


def _uuid(text: str) -> str:
    try:
        return str(uuid.UUID(text))
    except (ValueError, AttributeError, TypeError):
        raise InputError("an entry is known by a UUID, such as 9b2f0c1e-6a44-4d0e-9a53-3f1b7f2f6c11") from None


def _shown(session: Session, row: EntryRow) -> LogEntry:
    session.refresh(row)
    number = None if row.version_id is None else session.get_one(VersionRow, row.version_id).number
    return LogEntry(
        client_id=row.client_id,
        programme_id=row.programme_id,
        part=row.part,
        payload=row.payload,
        files=row.files,
        author=row.author,
        created=row.created,
        version=number,
        problem=row.problem,
    )
