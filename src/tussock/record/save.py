"""Write a programme back: comments kept, one field changed at a time, files replaced in one step."""

from __future__ import annotations

import io
import os
import re
import tempfile
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

from tussock.errors import InputError
from tussock.record.load import Loaded, load, read
from tussock.record.problems import Problem, ProgrammeError
from tussock.record.tree import read_tree, resolve
from tussock.record.view import nearest

_LIST_BELOW_FIELD = re.compile(r"^( *)[\w-]+:[ \t]*(?:#.*)?\n(?:[ \t]*(?:#.*)?\n)*( *)- ", re.MULTILINE)


def _yaml(like: str) -> Any:
    """Return a YAML reader and writer that indents as the text `like` does."""
    from ruamel.yaml import YAML

    yaml = YAML(typ="rt")
    yaml.preserve_quotes = True
    yaml.width = 4096  # lines stay as long as they were written
    found = _LIST_BELOW_FIELD.search(like)
    offset = min(max(len(found[2]) - len(found[1]), 0), 4) if found else 2
    yaml.indent(mapping=2, sequence=offset + 2, offset=offset)
    return yaml


def read_document(text: str, name: str = "programme") -> Any:
    """Return the document with its comments; `text` must have passed `loads`.

    Raises
    ------
    ProgrammeError
        The text can be read but not written back, such as a date that no calendar has in a note.
    """
    from ruamel.yaml.error import YAMLError

    try:
        return _yaml(text).load(text)
    except (YAMLError, ValueError, TypeError, AttributeError, RecursionError) as error:
        wrong = "this text can be read, but not with its comments: " + " ".join(str(error).split())[:160]
        raise ProgrammeError([Problem(file=name, line=0, path="", found="", wrong=wrong)]) from None


def dump(document: Any, *, like: str = "") -> str:
    """Return a document as YAML text, its comments kept.

    Parameters
    ----------
    document : mapping
        As `Loaded.document` gives it.
    like : str
        Text whose indentation of lists is kept, usually the one that the document was read from.

    Returns
    -------
    str
        YAML; reading it gives the same programme.
    """
    stream = io.StringIO()
    _yaml(like).dump(document, stream)
    return stream.getvalue()


def with_field(loaded: Loaded, path: str, value: Any) -> Loaded:
    """Return a new version of a programme with one field changed: `with_fields` of one."""
    return with_fields(loaded, {path: value})


def with_fields(loaded: Loaded, values: Mapping[str, Any]) -> Loaded:
    """Return a new version of a programme with fields changed, checked like any other, all of them together.

    Parameters
    ----------
    loaded : Loaded
        The version to change; it stays as it is.
    values : mapping of str to str, int, float, bool, None, list or dict
        What to write in trade units, by field path: ``{"vehicle.axles.front.spring.rate": "28 N/mm"}``; entries of
        lists by their place from 0. Later ones are set after earlier ones. None given is the same version.

    Returns
    -------
    Loaded
        The new version; nothing is written to a file.

    Raises
    ------
    ProgrammeError
        There is no such place, or a new value is wrong there.
    """
    if not values:
        return loaded
    document = read_document(loaded.text, loaded.name)
    expected = plain(loaded.tree.data)
    for path, value in values.items():
        for whole in (document, expected):
            _set(whole, path.split("."), plain(value), loaded.name)
    written = read_back(loaded, dump(document, like=loaded.text), expected)
    if written is None:
        these = "this field" if len(values) == 1 else "these fields"
        wrong = f"writing {these} would change another one as well; change it in the file by hand"
        raise ProgrammeError([Problem(file=loaded.name, line=0, path=", ".join(values), found="", wrong=wrong)])
    return written


def read_back(loaded: Loaded, text: str, expected: Any) -> Loaded | None:
    """Return a changed text as the next version of a programme, checked like any other; None if it says another thing.

    Parameters
    ----------
    loaded : Loaded
        The version that was changed.
    text : str
        What was written.
    expected : plain dicts, lists and scalars
        What it should say.

    Raises
    ------
    ProgrammeError
        It is not YAML, or no programme that is right.
    """
    tree = read_tree(text, name=loaded.name)
    if comparable(tree.data) != comparable(expected):
        return None
    return read(text, name=loaded.name, path=loaded.path, check_files=bool(loaded.hashes), tree=tree)


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


def plain(node: Any) -> Any:
    """Return a copy that shares nothing, of plain dicts, lists and scalars; InputError for anything else."""
    if isinstance(node, dict):
        return {str(key): plain(value) for key, value in node.items()}
    if isinstance(node, list | tuple):
        return [plain(value) for value in node]
    if node is None or isinstance(node, str | bool | int | float):
        return node
    raise InputError(f"a field holds text, a number, a list or fields, not a {type(node).__name__}")


def comparable(node: Any) -> Any:
    """Return a tree in which a number and the text that shows it are equal: quotes may change, meaning may not."""
    if isinstance(node, dict):
        return {str(key): comparable(value) for key, value in node.items()}
    if isinstance(node, list | tuple):
        return [comparable(value) for value in node]
    return resolve(node, plain=True) if isinstance(node, str) else node


def _set(root: Any, keys: list[str], value: Any, name: str) -> None:
    node = root
    for i, key in enumerate(keys[:-1]):
        node = _child(node, key, name, ".".join(keys[: i + 1]))
    key, path = keys[-1], ".".join(keys)
    if isinstance(node, dict):
        own = next((k for k in node if str(k) == key), key)  # a new field is checked with the document
        node[own] = value
        return
    _child(node, key, name, path)
    node[int(key)] = value


def save(loaded: Loaded, path: str | Path, *, over: Loaded | None = None) -> Loaded:
    """Write a version to a file, in one step: the file is either the old or the new one, never half of it.

    Parameters
    ----------
    loaded : Loaded
        What to write.
    path : str or pathlib.Path
        The file; it is replaced if it exists.
    over : Loaded, optional
        The version that this one was made from; the file is replaced only if it still holds that.

    Returns
    -------
    Loaded
        The same version, read back from the file.

    Raises
    ------
    InputError
        The file cannot be written, or somebody else has changed it since `over` was read.
    """
    path = Path(path)
    if over is not None and load(path, check_files=False).digest != over.digest:
        raise InputError(f"{path}: somebody else has changed this file meanwhile; nothing was written, do it again")
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
