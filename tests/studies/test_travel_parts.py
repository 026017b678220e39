"""What the travel asks of lines, dampers, stops and springs: closed forms, and that what is advised does mend."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from straight_axle import HEAVE
from vary_programme import Vary

from tussock.mechanics.arrays import Floats
from tussock.mechanics.axle_map import AxleMap
from tussock.studies import limiters, reach, travel, travel_lift, travel_parts, travel_stops
from tussock.studies.job import ENDS, KERB, STOCK, Job, Setup
from tussock.studies.limiters import AxlePath
from tussock.studies.result import Table
from tussock.studies.travel_plane import Plane, plane

BARE = Setup("bare", "B3")
ROLL = np.deg2rad(np.linspace(-12.0, 12.0, 13))


def straight_plane(margins: dict[str, Floats]) -> Plane:
    """An axle that moves straight up and down and turns about its middle, 1.5 m of track."""
    shape = (HEAVE.size, ROLL.size)
    zero: Floats = np.zeros(shape)
    lengths = np.stack([zero, zero], axis=-1)
    axle = AxleMap.of_rigid(
        heave=HEAVE,
        roll=ROLL,
        centre_x=zero,
        centre_y=zero,
        centre_z0=0.4,
        design_x=0.0,
        pitch=zero,
        yaw=zero,
        spring=lengths,
        damper=lengths,
        stop=lengths,
        steer=np.zeros((*shape, 2)),
        energy=zero,
        track=1.5,
    )
    return Plane(end="front", ride=0.0, track=1.5, axle=axle, margins=margins, edges=())


@given(st.floats(0.05, 0.12), st.floats(0.0, math.radians(10.0)))
def test_a_hose_between_two_points_above_each_other_needs_its_height_plus_the_droop(droop: float, roll: float) -> None:
    """A hose to the middle of the axle hangs straight: what it needs is its length at ride height and the droop."""
    whole = straight_plane({})
    margin = limiters.line_margin(AxlePath(whole.axle), chassis=(0.0, 0.0, 0.7), axle=(0.0, 0.0, 0.4), usable=0.5)
    least, heave, at = straight_plane({"hose": margin}).least(margin, droop=droop, bump=0.08, roll=roll)
    assert 0.5 - least == pytest.approx(0.3 + droop, abs=1e-12)
    assert heave == pytest.approx(-droop)
    assert at == 0.0


@given(st.floats(0.1, 0.6), st.floats(0.05, 0.09))
def test_a_hose_abreast_of_the_axle_swings_like_a_pendulum(out: float, droop: float) -> None:
    """Its lower end goes on a circle about the middle of the axle: the need is a distance of two points, no more."""
    roll = float(ROLL[9])
    whole = straight_plane({})
    margin = limiters.line_margin(AxlePath(whole.axle), chassis=(0.2, out, 0.7), axle=(0.0, out, 0.4), usable=1.0)
    least, _, _ = straight_plane({"hose": margin}).least(margin, droop=droop, bump=0.09, roll=roll)
    reached = []
    for angle in ROLL[3:10]:
        for heave in (-droop + 0.75 * abs(math.sin(angle)), 0.09 - 0.75 * abs(math.sin(angle)), 0.0):
            low, high = -droop + 0.75 * abs(math.sin(angle)), 0.09 - 0.75 * abs(math.sin(angle))
            at = min(max(heave, min(low, 0.0)), max(high, 0.0))
            reached += [
                math.dist((0.2, y, 0.7), (0.0, y * math.cos(angle), 0.4 + at + y * math.sin(angle)))
                for y in (out, -out)
            ]
    # straight lines between heaves 5 mm apart leave at most 5 mm squared over eight times the length
    assert 1.0 - least == pytest.approx(max(reached), abs=0.005**2 / (8.0 * 0.3))


@given(st.floats(0.001, 2.0))
def test_lines_are_ordered_in_whole_steps_above(length: float) -> None:
    order = travel_parts.rounded_up(length)
    assert length - 1e-8 <= order < length + 0.005 + 1e-8
    assert order / 0.005 == pytest.approx(round(order / 0.005))


@pytest.mark.parametrize(("droop", "roll"), [("95 mm", "5 deg"), ("110 mm", "8 deg")])
def test_a_hose_of_the_length_ordered_holds_and_one_step_less_does_not(droop: str, roll: str, vary: Vary) -> None:
    wanted = {"targets.droop.front": droop, "targets.roll": roll}
    job = vary(wanted)
    need = next(n for n in travel_parts.line_needs(job, BARE, plane(job, BARE, "front")) if n.name == "brake hose")
    assert need.order > need.length

    def margin(length: float) -> float:
        lines = [{"name": "brake hose", "length": f"{1e3 * length:.3f} mm"}]
        found = reach.axle_travel(vary({**wanted, "kit.lines.front": lines}), BARE, "front")
        stop = next(s for s in found.level if (s.name, s.where) == ("brake hose", "droop"))
        rolled = found.margin_in_roll("brake hose", "droop", float(job.programme.targets.droop.front))
        return min(found.ride - stop.heave - float(job.programme.targets.droop.front), rolled or math.inf)

    assert margin(need.order) >= 0.0
    assert margin(need.wanted - 0.002) < 0.0
    part = next(r for r in travel.study(job).table("lines").rows if r[:2] == ("front", "brake hose"))[-1]
    assert part == f"brake hose of {1e3 * need.order:.0f} mm"


@pytest.mark.parametrize("end", ENDS)
def test_a_hose_that_is_long_enough_to_be_last_ends_nothing(end: str, job: Job, vary: Vary) -> None:
    need = next(n for n in travel_parts.line_needs(job, BARE, plane(job, BARE, end)) if n.name == "brake hose")
    longer = vary({f"kit.lines.{end}": [{"name": "brake hose", "length": f"{1e3 * need.whole:.3f} mm"}]})
    for edge in plane(longer, BARE, end).edges:
        assert "brake hose" not in {s.name for s in (edge.low, edge.high) if s is not None}


@pytest.mark.parametrize("setup", [BARE, Setup("rescue", "B3"), Setup(KERB, STOCK)])
@pytest.mark.parametrize("end", ENDS)
def test_the_least_spacer_is_where_the_stop_begins_to_come_first(setup: Setup, end: str, job: Job, vary: Vary) -> None:
    need = travel_stops.spacer_need(job, setup, plane(job, setup, end))
    if setup.stock:
        assert need.fitted == 0.0
        return

    def first(spacer: float) -> set[str]:
        fitted = vary({f"kit.stop_spacers.{end}": f"{1e3 * spacer:.3f} mm"})
        return {
            e.high.name
            for e in plane(fitted, setup, end).edges
            if e.high is not None and abs(e.roll) <= math.radians(5.0) + 1e-9
        }

    assert first(need.least + 0.001) == {"bump stop, 3 g"}
    assert first(need.least - 0.002) - {"bump stop, 3 g"} == {need.first}
    assert need.everywhere >= need.least


@pytest.mark.parametrize("end", ENDS)
def test_the_tallest_spacer_leaves_the_bump_wanted(end: str, job: Job, vary: Vary) -> None:
    need = travel_stops.spacer_need(job, BARE, plane(job, BARE, end))
    wanted = float(job.programme.targets.bump[end])
    for spacer, keeps in ((need.most - 0.001, True), (need.most + 0.001, False)):
        tall = vary({f"kit.stop_spacers.{end}": f"{1e3 * spacer:.3f} mm"})
        found = reach.axle_travel(tall, BARE, end)
        rolled = found.margin_in_roll("bump stop, 3 g", "bump", wanted)
        assert rolled is not None
        assert (min(found.left("bump") - wanted, rolled) >= 0.0) is keeps


@pytest.mark.parametrize("end", ENDS)
def test_a_stop_touches_is_half_used_and_carries_its_load_in_this_order(end: str, job: Job) -> None:
    for e in travel_stops.engagements(job, BARE, plane(job, BARE, end)):
        assert e.begins is not None
        assert e.half is not None
        assert e.full is not None
        assert 0.0 < e.begins[0] < e.half[0] < e.full[0]
        assert 1.0 < e.begins[1] < e.half[1] < e.full[1]
        assert e.full[1] == pytest.approx(3.0, abs=0.01)


def test_the_stop_is_fully_loaded_where_the_travel_says_it_ends(job: Job) -> None:
    found = travel_stops.engagements(job, BARE, plane(job, BARE, "front"))
    level = min(e.full[0] for e in found if e.roll == 0.0 and e.full is not None)
    assert level == pytest.approx(reach.axle_travel(job, BARE, "front").left("bump"), abs=4e-4)


def test_a_rising_wheel_finds_its_stop_later_than_in_heave(job: Job) -> None:
    """The stop sits inboard of the wheel: rolled, the wheel has moved farther when the stop touches."""
    found = travel_stops.engagements(job, BARE, plane(job, BARE, "rear"))
    touch = {(e.side, e.roll != 0.0): e.begins[0] for e in found if e.begins is not None}
    for side in ("left", "right"):
        assert touch[(side, True)] > touch[(side, False)]


@pytest.mark.parametrize("end", ENDS)
def test_the_next_limiter_in_order_follows_the_one_that_is_mended(end: str, job: Job, vary: Vary) -> None:
    def order(one: Job) -> list[str]:
        found = reach.axle_travel(one, BARE, end)
        steps = travel_lift.lift_steps(found, lift=0.04, wanted=float(one.programme.targets.droop[end]))
        assert [s.lift for s in steps] == sorted(s.lift for s in steps)
        return [s.limiter for s in steps]

    now = order(job)
    name = "front_b" if end == "front" else "rear_b"
    kit = job.programme.kit.dampers[name]
    mended = vary({f"kit.dampers.{name}.open_length": f"{1e3 * float(kit.open_length) + 60.0} mm"})
    assert order(mended)[: now.index("damper open")] == now[: now.index("damper open")]
    assert order(mended)[now.index("damper open")] == now[now.index("damper open") + 1]


def cells(table: Table, row: int) -> dict[str, object]:
    return {c.key: v for c, v in zip(table.columns, table.rows[row], strict=True)}


def test_a_damper_within_the_lengths_wanted_holds_and_a_shorter_one_does_not(job: Job, vary: Vary) -> None:
    need = travel_parts.damper_need(job, BARE, plane(job, BARE, "rear"))
    assert need.stroke_wanted == pytest.approx(need.longest - need.shortest + 2.0 * travel_parts.TOP_OUT)
    for margin, holds in ((0.001, True), (-0.001, False)):
        changed = vary({"kit.dampers.rear_b.open_length": f"{1e3 * (need.longest + margin)} mm"})
        assert (reach.axle_travel(changed, BARE, "rear").left("droop") >= 0.075) is holds
    row = cells(travel.study(job).table("dampers"), 1)
    assert row["mounts"] == "eye 12 mm / eye 16 mm"
    assert row["open_margin"] == pytest.approx(0.632 - need.longest)


SHORT = {"kit.springs.rear_main.free_length": "415 mm", "kit.springs.rear_main.rate": "48 N/mm"}


def test_a_coil_that_comes_loose_is_told_with_gap_and_the_spring_that_stays(vary: Vary) -> None:
    job = vary(SHORT)
    found = travel_parts.captive(job, BARE, plane(job, BARE, "rear"))
    assert found is not None
    assert found.crossed >= found.droop > 0.0
    notice = next(n for n in travel.study(job).notices if "comes loose" in n.text)
    assert f"{1e3 * found.droop:.0f} mm" in notice.text
    # the softer, longer spring stands alike and stays seated
    mended = {
        "kit.springs.rear_main.free_length": f"{1e3 * found.longer} mm",
        "kit.springs.rear_main.rate": f"{1e-3 * found.softer} N/mm",
    }
    again = vary(mended)
    after = travel_parts.captive(again, BARE, plane(again, BARE, "rear"))
    assert after is not None
    assert after.crossed == pytest.approx(0.0, abs=2e-3)
    assert not [n for n in travel.study(again).notices if "comes loose by" in n.text and after.crossed < -1e-4]


def test_a_coil_held_by_its_seats_raises_no_notice(vary: Vary) -> None:
    held = vary({**SHORT, "vehicle.axles.rear.spring_seat.retained": True})
    result = travel.study(held)
    assert not [n for n in result.notices if "comes loose" in n.text]
    assert cells(result.table("springs"), 1)["retained"] == "clamps in both seats"
