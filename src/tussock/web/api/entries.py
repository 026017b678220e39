"""Entries of the log as devices send them: each identity is taken once, however often it arrives."""

from __future__ import annotations

from typing import Annotated, Any
from uuid import UUID

from fastapi import APIRouter, Query, Request, Response

from tussock.errors import InputError
from tussock.record.attached import kept_name
from tussock.record.corrections import entries as named_entries
from tussock.record.tree import read_tree
from tussock.store import LogEntry, NotFound, Store
from tussock.store.files import plain_name
from tussock.web.api.faults import without_places
from tussock.web.api.shapes import AmendedEntry, EntryList, EntryShape, Key, NewEntry, entry_shape


def entry_routes(store: Store) -> APIRouter:
    """Return the routes of log entries."""
    router = APIRouter(prefix="/api/programmes/{programme}/entries", tags=["log"])

    def of(programme: int, client_id: UUID) -> LogEntry:
        entry = store.entries.get(str(client_id))
        if entry.programme_id != programme:
            raise NotFound("there is no such entry in this programme")
        return entry

    @router.get("")
    def list_entries(programme: Key, waiting: Annotated[bool, Query()] = False) -> EntryList:
        """Which entries did devices send? With `waiting`, only those that the programme could not take."""
        found = store.entries.list(programme, waiting=waiting)
        return EntryList(entries=tuple(_shown(store, entry) for entry in found))

    @router.get("/{client_id}")
    def show_entry(programme: Key, client_id: UUID) -> EntryShape:
        """What became of this entry?"""
        return _shown(store, of(programme, client_id))

    @router.put("/{client_id}", status_code=200, responses={201: {"model": EntryShape, "description": "Taken now."}})
    def send_entry(request: Request, response: Response, programme: Key, client_id: UUID, body: NewEntry) -> EntryShape:
        """Take an entry; sent again, it changes nothing and says what became of the first."""
        store.programmes.get(programme)
        try:
            return _shown(store, of(programme, client_id))
        except NotFound:
            if _elsewhere(store, str(client_id)):
                raise InputError(
                    "this entry belongs to another programme; give a new one an identity of its own"
                ) from None
        paths = {kept_name(plain_name(f.name), f.digest): store.files.get(f.digest).digest for f in body.files}
        fields = {**body.fields, "files": list(paths)} if paths else body.fields
        _check_fields(fields)
        author = request.state.who.name
        entry = store.entries.add(programme, str(client_id), fields, author=author, part=body.part, files=paths)
        response.status_code = 201
        return _shown(store, entry)

    @router.patch("/{client_id}")
    def amend_entry(request: Request, programme: Key, client_id: UUID, body: AmendedEntry) -> EntryShape:
        """Try an entry that waits again with other fields; sent again, it changes nothing."""
        entry = of(programme, client_id)
        fields = {**body.fields, "files": list(entry.files)} if entry.files else body.fields
        _check_fields(fields)
        if entry.version is not None and dict(entry.payload) == fields:
            return _shown(store, entry)
        return _shown(store, store.entries.amend(str(client_id), fields, author=request.state.who.name))

    return router


def _check_fields(fields: dict[str, Any]) -> None:
    if "id" in fields:
        raise InputError("the log names its entries itself; leave `id` out")


def _elsewhere(store: Store, client_id: str) -> bool:
    try:
        store.entries.get(client_id)
    except NotFound:
        return False
    return True


def _shown(store: Store, entry: LogEntry) -> EntryShape:
    shape = entry_shape(entry, _name(store, entry))
    return shape.model_copy(update={"problem": without_places(shape.problem)})


def _name(store: Store, entry: LogEntry) -> str | None:
    """Return what the log calls an entry: the last of its part in the version that took it in."""
    if entry.version is None:
        return None
    text = store.programmes.text(store.programmes.version(entry.programme_id, entry.version))
    names = [name for name, path in named_entries(read_tree(text, name="programme").data) if path[0] == entry.part]
    return names[-1] if names else None
