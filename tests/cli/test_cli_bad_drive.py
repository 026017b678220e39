"""Roads and vehicles that cannot be driven, and Ctrl-C, from the shell: what is said; nothing is left half written.

The programmes are the packaged Tarn, all invented, with one thing wrong.
"""

from __future__ import annotations

import os
import re
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from importlib.resources import as_file, files
from pathlib import Path

import pytest
from typer.testing import CliRunner

from tussock.cli import app


@pytest.fixture(scope="module")
def tarn(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the packaged programme with the files it names."""
    folder = tmp_path_factory.mktemp("tarn")
    with as_file(files("tussock").joinpath("data/tarn")) as packaged:
        shutil.copytree(packaged, folder, dirs_exist_ok=True)
    rows = [f"{0.1 * i:.1f}, 0.01, {'nan' if i == 100 else '0.01'}" for i in range(400)]
    (folder / "hole.csv").write_text("\n".join(["distance [m], left [m], right [m]", *rows]), encoding="utf-8")
    head = ["$CT", "invented", "$!***", "$ROAD_CRG", "REFERENCE_LINE_START_U = 0.0", "REFERENCE_LINE_END_U = 40.0"]
    head += ["REFERENCE_LINE_INCREMENT = 0.1", "LONG_SECTION_V_RIGHT = -2.0", "LONG_SECTION_V_LEFT = 2.0"]
    head += ["LONG_SECTION_V_INCREMENT = 2.0", "$!***", "$KD_Definition", "#:LRFI", "U:reference line u,m,0,0.1"]
    head += [*(f"D:long section {i},m" for i in (1, 2, 3)), "$!***", "$" * 80]
    (folder / "cut.crg").write_text("\n".join([*head, *([" 0.0000000 0.0000000 0.0000000"] * 150)]) + "\n")
    return folder


def with_section(folder: Path, section: str) -> Path:
    """Write the programme with one more section at the start of its loop."""
    text = (folder / "programme.yaml").read_text(encoding="utf-8")
    path = folder / "wrong.yaml"
    path.write_text(re.sub(r"(road_loop:\n[^-]*  sections:\n)", rf"\g<1>    - {section}\n", text), encoding="utf-8")
    assert section in path.read_text(encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("section", "said"),
    [
        (
            "{name: lane, speed: 30 km/h, length: 2 m}",
            r"sections\.0\.length: no longer than the wheelbase of 2700 mm.*Found '?2 m",
        ),
        ("{name: lane, speed: 0 km/h, length: 80 m}", r"sections\.0\.speed: 0 km/h must be positive"),
        ("{name: lane, speed: nan km/h, length: 80 m}", r"sections\.0\.speed: 'nan km/h' is not a finite number"),
        (
            "{name: lane, speed: 30 km/h, length: 80 m, speed_changes: [{at: 9 m, speed: 0 km/h}]}",
            r"sections\.0\.speed_changes\.0\.speed: 0 km/h must be positive",
        ),
        (
            "{name: lane, speed: 30 km/h, length: 20 m, features: [{kind: dip, at: 5 m, length: 30 m, depth: 90 mm}]}",
            r"sections\.0\.features\.0\.at: it reaches beyond the end of the section, which is 20 m long",
        ),
        (
            "{name: lane, speed: 30 km/h, length: 30 m, surface: {file: hole.csv}}",
            r"hole\.csv: line 102: right is 'nan'; a number is needed",
        ),
        (
            "{name: lane, speed: 30 km/h, length: 30 m, surface: {file: cut.crg}}",
            r"cut\.crg: it is cut off: its head says 40 m, its data end at 14\.9 m",
        ),
        (
            "{name: lane, speed: 30 km/h, length: 60 m, surface: {file: long.csv}}",
            r"'lane': long\.csv: 39\.90 m were measured; a section from 0 m over 60 m does not fit",
        ),
    ],
)
def test_a_road_that_cannot_be_driven_is_told_and_nothing_is_written(
    tarn: Path, tmp_path: Path, section: str, said: str
) -> None:
    """File, field or section are named before anything is computed."""
    (tarn / "long.csv").write_text((tarn / "hole.csv").read_text(encoding="utf-8").replace("nan", "0.01"))
    path = with_section(tarn, section)
    result = CliRunner().invoke(app, ["release", str(path), "--out", str(tmp_path / "out")])
    words = " ".join(result.stderr.split())
    assert result.exit_code == 2, words
    assert re.search(said, words), words
    assert "Tuple" not in words
    assert result.stdout == ""
    assert list(tmp_path.rglob("*")) == []


HEIGHT = "centre_of_gravity_height: 700 mm +- 20 mm"
HEAVY = "inertia: {roll: 9000 kg m^2, pitch: 12000 kg m^2, yaw: 12000 kg m^2}"
FRONT_STOP = '"10 mm: 260 N", "20 mm: 700 N", "30 mm: 1500 N", "40 mm: 3200 N", "48 mm: 6400 N", "55 mm: 12500 N"'


@pytest.mark.parametrize(
    ("was", "wrong", "said"),
    [
        (HEIGHT, f"centre_of_gravity_height: 4400 mm\n  {HEAVY}", r"does not stand still: it falls away sideways"),
        (
            HEIGHT,
            f"centre_of_gravity_height: 2400 mm\n  {HEAVY}",
            r"section '[^']+': the vehicle tipped over at [\d.]+ s",
        ),
        (
            "rate: 21.5 N/mm +- 0.6 N/mm",
            "rate: -21.5 N/mm",
            r"wrong\.yaml:\d+: vehicle\.axles\.front\.spring\.rate: -21\.5 N/mm must be positive",
        ),
        (
            '"40 mm: 3200 N"',
            '"40 mm: 900 N"',
            r"axles\.front\.stop\.curve\.4: deflection and force must rise from point to point",
        ),
        (
            FRONT_STOP,
            '"10 mm: 260 N", "10.2 mm: 300000 N"',
            r"section '[^']+': the run diverged at [\d.]+ s, [\d.]+ m down the road: the front (left|right) bump stop "
            r"force grew from \d+ N to [\d.e+]+ N",
        ),
    ],
    ids=["falls over", "tips over", "negative rate", "force that falls", "diverges"],
)
@pytest.mark.parametrize("command", ["drive", "release"])
def test_a_vehicle_that_cannot_be_driven_is_told_and_nothing_is_written(
    tarn: Path, tmp_path: Path, command: str, was: str, wrong: str, said: str
) -> None:
    """One line says what, where and what would be right; no table, no JSON, no file is begun."""
    text = (tarn / "programme.yaml").read_text(encoding="utf-8")
    path = tarn / "wrong.yaml"
    assert was in text
    path.write_text(text.replace(was, wrong, 1), encoding="utf-8")
    before = {p: p.read_bytes() for p in tarn.rglob("*") if p.is_file()}
    asked = ["drive", str(path), "--json"] if command == "drive" else ["release", str(path), "--out", f"{tmp_path}/out"]
    result = CliRunner().invoke(app, asked)
    words = " ".join(result.stderr.split())
    assert result.exit_code == 2, words
    assert re.search(said, words), words
    assert "nan" not in words.lower()
    assert "Traceback" not in words
    assert result.stdout == ""
    assert [p for p in tmp_path.rglob("*") if p.is_file()] == []
    assert {p: p.read_bytes() for p in tarn.rglob("*") if p.is_file()} == before


def test_a_list_whose_only_entry_is_wrong_is_not_called_empty(tmp_path: Path) -> None:
    example = Path(__file__).parents[2] / "docs" / "examples" / "tarn-small.yaml"
    only = "- {name: moor road, speed: 80 km/h"
    text = example.read_text(encoding="utf-8")
    assert text.count(only) == 1
    path = tmp_path / "wrong.yaml"
    path.write_text(text.replace(only, only.replace("80", "0")), encoding="utf-8")
    result = CliRunner().invoke(app, ["check", str(path)])
    assert "1 problem" in result.stderr
    assert "must be positive" in result.stderr


def stopped(args: list[str], ready: Callable[[], bool], folder: Path) -> subprocess.CompletedProcess[str]:
    """Run a command and stop it as Ctrl-C does once it is under way.

    A shell has what it runs in the background ignore the signal, and children inherit that: it is heeded again first.
    """
    heed = "import signal; signal.signal(signal.SIGINT, signal.default_int_handler)"
    run = subprocess.Popen(
        [sys.executable, "-c", f"{heed}; from tussock.cli import main; main()", *args],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=folder, env=os.environ,
    )  # fmt: skip
    for _ in range(600):
        if ready() or run.poll() is not None:
            break
        time.sleep(0.05)
    run.send_signal(signal.SIGINT)
    out, err = run.communicate(timeout=60)
    return subprocess.CompletedProcess(args, run.returncode, out, err)


@pytest.mark.skipif(os.name == "nt", reason="signals differ")
def test_release_stopped_by_the_user_leaves_no_file(tarn: Path, tmp_path: Path) -> None:
    """The folder is made first; what would go into it is written whole at the end or not at all."""
    out = tmp_path / "out"
    path = tarn / "programme.yaml"
    result = stopped(["release", str(path), "--out", str(out)], lambda: (out / "tarn").is_dir(), tmp_path)
    assert result.returncode == 130, result.stderr
    assert "Stopped. No file was left half written." in result.stderr
    assert [p for p in tmp_path.rglob("*") if p.is_file()] == []
