"""Fields of a programme as people see them: which move a study, their names in words, and how one is changed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from tussock.errors import TussockError
from tussock.record.edit import field_problems
from tussock.record.problems import ProgrammeError
from tussock.record.view import Path, View

_MOST_IN_GROUP = 14  # a curve of many points is edited on the page of the whole programme


@dataclass(frozen=True, kw_only=True, slots=True)
class Field:
    """One field: its path, how many keys that has, its name in words within its group, and what stands there."""

    path: str
    depth: int
    label: str
    text: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Group:
    """Fields under one title; `words` instead of fields for an input that is no field of its own."""

    title: str
    fields: tuple[Field, ...] = ()
    words: str = ""


def all_fields(tree: Any, at: Path = ()) -> tuple[Field, ...]:
    """Return every field of a document, or of its part that stands at a place."""
    return tuple(_field(path, value, len(at)) for path, value in _leaves(tree, at))


def moving(tree: Any, inputs: Mapping[str, str]) -> tuple[Group, ...]:
    """Return the fields that a study's inputs name, in groups; an input that names no field is told in words.

    >>> tree = {"targets": {"droop": {"front": "70 mm", "rear": "75 mm"}}}
    >>> [f.label for g in moving(tree, {"targets.droop": "both"}) for f in g.fields]
    ['Front', 'Rear']
    >>> hose = {"name": "brake hose", "length": "438 mm"}
    >>> tree = {"vehicle": {"axles": {"front": {"limiters": [hose]}}}}
    >>> [g.title for g in moving(tree, {"front brake hose": "438 mm"})]
    ['Front brake hose']
    """
    groups: list[Group] = []
    for key, words in inputs.items():
        path = _found(tree, key)
        if path is None:
            groups.append(Group(title=_capital(key), words=words))
            continue
        depth = len(path) if isinstance(View(tree).get(*path), dict | list) else max(len(path) - 1, 0)
        leaves = _named(list(_leaves(View(tree).get(*path), path)), words)[:_MOST_IN_GROUP]
        fields = tuple(_field(p, value, depth) for p, value in leaves)
        title = title_of(path[:depth]) if path == keys_of(key) else _capital(key.replace("_", " "))
        if groups and groups[-1].title == title:
            groups[-1] = Group(title=title, fields=groups[-1].fields + fields)
        else:
            groups.append(Group(title=title, fields=fields))
    return tuple(groups)


def title_of(path: Path) -> str:
    """Return a path in words.

    >>> title_of(("kit", "springs", "front_standard"))
    'Kit, springs, front standard'
    """
    return _capital(", ".join(_word(p) for p in path)) or "Programme"


def fault_in_words(error: TussockError, path: str) -> str:
    """Return what is wrong with the field that was typed, else the first fault that the change makes elsewhere."""
    return field_problems(error, path)[0] if isinstance(error, ProgrammeError) else str(error)


def keys_of(path: str) -> Path:
    """Return a field path as keys.

    >>> keys_of("builds.B1.notes.0")
    ('builds', 'B1', 'notes', 0)
    """
    return tuple(int(k) if k.isdecimal() else k for k in path.split("."))


def _found(tree: Any, key: str) -> Path | None:
    """Return where an input lies in the document: its own path, or the part of the kit that its words name."""
    path = keys_of(key)
    if View(tree).get(*path) is not None:
        return path
    kind, _, name = key.partition(" ")
    if name and View(tree).get("kit", f"{kind}s", name) is not None:
        return ("kit", f"{kind}s", name)
    for i, limiter in View(tree).rows("vehicle", "axles", kind, "limiters"):
        if isinstance(limiter, Mapping) and limiter.get("name") == name:
            return ("vehicle", "axles", kind, "limiters", i)
    return None


def _named(leaves: list[tuple[Path, Any]], words: str) -> list[tuple[Path, Any]]:
    """Return those fields of a part whose values its words name, else all of them."""
    tidied = f" {words.replace(',', ' ')} "
    named = [(path, value) for path, value in leaves if any(c.isdigit() for c in str(value)) and f" {value} " in tidied]
    return named or leaves


def _leaves(node: Any, path: Path) -> Iterator[tuple[Path, Any]]:
    if isinstance(node, Mapping):
        for key, value in node.items():
            yield from _leaves(value, (*path, key))
    elif isinstance(node, list | tuple):
        for i, value in enumerate(node):
            yield from _leaves(value, (*path, i))
    else:
        yield path, node


def _field(path: Path, value: Any, depth: int) -> Field:
    text = "" if value is None else str(value).lower() if isinstance(value, bool) else str(value)
    own = path[depth:] or path[-1:]
    return Field(
        path=".".join(map(str, path)), depth=len(path), label=_capital(", ".join(_word(p) for p in own)), text=text
    )


def _word(key: str | int) -> str:
    return str(key + 1) if isinstance(key, int) else key.replace("_", " ")


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
