"""Compliance against finite loads, and bushes tightened at kit height."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from linkage_axles import three_links

from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage import Axle, axle_compliance, build_axle, sweep
from tussock.mechanics.linkage.model import CHASSIS, Rod, Row, build_linkage
from tussock.mechanics.linkage.solver import run, solve_home

FAR = 1e5  # length of a spring that pulls with a constant force [m]


def loaded(axle: Axle, force: Floats) -> Floats:
    """Axle coordinates at home, and mean side motion of the contact patches, under half a constant force at each.

    Each force is the pull of a very long and very soft spring.
    """
    size = 0.5 * float(np.linalg.norm(force))
    rods = [
        Rod(
            name=f"pull_{at[1]:.1f}", body_a=body, body_b=CHASSIS, point_a=at, point_b=at + 0.5 * FAR * force / size,
            length=FAR - size / 0.1, law=Row(rate=0.1),
        )
        for body, at in zip(
            axle.wheel_bodies, axle.wheel_centres - np.array([0.0, 0.0, axle.wheel_radius]), strict=True
        )
    ]  # fmt: skip
    linkage = build_linkage(axle.linkage.bodies, [*axle.linkage.elements, *rods], axle.linkage.held)
    alone = np.full(1, -1, dtype=np.int64)
    # not `solve_home`: the spring stretches by far more than its check allows a bush
    answer = run(linkage, axle.zero.reshape(1, -1), alone, alone, iterations=30)
    assert answer.status[0] == 0
    contacts = axle.wheel_centres - np.array([0.0, 0.0, axle.wheel_radius])
    side = [answer.point(body, at)[0, 1] for body, at in zip(axle.wheel_bodies, contacts, strict=True)]
    return np.append(answer.coordinates[0, :6], np.mean(side))


@pytest.mark.parametrize("which", ["front", "rear"])
def test_compliance_equals_the_motion_under_finite_loads(which: str, request: pytest.FixtureRequest) -> None:
    axle: Axle = request.getfixturevalue(which)()
    found = axle_compliance(axle, np.zeros(1), np.zeros(1))
    step = {}
    for name, force in (("side", np.array([0.0, 100.0, 0.0])), ("brake", np.array([-100.0, 0.0, 0.0]))):
        step[name] = (loaded(axle, force) - loaded(axle, -force)) / 200.0
    assert found.axle_steer[0, 0] == pytest.approx(step["side"][3], rel=1e-3, abs=1e-12)
    assert found.lateral[0, 0] == pytest.approx(step["side"][6], rel=1e-3)
    assert found.braking[0, 0] == pytest.approx(step["brake"][4], rel=1e-3)
    assert found.matrix[0, 0] == pytest.approx(found.matrix[0, 0].T, rel=1e-9, abs=1e-16)
    assert np.linalg.eigvalsh(found.matrix).min() > -1e-16


def test_compliance_is_zero_on_rigid_links_and_falls_with_stiffness(rear: Callable[..., Axle]) -> None:
    rigid = build_axle("links_track_rod", three_links(), wheel_radius=0.361, central={"upper_link"})
    assert np.abs(axle_compliance(rigid, np.array([-0.03]), np.array([0.05])).matrix).max() < 1e-18
    soft, stiff = (axle_compliance(rear(link_stiffness=k), np.zeros(1), np.zeros(1)) for k in (3e6, 6e6))
    assert soft.braking[0, 0] == pytest.approx(2.0 * stiff.braking[0, 0], rel=1e-9)
    assert soft.braking[0, 0] > 0.0


def test_bushes_tightened_at_kit_height_are_not_twisted_there(front: Callable[..., Axle]) -> None:
    lift = 0.035
    stock, settled = front(), front(settled_heave=-lift)
    at_kit = np.array([-lift])
    for name in ("arm_chassis_left", "arm_axle_front_right"):
        assert abs(sweep(settled, at_kit, np.zeros(1)).joint_angles[name][0, 0, 1]) < 1e-9
    assert abs(sweep(stock, at_kit, np.zeros(1)).joint_angles["arm_chassis_left"][0, 0, 1]) > np.deg2rad(2.0)
    # untwisted bushes hold the axle down less: the heave force at kit height falls by the twist of four sleeves
    before, after = (abs(float(sweep(a, at_kit, np.zeros(1)).heave_force[0, 0])) for a in (stock, settled))
    assert after < before
    assert np.abs(sweep(settled, at_kit, np.zeros(1)).pitch - sweep(stock, at_kit, np.zeros(1)).pitch).max() < 1e-4


def test_wheel_radius_does_not_move_the_axle(front: Callable[..., Axle]) -> None:
    axle = front()
    assert solve_home(axle.linkage, axle.zero).energy[0] == axle.home.energy[0]
    assert replace(axle, wheel_radius=0.4).zero == pytest.approx(axle.zero)
