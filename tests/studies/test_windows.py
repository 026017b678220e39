"""Windows from the log: levels, which drive feeds which adjuster, contradictions, fading, words. All invented."""

from __future__ import annotations

import math
from typing import Any

import pytest
from vary_programme import Vary, varied

from tussock.errors import InputError
from tussock.record import Loaded
from tussock.studies import tuning_levels, windows
from tussock.studies.job import Job, Setup
from tussock.studies.tuning_levels import DIALS, dial_of, level, levels, moved

BUILDS = {
    "B1": {"title": "base", "parent": "stock", "dampers": {"front": "front_b", "rear": "rear_b"}},
    "S": {"title": "soft bar", "parent": "B1", "bars": {"rear": {"roll_rate": "70 N m/deg"}}},
    "F": {"title": "firm bar", "parent": "B1", "bars": {"rear": {"roll_rate": "260 N m/deg"}}},
    "M": {"title": "middle bar", "parent": "B1", "bars": {"rear": {"roll_rate": "125 N m/deg"}}},
    "D": {"title": "front dampers", "parent": "B1", "dampers": {"front": "front_c"}},
    "T": {"title": "rear tyres", "parent": "B1", "tyre_pressure": {"rear": "3.0 bar"}},
    "X": {"title": "bar and dampers", "parent": "D", "bars": {"rear": {"roll_rate": "70 N m/deg"}}},
}


def drive(name: str, build: str, against: str, *verdicts: str, section: str = "moor road") -> dict[str, Any]:
    told = [{"section": s, "verdict": v} for s, v in zip((section, "potholes", "valley road"), verdicts, strict=False)]
    return {"id": name, "date": "2026-10-01", "driver": "A", "build": build, "against": against, "fitout": "bare",
            "verdicts": told}  # fmt: skip


@pytest.fixture(scope="module")
def logged(vary: Vary, tarn: Loaded):  # type: ignore[no-untyped-def]
    """Make the Tarn with these builds and a log of one's own."""
    kept = {name: {"title": name} for name in ("B2", "B3")}  # the packaged drives name them until they are replaced
    base = vary({"corrections": [], "notes": [], "dyno_runs": [], "builds": {**BUILDS, **kept}})

    def make(*drives: dict[str, Any]) -> Job:
        job = Job(varied(base.loaded, {"drives": list(drives)}), base.kept)
        job.__dict__["dyno_tests"] = base.dyno_tests
        return job

    return make


def of(found: windows.Windows, key: str) -> windows.DialWindow:
    return next(w for w in found.found if w.dial.key == key)


def test_levels_count_in_steps_from_stock(logged) -> None:  # type: ignore[no-untyped-def]
    job = logged()
    at = levels(job, Setup(fitout="bare", build="F"))
    assert at["rear_bar"] == pytest.approx(math.log(260.0 / 140.0) / math.log(1.25))
    assert at["front_bar"] == 0.0
    assert levels(job, Setup(fitout="bare", build="T"))["rear_tyres"] == pytest.approx(
        math.log(3.0 / 2.4) / math.log(1.1)
    )
    assert all(v == 0.0 for v in levels(job, Setup(fitout="bare", build="stock")).values())
    spring = levels(job, Setup(fitout="winch", build="B1"))["front_spring"]
    assert spring == pytest.approx(math.log(27.0 / 21.5) / math.log(1.1))


def test_a_drive_feeds_the_adjuster_that_moved(logged) -> None:  # type: ignore[no-untyped-def]
    job = logged()

    def fed(build: str, against: str = "B1") -> str | None:
        found = dial_of(moved(*(levels(job, Setup(fitout="bare", build=b)) for b in (against, build))))
        return None if found is None else found.key

    assert fed("S") == fed("F", "S") == "rear_bar"
    assert fed("T") == "rear_tyres"
    assert fed("D") == "front_damping", "rebound and compression at all speeds: the whole damper"
    assert fed("X") is None, "dampers and bar: nobody can tell which it was"
    assert fed("X", "D") == "rear_bar"
    assert fed("B1", "stock") is None, "rebound up, compression down"
    assert dial_of({}) is None
    assert dial_of({"front_rebound_low": 1.0, "front_rebound_mid": 0.7}).key == "front_rebound"  # type: ignore[union-attr]
    assert dial_of({"front_rebound_low": 1.0, "front_rebound_mid": -0.7}) is None
    assert dial_of({"front_spring": 1.0}).title == "front spring rate"  # type: ignore[union-attr]


def test_verdicts_close_a_window_and_say_what_is_next(logged) -> None:  # type: ignore[no-untyped-def]
    soft = [drive(f"A{i}", "M", "S", "much better") for i in range(4)]
    firm = [drive(f"Z{i}", "F", "M", "much worse") for i in range(4)]
    job = logged(*soft, *firm, drive("E", "X", "B1", "same"))
    result = windows.study(job, build="M")
    bar = of(windows.windows(job, Setup(fitout="bare", build="M")), "rear_bar")
    assert bar.window.closed
    assert bar.state == "closed"
    low, high = bar.window.bracket()
    at = {b: level(DIALS["rear_bar"], levels(job, Setup(fitout="bare", build=b))) for b in "SMF"}
    assert at["S"] < low < at["M"] < high < at["F"]  # type: ignore[operator]
    assert "1 of " in result.answer
    assert "rear anti-roll bar" in result.answer
    assert result.table("left_out").rows == (("E", "several adjusters moved, or none: it feeds no window"),)
    (row,) = (r for r in result.pictures[0].rows if r.label == "anti-roll bar" and r.group == "Rear")  # type: ignore[union-attr]
    assert (row.open_low, row.open_high) == (False, False)
    assert [m.x for m in row.marks if m.text == ">"] == [pytest.approx(at["S"])]
    assert [m.x for m in row.marks if m.text == "<"] == [pytest.approx(at["F"])]
    assert result.values["rear_bar_closed"] is True
    open_rows = [r for r in result.pictures[0].rows if r.group == "Front"]  # type: ignore[union-attr]
    assert len(open_rows) == 9
    assert all(r.open_low and r.open_high for r in open_rows)


def test_what_narrows_most_is_the_largest_of_the_computed(logged) -> None:  # type: ignore[no-untyped-def]
    job = logged(drive("D1", "M", "S", "slightly better"), drive("D2", "T", "B1", "slightly worse"))
    found = windows.windows(job, Setup(fitout="bare", build="B1"))
    ahead = windows.best_next(found)
    assert ahead is not None
    assert ahead.next is not None
    driven = [w for w in found.found if w.window.comparisons]
    assert {w.dial.key for w in driven} == {"rear_bar", "rear_tyres"}
    assert ahead.next.narrowing == max(w.next.narrowing for w in driven if w.next)
    assert ahead.next.width == ahead.window.expected(ahead.next.tried, ahead.next.reference).width
    assert windows.next_words(ahead) in windows.answer(found, Setup(fitout="bare", build="B1"))


def test_drives_that_disagree_widen_the_window(logged) -> None:  # type: ignore[no-untyped-def]
    agree = [drive(f"A{i}", "M", "S", "much better") for i in range(3)]
    setup = Setup(fitout="bare", build="M")
    clear = of(windows.windows(logged(*agree), setup), "rear_bar").window
    torn = of(windows.windows(logged(*agree, drive("Z", "M", "S", "much worse")), setup), "rear_bar").window
    assert torn.sharpness < clear.sharpness
    assert torn.width > clear.width


def test_several_verdicts_of_a_drive_count_less_each_and_old_ones_fade(logged) -> None:  # type: ignore[no-untyped-def]
    three = logged(drive("D1", "M", "S", "much better", "same", "slightly better"))
    here = of(windows.windows(three, Setup(fitout="bare", build="M")), "rear_bar")
    assert [c.weight for c in here.window.comparisons] == pytest.approx([0.5] * 3)
    assert here.window.too_soft == pytest.approx(0.75)
    away = of(windows.windows(three, Setup(fitout="bare", build="D")), "rear_bar")
    far = max(
        abs(v)
        for q, v in moved(*(levels(three, Setup(fitout="bare", build=b)) for b in "MD")).items()
        if "bar" not in q
    )
    assert away.faded == pytest.approx(0.5 ** (far / windows.HALF_LIFE))
    assert away.window.comparisons[0].weight == pytest.approx(0.5 * away.faded)
    assert any(
        "once more on the present build" in n.remedy
        for n in windows.notices(windows.windows(three, Setup(fitout="bare", build="D")))
    ) == (away.faded < 0.5)


def test_what_drivers_cannot_feel_is_said(logged) -> None:  # type: ignore[no-untyped-def]
    words = ["same", "slightly better", "slightly worse", "same"]
    told = [drive(f"D{i}", "F" if i % 2 else "M", "S", words[i % 4]) for i in range(16)]
    result = windows.study(logged(*told), build="M")
    assert any("cannot feel rear anti-roll bar" in n.text for n in result.notices)
    assert {r[0]: r[9] for r in result.table("windows").rows}["rear anti-roll bar"] == "drivers cannot feel this one"


def test_sections_and_attributes_are_told_apart(logged) -> None:  # type: ignore[no-untyped-def]
    job = logged(drive("D1", "M", "S", "much better"), drive("D2", "M", "S", "much worse", section="corrugations"))
    setup = Setup(fitout="bare", build="M")
    assert of(windows.windows(job, setup, section="moor road"), "rear_bar").window.too_soft == 1.0
    assert of(windows.windows(job, setup, section="corrugations"), "rear_bar").window.too_firm == 1.0
    assert of(windows.windows(job, setup, attribute="pitch"), "rear_bar").state == "not driven alone"
    with pytest.raises(InputError, match="did you mean 'pitch'"):
        windows.study(job, attribute="ptich")
    with pytest.raises(InputError, match="did you mean 'moor road'"):
        windows.study(job, section="moor rod")


def test_the_demo_says_what_it_knows(job: Job) -> None:
    result = windows.study(job)
    dampers = next(r for r in result.table("windows").rows if r[0] == "all dampers together")
    assert dampers[7] == 5, "drives of B1, B2 and B3 against each other"
    assert "all dampers together" in result.answer
    bar = next(r for r in result.table("windows").rows if r[0] == "rear anti-roll bar")
    assert bar[9] == "closed"
    assert bar[4] <= 3.0  # type: ignore[operator]
    assert bar[5] >= 1.0 <= bar[6]  # type: ignore[operator]
    assert result.answer.startswith("1 of ")
    assert {r[0] for r in result.table("left_out").rows} == {"D1", "D2"}


def test_every_adjuster_of_the_trade_has_a_row() -> None:
    single = set(tuning_levels.QUANTITIES)
    assert len(single) == 12 + 6
    assert {
        f"{e}_{d}_{b}" for e in ("front", "rear") for d in ("rebound", "compression") for b in ("low", "mid", "high")
    } < single
