"""The command that serves the workbench in the browser."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from tussock.cli.commands import app, guarded


@app.command()
def serve(
    context: typer.Context,
    store: Annotated[
        str | None,
        typer.Option(
            "--store", metavar="FILE|URL", help="Where programmes are kept; else TUSSOCK_STORE, else your data folder."
        ),
    ] = None,
    port: Annotated[
        int, typer.Option("--port", metavar="N", min=0, max=65535, help="Port; 0 takes a free one.")
    ] = 8765,
    author: Annotated[
        str | None, typer.Option("--author", metavar="NAME", help="Name under which you save; else your user name.")
    ] = None,
    no_browser: Annotated[bool, typer.Option("--no-browser", help="Do not open the browser.")] = False,
    host: Annotated[
        str, typer.Option("--host", metavar="ADDRESS", help="Address to answer on; other than this one: sign-in.")
    ] = "127.0.0.1",
    certificate: Annotated[
        Path | None, typer.Option("--certificate", metavar="PATH", help="Certificate in PEM, for https.")
    ] = None,
    key: Annotated[Path | None, typer.Option("--key", metavar="PATH", help="Its key in PEM.")] = None,
    accounts: Annotated[
        bool, typer.Option("--accounts", help="Ask people to sign in at this address too: behind a proxy for others.")
    ] = False,
    empty: Annotated[bool, typer.Option("--empty", help="Take no invented vehicle into an empty store.")] = False,
    wait: Annotated[
        float,
        typer.Option(
            "--wait",
            metavar="SECONDS",
            min=0.1,
            max=600.0,
            help="How long a save waits for a store that another program holds.",
        ),
    ] = 10.0,
) -> None:
    """Open the workbench in the browser, on this machine alone; an empty store begins with both invented vehicles."""
    with guarded(context):
        from tussock.web.serve import serve as serve_pages

        serve_pages(
            store=store, port=port, browser=not no_browser, author=author,
            host=host, certificate=certificate, key=key, accounts=accounts, empty=empty, wait=wait,
        )  # fmt: skip
