"""The map of two independent wheels against the wheels themselves, solved node by node, and against virtual work."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from linkage_wheels import ARM_BUSHES, RADIUS, RELAY, STRUT, WISHBONE, points

from tussock.errors import InputError, SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.axle_map import AxleMap
from tussock.mechanics.linkage import (
    SpringRod,
    TorsionSpringing,
    Wheel,
    axle_map_of_wheels,
    build_wheel,
    sweep_wheel,
)
from tussock.mechanics.mass import MassState
from tussock.mechanics.motion import AxleParts, DamperParts, springing
from tussock.mechanics.tyre import Tyre

HEAVE, ROLL = np.linspace(-0.06, 0.06, 7), np.deg2rad(np.linspace(-4.0, 4.0, 5))
FINE = np.linspace(-0.1, 0.1, 41)
STRUT_SEATS = {
    **STRUT,
    "damper_upright": (-0.010, 0.650, 0.420),
    "damper_chassis": (-0.046, 0.596, 0.912),
    "stop_upright": (-0.030, 0.620, 0.660),
    "stop_chassis": (-0.040, 0.604, 0.800),
}
CASES = {
    "wishbones, rack": ("double_wishbone", WISHBONE, "rack", 0.02, {}),
    "wishbones, relay": ("double_wishbone", {**WISHBONE, **RELAY}, "relay", 0.1, {}),
    "wishbones on bushes": ("double_wishbone", WISHBONE, "rack", 0.0, {"bushes": ARM_BUSHES}),
    "strut": ("strut", STRUT_SEATS, "fixed", 0.0, {}),
}


def wheel(case: str, side: str = "left") -> Wheel:
    """Return one wheel of a case."""
    layout, table, steering, _, more = CASES[case]
    return build_wheel(layout, points(table), wheel_radius=RADIUS, side=side, steering=steering, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize("case", CASES)
def test_every_node_is_what_both_wheels_do_there(case: str) -> None:
    """Each wheel solved anew at the node's travel and steer, on its own side, by the sweep."""
    steer = CASES[case][3]
    left, right = wheel(case), wheel(case, "right")
    grid = axle_map_of_wheels(left, HEAVE, ROLL, steer=steer)
    assert grid.track == pytest.approx(1.56)
    for s, (this, sign) in enumerate(((left, 1.0), (right, -1.0))):
        for i, j in ((0, 0), (1, 3), (3, 2), (6, 4)):
            travel = HEAVE[i] + sign * 0.78 * np.sin(ROLL[j])
            assert grid.travel[i, j, s] == pytest.approx(travel)
            curves = sweep_wheel(this, np.array([travel]), np.array([steer]) if steer else None)
            off = [
                grid.wheel_x[i, j, s] - curves.centre[0, 0, 0],
                grid.wheel_y[i, j, s] - curves.centre[0, 0, 1],
                grid.steer[i, j, s] - curves.road_steer[0, 0],
                # camber is top outward, the slope of the axis left end up
                grid.inclination[i, j, s] + sign * curves.camber[0, 0],
                *(
                    getattr(grid, part)[i, j, s] - curves.lengths[part].length[0, 0]
                    for part in ("spring", "damper", "stop")
                ),
            ]
            assert np.abs(off).max() < 2e-9


@pytest.mark.parametrize("case", CASES)
def test_points_go_with_the_bodies_that_carry_them(case: str) -> None:
    left, right = wheel(case), wheel(case, "right")
    grid = axle_map_of_wheels(left, HEAVE, ROLL)
    seat = np.array([0.05, 0.55, 0.31])
    mirror = np.array([1.0, -1.0, 1.0])
    for body in ("upright", "lower_arm", None):
        here, there = grid.place(seat, "left", body)[5, 1], grid.place(seat * mirror, "right", body)[5, 1]
        pose = left.pose(float(grid.travel[5, 1, 0])).place(body or "upright", seat)
        other = right.pose(float(grid.travel[5, 1, 1])).place(body or "upright", seat) * mirror
        assert np.abs(here - pose).max() < 2e-9
        assert np.abs(there - other).max() < 2e-9
    pointing = grid.turn(np.array([0.0, 1.0, 0.0]), "left")
    assert np.linalg.norm(pointing, axis=-1) == pytest.approx(np.ones(pointing.shape[:2]), abs=1e-8)
    assert np.abs(grid.place(seat, "left", "chassis") - seat).max() == 0.0
    with pytest.raises(InputError, match=r"no body 'beam' on the left; the bodies are .*upright"):
        grid.place(seat, "left", "beam")


def test_a_right_wheel_of_its_own_takes_its_side() -> None:
    """Given the mirror image as a wheel of its own, the map is the same; a longer right tie rod toes that wheel."""
    left = wheel("wishbones, rack")
    plain = axle_map_of_wheels(left, HEAVE, ROLL, steer=0.015)
    same = axle_map_of_wheels(left, HEAVE, ROLL, steer=0.015, right=wheel("wishbones, rack", "right"))
    for name in ("wheel_x", "wheel_y", "steer", "inclination", "spring", "bar", "energy"):
        assert np.abs(getattr(plain, name) - getattr(same, name)).max() < 1e-11, name
    table = points(WISHBONE)
    other = build_wheel("double_wishbone", table, wheel_radius=RADIUS, side="right", rod_lengths={"tie_rod": 0.370})
    toed = axle_map_of_wheels(left, HEAVE, ROLL, right=other)
    straight = axle_map_of_wheels(left, HEAVE, ROLL)
    assert np.abs(toed.steer[..., 0] - straight.steer[..., 0]).max() == 0.0
    assert np.abs(toed.steer[..., 1] - straight.steer[..., 1]).min() > 1e-3
    with pytest.raises(InputError, match="right side"):
        axle_map_of_wheels(left, HEAVE, ROLL, right=left)


def test_a_map_seen_in_a_mirror_is_the_map_steered_the_other_way() -> None:
    here, there = (axle_map_of_wheels(wheel("wishbones, relay"), HEAVE, ROLL, steer=s) for s in (0.12, -0.12))
    assert np.abs(here.steer[3, 2]).min() > 0.05
    for name, sign in (("wheel_x", 1.0), ("wheel_y", -1.0), ("steer", -1.0), ("inclination", -1.0), ("spring", 1.0)):
        turned = sign * getattr(there, name)[:, ::-1, ::-1]
        assert np.abs(getattr(here, name) - turned).max() < 1e-11, name
    assert np.abs(here.bar + there.bar[:, ::-1]).max() < 1e-11


def parts(axle: AxleMap, **changes: object) -> AxleParts:
    """Return an axle that nothing springs but what is given."""
    v = np.linspace(-1.0, 1.0, 5)
    lever = 60.0 * 0.78**2
    settings: dict[str, object] = {
        "axle": axle,
        "mass": MassState(mass=60.0, centre=(0.0, 0.0, RADIUS), inertia=(lever + 2.0, 3.0, lever + 2.0)),
        "spin_inertia": 1.0,
        "spring_rate": (0.0, 0.0),
        "spring_length": (0.0, 0.0),
        "stop_height": 0.0,
        "stop_compression": np.linspace(0.0, 0.1, 8),
        "stop_force": np.linspace(0.0, 1e3, 8),
        "damper": DamperParts(velocity=v, force=1e3 * v),
        "bar_rate": 0.0,
        "tyre": Tyre(
            vertical_stiffness=240e3, vertical_damping=0.0, free_radius=0.38, cornering_stiffness=42e3,
            reference_load=4400.0, friction=0.85, relaxation_length=0.62,
        ),
        **changes,
    }  # fmt: skip
    return AxleParts(**settings)  # type: ignore[arg-type]


@pytest.mark.parametrize("at", [-0.05, 0.0, 0.045])
def test_springs_on_the_map_do_what_springs_in_the_linkage_do(at: float) -> None:
    """Force and rate of one wheel by the linkage's own equilibrium, with a coil or a torsion bar built into it.

    Roll rate from the wheel's: half of it times the track squared (Gillespie, Fundamentals of Vehicle Dynamics, chapter
    6, from memory).
    """
    p = points(WISHBONE)
    travel = np.array([at])
    coil = build_wheel(
        "double_wishbone", p, wheel_radius=RADIUS, spring=SpringRod(rate=70e3, free_length=0.52), bushes=ARM_BUSHES
    )
    loose = build_wheel("double_wishbone", p, wheel_radius=RADIUS, bushes=ARM_BUSHES)
    # a loaded bush gives way, which a map without springs does not know: on rigid pivots both are the same
    rigid = build_wheel("double_wishbone", p, wheel_radius=RADIUS, spring=SpringRod(rate=70e3, free_length=0.52))
    grid = axle_map_of_wheels(wheel("wishbones, rack"), FINE, FINE)
    here = springing(parts(grid, spring_rate=(70e3, 70e3), spring_length=(0.52, 0.52)), heave=at)
    theirs = sweep_wheel(rigid, travel)
    assert 0.5 * here.force == pytest.approx(theirs.wheel_force[0, 0], rel=1e-5)
    assert here.wheel_rate == pytest.approx(theirs.wheel_rate[0, 0], rel=1e-4)
    assert here.roll_rate == pytest.approx(2.0 * 0.78**2 * theirs.wheel_rate[0, 0], rel=1e-3)

    bush_map = axle_map_of_wheels(loose, FINE, FINE)
    bushes = springing(parts(bush_map), heave=at)
    alone = sweep_wheel(loose, travel)
    assert 0.5 * bushes.force == pytest.approx(alone.wheel_force[0, 0], rel=1e-4, abs=0.05)
    assert bushes.wheel_rate == pytest.approx(alone.wheel_rate[0, 0], rel=1e-3)
    both = springing(parts(bush_map, spring_rate=(70e3, 70e3), spring_length=(0.52, 0.52)), heave=at)
    assert 0.5 * both.force == pytest.approx(sweep_wheel(coil, travel).wheel_force[0, 0], rel=0.01)

    twisted = build_wheel("double_wishbone", p, wheel_radius=RADIUS, torsion_bar=TorsionSpringing(rate=9e3, twist=0.4))
    turned = axle_map_of_wheels(wheel("wishbones, rack"), FINE, FINE, springing="torsion bar")
    here = springing(parts(turned, spring_rate=(9e3, 9e3), spring_length=(0.4, 0.4)), heave=at)
    theirs = sweep_wheel(twisted, travel)
    assert 0.5 * here.force == pytest.approx(theirs.wheel_force[0, 0], rel=1e-5)
    assert here.wheel_rate == pytest.approx(theirs.wheel_rate[0, 0], rel=1e-4)


def test_anti_roll_bar_works_through_its_drop_links_in_roll_alone() -> None:
    """Virtual work: the bar's rate times the square of its twist, an arm's turn per travel times the track."""
    this = wheel("wishbones, rack")
    grid = axle_map_of_wheels(this, HEAVE, ROLL)
    assert np.abs(grid.bar[:, 2]).max() < 1e-12
    assert np.all(np.diff(grid.bar, axis=1) > 0.0)
    curves = sweep_wheel(this, np.array([-1e-4, 0.0, 1e-4]))
    assert curves.bar_angle is not None
    turn = float(np.diff(curves.bar_angle[[0, 2], 0])[0]) / 2e-4
    fine = axle_map_of_wheels(this, np.linspace(-0.02, 0.02, 9), np.linspace(-0.02, 0.02, 9))
    here = springing(parts(fine, bar_rate=1200.0), heave=0.0)
    assert here.heave_rate == pytest.approx(0.0, abs=1e-3)
    assert here.roll_rate == pytest.approx(1200.0 * (2.0 * turn * 0.78) ** 2, rel=1e-4)


def test_torque_on_the_uprights_turns_with_their_caster() -> None:
    this = wheel("wishbones, rack")
    grid = axle_map_of_wheels(this, HEAVE, ROLL, torque_on="upright")
    # the two arms' pivots lean apart in side view, so the upright turns as it rises
    theirs = np.array([this.solve(np.array([h])).rotation[0, this.linkage.index["upright"], 2, 0] for h in HEAVE])
    assert np.ptp(grid.pitch[:, 2]) > 1e-3
    # but for products with camber and steer, both small
    assert np.abs(grid.pitch[:, 2] + np.arcsin(theirs)).max() < 0.01 * np.ptp(grid.pitch[:, 2])
    assert np.abs(axle_map_of_wheels(this, HEAVE, ROLL).pitch).max() == 0.0


def test_drive_and_brake_forces_lift_as_virtual_work_says() -> None:
    """What a forward force at the patch does to heave, by either way of taking its torque.

    Gillespie, Fundamentals of Vehicle Dynamics, chapter 7 (from memory): torque on the body, the wheel centre's slope
    counts; torque on the upright, the patch's.
    """
    this, e = wheel("wishbones, rack"), 1e-3
    # in the stock pose, where the wheel stands upright and the patch is right below
    curves = sweep_wheel(this, np.zeros(1))
    around = np.array([-e, 0.0, e])
    roll = np.array([-e, 0.0, e])
    body = axle_map_of_wheels(this, around, roll)
    upright = axle_map_of_wheels(this, around, roll, torque_on="upright")
    for grid, slope in ((body, curves.centre_slope), (upright, curves.contact_slope)):
        forward = (grid.wheel_x[2, 1, 0] - grid.wheel_x[0, 1, 0]) / (2.0 * e)
        turning = (grid.pitch[2, 1] - grid.pitch[0, 1]) / (2.0 * e)
        assert forward - RADIUS * turning == pytest.approx(slope[0, 0], abs=2e-5)


def test_beyond_its_reach_a_wheel_goes_on_straight() -> None:
    this = wheel("wishbones, rack")
    grid = axle_map_of_wheels(this, np.linspace(-0.3, 0.3, 61), np.linspace(-0.1, 0.1, 5))
    low, high = grid.reach
    assert -0.25 < low < -0.15
    assert high > 0.15
    beyond = grid.travel[:, 2, 0] < low
    assert np.abs(np.diff(grid.spring[beyond, 2, 0], n=2)).max() < 1e-12
    assert this.solve(np.array([low])).status[0] == 0
    with pytest.raises(SolverError):
        this.solve(np.array([low - 0.03]))
    inside = axle_map_of_wheels(this, HEAVE, ROLL)
    assert (inside.reach[0], inside.reach[1]) == pytest.approx((-0.115, 0.115), abs=5.1e-3)


@pytest.mark.parametrize("seed", range(4))
def test_between_its_own_travels_the_map_is_exact(seed: int) -> None:
    """Nodes lie anywhere between the travels that were solved; cubics with exact slopes miss by less than 1e-9 m."""
    rng = np.random.default_rng(seed)
    h = float(rng.uniform(-0.09, 0.09))
    this = wheel("wishbones on bushes")
    grid = axle_map_of_wheels(this, np.array([h, h + 0.011]), np.array([0.0, 0.01]))
    alone: Floats = sweep_wheel(this, np.array([h])).lengths["spring"].length
    assert abs(float(grid.spring[0, 0, 0] - alone[0, 0])) < 1e-9
    energy = float(sweep_wheel(this, np.array([h])).energy[0, 0] - this.home.energy[0])
    assert float(grid.energy[0, 0]) == pytest.approx(2.0 * energy, abs=1e-6)


def test_what_a_map_cannot_be_made_of_is_refused() -> None:
    this = wheel("wishbones, rack")
    with pytest.raises(InputError, match="equal steps"):
        axle_map_of_wheels(this, np.array([0.0, 0.01, 0.03]), ROLL)
    fewer = {name: point for name, point in WISHBONE.items() if not name.startswith("stop")}
    with pytest.raises(InputError, match="seats of stop"):
        axle_map_of_wheels(build_wheel("double_wishbone", points(fewer), wheel_radius=RADIUS), HEAVE, ROLL)
    with_spring = build_wheel(
        "double_wishbone", points(WISHBONE), wheel_radius=RADIUS, spring=SpringRod(rate=50e3, free_length=0.5)
    )
    with pytest.raises(InputError, match="without spring"):
        axle_map_of_wheels(with_spring, HEAVE, ROLL)
    with pytest.raises(InputError, match="cannot be steered"):
        axle_map_of_wheels(wheel("strut"), HEAVE, ROLL, steer=0.01)
    with pytest.raises(InputError, match="mm at least"):
        axle_map_of_wheels(this, np.linspace(-1.2, 1.2, 9), ROLL)
    assert dataclasses.is_dataclass(axle_map_of_wheels(this, HEAVE, ROLL))
