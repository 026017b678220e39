"""A newcomer's whole path in a real browser, from a YAML file on the disk to the release as a PDF.

The programme is the invented Tarn, cut down to one fit-out, one build and one road, so that its loop takes seconds.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from pypdf import PdfReader
from served import EXAMPLE, PHONE, OpenPage, Server

from tussock.studies.stages import STAGES

LONG = 180_000.0  # a long study on a busy machine [ms]


def rail(page: Any, title: str) -> Any:
    """The link to a stage in the rail."""
    return page.get_by_role("navigation", name="Stages of the job").get_by_role(
        "link", name=re.compile(rf"^\W*{re.escape(title)} (open|look|answered)")
    )


def test_from_a_yaml_file_to_the_release_as_a_pdf(server: Server, open_page: OpenPage) -> None:
    page = open_page()
    page.goto(server.url)
    page.get_by_label("Take in a programme").set_input_files(EXAMPLE)
    moves = page.get_by_role("complementary", name="What moves it")
    page.get_by_role("heading", name=STAGES[0].question, level=1).wait_for()
    for stage in STAGES:
        if stage.name in ("drive", "tuning", "release"):
            continue  # the release runs what is left
        rail(page, stage.title).click()
        page.get_by_role("heading", name=stage.question, level=1).wait_for()
        moves.wait_for(timeout=LONG)
        if stage.name == "targets":
            moves.get_by_label("Front", exact=True).first.fill("1.5 in")
            page.keyboard.press("Enter")
            page.get_by_role("status").filter(has_text="Saved as version 2").wait_for()
    rail(page, "Release").click()
    page.get_by_role("button", name="Compute now").click()
    page.get_by_role("button", name="Stop").wait_for()  # a job under way that can be stopped
    report = page.get_by_role("link", name="Report as PDF")
    report.wait_for(timeout=LONG)
    assert "answered" in rail(page, "Drive").inner_text()
    assert rail(page, "Tuning").inner_text().split()[-1] != "open"  # every stage was answered on the way
    with page.expect_download() as download:
        report.click()
    assert download.value.suggested_filename.endswith(".pdf")
    pages = PdfReader(Path(download.value.path())).pages
    text = " ".join(" ".join(p.extract_text() for p in pages).split())
    assert "Tarn, cut down" in text
    for stage in STAGES:
        assert stage.question in text
    assert "38 mm" in text  # 1.5 in, as it was typed on the way
    page.set_viewport_size({"width": PHONE[0], "height": PHONE[1]})
    assert report.is_visible()
