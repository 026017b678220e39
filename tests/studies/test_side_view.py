"""The vehicle at its heights: what is drawn is what was computed; the board says which spring holds what."""

from __future__ import annotations

import math

import pytest
from vary_programme import Vary

from tussock.studies import height_board, model, parts, side_view, spring_sets
from tussock.studies.job import ENDS, KERB, STOCK, Job, Setup
from tussock.studies.result import Board

RESCUE = Setup(fitout="rescue", build="B3")


def test_stock_stands_on_the_ground_where_it_was_measured(job: Job) -> None:
    at = side_view.pose(job, Setup(fitout=KERB, build=STOCK))
    assert at.lift == pytest.approx((0.0, 0.0), abs=1e-9)
    for height, end in zip(at.wheels, ENDS, strict=True):
        measured = parts.wheel_centre(job, end)[2]  # hub heights measured at kerb, +- 1 mm as the programme says
        assert height == pytest.approx(measured, abs=2e-3)


def test_a_raised_body_keeps_its_size_and_stands_at_its_heights(job: Job) -> None:
    at = side_view.pose(job, RESCUE)
    standing = model.posture(job, RESCUE)
    front, rear = at((0.0, 0.0)), at((-at.base, 0.0))
    assert front[1] == pytest.approx(standing["front"].lift)
    assert rear[1] == pytest.approx(standing["rear"].lift)
    assert math.dist(front, rear) == pytest.approx(at.base)  # turned, not sheared
    # the load squashes the tyres: more weight on the rear, so its hub stands lower than at kerb
    assert at.wheels[1] < side_view.pose(job, Setup(fitout=KERB, build=STOCK)).wheels[1]


def test_lift_opens_the_ramp_angles_and_they_need_their_measures(job: Job, vary: Vary) -> None:
    table = side_view.ramp_table(job, "B3")
    stock, bare = (dict(zip((c.key for c in table.columns), row, strict=True)) for row in table.rows[:2])
    for key in ("approach", "breakover", "departure"):
        assert bare[key] > stock[key] + math.radians(1.0)  # type: ignore[operator]
    without = vary({"vehicle.bumper_height": None, "vehicle.outline.lowest": None})
    assert side_view.ramp_angles(without, side_view.Pose(lift=(0.0, 0.0), base=2.7, wheels=(0.36, 0.36))) == (
        side_view.RampAngles(approach=None, departure=None, breakover=None)
    )


def test_the_drawing_says_the_height_of_each_axle_and_what_misses_it(job: Job) -> None:
    view = side_view.side_view(job, RESCUE)
    large = [c for c in view.captions if c.large]
    assert [c.x for c in large] == [0.0, -2.7]
    assert {c.role for c in large} == {"plain"}
    xs = [x for s in view.shapes if s.role == "stock" for x, _ in s.points]
    assert min(xs) == pytest.approx(-3.53, abs=0.02)


@pytest.fixture(scope="module")
def board(job: Job) -> Board:
    held = {(end, f): model.posture(job, Setup(fitout=f, build="B3"))[end].lift for end in ENDS for f in
            job.programme.fitouts}  # fmt: skip
    held["rear", "rescue"] -= 0.030
    return height_board.board(job, spring_sets.lifts(job, "B3"), held)


def test_the_board_frames_what_is_worn_and_says_what_misses(board: Board) -> None:
    assert board.columns == (("Front", "front standard"), ("Front", "front winch"), ("Rear", "rear main"))
    assert [cell.chosen for cell in board.rows[0][1]] == [True, False, True]
    rescue = board.rows[2][1]
    assert (rescue[1].fits, rescue[1].words) == (True, "holds")
    low = rescue[2]
    assert not low.fits
    assert low.at is not None
    assert low.words == f"{1e3 * (low.low - low.at):.0f} mm too low"
    assert rescue[0].words.endswith("too low")  # the lighter spring would not carry it
