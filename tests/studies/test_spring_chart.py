"""The selection chart and the travel kept, against Hooke's law and the travel study."""

from __future__ import annotations

import itertools

import pytest

from tussock.mechanics.mass import GRAVITY
from tussock.studies import heights, model
from tussock.studies.job import ENDS, Job, Setup
from tussock.studies.reach import axle_travel
from tussock.studies.spring_chart import Choice, added_mass, chart_pictures, chart_table, choices, travel_left


@pytest.fixture(scope="module")
def found(job: Job) -> tuple[Choice, ...]:
    return choices(job, "B3")


def test_a_band_of_height_is_a_band_of_load_through_the_wheel_rate(job: Job, found: tuple[Choice, ...]) -> None:
    """Hooke: 2 tolerance of height hold 2 tolerance times the rate of both wheels, each in series with its tyre."""
    standard = next(c for c in found if c.words == "front_standard")
    span = standard.holds(target=0.035, tolerance=0.010)
    assert span is not None
    wheel = model.wheel_rate(job, Setup("bare", "B3"), "front")
    tyre = float(job.programme.vehicle.tyre.vertical_stiffness)
    rate = 2.0 * wheel * tyre / (wheel + tyre)
    assert span[1] - span[0] == pytest.approx(0.020 * rate / GRAVITY, rel=0.03)


def test_every_fit_out_lies_in_the_range_of_its_own_spring(job: Job, found: tuple[Choice, ...]) -> None:
    """The chart adds load over the axle alone, the fit-outs load both: the lever rule puts them within a few kg."""
    for name, record in job.programme.fitouts.items():
        wanted = job.programme.targets.lift[name]
        for end in ENDS:
            packers = [p for p in record.packers if job.programme.kit.packers[p].axle == end]
            own = next(
                c for c in found
                if c.end == end and c.spring == getattr(record.springs, end) and c.packer == "".join(packers)
            )  # fmt: skip
            span = own.holds(target=float(getattr(wanted, end)), tolerance=float(wanted.tolerance))
            assert span is not None
            assert span[0] - 10.0 <= added_mass(job, name, end) <= span[1] + 10.0


def test_more_load_sinks_and_a_packer_lifts(found: tuple[Choice, ...]) -> None:
    for choice in found:
        assert all(a > b for a, b in itertools.pairwise(choice.lift))
    by_words = {c.words: c for c in found}
    assert by_words["front_standard + front_10"].lift[0] > by_words["front_standard + front_5"].lift[0]


def test_added_mass_is_what_the_fit_out_weighs(job: Job) -> None:
    for name in job.programme.fitouts:
        total = sum(i.mass for i in heights.parts.aboard(job, name))
        assert added_mass(job, name, "front") + added_mass(job, name, "rear") == pytest.approx(total)


def test_tables_and_pictures_carry_it(job: Job, found: tuple[Choice, ...]) -> None:
    table = chart_table(job, found)
    assert {r[1] for r in table.rows} >= {"front_standard", "front_winch + front_10", "rear_main"}
    assert [p.key for p in chart_pictures(job, found)] == ["front_selection", "rear_selection"]
    left = travel_left(job, "B3")
    assert left.strong == ()
    for row in left.rows[:2]:
        reach = axle_travel(job, Setup("bare", "B3"), str(row[1]))
        assert row[2] == pytest.approx(reach.left("droop"))
        assert row[5] == pytest.approx(reach.left("bump"))
