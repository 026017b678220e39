"""Heat along the loop: balance of heat, the order of sections, fade in the next section, laps that close."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from vary_programme import Vary

from tussock.mechanics.dampers.hydraulics import ThermalModel, solve
from tussock.studies import damper_builds, drive, loop, loop_heat, model, parts
from tussock.studies.damper_heat import AIR_SHARE, FILM
from tussock.studies.job import STOCK, Job, Setup

BARE = Setup("bare", "B3")
AIR = 293.15
SECTIONS = [
    {"name": "smooth", "speed": "60 km/h", "length": "100 m", "surface": {"class": "A"}},
    {"name": "rough", "speed": "30 km/h", "length": "120 m", "surface": {"class": "D"}},
    {"name": "gravel", "speed": "60 km/h", "length": "120 m", "surface": {"class": "C"}},
]


@pytest.fixture(scope="module")
def short(vary: Vary) -> Job:
    return vary({"road_loop.sections": SECTIONS})


@pytest.fixture(scope="module")
def heat(short: Job) -> loop_heat.LoopHeat:
    found = loop_heat.loop_heat(short, BARE)
    assert found is not None
    return found


def test_heat_goes_in_where_the_road_is_rough(heat: loop_heat.LoopHeat) -> None:
    rise = np.diff(heat.first.oil, axis=0)
    assert np.all(heat.first.oil[0] == AIR)
    assert np.all(rise[1] > 5.0 * rise[0])
    assert np.all(rise[:2] > 0.0)
    assert [run.name for run in heat.first.runs] == [s["name"] for s in SECTIONS]
    np.testing.assert_allclose(np.diff(heat.first.time), [run.duration for run in heat.first.runs])


def test_what_a_section_puts_in_is_stored_or_given_to_the_air(short: Job, heat: loop_heat.LoopHeat) -> None:
    """Both lumps' heat against the drive's power, warm lap, rough section, 2 % for loss at the mean wall."""
    for end, wheel in (("front", 0), ("rear", 3)):
        fitted = parts.fitted(short, BARE, end)
        lumps = ThermalModel.of(
            damper_builds.assembled(short, fitted.damper, fitted.damper_name), film_coefficient=FILM
        )
        run, lap = heat.warm.runs[1], heat.warm
        stored = lumps.oil_capacity * (lap.oil[2, wheel] - lap.oil[1, wheel])
        stored += lumps.wall_capacity * (lap.wall[2, wheel] - lap.wall[1, wheel])
        wall = 0.5 * float(lap.wall[1, wheel] + lap.wall[2, wheel])
        given = run.duration * lumps.loss(wall, air_temperature=AIR, air_speed=AIR_SHARE * run.speed)
        assert stored + given == pytest.approx(run.duration * run.damper[wheel].power, rel=0.02)


def test_the_next_section_has_the_force_of_the_oil_that_enters(short: Job, heat: loop_heat.LoopHeat) -> None:
    """Gravel of the warm lap driven anew with each axle's curve scaled, point by point, by computed forces."""
    base = model.vehicle(short, BARE)
    axles = []
    for end, worn, pair in (("front", base.front, slice(0, 2)), ("rear", base.rear, slice(2, 4))):
        fitted = parts.fitted(short, BARE, end)
        damper = damper_builds.assembled(short, fitted.damper, fitted.damper_name)
        v = worn.damper.velocity
        inside = np.unique(np.clip(v[np.abs(v) > 1e-3], -2.0, 2.0))
        hot, then = (
            solve(damper, velocities=inside, temperature=t).hydraulic_force
            for t in (float(np.mean(heat.warm.oil[2, pair])), damper_builds.dyno_temperature(short, fitted.damper))
        )
        force = np.maximum.accumulate(worn.damper.force * np.interp(v, inside, hot / then))
        axles.append(dataclasses.replace(worn, damper=dataclasses.replace(worn.damper, force=force)))
    road = loop.loop_road(short, BARE)
    again = road.drive(
        dataclasses.replace(base, front=axles[0], rear=axles[1]), model.rest(short, BARE), road.sections[2]
    )
    driven = heat.warm.runs[2]
    for key in ("seat", "load", "float", "harshness"):
        assert again.measures[key] == pytest.approx(driven.measures[key], rel=2e-3), key
    cold = heat.first.runs[2].measures
    assert abs(cold["float"] / driven.measures["float"] - 1.0) > 2e-3  # the oil's temperature is seen at all


def test_warm_oil_fades_and_the_laps_close(heat: loop_heat.LoopHeat) -> None:
    """Common practice, no source: thinner oil damps less, so the warm body floats more; laps end where they began."""
    for rebound, compression in heat.fade.values():
        assert 0.0 < rebound < 0.3
        assert 0.0 < compression < 0.3
    assert heat.hottest > AIR + 20.0
    assert np.max(np.abs(heat.warm.oil[-1] - heat.warm.oil[0])) < 0.1 * (heat.hottest - AIR)
    floats = [np.mean([run.measures["float"] for run in lap.runs]) for lap in (heat.first, heat.warm)]
    assert floats[1] > floats[0]
    assert heat.index.control > 1.0


def test_the_drive_tells_it(short: Job, heat: loop_heat.LoopHeat) -> None:
    result = drive.study(short)
    table = result.table("loop_heat")
    keys = [c.key for c in table.columns]
    assert table.rows[1][keys.index("warm_rear_right")] == pytest.approx(float(heat.warm.oil[2, 3]))
    assert result.values["warm_oil_K"] == pytest.approx(heat.hottest)
    assert [p.key for p in result.pictures][-1] == "loop_heat"


def test_without_valves_nothing_is_said(short: Job) -> None:
    """The stock dampers are known by their dyno curve only."""
    setup = Setup("bare", STOCK)
    assert loop_heat.loop_heat(short, setup) is None
    assert "loop_heat" not in {t.key for t in drive.study(short, build=STOCK, against="B3").tables}


def test_oil_that_ages_is_told(heat: loop_heat.LoopHeat) -> None:
    assert loop_heat.notices(heat) == ()
    burnt = dataclasses.replace(heat, warm=dataclasses.replace(heat.warm, oil=heat.warm.oil + 80.0))
    (notice,) = loop_heat.notices(burnt)
    assert "rough" in notice.text
    assert "larger piston" in notice.remedy
