"""Who may come in: passwords as Argon2id hashes, sign-ins kept by the store, and a brake on guessing.

Parameters of the hash are the defaults of argon2-cffi, the second recommended option of RFC 9106, section 4: Argon2id,
3 passes, 64 MiB, 4 lanes.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cache
from typing import TYPE_CHECKING

from tussock.errors import InputError
from tussock.store import NotFound, Role, Store, User

if TYPE_CHECKING:
    from argon2 import PasswordHasher

LEAST_PASSWORD = 12
"""Characters of a password. NIST SP 800-63B asks for at least 8, and for no rules of composition (from memory)."""
MOST_PASSWORD = 200
KEPT_FOR = timedelta(days=14)
COOKIE = "tussock_session"
TRIES, WITHIN = 5, 300.0
"""Wrong passwords for one name or from one address, and the seconds in which they count."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Who:
    """Who asks: a name, what the name may do, and the secret that their pages send with every change.

    `signed_in` is false for whoever sits at a machine where nobody signs in.
    """

    name: str
    role: Role
    token: str
    signed_in: bool = True

    @property
    def writes(self) -> bool:
        """Whether they may change programmes."""
        return self.role in ("engineer", "admin")


class TooManyTries(InputError):
    """Too many wrong passwords; `wait` says for how long [s]."""

    def __init__(self, wait: float) -> None:
        self.wait = wait
        super().__init__(f"too many wrong passwords; try again in {max(1, round(wait / 60))} min")


class Throttle:
    """A brake on guessing: so many failures within a while, then a pause; for each name and each address."""

    def __init__(
        self, *, tries: int = TRIES, within: float = WITHIN, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._tries, self._within, self._clock = tries, within, clock
        self._failed: dict[str, list[float]] = {}
        self._lock = threading.Lock()

    def check(self, *keys: str) -> None:
        """Refuse whoever has failed too often; TooManyTries says how long to wait."""
        now = self._clock()
        with self._lock:
            for key in keys:
                recent = self._recent(key, now)
                if len(recent) >= self._tries:
                    raise TooManyTries(self._within - (now - recent[-self._tries]))

    def failed(self, *keys: str) -> None:
        """Count a failure."""
        now = self._clock()
        with self._lock:
            if len(self._failed) > 10_000:
                self._failed = {k: v for k, v in self._failed.items() if self._recent(k, now)}
            for key in keys:
                self._failed[key] = [*self._recent(key, now), now][-self._tries :]

    def succeeded(self, key: str) -> None:
        """Forget the failures of a name."""
        with self._lock:
            self._failed.pop(key, None)

    def _recent(self, key: str, now: float) -> list[float]:
        return [t for t in self._failed.get(key, []) if now - t < self._within]


class Door:
    """Signs people in and out, and says who asks."""

    def __init__(self, store: Store, *, throttle: Throttle | None = None) -> None:
        self._accounts = store.accounts
        self._throttle = throttle or Throttle()
        self._secret = secrets.token_bytes(32)

    def sign_in(self, name: str, password: str, address: str) -> str:
        """Return the token of a new sign-in.

        Raises
        ------
        TooManyTries
            Too many wrong passwords for this name or from this address.
        InputError
            Name or password is wrong; it does not say which.
        """
        name = " ".join(name.split())[:120]
        keys = (f"name {name.lower()}", f"address {address}")
        self._throttle.check(*keys)
        user: User | None
        try:
            user = self._accounts.named(name)
        except NotFound:
            user = None
        # a name that does not exist takes as long as one that does
        right = _verified(user.password_hash if user else _nobody(), password[: MOST_PASSWORD + 1])
        if user is None or not right or not user.active:
            self._throttle.failed(*keys)
            raise InputError("name or password is wrong")
        self._throttle.succeeded(keys[0])
        if _hasher().check_needs_rehash(user.password_hash):
            user = self._accounts.change(user.id, password_hash=password_hash(password))
        token = secrets.token_urlsafe(32)
        self._accounts.sign_in(user, _hash(token), datetime.now(UTC) + KEPT_FOR)
        return token

    def who(self, token: str | None) -> Who | None:
        """Return who holds a token, or None."""
        signed = self._accounts.signed_in(_hash(token)) if token else None
        if signed is None or token is None:
            return None
        return Who(name=signed.user.name, role=signed.user.role, token=self.token_for(token))

    def sign_out(self, token: str) -> None:
        """Forget a sign-in."""
        self._accounts.sign_out(_hash(token))

    def token_for(self, what: str) -> str:
        """Return the secret that belongs to a sign-in, or to a form given out before one."""
        return hmac.new(self._secret, what.encode(), hashlib.sha256).hexdigest()


def password_hash(password: str) -> str:
    """Return the hash of a new password.

    Raises
    ------
    InputError
        It is too short or too long.
    """
    if not LEAST_PASSWORD <= len(password) <= MOST_PASSWORD:
        raise InputError(f"a password has {LEAST_PASSWORD} to {MOST_PASSWORD} characters; a few words do well")
    return _hasher().hash(password)


def _verified(hashed: str, password: str) -> bool:
    from argon2.exceptions import InvalidHashError, VerificationError

    try:
        return _hasher().verify(hashed, password)
    except (VerificationError, InvalidHashError):
        return False


@cache
def _hasher() -> PasswordHasher:
    from argon2 import PasswordHasher

    return PasswordHasher()


@cache
def _nobody() -> str:
    return _hasher().hash(secrets.token_urlsafe(32))


def _hash(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()
