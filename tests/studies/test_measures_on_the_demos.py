"""Skate, lost grip, float and shock bands on the packaged Tarn and Dunnock (invented): common practice, no source.

Fast corrugations: too soft a damper lets the body float and the wheels hop, too firm a one makes the axles skip and
skate; between them grip lost is least. Firmer dampers pass on sharper shocks.
"""

from __future__ import annotations

import dataclasses
from importlib.resources import as_file, files

import pytest

from tussock.mechanics.motion import settle
from tussock.mechanics.roads import Feature, Section, build
from tussock.record import load
from tussock.studies import loop, model
from tussock.studies.job import Job

FACTORS = (0.1, 1.0, 10.0)


@pytest.fixture(scope="module", params=["tarn", "dunnock"])
def by_damping(request: pytest.FixtureRequest, job: Job) -> dict[float, dict[str, float]]:
    """Measures at 80 km/h over crests of 0.8 m, by how much all damper forces are multiplied."""
    if request.param == "tarn":
        own = job
    else:
        with as_file(files("tussock").joinpath("data/dunnock")) as folder:
            own = Job(load(folder / "programme.yaml"))
    base = model.vehicle(own, own.setup())
    crests = Feature(kind="corrugation", at=30.0, parameters={"length": 400.0, "wavelength": 0.8, "depth": 0.022})
    section = Section(name="crests", length=460.0, speed=80.0 / 3.6, density=64e-6, features=(crests,))
    road = build(section, track=1.5, seed=3)
    found = {}
    for factor in FACTORS:
        front, rear = (
            dataclasses.replace(a, damper=dataclasses.replace(a.damper, force=factor * a.damper.force))
            for a in base.axles
        )
        vehicle = dataclasses.replace(base, front=front, rear=rear)
        run = loop.drive_section(
            loop.Ready.of(vehicle, settle(vehicle)),
            road,
            section,
            points=loop.points(own).about(vehicle.body.centre),
        )
        found[factor] = dict(run.measures)
    return found


def test_grip_is_lost_with_hardly_any_damping_and_with_much(by_damping: dict[float, dict[str, float]]) -> None:
    soft, right, firm = (by_damping[f] for f in FACTORS)
    for key in ("front_grip_lost", "rear_grip_lost", "load"):
        assert soft[key] > 1.03 * right[key], key
        assert firm[key] > 1.12 * right[key], key


def test_a_firm_rear_axle_skates(by_damping: dict[float, dict[str, float]]) -> None:
    _, right, firm = (by_damping[f] for f in FACTORS)
    assert firm["rear_skate"] > 1.05 * right["rear_skate"]
    assert firm["rear_airborne"] > right["rear_airborne"]


def test_a_soft_body_floats_and_a_firm_one_is_shaken(by_damping: dict[float, dict[str, float]]) -> None:
    soft, right, firm = (by_damping[f] for f in FACTORS)
    assert soft["float"] > 1.8 * right["float"] > 1.8 * firm["float"]
    for key in ("shock_soft", "shock_medium"):
        assert soft[key] < right[key] < firm[key], key
    assert firm["shock_sharp"] > 2.0 * right["shock_sharp"]
