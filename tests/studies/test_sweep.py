"""A sweep on a short road: what is found in it, what is said, what is refused before anything is driven."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest
from vary_programme import Vary

from tussock.errors import InputError, SolverError
from tussock.studies import sweep
from tussock.studies.designs import Range
from tussock.studies.job import Job
from tussock.studies.point_runs import How, PointTable, Stopped
from tussock.studies.result import LineChart, Result, RowChart

GRAVEL = [{"name": "gravel", "speed": "60 km/h", "length": "80 m", "surface": {"class": "C"}}]
RANGES = (
    Range(key="front_rebound", low=0.6, high=1.6),
    Range(key="rear_damping", low=0.6, high=1.6),
    Range(key="front_stop_height", low=-0.005, high=0.005),
)


@pytest.fixture(scope="module")
def short(vary: Vary) -> Job:
    return vary({"road_loop.sections": GRAVEL})


@pytest.fixture(scope="module")
def result(short: Job) -> Result:
    return sweep.study(short, ranges=RANGES, count=24, seed=3)


def test_common_practice_damping_buys_control_with_comfort(result: Result) -> None:
    """Common practice, no source: firm costs comfort and holds the wheels; a stop not met does nothing."""
    rows = {r[0]: r for r in result.table("effects").rows}
    for title in ("front rebound", "rear damping"):
        assert rows[title][3] > 0.0  # type: ignore[operator]
        assert rows[title][7] < 0.0  # type: ignore[operator]
    stop = rows["front bump stop height"]
    assert abs(stop[2]) < 0.02  # type: ignore[arg-type]


def test_the_best_point_and_the_front_are_in_the_table(result: Result) -> None:
    front = result.table("front")
    assert front.rows[0][0] == "B3 as it is"
    assert front.rows[front.strong[0]][0] in (str(int(result.values["best_point"])), "B3 as it is")
    best = front.rows[front.strong[0]]
    assert best[3] == min(r[3] for r in front.rows)  # type: ignore[type-var]
    assert result.values["best_comfort_index"] == pytest.approx(1.0 + best[1])  # type: ignore[operator]


def test_pictures_are_map_and_bars(result: Result) -> None:
    plot, bars = result.pictures
    assert isinstance(plot, LineChart)
    assert isinstance(bars, RowChart)
    assert sum(len(line.x) for line in plot.lines) == 25
    assert len(bars.rows) == 6


def test_one_at_a_time_gives_each_effect_by_itself(short: Job) -> None:
    found = sweep.study(short, ranges=RANGES[:2], design="one", levels=3)
    rows = {r[0]: r for r in found.table("effects").rows}
    both = sweep.study(short, ranges=RANGES[:1], design="one", levels=2)
    assert both.table("effects").rows[0][2] == rows["front rebound"][2]
    curves = found.pictures[2]
    assert isinstance(curves, LineChart)
    assert [line.x for line in curves.lines] == [pytest.approx((0.0, 0.5, 1.0))] * 2


def test_a_sweep_goes_on_and_says_the_same(short: Job, result: Result, tmp_path: Path) -> None:
    path = tmp_path / "sweep.jsonl"

    def stop(done: int, *_: int) -> None:
        if done >= 6:
            raise KeyboardInterrupt

    with pytest.raises(Stopped):
        sweep.study(short, ranges=RANGES, count=24, seed=3, how=How(threads=2, file=path), report=stop)
    head = json.loads(path.read_text().splitlines()[0])
    assert head["inputs"]["build"] == "B3"
    assert head["inputs"]["ranges"][0] == ["front_rebound", 0.6, 1.6]
    again = sweep.study(short, ranges=RANGES, count=24, seed=3, how=How(threads=2, file=path, resume=True))
    assert again.as_json() == result.as_json()


def test_a_changed_programme_or_question_is_not_gone_on_with(short: Job, vary: Vary, tmp_path: Path) -> None:
    path = tmp_path / "sweep.jsonl"
    asked = {"ranges": RANGES[:1], "count": 2, "seed": 3}
    sweep.study(short, **asked, how=How(file=path))  # type: ignore[arg-type]
    again = How(file=path, resume=True)
    with pytest.raises(InputError, match="made from something else: build differs"):
        sweep.study(short, **asked, build="B2", how=again)  # type: ignore[arg-type]
    with pytest.raises(InputError, match="design differs"):
        sweep.study(short, **{**asked, "seed": 4}, how=again)  # type: ignore[arg-type]
    other = vary({"road_loop.sections": GRAVEL, "road_loop.seed": 5})
    with pytest.raises(InputError, match="made from something else: programme, road seed differ"):
        sweep.study(other, **asked, how=again)  # type: ignore[arg-type]


def _table(comfort: list[float], control: list[float], failed: dict[int, str]) -> PointTable:
    table = PointTable(np.linspace(0.7, 1.4, len(comfort))[:, None], ["comfort", "control", "outside_tables"])
    table.figures[:] = np.column_stack([comfort, control, np.zeros(len(comfort))])
    table.failed = failed
    return table


def test_failed_points_are_said_and_none_at_all_is_an_error() -> None:
    from tussock.studies import sweep_shown

    nan = math.nan
    ranges = RANGES[:1]
    found = sweep.swept(ranges, _table([1.0, nan, 0.9], [1.0, nan, 1.3], {1: "the run diverged at 3.1 s"}), one=False)
    said = sweep_shown.notices(found, against="stock")
    assert "1 of 3 points could not be driven; point 1: the run diverged at 3.1 s" in said[0].text
    assert any("holds the road" in n.text for n in said) == (found.best == 2)
    assert found.effects == {}
    with pytest.raises(SolverError, match="none of 2 points could be driven; the first: it fell over"):
        sweep.swept(ranges, _table([nan, nan], [nan, nan], {0: "it fell over", 1: "too"}), one=False)


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"ranges": [Range(key="front_rebound", low=0.7, high=1.4)], "count": 0}, "0 points make no sweep"),
        ({"only": ["motorway"]}, "no section 'motorway'"),
        ({"build": "B9"}, "no build 'B9'"),
        ({"design": "spiral"}, "no design 'spiral'"),
    ],
)
def test_what_cannot_be_swept_is_refused(short: Job, asked: dict[str, object], words: str) -> None:
    with pytest.raises(InputError, match=words):
        sweep.study(short, **asked)  # type: ignore[arg-type]


def test_an_adjuster_without_its_part_is_refused_before_anything_is_driven(dunnock: Job) -> None:
    told: list[int] = []
    with pytest.raises(InputError, match="rear_bar: there is no anti-roll bar"):
        sweep.study(
            dunnock,
            ranges=[Range(key="rear_bar", low=0.5, high=1.5)],
            only=[dunnock.programme.road_loop.sections[-1].name],
            report=lambda *now: told.append(now[0]),
        )
    assert told == []
