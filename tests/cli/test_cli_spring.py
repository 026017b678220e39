"""The command that reads a spring tester's file."""

from __future__ import annotations

import json
from importlib.resources import as_file, files
from pathlib import Path

import pytest
from typer.testing import CliRunner

from tussock.cli import app

RUN = CliRunner()


@pytest.fixture(scope="module")
def demo_file() -> Path:
    with as_file(files("tussock") / "data/tarn/tester/front-standard.csv") as path:
        return path


def test_a_file_alone(demo_file: Path) -> None:
    done = RUN.invoke(app, ["spring", str(demo_file)])
    assert done.exit_code == 0
    assert "What is this spring" in done.stdout
    assert "N of friction each way" in done.stdout


def test_against_an_order_as_json_and_its_exit_code(demo_file: Path) -> None:
    programme = str(demo_file.parents[1] / "programme.yaml")
    kept = RUN.invoke(app, ["spring", str(demo_file), "--against", programme, "--name", "front_standard", "--json"])
    assert kept.exit_code == 0
    assert json.loads(kept.stdout)["passes"] is True
    other = RUN.invoke(app, ["spring", str(demo_file), "--against", programme, "--name", "rear_main"])
    assert other.exit_code == 1


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--name", "front_standard"], "say which with --against"),
        (["--free-length", "486"], "the free length"),
    ],
)
def test_wrong_options_are_said(demo_file: Path, words: list[str], said: str) -> None:
    done = RUN.invoke(app, ["spring", str(demo_file), *words])
    assert done.exit_code == 2
    assert said in " ".join(done.output.split())


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    done = RUN.invoke(app, ["spring", str(tmp_path / "none.csv")])
    assert done.exit_code == 2
    assert "cannot read" in done.output


def test_an_old_machines_letters(demo_file: Path, tmp_path: Path) -> None:
    """Windows-1252 titles: the file is read, only its titles have the old letters."""
    text = demo_file.read_text(encoding="utf-8").replace("length [mm]", "Länge [mm]")
    old = tmp_path / "old.csv"
    old.write_bytes(text.encode("cp1252"))
    assert RUN.invoke(app, ["spring", str(old)]).exit_code == 0
