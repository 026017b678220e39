"""Advise, compare, robust, sweep, sensitivity from the shell: what reaches the study, exit codes, files, a stop."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from tussock.cli import app
from tussock.cli.progress import count_text
from tussock.studies.advise_kept import read_kept

Run = Callable[..., Any]


@pytest.fixture
def run(stages: object) -> Run:
    """Run a command on a job that is none; the stages' fixture puts it there."""
    runner = CliRunner()
    return lambda *words: runner.invoke(app, [str(w) for w in words])


@pytest.fixture
def asked(stages: dict[str, Any], monkeypatch: pytest.MonkeyPatch) -> dict[str, Any]:
    """Answer a study at once and remember what it was asked."""
    seen: dict[str, Any] = {}

    def study(job: object, **given: Any) -> Any:
        seen.update(given)
        given["report"](3, 10, 1)
        return stages[seen.get("as", "travel")].make()

    for name in ("advise", "compare", "robust", "sweep", "sensitivity"):
        monkeypatch.setattr(f"tussock.studies.{name}.study", study)
    return seen


def test_compare_passes_on_what_was_asked(run: Run, asked: dict[str, Any], programme: Path, tmp_path: Path) -> None:
    words = ("compare", programme, "--build", "A", "--build", "B", "--roads", 5, "--section", "moor road", "--seed", 3)
    done = run(*words, "--out", tmp_path / "out", "--json")
    assert done.exit_code == 0
    assert asked["builds"] == ["A", "B"]
    assert asked["only"] == ["moor road"]
    assert (asked["roads"], asked["seed"], asked["confidence"]) == (5, 3, 0.95)
    assert json.loads(done.stdout)["stage"] == "travel"
    assert (tmp_path / "out" / "compare" / "results.json").exists()
    assert "3 of 10, 1 failed" in done.stderr


def test_sweep_passes_on_what_was_asked(run: Run, asked: dict[str, Any], programme: Path, tmp_path: Path) -> None:
    file = tmp_path / "p.jsonl"
    vary = ("--vary", "front_rebound: 0.7 to 1.4", "--vary", "rear_packer: 0 mm to 10 mm")
    done = run(
        "sweep", programme, *vary, "--design", "grid", "--levels", 4, "--threads", 3, "--results", file, "--resume"
    )
    assert done.exit_code == 0
    assert [(r.key, r.low, r.high) for r in asked["ranges"]] == [
        ("front_rebound", 0.7, 1.4),
        ("rear_packer", 0.0, 0.01),
    ]
    assert (asked["design"], asked["levels"], asked["count"], asked["seed"]) == ("grid", 4, 64, 1)
    how = asked["how"]
    assert (how.threads, how.cluster, how.file, how.resume) == (3, "", file, True)


def test_advise_and_robust_pass_on_what_was_asked(
    run: Run, asked: dict[str, Any], programme: Path, tmp_path: Path
) -> None:
    kept = tmp_path / "kept"
    kept.mkdir()
    done = run("advise", programme, "--build", "B", "--points", 90, "--seed", 2, "--results", kept, "--out", tmp_path)
    assert done.exit_code == 0
    assert (asked["build"], asked["count"], asked["seed"], asked["results"]) == ("B", 90, 2, kept)
    assert (tmp_path / "advise" / "results.json").exists()
    assert [k.answer for k in read_kept(kept)] == [
        json.loads((tmp_path / "advise" / "results.json").read_text())["results"][0]["answer"]
    ]
    assert "there is no folder" in run("release", programme, "--results", tmp_path / "nowhere").stderr
    assert run("robust", programme, "--count", 9, "--results", kept).exit_code == 0
    assert (asked["count"], asked["results"]) == (9, kept)


def test_sensitivity_passes_on_what_was_asked(run: Run, asked: dict[str, Any], programme: Path) -> None:
    words = ("--method", "sobol", "--samples", 32, "--seed", 4, "--cluster", "tcp://10.0.0.5:8786")
    assert run("sensitivity", programme, *words, "--build", "B").exit_code == 0
    assert (asked["method"], asked["samples"], asked["seed"], asked["build"]) == ("sobol", 32, 4, "B")
    assert asked["how"].cluster == "tcp://10.0.0.5:8786"


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("--vary", "front_rebound: 1.4 to 0.7"), "front_rebound: the range from 1.4 to 0.7 does not rise"),
        (("--vary", "front_spring: -1 to 1.2"), "negative stiffness"),
        (("--vary", "sideways: 1 to 2"), "there is no adjuster 'sideways'"),
        (("--resume",), "name the file of results too"),
    ],
)
def test_what_is_wrong_is_said_before_the_programme_is_opened(
    run: Run, asked: dict[str, Any], programme: Path, words: tuple[str, ...], message: str
) -> None:
    done = run("sweep", programme, *words)
    assert done.exit_code == 2
    assert message in done.stderr
    assert asked == {}


def test_a_check_that_fails_exits_with_1(run: Run, asked: dict[str, Any], programme: Path) -> None:
    asked["as"] = "dampers"
    assert run("compare", programme).exit_code == 1


def test_a_stop_says_what_is_kept_and_exits_with_130(
    run: Run, stages: object, programme: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from tussock.studies.point_runs import Stopped

    def study(job: object, **given: Any) -> Any:
        raise Stopped("Stopped: 4 of 9 points are finished and stand in p.jsonl; go on with --resume.")

    monkeypatch.setattr("tussock.studies.compare.study", study)
    done = run("compare", programme)
    assert done.exit_code == 130
    assert "4 of 9 points" in done.stderr


def test_the_time_left_is_said_in_seconds_then_minutes() -> None:
    assert count_text(1, 10, 0, 89.0) == "1 of 10, 89 s left"
    assert count_text(1, 10, 2, 600.0) == "1 of 10, 2 failed, 10 min left"
    assert count_text(10, 10, 0, 0.0) == "10 of 10"
