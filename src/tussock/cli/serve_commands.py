"""The command that serves the workbench in the browser."""

from __future__ import annotations

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
        int, typer.Option("--port", metavar="N", min=0, max=65535, help="Port on 127.0.0.1; 0 takes a free one.")
    ] = 8765,
    author: Annotated[
        str | None, typer.Option("--author", metavar="NAME", help="Name under which you save; else your user name.")
    ] = None,
    no_browser: Annotated[bool, typer.Option("--no-browser", help="Do not open the browser.")] = False,
) -> None:
    """Open the workbench in the browser, on this machine alone; an empty store begins with both invented vehicles."""
    with guarded(context):
        from tussock.web.serve import serve as serve_pages

        serve_pages(store=store, port=port, browser=not no_browser, author=author)
