"""The report as a reader finds it: same bytes, words that can be found, fonts embedded, nothing past the margin."""

from __future__ import annotations

import datetime
from dataclasses import replace
from pathlib import Path

import pytest
from pypdf import PdfReader
from sample_results import dampers_result, sample_results, travel_result

from tussock.errors import InputError
from tussock.release.figures.canvas import FIGURE_WIDTH, text_width
from tussock.release.report import Cover, write_report
from tussock.release.tables import GUTTER, fit_table
from tussock.studies.cautions import CAUTIONS
from tussock.studies.result import Axis, Column, Line, LineChart, Table

COVER = Cover(
    name="Tarn",
    title="rescue wagon, 35 mm lift",
    vehicle="Five-door wagon of an invented rescue service.",
    date=datetime.date(2031, 3, 14),
    author="workshop",
)


def words_of(path: Path) -> str:
    return " ".join(" ".join(page.extract_text().split()) for page in PdfReader(path).pages)


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_report(sample_results(), tmp_path_factory.mktemp("report"), cover=COVER)


@pytest.fixture(scope="module")
def pages(report: Path) -> list[str]:
    # extraction breaks lines and keeps no-break spaces; words are compared with single spaces
    return [" ".join(page.extract_text().split()) for page in PdfReader(report).pages]


def test_same_input_same_bytes(report: Path, tmp_path: Path) -> None:
    assert write_report(sample_results(), tmp_path / "other", cover=COVER).read_bytes() == report.read_bytes()


def test_another_date_shows(tmp_path: Path, report: Path) -> None:
    other = write_report(sample_results(), tmp_path, cover=replace(COVER, date=datetime.date(2031, 3, 15)))
    assert "2031-03-15" in PdfReader(other).pages[0].extract_text()


def test_first_page_has_the_job_at_a_glance(pages: list[str]) -> None:
    first = pages[0]
    for words in ("Tarn", "rescue wagon, 35 mm lift", "2031-03-14", "3f1c9a7e2b64", "0.1.0", "The job at a glance"):
        assert words in first
    assert "All data in this report is invented." in first
    for result in sample_results():
        assert result.answer in first
    assert "look: a check fails" in first


def test_every_stage_has_question_answer_numbers_inputs(pages: list[str]) -> None:
    text = " ".join(pages)
    for result in sample_results():
        assert result.question in text
        for notice in result.notices:
            assert notice.text in text
            assert notice.remedy in text
        for table in result.tables:
            assert table.title in text
        for value in result.inputs.values():
            assert value.replace("+-", "±") in text
    assert "stops at, mm" in text
    assert "−81" in text


def test_cautions_and_provenance_stand(pages: list[str]) -> None:
    cautions = next(p for p in pages if "Suspension work can kill" in p)
    for head, body in CAUTIONS:
        assert head in cautions
        assert body in cautions
    assert "design aids, not certification" in cautions
    assert "Where the figures come from" in pages[-1]
    assert "2041" in pages[-1]
    assert "3f1c9a7e2b64d0588a1e" in pages[-1]


def test_pages_are_numbered_a4(report: Path, pages: list[str]) -> None:
    for i, page in enumerate(PdfReader(report).pages):
        # ISO 216: A4 is 210 mm x 297 mm
        assert float(page.mediabox.width) == pytest.approx(210 / 25.4 * 72, abs=0.1)
        assert float(page.mediabox.height) == pytest.approx(297 / 25.4 * 72, abs=0.1)
        assert f"{i + 1} / {len(pages)}" in pages[i]


def test_fonts_are_embedded_and_ours(report: Path) -> None:
    names = set()
    for page in PdfReader(report).pages:
        for font in page["/Resources"]["/Font"].values():
            inner = font.get_object()["/DescendantFonts"][0].get_object()
            names.add(str(inner["/BaseFont"]).split("+")[1])
            assert "/FontFile2" in inner["/FontDescriptor"].get_object()
    assert names == {"SourceSans3-Regular", "SourceSans3-SemiBold", "SourceSerif4-SemiBold"}


def test_pdf_is_tagged_and_says_its_title(report: Path) -> None:
    reader = PdfReader(report)
    assert reader.metadata is not None
    assert reader.metadata.title == "Tarn: rescue wagon, 35 mm lift"
    assert "/StructTreeRoot" in reader.trailer["/Root"]  # ISO 14289-1 (PDF/UA) wants a tagged document


def test_no_path_of_this_machine_in_the_file(report: Path) -> None:
    raw = report.read_bytes()
    assert b"/tmp/" not in raw
    assert b"/home/" not in raw


def test_measured_data_is_not_called_invented(tmp_path: Path) -> None:
    measured = replace(travel_result(), provenance=replace(travel_result().provenance, data="measured"))
    text = " ".join(
        " ".join(p.extract_text().split()) for p in PdfReader(write_report([measured], tmp_path, cover=COVER)).pages
    )
    assert "All data in this report is invented" not in text
    assert "Data: measured." in text


def test_nothing_to_report(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no result to report"):
        write_report([], tmp_path, cover=COVER)


def test_missing_parent(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="does not exist"):
        write_report(sample_results(), tmp_path / "a" / "b", cover=COVER)


def test_words_of_the_record_are_never_read_as_markup(tmp_path: Path) -> None:
    odd = replace(travel_result(), question="#panic() *what* $now$ [x] <y> \\ ?", inputs={"#eval(1)": "_a_ @b"})
    text = " ".join(
        " ".join(p.extract_text().split()) for p in PdfReader(write_report([odd], tmp_path, cover=COVER)).pages
    )
    assert "#panic() *what* $now$ [x] <y> \\ ?" in text
    assert "#eval(1)" in text


def test_picture_taller_than_a_page_is_fitted_to_it(tmp_path: Path) -> None:
    lines = tuple(Line(label=f"section {i}", x=(0.0, 1.0), y=(0.0, 1.0)) for i in range(90))
    axis = Axis(title="time", kind="time")
    tall = replace(travel_result(), pictures=(LineChart(key="tall", title="tall", x=axis, y=axis, lines=lines),))
    path = write_report([tall], tmp_path, cover=COVER)
    # glance, stage, its picture on a page of its own, numbers, cautions with provenance
    assert len(PdfReader(path).pages) == 5


def test_wide_tables_fit_the_page() -> None:
    parts = fit_table(dampers_result().tables[0], FIGURE_WIDTH)
    assert len(parts) > 1
    for part in parts:
        assert part.header[0] == "velocity, m/s"
        assert sum(part.widths) + GUTTER * (len(part.widths) - 1) <= FIGURE_WIDTH + 1e-6
        for i, width in enumerate(part.widths):
            cells = [row[i] for row in part.rows]
            assert all(text_width(c, part.size) <= width for c in cells)
    assert [h for p in parts for h in p.header[1:]] == [f"{c.title}, N" for c in dampers_result().tables[0].columns[1:]]


@pytest.mark.parametrize("word", ["x" * 400, "folder/" * 60, "dyno-" * 60])
def test_one_endless_word_still_fits(word: str) -> None:
    columns = (Column(key="a", title="a"), Column(key="b", title="b", kind="force"), Column(key="c", title=word))
    table = Table(key="t", title="t", columns=columns, rows=((word, 1.0, word),))
    for part in fit_table(table, FIGURE_WIDTH):
        assert sum(part.widths) + GUTTER * (len(part.widths) - 1) <= FIGURE_WIDTH + 1e-6
        for i, width in enumerate(part.widths):
            pieces = [w for c in (part.header[i], part.rows[0][i]) for w in c.replace("\u200b", " ").split()]
            assert all(text_width(w, part.size) <= width + 1e-6 for w in pieces)


def test_empty_table_is_only_a_header() -> None:
    table = Table(key="t", title="t", columns=(Column(key="a", title="a"),), rows=())
    assert fit_table(table, FIGURE_WIDTH)[0].rows == ()


def test_a_long_sentence_gets_a_wide_column_and_numbers_go_to_the_next_part() -> None:
    """A change of valves in words beside seven columns of figures ran over the foot of its page."""
    words = "rebound: third 0.20 x 28 swapped for 0.25 x 28, fourth 0.15 x 22 left out; " * 12
    table = Table(
        key="changes",
        title="Changes",
        columns=(
            Column(key="build", title="Build"),
            Column(key="change", title="Change"),
            *(Column(key=f"c{i}", title=f"Compression to {i} m/s", kind="force") for i in range(7)),
        ),
        rows=(("B1", words, *(100.0 * i for i in range(7))),),
    )
    parts = fit_table(table, 480.0)
    at = parts[0].header.index("Change")
    assert parts[0].widths[at] >= 300.0
    assert len(parts) > 1
    assert sum(len(p.header) for p in parts) >= 9
