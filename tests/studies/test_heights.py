"""Heights of the invented Tarn, and that what the study proposes really mends them."""

from __future__ import annotations

import re

import pytest
from vary_programme import Vary

from tussock.studies import heights, model, parts
from tussock.studies.job import ENDS, Job, Setup

POUND_PER_INCH = 4.4482216152605 / 0.0254  # [N/m], exact by definition
POUND = 0.45359237  # [kg]


@pytest.mark.literature
@pytest.mark.parametrize(("spring", "load", "wanted"), [(143.0, 957.0, 1.14), (100.0, 730.0, 1.11)])
def test_ride_frequency_of_a_textbook_car(spring: float, load: float, wanted: float) -> None:
    """Gillespie, Fundamentals of Vehicle Dynamics, chapter 5, example 1 (from memory, two decimals)."""
    got = heights.ride_frequency(rate=spring * POUND_PER_INCH, tyre=1198.0 * POUND_PER_INCH, sprung_corner=load * POUND)
    assert got == pytest.approx(wanted, abs=0.005)


def test_the_demo_holds_every_height(job: Job) -> None:
    result = heights.study(job)
    assert result.passes
    assert all("of vehicles would" in n.text for n in result.notices)  # what production scatters, no more
    assert all(r.holds and r.mend == "" for r in heights.height_rows(job, "B3"))


@pytest.mark.parametrize("more", [6.0, -6.0])
def test_a_longer_spring_lifts_by_its_length_over_the_motion_ratio(more: float, job: Job, vary: Vary) -> None:
    """The load on the axle stays, so the spring keeps its length: the body rises by what the seats must part."""
    setup = Setup("bare", "B3")
    changed = vary({"kit.springs.front_standard.free_length": f"{486.0 + more} mm"})
    before, after = model.posture(job, setup), model.posture(changed, setup)
    rise = 1e-3 * more / model.spring_ratio(job, setup, "front")
    assert after["front"].lift - before["front"].lift == pytest.approx(rise, rel=0.01)
    assert abs(after["rear"].lift - before["rear"].lift) < 0.02 * abs(rise)


def test_a_packer_lifts_as_much_as_a_longer_spring(vary: Vary) -> None:
    setup = Setup("bare", "B3")
    packed = vary({"fitouts.bare.packers": ["front_10"]})
    longer = vary({"kit.springs.front_standard.free_length": "496 mm"})
    assert model.posture(packed, setup)["front"].lift == pytest.approx(
        model.posture(longer, setup)["front"].lift, abs=1e-9
    )


CASES = {
    "low": ({"kit.springs.front_standard.free_length": "472 mm"}, "packer"),
    "low, no packer reaches": ({"kit.springs.front_standard.free_length": "440 mm"}, "free length"),
    "on its bump stop": ({"kit.springs.front_standard.free_length": "390 mm"}, "free length"),
    "high": ({"kit.springs.rear_main.free_length": "485 mm"}, "free length"),
    "high target": ({"targets.lift.bare.front": "52 mm"}, "packer"),
    "packed already": (
        {"kit.springs.front_winch.free_length": "470 mm", "fitouts.rescue.packers": ["front_10"]},
        "free length",
    ),
}


@pytest.mark.parametrize("case", CASES)
def test_what_is_proposed_brings_the_height_within_tolerance(case: str, vary: Vary) -> None:
    changes, kind = CASES[case]
    job = vary(changes)
    missed = [r for r in heights.height_rows(job, "B3") if not r.holds]
    assert missed
    assert not heights.study(job).passes
    for row in missed:
        assert row.mend.startswith(kind) or case == "high"
        packer = re.fullmatch(r"packer (\w+)", row.mend)
        longer = re.fullmatch(r"free length ([+−]\d+) mm", row.mend)
        if packer:
            there = list(job.programme.fitouts[row.fitout].packers)
            mended = vary({**changes, f"fitouts.{row.fitout}.packers": [*there, packer[1]]})
        else:
            assert longer, row.mend
            length = 1e3 * float(job.programme.kit.springs[row.spring].free_length) + float(longer[1].replace("−", "-"))
            mended = vary({**changes, f"kit.springs.{row.spring}.free_length": f"{length} mm"})
        after = next(r for r in heights.height_rows(mended, "B3") if (r.fitout, r.end) == (row.fitout, row.end))
        assert after.holds, f"{row.fitout} {row.end}: {row.mend} leaves {1e3 * after.off:.1f} mm"
        if longer:
            assert abs(after.off) < 1e-3


def test_a_spring_far_too_soft_is_another_spring_not_a_longer_one(vary: Vary) -> None:
    rows = heights.height_rows(vary({"kit.springs.front_standard.rate": "9 N/mm"}), "B3")
    assert next(r for r in rows if (r.fitout, r.end) == ("bare", "front")).mend == "another spring"


def test_packers_of_the_other_axle_are_not_proposed(vary: Vary) -> None:
    job = vary({"kit.springs.rear_main.free_length": "442 mm", "targets.lift.rescue.rear": "-20 mm"})
    mends = {r.mend for r in heights.height_rows(job, "B3") if r.end == "rear" and not r.holds}
    assert mends
    assert not any("front" in m for m in mends)


def test_too_much_lean_fails_and_names_the_high_side(vary: Vary) -> None:
    result = heights.study(
        vary({"fitouts.bare.items": [{"name": "tool chest", "mass": "90 kg", "at": "-1500, 600, 900 mm"}]})
    )
    assert not result.passes
    lean = [n for n in result.notices if "right side stands" in n.text]
    assert lean
    assert "towards the right" in lean[0].remedy


def test_outside_the_frequency_window_fails(vary: Vary) -> None:
    result = heights.study(vary({"targets.ride_frequency.rear.most": "1.30 Hz"}))
    assert not result.passes
    assert sum("rides at" in n.text for n in result.notices) == 2  # bare and winch; the loaded one rides slower


@pytest.mark.parametrize("end", ENDS)
def test_spread_is_the_root_of_three_squares(end: str, job: Job) -> None:
    """First-order propagation (JCGM 100:2008, 5.1.2) of rate, free length and scales."""
    setup = Setup("bare", "B3")
    row = next(r for r in heights.height_rows(job, "B3") if (r.fitout, r.end) == ("bare", end))
    spring = parts.fitted_spring(job, setup, end)
    rate = model.wheel_rate(job, setup, end)
    by_rate = row.corner_load / rate * spring.law.rate_spread / spring.rate
    by_scales = 2.0 * 9.80665 / rate
    assert row.spread == pytest.approx((by_rate**2 + spring.law.free_length_spread**2 + by_scales**2) ** 0.5)
    assert 0.003 < row.spread < 0.008
