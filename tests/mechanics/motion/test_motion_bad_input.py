"""Vehicles that cannot stand or be driven, and runs that break: what is said, and that no number comes back."""

from __future__ import annotations

import dataclasses
import math
import re

import numpy as np
import pytest
from motion_vehicles import TYRE, axle_parts, linear_damper, rear_map, wagon

from tussock.errors import DomainError, SolverError
from tussock.mechanics.mass import MassState
from tussock.mechanics.motion import Vehicle, settle, simulate
from tussock.mechanics.roads import Track

PROGRESS = np.linspace(0.0, 0.07, 64)


def humped(length: float = 60.0) -> Track:
    """A hump under the left wheels alone."""
    x = np.arange(round(length / 0.05) + 1) * 0.05
    return Track(spacing=0.05, left=0.05 * np.exp(-(((x - 15.0) / 0.5) ** 2)), right=np.zeros(x.size))


@pytest.mark.parametrize(
    ("changes", "force"),
    [
        ({"rear": {"tyre": dataclasses.replace(TYRE, vertical_damping=3e6)}}, r"rear (left|right) wheel load"),
        ({"front": {"spring_rate": (1e10, 1e10), "spring_length": (0.29, 0.29)}}, r"front (left|right) spring force"),
        ({"rear": {"stop_force": 5e9 * PROGRESS, "stop_height": 0.11}}, r"rear (left|right) bump stop force"),
        ({"front": {"damper": linear_damper(3e5)}}, r"front (left|right) damper force"),
        (
            {"front": {"tyre": dataclasses.replace(TYRE, cornering_stiffness=4e8, friction=5e3)}},
            r"front (left|right) side force",
        ),
        ({"front": {"bar_rate": 5e8}}, r"force of leaf springs, bushes and bar at the front wheels"),
    ],
    ids=["tyre", "spring", "stop", "damper", "side force", "bar"],
)
def test_diverging_run_names_time_place_and_the_force_that_grew(
    changes: dict[str, dict[str, object]], force: str
) -> None:
    with pytest.raises(SolverError) as caught:
        simulate(wagon(**changes), humped(), speed=10.0)
    said = str(caught.value)
    print(said)
    found = re.search(
        r"diverged at ([\d.]+) s, ([\d.]+) m down the road: the (.+) grew from ([\d.e+]+) N to ([\d.e+]+) N", said
    )
    assert found is not None
    assert float(found[2]) == pytest.approx(10.0 * float(found[1]), abs=0.06)
    assert re.fullmatch(force, found[3])
    assert float(found[5]) > 100.0 * max(float(found[4]), 1.0)


def test_axle_that_has_left_its_map_is_named_with_the_time() -> None:
    """A spring like rock throws the front axle out of its travel, and the run breaks some time after."""
    with pytest.raises(SolverError) as caught:
        simulate(wagon(front={"spring_rate": (3e9, 3e9), "spring_length": (0.29, 0.29)}), humped(), speed=10.0)
    found = re.search(
        r"diverged at ([\d.]+) s.* after the front axle had left the travel .* at ([\d.]+) s; either", str(caught.value)
    )
    assert found is not None, str(caught.value)
    assert float(found[2]) < float(found[1]) - 0.05


def test_vehicle_that_tips_over_is_told_with_time_and_place() -> None:
    """Pushed over; nothing is returned beyond what the angles of the equations hold."""
    vehicle = wagon()
    n = int(60.0 / 15.0 / 1e-3)
    moment = np.where(np.arange(n) > 500, 25e3, 0.0)
    with pytest.raises(
        SolverError, match=r"tipped over at [\d.]+ s, [\d.]+ m down the road \(pitch -?\d+ deg, roll \d+ deg"
    ):
        simulate(vehicle, humped(), speed=15.0, roll_moment=moment)


def top_heavy(height: float) -> Vehicle:
    vehicle = wagon()
    body = vehicle.body
    return dataclasses.replace(
        vehicle, body=MassState(mass=body.mass, centre=(body.centre[0], 0.0, height), inertia=body.inertia)
    )


def test_vehicle_that_falls_over_does_not_stand() -> None:
    """Higher than its springs can hold in roll: the balance exists, and is none."""
    assert settle(top_heavy(0.9)).wheel_load.min() > 0.0
    with pytest.raises(SolverError, match=r"does not stand still: it falls away sideways.*against the height"):
        settle(top_heavy(4.5))


def test_springs_that_lose_force_under_load_are_refused() -> None:
    base = axle_parts(rear_map(), mass=140.0, rate=24e3, load=3350.0)
    middle = float(base.axle.spring[7, 6, 0])
    with pytest.raises(DomainError, match=r"spring: at a length of \d+ mm its force falls by [\d.]+ N a millimetre"):
        dataclasses.replace(base, further_force=lambda x: 3e3 * np.tanh((x - middle) / 0.02))
    with pytest.raises(DomainError, match="not a number"):
        dataclasses.replace(base, further_force=lambda x: np.where(x < middle, math.nan, 0.0))
    for change in ({"spring_rate": (-1.0, 2e4)}, {"bar_rate": -5.0}, {"bar_rate": math.nan}):
        with pytest.raises(DomainError, match="cannot be negative"):
            dataclasses.replace(base, **change)


def test_energy_of_a_map_that_snaps_through_holds_no_vehicle_up() -> None:
    """Leaf springs past their flat, as energy of the map: there is a balance on the hump of it, and it is none."""
    vehicle = wagon()
    rest = settle(vehicle)
    rear = vehicle.rear
    here = float(rest.heave[1])
    # a negative rate about where the axle stands, 60 N/mm more than springs, bushes and tyres hold
    hump = -0.5 * 400e3 * 0.02**2 * (1.0 - np.exp(-(((rear.axle.heave - here) / 0.02) ** 2)))
    axle = dataclasses.replace(rear.axle, energy=rear.axle.energy + hump[:, None])
    snapping = dataclasses.replace(vehicle, rear=dataclasses.replace(rear, axle=axle))
    with pytest.raises(SolverError, match=r"does not stand still: it falls away .*loses force there"):
        settle(snapping, start=rest.q)


def test_what_is_no_number_has_no_rest() -> None:
    with pytest.raises(SolverError, match="not a number"):
        settle(dataclasses.replace(wagon(), gravity=math.nan))
