"""Gas force and friction: found with and without a slow run, with an uncertainty that holds. All data invented."""

from __future__ import annotations

import numpy as np
import pytest
from dyno_samples import SPEEDS, TRUE, as_text, numbers, sine_text

from tussock.mechanics.dampers import ForceCurve, read

LOPSIDED = ForceCurve.from_points(
    speeds=SPEEDS,
    compression=(10, 60, 180, 330, 800),
    rebound=(60, 300, 640, 950, 1300),
    gas_force=210.0,
    friction=34.0,
)
SOFT = ForceCurve.from_points(
    speeds=SPEEDS,
    compression=(60, 155, 260, 400, 690),
    rebound=(135, 350, 590, 890, 1480),
    gas_force=60.0,
    friction=12.0,
)


@pytest.mark.parametrize("curve", [TRUE, LOPSIDED, SOFT], ids=["front B", "lopsided", "soft"])
@pytest.mark.parametrize(
    "change",
    [{}, {"stiffness": 4.5e5}, {"gas_rate": 2000.0}, {"samples_per_cycle": 400, "cycles": 3.0}],
    ids=["plain", "soft mount", "gas spring", "fine"],
)
def test_turns_of_sine_runs(curve: ForceCurve, change: dict[str, float]) -> None:
    """Without any slow run: 5 N at 4 N of noise over a lowest speed of 0.05 m/s, and within three stated errors."""
    rest = read(sine_text(curve, speeds=SPEEDS, seed=11, **change), name="turns").rest
    assert rest.method == "turns of the sine runs"
    assert rest.gas == pytest.approx(curve.gas_force, abs=min(5.0, 3.0 * rest.gas_error))
    assert rest.friction == pytest.approx(curve.friction, abs=min(6.0, 3.0 * rest.friction_error))
    assert rest.gas_error < 10.0


def test_stated_uncertainty_of_the_turns_holds() -> None:
    """Over 12 seeds at least 10 lie within two stated standard errors, and the mean miss is below 2 N."""
    found = [read(sine_text(speeds=SPEEDS, seed=seed), name="turns").rest for seed in range(12)]
    gas = np.array([(r.gas - 110.0) / r.gas_error for r in found])
    friction = np.array([(r.friction - 34.0) / r.friction_error for r in found])
    assert np.count_nonzero(np.abs(gas) < 2.0) >= 10
    assert np.count_nonzero(np.abs(friction) < 2.0) >= 10
    assert abs(np.mean([r.gas for r in found]) - 110.0) < 2.0


def test_a_lowest_speed_of_013_says_its_larger_uncertainty() -> None:
    """The curve bends between rest and 0.13 m/s: the turns know less there, and say so."""
    near = read(sine_text(speeds=SPEEDS, seed=3), name="near").rest
    far = read(sine_text(speeds=SPEEDS[1:], seed=3), name="far").rest
    assert far.gas == pytest.approx(110.0, abs=min(12.0, 3.0 * far.gas_error))
    assert far.gas_error > near.gas_error


@pytest.mark.parametrize("seed", range(3))
def test_slow_run_states_its_uncertainty(seed: int) -> None:
    rest = read(sine_text(seed=seed), name="slow").rest
    assert rest.method == "slow run and turns of the sine runs"
    assert rest.gas == pytest.approx(110.0, abs=3.0 * rest.gas_error)
    assert rest.friction == pytest.approx(34.0, abs=3.0 * rest.friction_error)
    assert rest.gas_error < 6.0


def test_turns_agree_with_the_slow_run() -> None:
    slow = read(sine_text(), name="slow").rest
    turns = read(sine_text(speeds=SPEEDS), name="turns").rest
    assert turns.gas == pytest.approx(slow.gas, abs=2.0 * (turns.gas_error + slow.gas_error))
    assert turns.friction == pytest.approx(slow.friction, abs=2.0 * (turns.friction_error + slow.friction_error))


def test_hysteresis_of_a_soft_mount_leaves_gas_and_friction_alone() -> None:
    """A spring of 90 N/mm in series opens the loops by up to 30 degrees; the slow run still tells."""
    test = read(sine_text(stiffness=9e4), name="soft")
    assert test.rest.gas == pytest.approx(110.0, abs=6.0)
    assert test.rest.friction == pytest.approx(34.0, abs=8.0)
    assert any("soft mount" in w for w in test.warnings)


def test_drift_of_the_load_cell_is_noticed() -> None:
    """The zero wanders by 60 N from the slow run to the last; all forces then carry part of it."""
    run, time, move, force = numbers(sine_text())
    test = read(as_text(run, time, move, force + 60.0 * (run > 2)), name="drift")
    assert any("the load cell drifts" in w for w in test.warnings)


@pytest.mark.parametrize("seed", range(4))
def test_no_drift_is_claimed_without_one(seed: int) -> None:
    assert read(sine_text(seed=seed, cycles=3.0), name="steady").warnings == ()
