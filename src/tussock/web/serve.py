"""`tussock serve`: opens the store, takes in the demos where it is empty, serves the pages, opens the browser."""

from __future__ import annotations

import socket
import ssl
import threading
import webbrowser
from pathlib import Path

import uvicorn

from tussock.errors import InputError
from tussock.store import open_store
from tussock.web.app import Settings, create_app
from tussock.web.demos import load_demos
from tussock.web.plain import must_sign_in

LOCAL = "127.0.0.1"
_STOPPED = (
    "The workbench has stopped. Every save that a page confirmed is in the store; a study under way is asked anew."
)


def serve(
    *,
    store: str | Path | None,
    port: int,
    browser: bool,
    author: str | None,
    host: str = LOCAL,
    certificate: Path | None = None,
    key: Path | None = None,
    accounts: bool = False,
    empty: bool = False,
    wait: float = 10.0,
) -> None:
    """Serve the workbench until it is stopped.

    Parameters
    ----------
    store : str or pathlib.Path, optional
        Address of the store; the user's own unless said.
    port : int
        Port; 0 takes a free one.
    browser : bool
        Whether to open the browser once the pages stand.
    author : str, optional
        Name under which edits are saved; the user's name on this machine unless said.
    host : str
        Address to answer on; any other than this machine's own asks people to sign in.
    certificate, key : Path, optional
        Files in PEM; with them it is served by https.
    accounts : bool
        Whether people sign in on this machine too: a proxy in front of Tussock answers others.
    empty : bool
        Whether an empty store stays so; else it begins with both invented vehicles.
    wait : float
        How long a save waits for a store that another program holds [s].

    Raises
    ------
    InputError
        The port is taken, the certificate cannot be read, or other machines would be answered and nobody is admin.
    StoreError
        The store cannot be opened.
    """
    if (certificate is None) != (key is None):
        raise InputError("https wants both --certificate and --key, as files in PEM")
    if certificate is not None:
        _check_certificate(certificate, key)
    listening = _listening(host, port)
    with open_store(store, patience=wait) as opened, listening:
        if not empty and not opened.programmes.list():
            load_demos(opened)
        signing = must_sign_in(host, opened, accounts=accounts)
        app = create_app(opened, Settings(author=author or "", accounts=signing))
        scheme = "http" if certificate is None else "https"
        address = f"{scheme}://{_written(host)}:{listening.getsockname()[1]}/"
        print(f"Tussock serves {address}  (Ctrl-C stops it)", flush=True)
        threading.Thread(target=_compile, daemon=True).start()
        if browser:
            threading.Timer(0.8, webbrowser.open, (address,)).start()
        config = uvicorn.Config(
            app,
            log_level="warning",
            timeout_graceful_shutdown=3,
            server_header=False,
            ssl_certfile=certificate,
            ssl_keyfile=key,
            ws_max_size=8_000_000,
        )
        try:
            uvicorn.Server(config).run(sockets=[listening])
        except KeyboardInterrupt:
            raise KeyboardInterrupt(_STOPPED) from None
        finally:
            app.state.jobs.close()


def _written(host: str) -> str:
    """Return an address as a browser takes it; the one that stands for all of this machine's is not one."""
    if host in ("0.0.0.0", "::"):
        return socket.gethostname()
    return f"[{host}]" if ":" in host else host


def _check_certificate(certificate: Path, key: Path | None) -> None:
    try:
        ssl.create_default_context(ssl.Purpose.CLIENT_AUTH).load_cert_chain(certificate, key)
    except (OSError, ssl.SSLError) as error:
        raise InputError(f"certificate and key cannot be used: {error.strerror or error}") from None


def _listening(host: str, port: int) -> socket.socket:
    made = socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET, socket.SOCK_STREAM)
    made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        made.bind((host, port))
        made.listen()  # whoever comes between the address being said and the pages standing waits instead of failing
    except OSError as error:
        made.close()
        raise InputError(
            f"port {port} on {host} cannot be used: {error.strerror}; name another with --port, or 0 for a free one"
        ) from None
    return made


def _compile() -> None:
    """Have the kernels ready before the first page asks for them."""
    from tussock.studies.compile import compile_all

    compile_all(lambda name: None)
