"""Where the invented Tarn stands: against wheel rates, levers and the axle sweeps."""

from __future__ import annotations

import math

import numpy as np
import pytest
from vary_programme import Vary

from tussock.mechanics.linkage import sweep
from tussock.mechanics.mass import GRAVITY
from tussock.studies import model, parts
from tussock.studies.job import ENDS, KERB, STOCK, Job, Setup

KERB_STOCK = Setup(KERB, STOCK)
BARE = Setup("bare", STOCK)


def loaded(vary: Vary, mass: float, at: str) -> Job:
    return vary({"fitouts.bare.items": [{"name": "ballast", "mass": f"{mass} kg", "at": at}]})


def test_stock_stands_at_kerb_height(job: Job) -> None:
    """Hardpoints, rates, free lengths and scales of the demo fit each other to 3 mm."""
    for at in model.posture(job, KERB_STOCK).values():
        assert abs(at.heave) < 3e-3
        assert at.lift == 0.0
    loads = model.rest(job, KERB_STOCK).wheel_load
    assert float(loads.sum()) == pytest.approx(1750.0 * GRAVITY, rel=1e-6)
    assert loads[:2].sum() == pytest.approx(912.0 * GRAVITY, rel=2e-3)


def test_ballast_sinks_each_axle_by_its_share_over_spring_and_tyre(job: Job, vary: Vary) -> None:
    """Levers split 100 kg between the axles; each side then gives way by spring and tyre in series. Within 2 %."""
    x = parts.whole_mass(job, "bare").centre[0]
    heavier = loaded(vary, 100.0, f"{1e3 * x:.1f}, 0, 700 mm")
    before, after = model.posture(job, BARE), model.posture(heavier, BARE)
    tyre = float(job.programme.vehicle.tyre.vertical_stiffness)
    for end, share in (("front", 1.0 + x / 2.7), ("rear", -x / 2.7)):
        rate = model.wheel_rate(job, BARE, end)
        sinks = 50.0 * GRAVITY * share * (1.0 / rate + 1.0 / tyre)
        assert before[end].lift - after[end].lift == pytest.approx(sinks, rel=0.02)
        assert after[end].heave - before[end].heave == pytest.approx(50.0 * GRAVITY * share / rate, rel=0.02)
        assert before[end].spring_length - after[end].spring_length == pytest.approx(
            (after[end].heave - before[end].heave) * model.spring_ratio(job, BARE, end), rel=0.02
        )


def test_the_heavier_side_stands_lower_and_its_mirror_image_mirrors(vary: Vary) -> None:
    middle, left, right = (
        model.posture(loaded(vary, 60.0, f"-1300, {y}, 700 mm"), BARE)["front"].lean for y in (0, 500, -500)
    )
    assert left < middle < right
    assert left - middle == pytest.approx(middle - right, rel=0.01)


def test_lean_is_the_moment_over_the_roll_rates(job: Job, vary: Vary) -> None:
    """Springs, bar and bushes in series with the tyres, both axles side by side, less what gravity takes as the body
    rolls about the roll axis; second order left out, so within 5 %."""
    y, mass = 0.5, 60.0
    plain, leaning = loaded(vary, mass, "-1300, 0, 700 mm"), loaded(vary, mass, f"-1300, {1e3 * y:.0f}, 700 mm")
    tyre = 2.0 * float(job.programme.vehicle.tyre.vertical_stiffness) * 0.75**2
    rates = {e: model.roll_rate(plain, BARE, e) for e in ENDS}
    total = sum(1.0 / (1.0 / k + 1.0 / tyre) for k in rates.values())
    sprung = parts.sprung_mass(plain, "bare")
    stands = model.posture(plain, BARE)
    centres = {
        e: float(sweep(model.axle(plain, e, stock=True), stands[e].heave, 0.0).roll_centre_height[0, 0]) for e in ENDS
    }
    axis = centres["front"] + (centres["rear"] - centres["front"]) * -sprung.centre[0] / 2.7
    total -= sprung.mass * GRAVITY * (sprung.centre[2] - axis)
    change = model.posture(plain, BARE)["front"].lean - model.posture(leaning, BARE)["front"].lean
    assert change / 1.5 == pytest.approx(mass * GRAVITY * y / total, rel=0.05)


@pytest.mark.parametrize("end", ENDS)
def test_rates_are_the_curvature_of_the_energy_along_the_travel(end: str, job: Job) -> None:
    """Second differences of the energy of springs and bushes over poses of the axle: no motion ratio is used."""
    heave = model.posture(job, KERB_STOCK)[end].heave
    spring = parts.fitted_spring(job, KERB_STOCK, end)
    bar = parts.fitted(job, KERB_STOCK, end).bar_rate
    h, r = 4e-3, 8e-3
    s = sweep(model.axle(job, end, stock=True), heave + np.array([-h, 0.0, h]), np.array([-r, 0.0, r]))
    length = s.lengths["spring"].length
    energy = 0.5 * spring.rate * np.sum((spring.free_length - length) ** 2, axis=2) + s.energy

    in_heave = (energy[2, 1] - 2.0 * energy[1, 1] + energy[0, 1]) / h**2
    assert 2.0 * model.wheel_rate(job, KERB_STOCK, end) == pytest.approx(in_heave, rel=2e-3)
    in_roll = (energy[1, 2] - 2.0 * energy[1, 1] + energy[1, 0]) / r**2 + bar
    assert model.roll_rate(job, KERB_STOCK, end) == pytest.approx(in_roll, rel=2e-3)


def test_kit_stands_higher_and_the_lift_follows_the_body(job: Job) -> None:
    at = model.posture(job, Setup("bare", "B3"))
    for end in ENDS:
        assert at[end].lift > 0.03
        # the body rises because the axles droop; tyres give way by what the driver weighs, a few mm at most
        assert at[end].lift == pytest.approx(-at[end].heave, abs=5e-3)


def test_a_stage_computes_the_rest_once(job: Job) -> None:
    assert model.rest(job, KERB_STOCK) is model.rest(job, KERB_STOCK)
    assert model.axle(job, "front", stock=True) is model.axle(job, "front", stock=False), "no changes in the kit"
    assert math.isfinite(model.damper_ratio(job, KERB_STOCK, "rear"))
