"""Hardpoints that stand in a table beside the programme are taken into its axles before anything is checked."""

from __future__ import annotations

from pathlib import Path as FolderPath
from typing import Any

from tussock.record.attached import inside_folder
from tussock.record.base import AXLES
from tussock.record.hardpoint_csv import MOST_CHARACTERS, read_hardpoints
from tussock.record.layouts import LAYOUTS
from tussock.record.problems import Problem, ProgrammeError
from tussock.record.tree import Tree, dotted
from tussock.record.view import Path, View


def with_hardpoint_files(tree: Tree, name: str, folder: FolderPath | None) -> tuple[Any, list[Problem]]:
    """Return a document with the points of its tables in it, and what is wrong with them.

    Parameters
    ----------
    tree : Tree
        The document; it stays as it is and may be wrong anywhere.
    name : str
        Its name, for messages.
    folder : path or None
        Where its files lie; None for a programme read from text.
    """
    view = View(tree.data)
    data, problems = tree.data, []
    for axle in AXLES:
        path: Path = ("vehicle", "axles", axle)
        at: Path = (*path, "hardpoints_file")
        written = view.text(*at)
        if written is None:
            continue
        try:
            points = _read(view, path, written, folder)
        except ProgrammeError as error:
            problems += list(error.problems)
            continue
        except ValueError as error:
            problems.append(
                Problem(
                    file=name,
                    line=tree.line(at),
                    path=dotted(at),
                    found=repr(written[:80]),
                    wrong=str(error),
                    example="points/front.csv",
                )
            )
            continue
        own = view.get(*path, "hardpoints")
        # what the document says itself stands over the table
        whole = {**points, **own} if isinstance(own, dict) else points
        data = _with(data, (*path, "hardpoints"), whole)
    return data, problems


def _read(view: View, axle: Path, written: str, folder: FolderPath | None) -> dict[str, str]:
    """Return the points of a table as a programme writes them; ValueError for a file that cannot be read."""
    if folder is None:
        raise ValueError("a programme read from text has no folder; open it from its file")
    place = inside_folder(folder, written)
    if place is None:
        raise ValueError("a file must lie in the programme's folder; give its path from there, with /")
    try:
        if not place.is_file():
            raise ValueError("there is no such file beside the programme")
        if place.stat().st_size > 4 * MOST_CHARACTERS:
            raise ValueError("a table of hardpoints is no longer than a megabyte")
        text = place.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise ValueError(f"the file cannot be read: {getattr(error, 'strerror', None) or error}") from None
    layout = view.text(*axle, "layout") or ""
    once = [f"{link}_{end}" for _, link in view.rows(*axle, "central") for end in ("axle", "chassis")]
    table = read_hardpoints(
        text, written, layout=layout if layout in LAYOUTS else "", steering=view.steering(*axle), once=once
    )
    return {point: at.text for point, at in table.points.items()}


def _with(data: Any, path: Path, value: Any) -> Any:
    """Return mappings with one value replaced; what is not on the path is shared."""
    if not path:
        return value
    return {**data, path[0]: _with(data.get(path[0]) if path[1:] else None, path[1:], value)}
