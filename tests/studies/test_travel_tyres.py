"""Tyres of the invented Tarn against points of its body, straight ahead and at lock."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from vary_programme import Vary

from tussock.errors import InputError
from tussock.mechanics.tyre_envelope import tyre_clearance
from tussock.studies import model, reach, travel, travel_tyres
from tussock.studies.job import Job, Setup
from tussock.studies.limiters import AxlePath
from tussock.studies.travel_plane import plane

BARE = Setup("bare", "B3")
WIDE: dict[str, Any] = {"kind": "tyre", "name": "tyre to arch", "chassis": "60, 760, 864 mm", "least": "12 mm"}


def margins(job: Job, name: str) -> Any:
    path = AxlePath(plane(job, BARE, "front").axle)
    return reach.margins(job, BARE, "front", path)[name], path


def test_over_the_middle_of_the_tread_a_width_changes_little(job: Job, vary: Vary) -> None:
    """The arch's point stands over the tread: straight up the cylinder and the tyre with shoulders are alike."""
    sized = vary({"vehicle.axles.front.limiters.6": {**WIDE, "width": "235 mm", "shoulder": "45 mm"}})
    (given, path), (plain, _) = margins(sized, "tyre to arch"), margins(job, "tyre to arch")
    level = int(np.argmin(np.abs(path.axle.roll)))
    np.testing.assert_allclose(given[:, level], plain[:, level], rtol=0.0, atol=1.5e-3)


def test_a_point_beside_the_tyre_only_counts_with_a_width(vary: Vary) -> None:
    beside = {**WIDE, "chassis": "60, 900, 600 mm"}
    plain = vary({"vehicle.axles.front.limiters.6": beside})
    sized = vary({"vehicle.axles.front.limiters.6": {**beside, "width": "235 mm"}})
    (narrow, path), (wide, _) = margins(sized, "tyre to arch"), margins(plain, "tyre to arch")
    level = int(np.argmin(np.abs(path.axle.roll)))
    travel_kept = np.abs(path.heave) <= 0.1
    assert wide[travel_kept, level].min() < 0.0 < narrow[travel_kept, level].min()


def test_at_lock_the_room_is_that_of_the_wheel_turned_about_the_king_pin(vary: Vary) -> None:
    """Pose of the linkage, wheel turned by hand about the moved king pin; least over both locks and both sides."""
    rail, lock = np.array([-0.300, 0.440, 0.560]), math.radians(30.0)
    limiter = {**WIDE, "chassis": "-300, 440, 560 mm", "width": "235 mm", "shoulder": "45 mm", "steer": "30 deg"}
    job = vary({"vehicle.axles.front.limiters.6": limiter})
    margin, path = margins(job, "tyre to arch")
    heave = 0.05
    j, i = int(np.argmin(np.abs(path.axle.roll))), int(np.argmin(np.abs(path.heave - heave)))
    pose = model.axle(job, "front", stock=False).pose(float(path.heave[i]), 0.0)
    best = math.inf
    for side in (1.0, -1.0):
        mirror = np.array([1.0, side, 1.0])
        centre, low, up = (
            pose.place("axle", np.array(p) * mirror)
            for p in ((0.0, 0.750, 0.361), (0.006, 0.642, 0.258), (-0.005, 0.612, 0.462))
        )
        axis = pose.place("axle", np.array([0.0, 1.75, 0.361])) - pose.place("axle", np.array([0.0, 0.75, 0.361]))
        pin = (up - low) / np.linalg.norm(up - low)
        for angle in np.linspace(-lock, lock, 5):
            c, s = math.cos(angle), math.sin(angle)
            turn = c * np.eye(3) + (1.0 - c) * np.outer(pin, pin)
            turn += s * np.array([[0.0, -pin[2], pin[1]], [pin[2], 0.0, -pin[0]], [-pin[1], pin[0], 0.0]])
            room = tyre_clearance(
                rail * mirror, low + turn @ (centre - low), turn @ axis, radius=0.379, width=0.235, shoulder=0.045
            )
            best = min(best, float(room))
    # the wheels' own steer by the drag link over heave, about half a degree, is in the map and not in this sum
    assert margin[i, j] == pytest.approx(best - 0.012, abs=4e-3)


def test_wider_lock_or_tyre_never_gives_more_room(vary: Vary) -> None:
    base = {**WIDE, "chassis": "-300, 440, 560 mm", "width": "235 mm", "steer": "20 deg"}
    now = margins(vary({"vehicle.axles.front.limiters.6": base}), "tyre to arch")[0]
    for change in ({"steer": "40 deg"}, {"width": "255 mm", "shoulder": "47 mm"}):
        after = margins(vary({"vehicle.axles.front.limiters.6": {**base, **change}}), "tyre to arch")[0]
        assert float(after.min()) <= float(now.min()) + 1e-9


def test_the_study_says_which_point_governs_and_where(job: Job) -> None:
    here = plane(job, BARE, "front")
    found = travel_tyres.rooms(job, BARE, here)
    assert [r.wanted - r.least for r in found] == sorted(r.wanted - r.least for r in found)
    for r in found:
        assert r.wanted >= r.whole
        assert abs(r.roll) <= math.radians(5.0) + 1e-9
    table = travel.study(job).table("tyres")
    assert {row[0] for row in table.rows} == {"front", "rear"}
    names = {row[1] for row in table.rows if row[0] == "front"}
    assert {"tyre at lock", "bumper_corner", "arch_rear"} <= names
    # the rail behind the wheel is met at lock, the arch above it straight ahead
    steer = {row[1]: float(row[7] or 0.0) for row in table.rows if row[0] == "front"}
    assert abs(steer["tyre at lock"]) == pytest.approx(math.radians(32.0))
    assert steer["tyre to arch"] == 0.0


@pytest.mark.parametrize(
    ("end", "change", "match"),
    [
        ("front.limiters.6", {"steer": "30 deg"}, "width"),
        ("rear.limiters.4", {"steer": "30 deg", "width": "235 mm"}, "steer"),
    ],
)
def test_a_lock_without_width_or_steering_is_refused(end: str, change: dict[str, str], match: str, vary: Vary) -> None:
    job = vary({f"vehicle.axles.{end}": {**WIDE, **change}})
    with pytest.raises(InputError, match=match):
        travel.study(job)


def test_a_tyre_that_touches_at_ride_height_is_told(vary: Vary) -> None:
    """Nothing is free at ride height: the study says so, in words, and no figure is missing from them."""
    job = vary({"vehicle.axles.front.limiters.6.chassis": "60, 760, 745 mm"})
    result = travel.study(job)
    assert not result.passes
    assert not [n for n in result.notices if "none" in n.text + n.remedy]
