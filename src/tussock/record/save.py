"""Write a programme back: comments kept, one field changed at a time, files replaced in one step."""

from __future__ import annotations

import io
import os
import tempfile
from contextlib import suppress
from pathlib import Path
from typing import Any

from tussock.errors import InputError
from tussock.record.load import Loaded, load, read
from tussock.record.problems import Problem, ProgrammeError
from tussock.record.view import nearest


def _yaml() -> Any:
    from ruamel.yaml import YAML

    yaml = YAML(typ="rt")
    yaml.preserve_quotes = True
    yaml.width = 4096  # lines stay as long as they were written
    yaml.indent(mapping=2, sequence=4, offset=2)
    return yaml


def read_document(text: str) -> Any:
    """Return the document with its comments; `text` must have passed `loads`."""
    return _yaml().load(text)


def dump(document: Any) -> str:
    """Return a document as YAML text, its comments kept.

    Parameters
    ----------
    document : mapping
        As `Loaded.document` gives it.

    Returns
    -------
    str
        YAML; reading it gives the same programme.
    """
    stream = io.StringIO()
    _yaml().dump(document, stream)
    return stream.getvalue()


def with_field(loaded: Loaded, path: str, value: Any) -> Loaded:
    """Return a new version of a programme with one field changed, checked like any other.

    Parameters
    ----------
    loaded : Loaded
        The version to change; it stays as it is.
    path : str
        Field path such as `vehicle.axles.front.spring.rate`; entries of lists by their place from 0.
    value : str, int, float, bool, None, list or dict
        What to write there, in trade units: `"28 N/mm"`.

    Returns
    -------
    Loaded
        The new version; nothing is written to a file.

    Raises
    ------
    ProgrammeError
        There is no such place, or the new value is wrong there.
    """
    document = read_document(loaded.text)
    keys = path.split(".")
    node: Any = document
    for i, key in enumerate(keys[:-1]):
        node = _child(node, key, loaded.name, ".".join(keys[: i + 1]))
    _set(node, keys[-1], value, loaded.name, path)
    text = dump(document)
    return read(text, name=loaded.name, path=loaded.path, check_files=bool(loaded.hashes))


def _no_such(name: str, path: str, wrong: str) -> ProgrammeError:
    return ProgrammeError([Problem(file=name, line=0, path=path, found="nothing", wrong=wrong)])


def _child(node: Any, key: str, name: str, path: str) -> Any:
    if isinstance(node, dict):
        for own in node:
            if str(own) == key:
                return node[own]
        raise _no_such(name, path, f"there is no such field; {nearest(key, [str(k) for k in node])}")
    if isinstance(node, list):
        if key.isdecimal() and int(key) < len(node):
            return node[int(key)]
        raise _no_such(name, path, f"the list has {len(node)} entries, counted from 0")
    raise _no_such(name, path, "there are no fields inside this one")


def _set(node: Any, key: str, value: Any, name: str, path: str) -> None:
    if isinstance(node, dict):
        own = next((k for k in node if str(k) == key), key)  # a new field is checked with the document
        node[own] = value
        return
    _child(node, key, name, path)
    node[int(key)] = value


def save(loaded: Loaded, path: str | Path) -> Loaded:
    """Write a version to a file, in one step: the file is either the old or the new one, never half of it.

    Parameters
    ----------
    loaded : Loaded
        What to write.
    path : str or pathlib.Path
        The file; it is replaced if it exists.

    Returns
    -------
    Loaded
        The same version, read back from the file.

    Raises
    ------
    InputError
        The file cannot be written.
    """
    path = Path(path)
    try:
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
    except OSError as error:
        raise InputError(f"{path}: cannot be written: {error.strerror}") from None
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as stream:
            stream.write(loaded.text)
            stream.flush()
            os.fsync(stream.fileno())
        os.replace(temporary, path)
    except OSError as error:
        with suppress(OSError):
            os.unlink(temporary)
        raise InputError(f"{path}: cannot be written: {error.strerror}") from None
    return load(path, check_files=False)
