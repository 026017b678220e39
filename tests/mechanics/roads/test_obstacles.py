"""Kerb, washout, ramp and cross slope against closed forms, their mirror image, and what a tyre makes of them."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tussock.mechanics.motion.road_input import road_inputs
from tussock.mechanics.roads import FEATURES, Feature, Section, build

TRACK, SPACING = 1.5, 0.01
EXAMPLES = {
    "step": {"length": 4.0, "height": 0.1, "lag": 0.6},
    "washout": {"length": 5.0, "depth": 0.25, "entry": 0.4, "exit": 1.6, "lag": 0.5},
    "ramp": {"length": 12.0, "height": 0.4, "ramp": 3.0, "radius": 4.0, "side": "left"},
    "camber": {"length": 40.0, "slope": 0.06, "transition": 15.0},
    "corrugation": {"length": 30.0, "wavelength": 0.8, "depth": 0.03, "growth": 20.0},
    "hole": {"length": 0.7, "depth": 0.07, "side": "left"},
}


def lay(kind: str, **changes):
    values = EXAMPLES[kind] | changes
    section = Section(name="s", length=60.0, speed=8.0, features=(Feature(kind=kind, at=10.0, parameters=values),))
    return build(section, track=TRACK, seed=1, spacing=SPACING)


def test_a_ramp_is_straight_between_its_curves():
    """Height h = g (run - R g), so g = (run - sqrt(run^2 - 4 R h)) / 2R; curves of R g along the road, grade g."""
    h, run, radius = 0.4, 3.0, 4.0
    grade = (run - math.sqrt(run * run - 4.0 * radius * h)) / (2.0 * radius)
    road = lay("ramp")
    x = road.distance - 10.0
    slope, bend = np.gradient(road.left, SPACING), np.gradient(np.gradient(road.left, SPACING), SPACING)
    straight = (x > radius * grade + 0.02) & (x < run - radius * grade - 0.02)
    assert np.count_nonzero(straight) > 100
    np.testing.assert_allclose(slope[straight], grade, atol=1e-9)
    foot = (x > 0.03) & (x < radius * grade - 0.03)
    np.testing.assert_allclose(bend[foot], 1.0 / radius, atol=1e-6)
    head = (x > run - radius * grade + 0.03) & (x < run - 0.03)
    np.testing.assert_allclose(bend[head], -1.0 / radius, atol=1e-6)
    top = (x >= run) & (x <= 12.0 - run)
    np.testing.assert_allclose(road.left[top], h, atol=1e-12)
    np.testing.assert_array_equal(road.right, 0.0)
    np.testing.assert_array_equal(lay("ramp", way="down").left, -road.left)


@settings(max_examples=30, deadline=None)
@given(height=st.floats(0.01, 2.0), run=st.floats(0.5, 10.0), share=st.floats(1e-6, 1.0))
def test_a_ramp_reaches_its_height(height, run, share):
    """For every radius that fits, up to run^2 / 4h, where no straight part is left; steepest at half the run."""
    radius = share * run * run / (4.0 * height)
    road = lay("ramp", height=height, ramp=run, radius=radius, length=2.0 * run + 2.0)
    assert road.left.max() == pytest.approx(height, rel=1e-9)
    assert np.all(np.diff(road.left[: round((10.0 + run) / SPACING)]) >= -1e-12)
    # between the straight line and the curves alone, twice as steep
    steepest = np.max(np.diff(road.left)) / SPACING
    assert height / run * (1.0 - 1e-9) <= steepest <= 2.0 * height / run * (1.0 + 1e-9)


def test_what_a_washout_takes_away():
    """A smooth edge holds half its box, so the section is depth (length - (entry + exit) / 2) in each track."""
    road = lay("washout")
    for heights in (road.left, road.right):
        assert -np.sum(heights) * SPACING == pytest.approx(0.25 * (4.5 - 0.5 * (0.4 + 1.6)), rel=1e-6)
        assert heights.min() == pytest.approx(-0.25, abs=1e-12)
    # steepest in the middle of an edge: 3/2 of depth over length
    slope = np.diff(road.left) / SPACING
    assert slope.min() == pytest.approx(-1.5 * 0.25 / 0.4, rel=1e-3)
    assert slope.max() == pytest.approx(1.5 * 0.25 / 1.6, rel=1e-3)
    # the right track meets the same half a metre later
    np.testing.assert_allclose(road.right[50:], road.left[:-50], atol=1e-12)


def test_a_kerb_met_at_an_angle():
    road = lay("step")
    np.testing.assert_allclose(road.right[60:], road.left[:-60], atol=1e-12)
    raised = road.distance[road.left > 0.05 - 1e-9]
    assert raised[-1] - raised[0] == pytest.approx(4.0 - 0.6 - 0.06, abs=2.0 * SPACING)
    np.testing.assert_array_equal(lay("step", lag=0.0).left, lay("step", lag=0.0).right)


def test_cross_slope_turns_about_the_middle():
    road = lay("camber")
    level = (road.distance > 25.0) & (road.distance < 35.0)
    # ISO 8855: left positive in y; falling to the left, the left wheel stands lower
    np.testing.assert_allclose((road.right - road.left)[level], 0.06 * TRACK, atol=1e-12)
    np.testing.assert_allclose(road.left + road.right, 0.0, atol=1e-15)
    wider = build(
        Section(
            name="s", length=60.0, speed=8.0, features=(Feature(kind="camber", at=10.0, parameters=EXAMPLES["camber"]),)
        ),
        track=2.0 * TRACK, seed=1, spacing=SPACING,
    )  # fmt: skip
    np.testing.assert_allclose(wider.left, 2.0 * road.left, atol=1e-15)


@pytest.mark.parametrize(("kind", "mirrored"), [
    ("step", {"lag": -0.6}),
    ("washout", {"lag": -0.5}),
    ("washout", {"lag": 0.0}),
    ("ramp", {"side": "right"}),
    ("camber", {"falls": "right"}),
])  # fmt: skip
def test_mirror(kind, mirrored):
    one = lay(kind, lag=0.0) if mirrored.get("lag") == 0.0 else lay(kind)
    other = lay(kind, **mirrored).mirrored()
    np.testing.assert_allclose(one.left, other.left, atol=1e-12)
    np.testing.assert_allclose(one.right, other.right, atol=1e-12)


@pytest.mark.parametrize("kind", EXAMPLES)
def test_heights_are_continuous_and_a_tyre_bounds_their_slope(kind):
    """No height jumps between points; averaged over the contact, a change of H is climbed over the contact at least."""
    assert kind in FEATURES
    road = lay(kind)
    contact = 0.15
    whole = max(float(np.ptp(road.left)), float(np.ptp(road.right)))
    for heights in (road.left, road.right):
        assert np.max(np.abs(np.diff(heights))) < 0.35 * whole
    height, rate, slope = road_inputs(road, speed=8.0, wheelbase=2.6, step=1e-3, contact_length=contact)
    assert np.max(np.abs(slope)) <= whole / contact * 1.02  # the spline between points may overshoot a little
    np.testing.assert_allclose(rate, 8.0 * slope, atol=1e-12)
    assert np.max(np.abs(height)) <= whole * 1.01
