"""A frame that twists: closed forms of statics and of the free twist, the rigid limit, energy, mirror image.

Sources
-------
[1] Lateral load transfer with a chassis that twists: roll stiffnesses of both ends joined by the chassis as a third
    spring, each end with the mass above it. Deakin, Crolla, Ramirez, Hanley, The effect of chassis stiffness on race
    car handling balance, SAE 2000-01-3554, and Milliken and Milliken, Race Car Vehicle Dynamics (1995). Both from
    memory, unsure of their notation; the form is derived again here, with the weight that leans out as Gillespie,
    chapter 6 (from memory) has it for the rigid body.
[2] Free twist of two lumps on a torsional spring, and a spring to the ground at either: Den Hartog, Mechanical
    Vibrations (from memory).
"""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from motion_vehicles import mirrored, wagon
from test_motion_conservation import balance, corrugation, inputs_over, rough_track, steered
from test_motion_cornering_literature import axle, steady

from tussock.errors import DomainError, SolverError
from tussock.mechanics.mass import GRAVITY, MassState
from tussock.mechanics.motion import Frame, Vehicle, linearise, pack, settle, simulate, steady_bend

pytestmark = pytest.mark.literature

FRAME = Frame(stiffness=1.6e5, damping=0.05, front_share=0.45)
MASS, A, B, TRACK, HEIGHT = 1900.0, 1.35, 1.50, 1.55, 0.78


def twisting(frame: Frame | None = FRAME) -> Vehicle:
    return dataclasses.replace(wagon(), frame=frame)


def constructed(stiffness: float | None, *, share: float = 0.45) -> Vehicle:
    """The vehicle of the load transfer's constructed case, its front end much firmer in roll than its rear one."""
    front, rear = (
        axle(
            x=x, height=0.39, track=TRACK, load=0.5 * MASS * GRAVITY * lever / (A + B), roll_rate=rate,
            roll_centre=centre, mass=unsprung, cornering=6e4,
        )
        for x, lever, rate, centre, unsprung in ((0.0, B, 60e3, 0.42, 170.0), (-(A + B), A, 35e3, 0.50, 190.0))
    )  # fmt: skip
    body = MassState(mass=MASS, centre=(-A, 0.0, HEIGHT), inertia=(700.0, 2500.0, 2600.0))
    frame = None if stiffness is None else Frame(stiffness=stiffness, damping=0.05, front_share=share)
    return Vehicle(body=body, front=front, rear=rear, frame=frame)


def transfers(vehicle: Vehicle) -> tuple[float, float]:
    """Load that each axle moves at 0.1 g in the linear twin's steady turn [N]."""
    speed = 20.0
    states, outputs = steady(linearise(vehicle, speed=speed))
    scale = 0.1 * GRAVITY / (speed * states["yaw rate"])
    front, rear = (
        0.5 * abs(outputs[f"wheel load {end} right"] - outputs[f"wheel load {end} left"]) * abs(scale)
        for end in ("front", "rear")
    )
    return front, rear


@pytest.mark.parametrize("stiffness", [2e4, 1e5, 1e6])
@pytest.mark.parametrize("share", [0.3, 0.6])
def test_load_transfer_is_that_of_springs_joined_by_the_frame(stiffness: float, share: float) -> None:
    """Source 1. How the roll inertia is shared has no part in it."""
    lever = np.array([HEIGHT - 0.42, HEIGHT - 0.50])
    masses = MASS * np.array([B, A]) / (A + B)
    rates = np.array([60e3, 35e3])
    matrix = np.diag(rates - masses * GRAVITY * lever) + stiffness * np.array([[1.0, -1.0], [-1.0, 1.0]])
    lateral = 0.1 * GRAVITY
    roll = np.linalg.solve(matrix, lateral * masses * lever)
    unsprung = np.array([170.0, 190.0]) * 0.39
    expected = (rates * roll + lateral * (masses * [0.42, 0.50] + unsprung)) / TRACK
    got = transfers(constructed(stiffness, share=share))
    print(f"{stiffness:g} N m/rad: front and rear {got[0]:.1f}, {got[1]:.1f} N; by hand {np.round(expected, 1)} N")
    assert got == pytest.approx(tuple(expected), rel=5e-4)


def test_a_stiffer_frame_comes_to_the_rigid_one_as_its_stiffness_grows() -> None:
    rigid = transfers(constructed(None))[0]
    soft, firm, hard = (transfers(constructed(stiffness))[0] for stiffness in (1e6, 1e7, 1e8))
    print(f"rigid {rigid:.3f} N; frame of 1e6, 1e7, 1e8 N m/rad less {rigid - soft:.3f}, {rigid - firm:.4f} N")
    assert rigid - soft > 0.3  # the firm end takes less over a soft frame
    assert (rigid - soft) / (rigid - firm) == pytest.approx(10.0, rel=0.1)
    assert hard == pytest.approx(rigid, abs=0.02 * (rigid - soft))
    road = rough_track(length=80.0)
    stiff = simulate(twisting(Frame(stiffness=6e7, damping=0.3, front_share=0.45)), road, speed=18.0)
    plain = simulate(wagon(), road, speed=18.0)
    size = np.ptp(plain.position[:, 3:10], axis=0)
    assert np.all(np.abs(stiff.position[:, 3:10] - plain.position[:, 3:10]).max(axis=0) < 5e-3 * size)


@pytest.mark.parametrize("share", [0.3, 0.5])
def test_the_free_twist_swings_as_two_lumps(share: float) -> None:
    """Source 2: (k + sum K g^2) over the body's inertia against the twist, tyres and axles next to rigid."""
    vehicle = constructed(2e5, share=share)
    assert vehicle.frame is not None
    inertia = share * (1.0 - share) * 700.0
    lever = np.array([HEIGHT - 0.42, HEIGHT - 0.50])
    masses = MASS * np.array([B, A]) / (A + B)
    held = (np.array([60e3, 35e3]) - masses * GRAVITY * lever) @ np.square(vehicle.frame.turns)
    mode = linearise(vehicle, speed=0.0).mode("frame twist")
    print(f"{mode}; by hand {math.sqrt((2e5 + held) / inertia) / (2.0 * math.pi):.2f} Hz")
    assert mode.shape == "frame twist"
    assert vehicle.frame.frequency(700.0) == pytest.approx(math.sqrt(2e5 / inertia) / (2.0 * math.pi), rel=1e-12)
    assert mode.frequency == pytest.approx(math.sqrt((2e5 + held) / inertia) / (2.0 * math.pi), rel=0.03)


@pytest.mark.parametrize("case", ["rough", "one-sided corrugation", "steered"])
def test_energy_closes_with_a_twisting_frame(case: str) -> None:
    vehicle = twisting()
    inputs = {
        "rough": lambda: inputs_over(vehicle, rough_track(length=120.0), speed=18.0),
        "one-sided corrugation": lambda: inputs_over(vehicle, corrugation(one_side=True, length=80.0), speed=9.0),
        "steered": lambda: steered(vehicle),
    }[case]()
    gained, run = balance(vehicle, inputs)
    dampers = abs(float(run.work[2] + run.work[3]))
    print(f"{case}: {gained:.3f} J of {dampers:.0f} J damper work, {100 * abs(gained) / dampers:.4f} %")
    assert np.abs(run.position[:, 12]).max() > 1e-4
    assert abs(gained) < 1e-3 * dampers


def test_mirrored_vehicle_twists_as_the_mirror_image() -> None:
    track = rough_track(length=80.0)
    mirror = np.array([1, -1, -1, 1, 1, -1, 1, -1, 1, -1, -1, -1, -1])
    here = simulate(twisting(), track, speed=18.0)
    there = simulate(dataclasses.replace(mirrored(wagon()), frame=FRAME), track.mirrored(), speed=18.0)
    size = np.ptp(here.position, axis=0)
    assert size[12] > 1e-3
    assert np.all(np.abs(there.position * mirror - here.position).max(0) <= 1e-10 * size)


def test_points_of_the_body_turn_with_their_slice() -> None:
    """The acceleration of a point by the kernels' rates against the second difference of its place."""
    vehicle = twisting()
    run = simulate(vehicle, corrugation(one_side=True, length=40.0), speed=9.0, every=1)
    assert run.shape is not None
    for lever in ((1.2, 0.4, 0.5), (0.1, -0.4, 0.5), (-1.3, 0.3, 0.4)):
        share = run.shape.at(lever[0])
        angle = run.position[:, 5] + share * run.position[:, 12]
        height = run.position[:, 3] - lever[0] * np.sin(run.position[:, 4]) + np.cos(run.position[:, 4]) * (
            lever[1] * np.sin(angle) + lever[2] * np.cos(angle)
        )  # fmt: skip
        fine = np.diff(height, 2) / 1e-6
        felt = run.acceleration_at(lever)[:, 2]
        near = 0.5 * (felt[1:-1] + felt[2:])  # forces belong to half a step before places
        assert np.abs(fine - near).max() < 0.02 * np.ptp(near)
    ends = run.shape.at(5.0) - run.shape.at(-5.0)
    assert ends == pytest.approx(1.0)


def test_rest_and_bend_twist_the_frame() -> None:
    """On ground that is twisted the frame gives; in a bend the firmer end holds more of the roll."""
    soft, rigid = (settle(v, road=np.array([0.05, -0.05, -0.05, 0.05])) for v in (twisting(), wagon()))
    assert abs(soft.q[12]) > 1e-3
    lean = [abs(r.wheel_load[0] - r.wheel_load[1]) for r in (soft, rigid)]
    assert lean[0] < lean[1]
    bend = steady_bend(twisting(), speed=20.0, lateral_acceleration=3.0)
    assert abs(bend.running[0][12]) > 1e-5
    assert np.abs(pack(twisting(), lag=0.0).frame[:3] - [1.6e5, FRAME.inertia(1.0), 0.0])[0] == 0.0


@pytest.mark.parametrize(
    ("change", "match"),
    [
        ({"stiffness": -1.0}, "above 0"),
        ({"stiffness": math.nan}, "above 0"),
        ({"damping": 1.5}, "0 to 1"),
        ({"front_share": 0.0}, r"0\.05 to 0\.95"),
    ],
)
def test_a_frame_that_cannot_be_is_refused(change: dict[str, float], match: str) -> None:
    with pytest.raises(DomainError, match=match):
        dataclasses.replace(FRAME, **change)


def test_a_frame_too_stiff_for_the_steps_is_refused_with_what_would_do() -> None:
    with pytest.raises(DomainError, match="leave the frame out, or write at most"):
        pack(twisting(dataclasses.replace(FRAME, stiffness=1e9)), lag=0.0)


def test_a_frame_that_shakes_itself_is_named() -> None:
    """Steps of 8 ms are too long for a twist of 47 Hz."""
    frame = Frame(stiffness=1.2e7, damping=0.0, front_share=0.45)
    with pytest.raises(SolverError, match="diverged") as told:
        simulate(twisting(frame), corrugation(one_side=True, length=60.0), speed=9.0, step=8e-3, every=1)
    assert "twist" in str(told.value)
