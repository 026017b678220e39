"""Files into the workbench and out of it in a real browser: chosen or dropped, with progress, or refused in words."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path
from typing import Any

import pytest
from served import SMALL, OpenPage, Server, Watched

SWEEP = b"velocity,force\n0,0\n"
DROP = """([label, name, size, start]) => {
  const data = new DataTransfer();
  data.items.add(new File([start, new Uint8Array(Math.max(size - start.length, 0))], name));
  const box = [...document.querySelectorAll("label")].find((l) => l.textContent.startsWith(label));
  for (const kind of ["dragenter", "dragover", "drop"])
    box.dispatchEvent(new DragEvent(kind, { dataTransfer: data, bubbles: true, cancelable: true }));
}"""
ATTACH, TAKE_IN = "Attach dyno, logger or photo files", "Take in a programme"


@pytest.fixture(scope="module")
def small(server: Server) -> int:
    """Number of a programme of these tests' own."""
    return server.take(SMALL)


def opened(open_page: OpenPage, address: str, label: str) -> Any:
    page = open_page()
    page.goto(address)
    page.get_by_label(label).wait_for()
    return page


def says(page: Any, words: str) -> None:
    page.get_by_role("status").filter(has_text=words).first.wait_for()


def test_files_are_attached_by_choice_and_by_drop(server: Server, open_page: OpenPage, small: int) -> None:
    page = opened(open_page, f"{server.url}/work/{small}/programme", ATTACH)
    chosen = [{"name": name, "mimeType": "text/csv", "buffer": SWEEP + name.encode()} for name in ("a.csv", "b.csv")]
    page.get_by_label(ATTACH).set_input_files(files=chosen)
    for name in ("a.csv", "b.csv"):
        says(page, f"-{name}; write this path into the field that reads it")
    page.evaluate(DROP, ["Attach", "lap.txt", 4, "t,z\n"])
    says(page, "-lap.txt; write this path")
    newest = server.get(f"/api/programmes/{small}")["newest"]
    assert sorted(path.rpartition("-")[2] for path in newest["files"]) == ["a.csv", "b.csv", "lap.txt"]
    assert newest["number"] == 4  # one version for each, none lost
    with page.expect_download() as download:
        page.goto(f"{server.url}/work/{small}/history")
        page.get_by_role("link", name="ZIP with its files").first.click()
    with zipfile.ZipFile(io.BytesIO(Path(download.value.path()).read_bytes())) as archive:
        assert archive.read(next(n for n in archive.namelist() if n.endswith("-a.csv"))) == SWEEP + b"a.csv"
        assert archive.read("programme.yaml").decode() == SMALL


def test_progress_is_in_sight_while_a_file_goes(server: Server, open_page: OpenPage, small: int) -> None:
    page = opened(open_page, f"{server.url}/work/{small}/programme", ATTACH)
    slow = page.context.new_cdp_session(page)
    slow.send("Network.enable")
    slow.send(
        "Network.emulateNetworkConditions",
        {"offline": False, "latency": 0, "downloadThroughput": -1, "uploadThroughput": 4e5},
    )
    page.evaluate(DROP, ["Attach", "lap.csv", 600_000, "t,z\n"])
    page.get_by_role("progressbar", name="lap.csv: sent").wait_for()
    says(page, "of 0.6 MB")


def test_a_file_that_is_not_taken_is_refused_before_it_is_sent(
    server: Server, open_page: OpenPage, small: int, watched: Watched
) -> None:
    watched.allowed.append("415")
    page = opened(open_page, f"{server.url}/work/{small}/programme", ATTACH)
    sent: list[str] = []
    page.on("request", lambda r: sent.append(r.url) if r.method == "POST" and "/api/" in r.url else None)
    page.evaluate(DROP, ["Attach", "lap.csv", 201_000_000, "t,z\n"])
    says(page, "Not sent: it has 201 MB, and a table at most 200 MB.")
    page.evaluate(DROP, ["Attach", "setup.exe", 10, "MZ"])
    says(page, "Not sent: this kind of file is not taken.")
    assert sent == []
    page.evaluate(DROP, ["Attach", "stop mark.png", 1000, "<svg>"])
    says(page, "stop mark.png is no photo: its content is something else; nothing was kept")


def test_a_programme_is_taken_in_and_one_that_cannot_be_is_told(
    server: Server, open_page: OpenPage, watched: Watched
) -> None:
    watched.allowed += ["422"]
    page = opened(open_page, server.url, TAKE_IN)
    for name, text, words in (
        ("newer.yaml", SMALL.replace("format: 1", "format: 99"), "newer version"),
        ("tarn.yaml", "vehicle: [", "a { or [ that is not closed"),
        ("tarn.yaml", SMALL.replace("2700 mm", "2700 kg"), "a length"),
    ):
        chosen = {"name": name, "mimeType": "", "buffer": text.encode()}
        page.get_by_label(TAKE_IN).set_input_files(files=[chosen])
        says(page, words)
    before = len(server.get("/api/programmes")["programmes"])
    evil = SMALL.replace("name: Tarn, cut down", "name: '<img src=x onerror=document.title=1>'")
    page.get_by_label(TAKE_IN).set_input_files(files=[{"name": "<b>.yaml", "mimeType": "", "buffer": evil.encode()}])
    page.get_by_role("heading", name="What do we have, and does the model reproduce it?").wait_for()
    assert page.get_by_text("<img src=x onerror=document.title=1>").first.is_visible()
    assert page.title() != "1"
    assert len(server.get("/api/programmes")["programmes"]) == before + 1


def test_a_lost_connection_is_told_and_the_file_is_sent_again(
    server: Server, open_page: OpenPage, small: int, watched: Watched
) -> None:
    watched.allowed += ["ERR_FAILED"]
    page = opened(open_page, f"{server.url}/work/{small}/programme", ATTACH)
    page.route("**/api/files*", lambda route: route.abort(), times=1)
    page.evaluate(DROP, ["Attach", "late.csv", 4, "t,z\n"])
    says(page, "Not taken: no connection to the server")
    page.get_by_role("button", name="Send again").click()
    says(page, "-late.csv; write this path")
