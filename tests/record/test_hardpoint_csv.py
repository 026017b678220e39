"""Tables of hardpoints: units, separators, sides, mirror, and what is refused with its line."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tussock.record.fields import Point
from tussock.record.hardpoint_csv import read_hardpoints, write_hardpoints
from tussock.record.problems import ProgrammeError

FRONT = """\
# invented front axle
name, x, y, z, unit
wheel_centre, 0, 750, 361, mm
arm_chassis, -885, 412, 432, mm
arm_axle_front, 82, 428, 333, mm
arm_axle_rear, -88, 428, 349, mm
track_rod_axle, 118, -458, 352, mm
track_rod_chassis, 118, 424, 424, mm
"""


def read(text: str, **other: object):  # type: ignore[no-untyped-def]
    return read_hardpoints(text, "front.csv", layout="arms_track_rod", **other)  # type: ignore[arg-type]


def faults(text: str, **other: object) -> list[str]:
    with pytest.raises(ProgrammeError) as caught:
        read(text, **other)
    return [str(problem) for problem in caught.value.problems]


def test_points_come_in_si_in_the_order_of_the_file() -> None:
    table = read(FRONT)
    assert list(table.points)[:2] == ["wheel_centre", "arm_chassis"]
    assert table.points["arm_chassis"].si == pytest.approx((-0.885, 0.412, 0.432))
    assert table.notices == ()


@pytest.mark.parametrize(
    "text",
    [
        FRONT.replace(", ", ";").replace("361", "361,0"),
        FRONT.replace(", ", "\t"),
        "\ufeff" + FRONT.replace("\n", "\r\n"),
        FRONT.replace(", mm", "").replace("name, x, y, z, unit", "Point, x [mm], y [mm], z [mm]"),
        FRONT.replace("arm_chassis, -885, 412, 432, mm", "Arm chassis left, -0.885, 0.412, 0.432, m"),
        FRONT.replace("unit", "unit, note").replace("432, mm", "432, mm, by arm"),
    ],
)
def test_other_ways_to_write_the_same(text: str) -> None:
    expected = read(FRONT).points
    found = read(text).points
    assert {n: p.si for n, p in found.items()} == {n: pytest.approx(p.si, abs=1e-12) for n, p in expected.items()}


def test_spread_and_central_points() -> None:
    text = FRONT.replace("unit", "unit, +-").replace("432, mm", "432, mm, 2")
    assert read(text).points["arm_chassis"].spread == pytest.approx(0.002)
    assert "+- 2 mm" in read(text).points["arm_chassis"].text
    links = "name,x,y,z,unit\nwheel_centre,-2700,750,361,mm\nupper_link_axle,-2700,-20,520,mm"
    assert read_hardpoints(links, "rear.csv", once={"upper_link_axle"}).points["upper_link_axle"].y == -0.02


def test_every_fault_has_its_line() -> None:
    text = FRONT.replace("-885, 412", "-885, far").replace("82, 428, 333, mm", "82, 428, 333, furlongs?")
    found = faults(text + "arm_axle_rear, 1, 2, 3, mm\narm_frame, 1, 2, 3, mm\n")
    assert [line.split(":")[1] for line in found] == ["4", "5", "9", "10"]
    assert "'far', which is no number" in found[0]
    assert "no unit of length" in found[1]
    assert "stands in line 6 already" in found[2]
    assert "does not have" in found[3]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "no points"),
        ("name, x, y\nwheel_centre, 0, 750", "lacks z"),
        ("name, x, y, z\nwheel_centre, 0, 750, 361", "no unit"),
        (FRONT.replace("361, mm", "361, "), "unit is missing"),
        (FRONT.replace(", mm", ", m"), "farther than any point"),
        (FRONT.replace("0, 750, 361, mm", "0, 0.75, 0.361, mm"), "are these m written as mm"),
        (FRONT.replace("0, 750, 361, mm", "0, 29.5, 14.2, mm"), "inches written as mm"),
        (
            FRONT.replace("428", "-428").replace("412", "-412").replace("0, 750", "0, -750"),
            "left and right are swapped",
        ),
        (FRONT.replace("-885, 412", "-885, -412"), "y above 0"),
        (FRONT + "arm_chassis_right, -885, 412, 432, mm\n", "y below 0"),
        (FRONT + "track_rod_axle_right, 118, -458, 352, mm\n", "does not have"),
        (FRONT.replace("arm_chassis,", "arm_chassis_right,").replace("412", "-412"), "'arm_chassis' is missing"),
        (FRONT.replace("-885", "nan"), "not finite"),
        (FRONT.replace("arm_chassis", "9?"), "no name of a hardpoint"),
        (FRONT.replace("unit", "unit, spread").replace("432, mm", "432, mm, -2"), "spread is negative"),
    ],
)
def test_what_cannot_be_is_said(text: str, words: str) -> None:
    assert any(words in line for line in faults(text)), faults(text)


def test_right_side_is_held_against_the_mirror_image() -> None:
    same = read(FRONT + "arm_chassis_right, -885, -412, 432, mm\n")
    assert "may be left out" in same.notices[0]
    near = read(FRONT + "arm_chassis_right, -884, -414, 433, mm\n")
    assert near.notices == ()
    far = read(FRONT + "arm_chassis_right, -855, -412, 432, mm\n")
    assert "lies 30.0 mm from the mirror image" in far.notices[0]


LENGTH = st.floats(-3.0, 3.0).map(lambda v: round(v, 6))


@given(st.dictionaries(st.from_regex(r"[a-z]{3,8}", fullmatch=True), st.tuples(LENGTH, st.floats(0.01, 3.0), LENGTH)))
@settings(max_examples=40, deadline=None)
def test_written_tables_read_back_to_the_micrometre(points: dict[str, tuple[float, float, float]]) -> None:
    wheel = {"wheel_centre": (0.0, 0.75, 0.36)}
    table = {n: Point(si=p, text="") for n, p in {**wheel, **points}.items()}
    found = read_hardpoints(write_hardpoints(table), "again.csv").points
    for name, point in table.items():
        assert found[name].si == pytest.approx(point.si, abs=6e-7)
