"""Air helper bags on the invented vehicles: against the gas law, the balance of loads and Hooke's law."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from vary_programme import Vary

from tussock.mechanics.motion import settle, springing
from tussock.record import ProgrammeError, with_fields
from tussock.studies import air_bags, heights, model, parts
from tussock.studies.bag_pressures import bag_rows, needed_pressure
from tussock.studies.job import ENDS, Job, Setup
from tussock.studies.reach import axle_travel

LOADED = Setup("stretcher", "B3")
BAG: dict[str, Any] = {
    "title": "bag in the coil",
    "axle": "rear",
    "height": "200 mm",
    "loads": ["330 mm: 1.5 kN", "250 mm: 1.5 kN", "80 mm: 1.5 kN"],
    "loads_at": "2 bar",
    "volume": "1.5 l",
    "least_pressure": "0.3 bar",
    "most_pressure": "3 bar",
}


@pytest.fixture(scope="module")
def worn(dunnock: Job, vary_dunnock: Vary) -> Job:
    """The stretcher on the softer pack, helped by the bag at the pressure that the study finds."""
    needed = needed_pressure(dunnock, LOADED, "rear_main", "rear_bag")
    assert needed is not None
    return vary_dunnock(
        {
            "fitouts.stretcher.springs.rear": "rear_main",
            "fitouts.stretcher.bags": {"rear_bag": f"{needed * 1e-5:.6f} bar"},
        }
    )


def test_the_pressure_found_holds_the_target(worn: Job) -> None:
    row = next(r for r in heights.height_rows(worn, "B3") if r.fitout == "stretcher" and r.end == "rear")
    assert row.lift == pytest.approx(row.target, abs=1e-4)
    assert row.mend == ""
    here = next(r for r in bag_rows(worn, "B3") if r.worn)
    assert here.lift == pytest.approx(row.lift, abs=1e-9)
    assert here.frequency == pytest.approx(row.frequency, rel=1e-6)


def test_bag_and_leaves_share_the_load_by_virtual_work(worn: Job, vary_dunnock: Vary) -> None:
    """At one height what the bag carries is its pressure on its area, through its own motion ratio."""
    row = next(r for r in bag_rows(worn, "B3") if r.worn)
    bag = air_bags.fitted_bag(worn, LOADED, "rear")
    assert bag is not None
    area = np.interp(-row.height, [-0.290, -0.250, -0.210, -0.175, -0.140], np.array([1.1, 1.7, 2.2, 2.6, 2.9]) / 300.0)
    assert row.load == pytest.approx(bag.pressure * area, rel=0.02)  # straight lines against the smooth curve
    heave = model.posture(worn, LOADED)["rear"].heave
    bare = vary_dunnock({"fitouts.stretcher.springs.rear": "rear_main"})
    without = springing(model.vehicle(bare, LOADED).rear, heave=heave)
    with_bag = springing(model.vehicle(worn, LOADED).rear, heave=heave)
    assert with_bag.force - without.force == pytest.approx(2.0 * model.bag_load(worn, LOADED, "rear"), rel=2e-3)
    assert row.share * parts.static_corner_load(worn, "stretcher", "rear") == pytest.approx(
        model.bag_load(worn, LOADED, "rear"), rel=0.02
    )


def test_rate_of_a_bag_of_constant_area_by_the_handbook(vary: Vary) -> None:
    """Rate k p A^2 / V (handbook, from memory) of a bag in a coil of the Tarn, whose motion ratio is about one."""
    here = Setup("rescue", "B3")
    job = vary({"kit.bags": {"coil_bag": BAG}, "fitouts.rescue.bags": {"coil_bag": "1.5 bar"}})
    plain = vary({"kit.bags": {"coil_bag": BAG}})
    heave = model.posture(job, here)["rear"].heave
    acts = [springing(model.vehicle(j, here).rear, heave=heave) for j in (job, plain)]
    area, absolute = 1500.0 / 2e5, 1.5e5 + 101_325.0
    bag = air_bags.fitted_bag(job, here, "rear")
    assert bag is not None
    grid = model.vehicle(job, here).rear.axle
    height = float(np.mean(bag.heights(grid, heave, 0.0)))
    volume = 1.5e-3 + area * (height - 0.200)
    ratio = model.spring_ratio(job, here, "rear")
    rate = 1.3 * absolute * area**2 / volume * ratio**2
    assert acts[0].wheel_rate - acts[1].wheel_rate == pytest.approx(rate, rel=0.02)
    assert acts[0].force - acts[1].force == pytest.approx(2.0 * 1.5e5 * area * ratio, rel=5e-3)
    # Hooke: the bags lift the rear by their force over both wheels' rate, tyres in series
    rise = float(np.mean(settle(model.vehicle(job, here)).body_height[2:] - model.rest(plain, here).body_height[2:]))
    wheel, tyre = acts[1].wheel_rate, float(job.programme.vehicle.tyre.vertical_stiffness)
    assert rise == pytest.approx(1.5e5 * area * ratio / wheel, rel=0.06)
    assert tyre > 5.0 * wheel  # the tyres carry the same load in either case


def test_closed_bags_sink_less_than_held_ones(worn: Job) -> None:
    bag = air_bags.fitted_bag(worn, LOADED, "rear")
    assert bag is not None
    grid = model.vehicle(worn, LOADED).rear.axle
    stands = next(r for r in bag_rows(worn, "B3") if r.worn).height
    shift = bag.kerb_length(grid) - bag.kerb_height
    lengths = stands + shift + np.array([0.02, 0.0, -0.02])
    held, closed = bag.force(grid, None)(lengths), bag.force(grid, stands)(lengths)
    assert closed[1] == pytest.approx(held[1], rel=1e-9)
    assert closed[0] < held[0]
    assert closed[2] > held[2]


def test_travel_knows_where_the_bag_ends_and_what_it_carries(worn: Job, vary_dunnock: Vary) -> None:
    row = next(r for r in bag_rows(worn, "B3") if r.worn)
    reach = axle_travel(worn, LOADED, "rear")
    stops = {s.name: s for s in reach.level}
    assert reach.ride - stops["rear_bag pulled apart"].heave == pytest.approx(row.down, abs=1e-3)
    bare = vary_dunnock({"fitouts.stretcher.springs.rear": "rear_main"})
    # the bag takes part of the three static loads, so stop and spring need less travel to carry the rest
    free = {s.name: s for s in axle_travel(bare, LOADED, "rear").level}
    assert stops["bump stop, 3 g"].heave < free["bump stop, 3 g"].heave - 2e-3


def test_a_bag_at_its_ends_is_told(vary_dunnock: Vary) -> None:
    high = vary_dunnock({"kit.bags.rear_bag.most_pressure": "3 bar", "fitouts.stretcher.bags": {"rear_bag": "2.9 bar"}})
    said = [n.text for n in heights.study(high).notices]
    assert any("Stretcher module, rear helper bag: reaches" in text and "allows 3.0 bar" in text for text in said)
    short = vary_dunnock(
        {
            "kit.bags.rear_bag.loads": ["215 mm: 2.2 kN", "175 mm: 2.6 kN", "150 mm: 2.9 kN"],
            "fitouts.stretcher.bags": {"rear_bag": "0.1 bar"},
        }
    )
    said = [n.text for n in heights.study(short).notices]
    assert any("0.1 bar is below the 0.3 bar" in text for text in said)
    assert any("is pulled apart after" in text for text in said)


@pytest.mark.parametrize(
    ("changes", "wrong"),
    [
        ({"fitouts.empty.bags": {"rear_bagg": "1 bar"}}, "no air bag in the kit of this name"),
        ({"fitouts.empty.bags": {"rear_bag": "9 bar"}}, "allows 7 bar at most"),
        ({"kit.bags.rear_bag.height": "300 mm"}, "outside its curve"),
        ({"kit.bags.rear_bag.least_pressure": "8 bar"}, "the least is not below the most"),
        ({"kit.bags.rear_bag.loads_at": "0 bar"}, "measured under pressure"),
        ({"kit.bags.rear_bag.loads": ["100 mm: 2 kN", "150 mm: 2 kN", "200 mm: 2 kN"]}, "heights must fall"),
        ({"kit.bags.rear_bag.loads": ["200 mm: 2 kN", "150 mm: 2 kN"]}, "3"),
        ({"kit.bags.rear_bag.beside": "axle"}, "spring"),
        (
            {"kit.bags.second": BAG, "fitouts.empty.bags": {"rear_bag": "1 bar", "second": "1 bar"}},
            "has a bag already",
        ),
    ],
)  # fmt: skip
def test_bags_that_cannot_be_are_refused(dunnock: Job, changes: dict[str, Any], wrong: str) -> None:
    with pytest.raises(ProgrammeError, match=wrong):
        with_fields(dunnock.loaded, changes)


def test_stock_and_kerb_wear_none(worn: Job) -> None:
    for end in ENDS:
        assert air_bags.fitted_bag(worn, Setup("kerb", "stock"), end) is None
        assert air_bags.fitted_bag(worn, Setup("stretcher", "stock"), end) is None
    assert model.bag_load(worn, LOADED, "front") == 0.0
