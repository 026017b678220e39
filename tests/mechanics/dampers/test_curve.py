"""Force curves: symmetry, scaling, limits, refusals. Curves are the Tarn's, invented."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tussock.errors import DomainError
from tussock.mechanics.dampers import ForceCurve, compare, damping_ratio, production_band, shape, sine_speed

SPEEDS = (0.05, 0.13, 0.26, 0.39, 0.52, 1.05)
FRONT_A = ForceCurve.from_points(
    speeds=SPEEDS,
    compression=(95, 215, 345, 435, 515, 850),
    rebound=(175, 440, 700, 870, 1020, 1620),
    gas_force=110.0,
    friction=34.0,
    name="front A",
)
FRONT_C = ForceCurve.from_points(
    speeds=SPEEDS, compression=(160, 370, 580, 720, 840, 1330), rebound=(350, 880, 1330, 1610, 1850, 2750)
)

speed = st.floats(-2.5, 2.5)
steps = st.lists(st.floats(1.0, 400.0), min_size=3, max_size=8)


@given(compression=steps, rebound=steps, a=speed, b=speed)
def test_any_curve_is_monotone_smooth_and_takes_power(
    compression: list[float], rebound: list[float], a: float, b: float
) -> None:
    count = min(len(compression), len(rebound))
    curve = ForceCurve.from_points(
        speeds=np.linspace(0.1, 1.0, count),
        compression=np.cumsum(compression[:count]),
        rebound=np.cumsum(rebound[:count]),
    )
    low, high = sorted((a, b))
    assert curve.force_at(low) <= curve.force_at(high) + 1e-9
    assert curve.force_at(a) * a >= -1e-12  # rounding at rest
    for v in (0.0, float(curve.velocity[1]), float(curve.velocity[-1])):
        before, after = (curve.slope(v + d) for d in (-1e-9, 1e-9))
        assert float(before) == pytest.approx(float(after), rel=1e-5, abs=1e-3) or v == float(curve.velocity[-1])


def test_a_curve_keeps_its_own_numbers() -> None:
    v, f = np.array([-1.0, 0.0, 1.0]), np.array([-900.0, 0.0, 500.0])
    curve = ForceCurve(velocity=v, force=f)
    f[2] = 5.0
    assert curve.force_at(1.0) == pytest.approx(500.0)
    with pytest.raises(ValueError, match="read-only"):
        curve.force[0] = 1.0
    assert len({curve, curve.mirrored()}) == 2


def test_slope_is_the_derivative() -> None:
    v = np.array([-1.6, -0.8, -0.2, -0.01, 0.02, 0.3, 0.9, 1.4])
    numeric = (FRONT_A.at(v + 1e-6) - FRONT_A.at(v - 1e-6)) / 2e-6
    assert FRONT_A.slope(v) == pytest.approx(numeric, rel=1e-6)


@given(v=speed)
def test_mirror(v: float) -> None:
    mirror = FRONT_A.mirrored()
    assert mirror.force_at(v) == pytest.approx(-FRONT_A.force_at(-v), abs=1e-9)
    assert mirror.mirrored().force_at(v) == pytest.approx(FRONT_A.force_at(v), abs=1e-9)


def test_extrapolation_is_flagged_and_straight() -> None:
    assert not FRONT_A.is_extrapolated(1.05)
    assert list(FRONT_A.is_extrapolated(np.array([-1.2, -1.0, 0.0, 1.2]))) == [True, False, False, True]
    one, two, three = (FRONT_A.force_at(v) for v in (1.2, 1.6, 2.0))
    assert three - two == pytest.approx(two - one, rel=1e-9)
    assert two > one


@given(factor=st.floats(0.3, 3.0), v=speed)
def test_scaling_all_bands_scales_the_curve(factor: float, v: float) -> None:
    both = {(d, b): factor for d in ("compression", "rebound") for b in ("low", "mid", "high")}
    assert FRONT_A.scaled(both).force_at(v) == pytest.approx(factor * FRONT_A.force_at(v), rel=1e-9, abs=1e-9)  # type: ignore[arg-type]


def test_scaling_one_band_leaves_the_others() -> None:
    firmer = FRONT_A.scaled({("rebound", "low"): 1.3}, name="firmer")
    assert firmer.name == "firmer"
    assert firmer.force_at(-0.13) == pytest.approx(1.3 * FRONT_A.force_at(-0.13), rel=1e-9)
    # above the band the steps stay: the whole side moves by what the band gained
    gained = FRONT_A.force_at(-0.52) - firmer.force_at(-0.52)
    assert gained == pytest.approx(FRONT_A.force_at(-0.13) - firmer.force_at(-0.13), abs=1e-6)
    for v in (0.05, 0.2, 0.8):
        assert firmer.force_at(v) == pytest.approx(FRONT_A.force_at(v), rel=1e-12)
    high = FRONT_A.scaled({("compression", "high"): 0.5})
    assert high.force_at(0.39) == pytest.approx(FRONT_A.force_at(0.39), rel=1e-9)
    assert high.force_at(1.05) < FRONT_A.force_at(1.05)


def test_scaling_refuses_nonsense() -> None:
    with pytest.raises(DomainError, match="cannot be multiplied by 0"):
        FRONT_A.scaled({("rebound", "low"): 0.0})
    with pytest.raises(DomainError, match="there is no rebound middle"):
        FRONT_A.scaled({("rebound", "middle"): 1.1})


def test_comparison() -> None:
    found = compare(FRONT_C, FRONT_A, [0.13, 0.52, 1.4])
    assert found.rebound[0] == pytest.approx(880 / 440 - 1.0)
    assert found.rebound_force[1] == pytest.approx(1850 - 1020)
    assert found.compression_force[0] == pytest.approx(370 - 215)
    assert found.ratio[0] == pytest.approx(880 / 370)
    assert found.against_ratio[1] == pytest.approx(1020 / 515)
    assert list(found.extrapolated) == [False, False, True]
    same = compare(FRONT_A, FRONT_A, [0.1, 0.3])
    assert same.compression == pytest.approx(0.0, abs=1e-12)
    with pytest.raises(DomainError, match="speeds above 0"):
        compare(FRONT_A, FRONT_C, [0.0])


@given(low=st.floats(500.0, 8000.0), share=st.floats(0.05, 0.6), knee=st.floats(0.06, 0.25))
def test_shape_finds_two_lines(low: float, share: float, knee: float) -> None:
    """A curve made of two lines gives back its slopes and its knee."""
    v = np.linspace(0.01, 1.0, 100)
    v = np.sort(np.append(v[np.abs(v - knee) > 2e-3], knee))
    force = low * np.minimum(v, knee) + share * low * np.maximum(v - knee, 0.0)
    found = shape(ForceCurve.from_points(speeds=v, compression=force, rebound=force), "rebound")
    assert found.low_slope == pytest.approx(low, rel=0.05)
    assert found.high_slope == pytest.approx(share * low, rel=0.02)
    assert found.knee == pytest.approx(knee, abs=0.01)
    assert found.kind == "digressive"
    assert found.misfit < 0.02


def test_shape_names() -> None:
    v = np.linspace(0.05, 1.0, 20)
    linear = ForceCurve.from_points(speeds=v, compression=2000 * v, rebound=2000 * v**2)
    assert shape(linear, "compression").kind == "linear"
    assert shape(linear, "rebound").kind == "progressive"
    assert shape(FRONT_A, "rebound").kind == "digressive"
    with pytest.raises(DomainError, match="known are compression, rebound"):
        shape(linear, "bump")  # type: ignore[arg-type]


def test_power_of_a_histogram_is_that_of_its_sine() -> None:
    """The histogram of a sine, finely binned, gives the sine's power."""
    amplitude, frequency = 0.05, 1.667
    velocity = 2 * np.pi * frequency * amplitude * np.cos(np.linspace(0.0, 2 * np.pi, 200_001)[:-1])
    counts, edges = np.histogram(velocity, bins=4000)
    power = FRONT_A.mean_power(0.5 * (edges[:-1] + edges[1:]), counts / counts.sum())
    assert power == pytest.approx(
        FRONT_A.energy_per_cycle(amplitude=amplitude, frequency=frequency) * frequency, rel=1e-4
    )
    with pytest.raises(DomainError, match=r"in all 1, not 0\.9"):
        FRONT_A.mean_power(np.array([0.1, 0.2]), np.array([0.5, 0.4]))


@given(factor=st.floats(0.2, 5.0))
def test_damping_ratio_scales(factor: float) -> None:
    base = damping_ratio(damping=2500.0, motion_ratio=0.9, wheel_rate=24e3, sprung_mass=380.0)
    assert damping_ratio(
        damping=2500.0 * factor, motion_ratio=0.9, wheel_rate=24e3, sprung_mass=380.0
    ) == pytest.approx(factor * base)
    assert damping_ratio(
        damping=2500.0, motion_ratio=0.9 * factor, wheel_rate=24e3, sprung_mass=380.0
    ) == pytest.approx(factor**2 * base)
    assert damping_ratio(
        damping=2500.0, motion_ratio=0.9, wheel_rate=24e3 * factor, sprung_mass=380.0 * factor
    ) == pytest.approx(base / factor)


def test_table_covers_both_directions() -> None:
    v, f = FRONT_A.table(most=2.0, points=81)
    assert v[0] == -2.0
    assert v[-1] == 2.0
    assert np.all(np.diff(f) > 0.0)
    assert v[40] == f[40] == 0.0
    assert FRONT_A.mean_damping(0.26) == pytest.approx((345 + 700) / 2 / 0.26)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"force": np.array([-500.0, -600.0, 0.0, 300.0, 500.0])}, "falls with velocity near -1.000 m/s"),
        ({"velocity": np.array([-1.0, -0.5, 0.0, 0.5, 0.4])}, "velocities of the force curve must rise"),
        ({"velocity": np.array([0.0, 0.1, 0.2, 0.3, 0.4])}, "points in rebound and in compression"),
        ({"force": np.array([-900.0, -600.0, 20.0, 300.0, 500.0])}, "must pass through 0 m/s, 0 N"),
        ({"force": np.array([-900.0, np.nan, 0.0, 300.0, 500.0])}, "not a number"),
        ({"friction": -1.0}, "friction -1 N cannot be negative"),
        ({"gas_force": float("nan")}, "gas force nan N"),
        ({"velocity": np.array([0.0]), "force": np.array([0.0])}, "has 1 points"),
    ],
)
def test_impossible_curves_are_refused(change: dict[str, object], said: str) -> None:
    good = ForceCurve(
        velocity=np.array([-1.0, -0.5, 0.0, 0.5, 1.0]), force=np.array([-900.0, -600.0, 0.0, 300.0, 500.0])
    )
    with pytest.raises(DomainError, match=said):
        replace(good, **change)  # type: ignore[arg-type]


def test_impossible_questions_are_refused() -> None:
    with pytest.raises(DomainError, match="as many of each"):
        ForceCurve.from_points(speeds=[0.1, 0.2], compression=[1.0], rebound=[1.0, 2.0])
    with pytest.raises(DomainError, match="must all be above 0"):
        ForceCurve.from_points(speeds=[0.1, 0.2], compression=[-1.0, 2.0], rebound=[1.0, 2.0])
    with pytest.raises(DomainError, match="speed above 0"):
        FRONT_A.ratio(0.0)
    with pytest.raises(DomainError, match="speed above 0"):
        FRONT_A.mean_damping(0.0)
    with pytest.raises(DomainError, match="must be positive"):
        FRONT_A.energy_per_cycle(amplitude=0.0, frequency=1.0)
    with pytest.raises(DomainError, match="must be positive"):
        damping_ratio(damping=2500.0, motion_ratio=0.9, wheel_rate=0.0, sprung_mass=380.0)
    with pytest.raises(DomainError, match="cannot be negative"):
        damping_ratio(damping=-2500.0, motion_ratio=0.9, wheel_rate=24e3, sprung_mass=380.0)
    with pytest.raises(DomainError, match="given as its size"):
        production_band(-10.0, "rebound")
    with pytest.raises(DomainError, match="must be positive"):
        sine_speed(stroke=0.0, per_minute=60.0)
