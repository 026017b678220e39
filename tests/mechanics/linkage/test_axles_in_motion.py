"""An invented pick-up on its own linkages: wishbones with coils in front, leaf springs in the linkage behind.

What the moving vehicle rests on is held against the linkage's own virtual work and loads.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from linkage_wheels import LEAF, RADIUS, WISHBONE, leaf_axle, points

from tussock.mechanics.axle_map import AxleMap
from tussock.mechanics.linkage import Axle, axle_map, axle_map_of_wheels, build_wheel, leaf_curves, sweep
from tussock.mechanics.mass import MassState
from tussock.mechanics.motion import AxleParts, DamperParts, Vehicle, linearise, settle, springing
from tussock.mechanics.tyre import Tyre

HEAVE, ROLL = np.linspace(-0.10, 0.10, 21), np.deg2rad(np.linspace(-6.0, 6.0, 13))
SEATS = {
    "spring_axle": (-3.10, 0.50, 0.42),
    "spring_chassis": (-3.10, 0.50, 0.62),
    "damper_axle": (-3.16, 0.46, 0.33),
    "damper_chassis": (-2.96, 0.40, 0.70),
    "stop_axle": (-3.10, 0.50, 0.44),
    "stop_chassis": (-3.10, 0.50, 0.54),
}
WHEEL = 40.0  # mass of one front wheel with its upright


@cache
def rear() -> tuple[Axle, AxleMap]:
    """Return the leaf-sprung axle and its map."""
    axle = leaf_axle(points({**LEAF, **{k: v for k, v in SEATS.items() if k not in LEAF}}))
    return axle, axle_map(axle, HEAVE, ROLL)


@cache
def vehicle() -> Vehicle:
    """Return the pick-up."""
    v = np.linspace(-3.0, 3.0, 13)
    damper = DamperParts(velocity=v, force=2500.0 * v)
    tyre = Tyre(
        vertical_stiffness=240e3, vertical_damping=150.0, free_radius=RADIUS + 0.017,
        cornering_stiffness=42e3, reference_load=4400.0, friction=0.85, relaxation_length=0.62,
    )  # fmt: skip
    wheel = build_wheel("double_wishbone", points(WISHBONE), wheel_radius=RADIUS)
    front, (_, behind) = axle_map_of_wheels(wheel, HEAVE, ROLL), rear()
    lever = 2.0 * WHEEL * (0.5 * front.track) ** 2
    masses = (
        MassState(mass=2.0 * WHEEL, centre=(0.0, 0.0, RADIUS), inertia=(lever + 2.2, 3.0, lever + 2.2)),
        MassState(mass=160.0, centre=(behind.design_x, 0.0, RADIUS), inertia=(58.0, 9.0, 59.0)),
    )
    springs = ((62e3, 0.54), (0.0, 0.0))
    ends = [
        AxleParts(
            axle=grid,
            mass=mass,
            spin_inertia=1.5,
            wheel_inertia=1.1,
            spring_rate=(rate, rate),
            spring_length=(length, length),
            stop_height=0.05,
            stop_compression=np.linspace(0.0, 0.05, 32),
            stop_force=2e6 * np.linspace(0.0, 0.05, 32) ** 2,
            damper=damper,
            bar_rate=bar,
            tyre=tyre,
        )
        for grid, mass, (rate, length), bar in zip((front, behind), masses, springs, (900.0, 0.0), strict=True)
    ]
    body = MassState(mass=1500.0, centre=(0.45 * behind.design_x, 0.0, 0.78), inertia=(600.0, 2900.0, 3000.0))
    return Vehicle(body=body, front=ends[0], rear=ends[1])


def test_leaf_springs_carry_the_body_through_the_energy_of_the_map() -> None:
    """Rest against the linkage: the wheels press with what the leaf springs carry, and give way at their rate."""
    axle, _ = rear()
    pick_up = vehicle()
    rest = settle(pick_up)
    heave = float(rest.heave[1])
    here = springing(pick_up.rear, heave=heave)
    curves = sweep(axle, np.array([heave]), np.zeros(1))
    loads = leaf_curves(axle, np.array([heave]), np.zeros(1)).load
    pressed = rest.wheel_load[2:].sum() - pick_up.rear.mass.mass * pick_up.gravity
    assert rest.stop_force.max() == 0.0
    assert here.force == pytest.approx(curves.heave_force[0, 0], rel=1e-4)
    # the body stands nose up by half a degree, and the wheels move on a slant against it
    assert here.force == pytest.approx(pressed, rel=1e-3)
    assert loads.sum() == pytest.approx(pressed, rel=0.05)  # the springs also hold the axle by their eyes' rubber
    assert here.heave_rate == pytest.approx(curves.heave_rate[0, 0], rel=2e-3)
    assert here.roll_rate == pytest.approx(curves.roll_rate[0, 0], rel=2e-3)
    assert abs(heave) < 0.05


def test_pick_up_swings_as_pick_ups_do() -> None:
    """Ride 1 to 2 Hz, wheel hop 8 to 15 Hz, damping ratios from 0.1 to 0.6: common practice, no source."""
    twin = linearise(vehicle(), speed=15.0)
    assert twin.stable
    for shape, low, high in (("body heave", 1.0, 2.0), ("front axle hop", 8.0, 15.0), ("rear axle hop", 8.0, 15.0)):
        mode = twin.mode(shape)
        assert low < mode.frequency < high, shape
        assert 0.1 < mode.damping < 0.6, shape
