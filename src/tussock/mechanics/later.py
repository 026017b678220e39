"""A table whose entries are made when first asked for: of what a solved linkage could tell most is not asked."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Generic, TypeVar

V = TypeVar("V")


class Later(Mapping[str, V], Generic[V]):
    """Values by name, each made once, when it is first asked for; `make` takes the name."""

    def __init__(self, names: Iterable[str], make: Callable[[str], V]) -> None:
        self._names = dict.fromkeys(names)
        self._make = make
        self._made: dict[str, V] = {}

    def __getitem__(self, name: str) -> V:
        if name not in self._names:
            raise KeyError(name)
        if name not in self._made:
            self._made[name] = self._make(name)
        return self._made[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._names)

    def __len__(self) -> int:
        return len(self._names)
