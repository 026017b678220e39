"""The simulated panels of bench/panels.py: what is hidden stays hidden, the same seed gives the same, sums add up."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[3] / "bench"))

from panel import builds, nominal, players, run, table, taste, truth, world  # type: ignore[import-not-found]


@pytest.fixture(scope="module")
def scene() -> object:
    return world.open_scene()


def test_a_vehicle_without_errors_is_the_model_and_errors_move_it(scene: object) -> None:
    some = builds.random_safe(np.random.default_rng(3), 2)
    plain, again = world.World(scene, world.Errors()), world.World(scene, world.Errors())
    other = world.World(scene, world.draw_errors(np.random.default_rng(4), 0.5))
    for build in some:
        assert np.array_equal(plain.measures(build), again.measures(build))
        apart = np.abs(other.measures(build) - plain.measures(build))
        assert 1e-3 < np.median(apart) < 0.5


def test_a_firmer_damper_floats_less(scene: object) -> None:
    made = world.World(scene, world.Errors())
    middle = list(builds.MIDDLE)
    soft, firm = middle.copy(), middle.copy()
    for place in (0, 6):  # low-speed rebound
        soft[place], firm[place] = 0, 6
    moor, floats = 1, world.MEASURES.index("float")
    told = [made.measures(builds.build_of(np.array(b)))[moor, floats] for b in (soft, firm)]
    assert told[1] < told[0]


def test_random_builds_are_safe_and_differ() -> None:
    some = builds.random_safe(np.random.default_rng(1), 50)
    assert len(set(some)) == 50
    assert builds.is_safe(np.array(some)).all()
    bad = builds.MIDDLE.copy()
    bad[builds.REBOUND[0]], bad[builds.COMPRESSION[0]] = 0, 4  # rebound four steps below compression
    assert not builds.is_safe(bad)[0]


def _said(build: tuple[int, ...], reference: tuple[int, ...] | None, better: int) -> object:
    verdicts = () if reference is None else (better,) * 13
    return taste.Said(build=build, reference=reference, driver=0, day=0, verdicts=verdicts, marks=(5.0,) * 13)


def test_stepping_goes_on_while_it_is_better_and_backs_off_when_it_is_not() -> None:
    walker = players.Stepper(players.SOFT, players.one_at_a_time, bar=0.0)
    walker.tell(_said(*walker.ask(), 0))
    path = []
    for better in (1, 1, -1, 1):
        build, reference = walker.ask()
        path.append(build[:2])
        walker.tell(_said(build, reference, better))
    assert path == [(1, 0), (2, 0), (3, 0), (2, 1)]
    assert walker.released[:2] == (2, 1)


def test_drivers_say_what_they_feel_when_differences_are_large_and_the_same_seed_says_the_same() -> None:
    base = np.zeros((2, 13))
    one, two = (taste.Mouths(np.random.default_rng(5), drivers=2, noise=1.0) for _ in range(2))
    first, second = (0,) * 15, (1,) * 15
    told = [m.drive(base + 4.0, base, build=second, reference=first) for m in (one, two)]
    assert told[0] == told[1]
    assert np.mean(np.array(told[0].verdicts) == 2) > 0.7
    same = [one.drive(base, base, build=first, reference=first).verdicts for _ in range(200)]
    assert abs(np.mean(same)) < 0.1


def test_arrival_counts_three_drives_running() -> None:
    course = np.array([0.3, 0.04, 0.2, 0.05, 0.03, 0.01, 0.4])
    assert table.arrival(course, 0.05) == 4
    assert table.arrival(course, 0.02) == table.NEVER


def test_regret_is_0_at_the_best_and_1_at_its_scale() -> None:
    line = {"best": 2.0, "median": 0.0, "soft": -2.0, "utility": [0.0, 2.0, -2.0]}
    assert run.regret(line).tolist() == [1.0, 0.0, 2.0]
    assert run.regret(line, soft=True).tolist() == [0.5, 0.0, 1.0]


def test_what_is_lost_since_the_start_is_told_in_utility_and_on_the_scale() -> None:
    common = {"best": 2.0, "median": 0.0, "soft": -2.0}
    lines = [{**common, "utility": [1.0, u]} for u in (0.5, 1.0, 1.5)]
    lost, scaled = table.lost_since_start(lines, 2)
    assert lost.tolist() == [0.5, 0.0, 0.0]
    assert scaled.tolist() == [0.25, 0.0, 0.0]
    text = "\n".join(table.write({"random": {i: {**line, "seed": i} for i, line in enumerate(lines)}}, drives=2))
    assert "33.3%, 0.250, 33.3%" in text


def test_the_best_of_a_panel_is_the_best_that_anything_found() -> None:
    common = {"seed": 1, "error": 0.5, "noise": "middle", "best": 1.0, "median": 0.0, "soft": -1.0}
    lines = [
        {**common, "method": "random", "utility": [0.5, 0.5]},
        {**common, "method": "adviser", "utility": [0.5, 2.0]},
    ]
    made = table.sorted_lines(lines, error=0.5, noise="middle")
    assert run.regret(made["random"][1]).tolist() == [0.75, 0.75]
    assert run.regret(made["adviser"][1]).tolist() == [0.75, 0.0]


def test_a_table_is_written_and_a_cut_line_is_left_out(tmp_path: Path) -> None:
    file = tmp_path / "panels.jsonl"
    whole = (
        '{"seed": 1, "method": "random", "error": 0.5, "noise": "middle", "best": 1.0, "median": 0.0, "soft": -1.0, '
        '"utility": [0.0, 0.5, 0.9, 0.95], "claims": [], "seconds": 1.0}\n'
    )
    file.write_text(whole + whole[:40], encoding="utf-8")
    assert run.done(file) == {(1, "random", 0.5, "middle")}
    text = "\n".join(table.write(table.sorted_lines(run.lines_of(file), error=0.5, noise="middle"), drives=4))
    assert "0.050 (0.05-0.05)" in text


def test_a_small_panel_is_played_alike_twice(scene: object, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    small = {
        nominal: {"DRIVEN": 160},
        truth: {"RANDOM": 12, "_ROUNDS": 1, "_BATCH": 2, "_POLISH": 1},
        run: {"LOOKS": (3,)},
    }
    for module, name, value in ((m, n, v) for m, told in small.items() for n, v in told.items()):
        monkeypatch.setattr(module, name, value)
    simulated = nominal.read(scene, tmp_path)
    assert np.array_equal(nominal.read(scene, tmp_path).measures, simulated.measures)  # from its file
    asked = run.Asked(drives=3, longer=4)
    lines = run.run_panel(scene, simulated, 100_001, ["adviser", "random"], asked)
    again = run.run_panel(scene, simulated, 100_001, ["random"], asked)
    for line, other in zip(lines[1:], again, strict=True):
        assert {k: v for k, v in line.items() if k not in ("seconds", "whole")} == {
            k: v for k, v in other.items() if k not in ("seconds", "whole")
        }
    for line in lines:
        assert len(line["utility"]) == asked.drives_of(line["method"])
        assert line["best"] > line["median"] > line["soft"]
    claims = lines[0]["claims"]
    assert [c["drive"] for c in claims] == [3]
    assert len(claims[0]["far"]) == 12
    assert all(0.0 <= chance <= 1.0 for chance, _ in claims[0]["chances"])
