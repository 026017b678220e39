"""Calibration: hidden parameters come back, the intervals cover, what the runs do not tell stays as assumed.

All builds are invented; the runs are made with parameters that the fit is not told.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import curve_fit
from tarn_builds import discs, mono, rebound, twin

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.dampers.assembly import DamperBuild, LiftTables, Parameters
from tussock.mechanics.dampers.calibrate import SPREAD, Observation, calibrate, leave_one_out, misses, predict
from tussock.mechanics.dampers.search import with_valve
from tussock.mechanics.dampers.seat_tables import SeatGridTables

V = np.array([-1.04, -0.52, -0.26, -0.13, -0.05, 0.05, 0.13, 0.26, 0.52, 1.04])
HIDDEN = Parameters(
    curtain_discharge=0.63, port_factor=0.92, bleed_factor=1.12, band_gap=0.038e-3, seat_offset=0.010e-3,
    seal_friction=38.0,
)  # fmt: skip


def builds() -> tuple[DamperBuild, ...]:
    """Three builds of one piston: as drawn, firmer and softer in rebound."""
    firm = rebound(discs((0.25, 28), (0.20, 28), (0.20, 24), (0.20, 20), (0.20, 16)))
    soft = rebound(discs((0.20, 28), (0.15, 26), (0.20, 20), (0.20, 16)), seat_height=0.10e-3)
    base = twin()
    return (
        replace(base, name="A"),
        replace(with_valve(base, "piston", "rebound", firm), name="B"),
        replace(with_valve(base, "piston", "rebound", soft), name="C"),
    )


def observed(build: DamperBuild, hidden: Parameters, lifts: LiftTables, rng: np.random.Generator) -> Observation:
    force = predict(build, V, parameters=hidden, lifts=lifts)
    sigma = np.hypot(4.0, 0.01 * force)
    return Observation(build=build, velocity=V, force=force + rng.normal(0.0, sigma), sigma=sigma)


@pytest.fixture(scope="module")
def lifts() -> SeatGridTables:
    return SeatGridTables()


@pytest.fixture(scope="module")
def runs(lifts: SeatGridTables) -> tuple[Observation, ...]:
    rng = np.random.default_rng(11)
    return tuple(observed(build, HIDDEN, lifts, rng) for build in builds())


def test_hidden_parameters_come_back_within_their_intervals(
    runs: tuple[Observation, ...], lifts: SeatGridTables
) -> None:
    found = calibrate(runs, lifts=lifts)
    for one in found.estimates:
        assert abs(one.value - getattr(HIDDEN, one.name)) < 3.0 * one.sigma, one.name
    told = {one.name for one in found.estimates if one.knowledge == "from the data"}
    assert {"curtain_discharge", "seat_offset", "seal_friction"} <= told
    assert found.scatter < 1.5


def test_what_the_runs_do_not_tell_stays_and_is_said(runs: tuple[Observation, ...], lifts: SeatGridTables) -> None:
    found = calibrate(runs, lifts=lifts, spread={"jet_coefficient": 0.001, "seal_friction": 20.0})
    jet = found.estimates[0]
    assert jet.knowledge == "as assumed"
    assert abs(jet.value - Parameters().jet_coefficient) < 0.001
    assert any("jet coefficient" in text and "as assumed" in text for text in found.words)


def test_bleed_and_leak_are_told_as_a_pair(lifts: SeatGridTables) -> None:
    # at one low speed only the sum of bleed and leak is seen
    build = mono()
    v = np.array([-0.04, -0.03, 0.03])
    force = predict(build, v, parameters=Parameters(), lifts=lifts)
    run = Observation(build=build, velocity=v, force=force, sigma=0.2)
    found = calibrate([run], lifts=lifts, spread={"bleed_factor": 0.15, "band_gap": 0.015e-3})
    assert [pair[:2] for pair in found.pairs] == [("bleed_factor", "band_gap")]
    assert found.pairs[0][2] < -0.9


def test_each_held_out_build_is_predicted_better(runs: tuple[Observation, ...], lifts: SeatGridTables) -> None:
    held = leave_one_out(runs, lifts=lifts)
    assert [one.name for one in held] == ["A", "B", "C"]
    for one in held:
        assert one.after.rms < 0.5 * one.before.rms, one
        assert one.after.share < 0.03, one


def test_intervals_cover_what_they_say(lifts: SeatGridTables) -> None:
    build = mono()
    spread = {name: SPREAD[name] for name in ("curtain_discharge", "bleed_factor", "seal_friction")}
    rng = np.random.default_rng(3)
    inside, scaled = 0, []
    for _ in range(30):
        hidden = Parameters().changed(
            **{name: float(getattr(Parameters(), name) + 0.7 * size * rng.normal()) for name, size in spread.items()}
        )
        found = calibrate([observed(build, hidden, lifts, rng)], lifts=lifts, spread=spread)
        for one in found.estimates:
            inside += one.low <= getattr(hidden, one.name) <= one.high
            scaled.append((one.value - getattr(hidden, one.name)) / one.sigma)
    # 95 % of 90 is 85.5 with a binomial scatter of 2.1; widened intervals may hold a few more
    assert inside >= 79
    assert 0.6 < float(np.std(scaled)) < 1.25


def test_same_answer_and_covariance_as_a_general_fit(lifts: SeatGridTables) -> None:
    build = mono()
    run = observed(build, HIDDEN.changed(seat_offset=0.0), lifts, np.random.default_rng(5))
    wide = {"curtain_discharge": 0.3, "seal_friction": 60.0}  # as good as no prior
    start = HIDDEN.changed(seat_offset=0.0, curtain_discharge=0.7, seal_friction=25.0)
    found = calibrate([run], lifts=lifts, spread=wide, start=start)

    def model(v: Floats, discharge: float, friction: float) -> Floats:
        p = start.changed(curtain_discharge=discharge, seal_friction=friction)
        return predict(build, v, parameters=p, lifts=lifts)

    value, covariance = curve_fit(
        model, V, run.force, p0=(0.7, 25.0), sigma=run.sigma, absolute_sigma=True, epsfcn=1e-8
    )
    # SciPy's curve_fit (Levenberg-Marquardt) on the same residuals
    assert [one.value for one in found.estimates] == pytest.approx(value, rel=1e-3)
    widened = max(found.scatter, 1.0)
    assert [one.sigma for one in found.estimates] == pytest.approx(np.sqrt(np.diag(covariance)) * widened, rel=0.05)


@pytest.mark.parametrize("offset", [5e-6, 13e-6, -5e-6])
def test_tables_between_seat_heights_are_near_the_solved_ones(offset: float, lifts: SeatGridTables) -> None:
    p = Parameters(seat_offset=offset)
    between = predict(twin(), V, parameters=p, lifts=lifts)
    np.testing.assert_allclose(between, predict(twin(), V, parameters=p), rtol=2e-3)


def test_measured_friction_is_not_fitted(lifts: SeatGridTables) -> None:
    build = replace(mono(), body=replace(mono().body, friction=30.0))
    run = Observation(build=build, velocity=V, force=predict(build, V, parameters=Parameters(), lifts=lifts), sigma=5.0)
    found = calibrate([run], lifts=lifts, spread={"curtain_discharge": 0.08, "seal_friction": 20.0})
    assert [one.name for one in found.estimates] == ["curtain_discharge"]


def test_what_cannot_be_fitted_is_refused(runs: tuple[Observation, ...]) -> None:
    with pytest.raises(DomainError, match="no dyno run"):
        calibrate([])
    with pytest.raises(DomainError, match="no parameter 'wobble'"):
        calibrate(runs, spread={"wobble": 1.0})
    with pytest.raises(DomainError, match="dyno a second build"):
        leave_one_out(runs[:1])
    with pytest.raises(DomainError, match="without scatter"):
        Observation(build=mono(), velocity=V, force=V, sigma=0.0)
    with pytest.raises(DomainError, match="none be 0"):
        Observation(build=mono(), velocity=np.array([0.0, 0.1]), force=np.ones(2), sigma=1.0)


def test_misses_are_zero_against_itself_only() -> None:
    f = np.array([-300.0, -100.0, 50.0, 120.0])
    same, other = misses(f, f), misses(1.1 * f, f)
    assert (same.rms, same.worst_share) == (0.0, 0.0)
    assert other.share == pytest.approx(0.1)
    assert other.worst == pytest.approx(30.0)
