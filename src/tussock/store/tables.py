"""The store's tables. Texts and files are kept once, by their content; what was saved is never changed.

A change here needs a migration in `migrations/versions`; a test compares both.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from sqlalchemy import JSON, DateTime, ForeignKey, Index, LargeBinary, MetaData, String, Text, UniqueConstraint, inspect
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.engine import Dialect
from sqlalchemy.orm import DeclarativeBase, Mapped, Session, mapped_column
from sqlalchemy.types import TypeDecorator

DIGEST = 64
"""Characters of a SHA-256, hexadecimal."""


class Instant(TypeDecorator[datetime]):
    """A time with its zone, kept as UTC: SQLite knows no zones."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Return the time in UTC, bare where the database knows no zones."""
        if value is None:
            return None
        value = value.astimezone(UTC)
        return value.replace(tzinfo=None) if dialect.name == "sqlite" else value

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Return the time with its zone."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


class Base(DeclarativeBase):
    """Root of the tables; constraints get names, without which a migration could not change them."""

    metadata = MetaData(
        naming_convention={
            "ix": "ix_%(table_name)s_%(column_0_N_name)s",
            "uq": "uq_%(table_name)s_%(column_0_N_name)s",
            "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
            "pk": "pk_%(table_name)s",
        }
    )


class ProgrammeRow(Base):
    """A programme: what its versions belong to."""

    __tablename__ = "programme"

    id: Mapped[int] = mapped_column(primary_key=True)
    created: Mapped[datetime] = mapped_column(Instant)


class DocumentRow(Base):
    """The text of versions, once for each content."""

    __tablename__ = "document"

    digest: Mapped[str] = mapped_column(String(DIGEST), primary_key=True)
    text: Mapped[str] = mapped_column(Text)


class VersionRow(Base):
    """One saved version of a programme."""

    __tablename__ = "version"
    __table_args__ = (UniqueConstraint("programme_id", "number"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    programme_id: Mapped[int] = mapped_column(ForeignKey("programme.id"))
    number: Mapped[int]
    name: Mapped[str] = mapped_column(String(200))
    title: Mapped[str] = mapped_column(String(200))
    author: Mapped[str] = mapped_column(String(120))
    note: Mapped[str] = mapped_column(Text)
    created: Mapped[datetime] = mapped_column(Instant)
    digest: Mapped[str] = mapped_column(ForeignKey("document.digest"))


class FileRow(Base):
    """A file, once for each content."""

    __tablename__ = "file"

    digest: Mapped[str] = mapped_column(String(DIGEST), primary_key=True)
    size: Mapped[int]
    name: Mapped[str] = mapped_column(String(240))
    media_type: Mapped[str] = mapped_column(String(120))
    created: Mapped[datetime] = mapped_column(Instant)


class PieceRow(Base):
    """A piece of a file, so that no file is ever whole in memory."""

    __tablename__ = "file_piece"

    digest: Mapped[str] = mapped_column(ForeignKey("file.digest"), primary_key=True)
    number: Mapped[int] = mapped_column(primary_key=True)
    content: Mapped[bytes] = mapped_column(LargeBinary)


class VersionFileRow(Base):
    """Which file a version means by a path."""

    __tablename__ = "version_file"

    version_id: Mapped[int] = mapped_column(ForeignKey("version.id"), primary_key=True)
    path: Mapped[str] = mapped_column(String(240), primary_key=True)
    digest: Mapped[str] = mapped_column(ForeignKey("file.digest"))


class EntryRow(Base):
    """An entry of the log as a device sent it; `version_id` is the version that took it in."""

    __tablename__ = "entry"

    client_id: Mapped[str] = mapped_column(String(36), primary_key=True)
    programme_id: Mapped[int] = mapped_column(ForeignKey("programme.id"), index=True)
    part: Mapped[str] = mapped_column(String(40))
    payload: Mapped[dict[str, Any]] = mapped_column(JSON)
    files: Mapped[dict[str, str]] = mapped_column(JSON)
    author: Mapped[str] = mapped_column(String(120))
    created: Mapped[datetime] = mapped_column(Instant)
    version_id: Mapped[int | None] = mapped_column(ForeignKey("version.id"))
    problem: Mapped[str] = mapped_column(Text)


class ResultRow(Base):
    """A result that was computed, by the hash of all that went into it."""

    __tablename__ = "result"
    __table_args__ = (Index("ix_result_programme_id_study", "programme_id", "study"),)

    key: Mapped[str] = mapped_column(String(DIGEST), primary_key=True)
    programme_id: Mapped[int] = mapped_column(ForeignKey("programme.id"))
    number: Mapped[int]
    study: Mapped[str] = mapped_column(String(80))
    code: Mapped[str] = mapped_column(String(DIGEST))
    created: Mapped[datetime] = mapped_column(Instant)
    content: Mapped[bytes] = mapped_column(LargeBinary)


class UserRow(Base):
    """Somebody with an account."""

    __tablename__ = "user_account"

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(String(120), unique=True)
    role: Mapped[str] = mapped_column(String(20))
    password_hash: Mapped[str] = mapped_column(Text)
    created: Mapped[datetime] = mapped_column(Instant)
    active: Mapped[bool]


class SessionRow(Base):
    """A sign-in that still counts, by the hash of its token."""

    __tablename__ = "user_session"

    token_hash: Mapped[str] = mapped_column(String(DIGEST), primary_key=True)
    user_id: Mapped[int] = mapped_column(ForeignKey("user_account.id"), index=True)
    created: Mapped[datetime] = mapped_column(Instant)
    expires: Mapped[datetime] = mapped_column(Instant)


def put_once(session: Session, table: type[Base], **values: Any) -> bool:
    """Insert a row unless one of its key is there; return whether it was new.

    It also waits for another transaction that is writing the same key just now.
    """
    make = sqlite.insert if session.get_bind().dialect.name == "sqlite" else postgresql.insert
    key = inspect(table).primary_key
    return session.execute(make(table).values(**values).on_conflict_do_nothing().returning(*key)).first() is not None
