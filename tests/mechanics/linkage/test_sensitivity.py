"""Derivatives of characteristics by hardpoints: closed forms, step, Monte Carlo, sides."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pytest
from linkage_axles import three_links
from linkage_wheels import ARM_BUSHES, RADIUS, WISHBONE, leaf_axle, points

from tussock.errors import InputError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage import (
    CHARACTERISTICS,
    Axle,
    Sensitivity,
    Wheel,
    axle_characteristics,
    build_axle,
    build_wheel,
    sensitivity,
    wheel_characteristics,
)


def rear(table: Mapping[str, Floats]) -> Axle:
    return build_axle("links_track_rod", table, wheel_radius=0.361, central={"upper_link"})


def front(table: Mapping[str, Floats]) -> Wheel:
    return build_wheel("double_wishbone", table, wheel_radius=RADIUS, bushes=ARM_BUSHES)


HARD = {k: v for k, v in three_links().items() if not k.startswith(("spring", "damper", "stop"))}


@pytest.fixture(scope="module")
def found() -> Sensitivity:
    return sensitivity(rear, HARD, axle_characteristics)


def test_closed_forms_of_a_track_rod(found: Sensitivity) -> None:
    """Lateral movement by heave is minus the slope of the rod (small): its derivatives by the rod's own ends."""
    span = HARD["track_rod_chassis"] - HARD["track_rod_axle"]
    row = found.derivative[found.characteristics.index("lateral_per_heave")]
    k = found.hardpoints.index("track_rod_axle")
    # y of the axle follows the rod: dy/dz = -dz_rod / dy_rod, moved at its axle end by +z
    assert row[k, 2] == pytest.approx(1.0 / span[1], rel=0.02)
    assert row[found.hardpoints.index("track_rod_chassis"), 2] == pytest.approx(-1.0 / span[1], rel=0.02)
    # the height of the roll centre goes with the middle of the rod
    rise = found.derivative[found.characteristics.index("roll_centre_height")]
    assert rise[k, 2] + rise[found.hardpoints.index("track_rod_chassis"), 2] == pytest.approx(1.0, abs=0.05)


def test_the_whole_vehicle_moved_changes_no_characteristic(found: Sensitivity) -> None:
    """All points forward or all up, the ground with the wheels: sums of derivatives vanish."""
    for row, name in enumerate(found.characteristics):
        sums = found.derivative[row].sum(axis=0)
        assert np.abs(sums[[0, 2]]).max() < 1e-6 * (1.0 + np.abs(found.derivative[row]).max()), name


def test_the_step_does_not_matter(found: Sensitivity) -> None:
    finer = sensitivity(rear, HARD, axle_characteristics, step=1e-4)
    scale = np.abs(found.derivative).max(axis=(1, 2), keepdims=True) + 1e-2
    assert np.abs((finer.derivative - found.derivative) / scale).max() < 1e-5


def test_spread_against_monte_carlo(found: Sensitivity) -> None:
    """Standard deviations of 250 axles with points scattered by 1 mm; the sample itself is good to some 5 %."""
    rng = np.random.default_rng(20240607)
    tolerances = {name: 1e-3 for name in HARD if name != "wheel_centre"}
    spread = found.spread(tolerances)
    rows = []
    for _ in range(250):
        table = {n: p + (rng.normal(0.0, tolerances[n], 3) if n in tolerances else 0.0) for n, p in HARD.items()}
        rows.append(list(axle_characteristics(rear(table)).values()))
    scattered = np.std(np.array(rows), axis=0, ddof=1)
    moved = spread.total > 1e-9
    assert moved.sum() >= 6
    assert scattered[moved] == pytest.approx(spread.total[moved], rel=0.16)
    assert np.linalg.norm(spread.shares, axis=1) == pytest.approx(spread.total)


def test_sides_apart_add_up_to_sides_together(found: Sensitivity) -> None:
    """One side alone steers the axle by the lower links' length; both together do not."""
    apart = sensitivity(rear, HARD, axle_characteristics, sides="apart")
    assert "lower_link_axle_right" in apart.hardpoints
    assert "track_rod_axle_right" not in apart.hardpoints
    steer = apart.characteristics.index("axle_steer")
    left, right = (apart.hardpoints.index(f"lower_link_axle{s}") for s in ("", "_right"))
    assert apart.derivative[steer, left, 0] == pytest.approx(-apart.derivative[steer, right, 0], rel=0.05)
    mirror = np.array([1.0, -1.0, 1.0])
    both = apart.derivative[:, left] + mirror * apart.derivative[:, right]
    k = found.hardpoints.index("lower_link_axle")
    scale = np.abs(apart.derivative[:, left]).max(axis=1, keepdims=True) + 1e-2
    assert np.abs((both - found.derivative[:, k]) / scale).max() < 1e-5


def test_a_wheel_and_a_leaf_axle_are_measured_too() -> None:
    wheel = sensitivity(front, points(WISHBONE), wheel_characteristics)
    name, slope = wheel.strongest("bump_steer", 1)[0]
    assert name.startswith("tie_rod")
    assert name.endswith(".z")
    assert abs(slope) > 1.0
    strongest = [n for n, _ in wheel.strongest("caster", 4)]
    assert "upper_ball.x" in strongest
    leaf = leaf_axle()
    assert set(axle_characteristics(leaf, -0.02)) <= set(CHARACTERISTICS)
    assert set(wheel.characteristics) <= set(CHARACTERISTICS)


def test_what_cannot_be_is_said(found: Sensitivity) -> None:
    with pytest.raises(InputError, match="none of the hardpoints"):
        found.spread({"arm": 1e-3})
    with pytest.raises(InputError, match="must not be negative"):
        found.spread({"track_rod_axle": -1e-3})
    with pytest.raises(InputError, match="none of the characteristics"):
        found.strongest("comfort")
