"""Each wheel alone: its stops against the linkage solved where they say, not read from the plane's stations."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tussock.studies import model, travel_corners
from tussock.studies.job import ENDS, Job, Setup
from tussock.studies.limiters import AxlePath, Stop
from tussock.studies.reach import margins
from tussock.studies.travel_corners import Corner
from tussock.studies.travel_plane import LOOSE, plane

WINCH = Setup(fitout="winch", build="B3")


@pytest.fixture(scope="module")
def wheels(job: Job) -> tuple[Corner, ...]:
    return travel_corners.four(job, WINCH, {end: plane(job, WINCH, end) for end in ENDS})


def test_where_a_wheel_stops_the_solved_axle_has_nothing_left(job: Job, wheels: tuple[Corner, ...]) -> None:
    """The axle is solved anew at the roll of the stop; 1.5 mm is what lines between stations 1.7 deg apart leave."""
    right = wheels[1]
    stop = right.governing("droop")
    assert stop is not None
    standing, track = model.posture(job, WINCH)["front"], plane(job, WINCH, "front").track
    lean = 0.5 * track * math.sin(standing.roll) - 0.5 * stop.heave  # the right wheel goes down: the left is higher
    path = AxlePath(model.travel_map(job, "front", WINCH, roll=math.asin(lean / (0.5 * track))))
    left = margins(job, WINCH, "front", path)[stop.name][:, 2]
    assert float(np.interp(standing.heave + 0.5 * stop.heave, path.heave, left)) == pytest.approx(0.0, abs=1.5e-3)


def test_what_leans_with_its_load_has_another_travel_left_and_right(job: Job, wheels: tuple[Corner, ...]) -> None:
    left, right = (w.governing("droop") for w in wheels[:2])
    assert left is not None
    assert right is not None
    assert model.posture(job, WINCH)["front"].lean < -0.005  # the body's left side stands lower, its wheel higher up
    assert {left.name, right.name} == {"brake hose", "damper open"}


def test_a_spring_that_comes_loose_ends_nothing(wheels: tuple[Corner, ...]) -> None:
    corner = Corner(
        end="front", side="left", low=-0.2, high=0.2,
        stops=(Stop(name=LOOSE, where="droop", heave=-0.05), Stop(name="damper open", where="droop", heave=-0.08)),
    )  # fmt: skip
    stop = corner.governing("droop")
    assert stop is not None
    assert stop.name == "damper open"
    assert corner.governing("bump") is None
    drawn = travel_corners.ladder((corner,), (corner,), {"front": 0.035})
    assert (drawn.spans[1].low, drawn.spans[1].high) == (-0.08, 0.2)
    assert [r.governs for r in drawn.spans[1].rungs] == [False, True]


def test_the_ladder_pairs_stock_and_kit_of_every_wheel(wheels: tuple[Corner, ...]) -> None:
    chart = travel_corners.ladder(wheels, wheels, {"front": 0.034, "rear": 0.049})
    assert chart.paired
    assert [s.group for s in chart.spans[::2]] == ["Front left", "Front right", "Rear left", "Rear right"]
    assert [s.label for s in chart.spans[:2]] == ["stock", "kit +34 mm"]
    for span in chart.spans:
        assert sum(r.governs for r in span.rungs) == 2
