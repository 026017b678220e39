"""The dyno study: what it says of one unit, of several, and beside a reference. All data invented."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from tussock.errors import InputError
from tussock.mechanics.dampers import DynoTest, ForceCurve, production_band, read, synthesise
from tussock.mechanics.dampers.dyno_compare import compare_units, spread_of
from tussock.release.figures import picture_svg
from tussock.release.outputs import write_outputs
from tussock.studies import dyno
from tussock.studies.dyno_references import references
from tussock.studies.job import Job
from tussock.studies.result import LineChart

SPEEDS = (0.05, 0.13, 0.26, 0.52, 1.05)
COMPRESSION = (105.0, 235.0, 375.0, 555.0, 920.0)
REBOUND = (240.0, 600.0, 920.0, 1310.0, 2020.0)
TRUE = ForceCurve.from_points(
    speeds=SPEEDS, compression=COMPRESSION, rebound=REBOUND, gas_force=110.0, friction=34.0, name="rated"
)


def unit(name: str, *, factor: float = 1.0, seed: int = 1, cycles: float = 2.5, **options: Any) -> DynoTest:
    curve = replace(TRUE, force=TRUE.force * factor)
    text = synthesise(curve, speeds=(0.005, *SPEEDS), stroke=0.1, seed=seed, cycles=cycles, samples_per_cycle=120)
    return read(text, name=name, **options)


@pytest.fixture(scope="module")
def first() -> DynoTest:
    return unit("unit-1.csv")


@pytest.fixture(scope="module")
def near() -> DynoTest:
    return unit("unit-2.csv", factor=1.04, seed=2)


@pytest.fixture(scope="module")
def far() -> DynoTest:
    return unit("unit-3.csv", factor=1.25, seed=3)


def test_one_unit(first: DynoTest) -> None:
    result = dyno.study([first])
    assert result.passes
    assert result.state == "answered"
    assert result.values["rebound_at_0.52_m_s_n"] == pytest.approx(1310.0, abs=5.0)
    assert result.values["gas_force_n"] == pytest.approx(110.0, abs=5.0)
    assert "not filtered" in result.inputs["unit-1.csv"]
    points = result.table("points")
    assert len(points.rows) == 10
    assert [p.key for p in result.pictures] == ["force_velocity", "scatter", "loops unit-1.csv"]
    json.dumps(result.as_json(), allow_nan=False)


def test_units_held_against_the_first(first: DynoTest, near: DynoTest, far: DynoTest) -> None:
    """4 % more force lies within 14 % + 40 N, 25 % does not from 0.26 m/s on (QC/T 491-1999, 1.2.2)."""
    result = dyno.study([first, near])
    assert result.passes
    result = dyno.study([first, near, far])
    assert not result.passes
    table = result.table("differences")
    outside = {(r[0], r[1], r[2]) for i, r in enumerate(table.rows) if i in table.strong}
    assert {u for u, _, _ in outside} == {"unit-3.csv"}
    for direction, forces in (("compression", COMPRESSION), ("rebound", REBOUND)):
        for speed, force in zip((*SPEEDS[:4], 1.04), forces, strict=True):
            over = 0.25 * force - production_band(force, direction)  # type: ignore[arg-type]
            if abs(over) > 15.0:  # nearer than scatter either may be right
                assert (("unit-3.csv", direction, speed) in outside) == (over > 0.0)
    assert "of 2 units 1 lie within" in result.answer
    notice = next(n for n in result.notices if "in rebound at 0.52 m/s" in n.text)
    assert "less rebound is needed" in notice.remedy
    spread = {(r[0], r[1]): r for r in result.table("spread").rows}
    assert spread[("rebound", 0.52)][3] == pytest.approx(1310.0 * (1.0 + 1.04 + 1.25) / 3.0, rel=5e-3)


def test_against_a_reference(near: DynoTest, far: DynoTest) -> None:
    result = dyno.study([near], references=[dyno.Reference(title="the prediction", unit=TRUE)])
    assert result.passes
    assert result.values["worst_share_of_band"] < 0.35
    assert "within the production band around the prediction" in result.answer
    softer = dyno.Reference(title="the prediction", unit=TRUE, judged=False)
    assert dyno.study([far], references=[softer]).passes, "what is not judged does not fail"
    assert not dyno.study([far], references=[dyno.Reference(title="the prediction", unit=TRUE)]).passes


def test_difference_scatter_and_significance(first: DynoTest, near: DynoTest) -> None:
    """Two sweeps of one damper differ by scatter alone; 4 % at 0.52 m/s is more than that."""
    same = compare_units(first, unit("again", seed=7))
    assert sum(d.significant for d in same.differences) <= 1
    other = compare_units(near, first)
    rebound = next(d for d in other.differences if d.direction == "rebound" and d.speed == 0.52)
    assert rebound.significant
    assert rebound.share == pytest.approx(0.04, abs=0.01)
    assert other.gas_difference == pytest.approx(0.0, abs=5.0)


def test_only_speeds_that_both_cover_are_compared(first: DynoTest) -> None:
    short = ForceCurve.from_points(speeds=[0.13, 0.26, 0.4], compression=[200, 300, 400], rebound=[500, 800, 1000])
    assert {d.speed for d in compare_units(first, short).differences} == {0.13, 0.26}
    tiny = ForceCurve.from_points(
        speeds=[0.01, 0.02, 0.03], compression=[20, 30, 40], rebound=[50, 80, 100], name="tiny"
    )
    with pytest.raises(ValueError, match=r"none of the speeds .* lies within both"):
        compare_units(first, tiny)
    assert spread_of([first]) == ()


def test_filter_and_temperature_are_stated(first: DynoTest) -> None:
    smooth = unit("smooth", cutoff=40.0)
    said = dyno.filter_words(smooth)
    assert said.startswith("low-pass at 40 Hz (amplitude 0.71 there), no shift in time; it moved a force by at most")
    assert "runs sampled too slowly for it stand as recorded" in said
    result = dyno.study([smooth])
    assert result.values["filter_cutoff_hz"] == 40.0
    assert any(row[-1] for row in result.table("runs").rows)


def test_warnings_have_remedies() -> None:
    text = synthesise(TRUE, speeds=SPEEDS, stroke=0.1, seed=4, cycles=2.0, samples_per_cycle=120)
    result = dyno.study([read(text, name="no-slow-run")])
    assert result.passes
    assert result.state == "look"
    assert "add a run at 5 mm/s or slower" in result.notices[0].remedy


def test_pictures_are_drawn(first: DynoTest, near: DynoTest, tmp_path: Path) -> None:
    result = dyno.study([first, near])
    chart = result.pictures[0]
    assert isinstance(chart, LineChart)
    assert chart.bands[0].label == "production band"
    for picture in result.pictures:
        assert picture_svg(picture).count("<path") > 5
    write_outputs([result], tmp_path)
    assert (tmp_path / "pictures" / "dyno-force_velocity.svg").is_file()
    assert (tmp_path / "pictures" / "dyno-loops-unit-1-csv.svg").is_file()


def test_loops_carry_the_work_of_a_cycle(first: DynoTest) -> None:
    """The area of a drawn loop is the run's heat per cycle, by the trapezoidal rule."""
    for run in first.runs:
        x, f = run.loop(points=720)
        area = abs(float(sum(0.5 * (f[1:] + f[:-1]) * (x[1:] - x[:-1]))))
        assert area == pytest.approx(run.energy, rel=0.01)


def test_references_of_a_programme(job: Job, monkeypatch: pytest.MonkeyPatch) -> None:
    """The attached sweep is judged; the prediction beside it is not, and takes the oil temperature it is told."""
    asked: list[float | None] = []

    def computed(job: Job, damper: object, name: str, *, temperature: float | None = None) -> ForceCurve:
        asked.append(temperature)
        return TRUE

    monkeypatch.setattr("tussock.studies.dyno_references.computed_curve", computed)
    measured, predicted = references(job, "front_b", temperature=300.0)
    assert isinstance(measured.unit, DynoTest)
    assert (measured.judged, predicted.judged) == (True, False)
    assert asked == [300.0]
    assert "27 °C" in predicted.title
    assert references(job, "stock front")[0].title.startswith("stock front's sweep")
    with pytest.raises(
        InputError, match="there is no damper 'front_z'; the programme has stock front, stock rear, front_a"
    ):
        references(job, "front_z")


def test_a_programme_may_name_an_mdf_file(job: Job, tmp_path: Path) -> None:
    """The same samples as ASAM MDF: the record keeps the bytes, the job reads them to the same curve."""
    import csv

    import numpy as np
    from asammdf import MDF, Signal

    from tussock.mechanics.dampers import read_bytes

    raw = job.loaded.files["dyno/front-b.csv"].decode()
    table = np.array([[float(c) for c in row] for row in list(csv.reader(raw.splitlines()))[1:]])
    run, time, move, force = table.T
    with MDF() as file:
        units = (("run", "", run), ("displacement", "mm", move), ("force", "N", force))
        file.append([Signal(samples=v, timestamps=time, name=n, unit=u) for n, u, v in units])
        written = Path(file.save(tmp_path / "front-b.mf4")).read_bytes()
    again = Job(replace(job.loaded, files={"dyno/front-b.mf4": written})).dyno_tests["dyno/front-b.mf4"]
    plain = read_bytes(raw.encode(), name="text")
    assert again.curve.force == pytest.approx(plain.curve.force, abs=1e-6)
