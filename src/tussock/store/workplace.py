"""Versions laid out in folders of this process, where they are read like any programme file; and jobs kept open."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import tempfile
import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from tussock.errors import InputError
from tussock.record.attached import inside_folder
from tussock.record.edit import set_field
from tussock.record.load import Loaded, load
from tussock.store.errors import room
from tussock.store.files import PIECE, Files

if TYPE_CHECKING:
    from tussock.studies.job import Job
    from tussock.studies.kept import Kept

K = TypeVar("K", bound=Hashable)
T = TypeVar("T")

KEPT = 24
"""Programmes kept open: versions that people look at, one after the other."""
NAME = "programme.yaml"


def content_key(digest: str, files: Mapping[str, str]) -> str:
    """Return the SHA-256 of all that a version is: its text and its files."""
    return hashlib.sha256(json.dumps([digest, sorted(files.items())]).encode()).hexdigest()


class Workplace:
    """Programmes read from texts and stored files, each once."""

    def __init__(self, files: Files) -> None:
        self._files = files
        self._root = Path(tempfile.mkdtemp(prefix="tussock-"))
        self._read: OrderedDict[str, Loaded] = OrderedDict()
        self._jobs: OrderedDict[str, Job] = OrderedDict()
        self._edits: OrderedDict[tuple[str, str, str], Loaded] = OrderedDict()
        self._edited: OrderedDict[str, Loaded] = OrderedDict()  # by what they would be as versions
        self._kept: Kept | None = None
        self._lock = threading.Lock()
        self._making: dict[str, threading.Lock] = {}

    def close(self) -> None:
        """Remove the folders."""
        shutil.rmtree(self._root, ignore_errors=True)

    def read(self, text: str, files: Mapping[str, str]) -> Loaded:
        """Return a text as a programme, its files beside it.

        Raises
        ------
        ProgrammeError
            With everything that is wrong in the text, or with files that it names and `files` does not hold.
        InputError
            A path leads out of the programme's folder.
        """
        key = content_key(digest_of(text), files)
        return self._once(self._read, key, lambda: self._lay_out(key, text, files))

    def edit(self, text: str, files: Mapping[str, str], path: str, typed: str) -> Loaded:
        """Return a text with one field as typed, the files as they are; raises as `set_field`.

        Kept until it is saved: what is typed is checked first and saved then, and reading it takes longest of both.
        """
        before = self.read(text, files)
        key = (content_key(before.digest, files), path, typed)
        made = self._once(self._edits, key, lambda: set_field(before, path, typed))
        with self._lock:
            self._edited[content_key(made.digest, files)] = made
            while len(self._edited) > KEPT:
                self._edited.popitem(last=False)
        return made

    def job(self, text: str, files: Mapping[str, str]) -> Job:
        """Return the job of a text, opened once: what its studies share stays with it."""
        from tussock.studies.job import job_of
        from tussock.studies.kept import Kept

        with self._lock:
            if self._kept is None:
                self._kept = Kept()
        loaded = self.read(text, files)
        key = content_key(loaded.digest, files)
        return self._once(self._jobs, key, lambda: job_of(loaded, self._kept))

    def _once(self, kept: OrderedDict[K, T], key: K, make: Callable[[], T]) -> T:
        """Return what is kept under a key; made by whoever asks first, while those who want another go on."""
        with self._lock:
            if key in kept:
                kept.move_to_end(key)
                return kept[key]
            making = self._making.setdefault(f"{id(kept)} {key}", threading.Lock())
        with making:
            with self._lock:
                if key in kept:
                    return kept[key]
            with room():
                made = make()
            with self._lock:
                kept[key] = made
                while len(kept) > KEPT:
                    kept.popitem(last=False)
                self._making.pop(f"{id(kept)} {key}", None)
        return made

    def _lay_out(self, key: str, text: str, files: Mapping[str, str]) -> Loaded:
        folder = self._root / "versions" / key
        folder.mkdir(parents=True, exist_ok=True)
        for path, digest in files.items():
            place = inside_folder(folder, path)
            if place is None or path == NAME:
                raise InputError(f"{path[:80]!r} is no path of a file beside a programme; write dyno/front-a.csv")
            if not place.exists():
                place.parent.mkdir(parents=True, exist_ok=True)
                _link(self._content(digest), place)
        (folder / NAME).write_text(text, encoding="utf-8", newline="\n")
        with self._lock:
            edited = self._edited.get(key)
        if edited is None:
            return load(folder / NAME)
        read = replace(edited, path=folder / NAME)
        read.__dict__["tree"] = edited.tree
        return read

    def _content(self, digest: str) -> Path:
        """Return a stored file in this process's folder, written once."""
        place = self._root / "files" / digest
        if not place.exists():
            place.parent.mkdir(parents=True, exist_ok=True)
            part = place.with_suffix(".part")
            with self._files.open(digest) as stream, part.open("wb") as out:
                shutil.copyfileobj(stream, out, PIECE)
            part.replace(place)
        return place


def digest_of(text: str) -> str:
    """Return the SHA-256 of a text; InputError for what cannot be written as UTF-8."""
    try:
        return hashlib.sha256(text.encode()).hexdigest()
    except UnicodeEncodeError:
        raise InputError("the text holds half a character; write it again") from None


def _link(source: Path, place: Path) -> None:
    try:
        os.link(source, place)
    except OSError:  # another file system, or one without links
        shutil.copyfile(source, place)
