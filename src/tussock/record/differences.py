"""What differs between two versions of a programme, in words: where, what stood there, what stands there now."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Literal, TypeAlias

from tussock.record.append import flow
from tussock.record.places import identities, identity, in_words
from tussock.record.tree import dotted, read_tree
from tussock.record.view import Path

Kind: TypeAlias = Literal["changed", "added", "removed", "moved"]
LONGEST = 300
"""Characters of a value that are shown."""


class Absent:
    """Stands for a field that is not there; nothing is a value of its own."""

    def __repr__(self) -> str:
        return "nothing"


ABSENT = Absent()


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """One thing that differs.

    Attributes
    ----------
    path : tuple
        Where: names of fields; entries of lists by their id or name where they have one, else by their place.
    kind : str
        changed, added, removed, or moved (the entries of a list stand in another order).
    old, new : str
        As written, with the units; "" for what is not there.
    """

    path: Path
    kind: Kind
    old: str
    new: str

    @property
    def where(self) -> str:
        """The place in words of the trade."""
        return in_words(self.path)

    @property
    def field(self) -> str:
        """The place as a field path."""
        return dotted(self.path)

    def __str__(self) -> str:
        if self.kind == "changed":
            return f"{self.where}: {self.old} became {self.new}"
        if self.kind == "moved":
            return f"{self.where}: in another order"
        return f"{self.where}: {self.kind}{': ' if self.old or self.new else ''}{self.new or self.old}"


def differences(old: str, new: str) -> tuple[Difference, ...]:
    """Return what differs between two texts of a programme, in the order of the newer one.

    Comments and the way of writing do not count. Both must be readable as YAML.

    Raises
    ------
    ProgrammeError
        One of them cannot be read.

    Examples
    --------
    >>> [str(d) for d in differences("vehicle: {wheelbase: 2700 mm}", "vehicle: {wheelbase: 2710 mm}")]
    ['wheelbase: 2700 mm became 2710 mm']
    """
    return tuple(_between(read_tree(old, name="old").data, read_tree(new, name="new").data, ()))


def shown(value: Any) -> str:
    """Return a value as it would be written on one line, shortened where it is long."""
    if value is ABSENT:
        return "nothing"
    text = value if isinstance(value, str) else flow(value)
    text = " ".join(text.split())
    return text if len(text) <= LONGEST else f"{text[: LONGEST - 4]} ..."


def _between(old: Any, new: Any, path: Path) -> Iterator[Difference]:
    if alike(old, new):
        return
    if isinstance(old, Mapping) and isinstance(new, Mapping):
        for key in [*new, *(k for k in old if k not in new)]:
            yield from _between(old.get(key, ABSENT), new.get(key, ABSENT), (*path, key))
        return
    if isinstance(old, list) and isinstance(new, list):
        yield from _lists(old, new, path)
        return
    if old is ABSENT:
        yield Difference(path=path, kind="added", old="", new=shown(new))
    elif new is ABSENT:
        yield Difference(path=path, kind="removed", old=shown(old), new="")
    else:
        yield Difference(path=path, kind="changed", old=shown(old), new=shown(new))


def _lists(old: list[Any], new: list[Any], path: Path) -> Iterator[Difference]:
    known_old, known_new = identities(old), identities(new)
    if (known_old or not old) and (known_new or not new):
        before, after = dict(zip(known_old, old, strict=True)), dict(zip(known_new, new, strict=True))
        for key in [*after, *(k for k in before if k not in after)]:
            yield from _between(before.get(key, ABSENT), after.get(key, ABSENT), (*path, key))
        if [k for k in known_old if k in after] != [k for k in known_new if k in before]:
            yield Difference(path=path, kind="moved", old="", new="")
        return
    if any(isinstance(row, Mapping) and not identity(row) for row in (*old, *new)):
        for i in range(max(len(old), len(new))):
            yield from _between(old[i] if i < len(old) else ABSENT, new[i] if i < len(new) else ABSENT, (*path, i))
        return
    yield Difference(path=path, kind="changed", old=shown(old), new=shown(new))


def alike(a: Any, b: Any) -> bool:
    """Return whether two values say the same; true and 1 do not, nor do nothing and no field."""
    if isinstance(a, Mapping) and isinstance(b, Mapping):
        return set(a) == set(b) and all(alike(a[key], b[key]) for key in a)
    if isinstance(a, list) and isinstance(b, list):
        return len(a) == len(b) and all(alike(x, y) for x, y in zip(a, b, strict=True))
    return type(a) is type(b) and a == b
