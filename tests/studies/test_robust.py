"""Robust choice: what is drawn, how the build fares, what gives way to what; bad input. Short loops, few vehicles."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from vary_programme import Vary

from tussock.errors import InputError
from tussock.mechanics.dampers import production_band
from tussock.studies import robust, robust_shown
from tussock.studies.adjusters import ADJUSTERS, adjusted
from tussock.studies.job import STOCK, Job, Setup
from tussock.studies.point_runs import How, Stopped
from tussock.studies.result import Result
from tussock.studies.robust_causes import OIL, SIGMAS, Cause, causes, damper_sigma, normal, together
from tussock.studies.robust_draw import Production, chance, drawn, drive, production

B3 = Setup("bare", "B3")
SECTION = {"name": "short gravel", "speed": "70 km/h", "length": "120 m", "surface": {"class": "C"}}


@pytest.fixture(scope="module")
def short(vary: Vary) -> Job:
    return vary({"road_loop.sections": [SECTION]})


@pytest.fixture(scope="module")
def made(short: Job) -> Production:
    return production(short, B3)


@pytest.fixture(scope="module")
def result(short: Job) -> Result:
    return robust.study(short, build="B3", count=12, each=4, front=14)


@pytest.fixture(scope="module")
def by_key(job: Job) -> Mapping[str, Cause]:
    return {c.key: c for c in causes(job, B3)}


# ------------------------------------------------------------------------------------------------- what is drawn


@given(st.floats(0.0, 1.0))
def test_a_place_is_a_normal_deviate_and_none_leaves_the_drawing(place: float) -> None:
    """Quantiles of the normal distribution cut at three standard deviations, by SciPy's own."""
    assert normal(place) == pytest.approx(float(stats.truncnorm.ppf(place, -SIGMAS, SIGMAS)), abs=1e-9)


def test_the_middle_of_dampers_and_springs_is_the_vehicle_as_drawn(by_key: Mapping[str, Cause]) -> None:
    for key in ("dampers", "springs"):
        middle = by_key[key].factors(np.full(by_key[key].size, 0.5))
        assert all(value == ADJUSTERS[name].neutral for name, value in middle.items())
        ends = [by_key[key].factors(np.full(by_key[key].size, at)) for at in (0.01, 0.99)]
        assert all(ends[0][k] < middle[k] < ends[1][k] for k in middle)


def test_springs_scatter_as_the_programme_says(by_key: Mapping[str, Cause]) -> None:
    """24 N/mm +- 0.7 and 486 mm +- 3: one standard deviation each, so exp(0.7 / 24) and 3 mm."""
    place = np.full(4, float(stats.truncnorm.cdf(1.0, -SIGMAS, SIGMAS)))
    moved = by_key["springs"].factors(place)
    assert moved["front_spring"] == pytest.approx(math.exp(0.7 / 24.0), rel=1e-6)
    assert moved["front_packer"] == pytest.approx(3e-3, rel=1e-6)


def test_a_damper_without_valves_scatters_within_the_standards_band(dunnock: Job) -> None:
    """A third of QC/T 491-1999's band: 14 % and 40 N of the rebound force, mean of 0.13 and 0.52 m/s."""
    setup = Setup(dunnock.setup().fitout, STOCK)
    curve = dunnock.curve(dunnock.programme.vehicle.axles["front"].damper)
    force = np.abs(curve.at(np.array([-0.13, -0.52])))
    wanted = np.mean([(0.14 * f + 40.0) / (3.0 * f) for f in force])
    sigma, words = damper_sigma(dunnock, setup, "front", "rebound")
    assert sigma == pytest.approx(float(wanted))
    assert "QC/T" in words
    assert production_band(1000.0, "rebound") == pytest.approx(180.0)


def test_hot_oil_thins_the_dampers_and_their_own_temperature_changes_nothing(
    job: Job, by_key: Mapping[str, Cause]
) -> None:
    cold, warm, hot = (by_key["oil"].factors(np.array([at])) for at in (0.0, 0.3, 1.0))
    assert all(cold[k] > warm[k] > hot[k] for k in cold)
    assert all(0.5 < hot[k] < 1.0 < cold[k] < 1.6 for k in cold)
    bleed, discs = cold["rear_rebound_low"] - hot["rear_rebound_low"], cold["rear_rebound_high"]
    assert bleed > discs - hot["rear_rebound_high"]  # bleed is viscous, discs are not
    temperature = job.dyno_tests[job.programme.kit.dampers["rear_b"].dyno].mean_temperature
    assert temperature is not None
    own = by_key["oil"].factors(np.array([(temperature - OIL[0]) / (OIL[1] - OIL[0])]))
    assert all(value == pytest.approx(1.0, abs=0.02) for value in own.values())


def test_causes_act_together_in_any_order() -> None:
    one, two, three = {"front_spring": 1.1, "front_packer": 0.002}, {"front_spring": 0.95}, {"front_packer": -0.005}
    for order in itertools.permutations((one, two, three)):
        found: dict[str, float] = {}
        for more in order:
            found = together(found, more)
        assert found["front_spring"] == pytest.approx(1.045)
        assert found["front_packer"] == pytest.approx(-0.003)


def test_no_cause_leaves_the_very_same_vehicle(made: Production) -> None:
    nothing = np.full(sum(c.size for c in made.own), np.nan)
    assert made.settings("bare", nothing) == {}
    assert adjusted(made.scenes["bare"].fitted, {}) is made.scenes["bare"].fitted.vehicle
    assert made.words("winch", nothing) == "winch"


# --------------------------------------------------------------------------------------------- how the build fares


def test_a_seed_draws_the_same_vehicles_in_any_number_of_threads(made: Production) -> None:
    one, two = (drawn(made, count=6, seed=7, how=How(threads=n)) for n in (1, 2))
    np.testing.assert_array_equal(one.control, two.control)
    assert one.fitouts == two.fitouts
    assert set(one.fitouts) == {"bare", "winch", "rescue"}  # six vehicles over three fit-outs: two each
    other = drawn(made, count=6, seed=8)
    assert not np.array_equal(one.places, other.places)


def test_the_vehicle_as_drawn_fares_as_the_builds_table_says(short: Job, made: Production) -> None:
    from tussock.studies import tuning

    nothing = np.full((1, sum(c.size for c in made.own)), np.nan)
    found = drive(made, ["rescue"], nothing, how=How(threads=1))
    index = tuning.build_indices(short, "rescue")["B3"]
    assert (found.comfort[0], found.control[0]) == pytest.approx((index.comfort, index.control), rel=1e-12)


def test_the_answer_is_the_draw(made: Production, result: Result) -> None:
    every = drawn(made, count=12, seed=1)
    held = int(np.sum(every.control < 1.0))
    assert result.answer.startswith("Of 12 vehicles on B3")
    assert f"{held} hold the road better than stock" in result.answer
    assert result.passes == (held >= robust.SURE * 12)
    assert result.values["control_better_than_stock_share"] == held / 12
    assert result.values["worst_control_index"] == pytest.approx(float(np.max(every.control)))
    low, high = result.values["control_low_index"], result.values["control_high_index"]
    assert isinstance(low, float)
    assert isinstance(high, float)
    assert low < high <= float(np.max(every.control))


def test_the_answer_names_oil_only_where_it_was_drawn(made: Production, vary_dunnock: Vary) -> None:
    assert made.over.endswith("tyre pressures and oil")
    dunnock = vary_dunnock({"road_loop.sections": [SECTION]})
    result = robust.study(dunnock, build="B3", count=8, each=4, front=12)
    assert "oil" not in result.answer
    assert any("No damper's valves are known" in n.text for n in result.notices)


def test_each_cause_spreads_less_than_all_and_is_named(result: Result) -> None:
    rows = [r for r in result.table("spread").rows if r[1] == "Loss of control"]
    assert [r[0] for r in rows] == [
        "all together", "damper tolerances", "spring tolerances", "bush rates", "tyre pressures",
        "oil temperature", "fit-outs",
    ]  # fmt: skip
    width = {r[0]: r[5] - r[3] for r in rows if isinstance(r[5], float) and isinstance(r[3], float)}
    assert all(0.0 < w < 1.2 * width["all together"] for w in width.values())


def test_a_build_that_holds_the_road_worse_does_not_pass(short: Job) -> None:
    """B1 is softer than stock: the notice says in how many vehicles, by how much at worst, and from what."""
    found = robust.study(short, build="B1", count=8, each=4, front=12)
    assert not found.passes
    assert any("hold the road worse than stock" in n.text and "firm up" in n.remedy for n in found.notices)


def test_the_chance_of_all_good_is_the_closed_form() -> None:
    """Clopper and Pearson 1934: of n good in n, at least (a/2)^(1/n); the interval of none is its mirror."""
    for n in (8, 20, 48):
        assert chance(n, n)[0] == pytest.approx(0.025 ** (1.0 / n))
        assert chance(0, n)[1] == pytest.approx(1.0 - 0.025 ** (1.0 / n))


# ------------------------------------------------------------------------------------------- what gives way to what


def test_trades_say_what_ten_per_cent_cost_and_buy(result: Result) -> None:
    rows = {str(r[0]): r for r in result.table("trades").rows}
    firmer = rows["rear rebound"]
    for row in rows.values():
        comfort, least, most, control = (float(v) for v in row[1:5] if isinstance(v, float))
        assert least <= comfort <= most
        if (least > 0.0 or most < 0.0) and comfort > 0.0:
            assert f"costs {100.0 * comfort:.1f} % comfort" in str(row[7])
        assert abs(comfort) < 0.05
        assert abs(control) < 0.05
    assert isinstance(firmer[4], float)
    assert firmer[4] < 0.0  # more rebound holds the road better on gravel: common practice, no source


def test_words_of_a_trade() -> None:
    both = robust_shown.Trade(title="rear rebound", comfort=(0.02, 0.01, 0.03), control=(-0.04, -0.05, -0.03))
    assert both.words() == "10 % more rear rebound costs 2.0 % comfort and buys 4.0 % control"
    assert both.swaps
    worse = robust_shown.Trade(title="spring", comfort=(0.02, 0.01, 0.03), control=(0.01, 0.005, 0.02))
    assert worse.words() == "10 % more spring costs 2.0 % comfort and 1.0 % control"
    assert not worse.swaps
    none = robust_shown.Trade(title="bar", comfort=(0.0, -0.01, 0.01), control=(0.0, -0.01, 0.01))
    assert none.words() == "10 % more bar does nothing that can be told"


def test_the_front_shows_every_build_with_the_chosen_one_marked(result: Result) -> None:
    front = next(p for p in result.pictures if p.key == "front")
    marks = {m.text: m.role for m in front.marks}  # type: ignore[union-attr]
    assert marks == {"stock": "plain", "B1": "plain", "P1": "plain", "P2": "plain", "B2": "plain", "B3": "governs"}
    line = next(x for x in front.lines if x.label == "none better in both")  # type: ignore[union-attr]
    assert list(line.x) == sorted(line.x)
    assert list(line.y) == sorted(line.y, reverse=True)


# ----------------------------------------------------------------------------------------------------- bad input


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"build": "stock"}, "stock is what the chosen build is held against"),
        ({"count": 3}, "3 vehicles tell nothing; 8 to"),
        ({"each": 1}, "1 vehicles for each cause tell nothing"),
        ({"front": 2}, "2 settings tell nothing"),
        ({"build": "B9"}, "no build 'B9'"),
    ],
)
def test_what_cannot_be_drawn_is_refused(short: Job, asked: dict[str, Any], said: str) -> None:
    with pytest.raises(InputError, match=said):
        robust.study(short, **asked)


def test_ctrl_c_says_that_nothing_is_kept(short: Job) -> None:
    def stop(done: int, of: int, failed: int) -> None:
        if done > 1:
            raise KeyboardInterrupt

    with pytest.raises(Stopped, match="nothing is kept"):
        robust.study(short, build="B3", report=stop)


def test_what_a_study_has_driven_is_kept_and_taken_up(short: Job, tmp_path: Path) -> None:
    asked: dict[str, Any] = {"build": "B3", "count": 8, "each": 4, "front": 12, "threads": 1, "results": tmp_path}

    def stop(done: int, of: int, failed: int) -> None:
        if of == 8 and done >= 6:
            raise KeyboardInterrupt

    with pytest.raises(Stopped, match="ask again with the same --results"):
        robust.study(short, **asked, report=stop)
    kept = {p.name: len(p.read_text().splitlines()) - 1 for p in tmp_path.glob("points-*.jsonl")}
    assert sum(kept.values()) >= 6
    told: list[tuple[int, int, int]] = []
    first = robust.study(short, **asked, report=lambda *now: told.append(now))
    told.clear()
    again = robust.study(short, **asked, report=lambda *now: told.append(now))
    assert again.values == first.values
    assert {done for done, of, _ in told if of == 13} == {13}, "nothing of the front is driven anew"
    plain = robust.study(short, build="B3", count=8, each=4, front=12)
    assert plain.values == first.values
