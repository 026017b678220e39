"""Compare on two short sections: pairing, readings, wrong names. Rules are tested, not the figures of the demo."""

from __future__ import annotations

import math

import pytest
from vary_programme import Vary

from tussock.errors import InputError, SolverError
from tussock.studies import compare, loop
from tussock.studies.job import Job, Setup
from tussock.studies.paired import paired
from tussock.studies.result import LineChart, Result, RowChart

SECTIONS = [
    {"name": "gravel", "speed": "60 km/h", "length": "80 m", "surface": {"class": "C"}},
    {
        "name": "left bump", "speed": "30 km/h", "length": "40 m",
        "features": [{"kind": "bump", "at": "15 m", "length": "0.6 m", "height": "60 mm", "side": "left"}],
    },
]  # fmt: skip


@pytest.fixture(scope="module")
def short(vary: Vary) -> Job:
    return vary({"road_loop.sections": SECTIONS})


@pytest.fixture(scope="module")
def result(short: Job) -> Result:
    told: list[tuple[int, int, int]] = []
    made = compare.study(short, builds=["B1", "B2", "stock"], roads=4, report=lambda *now: told.append(now))
    assert told[-1] == (12, 12, 0)
    return made


def test_the_first_road_is_the_loops_own_and_differences_are_paired(short: Job, result: Result) -> None:
    logs = []
    for seed in range(20261, 20265):
        runs = {}
        for build in ("B2", "stock"):
            setup = Setup("bare", build)
            road = loop.loop_road(short, setup, seed=seed)
            from tussock.studies import model

            runs[build] = [road.drive(model.vehicle(short, setup), model.rest(short, setup), s) for s in road.sections]
        logs.append(math.log(loop.loop_index(runs["B2"], runs["stock"]).control))
    own = loop.loop_index(loop.drive_loop(short, Setup("bare", "B2")), loop.drive_loop(short, Setup("bare", "stock")))
    assert math.log(own.control) == logs[0]
    d = paired(logs)
    assert result.values["bare_B2_control_change"] == pytest.approx(math.expm1(d.mean), rel=1e-12)
    assert result.values["bare_B2_control_low"] == pytest.approx(math.expm1(d.low), rel=1e-12)


def test_a_section_without_chance_has_no_doubt(result: Result) -> None:
    rows = {(r[0], r[1]): r for r in result.table("sections").rows}
    bump, gravel = rows["left bump", "B2"], rows["gravel", "B2"]
    assert bump[3] == 0.0
    assert isinstance(gravel[3], float)
    assert gravel[3] > 0.0
    assert bump[4] in ("better", "worse", "the same")


def test_common_practice_firmer_holds_the_wheel_and_costs_comfort(result: Result) -> None:
    """Common practice, no source; B2 is the firmest of the demo's builds. More than noise on four short roads."""
    row = next(r for r in result.table("indices").rows if r[0] == "B2")
    assert row[4] == "worse"
    assert row[8] == "better"
    assert result.passes


def test_the_picture_has_a_row_for_each_build_and_index(result: Result) -> None:
    picture = result.pictures[0]
    assert isinstance(picture, RowChart)
    assert [r.label for r in picture.rows] == ["B1", "B2", "B1", "B2"]
    for row in picture.rows:
        assert row.low <= row.at <= row.high
        assert (row.role == "plain") == (row.low <= 0.0 <= row.high)


def test_the_map_by_section_has_the_tables_figures(result: Result) -> None:
    chart = result.pictures[1]
    assert isinstance(chart, LineChart)
    rows = {(r[0], r[1]): (r[2], r[5]) for r in result.table("sections").rows}
    for line in chart.lines:
        assert list(zip(line.x, line.y, strict=True)) == [rows[name, line.label] for name in ("gravel", "left bump")]
    assert [line.label for line in chart.lines if line.role == "build"] == [result.values["best_build"]]
    assert {mark.text for mark in chart.marks} == {"as stock", "gravel", "left bump"}


def test_noise_is_said_in_words_and_with_a_remedy(short: Job) -> None:
    """A build against its twin by another name on rough roads: what is left is noise or nothing."""
    found = compare.study(short, builds=["B1"], against="stock", roads=2, only=["gravel"])
    readings = [found.table("indices").rows[0][i] for i in (4, 8)]
    said = " ".join(n.text for n in found.notices)
    assert said.count("cannot be told apart") == readings.count("noise")
    if readings == ["noise", "noise"]:
        assert not found.passes
        assert "than stock" in found.answer


def test_fitouts_stand_beside_each_other(short: Job) -> None:
    places = [*list(short.programme.fitouts)[:2]]
    found = compare.study(short, builds=["B3"], fitouts=places, roads=2, only=["left bump"])
    assert [r[0] for r in found.table("indices").rows] == [f"B3, {f}" for f in places]
    assert found.table("indices").strong == (0, 1)
    assert "B3 balances better than stock: it is" in found.answer or "no build" in found.answer


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"builds": ["B9"]}, "there is no build 'B9'"),
        ({"fitouts": ["submarine"]}, "there is no fit-out 'submarine'"),
        ({"only": ["motorway"]}, "no section 'motorway'; it has gravel, left bump"),
        ({"against": "B9"}, "there is no build 'B9'"),
        ({"builds": ["stock"]}, "nothing to compare with stock"),
        ({"roads": 1}, "1 roads tell no noise"),
        ({"confidence": 1.5}, "a confidence of 1.5"),
        ({"seed": -1}, "not negative"),
    ],
)
def test_what_cannot_be_compared_is_refused(short: Job, asked: dict[str, object], words: str) -> None:
    with pytest.raises(InputError, match=words):
        compare.study(short, **asked)  # type: ignore[arg-type]


def test_a_run_that_diverges_says_whose_it_is(short: Job, monkeypatch: pytest.MonkeyPatch) -> None:
    def diverges(*_: object) -> None:
        raise SolverError("the run diverged at 1.2 s")

    monkeypatch.setattr("tussock.studies.points.drive_point", diverges)
    with pytest.raises(SolverError, match=r"stock, bare, road seed 20261: the run diverged"):
        compare.study(short, builds=["B1"], roads=2)
