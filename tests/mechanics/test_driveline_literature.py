"""Propeller shafts against published and derived figures of Cardan joints, and over the travel of an axle.

Sources
1. Speed and fluctuation of one joint (web page on Hooke's joint, seen); the table was computed from it.
2. SAE AE-7, Universal Joint and Driveshaft Design Manual: two joints in one plane (formula from memory).
3. A shaft maker's rules (seen): working angle by speed for parallel shafts.
"""

from __future__ import annotations

import mujoco
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tussock.errors import InputError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.driveline import (
    JointKind,
    PropellerShaft,
    joint_angle_of,
    joint_fluctuation,
    joint_speed,
    largest_working_angle,
    shaft_curves,
    shaft_in,
)
from tussock.mechanics.linkage import Axle, build_axle
from tussock.mechanics.linkage.model import Body, build_linkage
from tussock.mechanics.linkage.solver import run

pytestmark = pytest.mark.literature
DEGREE = np.pi / 180.0
#: Joint angle [deg], fluctuation [%] as printed (source 1).
FLUCTUATION = [
    (1, 0.0305), (2, 0.1219), (3, 0.2743), (4, 0.4878), (5, 0.7625), (6, 1.0986), (7, 1.4964), (8, 1.956),
    (10, 3.0619), (12, 4.4193), (15, 6.935), (20, 12.449), (25, 19.707), (30, 28.868),
]  # fmt: skip
LINKS = {
    "wheel_centre": (-2.7, 0.75, 0.36), "lower_link_axle": (-2.7, 0.45, 0.30), "lower_link_chassis": (-2.0, 0.45, 0.30),
    "upper_link_axle": (-2.7, 0.0, 0.50), "upper_link_chassis": (-2.2, 0.0, 0.50),
    "track_rod_axle": (-2.8, -0.45, 0.40), "track_rod_chassis": (-2.8, 0.45, 0.46),
}  # fmt: skip


def rear_axle() -> Axle:
    table = {name: np.array(point) for name, point in LINKS.items()}
    return build_axle("links_track_rod", table, wheel_radius=0.36, central={"upper_link"})


def bent(first: float, second: float, *, plane: float = 0.0, **other: object) -> PropellerShaft:
    """A shaft along x whose ends bend by the given angles, the second in a plane turned about the shaft."""
    settings: dict[str, object] = {
        "name": "shaft", "drive_point": np.zeros(3), "driven_point": np.array([-1.2, 0.0, 0.0]),
        "drive_axis": np.array([np.cos(first), 0.0, np.sin(first)]),
        "driven_axis": np.array([np.cos(second), np.sin(second) * np.sin(plane), np.sin(second) * np.cos(plane)]),
        **other,
    }  # fmt: skip
    return PropellerShaft(**settings)  # type: ignore[arg-type]


def still(shaft: PropellerShaft):  # type: ignore[no-untyped-def]
    """Curves of a shaft at a body that stands in its stock pose."""
    linkage = build_linkage(
        [Body(name="axle", kind="carrier", at=np.zeros(3))], [],
        [("axle", word) for word in ("x", "y", "z", "yaw", "pitch", "roll")],
    )  # fmt: skip
    alone = np.full(1, -1, dtype=np.int64)
    return shaft_in(run(linkage, np.zeros((1, 6)), alone, alone), shaft)


@pytest.mark.parametrize(("angle", "percent"), FLUCTUATION)
def test_fluctuation_of_one_joint(angle: float, percent: float) -> None:
    """Source 1, to the figures printed; the joint followed in space gives the same as the formula."""
    assert 100.0 * float(joint_fluctuation(angle * DEGREE)) == pytest.approx(percent, rel=3e-4, abs=5e-5)
    one = still(bent(angle * DEGREE, 0.0))
    assert one.fluctuation[0] == pytest.approx(float(joint_fluctuation(angle * DEGREE)), rel=1e-6)
    assert one.equivalent_angle[0] == pytest.approx(angle * DEGREE, rel=1e-6)
    turn = np.linspace(0.0, np.pi, 721)
    speed = joint_speed(angle * DEGREE, turn)
    assert speed.max() - speed.min() == pytest.approx(float(joint_fluctuation(angle * DEGREE)), rel=1e-9)


def test_equal_angles_in_one_plane_cancel_and_turned_yokes_add() -> None:
    """Source 2: yokes in line, parallel or symmetric shafts give steady speed; a yoke turned by 90 deg doubles b^2."""
    for first, second in ((8.0, 8.0), (8.0, -8.0), (3.0, 3.0)):
        even = still(bent(first * DEGREE, second * DEGREE))
        assert even.fluctuation[0] < 1e-9
        assert even.shaft_fluctuation[0] == pytest.approx(float(joint_fluctuation(first * DEGREE)), rel=1e-6)
    turned = still(bent(6.0 * DEGREE, 6.0 * DEGREE, phase=0.5 * np.pi))
    assert turned.equivalent_angle[0] == pytest.approx(np.sqrt(2.0) * 6.0 * DEGREE, rel=0.01)


@pytest.mark.parametrize(("first", "second"), [(7.0, 4.0), (5.0, 9.0), (2.0, 6.0)])
def test_unequal_angles_leave_the_residual_angle(first: float, second: float) -> None:
    """Source 2: sqrt(|b1^2 - b2^2|), good to a per cent at such angles."""
    found = still(bent(first * DEGREE, second * DEGREE))
    assert found.equivalent_angle[0] == pytest.approx(np.sqrt(abs(first**2 - second**2)) * DEGREE, rel=0.01)


@given(first=st.floats(1.0, 8.0), second=st.floats(1.0, 8.0), plane=st.floats(0.0, 3.1), phase=st.floats(-1.5, 1.5))
@settings(max_examples=40, deadline=None)
def test_planes_and_phase_add_as_turned_vectors(first: float, second: float, plane: float, phase: float) -> None:
    """To second order the joints add as vectors b^2 at twice their plane's angle (derived); planes and yokes alike."""
    found = still(bent(first * DEGREE, second * DEGREE, plane=plane, phase=phase))
    sums = (first * DEGREE) ** 2 - (second * DEGREE) ** 2 * np.exp(2j * (plane + phase))
    other = (first * DEGREE) ** 2 - (second * DEGREE) ** 2 * np.exp(2j * (plane - phase))
    error = min(abs(found.fluctuation[0] - abs(s)) for s in (sums, other))
    assert error < 0.02 * ((first * DEGREE) ** 2 + (second * DEGREE) ** 2)


def test_constant_velocity_joints() -> None:
    """At both ends nothing is unsteady; at the gearbox only the pinion's joint counts."""
    both = still(bent(12.0 * DEGREE, 5.0 * DEGREE, drive_joint="constant_velocity", driven_joint="constant_velocity"))
    assert both.fluctuation[0] == 0.0
    assert both.largest_speed()[0] == np.inf
    one = still(bent(20.0 * DEGREE, 2.0 * DEGREE, drive_joint="constant_velocity"))
    assert one.equivalent_angle[0] == pytest.approx(2.0 * DEGREE, rel=1e-6)
    assert one.shaft_fluctuation[0] == 0.0


def mujoco_turns(shaft: PropellerShaft, samples: int = 24) -> Floats:
    """Turns of the pinion for turns of the gearbox: two crosses as universal joints, in a general multibody engine."""

    def text(v: Floats) -> str:
        return " ".join(f"{x:.15g}" for x in v)

    inertia = '<inertial pos="0 0 0" mass="1" diaginertia="0.01 0.01 0.01"/>'
    middle = shaft.driven_point / np.linalg.norm(shaft.driven_point)
    drive, driven = (-np.asarray(v) for v in (shaft.drive_axis, shaft.driven_axis))
    # ears across both shafts at the start; then those on the shaft
    ear = np.cross(drive, middle) if np.linalg.norm(np.cross(drive, middle)) > 1e-9 else np.array([0.0, 1.0, 0.0])
    ear = ear / np.linalg.norm(ear)
    own = np.cross(ear, middle)
    out = np.cross(own, driven)
    out /= np.linalg.norm(out)
    own_2 = np.cross(out, middle) if abs(own @ out) > 1e-12 else own
    model = mujoco.MjModel.from_xml_string(
        '<mujoco><compiler angle="radian"/>'
        '<option timestep="0.001" gravity="0 0 0" tolerance="1e-14" iterations="200"/>'
        '<default><equality solref="0.004 1" solimp="0.9999 0.99999 0.001"/></default><worldbody>'
        f'<body name="drive">{inertia}<joint name="drive" type="hinge" axis="{text(drive)}" damping="0.5"/>'
        f'<body name="shaft">{inertia}<joint type="hinge" axis="{text(ear)}" damping="0.01"/>'
        f'<joint type="hinge" axis="{text(own)}" damping="0.01"/>'
        f'<body name="pinion" pos="{text(shaft.driven_point)}">{inertia}'
        f'<joint type="hinge" axis="{text(own_2)}" damping="0.01"/>'
        f'<joint type="hinge" axis="{text(out)}" damping="0.01"/>'
        "</body></body></body>"
        f'<body name="seat" pos="{text(shaft.driven_point)}">{inertia}'
        f'<joint name="driven" type="hinge" axis="{text(driven)}" damping="0.01"/></body></worldbody>'
        '<equality><weld body1="seat" body2="pinion" torquescale="1"/><joint name="hold" joint1="drive"/></equality>'
        "</mujoco>"
    )
    data = mujoco.MjData(model)
    hold = mujoco.mj_name2id(model, mujoco.mjtObj.mjOBJ_EQUALITY, "hold")
    rows = []
    for step in range(samples + 1):
        goal = np.pi * step / samples
        for part in np.linspace(max(0.0, np.pi * (step - 1) / samples), goal, 21)[1:]:
            model.eq_data[hold, 0] = part
            mujoco.mj_step(model, data, 5)
        mujoco.mj_step(model, data, 400)
        rows.append([data.joint("drive").qpos[0], data.joint("driven").qpos[0]])
    return np.array(rows)


@pytest.mark.parametrize(("first", "second", "plane"), [(10.0, 0.0, 0.0), (12.0, 5.0, 0.0), (8.0, 10.0, 0.9)])
def test_speed_in_space_against_mujoco(first: float, second: float, plane: float) -> None:
    """The pinion's lead over the gearbox swings through half the fluctuation (twice a turn), within 2 %."""
    shaft = bent(first * DEGREE, second * DEGREE, plane=plane)
    turns = mujoco_turns(shaft)
    lead = turns[:, 1] - turns[:, 0]
    found = still(shaft)
    # speed 1 + F / 2 cos 2 t gives a lead of F / 4 sin 2 t: its swing is F / 2
    assert np.ptp(lead) == pytest.approx(0.5 * found.fluctuation[0], rel=0.03, abs=2e-5)


def test_over_the_travel_of_an_axle() -> None:
    """Slip is the change of the joints' distance; the angles at rest are those of the drawing; roll bends both."""
    axle = rear_axle()
    shaft = PropellerShaft(
        name="rear shaft", drive_point=np.array([-1.25, 0.0, 0.52]), driven_point=np.array([-2.42, 0.0, 0.40]),
        drive_axis=np.array([1.0, 0.0, 0.05]), driven_axis=np.array([1.0, 0.0, 0.05]),
    )  # fmt: skip
    curves = shaft_curves(axle, shaft, np.linspace(-0.1, 0.1, 9), np.deg2rad([-6.0, 0.0, 6.0]))
    slope = np.arctan2(0.12, 1.17) - np.arctan(0.05)
    assert curves.drive_angle[4, 1] == pytest.approx(slope, abs=1e-9)
    assert curves.driven_angle[4, 1] == pytest.approx(slope, abs=1e-9)
    assert curves.fluctuation[4, 1] < 1e-9
    assert curves.slip[4, 1] == 0.0
    ends = [axle.pose(h, 0.0).place("axle", shaft.driven_point) for h in (-0.1, 0.1)]
    lengths = [np.linalg.norm(end - shaft.drive_point) for end in ends]
    assert curves.length[[0, 8], 1] == pytest.approx(lengths, abs=1e-12)
    for row, end in zip((0, 8), ends, strict=True):
        line = (end - shaft.drive_point) / np.linalg.norm(end - shaft.drive_point)
        angle = np.arccos(abs(line @ shaft.drive_axis) / np.linalg.norm(shaft.drive_axis))
        assert curves.drive_angle[row, 1] == pytest.approx(angle, abs=1e-9)
    assert curves.fluctuation[0].min() > 0.0


def test_working_angle_by_speed() -> None:
    """Source 3 allows 3.2, 3.7, 4.2, 5.0 deg at 5000, 4500, 4000, 3500 1/min: within 8 % of 1000 rad/s^2."""
    for rpm, printed in ((5000, 3.2), (4500, 3.7), (4000, 4.2), (3500, 5.0)):
        assert largest_working_angle(rpm * np.pi / 30.0) / DEGREE == pytest.approx(printed, rel=0.09)


def test_angle_and_fluctuation_are_inverse() -> None:
    angles = np.array([0.0, 1e-5, 0.01, 0.2, 0.6])
    assert joint_angle_of(joint_fluctuation(angles)) == pytest.approx(angles, rel=1e-6, abs=1e-12)


@pytest.mark.parametrize(
    ("other", "words"),
    [
        ({"drive_axis": np.zeros(3)}, "has no length"),
        ({"driven_point": np.zeros(3)}, "lie on each other"),
        ({"drive_joint": "elastic"}, "choose single or constant_velocity"),
        ({"drive_point": np.array([0.0, np.nan, 0.0])}, "three finite numbers"),
    ],
)
def test_what_cannot_be_is_said(other: dict[str, object], words: str) -> None:
    with pytest.raises(InputError, match=words):
        bent(0.1, 0.1, **other)
    with pytest.raises(InputError, match="must be above zero"):
        largest_working_angle(0.0)


def test_kinds_of_joints_are_those_of_the_type() -> None:
    kinds: tuple[JointKind, ...] = ("single", "constant_velocity")
    assert {still(bent(0.05, 0.05, drive_joint=k)).fluctuation.size for k in kinds} == {1}
