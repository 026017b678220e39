"""Two people edited the same version: what only one of them changed is taken, what both changed is theirs to decide."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from difflib import SequenceMatcher
from typing import Any, Literal, TypeAlias

from tussock.record.append import free_name, on_one_line
from tussock.record.corrections import LISTS, entries
from tussock.record.differences import ABSENT, alike, shown
from tussock.record.places import identities, in_words
from tussock.record.problems import Problem, ProgrammeError
from tussock.record.save import comparable, dump, plain, read_document
from tussock.record.tree import dotted, read_tree
from tussock.record.view import Key, Path, View

_POINTERS = ("corrects", "about")
"""Fields of an entry of the log that name another one."""

Side: TypeAlias = Literal["mine", "theirs"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Clash:
    """A field that both changed, each in another way.

    Attributes
    ----------
    path : tuple
        Where; entries of lists by their id or name where they have one.
    base, mine, theirs : str
        As written in the version that both edited, in mine and in theirs; "nothing" for what is not there.
    """

    path: Path
    base: str
    mine: str
    theirs: str

    @property
    def field(self) -> str:
        """The place as a field path: what a choice is made by."""
        return dotted(self.path)

    def __str__(self) -> str:
        return f"{in_words(self.path)}: was {self.base}; yours {self.mine}, theirs {self.theirs}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Merged:
    """Two edits put together: the text, or what has to be decided first.

    Attributes
    ----------
    text : str or None
        The document with both edits; None while a clash is undecided. It is YAML; a programme it becomes when it is
        read, for two edits that are right alone may be wrong together.
    clashes : tuple of Clash
        Every field that both changed differently, decided or not.
    renamed : mapping
        Entries of the log that both added under one name: what mine was called, and what it is called now.
    """

    text: str | None
    clashes: tuple[Clash, ...]
    renamed: Mapping[str, str] = field(default_factory=dict)


def merge(base: str, mine: str, theirs: str, *, choose: Mapping[str, Side] | None = None) -> Merged:
    """Put two edits of one text together.

    Comments of both stay where the edits stand on different lines; else the comments of `theirs` stay. Two entries
    of the log that were written at once under one name are two entries: mine gets the next free name.

    Parameters
    ----------
    base : str
        The version that both edited.
    mine, theirs : str
        The two edits; the text is made from `theirs`, which is saved already.
    choose : mapping, optional
        Whose value counts, by the `field` of a clash.

    Returns
    -------
    Merged
        The text, or the clashes that are left to decide.

    Raises
    ------
    ProgrammeError
        A text cannot be read, or the merged one cannot be written (an anchor that several fields share).
    """
    was, own, other = (read_tree(t, name=n).data for t, n in ((base, "base"), (mine, "mine"), (theirs, "theirs")))
    own, renamed = _apart(was, own, other)
    work = _Merge(dict(choose or {}))
    whole = work.three(was, own, other, ())
    clashes = tuple(work.clashes)
    if work.undecided:
        return Merged(text=None, clashes=clashes, renamed=renamed)
    by_lines = _by_lines(base, mine, theirs)
    if by_lines is not None and _says(by_lines, whole):
        return Merged(text=by_lines, clashes=clashes, renamed=renamed)
    document = read_document(theirs, "theirs")
    text = dump(_onto(document, plain(other), plain(whole)), like=theirs)
    if not _says(text, whole):
        wrong = "these edits cannot be written together: fields share an anchor (&); merge them in the file by hand"
        raise ProgrammeError([Problem(file="programme", line=0, path="", found="", wrong=wrong)])
    return Merged(text=text, clashes=clashes, renamed=renamed)


def _apart(base: Any, mine: Any, theirs: Any) -> tuple[Any, dict[str, str]]:
    """Return my edit with those entries of the log renamed that the other edit added under the same name."""
    named = [dict(entries(data)) for data in (base, mine, theirs)]
    taken = set().union(*named)
    renamed: dict[str, str] = {}
    for name, path in named[1].items():
        part = str(path[0])
        there = named[2].get(name)
        if part not in LISTS or name in named[0] or there is None:
            continue
        if there[0] == part and alike(View(mine).get(*path), View(theirs).get(*there)):
            continue  # the same entry, which reached both
        renamed[name] = free_name(taken, part)
        taken.add(renamed[name])
    if not renamed:
        return mine, renamed
    called = {path: renamed[name] for name, path in named[1].items() if name in renamed}
    known = set(named[0])

    def row(part: str, i: int, entry: Any) -> Any:
        if not isinstance(entry, Mapping) or entry.get("id") in known:
            return entry
        points = {key: renamed[entry[key]] for key in _POINTERS if entry.get(key) in renamed}
        own = {"id": called[part, i]} if (part, i) in called else {}
        return {**entry, **own, **points}

    new = {part: [row(part, i, e) for i, e in enumerate(mine[part])] for part in LISTS if mine.get(part)}
    return {**mine, **new}, renamed


class _Merge:
    """One merge: collects the clashes on its way."""

    def __init__(self, choose: Mapping[str, Side]) -> None:
        self.choose = choose
        self.clashes: list[Clash] = []
        self.undecided = False

    def three(self, base: Any, mine: Any, theirs: Any, path: Path) -> Any:
        """Return what both edits make of a value."""
        if alike(mine, theirs) or alike(mine, base):
            return theirs
        if alike(theirs, base):
            return mine
        if isinstance(mine, Mapping) and isinstance(theirs, Mapping):
            return self.mappings(base if isinstance(base, Mapping) else {}, mine, theirs, path)
        if isinstance(mine, list) and isinstance(theirs, list) and (isinstance(base, list) or base is ABSENT):
            rows = base if isinstance(base, list) else []
            keys = [identities(r) for r in (rows, mine, theirs)]
            if all(k or not r for k, r in zip(keys, (rows, mine, theirs), strict=True)):
                was, own, other = (
                    dict(zip(k, r, strict=True)) for k, r in zip(keys, (rows, mine, theirs), strict=True)
                )
                return list(self.mappings(was, own, other, path).values())
        return self.clash(base, mine, theirs, path)

    def mappings(
        self, base: Mapping[Any, Any], mine: Mapping[Any, Any], theirs: Mapping[Any, Any], path: Path
    ) -> dict[Any, Any]:
        """Return both edits of a mapping; what mine adds comes behind what it stands behind there."""
        order: list[Key] = list(theirs)
        last: Key | None = None
        for key in mine:
            if key not in theirs:
                at = order.index(last) + 1 if last in order else len(order)
                while at < len(order) and order[at] not in mine:  # theirs was saved first
                    at += 1
                order.insert(at, key)
            last = key
        found = {
            key: self.three(base.get(key, ABSENT), mine.get(key, ABSENT), theirs.get(key, ABSENT), (*path, key))
            for key in order
        }
        return {key: value for key, value in found.items() if value is not ABSENT}

    def clash(self, base: Any, mine: Any, theirs: Any, path: Path) -> Any:
        """Note a field that both changed; return the value that was chosen."""
        found = Clash(path=path, base=shown(base), mine=shown(mine), theirs=shown(theirs))
        self.clashes.append(found)
        chosen = self.choose.get(found.field)
        if chosen is None:
            self.undecided = True
        return mine if chosen == "mine" else theirs


def _says(text: str, whole: Any) -> bool:
    try:
        return bool(comparable(read_tree(text, name="merged").data) == comparable(plain(whole)))
    except ProgrammeError:
        return False


def _by_lines(base: str, mine: str, theirs: str) -> str | None:
    """Return both edits put together line by line; None where they touch each other."""
    lines = base.splitlines(keepends=True)
    hunks: list[tuple[int, int, list[str]]] = []
    for text in (mine, theirs):
        other = text.splitlines(keepends=True)
        for kind, low, high, start, end in SequenceMatcher(None, lines, other, autojunk=False).get_opcodes():
            if kind != "equal":
                hunks.append((low, high, other[start:end]))
    hunks.sort(key=lambda h: h[:2])
    out: list[str] = []
    at = 0
    for i, (low, high, new) in enumerate(hunks):
        if i and (low, high, new) == hunks[i - 1]:
            continue  # both did the same
        if low < at or (i and low == at and hunks[i - 1][1] == low):
            return None
        out += [*lines[at:low], *new]
        at = high
    return "".join([*out, *lines[at:]])


def _onto(document: Any, now: Any, whole: Any) -> Any:
    """Bring a document with its comments from what it says `now` to `whole`; returns what stands in its place."""
    if comparable(now) == comparable(whole):
        return document
    if isinstance(document, dict) and isinstance(now, dict) and isinstance(whole, dict):
        for key in [k for k in now if k not in whole]:
            del document[key]
        held: Any = document  # a mapping with comments, which can insert
        before: Any = None
        for key, value in whole.items():
            if key not in now:
                place = list(document).index(before) + 1 if before is not None else len(document)
                held.insert(place, key, value)
            elif comparable(now[key]) != comparable(value):
                document[key] = _onto(document[key], now[key], value)
            before = key
        return document
    if isinstance(document, list) and isinstance(now, list) and isinstance(whole, list):
        names, wanted = identities(now), identities(whole)
        if (
            names
            and len(wanted) == len(whole)
            and [n for n in names if n in wanted] == [n for n in wanted if n in names]
        ):
            return _rows_onto(document, dict(zip(names, now, strict=True)), dict(zip(wanted, whole, strict=True)))
    return whole


def _rows_onto(document: Any, now: dict[str, Any], whole: dict[str, Any]) -> Any:
    """Take entries out of a list and put others in; comments stay with the entries that they stand beside."""
    as_rows = on_one_line if getattr(document[0], "fa", None) and document[0].fa.flow_style() else plain
    for i, name in reversed(list(enumerate(now))):
        if name not in whole:
            del document[i]
    for i, (name, row) in enumerate(whole.items()):
        if name in now:
            document[i] = _onto(document[i], now[name], row)
        else:
            document.insert(i, as_rows(row))
    return document
