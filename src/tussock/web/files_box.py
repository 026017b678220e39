"""Files by choice or by drag and drop: attached to a programme with progress, or a programme taken in whole."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Mapping
from html import escape
from typing import TYPE_CHECKING

from nicegui import ui
from nicegui.events import GenericEventArguments

from tussock.errors import TussockError
from tussock.record.attached import kept_name
from tussock.store import Conflict
from tussock.store.files import plain_name
from tussock.web.api.uploads import KINDS, Kind, taken

if TYPE_CHECKING:
    from tussock.store import Version
    from tussock.web.moves import Editable


def drop_box(
    label: str, name: str, *, to: str, kinds: Mapping[str, Kind], opens: str = "", many: bool = True
) -> ui.html:
    """Write a box that takes files and sends them to `to`, a route of the REST interface.

    Which kinds are taken, and up to which size, is said beside it and checked before anything is sent; the event `kept`
    carries what the route answered. `opens` is the page that follows, with {programme} for its number.
    """
    ends = {
        end: {"type": media_type, "words": kind.words, "most": kind.most}
        for media_type, kind in kinds.items()
        for end in kind.ends
    }
    words = taken(kinds)
    words = words[:1].upper() + words[1:]
    box = ui.html(
        f'<label for="{name}">{escape(label)}</label>'
        f'<input id="{name}" type="file" accept="{",".join(ends)}" multiple '
        f'aria-describedby="{name}-taken"><p class="note" id="{name}-taken">{escape(words)}.</p><ul></ul>',
        sanitize=False,
    ).classes("drop")
    box.props["data-to"], box.props["data-open"] = to, opens
    box.props["data-kinds"], box.props["data-taken"] = json.dumps(ends), words
    return box


def files_box(page: Editable) -> None:
    """Write the files of a programme and, for who may save, a box that attaches more."""
    ui.html("Files", sanitize=False, tag="h2").classes("files-title")
    listed = ui.html(_rows(page.version), sanitize=False)
    if not page.author:
        return
    box = drop_box(
        "Attach dyno, logger or photo files: choose them, or drop them here", "attach", to="/api/files", kinds=KINDS
    )
    said = ui.html("", sanitize=False).props('role="status"')
    told: list[str] = []
    turn = asyncio.Lock()

    async def take(event: GenericEventArguments) -> None:
        async with turn:  # of several files each makes a version, one after the other
            await attach(event)

    async def attach(event: GenericEventArguments) -> None:
        try:
            path = kept_name(plain_name(str(event.args["called"])), str(event.args["digest"]))
            version = await asyncio.to_thread(_attach, page, path, str(event.args["digest"]))
        except TussockError as error:
            told.append(f"{event.args['called']} is in the store, but not attached: {error}")
        else:
            listed.set_content(_rows(version))
            told.append(f"Attached as {path}; write this path into the field that reads it.")
            if version.number == page.version.number + 1:  # else somebody saved between, which the next edit tells
                await page.edited(version)
        said.set_content("".join(f"<p>{escape(words)}</p>" for words in told))

    box.on("kept", take, js_handler="(e) => emit(e.detail)")


def _rows(version: Version) -> str:
    rows = "".join(f"<li>{escape(path)}</li>" for path in version.files)
    return f'<ul class="places">{rows}</ul>' if rows else "<p>No file is attached.</p>"


def _attach(page: Editable, path: str, digest: str) -> Version:
    """Save the newest version with one file more; who saved meanwhile is not in the way of a file."""
    programmes, base = page.desk.store.programmes, page.version
    note, files = f"attached {path}", {path: digest}
    while True:
        try:
            return programmes.save(
                base.programme_id, programmes.text(base), base=base.number, author=page.author, note=note, files=files
            )
        except Conflict as conflict:
            base = conflict.newest
