"""Sections: determinism, symmetry, superposition, level ends, refusals."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tussock.errors import DomainError
from tussock.mechanics.roads import (
    FEATURES,
    PARAMETERS,
    Feature,
    Section,
    Track,
    build,
    coherence,
    displacement_density,
    fit_road,
    parameters,
    published_hump,
    random_heights,
    rectified_slope,
    roughness_index,
    section_seed,
    track_coherence,
)
from tussock.mechanics.roads.features import builder, takes_track
from tussock.mechanics.roads.shapes import flat_top, plateau

EXAMPLES = {
    "hump": {"length": 3.7, "height": 0.075},
    "bump": {"length": 0.6, "height": 0.06, "side": "left"},
    "hole": {"length": 0.7, "depth": 0.07, "side": "right"},
    "step": {"length": 4.0, "height": 0.1},
    "washout": {"length": 4.0, "depth": 0.2, "entry": 0.5, "exit": 1.2, "side": "right"},
    "ramp": {"length": 12.0, "height": 0.4, "ramp": 3.0, "radius": 4.0},
    "camber": {"length": 40.0, "slope": 0.06, "transition": 15.0, "falls": "right"},
    "dip": {"length": 24.0, "depth": 0.12},
    "corrugation": {"length": 40.0, "wavelength": 0.8, "depth": 0.022, "lag": 0.2, "irregularity": 0.1},
    "grid": {"length": 3.0, "spacing": 0.18, "depth": 0.015},
    "mogul": {"length": 24.0, "wavelength": 4.8, "height": 0.18},
}


WIDE = 1.5


def shape(kind, x, values):
    return builder(kind)(x, **(values | ({"track": WIDE} if takes_track(kind) else {})))


def moor(**changes):
    values = {"name": "moor road", "length": 120.0, "speed": 20.0} | changes
    return Section.of_class("C", **values)


def smooth(*features, length=60.0):
    return Section(name="smooth", length=length, speed=10.0, features=features)


def laid(kind, changes):
    section = smooth(Feature(kind=kind, at=5.0, parameters=EXAMPLES[kind] | changes))
    return build(section, track=WIDE, seed=1)


def test_every_kind_has_an_example_and_known_parameters():
    assert set(EXAMPLES) == set(FEATURES)
    used = set()
    for kind in FEATURES:
        known = parameters(kind)
        assert "length" in known
        used |= set(known)
        for name, rule in known.items():
            assert rule.name == name
            assert rule.required == (rule.default is None)
            if rule.dimension == "choice":
                assert rule.default in rule.choices
    assert used == set(PARAMETERS)


@pytest.mark.parametrize("kind", EXAMPLES)
def test_an_obstacle_stays_inside_its_length(kind):
    values = EXAMPLES[kind]
    x = np.linspace(-5.0, values["length"] + 5.0, 7001)
    left, right = shape(kind, x, values)
    outside = (x <= 0.0) | (x >= values["length"])
    for heights in (left, right):
        assert np.all(np.isfinite(heights))
        np.testing.assert_allclose(heights[outside], 0.0, atol=1e-12)
    size = values.get("height", values.get("depth", 0.5 * WIDE * values.get("slope", 0.0)))
    most = max(np.abs(left).max(), np.abs(right).max())
    assert 0.4 * size < most <= 1.2 * size


@pytest.mark.parametrize("kind", [k for k in EXAMPLES if "side" in parameters(k)])
def test_sides(kind):
    values = {k: v for k, v in EXAMPLES[kind].items() if k != "lag"}
    x = np.linspace(-1.0, 30.0, 3000)
    left = builder(kind)(x, **(values | {"side": "left"}))
    right = builder(kind)(x, **(values | {"side": "right"}))
    both = builder(kind)(x, **(values | {"side": "both"}))
    np.testing.assert_array_equal(left[0], right[1])
    np.testing.assert_array_equal(left[1], 0.0 * x)
    np.testing.assert_array_equal(right[0], 0.0 * x)
    np.testing.assert_array_equal(both[0], left[0])
    np.testing.assert_array_equal(both[1], left[0])


def test_moguls_alternate():
    left, right = builder("mogul")(np.linspace(0.0, 24.0, 500), **EXAMPLES["mogul"])
    np.testing.assert_array_equal(left, -right)
    assert np.ptp(left) == pytest.approx(0.18, rel=1e-3)


def test_corrugation_grows_lags_and_wanders():
    x = np.arange(0.0, 100.0, 0.01)
    values = {"length": 100.0, "wavelength": 0.8, "depth": 0.03}
    regular, lagging = builder("corrugation")(x, lag=0.2, growth=60.0, **values)
    # growth: the crest half way up the growth is half the depth
    near = (x > 29.0) & (x < 31.0)
    assert np.ptp(regular[near]) == pytest.approx(0.015, rel=0.03)
    # the right track's crest comes 0.2 m later
    inside = slice(6200, 7800)
    shift = np.argmax([np.dot(regular[inside], np.roll(lagging, -k)[inside]) for k in range(80)])
    assert shift * 0.01 == pytest.approx(0.2, abs=0.011)
    one, _ = builder("corrugation")(x, irregularity=0.15, seed=1, **values)
    again, _ = builder("corrugation")(x, irregularity=0.15, seed=1, **values)
    other, _ = builder("corrugation")(x, irregularity=0.15, seed=2, **values)
    np.testing.assert_array_equal(one, again)
    assert np.max(np.abs(one - other)) > 0.005
    # irregular ones spread their power about the wavelength, but keep it in all
    assert np.std(one) == pytest.approx(np.std(builder("corrugation")(x, **values)[0]), rel=0.15)


def test_a_negative_lag_swaps_which_track_leads():
    values = {"length": 40.0, "wavelength": 0.8, "depth": 0.022}
    ahead, behind = (
        build(smooth(Feature(kind="corrugation", at=5.0, parameters=values | {"lag": lag})), track=1.5, seed=1)
        for lag in (-0.2, 0.2)
    )
    np.testing.assert_array_equal(ahead.left, behind.left)
    middle = slice(900, 1600)  # at full depth
    np.testing.assert_allclose(ahead.right[middle], behind.right[920:1620], atol=1e-12)  # 0.4 m further on
    with pytest.raises(DomainError, match="lag is nan"):
        Feature(kind="corrugation", at=5.0, parameters=values | {"lag": math.nan})


def test_irregular_corrugations_take_the_sections_seed():
    section = smooth(Feature(kind="corrugation", at=5.0, parameters=EXAMPLES["corrugation"]))
    one, again, other = (build(section, track=1.5, seed=s) for s in (1, 1, 2))
    np.testing.assert_array_equal(one.left, again.left)
    assert np.max(np.abs(one.left - other.left)) > 1e-4


def test_same_seed_same_road_and_the_seed_is_said():
    one, again, other = (build(moor(), track=1.5, seed=s) for s in (7, 7, 8))
    np.testing.assert_array_equal(one.left, again.left)
    np.testing.assert_array_equal(one.right, again.right)
    assert one.seed == again.seed == section_seed(7, "moor road")
    assert np.std(one.left - other.left) > 1e-3


def test_another_name_is_another_road_and_order_does_not_matter():
    assert section_seed(7, "moor road") != section_seed(7, "forest track")
    assert 0 <= section_seed(2**40, "x") < 2**63


@pytest.mark.parametrize("spacing", [0.01, 0.04, 0.05])
def test_same_road_at_every_spacing(spacing):
    """Only the last harmonics may differ, those that the coarser spacing cuts."""
    values = {"density": 256e-6, "length": 100.0, "track": 1.5, "seed": 11}
    fine = random_heights(spacing=0.02, **values)
    other = random_heights(spacing=spacing, **values)
    step = round(spacing / 0.01)
    for a, b in zip(fine, other, strict=True):
        # compare at the points that both have, every 0.2 m
        assert np.max(np.abs(a[::10] - b[:: 20 // step])) < 1e-5


def test_ends_are_level():
    road = build(moor(features=(Feature(kind="dip", at=40.0, parameters=EXAMPLES["dip"]),)), track=1.5, seed=3)
    for heights in (road.left, road.right):
        assert heights[0] == 0.0
        assert heights[-1] == pytest.approx(0.0, abs=1e-12)
        assert abs(heights[1]) < 1e-6  # slope below 1 in 20,000
        assert abs(heights[-2]) < 1e-6
    assert road.length == pytest.approx(120.0)


def test_levelling_keeps_the_roughness():
    """The fade reaches over 24 m in 2 km: the spectrum above 0.02 cycle/m stays within 5 %."""
    section = Section.of_class("D", name="long", length=2000.0, speed=20.0)
    road = build(section, track=1.5, seed=5, spacing=0.05)
    left, _ = random_heights(density=section.density, length=2000.0, spacing=0.05, track=1.5, seed=road.seed)
    assert fit_road(road.left, 0.05).density == pytest.approx(fit_road(left, 0.05).density, rel=0.05)


def test_features_add_up():
    dip = Feature(kind="dip", at=20.0, parameters=EXAMPLES["dip"])
    hole = Feature(kind="hole", at=30.0, parameters=EXAMPLES["hole"])
    plain, one, two, all_of_them = (
        build(moor(features=f), track=1.5, seed=2) for f in ((), (dip,), (hole,), (hole, dip))
    )
    for side in ("left", "right"):
        base = getattr(plain, side)
        want = (getattr(one, side) - base) + (getattr(two, side) - base) + base
        np.testing.assert_allclose(getattr(all_of_them, side), want, atol=1e-15)


@settings(max_examples=20, deadline=None)
@given(
    length=st.floats(0.5, 8.0),
    height=st.floats(0.01, 0.2),
    at=st.floats(1.0, 20.0),
    shape=st.sampled_from(["round_top", "sinusoidal", "parabolic", "flat_top"]),
)
def test_a_hump_scales_and_mirrors(length, height, at, shape):
    def lay(h, side="left"):
        values = {"length": length, "height": h, "shape": shape, "side": side}
        return build(smooth(Feature(kind="hump", at=at, parameters=values)), track=1.5, seed=1)

    one = lay(height)
    assert one.left.max() <= height + 1e-12
    assert one.left.min() >= -1e-12
    np.testing.assert_array_equal(lay(height, "right").left, one.mirrored().left)
    np.testing.assert_array_equal(lay(height, "right").right, one.mirrored().right)
    if shape != "round_top":  # an arc's shape changes with its height
        np.testing.assert_allclose(lay(height / 2.0).left, one.scaled(0.5).left, atol=1e-14)


@settings(max_examples=20, deadline=None)
@given(factor=st.floats(0.01, 100.0), seed=st.integers(0, 2**31))
def test_roughness_scales_with_height(factor, seed):
    left, right = random_heights(density=64e-6, length=60.0, spacing=0.05, track=1.5, seed=seed)
    index = roughness_index(left, 0.05)
    assert roughness_index(factor * left, 0.05) == pytest.approx(factor * index, rel=1e-9)
    assert roughness_index(-left, 0.05) == pytest.approx(index, rel=1e-9)
    assert roughness_index(left + 12.0, 0.05) == pytest.approx(index, rel=1e-6)
    # four times the density is twice the height
    twice, _ = random_heights(density=256e-6, length=60.0, spacing=0.05, track=1.5, seed=seed)
    np.testing.assert_allclose(twice, 2.0 * left, rtol=1e-9, atol=1e-15)
    # no track width: one road
    same = random_heights(density=64e-6, length=60.0, spacing=0.05, track=0.0, seed=seed)
    np.testing.assert_allclose(same[0], same[1], atol=1e-15)
    assert not np.allclose(left, right)


def test_superposition_of_responses():
    """The quarter car behind the index is linear: signed responses would add, so the size obeys the triangle rule."""
    one, two = random_heights(density=64e-6, length=80.0, spacing=0.1, track=1.5, seed=6)
    a, b, c = (rectified_slope(z, 0.1) for z in (one, two, one + two))
    assert np.all(c <= a + b + 1e-12)
    assert np.all(c >= np.abs(a - b) - 1e-12)


def test_coherence_limits():
    n = np.array([0.0, 1e-6, 0.1, 50.0])
    got = coherence(n, track=1.5)
    assert got[0] == 1.0
    assert got[1] == pytest.approx(1.0, abs=1e-8)
    assert np.all(np.diff(got) <= 0.0)
    assert got[-1] == pytest.approx(0.0, abs=1e-12)
    np.testing.assert_array_equal(coherence(n, track=0.0), 1.0)


def test_coherence_of_two_tracks_by_welch():
    left, right = random_heights(density=64e-6, length=8000.0, spacing=0.1, track=1.5, seed=9)
    frequency, got = track_coherence(left, right, 0.1)
    pick = (frequency > 0.1) & (frequency < 1.0)
    want = coherence(frequency[pick], track=1.5)
    assert np.sqrt(np.mean((got[pick] - want) ** 2)) < 0.08  # 160 segments: 1 / sqrt(160) at no coherence
    assert abs(np.mean(got[pick] - want)) < 0.02
    with pytest.raises(DomainError, match="level"):
        track_coherence(left, 0.0 * left, 0.1)
    with pytest.raises(DomainError, match="equal"):
        track_coherence(left, right[:-1], 0.1)


def test_spectrum_of_a_sine_holds_its_power():
    x = np.arange(0.0, 1000.0, 0.1)
    frequency, density = displacement_density(0.01 * np.sin(2.0 * math.pi * 0.5 * x), 0.1)
    assert frequency[np.argmax(density)] == pytest.approx(0.5, abs=1e-9)
    assert np.sum(density) * (frequency[1] - frequency[0]) == pytest.approx(0.5 * 0.01**2, rel=1e-3)


NAN = math.nan


@pytest.mark.parametrize(("make", "text"), [
    (lambda: moor(length=0.5), "0.5 m long"),
    (lambda: moor(length=NAN), "nan m long"),
    (lambda: moor(length=1e9), "1e.09 m long"),
    (lambda: moor(speed=0.0), "speed is 0 m/s"),
    (lambda: moor(speed=NAN), "speed is nan"),
    (lambda: Section(name="s", length=10.0, speed=1.0, density=NAN), "density is nan"),
    (lambda: Section(name="s", length=10.0, speed=1.0, density=-1e-6), "density is -1e-06"),
    (lambda: moor(waviness=1.0), "waviness is 1"),
    (lambda: Section.of_class("I", name="s", length=10.0, speed=1.0), "no class 'I'"),
    (lambda: Feature(kind="humb", at=1.0), "did you mean 'hump'"),
    (lambda: Feature(kind="hump", at=1.0, parameters={"length": 3.7}), "height is missing"),
    (lambda: Feature(kind="hump", at=1.0, parameters={"length": 3.7, "hight": 0.1}), "did you mean 'height'"),
    (lambda: Feature(kind="hole", at=1.0, parameters={"length": 0.7, "depth": -0.07}), "depth is -0.07 m"),
    (lambda: Feature(kind="hole", at=1.0, parameters={"length": 0.7, "depth": NAN}), "depth is nan"),
    (lambda: Feature(kind="hole", at=1.0, parameters={"length": 0.7, "depth": "deep"}), "must be a number"),
    (lambda: Feature(kind="hole", at=1.0, parameters={"length": 0.7, "depth": 0.1, "side": "middle"}), "one of left"),
    (lambda: Feature(kind="hump", at=1.0, parameters={"length": 3.7, "height": 0.1, "shape": "round"}), "round_top"),
    (lambda: Feature(kind="hump", at=NAN, parameters={"length": 3.7, "height": 0.1}), "at nan m"),
    (lambda: Feature(kind="hump", at=-1.0, parameters={"length": 3.7, "height": 0.1}), "at -1 m"),
    (lambda: smooth(Feature(kind="hump", at=58.0, parameters=EXAMPLES["hump"])), "does not fit into 60 m"),
    (lambda: build(smooth(Feature(kind="hump", at=1.0, parameters={"length": 1.0, "height": 0.6})), track=1.5, seed=1),
     "cannot rise 0.6 m"),
    (lambda: build(smooth(Feature(kind="grid", at=1.0, parameters=EXAMPLES["grid"])), track=1.5, seed=1, spacing=0.05),
     "too fine for points 0.05 m apart"),
    (lambda: build(smooth(Feature(kind="hole", at=1.0, parameters={"length": 0.05, "depth": 0.01})), track=1.5, seed=1),
     "length 0.05 m is too fine"),
    (lambda: build(smooth(Feature(kind="grid", at=1.0, parameters=EXAMPLES["grid"] | {"length": 0.08})),
                   track=1.5, seed=1), "do not fit"),
    (lambda: build(smooth(Feature(kind="corrugation", at=1.0, parameters=EXAMPLES["corrugation"] | {"growth": 39.0})),
                   track=1.5, seed=1), "no room to fade"),
    (lambda: Feature(kind="corrugation", at=1.0, parameters=EXAMPLES["corrugation"] | {"irregularity": 0.9}), "is 0.9"),
    (lambda: Feature(kind="corrugation", at=1.0, parameters=EXAMPLES["corrugation"] | {"seed": 1.5}), "whole number"),
    (lambda: laid("washout", {"lag": 4.0, "side": "both"}), "leaves nothing of 4 m"),
    (lambda: laid("washout", {"lag": 0.4, "side": "left"}), "only one that lies under both wheels"),
    (lambda: laid("washout", {"exit": 3.6}), "edges of 0.5 m and 3.6 m do not fit into 4 m"),
    (lambda: laid("ramp", {"radius": 6.0}), "at most 5.62 m fits"),
    (lambda: laid("ramp", {"ramp": 7.0}), "two ramps of 7 m do not fit"),
    (lambda: laid("ramp", {"way": "sideways"}), "one of up, down"),
    (lambda: laid("camber", {"slope": 0.5}), "at most 0.3 of its width"),
    (lambda: laid("camber", {"slope": 0.0}), "slope is 0; it must be finite and be positive"),
    (lambda: laid("camber", {"track": 1.5}), "parameter 'track' is unknown"),
    (lambda: build(moor(), track=NAN, seed=1), "track is nan"),
    (lambda: build(moor(), track=-1.5, seed=1), "track is -1.5"),
    (lambda: build(moor(), track=1.5, seed=-1), "seed is -1"),
    (lambda: build(moor(), track=1.5, seed=1, spacing=0.0), "points 0 m apart"),
    (lambda: build(moor(), track=1.5, seed=1, spacing=NAN), "points nan m apart"),
    (lambda: Track(spacing=0.1, left=np.array([0.0, NAN] * 10), right=np.zeros(20)), "left track has no number at 0.1"),
    (lambda: Track(spacing=0.1, left=np.zeros(5), right=np.zeros(5)), "too short"),
    (lambda: Track(spacing=0.1, left=np.zeros(50), right=np.zeros(51)), "same number"),
    (lambda: Track(spacing=-0.1, left=np.zeros(50), right=np.zeros(50)), "must be positive"),
    (lambda: random_heights(density=NAN, length=10.0, spacing=0.1, track=1.0, seed=1), "density is nan"),
    (lambda: random_heights(density=1e-6, length=10.0, spacing=80.0, track=1.0, seed=1), "cannot carry"),
    (lambda: random_heights(density=1e-6, length=10.0, spacing=0.1, track=1.0, seed=1, waviness=0.9), "is 0.9; it"),
    (lambda: random_heights(density=1e-6, length=10.0, spacing=0.1, track=1.0, seed=1, band=(1.0, 0.1)), "must rise"),
    (lambda: roughness_index(np.zeros(20), 0.25), "at least 11.25 m"),
    (lambda: roughness_index(np.array([0.0] * 99 + [NAN]), 0.25), "no number at 24.75 m"),
    (lambda: fit_road(np.zeros(400), 0.05), "level road|fill"),
    (lambda: fit_road(np.zeros(4000), 0.05), "level road"),
    (lambda: fit_road(np.array([0.0, NAN] * 40), 0.05), "not a number"),
    (lambda: fit_road(np.zeros(4), 0.05), "at least 16 points"),
    (lambda: flat_top(np.zeros(3), length=1.0, height=0.1, ramp=0.6), "do not fit"),
    (lambda: plateau(np.zeros(3), length=1.0, height=0.1, edge=0.6), "do not fit"),
    (lambda: published_hump("round", 1.0), "not among the published"),
])  # fmt: skip
def test_refusals(make, text):
    with pytest.raises(DomainError, match=text):
        make()
