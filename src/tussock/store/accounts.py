"""Users with their roles, and the sign-ins that count. Passwords and tokens arrive here as hashes only."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Literal, TypeAlias, get_args

from sqlalchemy import delete, func, select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from tussock.errors import InputError
from tussock.store.engine import Database
from tussock.store.errors import NotFound
from tussock.store.tables import SessionRow, UserRow

Role: TypeAlias = Literal["reader", "engineer", "admin"]
ROLES: tuple[Role, ...] = get_args(Role)


@dataclass(frozen=True, slots=True, kw_only=True)
class User:
    """Somebody with an account; `active` is false for one who may no longer sign in."""

    id: int
    name: str
    role: Role
    password_hash: str
    created: datetime
    active: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class SignIn:
    """A sign-in that counts until `expires`."""

    user: User
    created: datetime
    expires: datetime


class Accounts:
    """The users of a store."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def add(self, name: str, role: Role, password_hash: str) -> User:
        """Add a user.

        Raises
        ------
        InputError
            The name is taken or no name, or there is no such role.
        """
        name = " ".join(name.split())
        if not 1 <= len(name) <= 120 or not name.isprintable():
            raise InputError("a user needs a name of at most 120 characters")
        _check_role(role)
        try:
            with self._database.writing() as session:
                if session.scalar(select(UserRow.id).where(func.lower(UserRow.name) == name.lower())) is not None:
                    raise InputError(f"there is a user {name} already")
                row = UserRow(name=name, role=role, password_hash=password_hash, created=datetime.now(UTC), active=True)
                session.add(row)
                try:
                    session.flush()
                except IntegrityError:
                    raise InputError(f"there is a user {name} already") from None
                return _user(row)
        except IntegrityError:
            raise InputError(f"there is a user {name} already") from None

    def list(self) -> tuple[User, ...]:
        """Return every user by name."""
        with self._database.reading() as session:
            return tuple(_user(row) for row in session.scalars(select(UserRow).order_by(UserRow.name)))

    def named(self, name: str) -> User:
        """Return a user by name, capitals aside; NotFound if there is none."""
        with self._database.reading() as session:
            row = session.scalar(select(UserRow).where(func.lower(UserRow.name) == " ".join(name.split()).lower()))
            if row is None:
                raise NotFound("there is no such user")
            return _user(row)

    def change(
        self,
        user_id: int,
        *,
        role: Role | None = None,
        password_hash: str | None = None,
        active: bool | None = None,
    ) -> User:
        """Change a user; whoever gets another password or may no longer sign in is signed out everywhere.

        Raises
        ------
        NotFound
            There is no such user.
        InputError
            It would leave nobody who may administer, or there is no such role.
        """
        if role is not None:
            _check_role(role)
        with self._database.writing() as session:
            row = session.get(UserRow, user_id, with_for_update=True)
            if row is None:
                raise NotFound("there is no such user")
            row.role = role or row.role
            row.password_hash = password_hash or row.password_hash
            row.active = row.active if active is None else active
            session.flush()
            admins = select(func.count()).where(UserRow.role == "admin", UserRow.active)
            if not session.scalar(admins):
                raise InputError("somebody must remain who administers; make another one admin first")
            if password_hash is not None or active is False:
                session.execute(delete(SessionRow).where(SessionRow.user_id == user_id))
            return _user(row)

    def sign_in(self, user: User, token_hash: str, expires: datetime) -> SignIn:
        """Keep a sign-in by the hash of its token; those that have ended are dropped."""
        now = datetime.now(UTC)
        with self._database.writing() as session:
            session.execute(delete(SessionRow).where(SessionRow.expires <= now))
            session.add(SessionRow(token_hash=token_hash, user_id=user.id, created=now, expires=expires))
        return SignIn(user=user, created=now, expires=expires)

    def signed_in(self, token_hash: str) -> SignIn | None:
        """Return the sign-in of a token, or None if it has ended, was signed out or its user may no longer."""
        with self._database.reading() as session:
            row = session.get(SessionRow, token_hash)
            if row is None or row.expires <= datetime.now(UTC):
                return None
            user = _user_of(session, row)
            return SignIn(user=user, created=row.created, expires=row.expires) if user.active else None

    def sign_out(self, token_hash: str) -> None:
        """Forget a sign-in; one that is not there is no fault."""
        with self._database.writing() as session:
            session.execute(delete(SessionRow).where(SessionRow.token_hash == token_hash))


def _check_role(role: str) -> None:
    if role not in ROLES:
        raise InputError(f"there is no role {role[:40]!r}; choose from {', '.join(ROLES)}")


def _user_of(session: Session, row: SessionRow) -> User:
    return _user(session.get_one(UserRow, row.user_id))


def _user(row: UserRow) -> User:
    return User(
        id=row.id,
        name=row.name,
        role=row.role,  # type: ignore[arg-type]
        password_hash=row.password_hash,
        created=row.created,
        active=row.active,
    )
