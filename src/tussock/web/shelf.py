"""Files made on request and kept for a while: each set in a folder of its own, the last few of them."""

from __future__ import annotations

import shutil
import tempfile
import threading
import weakref
from collections import OrderedDict
from collections.abc import Callable
from pathlib import Path

_MOST = 3  # sets kept


class Shelf:
    """Folders of files, each made once; safe from many threads. They go with the shelf, or when the process ends."""

    def __init__(self) -> None:
        self._guard = threading.Lock()
        self._root: Path | None = None
        self._made: OrderedDict[str, Path] = OrderedDict()
        self._making: dict[str, threading.Lock] = {}

    def kept(self, key: str) -> Path | None:
        """Return the folder of a set that was made before, or None."""
        with self._guard:
            if key in self._made:
                self._made.move_to_end(key)
            return self._made.get(key)

    def folder(self, key: str, make: Callable[[Path], None]) -> Path:
        """Return the folder of a set, made now if it must be; blocks, so call it from a thread."""
        with self._guard:
            lock = self._making.setdefault(key, threading.Lock())
        with lock:
            found = self.kept(key)
            if found is not None:
                return found
            folder = Path(tempfile.mkdtemp(dir=self._place()))
            try:
                make(folder)
            except BaseException:
                shutil.rmtree(folder, ignore_errors=True)
                raise
            finally:
                with self._guard:
                    self._making.pop(key, None)
            with self._guard:
                self._made[key] = folder
                old = [self._made.popitem(last=False)[1] for _ in range(max(len(self._made) - _MOST, 0))]
        for one in old:
            shutil.rmtree(one, ignore_errors=True)
        return folder

    def _place(self) -> Path:
        with self._guard:
            if self._root is None:
                self._root = Path(tempfile.mkdtemp(prefix="tussock-shelf-"))
                weakref.finalize(self, shutil.rmtree, self._root, ignore_errors=True)
            return self._root
