"""Independent wheels against two outside solvers: MuJoCo (rigid pivots) and SciPy (arms on bushes).

MuJoCo is a general-purpose rigid-body engine; the same hardpoints go in as hinged arms, a sliding strut and a tie rod
on a sliding rack, and the wheel is driven slowly to its travel and steer. Aim: 0.01 mm and 0.002 deg.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import mujoco
import numpy as np
import pytest
from linkage_wheels import ARM_BUSHES, DEGREE, RADIUS, STRUT, WISHBONE, points
from scipy.optimize import least_squares
from scipy.spatial.transform import Rotation

from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage import build_wheel, sweep_wheel

MILLIMETRE = 1e-3
TRAVEL = np.linspace(-0.08, 0.08, 5)
RACK = np.linspace(-0.05, 0.05, 3)
INERTIA = '<inertial pos="0 0 0" mass="1" diaginertia="0.1 0.1 0.1"/>'


def text(v: Floats) -> str:
    return " ".join(f"{x:.15g}" for x in v)


def arm(name: str, front: Floats, rear: Floats) -> str:
    return (
        f'<body name="{name}" pos="{text(front)}">{INERTIA}'
        f'<joint type="hinge" axis="{text(front - rear)}" damping="1"/></body>'
    )


def mujoco_model(p: dict[str, Floats]) -> str:
    centre = p["wheel_centre"]
    joints = "".join(
        f'<joint name="{w}" type="{kind}" axis="{a}" damping="{c}"/>'
        for w, kind, a, c in (
            ("x", "slide", "1 0 0", 20), ("y", "slide", "0 1 0", 20), ("z", "slide", "0 0 1", 20),
            ("yaw", "hinge", "0 0 1", 2), ("pitch", "hinge", "0 1 0", 2), ("roll", "hinge", "1 0 0", 2),
        )
    )  # fmt: skip
    bodies = f'<body name="upright" pos="{text(centre)}">{INERTIA}{joints}</body>'
    equal = ""
    for which in ("lower", "upper"):
        if f"{which}_ball" not in p:
            continue
        front, rear, ball = p[f"{which}_arm_front"], p[f"{which}_arm_rear"], p[f"{which}_ball"]
        bodies += arm(f"{which}_arm", front, rear)
        equal += f'<connect body1="{which}_arm" body2="upright" anchor="{text(ball - front)}"/>'
    if "strut_top" in p:
        top, axis = p["strut_top"], p["strut_top"] - p["strut_lower"]
        bodies += (
            f'<body name="mount" pos="{text(top)}">{INERTIA}<joint type="ball" damping="0.5"/>'
            f'<body name="tube">{INERTIA}<joint type="slide" axis="{text(axis)}" damping="20"/></body></body>'
        )
        equal += '<weld body1="tube" body2="upright"/>'
    inner, outer = p["tie_rod_inner"], p["tie_rod_outer"]
    bodies += (
        f'<body name="rack" pos="{text(inner)}">{INERTIA}<joint name="rack" type="slide" axis="0 1 0" damping="20"/>'
        f'<body name="tie_rod">{INERTIA}<joint type="ball" damping="0.5"/></body></body>'
    )
    equal += f'<connect body1="tie_rod" body2="upright" anchor="{text(outer - inner)}"/>'
    equal += '<joint name="hold_z" joint1="z"/><joint name="hold_rack" joint1="rack"/>'
    return (
        '<mujoco><compiler angle="radian"/>'
        '<option timestep="0.002" gravity="0 0 0" tolerance="1e-12" iterations="200"/>'
        '<default><equality solref="0.01 1" solimp="0.999 0.9999 0.001"/></default>'
        f"<worldbody>{bodies}</worldbody><equality>{equal}</equality></mujoco>"
    )


@pytest.mark.parametrize(("layout", "table"), [("double_wishbone", WISHBONE), ("strut", STRUT)])
def test_wheel_against_mujoco(layout: str, table: dict[str, tuple[float, float, float]]) -> None:
    p = points(table)
    model = mujoco.MjModel.from_xml_string(mujoco_model(p))
    data = mujoco.MjData(model)
    hold = [mujoco.mj_name2id(model, mujoco.mjtObj.mjOBJ_EQUALITY, n) for n in ("hold_z", "hold_rack")]
    nodes = [(h, r) for k, h in enumerate(TRAVEL) for r in (RACK if k % 2 == 0 else RACK[::-1])]
    theirs = []
    for before, goal in pairwise([(0.0, 0.0), *nodes]):
        for share in np.linspace(0.0, 1.0, 31)[1:]:
            for k, row in enumerate(hold):
                model.eq_data[row, 0] = before[k] + share * (goal[k] - before[k])
            mujoco.mj_step(model, data, 5)
        for _ in range(100):
            mujoco.mj_step(model, data, 20)
            if np.abs(data.qvel).max() < 1e-7:
                break
        assert np.abs(data.qvel).max() < 1e-5, "MuJoCo has not come to rest"
        theirs.append([data.joint(n).qpos[0] for n in ("x", "y", "z", "yaw", "pitch", "roll")])
    wheel = build_wheel(layout, p, wheel_radius=RADIUS)
    solved = wheel.solve(TRAVEL, RACK)
    rows = [int(np.argmin(np.abs(TRAVEL - h))) * RACK.size + int(np.argmin(np.abs(RACK - r))) for h, r in nodes]
    ours = solved.coordinates[rows, :6]
    found = np.array(theirs)
    assert np.abs(found[:, :3] - (ours[:, :3] - wheel.centre)).max() < 0.01 * MILLIMETRE
    assert np.abs(found[:, 3:] - ours[:, 3:]).max() < 0.002 * DEGREE


def residuals(x: Floats, p: dict[str, Floats], travel: float, rack: float) -> Floats:
    """Square roots of twice the energy of every bush row; balls and tie rod with 1e12 N/m; apart from the solver."""
    centre = p["wheel_centre"]
    upright = centre + np.array([x[0], x[1], travel])
    turn = Rotation.from_euler("ZYX", x[2:5])
    rows: list[float] = []
    for k, name in enumerate(("lower", "upper")):
        home, ball = p[f"{name}_ball"], p[f"{name}_ball"]
        shift = x[5 + 6 * k : 8 + 6 * k]
        arm_turn = Rotation.from_rotvec(x[8 + 6 * k : 11 + 6 * k])
        line = p[f"{name}_arm_front"] - p[f"{name}_arm_rear"]
        third = line / np.linalg.norm(line)
        first = np.cross(third, [0.3, 0.8, 0.5])
        first /= np.linalg.norm(first)
        second = np.cross(third, first)
        for end in ("front", "rear"):
            at = p[f"{name}_arm_{end}"]
            gap = home + shift + arm_turn.apply(at - home) - at
            tilt, b1, b2 = (arm_turn.apply(v) for v in (third, first, second))
            twist = np.arctan2(b1 @ second - b2 @ first, b1 @ first + b2 @ second)
            k_bush = ARM_BUSHES[f"{name}_arm_{end}"]
            rows += [np.sqrt(k_bush.radial) * (gap @ v) for v in (first, second)]
            rows += [np.sqrt(k_bush.axial) * (gap @ third), np.sqrt(k_bush.torsional) * twist]
            rows += [np.sqrt(k_bush.conical) * (tilt @ v) for v in (first, second)]
        rows += list(1e6 * (upright + turn.apply(ball - centre) - home - shift))
    outer, inner = upright + turn.apply(p["tie_rod_outer"] - centre), p["tie_rod_inner"] + np.array([0.0, rack, 0.0])
    rows.append(1e6 * (np.linalg.norm(outer - inner) - np.linalg.norm(p["tie_rod_outer"] - p["tie_rod_inner"])))
    return np.array(rows)


@pytest.mark.parametrize(("travel", "rack"), [(-0.08, 0.0), (0.07, 0.03)])
def test_bushed_wishbones_against_an_energy_minimum_by_scipy(travel: float, rack: float) -> None:
    p = points(WISHBONE)
    solved = build_wheel("double_wishbone", p, wheel_radius=RADIUS, bushes=ARM_BUSHES).solve(
        np.array([travel]), np.array([rack])
    )
    x = np.zeros(17)
    for share in (0.25, 0.5, 0.75, 1.0):
        fit = least_squares(
            residuals, x, args=(p, share * travel, share * rack), method="lm", xtol=1e-15, ftol=1e-15, gtol=1e-15,
            x_scale=np.r_[1.0, 1.0, np.full(3, 2.0), 1.0, 1.0, 1.0, np.full(3, 2.0), 1.0, 1.0, 1.0, np.full(3, 2.0)],
        )  # fmt: skip
        x = fit.x
    q = solved.coordinates[0]
    assert fit.x[:2] == pytest.approx([q[0], q[1] - p["wheel_centre"][1]], abs=2e-8)
    assert fit.x[2:5] == pytest.approx(q[3:6], abs=2e-7)
    assert fit.cost == pytest.approx(solved.energy[0], rel=1e-5)


def test_stiff_bushes_approach_rigid_pivots() -> None:
    """A wishbone is determinate, so rigid pivots are its limit; the error falls as the rates rise."""
    p = points(WISHBONE)
    rigid = sweep_wheel(build_wheel("double_wishbone", p, wheel_radius=RADIUS), TRAVEL)
    off = []
    for factor in (1.0, 100.0):
        bushes = {n: replace(b, radial=factor * b.radial, axial=factor * b.axial) for n, b in ARM_BUSHES.items()}
        soft = sweep_wheel(build_wheel("double_wishbone", p, wheel_radius=RADIUS, bushes=bushes), TRAVEL)
        off.append(float(np.abs(soft.camber - rigid.camber).max()))
    assert off[0] < 0.1 * DEGREE
    assert off[1] == pytest.approx(off[0] / 100.0, rel=0.1)
