"""Contact, stops, limits, body motion, damper work, indices: closed forms, symmetry, refusals."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tussock.errors import DomainError
from tussock.mechanics.measures import (
    COMFORT_WEIGHTS,
    CONTROL_WEIGHTS,
    FLOORS,
    MEASURES,
    body_motion,
    composite,
    damper_work,
    index,
    stop_hits,
    wheel_contact,
)

STEP = 1e-3
T = np.arange(10_000) * STEP


def test_contact_of_a_sine():
    """Load F0 (1 + 2 sin): off the ground where sin <= -1/2, a third of the time; r.m.s. sqrt 2."""
    load = 4000.0 * (1.0 + 2.0 * np.sin(2.0 * math.pi * T))
    got = wheel_contact(np.maximum(load, 0.0), 4000.0, STEP)
    assert got.airborne == pytest.approx(1.0 / 3.0, abs=2e-3)
    assert got.longest == pytest.approx(1.0 / 3.0, abs=2e-3)
    assert got.gaps == 10
    assert got.least == 0.0
    assert wheel_contact(load, 4000.0, STEP).variation == pytest.approx(math.sqrt(2.0), rel=1e-6)


def test_contact_at_the_ends_of_a_record():
    got = wheel_contact(np.array([0.0, 0.0, 5.0, 0.0, 5.0, 0.0]), 5.0, 0.1)
    assert got.gaps == 3
    assert got.longest == pytest.approx(0.2)
    assert wheel_contact(np.zeros(10), 5.0, 0.1).longest == pytest.approx(1.0)
    still = wheel_contact(np.full(10, 5.0), 5.0, 0.1)
    assert (still.variation, still.airborne, still.longest, still.least, still.gaps) == (0.0, 0.0, 0.0, 1.0, 0)


@settings(max_examples=25, deadline=None)
@given(
    st.lists(st.floats(-1e4, 2e4, allow_subnormal=False), min_size=2, max_size=60),
    st.floats(100.0, 1e4),
    st.floats(0.1, 10.0),
)
def test_contact_does_not_depend_on_the_unit_of_force(loads, static, factor):
    load = np.array(loads)
    one, other = wheel_contact(load, static, STEP), wheel_contact(factor * load, factor * static, STEP)
    assert other.variation == pytest.approx(one.variation, rel=1e-9, abs=1e-12)
    assert (other.airborne, other.longest, other.gaps) == (one.airborne, one.longest, one.gaps)
    back = wheel_contact(load[::-1], static, STEP)
    assert (back.airborne, back.longest, back.gaps) == (one.airborne, one.longest, one.gaps)


def test_stop_hits_of_half_waves():
    """Stop of k = 50 N/mm pressed 20 mm by half waves: energy k c^2 / 2 each, peak 1 kN, impulse 2 F T / pi."""
    c = np.maximum(0.020 * np.sin(2.0 * math.pi * T), 0.0)
    got = stop_hits(50e3 * c, np.gradient(c, STEP), STEP)
    assert got.count == 10
    assert got.hardest == pytest.approx(1000.0, rel=1e-6)
    assert got.energy == pytest.approx(10 * 0.5 * 50e3 * 0.020**2, rel=5e-3)
    assert got.impulse == pytest.approx(10 * 1000.0 * 0.5 * 2.0 / math.pi, rel=1e-3)
    assert got.share == pytest.approx(0.5, abs=0.03)


def test_a_stop_that_chatters_counts_once():
    force = np.array([0.0, 120.0, 60.0, 150.0, 70.0, 130.0, 0.0, 40.0, 110.0, 0.0])
    got = stop_hits(force, np.ones(10), STEP)
    assert got.count == 2  # it is only let go below 50 N
    assert stop_hits(force, np.ones(10), STEP, threshold=140.0).count == 1
    assert stop_hits(np.zeros(10), np.zeros(10), STEP).count == 0
    assert stop_hits(np.full(10, 500.0), np.zeros(10), STEP).count == 1


@settings(max_examples=40, deadline=None)
@given(st.lists(st.sampled_from([0.0, 60.0, 120.0]), min_size=2, max_size=80))
def test_stop_count_against_a_plain_loop(forces):
    count, inside = 0, False
    for f in forces:
        if f >= 100.0:
            count, inside = count + (not inside), True
        elif f < 50.0:
            inside = False
    assert stop_hits(np.array(forces), np.zeros(len(forces)), STEP).count == count


def test_body_motion_of_sines():
    """Heave 30 mm at 1.2 Hz on a long wave of 0.05 Hz that is no float; pitch and roll rate by amplitude."""
    t = np.arange(60_000) * STEP
    w = 2.0 * math.pi * 1.2
    wave, slow = np.sin(w * t), np.sin(2.0 * math.pi * 0.05 * t)
    got = body_motion(
        heave=0.03 * wave + 0.5 * slow,
        pitch_rate=0.02 * w * np.cos(w * t),
        roll_rate=0.01 * w * np.cos(w * t),
        step=STEP,
    )
    assert got.float_heave == pytest.approx(0.03 / math.sqrt(2.0), rel=0.01)
    assert got.pitch_rate == pytest.approx(0.02 * w / math.sqrt(2.0), rel=1e-4)
    assert got.roll_rate == pytest.approx(got.pitch_rate / 2.0, rel=1e-9)
    assert got.heave_range == pytest.approx(2 * 0.53, rel=0.02)


def test_damper_work_of_a_linear_damper():
    """c = 2000 N s/m at 0.4 m/s amplitude: mean power c v^2 / 2 = 160 W; time below v: (2 / pi) asin(v / V)."""
    v = 0.4 * np.sin(2.0 * math.pi * T)
    got = damper_work(v, 2000.0 * v)
    assert got.power == pytest.approx(160.0, rel=1e-6)
    assert got.compression_power == pytest.approx(80.0, rel=1e-3)
    assert got.compression_power + got.rebound_power == pytest.approx(got.power)
    assert got.bands["low"] == pytest.approx(2.0 / math.pi * math.asin(0.13 / 0.4), abs=3e-3)
    assert got.bands["high"] == 0.0
    assert (got.fastest_compression, got.fastest_rebound) == (pytest.approx(0.4), pytest.approx(0.4))
    assert (got.greatest_compression, got.greatest_rebound) == (pytest.approx(800.0), pytest.approx(800.0))
    assert np.sum(got.share) == pytest.approx(1.0)
    assert got.edges.size == got.share.size + 1 == 42


@settings(max_examples=25, deadline=None)
@given(st.lists(st.floats(-3.0, 3.0), min_size=2, max_size=80), st.floats(100.0, 5000.0))
def test_damper_work_mirrors(velocities, rate):
    v = np.array(velocities)
    v = v[v != 0.0]
    if v.size < 2:
        return
    one, other = damper_work(v, rate * v), damper_work(-v, -rate * v)
    assert other.power == pytest.approx(one.power, rel=1e-12)
    assert (other.compression, other.rebound) == (one.rebound, one.compression)
    assert other.fastest_rebound == one.fastest_compression
    assert sum(one.bands.values()) == pytest.approx(1.0)
    for name, share in one.bands.items():
        assert one.compression[name] + one.rebound[name] == pytest.approx(share)
    assert np.sum(one.share) == pytest.approx(1.0)  # faster than the last edge counts in the end classes


BASE = dict.fromkeys(MEASURES, 1.0)


def test_tables_of_measures_and_weights():
    for weights in (COMFORT_WEIGHTS, CONTROL_WEIGHTS):
        assert math.fsum(weights.values()) == pytest.approx(1.0)
        assert set(weights) <= set(MEASURES)
    assert set(FLOORS) <= set(MEASURES)
    for key, measure in MEASURES.items():
        assert measure.key == key
        assert measure.title


def test_every_measure_can_be_shown():
    display = pytest.importorskip("tussock.studies.display")
    for measure in MEASURES.values():
        assert display.KINDS[measure.kind].si_unit == measure.unit


@settings(max_examples=25, deadline=None)
@given(factor=st.floats(0.1, 10.0), key=st.sampled_from(sorted(CONTROL_WEIGHTS)))
def test_index_is_a_weighted_geometric_mean(factor, key):
    assert index(BASE, BASE, CONTROL_WEIGHTS) == pytest.approx(1.0)
    changed = BASE | {key: factor}
    got = composite(changed, BASE, CONTROL_WEIGHTS, floors={})
    assert got.value == pytest.approx(factor ** CONTROL_WEIGHTS[key], rel=1e-12)
    assert math.prod(p.factor for p in got.parts) == pytest.approx(got.value)
    # swapping measure and reference inverts it
    assert composite(BASE, changed, CONTROL_WEIGHTS, floors={}).value == pytest.approx(1.0 / got.value, rel=1e-12)


def test_floors_keep_a_vanishing_measure_from_deciding():
    never, once = BASE | {"airborne": 0.0}, BASE | {"airborne": 0.001}
    assert index(never, once, CONTROL_WEIGHTS) == pytest.approx((0.01 / 0.011) ** 0.10)
    assert index(BASE | {"mean_speed": 2.0}, BASE, {"mean_speed": 1.0}) == pytest.approx(0.5)  # better higher


NAN = math.nan


@pytest.mark.parametrize(("make", "text"), [
    (lambda: wheel_contact(np.ones(10), 0.0, STEP), "must stand on the road"),
    (lambda: wheel_contact(np.ones(10), NAN, STEP), "static wheel load is nan"),
    (lambda: wheel_contact(np.array([1.0, NAN]), 1.0, STEP), "no number at 0.001 s"),
    (lambda: stop_hits(np.ones(10), np.ones(9), STEP), "10 forces and 9 velocities"),
    (lambda: stop_hits(np.ones(10), np.ones(10), STEP, threshold=0.0), "threshold is 0 N"),
    (lambda: damper_work(np.ones(10), np.ones(9)), "10 velocities and 9 forces"),
    (lambda: damper_work(np.ones(10), np.ones(10), classes=0), "at least one"),
    (lambda: damper_work(np.ones(10), np.ones(10), most=NAN), "nan m/s"),
    (lambda: index(BASE, BASE, {"seat": 0.5}), "add up to 0.5"),
    (lambda: index(BASE, BASE, {"seat": 1.5, "toss": -0.5}), "none negative"),
    (lambda: index(BASE, BASE, {"seats": 1.0}), "'seats' is unknown"),
    (lambda: index({}, BASE, {"seat": 1.0}), "'seat' is missing"),
    (lambda: index(BASE | {"seat": NAN}, BASE, {"seat": 1.0}), "is nan against 1"),
    (lambda: index(BASE | {"seat": 0.0}, BASE, {"seat": 1.0}), "must be positive"),
])  # fmt: skip
def test_refusals(make, text):
    with pytest.raises(DomainError, match=text):
        make()
