"""Everything of the workbench that is no page of the framework: REST, drive log, sign-in and the gate before all."""

from __future__ import annotations

import secrets
from dataclasses import dataclass

from fastapi import FastAPI

from tussock.errors import InputError
from tussock.store import Store
from tussock.web.api import add_api
from tussock.web.desk import Desk
from tussock.web.gate import HERE, Gate
from tussock.web.jobs import Jobs
from tussock.web.login import login_routes
from tussock.web.phone import phone_routes
from tussock.web.signing import Door


@dataclass(frozen=True, kw_only=True, slots=True)
class Entrance:
    """How people come in.

    Attributes
    ----------
    accounts : bool
        Whether they sign in; never false where other machines are answered.
    secure : bool
        Whether it is served by https.
    """

    accounts: bool = False
    secure: bool = False


def add_plain(app: FastAPI, desk: Desk, entrance: Entrance, *, local: str, token: str = "") -> Jobs:
    """Add REST interface, drive log, sign-in and gate to an app; the jobs returned are to be closed with it.

    `local` is the name under which whoever sits at this machine works where nobody signs in, `token` what their pages
    send with every change; made anew for each app unless said.
    """
    jobs = Jobs(desk)
    add_api(app, desk, jobs)
    app.include_router(phone_routes())
    door = Door(desk.store) if entrance.accounts else None
    if door is not None:
        app.include_router(login_routes(door, secure=entrance.secure))
    app.add_middleware(
        Gate, door=door, local=local, token=token or secrets.token_hex(32), hosts=HERE, secure=entrance.secure
    )
    return jobs


def entrance_for(host: str, store: Store, *, secure: bool) -> Entrance:
    """Return how people come in at an address.

    Raises
    ------
    InputError
        Other machines would be answered, and nobody could administer: there is no account yet.
    """
    if host in HERE:
        return Entrance(secure=secure)
    if not any(user.role == "admin" and user.active for user in store.accounts.list()):
        raise InputError(
            f"{host} answers other machines, so people must sign in, and there is no admin yet; make one with "
            "`tussock user add NAME --role admin`, then serve again"
        )
    return Entrance(accounts=True, secure=secure)
