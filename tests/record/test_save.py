"""Writing back: comments kept, one field at a time, files replaced in one step."""

from __future__ import annotations

import difflib
import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tussock.errors import InputError
from tussock.record import ProgrammeError, dump, load, loads, save, with_field, with_fields
from tussock.record.save import read_document


def changed_lines(before: str, after: str) -> list[str]:
    lines = difflib.unified_diff(before.splitlines(), after.splitlines(), n=0, lineterm="")
    return [line for line in lines if line[0] in "+-" and not line.startswith(("+++", "---"))]


def test_the_demo_round_trips_to_the_letter(tarn_text: str) -> None:
    assert dump(loads(tarn_text).document, like=tarn_text) == tarn_text


def test_one_field_changed_is_one_line_changed(tarn_text: str) -> None:
    loaded = loads(tarn_text)
    new = with_field(loaded, "vehicle.corners.front_left", "461 kg +- 2 kg")
    assert changed_lines(tarn_text, new.text) == [
        "-    front_left: 459 kg +- 2 kg",
        "+    front_left: 461 kg +- 2 kg",
    ]
    assert new.programme.vehicle.corners.front_left.si == 461.0
    assert loaded.programme.vehicle.corners.front_left.si == 459.0, "the old version stays"
    assert new.digest != loaded.digest


def test_a_comment_behind_the_field_is_kept(tarn_text: str) -> None:
    new = with_field(loads(tarn_text), "vehicle.centre_of_gravity_height", "710 mm")
    (line,) = (line for line in new.text.splitlines() if "centre_of_gravity_height" in line)
    before, comment = line.split("#")
    assert before.strip() == "centre_of_gravity_height: 710 mm"
    assert comment.startswith(" tilted on the hoist")


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("vehicle.wheelbase", "2710 mm"),
        ("vehicle.tyre.friction", 0.9),
        ("vehicle.axles.front.limiters.0.length", "440 mm"),
        ("vehicle.axles.rear.hardpoints.damper_chassis", "-2660, 480, 770 mm"),
        ("kit.changes.front", {"arm_chassis@chassis": "-885, 412, 400 mm"}),
        ("kit.packers.front_15", {"axle": "front", "height": "15 mm"}),
        ("targets.rules", ["nz_lvvta_195"]),
        ("programme.note", "true"),
        ("programme.note", "a: b # no comment\nsecond line"),
        ("road_loop.seed", 7),
        ("vehicle.headlamp", None),
    ],
)
def test_any_kind_of_field_is_written_and_read_back(tarn_text: str, path: str, value: object) -> None:
    new = with_field(loads(tarn_text), path, value)
    assert loads(new.text).programme == new.programme
    assert new.text.count("#") >= tarn_text.count("#") - 1, "comments are kept"


@pytest.mark.parametrize(
    ("path", "value", "said"),
    [
        ("vehicle.wheelbase", "2710", "has no unit"),
        ("vehicle.wheelbse", "2710 mm", "did you mean 'wheelbase'?"),
        ("vehicel.wheelbase", "2710 mm", "did you mean 'vehicle'?"),
        ("vehicle.axles.front.limiters.99.length", "440 mm", "the list has 7 entries"),
        ("vehicle.wheelbase.x", "440 mm", "no fields inside"),
        ("", "440 mm", "unknown field"),
    ],
)
def test_a_wrong_field_is_refused_and_nothing_changes(tarn_text: str, path: str, value: str, said: str) -> None:
    loaded = loads(tarn_text)
    with pytest.raises(ProgrammeError, match=said.replace("?", r"\?")):
        with_field(loaded, path, value)
    assert loaded.text == tarn_text


def test_what_is_no_value_is_refused(tarn_text: str) -> None:
    with pytest.raises(InputError, match="not a object"):
        with_field(loads(tarn_text), "programme.note", object())


def test_a_shared_field_is_not_changed_in_two_places(tarn_text: str) -> None:
    text = tarn_text.replace("{name: steel bumper, mass: 46", "&bumper {name: steel bumper, mass: 46", 1)
    before, after = text.rsplit('{name: steel bumper, mass: 46 kg, at: "640, 0, 560 mm"}', 1)
    with pytest.raises(ProgrammeError, match="would change another one as well"):
        with_field(loads(before + "*bumper" + after), "fitouts.winch.items.0.mass", "50 kg")


@pytest.mark.parametrize("offset", [0, 2, 4])
def test_lists_keep_their_indentation(tarn_text: str, offset: int) -> None:
    sections = tarn_text[tarn_text.index("road_loop:") : tarn_text.index("drives:")]
    text = sections.replace("\n    - ", "\n" + " " * (2 + offset) + "- ")
    assert dump(read_document(text), like=text) == text


@settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(mass=st.floats(300, 600), spread=st.floats(0, 5))
def test_written_quantities_are_read_back_exactly(tarn_text: str, mass: float, spread: float) -> None:
    new = with_field(loads(tarn_text), "vehicle.corners.rear_left", f"{mass!r} kg +- {spread!r} kg")
    assert new.programme.vehicle.corners.rear_left.si == mass
    assert new.programme.vehicle.corners.rear_left.spread == spread


def test_fields_are_changed_together_as_one_after_the_other(tarn_text: str) -> None:
    loaded = loads(tarn_text)
    values = {
        "vehicle.wheelbase": "2710 mm",
        "fitouts.winch.items.0.mass": "50 kg",
        "vehicle.corners.rear_left": "400 kg",
    }
    one = loaded
    for path, value in values.items():
        one = with_field(one, path, value)
    assert with_fields(loaded, values).text == one.text
    assert with_fields(loaded, {}) is loaded
    with pytest.raises(ProgrammeError, match="wheelbase"):
        with_fields(loaded, {**values, "vehicle.wheelbase": "-2 mm"})


def test_a_file_is_replaced_in_one_step(tarn_folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tarn_folder / "programme.yaml"
    loaded = load(path)
    new = with_field(loaded, "vehicle.wheelbase", "2710 mm")
    assert new.hashes == loaded.hashes
    assert path.read_text() == loaded.text, "a new version is not written by itself"
    saved = save(new, path)
    assert saved.digest == new.digest
    assert load(path).programme == new.programme

    def fail(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", fail)
    with pytest.raises(InputError, match="No space left"):
        save(loaded, path)
    assert path.read_text() == new.text
    assert sorted(p.name for p in tarn_folder.iterdir()) == ["dyno", "programme.yaml"]


def test_a_folder_that_does_not_exist(tarn_text: str, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be written"):
        save(loads(tarn_text), tmp_path / "none" / "programme.yaml")
