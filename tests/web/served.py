"""What the tests of served pages name: the server, sizes of screens, and what went wrong in a page."""

from __future__ import annotations

import json
import os
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

SCREEN, PHONE = (1440, 900), (390, 844)
CHROMIUM = shutil.which("chromium")
EXAMPLE = Path(__file__).parents[2] / "docs" / "examples" / "tarn-small.yaml"
SMALL = EXAMPLE.read_text(encoding="utf-8")
"""An invented programme of one fit-out and one build: its studies take little time."""
PATIENCE = 240.0
"""Seconds after which what has not come counts as missing, also on a busy machine; no test judges how long it took."""


@dataclass
class Server:
    """A served workbench; `stop` and `start` keep its store and its port."""

    store: str
    port: int
    options: tuple[str, ...] = ()
    process: subprocess.Popen[bytes] | None = None
    log: Path = field(default_factory=Path)

    @property
    def url(self) -> str:
        """Its address, without a slash at the end."""
        return f"http://127.0.0.1:{self.port}"

    def get(self, path: str) -> Any:
        """Return what the REST interface answers."""
        with urllib.request.urlopen(self.url + path, timeout=PATIENCE) as answer:
            return json.load(answer)

    def post(self, path: str, body: bytes, kind: str = "application/json") -> Any:
        """Send a change to the REST interface; return its answer."""
        headers = {"Content-Type": kind, "X-Tussock-Token": self.get("/api/session")["token"]}
        request = urllib.request.Request(self.url + path, data=body, headers=headers, method="POST")
        with urllib.request.urlopen(request, timeout=PATIENCE) as answer:
            return json.load(answer)

    def take(self, text: str) -> int:
        """Take a programme in; return its number."""
        return int(self.post("/api/programmes", json.dumps({"text": text}).encode())["programme"])

    def copy(self, programme: int) -> int:
        """Take a programme of the store in once more, with its files; return its number."""
        with urllib.request.urlopen(f"{self.url}/export/{programme}/1.zip", timeout=PATIENCE) as answer:
            archive = answer.read()
        return int(self.post("/api/programmes/import?name=copy.zip", archive, "application/zip")["programme"])

    def start(self) -> None:
        """Serve, and return when the pages answer."""
        call = "from tussock.cli import main; main()"
        arguments = ("serve", "--store", self.store, "--port", str(self.port), "--no-browser", *self.options)
        with self.log.open("ab") as out:
            self.process = subprocess.Popen(
                [sys.executable, "-c", call, *arguments], stdout=out, stderr=subprocess.STDOUT, env=dict(os.environ)
            )
        for _ in range(int(PATIENCE / 0.1)):
            if self.process.poll() is not None:
                break
            try:
                with urllib.request.urlopen(f"{self.url}/phone", timeout=30):
                    return
            except OSError:
                time.sleep(0.1)
        self.stop()
        raise RuntimeError(f"the server did not come up: {self.log.read_text(errors='replace')[-2000:]}")

    def stop(self, how: signal.Signals = signal.SIGINT) -> None:
        """Stop serving."""
        if self.process is None:
            return
        self.process.send_signal(how)
        try:
            self.process.wait(timeout=30)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
        self.process = None


def free_port() -> int:
    """Return a port of 127.0.0.1 that nobody listens on."""
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


@dataclass
class Watched:
    """What went wrong in the pages of a test; `allowed` holds parts of console errors that the test means to cause."""

    wrong: list[str] = field(default_factory=list)
    allowed: list[str] = field(default_factory=list)

    def left(self) -> list[str]:
        """Return what no test meant."""
        return [w for w in self.wrong if not any(a in w for a in self.allowed)]


OpenPage = Callable[..., Any]


def taken_out(page: Any) -> tuple[int, list[str]]:
    """Fetch what a page offers to take away; return how many files, and which are not what their names say.

    Each drawing costs a good part of a second: the first picture of a page is fetched in every form, of the others the
    figures.
    """
    links = [str(link) for link in page.locator("a[download]").evaluate_all("all => all.map((a) => a.href)")]
    first = {
        form: next((link for link in links if urlsplit(link).path.endswith(form)), "") for form in (".svg", ".png")
    }
    asked = [link for link in links if not urlsplit(link).path.endswith((".svg", ".png"))]
    asked += [link for link in first.values() if link]
    wrong = []
    for link in asked:
        with urllib.request.urlopen(link, timeout=PATIENCE) as answer:
            content = answer.read()
        begins, least = BEGINS[urlsplit(link).path.rpartition(".")[2]]
        if not content.startswith(begins) or len(content) < least:
            wrong.append(f"{link}: {content[:80]!r}")
    return len(asked), wrong


BEGINS = {
    "svg": (b"<?xml", 1000),
    "png": (b"\x89PNG", 1000),
    "csv": (b"", 5),
    "yaml": (b"", 1000),
    "zip": (b"PK", 1000),
    "pdf": (b"%PDF", 1000),
}
"""How a file of a kind begins, and how many bytes it has at least."""
