"""Files by drag and drop: attached to a programme with progress, or a programme taken in whole."""

from __future__ import annotations

import asyncio
import tempfile
from collections.abc import Awaitable, Callable
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING

from nicegui import ui
from nicegui.events import UploadEventArguments

from tussock.errors import TussockError
from tussock.store import Store
from tussock.store.exchange import document_text, import_zip

if TYPE_CHECKING:
    from tussock.store import Version
    from tussock.web.moves import Editable

LARGEST = 100_000_000
"""Bytes of a file that the pages take."""


def drop_box(label: str, take: Callable[[Path, str, str], Awaitable[None]], *, kinds: str) -> ui.upload:
    """Return a box that takes files; each is written to a temporary file and handed on with its name and type."""

    async def arrived(event: UploadEventArguments) -> None:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "upload"
            await event.file.save(path)
            try:
                await take(path, event.file.name, event.file.content_type)
            except TussockError as error:
                said = str(error) if event.file.name in str(error) else f"{event.file.name}: {error}"
                ui.notify(said, multi_line=True, timeout=0, close_button="Close")

    def refused() -> None:
        ui.notify(f"Not taken: a file must be one of {kinds} and at most {LARGEST / 1e6:.0f} MB")

    box = ui.upload(
        label=label, multiple=True, auto_upload=True, max_file_size=LARGEST, on_upload=arrived, on_rejected=refused
    )
    return box.props(f'accept="{kinds}" flat bordered').classes("drop")


def files_box(page: Editable) -> None:
    """Write the files of a programme and a box that attaches more."""
    ui.html("Files", sanitize=False, tag="h2").classes("files-title")
    rows = "".join(f"<li>{escape(path)}</li>" for path in page.version.files)
    listed = ui.html(f'<ul class="places">{rows}</ul>' if rows else "<p>No file is attached.</p>", sanitize=False)

    async def take(path: Path, name: str, media_type: str) -> None:
        version, kept = await asyncio.to_thread(_attach, page, path, name, media_type)
        await page.edited(version)
        rows = "".join(f"<li>{escape(p)}</li>" for p in version.files)
        listed.set_content(f'<ul class="places">{rows}</ul>')
        ui.notify(f"Attached as {kept}; write this path into the field that reads it", timeout=0, close_button="Close")

    drop_box("Attach dyno, logger or photo files: drop them here", take, kinds=".csv,.gz,.mf4,.jpg,.jpeg,.png,.pdf")


def _attach(page: Editable, path: Path, name: str, media_type: str) -> tuple[Version, str]:
    store, version = page.desk.store, page.version
    with path.open("rb") as stream:
        kept = store.files.attach(stream, name, media_type, most=LARGEST)
    text = store.programmes.text(version)
    files = {kept.kept_path: kept.digest}
    note = f"attached {kept.kept_path}"
    saved = store.programmes.save(
        version.programme_id, text, base=version.number, author=page.author, note=note, files=files
    )
    return saved, kept.kept_path


def take_programme(store: Store, path: Path, name: str, author: str) -> Version:
    """Take a programme into the store from YAML or from a ZIP archive with its files."""
    if name.lower().endswith(".zip"):
        with path.open("rb") as stream:
            return import_zip(store, stream, author=author, note=f"from {name}")
    with path.open("rb") as stream:
        return store.programmes.create(document_text(stream, name), author=author, note=f"from {name}")
