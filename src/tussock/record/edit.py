"""One field edited in its place, as it was typed: the rest of the text stays to the letter."""

from __future__ import annotations

import re
from typing import Any

from tussock.record.append import flow
from tussock.record.load import Loaded, read
from tussock.record.problems import ProgrammeError
from tussock.record.save import comparable, dump, plain, with_field
from tussock.record.tree import Span, Tree, read_tree, resolve
from tussock.record.view import Key, Path

_GROUP = re.compile(r"\s*(?:\[.*\]|\{.*\})\s*", re.DOTALL)
_BARE = re.compile(
    r"(?:[+-]?[0-9]|[A-Za-z])(?:[A-Za-z0-9_./%^*+-]| (?! ))*(?<! )"
)  # means itself wherever a value may stand


def set_field(loaded: Loaded, path: str, typed: str) -> Loaded:
    """Return a new version of a programme with one field as it was typed, checked like any other.

    Parameters
    ----------
    loaded : Loaded
        The version to change; it stays as it is.
    path : str
        Field path such as ``vehicle.axles.front.spring.rate``; entries of lists by their place from 0.
    typed : str
        As in the file: ``28 N/mm``, ``1.1 in``, ``true``, ``[front_10]``. Nothing takes the field's value away.

    Returns
    -------
    Loaded
        The new version; nothing is written to a file.

    Raises
    ------
    ProgrammeError
        There is no such place, or what was typed is wrong there; `field_problems` picks out what is said of the field.
    """
    value = as_typed(typed)
    where = place(loaded, path)
    span = loaded.tree.spans.get(where)
    if span is None:
        return with_field(loaded, path, value)
    written = _written(value, span, loaded)
    text = f"{loaded.text[: span.start]}{written}{loaded.text[span.end :]}"
    tree = _with_scalar(loaded, where, span, written)
    if tree is None:
        expected = plain(loaded.tree.data)
        _put(expected, where, value)
        try:
            tree = read_tree(text, name=loaded.name)
        except ProgrammeError:
            tree = None
        if tree is None or comparable(tree.data) != comparable(expected):
            return with_field(loaded, path, value)  # it knows more ways of writing, and says what does not go
    return read(text, name=loaded.name, path=loaded.path, check_files=bool(loaded.hashes), tree=tree)


def field_problems(error: ProgrammeError, path: str) -> tuple[str, ...]:
    """Return what an error says of one field and of what is inside it, without its place; all it says if nothing of it.

    For the message beside a field while somebody types.
    """
    own = [p for p in error.problems if p.path == path or p.path.startswith(f"{path}.")]
    said = own or list(error.problems)
    return tuple(
        (f"{p.path}: " if not own and p.path else "")
        + p.wrong
        + (f"; write for example {p.example}" if p.example else "")
        for p in said
    )


def field_text(loaded: Loaded, path: str) -> str:
    """Return a field as one would type it; "" for one that is not there.

    Raises
    ------
    ProgrammeError
        The path leads through something that is not there.
    """
    *parents, last = path.split(".")
    node = loaded.tree.data
    for key in place(loaded, ".".join(parents)) if parents else ():
        node = node[key]
    found = node[int(last)] if isinstance(node, list) and last.isdecimal() and int(last) < len(node) else None
    found = node.get(last) if isinstance(node, dict) else found
    return "" if found is None else found if isinstance(found, str) else flow(found)


def as_typed(typed: str) -> Any:
    """Return what a typed text means, as in the file.

    >>> as_typed(" 28 N/mm "), as_typed("0.85"), as_typed(""), as_typed("[front_10, 4 mm]"), as_typed("a: b")
    ('28 N/mm', 0.85, None, ['front_10', '4 mm'], 'a: b')
    """
    typed = typed.strip()
    if _GROUP.fullmatch(typed):
        try:
            return read_tree(f"of: {typed}", name="typed").data["of"]
        except (ProgrammeError, KeyError, TypeError):
            return typed
    return resolve(typed, plain=True)


def place(loaded: Loaded, path: str) -> Path:
    """Return a field path as keys; places of lists become numbers. The last may name a field that is not there yet."""
    node: Any = loaded.tree.data
    found: list[Key] = []
    for key in path.split("."):
        if isinstance(node, list) and key.isdecimal():
            found.append(int(key))
            node = node[int(key)] if int(key) < len(node) else None
        else:
            found.append(key)
            node = node.get(key) if isinstance(node, dict) else None
    return tuple(found)


def _with_scalar(loaded: Loaded, where: Path, span: Span, written: str) -> Tree | None:
    """Return what reading the text with one bare scalar for another would give, without reading it; None if unsure.

    Reading a document takes many times as long as everything else about an edit.
    """
    old = loaded.tree
    before, after = loaded.text[span.start - 1 : span.start], loaded.text[span.end : span.end + 1]
    value = old.data
    for key in where:
        value = value[key]
    if (
        isinstance(value, dict | list)
        or before not in (" ", "[")
        or after not in ("", "\n", "\r", " ", ",", "]", "}")
        or not _BARE.fullmatch(written)
        or not old.anchored.isdisjoint(where[:i] for i in range(len(where) + 1))
    ):
        return None
    more = len(written) - (span.end - span.start)
    data = plain(old.data)
    _put(data, where, resolve(written, plain=True))
    spans = {
        path: Span(
            s.start if s.start <= span.start else s.start + more, s.end if s.end < span.end else s.end + more, s.inside
        )
        for path, s in old.spans.items()
    }
    return Tree(data=data, lines=dict(old.lines), spans=spans, anchored=set(old.anchored))


def _put(data: Any, path: Path, value: Any) -> None:
    for key in path[:-1]:
        data = data[key]
    data[path[-1]] = value


def _written(value: Any, span: Span, loaded: Loaded) -> str:
    """Return a value as it stands where the old one stood: quotes only where they are needed there."""
    if value is None:
        return "null"
    if span.inside or not isinstance(value, str):
        return flow(value)
    return dump({"of": value}, like=loaded.text).removeprefix("of: ").rstrip("\n")
