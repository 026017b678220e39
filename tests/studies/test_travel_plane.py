"""The plane of heave and roll: edges against closed forms, mirror and order, and on the invented Tarn against poses."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq
from vary_programme import Vary

from tussock.mechanics.arrays import Floats
from tussock.studies import model, reach, travel, travel_plane
from tussock.studies.job import ENDS, KERB, STOCK, Job, Setup
from tussock.studies.travel_plane import Edge, edges, plane, plane_rolls

BARE = Setup("bare", "B3")
HEAVE = np.linspace(-0.2, 0.16, 73)
ROLL = np.deg2rad(np.linspace(-12.0, 12.0, 13))


def wheels(low: float, high: float, half: float = 0.75) -> dict[str, Floats]:
    """Two limiters at the wheels: straps that hold them above `low`, stops that hold them below `high`."""
    lean = half * np.abs(np.sin(ROLL))
    return {"strap": HEAVE[:, None] - lean - low, "stop": high - HEAVE[:, None] - lean}


@given(st.floats(-0.12, -0.03), st.floats(0.03, 0.12))
def test_the_edge_of_wheels_held_by_straps_and_stops_is_a_kite(low: float, high: float) -> None:
    """Heave may go to low + t/2 |sin roll| and high - t/2 |sin roll|; beyond their meeting nothing is free."""
    found = edges(wheels(low, high), HEAVE, ROLL, 0.0)
    lean = 0.75 * np.abs(np.sin(ROLL))
    assert {round(e.roll, 9) for e in found} >= {round(float(r), 9) for r in ROLL[2.0 * lean < high - low - 0.006]}
    for e in found:
        at = 0.75 * abs(math.sin(e.roll))
        assert e.low is not None
        assert e.high is not None
        assert (e.low.name, e.high.name) == ("strap", "stop")
        assert e.low.heave == pytest.approx(low + at, abs=1e-9)
        assert e.high.heave == pytest.approx(high - at, abs=1e-9)


@given(st.floats(-0.12, -0.03), st.floats(0.03, 0.12), st.floats(-0.4, 0.4))
def test_mirrored_margins_have_mirrored_edges(low: float, high: float, slope: float) -> None:
    """A vehicle whose limiters are the mirror image of another's is free where the other is, rolled the other way."""
    lopsided = wheels(low, high)
    lopsided["hose"] = 0.1 + HEAVE[:, None] + slope * np.sin(ROLL)
    seen = edges(lopsided, HEAVE, ROLL, 0.0)
    mirror = edges({n: m[:, ::-1] for n, m in lopsided.items()}, HEAVE, ROLL, 0.0)

    def key(e: Edge, sign: float) -> tuple[object, ...]:
        return (round(sign * e.roll, 9), *((s.name, round(s.heave, 9)) if s else None for s in (e.low, e.high)))

    assert {key(e, 1.0) for e in seen} == {key(e, -1.0) for e in mirror}


@given(st.floats(0.0, 0.05), st.floats(-0.1, -0.04), st.floats(0.04, 0.1))
def test_a_tighter_limiter_never_frees_anything(tighter: float, low: float, high: float) -> None:
    wide = {e.roll: e for e in edges(wheels(low, high), HEAVE, ROLL, 0.0)}
    for e in edges(wheels(low + tighter, high), HEAVE, ROLL, 0.0):
        assert e.low is not None
        was = wide[e.roll].low
        assert was is not None
        assert e.low.heave >= was.heave - 1e-12


@given(st.floats(math.radians(2.0), math.radians(11.0)))
def test_the_roll_of_the_targets_is_followed(wanted: float) -> None:
    rolls = plane_rolls(wanted)
    for angle in (0.0, wanted, -wanted):
        assert float(np.abs(rolls - angle).min()) < 1e-12
    assert rolls[-1] >= math.radians(12.0) - 1e-9
    np.testing.assert_allclose(rolls, -rolls[::-1], rtol=0.0, atol=1e-15)


@pytest.mark.parametrize("setup", [BARE, Setup(KERB, STOCK)])
@pytest.mark.parametrize("end", ENDS)
def test_level_the_plane_says_what_the_axles_travel_says(setup: Setup, end: str, job: Job) -> None:
    """Straight lines between nodes against cubics along the same heaves."""
    level = next(e for e in plane(job, setup, end).edges if abs(e.roll) < 1e-9)
    along = reach.axle_travel(job, setup, end)
    for stop, where in ((level.low, "droop"), (level.high, "bump")):
        governs = along.governing(where)
        assert stop is not None
        assert governs is not None
        assert stop.name == governs.name
        assert stop.heave == pytest.approx(governs.heave, abs=4e-4)


@pytest.mark.parametrize("roll", [-5.0, 5.0, 20.0 / 3.0])
def test_rolled_a_damper_ends_droop_where_the_pose_pulls_it_out(roll: float, vary: Vary) -> None:
    """Root of the damper's length over poses of the linkage at that roll."""
    short = 0.560
    job = vary({"kit.dampers.front_b.open_length": f"{1e3 * short} mm"})
    edge = next(e for e in plane(job, BARE, "front").edges if abs(e.roll - math.radians(roll)) < 1e-6)
    assert edge.low is not None
    assert edge.low.name == "damper open"
    axle = model.axle(job, "front", stock=False)
    part = axle.attachments["damper"]

    def over(heave: float) -> float:
        pose = axle.pose(heave, math.radians(roll))
        ends = [pose.place(b, p) - c for b, p, c in zip(part.bodies, part.at, part.chassis, strict=True)]
        return float(np.max(np.linalg.norm(ends, axis=1))) - short

    assert edge.low.heave == pytest.approx(float(brentq(over, -0.15, 0.05)), abs=2e-4)


@pytest.mark.parametrize("end", ENDS)
def test_nothing_is_free_beyond_the_tips(end: str, job: Job) -> None:
    here = plane(job, BARE, end)
    left, right = here.tips()
    assert left.roll < 0.0 < right.roll
    # the rigid Tarn is nearly its own mirror image: only track rod and drag link are not
    assert abs(left.roll) == pytest.approx(right.roll, rel=0.06)
    for tip in (left, right):
        assert tip.up - tip.down == pytest.approx(here.track * math.sin(abs(tip.roll)))
    assert max(abs(e.roll) for e in here.edges) <= here.farthest().roll * math.copysign(1.0, here.farthest().roll)


def test_about_ride_height_the_wheels_cross_until_a_limiter_is_used_up(job: Job) -> None:
    here = plane(job, BARE, "rear")
    for crossing in here.about_ride():
        assert crossing.up == -crossing.down == pytest.approx(0.5 * here.track * math.sin(abs(crossing.roll)))
        row = here.row(crossing.limiter, here.ride)
        assert float(np.interp(crossing.roll, here.roll, row)) == pytest.approx(0.0, abs=2e-4)


def test_the_study_shows_the_plane_of_both_axles(job: Job) -> None:
    result = travel.study(job)
    assert [p.key for p in result.pictures] == ["corners", "travel", "plane_front", "plane_rear", "ramp"]
    rows = result.table("plane").rows
    kit = {(r[0], round(math.degrees(float(r[1] or 0.0)))): r for r in rows if r[2] == "kit"}
    assert kit[("front", 0)][4] == "brake hose"
    assert kit[("rear", 0)][4] == "upper link end"
    assert kit[("front", 10)][6] == "tyre to arch"
    # droop left shrinks with roll either way: the wheel that hangs is farther down than the middle of the axle
    for end in ENDS:
        assert float(kit[(end, 0)][3] or 0.0) > float(kit[(end, 5)][3] or 0.0) > float(kit[(end, 10)][3] or 0.0)


def test_a_linkage_that_cannot_roll_so_far_is_followed_less(job: Job, monkeypatch: pytest.MonkeyPatch) -> None:
    """The outermost rolls are given up one by one, never those of the targets."""
    from tussock.errors import SolverError

    whole = travel_plane.suspensions.map_of
    tried: list[float] = []

    def brittle(*args: object) -> object:
        roll = np.asarray(args[4])
        tried.append(float(roll[-1]))
        if roll[-1] > math.radians(9.0):
            raise SolverError("too far")
        return whole(*args)  # type: ignore[arg-type]

    monkeypatch.setattr(travel_plane.suspensions, "map_of", brittle)
    fresh = Job(job.loaded)
    fresh.__dict__["dyno_tests"] = job.dyno_tests
    fresh.memo.update({k: v for k, v in job.memo.items() if k[0] in ("axle", "rest", "vehicle", "map", "travel")})
    rolls = plane(fresh, BARE, "front").roll
    assert math.radians(5.0) <= rolls[-1] <= math.radians(9.0)
    assert tried == sorted(tried, reverse=True)
