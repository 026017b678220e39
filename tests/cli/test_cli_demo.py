"""The demo from end to end, as a newcomer runs it: every stage of both invented vehicles computed for real."""

from __future__ import annotations

import csv
import io
import json
import xml.etree.ElementTree as ET
from dataclasses import dataclass
from pathlib import Path

import pytest
from pypdf import PdfReader
from typer.testing import CliRunner, Result

from tussock.cli import app

STAGES = ["baseline", "targets", "heights", "travel", "springs", "geometry", "dampers", "drive", "tuning", "release"]


@pytest.fixture(scope="module")
def out(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("demo") / "out"


@pytest.fixture(scope="module")
def demo(out: Path) -> Result:
    return CliRunner().invoke(app, ["demo", "--out", str(out), "--date", "2031-03-14"])


@pytest.fixture(scope="module", params=["tarn", "dunnock"])
def folder(out: Path, request: pytest.FixtureRequest) -> Path:
    return out / str(request.param)


@pytest.fixture(scope="module")
def results(demo: Result, folder: Path) -> list[dict[str, object]]:
    found = json.loads((folder / "results.json").read_text(encoding="utf-8"))["results"]
    assert isinstance(found, list)
    return found


def test_demo_runs_every_stage(demo: Result, results: list[dict[str, object]]) -> None:
    assert demo.exit_code == 0, demo.output
    assert [r["stage"] for r in results] == STAGES
    words = " ".join(demo.stdout.split())
    for result in results:
        assert " ".join(str(result["answer"]).split()) in words
    assert "invented" in words


def test_every_answer_has_figures_and_provenance(results: list[dict[str, object]]) -> None:
    for result in results:
        assert any(c.isdigit() for c in str(result["answer"])), result["stage"]
        provenance = result["provenance"]
        assert isinstance(provenance, dict)
        assert provenance["data"] == "invented"
        assert len(provenance["digest"]) >= 12


@dataclass(frozen=True)
class Page:
    """A page of the report: its words, and where each run of them starts [pt from the lower left corner]."""

    text: str
    starts: tuple[tuple[float, float], ...]


@pytest.fixture(scope="module")
def report(demo: Result, folder: Path) -> list[Page]:
    """Read the report once: taking the words out of fifty pages is slow."""
    assert demo.exit_code == 0
    pages = []
    for page in PdfReader(folder / "report.pdf").pages:
        starts: list[tuple[float, float]] = []

        def keep(text: str, cm: list[float], tm: list[float], font: object, size: float, into: list = starts) -> None:  # type: ignore[type-arg]
            if text.strip():
                into.append((tm[4] * cm[0] + cm[4], tm[5] * cm[3] + cm[5]))

        pages.append(Page(page.extract_text(visitor_text=keep), tuple(starts)))
    return pages


def test_report_says_every_answer_and_the_cautions(report: list[Page], results: list[dict[str, object]]) -> None:
    text = " ".join(" ".join(page.text.split()) for page in report)
    for result in results:
        assert str(result["answer"]) in text
    assert "Suspension work can kill" in text
    assert "invented" in report[0].text
    assert len(report) <= 50  # a report of ten stages that a reader can still carry to the hoist


def test_no_words_of_the_report_leave_the_page(report: list[Page]) -> None:
    for i, page in enumerate(report):
        assert page.starts
        for x, y in page.starts:
            # margins of 20 mm left and right, so no run of words starts past 190 mm or above or below the sheet
            assert 19.0 / 25.4 * 72 <= x <= 190.0 / 25.4 * 72, (i, x, y)
            assert 5.0 / 25.4 * 72 <= y <= 292.0 / 25.4 * 72, (i, x, y)


def test_tables_and_pictures_read_back(demo: Result, folder: Path) -> None:
    assert demo.exit_code == 0
    tables = sorted((folder / "tables").glob("*.csv"))
    pictures = sorted((folder / "pictures").glob("*.svg"))
    assert len(tables) >= len(STAGES)
    assert pictures
    for table in tables:
        rows = list(csv.reader(io.StringIO(table.read_bytes().decode(), newline="")))
        assert len({len(row) for row in rows}) == 1, table
    for picture in pictures:
        ET.parse(picture)


def test_demo_leaves_a_programme_to_go_on_from(demo: Result, folder: Path) -> None:
    assert demo.exit_code == 0
    copy = folder / "programme" / "programme.yaml"
    again = CliRunner().invoke(app, ["check", str(copy)])
    assert again.exit_code == 0, again.output
    assert "nothing wrong found" in again.stdout


def test_unknown_names_of_the_real_programme_are_refused(demo: Result, folder: Path) -> None:
    copy = folder / "programme" / "programme.yaml"
    for option, name in (("--fitout", "submarine"), ("--build", "B99")):
        again = CliRunner().invoke(app, ["travel", str(copy), option, name])
        assert again.exit_code == 2
        assert name in again.stderr
        assert again.stdout == ""


def test_json_of_a_real_stage_is_pure(demo: Result, folder: Path) -> None:
    copy = folder / "programme" / "programme.yaml"
    again = CliRunner().invoke(app, ["travel", str(copy), "--json"])
    document = json.loads(again.stdout)
    assert document["stage"] == "travel"
    assert again.exit_code == (0 if document["passes"] else 1)


def test_only_one_demo_and_no_other(tmp_path: Path) -> None:
    wrong = CliRunner().invoke(app, ["demo", "--out", str(tmp_path), "--only", "linnet"])
    assert wrong.exit_code == 2
    assert "tarn, dunnock" in wrong.stderr
    assert list(tmp_path.iterdir()) == []
