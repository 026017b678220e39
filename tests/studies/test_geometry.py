"""What a lift does to the axles of the invented Tarn, and that the parts found do what is said of them."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from vary_programme import Vary

from tussock.errors import InputError, SolverError
from tussock.record import with_field
from tussock.studies import geometry, model, travel
from tussock.studies.geometry_parts import Characteristics, characteristics, with_changes
from tussock.studies.job import ENDS, KERB, STOCK, Job, Setup
from tussock.studies.mending import Part
from tussock.studies.mending_axle import Bench, mend_caster, mend_roll_centre, mend_shift, mend_steer
from tussock.studies.result import Result

BARE = Setup("bare", "B3")
WINDOW = {"front": (0.070, 0.070), "rear": (0.075, 0.075)}


@pytest.fixture(scope="module")
def ride(job: Job) -> dict[str, float]:
    return {e: at.heave for e, at in model.posture(job, BARE).items()}


@pytest.fixture(scope="module")
def study(job: Job) -> Result:
    return geometry.study(job)


def of(job: Job, end: str, heave: float, parts: tuple[Part, ...] = ()) -> Characteristics:
    changes = {name: point for part in parts for name, point in part.changes.items()}
    refit = tuple(rod for part in parts for rod in part.refit)
    return characteristics(job, with_changes(job, end, changes, refit=refit), end, ride=heave, window=WINDOW[end])


# ------------------------------------------------------------------------------------------- what a lift spoils


@pytest.mark.parametrize("end", ENDS)
def test_lifting_tilts_the_track_rod_and_raises_its_sideways_throw(end: str, job: Job) -> None:
    """Common practice, no source. The higher the body, the steeper the rod and the larger the throw, step by step."""
    steps = [of(job, end, -h) for h in (0.0, 0.02, 0.04, 0.06)]
    tilts, throws = [c.track_rod_tilt for c in steps], [c.lateral_shift for c in steps]
    assert tilts == sorted(tilts)
    assert throws == sorted(throws)
    assert throws[-1] > 1.5 * throws[0]


@pytest.mark.parametrize("end", ENDS)
def test_a_flatter_rod_throws_less(end: str, job: Job, ride: dict[str, float]) -> None:
    """Common practice, no source: raise the rod's axle end and the throw shrinks until the rod lies about level."""
    stock = np.array(job.programme.vehicle.axles[end].hardpoints["track_rod_axle"].si)

    def raised(by: float) -> Characteristics:
        part = Part(
            key="k", title="t", end=end, size=by, words="", refit=("track_rod",),
            changes={"track_rod_axle@axle": stock + np.array([0.0, 0.0, by])},
        )  # fmt: skip
        return of(job, end, ride[end], (part,))

    steps = [raised(by) for by in (0.0, 0.02, 0.04, 0.06)]
    assert all(a.track_rod_tilt > b.track_rod_tilt > 0.0 for a, b in itertools.pairwise(steps))
    assert all(a.lateral_shift > b.lateral_shift for a, b in itertools.pairwise(steps))


@pytest.mark.parametrize("end", ENDS)
def test_throw_is_that_of_the_rods_circle(end: str, job: Job, ride: dict[str, float]) -> None:
    """Derived: a rod of length L whose ends part by s in height spans sqrt(L^2 - s^2); the axle moves by the change.

    The front axle turns about the chassis bushes of its arms, 885 mm behind it, so the rod's end 118 mm ahead moves up
    and down by 1003/885 of the axle's heave. Within 2 %: the axle also yaws a little.
    """
    points = job.programme.vehicle.axles[end].hardpoints
    a, c = (np.array(points[n].si) for n in ("track_rod_axle", "track_rod_chassis"))
    length, rise = float(np.linalg.norm((c - a)[1:])), float(c[2] - a[2])
    heave = ride[end] + np.linspace(-WINDOW[end][0], WINDOW[end][1], 201)
    heave *= (0.118 + 0.885) / 0.885 if end == "front" else 1.0
    span = np.sqrt(length**2 - (rise - heave) ** 2)
    assert of(job, end, ride[end]).lateral_shift == pytest.approx(float(np.ptp(span)), rel=0.02)


def test_lifting_on_leading_arms_loses_caster_and_turns_the_pinion_by_the_same(
    job: Job, ride: dict[str, float]
) -> None:
    """Common practice, no source: leading arms turn the whole axle, so caster lost is pinion nose gained.

    Derived: the arm of 885 mm from axle to chassis bush turns by about lift over length.
    """
    kerb, lifted = of(job, "front", 0.0), of(job, "front", ride["front"])
    lost = kerb.caster - lifted.caster
    assert lost > math.radians(1.5)
    assert lifted.pinion - kerb.pinion == pytest.approx(lost, abs=math.radians(0.02))
    assert lost == pytest.approx(math.asin((0.071 - ride["front"]) / 0.888) - math.asin(0.071 / 0.888), rel=0.03)


# -------------------------------------------------------------------------------------------- parts that mend it


def bench(job: Job, end: str, ride: dict[str, float], fitted: tuple[Part, ...] = ()) -> Bench:
    return Bench(job, BARE, end, ride=ride[end], window=WINDOW[end], fitted=fitted)


@pytest.mark.parametrize("end", ENDS)
def test_either_bracket_is_the_lowest_that_brings_the_throw_down(end: str, job: Job, ride: dict[str, float]) -> None:
    wanted = 0.0120 if end == "front" else 0.0100
    options = mend_shift(bench(job, end, ride), wanted=wanted, target=wanted)
    assert [o.part.key for o in options] == ["track_rod_bracket", "track_rod_drop"]
    for option in options:
        part = option.part
        assert part.size == pytest.approx(round(part.size, 3)), "made to whole millimetres"
        name, point = next(iter(part.changes.items()))
        after = of(job, end, ride[end], (part,))
        assert after.lateral_shift <= wanted
        assert option.after.lateral_shift == after.lateral_shift
        up = math.copysign(0.001, part.size) * (1.0 if name.endswith("@axle") else -1.0)
        less = Part(
            key=part.key, title=part.title, end=end, size=0.0, words="", refit=part.refit,
            changes={name: point - np.array([0.0, 0.0, up])},
        )  # fmt: skip
        assert of(job, end, ride[end], (less,)).lateral_shift > wanted


def test_a_throw_that_no_bracket_reaches_is_said_with_the_best(job: Job, ride: dict[str, float]) -> None:
    with pytest.raises(SolverError, match=r"no track-rod bracket up to 80 mm .* the best, \+\d+ mm, is \d.* over"):
        mend_shift(bench(job, "front", ride), wanted=0.001, target=0.001)


@pytest.mark.parametrize("end", ENDS)
def test_lowering_the_chassis_end_puts_the_roll_centre_back(end: str, job: Job, ride: dict[str, float]) -> None:
    """Derived: a rod lowered with the chassis by what the chassis rose lies as it did; so does the roll centre."""
    kerb = of(job, end, 0.0)
    options = mend_roll_centre(bench(job, end, ride), wanted=kerb.roll_centre)
    assert [o.part.key for o in options] == ["track_rod_drop"]
    option = options[0]
    assert option.after.roll_centre == pytest.approx(kerb.roll_centre, abs=1e-3)
    # the rod's mid-height carries the roll centre: half the drop, and the lift took the chassis end up by itself
    rose = of(job, end, ride[end]).roll_centre - kerb.roll_centre
    assert option.part.size == pytest.approx(2.0 * rose, rel=0.15)


@pytest.mark.parametrize("degrees", [1.5, 2.5, 3.2])
def test_offset_bushes_win_caster_back(degrees: float, job: Job, ride: dict[str, float]) -> None:
    """Common practice, no source; the pinion turns back by the angle won."""
    target = math.radians(degrees)
    part = mend_caster(bench(job, "front", ride), target=target)[0].part
    assert part.key == "caster_bush"
    before, after = of(job, "front", ride["front"]), of(job, "front", ride["front"], (part,))
    assert after.caster == pytest.approx(target, abs=math.radians(0.1))
    assert before.pinion - after.pinion == pytest.approx(after.caster - before.caster, abs=math.radians(0.02))
    # derived: both bushes of an arm, 170 mm apart, move by the offset, up and down
    assert after.caster - before.caster == pytest.approx(2.0 * abs(part.size) / 0.1707, rel=0.03)


def test_every_way_to_caster_reaches_it_and_says_what_it_costs(job: Job, ride: dict[str, float]) -> None:
    before, target = of(job, "front", ride["front"]), math.radians(2.0)
    options = {o.part.key: o for o in mend_caster(bench(job, "front", ride), target=target)}
    assert set(options) == {"caster_bush", "arm_drop", "offset_ball"}
    for option in options.values():
        assert option.after.caster == pytest.approx(target, abs=math.radians(0.1))
    # derived: a drop of the arm's end by d turns an arm of 885 mm by about d / 885
    won = target - before.caster
    assert options["arm_drop"].part.size == pytest.approx(0.885 * math.tan(won), rel=0.05)
    # derived: the king pin's points lie 204 mm apart, and the axle itself does not turn
    assert options["offset_ball"].part.size == pytest.approx(0.204 * math.tan(won), abs=0.5e-3)
    assert options["offset_ball"].after.pinion == pytest.approx(before.pinion, abs=1e-6)
    assert options["caster_bush"].after.pinion < before.pinion - 0.9 * won


def test_caster_out_of_reach_is_said(job: Job, ride: dict[str, float]) -> None:
    with pytest.raises(SolverError, match=r"no offset bush up to 8.0 mm brings caster to its target.*drop bracket"):
        mend_caster(bench(job, "front", ride), target=math.radians(12.0))


def test_moving_the_drag_links_end_takes_the_steer_out_again(job: Job, ride: dict[str, float]) -> None:
    bracket = mend_shift(bench(job, "front", ride), wanted=0.012, target=0.012)[0].part
    without = of(job, "front", ride["front"], (bracket,))
    assert without.bump_steer > math.radians(1.0), "a raised track rod alone leaves the drag link behind"
    options = mend_steer(bench(job, "front", ride, (bracket,)), wanted=0.0)
    assert [o.part.title for o in options] == ["pitman arm", "steering arm"]
    for option in options:
        mended = of(job, "front", ride["front"], (bracket, option.part))
        assert mended.bump_steer < math.radians(0.3)
        # parallel again: both rods lie within half a degree of each other
        assert mended.drag_link_tilt == pytest.approx(mended.track_rod_tilt, abs=math.radians(0.6))


def test_no_lift_needs_no_part(vary: Vary) -> None:
    job = vary({"targets.lateral_shift": "13 mm"})
    result = geometry.study(job, fitout=KERB, build=STOCK)
    assert result.passes
    assert result.table("parts").rows == ()
    assert result.answer.endswith("no part is needed.")
    for end in ENDS:
        table = result.table(f"{end}_geometry")
        assert all(row[2] == row[3] == row[4] for row in table.rows)


def test_a_stock_axle_that_misses_the_target_itself_gets_its_bracket(vary: Vary) -> None:
    """Stock throws 12.6 mm: a target of 12.4 mm is missed by less than half a millimetre, and still missed."""
    job = vary({"targets.lateral_shift": "12.4 mm"})
    result = geometry.study(job, fitout=KERB, build=STOCK)
    assert result.passes
    assert "front_track_rod_bracket_m" in result.values


# ------------------------------------------------------------------------------------------------- the whole study


def test_the_demo_is_mended(study: Result) -> None:
    assert study.passes
    values = study.values
    assert float(values["front_caster_lifted_rad"]) < math.radians(2.0)
    assert math.radians(2.0) <= float(values["front_caster_mended_rad"]) <= math.radians(4.5)
    for end in ENDS:
        assert float(values[f"{end}_lateral_shift_mended_m"]) <= 0.012 < float(values[f"{end}_lateral_shift_lifted_m"])


def test_missed_targets_fail_with_a_remedy(vary: Vary) -> None:
    result = geometry.study(vary({"targets.pinion_angle": "0.1 deg"}))
    assert not result.passes
    turned = [n for n in result.notices if "pinion turns" in n.text]
    assert turned
    assert all(n.remedy for n in turned)


@pytest.fixture(scope="module")
def fitted(study: Result, vary: Vary) -> Job:
    """The Tarn with the parts that the study found, written into the kit as the table's note says."""
    changes: dict[str, dict[str, str]] = {"front": {}, "rear": {}}
    for row in study.table("parts").rows:
        point = ", ".join(f"{1e3 * float(v or 0.0):.2f}" for v in row[3:6])
        changes[str(row[1])][str(row[2])] = f"{point} mm"
    refit = study.table("parts").note.partition("kit.rod_lengths for ")[2].split(", ")
    assert refit == ["front drag_link", "front track_rod", "rear track_rod"]
    rods = {e: {r.split()[1]: "refit" for r in refit if r.startswith(e)} for e in ENDS}
    return vary({"kit.changes.front": changes["front"], "kit.changes.rear": changes["rear"], "kit.rod_lengths": rods})


def test_parts_written_into_the_kit_give_what_was_said(study: Result, fitted: Job) -> None:
    after = geometry.study(fitted)
    assert after.table("parts").rows == (), "what is fitted already is not asked for again"
    assert after.passes
    rows = {str(r[0]): r for r in study.table("front_geometry").rows}
    for row in after.table("front_geometry").rows:
        said, got = (str(x).replace("−", "-") for x in (rows[str(row[0])][4], row[3]))
        # the body stands a little higher or lower with the bushes turned: one digit of the table, 1 mm of height
        assert float(got) == pytest.approx(float(said), abs=1.0 if row[1] == "mm" else 0.11), row[0]


def test_a_raised_rod_that_meets_the_sump_first_fails_until_the_stop_comes_first(fitted: Job, vary: Vary) -> None:
    """Common practice, no source: the bump stop must end travel before the track rod meets the chassis."""
    result = travel.study(fitted)
    assert not result.passes
    notice = next(n for n in result.notices if n.text.startswith("Front: the track rod to sump ends bump"))
    taller = float(notice.remedy.removeprefix("a stop spacer ").removesuffix(" mm taller than the kit's"))
    spaced = Job(with_field(fitted.loaded, "kit.stop_spacers.front", f"{22.0 + taller} mm"))
    assert travel.study(spaced).passes
    less = Job(with_field(fitted.loaded, "kit.stop_spacers.front", f"{22.0 + taller - 1.5} mm"))
    assert not travel.study(less).passes


def test_every_characteristic_stands_in_the_values_in_si(job: Job) -> None:
    """The tables show each row rounded in a unit of its own; a program reads the numbers from the values."""
    result = geometry.study(job)
    for end in ("front", "rear"):
        table = result.table(f"{end}_geometry")
        shift = next(row for row in table.rows if row[0] == "Lateral shift over the travel")
        for column, state in ((2, "stock"), (3, "lifted"), (4, "mended")):
            written = float(str(shift[column]).replace("−", "-"))
            assert float(result.values[f"{end}_lateral_shift_{state}_m"]) * 1e3 == pytest.approx(written, abs=0.051)
    assert 0.0 < float(result.values["front_caster_lifted_rad"]) < float(result.values["front_caster_stock_rad"])


# ------------------------------------------------------------------------------------------- shares of the forces


def test_anti_effects_follow_the_shares_that_the_programme_gives(job: Job, vary: Vary) -> None:
    """Virtual work: each axle's anti effect is in proportion to the share of the force that it carries."""
    other = vary({"vehicle.front_brake_share": "0.75", "vehicle.front_drive_share": "0.2"})
    own = job.programme.vehicle.front_brake_share.si
    for end, brake, drive in (("front", 0.75 / own, 0.2 / 0.5), ("rear", 0.25 / (1.0 - own), 0.8 / 0.5)):
        was, now = of(job, end, 0.0), of(other, end, 0.0)
        assert now.anti_brake == pytest.approx(brake * was.anti_brake, rel=1e-9)
        assert now.anti_drive == pytest.approx(drive * was.anti_drive, rel=1e-9)
        assert was.anti_drive * was.anti_brake > 0.0
        assert model.axle_parts(other, BARE, end).drive_share == pytest.approx(0.2 if end == "front" else 0.8)


@pytest.mark.parametrize("share", ["1.2", "-0.1", "60 mm"])
def test_a_share_that_cannot_be_is_refused(share: str, vary: Vary) -> None:
    with pytest.raises(InputError, match="front_brake_share"):
        vary({"vehicle.front_brake_share": share})
