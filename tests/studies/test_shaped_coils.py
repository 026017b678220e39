"""A coil whose turns close one after another, as the rear spring of the invented Tarn, against the turn-by-turn case.

Source of the closing law: Wahl, Mechanical Springs (turn by turn): deflection under F is the sum over the turns of
min(F / c, gap), with c = G d^4 / (8 D^3).
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from vary_programme import Vary

from tussock.errors import InputError
from tussock.record import ProgrammeError, with_field
from tussock.studies import heights, model, parts, springs
from tussock.studies.job import Job, Setup
from tussock.studies.reach import axle_travel
from tussock.studies.spring_laws import spring_law

WIRE, MEAN, MODULUS = 15e-3, 130e-3, 78.5e9
PITCHES = (22.0, 30.0, 40.0, 50.0, 58.0)  # at 0, 2, 4, 6, 8 turns [mm]
BARE = Setup("bare", "B3")


def turn_rate() -> float:
    return MODULUS * WIRE**4 / (8.0 * MEAN**3)


def deflection(force: float) -> float:
    """Turn-by-turn law, integrated over 8 turns whose pitch runs straight between stations."""
    turn = (np.arange(40_000) + 0.5) * 8.0 / 40_000
    gap = np.interp(turn, [0.0, 2.0, 4.0, 6.0, 8.0], np.array(PITCHES) * 1e-3) - WIRE
    return float(np.sum(np.minimum(force / turn_rate(), gap)) * 8.0 / 40_000)


def record() -> dict[str, Any]:
    free = 8.0 * float(np.mean([26.0, 35.0, 45.0, 54.0])) + 18.0
    return {
        "title": "rear coil, closing pitch",
        "rate": f"{turn_rate() / 8e3:.4f} N/mm",
        "free_length": f"{free + 66.0:.1f} mm",
        "shape": [
            {"turns": 2 * i, "wire": "15 mm", "mean_diameter": "130 mm", "pitch": f"{p} mm"}
            for i, p in enumerate(PITCHES)
        ],
        "end_coils": "18 mm",
    }


@pytest.fixture(scope="module")
def shaped(vary: Vary) -> Job:
    return vary({"kit.springs.rear_main": record()})


def test_load_curve_is_the_turn_by_turn_law(shaped: Job) -> None:
    law = spring_law(shaped.programme.kit.springs["rear_main"])
    for force in (1000.0, 2500.0, 4000.0, 6000.0):
        pressed = deflection(force)
        assert float(law.force(law.free_length - pressed)) == pytest.approx(force, rel=2e-3)
    assert law.rate_at(law.free_length - 1e-3) == pytest.approx(turn_rate() / 8.0, rel=2e-3)
    gaps = 8.0 * float(np.mean([26.0, 35.0, 45.0, 54.0])) * 1e-3 - 8.0 * WIRE
    assert law.shortest == pytest.approx(law.free_length - gaps, abs=1e-4)


def test_the_vehicle_stands_where_the_curve_carries_it(shaped: Job, vary: Vary) -> None:
    """The same vehicle at the same height carries the same: the load on the shaped coil is the plain coil's."""
    at = model.posture(shaped, BARE)["rear"]
    fitted = parts.fitted_spring(shaped, BARE, "rear")
    carried = float(fitted.force(at.spring_length))
    plain = vary(
        {
            "kit.springs.rear_main": {
                "title": "plain",
                "rate": "25 N/mm",
                "free_length": f"{1e3 * (at.spring_length + carried / 25e3):.4f} mm",
            }
        }
    )
    assert model.posture(plain, BARE)["rear"].spring_length == pytest.approx(at.spring_length, abs=2e-4)
    # the wheel feels the rate of the turns still open there, not the first one
    gain = model.wheel_rate(shaped, BARE, "rear") - model.wheel_rate(plain, BARE, "rear")
    ratio = model.spring_ratio(shaped, BARE, "rear")
    assert gain == pytest.approx((fitted.rate_at(at.spring_length) - 25e3) * ratio**2, abs=600.0)


def test_heights_and_springs_carry_it(shaped: Job) -> None:
    row = next(r for r in heights.height_rows(shaped, "B3") if r.fitout == "rescue" and r.end == "rear")
    soft = next(r for r in heights.height_rows(shaped, "B3") if r.fitout == "bare" and r.end == "rear")
    assert row.corner_load > soft.corner_load
    assert model.wheel_rate(shaped, Setup("rescue", "B3"), "rear") > model.wheel_rate(shaped, BARE, "rear")
    result = springs.study(shaped)
    assert [p.key for p in result.pictures][-1] == "rear_main_load"
    part = next(r for r in result.table("leaves_and_bars").rows if r[0] == "rear_main")
    assert str(part[1]).startswith("wire of 15.0 mm at turn ")
    # EN 13906-1: uncorrected stress 8 D F / (pi d^3); open turns bear the whole load
    works = next(w for w in springs.spring_works(shaped, "B3") if w.name == "rear_main")
    assert part[2] == pytest.approx(8.0 * MEAN * works.load / (np.pi * WIRE**3), rel=5e-3)
    # the free length said to be measured is 66 mm more than the shape's
    assert any("its shape gives" in n.text for n in result.notices)
    assert "coil bind" in {s.name for s in axle_travel(shaped, Setup("rescue", "B3"), "rear").level}


@pytest.mark.parametrize(
    ("change", "wrong"),
    [
        ({"wire": "15 mm"}, "by its shape or by wire"),
        ({"end_coils": None}, "how high its dead coils are"),
        ({"shape": record()["shape"][:1]}, "two stations or more"),
        ({"shape": record()["shape"][::-1]}, "rising from 0"),
        ({"shape": []}, "only a coil given by its shape"),
    ],
)
def test_shapes_that_cannot_be_are_refused(job: Job, change: dict[str, Any], wrong: str) -> None:
    value = {k: v for k, v in {**record(), **change}.items() if v is not None}
    with pytest.raises(ProgrammeError, match=wrong):
        with_field(job.loaded, "kit.springs.rear_main", value)


def test_a_pitch_below_the_wire_is_told(vary: Vary) -> None:
    spoiled = record()
    spoiled["shape"][0]["pitch"] = "9 mm"
    job = vary({"kit.springs.rear_main": spoiled})
    with pytest.raises(InputError, match=r"rear coil, closing pitch: shaped coil: at 0\.0 turns the pitch"):
        parts.fitted_spring(job, BARE, "rear")
