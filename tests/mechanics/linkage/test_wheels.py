"""Independent wheels: geometry by hand, virtual work, springs, loads, mirror image and kit parts.

The pick-up (Dunnock) and its figures are invented. Plane geometry and statics are the outside checks here.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from linkage_wheels import ARM_BUSHES, DEGREE, RADIUS, RELAY, STRUT, WISHBONE, points
from scipy.optimize import root

from tussock.errors import InputError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage import (
    SpringRod,
    TorsionSpringing,
    Wheel,
    WheelForce,
    ackermann,
    build_wheel,
    sweep_wheel,
    under_load,
    wheel_anti_effects,
    wheel_compliance,
)
from tussock.mechanics.linkage.diagnosis import evaluate
from tussock.mechanics.springs import TorsionBar

TRAVEL = np.linspace(-0.09, 0.09, 7)


def wishbone(**keywords: object) -> Wheel:
    return build_wheel("double_wishbone", points(WISHBONE), wheel_radius=RADIUS, **keywords)  # type: ignore[arg-type]


def meet(a: Floats, b: Floats, c: Floats, d: Floats) -> Floats:
    """Point where the lines a-b and c-d of a plane meet."""
    u, v, w = b - a, d - c, c - a
    return np.asarray(a + u * (w[0] * v[1] - w[1] * v[0]) / (u[0] * v[1] - u[1] * v[0]))


def planar() -> dict[str, Floats]:
    """Wishbone with pivots along the vehicle and the tie rod beside the lower arm: no steer, a plane mechanism."""
    low, up, low_in, up_in = (0.71, 0.26), (0.66, 0.53), (0.32, 0.30), (0.43, 0.51)
    table = {"wheel_centre": (0.0, 0.78, 0.365), "lower_ball": (0.0, *low), "upper_ball": (0.0, *up)}
    for name, at in (("lower", low_in), ("upper", up_in)):
        table[f"{name}_arm_front"], table[f"{name}_arm_rear"] = (0.12, *at), (-0.15, *at)
    return points(table, tie_rod_outer=(0.14, *low), tie_rod_inner=(0.14, *low_in))


def cross_plane() -> dict[str, Floats]:
    """Two arms that trail with pivots across the vehicle: a plane mechanism in side view."""
    table = {"wheel_centre": (0.0, 0.78, 0.365), "lower_ball": (0.02, 0.70, 0.25), "upper_ball": (-0.03, 0.70, 0.52)}
    for name, x, z in (("lower", -0.48, 0.33), ("upper", -0.40, 0.545)):
        table[f"{name}_arm_front"], table[f"{name}_arm_rear"] = (x, 0.75, z), (x, 0.55, z)
    table["tie_rod_outer"], table["tie_rod_inner"] = (0.02, 0.78, 0.25), (-0.48, 0.78, 0.33)
    return points(table)


def test_drawn_roll_centre_of_a_planar_wishbone() -> None:
    """The line from the contact point to the meet of the arms' lines cuts the middle plane at the roll centre."""
    p = planar()
    wheel = build_wheel("double_wishbone", p, wheel_radius=RADIUS)
    curves, solved = sweep_wheel(wheel, TRAVEL), wheel.solve(TRAVEL)
    for i in range(TRAVEL.size):
        ends = [
            solved.point("upright", p["lower_ball"])[i, 1:], p["lower_arm_front"][1:],
            solved.point("upright", p["upper_ball"])[i, 1:], p["upper_arm_front"][1:],
        ]  # fmt: skip
        pole, contact = meet(*ends), curves.contact[i, 0, 1:]
        drawn = contact[0] / (contact[0] - pole[0]) * (pole[1] - contact[1])
        assert curves.roll_centre_height[i, 0] == pytest.approx(drawn, abs=1e-9)
        # the same pole gives the camber slope: turn per travel is one over its distance from the wheel centre
        assert curves.bump_camber[i, 0] == pytest.approx(-1.0 / (curves.centre[i, 0, 1] - pole[0]), rel=1e-9)
    assert np.abs(curves.toe).max() < 1e-12
    assert np.abs(curves.wheelbase_change).max() < 1e-12


def test_side_view_pole_gives_the_anti_effects() -> None:
    """Gillespie chapter 7 (from memory): outboard e / d, body-mounted drive (e - r) / d, times share and L / h."""
    p = cross_plane()
    curves = sweep_wheel(build_wheel("double_wishbone", p, wheel_radius=RADIUS), np.zeros(1))
    pole = meet(*(p[n][[0, 2]] for n in ("lower_ball", "lower_arm_front", "upper_ball", "upper_arm_front")))
    e, d = pole[1], -pole[0]
    found = wheel_anti_effects(
        curves, end="front", wheelbase=3.1, gravity_height=0.68, brake_share=0.65, drive_share=0.45
    )
    assert found.braking[0, 0] == pytest.approx(0.65 * e / d * 3.1 / 0.68, rel=1e-9)
    assert found.driving[0, 0] == pytest.approx(0.45 * (e - RADIUS) / d * 3.1 / 0.68, rel=1e-9)
    inboard = wheel_anti_effects(
        curves, end="front", wheelbase=3.1, gravity_height=0.68, brake_share=0.65, drive_share=0.45, inboard_brakes=True
    )
    assert inboard.braking[0, 0] == pytest.approx(0.65 * (e - RADIUS) / d * 3.1 / 0.68, rel=1e-9)


def test_constructed_full_anti_dive() -> None:
    """The pole on the line with e / d = h / (share x L) carries the whole reaction."""
    share, base, height = 0.6, 3.0, 0.72
    slope = height / (share * base)
    p = cross_plane()
    pole = np.array([-0.9, 0.0, 0.9 * slope])
    for name in ("lower", "upper"):
        ball = p[f"{name}_ball"]
        inner = ball + 0.5 * (pole - ball * np.array([1.0, 0.0, 1.0]))
        for end in ("front", "rear"):
            p[f"{name}_arm_{end}"][[0, 2]] = inner[[0, 2]]
    p["tie_rod_inner"][[0, 2]] = p["lower_arm_front"][[0, 2]]
    curves = sweep_wheel(build_wheel("double_wishbone", p, wheel_radius=RADIUS), np.zeros(1))
    found = wheel_anti_effects(
        curves, end="front", wheelbase=base, gravity_height=height, brake_share=share, drive_share=0.0
    )
    assert found.braking[0, 0] == pytest.approx(1.0, abs=1e-9)


def test_strut_roll_centre_by_its_construction() -> None:
    """Planar strut: the pole lies where the square to the strut at its top meets the lower arm's line."""
    p = points(
        {
            "wheel_centre": (0.0, 0.78, 0.365), "lower_ball": (0.0, 0.71, 0.26), "lower_arm_front": (0.12, 0.32, 0.29),
            "lower_arm_rear": (-0.15, 0.32, 0.29), "strut_top": (0.0, 0.60, 0.90), "strut_lower": (0.0, 0.655, 0.45),
            "tie_rod_outer": (0.14, 0.71, 0.26), "tie_rod_inner": (0.14, 0.32, 0.29),
        }
    )  # fmt: skip
    curves = sweep_wheel(build_wheel("strut", p, wheel_radius=RADIUS), np.zeros(1))
    top, along = p["strut_top"][1:], (p["strut_top"] - p["strut_lower"])[1:]
    square = top + np.array([along[1], -along[0]])
    pole = meet(top, square, p["lower_ball"][1:], p["lower_arm_front"][1:])
    drawn = 0.78 / (0.78 - pole[0]) * pole[1]
    assert curves.roll_centre_height[0, 0] == pytest.approx(drawn, abs=1e-9)


@pytest.mark.parametrize(("layout", "table"), [("double_wishbone", WISHBONE), ("strut", STRUT)])
def test_slopes_against_differences_of_positions(layout: str, table: dict[str, tuple[float, float, float]]) -> None:
    wheel = build_wheel(layout, points(table), wheel_radius=RADIUS, toe=0.2 * DEGREE, camber=-0.3 * DEGREE)
    h = 1e-3
    line = sweep_wheel(wheel, 0.03 + h * np.arange(-2.0, 3.0), np.array([0.01]))
    weights = np.array([1.0, -8.0, 0.0, 8.0, -1.0]) / (12.0 * h)

    def slope(values: Floats) -> float:
        return float(weights @ values[:, 0])

    assert line.bump_steer[2, 0] == pytest.approx(slope(line.toe), rel=1e-6)
    assert line.bump_camber[2, 0] == pytest.approx(slope(line.camber), rel=1e-6)
    assert line.bump_caster[2, 0] == pytest.approx(slope(line.caster), rel=1e-6)
    assert line.side_slope[2, 0] == pytest.approx(slope(line.track_change), rel=1e-5)
    assert line.centre_slope[2, 0] == pytest.approx(slope(line.wheelbase_change), rel=1e-6)
    assert line.lower_arm_ratio[2, 0] == pytest.approx(slope(line.lower_arm_angle), rel=1e-6)
    assert line.bar_ratio is not None
    assert line.bar_angle is not None
    assert line.bar_ratio[2, 0] == pytest.approx(abs(slope(line.bar_angle)) * wheel.bar_arm, rel=1e-6)
    for part in line.lengths.values():
        assert part.ratio[2, 0] == pytest.approx(-slope(part.length), rel=1e-6)
    turn = sweep_wheel(wheel, np.array([0.03]), 0.01 + h * np.arange(-2.0, 3.0))
    assert turn.steer_ratio is not None
    assert turn.steer_ratio[0, 2] == pytest.approx(slope(turn.road_steer.T), rel=1e-6)


def test_stock_attitude_is_what_was_given() -> None:
    curves = sweep_wheel(wishbone(toe=0.15 * DEGREE, camber=-0.4 * DEGREE), np.zeros(1))
    assert curves.toe[0, 0] == pytest.approx(0.15 * DEGREE, rel=1e-12)
    assert curves.camber[0, 0] == pytest.approx(-0.4 * DEGREE, rel=1e-12)
    low, up = np.array(WISHBONE["lower_ball"]), np.array(WISHBONE["upper_ball"])
    axis = up - low
    assert np.tan(curves.caster[0, 0]) == pytest.approx(-axis[0] / axis[2], rel=1e-12)
    assert np.tan(curves.king_pin_inclination[0, 0]) == pytest.approx(-axis[1] / axis[2], rel=1e-12)
    foot = low - axis * low[2] / axis[2]
    bare = sweep_wheel(wishbone(), np.zeros(1))
    assert bare.caster_offset[0, 0] == pytest.approx(foot[0], abs=1e-12)
    assert bare.king_pin_offset[0, 0] == pytest.approx(0.78 - foot[1], abs=1e-12)


def test_rack_steer_against_two_circles() -> None:
    """Upright king pin, level links: the outer ball lies where two circles meet."""
    p = points(
        {
            **WISHBONE, "lower_ball": (0.0, 0.70, 0.26), "upper_ball": (0.0, 0.70, 0.53),
            "tie_rod_outer": (0.14, 0.73, 0.32), "tie_rod_inner": (0.13, 0.36, 0.32),
        }
    )  # fmt: skip
    wheel = build_wheel("double_wishbone", p, wheel_radius=RADIUS)
    rack = np.linspace(-0.06, 0.06, 7)
    solved = wheel.solve(np.zeros(1), rack)
    knuckle, pin = p["tie_rod_outer"] - p["lower_ball"], p["lower_ball"][:2]
    length, arm = np.linalg.norm(p["tie_rod_outer"] - p["tie_rod_inner"]), np.hypot(knuckle[0], knuckle[1])
    for i, shift in enumerate(rack):
        # the wheel centre's height is held, and with a level king pin in rising arms nothing else moves
        gap = p["tie_rod_inner"][:2] + np.array([0.0, shift]) - pin
        far = np.hypot(*gap)
        inside = (arm**2 + far**2 - length**2) / (2.0 * arm * far)
        angle = np.arctan2(gap[1], gap[0]) + np.arccos(inside)
        steer = angle - np.arctan2(knuckle[1], knuckle[0])
        assert solved.coordinates[i, 3] == pytest.approx(steer, abs=1e-10)


def test_ackermann_condition_and_both_wheels() -> None:
    """Wheels set exactly by the condition give a share of one; the pick-up lies between parallel and full."""
    outer = np.linspace(0.05, 0.5, 6)
    inner = np.arctan(1.0 / (1.0 / np.tan(outer) - 1.45 / 3.1))
    exact = ackermann(inner, outer, wheelbase=3.1, king_pin_distance=1.45)
    assert exact.share == pytest.approx(np.ones(6), rel=1e-12)
    # centre of the turn on the rear axle's line, by the outer wheel's triangle
    assert exact.radius == pytest.approx(3.1 / np.tan(outer) - 0.5 * 1.45, rel=1e-12)
    turned = ackermann(-outer, -inner, wheelbase=3.1, king_pin_distance=1.45)
    assert turned.share == pytest.approx(np.ones(6), rel=1e-12)
    rack = np.linspace(-0.07, 0.07, 5)
    left, right = (sweep_wheel(wishbone(side=side), np.zeros(1), rack).road_steer[0] for side in ("left", "right"))
    real = ackermann(left, right, wheelbase=3.1, king_pin_distance=1.48)
    assert np.all((real.share[[0, 1, 3, 4]] > 0.0) & (real.share[[0, 1, 3, 4]] < 1.0))
    assert np.isnan(real.share[2])
    with pytest.raises(InputError, match="between the wheels"):
        ackermann(np.array([1.5]), np.array([1.3]), wheelbase=3.1, king_pin_distance=1.45)


def test_relay_rod_steers_both_sides_alike() -> None:
    """Equal, parallel pitman and idler arms: a parallelogram, so both sides mirror each other."""
    both = [
        build_wheel("double_wishbone", points({**WISHBONE, **RELAY}), wheel_radius=RADIUS, steering="relay", side=side)
        for side in ("left", "right")
    ]
    angles = np.deg2rad(np.array([-25.0, 0.0, 25.0]))
    left, right = (sweep_wheel(w, np.array([-0.04, 0.03]), angles).road_steer for w in both)
    assert left == pytest.approx(-right[:, ::-1], abs=1e-10)
    # closed form of the relay's end: a circle of the arm's radius
    solved = both[0].solve(np.zeros(1), angles)
    inner, arm = np.array(WISHBONE["tie_rod_inner"]), np.array(RELAY["pitman_ball"]) - np.array(RELAY["pitman_shaft"])
    for i, angle in enumerate(angles):
        moved = np.array(
            [arm[0] * np.cos(angle) - arm[1] * np.sin(angle), arm[0] * np.sin(angle) + arm[1] * np.cos(angle), arm[2]]
        )
        assert solved.point("relay", inner)[i] == pytest.approx(inner + moved - arm, abs=1e-10)


@settings(max_examples=12, deadline=None)
@given(st.lists(st.floats(-0.015, 0.015), min_size=6, max_size=6), st.floats(-0.08, 0.08), st.floats(-0.04, 0.04))
def test_a_mirrored_vehicle_gives_mirrored_answers(shifts: list[float], travel: float, rack: float) -> None:
    """A right wheel with its own hardpoints equals a left one with their mirror image, steered the other way."""
    moved = {
        "upper_ball": np.array(WISHBONE["upper_ball"]) + shifts[:3],
        "tie_rod_outer": np.array(WISHBONE["tie_rod_outer"]) + shifts[3:],
    }
    own = points(WISHBONE)
    for name, at in moved.items():
        own[f"{name}_right"] = at * np.array([1.0, -1.0, 1.0])
    right = build_wheel("double_wishbone", own, wheel_radius=RADIUS, side="right")
    left = build_wheel("double_wishbone", {**points(WISHBONE), **moved}, wheel_radius=RADIUS)
    a = sweep_wheel(right, np.array([travel]), np.array([rack]))
    b = sweep_wheel(left, np.array([travel]), np.array([-rack]))
    for name in ("toe", "camber", "caster", "roll_centre_height", "track_change", "steer_ratio", "bump_steer"):
        assert getattr(a, name) == pytest.approx(getattr(b, name), abs=1e-12)
    assert a.road_steer == pytest.approx(-b.road_steer, abs=1e-12)
    assert a.contact == pytest.approx(b.contact * np.array([1.0, -1.0, 1.0]), abs=1e-12)


def test_spring_in_the_linkage_gives_the_wheel_rate_of_the_motion_ratio() -> None:
    """Wheel rate = rate x ratio^2 + force x slope of the ratio (virtual work), and the force is force x ratio."""
    spring = SpringRod(rate=90e3, free_length=0.52)
    h = 2e-3
    line = 0.02 + h * np.arange(-2.0, 3.0)
    curves = sweep_wheel(wishbone(spring=spring), line)
    length, ratio = (getattr(curves.lengths["spring"], n)[:, 0] for n in ("length", "ratio"))
    force = spring.rate * (spring.free_length - length[2])
    bend = np.array([1.0, -8.0, 0.0, 8.0, -1.0]) @ ratio / (12.0 * h)
    assert curves.wheel_force[2, 0] == pytest.approx(force * ratio[2], rel=1e-9)
    assert curves.wheel_rate[2, 0] == pytest.approx(spring.rate * ratio[2] ** 2 + force * bend, rel=1e-7)
    assert curves.joint_loads["spring"][2, 0, 0] == pytest.approx(-force, rel=1e-9)


def test_torsion_bar_in_the_linkage_against_its_lever_formula() -> None:
    """Planar lower arm: the rate at the ball's height is the bar's lever rate; the wheel's follows by the ratio."""
    p = planar()
    bar = TorsionBar(diameter=0.028, length=1.15)
    twist = 0.45
    wheel = build_wheel(
        "double_wishbone", p, wheel_radius=RADIUS, torsion_bar=TorsionSpringing(rate=bar.torsional_rate, twist=twist)
    )
    h = 1e-4
    curves, solved = sweep_wheel(wheel, h * np.arange(-2.0, 3.0)), wheel.solve(h * np.arange(-2.0, 3.0))
    arm = p["lower_ball"] - p["lower_arm_front"]
    radius, angle = float(np.hypot(arm[1], arm[2])), float(np.arctan2(arm[2], arm[1]))
    weights = np.array([1.0, -8.0, 0.0, 8.0, -1.0]) / (12.0 * h)
    rise = solved.point_slope("upright", p["lower_ball"])[:, 0, 2]
    force = bar.lever_force(arm=radius, angle=angle, twist=twist)
    rate = bar.lever_rate(arm=radius, angle=angle, twist=twist)
    assert curves.wheel_force[2, 0] == pytest.approx(force * rise[2], rel=1e-9)
    assert curves.wheel_rate[2, 0] == pytest.approx(rate * rise[2] ** 2 + force * weights @ rise, rel=1e-6)
    # the same by the arm's own ratio, as a study would do it
    slope = curves.lower_arm_ratio[:, 0]
    torque = bar.torsional_rate * twist
    other = bar.torsional_rate * slope[2] ** 2 + torque * weights @ slope
    assert curves.wheel_rate[2, 0] == pytest.approx(other, rel=1e-6)


@pytest.mark.parametrize("axis", ["forward", "left", "up"])
def test_loads_of_a_wheel_are_in_balance(axis: str) -> None:
    """Statics of the whole: what rack, pivots and spring give to the chassis is what the road gave to the wheel."""
    wheel = wishbone(bushes=ARM_BUSHES)
    load = WheelForce(**{axis: 3000.0})  # type: ignore[arg-type]
    found = under_load(wheel, -0.02, [load])
    total = np.zeros(3)
    for name in ARM_BUSHES:
        element = next(e for e in wheel.linkage.elements if e.name == name)
        # the joint's frame is fixed in the chassis; the load opposes the deflection of the arm
        total += found.joint_loads[name][:3] @ element.frame_a  # type: ignore[union-attr]
    solved = wheel.solve(np.array([-0.02]))
    spring = wheel.attachments["spring"]
    away = spring.chassis - solved.point(spring.body, spring.at)[0]
    total += found.spring_forces[0] * away / np.linalg.norm(away)
    rod = solved.point("upright", np.array(WISHBONE["tie_rod_outer"]))[0] - np.array(WISHBONE["tie_rod_inner"])
    total += found.joint_loads["tie_rod"][0] * rod / np.linalg.norm(rod)
    link = np.array(WISHBONE["drop_link_bar"])
    assert np.abs(found.joint_loads["drop_link"][0]) < 1e-6, f"nothing holds the bar, whose end is at {link}"
    road = np.array([load.forward, load.left, load.up])
    assert total == pytest.approx(road, abs=15.0)


def test_spring_force_under_load_is_that_of_virtual_work() -> None:
    wheel = wishbone()
    for travel in (-0.05, 0.0, 0.06):
        curves, solved = sweep_wheel(wheel, np.array([travel])), wheel.solve(np.array([travel]))
        patch = curves.contact[0, 0] - curves.centre[0, 0]
        at = wheel.centre + solved.rotation[0, wheel.linkage.index["upright"]].T @ patch
        slope, hub = (solved.point_slope("upright", point)[0, 0] for point in (at, wheel.centre))
        found = under_load(wheel, travel, [WheelForce(forward=-4000.0, left=1500.0, up=6000.0, drive=800.0)])
        work = -4000.0 * slope[0] + 1500.0 * slope[1] + 6000.0 * slope[2] + 800.0 * hub[0]
        assert found.spring_forces[0] * curves.lengths["spring"].ratio[0, 0] == pytest.approx(work, rel=1e-9)
        assert np.abs(found.toe).max() < 1e-12


def test_compliance_against_finite_loads() -> None:
    """Within 2e-5 of the central difference of +-1 kN, and symmetric."""
    wheel = wishbone(bushes=ARM_BUSHES)
    found = wheel_compliance(wheel, np.array([-0.03]), np.array([0.02]))

    def change(unit: dict[str, float], size: float) -> Callable[[str], float]:
        plus, minus = (
            under_load(
                wheel, -0.03, [WheelForce(**{k: s * size * v for k, v in unit.items()})], second=0.02, springs=None
            )
            for s in (1.0, -1.0)
        )
        return lambda name: float((getattr(plus, name) - getattr(minus, name))[0] / (2.0 * size))

    inward, braking = change({"left": -1.0}, 1000.0), change({"forward": -1.0}, 1000.0)
    assert found.lateral_toe[0, 0] == pytest.approx(inward("toe"), rel=2e-5)
    assert found.lateral_camber[0, 0] == pytest.approx(inward("camber"), rel=2e-5)
    assert found.braking_toe[0, 0] == pytest.approx(braking("toe"), rel=2e-4)
    assert found.braking_caster[0, 0] == pytest.approx(braking("caster"), rel=2e-5)
    assert found.drive_toe[0, 0] == pytest.approx(change({"drive": 1.0}, 1000.0)("toe"), rel=2e-5)
    assert found.aligning_toe[0, 0] == pytest.approx(change({"aligning": -1.0}, 100.0)("toe"), rel=2e-5)
    assert found.matrix[0, 0] == pytest.approx(found.matrix[0, 0].T, rel=1e-9, abs=1e-15)
    assert np.linalg.eigvalsh(found.matrix).min() > -1e-15
    assert np.abs(wheel_compliance(wishbone(), np.zeros(1)).matrix).max() < 1e-15


def test_drive_shaft_angles_by_hand() -> None:
    curves = sweep_wheel(wishbone(), np.array([0.0, 0.05]))
    inner, outer = np.array(WISHBONE["drive_inner"]), np.array(WISHBONE["drive_outer"])
    drop = outer - inner
    assert curves.drive is not None
    assert curves.drive.inner_angle[0, 0] == pytest.approx(np.arctan2(np.hypot(drop[0], drop[2]), drop[1]), rel=1e-12)
    assert curves.drive.outer_angle[0, 0] == pytest.approx(curves.drive.inner_angle[0, 0], rel=1e-12)
    assert curves.drive.length_change[0, 0] == pytest.approx(0.0, abs=1e-15)
    assert curves.drive.outer_angle[1, 0] != pytest.approx(curves.drive.inner_angle[1, 0], rel=1e-3)  # camber comes in


def test_plausible_figures_of_the_pick_up() -> None:
    """Common practice, no source: roll centre 50 to 150 mm, camber gain, caster 3 to 6 deg, small bump steer."""
    curves = sweep_wheel(wishbone(), np.array([-0.045, 0.0, 0.045]))
    assert 0.05 < curves.roll_centre_height[1, 0] < 0.15
    assert curves.camber[2, 0] < curves.camber[1, 0] - 0.5 * DEGREE
    assert 3.0 * DEGREE < curves.caster[1, 0] < 6.0 * DEGREE
    assert np.abs(curves.toe).max() < 0.1 * DEGREE
    assert curves.roll_centre_height[0, 0] > curves.roll_centre_height[1, 0]  # a lift raises it


def test_a_drop_bracket_lowers_the_arm_without_bending_it() -> None:
    p = points(WISHBONE)
    drop = np.array([0.0, 0.0, -0.03])
    changes = {f"lower_arm_{end}": p[f"lower_arm_{end}"] + drop for end in ("front", "rear")}
    wheel = wishbone(changes=changes)
    solved = wheel.solve(np.array([-0.04, 0.0]))
    ball = solved.point("upright", p["lower_ball"])
    for end in ("front", "rear"):
        was = np.linalg.norm(p["lower_ball"] - p[f"lower_arm_{end}"])
        assert np.linalg.norm(ball - changes[f"lower_arm_{end}"], axis=1) == pytest.approx(np.full(2, was), abs=1e-10)
    # the whole of both inner ends lowered by the lift gives back the stock curves
    both = {n: v + drop for n, v in p.items() if n.startswith(("lower_arm", "upper_arm", "tie_rod_inner"))}
    lowered = sweep_wheel(wishbone(changes=both), np.array([-0.03]))
    stock = sweep_wheel(wishbone(), np.array([0.0]))
    for name in ("camber", "toe", "caster", "bump_steer", "side_slope"):
        assert getattr(lowered, name) == pytest.approx(getattr(stock, name), abs=1e-9)


def test_an_offset_ball_joint_sets_camber_as_two_circles_do() -> None:
    """Upper ball 5 mm further in on its arm, plane mechanism: circles of both balls, wheel centre's height held."""
    p = planar()
    inward = p["upper_ball"] + np.array([0.0, -0.005, 0.0])
    moved = build_wheel("double_wishbone", p, wheel_radius=RADIUS, changes={"upper_ball@upper_arm": inward})
    low, up, hub = p["lower_ball"][1:], p["upper_ball"][1:], p["wheel_centre"][1:]
    low_in, up_in = p["lower_arm_front"][1:], p["upper_arm_front"][1:]

    def turned(v: Floats, angle: float) -> Floats:
        return np.array([v[0] * np.cos(angle) - v[1] * np.sin(angle), v[0] * np.sin(angle) + v[1] * np.cos(angle)])

    def place(x: Floats) -> Floats:
        ball = low_in + turned(low - low_in, x[0])
        upper = ball + turned(up - low, x[1])
        height = ball[1] + turned(hub - low, x[1])[1] - hub[1]
        return np.array([np.hypot(*(upper - up_in)) - np.hypot(*(inward[1:] - up_in)), height])

    lean = root(place, np.zeros(2), tol=1e-13).x[1]
    # seen from behind a turn from outward to upward leans the top of a left wheel inward
    assert sweep_wheel(moved, np.zeros(1)).camber[0, 0] == pytest.approx(-lean, abs=1e-11)
    assert -lean == pytest.approx(-0.005 / 0.27, rel=0.1)


def test_every_node_is_at_rest() -> None:
    wheel = wishbone(bushes=ARM_BUSHES, spring=SpringRod(rate=90e3, free_length=0.52))
    solved = wheel.solve(TRAVEL, np.linspace(-0.04, 0.04, 3))
    for i in range(0, solved.inputs.shape[0], 5):
        here = evaluate(wheel.linkage, solved.coordinates[i], solved.rotation[i], solved.multipliers[i])
        assert np.abs(here.gradient[wheel.linkage.tables.free]).max() < 1e-3  # N, against kilonewtons in the joints
        assert np.abs(here.residual).max() < 1e-12
