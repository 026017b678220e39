"""The adviser's kept answer: written, read, and set beside the stage tuning; nothing is asked anew."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from tussock.errors import InputError
from tussock.studies.advise_kept import HOW, keep, kept_of, read_kept, with_advice
from tussock.studies.result import Provenance, Result


def result(stage: str, answer: str = "an answer", **of: str) -> Result:
    provenance = {"programme": "x", "digest": "d1", "tussock": "0", "data": "invented", "fitout": "bare", "build": "B3"}
    return Result(
        stage=stage, question="?", answer=answer, passes=True, provenance=Provenance(**{**provenance, **of})
    )  # fmt: skip


def test_an_answer_is_kept_beside_its_settings_and_read_again(tmp_path: Path) -> None:
    for build in ("B3", "B 4/x"):
        keep(result("advise", f"drive {build} – μ", build=build), tmp_path, asked="2026-11-02")
    keep(result("advise", "drive B5"), tmp_path, asked="2026-11-03")  # the same question: the later answer
    (tmp_path / "points-0123.jsonl").write_text("{}")
    found = read_kept(tmp_path)
    assert {(k.build, k.answer, k.asked) for k in found} == {
        ("B3", "drive B5", "2026-11-03"),
        ("B 4/x", "drive B 4/x – μ", "2026-11-02"),
    }


@pytest.mark.parametrize("text", ["", "[]", "{}", '{"format": "other"}', '{"format": "tussock-advice", "version": 1}'])
def test_what_is_no_answer_is_refused_by_name(tmp_path: Path, text: str) -> None:
    (tmp_path / "advice-bare-B3.json").write_text(text)
    with pytest.raises(InputError, match=r"advice-bare-B3\.json is no answer"):
        read_kept(tmp_path)


def test_a_newer_format_and_a_folder_that_is_not_there_are_refused(tmp_path: Path) -> None:
    path = keep(result("advise"), tmp_path, asked="2026-11-02")
    path.write_text(json.dumps(json.loads(path.read_text()) | {"version": 2}))
    with pytest.raises(InputError, match="format version 2, this program reads 1"):
        read_kept(tmp_path)
    with pytest.raises(InputError, match="there is no folder"):
        read_kept(tmp_path / "nowhere")


def test_the_stage_shows_what_was_asked_of_its_fit_out_and_of_which_state() -> None:
    before = result("tuning")
    other, plain = with_advice([result("drive"), before], [])
    assert other == result("drive")
    assert plain == replace(before, inputs={"adviser": HOW})
    kept = [
        kept_of(result("advise", "old", digest="d0"), asked="2026-10-01"),
        kept_of(result("advise", "now"), asked="2026-11-02"),
        kept_of(result("advise", "loaded", fitout="winch"), asked="2026-11-02"),
    ]
    (told,) = with_advice([before], kept)
    assert told.table("advice").rows == (
        ("2026-11-02", "as it stands", "B3", "now"),
        ("2026-10-01", "an earlier state", "B3", "old"),
    )
    assert "adviser" not in told.inputs
