"""The packaged programmes taken into a store, with the files that they name."""

from __future__ import annotations

from importlib.resources import as_file, files
from typing import TYPE_CHECKING

from tussock.record import load

if TYPE_CHECKING:
    from tussock.store import Store, Version

DEMOS = ("tarn", "dunnock")


def load_demos(store: Store) -> tuple[Version, ...]:
    """Take both invented programmes into a store; returns their first versions."""
    return tuple(_taken(store, name) for name in DEMOS)


def _taken(store: Store, name: str) -> Version:
    with as_file(files("tussock") / "data" / name) as folder:
        loaded = load(folder / "programme.yaml")
        attached = {}
        for path in loaded.hashes:
            with loaded.file(path).open("rb") as stream:
                attached[path] = store.files.attach(stream, path).digest
        return store.programmes.create(
            loaded.text, author="Tussock", note="invented demo, describes no real vehicle", files=attached
        )
