"""Chart, steps and carry-over on coil-overs and leaf springs of the invented Dunnock: Hooke's law, the heights."""

from __future__ import annotations

import itertools

import pytest

from tussock.studies import carry_over, heights, model, parts, spring_steps
from tussock.studies.carry_over import spring_trials
from tussock.studies.job import ENDS, Job, Setup
from tussock.studies.spring_chart import Choice, added_mass, choices
from tussock.studies.spring_steps import SpringStep

EMPTY = Setup("empty", "B3")


@pytest.fixture(scope="module")
def chart(dunnock: Job) -> tuple[Choice, ...]:
    return choices(dunnock, "B3")


@pytest.fixture(scope="module", params=ENDS)
def stepped(request: pytest.FixtureRequest, dunnock: Job) -> tuple[str, tuple[SpringStep, ...]]:
    end = str(request.param)
    return end, spring_steps.steps(dunnock, EMPTY, end, least=1.0, most=1.4, count=2)


def test_every_fit_out_lies_in_the_range_of_its_own_spring(dunnock: Job, chart: tuple[Choice, ...]) -> None:
    """The chart adds load over the axle alone, the fit-outs load both: the lever rule puts them within some kg."""
    for name, record in dunnock.programme.fitouts.items():
        wanted = dunnock.programme.targets.lift[name]
        for end in ENDS:
            own = next(c for c in chart if (c.end, c.spring, c.packer) == (end, record.springs[end], ""))
            span = own.holds(target=float(getattr(wanted, end)), tolerance=float(wanted.tolerance))
            assert span is not None
            assert span[0] - 10.0 <= added_mass(dunnock, name, end) <= span[1] + 10.0


def test_a_block_lifts_the_chart_of_a_pack_by_its_height(chart: tuple[Choice, ...]) -> None:
    bare, blocked = (
        next(c for c in chart if (c.spring, c.packer) == ("rear_main", packer)) for packer in ("", "rear_block_10")
    )
    rises = [high - low for high, low in zip(blocked.lift, bare.lift, strict=True)]
    assert rises == pytest.approx([0.010] * len(rises), abs=1.5e-3)
    for choice in chart:
        assert all(a > b for a, b in itertools.pairwise(choice.lift))


def test_steps_keep_the_load_and_droop_is_load_over_rate(
    dunnock: Job, stepped: tuple[str, tuple[SpringStep, ...]]
) -> None:
    """Hooke's law, of a coil between the seats of its damper and of leaves whose helper is free at this load."""
    end, found = stepped
    stands = model.posture(dunnock, EMPTY)[end].spring_length
    fitted = parts.fitted_spring(dunnock, EMPTY, end)
    carried = float(fitted.force(stands))
    assert [s.rate * (s.free_length + fitted.packer - stands) for s in found] == pytest.approx([carried] * 2, rel=0.02)
    ratio = model.spring_ratio(dunnock, EMPTY, end)
    assert [s.droop_on_spring for s in found] == pytest.approx([carried / s.rate / ratio for s in found], rel=0.02)


def test_a_firmer_step_rides_faster_and_would_stand_higher(stepped: tuple[str, tuple[SpringStep, ...]]) -> None:
    _, (soft, firm) = stepped
    assert firm.frequency > soft.frequency
    assert firm.roll_rate > soft.roll_rate
    assert firm.lift_as_it_is > soft.lift_as_it_is


def test_the_own_kit_carried_over_gives_the_own_heights(dunnock: Job) -> None:
    rows = {(r.end, r.spring): r for r in heights.height_rows(dunnock, "B3") if r.fitout == "empty"}
    trials = [t for t in spring_trials(dunnock, dunnock, EMPTY) if (t.end, t.name) in rows]
    assert {t.end for t in trials} == set(ENDS)
    for trial in trials:
        row = rows[trial.end, trial.name]
        assert trial.lift == pytest.approx(row.lift, abs=1e-6)
        assert trial.frequency == pytest.approx(row.frequency, rel=1e-9)
        fitted = parts.fitted_spring(dunnock, EMPTY, trial.end)
        carried = float(fitted.force(model.posture(dunnock, EMPTY)[trial.end].spring_length))
        # what the spring carries over its rate is its deflection, helper leaves free
        droop = carried / fitted.rate / model.spring_ratio(dunnock, EMPTY, trial.end)
        assert trial.droop_on_spring == pytest.approx(droop, rel=1e-6)
        assert trial.faults == ()


def test_a_kit_of_coils_has_nothing_for_leaf_springs(dunnock: Job, job: Job) -> None:
    result = carry_over.study(dunnock, job)
    assert not result.passes
    assert result.values["rear_springs_that_fit"] == ""
    rear = [r for r in result.table("springs").rows if r[0] == "rear" and r[1] == "Tarn"]
    assert len(rear) == len(job.programme.kit.springs)
    assert {r[-1] for r in rear} == {"this axle takes no coils"}
    # coils for the Tarn's wheels are far too soft between seats on a wishbone's damper: it sits on its stops
    front = [r for r in result.table("springs").rows if r[0] == "front" and r[1] == "Tarn"]
    assert all("of bump travel" in str(r[-1]) for r in front)
