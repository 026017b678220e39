"""The REST interface in process: programmes, versions, studies, files and log entries, and everything it refuses."""

from __future__ import annotations

import errno
import io
import os
import uuid
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from tussock.store import Store, open_store
from tussock.web import exchange
from tussock.web.desk import Desk
from tussock.web.plain import add_plain

EXAMPLE = Path(__file__).parents[2] / "docs" / "examples" / "tarn-small.yaml"
FULL = Path(__file__).parents[2] / "src" / "tussock" / "data" / "tarn" / "programme.yaml"
TEXT = EXAMPLE.read_text(encoding="utf-8")
PNG = b"\x89PNG\r\n\x1a\n" + bytes(64)


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    with open_store(tmp_path_factory.mktemp("rest") / "store.sqlite") as opened:
        yield opened


@pytest.fixture(scope="module")
def client(store: Store) -> Iterator[TestClient]:
    app = FastAPI()
    desk = Desk(store)
    jobs = add_plain(app, desk, local="Mira")
    app.include_router(exchange.routes(desk))
    with TestClient(app, base_url="http://127.0.0.1") as one:
        one.headers["X-Tussock-Token"] = one.get("/api/session").json()["token"]
        yield one
    jobs.close()


@pytest.fixture
def programme(store: Store) -> int:
    """A programme of this test's own."""
    return store.programmes.create(TEXT, author="Anna", note="first").programme_id


def drive(**more: Any) -> dict[str, Any]:
    fields = {"date": "2026-10-01", "driver": "Mira", "build": "B1", "against": "stock", "fitout": FITOUT}
    return {**fields, "verdicts": [{"attribute": "overall", "verdict": "slightly better"}], **more}


def _fitout() -> str:
    from tussock.record import loads

    return next(iter(loads(TEXT).programme.fitouts))


FITOUT = _fitout()


def test_a_programme_goes_in_and_comes_out_as_it_was_written(client: TestClient) -> None:
    made = client.post("/api/programmes", json={"text": TEXT, "note": "first"})
    assert made.status_code == 201
    key = made.json()["programme"]
    assert made.json()["author"] == "Mira"
    assert client.get(f"/api/programmes/{key}/versions/1").json()["text"] == TEXT
    assert client.get(f"/api/programmes/{key}/versions/1/programme.yaml").text == TEXT
    assert key in [p["id"] for p in client.get("/api/programmes").json()["programmes"]]


def test_a_whole_programme_comes_as_yaml_or_with_its_files_in_an_archive(client: TestClient, programme: int) -> None:
    packed = client.get(f"/export/{programme}/1.zip").content
    for name, kind, content in (
        ("tarn.yaml", "application/yaml", TEXT.encode()),
        ("tarn.zip", "application/zip", packed),
    ):
        taken = client.post(
            "/api/programmes/import", params={"name": name}, content=content, headers={"Content-Type": kind}
        )
        assert taken.status_code == 201
        assert taken.json()["note"] == f"from {name}"
        assert client.get(f"/api/programmes/{taken.json()['programme']}/versions/1").json()["text"] == TEXT


@pytest.mark.parametrize(
    ("name", "kind", "content", "status", "words"),
    [
        ("tarn.yaml", "application/yaml", "name: Überlauf".encode("latin-1"), 422, "tarn.yaml is no text in UTF-8"),
        ("tarn.zip", "application/zip", b"PK\x03\x04 and no more", 422, "no ZIP archive that can be read"),
        ("tarn.zip", "application/zip", TEXT.encode(), 415, "is no archive"),
        ("tarn.pdf", "application/pdf", b"%PDF-", 415, "programme (.yaml, .yml) to 5 MB, archive (.zip) to 200 MB"),
        ("tarn.yaml", "application/yaml", FULL.read_bytes(), 422, "and 7 more; put it and them into one ZIP archive"),
        ("tarn.yaml", "application/yaml", bytes(5_000_001), 413, "at most 5 MB"),
        ("tarn.yaml", "application/yaml", TEXT.replace("format: 1", "format: 99").encode(), 422, "newer version"),
    ],
)
def test_what_is_no_programme_is_refused_in_words(
    client: TestClient, store: Store, name: str, kind: str, content: bytes, status: int, words: str
) -> None:
    before = len(store.programmes.list())
    answer = client.post(
        "/api/programmes/import", params={"name": name}, content=content, headers={"Content-Type": kind}
    )
    assert (answer.status_code, len(store.programmes.list())) == (status, before)
    assert words in answer.json()["error"]["message"]


def test_a_full_disk_is_said_in_words_and_nothing_is_kept(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_args: object, **_more: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr("tussock.web.api.uploads.tempfile.SpooledTemporaryFile", full)
    answer = client.post("/api/files", params={"name": "stop.png"}, content=PNG, headers={"Content-Type": "image/png"})
    assert answer.status_code == 507
    assert "no room left" in answer.json()["error"]["message"]


def test_two_who_save_from_one_version_are_told_and_nothing_is_lost(client: TestClient, programme: int) -> None:
    place = f"/api/programmes/{programme}/versions"
    first = client.post(place, json={"text": TEXT + "\n# one\n", "base": 1, "note": "one"})
    second = client.post(place, json={"text": TEXT + "\n# two\n", "base": 1, "note": "two"})
    assert (first.status_code, second.status_code) == (201, 409)
    told = second.json()["error"]
    assert (told["code"], told["base"]["number"], told["newest"]["number"]) == ("conflict", 1, 2)
    kept = client.post(place, json={"text": TEXT + "\n# two\n", "base": 2, "note": "two"})
    assert kept.json()["number"] == 3


def test_differences_are_said_in_words(client: TestClient, programme: int) -> None:
    before, after = "wheelbase: 2700 mm", "wheelbase: 2710 mm"
    assert before in TEXT
    text = TEXT.replace(before, after)
    client.post(f"/api/programmes/{programme}/versions", json={"text": text, "base": 1})
    found = client.get(f"/api/programmes/{programme}/differences", params={"old": 1, "new": 2}).json()["differences"]
    assert [(d["path"], d["old"][:7], d["new"][:7]) for d in found] == [
        (["vehicle", "wheelbase"], "2700 mm", "2710 mm")
    ]


def test_every_fault_of_a_wrong_programme_is_told(client: TestClient, programme: int) -> None:
    wrong = TEXT.replace("format: 1", "format: 99")
    answer = client.post(f"/api/programmes/{programme}/versions", json={"text": wrong, "base": 1})
    assert answer.status_code == 422
    problem = answer.json()["error"]["problems"][0]
    assert problem["path"] == "format"
    assert "newer version" in problem["wrong"]
    assert client.get(f"/api/programmes/{programme}").json()["newest"]["number"] == 1


def test_a_short_study_is_answered_at_once_and_its_table_is_csv(client: TestClient, programme: int) -> None:
    result = client.get(f"/api/programmes/{programme}/studies/baseline").json()
    assert result["answer"]
    key = result["tables"][0]["key"]
    table = client.get(f"/api/programmes/{programme}/studies/baseline/tables/{key}.csv")
    assert table.headers["content-type"].startswith("text/csv")
    assert len(table.text.splitlines()) == len(result["tables"][0]["rows"]) + 1


@pytest.mark.parametrize(
    ("path", "status", "words"),
    [
        ("/api/programmes/99999", 404, "no programme 99999"),
        ("/api/programmes/{p}/versions/77", 404, "no version 77"),
        ("/api/programmes/{p}/studies/astrology", 404, "no study"),
        ("/api/programmes/{p}/studies/heights?build=B99", 422, "B99"),
        ("/api/programmes/{p}/studies/baseline/tables/none.csv", 404, "no table"),
        ("/api/files/" + 64 * "a", 404, "no such file"),
        ("/api/jobs/none", 404, "no such job"),
        ("/api/nothing", 404, "nothing at this address"),
    ],
)
def test_what_is_not_there_is_said_in_plain_words(
    client: TestClient, programme: int, path: str, status: int, words: str
) -> None:
    answer = client.get(path.format(p=programme))
    assert answer.status_code == status
    assert words in answer.json()["error"]["message"]


def test_a_long_study_is_a_job_that_can_be_stopped(client: TestClient, programme: int) -> None:
    answer = client.get(f"/api/programmes/{programme}/studies/drive")
    assert answer.status_code == 202
    job = client.get(answer.headers["location"]).json()
    assert job["state"] in ("waiting", "running")
    again = client.get(f"/api/programmes/{programme}/studies/drive").json()
    assert again["id"] == job["id"]  # the same question is computed once
    assert client.delete(f"/api/jobs/{job['id']}").json()["state"] == "cancelled"
    assert client.get(f"/api/jobs/{job['id']}").json()["state"] == "cancelled"


def test_an_entry_sent_twice_is_in_the_log_once(client: TestClient, programme: int) -> None:
    place = f"/api/programmes/{programme}/entries/{uuid.uuid4()}"
    first = client.put(place, json={"part": "drives", "fields": drive()})
    again = client.put(place, json={"part": "drives", "fields": drive()})
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json() == again.json()
    assert first.json()["version"] == 2
    assert client.get(f"/api/programmes/{programme}").json()["newest"]["number"] == 2
    text = client.get(f"/api/programmes/{programme}/versions/2").json()["text"]
    assert text.count(first.json()["name"] + "\n") == 1


def test_a_photo_comes_with_its_entry_by_content(client: TestClient, programme: int) -> None:
    sent = client.post(
        "/api/files", params={"name": "stop mark.png"}, content=PNG, headers={"Content-Type": "image/png"}
    )
    assert sent.status_code == 201
    digest = sent.json()["digest"]
    assert client.get(f"/api/files/{digest}").content == PNG
    body = {"part": "drives", "fields": drive(), "files": [{"digest": digest, "name": "stop mark.png"}]}
    entry = client.put(f"/api/programmes/{programme}/entries/{uuid.uuid4()}", json=body).json()
    assert entry["problem"] == ""
    version = client.get(f"/api/programmes/{programme}/versions/{entry['version']}").json()
    assert version["files"] == {f"attached/{digest[:12]}-stop mark.png": digest}


def test_an_entry_that_the_programme_cannot_take_waits_and_is_amended_once(client: TestClient, programme: int) -> None:
    place = f"/api/programmes/{programme}/entries/{uuid.uuid4()}"
    waits = client.put(place, json={"part": "drives", "fields": drive(section="a road that was renamed")}).json()
    assert waits["version"] is None
    assert "section" in waits["problem"]
    assert [e["client_id"] for e in client.get(f"/api/programmes/{programme}/entries?waiting=true").json()["entries"]]
    assert client.patch(place, json={"fields": drive()}).json()["version"] == 2
    assert client.patch(place, json={"fields": drive()}).json()["version"] == 2
    assert client.get(f"/api/programmes/{programme}").json()["newest"]["number"] == 2


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"against": "B1"}, "a build is not compared with itself"),
        ({"against": "B9"}, "there is no build of this name"),
        ({"section": "moor rod"}, "there is no section of the road loop"),
        (
            {"verdicts": [{"verdict": "much better"}, {"verdict": "much worse"}]},
            "contradicts itself",
        ),
        ({"ratings": [{"attribute": "pitch", "mark": 11}]}, "a mark is a whole number from 1 (worst) to 10"),
    ],
)
def test_a_drive_that_cannot_be_waits_with_what_is_wrong(
    client: TestClient, programme: int, wrong: dict[str, Any], said: str
) -> None:
    """What a driver sent is not lost; it counts for nothing until it is mended."""
    place = f"/api/programmes/{programme}/entries/{uuid.uuid4()}"
    answer = client.put(place, json={"part": "drives", "fields": drive(**wrong)})
    told = answer.json()
    assert told["version"] is None
    assert said in told["problem"]
    assert client.get(f"/api/programmes/{programme}").json()["newest"]["number"] == 1


def test_a_correction_is_an_entry_of_its_own(client: TestClient, programme: int) -> None:
    place = f"/api/programmes/{programme}/entries"
    first = client.put(f"{place}/{uuid.uuid4()}", json={"part": "drives", "fields": drive()}).json()
    mends = {
        "date": "2026-10-02",
        "by": "Mira",
        "corrects": first["name"],
        "fields": {"note": "wet"},
        "why": "forgot it",
    }
    second = client.put(f"{place}/{uuid.uuid4()}", json={"part": "corrections", "fields": mends}).json()
    assert (second["problem"], second["version"]) == ("", 3)


def test_a_script_in_a_name_is_kept_as_words(client: TestClient, programme: int) -> None:
    words = "<script>alert(1)</script>"
    place = f"/api/programmes/{programme}/entries/{uuid.uuid4()}"
    entry = client.put(place, json={"part": "drives", "fields": drive(driver=words)}).json()
    assert entry["problem"] == ""
    answer = client.get(f"/api/programmes/{programme}/choices")
    assert words in answer.json()["drivers"]
    assert answer.headers["content-type"] == "application/json"
    assert answer.headers["x-content-type-options"] == "nosniff"


@pytest.mark.parametrize(
    ("name", "media_type", "content", "status", "words"),
    [
        ("run.exe", "application/x-msdownload", b"MZ", 415, "not taken"),
        ("photo.jpg", "image/jpeg", b"<svg onload=alert(1)>", 415, "is no photo"),
        ("run.csv", "text/csv", b"a\x00b", 415, "is no table"),
        ("photo.png", "image/png", b"", 422, "empty"),
        ("photo.png", "image/png", PNG + bytes(20_000_000), 413, "at most 20 MB"),
    ],
)
def test_files_of_the_wrong_kind_or_size_are_refused_in_words(
    client: TestClient, name: str, media_type: str, content: bytes, status: int, words: str
) -> None:
    answer = client.post("/api/files", params={"name": name}, content=content, headers={"Content-Type": media_type})
    assert answer.status_code == status
    assert words in answer.json()["error"]["message"]


def test_more_than_200_mb_is_refused_with_or_without_its_size_told(client: TestClient) -> None:
    def pieces() -> Iterator[bytes]:
        for _ in range(201):
            yield bytes(1_000_000)

    headers = {"Content-Type": "image/png"}
    for more in ({}, {"Content-Length": "201000000"}):
        answer = client.post("/api/files", params={"name": "a.png"}, content=pieces(), headers={**headers, **more})
        assert answer.status_code == 413
        assert "nothing was kept" in answer.json()["error"]["message"] or "at most" in answer.json()["error"]["message"]


def test_no_answer_shows_a_place_of_the_server(client: TestClient, programme: int, store: Store) -> None:
    text = TEXT + "\nattachments:\n  - {file: photos/none.jpg, title: none, kind: photo}\n"
    answer = client.post(f"/api/programmes/{programme}/versions", json={"text": text, "base": 1})
    assert answer.status_code == 422
    assert "none.jpg" in answer.text
    for place in ("/tmp", str(Path.home()), str(Path(__file__).parents[2]), "site-packages"):
        assert place not in answer.text


def test_a_fault_of_our_own_is_told_without_its_traceback(store: Store) -> None:
    app = FastAPI()
    add_plain(app, Desk(store), local="Mira")

    @app.get("/api/broken")
    def broken() -> None:
        raise ZeroDivisionError(str(io.StringIO))

    with TestClient(app, base_url="http://127.0.0.1") as one:
        answer = one.get("/api/broken")
    assert answer.status_code == 500
    assert "fault of Tussock itself" in answer.json()["error"]["message"]
    assert "Zero" not in answer.text
