"""Axles on leaf springs: ride load, rate, wind-up, shackles, the kit's parts, mirror, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from linkage_axles import FRONT
from linkage_wheels import LEAF, LEAF_BUSHES, leaf_axle, leaf_pair, points

from tussock.errors import InputError, SolverError
from tussock.mechanics.linkage import (
    PARABOLIC,
    UNIFORM_SECTION,
    UNIFORM_STRENGTH,
    BushRates,
    LeafHalf,
    LeafSprings,
    fit_two_stage,
    graduated_shape,
    leaf_curves,
    shackle_limit,
    sweep,
)
from tussock.mechanics.springs.leaf import TwoStageLeaf

DEGREE = np.pi / 180.0
ZERO = np.zeros(1)


def test_the_springs_carry_their_load_in_the_stock_pose() -> None:
    """Bushes give a little under it, which costs half a per cent."""
    axle = leaf_axle()
    curves = leaf_curves(axle, ZERO, ZERO)
    assert curves.load[0, 0] == pytest.approx([3200.0, 3200.0], rel=0.006)
    assert sweep(axle, ZERO, ZERO).heave_force[0, 0] == pytest.approx(curves.load.sum(), rel=1e-9)


def test_force_and_rate_are_slopes_of_the_energy() -> None:
    axle, step = leaf_axle(), 1e-3
    curves = sweep(axle, 0.04 + step * np.arange(-2, 3), ZERO)
    energy, force = curves.energy[:, 0], curves.heave_force[:, 0]
    weights = np.array([1.0, -8.0, 0.0, 8.0, -1.0]) / (12.0 * step)
    assert weights @ energy == pytest.approx(force[2], rel=1e-7)
    assert weights @ force == pytest.approx(curves.heave_rate[2, 0], rel=1e-6)


def test_rate_of_a_flat_spring_is_that_of_its_cantilevers() -> None:
    """(a + b)^2 / (b^2 / k_a + a^2 / k_b) for each spring (derived); a shackle at right angles adds nothing there."""
    pins = BushRates(radial=1e8, axial=1e8, conical=1.0, torsional=0.01)
    flat = points(
        LEAF, fixed_eye=(-2.48, 0.56, 0.43), shackle_eye=(-3.78, 0.56, 0.43), shackle_pivot=(-3.78, 0.56, 0.55),
        wheel_centre=(-3.1, 0.78, 0.43),
    )  # fmt: skip
    springs = leaf_pair(load=0.0)
    axle = leaf_axle(flat, leaf_springs=springs, bushes=dict.fromkeys(LEAF_BUSHES, pins))
    a, b = 0.62, 0.68
    each = (a + b) ** 2 / (b**2 / springs.front.rate + a**2 / springs.rear.rate)
    assert sweep(axle, ZERO, ZERO).heave_rate[0, 0] == pytest.approx(2.0 * each, rel=5e-4)


def test_free_camber_and_load_say_the_same() -> None:
    """The camber at which the springs carry the load, found by it, gives that load's pose and rate."""
    from scipy.optimize import brentq

    wanted = sweep(leaf_axle(), ZERO, ZERO).heave_force[0, 0]

    def error(camber: float) -> float:
        axle = leaf_axle(leaf_springs=leaf_pair(free_camber=camber))
        return float(sweep(axle, ZERO, ZERO).heave_force[0, 0] - wanted)

    camber = brentq(error, 0.08, 0.16, xtol=1e-9)
    heave = np.array([-0.06, 0.0, 0.06])
    ours = sweep(leaf_axle(leaf_springs=leaf_pair(free_camber=camber)), heave, ZERO)
    loaded = sweep(leaf_axle(), heave, ZERO)
    assert ours.heave_force[:, 0] == pytest.approx(loaded.heave_force[:, 0], rel=0.02)
    # stock load over rate is the deflection from free
    each = leaf_pair()
    deflection = 3200.0 / (1.3**2 / (0.68**2 / each.front.rate + 0.62**2 / each.rear.rate))
    assert camber - 0.031 == pytest.approx(deflection, rel=0.05)


def test_roll_steers_the_axle_by_the_slope_of_its_springs() -> None:
    """A fixed eye below the shackled one steers a rear axle into the turn's outside less: sign and size by its slope.

    The outer wheel rises and goes along the slope of the spring's front half: roll understeer with the eye low
    (common practice, no source). A vehicle that rolls left wheel up stands in a right turn: understeer is steer of the
    rear axle to the right, below zero.
    """
    slopes = []
    for height in (0.38, 0.445, 0.52):
        curves = sweep(leaf_axle(points(LEAF, fixed_eye=(-2.48, 0.56, height))), ZERO, np.array([-0.02, 0.02]))
        slopes.append(np.diff(curves.axle_steer[0])[0] / 0.04)
    assert slopes[0] < slopes[1] < slopes[2]
    assert slopes[0] < -0.03
    assert slopes[2] > 0.03


@given(
    splay=st.floats(-0.04, 0.04), height=st.floats(-0.04, 0.04), roll=st.floats(-0.1, 0.1), heave=st.floats(-0.06, 0.06)
)
@settings(max_examples=15, deadline=None)
def test_a_mirrored_axle_gives_mirrored_answers(splay: float, height: float, roll: float, heave: float) -> None:
    """Left and right made unlike, then swapped: lateral answers turn over, the others stay."""
    own = {
        "fixed_eye": (-2.48, 0.56 + splay, 0.445), "fixed_eye_right": (-2.48, -0.55, 0.445 + height),
        "shackle_eye_right": (-3.78, -0.57, 0.475),
    }  # fmt: skip
    other = {
        "fixed_eye": (-2.48, 0.55, 0.445 + height), "fixed_eye_right": (-2.48, -0.56 - splay, 0.445),
        "shackle_eye": (-3.78, 0.57, 0.475), "shackle_eye_right": (-3.78, -0.56, 0.475),
    }  # fmt: skip
    ours = sweep(leaf_axle(points(LEAF, **own)), np.array([heave]), np.array([roll]))
    theirs = sweep(leaf_axle(points(LEAF, **other)), np.array([heave]), np.array([-roll]))
    assert ours.axle_steer[0, 0] == pytest.approx(-theirs.axle_steer[0, 0], abs=1e-9)
    assert ours.lateral_shift[0, 0] == pytest.approx(-theirs.lateral_shift[0, 0], abs=1e-9)
    assert ours.pitch[0, 0] == pytest.approx(theirs.pitch[0, 0], abs=1e-9)
    assert ours.heave_force[0, 0] == pytest.approx(theirs.heave_force[0, 0], rel=1e-8)


def test_a_shackle_in_front_is_the_same_table_turned_round() -> None:
    """A vehicle reversed, front for rear: the same axle, so equal loads and opposite fore-aft motion."""
    turned = {name: (-p[0], p[1], p[2]) for name, p in LEAF.items()}
    pair = leaf_pair()
    springs = leaf_pair(front=pair.rear, rear=pair.front)
    heave = np.array([-0.05, 0.05])
    ours = sweep(leaf_axle(), heave, ZERO)
    theirs = sweep(leaf_axle(points(turned), leaf_springs=springs), heave, ZERO)
    assert theirs.heave_force == pytest.approx(ours.heave_force, rel=1e-9)
    assert theirs.centre[..., 0] == pytest.approx(-ours.centre[..., 0], abs=1e-10)
    assert theirs.pitch == pytest.approx(-ours.pitch, abs=1e-10)


def test_a_lifting_block_lifts_and_a_spring_of_more_camber_pushes_more() -> None:
    """A block of 40 mm under the spring: the stock heave less 40 mm has the stock load (the path turns it a little)."""
    blocked = leaf_axle(changes={"leaf_seat": np.array([-3.1, 0.56, 0.470])})
    assert sweep(blocked, np.array([-0.040]), ZERO).heave_force[0, 0] == pytest.approx(
        sweep(leaf_axle(), ZERO, ZERO).heave_force[0, 0], rel=0.01
    )
    loads = [
        sweep(leaf_axle(leaf_springs=leaf_pair(free_camber=c)), ZERO, ZERO).heave_force[0, 0] for c in (0.1, 0.13, 0.16)
    ]
    assert np.diff(loads) == pytest.approx(2 * 0.030 * 39.8e3, rel=0.08)


def test_a_longer_shackle_lowers_the_load() -> None:
    """Its upper hole 30 mm from the old one: that end of the spring hangs lower, so the stock pose takes less."""
    longer = leaf_axle(changes={"shackle_pivot@shackle": np.array([-3.765, 0.56, 0.630])})
    stock = sweep(leaf_axle(), ZERO, ZERO).heave_force[0, 0]
    assert sweep(longer, ZERO, ZERO).heave_force[0, 0] == pytest.approx(
        stock + 2 * 39.8e3 * 0.030 * 0.62 / 1.3, rel=0.05
    )


def test_two_stage_springs_follow_their_law_over_heave() -> None:
    """Helper contact 90 mm from free: the axle's load follows the spring tester's within the fit's own error."""
    law = TwoStageLeaf(main_rate=39.8e3, helper_rate=30e3, contact=0.09, blend=0.06)
    pair = leaf_pair()
    fit = fit_two_stage(pair.front, pair.rear, law, deflection=0.16)
    assert fit.error < 0.02 * float(law.force(np.array([0.16]))[0])
    # a spring whose halves are alike deflects at the eyes as at the seat
    assert fit.front.rate + fit.rear.rate == pytest.approx(39.8e3)
    middle = points(
        LEAF, fixed_eye=(-2.45, 0.56, 0.43), shackle_eye=(-3.75, 0.56, 0.43), shackle_pivot=(-3.75, 0.56, 0.63),
        wheel_centre=(-3.1, 0.78, 0.43),
    )  # fmt: skip
    half = LeafHalf(rate=19.9e3, lateral=9e5, torsion=1800.0)
    halves = fit_two_stage(half, half, law, deflection=0.16)
    pins = BushRates(radial=1e8, axial=1e8, conical=1.0, torsional=0.01)
    springs = LeafSprings(front=halves.front, rear=halves.rear, clamp=0.06, free_camber=0.10)
    axle = leaf_axle(middle, leaf_springs=springs, bushes=dict.fromkeys(LEAF_BUSHES, pins))
    heave = np.array([-0.04, 0.0, 0.04])
    ours = 0.5 * sweep(axle, heave, ZERO).heave_force[:, 0]
    assert ours == pytest.approx(law.force(0.10 + heave), abs=fit.error + 0.02 * ours[-1])


def test_droop_ends_where_the_shackle_comes_in_line() -> None:
    short = leaf_axle(points(LEAF, shackle_pivot=(-3.815, 0.56, 0.585)))
    limit = shackle_limit(short)
    assert limit is not None
    assert -0.20 < limit.heave < -0.03
    assert limit.rate == pytest.approx(3.0 * limit.stock_rate)
    assert "from the line of its half spring" in limit.reason
    closer = shackle_limit(short, growth=1e9)
    assert closer is not None
    assert closer.heave < limit.heave
    assert closer.margin == pytest.approx(15.0 * DEGREE)
    angle = leaf_curves(short, np.array([limit.heave]), ZERO).shackle_angle[0, 0, 0]
    assert np.pi - angle == pytest.approx(limit.margin)
    long = leaf_axle()
    assert shackle_limit(long, droop=-0.12) is None


def test_a_steered_axle_on_leaf_springs() -> None:
    """King pins, tie rod and drag link on the springs of a front axle, shackle in front; drag link along the spring."""
    shift = np.array([3.1, 0.0, 0.0])
    table = points({k: v for k, v in FRONT.items() if k.startswith(("king", "tie"))})
    turned = {name: (-p[0] - 6.2, p[1], p[2]) for name, p in LEAF.items()}
    table |= {name: np.array(p) + shift for name, p in turned.items()}
    table["drag_link_axle"], table["drag_link_pitman"] = np.array([0.16, -0.62, 0.36]), np.array([0.16, 0.37, 0.44])
    pair = leaf_pair()
    axle = leaf_axle(table, steering=True, leaf_springs=leaf_pair(front=pair.rear, rear=pair.front))
    curves = sweep(axle, np.array([-0.05, 0.0, 0.05]), np.array([0.0, 0.05]))
    assert np.abs(curves.road_steer).max() < 3.0 * DEGREE
    assert curves.road_steer[0, 0, 0] * curves.road_steer[2, 0, 0] < 0.0
    assert curves.distance.max() < 1e-9


def test_shape_of_graduated_leaves_lies_between_its_limits() -> None:
    assert graduated_shape(0.0) == pytest.approx(UNIFORM_STRENGTH, abs=1e-6)
    assert graduated_shape(1.0) == pytest.approx(UNIFORM_SECTION, abs=1e-6)
    assert UNIFORM_STRENGTH.link < graduated_shape(0.4).link < UNIFORM_SECTION.link
    # parabolic: slope over the rise goes with 3 (1 - sqrt(u)), so the share is 1 / (9 int (1 - sqrt(u))^2) = 2 / 3
    assert pytest.approx(1.0 / (9.0 * (1.0 - 4.0 / 3.0 + 0.5))) == PARABOLIC.link


@pytest.mark.parametrize(
    ("keywords", "words"),
    [
        ({"leaf_springs": None}, "needs the data of its leaf springs"),
        ({"bushes": {}}, "bush 'fixed_eye' has no rates"),
        ({"table": points(LEAF, shackle_pivot=(-4.08, 0.56, 0.482))}, "in line with the eyes"),
        ({"table": points(LEAF, fixed_eye=(-3.08, 0.56, 0.445))}, "needs some length to bend"),
        ({"table": {k: v for k, v in points(LEAF).items() if k != "leaf_seat"}}, "'leaf_seat' is missing"),
        ({"leaf_springs": leaf_pair(free_camber=0.9)}, "that is no leaf spring"),
    ],
)
def test_what_cannot_be_is_said(keywords: dict[str, object], words: str) -> None:
    with pytest.raises(InputError, match=words):
        leaf_axle(**keywords)  # type: ignore[arg-type]


def test_rates_and_loads_that_cannot_be() -> None:
    pair = leaf_pair()
    with pytest.raises(InputError, match="either the load"):
        LeafSprings(front=pair.front, rear=pair.rear)
    with pytest.raises(InputError, match="rate is -1"):
        LeafHalf(rate=-1.0, lateral=1.0, torsion=1.0)
    with pytest.raises(InputError, match="does not reach the helper"):
        fit_two_stage(pair.front, pair.rear, TwoStageLeaf(main_rate=4e4, helper_rate=3e4, contact=0.2), deflection=0.1)
    with pytest.raises(InputError, match="has no leaf springs"):
        leaf_curves(_arms(), ZERO, ZERO)


def _arms():  # type: ignore[no-untyped-def]
    from linkage_axles import BUSHES
    from linkage_axles import points as table

    from tussock.mechanics.linkage import build_axle

    return build_axle("arms_track_rod", table(FRONT), wheel_radius=0.361, bushes=BUSHES, steering=True)


def test_a_lock_is_reported_with_its_place() -> None:
    short = leaf_axle(points(LEAF, shackle_pivot=(-3.815, 0.56, 0.585)))
    with pytest.raises(SolverError, match="moves freely to heave"):
        sweep(short, np.array([-0.30]), ZERO)


def test_progressive_bushes_stiffen_the_axle_sideways() -> None:
    from dataclasses import replace

    from tussock.mechanics.linkage import axle_compliance

    stiff = {
        name: replace(rates, progressive={"axial": (5e9, 0.0), "radial": (1e10, 0.0)})
        for name, rates in LEAF_BUSHES.items()
    }
    at = np.array([0.03])
    plain, grown = leaf_axle(), leaf_axle(bushes=stiff)
    assert axle_compliance(grown, at, ZERO).lateral[0, 0] < axle_compliance(plain, at, ZERO).lateral[0, 0]
    with pytest.raises(InputError, match="progressive law"):
        leaf_axle(
            bushes={**LEAF_BUSHES, "fixed_eye": replace(LEAF_BUSHES["fixed_eye"], progressive={"odd": (1.0, 0.0)})}
        )
