"""Wishbones, racks, coil-overs, leaf springs and torsion bars in the record, on the invented Dunnock programme."""

from __future__ import annotations

from collections.abc import Callable
from importlib.resources import files
from pathlib import Path

import jsonschema
import numpy as np
import pytest

from tussock.mechanics.linkage import build_wheel
from tussock.record import Problem, ProgrammeError, json_schema, load, loads, save, with_field
from tussock.record.hardpoint_csv import write_hardpoints
from tussock.record.layouts import ends
from tussock.record.springs import LeafSpring, TorsionBarSpring
from tussock.record.tree import read_tree

DUNNOCK = Path(str(files("tussock"))) / "data" / "dunnock" / "programme.yaml"
FRONT, REAR = "vehicle.axles.front", "vehicle.axles.rear"
BAR = "kind: torsion_bar\n        diameter: 27 mm\n        length: 1150 mm\n        free_angle: 32 deg"
COIL = (
    "title: stock front coil\n        rate: 84 N/mm +- 2 N/mm\n        free_length: 425 mm +- 3 mm\n"
    "        wire: 19.0 mm\n        mean_diameter: 118 mm\n        active_coils: 9.3"
)


@pytest.fixture(scope="module")
def text() -> str:
    return DUNNOCK.read_text(encoding="utf-8")


Spoil = Callable[[str, str], tuple[Problem, ...]]


@pytest.fixture
def spoil_dunnock(text: str) -> Spoil:
    def replace(old: str, new: str) -> tuple[Problem, ...]:
        assert old in text, f"the demo holds no {old!r} any more"
        with pytest.raises(ProgrammeError) as caught:
            loads(text.replace(old, new, 1), "dunnock.yaml")
        return caught.value.problems

    return replace


def test_the_dunnock_is_read_says_that_it_is_invented_and_fits_the_schema(text: str) -> None:
    loaded = load(DUNNOCK)
    assert loaded.programme.programme.data == "invented"
    assert len(loaded.files) == 8
    assert isinstance(loaded.programme.vehicle.axles.rear.spring, LeafSpring)
    found = jsonschema.Draft202012Validator(json_schema()).iter_errors(read_tree(text, name="dunnock").data)
    assert [e.message for e in found] == []


def test_it_is_written_back_to_the_letter(text: str, tmp_path: Path) -> None:
    loaded = loads(text, "dunnock.yaml")
    save(loaded, tmp_path / "programme.yaml")
    assert (tmp_path / "programme.yaml").read_text(encoding="utf-8") == text
    changed = with_field(loaded, "vehicle.axles.rear.spring.free_arch", "170 mm")
    assert len(set(changed.text.splitlines()) ^ set(text.splitlines())) == 2


FAULTS: list[tuple[str, str, str, str, str]] = [
    ("upper_ball: -15, 650", "uper_ball: -15, 650", f"{FRONT}.hardpoints.uper_ball", "did you mean 'upper_ball'?", ""),
    ("upper_ball: -15, 650", "uper_ball: -15, 650", f"{FRONT}.hardpoints.upper_ball", "needs it", "upper_ball"),
    ("tie_rod_inner: 138", "tie_rod_iner: 138", f"{FRONT}.hardpoints.tie_rod_inner", "for steering rack", ""),
    ("drive_outer: 0, 722, 371 mm", "", f"{FRONT}.hardpoints.drive_outer", "belongs to drive_inner", ""),
    ("drop_link_lower_arm: 62", "drop_link_lowr_arm: 62", f"{FRONT}.hardpoints.drop_link_lower_arm", "or else", ""),
    ("damper_lower_arm: 20", "damper_axle: 20", f"{FRONT}.hardpoints.damper_lower_arm", "or else damper_upper_arm", ""),
    (
        "stop_lower_arm: -90, 590, 297",
        "stop_lower_arm: -90, 590, 497",
        f"{FRONT}.hardpoints.stop_lower_arm",
        "below",
        "",
    ),
    ("kind: rack, travel", "travel", f"{FRONT}.steering.kind", "steered by rack", "kind: rack"),
    (
        "travel_per_turn: 46 mm",
        "ratio: 17.5",
        f"{FRONT}.steering.travel_per_turn",
        "one turn",
        "travel_per_turn: 52 mm",
    ),
    ("travel_per_turn: 46 mm", "ratio: 17.5", f"{FRONT}.steering.ratio", "a rack has no ratio", ""),
    ("kind: rack", "kind: rak", f"{FRONT}.steering.kind", "'rack'", "rack"),
    ("joint: upper_ball", "joint: uper_ball", f"{FRONT}.limiters.1.joint", "did you mean 'upper_ball'?", "upper_ball"),
    ("rod: tie_rod", "rod: drag_link", f"{FRONT}.limiters.3.rod", "no such rod", ""),
    ("end: inner", "end: iner", f"{FRONT}.limiters.4.end", "'inner'", "inner"),
    (
        "kind: universal_joint",
        "kind: drive_joint, end: inner",
        f"{REAR}.limiters.1.kind",
        "run inside it",
        "kind: universal_joint",
    ),
    (
        "{diameter: 27 mm, arm",
        "{roll_rate: 250 N m/deg, arm",
        f"{FRONT}.bar.roll_rate",
        "either a roll rate or dim",
        "",
    ),
    ("bush_spacing: 760", "bush_spacing: 1760", f"{FRONT}.bar.bush_spacing", "further apart", ""),
    ("        kind: leaf\n", "", f"{REAR}.spring.free_arch", "unknown field", ""),
    ("        kind: leaf\n", "        kind: leef\n", f"{REAR}.spring", "'leaf'", "leaf"),
    ("        second_at: 150 mm\n", "", f"{REAR}.spring.second_at", "two stages", "second_at: 120 mm"),
    ("second_rate: 60 N/mm", "second_rate: 20 N/mm", f"{REAR}.spring.second_rate", "above the first", "60 N/mm"),
    ("leaf_seat: -3096", "leaf_set: -3096", f"{REAR}.hardpoints.leaf_seat", "needs it", ""),
    (
        "        shackle_pivot: {radial",
        "        shackle_pivt: {radial",
        f"{REAR}.bushes.shackle_pivot",
        "held by its",
        "",
    ),
    (
        "mass: 172 kg +- 3 kg\n      inertia",
        "mass: 172 kg\n      alignment",
        f"{REAR}.alignment",
        "only independent",
        "",
    ),
    ("      inertia: {roll: 66 kg m^2, pitch: 11 kg m^2, yaw: 66 kg m^2}\n", "", f"{REAR}.inertia", "rigid axle", ""),
    ("rear_main}", "front_main}", "fitouts.empty.springs.rear", "no spring of this kind, only leaf", "stock"),
    (
        "{axle: front, height: 5 mm}",
        "{axle: front, height: 5 mm, kind: block}",
        "kit.packers.front_5.kind",
        "no leaf",
        "",
    ),
    (
        "body_diameter: 60 mm, spring_seats: 190 mm}",
        "body_diameter: 60 mm}",
        "kit.dampers.front_a.spring_seats",
        "sit on the dampers",
        "spring_seats: 150 mm",
    ),
    ("{name: upper ball joint, limit", "{name: uper ball, limit", "kit.joints.front.0.name", "'upper ball joint'?", ""),
]


@pytest.mark.parametrize(
    ("old", "new", "path", "words", "example"), FAULTS, ids=[f"{f[2]}-{i}" for i, f in enumerate(FAULTS)]
)
def test_a_fault_is_found_at_its_field_in_words(
    spoil_dunnock: Spoil, old: str, new: str, path: str, words: str, example: str
) -> None:
    problems = spoil_dunnock(old, new)
    here = [p for p in problems if p.path == path]
    assert here, [(p.path, p.wrong) for p in problems]
    assert any(words in p.wrong for p in here), [p.wrong for p in here]
    assert any(example in p.example for p in here), [p.example for p in here]


def test_a_torsion_bar_may_stand_where_the_coil_stood(text: str) -> None:
    assert COIL in text
    changed = text.replace(COIL, BAR, 1).replace("        spring_seats: 190 mm\n", "", 1)
    changed = changed.replace(", spring_seats: 190 mm", "").replace("front: front_main,", "front: stock,")
    spring = loads(changed, "dunnock.yaml").programme.vehicle.axles.front.spring
    assert isinstance(spring, TorsionBarSpring)
    assert spring.free_angle.si == pytest.approx(np.radians(32.0))


def test_every_hardpoint_and_end_of_the_wheel_is_known_to_the_linkage(text: str) -> None:
    axle = loads(text, "dunnock.yaml").programme.vehicle.axles.front
    changes = {
        f"{name}@{body}": np.array(point.si)
        for name, point in axle.hardpoints.items()
        for body in ends(axle.layout, name, axle.hardpoints, "rack")
    }
    points = {name: np.array(point) for name, point in axle.points().items()}
    wheel = build_wheel(axle.layout, points, wheel_radius=0.371, steering="rack", changes=changes)
    assert len(changes) >= len(points) - 1
    assert wheel.home.coordinates.shape[0] == 1


def test_hardpoints_may_stand_in_a_table_beside_the_programme(text: str, tmp_path: Path) -> None:
    whole = loads(text, "dunnock.yaml").programme.vehicle.axles.front
    points = dict(whole.hardpoints)
    own = points.pop("upper_ball")
    (tmp_path / "front.csv").write_text(write_hardpoints(points), encoding="utf-8")
    lines = text.splitlines(keepends=True)
    start = next(i for i, line in enumerate(lines) if line.startswith("      hardpoints:"))
    end = next(i for i in range(start + 1, len(lines)) if not lines[i].startswith("        "))
    named = ["      hardpoints_file: front.csv\n", "      hardpoints:\n", f"        upper_ball: {own.text}\n"]
    (tmp_path / "programme.yaml").write_text("".join([*lines[:start], *named, *lines[end:]]), encoding="utf-8")
    got = load(tmp_path / "programme.yaml", check_files=False).programme.vehicle.axles.front
    assert got.hardpoints_file == "front.csv"
    assert set(got.hardpoints) == set(whole.hardpoints)
    for point, at in whole.hardpoints.items():
        assert got.hardpoints[point].si == pytest.approx(at.si, abs=1e-9)
    table = (tmp_path / "front.csv").read_text(encoding="utf-8")
    for wrong, words in (
        (table.replace("lower_ball", "lowr_ball"), "lower_ball"),
        (None, "there is no such file"),
    ):
        if wrong is None:
            (tmp_path / "front.csv").unlink()
        else:
            (tmp_path / "front.csv").write_text(wrong, encoding="utf-8")
        with pytest.raises(ProgrammeError, match=words):
            load(tmp_path / "programme.yaml", check_files=False)
    with pytest.raises(ProgrammeError, match="read from text has no folder"):
        loads((tmp_path / "programme.yaml").read_text(encoding="utf-8"))
