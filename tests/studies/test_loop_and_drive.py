"""The road loop driven by the invented Tarn: on two short sections, since rules and signs are tested, not figures."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from vary_programme import Vary

from tussock.mechanics import measures as m
from tussock.mechanics.motion import simulate
from tussock.mechanics.motion.steering import Steering
from tussock.mechanics.roads import Track
from tussock.studies import drive, drive_tables, loop, model, section_measures, tuning
from tussock.studies.adjusters import adjusted, fittings
from tussock.studies.job import STOCK, Job, Setup
from tussock.studies.loop import SectionRun
from tussock.studies.result import LineChart
from tussock.studies.section_measures import Points

BARE = Setup("bare", "B3")
SECTIONS = [
    {"name": "gravel", "speed": "60 km/h", "length": "160 m", "surface": {"class": "C"}},
    {
        "name": "left bump", "speed": "30 km/h", "length": "60 m", "surface": {"class": "B"},
        "features": [{"kind": "bump", "at": "25 m", "length": "0.6 m", "height": "60 mm", "side": "left"}],
    },
]  # fmt: skip


@pytest.fixture(scope="module")
def short(vary: Vary) -> Job:
    return vary({"road_loop.sections": SECTIONS})


@pytest.fixture(scope="module")
def runs(short: Job) -> tuple[SectionRun, ...]:
    return loop.drive_loop(short, BARE)


def test_the_same_seed_gives_the_same_figures(runs: tuple[SectionRun, ...], vary: Vary) -> None:
    again = loop.drive_loop(vary({"road_loop.sections": SECTIONS}), BARE)
    assert [r.measures for r in again] == [r.measures for r in runs]
    other = loop.drive_loop(vary({"road_loop.sections": SECTIONS, "road_loop.seed": 7}), BARE)
    assert other[0].measures["seat"] != runs[0].measures["seat"]


def test_measures_are_those_of_the_table_and_finite(runs: tuple[SectionRun, ...]) -> None:
    for run in runs:
        assert set(run.measures) == set(m.MEASURES)
        assert all(math.isfinite(v) and v >= 0.0 for v in run.measures.values())
        assert run.outside_tables == 0.0


def test_stock_against_itself_is_exactly_one(runs: tuple[SectionRun, ...]) -> None:
    index = loop.loop_index(runs, runs)
    assert (index.comfort, index.control) == (1.0, 1.0)
    assert set(index.by_section.values()) == {(1.0, 1.0)}


def test_the_loops_index_is_the_geometric_mean_of_its_sections(short: Job, runs: tuple[SectionRun, ...]) -> None:
    index = loop.loop_index(runs, loop.drive_loop(short, Setup("bare", STOCK)))
    (a, b), (c, d) = index.by_section.values()
    assert index.comfort == pytest.approx(math.sqrt(a * c))
    assert index.control == pytest.approx(math.sqrt(b * d))
    # and swapped, it is the reciprocal
    swapped = loop.loop_index(loop.drive_loop(short, Setup("bare", STOCK)), runs)
    assert swapped.comfort == pytest.approx(1.0 / index.comfort)
    assert swapped.control == pytest.approx(1.0 / index.control)


def test_the_programmes_weights_and_shares_are_the_ones_that_count(vary: Vary) -> None:
    """By hand from the measures: comfort is the seat alone, control the load alone, gravel counts three times."""
    one, other = {**SECTIONS[0], "share": 3}, SECTIONS[1]
    own = {"comfort": {"seat": 1}, "control": {"load": 1}}
    job = vary({"road_loop.sections": [one, other], "targets.weights": own})
    here, there = (loop.drive_loop(job, Setup("bare", b)) for b in ("B3", STOCK))
    index = loop.loop_index(here, there)
    seat, load = ([a.measures[k] / b.measures[k] for a, b in zip(here, there, strict=True)] for k in ("seat", "load"))
    assert index.comfort == pytest.approx((seat[0] ** 3 * seat[1]) ** 0.25)
    assert index.control == pytest.approx((load[0] ** 3 * load[1]) ** 0.25)
    result = drive.study(job)
    table = result.table("weights")
    assert {row[:3] for row in table.rows} == {
        ("comfort", m.MEASURES["seat"].title, 1.0),
        ("control", m.MEASURES["load"].title, 1.0),
    }
    assert "programme's own" in table.note
    speeds = next(p for p in result.pictures if p.key == "damper_speed")
    assert isinstance(speeds, LineChart)
    # empty classes at the ends are left out, what happens is not
    assert all(0.98 < sum(line.y) <= 1.0 + 1e-9 for line in speeds.lines)
    assert len(speeds.lines[0].x) < here[0].damper[0].share.size
    assert tuning.study(job).inputs["comfort weighs"] == f"{m.MEASURES['seat'].title} 100 %"
    sections = result.table("sections")
    shares = [c.key for c in sections.columns].index("share")
    assert [row[shares] for row in sections.rows] == [0.75, 0.25]


def test_a_cushion_and_further_points_are_judged_where_the_programme_has_them(short: Job, vary: Vary) -> None:
    """A rigid seat in the demo; with foam less of the wheels' bouncing reaches it, and more points add up to more."""
    foam = {"vehicle.places.driver.cushion": {"stiffness": "70 N/mm", "damping": "300 N s/m"}}
    alone = {"vehicle.places.driver": {"seat": "-1180, 380, 880 mm", "head": "-1260, 380, 1520 mm"}}
    rigid = loop.drive_one(short, BARE, "gravel").measures
    on_foam = loop.drive_one(vary({"road_loop.sections": SECTIONS, **foam}), BARE, "gravel")
    soft = on_foam.measures
    seat = loop.drive_one(vary({"road_loop.sections": SECTIONS, **alone}), BARE, "gravel").measures
    assert soft["shock_sharp"] < 0.5 * rigid["shock_sharp"]
    assert soft["load"] == rigid["load"]
    assert seat["seat"] == rigid["seat"]
    assert rigid["ride"] > seat["ride"] > seat["seat"]
    # at the rail it is what the rigid seat feels upwards, and the surface is in the seat's total
    assert drive_tables.cushion([loop.drive_one(short, BARE, "gravel")]) is None
    passed = on_foam.cushion
    assert passed is not None
    assert rigid["seat"] ** 2 - soft["seat"] ** 2 == pytest.approx(passed.rail**2 - passed.surface**2, rel=1e-9)
    assert 0.6 < passed.value < 1.2  # a foam seat on gravel: common practice, no source
    table = drive_tables.cushion([on_foam])
    assert table is not None
    assert table.rows == (("gravel", passed.rail, passed.surface, passed.value),)


LANES = [
    {
        "name": "gusty moor", "speed": "90 km/h", "length": "150 m",
        "manoeuvre": {"kind": "gust", "at": "40 m", "wind": "20 m/s"},
    },
    {
        "name": "gusty moor, steered", "speed": "90 km/h", "length": "150 m", "driver": "steering",
        "manoeuvre": {"kind": "gust", "at": "40 m", "wind": "20 m/s"},
    },
    {"name": "straight", "speed": "90 km/h", "length": "150 m"},
]  # fmt: skip


def test_a_driver_works_for_the_lane(vary: Vary) -> None:
    """Held, the hand wheel does nothing and the gust carries the vehicle off; steered it is the other way round."""
    job = vary({"road_loop.sections": LANES})
    held, steered, straight = (run.measures for run in loop.drive_loop(job, BARE))
    assert held["hand_turned"] == held["hand_rate"] == straight["hand_turned"] == 0.0
    assert steered["hand_turned"] > math.radians(5.0)
    assert steered["hand_rate"] > 0.0
    assert steered["drift"] < 0.7 * held["drift"]
    assert straight["drift"] < 0.1 * held["drift"]
    assert straight["rear_skate"] < held["rear_skate"]
    table = drive.study(job).table("steering")
    assert [row[:2] for row in table.rows] == [
        ("gusty moor", "crosswind, hand wheel held"),
        ("gusty moor, steered", "crosswind, steered"),
    ]


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_a_turned_hand_wheel_is_its_path_not_a_skate_and_work(short: Job, side: float) -> None:
    """Front wheels go where they point: on a slow bend they slip by a fraction of the 0.25 m/s of their steer.

    With caster the driver turns against the wheels: work is done, and about as much to the other side.
    """
    gear = Steering(inertia=20.0, stiffness=15e3, damping=150.0, caster=math.radians(3.0), ratio=18.0)
    vehicle = dataclasses.replace(model.vehicle(short, BARE), steering=gear)
    rest = model.rest(short, BARE)
    road = loop.tracks(short)["gravel"]
    flat = dataclasses.replace(road, left=np.zeros_like(road.left), right=np.zeros_like(road.right))
    steer, way = loop.straight_running(vehicle, rest)
    n = simulate(vehicle, flat, speed=5.0, rest=rest, steer=steer, sideslip=way).time.size * 2
    bend = steer + side * 0.05 * np.clip(np.arange(n) / 2000.0, 0.0, 1.0)
    h = simulate(vehicle, flat, speed=5.0, rest=rest, steer=bend, sideslip=way)
    got = section_measures.reduce(
        h, vehicle=vehicle, rest=rest, points=loop.points(short).about(vehicle.body.centre), speed=5.0, mean_speed=5.0,
        way=way,
    ).measures  # fmt: skip
    assert got["hand_turned"] == pytest.approx(18.0 * 0.05, rel=2e-3)
    assert got["drift"] > 1.0
    assert got["front_skate"] < 0.3 * 5.0 * 0.05
    torque = h.steering_moment / 18.0
    assert side * torque[-500:].mean() > 0.5  # the wheels want back, the driver holds
    assert got["hand_torque"] == pytest.approx(float(np.std(torque)))
    work = np.sum(np.abs(torque[1:] * np.diff(18.0 * bend[::2][: torque.size])))
    assert got["hand_work"] == pytest.approx(work, rel=0.02)
    held = 0.9 * abs(torque[-500:].mean())
    assert 0.5 * held < work < held  # the torque rises with the angle, on top of what the steering's damper takes


def test_a_firmer_damper_holds_the_wheel_and_costs_harshness(short: Job) -> None:
    """Common practice, no source: from the softest build to the firmest, load variation falls and harshness rises."""
    soft, firm = (loop.drive_loop(short, Setup("bare", b))[0].measures for b in ("B1", "B2"))
    assert firm["load"] < soft["load"]
    assert firm["harshness"] > soft["harshness"]
    assert firm["float"] < soft["float"]


def _drive(job: Job, track: Track, speed: float = 10.0) -> SectionRun:
    vehicle, rest = model.vehicle(job, BARE), model.rest(job, BARE)
    section = dataclasses.replace(loop.sections(job)[1], speed=speed)
    return loop.drive_section(
        loop.Ready.of(vehicle, rest),
        track,
        section,
        points=Points(seat=(0.1, 0.0, 0.2), head=(0.0, 0.0, 0.8)),
    )


def test_mirrored_roads_change_sides(vary: Vary) -> None:
    """With the load amidships each side sees what the other saw; rods and pitman arm are the asymmetry left."""
    middle = {
        "fitouts.bare.people": {"driver": "75 kg"},
        "fitouts.bare.items": [{"name": "radio rack", "mass": "75 kg", "at": "-1180, -380, 880 mm"}],
    }
    job = vary({"road_loop.sections": SECTIONS, **middle})
    road = loop.tracks(job)["left bump"]
    left, right = _drive(job, road), _drive(job, dataclasses.replace(road, left=road.right, right=road.left))
    for key in ("seat", "harshness", "load"):
        assert right.measures[key] == pytest.approx(left.measures[key], rel=0.05), key
    for one, other in ((0, 1), (1, 0), (2, 3), (3, 2)):
        assert right.damper[one].power == pytest.approx(left.damper[other].power, rel=0.1)


@pytest.mark.parametrize("speed", [10.0, 20.0])
def test_a_smooth_road_gives_next_to_nothing(speed: float, short: Job) -> None:
    """What is left is the first second, in which the axles find the sideslip at which they roll straight on."""
    road = loop.tracks(short)["gravel"]
    flat = dataclasses.replace(road, left=np.zeros_like(road.left), right=np.zeros_like(road.right))
    run = _drive(short, flat, speed)
    for key, most in (("float", 1e-5), ("pitch_rate", 1e-4), ("roll_rate", 1e-3), ("harshness", 5e-4), ("load", 5e-3)):
        assert run.measures[key] < most, key
    assert max(run.measures["seat"], run.measures["toss"]) < 0.015  # the standard calls 0.315 m/s2 not uncomfortable
    assert run.measures["airborne"] == run.measures["stops"] == run.measures["top_outs"] == 0.0
    assert run.reaction == "not uncomfortable"


def test_the_driver_holds_a_lifted_car_straight(short: Job) -> None:
    """Lifted, the drag link steers the wheels: held at that angle the car circles; with the steer found it does not."""
    vehicle, rest = model.vehicle(short, BARE), model.rest(short, BARE)
    road = loop.tracks(short)["gravel"]
    flat = dataclasses.replace(road, left=np.zeros_like(road.left), right=np.zeros_like(road.right))
    steer, _ = loop.straight_running(vehicle, rest)
    assert 1e-4 < abs(steer) < 0.01
    end = {s: simulate(vehicle, flat, speed=20.0, rest=rest, steer=s).velocity[-1, 2] for s in (0.0, steer)}
    assert abs(end[steer]) < 0.15 * abs(end[0.0])


@pytest.mark.parametrize(
    ("index", "words"),
    [
        (0.91, "9 % more comfortable"),
        (1.09, "9 % less comfortable"),
        (1.0, "neither more comfortable nor less comfortable"),
        (0.9951, "neither more comfortable nor less comfortable"),
        (1.006, "1 % less comfortable"),
    ],
)
def test_an_index_in_words(index: float, words: str) -> None:
    assert drive.change(index, "more comfortable", "less comfortable") == words


def test_the_study_passes_on_the_short_loop_and_compares_with_what_is_asked(short: Job) -> None:
    result = drive.study(short, against="B1")
    assert result.passes
    assert "than B1" in result.answer
    assert result.provenance.seed == 20261
    index = loop.loop_index(loop.drive_loop(short, BARE), loop.drive_loop(short, Setup("bare", "B1")))
    assert result.values["comfort_index"] == pytest.approx(index.comfort)


def test_the_drive_says_which_measure_the_standard_would_report(short: Job, runs: tuple[SectionRun, ...]) -> None:
    result = drive.study(short)
    rows = {str(row[0]): row for row in result.table("judging").rows}
    for run in runs:
        _, crest, peak, dose, judge, criteria = rows[run.name]
        assert (crest, peak, dose) == tuple(run.measures[k] for k in ("crest", "peak_ratio", "dose_ratio"))
        assert (judge == "r.m.s.") == (crest <= 9.0 and peak <= 1.5 and dose <= 1.75)
        assert (criteria == "contradict") == ((peak > 1.5) != (dose > 1.75))


def test_too_short_a_damper_is_pulled_open(vary: Vary) -> None:
    job = vary({"road_loop.sections": SECTIONS, "kit.dampers.front_b.open_length": "520 mm"})
    result = drive.study(job)
    assert not result.passes
    told = [n for n in result.notices if "pulled to its open length" in n.text and "longer damper" in n.remedy]
    assert told
    assert all(" with up to " in n.text and n.text.endswith("kN") for n in told)


def test_too_long_a_damper_carries_for_the_bump_stop(vary: Vary) -> None:
    job = vary({"road_loop.sections": SECTIONS, "kit.dampers.front_b.closed_length": "462 mm"})
    result = drive.study(job)
    assert not result.passes
    assert any("pushed to its closed length" in n.text and "bump stop" in n.text for n in result.notices)


# ---------------------------------------------------------------------------------------------------- tuning


def test_balance_weighs_both_alike(short: Job) -> None:
    found = tuning.build_indices(short, "bare")
    assert found[STOCK].comfort == found[STOCK].control == tuning.balance(found[STOCK]) == 1.0
    for index in found.values():
        assert tuning.balance(index) ** 2 == pytest.approx(index.comfort * index.control)


def test_the_best_build_has_the_least_balance(short: Job) -> None:
    found = tuning.build_indices(short, "bare")
    best = tuning.best_build(short)
    assert best != STOCK
    assert all(tuning.balance(found[best]) <= tuning.balance(i) for b, i in found.items() if b != STOCK)
    assert tuning.study(short).values["best_build"] == best


def test_adjusters_scaled_by_one_change_nothing(short: Job, runs: tuple[SectionRun, ...]) -> None:
    same = loop.drive_loop(short, BARE, vehicle=adjusted(fittings(short, BARE), {a.key: 1.0 for a in tuning.TUNED}))
    assert [run.measures for run in same] == [ref.measures for ref in runs]


def test_an_adjuster_moves_its_own_direction_only(short: Job) -> None:
    base = model.vehicle(short, BARE)
    more = adjusted(fittings(short, BARE), {"rear_rebound": 1.2})
    assert more.front is base.front
    was, now = base.rear.damper, more.rear.damper
    grid = np.array([-0.8, -0.4, -0.2, 0.2, 0.4, 0.8])
    ratio = np.interp(grid, now.velocity, now.force) / np.interp(grid, was.velocity, was.force)
    np.testing.assert_allclose(ratio, [1.2, 1.2, 1.2, 1.0, 1.0, 1.0], rtol=1e-6)


def test_trials_are_sorted_and_their_answer_is_the_first(short: Job) -> None:
    tried = tuning.trials(short, BARE)
    assert len(tried) == 2 * len(tuning.TUNED)
    assert [t.balance for t in tried] == sorted(t.balance for t in tried)
    for t in tried:
        assert (1.0 + t.balance) ** 2 == pytest.approx((1.0 + t.comfort) * (1.0 + t.control))
    result = tuning.study(short, build="B3")
    worth = tried[0].balance <= -tuning.WORTH
    assert ("next try" in result.answer) == worth


def test_a_build_worse_controlled_than_stock_does_not_pass(short: Job) -> None:
    found = tuning.build_indices(short, "bare")
    for build in ("B1", "B2", "B3"):
        result = tuning.study(short, build=build)
        assert result.passes == (found[build].control <= 1.0)
        assert bool([n for n in result.notices if "firm up" in n.remedy]) == (not result.passes)


def test_two_builds_do_not_bracket(vary: Vary) -> None:
    job = vary(
        {
            "road_loop.sections": SECTIONS[1:],
            "builds": {
                "B1": {"title": "soft", "parent": "stock", "dampers": {"front": "front_a", "rear": "rear_a"}},
                "B2": {"title": "firm", "parent": "B1", "dampers": {"front": "front_c", "rear": "rear_c"}},
            },
        }
    )
    assert any("do not bracket" in n.text for n in tuning.study(job).notices)
