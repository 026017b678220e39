"""Mass states: round trips, symmetry, independent tensors, uncertainty. All figures invented (the Tarn)."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tussock.errors import DomainError
from tussock.mechanics.mass import (
    Item,
    MassState,
    check,
    combine,
    corner_loads,
    critical_sliding_velocity,
    estimate_height,
    estimate_inertia,
    height_from_tilt,
    height_spread_from_tilt,
    rollover_threshold,
    static_stability_factor,
    weigh,
)

TARN = MassState(mass=1750.0, centre=(-1.2929, 0.007, 0.70), inertia=(680.0, 3140.0, 3200.0), products=(0.0, 60.0, 0.0))
CORNERS = [459.0, 453.0, 421.0, 417.0]

corner = st.floats(150.0, 900.0)
place = st.tuples(st.floats(-4.0, 1.0), st.floats(-0.9, 0.9), st.floats(0.2, 2.0))


@given(corners=st.tuples(corner, corner, corner, corner), rear_track=st.floats(1.2, 1.8))
def test_corners_round_trip(corners: tuple[float, ...], rear_track: float) -> None:
    scales = weigh(corners, wheelbase=2.7, track=1.5, rear_track=rear_track)
    state = MassState(mass=scales.mass, centre=(scales.x, scales.y, 0.7), inertia=(1.0, 1.0, 1.0))
    back = corner_loads(state, wheelbase=2.7, track=1.5, rear_track=rear_track, cross=scales.cross)
    assert back == pytest.approx(np.array(corners), abs=1e-8)


@given(corners=st.tuples(corner, corner, corner, corner))
def test_loads_without_cross_weight_keep_mass_and_centre(corners: tuple[float, ...]) -> None:
    scales = weigh(corners, wheelbase=2.7, track=1.5)
    state = MassState(mass=scales.mass, centre=(scales.x, scales.y, 0.7), inertia=(1.0, 1.0, 1.0))
    again = weigh(list(corner_loads(state, wheelbase=2.7, track=1.5)), wheelbase=2.7, track=1.5)
    assert (again.mass, again.x, again.y) == pytest.approx((scales.mass, scales.x, scales.y), abs=1e-9)
    # the lever rule of both axles alike: F_fl = W b/L (1/2 + y/t)
    left, front = 0.5 + scales.y / 1.5, 1.0 + scales.x / 2.7
    loads = corner_loads(state, wheelbase=2.7, track=1.5)
    assert loads[0] == pytest.approx(scales.mass * front * left, abs=1e-8)


@given(corners=st.tuples(corner, corner, corner, corner))
def test_loads_without_cross_weight_keep_the_centre_on_unequal_tracks(
    corners: tuple[float, ...],
) -> None:
    scales = weigh(corners, wheelbase=2.7, track=1.4, rear_track=1.6)
    state = MassState(mass=scales.mass, centre=(scales.x, scales.y, 0.7), inertia=(1.0, 1.0, 1.0))
    loads = corner_loads(state, wheelbase=2.7, track=1.4, rear_track=1.6)
    again = weigh(list(loads), wheelbase=2.7, track=1.4, rear_track=1.6)
    assert (again.mass, again.x, again.y) == pytest.approx((scales.mass, scales.x, scales.y), abs=1e-9)


@given(y=st.floats(-0.3, 0.3))
def test_mirrored_vehicle_has_mirrored_corners(y: float) -> None:
    one = corner_loads(MassState(mass=1750.0, centre=(-1.3, y, 0.7), inertia=(1, 1, 1)), wheelbase=2.7, track=1.5)
    other = corner_loads(MassState(mass=1750.0, centre=(-1.3, -y, 0.7), inertia=(1, 1, 1)), wheelbase=2.7, track=1.5)
    assert one == pytest.approx(other[[1, 0, 3, 2]], abs=1e-9)


@given(masses=st.lists(st.floats(1.0, 200.0), min_size=2, max_size=6), data=st.data())
def test_tensor_against_the_sum_over_points(masses: list[float], data: st.DataObject) -> None:
    """Independent: the tensor of point masses about their centre, by its definition."""
    places = [data.draw(place) for _ in masses]
    items = [Item(name="item", mass=m, at=p) for m, p in zip(masses, places, strict=True)]
    state = MassState(mass=0.0, centre=(0.0, 0.0, 0.0), inertia=(0.0, 0.0, 0.0)).with_items(items)
    r = np.array(places) - np.average(np.array(places), axis=0, weights=masses)
    expected = sum(
        (m * (np.cross(np.eye(3), v) @ np.cross(np.eye(3), v).T) for m, v in zip(masses, r, strict=True)),
        np.zeros((3, 3)),
    )
    assert state.tensor == pytest.approx(expected, abs=1e-6)


@given(mass=st.floats(1.0, 400.0), at=place)
def test_taking_away_undoes_adding(mass: float, at: tuple[float, float, float]) -> None:
    part = MassState(mass=mass, centre=at, inertia=(5.0, 6.0, 7.0), products=(0.5, -0.4, 0.3))
    back = combine([TARN, part]).without(part)
    assert back.mass == pytest.approx(TARN.mass)
    assert back.centre == pytest.approx(TARN.centre, abs=1e-9)
    assert back.tensor == pytest.approx(TARN.tensor, abs=1e-6)


def test_box_and_its_halves() -> None:
    """A uniform box, 4 x 2 x 1 m and 1200 kg, cut in two: the halves together are the whole."""

    def box(mass: float, length: float, centre: tuple[float, float, float]) -> MassState:
        w, h = 2.0, 1.0
        return MassState(
            mass=mass,
            centre=centre,
            inertia=(
                mass * (w**2 + h**2) / 12.0,
                mass * (length**2 + h**2) / 12.0,
                mass * (length**2 + w**2) / 12.0,
            ),
        )

    whole = box(1200.0, 4.0, (0.0, 0.0, 0.5))
    halves = combine([box(600.0, 2.0, (-1.0, 0.0, 0.5)), box(600.0, 2.0, (1.0, 0.0, 0.5))])
    assert halves.tensor == pytest.approx(whole.tensor, abs=1e-9)


def test_spread_against_drawn_weighings() -> None:
    """First-order uncertainty against 20,000 drawn weighings (seed 7)."""
    rng = np.random.default_rng(7)
    spreads = [2.0, 3.0, 1.0, 4.0]
    stated = weigh(CORNERS, wheelbase=2.7, track=1.5, corner_spread=spreads, wheelbase_spread=0.003)
    drawn = rng.normal(CORNERS, spreads, size=(20_000, 4))
    bases = rng.normal(2.7, 0.003, 20_000)
    mass = drawn.sum(axis=1)
    x = -bases * (drawn[:, 2] + drawn[:, 3]) / mass
    y = 0.75 * (drawn[:, 0] + drawn[:, 2] - drawn[:, 1] - drawn[:, 3]) / mass
    assert stated.mass_spread == pytest.approx(float(np.std(mass)), rel=0.03)
    assert stated.x_spread == pytest.approx(float(np.std(x)), rel=0.03)
    assert stated.y_spread == pytest.approx(float(np.std(y)), rel=0.03)


def test_tilt_spread_against_drawn_tests() -> None:
    """First-order uncertainty of the tilt test against 5,000 drawn tests (seed 8)."""
    rng = np.random.default_rng(8)
    given_ = {"mass": 1750.0, "front_level": 912.0, "wheelbase": 2.7}
    angle, raised = math.radians(15.0), 970.9
    stated = height_spread_from_tilt(
        **given_,
        front_raised=raised,
        angle=angle,
        scale_spread=1.5,
        angle_spread=math.radians(0.5),
        axle_height_spread=0.004,
    )
    drawn = [
        height_from_tilt(
            mass=1750.0,
            front_level=912.0 + rng.normal(0.0, 1.5),
            front_raised=raised + rng.normal(0.0, 1.5),
            wheelbase=2.7,
            angle=angle + rng.normal(0.0, math.radians(0.5)),
            axle_height=0.361 + rng.normal(0.0, 0.004),
        )
        for _ in range(5000)
    ]
    assert stated == pytest.approx(float(np.std(drawn)), rel=0.04)


def test_check_flags_what_is_odd() -> None:
    assert check(TARN, wheelbase=2.7, track=1.5) == ()
    heavy_tail = TARN.with_items([Item(name="stretcher", mass=1500.0, at=(-5.0, 0.0, 1.0))])
    assert "outside the wheelbase" in check(heavy_tail, wheelbase=2.7, track=1.5)[0]
    wrong = MassState(mass=10.0, centre=(-1.0, 0.9, -0.1), inertia=(1.0, 1.0, 9.0))
    said = " ".join(check(wrong, wheelbase=2.7, track=1.5))
    assert "outside the track" in said
    assert "z measured from the ground" in said
    assert "exceeds the other two together" in said


def test_heavier_load_behind_takes_from_the_front() -> None:
    """Load behind the rear axle lifts the front: statics."""
    before = corner_loads(TARN, wheelbase=2.7, track=1.5)
    after = corner_loads(
        TARN.with_items([Item(name="drawers", mass=118.0, at=(-2.9, 0.0, 0.98))]), wheelbase=2.7, track=1.5
    )
    assert after[0] + after[1] < before[0] + before[1]
    assert float(np.sum(after)) == pytest.approx(1868.0)


def test_impossible_masses_are_refused() -> None:
    with pytest.raises(DomainError, match="winch: mass is -3 kg"):
        Item(name="winch", mass=-3.0, at=(0.0, 0.0, 0.0))
    with pytest.raises(DomainError, match="must be three numbers"):
        Item(name="winch", mass=3.0, at=(0.0, math.nan, 0.0))
    with pytest.raises(DomainError, match="cannot be negative"):
        MassState(mass=-1.0, centre=(0.0, 0.0, 0.0), inertia=(0.0, 0.0, 0.0))
    with pytest.raises(DomainError, match="is not a number"):
        MassState(mass=math.inf, centre=(0.0, 0.0, 0.0), inertia=(0.0, 0.0, 0.0))
    with pytest.raises(DomainError, match="each above 0 kg"):
        weigh([459.0, 0.0, 421.0, 417.0], wheelbase=2.7, track=1.5)
    with pytest.raises(DomainError, match="four corner masses"):
        weigh([459.0, 453.0], wheelbase=2.7, track=1.5)
    with pytest.raises(DomainError, match="must be positive"):
        weigh(CORNERS, wheelbase=0.0, track=1.5)
    with pytest.raises(DomainError, match="uncertainty cannot be negative"):
        weigh(CORNERS, wheelbase=2.7, track=1.5, corner_spread=-1.0)
    with pytest.raises(DomainError, match="nothing with mass"):
        combine([])
    with pytest.raises(DomainError, match="leaves nothing"):
        TARN.without(MassState(mass=1800.0, centre=(0.0, 0.0, 0.0), inertia=(0.0, 0.0, 0.0)))
    with pytest.raises(DomainError, match="too small for the part"):
        TARN.without(MassState(mass=100.0, centre=TARN.centre, inertia=(700.0, 0.0, 0.0)))


def test_estimates_refuse_what_they_do_not_know() -> None:
    with pytest.raises(DomainError, match="900 kg lies outside the inertia regression"):
        estimate_inertia(900.0)
    with pytest.raises(DomainError, match="both axle distances"):
        estimate_inertia(1750.0, track=1.5)
    with pytest.raises(DomainError, match="3000 kg lies outside the height regression"):
        estimate_height(3000.0)
    with pytest.raises(DomainError, match="roof height 1 m"):
        estimate_height(1750.0, roof_height=1.0)
    with pytest.raises(DomainError, match="must be raised"):
        height_from_tilt(
            mass=1750.0, front_level=912.0, front_raised=912.0, wheelbase=2.7, angle=0.0, axle_height=0.361
        )
    with pytest.raises(DomainError, match="must be positive"):
        static_stability_factor(track=1.5, height=0.0)
    with pytest.raises(DomainError, match="must be positive"):
        critical_sliding_velocity(mass=1750.0, height=0.7, track=1.5, roll_inertia=0.0)
    with pytest.raises(DomainError, match="must lie below"):
        rollover_threshold(track=1.5, height=0.7, roll_centre_height=0.8, roll_gradient=0.1)
