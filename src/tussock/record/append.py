"""Add an entry to the log of a programme file: every byte that was there stays, the entry is written after the last."""

from __future__ import annotations

import io
from collections.abc import Collection, Mapping
from datetime import date
from typing import Any

from tussock.record.corrections import LISTS, entries
from tussock.record.load import Loaded
from tussock.record.problems import Problem, ProgrammeError
from tussock.record.save import plain, read_back

LETTERS: Mapping[str, str] = {
    "builds": "B",
    "dyno_runs": "R",
    "drives": "D",
    "notes": "N",
    "decisions": "K",
    "corrections": "C",
}
"""First letter of the names that entries get where nobody names them."""


def next_name(loaded: Loaded, part: str) -> str:
    """Return the name that the next entry of a part of the log gets: the first that is free after those there are."""
    return free_name({name for name, _ in entries(loaded.tree.data)}, part)


def free_name(taken: Collection[str], part: str) -> str:
    """Return the first name for an entry of a part of the log that is free after those that are taken.

    >>> free_name({"D1", "D4", "C9"}, "drives")
    'D5'
    """
    letter = LETTERS[part]
    used = [int(n[1:]) for n in taken if n[:1] == letter and n[1:].isdecimal()]
    return f"{letter}{max(used, default=0) + 1}"


def with_entry(loaded: Loaded, part: str, entry: Mapping[str, Any], *, name: str | None = None) -> Loaded:
    """Return a new version of a programme with one entry added to its log, checked like any other.

    Parameters
    ----------
    loaded : Loaded
        The version to add to; it stays as it is.
    part : str
        builds, dyno_runs, drives, notes, decisions or corrections.
    entry : mapping
        Its fields as people write them, without its name.
    name : str, optional
        What the entry is called; the next free name unless said.

    Returns
    -------
    Loaded
        The new version; nothing is written to a file.

    Raises
    ------
    ProgrammeError
        The entry is wrong, or the file is written in a way in which nothing can be added without changing the rest.
    """
    name = next_name(loaded, part) if name is None else name
    fields = plain(dict(entry))
    expected = plain(loaded.tree.data)
    if part in LISTS:
        expected[part] = [*(expected.get(part) or []), {"id": name, **fields}]
    elif name in (expected.get(part) or {}):
        wrong = f"there is a {part[:-1]} {name} already; an entry is never overwritten, correct it or take another name"
        raise ProgrammeError([Problem(file=loaded.name, line=0, path=f"{part}.{name}", found="", wrong=wrong)])
    else:
        expected[part] = {**(expected.get(part) or {}), name: fields}
    written = read_back(loaded, _added(loaded, part, name, fields), expected)
    if written is None:
        wrong = (
            f"nothing can be added to {part} as this file is written; give it a line of its own and entries below it"
        )
        raise ProgrammeError([Problem(file=loaded.name, line=0, path=part, found="", wrong=wrong)])
    return written


def _added(loaded: Loaded, part: str, name: str, fields: dict[str, Any]) -> str:
    """Return the text with the entry set after the last one of its part."""
    if "\r\n" in loaded.text:
        return _with(loaded.text.replace("\r\n", "\n"), loaded.name, part, name, fields).replace("\n", "\r\n")
    return _with(loaded.text, loaded.name, part, name, fields)


def _with(text: str, document: str, part: str, name: str, fields: dict[str, Any]) -> str:
    is_list = part in LISTS
    key, node = _node(text, document, part)
    if node is None:
        start = text if text.endswith("\n") or not text else text + "\n"
        return f"{start}\n{part}:\n{_block(name, fields, 2, is_list)}"
    if node.flow_style is None or not node.value:  # nothing there yet: a scalar without text, [] or {}
        hole = slice(node.start_mark.index, node.end_mark.index)
        bare = text[: hole.start].rstrip(" ") + text[hole.stop :] if node.value in ("", [], {}) else text
        return _after_line(bare, key.end_mark.index, _block(name, fields, 2, is_list))
    if node.flow_style:
        at = node.end_mark.index - 1
        inner = flow({"id": name, **fields}) if is_list else f"{name}: {flow(fields)}"
        return f"{text[:at].rstrip()}, {inner}{text[at:]}"
    return _after_line(text, _end(node), _block(name, fields, node.start_mark.column, is_list))


def _node(text: str, name: str, part: str) -> tuple[Any, Any]:
    from ruamel.yaml import YAML
    from ruamel.yaml.error import YAMLError

    try:
        root = YAML(typ="rt").compose(text)
    except (YAMLError, ValueError, RecursionError) as error:
        wrong = "this text can be read, but its lines not be told apart: " + " ".join(str(error).split())[:160]
        raise ProgrammeError([Problem(file=name, line=0, path=part, found="", wrong=wrong)]) from None
    for key, node in root.value:
        if key.value == part:
            return key, node
    return None, None


def _end(node: Any) -> int:
    """Return where the last thing written inside a node ends; a block's own mark lies behind comments that follow."""
    while not isinstance(node.value, str) and not node.flow_style and node.value:
        last = node.value[-1]
        node = last[1] if isinstance(last, tuple) else last
    return int(node.end_mark.index)


def _after_line(text: str, at: int, block: str) -> str:
    if at > 0 and text[at - 1] == "\n":  # a text over several lines ends at the start of the next one
        return text[:at] + block + text[at:]
    end = text.find("\n", at)
    if end < 0:
        return f"{text}\n{block}"
    return text[: end + 1] + block + text[end + 1 :]


def _block(name: str, fields: dict[str, Any], indent: int, is_list: bool) -> str:
    """Return an entry in lines of its own: one line a field, what is inside a field on that line."""
    lines = [f"{key}: {flow(value)}" for key, value in fields.items() if not _rows(value)]
    for key, value in fields.items():
        if _rows(value):
            lines += [f"{key}:", *(f"  - {flow(row)}" for row in value)]
    pad = " " * indent
    if is_list:
        lines = [f"id: {name}", *lines]
        return "".join(f"{pad}{'- ' if i == 0 else '  '}{line}\n" for i, line in enumerate(lines))
    return f"{pad}{name}:\n" + "".join(f"{pad}  {line}\n" for line in lines)


def _rows(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(v, dict) for v in value)


def _as_day(value: Any) -> Any:
    """Return a day as YAML's own, which is written without quotes; anything else as it is."""
    try:
        return date.fromisoformat(value) if isinstance(value, str) and len(value) == len("2026-09-14") else value
    except ValueError:
        return value


def on_one_line(value: Any) -> Any:
    """Return a value marked so that it is written on one line, in { } and [ ]."""
    from ruamel.yaml.comments import CommentedMap, CommentedSeq

    inner: Any
    if isinstance(value, dict):
        inner = CommentedMap((k, on_one_line(v)) for k, v in value.items())
    elif isinstance(value, list):
        inner = CommentedSeq(on_one_line(v) for v in value)
    else:
        return _as_day(value)
    inner.fa.set_flow_style()
    return inner


def flow(value: Any) -> str:
    """Return a value on one line."""
    from ruamel.yaml import YAML

    yaml = YAML(typ="rt")
    yaml.width = 1_000_000
    stream = io.StringIO()
    # inside { } more characters need quotes than outside: a value is written as it would stand there
    yaml.dump(on_one_line({"of": value}), stream)
    return stream.getvalue().strip().removeprefix("{of: ").removesuffix("}")
