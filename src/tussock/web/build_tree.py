"""The tree of builds: each below the one it was changed from, with what changed, how often driven and how judged."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from html import escape

from nicegui import ui

from tussock.release.words import tidy
from tussock.studies.job import STOCK
from tussock.studies.result import Result, Table

KEY = "build_tree"
"""Key of the table that a tree shows: a row a build."""


def show_tree(result: Result) -> Table | None:
    """Write the tree of a result that has one; return the table that it shows."""
    tables = {table.key: table for table in result.tables}
    if KEY in tables:
        ui.html(tree_html(tables[KEY], tables.get("verdicts")), sanitize=False, tag="section").classes("tree")
    return tables.get(KEY)


def tree_html(builds: Table, verdicts: Table | None = None) -> str:
    """Return the builds as nested lists below stock; `verdicts` says how each was judged against others."""
    rows = [dict(zip((c.key for c in builds.columns), row, strict=True)) for row in builds.rows]
    judged: dict[str, list[str]] = {}
    for row in verdicts.rows if verdicts is not None else ():
        said = dict(zip((c.key for c in verdicts.columns), row, strict=True)) if verdicts is not None else {}
        counts = f"better {said['better']}, same {said['same']}, worse {said['worse']}"
        words = f"{said['attribute']} against {said['against']}: {counts}"
        judged.setdefault(str(said["build"]), []).append(words)

    def below(parent: str) -> str:
        items = "".join(_item(row, judged, below) for row in rows if row["parent"] == parent)
        return f"<ul>{items}</ul>" if items else ""

    return f"<h2>{escape(builds.title)}</h2><ul><li><b>{STOCK}</b>{below(STOCK)}</li></ul>"


def _item(row: Mapping[str, object], judged: Mapping[str, list[str]], below: Callable[[str], str]) -> str:
    name = str(row["build"]).replace("· ", "")
    drives = int(str(row["drives"]))
    driven = "not driven" if drives == 0 else "driven once" if drives == 1 else f"driven {drives} times"
    title = f", {row['title']}" if row["title"] else ""
    lines = [f"{row['changes']}; {driven}", *judged.get(name, [])]
    said = "".join(f"<span>{escape(tidy(line))}</span>" for line in lines)
    return f"<li><b>{escape(name)}</b>{escape(title)}{said}{below(name)}</li>"
