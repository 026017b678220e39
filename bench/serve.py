"""What the served workbench takes: start, first page, memory with ten clients, and from an edit to its answer.

    python bench/serve.py [--clients 10] [--edits 4] [--pause 8]

The server is a process of its own over a new store with both demos; the clients are pages in Debian's Chromium, which
Playwright drives. From an edit to its answer is measured on the desk that the pages stand on, without a browser: a
field set as typed, the new version saved, the study's result there.
"""

from __future__ import annotations

import argparse
import random
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
import urllib.request
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path

import numpy as np

from tussock.store import open_store
from tussock.studies.compile import compile_all
from tussock.web.demos import load_demos
from tussock.web.desk import Choice, Desk
from tussock.web.places import PLACES

STUDIES = ("heights", "travel", "geometry")
SEED = 20261128
SERVE = "from tussock.cli import main; main()"


def resident(pid: int) -> float:
    """Return the memory that a process holds [MB]."""
    for line in Path(f"/proc/{pid}/status").read_text().splitlines():
        if line.startswith("VmRSS:"):
            return float(line.split()[1]) / 1e3
    return float("nan")


def answers(address: str) -> None:
    """Wait until the server takes connections: it says its address a little earlier."""
    host, port = address.removeprefix("http://").rstrip("/").split(":")
    for _ in range(2000):
        try:
            socket.create_connection((host, int(port)), timeout=1.0).close()
            return
        except OSError:
            time.sleep(0.01)
    raise SystemExit("the server does not come up")


def page(address: str) -> float:
    """Return how long a page takes to arrive whole [s]."""
    began = time.perf_counter()
    with urllib.request.urlopen(address, timeout=120) as answer:
        answer.read()
    return time.perf_counter() - began


@contextmanager
def opened(places: list[str]) -> Iterator[None]:
    """Open pages in Chromium, each of somebody else, until their answers stand, and hold their websockets."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as player:
        browser = player.chromium.launch(
            executable_path=shutil.which("chromium"), args=["--no-sandbox", "--disable-gpu"]
        )
        pages = [browser.new_context().new_page() for _ in places]
        for shown, place in zip(pages, places, strict=True):
            shown.set_default_timeout(300_000.0)
            shown.goto(place, wait_until="commit")
        for shown in pages:
            shown.get_by_role("complementary", name="What moves it").wait_for()
        yield
        browser.close()


def served(folder: Path, clients: int) -> None:
    """Start the server twice (a new store, then one that is there) and measure it."""
    command = [sys.executable, "-c", SERVE, "serve", "--no-browser", "--port", "0", "--store", str(folder / "s.sqlite")]
    for words in ("a new store, both demos taken in", "a store that is there"):
        began = time.perf_counter()
        server = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        assert server.stdout is not None
        try:
            address = server.stdout.readline().split()[2]
            answers(address)
            up = time.perf_counter() - began
            first = page(address)
            print(f"start, {words}: {up:.2f} s (goal 4); first page {first:.2f} s after it (goal 1.5)")
            if words.startswith("a store"):
                places = [f"{address}work/{1 + i % 2}/{STUDIES[i % 3]}" for i in range(clients)]
                with ThreadPoolExecutor(clients) as pool:
                    took = sorted(pool.map(page, places))
                print(f"{clients} clients open a page at once: slowest {took[-1]:.2f} s")
                with opened(places):
                    held = resident(server.pid)
                print(f"memory with {clients} open pages and their websockets: {held:.0f} MB (goal 600)")
        finally:
            server.send_signal(signal.SIGINT)
            server.wait(timeout=30)


def edited(folder: Path, clients: int, edits: int, pause: float) -> None:
    """Measure from edit to answer: one client alone, then all at once, each on a programme of its own."""
    compile_all(lambda name: None)
    with open_store(folder / "edits.sqlite") as store:
        desk = Desk(store)
        programmes = []
        while len(programmes) < clients:
            programmes += [v.programme_id for v in load_demos(store)]
        for number in programmes[:2]:
            for name in STUDIES:
                desk.result(store.programmes.version(number), PLACES[name], Choice())
        took: dict[str, list[float]] = {name: [] for name in STUDIES}
        lock = threading.Lock()

        def client(number: int, seed: int, wait: float) -> None:
            chance = random.Random(seed)
            for _ in range(edits):
                for name in STUDIES:
                    time.sleep(chance.uniform(0.5, 1.5) * wait)
                    version = store.programmes.version(number)
                    typed = f"{chance.uniform(455, 465):.2f} kg"
                    began = time.perf_counter()
                    edit = store.programmes.edit(version, "vehicle.corners.front_left", typed)
                    saved = store.programmes.save(number, edit.text, base=version.number, author="bench", note=typed)
                    desk.result(saved, PLACES[name], Choice())
                    with lock:
                        took[name].append(time.perf_counter() - began)

        for words, count, wait in (
            ("one client", 1, 0.0),
            (f"{clients} clients, an edit every {pause:g} s", clients, pause),
        ):
            for seconds in took.values():
                seconds.clear()
            with ThreadPoolExecutor(count) as pool:
                for job in [pool.submit(client, programmes[i], SEED + i, wait) for i in range(count)]:
                    job.result()
            for name, seconds in took.items():
                half, most = 1e3 * np.percentile(seconds, [50, 95])
                print(f"{words}: {name} {half:.0f} ms, p95 {most:.0f} ms (goal 300), {len(seconds)} edits")


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--clients", type=int, default=10)
    parser.add_argument("--edits", type=int, default=4, help="of each client for each study; 0 for none")
    parser.add_argument("--pause", type=float, default=8.0, help="between two edits of a client [s]")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        served(Path(folder), asked.clients)
        if asked.edits:
            edited(Path(folder), asked.clients, asked.edits, asked.pause)


if __name__ == "__main__":
    main()
