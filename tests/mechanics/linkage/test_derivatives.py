"""Exact derivatives against central differences, and the compiled kernels against the same code in plain Python."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage.diagnosis import Evaluation, evaluate
from tussock.mechanics.linkage.model import CHASSIS, Body, Joint, Linkage, Rod, Row, build_linkage

FREE = 1  # index of the free (increment) body below


def tangle(seed: int) -> Linkage:
    """Every kind of body and joint in one linkage, hinges and slides on moving parents among them."""
    rng = np.random.default_rng(seed)

    def point() -> Floats:
        return rng.normal(size=3)

    bodies = [
        Body(name="axle", kind="carrier", at=point()),
        Body(name="arm", kind="free", at=point()),
        Body(name="knuckle", kind="hinge", at=point(), parent="axle", anchor=point(), axis=point()),
        Body(name="pitman", kind="hinge", at=point(), anchor=point(), axis=point()),
        Body(name="rack", kind="slide", at=point(), parent="axle", anchor=point(), axis=point()),
        Body(name="lever", kind="hinge", at=point(), parent="knuckle", anchor=point(), axis=point()),
    ]

    def law() -> Row | None:
        kind = rng.integers(0, 3)
        if kind == 0:
            return None
        if kind == 1:
            return Row(hard=True)
        return Row(rate=rng.uniform(0.2, 2.0), progressive=rng.uniform(0.0, 1.0), gap=rng.uniform(0.0, 0.5))

    elements: list[Rod | Joint] = []
    for k, (a, b) in enumerate(
        [("axle", CHASSIS), ("axle", "arm"), ("knuckle", "pitman"), ("rack", "lever"), ("lever", "axle")]
    ):
        elements.append(
            Rod(
                name=f"rod {k}",
                body_a=a,
                body_b=b,
                point_a=point(),
                point_b=point(),
                length=0.7,
                law=law() or Row(hard=True),
            )
        )
    for k, (a, b) in enumerate(
        [
            ("arm", CHASSIS),
            ("axle", "arm"),
            ("arm", "axle"),
            ("knuckle", CHASSIS),
            ("lever", "arm"),
            (CHASSIS, "rack"),
            ("pitman", "rack"),
        ]
    ):
        frames = Rotation.random(2, random_state=seed * 100 + k).as_matrix()
        elements.append(
            Joint(
                name=f"joint {k}", body_a=a, body_b=b, point_a=point(), point_b=point(),
                rows=(law(), law(), law(), law(), law(), law()), frame_a=frames[0], frame_b=frames[1],
            )
        )  # fmt: skip
    return build_linkage(bodies, elements, [("axle", "z"), ("axle", "roll")])


def pose_of(linkage: Linkage, seed: int) -> tuple[Floats, Floats, Floats]:
    """Random coordinates, attitude of the free body and multipliers; rotation increment zero, as in the solver."""
    rng = np.random.default_rng(seed)
    q = linkage.start + 0.5 * rng.normal(size=linkage.start.size)
    q[9:12] = 0.0
    rotation = np.tile(np.eye(3), (len(linkage.bodies), 1, 1))
    rotation[FREE] = Rotation.random(random_state=seed + 7).as_matrix()
    return q, rotation, rng.normal(size=len(linkage.hard_rows))


@pytest.mark.parametrize("seed", range(6))
def test_gradient_jacobian_and_hessian_equal_central_differences(seed: int) -> None:
    linkage = tangle(seed)
    q, rotation, multipliers = pose_of(linkage, seed)

    def at(x: Floats) -> Evaluation:
        return evaluate(linkage, x, rotation, multipliers)

    here = at(q)
    step = 2e-4
    # fourth order: the terms left are of step^4
    stencil = {-2: 1.0, -1: -8.0, 1: 8.0, 2: -1.0}
    near = [{k: at(q + k * step * unit) for k in stencil} for unit in np.eye(q.size)]

    def difference(read: Callable[[Evaluation], Floats | float]) -> Floats:
        return np.array([sum(w * np.asarray(read(side[k])) for k, w in stencil.items()) / (12 * step) for side in near])

    gradient = difference(lambda e: e.energy + float(e.residual @ multipliers))
    jacobian = difference(lambda e: e.residual).T
    hessian = difference(lambda e: e.gradient)
    # the spatial gradient of a rotation vector differentiates to the Hessian plus an antisymmetric part
    turn = slice(9, 12)
    hessian[turn, turn] = 0.5 * (hessian[turn, turn] + hessian[turn, turn].T)
    assert np.abs(gradient - here.gradient).max() < 1e-9 * np.abs(here.gradient).max()
    assert np.abs(jacobian - here.jacobian).max() < 1e-9 * np.abs(here.jacobian).max()
    assert np.abs(hessian - here.hessian).max() < 1e-9 * np.abs(here.hessian).max()
    assert np.abs(here.hessian - here.hessian.T).max() < 1e-13 * np.abs(here.hessian).max()


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 10_000), shift=st.tuples(*[st.floats(-2.0, 2.0)] * 3))
def test_energy_does_not_see_where_the_vehicle_stands(seed: int, shift: tuple[float, float, float]) -> None:
    """Moving chassis points and stock pose together changes nothing."""
    rng = np.random.default_rng(seed)
    a, b, c = rng.normal(size=(3, 3))
    move = np.array(shift)

    def energy(offset: Floats) -> float:
        body = Body(name="axle", kind="carrier", at=a + offset)
        bush = Joint(
            name="bush", body_a="axle", body_b=CHASSIS, point_a=b + offset, point_b=c + offset,
            rows=(Row(rate=3.0), Row(rate=2.0), Row(rate=1.0), Row(rate=0.5), Row(rate=0.5), Row(rate=0.1)),
        )  # fmt: skip
        linkage = build_linkage([body], [bush], [])
        return evaluate(linkage, linkage.start + np.array([0.1, -0.2, 0.05, 0.2, -0.1, 0.3])).energy

    assert energy(move) == pytest.approx(energy(np.zeros(3)), rel=1e-11)


TWIN = """
import json, sys
import numpy as np
sys.path.insert(0, sys.argv[1])
from linkage_axles import BUSHES, FRONT, points
from tussock.mechanics.linkage import axle_map, build_axle
axle = build_axle("arms_track_rod", points(FRONT), wheel_radius=0.361, bushes=BUSHES, steering=True)
found = axle_map(axle, np.linspace(-0.08, 0.08, 3), np.linspace(-0.1, 0.1, 3))
values = {k: v for k, v in vars(found).items() if k not in ("reach", "bodies", "carrier")}
values["seat"] = found.place(np.array([0.1, 0.5, 0.4]), "left")
print(json.dumps({k: np.asarray(v).tolist() for k, v in values.items()}))
"""


def test_plain_python_twin_gives_the_same_map() -> None:
    here = str(Path(__file__).parent)
    maps = []
    for disabled in ("0", "1"):
        environment = {**os.environ, "NUMBA_DISABLE_JIT": disabled}
        done = subprocess.run(
            [sys.executable, "-c", TWIN, here], capture_output=True, text=True, env=environment, check=True, timeout=300
        )
        maps.append(json.loads(done.stdout))
    for name, value in maps[0].items():
        scale = max(1.0, float(np.abs(maps[1][name]).max()))
        assert np.abs(np.array(value) - np.array(maps[1][name])).max() < 2e-12 * scale, name
