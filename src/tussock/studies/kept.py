"""What studies build, kept by all that it is made of, so that one version of a programme takes it from the one before.

An edit changes one field; most axles, maps and valves of the next version are the same to the last figure. A key must
therefore name everything that goes in, never the version. `Job.memo` keeps what belongs to one version.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import TypeVar, cast

T = TypeVar("T")

MOST = 1000
"""Things kept; of the demos a built axle takes 12 kB, a map 0.15 to 0.5 MB."""


MOST_NUMBERS = 20_000
"""Single figures kept beside them, so that many small ones push out nothing large."""


class Kept:
    """Things by content, the ones not asked for longest dropped first; safe from many threads."""

    def __init__(self, most: int = MOST) -> None:
        self._most = most
        self._things: OrderedDict[Hashable, object] = OrderedDict()
        self._keys: dict[int, Hashable] = {}
        self._numbers: OrderedDict[Hashable, float] = OrderedDict()
        self._lock = threading.Lock()

    def once(self, key: Hashable, make: Callable[[], T]) -> T:
        """Return what is kept under a key, made now if it is not there; an error of `make` is not kept."""
        with self._lock:
            if key in self._things:
                self._things.move_to_end(key)
                return cast("T", self._things[key])
        made = make()
        with self._lock:
            first = self._things.setdefault(key, made)  # two may have made it: all go on with one
            self._keys[id(first)] = key
            while len(self._things) > self._most:
                _, old = self._things.popitem(last=False)
                self._keys.pop(id(old), None)
        return cast("T", first)

    def of(self, thing: object, what: tuple[Hashable, ...], make: Callable[[], T]) -> T:
        """Return what is made of a thing that is kept here, under the thing's own key and `what`; kept likewise.

        Of a thing that is not kept here it is made anew.
        """
        key = self._key(thing)
        return make() if key is None else self.once((key, *what), make)

    def number_of(self, thing: object, what: tuple[Hashable, ...], make: Callable[[], float]) -> float:
        """Return one figure of a thing that is kept here, as `of`."""
        own = self._key(thing)
        if own is None:
            return make()
        key = (own, *what)
        with self._lock:
            if key in self._numbers:
                self._numbers.move_to_end(key)
                return self._numbers[key]
        made = make()
        with self._lock:
            self._numbers[key] = made
            while len(self._numbers) > MOST_NUMBERS:
                self._numbers.popitem(last=False)
        return made

    def _key(self, thing: object) -> Hashable | None:
        with self._lock:
            key = self._keys.get(id(thing))
            return key if key is not None and self._things.get(key) is thing else None
