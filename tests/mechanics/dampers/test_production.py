"""Bands of a production against linear error propagation, and the verdict on a batch. All builds are invented."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tarn_builds import mono, twin

from tussock.errors import DomainError
from tussock.mechanics.dampers.assembly import LiftTables, Parameters, StackValve, force_at
from tussock.mechanics.dampers.production import SPEEDS, ForceBands, Tolerances, batch_verdict, force_bands
from tussock.mechanics.dampers.search import with_valve


@pytest.fixture(scope="module")
def lifts() -> LiftTables:
    return LiftTables()


@pytest.fixture(scope="module")
def bands(lifts: LiftTables) -> ForceBands:
    return force_bands(mono(), lifts=lifts)


def test_sample_scatters_as_linear_propagation_says(lifts: LiftTables) -> None:
    build, v = mono(), np.array([-0.52, -0.26, 0.26, 0.52])
    tolerances = Tolerances(
        disc_thickness=0.0, seat_height=0.002e-3, bleed=0.01, curtain_discharge=0.005, band_gap=0.001e-3, friction=2.0
    )
    variance = np.full(v.size, 2.0**2)
    for name, sigma in (("bleed_factor", 0.01), ("curtain_discharge", 0.005), ("band_gap", 0.001e-3)):
        ends = []
        for sign in (-1.0, 1.0):
            p = Parameters().changed(**{name: getattr(Parameters(), name) + 0.5 * sign * sigma})
            ends.append(force_at(build, v, parameters=p, lifts=lifts).hydraulic_force)
        variance = variance + (ends[1] - ends[0]) ** 2
    for sense in ("compression", "rebound"):
        ends = []
        for sign in (-1.0, 1.0):
            valve = build.piston.valve(sense)  # type: ignore[arg-type]
            assert isinstance(valve, StackValve)
            moved = replace(valve, seat_height=valve.seat_height + 0.5 * sign * 0.002e-3)
            one = with_valve(build, "piston", sense, moved)  # type: ignore[arg-type]
            ends.append(force_at(one, v, lifts=lifts).hydraulic_force)
        variance = variance + (ends[1] - ends[0]) ** 2
    found = force_bands(build, tolerances=tolerances, lifts=lifts, speeds=(0.26, 0.52), checks=0)
    # 20,000 dampers tell a standard deviation to 0.5 %; curvature is below 1 % at these tolerances
    np.testing.assert_allclose(found.sigma, np.sqrt(variance), rtol=0.025)


def test_sum_of_effects_holds_in_whole_dampers(bands: ForceBands) -> None:
    assert bands.misfit < 0.01


def test_shares_add_up_and_the_band_holds_what_it_says(bands: ForceBands) -> None:
    np.testing.assert_allclose(sum(bands.sources.values()), 1.0)
    inside = np.mean((bands.sample >= bands.least) & (bands.sample <= bands.most), axis=0)
    np.testing.assert_allclose(inside, bands.coverage, atol=2e-3)
    assert np.all(bands.least < bands.nominal)
    assert np.all(bands.nominal < bands.most)


def test_seed_decides_the_sample(bands: ForceBands, lifts: LiftTables) -> None:
    again = force_bands(mono(), lifts=lifts, checks=0)
    other = force_bands(mono(), lifts=lifts, checks=0, seed=2)
    np.testing.assert_array_equal(again.sample, bands.sample)
    assert not np.array_equal(other.sample, bands.sample)
    np.testing.assert_allclose(other.least, bands.least, rtol=0.04)


def test_tighter_tolerances_make_narrower_bands(bands: ForceBands, lifts: LiftTables) -> None:
    tight = force_bands(
        mono(), lifts=lifts, checks=0,
        tolerances=Tolerances(
            disc_thickness=0.001e-3, seat_height=0.0035e-3, bleed=0.01, curtain_discharge=0.005, band_gap=0.0015e-3,
            friction=2.5,
        ),
    )  # fmt: skip
    np.testing.assert_allclose(tight.most - tight.least, 0.5 * (bands.most - bands.least), rtol=0.06)


def test_twin_tube_scatters_by_its_foot_valve_in_compression(lifts: LiftTables) -> None:
    found = force_bands(twin(), lifts=lifts, checks=0)
    mono_like = force_bands(mono(), lifts=lifts, checks=0)
    assert found.sample.shape == (20_000, 2 * len(SPEEDS))
    # the foot valve has a preload of its own
    assert found.sigma[-1] > mono_like.sigma[-1]


def test_batch_drawn_from_the_bands_passes_and_a_shifted_one_does_not(bands: ForceBands) -> None:
    serials = [f"T{i:03d}" for i in range(40)]
    good = batch_verdict(
        serials, bands.sample[:40], velocity=bands.velocity, least=bands.least, most=bands.most
    )  # fmt: skip
    assert good.passing >= 38
    # limits at the natural band of the process: Cp is 1 within what 40 parts tell (chi-square, 99.9 %: 0.68 to 1.36)
    assert all(0.68 < one.cp < 1.36 for one in good.capability)
    shifted = bands.sample[:40] + 3.0 * bands.sigma * np.sign(bands.velocity)
    bad = batch_verdict(serials, shifted, velocity=bands.velocity, least=bands.least, most=bands.most)
    assert bad.passing < 15
    assert min(one.cpk for one in bad.capability) < 0.3
    failing = next(one for one in bad.dampers if not one.passes)
    assert set(failing.failing) <= set(bands.velocity.tolist())


def test_what_cannot_be_is_refused(bands: ForceBands) -> None:
    with pytest.raises(DomainError, match="nothing scatters"):
        Tolerances(disc_thickness=0, seat_height=0, bleed=0, curtain_discharge=0, band_gap=0, friction=0)
    with pytest.raises(DomainError, match="must be above 0 and rise"):
        force_bands(mono(), speeds=(0.5, 0.1))
    with pytest.raises(DomainError, match="tell nothing of the last"):
        force_bands(mono(), count=100)
    with pytest.raises(DomainError, match="stands twice"):
        batch_verdict(
            ["a", "a"], bands.sample[:2], velocity=bands.velocity, least=bands.least, most=bands.most
        )  # fmt: skip
