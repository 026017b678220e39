"""The packaged programmes taken into a store, with the files that they name."""

from __future__ import annotations

from importlib.resources import as_file, files
from typing import TYPE_CHECKING

from tussock.store.exchange import take_folder

if TYPE_CHECKING:
    from tussock.store import Store, Version

DEMOS = ("tarn", "dunnock")


def load_demos(store: Store) -> tuple[Version, ...]:
    """Take both invented programmes into a store; returns their first versions."""
    return tuple(load_demo(store, name) for name in DEMOS)


def load_demo(store: Store, name: str) -> Version:
    """Take one of `DEMOS` into a store; returns its first version."""
    with as_file(files("tussock") / "data" / name) as folder:
        note = "invented demo, describes no real vehicle"
        return take_folder(store, folder / "programme.yaml", author="Tussock", note=note)
