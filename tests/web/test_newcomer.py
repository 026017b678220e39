"""A newcomer's whole path in a real browser, from an empty store to the release as a PDF.

The programme is the invented Tarn with all its fit-outs, builds and files; of its road two sections are left, with what
the drivers said of them, so that the loop takes seconds.
"""

from __future__ import annotations

import io
import re
import zipfile
from importlib.resources import as_file, files
from pathlib import Path
from typing import Any

from pypdf import PdfReader
from ruamel.yaml import YAML
from served import PHONE, OpenPage, Server

from tussock.studies.stages import STAGES

ROADS = ("valley road", "corrugations")


def archive() -> bytes:
    """The Tarn with its files, as a ZIP that somebody was sent."""
    sent = io.BytesIO()
    with as_file(files("tussock") / "data" / "tarn") as folder, zipfile.ZipFile(sent, "w") as packed:
        yaml = YAML()
        programme = yaml.load(folder / "programme.yaml")
        loop = programme["road_loop"]
        loop["sections"] = [section for section in loop["sections"] if section["name"] in ROADS]
        for drive in programme["drives"]:
            drive["verdicts"] = [v for v in drive["verdicts"] if v.get("section", ROADS[0]) in ROADS]
            drive.pop("recordings", None)  # of roads that are left out
        text = io.StringIO()
        yaml.dump(programme, text)
        for path in folder.rglob("*"):
            if path.is_file():
                content = text.getvalue().encode() if path.name == "programme.yaml" else path.read_bytes()
                packed.writestr(str(path.relative_to(folder)), content)
    return sent.getvalue()


def rail(page: Any, title: str) -> Any:
    """The link to a stage in the rail."""
    return page.get_by_role("navigation", name="Stages of the job").get_by_role(
        "link", name=re.compile(rf"^\W*{re.escape(title)} (open|look|answered)")
    )


def test_from_an_empty_store_to_the_release_as_a_pdf(own_server: Server, open_page: OpenPage) -> None:
    page = open_page()
    page.goto(own_server.url)
    page.get_by_text("The store holds no programme yet").wait_for()
    sent = {"name": "tarn.zip", "mimeType": "application/zip", "buffer": archive()}
    page.get_by_label("Take in a programme").set_input_files(files=[sent])
    moves = page.get_by_role("complementary", name="What moves it")
    page.get_by_role("heading", name=STAGES[0].question, level=1).wait_for()
    for stage in STAGES:
        if stage.name in ("drive", "tuning", "release"):
            continue  # the release runs what is left
        rail(page, stage.title).click()
        page.get_by_role("heading", name=stage.question, level=1).wait_for()
        moves.wait_for()
        if stage.name == "targets":
            moves.get_by_label("Front", exact=True).first.fill("1.5 in")
            page.keyboard.press("Enter")
            page.get_by_role("status").filter(has_text="Saved as version 2").wait_for()
    rail(page, "Release").click()
    page.get_by_role("button", name="Compute now").click()
    page.get_by_role("button", name="Stop").wait_for()  # a job under way that can be stopped
    report = page.get_by_role("link", name="Report as PDF")
    report.wait_for()
    assert "answered" in rail(page, "Drive").inner_text()
    assert rail(page, "Tuning").inner_text().split()[-1] != "open"  # every stage was answered on the way
    with page.expect_download() as download:
        report.click()
    assert download.value.suggested_filename.endswith(".pdf")
    pages = PdfReader(Path(download.value.path())).pages
    text = " ".join(" ".join(p.extract_text() for p in pages).split())
    assert "Tarn" in text
    for name in ("B1", "B2", "B3", *ROADS):
        assert name in text
    for stage in STAGES:
        assert stage.question in text
    assert "38 mm" in text  # 1.5 in, as it was typed on the way
    page.set_viewport_size({"width": PHONE[0], "height": PHONE[1]})
    assert report.is_visible()
