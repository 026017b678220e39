"""Curved, banked and sloping OpenCRG surfaces, text and binary: our reading against the standard's own evaluation.

Source: ASAM OpenCRG's reference implementation as the library pycrg carries it, asked for single points: from place
along and across to height, and from place on the map to height. Files are written here, all invented.
"""

from __future__ import annotations

import math

import numpy as np
import pycrg
import pytest
from test_opencrg_literature import FORMATS, STEP, U, surface, written

from tussock.mechanics.arrays import Floats
from tussock.mechanics.roads import Section, Stretch, build, read_road
from tussock.mechanics.table_text import TableError

pytestmark = pytest.mark.literature

SHAPES: dict[str, dict[str, Floats]] = {
    "straight": {},
    "curved": {"heading": 0.6 * np.sin(U / 12.0)},
    "round bend": {"heading": U / 25.0},
    "banked": {"banking": 0.04 * np.sin(U / 7.0)},
    "sloping": {"slope": 0.03 * np.cos(U / 9.0)},
    "all three": {
        "heading": 0.4 * np.sin(U / 10.0), "banking": 0.05 * np.cos(U / 8.0), "slope": 0.02 * np.sin(U / 6.0),
    },
}  # fmt: skip


@pytest.mark.parametrize("kind", FORMATS)
@pytest.mark.parametrize("shape", SHAPES)
def test_heights_are_those_of_the_standards_own_evaluation(tmp_path, kind, shape):
    """At every tenth station, between the lines too, and by way of the map where the line bends."""
    raw = written(kind, surface(), **SHAPES[shape])
    (tmp_path / "road.crg").write_bytes(raw)
    road = read_road(raw, "road.crg")
    assert road.across is not None
    heights = road.heights
    with pycrg.DataSet.open(tmp_path / "road.crg") as data:
        point = data.create_contact_point()
        worst, by_map, aside = 0.0, 0.0, 0.0
        for i in range(5, U.size - 5, 10):
            for v in (-1.5, -0.73, 0.0, 0.31, 1.5):
                ours = float(np.interp(v, road.across, heights[i]))
                worst = max(worst, abs(ours - point.uv_to_z(float(road.distance[i]), v)))
                x, y = point.uv_to_xy(float(road.distance[i]), v)
                aside = max(aside, abs(y - v))
                by_map = max(by_map, abs(ours - point.xy_to_z(x, y)))
    print(f"{shape}, {kind}: off by {1e6 * worst:.2f} um, by way of the map {1e6 * by_map:.2f} um")
    assert worst < 1e-8
    assert by_map < 1e-6
    assert ("heading" in SHAPES[shape]) == (aside > 0.5)


@pytest.mark.parametrize("shape", ["curved", "all three"])
def test_wheels_of_a_section_feel_that_evaluation(tmp_path, shape):
    """Both tracks of a built section against the evaluation under the wheels, the line between its ends taken off."""
    raw = written("KDBI", surface(), **SHAPES[shape])
    (tmp_path / "road.crg").write_bytes(raw)
    section = Section(name="bend", length=36.0, speed=9.0, measured=Stretch(road=read_road(raw, "road.crg"), start=2.0))
    road = build(section, track=1.5, seed=1, spacing=STEP)
    with pycrg.DataSet.open(tmp_path / "road.crg") as data:
        point = data.create_contact_point()
        there = np.array([[point.uv_to_z(2.0 + float(x), v) for v in (0.75, -0.75)] for x in road.distance])
    middle = there.mean(axis=1)
    line = middle[0] + (middle[-1] - middle[0]) * road.distance / road.distance[-1]
    inside = (road.distance > 12.0) & (road.distance < 24.0)
    for ours, theirs in ((road.left, there[:, 0]), (road.right, there[:, 1])):
        np.testing.assert_allclose(ours[inside], (theirs - line)[inside], atol=5e-6)
    assert np.ptp(road.left[inside] - road.right[inside]) > 0.01


@pytest.mark.parametrize("kind", FORMATS)
@pytest.mark.parametrize("share", [0.2, 0.5, 0.95])
def test_a_file_cut_off_anywhere_in_its_data_is_refused_by_name(kind, share):
    raw = written(kind, surface(), **SHAPES["all three"])
    data = raw.index(b"$" * 80) + 81
    with pytest.raises(TableError, match=r"moor\.crg: .*(cut off|cannot be read)"):
        read_road(raw[: data + int(share * (len(raw) - data))], "moor.crg")


@pytest.mark.parametrize("share", [0.3, 0.7])
def test_a_file_cut_off_in_its_head_is_refused_by_name(share):
    raw = written("LDFI", surface())
    with pytest.raises(TableError, match=r"moor\.crg: "):
        read_road(raw[: int(share * raw.index(b"$" * 80))], "moor.crg")


def test_slope_is_a_height_and_banking_turns_about_the_line():
    """The file's own geometry is read: the rise of the line, and half a metre left of it the banking's share."""
    slope, bank = 0.02 * np.ones(U.size), 0.04 * np.ones(U.size)
    road = read_road(written("KDBI", 0.0 * surface(), slope=slope, banking=bank), "road.crg")
    assert road.heights[-1, 3] == pytest.approx(0.02 * 40.0, abs=1e-6)
    assert road.heights[100, 4] - road.heights[100, 3] == pytest.approx(0.04 * 0.5, abs=1e-7)
    assert math.isclose(float(road.across[4]), 0.5, abs_tol=1e-9)
