"""Rigid axles against published closed forms and constructions.

Sources
1. Circle of a track rod: plane geometry; the rod should be long and level (lecture slides on suspension, seen).
2. T. D. Gillespie, Fundamentals of Vehicle Dynamics, SAE 1992, chapters 6 and 7: roll steer, roll-centre analysis,
   anti-squat and anti-dive (all from memory); the anti-squat condition in this form also in Barton and Fieldhouse,
   Automotive Chassis Engineering, Springer 2018, eq. 3.63 (seen).
3. Caster of an axle on leading arms: plane geometry.

The tables of 1 and 3 and the anti-squat case were computed or constructed for this project, not printed elsewhere.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from linkage_axles import BUSHES, FRONT, points, three_links

from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage import Axle, anti_effects, build_axle, sweep
from tussock.mechanics.linkage.model import CHASSIS, HARD, Body, Joint, Linkage, Rod, build_linkage
from tussock.mechanics.linkage.solver import plan_grid, run, solve_home

pytestmark = pytest.mark.literature

# rod length mm, inclination deg, then the shift in mm at z = -100, -75, -50, -25, 25, 50, 75, 100 mm (vehicle.md 2.1)
TRACK_ROD = [
    (900, 0, (-5.573, -3.130, -1.390, -0.347, -0.347, -1.390, -3.130, -5.573)),
    (900, 5, (-14.442, -9.752, -5.787, -2.539, 1.837, 2.975, 3.418, 3.166)),
    (900, 10, (-23.588, -16.552, -10.286, -4.774, 4.046, 7.375, 9.995, 11.911)),
    (800, 5, (-15.167, -10.155, -5.965, -2.584, 1.793, 2.801, 3.027, 2.471)),
    (1000, 5, (-13.864, -9.430, -5.645, -2.504, 1.872, 3.115, 3.731, 3.723)),
]
TRAVEL = 1e-3 * np.array([-100.0, -75.0, -50.0, -25.0, 25.0, 50.0, 75.0, 100.0])


def guided_axle(length: float, inclination: float) -> Linkage:
    """Axle that only heaves, rolls and shifts, held sideways by a track rod; chassis end left and higher."""
    axle_end = np.array([0.0, -0.5 * length * np.cos(inclination), 0.4 - 0.5 * length * np.sin(inclination)])
    chassis_end = np.array([0.0, 0.5 * length * np.cos(inclination), 0.4 + 0.5 * length * np.sin(inclination)])
    rod = Rod(name="track_rod", body_a="axle", body_b=CHASSIS, point_a=axle_end, point_b=chassis_end, length=length)
    held = [("axle", word) for word in ("z", "roll", "x", "yaw", "pitch")]
    return build_linkage([Body(name="axle", kind="carrier", at=np.array([0.0, 0.0, 0.36]))], [rod], held)


def solve_guided(linkage: Linkage, heave: Floats, roll: Floats) -> Floats:
    plan = plan_grid(heave, roll, (0.0, 0.0, 0.0))
    zero = np.array([0.36, 0.0, 0.0, 0.0, 0.0])
    home = solve_home(linkage, zero)
    s = run(linkage, plan.inputs + zero, plan.parent, plan.grand, start=home.coordinates[0])
    return s.take(plan.wanted.ravel())


@pytest.mark.parametrize(("length", "inclination", "shifts"), TRACK_ROD)
def test_track_rod_circle(length: float, inclination: float, shifts: tuple[float, ...]) -> None:
    """Source 1, to the 0.001 mm printed; the closed form itself to rounding."""
    beta = np.deg2rad(inclination)
    s = solve_guided(guided_axle(1e-3 * length, beta), TRAVEL, np.zeros(1))
    away = -s.coordinates[:, 1]  # the chassis end is on the left
    assert 1e3 * away == pytest.approx(shifts, abs=0.0006)
    closed = np.sqrt((1e-3 * length) ** 2 - (1e-3 * length * np.sin(beta) - TRAVEL) ** 2) - 1e-3 * length * np.cos(beta)
    assert np.abs(away - closed).max() < 1e-13


@pytest.mark.parametrize("inclination", [0.0, 6.0, -9.0])
def test_roll_centre_of_a_guided_axle_is_the_middle_of_its_track_rod(inclination: float) -> None:
    """Source 2, chapter 7: where the rod crosses the centre plane, exactly when the axle does not yaw."""
    linkage = guided_axle(0.9, np.deg2rad(inclination))
    s = solve_guided(linkage, np.zeros(1), np.zeros(1))
    contact = np.array([0.0, 0.0, 0.0])
    assert s.point_slope("axle", contact)[0, 1, 1] == pytest.approx(0.4, abs=1e-12)


def links_all_inclined(beta: float, *, forward: bool, ahead: float = 0.0) -> dict[str, Floats]:
    """Three parallel links, all at `beta` (chassis end higher), running forward or rearward from the axle."""
    run_x = 0.7 if forward else -0.7
    rise = 0.7 * np.tan(beta)
    table = {}
    for name, y, z in (("lower_link", 0.45, 0.30), ("upper_link", 0.0, 0.50)):
        table[f"{name}_axle"] = (0.0, y, z)
        table[f"{name}_chassis"] = (run_x, y, z + rise)
    rod = {"track_rod_axle": (ahead, -0.45, 0.40), "track_rod_chassis": (ahead, 0.45, 0.40)}
    return points({"wheel_centre": (0.0, 0.75, 0.36), **table, **rod})


@pytest.mark.parametrize("beta", [-8.0, -3.0, 4.0, 10.0])
@pytest.mark.parametrize("forward", [True, False])
def test_axle_steer_in_roll_is_the_tangent_of_the_links(beta: float, forward: bool) -> None:
    """Source 2, chapter 6: links forward +tan(beta), links rearward -tan(beta), whatever their spacing."""
    angle = np.deg2rad(beta)
    axle = build_axle(
        "links_track_rod", links_all_inclined(angle, forward=forward), wheel_radius=0.36, central={"upper_link"}
    )
    slope = axle.solve(np.zeros(1), np.zeros(1)).slope[0, 3, 1]
    assert slope == pytest.approx(np.tan(angle) if forward else -np.tan(angle), abs=1e-5)


@pytest.mark.parametrize("ahead", [-0.2, 0.0, 0.15])
@pytest.mark.parametrize("forward", [True, False])
def test_roll_centre_with_the_rod_off_the_axle_counts_the_yaw(ahead: float, forward: bool) -> None:
    """Derived for this project: height of the rod less its distance ahead times the axle's yaw per roll."""
    angle = np.deg2rad(7.0)
    table = links_all_inclined(angle, forward=forward, ahead=ahead)
    axle = build_axle("links_track_rod", table, wheel_radius=0.36, central={"upper_link"})
    yaw = np.tan(angle) * (1.0 if forward else -1.0)
    height = sweep(axle, np.zeros(1), np.zeros(1)).roll_centre_height[0, 0]
    assert height == pytest.approx(0.40 - ahead * yaw, abs=1e-5)


def test_roll_centre_falls_by_half_when_the_chassis_end_comes_down() -> None:
    """Source 2, chapter 7 (from memory): a ride-height change moves it by about half of itself, against the ground."""
    table = links_all_inclined(0.0, forward=True)
    axle = build_axle("links_track_rod", table, wheel_radius=0.36, central={"upper_link"})
    heights = sweep(axle, np.array([-0.02, 0.0, 0.02]), np.zeros(1)).roll_centre_height[:, 0]
    # the body comes down by the bump: 20 mm of ride height are 10 mm of roll centre, to second order
    assert np.diff(heights) == pytest.approx([-0.010, -0.010], abs=3e-4)


def four_links_meeting_at(e: float, d: float) -> dict[str, Floats]:
    """Rear four links whose side-view lines meet at height e above ground, a distance d ahead of the axle."""
    table: dict[str, tuple[float, float, float]] = {}
    for name, y, z in (("lower_link", 0.48, 0.26), ("upper_link", 0.35, 0.52)):
        share = 0.5
        table[f"{name}_axle"] = (0.0, y, z)
        table[f"{name}_chassis"] = (share * d, y, z + share * (e - z))
    rod = {"track_rod_axle": (-0.12, -0.45, 0.40), "track_rod_chassis": (-0.12, 0.45, 0.40)}
    return points({"wheel_centre": (0.0, 0.75, 0.36), **table, **rod})


def test_anti_squat_of_the_constructed_four_link_case() -> None:
    """Source 2, chapter 7: e 0.28 m, d 1.40 m, wheelbase 2.85 m, height 0.70 m: 81.4 per cent (constructed)."""
    axle = build_axle("links_track_rod", four_links_meeting_at(0.28, 1.40), wheel_radius=0.36, link_stiffness=5e6)
    curves = sweep(axle, np.zeros(1), np.zeros(1))
    effects = anti_effects(curves, end="rear", wheelbase=2.85, gravity_height=0.70, brake_share=0.4, drive_share=1.0)
    assert 100.0 * effects.driving[0, 0] == pytest.approx(81.4, abs=0.05)
    assert effects.driving[0, 0] == pytest.approx(0.28 / 1.40 * 2.85 / 0.70, rel=1e-6)
    assert effects.braking[0, 0] == pytest.approx(0.4 * 0.28 / 1.40 * 2.85 / 0.70, rel=1e-6)
    # brakes and final drive on the body push at the wheel centre, 0.36 m up (same source)
    dead = anti_effects(
        curves, end="rear", wheelbase=2.85, gravity_height=0.70, brake_share=0.4, drive_share=1.0, inboard_brakes=True,
        inboard_drive=True,
    )  # fmt: skip
    assert dead.driving[0, 0] == pytest.approx((0.28 - 0.36) / 1.40 * 2.85 / 0.70, rel=1e-6)
    assert dead.braking[0, 0] == pytest.approx(0.4 * (0.28 - 0.36) / 1.40 * 2.85 / 0.70, rel=1e-6)


@pytest.mark.parametrize(("height", "reach"), [(0.28, 1.40), (0.45, 2.2), (0.10, 0.9)])
def test_anti_squat_equals_the_drawn_pivot(height: float, reach: float) -> None:
    axle = build_axle("links_track_rod", four_links_meeting_at(height, reach), wheel_radius=0.36, link_stiffness=5e6)
    slope = sweep(axle, np.zeros(1), np.zeros(1)).contact_slope[0, 0]
    assert -slope == pytest.approx(height / reach, rel=1e-6)


def test_anti_dive_of_leading_arms_is_their_pivots(front: Callable[..., Axle]) -> None:
    """Source 2, chapter 7: the virtual pivot of a rigid arm is its body bush; within 0.1 per cent with real bushes."""
    level = points(FRONT, track_rod_axle=(0.118, -0.458, 0.40), track_rod_chassis=(0.118, 0.424, 0.40))
    curves = sweep(front(level), np.zeros(1), np.zeros(1))
    e, d = FRONT["arm_chassis"][2], -FRONT["arm_chassis"][0]
    assert curves.contact_slope[0, 0] == pytest.approx(e / d, rel=1e-3)
    effects = anti_effects(curves, end="front", wheelbase=2.70, gravity_height=0.70, brake_share=0.6, drive_share=0.5)
    assert effects.braking[0, 0] == pytest.approx(0.6 * e / d * 2.70 / 0.70, rel=1e-3)
    assert effects.driving[0, 0] == pytest.approx(0.5 * e / d * 2.70 / 0.70, rel=1e-3)


# arm length mm, caster change in degrees for a height change of 25 ... 150 mm from a level arm (vehicle.md 2.5)
CASTER = [
    (700, (2.047, 4.096, 6.151, 8.213, 10.287, 12.374)),
    (850, (1.685, 3.372, 5.062, 6.756, 8.457, 10.164)),
    (1000, (1.433, 2.866, 4.301, 5.739, 7.181, 8.627)),
    (1200, (1.194, 2.388, 3.583, 4.780, 5.979, 7.181)),
]
LIFTS = 1e-3 * np.array([25.0, 50.0, 75.0, 100.0, 125.0, 150.0])


@pytest.mark.parametrize(("length", "angles"), CASTER)
def test_caster_lost_by_a_lift_on_rigid_leading_arms(length: float, angles: tuple[float, ...]) -> None:
    """Source 3, to the 0.001 deg printed: arms rigid with the axle, exact pivots on the chassis."""
    centre = np.array([0.0, 0.0, 0.36])
    pivots = [np.array([-1e-3 * length, y, 0.36]) for y in (0.4, -0.4)]
    left = Joint(
        name="pivot_left", body_a="axle", body_b=CHASSIS, point_a=pivots[0], point_b=pivots[0],
        rows=(HARD, HARD, HARD, None, None, None),
    )  # fmt: skip
    right = Joint(
        name="pivot_right", body_a=CHASSIS, body_b="axle", point_a=pivots[1], point_b=pivots[1],
        rows=(HARD, None, None, None, None, None),
    )  # fmt: skip
    linkage = build_linkage(
        [Body(name="axle", kind="carrier", at=centre)], [left, right], [("axle", "z"), ("axle", "roll")]
    )
    zero = np.array([0.36, 0.0])
    home = solve_home(linkage, zero)
    plan = plan_grid(-LIFTS, np.zeros(1))
    s = run(linkage, plan.inputs + zero, plan.parent, plan.grand, start=home.coordinates[0]).take(plan.wanted.ravel())
    assert np.rad2deg(s.coordinates[:, 4]) == pytest.approx(angles, abs=0.0006)


@pytest.mark.parametrize("lift", [0.035, 0.05, 0.1])
def test_caster_lost_by_a_lift_with_real_bushes(lift: float, front: Callable[..., Axle]) -> None:
    """Source 3, within half a per cent: the rest is the sideways pull of the track rod on the arms."""
    level = points(FRONT, track_rod_axle=(0.118, -0.458, 0.40), track_rod_chassis=(0.118, 0.424, 0.40))
    loss = -sweep(front(level), np.array([-lift]), np.zeros(1)).caster_change[0, 0]
    reach, rise = 0.885, FRONT["arm_chassis"][2] - FRONT["wheel_centre"][2]
    length = np.hypot(reach, rise)
    assert loss == pytest.approx(np.arcsin((rise + lift) / length) - np.arcsin(rise / length), rel=5e-3)
    assert set(BUSHES) == {"arm_chassis", "arm_axle_front", "arm_axle_rear"}


def test_pitch_of_a_three_link_axle_follows_its_two_arcs() -> None:
    """vehicle.md 2.4 (derived): pitch is the difference of the fore-aft arcs over the links' distance."""
    table = three_links(
        lower_link_axle=(-2.7, 0.45, 0.30), lower_link_chassis=(-1.95, 0.45, 0.30),
        upper_link_axle=(-2.7, 0.0, 0.52), upper_link_chassis=(-2.25, 0.0, 0.52),
        track_rod_axle=(-2.832, 0.47, 0.43), track_rod_chassis=(-2.832, -0.47, 0.43),
    )  # fmt: skip
    axle = build_axle("links_track_rod", table, wheel_radius=0.361, central={"upper_link"})
    z = 0.02
    pitch = sweep(axle, np.array([z]), np.zeros(1)).pitch[0, 0]
    arcs = [length - np.sqrt(length**2 - z**2) for length in (0.45, 0.75)]
    assert pitch == pytest.approx((arcs[0] - arcs[1]) / 0.22, rel=0.01)
