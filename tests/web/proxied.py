"""A proxy that ends https in front of a server: it passes the host it was asked for and says by which protocol."""

from __future__ import annotations

import asyncio
import ssl
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

CERTIFICATE = Path(__file__).with_name("bench.pem")
CALLER = "203.0.113.9"
"""From where people come, as the proxy says (RFC 5737: an address of documentation, nobody's)."""


@contextmanager
def https_before(port: int) -> Iterator[str]:
    """Answer by https for a server on a port of this machine; yields the address, without a slash at the end."""
    loop = asyncio.new_event_loop()
    tls = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    tls.load_cert_chain(CERTIFICATE)

    async def answer(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        try:
            head = await reader.readuntil(b"\r\n\r\n")
            behind, before = await asyncio.open_connection("127.0.0.1", port)
        except (asyncio.IncompleteReadError, ConnectionError):
            writer.close()
            return
        before.write(_told(head))
        pumps = [asyncio.ensure_future(_pump(reader, before)), asyncio.ensure_future(_pump(behind, writer))]
        await asyncio.wait(pumps, return_when=asyncio.FIRST_COMPLETED)
        for pump in pumps:
            pump.cancel()
        for end in (before, writer):
            end.close()

    async def close(server: asyncio.Server) -> None:
        server.close()
        others = asyncio.all_tasks() - {asyncio.current_task()}
        for task in others:
            task.cancel()
        await asyncio.gather(*others, return_exceptions=True)

    thread = threading.Thread(target=loop.run_forever)  # the browser of the tests holds the loop of their own thread
    thread.start()
    begun = asyncio.run_coroutine_threadsafe(asyncio.start_server(answer, "127.0.0.1", 0, ssl=tls), loop)
    server = begun.result()
    try:
        yield f"https://127.0.0.1:{server.sockets[0].getsockname()[1]}"
    finally:
        asyncio.run_coroutine_threadsafe(close(server), loop).result()
        loop.call_soon_threadsafe(loop.stop)
        thread.join()
        loop.close()


async def _pump(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
    try:
        while piece := await reader.read(1 << 16):
            writer.write(piece)
            await writer.drain()
    except (ConnectionError, ssl.SSLError):
        return


def _told(head: bytes) -> bytes:
    """Return the head of a request with what a proxy says of it; each has a connection of its own."""
    first, *lines = head.removesuffix(b"\r\n\r\n").split(b"\r\n")
    upgrades = any(line.lower().startswith(b"upgrade:") for line in lines)
    kept = [line for line in lines if upgrades or not line.lower().startswith(b"connection:")]
    told = [b"X-Forwarded-Proto: https", b"X-Forwarded-For: " + CALLER.encode()]
    return b"\r\n".join([first, *kept, *told, *([] if upgrades else [b"Connection: close"])]) + b"\r\n\r\n"
