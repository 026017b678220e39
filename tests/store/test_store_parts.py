"""Entries of the log, results, users, archives, backups; many at once; no room left."""

from __future__ import annotations

import io
import uuid
import zipfile
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy import text

from tussock.errors import InputError
from tussock.store import Conflict, NotFound, Store, StoreFull, TooLarge, open_store
from tussock.store.backup import back_up, put_back, verify
from tussock.store.exchange import export_zip, import_zip, take_folder
from tussock.studies.result import Axis, Column, Line, LineChart, Notice, Provenance, Result, Table

TARN = Path(__file__).parents[2] / "src" / "tussock" / "data" / "tarn" / "programme.yaml"
DRIVE = {
    "date": "2026-11-28",
    "driver": "Ailsa",
    "build": "B1",
    "fitout": "bare",
    "verdicts": [{"verdict": "slightly better"}],
    "against": "stock",
}


def _id() -> str:
    return str(uuid.uuid4())


def test_an_entry_sent_twice_is_there_once(store: Store, small: str) -> None:
    made = store.programmes.create(small, author="Ailsa")
    name = _id()
    first = store.entries.add(made.programme_id, name, DRIVE, author="Ailsa")
    again = store.entries.add(made.programme_id, name.upper(), DRIVE, author="Ailsa")
    assert first == again
    assert (first.version, first.problem) == (2, "")
    newest = store.programmes.version(made.programme_id)
    assert newest.number == 2
    drives = store.programmes.programme(newest).programme.drives
    assert [(d.driver, d.build) for d in drives][-1] == ("Ailsa", "B1")
    assert len(drives) == len(store.programmes.programme(made).programme.drives) + 1


def test_an_entry_that_no_longer_fits_waits_and_is_amended(store: Store, small: str) -> None:
    made = store.programmes.create(small, author="Ailsa")
    entry = store.entries.add(made.programme_id, _id(), {**DRIVE, "build": "B7"}, author="Ailsa")
    assert entry.version is None
    assert "there is no build of this name" in entry.problem
    assert store.entries.list(made.programme_id, waiting=True) == (entry,)
    assert store.programmes.version(made.programme_id).number == 1
    with pytest.raises(InputError, match="B8"):
        store.entries.amend(entry.client_id, {**DRIVE, "build": "B8"}, author="Brodie")
    taken = store.entries.amend(entry.client_id, DRIVE, author="Brodie")
    assert (taken.version, taken.problem) == (2, "")
    assert store.entries.list(made.programme_id, waiting=True) == ()


def test_what_was_sent_before_an_entry_was_amended_is_kept(store: Store, small: str) -> None:
    made = store.programmes.create(small, author="Ailsa")
    entry = store.entries.add(made.programme_id, _id(), {**DRIVE, "build": "B7"}, author="Ailsa")
    store.entries.amend(entry.client_id, DRIVE, author="Brodie")
    note = store.programmes.version(made.programme_id).note
    assert note.startswith("log: a drive; Ailsa had sent {")
    assert "build: B7" in note


def test_an_entry_brings_its_photo(store: Store, small: str) -> None:
    made = store.programmes.create(small, author="Ailsa")
    photo = store.files.attach(io.BytesIO(b"\xff\xd8 stop mark"), "stop mark.jpg", "image/jpeg")
    entry = store.entries.add(
        made.programme_id,
        _id(),
        {**DRIVE, "files": [photo.kept_path]},
        author="Ailsa",
        files={photo.kept_path: photo.digest},
    )
    assert entry.problem == ""
    newest = store.programmes.version(made.programme_id)
    assert newest.files == {photo.kept_path: photo.digest}
    assert store.programmes.programme(newest).file(photo.kept_path).read_bytes() == b"\xff\xd8 stop mark"


@pytest.mark.parametrize("client", ["", "7", "x" * 36, "../../etc"])
def test_an_entry_is_known_by_a_uuid(store: Store, small: str, client: str) -> None:
    made = store.programmes.create(small, author="Ailsa")
    with pytest.raises(InputError, match="UUID"):
        store.entries.add(made.programme_id, client, DRIVE, author="Ailsa")


def test_many_at_once_lose_nothing(store: Store, small: str) -> None:
    made = store.programmes.create(small, author="Ailsa")
    ids = [_id() for _ in range(4)]

    def send(name: str) -> int | None:
        return store.entries.add(
            made.programme_id, name, {"date": "2026-11-28", "by": "Ailsa", "text": name}, part="notes", author="Ailsa"
        ).version

    with ThreadPoolExecutor(8) as pool:
        versions = list(pool.map(send, [*ids, *ids]))  # each twice, at the same time
    assert sorted(set(versions), key=str) == [2, 3, 4, 5]
    notes = store.programmes.programme(store.programmes.version(made.programme_id)).programme.notes
    assert {n.text for n in notes} >= set(ids)


def test_of_two_who_save_at_once_one_is_told(store: Store, small: str) -> None:
    made = store.programmes.create(small, author="Ailsa")

    def save(who: str) -> str:
        try:
            store.programmes.save(made.programme_id, f"{small}# {who}\n", base=1, author=who)
        except Conflict as error:
            return error.newest.author
        return "saved"

    with ThreadPoolExecutor(4) as pool:
        told = list(pool.map(save, ["a", "b", "c", "d"]))
    assert told.count("saved") == 1
    assert store.programmes.version(made.programme_id).number == 2


def _result(answer: str) -> Result:
    return Result(
        stage="heights",
        question="Which spring?",
        answer=answer,
        passes=True,
        provenance=Provenance(programme="Tarn", digest="0" * 64, tussock="0", data="invented", seed=None),
        notices=(Notice(text="low", remedy="raise it"),),
        pictures=(
            LineChart(
                key="k",
                title="t",
                x=Axis(title="x", kind="length"),
                y=Axis(title="y", kind="force"),
                lines=(Line(label="l", x=(0.0, 1.0), y=(1e-17, float("inf"))),),
            ),
        ),
        tables=(
            Table(
                key="t", title="T", columns=tuple(Column(key=k, title=k) for k in "abcd"), rows=((1, 1.0, True, None),)
            ),
        ),
        values={"front_lift_m": 0.035, "ok": True, "name": "35"},
    )


def test_a_result_comes_back_equal_and_only_for_its_own_inputs(store: Store, small: str) -> None:
    version = store.programmes.create(small, author="Ailsa")
    asked = store.results.question(version, "heights", {"fitout": "bare"})
    assert store.results.get(asked) is None
    store.results.put(asked, _result("35 mm."))
    found = store.results.get(asked)
    assert found == _result("35 mm.")
    assert found is not None
    assert [type(c) for c in found.tables[0].rows[0]] == [int, float, bool, type(None)]
    later = store.programmes.save(version.programme_id, small + "# x\n", base=1, author="Ailsa")
    for other in (
        store.results.question(version, "heights", {"fitout": "winch"}),
        store.results.question(version, "travel", {"fitout": "bare"}),
        store.results.question(later, "heights", {"fitout": "bare"}),
    ):
        assert store.results.get(other) is None


def test_stale_results_are_dropped(store: Store, small: str, monkeypatch: pytest.MonkeyPatch) -> None:
    version = store.programmes.create(small, author="Ailsa")
    first = store.results.question(version, "heights")
    store.results.put(first, _result("old"))
    for i in range(6):
        version = store.programmes.save(version.programme_id, f"{small}# {i}\n", base=version.number, author="Ailsa")
    newest = store.results.question(version, "heights")
    store.results.put(newest, _result("new"))
    assert store.results.get(first) is None
    assert store.results.get(newest) is not None
    monkeypatch.setattr("tussock.store.results.code_digest", lambda: "f" * 64)  # another version of the program
    assert store.results.get(store.results.question(version, "heights")) is None
    store.results.put(store.results.question(version, "travel"), _result("travel"))
    assert store.results.get(newest) is None


def test_users_and_their_sign_ins(store: Store) -> None:
    ailsa = store.accounts.add("Ailsa", "admin", "hash")
    brodie = store.accounts.add("Brodie", "reader", "hash")
    assert store.accounts.named("  ailsa ") == ailsa
    with pytest.raises(InputError, match="already"):
        store.accounts.add("AILSA", "reader", "hash")
    with pytest.raises(InputError, match="somebody must remain"):
        store.accounts.change(ailsa.id, role="reader")
    with pytest.raises(NotFound):
        store.accounts.named("Nobody")
    soon = datetime.now(UTC) + timedelta(hours=1)
    store.accounts.sign_in(brodie, "a" * 64, soon)
    store.accounts.sign_in(brodie, "b" * 64, datetime.now(UTC) - timedelta(seconds=1))
    found = store.accounts.signed_in("a" * 64)
    assert found is not None
    assert (found.user, found.expires) == (brodie, soon)
    assert store.accounts.signed_in("b" * 64) is None
    store.accounts.change(brodie.id, active=False)
    assert store.accounts.signed_in("a" * 64) is None


def test_a_programme_goes_out_and_in_with_its_files(store: Store) -> None:
    made = take_folder(store, TARN, author="Ailsa", note="demo")
    archive, again = io.BytesIO(), io.BytesIO()
    export_zip(store, made, archive)
    export_zip(store, made, again)
    assert archive.getvalue() == again.getvalue(), "equal versions give equal bytes"
    archive.seek(0)
    back = import_zip(store, archive, author="Brodie")
    assert (back.digest, back.files, back.number) == (made.digest, made.files, 1)
    assert back.programme_id != made.programme_id


@pytest.mark.parametrize("what", ["no zip", "empty", "two", "outside", "too large"])
def test_an_archive_that_is_none_is_refused(store: Store, small: str, what: str) -> None:
    raw = io.BytesIO()
    with zipfile.ZipFile(raw, "w") as archive:
        if what == "two":
            archive.writestr("a/programme.yaml", small)
        if what == "two":
            archive.writestr("b/programme.yaml", small)
        if what == "outside":
            archive.writestr("../dyno.csv", "x")
            archive.writestr(
                "a/programme.yaml",
                small.replace("format: 1", "format: 1\nattachments: [{file: ../dyno.csv, title: t, kind: dyno}]"),
            )
        if what == "too large":
            archive.writestr("programme.yaml", " " * 6_000_000)
    content = io.BytesIO(b"not a zip") if what == "no zip" else io.BytesIO(raw.getvalue())
    with pytest.raises(InputError):
        import_zip(store, content, author="Ailsa")
    assert store.programmes.list() == ()


def test_a_file_above_the_limit_is_refused_piece_by_piece(store: Store) -> None:
    class Endless(io.RawIOBase):
        taken = 0

        def read(self, size: int = -1) -> bytes:
            self.taken += size
            return bytes(size)

    sent = Endless()
    with pytest.raises(TooLarge, match=r"larger than 3 MB"):
        store.files.attach(sent, "huge.bin", most=3_000_000)  # type: ignore[arg-type]
    assert sent.taken < 6_000_000


def test_no_room_left_is_said_and_nothing_is_half_saved(tmp_path: Path, small: str) -> None:
    with open_store(tmp_path / "s.sqlite") as store:
        made = store.programmes.create(small, author="Ailsa")
        with store.database.reading() as session:
            pages = session.scalar(text("PRAGMA page_count"))
            session.execute(text(f"PRAGMA max_page_count={pages}"))  # what SQLite does when the disk is full
        with pytest.raises(StoreFull, match="Make room and save again"):
            store.files.attach(io.BytesIO(bytes(range(256)) * 20_000), "big.bin")
        verify(store.database)
        assert store.programmes.version(made.programme_id) == made
        with store.database.reading() as session:
            session.execute(text("PRAGMA max_page_count=1000000"))
        assert store.files.attach(io.BytesIO(bytes(range(256)) * 20_000), "big.bin").size == 5_120_000


def test_a_backup_goes_back_on_either_database(store: Store, small: str, tmp_path: Path) -> None:
    made = take_folder(store, TARN, author="Ailsa", note="demo")
    store.programmes.save(made.programme_id, store.programmes.text(made) + "# x\n", base=1, author="Brodie")
    store.accounts.add("Ailsa", "admin", "hash")
    other = store.programmes.create(small, author="Ailsa")
    store.entries.add(other.programme_id, _id(), DRIVE, author="Ailsa")
    held = back_up(store.database, tmp_path / "friday.sqlite")
    assert (held.programmes, held.versions, held.entries) == (2, 4, 1)
    with pytest.raises(InputError, match="already"):
        back_up(store.database, tmp_path / "friday.sqlite")
    with open_store(tmp_path / "friday.sqlite") as copy:
        assert copy.programmes.list() == store.programmes.list()
    before = [store.programmes.versions(e.id) for e in store.programmes.list()]
    store.programmes.create(small + "# later\n", author="Ailsa")
    with pytest.raises(InputError, match="--replace"):
        put_back(tmp_path / "friday.sqlite", store.database)
    assert put_back(tmp_path / "friday.sqlite", store.database, replace=True) == held
    assert [store.programmes.versions(e.id) for e in store.programmes.list()] == before
    assert store.accounts.named("Ailsa").role == "admin"
    assert verify(store.database) == held
    assert store.programmes.create(small + "# after\n", author="Ailsa").programme_id > other.programme_id


def test_a_backup_is_of_one_moment_while_others_save(store: Store, small: str, tmp_path: Path) -> None:
    made = store.programmes.create(small, author="Ailsa")

    def save(i: int) -> None:
        store.entries.add(
            made.programme_id, _id(), {"date": "2026-11-28", "by": "A", "text": str(i)}, part="notes", author="A"
        )

    with ThreadPoolExecutor(2) as pool:
        jobs = [pool.submit(save, i) for i in range(4)]
        held = back_up(store.database, tmp_path / "b.sqlite")
        for job in jobs:
            job.result()
    assert held.versions == held.entries + 1, "an entry and the version that took it in come together"


def test_a_damaged_backup_changes_nothing(store: Store, small: str, tmp_path: Path) -> None:
    store.programmes.create(small, author="Ailsa")
    back_up(store.database, tmp_path / "b.sqlite")
    with open_store(tmp_path / "b.sqlite") as copy, copy.database.connection() as connection:
        connection.execute(text("UPDATE document SET text = text || 'x'"))
    with pytest.raises(Exception, match="not what it was"):
        put_back(tmp_path / "b.sqlite", store.database, replace=True)
    assert len(store.programmes.list()) == 1
