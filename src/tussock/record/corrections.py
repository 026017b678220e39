"""The log as it counts now: what was written, with the corrections laid over it, each to the entry that it names.

Works on plain data that may be wrong anywhere, so that the checks between fields see what counts and still name the
line that says so.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from tussock.record.view import Path, View

LISTS = ("dyno_runs", "drives", "notes", "decisions", "corrections")
"""Parts of the log that are lists, whose entries may carry an id; builds are called by their name."""

WORDS: Mapping[str, str] = {
    "builds": "build",
    "dyno_runs": "dyno run",
    "drives": "drive",
    "notes": "note",
    "decisions": "decision",
    "corrections": "correction",
}


@dataclass(frozen=True, slots=True)
class Change:
    """What stands over an entry: fields with the place that says so, and the id of who withdrew it."""

    fields: Mapping[str, tuple[Any, Path]] = field(default_factory=dict)
    withdrawn_by: str | None = None
    by: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Counted:
    """A document with its corrections applied.

    Attributes
    ----------
    data : mapping
        The document; a withdrawn entry of a list is None there, so that places stay, and a withdrawn build is gone.
    changes : mapping
        What stands over an entry, by its path.
    """

    data: Any
    changes: Mapping[Path, Change]

    def written(self, path: Path) -> Path:
        """Return where a field of the document was written: in its entry, or in the correction that replaced it."""
        change = self.changes.get(path[:2])
        if change is not None and len(path) > 2 and path[2] in change.fields:
            return (*change.fields[str(path[2])][1], *path[3:])
        return path


def entries(data: Any) -> Iterator[tuple[str, Path]]:
    """Yield every entry of the log that has a name, with its path."""
    view = View(data)
    for name in view.names("builds"):
        yield name, ("builds", name)
    for part in LISTS:
        for i, _ in view.rows(part):
            called = view.text(part, i, "id")
            if called is not None:
                yield called, (part, i)


def counted(data: Any) -> Counted:
    """Return a document with its corrections applied; one that names nothing, or nothing earlier, changes nothing."""
    view = View(data)
    places: dict[str, Path] = {}
    for name, path in entries(data):
        places.setdefault(name, path)
    over: dict[Path, list[Change]] = {}
    for i, _ in reversed(list(view.rows("corrections"))):  # the last first: it may change what an earlier one says
        own: Path = ("corrections", i)
        target = places.get(view.text(*own, "corrects") or "")
        mine = _joined(over.get(own, []))
        if target is None or mine.withdrawn_by is not None or not _earlier(target, i):
            continue
        given = view.get(*own, "fields")
        fields = {str(k): (v, (*own, "fields", k)) for k, v in given.items()} if isinstance(given, Mapping) else {}
        called = view.text(*own, "id") or f"correction {i + 1}"
        over.setdefault(target, []).insert(
            0,
            Change(
                fields={**fields, **mine.fields},
                withdrawn_by=called if view.get(*own, "withdrawn") is True else None,
                by=(called, *mine.by),
            ),
        )
    changes = {path: _joined(several) for path, several in over.items()}
    return Counted(data=_applied(data, changes), changes=changes)


def _earlier(target: Path, place: int) -> bool:
    return target[0] != "corrections" or (isinstance(target[1], int) and target[1] < place)


def _joined(changes: list[Change]) -> Change:
    fields: dict[str, tuple[Any, Path]] = {}
    withdrawn: str | None = None
    for change in changes:
        fields.update(change.fields)
        withdrawn = change.withdrawn_by or withdrawn
    return Change(fields=fields, withdrawn_by=withdrawn, by=tuple(n for c in changes for n in c.by))


def corrected(entry: Any, change: Change) -> Any:
    """Return an entry's data with a change laid over it; a field that is set to nothing is left out."""
    if not isinstance(entry, Mapping):
        return entry
    merged = {**entry, **{k: v for k, (v, _) in change.fields.items()}}
    return {k: v for k, v in merged.items() if not (v is None and k in change.fields)}


def _applied(data: Any, changes: Mapping[Path, Change]) -> Any:
    if not changes:
        return data
    out = dict(data)
    for path, change in changes.items():
        part, key = path
        if part == "corrections":
            continue  # what they say has gone into what they correct
        if out[part] is data[part]:
            out[part] = dict(data[part]) if part == "builds" else list(data[part])
        if change.withdrawn_by is None:
            out[part][key] = corrected(data[part][key], change)
        elif part == "builds":
            del out[part][key]
        else:
            out[part][key] = None
    return out
