"""The invented Dunnock, wishbones in front and leaves behind: studies against the linkage itself and trade facts."""

from __future__ import annotations

import re

import numpy as np
import pytest
from vary_programme import Vary

from tussock.mechanics.linkage import Axle, SpringRod, Wheel, build_wheel, sweep, sweep_wheel
from tussock.mechanics.motion import linearise, settle
from tussock.record import loads
from tussock.studies import geometry, heights, model, parts, reach_parts, spring_sets, travel
from tussock.studies.job import ENDS, KERB, STOCK, Job, Setup
from tussock.studies.limiters import AxlePath
from tussock.studies.reach import axle_travel

KERB_STOCK = Setup(KERB, STOCK)
EMPTY = Setup("empty", "B3")
DROOP, BUMP = 0.09, 0.09


def test_it_stands_and_rides_as_measured(dunnock: Job) -> None:
    """Heights to 4 mm; ride 1 to 1.6 Hz and wheel hop 8 to 15 Hz are common practice, no source."""
    for at in model.posture(dunnock, KERB_STOCK).values():
        assert abs(at.heave) < 4e-3
    found = linearise(model.vehicle(dunnock, KERB_STOCK), speed=20.0).modes
    modes = {m.shape: m.frequency for m in found if m.frequency > 0.2 and m.damping < 1.0}
    assert 1.0 < modes["body heave"] < modes["body pitch"] < 1.6
    hops = [f for shape, f in modes.items() if "hop" in shape or "tramp" in shape]
    assert len(hops) == 4
    assert all(8.0 < f < 15.0 for f in hops)


def test_front_rate_is_that_of_a_wheel_built_with_its_spring(dunnock: Job) -> None:
    """The exact slope of the force that holds the wheel, with the spring in the linkage: another path to the rate."""
    stands = model.posture(dunnock, KERB_STOCK)["front"]
    spring = parts.fitted_spring(dunnock, KERB_STOCK, "front")
    points = parts.hardpoints(dunnock, "front")
    points |= {"spring_lower_arm": points["damper_lower_arm"], "spring_chassis": points["damper_chassis"]}
    rod = SpringRod(rate=spring.rate, free_length=spring.free_length + spring.seats)
    wheel = build_wheel("double_wishbone", points, wheel_radius=0.371, steering="rack", spring=rod)
    curves = sweep_wheel(wheel, np.array([stands.heave]))
    assert model.wheel_rate(dunnock, KERB_STOCK, "front") == pytest.approx(float(curves.wheel_rate[0, 0]), rel=5e-3)
    sprung = parts.static_corner_load(dunnock, KERB, "front")
    assert float(curves.wheel_force[0, 0]) == pytest.approx(sprung, rel=0.03)


def test_rear_rate_is_that_of_the_leaves_in_the_linkage(dunnock: Job) -> None:
    stands = model.posture(dunnock, KERB_STOCK)["rear"]
    axle = model.axle(dunnock, "rear", stock=True)
    assert isinstance(axle, Axle)
    curves = sweep(axle, stands.heave, 0.0)
    # helper leaves are still free at kerb
    assert model.wheel_rate(dunnock, KERB_STOCK, "rear") == pytest.approx(0.5 * curves.heave_rate[0, 0], rel=0.01)
    assert model.wheel_rate(dunnock, KERB_STOCK, "rear") == pytest.approx(30e3, rel=0.06)


def test_helper_leaves_double_the_rate_under_load(vary_dunnock: Vary) -> None:
    loaded = vary_dunnock(
        {
            "fitouts.empty.springs.rear": "stock",
            "fitouts.empty.items": [{"name": "sand", "mass": "700 kg", "at": "-3100, 0, 900 mm"}],
        }
    )
    assert model.wheel_rate(loaded, Setup("empty", STOCK), "rear") == pytest.approx(60e3, rel=0.15)


def test_a_block_raises_the_rear_by_its_height(dunnock: Job, vary_dunnock: Vary) -> None:
    raised = vary_dunnock({"fitouts.empty.packers": ["rear_block_10"]})
    change = model.posture(raised, EMPTY)["rear"].lift - model.posture(dunnock, EMPTY)["rear"].lift
    assert change == pytest.approx(0.010, abs=1e-3)
    assert heights.height_rows(raised, "B3")[1].spring == "rear_main"


def test_scatter_of_leaves_is_that_of_springs_made_longer(dunnock: Job) -> None:
    """Both packs 2 mm more arched, rebuilt in the linkage, against the sum of the two first-order columns."""
    slopes, spread = spring_sets.sensitivities(dunnock, EMPTY)
    assert slopes.shape == (4, 12)
    assert np.all(np.isfinite(slopes))
    spring = parts.fitted_spring(dunnock, EMPTY, "rear")
    changed = settle(model.sprung(dunnock, EMPTY, "rear", spring.longer(2e-3))).body_height
    was = model.rest(dunnock, EMPTY).body_height
    first_order = 2e-3 * (slopes[2:, 5] + slopes[2:, 7])
    assert (changed - was)[2:] == pytest.approx(first_order, rel=0.05)
    assert spread[5] == pytest.approx(4e-3)


def test_fewest_springs_are_found_on_either_kind(dunnock: Job) -> None:
    found = spring_sets.lifts(dunnock, "B3")
    assert {spring for end, spring, _ in found if end == "front"} == {"front_main"}
    assert {spring for end, spring, _ in found if end == "rear"} == {"rear_main", "rear_heavy"}
    assert spring_sets.smallest_sets(dunnock, found, "rear") == (("rear_main", "rear_heavy"),)


def test_drive_joints_bend_as_the_shaft_is_drawn(dunnock: Job) -> None:
    """Inner angle from the two points of the shaft, placed by the wheel's pose, against the line across."""
    axle = model.travel_map(dunnock, "front", EMPTY, roll=float(dunnock.programme.targets.roll))
    got = reach_parts.drive_joint_angle(dunnock, EMPTY, "front", AxlePath(axle, 1), "inner")
    points = parts.hardpoints(dunnock, "front")
    for heave in (-0.1, 0.0, 0.05):
        at = int(np.argmin(np.abs(axle.heave - heave)))
        shaft = axle.place(points["drive_outer"], "left")[at, 1] - points["drive_inner"]
        drawn = np.arccos(shaft[1] / np.linalg.norm(shaft))
        assert got[at] == pytest.approx(drawn, abs=2e-3)


def test_droop_ends_where_the_governing_joint_is_at_its_limit(dunnock: Job, vary_dunnock: Vary) -> None:
    reach = axle_travel(dunnock, EMPTY, "front")
    stop = reach.governing("droop")
    assert stop is not None
    assert stop.name == "upper ball joint"
    narrower = axle_travel(vary_dunnock({"kit.joints.front": []}), EMPTY, "front").governing("droop")
    assert narrower is not None
    assert narrower.heave > stop.heave + 0.02
    wheel = model.axle(dunnock, "front", stock=False)
    assert isinstance(wheel, Wheel)
    curves = sweep_wheel(wheel, np.array([stop.heave]))
    assert np.degrees(curves.joint_angles["upper_ball"][0, 0, 0]) == pytest.approx(33.0, abs=0.3)


def test_shackles_end_the_droop_of_leaf_springs(dunnock: Job) -> None:
    found = {s.name: s for s in axle_travel(dunnock, EMPTY, "rear").level if s.where == "droop"}
    assert "shackle in line" in found
    assert "spring loose" not in found, "leaves do not come loose"


def test_stock_geometry_is_that_of_a_production_pick_up(dunnock: Job) -> None:
    """Roll centre 50 to 150 mm, toe within 0.3 deg over 90 mm either way, camber gained in bump: common practice."""
    wheel = model.axle(dunnock, "front", stock=True)
    assert isinstance(wheel, Wheel)
    curves = sweep_wheel(wheel, np.linspace(-DROOP, BUMP, 19))
    assert 0.05 < curves.roll_centre_height[9, 0] < 0.15
    assert np.abs(curves.toe[:, 0] - curves.toe[9, 0]).max() < np.radians(0.3)
    assert curves.camber[-1, 0] < curves.camber[9, 0]


def test_parts_found_mend_the_wheels_when_fitted(dunnock: Job, vary_dunnock: Vary) -> None:
    result = geometry.study(dunnock)
    assert result.passes
    assert "camber" in result.answer
    rows = result.table("parts").rows
    assert {str(r[0]) for r in rows} >= {"upper arm", "final-drive drop brackets"}
    moved = {str(r[2]): ", ".join(f"{1e3 * float(c):.2f}" for c in r[3:6]) + " mm" for r in rows}  # type: ignore[arg-type]
    rods = {"front": {"tie_rod": "refit"}, "rear": {}}
    fitted = vary_dunnock({"kit.changes.front": moved, "kit.rod_lengths": rods})
    again = geometry.study(fitted)
    stock = float(result.values["front_caster_stock_rad"])
    assert float(again.values["front_caster_lifted_rad"]) == pytest.approx(stock, abs=np.radians(0.15))
    assert not any(str(r[0]) == "upper arm" for r in again.table("parts").rows)


def test_a_torsion_bar_carries_the_front_as_well(dunnock: Job) -> None:
    """Its torque over the arm holds the corner, and its rate at the wheel is that of torque and lever by hand."""
    text = re.sub(r", spring_seats: 190 mm|        spring_seats: 190 mm\n", "", dunnock.loaded.text)
    sizes = ("kind: torsion_bar", "diameter: 30.4 mm", "length: 1200 mm", "free_angle: 20.7 deg")
    bar = "".join(f"        {size}\n" for size in sizes)
    text = re.sub(r"        title: stock front coil\n(?:        \w+: .*\n){5}", bar, text)
    job = Job(loads(text.replace("front: front_main,", "front: stock,"), "dunnock.yaml"))
    job.__dict__["dyno_tests"] = dunnock.dyno_tests
    stands = model.posture(job, KERB_STOCK)["front"]
    assert abs(stands.heave) < 0.02
    wheel = model.axle(job, "front", stock=True)
    assert isinstance(wheel, Wheel)
    curves = sweep_wheel(wheel, stands.heave + np.array([-1e-3, 0.0, 1e-3]))
    ratio = curves.lower_arm_ratio[:, 0]
    law = parts.fitted_spring(job, KERB_STOCK, "front").law
    torque = law.rate * (law.free_length + curves.lower_arm_angle[1, 0])
    by_hand = law.rate * ratio[1] ** 2 + torque * (ratio[2] - ratio[0]) / 2e-3
    assert model.wheel_rate(job, KERB_STOCK, "front") == pytest.approx(by_hand, rel=0.02)


@pytest.mark.parametrize("end", ENDS)
def test_travel_answers_for_both_ends(dunnock: Job, end: str) -> None:
    result = travel.study(dunnock)
    assert result.passes, [n.text for n in result.notices]
    assert float(result.values[f"{end}_droop_m"]) >= float(dunnock.programme.targets.droop[end])
