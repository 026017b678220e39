"""Linkages that cannot be: each is refused in words that name the part and its figures."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from linkage_axles import BUSHES, FRONT, REAR, points, three_links

from tussock.errors import AssemblyError, InputError, SolverError
from tussock.mechanics.linkage import Axle, axle_map, build_axle, sweep
from tussock.mechanics.linkage.model import CHASSIS, Body, Joint, Rod, Row, build_linkage
from tussock.mechanics.linkage.solver import plan_grid, solve_home, solve_plan


def test_mirrored_hardpoint(rear: Callable[..., Axle]) -> None:
    x, y, z = REAR["lower_link_axle"]
    with pytest.raises(InputError, match=r"left hardpoint 'lower_link_axle' has y = -478.0 mm"):
        rear(points(REAR, lower_link_axle=(x, -y, z)))
    with pytest.raises(InputError, match=r"right hardpoint 'lower_link_axle' has y = 478.0 mm"):
        rear(points(REAR, lower_link_axle_right=(x, y, z)))


def test_link_of_no_length(rear: Callable[..., Axle]) -> None:
    with pytest.raises(InputError, match=r"rear axle: rod 'track_rod' has a length of 0.000 mm"):
        rear(points(REAR, track_rod_axle=REAR["track_rod_chassis"]))


@pytest.mark.parametrize("missing", ["track_rod_chassis", "wheel_centre", "arm_axle_rear", "king_pin_upper"])
def test_missing_hardpoint(missing: str, front: Callable[..., Axle]) -> None:
    table = {name: point for name, point in points(FRONT).items() if name != missing}
    with pytest.raises(InputError, match=f"'{missing}' is missing"):
        front(table)


def test_unknown_hardpoint_names_the_nearest(rear: Callable[..., Axle]) -> None:
    with pytest.raises(InputError, match="did you mean 'spring_axle'"):
        rear(points(REAR, sprung_axle=(0.0, 0.4, 0.4)))


def test_other_wrong_arguments(front: Callable[..., Axle], rear: Callable[..., Axle]) -> None:
    with pytest.raises(InputError, match="the bush 'arm_chassis' has no rates"):
        front(bushes={})
    with pytest.raises(InputError, match="conical rate of bush 'arm_chassis' is 0"):
        front(
            bushes={
                **BUSHES,
                "arm_chassis": type(BUSHES["arm_chassis"])(radial=1e6, axial=1e6, conical=0.0, torsional=1.0),
            }
        )
    with pytest.raises(InputError, match="the layouts are arms_track_rod, links_track_rod, links"):
        build_axle("swing", points(REAR), wheel_radius=0.36)
    with pytest.raises(InputError, match="wheel radius is -1"):
        rear(wheel_radius=-1.0)
    with pytest.raises(InputError, match="'lower_link_left' is nan N/m"):
        rear(link_stiffness=float("nan"))
    with pytest.raises(InputError, match="three finite coordinates"):
        rear(points(REAR, spring_axle=(0.0, float("inf"), 0.4)))
    with pytest.raises(InputError, match="called central"):
        rear(central={"fifth_link"})


def test_rigid_parallel_four_link_names_the_rods_that_fight(rear: Callable[..., Axle]) -> None:
    with pytest.raises(
        AssemblyError, match=r"lower_link_left.*these rods hold the same motion twice \(5 hard rows, only 4"
    ):
        rear(link_stiffness=None)


def test_axle_without_upper_links_is_loose_in_pitch() -> None:
    table = {name: point for name, point in points(REAR).items() if not name.startswith("upper")}
    with pytest.raises(AssemblyError, match=r"not located: nothing resists axle: pitch"):
        build_axle("links_track_rod", table, wheel_radius=0.36)


def test_axle_without_track_rod_is_loose_sideways() -> None:
    table = {name: point for name, point in three_links().items() if not name.startswith("track")}
    table["lower_link_chassis"] = np.array([-1.934, 0.478, 0.372])
    table["upper_link_axle"], table["upper_link_chassis"] = np.array([-2.706, 0.0, 0.52]), np.array([-2.1, 0.0, 0.545])
    with pytest.raises(AssemblyError, match=r"not located: nothing resists axle: y"):
        build_axle("links", table, wheel_radius=0.36, central={"upper_link"})


def test_cannot_be_assembled_names_the_rod_and_the_millimetres() -> None:
    """Three level links of 0.8 m let the axle go 0.8 m sideways; a lateral rod of 3.5 m over 0.9 m asks for more."""
    ends = {
        "left link": ((0.0, 0.3, 0.4), (0.8, 0.3, 0.4)),
        "right link": ((0.0, -0.3, 0.4), (0.8, -0.3, 0.4)),
        "upper link": ((0.0, 0.0, 0.6), (0.8, 0.0, 0.6)),
        "track rod": ((0.0, -0.4, 0.5), (0.0, 0.5, 0.5)),
    }
    rods = [
        Rod(
            name=name, body_a="axle", body_b=CHASSIS, point_a=np.array(a), point_b=np.array(b),
            length=3.5 if name == "track rod" else 0.8,
        )
        for name, (a, b) in ends.items()
    ]  # fmt: skip
    axle = Body(name="axle", kind="carrier", at=np.array([0.0, 0.0, 0.4]))
    linkage = build_linkage([axle], rods, [("axle", "z"), ("axle", "roll")])
    with pytest.raises(AssemblyError, match=r"cannot be put together.*closest pose .*mm too (short|long)"):
        solve_home(linkage, np.array([0.4, 0.0]))


def test_soft_links_far_from_fitting_are_not_an_answer(rear: Callable[..., Axle]) -> None:
    with pytest.raises(AssemblyError, match=r"the bushes of .* would have to give by"):
        rear(changes={"lower_link_axle": np.array([-2.588, 0.478, 0.302])}, rod_lengths={"track_rod": 1.09})


def test_lock_in_travel_says_where_it_begins() -> None:
    """A short drag strut: 120 mm long and level, it is straight down at 120 mm of travel and no pose lies beyond."""
    at = np.array([0.0, 0.0, 0.4])
    strut = Rod(
        name="strut", body_a="axle", body_b=CHASSIS, point_a=at, point_b=np.array([0.12, 0.0, 0.4]), length=0.12,
    )  # fmt: skip
    held = [("axle", word) for word in ("z", "roll", "y", "yaw", "pitch")]
    linkage = build_linkage([Body(name="axle", kind="carrier", at=at)], [strut], held)
    zero = np.array([0.4, 0.0, 0.0, 0.0, 0.0])
    home = solve_home(linkage, zero)
    good = solve_plan(linkage, plan_grid(np.linspace(-0.1, 0.1, 9), np.zeros(1), (0.0,) * 3), home, zero)
    assert good.lock_factor.max() == pytest.approx(0.1 / np.sqrt(0.12**2 - 0.1**2), rel=1e-6)
    with pytest.raises(SolverError, match=r"moves freely to heave 1(19|20)\.\d mm.*times as far as the wheels"):
        solve_plan(linkage, plan_grid(np.array([0.15]), np.zeros(1), (0.0,) * 3), home, zero)


def test_snap_through_is_reported_as_unstable() -> None:
    """A strut in compression between two soft sideways springs buckles: its straight pose is no equilibrium."""
    at = np.array([0.0, 0.0, 0.4])
    spring = Rod(
        name="coil", body_a="axle", body_b=CHASSIS, point_a=at, point_b=np.array([0.0, 0.0, 0.9]), length=0.5,
        law=Row(rate=1e5),
    )  # fmt: skip
    guide = Joint(
        name="guide", body_a=CHASSIS, body_b="axle", point_a=at, point_b=at,
        rows=(Row(rate=1e3), Row(rate=1e3), None, None, None, None),
    )  # fmt: skip
    held = [("axle", word) for word in ("z", "roll", "yaw", "pitch")]
    linkage = build_linkage([Body(name="axle", kind="carrier", at=at)], [spring, guide], held)
    zero = np.array([0.4, 0.0, 0.0, 0.0])
    home = solve_home(linkage, zero)
    # force 1e5 z over the length 0.5 - z exceeds the guide's 1e3 N/m beyond z = 4.95 mm
    solve_plan(linkage, plan_grid(np.array([0.0045]), np.zeros(1), (0.0, 0.0)), home, zero)
    with pytest.raises(SolverError, match=r"unstable.*moves freely to heave (4\.9|5\.0) mm"):
        solve_plan(linkage, plan_grid(np.array([0.02]), np.zeros(1), (0.0, 0.0)), home, zero)


def test_map_needs_the_three_parts(rear: Callable[..., Axle]) -> None:
    table = {name: point for name, point in points(REAR).items() if not name.startswith("stop")}
    with pytest.raises(InputError, match="a map needs the seats of stop"):
        axle_map(rear(table))


def test_beyond_the_reach_of_a_link_is_an_error_with_the_axles_name() -> None:
    axle = build_axle("links_track_rod", three_links(), wheel_radius=0.361, central={"upper_link"}, name="rear axle")
    with pytest.raises(
        SolverError, match=r"^rear axle: the linkage could not be solved at heave .* it moves freely to"
    ):
        sweep(axle, np.array([0.9]), np.zeros(1))


@pytest.mark.parametrize("gap", [0.0, 1e-17, 5e-8])
@pytest.mark.parametrize("word", ["heave", "roll"])
def test_nodes_of_a_grid_that_lie_nearly_on_each_other(word: str, gap: float, front: Callable[..., Axle]) -> None:
    twice, plain = np.array([-0.02, 0.0, gap, 0.02]), np.array([-0.01, 0.0, 0.01])
    grid = (twice, plain) if word == "heave" else (plain, twice)
    with pytest.raises(InputError, match=rf"the {word} values of a grid must lie at least"):
        sweep(front(), *grid)


@pytest.mark.parametrize("bad", [np.nan, np.inf])
def test_grid_that_is_not_finite(bad: float, front: Callable[..., Axle]) -> None:
    with pytest.raises(InputError, match="row of finite numbers"):
        sweep(front(), np.array([0.0, bad]), np.zeros(1))


@pytest.mark.parametrize("noise", [1e-17, -1e-18, 1e-12, 1e-8])
def test_rounding_beside_zero_does_not_spoil_the_prediction(noise: float, front: Callable[..., Axle]) -> None:
    """A linspace that misses zero by rounding: the step to it is next to nothing, the following one is not."""
    heave, roll = np.array([-0.03, 0.0, 0.03]), np.array([-0.05, 0.0, 0.05])
    clean, noisy = sweep(front(), heave, roll), sweep(front(), heave + np.array([0.0, noise, 0.0]), roll + noise)
    assert np.max(np.abs(noisy.lateral_shift - clean.lateral_shift)) < 1e-9 + 2.0 * abs(noise)
    assert np.max(noisy.distance) < 1e-9
