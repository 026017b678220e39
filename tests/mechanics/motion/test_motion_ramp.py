"""A vehicle on a ramp under one front wheel: linear closed form, mirror, order, and ends of the dampers' strokes."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from motion_vehicles import (
    RADIUS,
    TRACK,
    TYRE,
    WHEELBASE,
    axle_parts,
    damper,
    front_map,
    linear_damper,
    mirrored,
    rear_map,
    wagon,
)

from tussock.errors import DomainError, SolverError
from tussock.mechanics.axle_map import AxleMap
from tussock.mechanics.mass import MassState
from tussock.mechanics.motion import Vehicle, ramp_travel, settle

SEAT, GRAVITY = (
    1.5,
    0.4,
)  # little weight: small angles; seats so far out that a wheel lifts before its spring comes loose


def straight_map(design_x: float) -> AxleMap:
    """An axle that moves straight up and turns about its middle; springs stand upright at `SEAT`."""
    heave, roll = np.linspace(-0.14, 0.14, 15), np.radians(np.linspace(-14.0, 14.0, 13))
    h, r = np.meshgrid(heave, roll, indexing="ij")
    side = SEAT * np.sin(r)
    zero = np.zeros_like(h)

    def lengths(stood: float) -> np.ndarray:
        return np.stack([stood - h - side, stood - h + side], axis=-1)

    return AxleMap.of_rigid(
        heave=heave,
        roll=roll,
        centre_x=np.full_like(h, design_x),
        centre_y=zero,
        centre_z0=RADIUS,
        design_x=design_x,
        pitch=zero,
        yaw=zero,
        spring=lengths(0.3),
        damper=lengths(0.5),
        stop=lengths(0.5),
        steer=np.stack([zero, zero], axis=-1),
        energy=zero,
        track=TRACK,
    )


def linear_wagon(front_rate: float, rear_rate: float, bar: float) -> Vehicle:
    """Linear springs and tyres, no stops in reach, mass at the height of the axles, little weight for its springs."""
    body = MassState(mass=1460.0, centre=(-1.29, 0.0, RADIUS), inertia=(560.0, 2350.0, 2450.0))
    tyre = dataclasses.replace(TYRE, toe=1e-5)  # carries linearly until it lifts
    axles = [
        axle_parts(straight_map(x), mass=m, rate=rate, load=140.0, bar_rate=bar, damper=linear_damper(1e3), tyre=tyre)
        for x, m, rate in ((0.0, 150.0, front_rate), (-WHEELBASE, 140.0, rear_rate))
    ]
    return Vehicle(body=body, front=axles[0], rear=axles[1], gravity=GRAVITY)


@pytest.mark.parametrize(("front", "rear", "bar"), [(60e3, 60e3, 0.0), (80e3, 45e3, 9e3), (40e3, 90e3, 20e3)])
def test_linear_springs_lift_a_wheel_where_statics_says(front: float, rear: float, bar: float) -> None:
    """One wheel raised by h twists the axles' roll rates against each other: h = F t^2 (1 / K_front + 1 / K_rear).

    F is the load of the lighter wheel of the pair that is relieved, the other front one and the rear one on the
    ramp's side; each K has the springs and bar in series with the tyres. Angles are small, a sixth of a degree, so
    that the weight leans by less than a hundredth of F t; the ramp is flat, so that the distance is found finely.
    """
    vehicle = linear_wagon(front, rear, bar)
    flat = math.radians(1.0)
    found = ramp_travel(vehicle, angle=flat)

    def roll_rate(spring: float) -> float:
        on_springs, on_tyres = 2.0 * spring * SEAT**2 + bar, 0.5 * TYRE.vertical_stiffness * TRACK**2
        return on_springs * on_tyres / (on_springs + on_tyres)

    level = settle(vehicle).wheel_load
    relieved = min(level[1], level[2])
    height = relieved * TRACK**2 * (1.0 / roll_rate(front) + 1.0 / roll_rate(rear))
    assert found.lifts == ("front right", "rear left")[int(level[2] < level[1])]
    assert found.distance[-1] == pytest.approx(height / math.sin(flat), rel=8e-3)
    assert found.index == pytest.approx(1000.0 * found.distance[-1] / WHEELBASE)


def test_the_weight_stays_on_the_wheels_all_the_way_up() -> None:
    vehicle = wagon()
    found = ramp_travel(vehicle)
    np.testing.assert_allclose(found.wheel_load.sum(axis=1), vehicle.total_mass * vehicle.gravity, rtol=1e-5)


@settings(max_examples=4, deadline=None)
@given(st.floats(-0.03, 0.03), st.floats(0.0, 20e3))
def test_a_mirrored_vehicle_with_the_other_wheel_on_the_ramp_has_the_same_index(off: float, bar: float) -> None:
    base = wagon(front={"bar_rate": bar})
    body = dataclasses.replace(base.body, centre=(base.body.centre[0], off, base.body.centre[2]))
    vehicle = dataclasses.replace(base, body=body)
    left, right = ramp_travel(vehicle, wheel=0), ramp_travel(mirrored(vehicle), wheel=1)
    np.testing.assert_allclose(left.distance, right.distance, rtol=0.0, atol=3e-4)
    np.testing.assert_allclose(left.wheel_load, right.wheel_load[:, [1, 0, 3, 2]], rtol=0.0, atol=20.0)
    assert left.lifts.replace("left", "right") == right.lifts or {left.lifts, right.lifts} == {
        "rear left",
        "rear right",
    }


def test_a_stiffer_bar_lifts_a_wheel_earlier() -> None:
    index = [ramp_travel(wagon(front={"bar_rate": bar})).index for bar in (8e3, 25e3, 60e3)]
    assert index == sorted(index, reverse=True)


def test_a_shorter_damper_lifts_a_wheel_earlier() -> None:
    middle = [float(m.damper[7, 6].mean()) for m in (front_map(), rear_map())]
    index = []
    for droop in (0.12, 0.06, 0.03):
        front, rear = (
            {"damper": dataclasses.replace(damper(1200.0, 2300.0, mount=9e5), open_length=m + droop)} for m in middle
        )
        index.append(ramp_travel(wagon(front=front, rear=rear)).index)
    assert index == sorted(index, reverse=True)
    assert index[2] < index[0] - 20.0


@pytest.mark.parametrize(("angle", "wheel", "match"), [(0.0, 0, "must rise"), (1.2, 0, "must rise"), (0.3, 2, "front")])
def test_ramps_that_cannot_be_are_refused(angle: float, wheel: int, match: str) -> None:
    with pytest.raises(DomainError, match=match):
        ramp_travel(wagon(), angle=angle, wheel=wheel)


def test_a_vehicle_on_three_wheels_has_no_index() -> None:
    base = wagon()
    lopsided = dataclasses.replace(base, body=dataclasses.replace(base.body, centre=(-0.2, 0.6, 0.76)))
    with pytest.raises(SolverError):
        ramp_travel(lopsided)
