"""A manoeuvre faster than the tyres hold is driven to its end, and the drive says that the vehicle left its road."""

from __future__ import annotations

from vary_programme import Vary

from tussock.studies import drive, loop
from tussock.studies.job import Setup

BEND = {"length": "150 m", "manoeuvre": {"kind": "circle", "at": "20 m", "radius": "60 m"}}


def test_a_vehicle_that_leaves_its_path_is_told(vary: Vary) -> None:
    """Round 60 m at 120 km/h takes 18 m/s^2, twice what tyres hold; at 40 km/h it is driven within its lane."""
    sections = [{"name": "bend", "speed": "40 km/h", **BEND}, {"name": "far too fast", "speed": "120 km/h", **BEND}]
    job = vary({"road_loop.sections": sections})
    runs = loop.drive_loop(job, Setup(fitout="bare", build="B3"))
    told = drive.off_the_path(runs)
    assert [run.steered for run in runs] == [True, True]
    assert len(told) == 1
    assert told[0].text.startswith("On the far too fast it leaves its path by ")
    assert "120 km/h" in told[0].text
