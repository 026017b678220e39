"""Who may come in from other machines: `tussock user add`, `list` and `change`."""

from __future__ import annotations

import sys
from typing import Annotated

import typer
from rich.table import Table

from tussock.cli.commands import guarded

user = typer.Typer(
    name="user",
    help="Accounts of a served workbench. On this machine alone nobody needs one.",
    no_args_is_help=True,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)

Name = Annotated[str, typer.Argument(metavar="NAME", help="Who; capitals do not matter.", show_default=False)]
Where = Annotated[
    str | None,
    typer.Option("--store", metavar="FILE|URL", help="The store; else TUSSOCK_STORE, else your data folder."),
]
Role = Annotated[str | None, typer.Option("--role", metavar="ROLE", help="reader, engineer or admin.")]


def _password() -> str:
    """Ask for a new password twice; from a pipe its first line is taken."""
    if not sys.stdin.isatty():
        return sys.stdin.readline().rstrip("\r\n")
    asked: str = typer.prompt("Password", hide_input=True, confirmation_prompt=True)
    return asked


@user.command()
def add(context: typer.Context, name: Name, role: Role = "engineer", store: Where = None) -> None:
    """Add somebody; the password is asked for, or read from a pipe."""
    with guarded(context):
        from tussock.store import open_store
        from tussock.web.signing import password_hash

        with open_store(store) as opened:
            made = opened.accounts.add(name, role or "engineer", password_hash(_password()))  # type: ignore[arg-type]
        typer.echo(f"● {made.name} may come in as {made.role}.")


@user.command("list")
def show(context: typer.Context, store: Where = None) -> None:
    """Say who may come in."""
    with guarded(context):
        from tussock.cli.show import console
        from tussock.store import open_store

        with open_store(store) as opened:
            users = opened.accounts.list()
        table = Table("name", "role", "may come in", "since", box=None, header_style="bold")
        for one in users:
            table.add_row(one.name, one.role, "yes" if one.active else "no", f"{one.created:%Y-%m-%d}")
        console().print(table if users else "Nobody has an account yet; on this machine alone nobody needs one.")


@user.command()
def change(
    context: typer.Context,
    name: Name,
    role: Role = None,
    password: Annotated[bool, typer.Option("--password", help="Ask for a new password.")] = False,
    active: Annotated[bool | None, typer.Option("--let-in/--shut-out", help="Whether they may come in.")] = None,
    store: Where = None,
) -> None:
    """Change role or password, or shut somebody out; their sign-ins end at once."""
    with guarded(context):
        from tussock.store import open_store
        from tussock.web.signing import password_hash

        with open_store(store) as opened:
            found = opened.accounts.named(name)
            hashed = password_hash(_password()) if password else None
            made = opened.accounts.change(found.id, role=role, password_hash=hashed, active=active)  # type: ignore[arg-type]
        typer.echo(f"● {made.name}: {made.role}, {'may' if made.active else 'may not'} come in.")
