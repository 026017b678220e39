"""A process killed in the middle of 200 random saves loses nothing that it acknowledged and spoils nothing."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
from pathlib import Path

from tussock.store import open_store
from tussock.store.backup import verify

SCRIPT = Path(__file__).with_name("killed.py")
SEED = 20261128
SAVES = {"sqlite": (200, 3), "postgresql": (60, 1)}  # how many, and how often it is killed on the way


def test_kill_in_the_middle_of_saves_loses_nothing_acknowledged(url: str) -> None:
    saves, kills = SAVES["postgresql" if url.startswith("postgresql") else "sqlite"]
    chance = random.Random(SEED)
    acknowledged: list[str] = []
    open_store(url).close()
    left = saves
    for kill in range(kills + 1):
        process = subprocess.Popen(
            [sys.executable, str(SCRIPT), url, str(SEED + kill), str(left)], stdout=subprocess.PIPE, text=True
        )
        assert process.stdout is not None
        lines = chance.randrange(20, 45) if kill < kills else left
        for _ in range(lines):
            acknowledged.append(process.stdout.readline())
            left -= 1
        if kill < kills:
            os.kill(process.pid, signal.SIGKILL)  # it is in the middle of its next save
            rest = process.stdout.read().splitlines(keepends=True)
            acknowledged += rest
            left -= len(rest)
        process.wait(timeout=60)
        process.stdout.close()
        _holds(url, acknowledged)
    assert left <= 0
    assert len(acknowledged) >= saves
    assert process.returncode == 0


def _holds(url: str, acknowledged: list[str]) -> None:
    with open_store(url) as store:
        verify(store.database)
        assert all(said.endswith("\n") for said in acknowledged)
        for said in acknowledged:
            kind, *what = said.split()
            if kind == "version":
                assert store.programmes.version(int(what[0]), int(what[1])).digest == what[2]
            elif kind == "file":
                assert store.files.get(what[0]).size > 0
            else:
                assert store.entries.get(what[0]).version is not None
        for programme in store.programmes.list():
            numbers = [v.number for v in store.programmes.versions(programme.id)]
            assert numbers == list(range(len(numbers), 0, -1)), "no version is missing"
