"""Programmes and their versions: every save is a new one, nothing is overwritten."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from tussock.errors import InputError
from tussock.record.load import Loaded
from tussock.store.engine import Database
from tussock.store.errors import Conflict, NotFound
from tussock.store.tables import DocumentRow, FileRow, ProgrammeRow, VersionFileRow, VersionRow, put_once
from tussock.store.versions import Entry, Version
from tussock.store.workplace import Workplace, content_key

if TYPE_CHECKING:
    from tussock.studies.job import Job

MOST_NOTE = 4000
_LARGEST_KEY = 2**31 - 1


class Programmes:
    """The programmes of a store."""

    def __init__(self, database: Database, workplace: Workplace) -> None:
        self._database = database
        self._workplace = workplace

    def list(self) -> tuple[Entry, ...]:
        """Return every programme with its newest version, the one saved last first."""
        newest = select(func.max(VersionRow.id)).group_by(VersionRow.programme_id)
        with self._database.reading() as session:
            rows = session.scalars(select(VersionRow).where(VersionRow.id.in_(newest)).order_by(VersionRow.id.desc()))
            return tuple(_entry(session, row) for row in rows)

    def get(self, programme_id: int) -> Entry:
        """Return a programme; NotFound if there is none of that number."""
        with self._database.reading() as session:
            return _entry(session, _newest(session, programme_id))

    def versions(self, programme_id: int) -> tuple[Version, ...]:
        """Return every version of a programme, newest first; NotFound if there is no such programme."""
        with self._database.reading() as session:
            _newest(session, programme_id)
            rows = session.scalars(
                select(VersionRow).where(VersionRow.programme_id == programme_id).order_by(VersionRow.number.desc())
            ).all()
            return tuple(_versions(session, rows))

    def version(self, programme_id: int, number: int | None = None) -> Version:
        """Return a version of a programme, the newest unless a number is said; NotFound if there is none."""
        with self._database.reading() as session:
            return _version(session, _numbered(session, programme_id, number))

    def create(self, text: str, *, author: str, note: str = "", files: Mapping[str, str] | None = None) -> Version:
        """Take a programme into the store.

        Parameters
        ----------
        text : str
            The document.
        author : str
            Who does it.
        note : str
            Why.
        files : mapping, optional
            SHA-256 of every file that the document names, by its path there; attached before.

        Returns
        -------
        Version
            Its first version.

        Raises
        ------
        ProgrammeError
            With everything that is wrong in the text.
        NotFound
            A file is not in the store.
        """
        author, note = said(author, note)
        files = dict(files or {})
        loaded = self._workplace.read(text, files)
        with self._database.writing() as session:
            programme = ProgrammeRow(created=datetime.now(UTC))
            session.add(programme)
            session.flush()
            return put_version(session, programme.id, 1, loaded, files, author=author, note=note)

    def save(
        self,
        programme_id: int,
        text: str,
        *,
        base: int,
        author: str,
        note: str = "",
        files: Mapping[str, str] | None = None,
    ) -> Version:
        """Save a new version.

        Parameters
        ----------
        programme_id : int
            The programme.
        text : str
            The whole document.
        base : int
            Number of the version that was edited.
        author : str
            Who saves.
        note : str
            Why.
        files : mapping, optional
            SHA-256 of files that come in or change, by path; the others stay as in `base`.

        Returns
        -------
        Version
            The new version; the newest itself where it says the same already, so that a save may be sent again.

        Raises
        ------
        Conflict
            Somebody else saved since `base`.
        ProgrammeError
            With everything that is wrong in the text.
        NotFound
            There is no such programme, version or file.
        """
        author, note = said(author, note)
        based = self.version(programme_id, base)
        whole = {**based.files, **(files or {})}
        loaded = self._workplace.read(text, whole)
        with self._database.writing() as session:
            newest = _version(session, locked_newest(session, programme_id))
            if content_key(newest.digest, newest.files) == content_key(loaded.digest, whole):
                return newest
            if newest.number != based.number:
                raise Conflict(based, newest)
            return put_version(session, programme_id, newest.number + 1, loaded, whole, author=author, note=note)

    def restore(self, programme_id: int, number: int, *, base: int, author: str, note: str = "") -> Version:
        """Save an earlier version again as the newest, text and files; what came between stays in the history.

        Raises
        ------
        Conflict
            Somebody else saved since `base`.
        NotFound
            There is no such programme or version.
        """
        old = self.version(programme_id, number)
        author, note = said(author, note or f"back to version {number}")
        loaded = self.programme(old)
        with self._database.writing() as session:
            newest = _version(session, locked_newest(session, programme_id))
            if newest.number != base:
                raise Conflict(_version(session, _numbered(session, programme_id, base)), newest)
            if content_key(newest.digest, newest.files) == content_key(old.digest, old.files):
                return newest
            return put_version(session, programme_id, base + 1, loaded, old.files, author=author, note=note)

    def text(self, version: Version) -> str:
        """Return a version's document as it was written."""
        with self._database.reading() as session:
            row = session.get(DocumentRow, version.digest)
            if row is None:
                raise NotFound(f"there is no version {version.number} in this store")
            return row.text

    def programme(self, version: Version) -> Loaded:
        """Return a version read, its files beside it; read once and kept.

        Raises
        ------
        ProgrammeError
            A newer version of the program wrote it.
        """
        return self._workplace.read(self.text(version), version.files)

    def edit(self, version: Version, path: str, typed: str) -> Loaded:
        """Return a version with one field as typed, to be saved by its text; raises as `tussock.record.set_field`."""
        return self._workplace.edit(self.text(version), version.files, path, typed)

    def job(self, version: Version) -> Job:
        """Return a version's job for the studies, opened once and kept with what its studies share.

        Raises
        ------
        InputError
            With everything that is wrong in its files.
        """
        return self._workplace.job(self.text(version), version.files)


def said(author: str, note: str) -> tuple[str, str]:
    """Return who and why, fit to be kept; InputError where nobody is named."""
    author = " ".join(author.split())
    if not author:
        raise InputError(
            "nothing was saved: say who saves; who may read only cannot, ask an admin for the role engineer"
        )
    if len(author) > 120 or not author.isprintable():
        raise InputError("say who saves, in at most 120 characters")
    note = "".join(c for c in note if c.isprintable() or c == "\n").strip()
    if len(note) > MOST_NOTE:
        raise InputError(f"a note has at most {MOST_NOTE} characters")
    return author, note


def locked_newest(session: Session, programme_id: int) -> VersionRow:
    """Return the newest version, the programme held until the transaction ends."""
    if 0 < programme_id <= _LARGEST_KEY:
        session.execute(select(ProgrammeRow.id).where(ProgrammeRow.id == programme_id).with_for_update())
    return _newest(session, programme_id)


def put_version(
    session: Session,
    programme_id: int,
    number: int,
    loaded: Loaded,
    files: Mapping[str, str],
    *,
    author: str,
    note: str,
) -> Version:
    """Write a version in the session's transaction."""
    put_once(session, DocumentRow, digest=loaded.digest, text=loaded.text)
    about = loaded.programme.programme
    row = VersionRow(
        programme_id=programme_id,
        number=number,
        name=about.name,
        title=about.title,
        author=author,
        note=note,
        created=datetime.now(UTC),
        digest=loaded.digest,
    )
    session.add(row)
    session.flush()
    for path, digest in sorted(files.items()):
        if session.get(FileRow, digest) is None:
            raise NotFound(f"the file for {path} is not in the store; attach it first")
        session.add(VersionFileRow(version_id=row.id, path=path, digest=digest))
    session.flush()
    return _version(session, row)


def _newest(session: Session, programme_id: int) -> VersionRow:
    return _numbered(session, programme_id, None)


def _numbered(session: Session, programme_id: int, number: int | None) -> VersionRow:
    row = None
    if 0 < programme_id <= _LARGEST_KEY and (number is None or 0 < number <= _LARGEST_KEY):
        query = select(VersionRow).where(VersionRow.programme_id == programme_id)
        query = (
            query.order_by(VersionRow.number.desc()).limit(1)
            if number is None
            else query.where(VersionRow.number == number)
        )
        row = session.scalar(query)
    if row is None:
        what = f"version {number} of programme {programme_id}" if number is not None else f"programme {programme_id}"
        raise NotFound(f"there is no {what} in this store")
    return row


def _version(session: Session, row: VersionRow) -> Version:
    return next(iter(_versions(session, [row])))


def _versions(session: Session, rows: Iterable[VersionRow]) -> Iterable[Version]:
    rows = list(rows)
    files: dict[int, dict[str, str]] = {}
    query = select(VersionFileRow).where(VersionFileRow.version_id.in_([r.id for r in rows]))
    for one in session.scalars(query.order_by(VersionFileRow.path)):
        files.setdefault(one.version_id, {})[one.path] = one.digest
    for row in rows:
        yield Version(
            id=row.id,
            programme_id=row.programme_id,
            number=row.number,
            name=row.name,
            title=row.title,
            author=row.author,
            note=row.note,
            created=row.created,
            digest=row.digest,
            files=files.get(row.id, {}),
        )


def _entry(session: Session, row: VersionRow) -> Entry:
    programme = session.get_one(ProgrammeRow, row.programme_id)
    return Entry(
        id=programme.id, name=row.name, title=row.title, created=programme.created, newest=_version(session, row)
    )
