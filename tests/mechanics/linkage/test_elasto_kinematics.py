"""Suspensions under loads from the road: SciPy's energy minimum, statics of the whole, small against finite, mirror."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from linkage_axles import BUSHES, FRONT, points
from linkage_wheels import ARM_BUSHES, RADIUS, STRUT, WISHBONE, leaf_axle
from scipy.optimize import least_squares
from scipy.spatial.transform import Rotation
from test_outside import bush_residuals

from tussock.errors import InputError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage import (
    CASES,
    Axle,
    BushRates,
    CaseRow,
    EndOfVehicle,
    LoadedState,
    Wheel,
    WheelForce,
    axle_compliance,
    build_axle,
    build_wheel,
    case_table,
    compliance,
    under_load,
)
from tussock.mechanics.linkage.model import CHASSIS, Rod

DEGREE = np.pi / 180.0
REAR_END = EndOfVehicle(
    end="rear", load=9000.0, vehicle_load=18500.0, gravity_height=0.72, wheelbase=3.1, track=1.56, brake_share=0.35,
    drive_share=1.0, propeller_ratio=4.1, wheel_radius=0.365,
)  # fmt: skip
FRONT_END = EndOfVehicle(
    end="front", load=9500.0, vehicle_load=18500.0, gravity_height=0.72, wheelbase=3.1, track=1.56, brake_share=0.65,
    drive_share=0.5,
)  # fmt: skip
ARMS = {k: v for k, v in FRONT.items() if not k.startswith(("king", "tie", "drag", "spring", "damper", "stop"))}


def arms() -> Axle:
    """Arms and track rod without steering, so that the outside energy needs no knuckles."""
    return build_axle("arms_track_rod", points(ARMS), wheel_radius=0.361, bushes=BUSHES)


def wishbone(side: str = "left", **other: object) -> Wheel:
    settings: dict[str, object] = {"wheel_radius": RADIUS, "bushes": ARM_BUSHES, "side": side, **other}
    return build_wheel("double_wishbone", points(WISHBONE), **settings)  # type: ignore[arg-type]


def strut() -> Wheel:
    rates = {
        "lower_arm_front": ARM_BUSHES["lower_arm_front"], "lower_arm_rear": ARM_BUSHES["lower_arm_rear"],
        "strut_top": BushRates(radial=3e6, axial=1e6, conical=100.0, torsional=10.0),
    }  # fmt: skip
    return build_wheel("strut", points(STRUT), wheel_radius=RADIUS, bushes=rates)


LAYOUTS: dict[str, Callable[[], Axle | Wheel]] = {
    "arms": arms, "leaf": leaf_axle, "wishbone": wishbone, "strut": strut,
}  # fmt: skip


@pytest.mark.parametrize(("heave", "roll"), [(0.0, 0.0), (-0.05, np.deg2rad(4.0))])
@pytest.mark.parametrize("load", [WheelForce(left=2500.0), WheelForce(forward=-3500.0), WheelForce(drive=2500.0)])
def test_bushed_arms_under_load_against_an_energy_minimum_by_scipy(heave: float, roll: float, load: WheelForce) -> None:
    """Bush energy written apart (test_outside), the force as the pull of a spring 1e5 m long; 0.2 um and 0.001 deg."""
    axle = arms()
    state = under_load(axle, heave, [load, load], second=roll, springs=None)
    s = axle.solve(np.array([heave]), np.array([roll]))
    force = 2.0 * np.array([load.forward + load.drive, load.left, 0.0])
    soft = 0.1
    height = 0.0 if load.drive else -axle.wheel_radius
    # the point of the axle that is the middle of the contact patches in the unloaded pose
    at = s.rotation[0, 0].T @ np.array([0.0, 0.0, height]) if roll == 0.0 else None
    if at is None:
        levers = []
        for sign in (1.0, -1.0):
            spin = s.direction("axle", np.array([0.0, 1.0, 0.0]))[0]
            down = spin * spin[2] - np.array([0.0, 0.0, 1.0])
            levers.append(
                np.array([0.0, sign * 0.75, 0.0])
                + (s.rotation[0, 0].T @ (-height * down / np.linalg.norm(down)) if height else 0.0)
            )
        at = np.mean(levers, axis=0)
    centre = np.array([0.0, 0.0, 0.361])

    def residuals(x: Floats, share: float) -> Floats:
        turn = Rotation.from_euler("ZYX", [x[2], x[3], roll])
        here = centre + np.array([x[0], x[1], heave]) + turn.apply(at)
        pull = np.sqrt(soft) * (here - share * force / soft)
        return np.concatenate([bush_residuals(x, heave, roll, BUSHES), pull])

    start = np.zeros(16)
    for share in (0.0, 0.25, 0.5, 0.75, 1.0, 1.0):
        fit = least_squares(
            residuals, start, args=(share,), method="lm", xtol=1e-15, ftol=1e-15, gtol=1e-15, x_scale=1.0
        )  # fmt: skip
        start = fit.x
    q = s.coordinates[0]
    assert state.centre.mean(axis=0)[:2] == pytest.approx(fit.x[:2] - q[:2], abs=2e-6)
    turn, was = Rotation.from_euler("ZYX", [fit.x[2], fit.x[3], roll]), Rotation.from_matrix(s.rotation[0, 0])
    spins = [r.apply([0.0, 1.0, 0.0]) for r in (was, turn)]
    before, after = (np.arctan2(-v[0], v[1]) for v in spins)
    assert state.steer.mean() == pytest.approx(after - before, abs=2e-5)
    level = spins[0] * [1.0, 1.0, 0.0] / np.hypot(*spins[0][:2])
    assert -state.caster.mean() == pytest.approx(level @ (turn * was.inv()).as_rotvec(), abs=2e-5)
    assert np.abs(fit.x[2:4] - q[3:5]).max() > 1e-4


@pytest.mark.parametrize("name", LAYOUTS)
def test_small_response_is_the_slope_of_the_finite_one(name: str) -> None:
    suspension = LAYOUTS[name]()
    found = compliance(suspension, np.array([0.02]), np.array([0.03]))
    k = len(found.sides)
    for unit in ({"left": 1.0}, {"forward": 1.0}, {"drive": 1.0}, {"aligning": 1.0}):
        force = [WheelForce(**unit)] * k
        small = found.response(force)
        ends = [
            under_load(
                suspension, 0.02, [WheelForce(**{n: v * size for n, v in unit.items()})] * k, second=0.03, springs=None
            )
            for size in (20.0, -20.0)
        ]
        for word in ("steer", "toe", "camber", "caster", "contact", "centre"):
            finite = (getattr(ends[0], word) - getattr(ends[1], word)) / 40.0
            scale = np.abs(finite).max() + 1e-12
            assert getattr(small, word)[0, 0] == pytest.approx(finite, abs=2e-3 * scale + 2e-13), (unit, word)


def force_on_chassis(suspension: Axle | Wheel, state: LoadedState) -> Floats:
    """Sum of what joints and springs give to the chassis and to the rack on it [N], from the pose under load."""
    s, ground = state.solution, (CHASSIS, "rack")
    total = np.zeros(3)
    for element in suspension.linkage.elements:
        if not {element.body_a, element.body_b} & set(ground):
            continue
        load = state.joint_loads[element.name]
        if isinstance(element, Rod):
            line = s.point(element.body_a, element.point_a)[0] - s.point(element.body_b, element.point_b)[0]
            pull = load[0] * line / np.linalg.norm(line)
            total += pull if element.body_b in ground else -pull
        elif any(row is not None for row in element.rows[:3]):
            axes = np.array([s.direction(element.body_a, axis)[0] for axis in element.frame_a])
            total += (1.0 if element.body_a in ground else -1.0) * load[:3] @ axes
    for k, force in enumerate(state.spring_forces):
        part = suspension.attachments["spring"]
        seat = part.at[k] if isinstance(suspension, Axle) else part.at
        top = part.chassis[k] if isinstance(suspension, Axle) else part.chassis
        body = part.bodies[k] if isinstance(suspension, Axle) else part.body  # type: ignore[union-attr]
        line = top - s.point(body, seat)[0]
        total += force * line / np.linalg.norm(line)
    return total


@pytest.mark.parametrize("name", LAYOUTS)
def test_joints_carry_what_the_road_gives(name: str) -> None:
    """Statics: all forces on the chassis add up to those of the road, in every load case."""
    suspension = LAYOUTS[name]()
    for answer in case_table(suspension, REAR_END if name == "leaf" else FRONT_END).answers:
        road = np.sum([[f.forward + f.drive, f.left, f.up] for f in answer.forces], axis=0)
        if answer.state.spring_forces.size == 0:
            road[2] += answer.state.held[0]
        assert force_on_chassis(suspension, answer.state) == pytest.approx(road, abs=1e-4)


def test_a_left_turn_loads_both_bars_of_a_wheel_alike_and_its_mirror_image() -> None:
    """Mirrored vehicle, mirrored answers: the left wheel in a left turn is the right wheel in a right turn."""
    left, right = (case_table(wishbone(side), FRONT_END, first=0.01) for side in ("left", "right"))
    by_name = [{a.case.name: a for a in table.answers} for table in (left, right)]
    for name, other in (("left_turn", "right_turn"), ("right_turn", "left_turn"), ("braking", "braking")):
        ours, theirs = by_name[0][name], by_name[1][other]
        assert ours.toe == pytest.approx(theirs.toe, abs=1e-12)
        assert ours.steer == pytest.approx(-theirs.steer, abs=1e-12)
        assert ours.camber == pytest.approx(theirs.camber, abs=1e-12)
        assert ours.shift == pytest.approx(theirs.shift * [1.0, -1.0, 1.0], abs=1e-12)
        assert ours.state.resultant == pytest.approx(theirs.state.resultant, rel=1e-9)


def test_wind_up_and_shift_of_the_leaf_axle_have_the_right_signs_and_sizes() -> None:
    """Driving turns the nose of the pinion up (axle pitches top rearward), braking the other way; a turn shifts."""
    table = case_table(leaf_axle(), REAR_END)
    by_name = {a.case.name: a for a in table.answers}
    assert by_name["static"].wind_up == 0.0
    assert by_name["driving"].wind_up < -0.5 * DEGREE
    assert by_name["braking"].wind_up > 0.3 * DEGREE
    assert by_name["reverse"].wind_up > 0.0
    small = axle_compliance(leaf_axle(), np.zeros(1), np.zeros(1))
    force = sum(f.forward for f in by_name["braking"].forces)
    assert by_name["braking"].wind_up == pytest.approx(-force * small.braking[0, 0], rel=0.15)
    assert by_name["left_turn"].shift[:, 1].mean() > 0.0
    assert by_name["left_turn"].shift[:, 1].mean() == pytest.approx(-by_name["right_turn"].shift[:, 1].mean(), rel=1e-6)
    assert set(table.joints) == set(by_name["bump"].state.resultant)
    assert table.worst[table.joints.index("fixed_eye_left")] in {row.name for row in CASES}


def test_load_transfer_of_a_case_by_hand() -> None:
    left, right = REAR_END.forces(CaseRow(name="turn", title="turn", lateral=0.4), independent=False)
    transfer = 0.4 * 9000.0 * 0.72 / 1.56
    assert right.up - left.up == pytest.approx(2.0 * transfer)
    assert left.left + right.left == pytest.approx(0.4 * 9000.0)
    braked = REAR_END.forces(CaseRow(name="stop", title="stop", braking=0.7), independent=True)
    assert sum(f.up for f in braked) == pytest.approx(9000.0 - 0.7 * 18500.0 * 0.72 / 3.1)
    assert sum(f.forward for f in braked) == pytest.approx(-0.7 * 18500.0 * 0.35)


def test_what_cannot_be_is_said() -> None:
    with pytest.raises(InputError, match="2 wheel forces for 1 wheels"):
        under_load(wishbone(), 0.0, [WheelForce(), WheelForce()])
    with pytest.raises(InputError, match="there is no 'coil'"):
        under_load(wishbone(), 0.0, [WheelForce()], springs="coil")
    with pytest.raises(InputError, match="brake_share is 2"):
        EndOfVehicle(
            end="rear", load=1.0, vehicle_load=2.0, gravity_height=0.7, wheelbase=3.0, track=1.5, brake_share=2.0,
            drive_share=0.0,
        )  # fmt: skip
