"""YAML text to plain dicts, lists and scalars, with the line of every field, and without trust.

Only what a programme needs is read: mappings with plain keys, lists, scalars. Tags are refused; aliases are followed
only while the document stays small; depth and size are bounded; a key that stands twice is a fault. Every fault that
does not stop the reading is collected.
"""

from __future__ import annotations

import re
import warnings
from collections.abc import Iterator
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import Any, TypeAlias

from tussock.record.problems import Problem, ProgrammeError
from tussock.record.view import Path

Scalar: TypeAlias = str | int | float | bool | None

MOST_NODES = 100_000
MOST_DEPTH = 30
MOST_KEY = 200
_TRUE, _FALSE, _NULL = {"true", "True", "TRUE"}, {"false", "False", "FALSE"}, {"", "~", "null", "Null", "NULL"}
_INT = re.compile(r"[+-]?\d{1,300}")
_FLOAT = re.compile(r"[+-]?(?:\d+\.\d*|\.\d+|\d+(?=[eE]))(?:[eE][+-]?\d+)?")
_SPECIAL = re.compile(r"[+-]?\.(?:inf|Inf|INF)|\.(?:nan|NaN|NAN)")


@dataclass(frozen=True, slots=True)
class Span:
    """Where a value of one line is written: characters `start` to `end`, and whether inside [ ] or { }."""

    start: int
    end: int
    inside: bool


@dataclass(slots=True)
class Tree:
    """A document as read: its data, line and place of each field, and faults found on the way.

    A value that is an alias, has an anchor, or stands on several lines has no span. `anchored` are the places of values
    with an anchor: what changes in them changes wherever an alias repeats it.
    """

    data: Any = None
    lines: dict[Path, int] = field(default_factory=dict)
    spans: dict[Path, Span] = field(default_factory=dict)
    anchored: set[Path] = field(default_factory=set)
    problems: list[Problem] = field(default_factory=list)

    def line(self, path: Path) -> int:
        """Return the line of a field, or of the nearest field around it; 0 for none."""
        while path:
            if path in self.lines:
                return self.lines[path]
            path = path[:-1]
        return 0


def read_tree(text: str, *, name: str) -> Tree:
    """Read a YAML document.

    Parameters
    ----------
    text : str
        The document.
    name : str
        What it is called in faults.

    Raises
    ------
    ProgrammeError
        It is not YAML, or more than a programme can be (tags, depth, size, several documents).
    """
    return _Reader(name, text).read()


class _Reader:
    """Builds the tree from the parser's events, one at a time; its own stack is bounded by `MOST_DEPTH`."""

    def __init__(self, name: str, text: str) -> None:
        self.name = name
        self.text = text
        self.tree = Tree()
        self.anchors: dict[str, tuple[Any, int]] = {}
        self.open_anchors: set[str] = set()
        self.nodes = 0
        self.flows = 0

    def fault(self, mark: Any, wrong: str, *, path: Path = (), found: str = "", example: str = "") -> Problem:
        return Problem(
            file=self.name,
            line=mark.line + 1 if mark is not None else 0,
            path=dotted(path),
            found=found,
            wrong=wrong,
            example=example,
        )

    def stop(self, mark: Any, wrong: str, **rest: Any) -> ProgrammeError:
        return ProgrammeError([*self.tree.problems, self.fault(mark, wrong, **rest)])

    def read(self) -> Tree:
        from ruamel.yaml import YAML
        from ruamel.yaml.error import MarkedYAMLError, YAMLError

        parser = YAML(typ="safe", pure=True)
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")  # of the parser, about old YAML; what we refuse we refuse ourselves
                self._document(iter(parser.parse(self.text)))
        except ProgrammeError:  # is a ValueError too
            raise
        except MarkedYAMLError as error:
            mark = error.problem_mark or error.context_mark
            raise self.stop(mark, _yaml_words(error, self.text)) from None
        except YAMLError as error:
            wrong = "not a text that YAML can hold: " + " ".join(str(error).split())[:120]
            raise self.stop(None, wrong) from None
        except (
            ValueError,
            RecursionError,
            OverflowError,
            AttributeError,
            TypeError,
            IndexError,
            AssertionError,
        ) as error:
            # what the parser itself throws at texts that its authors did not think of
            raise self.stop(None, f"not readable as YAML ({type(error).__name__})") from None
        return self.tree

    def _document(self, events: Iterator[Any]) -> None:
        started = False
        for event in events:
            kind = type(event).__name__
            if kind in ("StreamStartEvent", "StreamEndEvent", "DocumentEndEvent", "CommentEvent"):
                continue
            if kind == "DocumentStartEvent":
                if started:
                    raise self.stop(event.start_mark, "a second document begins here; one file holds one programme")
                started = True
                continue
            self.tree.data, _ = self._node(event, events, (), 0)

    def _node(self, event: Any, events: Iterator[Any], path: Path, depth: int) -> tuple[Any, int]:
        """Read the node that starts with `event`; returns it and how many nodes it holds."""
        kind = type(event).__name__
        self.tree.lines.setdefault(path, event.start_mark.line + 1)
        if kind == "AliasEvent":
            return self._alias(event, path)
        self._count(event, 1)
        if event.tag is not None and (kind != "ScalarEvent" or event.tag != "!"):
            raise self.stop(
                event.start_mark,
                "tags are not allowed in a programme",
                path=path,
                found=str(event.tag)[:60],
                example="leave it out",
            )
        if depth > MOST_DEPTH:
            raise self.stop(event.start_mark, f"nested deeper than {MOST_DEPTH} levels", path=path[:4])
        anchor = event.anchor
        if anchor is not None:
            self.open_anchors.add(anchor)
            self.tree.anchored.add(path)
        before = self.nodes
        value: Any
        end = event
        self.flows += bool(getattr(event, "flow_style", False))
        if kind == "ScalarEvent":
            value = resolve(_whole_characters(event.value), plain=event.style is None and event.implicit[0])
        elif kind == "SequenceStartEvent":
            value = []
            while type(end := next(events)).__name__ != "SequenceEndEvent":
                value.append(self._node(end, events, (*path, len(value)), depth + 1)[0])
        else:
            value, end = self._mapping(events, path, depth)
        self.flows -= bool(getattr(event, "flow_style", False))
        one_line = kind == "ScalarEvent" or event.flow_style
        if one_line and anchor is None and event.start_mark.line == end.end_mark.line:
            self.tree.spans[path] = Span(event.start_mark.index, end.end_mark.index, self.flows > 0)
        size = self.nodes - before + 1
        if anchor is not None:
            self.open_anchors.discard(anchor)
            self.anchors[anchor] = (value, size)
        return value, size

    def _mapping(self, events: Iterator[Any], path: Path, depth: int) -> tuple[dict[str, Any], Any]:
        """Read a mapping; returns it and the event that ends it."""
        value: dict[str, Any] = {}
        merged: dict[str, Any] = {}
        while type(key := next(events)).__name__ != "MappingEndEvent":
            if type(key).__name__ != "ScalarEvent" or key.tag is not None:
                raise self.stop(
                    key.start_mark, "a field name must be plain text", path=path, example="wheelbase: 2700 mm"
                )
            self._count(key, 1)
            name = _whole_characters(key.value)
            if len(name) > MOST_KEY:
                raise self.stop(
                    key.start_mark, f"a field name of {len(name)} characters", path=path, found=repr(name[:40])
                )
            at: Path = (*path, name)
            line = key.start_mark.line + 1
            if name == "<<" and key.style is None:
                found, _ = self._node(next(events), events, at, depth + 1)
                for one in found if isinstance(found, list) else [found]:
                    if not isinstance(one, dict):
                        raise self.stop(key.start_mark, "<< merges a mapping; this is none", path=path)
                    self._count(key, len(one))
                    merged = {**one, **merged}
                continue
            twice = name in value
            if twice:
                self.tree.problems.append(
                    self.fault(
                        key.start_mark,
                        f"this field stands twice, first on line {self.tree.lines.get(at, 0)}",
                        path=at,
                        found=repr(name),
                        example="keep one of the two",
                    )
                )
            else:
                self.tree.lines[at] = line
            node, _ = self._node(next(events), events, at, depth + 1)
            if not twice:
                value[name] = node
        return {**merged, **value}, key

    def _alias(self, event: Any, path: Path) -> tuple[Any, int]:
        if event.anchor in self.open_anchors:
            raise self.stop(event.start_mark, f"*{event.anchor} stands inside itself", path=path)
        if event.anchor not in self.anchors:
            raise self.stop(event.start_mark, f"*{event.anchor} names nothing above", path=path)
        value, size = self.anchors[event.anchor]
        self._count(event, size)
        return value, size

    def _count(self, event: Any, nodes: int) -> None:
        self.nodes += nodes
        if self.nodes > MOST_NODES:
            raise self.stop(
                event.start_mark, f"more than {MOST_NODES} fields, aliases written out; no programme is that large"
            )


def _whole_characters(text: str) -> str:
    """Return a text without halves of characters, which YAML can write by escapes and nothing can print.

    >>> _whole_characters("\\ud83d\\ude00") == "\\U0001f600", _whole_characters("\\ud800") == "\\ufffd"
    (True, True)
    """
    return text.encode("utf-16", "surrogatepass").decode("utf-16", "replace")


def resolve(text: str, *, plain: bool) -> Scalar:
    """Return the value of a scalar; quoted text stays text.

    >>> resolve("0.85", plain=True), resolve("28 N/mm", plain=True), resolve("0.85", plain=False)
    (0.85, '28 N/mm', '0.85')
    """
    if not plain:
        return text
    if text in _NULL:
        return None
    if text in _TRUE:
        return True
    if text in _FALSE:
        return False
    if _INT.fullmatch(text):
        return int(text)
    if _FLOAT.fullmatch(text):
        return float(text)
    if _SPECIAL.fullmatch(text):
        return float(text.replace(".", ""))
    return text


def dotted(path: Path) -> str:
    """Write a path as people read it.

    >>> dotted(("road_loop", "sections", 3, "speed"))
    'road_loop.sections.3.speed'
    """
    return ".".join(str(key)[:60] for key in path)


def closest(name: str, known: list[str]) -> str:
    """Return the known name nearest to `name`, or ""."""
    close = get_close_matches(name[:80], known, 1, 0.6)
    return close[0] if close else ""


def _yaml_words(error: Any, text: str) -> str:
    """Say in plain words what the parser stumbled over."""
    problem = " ".join(str(error.problem or "").split())
    mark = error.problem_mark or error.context_mark
    lines = text.splitlines()
    line = lines[mark.line] if mark is not None and mark.line < len(lines) else ""
    if "\t" in line and ("\\t" in problem or "token" in problem):
        return "a tab; YAML is indented with spaces"
    if "mapping values are not allowed" in problem:
        return "a second colon on this line, or a line indented more than the one above; quote text that holds ': '"
    if "could not find expected ':'" in problem:
        return "a field without ': ' after its name"
    if "did not find expected ',' or" in problem or "while parsing a flow" in str(error.context or ""):
        return "a { or [ that is not closed, or a comma missing inside it"
    if "while scanning a quoted scalar" in str(error.context or ""):
        return "a quote that is not closed"
    if "expected <block end>" in problem:
        return "this does not fit the line before it: an indentation, or a quote that is not closed where it should be"
    return f"not readable as YAML: {problem[:160] or 'syntax error'}"
