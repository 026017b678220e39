"""What the places of a programme are called in the trade, and by what an entry of a list is known."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from tussock.record.corrections import WORDS
from tussock.record.view import Path

_IDENTITIES = ("id", "name", "file")
_AXLES = ("front", "rear")
#: What an entry is called by the field that holds it; the entry's own name follows.
_ENTRIES: Mapping[str, str] = {
    "fitouts": "fit-out",
    "springs": "spring",
    "dampers": "damper",
    "packers": "packer",
    "bags": "air bag",
    "limiters": "limiter",
    "sections": "road section",
    "items": "item",
    "places": "place",
    "hardpoints": "hardpoint",
    "bushes": "bush",
    "loggers": "logger",
    "oils": "oil",
    "discs": "disc stock",
    "attachments": "attachment",
    **WORDS,
}
_PLAIN: Mapping[str, str] = {
    "fitouts": "fit-outs",
    "dyno_runs": "dyno runs",
    "road_loop": "road loop",
    "centre_of_gravity_height": "height of the centre of gravity",
    "bar": "anti-roll bar",
    "stop": "bump stop",
    "<<": "taken over",
}
_SILENT = ("vehicle", "axles")


def identity(entry: Any) -> str:
    """Return by what an entry of a list is known, or ""; such as its id or its name.

    >>> identity({"id": "D3", "driver": "Ailsa"}), identity({"name": "brake hose"}), identity("0.2 x 28 mm")
    ('D3', 'brake hose', '')
    """
    if isinstance(entry, Mapping):
        for key in _IDENTITIES:
            if isinstance(entry.get(key), str):
                return str(entry[key])
    return ""


def identities(rows: Any) -> list[str]:
    """Return by what each entry of a list is known; nothing where one is not known or two are known alike."""
    if not isinstance(rows, list):
        return []
    found = [identity(row) for row in rows]
    return found if all(found) and len(set(found)) == len(found) else []


def in_words(path: Path) -> str:
    """Say where a field of a programme stands.

    A path of this kind names the entries of lists as they are known where they are, else by their place from 0.

    >>> in_words(("vehicle", "axles", "front", "spring", "rate"))
    'front axle, spring, rate'
    >>> in_words(("kit", "springs", "rear_main", "free_length"))
    'kit, spring rear_main, free length'
    >>> in_words(("drives", "D3", "verdicts", 0, "verdict"))
    'drive D3, verdicts 1, verdict'
    """
    words: list[str] = []
    holder = before = ""
    for key in path:
        if holder:
            one = _ENTRIES[holder]
            words.append(f"{key} {one}" if key in _AXLES else f"{one} {key + 1 if isinstance(key, int) else key}")
            holder = ""
        elif isinstance(key, int):
            words[-1:] = [f"{words[-1] if words else 'entry'} {key + 1}"]
        elif key in _ENTRIES:
            holder = key
        elif key in _AXLES and before == "axles":
            words.append(f"{key} axle")
        elif key not in _SILENT:
            words.append(_plural(key))
        before = str(key)
    if holder or (path and path[-1] in _SILENT):
        words.append(_plural(str(path[-1])))
    return ", ".join(words) or "the document"


def _plural(key: str) -> str:
    return _PLAIN.get(key, key.replace("_", " "))
