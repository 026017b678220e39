"""Which hardpoint moves what: derivatives against axles built with a point moved, and the spread against draws."""

from __future__ import annotations

import math

import numpy as np
import pytest
from vary_programme import Vary

from tussock.errors import InputError
from tussock.studies import geometry_parts, hardpoint_effects, model
from tussock.studies.hardpoint_effects import Effects, effects
from tussock.studies.job import KERB, STOCK, Job, Setup


@pytest.fixture(scope="module")
def rear(job: Job) -> Effects:
    return effects(job, "rear")


def slope(found: Effects, characteristic: str, point: str, axis: str) -> float:
    moved = found.moved
    row, column = moved.characteristics.index(characteristic), moved.hardpoints.index(point)
    return float(moved.derivative[row, column, "xyz".index(axis)])


def test_a_track_rod_end_moves_the_roll_centre_by_half(rear: Effects) -> None:
    """Derived: the rod crosses the middle plane half way between its ends."""
    for point in ("track_rod_axle", "track_rod_chassis"):
        assert slope(rear, "roll_centre_height", point, "z") == pytest.approx(0.5, abs=0.03)


def test_a_moved_point_does_what_its_derivative_says(rear: Effects, job: Job, vary: Vary) -> None:
    """The programme with the point written 3 mm higher, measured by the geometry study's own way."""
    point = job.programme.vehicle.axles["rear"].hardpoints["track_rod_chassis"]
    x, y, z = (1e3 * c for c in point.si)
    higher = vary({"vehicle.axles.rear.hardpoints.track_rod_chassis": f"{x}, {y}, {z + 3.0} mm"})
    heave = model.posture(job, Setup(fitout=KERB, build=STOCK))["rear"].heave
    was, now = (
        geometry_parts.characteristics(j, model.axle(j, "rear", stock=True), "rear", ride=heave, window=(0.05, 0.05))
        for j in (job, higher)
    )
    said = slope(rear, "roll_centre_height", "track_rod_chassis", "z") * 3e-3
    assert now.roll_centre - was.roll_centre == pytest.approx(said, abs=1e-4)  # type: ignore[operator]


def test_points_that_carry_no_axle_are_left_out(rear: Effects) -> None:
    assert "damper_axle" not in rear.moved.hardpoints
    assert {"wheel_centre", "lower_link_axle", "upper_link_chassis", "spring_axle"} <= set(rear.moved.hardpoints)


def test_spread_is_the_root_of_squares_of_what_each_point_does(rear: Effects) -> None:
    """JCGM 100:2008, 5.1.2: independent coordinates, each with its own +-; the rod's ends with 2 mm make 1.4 mm."""
    assert rear.spread is not None
    at = rear.spread.characteristics.index("roll_centre_height")
    # two ends of the rod by half of 2 mm each, and the wheel centre's height (mean of both sides) by 1 mm
    rod = math.hypot(0.5 * 2e-3, 0.5 * 2e-3)
    assert rear.spread.total[at] == pytest.approx(math.hypot(rod, 1e-3 / math.sqrt(2.0)), rel=0.1)


def test_study_says_value_spread_and_strongest(job: Job, rear: Effects) -> None:
    result = hardpoint_effects.study(job, end="rear")
    assert "roll centre height is" in result.answer
    assert len(result.table("rear_sensitivity").rows) == 3 * len(rear.moved.hardpoints)
    assert np.isfinite(float(result.values["rear_roll_centre_height_uncertainty_m"]))
    with pytest.raises(InputError, match="front or rear"):
        hardpoint_effects.study(job, end="left")


def test_points_without_a_spread_are_said(job: Job, vary: Vary) -> None:
    points = job.programme.vehicle.axles["rear"].hardpoints
    bare = {n: f"{p.x * 1e3:.1f}, {p.y * 1e3:.1f}, {p.z * 1e3:.1f} mm" for n, p in points.items()}
    result = hardpoint_effects.study(vary({"vehicle.axles.rear.hardpoints": bare}), end="rear")
    assert "No hardpoint of the rear axle" in result.notices[0].text
