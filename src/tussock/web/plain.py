"""Everything of the workbench that is no page of the framework: REST, drive log, sign-in and the gate before all."""

from __future__ import annotations

import secrets

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


def add_plain(app: FastAPI, desk: Desk, *, accounts: bool = False, local: str, token: str = "") -> Jobs:
    """Add REST interface, drive log, sign-in and gate to an app; the jobs returned are to be closed with it.

    With `accounts` people sign in; never without where other machines are answered. `local` is the name under which
    whoever sits at this machine works where nobody signs in, `token` what their pages send with every change; made anew
    for each app unless said.
    """
    jobs = Jobs(desk)
    add_api(app, desk, jobs)
    app.include_router(phone_routes())
    door = Door(desk.store) if accounts else None
    if door is not None:
        app.include_router(login_routes(door))
    app.add_middleware(Gate, door=door, local=local, token=token or secrets.token_hex(32), hosts=HERE)
    return jobs


def must_sign_in(host: str, store: Store, *, accounts: bool = False) -> bool:
    """Return whether people sign in at an address: where other machines are answered, or where `accounts` asks for it.

    Raises
    ------
    InputError
        They must, and nobody could administer: there is no account yet.
    """
    if host in HERE and not accounts:
        return False
    if not any(user.role == "admin" and user.active for user in store.accounts.list()):
        why = (
            "--accounts asks people to sign in"
            if host in HERE
            else f"{host} answers other machines, so people must sign in"
        )
        raise InputError(
            f"{why}, and there is no admin yet; make one with `tussock user add NAME --role admin`, then serve again"
        )
    return True
