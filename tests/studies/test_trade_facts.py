"""What every suspension engineer knows, on the packaged Tarn (invented): common practice, no source.

Too soft floats and tops out; too firm skips on fast corrugations and is harsh; rebound firmer than compression rides
humps better; a light vehicle is moved more by a passing lorry.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable

import numpy as np
import pytest

from tussock.mechanics.arrays import Floats
from tussock.mechanics.motion import Vehicle, settle, simulate
from tussock.mechanics.roads import Feature, Section, Track, build
from tussock.studies import loop, model
from tussock.studies.job import Job, Setup
from tussock.studies.loop import SectionRun

BARE = Setup(fitout="bare", build="B3")
Change = Callable[[Floats, Floats], Floats]


def damped(vehicle: Vehicle, change: Change) -> Vehicle:
    """Return the vehicle with the force curves of all dampers changed."""
    ends = [
        dataclasses.replace(
            parts, damper=dataclasses.replace(parts.damper, force=change(parts.damper.velocity, parts.damper.force))
        )
        for parts in vehicle.axles
    ]
    return dataclasses.replace(vehicle, front=ends[0], rear=ends[1])


def times(factor: float) -> Change:
    return lambda velocity, force: factor * force


def swapped(velocity: Floats, force: Floats) -> Floats:
    """The compression branch for rebound, and the other way round."""
    return -np.interp(-velocity, velocity, force)


@pytest.fixture(scope="module")
def drive(job: Job) -> Callable[[Change, str], SectionRun]:
    road, vehicle = loop.loop_road(job, BARE), model.vehicle(job, BARE)
    sections = {section.name: section for section in road.sections}

    def one(change: Change, section: str) -> SectionRun:
        other = damped(vehicle, change)
        return road.drive(other, settle(other), sections[section])

    return one


def test_too_soft_floats_and_tops_out(drive: Callable[[Change, str], SectionRun]) -> None:
    soft, kit = (drive(times(factor), "moor road").measures for factor in (0.3, 1.0))
    assert soft["float"] > 1.5 * kit["float"]
    assert soft["heave_range"] > 1.5 * kit["heave_range"]
    soft, kit = (drive(times(factor), "village humps").measures for factor in (0.3, 1.0))
    assert soft["top_outs"] > kit["top_outs"]
    assert soft["stop_count"] > kit["stop_count"]
    assert soft["stops"] > 3.0 * kit["stops"]


def test_too_firm_is_harsh(drive: Callable[[Change, str], SectionRun]) -> None:
    for section, key in (("moor road", "harshness"), ("potholes", "seat"), ("corrugations", "seat")):
        firm, kit = (drive(times(factor), section).measures[key] for factor in (3.0, 1.0))
        assert firm > 1.2 * kit, section


def test_too_soft_hops_and_too_firm_skips_on_fast_corrugations(job: Job) -> None:
    """Wheels meet crests at 28 Hz, far above their hop: contact is lost most with hardly any damping, then with much.

    At 50 km/h on the same crests (17 Hz, nearer to hop) more damping keeps the wheels down up to five times the kit's.
    """
    speed = 80.0 / 3.6
    crests = Feature(kind="corrugation", at=30.0, parameters={"length": 200.0, "wavelength": 0.8, "depth": 0.022})
    road = build(Section(name="c", length=260.0, speed=speed, density=256e-6, features=(crests,)), track=1.5, seed=3)
    lost = []
    for factor in (0.3, 2.0, 5.0):
        vehicle = damped(model.vehicle(job, BARE), times(factor))
        rest = settle(vehicle)
        steer, way = loop.straight_running(vehicle, rest)
        run = simulate(vehicle, road, speed=speed, rest=rest, steer=steer, sideslip=way)
        there = (run.position[:, 0] > 80.0) & (run.position[:, 0] < 220.0)
        lost.append(float(np.mean(run.wheel_load[there] <= 0.0)))
    print("share of time off the ground:", [f"{100 * x:.2f} %" for x in lost])
    assert lost[0] > 3.0 * lost[1]
    assert lost[2] > 2.0 * lost[1]


def test_rebound_firmer_than_compression_rides_humps_better(drive: Callable[[Change, str], SectionRun]) -> None:
    """The same two branches, exchanged: harder at the seat over humps, and the dampers top out."""
    kit, other = (drive(change, "village humps").measures for change in (times(1.0), swapped))
    assert other["seat"] > 1.05 * kit["seat"]
    assert other["seat_peak"] > 1.05 * kit["seat_peak"]
    assert other["top_outs"] > kit["top_outs"]


def test_a_light_vehicle_is_moved_more_by_a_passing_lorry(job: Job) -> None:
    """The same pulse of side force and yaw moment, first pushing then drawing, wheel held straight at 90 km/h."""
    speed, length = 25.0, 120.0
    level = Track(spacing=0.1, left=np.zeros(1201), right=np.zeros(1201))
    t = (np.arange(int(length / speed / 1e-3)) + 0.5) * 1e-3
    pulse = np.where((t > 1.0) & (t < 2.0), np.sin(2.0 * np.pi * (t - 1.0)), 0.0)
    moved = {}
    for fitout in ("bare", "rescue"):
        setup = Setup(fitout=fitout, build="B3")
        vehicle, rest = model.vehicle(job, setup), model.rest(job, setup)
        steer, way = loop.straight_running(vehicle, rest)
        both = [
            simulate(
                vehicle, level, speed=speed, rest=rest, steer=steer, sideslip=way, side_force=size * 1200.0 * pulse,
                yaw_moment=size * 900.0 * pulse,
            )
            for size in (1.0, 0.0)
        ]  # fmt: skip
        pushed = both[0].position - both[1].position
        moved[fitout] = (
            float(np.abs(pushed[:, 1]).max()),
            float(np.ptp(both[0].velocity[:, 2] - both[1].velocity[:, 2])),
        )
    print("path and yaw rate:", moved)
    assert moved["bare"][0] > 1.05 * moved["rescue"][0]
    assert moved["bare"][1] > 1.05 * moved["rescue"][1]
