"""`tussock serve`: opens the store, takes in the demos where it is empty, serves the pages, opens the browser."""

from __future__ import annotations

import socket
import threading
import webbrowser
from pathlib import Path

import uvicorn

from tussock.errors import InputError
from tussock.store import open_store
from tussock.web.app import Settings, create_app
from tussock.web.demos import load_demos

LOCAL = "127.0.0.1"


def serve(*, store: str | Path | None, port: int, browser: bool, author: str | None) -> None:
    """Serve the workbench on this machine until it is stopped.

    Parameters
    ----------
    store : str or pathlib.Path, optional
        Address of the store; the user's own unless said.
    port : int
        Port on 127.0.0.1; 0 takes a free one.
    browser : bool
        Whether to open the browser once the pages stand.
    author : str, optional
        Name under which edits are saved; the user's name on this machine unless said.

    Raises
    ------
    InputError
        The port is taken.
    StoreError
        The store cannot be opened.
    """
    listening = _listening(port)
    with open_store(store) as opened, listening:
        if not opened.programmes.list():
            load_demos(opened)
        app = create_app(opened, Settings(author=author or ""))
        address = f"http://{LOCAL}:{listening.getsockname()[1]}/"
        print(f"Tussock serves {address}  (Ctrl-C stops it)", flush=True)
        threading.Thread(target=_compile, daemon=True).start()
        if browser:
            threading.Timer(0.8, webbrowser.open, (address,)).start()
        server = uvicorn.Server(uvicorn.Config(app, log_level="warning", timeout_graceful_shutdown=3))
        server.run(sockets=[listening])


def _listening(port: int) -> socket.socket:
    made = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        made.bind((LOCAL, port))
    except OSError as error:
        made.close()
        raise InputError(
            f"port {port} on {LOCAL} cannot be used: {error.strerror}; name another with --port, or 0 for a free one"
        ) from None
    return made


def _compile() -> None:
    """Have the kernels ready before the first page asks for them."""
    from tussock.studies.compile import compile_all

    compile_all(lambda name: None)
