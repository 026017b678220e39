"""What moves an answer: the fields that its inputs name, edited in place, checked as typed, saved as a new version."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable, Sequence
from dataclasses import replace
from html import escape
from typing import TYPE_CHECKING, Protocol

from nicegui import ui
from nicegui.events import GenericEventArguments

from tussock.errors import TussockError
from tussock.record.explain import choices_of, field_at
from tussock.release.words import tidy
from tussock.store import Conflict
from tussock.web.desk import Desk
from tussock.web.fields import Field, fault_in_words, keys_of, moving
from tussock.web.settle import Settle

if TYPE_CHECKING:
    from tussock.record.load import Loaded
    from tussock.store import Version
    from tussock.studies.result import Result


AT_FIRST = "^value"
"""What a box holds when it appears. As a property, `value` would be set again whenever anything on the page changes,
over what somebody is typing."""


class Editable(Protocol):
    """A page on one version that follows an edit."""

    desk: Desk
    version: Version
    author: str
    note: str
    conflicts: ui.element

    async def edited(self, version: Version) -> None:
        """Follow a new version."""
        ...


def show_moves(page: Editable, result: Result) -> None:
    """Write the fields of a result's inputs."""
    ui.html("What moves it", sanitize=False, tag="h2")
    tree = page.desk.store.programmes.programme(page.version).tree.data
    groups = moving(tree, result.inputs)
    if page.author and any(group.fields for group in groups):
        note_box(page)
    for group in groups:
        with ui.element("div").classes("group"):
            if not group.fields:
                words = f"<dl><dt>{escape(group.title)}</dt><dd>{escape(tidy(group.words))}</dd></dl>"
                ui.html(words, sanitize=False)
                continue
            ui.html(escape(group.title), sanitize=False, tag="h3")
            show_fields(page, group.fields)


def show_fields(page: Editable, fields: Sequence[Field]) -> None:
    """Write fields: as boxes for who may save, as text for who may read only."""
    if page.author:
        tree = page.desk.store.programmes.programme(page.version).tree.data
        for field in fields:
            known = field_at(keys_of(field.path), tree)
            FieldInput(page, field, choices_of(known) if known is not None else ())
        return
    rows = "".join(f"<div><dt>{escape(f.label)}</dt><dd>{escape(f.text)}</dd></div>" for f in fields)
    ui.html(f"<dl>{rows}</dl>", sanitize=False)


def note_box(page: Editable) -> None:
    """Write the box for the note that goes with the next saves; without one the note says which field was changed."""

    def noted(event: GenericEventArguments) -> None:
        page.note = str(event.args).strip()

    with ui.element("div").classes("field"):
        ui.html("Why you change it, kept with each save", sanitize=False, tag="label").props('for="note"')
        box = ui.element("input").mark("note").props('id="note" autocomplete="off" maxlength="400"')
        box.props[AT_FIRST] = page.note
        box.on("change", noted, js_handler="(e) => emit(e.target.value)")


class Says(Protocol):
    """Who tells what came of a save."""

    def __call__(self, words: str, *, wrong: bool) -> None:
        """Say it."""
        ...


async def save_field(
    page: Editable, path: str, typed: str, *, note: str, say: Says, settled: Callable[[Version], Awaitable[None]]
) -> Version | None:
    """Save one field as typed, as a new version; None where that did not go, and why was said.

    `note` goes with the save unless somebody typed one; `settled` is told the version once a conflict is settled.
    """
    programmes = page.desk.store.programmes

    def change() -> Loaded:
        return programmes.edit(page.version, path, typed)

    def put(mine: Loaded) -> Version:
        base = page.version
        return programmes.save(
            base.programme_id, mine.text, base=base.number, author=page.author, note=page.note or note
        )

    try:
        mine = await asyncio.to_thread(change)
        return await asyncio.to_thread(put, mine)
    except Conflict as conflict:
        say("Not saved yet: see above", wrong=True)
        await Settle(page.conflicts, page.desk, conflict, mine.text, author=page.author, settled=settled).show()
    except TussockError as error:
        say(fault_in_words(error, path), wrong=True)
    return None


class FieldInput:
    """One field: label, box, the words that may stand in it, and what is wrong with what was typed.

    Enter or leaving the box saves it.
    """

    def __init__(self, page: Editable, field: Field, choices: Sequence[str] = ()) -> None:
        self._page = page
        self._field = field
        self._said = 0
        self._asked: str | None = None  # what was last asked to be saved, until something else is typed
        name = f"field-{field.path}"
        with ui.element("div").classes("field") as self._box:
            ui.html(escape(field.label), sanitize=False, tag="label").props(f'for="{name}"')
            self._input = ui.element("input").mark(name)
            self._input.props["id"] = name
            self._input.props[AT_FIRST] = field.text
            self._input.props["autocomplete"] = "off"
            self._input.props["aria-describedby"] = f"{name}-says"
            if len(choices) > 1:  # offered while one types, as a list to choose from
                rows = "".join(f'<option value="{escape(word)}"></option>' for word in choices)
                ui.html(rows, sanitize=False, tag="datalist").props["id"] = f"{name}-words"
                self._input.props["list"] = f"{name}-words"
            self._words = ui.html("", sanitize=False, tag="p").classes("says").props('role="status"')
            self._words.props["id"] = f"{name}-says"
        value = "(e) => emit(e.target.value)"
        self._input.on("input", self._check, js_handler=value, throttle=0.4, leading_events=False)
        self._input.on("change", self._save, js_handler=value)

    async def _check(self, event: GenericEventArguments) -> None:
        """Say beside the field what is wrong with it as it stands."""
        if event.args == self._asked:
            return  # this came behind its own save, which says more
        self._asked = None
        self._said += 1
        said = self._said
        wrong = await asyncio.to_thread(self._fault, str(event.args))
        if said == self._said:
            self._say(wrong or "", wrong=bool(wrong))

    async def _save(self, event: GenericEventArguments) -> None:
        """Save a new version, if the field is right."""
        typed = self._asked = str(event.args)
        if typed.strip() == self._field.text:
            self._say("", wrong=False)
            return
        self._said += 1
        page = self._page
        note = f"{self._field.path}: {self._field.text} to {typed.strip()}"
        version = await save_field(page, self._field.path, typed, note=note, say=self._say, settled=self._settled)
        if version is None:
            return
        self._field = replace(self._field, text=typed.strip())
        self._input.props[AT_FIRST] = typed.strip()  # the box itself stays as it is
        self._say(f"Saved as version {version.number}", wrong=False)
        page.version = version
        await page.edited(version)

    def _fault(self, typed: str) -> str | None:
        try:
            self._changed(typed)
        except TussockError as error:
            return fault_in_words(error, self._field.path)
        return None

    def _changed(self, typed: str) -> Loaded:
        return self._page.desk.store.programmes.edit(self._page.version, self._field.path, typed)

    async def _settled(self, version: Version) -> None:
        self._say(f"Settled as version {version.number}", wrong=False)
        self._page.version = version
        await self._page.edited(version)

    def _say(self, words: str, *, wrong: bool) -> None:
        self._words.set_content(escape(words))
        self._input.props["aria-invalid"] = "true" if wrong else "false"
        self._input.update()
        if wrong:
            self._box.classes("wrong")
        else:
            self._box.classes(remove="wrong")
