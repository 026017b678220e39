"""The command line: exit codes, what goes to stdout, what is written."""

from __future__ import annotations

import importlib.metadata
import json
import subprocess
import sys
from pathlib import Path

import pytest
from conftest import FakeStage
from typer.testing import CliRunner

from tussock.cli import app

Stages = dict[str, FakeStage]
COMMANDS = [
    "demo", "check", "schema", "baseline", "targets", "heights", "travel", "springs", "spring", "geometry", "dampers",
    "drive", "tune", "release", "dyno", "calibrate", "find-stack", "build-sheet", "batch", "steps", "carry-over",
    "loads", "hardpoints", "compare", "sweep", "sensitivity",
]  # fmt: skip


@pytest.fixture
def run() -> object:
    runner = CliRunner()
    return lambda *words: runner.invoke(app, [str(w) for w in words])


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_has_help(run, command: str) -> None:  # type: ignore[no-untyped-def]
    result = run(command, "--help")
    assert result.exit_code == 0
    assert command in result.stdout
    assert run("--help").stdout.count(command) >= 1


def test_help_asks_the_question_that_the_stage_answers(run) -> None:  # type: ignore[no-untyped-def]
    from tussock.studies.stages import STAGES

    for stage in STAGES:
        words = " ".join(run({"tuning": "tune"}.get(stage.name, stage.name), "--help").stdout.split())
        assert stage.question in words


def test_help_imports_nothing_heavy() -> None:
    code = (
        "import sys, tussock.cli\n"
        "heavy = {'numpy', 'pydantic', 'pint', 'numba', 'scipy', 'matplotlib', 'typst', 'ruamel.yaml'}\n"
        "print(sorted(heavy & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_help_of_a_command_imports_nothing_heavy() -> None:
    code = (
        "import sys\n"
        "from tussock.cli import app\n"
        "try:\n    app(['travel', '--help'])\nexcept SystemExit:\n    pass\n"
        "heavy = {'numpy', 'pint', 'numba', 'scipy', 'matplotlib', 'typst'}\n"  # pydantic: typer's own, for types
        "print(sorted(heavy & set(sys.modules)), file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stderr.strip() == "[]"


def test_version(run) -> None:  # type: ignore[no-untyped-def]
    assert run("--version").stdout.strip() == f"tussock {importlib.metadata.version('tussock')}"


def test_question_answer_then_table(run, stages: Stages, programme: Path) -> None:  # type: ignore[no-untyped-def]
    result = run("travel", programme)
    assert result.exit_code == 0
    words = result.stdout
    order = [
        words.index(part)
        for part in (
            "How far may it droop",
            "The front may rise 43 mm",
            "▲ look",
            "▲ The front brake",
            "What ends the",
        )
    ]
    assert order == sorted(order)
    assert "▲ brake hose" in words  # the row that governs shows without colour
    assert "−81" in words
    assert "426 mm ± 3 mm" in words
    assert "\x1b" not in words  # plain where there is no terminal
    assert max(len(line) for line in words.splitlines()) <= 80


def test_check_that_fails_exits_with_1(run, stages: Stages, programme: Path) -> None:  # type: ignore[no-untyped-def]
    result = run("dampers", programme)
    assert result.exit_code == 1
    assert "look: a check fails" in result.stdout
    assert max(len(line) for line in result.stdout.splitlines()) <= 80


def test_no_number_of_a_wide_table_is_lost(run, stages: Stages, programme: Path) -> None:  # type: ignore[no-untyped-def]
    words = run("dampers", programme).stdout
    table = stages["dampers"].make().tables[0]
    for row in table.rows:
        for value in row[1:]:
            assert isinstance(value, float)
            assert f"{value:.0f}".replace("-", "−") in words


@pytest.mark.parametrize("command", ["baseline", "travel", "dampers", "tune"])
def test_json_is_the_only_thing_on_stdout(run, stages: Stages, programme: Path, command: str) -> None:  # type: ignore[no-untyped-def]
    result = run(command, programme, "--json")
    document = json.loads(result.stdout)
    stage = {"tune": "tuning"}.get(command, command)
    assert document == json.loads(json.dumps(stages[stage].make().as_json()))
    assert result.exit_code == (0 if document["passes"] else 1)


def test_options_reach_the_stage(run, stages: Stages, programme: Path) -> None:  # type: ignore[no-untyped-def]
    assert run("drive", programme, "--fitout", "bare", "--build", "B", "--against", "A").exit_code == 0
    assert stages["drive"].asked == {"fitout": "bare", "build": "B", "against": "A"}
    assert run("heights", programme, "--build", "A").exit_code == 0
    assert stages["heights"].asked == {"fitout": None, "build": "A", "against": None}


@pytest.mark.parametrize(
    ("option", "message"),
    [
        ("--fitout", "there is no fit-out 'submarine'; the programme has bare, and kerb"),
        ("--build", "there is no build 'submarine'; the programme has A, B, and stock"),
        ("--against", "there is no build 'submarine'; the programme has A, B, and stock"),
    ],
)
def test_unknown_name_says_which_there_are(  # type: ignore[no-untyped-def]
    run, stages: Stages, programme: Path, option: str, message: str
) -> None:
    result = run("drive", programme, option, "submarine")
    assert result.exit_code == 2
    assert message in result.stderr
    assert result.stdout == ""
    assert stages["drive"].asked is None  # refused before anything was computed


def test_one_section_of_the_drive(  # type: ignore[no-untyped-def]
    run, stages: Stages, programme: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from tussock.studies import section

    asked: dict[str, object] = {}
    monkeypatch.setattr(section, "study", lambda job, **named: (asked.update(named), stages["drive"].make())[1])
    result = run("drive", programme, "--section", "potholes", "--build", "B", "--out", tmp_path)
    assert result.exit_code == 0
    assert asked == {
        "fitout": None, "build": "B", "against": None, "section": "potholes", "channel": "seat_up",
    }  # fmt: skip
    assert f"{tmp_path / 'section'}" in result.stdout.replace("\n", "")
    assert stages["drive"].asked is None
    alone = run("drive", programme, "--channel", "seat_side")
    assert alone.exit_code == 2
    assert "say which with --section NAME" in alone.stderr


def test_file_that_is_not_there(run, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    for command in ("check", "travel", "release"):
        result = run(command, tmp_path / "none.yaml")
        assert result.exit_code == 2
        assert "there is no file" in result.stderr
        assert result.stdout == ""


def test_folder_instead_of_a_file(run, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    result = run("check", tmp_path)
    assert result.exit_code == 2
    assert "is a folder" in result.stderr


def test_unknown_option_and_missing_file_exit_with_2(run) -> None:  # type: ignore[no-untyped-def]
    assert run("travel").exit_code == 2
    assert run("travel", "x.yaml", "--colour").exit_code == 2
    assert run("launch").exit_code == 2


def test_wrong_programme_lists_every_problem(run, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    path = tmp_path / "wrong.yaml"
    path.write_text("format: 1\nprogramme: {nme: Tarn, data: guessed}\n")
    result = run("check", path)
    assert result.exit_code == 2
    assert "wrong.yaml:2" in result.stderr
    assert "programme.nme" in result.stderr
    assert "programme.data" in result.stderr
    assert "Traceback" not in result.stderr


def test_fault_of_ours_is_one_line(run, stages: Stages, programme: Path) -> None:  # type: ignore[no-untyped-def]
    def fail() -> object:
        raise ZeroDivisionError("float division\nby zero")

    stages["travel"].make = fail  # type: ignore[assignment]
    result = run("travel", programme)
    assert result.exit_code == 3
    assert result.stderr.count("\n") == 1
    assert "ZeroDivisionError: float division by zero" in result.stderr
    shown = run("--debug", "travel", programme)
    assert isinstance(shown.exception, ZeroDivisionError)


def test_stopped_by_the_user(run, stages: Stages, programme: Path) -> None:  # type: ignore[no-untyped-def]
    def stop() -> object:
        raise KeyboardInterrupt

    stages["travel"].make = stop  # type: ignore[assignment]
    result = run("travel", programme)
    assert result.exit_code == 130
    assert "Stopped" in result.stderr


def test_release_writes_everything(run, stages: Stages, programme: Path, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    result = run("release", programme, "--out", tmp_path / "out", "--date", "2031-03-14")
    assert result.exit_code == 1  # the dampers' check fails in the sample
    folder = tmp_path / "out" / "tarn"
    assert (folder / "report.pdf").read_bytes().startswith(b"%PDF-")
    assert len(json.loads((folder / "results.json").read_text())["results"]) == len(stages)
    assert str(folder / "report.pdf") in result.stdout
    assert "The front may rise 43 mm" in result.stdout
    assert not [p for p in folder.rglob(".writing*")]


def test_release_twice_gives_equal_bytes(run, stages: Stages, programme: Path, tmp_path: Path, monkeypatch) -> None:  # type: ignore[no-untyped-def]
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1931245200")
    run("release", programme, "--out", tmp_path / "a")
    run("release", programme, "--out", tmp_path / "b")
    for first in (tmp_path / "a").rglob("*.*"):
        assert first.read_bytes() == (tmp_path / "b" / first.relative_to(tmp_path / "a")).read_bytes()


@pytest.mark.parametrize("date", ["14.3.2031", "2031-02-30", "soon"])
def test_date_that_is_none(run, stages: Stages, programme: Path, tmp_path: Path, date: str) -> None:  # type: ignore[no-untyped-def]
    result = run("release", programme, "--out", tmp_path / "out", "--date", date)
    assert result.exit_code == 2
    assert "write it as 2031-03-14" in result.stderr
    assert not (tmp_path / "out").exists()


def test_folder_that_cannot_be_made(run, stages: Stages, programme: Path, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    result = run("release", programme, "--out", tmp_path / "no" / "where")
    assert result.exit_code == 2
    assert "does not exist; make it first" in result.stderr
    (tmp_path / "file").write_text("kept")
    result = run("release", programme, "--out", tmp_path / "file")
    assert result.exit_code == 2
    assert "it is a file" in result.stderr
    assert stages["baseline"].asked is None  # found before minutes of computing


def test_schema_is_json(run) -> None:  # type: ignore[no-untyped-def]
    assert "$defs" in json.loads(run("schema").stdout)
