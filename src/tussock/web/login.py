"""The sign-in page: one plain form, served without the framework and without a script."""

from __future__ import annotations

import asyncio
import hmac
import secrets
from html import escape
from typing import Annotated

from fastapi import APIRouter, Form, Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse

from tussock.errors import InputError
from tussock.web.gate import over_https
from tussock.web.signing import COOKIE, KEPT_FOR, Door, TooManyTries

_FORM_COOKIE = "tussock_form"
_PAGE = """<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>Sign in, Tussock</title>
<meta name="viewport" content="width=device-width, initial-scale=1">
<link rel="icon" href="/phone/icon.svg" type="image/svg+xml"><link rel="stylesheet" href="/phone/phone.css"></head>
<body><header><h1>Tussock</h1></header><main>{told}
<form method="post" action="/login"><input type="hidden" name="token" value="{token}">
<input type="hidden" name="next" value="{after}">
<label>Name <input name="name" autocomplete="username" required maxlength="120"></label>
<label>Password <input name="password" type="password" autocomplete="current-password" required maxlength="200"></label>
<div class="keep"><button type="submit">Sign in</button></div></form></main></body></html>
"""


def login_routes(door: Door) -> APIRouter:
    """Return the routes of signing in and out."""
    router = APIRouter(include_in_schema=False)

    def page(request: Request, told: str, after: str, *, status: int = 200, wait: float = 0.0) -> Response:
        nonce = secrets.token_urlsafe(16)
        message = f'<p class="message" role="alert">{escape(told)}</p>' if told else ""
        token = door.token_for(f"form {nonce}")
        body = _PAGE.format(told=message, token=token, after=escape(_inside(after), quote=True))
        response = HTMLResponse(body, status_code=status)
        if wait:
            response.headers["retry-after"] = str(int(wait) + 1)
        response.set_cookie(
            _FORM_COOKIE,
            nonce,
            max_age=3600,
            path="/login",
            httponly=True,
            samesite="strict",
            secure=over_https(request.scope),
        )
        return response

    @router.get("/login")
    def form(request: Request, next: str = "/") -> Response:
        return page(request, "", next)

    @router.post("/login")
    async def sign_in(
        request: Request,
        name: Annotated[str, Form(max_length=500)],
        password: Annotated[str, Form(max_length=500)],
        token: Annotated[str, Form(max_length=200)] = "",
        next: Annotated[str, Form(max_length=2000)] = "/",
    ) -> Response:
        nonce = request.cookies.get(_FORM_COOKIE, "")
        if not nonce or not hmac.compare_digest(token.encode(), door.token_for(f"form {nonce}").encode()):
            return page(request, "This form is too old; sign in again.", next, status=403)
        address = request.client.host if request.client else ""
        try:
            session = await asyncio.to_thread(door.sign_in, name, password, address)
        except TooManyTries as error:
            return page(request, _sentence(str(error)), next, status=429, wait=error.wait)
        except InputError as error:
            return page(request, _sentence(str(error)), next, status=401)
        response = RedirectResponse(_inside(next), status_code=303)
        response.set_cookie(
            COOKIE,
            session,
            max_age=int(KEPT_FOR.total_seconds()),
            httponly=True,
            samesite="lax",
            secure=over_https(request.scope),
        )
        response.delete_cookie(_FORM_COOKIE, path="/login")
        return response

    @router.post("/logout")
    async def sign_out(request: Request) -> Response:
        await asyncio.to_thread(door.sign_out, request.cookies.get(COOKIE, ""))
        response = RedirectResponse("/login", status_code=303)
        response.delete_cookie(COOKIE)
        return response

    return router


def _inside(after: str) -> str:
    r"""Return where to go after signing in: a page of this server, whatever was asked.

    >>> _inside("/work/1/travel?build=B2"), _inside("//elsewhere.example"), _inside("/\\elsewhere.example")
    ('/work/1/travel?build=B2', '/', '/')
    """
    plain = after.startswith("/") and after[1:2] not in ("/", "\\") and after.isprintable()
    return after if plain else "/"


def _sentence(words: str) -> str:
    return words[:1].upper() + words[1:] + "."
