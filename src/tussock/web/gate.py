"""The gate before every page, route and websocket: who may pass, from which page, with how large a body.

Without accounts the workbench answers this machine alone. With accounts nothing but the sign-in page, the look and the
empty page of the drive log is seen by whoever is not signed in.
"""

from __future__ import annotations

import asyncio
import json
import logging
from collections.abc import Iterable, Mapping
from http import HTTPStatus
from typing import Any
from urllib.parse import quote, urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import cookie_parser
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from tussock.web.signing import COOKIE, Door, Who

HERE = ("127.0.0.1", "localhost", "::1")
TOKEN_HEADER = "x-tussock-token"
SAFE = ("GET", "HEAD", "OPTIONS")
LARGEST_BODY = 8_000_000
"""Bytes of a request that is no file."""
LARGEST_FILE = 200_000_000
"""Bytes of any upload; routes that take files set lower limits by their kind."""
MOST_DRAINED = 1_000_000_000
"""Bytes of a refused upload that are read and dropped, so that its sender hears the answer."""

_OPEN = ("/login", "/phone", "/fonts", "/look.css")
_FILES = ("/api/files", "/api/programmes/import")
_FRAMEWORK = ("/_nicegui_ws",)  # the websocket of the pages, which may begin as plain requests

STRICT = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; font-src 'self'; "
    "connect-src 'self'; manifest-src 'self'; worker-src 'self'; form-action 'self'; base-uri 'none'; "
    "frame-ancestors 'none'"
)
"""Policy of the drive log, the sign-in page and the REST interface."""
PAGES = (
    "default-src 'self'; script-src 'self' 'unsafe-inline' 'unsafe-eval'; script-src-attr 'none'; "
    "style-src 'self' 'unsafe-inline'; "
    "img-src 'self' data: blob:; font-src 'self' data:; connect-src 'self'; worker-src 'self' blob:; "
    "object-src 'none'; form-action 'self'; base-uri 'self'; frame-ancestors 'none'"
)
"""Policy of the workbench's pages: the framework writes a script and styles into each page and compiles its templates
in the browser, so it needs both 'unsafe' words; no attribute of an element runs as a script, and nothing from another
machine is ever loaded or asked."""

_LOG = logging.getLogger("tussock.web")


class Gate:
    """ASGI middleware that stands before everything.

    Parameters
    ----------
    app : ASGI application
        What stands behind it.
    door : Door, optional
        Who may come in; without one everybody on this machine may, as `local`.
    local : str
        Under which name whoever sits at this machine works.
    hosts : iterable of str
        Names under which this server may be called where there are no accounts; any other is refused, so that a
        foreign name that was made to lead here (DNS rebinding) finds nothing.
    """

    def __init__(
        self,
        app: ASGIApp,
        *,
        door: Door | None = None,
        local: str = "workshop",
        token: str = "",
        hosts: Iterable[str] = HERE,
    ) -> None:
        self._app = app
        self._door = door
        self._local = Who(name=local, role="admin", token=token, signed_in=False)
        self._hosts = frozenset(hosts)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or answer it here."""
        if scope["type"] not in ("http", "websocket"):
            await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        cookies = cookie_parser(headers.get("cookie", ""))
        who = self._local
        if self._door is not None:
            found = await asyncio.to_thread(self._door.who, cookies.get(COOKIE)) if COOKIE in cookies else None
            scope.setdefault("state", {})["who"] = found
            refused = self._refused(scope, headers, found)
        else:
            scope.setdefault("state", {})["who"] = who
            refused = self._refused(scope, headers, who)
        if scope["type"] == "websocket":
            if refused is not None:
                await receive()
                await send({"type": "websocket.close", "code": 4403, "reason": refused[1]})
                return
            await self._app(scope, receive, send)
            return
        if refused is not None:
            await self._answer(scope, receive, send, refused)
            return
        await self._pass(scope, receive, send, headers)

    def _refused(self, scope: Scope, headers: Headers, who: Who | None) -> tuple[int, str] | None:
        """Return status and words where a request may not pass."""
        path = str(scope["path"])
        host = headers.get("host", "")
        name = urlsplit(f"//{host}").hostname if _plain(host) else None
        if self._door is None and name not in self._hosts:
            return 421, "this workbench is called by another name; without accounts it answers 127.0.0.1 alone"
        if not _same_origin(headers, host, strict=scope["type"] == "websocket" or _under(path, _FRAMEWORK)):
            unsafe = scope["type"] == "websocket" or scope["method"] not in SAFE or _under(path, _FRAMEWORK)
            if unsafe:
                return 403, "the request comes from a page of another address"
        if who is None:
            return None if _under(path, _OPEN) else (401, "sign in first")
        if scope["type"] == "websocket" or scope["method"] in SAFE:
            return None
        if _under(path, _FRAMEWORK) or path == "/login":
            return None  # the pages' websocket is held by its origin; the sign-in has its own token
        if headers.get(TOKEN_HEADER) != who.token and path != "/logout":
            return 403, f"the token of the session is missing or old; ask /api/session and send it as {TOKEN_HEADER}"
        if not who.writes and path != "/logout":
            return 403, f"{who.name} may read only; ask an admin for the role engineer"
        return None

    async def _answer(self, scope: Scope, receive: Receive, send: Send, refused: tuple[int, str]) -> None:
        status, words = refused
        headers = Headers(scope=scope)
        wants_page = scope["method"] in SAFE and "text/html" in headers.get("accept", "")
        if status == 401 and wants_page and not scope["path"].startswith("/api"):
            asked = scope["path"] + (f"?{scope['query_string'].decode('latin-1')}" if scope["query_string"] else "")
            place = f"/login?next={quote(asked, safe='/')}"
            await self._send_whole(scope, send, 303, b"", {"location": place, "content-type": "text/plain"})
            return
        await _drain(receive)
        await self._send_whole(scope, send, status, fault_body(status, words), {"content-type": "application/json"})

    async def _pass(self, scope: Scope, receive: Receive, send: Send, headers: Headers) -> None:
        path = str(scope["path"])
        most = LARGEST_FILE if path in _FILES else LARGEST_BODY
        words = f"a request here has at most {most / 1e6:.0f} MB"
        told = headers.get("content-length", "0")
        if not told.isdecimal() or int(told) > most:
            await _drain(receive)
            await self._send_whole(scope, send, 413, fault_body(413, words), {"content-type": "application/json"})
            return
        taken, begun, more = 0, False, True

        async def counted() -> Message:
            nonlocal taken, more
            message = await receive()
            more = message.get("more_body", False)
            taken += len(message.get("body", b""))
            if taken > most:
                raise _TooLargeError
            return message

        async def dressed(message: Message) -> None:
            nonlocal begun
            if message["type"] == "http.response.start":
                begun = True
                self._dress(scope, MutableHeaders(scope=message))
            await send(message)

        try:
            await self._app(scope, counted, dressed)
        except _TooLargeError:
            if begun:
                raise
            if more:  # behind the end of a body nothing comes until the sender leaves
                await _drain(receive)
            await self._send_whole(scope, send, 413, fault_body(413, words), {"content-type": "application/json"})
        except Exception:
            _LOG.exception("a fault of Tussock itself at %s", path)
            if begun:
                raise
            told = "a fault of Tussock itself; nothing was saved. The server's log says more"
            await self._send_whole(scope, send, 500, fault_body(500, told), {"content-type": "application/json"})

    async def _send_whole(self, scope: Scope, send: Send, status: int, body: bytes, headers: Mapping[str, str]) -> None:
        raw = [(k.encode(), v.encode("latin-1")) for k, v in headers.items()]
        start: Message = {"type": "http.response.start", "status": status, "headers": raw}
        dressing = MutableHeaders(scope=start)
        dressing["content-length"] = str(len(body))
        self._dress(scope, dressing)
        await send(start)
        await send({"type": "http.response.body", "body": body})

    def _dress(self, scope: Scope, headers: MutableHeaders) -> None:
        """Set what every answer says to the browser."""
        path = str(scope["path"])
        plain = _under(path, ("/phone", "/api", "/login", "/logout"))
        headers["content-security-policy"] = STRICT if plain else PAGES
        headers["x-content-type-options"] = "nosniff"
        headers["x-frame-options"] = "DENY"
        headers["referrer-policy"] = "same-origin"
        headers["cross-origin-opener-policy"] = "same-origin"
        headers["cross-origin-resource-policy"] = "same-origin"
        headers["permissions-policy"] = "camera=(self), microphone=(), geolocation=()"
        if over_https(scope):
            headers["strict-transport-security"] = "max-age=31536000"
        if _under(path, ("/api", "/login")) and "cache-control" not in headers:
            headers["cache-control"] = "no-store"


def over_https(scope: Scope) -> bool:
    """Return whether a request came by https, to this server itself or to a proxy that it believes."""
    return scope["scheme"] in ("https", "wss")


class _TooLargeError(Exception):
    """A body grew past its limit."""


def fault_body(status: int, words: str, **more: Any) -> bytes:
    """Return the one form in which every fault of the REST interface arrives."""
    code = HTTPStatus(status).phrase.lower().replace(" ", "_")
    return json.dumps({"error": {"code": code, "message": words, **more}}, ensure_ascii=False).encode()


def _under(path: str, places: Iterable[str]) -> bool:
    return any(path == place or path.startswith(f"{place}/") for place in places)


def _plain(host: str) -> bool:
    return bool(host) and not any(c in host for c in "/\\@?# ")


def _same_origin(headers: Headers, host: str, *, strict: bool) -> bool:
    """Return whether a request comes from a page of this server, or, unless strict, from no page at all."""
    origin = headers.get("origin")
    if origin is not None:
        return urlsplit(origin).netloc == host and origin != "null"
    site = headers.get("sec-fetch-site")
    if site is not None:
        return site in ("same-origin", "none")
    return not strict


async def _drain(receive: Receive) -> None:
    """Read and drop the body of a refused request."""
    dropped = 0
    while dropped < MOST_DRAINED:
        message = await receive()
        dropped += len(message.get("body", b""))
        if message["type"] == "http.disconnect" or not message.get("more_body", False):
            return
