"""Parts of a kit: what a lift spoils and what mends it. Trade facts here are common practice, no source."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from linkage_axles import FRONT, REAR, points, three_links

from tussock.errors import InputError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage import Axle, build_axle, sweep

Table = dict[str, tuple[float, float, float]]

LIFT = 0.035
AT_KIT = np.array([-LIFT])
LEVEL = np.zeros(1)


def at(name: str, *, dx: float = 0.0, dy: float = 0.0, dz: float = 0.0, table: Table = FRONT) -> Floats:
    return np.array(table[name]) + np.array([dx, dy, dz])


def throw(axle: Axle, height: float) -> float:
    """Sideways travel of the axle between 50 mm of bump and of droop about a height [m]."""
    curves = sweep(axle, height + np.linspace(-0.05, 0.05, 11), LEVEL)
    return float(np.ptp(curves.lateral_shift))


def test_no_change_changes_nothing(front: Callable[..., Axle]) -> None:
    stock, same = front(), front(changes={"track_rod_chassis": at("track_rod_chassis")})
    assert np.array_equal(stock.home.position, same.home.position)


def test_a_lift_raises_the_throw_of_the_track_rod_and_a_bracket_takes_it_back(front: Callable[..., Axle]) -> None:
    """Common practice, no source: lifting tilts the rod, a tilted rod throws more, an axle bracket flattens it."""
    axle = front()
    bracket = front(changes={"track_rod_axle": at("track_rod_axle", dz=LIFT)}, rod_lengths={"track_rod": "refit"})
    assert throw(axle, -LIFT) > 1.2 * throw(axle, 0.0)
    assert throw(bracket, -LIFT) < 0.9 * throw(axle, -LIFT)


def test_a_drop_bracket_equal_to_the_lift_restores_stock(front: Callable[..., Axle]) -> None:
    """Every chassis point lowered by the lift: at kit height all is as stock, only the springs' seats stay up."""
    down = [name for name in FRONT if name.endswith("_chassis") or name == "drag_link_pitman"]
    changes = {
        (f"{name}@chassis" if name == "arm_chassis" else name): at(name, dz=-LIFT)
        for name in down
        if name.split("_")[0] not in ("spring", "damper", "stop")
    }
    kit = sweep(front(changes=changes), AT_KIT, LEVEL)
    assert np.abs(kit.lateral_shift).max() < 1e-9
    assert np.abs(kit.caster_change).max() < 1e-9
    assert np.abs(kit.steer).max() < 1e-9
    stock = sweep(front(), np.zeros(1), LEVEL)
    assert kit.roll_centre_height == pytest.approx(stock.roll_centre_height, abs=1e-7)
    assert kit.lengths["spring"].length == pytest.approx(stock.lengths["spring"].length + LIFT, abs=2e-4)


def test_rate_of_the_first_pose_belongs_to_the_same_curve_as_its_neighbours(front: Callable[..., Axle]) -> None:
    """Regression: a march's first node could end after one step, its rate taken without the links' own forces."""
    axle = front(changes={"arm_chassis@chassis": at("arm_chassis", dz=-0.030)})
    curves = sweep(axle, np.array([-0.001, 0.0, 0.001]), LEVEL)
    low, middle, high = curves.heave_rate[:, 0]
    # 3.8 % off before; a node's slopes come from its last factor, which leaves 0.2 % at most here
    assert middle == pytest.approx(0.5 * (low + high), rel=2e-3)


def test_offset_bushes_win_back_the_caster_that_the_lift_cost(front: Callable[..., Axle]) -> None:
    """Common practice, no source. The axle's eyes move on the axle, so the axle turns in the arms."""
    lost = sweep(front(), AT_KIT, LEVEL).caster_change[0, 0]
    assert np.rad2deg(lost) < -2.0
    # the axle's holes lie below the arm's eye in front and above it behind: the top of the axle goes rearward
    changes = {
        "arm_axle_front@axle": at("arm_axle_front", dz=-0.0035),
        "arm_axle_rear@axle": at("arm_axle_rear", dz=0.0035),
    }
    axle = front(changes=changes)
    won = sweep(axle, AT_KIT, LEVEL).caster_change[0, 0] - lost
    # 7 mm over the 170 mm between the bushes
    assert won == pytest.approx(0.007 / 0.170, rel=0.05)
    assert axle.home.energy[0] < 50.0


def test_changed_eye_of_the_arm_is_the_opposite_of_a_changed_hole_in_the_axle(front: Callable[..., Axle]) -> None:
    on_axle = front(changes={"arm_axle_front@axle": at("arm_axle_front", dz=-0.003)})
    on_arm = front(changes={"arm_axle_front@arm": at("arm_axle_front", dz=0.003)})
    one, other = (sweep(a, AT_KIT, LEVEL).caster_change[0, 0] for a in (on_axle, on_arm))
    stock = sweep(front(), AT_KIT, LEVEL).caster_change[0, 0]
    assert abs(one - stock) > np.deg2rad(0.5)
    assert one - stock == pytest.approx(other - stock, rel=0.03)


def test_rod_keeps_its_length_unless_told(rear: Callable[..., Axle]) -> None:
    moved = {"track_rod_chassis": at("track_rod_chassis", dz=-0.03, table=REAR)}
    stock = sweep(rear(), LEVEL, LEVEL).lateral_shift[0, 0]
    keep = sweep(rear(changes=moved), LEVEL, LEVEL).lateral_shift[0, 0]
    refit = sweep(rear(changes=moved, rod_lengths={"track_rod": "refit"}), LEVEL, LEVEL).lateral_shift[0, 0]
    length = float(np.hypot(*(np.array(REAR["track_rod_axle"]) - REAR["track_rod_chassis"])[1:]))
    longer = sweep(rear(rod_lengths={"track_rod": length + 0.005}), LEVEL, LEVEL).lateral_shift[0, 0]
    assert stock == pytest.approx(0.0, abs=1e-12)
    assert refit == pytest.approx(0.0, abs=1e-9)
    # the rod falls from 60 to 30 mm of rise over 954 mm: its span grows, the axle (rod on its left) is pushed left
    span = np.sqrt(length**2 - 0.030**2) - np.sqrt(length**2 - 0.060**2)
    assert keep == pytest.approx(span, rel=0.02)
    assert longer == pytest.approx(0.005 * length / np.sqrt(length**2 - 0.06**2), rel=0.02)


def test_one_side_can_be_changed_alone() -> None:
    def yaw(changes: dict[str, Floats]) -> float:
        axle = build_axle("links_track_rod", three_links(), wheel_radius=0.361, central={"upper_link"}, changes=changes)
        return float(sweep(axle, LEVEL, LEVEL).axle_steer[0, 0])

    forward = at("lower_link_axle", dx=0.006, table=REAR)
    # the right end of the axle goes rearward by what its bracket goes forward: the axle turns to the right; the links
    # are splayed by 3 deg and the axle's sideways motion turns it a little more or less
    assert yaw({"lower_link_axle_right": forward * np.array([1.0, -1.0, 1.0])}) == pytest.approx(
        -0.006 / 0.956, rel=0.03
    )
    assert yaw({"lower_link_axle_left": forward}) == pytest.approx(0.006 / 0.956, rel=0.03)
    assert abs(yaw({"lower_link_axle": forward})) < 1e-4


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"arm_axle_front": (0.082, 0.428, 0.33)}, "arm_axle_front@arm or arm_axle_front@axle"),
        ({"track_rod_axel": (0.1, -0.4, 0.4)}, "did you mean 'track_rod_axle'"),
        ({"track_rod_axle@arm": (0.1, -0.4, 0.4)}, "no end on 'arm'"),
        ({"wheel_centre": (0.0, 0.75, 0.37)}, "it stays"),
        ({"track_rod_axle": (0.1, float("nan"), 0.4)}, "three finite coordinates"),
    ],
)
def test_wrong_changes_are_refused_in_words(
    changes: dict[str, tuple[float, ...]], words: str, front: Callable[..., Axle]
) -> None:
    with pytest.raises(InputError, match=words):
        front(changes=changes)


def test_a_rod_length_for_no_rod_is_refused(rear: Callable[..., Axle]) -> None:
    with pytest.raises(InputError, match="did you mean 'lower_link'"):
        rear(rod_lengths={"lower_lnk": 0.7})
    with pytest.raises(InputError, match="150 mm between them is taken as an error"):
        rear(rod_lengths={"track_rod": 3.0})


def test_extra_pairs_give_lengths_such_as_hoses(front: Callable[..., Axle]) -> None:
    table = points(FRONT, brake_hose_chassis=(-0.17, 0.33, 0.64), brake_hose_axle=(-0.05, 0.56, 0.42))
    hose = sweep(front(table), np.array([-0.1, 0.0, 0.1]), LEVEL).lengths["brake_hose"].length
    assert hose.shape == (3, 1, 2)
    assert hose[1, 0, 0] == pytest.approx(np.linalg.norm([0.12, 0.23, 0.22]), abs=1e-12)
    assert hose[0, 0, 0] > hose[1, 0, 0] > hose[2, 0, 0]
    single = points(FRONT, breather_chassis=(-0.12, -0.18, 0.69), breather_axle=(-0.02, -0.14, 0.452))
    assert sweep(front(single, central={"breather"}), LEVEL, LEVEL).lengths["breather"].length.shape == (1, 1, 1)
