"""Levers of sensors and brake valves: the part found is fitted again by hand and must hold what was asked."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import brentq
from vary_programme import Vary

from tussock.mechanics.arrays import Floats
from tussock.studies import aim, model, parts
from tussock.studies.job import KERB, STOCK, Job, Setup
from tussock.studies.lever_parts import LeverPart, lever_notices, lever_of, lever_table, levers
from tussock.studies.limiters import AxlePath

B3 = "B3"


def link_end(job: Job, setup: Setup, point: Floats, heave: float) -> Floats:
    """Where the link's axle end stands: the axle's pose put together here from the map, not by the study."""
    path = AxlePath(model.travel_map(job, "rear", setup, roll=float(job.programme.targets.roll)), 1)
    every = path.place(point)
    return np.array([np.interp(heave, path.heave, every[:, i]) for i in range(3)])


def angle_by_root(lever_end: Floats, pivot: Floats, end: Floats, link: float) -> float:
    """Lever angle in side view by a general root finder, end up positive; the lever points rearward."""

    def miss(angle: float) -> float:
        arm = lever_end - pivot
        turned = np.array(
            [
                arm[0] * math.cos(angle) + arm[2] * math.sin(angle),
                arm[1],
                arm[2] * math.cos(angle) - arm[0] * math.sin(angle),
            ]
        )
        return float(np.linalg.norm(pivot + turned - end)) - link

    return float(brentq(miss, -1.3, 1.3, xtol=1e-13))


@pytest.fixture(scope="module")
def found(job: Job) -> dict[str, LeverPart]:
    return {p.name: p for p in levers(job, job.setup("bare", B3))}


def test_level_sensor_is_brought_back_by_its_link(job: Job, found: dict[str, LeverPart]) -> None:
    part, sensor = found["lamp level sensor"], job.programme.vehicle.sensors[0]
    setup = job.setup("bare", B3)
    ride = model.posture(job, setup)["rear"].heave
    end = link_end(job, setup, np.array(sensor.link.si), ride)
    stock_link = float(np.linalg.norm(np.array(sensor.link.si) - np.array(sensor.lever.si)))
    here = angle_by_root(np.array(sensor.lever.si), np.array(sensor.pivot.si), end, stock_link)
    assert part.lifted == pytest.approx(here, abs=1e-6)
    assert math.degrees(part.lifted) < -15.0
    again = angle_by_root(np.array(sensor.lever.si), np.array(sensor.pivot.si), end, part.size)
    assert again == pytest.approx(part.mended, abs=1e-6)
    assert abs(math.degrees(again)) < 0.5  # a link in whole millimetres
    assert part.trouble == ""
    assert part.limit is not None
    assert max(-part.low, part.high) < part.limit


def test_brake_valve_keeps_its_angle_empty_and_laden(job: Job, found: dict[str, LeverPart]) -> None:
    part, sensor = found["brake valve"], job.programme.vehicle.sensors[1]
    lever = lever_of(sensor)
    assert part.size < lever.lever_length  # stiffer springs sink less, so a shorter lever turns as far
    link = float(part.words.rpartition("link of ")[2].split()[0]) * 1e-3
    mended = lever.with_lever(part.size, link=link)
    by_load = sorted(job.programme.fitouts, key=lambda f: parts.static_corner_load(job, f, "rear"))
    for fitout in (by_load[0], by_load[-1]):
        stock, kit = Setup(fitout=fitout, build=STOCK), Setup(fitout=fitout, build=B3)
        ends = [
            link_end(job, s, np.array(sensor.link.si), model.posture(job, s)["rear"].heave)[None, :]
            for s in (stock, kit)
        ]
        wanted, got = float(lever.angles(ends[0])[0]), float(mended.angles(ends[1])[0])
        assert math.degrees(abs(got - wanted)) < 0.6
    assert math.degrees(abs(part.mended)) < 0.6


def test_a_lever_that_cannot_be_made_is_said_and_the_middle_of_both_loads_taken(vary: Vary) -> None:
    """A rear spring that stands alike empty and laden asks for next to no lever; a bracket halves the miss."""
    flat = vary({"fitouts.rescue.springs.rear": "rear_main", "kit.springs.rear_main.rate": "70 N/mm",
                 "kit.springs.rear_main.free_length": "366 mm"})  # fmt: skip
    part = next(p for p in levers(flat, flat.setup("bare", B3)) if p.kind == "brake_valve")
    assert "would hold both loads" in part.trouble
    assert "bracket" in part.words or "link" in part.words
    assert abs(part.mended) < abs(part.lifted)


def test_nothing_is_mended_that_the_kit_does_not_spoil(job: Job) -> None:
    for part in levers(job, Setup(fitout=KERB, build=STOCK)):
        if part.kind == "level":
            assert part.words == ""
            # the model stands a fraction of a millimetre from the height measured: that, over the lever's length
            heave = model.posture(job, Setup(fitout=KERB, build=STOCK))["rear"].heave
            length = lever_of(job.programme.vehicle.sensors[0]).lever_length
            assert part.lifted == pytest.approx(heave / length, rel=0.2)


def test_a_range_too_small_is_said(job: Job, vary: Vary) -> None:
    sensors = [{**s.model_dump(mode="json"), "range": "12 deg"} for s in job.programme.vehicle.sensors[:1]]
    for name in ("pivot", "lever", "link"):
        sensors[0][name] = str(getattr(job.programme.vehicle.sensors[0], name))
    tight = vary({"vehicle.sensors": [{k: v for k, v in sensors[0].items() if v is not None}]})
    found = levers(tight, tight.setup("bare", B3))
    assert "leaves its range of 12.0 deg" in found[0].trouble
    assert lever_table(found).strong == (0,)
    assert "range" in lever_notices(found)[0].text


def test_camera_is_turned_by_lift_over_the_wheelbase(job: Job, vary: Vary) -> None:
    """Small angles: (front rise - rear rise) over the wheelbase."""
    posture = model.posture(job, job.setup("rescue", B3))
    slope = (posture["front"].lift - posture["rear"].lift) / float(job.programme.vehicle.wheelbase)
    table, notices = aim.aimed(job, B3)
    assert table is not None
    row = next(r for r in table.rows if r[1] == "Full rescue load")
    assert isinstance(row[3], float)
    assert row[3] == pytest.approx(-slope, abs=math.radians(0.05))
    assert notices == ()
    narrow = vary({"vehicle.aimed": [{"name": "lane camera", "kind": "camera", "range": "0.3 deg"}]})
    table, notices = aim.aimed(narrow, B3)
    assert table is not None
    assert {r[1] for r in table.rows if r[5] == "recalibrate"} >= {"Full rescue load"}
    assert "recalibrate" in notices[0].remedy
