"""A store for each test, on both databases: SQLite in a folder, PostgreSQL in a private cluster of its own."""

from __future__ import annotations

import getpass
import os
import shutil
import subprocess
import tempfile
import uuid
from collections.abc import Iterator
from pathlib import Path

import psycopg
import pytest

from tussock.store import Store, open_store

SAMPLE = Path(__file__).parents[2] / "docs" / "examples" / "tarn-small.yaml"
FOLDERS = sorted(Path("/usr/lib/postgresql").glob("*/bin"), key=lambda p: int(p.parent.name))
NOBODY = "nobody"  # initdb refuses to run as root


@pytest.fixture(scope="session")
def small() -> str:
    """The invented Tarn of the tutorial, which names no files."""
    return SAMPLE.read_text(encoding="utf-8")


@pytest.fixture(scope="session")
def cluster() -> Iterator[str]:
    """Address of a PostgreSQL server of this session's own, on a socket in a folder; skipped where there is none."""
    if not FOLDERS or not (FOLDERS[-1] / "initdb").exists():
        pytest.skip("no PostgreSQL here: its programs (Debian package postgresql) are not in /usr/lib/postgresql")
    binaries = FOLDERS[-1]
    root = os.geteuid() == 0
    if root and shutil.which("setpriv") is None:
        pytest.skip("PostgreSQL does not run as root, and setpriv (Debian package util-linux) is not there")
    user = NOBODY if root else getpass.getuser()
    drop = ["setpriv", f"--reuid={NOBODY}", "--regid=nogroup", "--clear-groups"] if root else []
    # a socket's path has at most 107 characters: pytest's own folders may be longer
    with tempfile.TemporaryDirectory(prefix="pg-") as folder:
        if root:
            shutil.chown(folder, NOBODY)
        place = Path(folder)

        def run(*command: object) -> None:
            subprocess.run([*drop, *map(str, command)], check=True, capture_output=True, cwd=folder, timeout=120)

        run(binaries / "initdb", "-D", place / "data", "-A", "trust", "-U", user, "-E", "UTF8", "--locale=C", "-N")
        settings = f"-c listen_addresses='' -c unix_socket_directories='{folder}' -c fsync=off -c shared_buffers=16MB"
        run(binaries / "pg_ctl", "-D", place / "data", "-o", settings, "-l", place / "log", "-w", "start")
        try:
            yield f"postgresql://{user}@/{{}}?host={folder}"
        finally:
            run(binaries / "pg_ctl", "-D", place / "data", "-m", "immediate", "-w", "stop")


@pytest.fixture(params=["sqlite", "postgresql"])
def url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """Address of an empty store."""
    if request.param == "sqlite":
        yield str(tmp_path / "store.sqlite")
        return
    address = str(request.getfixturevalue("cluster"))
    name = f"t{uuid.uuid4().hex}"
    with psycopg.connect(address.format("postgres"), autocommit=True) as server:
        server.execute(f"CREATE DATABASE {name}")
    yield address.format(name)
    with psycopg.connect(address.format("postgres"), autocommit=True) as server:
        server.execute(f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture
def store(url: str) -> Iterator[Store]:
    with open_store(url) as opened:
        yield opened
