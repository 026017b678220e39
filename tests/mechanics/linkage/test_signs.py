"""Signs and units of the characteristics, each from a pose that can be pictured (ISO 8855 axes)."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from linkage_axles import FRONT, REAR, points

from tussock.errors import InputError
from tussock.mechanics.linkage import Axle, sweep

ZERO = np.zeros(1)


def test_king_pin_leans_rearward_and_inward(front: Callable[..., Axle]) -> None:
    """The upper point lies 11 mm behind and 30 mm inside the lower one, 204 mm higher."""
    curves = sweep(front(), ZERO, ZERO)
    assert curves.caster is not None
    assert curves.king_pin_inclination is not None
    assert curves.caster[0, 0] == pytest.approx(np.full(2, np.arctan(0.011 / 0.204)), abs=1e-9)
    assert curves.king_pin_inclination[0, 0] == pytest.approx(np.full(2, np.arctan(0.030 / 0.204)), abs=1e-9)
    assert curves.camber[0, 0] == pytest.approx(np.zeros(2), abs=1e-9)


def test_lift_on_leading_arms_takes_caster_and_raises_a_rearward_pinion(
    front: Callable[..., Axle],
) -> None:
    """The arms' pivots go up with the body: the axle's top comes forward, its rear (the pinion) goes up."""
    curves = sweep(front(), np.array([-0.035]), ZERO)
    assert curves.pitch[0, 0] > np.deg2rad(2.0)
    assert curves.caster_change[0, 0] == -curves.pitch[0, 0]
    assert curves.pinion_angle[0, 0] == curves.pitch[0, 0]
    assert curves.caster is not None
    stock = sweep(front(), ZERO, ZERO).caster
    assert stock is not None
    assert curves.caster[0, 0, 0] - stock[0, 0, 0] == pytest.approx(curves.caster_change[0, 0], abs=2e-4)


def test_rear_pinion_points_forward(rear: Callable[..., Axle]) -> None:
    curves = sweep(rear(), np.array([-0.05]), ZERO)
    assert curves.pinion_angle[0, 0] == -curves.pitch[0, 0] != 0.0


def test_springs_shorten_in_bump_and_on_the_side_that_rises(rear: Callable[..., Axle]) -> None:
    curves = sweep(rear(), np.array([-0.02, 0.0, 0.02]), np.array([-0.02, 0.0, 0.02]))
    spring = curves.lengths["spring"]
    assert np.all(np.diff(spring.length[:, 1, :], axis=0) < 0.0)
    assert np.all(spring.heave_ratio > 0.8)
    assert np.all(np.diff(spring.length[1, :, 0]) < 0.0)  # left wheel up: left spring shorter
    assert np.all(np.diff(spring.length[1, :, 1]) > 0.0)
    assert np.all(spring.roll_ratio[..., 0] > 0.0)
    # a spring at 0.47 m of half span: about its own lever
    assert spring.roll_ratio[1, 1, 0] == pytest.approx(0.468, rel=0.03)


def test_track_rod_that_rises_to_the_left_pushes_the_axle_right_in_bump(front: Callable[..., Axle]) -> None:
    """Chassis end left and higher: bump flattens the rod and pushes the axle to the right, droop pulls it left."""
    curves = sweep(front(), np.array([-0.05, 0.05]), ZERO)
    assert curves.lateral_shift[0, 0] > 0.0 > curves.lateral_shift[1, 0]


def test_jacking_of_an_inclined_track_rod_has_the_slope_of_the_rod(front: Callable[..., Axle]) -> None:
    curves = sweep(front(), ZERO, ZERO)
    rise = FRONT["track_rod_chassis"][2] - FRONT["track_rod_axle"][2]
    span = FRONT["track_rod_chassis"][1] - FRONT["track_rod_axle"][1]
    # the axle swings with its arms, so the rod's end, ahead of the axle, rises faster than the axle's centre
    swing = (FRONT["track_rod_axle"][0] - FRONT["arm_chassis"][0]) / -FRONT["arm_chassis"][0]
    assert curves.jacking[0, 0] == pytest.approx(-rise / span * swing, rel=0.02)


def test_tie_rod_changes_count_for_both_sides_unless_the_right_is_said(front: Callable[..., Axle]) -> None:
    x, y, z = FRONT["tie_rod_left"]
    both = front(changes={"tie_rod_left": np.array([x, y, z + 0.02])})
    sides = front(changes={"tie_rod_left": np.array([x, y, z + 0.02]), "tie_rod_right": np.array([x, -y, z + 0.02])})
    assert np.array_equal(both.linkage.tables.ef, sides.linkage.tables.ef)
    assert not np.array_equal(both.linkage.tables.ef, front().linkage.tables.ef)
    table = {name: p for name, p in points(FRONT).items() if name != "tie_rod_left"}
    with pytest.raises(InputError, match="'tie_rod_left' is missing"):
        front(table)


def test_a_part_that_stands_once_has_no_right(rear: Callable[..., Axle]) -> None:
    with pytest.raises(InputError, match="'track_rod_axle' stands once"):
        rear(points(REAR, track_rod_axle_right=(-2.8, -0.4, 0.4)))


def test_drag_link_may_hold_either_knuckle(front: Callable[..., Axle]) -> None:
    right = front()
    left = front(points(FRONT, drag_link_axle=(0.176, 0.575, 0.356), drag_link_pitman=(0.176, -0.372, 0.436)))
    assert next(e for e in right.linkage.elements if e.name == "drag_link").body_a == "knuckle_right"
    assert next(e for e in left.linkage.elements if e.name == "drag_link").body_a == "knuckle_left"
