"""Parts of an earlier kit tried on the invented Tarn: its own kit must come out as it does at home."""

from __future__ import annotations

import pytest
from vary_programme import Vary

from tussock.studies import carry_over, heights, model, parts
from tussock.studies.carry_over import damper_trials, spring_trials
from tussock.studies.job import Job, Setup

BARE = Setup("bare", "B3")


@pytest.fixture(scope="module")
def earlier(vary: Vary) -> Job:
    """An invented earlier kit: one coil too firm, one too wide for the seats, dampers too short behind."""
    return vary(
        {
            "programme.name": "Tarn of old",
            "kit.springs.front_standard.rate": "34 N/mm",
            "kit.springs.rear_main.mean_diameter": "156 mm",
            "kit.dampers.rear_b.open_length": "560 mm",
            "kit.dampers.front_b.mounts": {
                "upper": {"kind": "eye", "size": "12 mm"}, "lower": {"kind": "eye", "size": "18 mm", "width": "38 mm"},
            },
        }
    )  # fmt: skip


def test_the_own_kit_tried_on_itself_gives_the_own_heights(job: Job) -> None:
    rows = {(r.end, r.spring): r for r in heights.height_rows(job, "B3") if r.fitout == "bare"}
    for trial in spring_trials(job, job, BARE):
        row = rows.get((trial.end, trial.name))
        if row is not None:
            assert trial.lift == pytest.approx(row.lift, abs=1e-6)
            assert trial.frequency == pytest.approx(row.frequency, rel=1e-9)
            assert trial.faults == ()
    fitted = next(t for t in damper_trials(job, job, BARE) if t.source == "this kit" and t.end == "front")
    assert fitted.faults == ()
    assert fitted.open_left > 0.0


def test_lift_and_rate_go_with_the_load(job: Job, earlier: Job) -> None:
    """Hooke: between two springs of one free length the deflections are as 1 / rate, the motion ratio near 1."""
    trials = {(t.end, t.source, t.name): t for t in spring_trials(job, earlier, BARE)}
    own = trials["front", "this kit", "front_standard"]
    old = trials["front", "Tarn of old", "front_standard"]
    load = parts.static_corner_load(job, "bare", "front") / model.spring_ratio(job, BARE, "front")
    assert old.lift - own.lift == pytest.approx(load * (1.0 / own.law.rate - 1.0 / old.law.rate), rel=0.06)
    assert old.frequency > own.frequency
    assert old.droop_on_spring < own.droop_on_spring


def test_what_does_not_fit_is_named(job: Job, earlier: Job) -> None:
    springs = {(t.end, t.name): t for t in spring_trials(job, earlier, BARE) if t.source == "Tarn of old"}
    assert any("too wide to be centred" in f for f in springs["rear", "rear_main"].faults)
    assert any("too wide for its room" in f for f in springs["rear", "rear_main"].faults)
    dampers = {(t.end, t.name): t for t in damper_trials(job, earlier, BARE) if t.source == "Tarn of old"}
    assert any("short of the droop wanted" in f for f in dampers["rear", "rear_b"].faults)
    assert dampers["front", "front_b"].faults == (
        "upper end is an eye, a stem is wanted",
        "lower eye of 18 mm, 16 mm is wanted",
    )
    assert dampers["front", "front_a"].faults == ()


def test_study_says_what_would_fit(job: Job, earlier: Job) -> None:
    result = carry_over.study(job, earlier)
    assert result.passes
    assert "front_b" not in str(result.values["front_dampers_that_fit"])
    assert "rear_main" not in str(result.values["rear_springs_that_fit"])
    assert result.answer.startswith("Of the kit for Tarn of old, ")
    assert result.table("springs").strong
