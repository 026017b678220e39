"""Results as files: whole or not at all, units said, numbers as any reader wants them."""

from __future__ import annotations

import csv
import io
import json
import math
import tempfile
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import pytest
from sample_results import dampers_result, sample_results, travel_result

from tussock.errors import InputError
from tussock.release.outputs import results_json, staged, table_csv, write_outputs
from tussock.studies.result import Column, Table


def test_everything_is_written(tmp_path: Path) -> None:
    written = write_outputs(sample_results(), tmp_path / "tarn")
    names = [str(p.relative_to(tmp_path / "tarn")) for p in written]
    assert names == [
        "results.json",
        "tables/baseline-corners.csv",
        "tables/travel-limiters.csv",
        "pictures/travel-travel_ladder.svg",
        "tables/dampers-forces.csv",
        "pictures/dampers-damper_force.svg",
        "pictures/dampers-front_axle.svg",
    ]
    assert sorted(p for p in (tmp_path / "tarn").rglob("*") if p.is_file()) == sorted(written)
    for path in written:
        if path.suffix == ".svg":
            ET.parse(path)


def test_json_names_units_and_holds_si() -> None:
    document = json.loads(results_json(sample_results()))
    assert set(document) == {"format", "tussock", "results"}
    assert document["format"] == 1
    travel = document["results"][1]
    assert travel["stage"] == "travel"
    assert travel["state"] == "look"
    margin = travel["tables"][0]["columns"][3]
    assert (margin["key"], margin["unit"]) == ("margin", "m")
    assert travel["tables"][0]["rows"][0][3] == 0.008
    assert travel["values"]["front_lift_m"] == 0.043


def test_number_that_is_not_finite_is_null_in_json_and_empty_in_csv() -> None:
    table = Table(
        key="t", title="t", columns=(Column(key="a", title="a", kind="force"),), rows=((math.nan,), (math.inf,))
    )
    result = replace(travel_result(), tables=(table,))
    assert json.loads(results_json([result]))["results"][0]["tables"][0]["rows"] == [[None], [None]]
    assert table_csv(table) == 'a [N]\r\n""\r\n""\r\n'


def test_csv_reads_back_with_units_in_its_header() -> None:
    rows = list(csv.reader(io.StringIO(table_csv(travel_result().tables[0]), newline="")))
    assert rows[0] == [
        "Limiter",
        "Where",
        "stops at [mm]",
        "margin [mm]",
        "in 5 deg roll [mm]",
        "checked",
        "What to do",
    ]
    assert float(rows[1][2]) == pytest.approx(-81.0)
    assert rows[3][4] == ""
    assert rows[1][5] == "yes"
    forces = list(csv.reader(io.StringIO(table_csv(dampers_result().tables[0]), newline="")))
    assert float(forces[1][2]) == pytest.approx(-340.0)


def test_second_run_replaces_the_first(tmp_path: Path) -> None:
    write_outputs(sample_results(), tmp_path)
    write_outputs(sample_results()[:1], tmp_path)
    assert len(json.loads((tmp_path / "results.json").read_text())["results"]) == 1


def test_parent_that_does_not_exist(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"the folder .*nowhere does not exist"):
        write_outputs(sample_results(), tmp_path / "nowhere" / "out")


def test_folder_that_is_a_file(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("kept")
    with pytest.raises(InputError, match="it is a file"):
        write_outputs(sample_results(), tmp_path / "out")
    assert (tmp_path / "out").read_text() == "kept"


def test_folder_that_may_not_be_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # the error as the system gives it: tests may run as a user whom no permission stops
    def refuse(**_: object) -> str:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(tempfile, "mkdtemp", refuse)
    with pytest.raises(InputError, match=r"cannot write to .*: Permission denied"):
        write_outputs(sample_results(), tmp_path / "out")


def test_failure_on_the_way_leaves_nothing(tmp_path: Path) -> None:
    def fail_half_way() -> None:
        with staged(tmp_path / "out") as stage:
            (stage / "half.txt").write_text("half")
            raise ArithmeticError("half way")

    with pytest.raises(ArithmeticError, match="half way"):
        fail_half_way()
    assert list((tmp_path / "out").iterdir()) == []
