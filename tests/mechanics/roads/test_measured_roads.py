"""Profiles of both wheel tracks as text: read, refused in words, resampled, blended at the ends."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tussock.errors import DomainError
from tussock.mechanics.roads import (
    MeasuredRoad,
    Section,
    Stretch,
    build,
    fit_road,
    random_heights,
    read_road,
    roughness_index,
)
from tussock.mechanics.table_text import TableError


def text(distance, left, right, title="distance [m]; left [mm]; right [mm]", scale=1e3) -> bytes:
    rows = [f"{d:.6f}; {a * scale:.6f}; {b * scale:.6f}" for d, a, b in zip(distance, left, right, strict=True)]
    return "\n".join(["# an invented profile", title, *rows, ""]).encode()


def waves(x):
    return 0.03 * np.sin(2.0 * math.pi * x / 25.0), 0.02 * np.cos(2.0 * math.pi * x / 3.0) + 0.01


def lay(raw: bytes, *, length: float, start: float = 0.0, spacing: float = 0.02):
    section = Section(
        name="moor", length=length, speed=10.0, measured=Stretch(road=read_road(raw, "moor.csv"), start=start)
    )
    return build(section, track=1.5, seed=1, spacing=spacing)


X = np.arange(0.0, 120.0001, 0.1)


@pytest.mark.parametrize(("title", "scale", "per_metre"), [
    ("distance [m]; left [mm]; right [mm]", 1e3, 1.0),
    ("chainage (km); left track (in); right track (m)", None, 1e-3),
    ("station [ft]; left height [cm]; right height [cm]", 1e2, 1.0 / 0.3048),
])  # fmt: skip
def test_units_stand_in_the_titles(title, scale, per_metre):
    left, right = waves(X)
    if scale is None:
        left = left / 0.0254
        raw = text(X * per_metre, left, right, title, 1.0)
        left = left * 0.0254
    else:
        raw = text(X * per_metre, left, right, title, scale)
    road = read_road(raw, "moor.csv")
    np.testing.assert_allclose(road.distance, X, atol=6e-4)  # 6 decimals of a kilometre
    np.testing.assert_allclose(road.heights, np.stack([left, right], axis=1), atol=1e-6)


def test_between_the_blended_ends_nothing_is_lost():
    """Waves of 25 m and 3 m sampled at 0.1 m come out at 0.02 m to 0.01 mm; the common line only is taken off."""
    road = lay(text(X, *waves(X)), length=100.0, start=7.0)
    x = road.distance
    left, right = waves(x + 7.0)
    middle = 0.5 * (left + right)
    line = middle[0] + (middle[-1] - middle[0]) * x / 100.0
    inside = (x >= 12.0) & (x <= 88.0)
    np.testing.assert_allclose(road.left[inside], (left - line)[inside], atol=1e-5)
    np.testing.assert_allclose(road.right[inside], (right - line)[inside], atol=1e-5)
    for heights in (road.left, road.right):
        assert abs(heights[0]) < 1e-12
        assert abs(heights[-1]) < 1e-12
        assert abs(heights[1]) < 1e-6


def test_cross_slope_and_datum():
    """A road 583 m above the sea that climbs 4 % and falls 3 % to the left: the hill goes, the cross slope stays."""
    left = 583.0 + 0.04 * X
    road = lay(text(X, left, left + 0.045), length=100.0)
    inside = (road.distance > 12.0) & (road.distance < 88.0)
    np.testing.assert_allclose((road.right - road.left)[inside], 0.045, atol=1e-6)
    np.testing.assert_allclose((road.right + road.left)[inside], 0.0, atol=1e-6)


def test_fine_samples_are_averaged_not_picked():
    """A wave of 20.5 mm sampled at 2 mm would come back as one of 0.8 m if every tenth point were picked."""
    x = np.arange(0.0, 30.0001, 0.002)
    wave = 0.005 * np.sin(2.0 * math.pi * x / 0.0205)
    road = lay(text(x, wave, wave), length=30.0)
    assert np.max(np.abs(road.left)) < 2e-4
    # while a wave of 1 m keeps its height: sinc(0.02) = 0.99934
    slow = 0.005 * np.cos(2.0 * math.pi * x)
    road = lay(text(x, slow, slow), length=30.0)
    inside = (road.distance > 12.0) & (road.distance < 18.0)
    assert np.ptp(road.left[inside]) == pytest.approx(0.01 * np.sinc(0.02), rel=1e-3)


def test_a_measured_random_road_keeps_its_class_and_roughness():
    """1.5 km of class D sampled at 0.1 m and read back: density, waviness and roughness index as of the original."""
    left, right = random_heights(density=1024e-6, length=1500.0, spacing=0.1, track=1.5, seed=4, band=(0.01, 4.0))
    x = np.arange(left.size) * 0.1
    road = lay(text(x, left, right), length=1500.0, spacing=0.1)
    for got, was in ((road.left, left), (road.right, right)):
        one, two = fit_road(got, 0.1), fit_road(was, 0.1)
        assert one.road_class == two.road_class == "D"
        assert one.density == pytest.approx(two.density, rel=0.03)
        assert one.waviness == pytest.approx(two.waviness, abs=0.03)
        assert roughness_index(got, 0.1) == pytest.approx(roughness_index(was, 0.1), rel=0.02)


@settings(max_examples=15, deadline=None)
@given(factor=st.floats(0.1, 10.0), datum=st.floats(-100.0, 1000.0))
def test_scales_shifts_and_mirrors(factor, datum):
    left, right = waves(X)

    def road(a, b):
        measured = MeasuredRoad(name="m", distance=X, heights=np.stack([a, b], axis=1))
        return build(
            Section(name="m", length=100.0, speed=10.0, measured=Stretch(road=measured)), track=1.5, seed=1, spacing=0.1
        )

    one = road(left, right)
    np.testing.assert_allclose(road(factor * left + datum, factor * right + datum).left, factor * one.left, atol=1e-9)
    np.testing.assert_array_equal(road(right, left).left, one.mirrored().left)


def good(rows: int = 40) -> list[str]:
    return ["distance [m]; left [mm]; right [mm]", *(f"{0.1 * i:.2f}; {i % 3}; {i % 4}" for i in range(rows))]


def spoilt(**lines: str) -> bytes:
    whole = good()
    for at, line in lines.items():
        whole[int(at[1:]) - 1] = line
    return "\n".join(whole).encode()


@pytest.mark.parametrize(("raw", "said"), [
    (b"", ["the file is empty"]),
    (b"\xff\xfe\x00", ["neither OpenCRG nor UTF-8 text: byte 0 is 0xff"]),
    (spoilt(l10="0.50; 1; 1"), ["line 10: distance 0.5 m does not rise above 0.7 m"]),
    (spoilt(l10="0.70; 1; 1"), ["line 10: distance 0.7 m does not rise above 0.7 m"]),
    (spoilt(l41="4.9; 1; 1"), ["line 41: 1.1 m after the point before it; points lie at most 0.25 m apart"]),
    (spoilt(l9="0.7; nan; 1", l12="1.0; 1;"), ["line 9: left is 'nan'; a number is needed", "line 12: right is ''"]),
    (spoilt(l9="0.7; 1"), ["line 9: 2 columns, the titles are 3"]),
    (spoilt(l1="distance [m]; left; right [mm]"), ["'left' has no unit; write it as 'left [m]'"]),
    (spoilt(l1="distance [m]; left [mm]; middle [mm]"), ["no column for right"]),
    ("\n".join(good(9)).encode(), ["9 points; a measured road has at least 16"]),
])  # fmt: skip
def test_refusals_in_words(raw, said):
    with pytest.raises(TableError) as caught:
        read_road(raw, "moor.csv")
    for words in said:
        assert words in str(caught.value)
        assert "moor.csv" in str(caught.value)


def test_many_faults_are_counted():
    with pytest.raises(TableError, match="and 20 more like these"):
        read_road("\n".join([good()[0], *(f"{-i}; 1; 1" for i in range(41))]).encode(), "m.csv")


@pytest.mark.parametrize(("make", "said"), [
    (lambda r: Stretch(road=r, start=-1.0), "starts at 0 m of it or later"),
    (lambda r: Stretch(road=r, start=math.nan), "not at nan m"),
    (lambda r: Stretch(road=r, offset=0.3), "an offset is for a surface"),
    (lambda r: Section(name="s", length=3.0, speed=1.0, measured=Stretch(road=r, start=1.0)), "3.90 m were measured"),
    (lambda r: Section(name="s", length=3.0, speed=1.0, density=1e-6, measured=Stretch(road=r)), "place of a random"),
])  # fmt: skip
def test_a_stretch_must_fit(make, said):
    with pytest.raises(DomainError, match=said):
        make(read_road(spoilt(), "moor.csv"))
