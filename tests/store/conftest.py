"""A store for each test, on both databases: SQLite in a folder, PostgreSQL in a private cluster of its own."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tussock.store import Store, open_store

SAMPLE = Path(__file__).parents[2] / "docs" / "examples" / "tarn-small.yaml"


@pytest.fixture(scope="session")
def small() -> str:
    """The invented Tarn of the tutorial, which names no files."""
    return SAMPLE.read_text(encoding="utf-8")


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with open_store(tmp_path / "store.sqlite") as opened:
        yield opened
