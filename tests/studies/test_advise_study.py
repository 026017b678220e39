"""The adviser over a log: where it looks, what of the log counts, what it answers, what it keeps. All invented."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from vary_programme import Vary, varied

from tussock.errors import InputError
from tussock.studies import advise, advise_build, parts
from tussock.studies.advise_felt import felt, within
from tussock.studies.advise_ground import FINE, REACH, Ground, amounts, ground, moved
from tussock.studies.advise_log import drives_of, heard
from tussock.studies.advise_measures import BASE, BEARS, Respect, bearing
from tussock.studies.job import Job, Setup
from tussock.studies.loop import weights
from tussock.studies.point_runs import Stopped

B3 = Setup("bare", "B3")
DIP = {"kind": "dip", "at": "12 m", "length": "24 m", "depth": "120 mm"}
SECTIONS = [
    {"name": "gravel", "speed": "70 km/h", "length": "50 m", "surface": {"class": "C"}},
    {"name": "moor", "speed": "80 km/h", "length": "60 m", "surface": {"class": "C"}, "features": [DIP]},
]
COUNT = 200


def drive(name: str, build: str, against: str | None, *verdicts: str, **more: Any) -> dict[str, Any]:
    """Return a drive with verdicts as "section: attribute: word"."""
    told = [dict(zip(("section", "attribute", "verdict"), v.split(": "), strict=True)) for v in verdicts]
    return {"id": name, "date": "2026-10-06", "driver": "A", "build": build, "fitout": "bare", "verdicts": told,
            **({"against": against} if against else {}), **more}  # fmt: skip


FIRM = [
    drive(f"D{i}", "B2", "B1", "gravel: small_bumps: much worse", "moor: body_float: much better", driver=who)
    for i, who in enumerate(("A", "B", "A"))
]
BACK = [
    drive(f"E{i}", "B3", "B2", "gravel: overall: much better", "moor: overall: same", driver=who,
          ratings=[{"attribute": "overall", "mark": 7}, {"attribute": "body_float", "mark": 6}])
    for i, who in enumerate(("A", "B"))
]  # fmt: skip


@pytest.fixture(scope="module")
def logged(vary: Vary):  # type: ignore[no-untyped-def]
    base = vary({"road_loop.sections": SECTIONS})

    def make(*drives: dict[str, Any]) -> Job:
        job = Job(varied(base.loaded, {"drives": list(drives)}), base.kept)
        job.__dict__["dyno_tests"] = base.dyno_tests
        return job

    return make


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("advised") / "kept"


@pytest.fixture(scope="module")
def found(logged, folder: Path) -> advise.Advised:  # type: ignore[no-untyped-def]
    return advise.advised(logged(*FIRM, *BACK), count=COUNT, results=folder)


# ---------------------------------------------------------------------------------------------- where it looks


@pytest.fixture(scope="module")
def tarn_ground(job: Job) -> Ground:
    return ground(job, B3, ("B1", "B2", "B3"))


def test_builds_of_the_log_stand_on_the_lattice_and_are_safe(tarn_ground: Ground) -> None:
    assert len(tarn_ground.axes) == 18
    assert not tarn_ground.held
    places = np.array(list(tarn_ground.places.values()))
    assert tarn_ground.lattice.safe(places).all()
    assert tarn_ground.places["B3"] == tarn_ground.middle
    assert tarn_ground.factors(np.array(tarn_ground.middle))[0].tolist() == [1.0] * 18
    assert max(tarn_ground.off.values()) <= 0.5 * FINE


def test_a_place_is_the_build_that_stands_there_within_half_a_level(tarn_ground: Ground, job: Job) -> None:
    here, there = (amounts(job, Setup("bare", b)) for b in ("B3", "B2"))
    factors = tarn_ground.factors(np.array(tarn_ground.places["B2"]))[0]
    for axis, factor in zip(tarn_ground.axes, factors, strict=True):
        off = abs(math.log(factor * here[axis.key] / there[axis.key])) / math.log(axis.step)
        assert off <= 0.5 + 1e-9, axis.key


def test_what_stock_travel_and_load_allow_ends_each_adjuster(tarn_ground: Ground, job: Job, dunnock: Job) -> None:
    by_key = {a.key: a for a in tarn_ground.axes}
    assert by_key["front_bar"].low == -REACH
    tyres = by_key["rear_tyre_pressure"]
    assert (1.0 / tyres.step**-tyres.low) * 2.4 >= 0.8 * 2.4
    assert tyres.high == 2
    other = ground(dunnock, dunnock.setup(), ())
    assert set(other.held) == {"rear_spring", "rear_bar"}
    assert "no coils are wound" in other.held["rear_spring"]
    assert "no rear anti-roll bar" in other.held["rear_bar"]


def test_tyres_are_never_let_down_below_what_carries_the_heaviest_fit_out(vary: Vary) -> None:
    job = vary({"vehicle.tyre.load_limit": "560 kg"})
    found = {a.key: a for a in ground(job, B3, ()).axes}
    heaviest = max(parts.static_corner_load(job, f, "rear") for f in job.programme.fitouts)
    least = 2.4e5 * heaviest / (560.0 * 9.80665)
    low = found["rear_tyre_pressure"].low
    assert 0 > low > -REACH
    assert 2.4e5 * 1.1 ** (FINE * low) >= least > 2.4e5 * 1.1 ** (FINE * (low - 1))


def test_settings_to_simulate_begin_with_the_build_and_keep_the_rules(tarn_ground: Ground) -> None:
    design = tarn_ground.design(90, 1)
    assert tuple(design[0]) == tarn_ground.middle
    assert tarn_ground.lattice.safe(design).all()
    assert len(np.unique(design, axis=0)) == len(design) == 90
    assert (tarn_ground.design(90, 1) == design).all()
    assert not (tarn_ground.design(90, 2) == design).all()


def test_stock_dampers_are_no_adjuster(vary: Vary) -> None:
    job = vary({"builds": {"B1": {"title": "front only", "parent": "stock", "dampers": {"front": "front_a"}}}})
    found = ground(job, Setup("bare", "B1"), ())
    assert all("rear damper is not the kit's" in found.held[k] for k in found.held if k.startswith("rear_rebound"))
    assert any(k.startswith("front_rebound") for k in found.keys)


def test_closed_windows_end_what_is_proposed(tarn_ground: Ground, job: Job) -> None:
    """The demo's drivers felt a rear bar of 90 N m/deg as too little and one of 220 as too much."""
    told = felt(job, tarn_ground)
    assert list(told) == ["rear_bar"]
    i = tarn_ground.keys.index("rear_bar")
    bound = within(tarn_ground.lattice, tarn_ground, told)
    low, high = (tarn_ground.axes[i].factor(v) * 140.0 for v in (told["rear_bar"].low, told["rear_bar"].high))
    assert 90.0 < low < 140.0 <= high < 220.0
    drawn = bound.random(np.random.default_rng(0), 200)
    kept = set(drawn[:, i] + tarn_ground.axes[i].low)
    assert kept == set(range(told["rear_bar"].low, told["rear_bar"].high + 1))
    for level in (-4, 4):  # 90 and 220 N m/deg on a build that is safe otherwise
        point = np.array(tarn_ground.middle)
        point[i] += level
        assert tarn_ground.lattice.safe(point).all()
        assert not bound.safe(point).any()
    assert within(tarn_ground.lattice, tarn_ground, {}) is tarn_ground.lattice


# ---------------------------------------------------------------------------------------- what of the log counts


def test_verdicts_count_where_builds_differ_in_adjusters_alone(logged) -> None:  # type: ignore[no-untyped-def]
    job = logged(
        *FIRM,
        drive("S", "B1", "stock", "gravel: overall: much better", ratings=[{"attribute": "pitch", "mark": 6}]),
        drive("W", "B3", "B2", "gravel: overall: same", fitout="winch"),
    )
    told = heard(job, B3)
    assert set(told.left_out) == {"S, verdicts", "W"}
    assert "stock" in told.left_out["S, verdicts"]
    assert "winch" in told.left_out["W"]
    assert [m.value for m in told.marks] == [6], "marks of the build itself count"
    assert told.respects[:2] == BASE
    assert Respect(section="moor", attribute="body_float") in told.respects


def test_places_of_drives_are_those_of_the_log(logged) -> None:  # type: ignore[no-untyped-def]
    job = logged(*FIRM, *BACK)
    told = heard(job, B3)
    drives, alike = drives_of(told, ground(job, B3, told.builds).places)
    assert not alike
    assert len(drives.builds) == 3
    assert [len(drives.driven), len(drives.verdicts), len(drives.ratings)] == [5, 10, 4]
    at = {b: drives.builds.index(p) for b, p in ground(job, B3, told.builds).places.items()}
    assert {(v.tried, v.reference) for v in drives.verdicts} == {(at["B2"], at["B1"]), (at["B3"], at["B2"])}
    assert {r.driver for r in drives.ratings} == {0, 1}


def test_builds_that_nobody_can_tell_apart_are_said(vary: Vary, tarn: Any) -> None:
    builds = {
        "B1": {"title": "base", "parent": "stock", "dampers": {"front": "front_b", "rear": "rear_b"}},
        "B2": {"title": "hardly other", "parent": "B1", "tyre_pressure": {"rear": "2.42 bar"}},
    }
    base = vary({"builds": builds, "road_loop.sections": SECTIONS})
    job = Job(varied(base.loaded, {"drives": [drive("D", "B2", "B1", "gravel: overall: same")]}))
    told = heard(job, Setup("bare", "B2"))
    drives, alike = drives_of(told, ground(job, Setup("bare", "B2"), told.builds).places)
    assert alike == ("B2 and B1",)
    assert drives.verdicts == ()


def test_every_attribute_of_the_scales_has_measures_that_are_computed(job: Job) -> None:
    from tussock.mechanics.measures import MEASURES
    from tussock.record.scales import SCALES

    assert set(BEARS) | {"overall", "comfort", "control"} == set(SCALES)
    for attribute in SCALES:
        shares = bearing(attribute, weights(job))
        assert set(shares) <= set(MEASURES)
        assert sum(shares.values()) == pytest.approx(1.0)


# --------------------------------------------------------------------------------------------- what it answers


def test_an_advice_keeps_the_limits_and_says_how_sure_it_is(found: advise.Advised) -> None:
    advice, made = found.advice, found.simulated
    assert advice.incumbent in found.ground.places.values()
    lattice = made.emulator.lattice
    for point in (advice.next, advice.optimum):
        assert point in found.ground.places.values() or lattice.safe(np.array(point)).all()
    assert made.limits, "travel and control are limits"
    assert advice.next in found.checked
    assert not any(o.failed for o in found.checked.values())


def test_the_answer_names_builds_figures_and_reason(logged, folder: Path) -> None:  # type: ignore[no-untyped-def]
    result = advise.study(logged(*FIRM, *BACK), count=COUNT, results=folder)
    assert result.passes
    assert result.values["incumbent"] in ("B1", "B2", "B3")
    assert str(result.values["incumbent"]) in result.answer
    assert "100 %" not in result.answer, "nothing is certain"
    assert 0.0 < result.values["support_share"] < 1.0  # type: ignore[operator]
    low, mean, high = (result.values[f"gain_{k}marks"] for k in ("low_", "", "high_"))
    assert low <= mean <= high  # type: ignore[operator]
    assert result.pictures[0].key == "candidates"
    assert {t.key for t in result.tables} >= {"candidates", "respects", "checked", "drivers", "ground", "left_out"}
    drivers = {row[0]: row for row in result.table("drivers").rows}
    assert drivers["A"][1:3] == (3, 6)
    assert drivers["B"][1:3] == (2, 4)
    for row in result.table("candidates").rows:
        assert row[2] is None or row[2] <= row[1] <= row[3]  # type: ignore[operator]


def test_what_to_change_follows_from_the_places(found: advise.Advised) -> None:
    new, base = found.ground.places["B2"], found.ground.places["B3"]
    table, forces = advise_build.tables(found, new, base)
    assert len(table.rows) == len(moved(found.ground, new, base)) == 12
    row = next(r for r in table.rows if r[0] == "front rebound, low speed")
    i = found.ground.keys.index("front_rebound_low")
    assert row[3] == pytest.approx(found.ground.axes[i].factor(new[i] - base[i]) - 1.0)
    kit = found.job.programme.kit.dampers
    at = {(r[0], r[1]): r for r in forces.rows}
    wanted = abs(found.job.curve(kit["front_c"]).force_at(-0.26))
    assert at["front", 0.26][3] == pytest.approx(wanted, rel=0.06), (
        "half a level at most off the build that stands there"
    )
    assert "front_c gives that within" in forces.note


def test_firmness_that_drivers_prefer_leads_to_firmer_builds(logged, folder: Path) -> None:  # type: ignore[no-untyped-def]
    """The same builds and roads; only what drivers say differs."""

    def told(one: str, two: str, high: int, low: int) -> advise.Advised:
        def many(build: str, against: str, word: str, mark: int, count: int) -> list[dict[str, Any]]:
            said = (f"gravel: overall: {word}", f"moor: overall: {word}")
            marks = [{"attribute": "overall", "mark": mark}]
            return [drive(f"{build}{i}", build, against, *said, ratings=marks) for i in range(count)]

        drives = many("B2", "B1", one, high, 4) + many("B1", "B2", two, low, 2)
        return advise.advised(logged(*drives), count=COUNT, results=folder)

    firm, soft = told("much better", "much worse", 9, 2), told("much worse", "much better", 2, 9)
    assert firm.advice.incumbent == firm.ground.places["B2"]
    assert soft.advice.incumbent == soft.ground.places["B1"]
    mean, spread = firm.advice.belief.difference(np.array([firm.ground.places["B2"]]), firm.ground.places["B1"])
    assert mean[0] > 1.6 * spread[0]


def test_a_log_without_drives_or_with_few_is_not_enough(logged, folder: Path) -> None:  # type: ignore[no-untyped-def]
    for drives in ((), tuple(FIRM[:1])):
        result = advise.study(logged(*drives), count=COUNT, results=folder)
        assert result.values["verdict"] == "not enough evidence"
        assert result.answer.startswith("Not enough evidence")


def test_drives_that_disagree_are_both_taken_and_said(logged, folder: Path) -> None:  # type: ignore[no-untyped-def]
    torn = drive("Z", "B2", "B1", "gravel: small_bumps: much better", "moor: body_float: much worse")
    result = advise.study(logged(*FIRM, *BACK, torn), count=COUNT, results=folder)
    assert any("drives disagree 2 times" in n.text for n in result.notices)


# ---------------------------------------------------------------------------------------------- what it keeps


def test_settings_are_simulated_once_and_a_new_drive_asks_for_none(logged, folder: Path, found: Any) -> None:  # type: ignore[no-untyped-def]
    assert len(list(folder.glob("points-*.jsonl"))) == 1
    told: list[tuple[int, int, int]] = []
    again = advise.advised(
        logged(*FIRM, *BACK, drive("N", "B3", "B1", "gravel: overall: slightly better")),
        count=COUNT, results=folder, report=lambda *now: told.append(now),
    )  # fmt: skip
    assert told == [(COUNT, COUNT, 0)]
    np.testing.assert_array_equal(again.table.figures, found.table.figures)
    assert len(list(folder.glob("points-*.jsonl"))) == 1


def test_a_stopped_run_goes_on_where_it_was(logged, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    def stop(done: int, of: int, failed: int) -> None:
        if done >= 20:
            raise KeyboardInterrupt

    with pytest.raises(Stopped, match="ask again with the same --results"):
        advise.study(logged(*FIRM), count=80, results=tmp_path, threads=1, report=stop)
    told: list[int] = []
    advise.study(logged(*FIRM), count=80, results=tmp_path, threads=1, report=lambda done, of, bad: told.append(done))
    assert told[0] >= 20
    assert told[-1] == 80
    with pytest.raises(Stopped, match="nothing is kept"):
        advise.study(logged(*FIRM), count=80, threads=1, report=stop)


def test_what_cannot_be_asked_is_refused_in_words(logged, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    job = logged()
    with pytest.raises(InputError, match="stock has nothing"):
        advise.study(job, build="stock")
    with pytest.raises(InputError, match="5 settings of 18 adjusters tell nothing; 72 to"):
        advise.study(job, count=5)
    with pytest.raises(InputError, match="there is no build 'B9'"):
        advise.study(job, build="B9")
    with pytest.raises(InputError, match="does not exist"):
        advise.study(job, count=80, results=tmp_path / "no" / "such")
    (tmp_path / "file").write_text("x")
    with pytest.raises(InputError, match="cannot keep results in"):
        advise.study(job, count=80, results=tmp_path / "file")


def test_an_attribute_whose_measures_do_not_move_leans_on_the_whole_of_its_section(logged, folder: Path) -> None:  # type: ignore[no-untyped-def]
    """The hand wheel is held on these roads, so that nothing is ever turned there."""
    job = logged(*FIRM, drive("C", "B3", "B1", "gravel: steering_return: slightly better"))
    found = advise.advised(job, count=COUNT, results=folder)
    at = found.simulated.respects.index(Respect(section="gravel", attribute="steering_return"))
    own = {m.split(": ")[1] for m in found.simulated.measures[at]}
    assert own
    assert not own & {"hand_turned", "hand_rate"}
    assert (at in found.simulated.stands_in) == (own != {"front_grip_lost"})
