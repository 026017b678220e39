"""The log as a study: changes in words, verdict counts, drives that disagree; builds wear what they say."""

from __future__ import annotations

import pytest
from vary_programme import Vary

from tussock.studies import log, parts
from tussock.studies.build_changes import change_words, tree
from tussock.studies.job import Job, Setup
from tussock.studies.log_entries import comparisons, contradictions

OTHER = {
    "title": "other parts", "parent": "B3", "springs": {"front": "front_winch"}, "packers": ["rear_10"],
    "bars": {"rear": {"roll_rate": "180 N m/deg"}}, "stop_spacers": {"front": "30 mm"},
    "tyre_pressure": {"rear": "2.8 bar"},
}  # fmt: skip


@pytest.fixture(scope="module")
def other(vary: Vary) -> Job:
    return vary(
        {"builds.B4": OTHER, "builds.B5": {"title": "back", "parent": "B4", "springs": {"front": "front_standard"}}}
    )


def test_builds_wear_what_they_say_and_their_children_too(other: Job) -> None:
    for build in ("B4", "B5"):
        setup = Setup(fitout="bare", build=build)
        front, rear = parts.fitted(other, setup, "front"), parts.fitted(other, setup, "rear")
        assert front.spring.name == {"B4": "front_winch", "B5": "front_standard"}[build]
        assert (front.spring.packers, rear.spring.packers) == ((), ("rear_10",))
        assert rear.bar_rate == pytest.approx(180.0 * 57.29577951, rel=1e-9)
        assert front.bar_rate == parts.bar_rate(other, "front")
        assert parts.stop_choice(other, setup, "front") == ((), 0.030)
        assert parts.stop_choice(other, setup, "rear")[1] == 0.024
    plain = parts.fitted(other, Setup(fitout="bare", build="B3"), "front")
    assert plain.spring.name == "front_standard"
    assert parts.fitted(other, Setup(fitout="winch", build="B5"), "front").spring.name == "front_standard"


def test_changes_follow_from_what_differs(other: Job) -> None:
    assert change_words(other, "B4") == (
        "front spring: front_winch (27 N/mm +- 0.8 N/mm, free 491 mm +- 3 mm) for the fit-out's",
        "front stops: stock stop, spacer 30 mm for stock stop, spacer 22 mm",
        "rear bar: 180 N m/deg for 140 N m/deg",
        "rear tyres: 2.80 bar for 2.40 bar",
        "packers rear_10 for the fit-out's",
    )
    (back,) = change_words(other, "B5")
    assert back.startswith("front spring: front_standard (")
    assert tree(other) == (
        ("B1", 1), ("P1", 2), ("P2", 2), ("B2", 2), ("B3", 3), ("B4", 4), ("B5", 5),
    )  # fmt: skip
    discs = change_words(other, "B2")
    assert "swapped for 5 of 0.25 x 28" in discs[0]


def test_a_build_may_go_back_to_the_stock_damper(vary: Vary) -> None:
    job = vary({"builds.B4": {"title": "stock again", "parent": "B3", "dampers": {"front": "stock"}}})
    name, damper = parts.damper_choice(job, Setup(fitout="bare", build="B4"), "front")
    assert name == "stock"
    assert damper is job.programme.vehicle.axles.front.damper


def test_the_demo_s_log_is_counted(job: Job) -> None:
    result = log.study(job)
    assert (result.values["builds"], result.values["drives"]) == (5.0, 12.0), "a withdrawn drive does not count"
    rows = {(r[0], r[1], r[2]): r[3:7] for r in result.table("verdicts").rows}
    assert rows["B2", "B1", "overall"] == (1, 0, 5, 2)
    assert rows["B3", "B1", "pitch"] == (1, 0, 0, 0)
    (torn,) = contradictions(job)
    assert (torn.first, torn.second, torn.better, torn.worse) == ("B1", "B2", ("D4",), ("D3",))
    assert sum(len(d.verdicts) for d in job.programme.drives) == len(comparisons(job))
    pressures = {r[0]: r[8] for r in result.table("drives").rows}
    assert pressures["D4"] == "2.4 bar, 2.4 bar", "as corrected"
    assert {r[0]: r[6] for r in result.table("corrections").rows} == {"C1": "counts", "C2": "counts"}
    assert result.state == "answered", "disagreement is evidence, not a fault"


def test_a_log_without_drives_says_so(vary: Vary) -> None:
    empty = vary({"corrections": [], "notes": [], "drives": [], "dyno_runs": []})
    assert "nothing has been driven yet" in log.study(empty).answer
    assert [t.key for t in log.study(empty).tables] == ["build_tree"]
