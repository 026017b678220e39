"""Slopes, symmetry, energy and the meaning of each characteristic on the invented axles."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from linkage_axles import FRONT, REAR, STIFFNESS, points, three_links

from tussock.errors import InputError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage import Axle, axle_map, build_axle, steering_wheel_offset, straight_ahead, sweep
from tussock.mechanics.linkage.steering import wheels

HEAVE = np.array([-0.09, -0.035, 0.0, 0.05, 0.08])
ROLL = np.deg2rad([-9.0, -4.5, 0.0, 4.5, 9.0])


def fourth_order(values: Floats, step: float) -> Floats:
    """Central difference of fourth order over five values on the first axis."""
    return (values[0] - 8.0 * values[1] + 8.0 * values[3] - values[4]) / (12.0 * step)


@pytest.mark.parametrize("which", ["front", "rear"])
def test_exact_slopes_equal_differences_of_solved_positions(which: str, request: pytest.FixtureRequest) -> None:
    """Motion ratios, roll centre, contact slope and jacking are derivatives of solved positions."""
    axle: Axle = request.getfixturevalue(which)()
    h0, r0, step = -0.05, np.deg2rad(5.0), 1e-3
    offsets = step * np.array([-2.0, -1.0, 0.0, 1.0, 2.0])
    over_heave = axle.solve(h0 + offsets, np.array([r0]))
    over_roll = axle.solve(np.array([h0]), r0 + offsets)
    here = sweep(axle, np.array([h0]), np.array([r0]))
    for name, curves in here.lengths.items():
        part = axle.attachments[name]
        for k in range(2):
            ends = ("chassis", part.chassis[k], part.bodies[k], part.at[k])
            by_heave = fourth_order(over_heave.length(*ends)[0], step)
            by_roll = fourth_order(over_roll.length(*ends)[0], step)
            assert -curves.heave_ratio[0, 0, k] == pytest.approx(by_heave, rel=3e-7, abs=1e-7)
            assert -curves.roll_ratio[0, 0, k] == pytest.approx(by_roll, rel=3e-7, abs=1e-7)
    contact = axle.wheel_centres - np.array([0.0, 0.0, axle.wheel_radius])
    mean_heave = np.mean([fourth_order(over_heave.point("axle", c), step) for c in contact], axis=0)
    mean_roll = np.mean([fourth_order(over_roll.point("axle", c), step) for c in contact], axis=0)
    assert here.contact_slope[0, 0] == pytest.approx(mean_heave[0], rel=3e-7)
    y = axle.solve(np.array([h0]), np.array([r0])).direction("axle", np.array([0.0, 1.0, 0.0]))[0]
    ground = np.array([0.0, y[1], y[2]]) / np.hypot(y[1], y[2])
    assert here.roll_centre_height[0, 0] == pytest.approx(mean_roll @ ground, rel=3e-7)
    assert here.jacking[0, 0] == pytest.approx(mean_heave @ ground, rel=3e-7, abs=1e-8)


@pytest.mark.parametrize("which", ["front", "rear"])
def test_bush_force_is_the_slope_of_energy_and_rate_the_slope_of_force(
    which: str, request: pytest.FixtureRequest
) -> None:
    axle: Axle = request.getfixturevalue(which)()
    h0, r0, step = -0.04, np.deg2rad(4.0), 1e-3
    offsets = step * np.array([-2.0, -1.0, 0.0, 1.0, 2.0])
    over_heave, over_roll = axle.solve(h0 + offsets, np.array([r0])), axle.solve(np.array([h0]), r0 + offsets)
    here = axle.solve(np.array([h0]), np.array([r0]))
    assert here.force[0, 0] == pytest.approx(fourth_order(over_heave.energy, step), rel=1e-6)
    assert here.force[0, 1] == pytest.approx(fourth_order(over_roll.energy, step), rel=1e-6)
    assert here.stiffness[0, 0, 0] == pytest.approx(fourth_order(over_heave.force[:, 0], step), rel=1e-6)
    assert here.stiffness[0, 1, 1] == pytest.approx(fourth_order(over_roll.force[:, 1], step), rel=1e-6)
    assert here.stiffness[0, 0, 1] == pytest.approx(here.stiffness[0, 1, 0], rel=1e-6)


def test_same_node_by_two_paths_is_the_same_pose(front: Callable[..., Axle]) -> None:
    axle = front()
    node = axle.solve(np.array([-0.08]), np.array([0.12]))
    again = axle.solve(np.linspace(-0.1, 0.06, 9), np.linspace(-0.16, 0.12, 8))
    row = 8 + 7  # heave -0.08, roll 0.12
    assert again.inputs[row] == pytest.approx(node.inputs[0], abs=1e-12)
    assert np.abs(again.position[row] - node.position[0]).max() < 1e-10
    assert again.energy[row] == pytest.approx(node.energy[0], rel=1e-9)


REFLECTED = {"track_rod_axle": (0.118, 0.458, 0.352), "track_rod_chassis": (0.118, -0.424, 0.424)}
REFLECTED_STEERING = {"drag_link_axle": (0.176, 0.575, 0.356), "drag_link_pitman": (0.176, -0.372, 0.436)}


def test_mirrored_axle_gives_the_mirrored_map(front: Callable[..., Axle]) -> None:
    one = sweep(front(), HEAVE, ROLL)
    other = sweep(front(points(FRONT, **REFLECTED, **REFLECTED_STEERING)), HEAVE, ROLL)
    assert np.abs(one.lateral_shift + other.lateral_shift[:, ::-1]).max() < 1e-11
    assert np.abs(one.axle_steer + other.axle_steer[:, ::-1]).max() < 1e-11
    assert np.abs(one.pitch - other.pitch[:, ::-1]).max() < 1e-11
    assert np.abs(one.roll_centre_height - other.roll_centre_height[:, ::-1]).max() < 1e-8
    assert np.abs(one.steer + other.steer[:, ::-1, ::-1]).max() < 1e-10
    assert np.abs(one.camber - other.camber[:, ::-1, ::-1]).max() < 1e-10
    assert np.abs(one.energy - other.energy[:, ::-1]).max() < 1e-7
    for name, curves in one.lengths.items():
        assert np.abs(curves.length - other.lengths[name].length[:, ::-1, ::-1]).max() < 1e-11


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(scale=st.floats(0.5, 2.0), nudge=st.floats(-0.02, 0.02))
def test_geometry_scales_with_the_vehicle(scale: float, nudge: float) -> None:
    """Twice the size: twice the shift and length, the same angles and ratios (rigid links have no other scale)."""
    table = three_links(lower_link_axle=(-2.688, 0.478, 0.302 + nudge))
    heave, roll = np.array([-0.05, 0.0, 0.04]), np.array([-0.08, 0.0, 0.06])
    one = sweep(build_axle("links_track_rod", table, wheel_radius=0.361, central={"upper_link"}), heave, roll)
    grown = {name: scale * point for name, point in table.items()}
    two = sweep(
        build_axle("links_track_rod", grown, wheel_radius=0.361 * scale, central={"upper_link"}), heave * scale, roll
    )
    assert np.abs(two.lateral_shift - scale * one.lateral_shift).max() < 1e-10
    assert np.abs(two.axle_steer - one.axle_steer).max() < 1e-10
    assert np.abs(two.roll_centre_height - scale * one.roll_centre_height).max() < 1e-7
    assert np.abs(two.contact_slope - one.contact_slope).max() < 1e-7
    spring = one.lengths["spring"], two.lengths["spring"]
    assert np.abs(spring[1].length - scale * spring[0].length).max() < 1e-10
    assert np.abs(spring[1].heave_ratio - spring[0].heave_ratio).max() < 1e-7


def test_soft_links_approach_exact_ones_on_a_determinate_axle() -> None:
    """Three links locate the axle alone: their stiffness moves nothing, whatever it is."""
    hard = sweep(build_axle("links_track_rod", three_links(), wheel_radius=0.361, central={"upper_link"}), HEAVE, ROLL)
    soft = sweep(
        build_axle("links_track_rod", three_links(), wheel_radius=0.361, central={"upper_link"}, link_stiffness=5e6),
        HEAVE,
        ROLL,
    )
    for name in ("lateral_shift", "axle_steer", "pitch", "centre"):
        assert np.abs(getattr(hard, name) - getattr(soft, name)).max() < 1e-11, name
    # the tangent belongs to a pose within 1e-7 m of rest: 5e6 N/m times that times half a metre
    assert np.abs(soft.roll_rate).max() < 0.25
    assert hard.energy.max() == 0.0


def test_four_links_bind_in_roll_and_softer_bushes_bind_less(rear: Callable[..., Axle]) -> None:
    stiff = sweep(rear(), np.zeros(1), ROLL)
    soft = sweep(rear(link_stiffness={name: 0.25 * rate for name, rate in STIFFNESS.items()}), np.zeros(1), ROLL)
    assert stiff.energy[0, 0] > soft.energy[0, 0] > 0.0
    assert np.abs(stiff.axle_steer - soft.axle_steer).max() < np.deg2rad(0.01)


def test_road_steer_adds_the_axle_and_the_steering(front: Callable[..., Axle]) -> None:
    curves = sweep(front(), HEAVE, ROLL)
    assert np.array_equal(curves.road_steer, curves.steer + curves.axle_steer[..., None])
    assert curves.steer[2, 2] == pytest.approx(0.0, abs=1e-12)
    # the tie rod is the mirror image of itself: toe changes only as the knuckles turn (Ackermann), of second order
    assert np.abs(curves.total_toe).max() < np.deg2rad(0.5)
    offset = steering_wheel_offset(curves, steering_ratio=17.5)
    assert offset == pytest.approx(-17.5 * curves.road_steer.mean(axis=-1))


def test_pitman_arm_steers_and_brings_the_wheels_straight_after_a_lift(front: Callable[..., Axle]) -> None:
    table = points(FRONT, pitman_shaft=(0.02, 0.372, 0.50))
    axle = front(table)
    angle = straight_ahead(axle, -0.035)
    mended = sweep(axle, np.array([-0.035]), np.zeros(1), steer=angle)
    lifted = sweep(axle, np.array([-0.035]), np.zeros(1))
    assert np.abs(lifted.road_steer.mean()) > np.deg2rad(0.05)
    assert mended.road_steer.mean() == pytest.approx(0.0, abs=1e-10)
    # with the arm held, the shaft changes nothing
    plain = sweep(front(), HEAVE, ROLL)
    held = sweep(axle, HEAVE, ROLL)
    assert np.abs(plain.steer - held.steer).max() < 1e-11
    # left at the pitman arm swings the drag link's end to the right: it stands ahead of its shaft
    left = sweep(axle, np.zeros(1), np.zeros(1), steer=0.1)
    assert np.sign(left.steer[0, 0, 0]) == np.sign(left.steer[0, 0, 1]) != 0.0
    with pytest.raises(InputError, match="pitman_shaft"):
        sweep(front(), np.zeros(1), np.zeros(1), steer=0.1)


def test_pose_places_points_with_their_bodies(front: Callable[..., Axle]) -> None:
    axle = front()
    pose = axle.pose(-0.06, np.deg2rad(6.0))
    node = axle.solve(np.array([-0.06]), np.array([np.deg2rad(6.0)]))
    for body in ("axle", "arm_left", "arm_right", "knuckle_left", "knuckle_right"):
        at = np.array([0.1, 0.4, 0.3])
        assert pose.place(body, at) == pytest.approx(node.point(body, at)[0], abs=1e-13)
    both = np.array([FRONT["spring_axle"], FRONT["stop_axle"]])
    assert np.linalg.norm(np.diff(pose.place("axle", both), axis=0)) == pytest.approx(
        np.linalg.norm(np.diff(both, axis=0)), rel=1e-13
    )
    assert pose.place("chassis", both) == pytest.approx(both)
    with pytest.raises(InputError, match="no body 'arm'"):
        pose.place("arm", both)


def test_rods_keep_their_lengths_over_the_map(front: Callable[..., Axle]) -> None:
    axle = front()
    s = axle.solve(np.linspace(-0.14, 0.14, 9), np.deg2rad(np.linspace(-14, 14, 7)))
    for name in ("track_rod", "tie_rod", "drag_link"):
        assert np.abs(s.joint_rows(name)[:, 0]).max() < 1e-12
    assert s.distance.max() < 1e-11
    assert np.all(s.status == 0)


def test_map_and_sweep_agree_and_the_map_starts_at_its_design(front: Callable[..., Axle]) -> None:
    axle = front()
    grid = axle_map(axle, HEAVE[2:5:2], ROLL)
    curves = sweep(axle, HEAVE[2:5:2], ROLL)
    assert np.abs(grid.wheel_y.mean(axis=2) - curves.centre[..., 1]).max() < 1e-15
    spins, _ = wheels(axle, axle.solve(HEAVE[2:5:2], ROLL))
    headings = np.stack([np.arctan2(-spin[:, 0], spin[:, 1]) for spin in spins], axis=1)
    assert np.abs(grid.steer - headings.reshape(grid.steer.shape)).max() < 1e-12
    assert np.abs(grid.spring - curves.lengths["spring"].length).max() == 0.0
    assert grid.energy[0, 2] == pytest.approx(0.0, abs=1e-9)
    assert (grid.track, grid.centre_z0, grid.design_x) == pytest.approx((1.5, 0.361, 0.0))
    seat = np.array([0.1, 0.5, 0.4])
    moved = axle.pose(HEAVE[2], ROLL[0]).place("axle", seat)
    assert np.abs(grid.place(seat, "left")[0, 0] - moved).max() < 1e-9
    assert np.abs(grid.place(seat, "right", "axle")[0, 0] - moved).max() < 1e-9
    for field in fields(grid):
        if field.name in ("reach", "bodies", "carrier"):
            continue
        assert np.all(np.isfinite(getattr(grid, field.name))), field.name
    with pytest.raises(InputError, match="equal steps"):
        axle_map(axle, np.array([0.0, 0.1, 0.15]), ROLL)


def test_joint_angles_follow_the_arm(rear: Callable[..., Axle], front: Callable[..., Axle]) -> None:
    """In heave an arm's chassis bush twists by the arm's own swing; the axle bushes do not twist."""
    s = sweep(front(), np.array([0.06]), np.zeros(1))
    swing = np.arcsin((0.432 - 0.361) / 0.885) - np.arcsin((0.432 - 0.361 - 0.06) / 0.885)
    assert abs(s.joint_angles["arm_chassis_left"][0, 0, 1]) == pytest.approx(swing, rel=0.02)
    assert np.abs(s.joint_angles["arm_axle_front_left"][0, 0, 1]) < np.deg2rad(0.1)
    links = sweep(rear(), np.array([0.06]), np.zeros(1))
    swing = np.arcsin(0.060 / 0.758)
    assert links.joint_angles["lower_link_left"][0, 0, 1] == pytest.approx(swing, rel=0.05)


def test_bush_loads_balance_the_arm(front: Callable[..., Axle]) -> None:
    """Nothing else acts on an arm: the forces of its three bushes add up to zero in any pose."""
    axle = front()
    s = axle.solve(np.array([-0.07]), np.array([0.1]))
    total = np.zeros(3)
    for name in ("arm_chassis_left", "arm_axle_front_left", "arm_axle_rear_left"):
        element = next(e for e in axle.linkage.elements if e.name == name)
        frame = s.rotation[0, axle.linkage.index["arm_left"]] @ element.frame_a.T
        total += frame @ s.joint_loads(name)[0, :3]
    assert np.abs(total).max() < 1e-3  # of loads of some kilonewtons
    assert np.abs(s.joint_loads("arm_axle_front_left")).max() > 100.0


def test_rear_names_are_those_of_the_table(rear: Callable[..., Axle]) -> None:
    axle = rear()
    assert set(axle.attachments) == {"spring", "damper", "stop"}
    names = {e.name for e in axle.linkage.elements}
    assert names == {"track_rod", *(f"{w}_link_{s}" for w in ("lower", "upper") for s in ("left", "right"))}
    assert set(REAR) >= {"track_rod_axle"}
