"""Axles on leaf springs against two outside models: a beam of large deflections (SciPy) and MuJoCo."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import mujoco
import numpy as np
import pytest
from linkage_elastica import Half, Rest, eye_path, whole_spring
from linkage_wheels import LEAF, leaf_axle, leaf_pair, points
from scipy.optimize import brentq

from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage import (
    UNIFORM_SECTION,
    UNIFORM_STRENGTH,
    Axle,
    BushRates,
    LeafHalf,
    LeafShape,
    LeafSprings,
    WheelForce,
    build_axle,
    sweep,
    under_load,
)
from tussock.mechanics.linkage.model import CHASSIS, Joint

MILLIMETRE, DEGREE = 1e-3, np.pi / 180.0
#: Eyes that hardly give, for comparison with pinned ones.
PIN = BushRates(radial=1e9, axial=1e9, conical=0.001, torsional=0.001)
#: A shackle may not spin about its own length.
PINS = {"fixed_eye": PIN, "shackle_eye": PIN, "shackle_pivot": replace(PIN, conical=10.0, torsional=0.1)}


@pytest.mark.parametrize(("kind", "shape"), [("section", UNIFORM_SECTION), ("strength", UNIFORM_STRENGTH)])
def test_path_of_the_eye_of_a_straight_leaf(kind: str, shape: LeafShape) -> None:
    """A link of the given share of the cantilever goes where the eye of the beam goes, to a third of the length."""
    half = Half(0.6, 2000.0, kind, 0.0, 1.0)  # type: ignore[arg-type]
    for load in (1500.0, 4000.0, 6500.0):
        angle = brentq(lambda a, load=load: eye_path(half, np.array([0.0, load]), a)[1], 0.0, 1.5)  # type: ignore[misc]
        (out, up), _ = eye_path(half, np.array([0.0, load]), angle)
        link = shape.link * half.length
        theirs, ours = half.length - out, link - np.sqrt(link**2 - up**2)
        assert ours == pytest.approx(theirs, rel=0.025)
    assert up > 0.3 * half.length


@pytest.mark.parametrize(("kind", "shape"), [("section", UNIFORM_SECTION), ("strength", UNIFORM_STRENGTH)])
@pytest.mark.parametrize("known", ["load", "camber"])
def test_whole_spring_on_its_shackle_against_a_beam_of_large_deflections(
    kind: str, shape: LeafShape, known: str
) -> None:
    """Fore-aft path, wind-up in heave and load of an unsymmetric spring over 160 mm; its rate too, by its loads."""
    clamp, curvature, stiffness = 0.10, 0.89, 206e9 * 0.065 * 5 * 0.007**3 / 12
    front, rear = Half(0.57, stiffness, kind, curvature, 1.0), Half(0.63, stiffness, kind, curvature, -1.0)  # type: ignore[arg-type]
    fixed, pivot = np.array([-2.48, 0.50]), np.array([-3.765, 0.655])

    def beam(z: float, start: Floats) -> tuple[Rest, Floats]:
        return whole_spring(
            front, rear, fixed_eye=fixed, pivot=pivot, shackle=0.125, clamp=clamp, start=start, z=z
        )  # fmt: skip

    y = np.array([0.1, 0.1, 0.0, -0.16, 0.0, -0.16, -3.1, 0.0])
    for z in (0.48, 0.44):
        stock, y = beam(z, y)
    free = [(half.length, (1.0 - np.cos(curvature * half.length)) / curvature) for half in (front, rear)]
    out = [np.sin(curvature * length) / curvature + 0.5 * clamp for length, _ in free]
    line = np.hypot(sum(out), free[0][1] - free[1][1])
    camber = (free[0][1] * out[1] + free[1][1] * out[0]) / line
    side = 0.56
    table = points({
        "wheel_centre": (stock.x, 0.78, stock.z), "leaf_seat": (stock.x, side, stock.z),
        "leaf_seat_front": (stock.x + np.cos(stock.pitch), side, stock.z - np.sin(stock.pitch)),
        "fixed_eye": (fixed[0], side, fixed[1]), "shackle_eye": (stock.eye[0], side, stock.eye[1]),
        "shackle_pivot": (pivot[0], side, pivot[1]),
    })  # fmt: skip
    springs = LeafSprings(
        front=LeafHalf(rate=front.rate, lateral=1e6, torsion=2000.0),
        rear=LeafHalf(rate=rear.rate, lateral=1e6, torsion=2000.0), clamp=clamp, shape=shape,
        **({"load": stock.load} if known == "load" else {"free_camber": camber}),
    )  # fmt: skip
    axle = build_axle("leaf_springs", table, wheel_radius=0.365, bushes=PINS, leaf_springs=springs)
    heights = np.array([0.38, 0.41, 0.44, 0.47, 0.50, 0.54])
    curves = sweep(axle, heights - stock.z, np.zeros(1))
    loads = []
    # down from stock, then up from it, each from its neighbour
    found = {}
    for order in ((2, 1, 0), (3, 4, 5)):
        state = y
        for k in order:
            found[k], state = beam(heights[k], state)
    for k in range(heights.size):
        theirs = found[k]
        assert abs(curves.centre[k, 0, 0] - theirs.x) < 0.08 * MILLIMETRE
        assert abs(curves.pitch[k, 0] - (theirs.pitch - stock.pitch)) < (0.01 if known == "load" else 0.04) * DEGREE
        loads.append((0.5 * curves.heave_force[k, 0], theirs.load))
    ours, beams = np.array(loads).T
    assert np.abs(ours - beams).max() < 0.006 * beams.max()
    # the rate between stock and 100 mm of bump
    assert ours[5] - ours[2] == pytest.approx(beams[5] - beams[2], rel=0.003)


@pytest.mark.parametrize("force", [-3000.0, 2000.0])
def test_wind_up_under_brake_and_drive_force_against_the_beam(force: float) -> None:
    """Force at the contact patch of each wheel: some 3 deg of pitch within 2 per cent, fore-aft shift within 0.3 mm."""
    clamp, curvature, stiffness = 0.10, 0.89, 206e9 * 0.065 * 5 * 0.007**3 / 12
    front, rear = (Half(length, stiffness, "strength", curvature, out) for length, out in ((0.57, 1.0), (0.63, -1.0)))
    fixed, pivot, radius = np.array([-2.48, 0.50]), np.array([-3.765, 0.655]), 0.365

    def beam(z: float, start: Floats, share: float) -> tuple[Rest, Floats]:
        return whole_spring(
            front, rear, fixed_eye=fixed, pivot=pivot, shackle=0.125, clamp=clamp, start=start, z=z,
            push=share * force, torque=-share * force * radius,
        )  # fmt: skip

    y = np.array([0.1, 0.1, 0.0, -0.16, 0.0, -0.16, -3.1, 0.0])
    for z in (0.48, 0.44):
        stock, y = beam(z, y, 0.0)
    loaded = stock
    for share in (0.25, 0.5, 0.75, 1.0):
        loaded, y = beam(0.44, y, share)
    side = 0.56
    table = points({
        "wheel_centre": (stock.x, 0.78, stock.z), "leaf_seat": (stock.x, side, stock.z),
        "leaf_seat_front": (stock.x + np.cos(stock.pitch), side, stock.z - np.sin(stock.pitch)),
        "fixed_eye": (fixed[0], side, fixed[1]), "shackle_eye": (stock.eye[0], side, stock.eye[1]),
        "shackle_pivot": (pivot[0], side, pivot[1]),
    })  # fmt: skip
    springs = LeafSprings(
        front=LeafHalf(rate=front.rate, lateral=1e6, torsion=2000.0),
        rear=LeafHalf(rate=rear.rate, lateral=1e6, torsion=2000.0), clamp=clamp, load=stock.load,
    )  # fmt: skip
    axle = build_axle("leaf_springs", table, wheel_radius=radius, bushes=PINS, leaf_springs=springs)
    state = under_load(axle, 0.0, [WheelForce(forward=force)] * 2)
    assert -state.caster.mean() == pytest.approx(loaded.pitch - stock.pitch, rel=0.02)
    assert abs(loaded.pitch - stock.pitch) > 1.5 * DEGREE
    assert state.centre[:, 0].mean() == pytest.approx(loaded.x - stock.x, abs=0.3 * MILLIMETRE)


def mujoco_leaf(axle: Axle) -> mujoco.MjModel:
    """The axle, its half leaves as three hinges in series with springs, pinned shackles, eyes held to points."""
    parts = axle.linkage
    joints = {e.name: e for e in parts.elements if isinstance(e, Joint)}

    def text(v: Floats) -> str:
        return " ".join(f"{x:.15g}" for x in v)

    inertia = '<inertial pos="0 0 0" mass="20" diaginertia="20 20 20"/>'
    light = '<inertial pos="0 0 0" mass="20" diaginertia="0.2 0.2 0.2"/>'
    inside = world = equal = ""
    for side in ("left", "right"):
        for leaf, eye in (("fixed_leaf", "fixed_eye"), ("shackle_leaf", "shackle_eye")):
            name = f"{leaf}_{side}"
            bend, held = joints[name], joints[f"{eye}_{side}"]
            first, up, third = bend.frame_a
            rates = [row.rate for row in bend.rows[3:] if row is not None]
            # the axle's sleeve is turned against the leaf by minus the leaf's rise from free
            free = np.arctan2(bend.frame_b[0] @ up, bend.frame_b[0] @ first)
            at = bend.point_a - axle.centre
            chain = (
                f'<joint name="rise_{name}" type="hinge" axis="{text(third)}" stiffness="{rates[2]:.15g}"'
                f' springref="{free:.15g}" damping="600"/>'
                f'<joint type="hinge" axis="{text(up)}" stiffness="{rates[0]:.15g}" damping="600"/>'
                f'<joint type="hinge" axis="{text(first)}" stiffness="{rates[1]:.15g}" damping="600"/>'
            )
            inside += f'<body name="{name}" pos="{text(at)}">{inertia}{chain}</body>'
            lever = held.point_a - bend.point_a
            if held.body_b == CHASSIS:
                equal += f'<connect body1="{name}" anchor="{text(lever)}"/>'
            else:
                pivot = joints[f"shackle_pivot_{side}"].point_b
                world += (
                    f'<body name="shackle_{side}" pos="{text(pivot)}">{light}'
                    f'<joint type="ball" damping="2" stiffness="10"/></body>'
                )
                equal += f'<connect body1="shackle_{side}" body2="{name}" anchor="{text(held.point_b - pivot)}"/>'
    drive = "".join(
        f'<joint name="{w}" type="slide" axis="{a}" damping="4000"/>'
        for w, a in (("x", "1 0 0"), ("y", "0 1 0"), ("z", "0 0 1"))
    ) + "".join(
        f'<joint name="{w}" type="hinge" axis="{a}" damping="400"/>'
        for w, a in (("yaw", "0 0 1"), ("pitch", "0 1 0"), ("roll", "1 0 0"))
    )
    equal += '<joint name="hold_z" joint1="z"/><joint name="hold_roll" joint1="roll"/>'
    return mujoco.MjModel.from_xml_string(
        '<mujoco><compiler angle="radian"/>'
        '<option timestep="0.001" gravity="0 0 0" tolerance="1e-14" iterations="300" integrator="implicit"/>'
        '<default><equality solref="0.005 1" solimp="0.99999 0.999999 0.001"/></default>'
        f'<worldbody><body name="axle" pos="{text(axle.centre)}">{inertia}{drive}{inside}</body>{world}</worldbody>'
        f"<equality>{equal}</equality></mujoco>"
    )


def test_leaf_sprung_axle_against_mujoco() -> None:
    """Lateral and fore-aft place, axle steer and wind-up over heave and roll; limits asked for 0.1 mm and 0.01 deg."""
    table = points(LEAF, fixed_eye=(-2.48, 0.53, 0.445))  # splayed in plan
    axle = build_axle("leaf_springs", table, wheel_radius=0.365, bushes=PINS, leaf_springs=leaf_pair())
    model = mujoco_leaf(axle)
    data = mujoco.MjData(model)
    hold = [mujoco.mj_name2id(model, mujoco.mjtObj.mjOBJ_EQUALITY, n) for n in ("hold_z", "hold_roll")]
    nodes = [(0.0, 0.0), (0.06, 0.0), (0.06, 0.08), (0.0, 0.08), (-0.06, 0.08), (-0.06, 0.0), (-0.06, -0.05)]
    for before, goal in pairwise([(0.0, 0.0), *nodes]):
        for share in np.linspace(0.0, 1.0, 21)[1:]:
            for k, row in enumerate(hold):
                model.eq_data[row, 0] = before[k] + share * (goal[k] - before[k])
            mujoco.mj_step(model, data, 10)
        for _ in range(200):
            mujoco.mj_step(model, data, 50)
            if np.abs(data.qvel).max() < 1e-6:
                break
        assert np.abs(data.qvel).max() < 1e-5, "MuJoCo has not come to rest"
        theirs = np.array([data.joint(n).qpos[0] for n in ("x", "y", "yaw", "pitch", "z", "roll")])
        ours = axle.solve(np.array([theirs[4]]), np.array([theirs[5]])).coordinates[0]
        assert abs(theirs[4] - goal[0]) < 0.05 * MILLIMETRE
        assert abs(ours[0] - axle.centre[0] - theirs[0]) < 0.01 * MILLIMETRE
        assert abs(ours[1] - theirs[1]) < 0.01 * MILLIMETRE
        assert abs(ours[3] - theirs[2]) < 0.002 * DEGREE
        assert abs(ours[4] - theirs[3]) < 0.002 * DEGREE


def test_wind_up_of_the_axle_against_the_cantilevers() -> None:
    """Torque about the axle's line at held heave: k_a a^2 + k_b b^2 for each spring (derived, springs reference 3)."""
    from tussock.mechanics.linkage import axle_compliance

    flat = points(
        LEAF, fixed_eye=(-2.48, 0.56, 0.43), shackle_eye=(-3.78, 0.56, 0.43), shackle_pivot=(-3.78, 0.56, 0.55),
        wheel_centre=(-3.1, 0.78, 0.43),
    )  # fmt: skip
    axle = leaf_axle(flat, bushes=PINS, leaf_springs=leaf_pair(load=0.0))
    springs = leaf_pair()
    expected = 2.0 * (springs.front.rate * 0.62**2 + springs.rear.rate * 0.68**2)
    assert 1.0 / axle_compliance(axle, np.zeros(1), np.zeros(1)).wind_up[0, 0] == pytest.approx(expected, rel=0.002)
