"""The invented vehicles on the ramp: what lifts, what is used up on the way, and what changes it."""

from __future__ import annotations

import math
from importlib.resources import as_file, files

import numpy as np
import pytest
from vary_programme import Vary

from tussock.studies import articulation, travel
from tussock.studies.articulation import ramp
from tussock.studies.job import KERB, STOCK, Job, Setup, open_job

BARE, PLAIN = Setup("bare", "B3"), Setup(KERB, STOCK)


@pytest.fixture(scope="module")
def pickup() -> Job:
    with as_file(files("tussock").joinpath("data/dunnock")) as folder:
        return open_job(folder / "programme.yaml")


@pytest.mark.parametrize("setup", [BARE, PLAIN])
@pytest.mark.parametrize("wheel", [0, 1])
def test_the_tarn_lifts_the_rear_wheel_on_the_ramps_side(setup: Setup, wheel: int, job: Job) -> None:
    """Common practice, from memory: wagons on rigid axles and coils reach 500 to 750, the rear wheel lifting."""
    found = ramp(job, setup, wheel=wheel).travel
    assert found.lifts == ("rear left", "rear right")[wheel]
    assert 500.0 < found.index < 750.0
    assert found.index == pytest.approx(1000.0 * found.distance[-1] / 2.7, rel=1e-3)
    load = found.wheel_load
    np.testing.assert_allclose(load.sum(axis=1), load[0].sum(), rtol=1e-5)
    assert load[-1].min() < 30.0


def test_a_vehicle_with_independent_front_wheels_goes_less_far(job: Job, pickup: Job) -> None:
    """Common practice, no source: rigid axles cross farther than wishbones."""
    other = ramp(pickup, Setup(KERB, STOCK)).travel
    assert other.lifts
    assert 250.0 < other.index < ramp(job, PLAIN).travel.index


def test_a_limiter_is_used_up_where_its_margin_is(job: Job) -> None:
    """The rear tyre of the Tarn meets the arch's point before the wheel lifts: its margin there is zero."""
    found = ramp(job, BARE)
    assert found.limiter == "rear tyre to arch"
    assert found.at < found.travel.distance[-1]
    assert found.index_within == pytest.approx(1000.0 * found.at / 2.7, rel=1e-3)


def test_more_room_for_the_tyre_lets_it_go_farther_within_limiters(job: Job, vary: Vary) -> None:
    higher = vary({"vehicle.axles.rear.limiters.4.chassis": "-2740, 760, 928 mm"})
    assert ramp(higher, BARE).index_within > ramp(job, BARE).index_within + 20.0
    assert ramp(higher, BARE).travel.index == pytest.approx(ramp(job, BARE).travel.index, abs=0.5)


def test_shorter_dampers_lift_a_wheel_earlier(job: Job, vary: Vary) -> None:
    short = vary({"kit.dampers.front_b.open_length": "560 mm", "kit.dampers.rear_b.open_length": "580 mm"})
    assert ramp(short, BARE).travel.index < ramp(job, BARE).travel.index - 30.0


def test_springs_that_come_loose_on_the_ramp_are_named(vary: Vary) -> None:
    loose = vary({"kit.springs.rear_main.free_length": "420 mm", "kit.springs.rear_main.rate": "48 N/mm"})
    assert [end for end, _ in ramp(loose, BARE).loose] == ["rear"]


def test_the_study_says_index_and_what_ends_it(job: Job, vary: Vary) -> None:
    result = travel.study(job)
    table = result.table("ramp")
    keys = [c.key for c in table.columns]
    index = [row[keys.index("index")] for row in table.rows if row[keys.index("wheel")] == "left"]
    assert index == [result.values["stock_ramp_travel_index"], result.values["kit_ramp_travel_index"]]
    heights = [(row[keys.index("distance")], row[keys.index("height")]) for row in table.rows]
    for distance, height in heights:
        assert float(height or 0.0) == pytest.approx(float(distance or 0.0) * math.sin(math.radians(20.0)))
    assert "ramp" in [p.key for p in result.pictures]
    # the kit lifts the body off its tyres, so nothing that stock did is lost and there is nothing to warn of
    assert not [n for n in result.notices if "ramp" in n.text]
    tight = vary({"kit.lines.front": [{"name": "brake hose", "length": "390 mm"}]})
    lost = articulation.ramp_notices(ramp(tight, BARE), ramp(tight, PLAIN))
    assert "front brake hose" in lost[0].text
