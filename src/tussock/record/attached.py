"""Files that a programme names: found only inside its own folder, kept by content hash.

Those that studies read, dyno sweeps and measured roads, are kept with their bytes.
"""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass, field
from pathlib import Path as FolderPath
from pathlib import PurePosixPath
from typing import Any

from tussock.record.problems import Problem
from tussock.record.tree import Tree, dotted, read_tree
from tussock.record.view import Path

LARGEST_DYNO = 50_000_000
"""Bytes of a dyno file; a sweep of a dozen speeds has well under one million."""
LARGEST_ROAD = 200_000_000
"""Bytes of a measured road; 1 km of a lane in 1 cm squares has 160 million in OpenCRG's single precision."""

_KEPT, _DIGITS = "attached", 12


@dataclass(slots=True)
class Attached:
    """Bytes of dyno and road files, SHA-256 of all files by their path as written, and what is wrong with them.

    Whether the bytes are a sweep, as text or as ASAM MDF, or a road is for the studies to find out.
    """

    contents: dict[str, bytes] = field(default_factory=dict)
    roads: dict[str, bytes] = field(default_factory=dict)
    hashes: dict[str, str] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)


def inside_folder(folder: FolderPath, written: str) -> FolderPath | None:
    """Return the place of a file under a folder, or None if its path, or a link on it, leads out of it."""
    pure = PurePosixPath(written)
    if pure.is_absolute() or ".." in pure.parts or "\\" in written or "\x00" in written or ":" in written:
        return None
    place = folder.joinpath(*pure.parts)
    try:
        place.resolve().relative_to(folder.resolve())
    except (ValueError, OSError, RuntimeError):
        return None
    return place


def read_attached(tree: Tree, name: str, folder: FolderPath) -> Attached:
    """Look for every file that a document names; works on a document that is wrong elsewhere."""
    attached = Attached()
    judged: set[tuple[str, str]] = set()
    for path, written in _named(tree.data):
        use = "dyno" if path[-1] == "dyno" else "road" if _is_road(path) else "other"
        if (written, use) in judged:
            continue
        judged.add((written, use))
        wrong = _read(attached, folder, written, use=use)
        if wrong:
            attached.problems.append(
                Problem(
                    file=name,
                    line=tree.line(path),
                    path=dotted(path),
                    found=repr(written[:80]),
                    wrong=wrong,
                    example="roads/moor.csv" if use == "road" else "dyno/front-a.csv",
                )
            )
    return attached


def _read(attached: Attached, folder: FolderPath, written: str, *, use: str) -> str:
    """Take one file in; returns what is wrong with it, or ""."""
    place = inside_folder(folder, written)
    if place is None:
        return "a file must lie in the programme's folder; give its path from there, with /"
    try:
        if not place.is_file():
            return "there is no such file beside the programme"
        if use == "other":
            with place.open("rb") as stream:
                attached.hashes[written] = hashlib.file_digest(stream, "sha256").hexdigest()
            return _changed_since(written, attached.hashes[written])
        most = LARGEST_DYNO if use == "dyno" else LARGEST_ROAD
        if place.stat().st_size > most:
            return f"a {use} file of more than {most / 1e6:.0f} MB"
        raw = place.read_bytes()
    except (OSError, ValueError) as error:
        return f"the file cannot be read: {getattr(error, 'strerror', None) or error}"
    (attached.contents if use == "dyno" else attached.roads)[written] = raw
    attached.hashes[written] = hashlib.sha256(raw).hexdigest()
    return _changed_since(written, attached.hashes[written])


def kept_name(name: str, digest: str) -> str:
    """Return under which path a file is kept by its content: the first digits of its SHA-256 lead its name.

    >>> kept_name("stop mark.jpg", "9f86d081884c7d65")
    'attached/9f86d081884c-stop mark.jpg'
    """
    return f"{_KEPT}/{digest[:_DIGITS]}-{name}"


def _changed_since(written: str, digest: str) -> str:
    """Say when a file that is kept by its content is no longer that content."""
    kept = re.fullmatch(rf"{_KEPT}/([0-9a-f]{{{_DIGITS}}})-[^/]+", written)
    if kept is None or digest.startswith(kept[1]):
        return ""
    return "the file was changed after it was attached; put the first one back, and attach this one as another"


def named_files(text: str, name: str = "programme") -> tuple[str, ...]:
    """Return the path of every file that a document names, in order; it may be wrong elsewhere.

    Raises
    ------
    ProgrammeError
        It cannot be read as YAML at all.
    """
    return tuple(sorted({written for _, written in _named(read_tree(text, name=name).data)}))


_WITH_FILES = (("drives",), ("notes",), ("corrections",))


def _names_file(key: Any, path: Path) -> bool:
    return key in ("dyno", "hardpoints_file") or (
        key == "file" and (path[:1] == ("attachments",) or path[2:3] == ("recordings",) or _is_road((*path, key)))
    )


def _is_road(path: Path) -> bool:
    return path[:2] == ("road_loop", "sections") and path[3:] == ("surface", "file")


def _named(node: Any, path: Path = ()) -> list[tuple[Path, str]]:
    """Return every file that a document names, with its place."""
    found: list[tuple[Path, str]] = []
    if isinstance(node, dict):
        for key, value in node.items():
            at: Path = (*path, key)
            if isinstance(value, str) and _names_file(key, path):
                found.append((at, value))
            elif key == "files" and path[:1] in _WITH_FILES and isinstance(value, list):
                found += [((*at, i), v) for i, v in enumerate(value) if isinstance(v, str)]
            else:
                found += _named(value, at)
    elif isinstance(node, list):
        for i, value in enumerate(node):
            found += _named(value, (*path, i))
    return found
