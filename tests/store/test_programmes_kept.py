"""Programmes and versions: nothing is overwritten, two who edit at once are told so."""

from __future__ import annotations

import io
from pathlib import Path

import pytest

from tussock.errors import InputError
from tussock.record import ProgrammeError
from tussock.store import Conflict, NotFound, Store, open_store


def _edited(text: str, note: str) -> str:
    return text + f"# {note}\n"


def test_what_is_saved_comes_back_as_it_was_written(store: Store, small: str) -> None:
    first = store.programmes.create(small, author="Ailsa", note="as measured")
    second = store.programmes.save(first.programme_id, _edited(small, "softer"), base=1, author="Brodie", note="softer")
    assert (second.number, second.author, second.note) == (2, "Brodie", "softer")
    assert store.programmes.text(first) == small
    assert store.programmes.text(second) == _edited(small, "softer")
    assert store.programmes.programme(second).digest == second.digest
    assert [v.number for v in store.programmes.versions(first.programme_id)] == [2, 1]
    assert [e.newest for e in store.programmes.list()] == [second]
    assert second.created.utcoffset() is not None


def test_a_save_on_an_older_version_is_a_conflict_that_carries_both(store: Store, small: str) -> None:
    made = store.programmes.create(small, author="Ailsa")
    hers = store.programmes.save(made.programme_id, _edited(small, "hers"), base=1, author="Ailsa", note="hers")
    with pytest.raises(Conflict, match="Ailsa saved version 2 meanwhile") as caught:
        store.programmes.save(made.programme_id, _edited(small, "his"), base=1, author="Brodie")
    assert (caught.value.base, caught.value.newest) == (made, hers)
    assert len(store.programmes.versions(made.programme_id)) == 2


def test_the_same_save_sent_twice_is_one_version(store: Store, small: str) -> None:
    made = store.programmes.create(small, author="Ailsa")
    once = store.programmes.save(made.programme_id, _edited(small, "a"), base=1, author="Ailsa")
    again = store.programmes.save(made.programme_id, _edited(small, "a"), base=1, author="Ailsa")
    assert once == again


def test_any_version_can_be_gone_back_to_and_stays_in_the_history(store: Store, small: str) -> None:
    made = store.programmes.create(small, author="Ailsa")
    store.programmes.save(made.programme_id, _edited(small, "a"), base=1, author="Ailsa")
    back = store.programmes.restore(made.programme_id, 1, base=2, author="Brodie")
    assert (back.number, back.note, back.digest) == (3, "back to version 1", made.digest)
    assert store.programmes.text(back) == small


def test_what_is_no_programme_is_refused_and_nothing_is_saved(store: Store, small: str) -> None:
    made = store.programmes.create(small, author="Ailsa")
    with pytest.raises(ProgrammeError, match="wheelbase"):
        store.programmes.save(made.programme_id, small.replace("wheelbase: ", "wheelbase: x"), base=1, author="Ailsa")
    with pytest.raises(ProgrammeError, match="newer version of the program"):
        store.programmes.create(small.replace("format: 1", "format: 9"), author="Ailsa")
    with pytest.raises(InputError, match="half a character"):
        store.programmes.create(small + "# \ud800\n", author="Ailsa")
    assert [e.newest.number for e in store.programmes.list()] == [1]


@pytest.mark.parametrize("number", [0, -1, 2, 2**31, 2**80])
def test_what_is_not_there_is_said(store: Store, small: str, number: int) -> None:
    made = store.programmes.create(small, author="Ailsa")
    with pytest.raises(NotFound, match="there is no programme"):
        store.programmes.get(number if number != 1 else 7)
    with pytest.raises(NotFound, match="there is no version"):
        store.programmes.version(made.programme_id, number)


@pytest.mark.parametrize("author", ["", "  ", "x" * 121, "a\x00b"])
def test_somebody_must_save(store: Store, small: str, author: str) -> None:
    with pytest.raises(InputError, match="say who saves"):
        store.programmes.create(small, author=author)


def test_files_are_kept_once_by_their_content(store: Store) -> None:
    content = bytes(range(256)) * 9000  # three pieces
    first = store.files.attach(io.BytesIO(content), "C:\\dyno\\front.csv", "text/csv")
    again = store.files.attach(io.BytesIO(content), "other.csv", "text/csv")
    assert (first.name, first.size, again.digest, again.name) == ("front.csv", len(content), first.digest, "front.csv")
    with store.files.open(first.digest) as stream:
        assert stream.read() == content
        stream.seek(-300, io.SEEK_END)
        assert stream.read(10) == content[-300:-290]
    with pytest.raises(NotFound):
        store.files.open("0" * 64)


def test_a_store_is_there_when_it_is_opened_again(tmp_path: Path, small: str) -> None:
    with open_store(tmp_path / "deep" / "s.sqlite") as store:
        made = store.programmes.create(small, author="Ailsa")
    with open_store(str(tmp_path / "deep" / "s.sqlite")) as store:
        assert store.programmes.list()[0].newest == made
