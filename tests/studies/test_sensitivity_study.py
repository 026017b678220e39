"""A screening on a short road: who moves what, what is said of lost samples, what is refused."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from vary_programme import Vary

from tussock.errors import InputError, SolverError
from tussock.mechanics import measures as m
from tussock.studies import points, sensitivity
from tussock.studies.adjusters import ADJUSTERS, fittings
from tussock.studies.designs import Range
from tussock.studies.job import Job, Setup
from tussock.studies.point_runs import How
from tussock.studies.points import Outcome, Point, Scene
from tussock.studies.result import Result, RowChart

GRAVEL = [{"name": "gravel", "speed": "60 km/h", "length": "80 m", "surface": {"class": "C"}}]
RANGES = (
    Range(key="front_damping", low=0.6, high=1.6),
    Range(key="tyre_stiffness", low=0.8, high=1.2),
    Range(key="rear_stop_height", low=-0.002, high=0.002),
)


@pytest.fixture(scope="module")
def short(vary: Vary) -> Job:
    return vary({"road_loop.sections": GRAVEL})


@pytest.fixture(scope="module")
def result(short: Job) -> Result:
    return sensitivity.study(short, ranges=RANGES, samples=6, seed=2)


def test_damping_and_tyre_move_the_indices_and_a_stop_not_met_does_not(result: Result) -> None:
    """Common practice, no source: a stiffer tyre costs comfort and holds the road worse; damping holds the wheel."""
    rows = {r[0]: r for r in result.table("indices").rows}
    assert rows["tyre stiffness"][4] == rows["tyre stiffness"][7] == "raises"
    assert rows["front damping"][7] == "lowers"
    assert rows["rear bump stop height"][2] == pytest.approx(0.0, abs=0.005)
    assert result.passes


def test_every_measure_has_its_figures_and_the_tornado_its_bars(result: Result) -> None:
    for key in m.MEASURES:
        for r in RANGES:
            assert isinstance(result.values[f"{key}_{r.key}"], float)
            assert isinstance(result.values[f"{key}_{r.key}_half"], float)
    for picture in result.pictures:
        assert isinstance(picture, RowChart)
        sizes = [abs(r.at) for r in picture.rows]
        assert sizes == sorted(sizes, reverse=True)
        assert all(r.low <= r.at <= r.high for r in picture.rows)


def test_sobol_gives_shares(short: Job) -> None:
    found = sensitivity.study(short, ranges=RANGES, method="sobol", samples=8, seed=2)
    assert found.values["control_tyre_stiffness"] > found.values["control_rear_stop_height"]  # type: ignore[operator]
    assert found.inputs["method"] == "Sobol, 8 samples, 40 points, seed 2"


def test_a_screening_goes_on_from_its_file(short: Job, result: Result, tmp_path: Path) -> None:
    path = tmp_path / "s.jsonl"
    sensitivity.study(short, ranges=RANGES, samples=6, seed=2, how=How(file=path))
    lines = path.read_text().splitlines(keepends=True)
    path.write_text("".join(lines[:9]))
    begun: list[int] = []
    again = sensitivity.study(
        short,
        ranges=RANGES,
        samples=6,
        seed=2,
        how=How(file=path, resume=True),
        report=lambda done, *_: begun.append(done),
    )
    assert begun[0] == 8
    assert again.as_json() == result.as_json()


def test_samples_that_fell_with_a_failed_point_are_said(short: Job, monkeypatch: pytest.MonkeyPatch) -> None:
    evaluate = points.evaluate

    def holed(scene: Scene, point: Point, memory: object = None) -> Outcome:
        if point.number == 5:
            return Outcome(point.number, point.values, failed="the run diverged at 1.2 s")
        return evaluate(scene, point)

    monkeypatch.setattr(points, "evaluate", holed)
    found = sensitivity.study(short, ranges=RANGES, samples=8, seed=2)
    assert "1 points could not be driven and took 1 samples" in found.notices[0].text
    assert "point 5: the run diverged at 1.2 s" in found.notices[0].text
    assert all(np.isfinite(v) for v in found.values.values() if isinstance(v, float))
    monkeypatch.setattr(
        points, "evaluate", lambda scene, point, memory=None: Outcome(point.number, point.values, failed="no")
    )
    with pytest.raises(SolverError, match="32 of 32 points could not be driven"):
        sensitivity.study(short, ranges=RANGES, samples=8, seed=2)


def test_the_usual_ranges_are_those_whose_parts_the_vehicle_has(short: Job, dunnock: Job) -> None:
    whole = {r.key for r in sensitivity.fitting(fittings(short, Setup("bare", "B3")))}
    pickup = {r.key for r in sensitivity.fitting(fittings(dunnock, dunnock.setup()))}
    assert whole == {r.key for r in sensitivity.USUAL}
    assert whole - pickup == {"rear_bar"}
    assert {ADJUSTERS[k].rule.of for k in whole} == {"kit", "vehicle"}


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"method": "guess"}, "no method 'guess'"),
        ({"samples": 0}, "0 samples tell nothing"),
        ({"method": "sobol", "samples": 10}, "a power of two, which 10 is not"),
        ({"ranges": RANGES[:1]}, "two adjusters at least"),
        ({"confidence": 2.0}, "a confidence of 2"),
        ({"ranges": (RANGES[0], RANGES[0])}, "varied twice"),
    ],
)
def test_what_cannot_be_screened_is_refused(short: Job, asked: dict[str, object], words: str) -> None:
    with pytest.raises(InputError, match=words):
        sensitivity.study(short, **asked)  # type: ignore[arg-type]


def test_without_the_library_it_says_what_to_install(short: Job, monkeypatch: pytest.MonkeyPatch) -> None:
    import sys

    monkeypatch.setitem(sys.modules, "SALib.sample.morris", None)
    with pytest.raises(InputError, match=r"pip install 'tussock\[sensitivity\]'"):
        sensitivity.study(short, ranges=RANGES)
