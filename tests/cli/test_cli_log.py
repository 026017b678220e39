"""`tussock log`: what is added to the file, what is said, what is refused. All data invented."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from click.testing import Result as Outcome
from typer.testing import CliRunner

from tussock.cli import app
from tussock.record import load

TARN = Path(__file__).parents[1] / "data" / "programmes" / "format-1.yaml"


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "programme.yaml"
    text = TARN.read_text(encoding="utf-8")
    points = 'curve: ["-0.52 m/s: -900 N", "-0.1 m/s: -300 N", "0 m/s: 0 N", "0.1 m/s: 150 N", "0.52 m/s: 500 N"]'
    path.write_text(re.sub(r"dyno: dyno/[\w-]+\.csv", points, text), encoding="utf-8")
    return path


def run(*words: object) -> Outcome:
    return CliRunner().invoke(app, [str(w) for w in words])


def drive(file: Path, *more: object, build: str = "B2", against: str = "B1") -> Outcome:
    given = ("--build", build, "--against", against, "--driver", "service", "--fitout", "bare", "--date", "2026-10-01")
    return run("log", "drive", file, *given, *more)


def test_a_drive_is_added_and_shown(file: Path, tmp_path: Path) -> None:
    photo = tmp_path / "mark.jpg"
    photo.write_bytes(b"invented")
    before = file.read_text(encoding="utf-8")
    done = drive(
        file, "--verdict", "moor road: body float: slightly better", "--verdict", "Pitch: much worse", "--verdict",
        "same", "--mark", "body_float: 7", "--pressure", "2.2 bar, 2.6 bar", "--file", photo, "--weather", "dry",
    )  # fmt: skip
    assert done.exit_code == 0, done.output
    assert "drive written to programme.yaml" in done.stdout
    (one,) = load(file).programme.drives
    assert [(v.section, v.attribute, v.verdict) for v in one.verdicts] == [
        ("moor road", "body_float", "slightly better"), (None, "pitch", "much worse"), (None, "overall", "same"),
    ]  # fmt: skip
    assert (tmp_path / one.files[0]).read_bytes() == b"invented"
    lines = file.read_text(encoding="utf-8").splitlines()
    assert [line for line in before.splitlines() if line not in lines] == ["drives: []"]
    shown = [line for line in done.stdout.splitlines()[1:] if line]
    assert all(line in lines for line in shown)
    assert shown[0] == "  - id: D1"


def test_the_whole_log_from_the_shell(file: Path) -> None:
    day = ("--date", "2026-10-05")
    who = ("--by", "workshop", *day)
    steps = [
        run("log", "build", file, "--title", "rear bar", "--from", "B3", "--bar", "rear=200 N m/deg", "--damper",
            "front=front_a", "--stop-spacer", "rear=20 mm", "--pressure", "2.3 bar", *who),
        drive(file, "--verdict", "moor road: slightly better"),
        drive(file, "--verdict", "moor road: slightly worse"),
        run("log", "note", file, "--about", "B4", "--text", "links new", *who),
        run("log", "decide", file, "--text", "stay with B3", *who),
        run("log", "correct", file, "D2", "--set", "fitout=winch", "--set", "tyre_pressure={front: 2 bar, rear: 2 bar}",
            "--why", "the bumper was on", *who),
        run("log", "withdraw", file, "N1", "--why", "another vehicle", *who),
    ]  # fmt: skip
    assert [s.exit_code for s in steps] == [0] * len(steps), [s.output for s in steps]
    programme = load(file).programme
    assert programme.builds["B4"].bars["rear"].roll_rate is not None
    assert (programme.drives[1].fitout, programme.notes) == ("winch", ())
    shown = run("log", "show", file, "--json")
    tables = {t["key"]: t["rows"] for t in json.loads(shown.stdout)["tables"]}
    assert tables["disagreements"] == [["B1, B2", "overall", "moor road", "D2", "D1"]]
    assert [row[0] for row in tables["build_tree"]] == ["B1", "· B2", "· · B3", "· · · B4"]
    changed = tables["build_tree"][3][3]
    for words in (
        "front damper",
        "rear bar: 200 N m/deg for",
        "rear stops: stock stop, spacer 20 mm",
        "2.30 bar for 2.40",
    ):
        assert words in changed
    assert run("log", "show", file).exit_code == 0


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (("--verdict", "moor road: better"), "is no verdict"),
        (("--verdict", "moor rod: same"), "did you mean 'moor road'?"),
        (("--verdict", "moor road: potholes: same"), "named twice"),
        (("--mark", "pitch: seven"), "is no mark"),
        (("--mark", "pitch: 11"), "a mark is a whole number from 1"),
        (("--pressure", "2.2 bar, 2 bar, 2 bar"), "write front and rear as"),
        (("--file", "nowhere.jpg"), "no such file to attach"),
        (("--against", "B2"), "not compared with itself"),
        (("--verdict", "moor road: much better", "--verdict", "moor road: much worse"), "contradicts itself"),
        (("--section", "potholes", "--verdict", "moor road: same"), "was driven on 'potholes' alone"),
        (("--name", "B1"), "a second entry of this name"),
    ],
)
def test_what_is_wrong_is_said_and_nothing_is_written(file: Path, more: tuple[str, ...], said: str) -> None:
    before = file.read_bytes()
    done = drive(file, *more)
    assert done.exit_code == 2
    assert said in " ".join(done.stderr.split())
    assert file.read_bytes() == before
    assert not (file.parent / "attached").exists()


def test_a_correction_needs_something_to_say(file: Path) -> None:
    done = run("log", "correct", file, "B1", "--by", "A", "--why", "x")
    assert done.exit_code == 2
    assert "--set fitout=winch" in done.stderr
    assert "is not a field" in run("log", "correct", file, "B1", "--by", "A", "--why", "x", "--set", "note").stderr


def test_scales_are_written_in_words() -> None:
    shown = run("log", "scales").stdout
    assert "comfort on small bumps: Patches" in shown
    assert shown.count("\n   1  ") == 11
