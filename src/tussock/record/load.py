"""Read a programme: every fault at once, with line, field path, what was found and what would be right."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path as FolderPath
from typing import Any

from pydantic import ValidationError

from tussock.record.attached import Attached, inside_folder, read_attached
from tussock.record.explain import explain
from tussock.record.hardpoint_files import with_hardpoint_files
from tussock.record.problems import Problem, ProgrammeError
from tussock.record.programme import FORMAT, Programme
from tussock.record.tree import Tree, read_tree

LARGEST = 5_000_000
"""Bytes of a programme file; a larger one is refused before it is read."""


@dataclass(frozen=True)
class Loaded:
    """A programme as read: the models, the text that it came from, and what identifies this version.

    Attributes
    ----------
    programme : Programme
        The validated models.
    text : str
        The document as written.
    path : pathlib.Path or None
        Where it was read from; None for a text.
    name : str
        What it is called in faults.
    digest : str
        SHA-256 of the text, hexadecimal.
    files : mapping
        Bytes of every dyno file by its path as written; empty if files were not checked.
    roads : mapping
        Bytes of every measured road likewise.
    hashes : mapping
        SHA-256 of every attached file by its path as written; empty if files were not checked.
    """

    programme: Programme
    text: str
    path: FolderPath | None
    name: str
    digest: str
    files: Mapping[str, bytes] = field(default_factory=dict)
    roads: Mapping[str, bytes] = field(default_factory=dict)
    hashes: Mapping[str, str] = field(default_factory=dict)

    @cached_property
    def tree(self) -> Tree:
        """The document as plain data, with the place of every field; changing it changes nothing here."""
        return read_tree(self.text, name=self.name)

    @cached_property
    def document(self) -> Any:
        """The document with its comments, for writing; changing it changes nothing here."""
        from tussock.record.save import read_document

        return read_document(self.text, self.name)

    def file(self, written: str) -> FolderPath:
        """Return where an attached file lies.

        Raises
        ------
        ProgrammeError
            The programme was not read from a folder, or the path leaves that folder.
        """
        inside = None if self.path is None else inside_folder(self.path.parent, written)
        if inside is None:
            wrong = "a programme read from text has no folder" if self.path is None else "the path leaves the folder"
            raise ProgrammeError([Problem(file=self.name, line=0, path="", found=repr(written[:80]), wrong=wrong)])
        return inside


def load(path: str | FolderPath, *, check_files: bool = True) -> Loaded:
    """Read a programme file.

    Parameters
    ----------
    path : str or pathlib.Path
        The YAML file.
    check_files : bool
        Also look for the files that it names, take their content hashes and read the dyno files and measured roads.

    Returns
    -------
    Loaded
        The programme.

    Raises
    ------
    ProgrammeError
        With every fault of the file in `problems`.
    """
    path = FolderPath(path)
    text = _read_text(path)
    return read(text, name=path.name, path=path, check_files=check_files)


def loads(text: str, name: str = "programme") -> Loaded:
    """Read a programme from a text; the files that it names are not looked for.

    Raises
    ------
    ProgrammeError
        With every fault of the text in `problems`.
    """
    if len(text) > LARGEST:
        raise _whole(name, f"{len(text)} characters; a programme has at most {LARGEST}")
    return read(text, name=name, path=None, check_files=False)


def _whole(name: str, wrong: str, example: str = "") -> ProgrammeError:
    return ProgrammeError([Problem(file=name, line=0, path="", found="", wrong=wrong, example=example)])


def _read_text(path: FolderPath) -> str:
    try:
        if path.is_dir():
            raise _whole(str(path), "this is a folder, not a programme file", str(path / "programme.yaml"))
        if not path.is_file():
            raise _whole(str(path), "there is no such file")
        size = path.stat().st_size
        if size > LARGEST:
            raise _whole(path.name, f"the file has {size / 1e6:.1f} MB; a programme has at most {LARGEST / 1e6:.0f} MB")
        with path.open("rb") as stream:
            raw = stream.read(LARGEST + 1)
    except ProgrammeError:
        raise
    except (OSError, ValueError) as error:  # ValueError: a null character in the path
        raise _whole(str(path), f"the file cannot be read: {getattr(error, 'strerror', None) or error}") from None
    if len(raw) > LARGEST:
        raise _whole(path.name, f"a programme has at most {LARGEST / 1e6:.0f} MB")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        wrong = "a binary file" if b"\x00" in raw else f"not UTF-8 text: byte {error.start} (0x{raw[error.start]:02x})"
        raise ProgrammeError([Problem(file=path.name, line=line, path="", found="", wrong=wrong)]) from None
    return text


def read(text: str, *, name: str, path: FolderPath | None, check_files: bool, tree: Tree | None = None) -> Loaded:
    """Read a text as if it stood in the file `path`; what `load` and `loads` share. `tree` is the text read before."""
    if "\x00" in text:
        raise _whole(name, "a binary file")
    tree = read_tree(text, name=name) if tree is None else tree
    if tree.data is None:
        raise _whole(name, "the file is empty", "format: 1")
    if not isinstance(tree.data, dict):
        raise ProgrammeError(
            [
                *tree.problems,
                Problem(
                    file=name,
                    line=tree.line(()) or 1,
                    path="",
                    found=f"a {type(tree.data).__name__}",
                    wrong="a programme is a mapping of fields",
                    example="format: 1",
                ),
            ]
        )
    _check_format(tree, name)
    problems = list(tree.problems)
    programme: Programme | None = None
    data, faults = with_hardpoint_files(tree, name, None if path is None else path.parent)
    problems += faults
    try:
        programme = Programme.model_validate(data)
    except ValidationError as error:
        problems += explain(error, tree, name)
    attached = Attached()
    if path is not None and check_files:
        attached = read_attached(tree, name, path.parent)
        problems += attached.problems
    if problems or programme is None:
        order = sorted(enumerate(problems), key=lambda p: (p[1].line, p[0]))
        raise ProgrammeError(p for _, p in order)
    digest = hashlib.sha256(text.encode()).hexdigest()
    loaded = Loaded(
        programme=programme,
        text=text,
        path=path,
        name=name,
        digest=digest,
        files=attached.contents,
        roads=attached.roads,
        hashes=attached.hashes,
    )
    loaded.__dict__["tree"] = tree  # read already
    return loaded


def _check_format(tree: Tree, name: str) -> None:
    """Refuse a newer document before anything else: its other faults would be none."""
    given = tree.data.get("format")
    if isinstance(given, int) and not isinstance(given, bool) and given > FORMAT:
        raise ProgrammeError(
            [
                Problem(
                    file=name,
                    line=tree.line(("format",)),
                    path="format",
                    found=str(given)[:40],
                    wrong=f"written in document format {str(given)[:40]}; this version of the program reads formats "
                    f"up to {FORMAT}. Open it with a newer version of the program",
                    example=f"format: {FORMAT}",
                )
            ]
        )
