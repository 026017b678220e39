"""Second assemblies and locks of the layouts, where in the travel they are."""

from __future__ import annotations

import numpy as np
import pytest
from linkage_axles import three_links
from linkage_wheels import LEAF, RADIUS, STRUT, WISHBONE, leaf_axle, points

from tussock.errors import SolverError
from tussock.mechanics.linkage import (
    Axle,
    assemblies_over_travel,
    build_axle,
    build_wheel,
    other_assemblies,
    shackle_limit,
    sweep_wheel,
)

DEGREE = np.pi / 180.0
BARE = {k: v for k, v in WISHBONE.items() if not k.startswith(("bar", "drop"))}


def short() -> Axle:
    return leaf_axle(points(LEAF, shackle_pivot=(-3.815, 0.56, 0.585)))


def test_a_shackle_folds_back_and_meets_the_right_assembly_where_it_locks() -> None:
    """In droop the folded shackle comes nearer and nearer to the right one: at the lock they are one."""
    axle, turns = short(), []
    for heave in (0.0, -0.10):
        others = [a for a in other_assemblies(axle, heave, tries=0) if a.body.startswith("shackle_l")]
        assert others, heave
        nearest = others[0]
        assert nearest.solution.distance[0] < 1e-9
        turns.append(nearest.turn)
    assert turns[0] > 90.0 * DEGREE
    assert 20.0 * DEGREE < turns[1] < 0.6 * turns[0]
    limit = shackle_limit(axle)
    assert limit is not None
    assert limit.heave < 0.0


def test_where_in_the_travel_is_said() -> None:
    told = assemblies_over_travel(short(), [-0.30, -0.05, 0.0], tries=0)
    assert any("moves freely to heave" in line for line in told)
    assert any("in a second way between -50 and 0 mm, with shackle" in line for line in told)


def test_a_wishbones_upright_can_stand_turned_over() -> None:
    """The tie rod's circle meets the steering arm's twice: a wheel that faces backward (plane geometry)."""
    wheel = build_wheel("double_wishbone", points(BARE), wheel_radius=RADIUS)
    others = other_assemblies(wheel)
    assert others
    assert all(a.body == "upright" and a.turn > 60.0 * DEGREE for a in others[:1])
    # the same tie rod, in its other place
    end = others[0].solution.point("upright", points(BARE)["tie_rod_outer"])[0]
    length = np.linalg.norm(points(BARE)["tie_rod_outer"] - points(BARE)["tie_rod_inner"])
    assert np.linalg.norm(end - points(BARE)["tie_rod_inner"]) == pytest.approx(length, abs=1e-9)


def test_three_links_go_together_in_one_way_near_design() -> None:
    axle = build_axle("links_track_rod", three_links(), wheel_radius=0.361, central={"upper_link"})
    assert not [a for a in other_assemblies(axle) if a.turn < 20.0 * DEGREE]


@pytest.mark.parametrize("layout", ["double_wishbone", "strut"])
def test_a_wheel_that_locks_says_where(layout: str) -> None:
    wheel = build_wheel(layout, points(BARE if layout == "double_wishbone" else STRUT), wheel_radius=RADIUS)
    with pytest.raises(SolverError, match=r"moves freely to travel -?\d+"):
        sweep_wheel(wheel, np.array([0.6]))
