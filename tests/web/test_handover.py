"""What leaves the page Release: the report page by page, as PDF and as an archive; and the shelf that keeps it."""

from __future__ import annotations

import io
import struct
import threading
import zipfile
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from nicegui.testing import User
from pypdf import PdfReader
from served import SMALL
from simulated import simulate

from tussock.release.report import PAGE_SIZE
from tussock.store import Store, open_store
from tussock.studies.stages import STAGES
from tussock.web import handover
from tussock.web.app import create_app
from tussock.web.desk import Choice, Desk
from tussock.web.places import PLACES
from tussock.web.shelf import Shelf


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    with open_store(tmp_path_factory.mktemp("store") / "store.db") as opened:
        opened.programmes.create(SMALL, author="Anna", note="first")
        yield opened


@pytest.fixture(scope="module", autouse=True)
def short() -> Iterator[None]:
    """A report of two stages is set like one of ten."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(handover, "STAGES", STAGES[:2])
        yield


def test_every_page_of_the_report_is_a_picture_and_the_files_are_the_same(store: Store) -> None:
    app = create_app(store)
    with TestClient(app, base_url="http://127.0.0.1") as client:
        for stage in STAGES[:2]:
            assert client.get(f"/api/programmes/1/studies/{stage.name}").status_code == 200
        report = client.get("/handover/1/1/release.pdf").content
        pages = len(PdfReader(io.BytesIO(report)).pages)
        assert pages > 2
        for page in (1, pages):
            picture = client.get(f"/handover/1/1/page-{page}.png")
            assert picture.headers["content-type"] == "image/png"
            # signature and size by the PNG specification (W3C, third edition, 5.2 and 11.2.1)
            assert picture.content[:8] == b"\x89PNG\r\n\x1a\n"
            assert struct.unpack(">II", picture.content[16:24]) == PAGE_SIZE
        missing = client.get(f"/handover/1/1/page-{pages + 1}.png")
        assert missing.status_code == 404
        archive = zipfile.ZipFile(io.BytesIO(client.get("/handover/1/1/release.zip").content))
        assert archive.read("report.pdf") == report, "with its pages or without, the report has the same bytes"
        assert not [name for name in archive.namelist() if name.startswith("page-")]


def test_the_page_shows_them_when_asked_to(store: Store) -> None:
    async def job(user: User, desk: Desk) -> None:
        version = store.programmes.version(1)
        results = [desk.result(version, PLACES[s.name], Choice()) for s in STAGES[:2]]
        desk.keep(version, PLACES["release"], Choice(), results[0])
        await user.open("/work/1/release")
        await user.should_see(marker="pages", retries=50)
        user.find(marker="pages").click()
        await user.should_see("Page 1 of the report", retries=600)
        await user.should_see("/handover/1/1/page-1.png")

    simulate(store, job)


def test_what_is_asked_for_at_once_is_made_once() -> None:
    shelf, made = Shelf(), []
    gate = threading.Barrier(4)

    def make(folder: Path) -> None:
        made.append(folder)
        (folder / "report.pdf").write_bytes(b"x")

    def ask(_: int) -> Path:
        gate.wait()
        return shelf.folder("a", make)

    with ThreadPoolExecutor(4) as pool:
        found = set(pool.map(ask, range(4)))
    assert len(made) == 1
    assert found == set(made)


def test_the_oldest_goes_and_what_failed_leaves_nothing() -> None:
    shelf = Shelf()
    folders = [shelf.folder(key, lambda folder: None) for key in "abcd"]
    assert [folder.exists() for folder in folders] == [False, True, True, True]
    assert shelf.kept("a") is None

    def fail(folder: Path) -> None:
        folders.append(folder)
        raise OSError("no room left")

    with pytest.raises(OSError, match="no room left"):
        shelf.folder("e", fail)
    assert not folders[-1].exists()
    assert shelf.kept("e") is None
    assert shelf.folder("e", lambda folder: None).exists(), "asked again it is made again"
