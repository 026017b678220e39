"""`tussock dyno`: exit codes, what is said, what is written. All data invented."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import Result as Outcome
from typer.testing import CliRunner

from tussock.cli import app
from tussock.mechanics.dampers import ForceCurve, synthesise

SPEEDS = (0.05, 0.13, 0.26, 0.52, 1.05)


def sweep(factor: float, seed: int) -> str:
    curve = ForceCurve.from_points(
        speeds=SPEEDS,
        compression=[factor * f for f in (105, 235, 375, 555, 920)],
        rebound=[factor * f for f in (240, 600, 920, 1310, 2020)],
        gas_force=110.0,
        friction=34.0,
    )
    return synthesise(curve, speeds=(0.005, *SPEEDS), stroke=0.1, seed=seed, cycles=1.5, samples_per_cycle=120)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("dyno")
    good = sweep(1.0, 1)
    (place / "one.csv").write_text(good, encoding="utf-8")
    (place / "two.csv").write_text(sweep(1.03, 2), encoding="utf-8")
    (place / "firm.csv").write_text(sweep(1.3, 3), encoding="utf-8")
    german = good.replace(".", "*").replace(",", ";").replace("*", ",").replace("force [N]", "Zelle 2")
    (place / "german.csv").write_text(german, encoding="cp1252")
    (place / "cut.csv").write_text(good[: len(good) // 2], encoding="utf-8")
    head, *rows = good.splitlines()
    (place / "reversed.csv").write_text("\n".join([head, *reversed(rows)]) + "\n", encoding="utf-8")
    return place


def run(folder: Path, *words: str) -> Outcome:
    return CliRunner().invoke(app, ["dyno", *(str(folder / w) if w.endswith(".csv") else w for w in words)])


def test_one_unit(folder: Path) -> None:
    done = run(folder, "one.csv")
    assert done.exit_code == 0
    assert done.stdout.startswith("What does the damper do on the dyno")
    assert "one.csv gives 13" in " ".join(done.stdout.split())


def test_within_and_outside_the_band(folder: Path) -> None:
    assert run(folder, "two.csv", "--against", "one.csv").exit_code == 0
    done = run(folder, "firm.csv", "--against", "one.csv")
    assert done.exit_code == 1
    assert "outside the production band around one.csv" in " ".join(done.stdout.split())
    assert run(folder, "one.csv", "two.csv", "firm.csv").exit_code == 1


def test_json_alone_on_stdout(folder: Path) -> None:
    done = run(folder, "one.csv", "--cutoff", "40", "--json")
    assert done.exit_code == 0
    data = json.loads(done.stdout)
    assert data["stage"] == "dyno"
    assert data["values"]["filter_cutoff_hz"] == 40.0
    assert len(data["provenance"]["digest"]) == 64


def test_mapping_and_decimal_commas(folder: Path) -> None:
    done = run(folder, "german.csv")
    assert done.exit_code == 2
    assert "german.csv: line 1: no column for force" in done.stderr
    done = run(folder, "german.csv", "--channel", "force=Zelle 2 [N]")
    assert done.exit_code == 0
    assert "Zelle 2 [N]" in done.stdout


def test_files_are_written(folder: Path, tmp_path: Path) -> None:
    done = run(folder, "one.csv", "--out", str(tmp_path / "out"))
    assert done.exit_code == 0
    place = tmp_path / "out" / "dyno"
    assert (place / "results.json").is_file()
    assert (place / "pictures" / "dyno-force_velocity.svg").is_file()
    assert (place / "tables" / "dyno-points.csv").read_text(encoding="utf-8").startswith("Unit,Run,")


def test_every_bad_file_is_named_at_once_and_nothing_is_written(folder: Path, tmp_path: Path) -> None:
    before = {p.name: p.read_bytes() for p in folder.iterdir()}
    done = run(folder, "cut.csv", "reversed.csv", "none.csv", "one.csv", "--out", str(tmp_path / "out"))
    assert done.exit_code == 2
    assert "cut.csv: " in done.stderr
    assert "reversed.csv: time runs backwards" in done.stderr
    assert "none.csv: cannot be read: No such file" in done.stderr
    assert done.stdout == ""
    assert not list((tmp_path / "out" / "dyno").iterdir())
    assert {p.name: p.read_bytes() for p in folder.iterdir()} == before


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--channel", "force"), "write NAME=TITLE, such as --channel 'force=cell 2 [kN]'"),
        (("--channel", "force=a", "--channel", "force=b"), "--channel names force twice: 'a' and 'b'"),
        (("--channel", "power=a"), "the mapping names a channel 'power'"),
        (("--rate", "0"), "the sampling rate is 0 Hz"),
        (("--cutoff", "-5"), "a filter at -5 Hz"),
        (("--cutoff", "nan"), "a filter at nan Hz"),
        (("--damper", "front_b"), "--programme and --damper go together"),
    ],
)
def test_wrong_options(folder: Path, words: tuple[str, ...], said: str) -> None:
    done = run(folder, "one.csv", *words)
    assert done.exit_code == 2
    assert said in done.stderr


def test_files_of_one_name_are_told_apart(folder: Path, tmp_path: Path) -> None:
    other = tmp_path / "one.csv"
    other.write_text(sweep(1.02, 5), encoding="utf-8")
    done = CliRunner().invoke(app, ["dyno", str(folder / "one.csv"), str(other), "--json"])
    assert done.exit_code == 0
    names = {row[0] for t in json.loads(done.stdout)["tables"] if t["key"] == "forces" for row in t["rows"]}
    assert names == {str(folder / "one.csv"), str(other)}
