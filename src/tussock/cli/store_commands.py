"""Commands about the store as a whole: `tussock backup`, `tussock restore`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from tussock.cli.commands import app, guarded

Address = Annotated[
    str | None,
    typer.Option(
        "--store", metavar="FILE|URL", help="Where programmes are kept; else TUSSOCK_STORE, else your data folder."
    ),
]


@app.command()
def backup(
    context: typer.Context,
    file: Annotated[Path, typer.Argument(metavar="FILE", help="File to write; it must not be there yet.")],
    store: Address = None,
) -> None:
    """Copy the whole store, as it stands at one moment, into one file; others may go on saving meanwhile."""
    with guarded(context):
        from tussock.store import open_store
        from tussock.store.backup import back_up

        with open_store(store) as opened:
            held = back_up(opened.database, file)
        typer.echo(f"Backed up and read again: {held}. Written to {file}")


@app.command()
def restore(
    context: typer.Context,
    file: Annotated[Path, typer.Argument(metavar="FILE", help="File that `tussock backup` wrote; it stays as it is.")],
    store: Address = None,
    replace: Annotated[bool, typer.Option("--replace", help="Replace what the store holds now.")] = False,
) -> None:
    """Put a backup into the store, whole or not at all; also from a file into PostgreSQL or back."""
    with guarded(context):
        from tussock.store import open_store
        from tussock.store.backup import put_back

        with open_store(store) as opened:
            held = put_back(file, opened.database, replace=replace)
        typer.echo(f"Restored: {held}.")
