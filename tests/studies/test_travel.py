"""How far the invented Tarn may move, against poses of its axles and against its own answer applied."""

from __future__ import annotations

import math
import shutil
from importlib.resources import as_file, files
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import brentq
from typer.testing import CliRunner
from vary_programme import Vary

from tussock.cli import app
from tussock.studies import model, reach, travel
from tussock.studies.job import ENDS, KERB, STOCK, Job, Setup

BARE = Setup("bare", "B3")


def stop_at(job: Job, end: str, name: str, where: str) -> float:
    found = reach.axle_travel(job, BARE, end).level
    return next(s.heave for s in found if (s.name, s.where) == (name, where))


@pytest.mark.parametrize("length", [438.0, 420.0, 460.0])
def test_a_hose_ends_droop_where_the_axles_pose_pulls_it_straight(length: float, vary: Vary) -> None:
    """Root of the distance between the hose's ends over poses of the linkage, no map between."""
    job = vary({"kit.lines.front": [{"name": "brake hose", "length": f"{length} mm"}]})
    axle = model.axle(job, "front", stock=False)
    chassis, moving = np.array([-0.170, 0.330, 0.640]), np.array([-0.050, 0.560, 0.420])

    def left(heave: float) -> float:
        return 1e-3 * length - 0.008 - float(np.linalg.norm(axle.pose(heave, 0.0).place("axle", moving) - chassis))

    assert stop_at(job, "front", "brake hose", "droop") == pytest.approx(float(brentq(left, -0.19, 0.0)), abs=2e-4)


@pytest.mark.parametrize("end", ENDS)
def test_a_shorter_damper_governs_where_its_length_is_reached(end: str, vary: Vary) -> None:
    name, short = ("front_b", 0.570) if end == "front" else ("rear_b", 0.590)
    job = vary({f"kit.dampers.{name}.open_length": f"{1e3 * short} mm"})
    found = reach.axle_travel(job, BARE, end)
    stop = found.governing("droop")
    assert stop is not None
    assert stop.name == "damper open"
    axle = model.axle(job, end, stock=False)
    part = axle.attachments["damper"]

    def over(heave: float) -> float:
        pose = axle.pose(heave, 0.0)
        # the track rod moves the axle sideways, so one side is longer
        ends = [pose.place(b, p) - c for b, p, c in zip(part.bodies, part.at, part.chassis, strict=True)]
        return float(np.max(np.linalg.norm(ends, axis=1))) - short

    assert stop.heave == pytest.approx(float(brentq(over, -0.19, 0.0)), abs=2e-4)


@pytest.mark.parametrize("end", ENDS)
def test_at_the_greatest_lift_just_the_droop_wanted_is_left(end: str, job: Job, vary: Vary) -> None:
    """The spring is made longer until the body stands at the greatest lift, and the travel computed anew."""
    posture = model.posture(job, BARE)[end]
    most = travel.greatest_lift(job, reach.axle_travel(job, BARE, end), posture.lift)
    assert most > posture.lift
    spring = "front_standard" if end == "front" else "rear_main"
    stands = 1e3 * float(job.programme.kit.springs[spring].free_length)
    more, missing = 0.0, most - posture.lift
    for _ in range(2):  # the ratio changes a little on the way
        more += 1e3 * missing * model.spring_ratio(job, BARE, end)
        lifted = vary({f"kit.springs.{spring}.free_length": f"{stands + more} mm"})
        missing = most - model.posture(lifted, BARE)[end].lift
    assert model.posture(lifted, BARE)[end].lift == pytest.approx(most, abs=2e-4)
    left = reach.axle_travel(lifted, BARE, end).left("droop")
    assert left == pytest.approx(float(job.programme.targets.droop[end]), abs=3e-4)


def test_the_answer_carries_lift_and_limiter(job: Job) -> None:
    result = travel.study(job)
    assert result.passes
    assert "brake hose" in result.answer
    assert f"{1e3 * float(result.values['front_greatest_lift_m']):.0f} mm" in result.answer


def test_a_longer_hose_as_advised_gives_the_droop_wanted(vary: Vary) -> None:
    short = {"targets.droop.front": "95 mm"}
    result = travel.study(vary(short))
    assert not result.passes
    notice = next(n for n in result.notices if n.text.startswith("Front keeps"))
    assert "the brake hose stops it" in notice.text
    more = float(notice.remedy.removeprefix("a line ").removesuffix(" mm longer"))
    longer = vary({**short, "kit.lines.front": [{"name": "brake hose", "length": f"{438.0 + more} mm"}]})
    assert reach.axle_travel(longer, BARE, "front").left("droop") >= 0.095
    # and not by more than the rounding up to a whole millimetre asks
    shorter = vary({**short, "kit.lines.front": [{"name": "brake hose", "length": f"{438.0 + more - 1.5} mm"}]})
    assert reach.axle_travel(shorter, BARE, "front").left("droop") < 0.095


def test_a_damper_as_advised_gives_the_droop_wanted(vary: Vary) -> None:
    short = {"kit.dampers.front_b.open_length": "560 mm"}
    notice = next(n for n in travel.study(vary(short)).notices if "damper open stops it" in n.text)
    more = float(notice.remedy.removeprefix("a damper ").removesuffix(" mm longer when open"))
    mended = vary({"kit.dampers.front_b.open_length": f"{560.0 + more} mm"})
    assert reach.axle_travel(mended, BARE, "front").left("droop") >= 0.070


@pytest.mark.parametrize("y", [0.3, 0.45, 0.6])
def test_in_roll_a_hose_inboard_of_the_wheel_keeps_more_than_level(y: float, vary: Vary) -> None:
    """With the same droop at the wheel the middle of the axle hangs less, and so does all that sits inboard."""
    hose = {
        "name": "breather hose",
        "kind": "line",
        "chassis": f"-120, {1e3 * y}, 690 mm",
        "axle": f"-20, {1e3 * y}, 452 mm",
        "length": "350 mm",
    }
    found = reach.axle_travel(vary({"vehicle.axles.front.limiters.1": hose}), BARE, "front")
    level = next(s for s in found.level if (s.name, s.where) == ("breather hose", "droop"))
    rolled = found.margin_in_roll("breather hose", "droop", 0.070)
    assert rolled is not None
    assert rolled > found.ride - level.heave - 0.070


def test_in_roll_the_wheel_that_hangs_has_less(job: Job) -> None:
    """Half the track times the sine of the roll lies between the wheel and the middle of the axle."""
    found = reach.axle_travel(job, BARE, "front")
    margin = found.margin_in_roll("damper open", "droop", 0.070)
    stop = next(s for s in found.rolled if (s.name, s.where) == ("damper open", "droop"))
    assert margin == pytest.approx((found.ride - stop.heave) + 0.75 * math.sin(math.radians(5.0)) - 0.070)
    assert found.margin_in_roll("no such limiter", "droop", 0.070) is None


def test_damper_table_holds_the_lengths_of_the_poses(job: Job) -> None:
    table = travel.study(job).table("dampers")
    axle = model.axle(job, "front", stock=False)
    part = axle.attachments["damper"]
    ride = model.posture(job, BARE)["front"].heave
    keys = [c.key for c in table.columns]
    # the track rod moves the axle sideways, so one side is longer, and that one decides
    for column, heave, side in (("ride", ride, np.mean), ("needed_open", ride - 0.070, np.max)):
        got = table.rows[0][keys.index(column)]
        pose = axle.pose(heave, 0.0)
        ends = [pose.place(b, p) - c for b, p, c in zip(part.bodies, part.at, part.chassis, strict=True)]
        assert got == pytest.approx(float(side(np.linalg.norm(ends, axis=1))), abs=3e-4)


@pytest.mark.parametrize("fitout", ["bare", "winch", "rescue"])
@pytest.mark.parametrize("end", ENDS)
def test_droop_ends_by_a_line_or_joint_before_the_spring(fitout: str, end: str, job: Job) -> None:
    """Common practice, no source: a hose, a cable or a joint normally ends droop before the spring comes loose."""
    found = reach.axle_travel(job, Setup(fitout, "B3"), end)
    stop = found.governing("droop")
    assert stop is not None
    assert stop.name in {"brake hose", "breather hose", "upper link end", "damper open", "propshaft joint at pinion"}
    assert all(s.heave < stop.heave for s in found.level if s.name == "spring loose")


@pytest.mark.parametrize("setup", [Setup(KERB, STOCK), *(Setup(f, "B3") for f in ("bare", "winch", "rescue"))])
@pytest.mark.parametrize("end", ENDS)
def test_the_bump_stop_ends_travel_before_metal_meets(setup: Setup, end: str, job: Job) -> None:
    """Common practice, no source: the stop ends bump before track rod and chassis, coils, damper or tyre and arch."""
    stops = [s for s in reach.axle_travel(job, setup, end).level if s.where == "bump"]
    assert stops[0].name == "bump stop, 3 g"
    assert any(s.name.startswith("track rod to") for s in stops[1:])


def test_required_droop_missed_ends_the_command_with_1(tmp_path: Path) -> None:
    with as_file(files("tussock").joinpath("data/tarn")) as folder:
        shutil.copytree(folder, tmp_path / "tarn")
    path = tmp_path / "tarn" / "programme.yaml"
    text = path.read_text(encoding="utf-8")
    runner = CliRunner()
    assert runner.invoke(app, ["travel", str(path)]).exit_code == 0
    assert "droop: {front: 70 mm" in text
    path.write_text(text.replace("droop: {front: 70 mm", "droop: {front: 95 mm"), encoding="utf-8")
    short = runner.invoke(app, ["travel", str(path)])
    assert short.exit_code == 1, short.output
    path.write_text(text.replace("droop: {front: 70 mm", "droop: {front: 95"), encoding="utf-8")
    assert runner.invoke(app, ["travel", str(path)]).exit_code == 2
