"""Whole axles against two outside solvers: MuJoCo (rigid rods as bodies and constraints) and SciPy (bushed arms).

MuJoCo is a general-purpose rigid-body engine. The same hardpoints go in as bodies held by `connect` constraints, the
axle is driven to its heave and roll, and the pose is read once everything has come to rest without gravity.
"""

from __future__ import annotations

from itertools import pairwise

import mujoco
import numpy as np
import pytest
from linkage_axles import BUSHES, FRONT, points, three_links
from scipy.optimize import least_squares
from scipy.spatial.transform import Rotation

from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage import Axle, BushRates, build_axle
from tussock.mechanics.linkage.model import CHASSIS, HARD, Body, Joint, Rod, build_linkage
from tussock.mechanics.linkage.solver import plan_grid, run, solve_home

MILLIMETRE, DEGREE = 1e-3, np.pi / 180.0
HEAVE = np.linspace(-0.08, 0.08, 5)
ROLL = np.deg2rad(np.linspace(-5.0, 5.0, 5))


def mujoco_model(centre: Floats, rods: list[Rod], *, knuckles: Floats | None = None, ball: Floats | None = None) -> str:
    """Model text: an axle with six joints, every rod a body on a ball at one end, connected at the other."""

    def text(v: Floats) -> str:
        return " ".join(f"{x:.15g}" for x in v)

    inertia = '<inertial pos="0 0 0" mass="1" diaginertia="0.1 0.1 0.1"/>'
    knuckle_bodies = ""
    if knuckles is not None:
        for side, (low, axis) in zip(("left", "right"), knuckles, strict=True):
            knuckle_bodies += (
                f'<body name="knuckle_{side}" pos="{text(low - centre)}">{inertia}'
                f'<joint name="pin_{side}" type="hinge" axis="{text(axis)}" damping="1"/></body>'
            )
    joints = "".join(
        f'<joint name="{w}" type="slide" axis="{a}" damping="20"/>'
        for w, a in (("x", "1 0 0"), ("y", "0 1 0"), ("z", "0 0 1"))
    )
    joints += "".join(
        f'<joint name="{w}" type="hinge" axis="{a}" damping="2"/>'
        for w, a in (("yaw", "0 0 1"), ("pitch", "0 1 0"), ("roll", "1 0 0"))
    )
    bodies = f'<body name="axle" pos="{text(centre)}">{inertia}{joints}{knuckle_bodies}</body>'
    equal = ""
    for rod in rods:
        span = rod.point_a - rod.point_b
        bodies += f'<body name="{rod.name}" pos="{text(rod.point_b)}">{inertia}'
        if rod.body_b == CHASSIS:
            bodies += f'<joint name="ball_{rod.name}" type="ball" damping="0.5"/></body>'
        else:
            bodies += f'<freejoint name="free_{rod.name}"/></body>'
            equal += f'<connect body1="{rod.name}" body2="{rod.body_b}" anchor="0 0 0"/>'
        equal += f'<connect body1="{rod.name}" body2="{rod.body_a}" anchor="{text(span)}"/>'
    if ball is not None:
        equal += f'<connect body1="axle" anchor="{text(ball - centre)}"/>'
    equal += '<joint name="hold_z" joint1="z"/><joint name="hold_roll" joint1="roll"/>'
    return (
        '<mujoco><compiler angle="radian"/>'
        '<option timestep="0.002" gravity="0 0 0" tolerance="1e-12" iterations="200"/>'
        '<default><equality solref="0.01 1" solimp="0.999 0.9999 0.001"/></default>'
        f"<worldbody>{bodies}</worldbody><equality>{equal}</equality></mujoco>"
    )


def mujoco_poses(model_text: str, nodes: list[tuple[float, float]], names: tuple[str, ...]) -> Floats:
    """Joint values at rest for each (heave, roll), reached by moving slowly from node to node."""
    model = mujoco.MjModel.from_xml_string(model_text)
    data = mujoco.MjData(model)
    hold = [mujoco.mj_name2id(model, mujoco.mjtObj.mjOBJ_EQUALITY, n) for n in ("hold_z", "hold_roll")]
    address = [model.joint(name).qposadr[0] for name in names]
    found = []
    for before, goal in pairwise([(0.0, 0.0), *nodes]):
        for share in np.linspace(0.0, 1.0, 21)[1:]:
            for k, row in enumerate(hold):
                model.eq_data[row, 0] = before[k] + share * (goal[k] - before[k])
            mujoco.mj_step(model, data, 5)
        for _ in range(60):
            mujoco.mj_step(model, data, 20)
            if np.abs(data.qvel).max() < 1e-7:
                break
        assert np.abs(data.qvel).max() < 1e-5, "MuJoCo has not come to rest"
        for k, name in enumerate(("z", "roll")):
            assert abs(data.joint(name).qpos[0] - goal[k]) < 1e-6
        found.append(data.qpos[address].copy())
    return np.array(found)


def snake() -> list[tuple[float, float]]:
    """Nodes in an order without long jumps."""
    return [(h, r) for k, h in enumerate(HEAVE) for r in (ROLL if k % 2 == 0 else ROLL[::-1])]


def rods_of(axle: Axle) -> list[Rod]:
    return [e for e in axle.linkage.elements if isinstance(e, Rod)]


def compare(axle: Axle, *, knuckles: Floats | None = None) -> None:
    """Position, axle steer and caster (the limits asked for are 0.1 mm and 0.01 deg)."""
    nodes = snake()
    names: tuple[str, ...] = ("x", "y", "yaw", "pitch")
    if knuckles is not None:
        names += ("pin_left", "pin_right")
    theirs = mujoco_poses(mujoco_model(axle.centre, rods_of(axle), knuckles=knuckles), nodes, names)
    ours = axle.solve(HEAVE, ROLL)
    rows = [int(np.argmin(np.abs(HEAVE - h))) * ROLL.size + int(np.argmin(np.abs(ROLL - r))) for h, r in nodes]
    q = ours.coordinates[rows]
    assert np.abs(theirs[:, 0] - (q[:, 0] - axle.centre[0])).max() < 0.001 * MILLIMETRE
    assert np.abs(theirs[:, 1] - q[:, 1]).max() < 0.001 * MILLIMETRE
    assert np.abs(theirs[:, 2] - q[:, 3]).max() < 0.0001 * DEGREE
    assert np.abs(theirs[:, 3] - q[:, 4]).max() < 0.0001 * DEGREE
    if knuckles is not None:
        assert np.abs(theirs[:, 4:6] - q[:, 6:8]).max() < 0.0001 * DEGREE


def test_three_links_and_track_rod_against_mujoco() -> None:
    compare(build_axle("links_track_rod", three_links(), wheel_radius=0.361, central={"upper_link"}))


def test_splayed_four_links_against_mujoco() -> None:
    """Four rods and no track rod: the upper pair, splayed, holds the axle sideways."""
    table = {k: v for k, v in three_links().items() if not k.startswith(("track", "upper"))}
    table["upper_link_axle"], table["upper_link_chassis"] = (
        np.array([-2.706, 0.08, 0.52]),
        np.array([-2.15, 0.42, 0.545]),
    )
    compare(build_axle("links", table, wheel_radius=0.361))


def test_steered_axle_on_three_links_against_mujoco() -> None:
    """Knuckles, tie rod and drag link of the wagon's front axle on a determinate set of links."""
    links = {
        "lower_link_axle": (0.01, 0.43, 0.30), "lower_link_chassis": (-0.86, 0.41, 0.43),
        "upper_link_axle": (0.0, -0.22, 0.55), "upper_link_chassis": (-0.55, -0.25, 0.60),
    }  # fmt: skip
    table = {k: v for k, v in points(FRONT, **links).items() if not k.startswith("arm")}
    axle = build_axle("links_track_rod", table, wheel_radius=0.361, central={"upper_link"}, steering=True)
    assert axle.king_pin is not None
    mirror = np.array([1.0, -1.0, 1.0])
    low = np.array(FRONT["king_pin_lower"])
    knuckles = np.array([[low, axle.king_pin[0]], [low * mirror, axle.king_pin[1]]])
    compare(axle, knuckles=knuckles)


def test_axle_with_a_ball_and_a_link_against_mujoco() -> None:
    """One arm rigid with the axle on a ball at the chassis, one link on the other side: determinate."""
    centre, pivot = np.array([0.0, 0.0, 0.361]), np.array([-0.885, 0.412, 0.432])
    ball = Joint(
        name="ball", body_a=CHASSIS, body_b="axle", point_a=pivot, point_b=pivot,
        rows=(HARD, HARD, HARD, None, None, None),
    )  # fmt: skip
    a, b = np.array([0.02, -0.43, 0.34]), np.array([-0.885, -0.412, 0.432])
    link = Rod(name="link", body_a="axle", body_b=CHASSIS, point_a=a, point_b=b, length=float(np.linalg.norm(a - b)))
    linkage = build_linkage(
        [Body(name="axle", kind="carrier", at=centre)], [ball, link], [("axle", "z"), ("axle", "roll")]
    )
    zero = np.array([0.361, 0.0])
    plan = plan_grid(HEAVE, ROLL)
    ours = run(linkage, plan.inputs + zero, plan.parent, plan.grand, start=solve_home(linkage, zero).coordinates[0])
    nodes = snake()
    theirs = mujoco_poses(mujoco_model(centre, [link], ball=pivot), nodes, ("x", "y", "yaw", "pitch"))
    rows = [plan.wanted[int(np.argmin(np.abs(HEAVE - h))), int(np.argmin(np.abs(ROLL - r)))] for h, r in nodes]
    q = ours.coordinates[rows]
    assert np.abs(theirs[:, :2] - q[:, :2]).max() < 0.001 * MILLIMETRE
    assert np.abs(theirs[:, 2:] - q[:, 3:5]).max() < 0.0001 * DEGREE


def bush_residuals(x: Floats, heave: float, roll: float, rates: dict[str, BushRates]) -> Floats:
    """Square roots of twice the energy of every bush row, written apart from the solver; track rod 1e12 N/m."""
    mirror = np.array([1.0, -1.0, 1.0])
    centre = np.array([0.0, 0.0, 0.361])
    axle_at = centre + np.array([x[0], x[1], heave])
    axle_turn = Rotation.from_euler("ZYX", [x[2], x[3], roll])
    rows: list[float] = []
    for side in (0, 1):
        own = np.ones(3) if side == 0 else mirror
        pivot = np.array(FRONT["arm_chassis"]) * own
        shift, turn = x[4 + 6 * side : 7 + 6 * side], Rotation.from_rotvec(x[7 + 6 * side : 10 + 6 * side])
        across = np.array([0.0, 1.0, 0.0]) * own
        first = np.array([1.0, 0.0, 0.0])
        second = np.cross(across, first)
        for name in ("arm_chassis", "arm_axle_front", "arm_axle_rear"):
            at = np.array(FRONT[name]) * own
            here = pivot + shift + turn.apply(at - pivot)
            other, other_turn = (
                (at, Rotation.identity())
                if name == "arm_chassis"
                else (axle_at + axle_turn.apply(at - centre), axle_turn)
            )
            gap = turn.inv().apply(other - here)
            relative = turn.inv() * other_turn
            tilt = relative.apply(across)
            b1, b2 = relative.apply(first), relative.apply(second)
            twist = np.arctan2(b1 @ second - b2 @ first, b1 @ first + b2 @ second)
            k = rates[name]
            rows += [
                np.sqrt(k.radial) * (gap @ first),
                np.sqrt(k.radial) * (gap @ second),
                np.sqrt(k.axial) * (gap @ across),
            ]
            rows += [
                np.sqrt(k.conical) * (tilt @ first),
                np.sqrt(k.conical) * (tilt @ second),
                np.sqrt(k.torsional) * twist,
            ]
    a, b = np.array(FRONT["track_rod_axle"]), np.array(FRONT["track_rod_chassis"])
    rows.append(1e6 * (np.linalg.norm(axle_at + axle_turn.apply(a - centre) - b) - np.linalg.norm(a - b)))
    return np.array(rows)


@pytest.mark.parametrize(("heave", "roll"), [(-0.08, 0.0), (0.06, np.deg2rad(5.0)), (-0.05, np.deg2rad(-8.0))])
def test_bushed_arms_against_an_energy_minimum_by_scipy(heave: float, roll: float) -> None:
    axle = build_axle("arms_track_rod", points(FRONT), wheel_radius=0.361, bushes=BUSHES, steering=True)
    s = axle.solve(np.array([heave]), np.array([roll]))
    start = np.zeros(16)
    for share in (0.25, 0.5, 0.75, 1.0):
        fit = least_squares(
            bush_residuals,
            start,
            args=(share * heave, share * roll, BUSHES),
            method="lm",
            xtol=1e-15,
            ftol=1e-15,
            gtol=1e-15,
        )
        start = fit.x
    q = s.coordinates[0]
    assert fit.x[:2] == pytest.approx([q[0], q[1]], abs=2e-8)
    assert fit.x[2:4] == pytest.approx(q[3:5], abs=2e-7)
    assert fit.cost == pytest.approx(s.energy[0], rel=1e-6)
