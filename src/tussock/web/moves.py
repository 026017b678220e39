"""What moves an answer: the fields that its inputs name, edited in place, checked as typed, saved as a new version."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from dataclasses import replace
from html import escape
from typing import TYPE_CHECKING, Protocol

from nicegui import ui
from nicegui.events import GenericEventArguments

from tussock.errors import TussockError
from tussock.record.problems import ProgrammeError
from tussock.release.words import tidy
from tussock.web.desk import Desk
from tussock.web.fields import Field, changed, fault_in_words, moving, plain_tree

if TYPE_CHECKING:
    from tussock.store import Version
    from tussock.studies.result import Result


class Editable(Protocol):
    """A page on one version that follows an edit."""

    desk: Desk
    version: Version
    author: str

    async def edited(self, version: Version) -> None:
        """Follow a new version."""
        ...


def show_moves(page: Editable, result: Result) -> None:
    """Write the fields of a result's inputs."""
    ui.html("What moves it", sanitize=False, tag="h2")
    tree = plain_tree(page.desk.store.programmes.programme(page.version))
    for group in moving(tree, result.inputs):
        with ui.element("div").classes("group"):
            if not group.fields:
                words = f"<dl><dt>{escape(group.title)}</dt><dd>{escape(tidy(group.words))}</dd></dl>"
                ui.html(words, sanitize=False)
                continue
            ui.html(escape(group.title), sanitize=False, tag="h3")
            for field in group.fields:
                FieldInput(page, field)


class FieldInput:
    """One field: label, box, and what is wrong with what was typed. Enter or leaving the box saves it."""

    def __init__(
        self, page: Editable, field: Field, *, settle: Callable[[Version], Awaitable[None]] | None = None
    ) -> None:
        self._page = page
        self._field = field
        self._settle = settle or page.edited
        self._said = 0
        name = f"field-{field.path}"
        with ui.element("div").classes("field") as self._box:
            ui.html(escape(field.label), sanitize=False, tag="label").props(f'for="{name}"')
            self._input = ui.element("input").mark(name)
            self._input.props["id"] = name
            self._input.props["value"] = field.text
            self._input.props["autocomplete"] = "off"
            self._input.props["aria-describedby"] = f"{name}-says"
            self._words = ui.html("", sanitize=False, tag="p").classes("says").props('role="status"')
            self._words.props["id"] = f"{name}-says"
        value = "(e) => emit(e.target.value)"
        self._input.on("input", self._check, js_handler=value, throttle=0.4, leading_events=False)
        self._input.on("change", self._save, js_handler=value)

    async def _check(self, event: GenericEventArguments) -> None:
        """Say beside the field what is wrong with it as it stands."""
        self._said += 1
        said = self._said
        wrong = await asyncio.to_thread(self._fault, str(event.args))
        if said == self._said:
            self._say(wrong or "", wrong=bool(wrong))

    async def _save(self, event: GenericEventArguments) -> None:
        """Save a new version, if the field is right."""
        typed = str(event.args)
        if typed.strip() == self._field.text:
            self._say("", wrong=False)
            return
        self._said += 1
        page = self._page
        try:
            version = await asyncio.to_thread(self._put, typed)
        except TussockError as error:
            words = fault_in_words(error, self._field.path) if isinstance(error, ProgrammeError) else str(error)
            self._say(words, wrong=True)
            return
        self._field = replace(self._field, text=typed.strip())
        self._say(f"Saved as version {version.number}", wrong=False)
        page.version = version
        await self._settle(version)

    def _fault(self, typed: str) -> str | None:
        loaded = self._page.desk.store.programmes.programme(self._page.version)
        try:
            changed(loaded, self._field.path, typed)
        except ProgrammeError as error:
            return fault_in_words(error, self._field.path)
        except TussockError as error:
            return str(error)
        return None

    def _put(self, typed: str) -> Version:
        page = self._page
        programmes = page.desk.store.programmes
        new = changed(programmes.programme(page.version), self._field.path, typed)
        note = f"{self._field.path}: {self._field.text} to {typed.strip()}"
        return programmes.save(
            page.version.programme_id, new.text, base=page.version.number, author=page.author, note=note
        )

    def _say(self, words: str, *, wrong: bool) -> None:
        self._words.set_content(escape(words))
        self._input.props["aria-invalid"] = "true" if wrong else "false"
        self._input.update()
        if wrong:
            self._box.classes("wrong")
        else:
            self._box.classes(remove="wrong")
