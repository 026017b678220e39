"""Sections of the road loop: measured surfaces kept by hash, speeds along the way, obstacles that fit."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path

import pytest

from tussock.record import Problem, ProgrammeError, load, loads

FOREST = "surface: {class: E}"
VALLEY = "{name: valley road, speed: 80 km/h, length: 420 m, surface: {class: B}"
Spoil = Callable[[str, str], tuple[Problem, ...]]


def measured(folder: Path, surface: str, content: bytes | None = b"distance [m]; left [mm]; right [mm]\n") -> Path:
    path = folder / "programme.yaml"
    text = path.read_text(encoding="utf-8")
    assert FOREST in text
    path.write_text(text.replace(FOREST, f"surface: {surface}", 1), encoding="utf-8")
    if content is not None:
        (folder / "roads").mkdir()
        (folder / "roads" / "forest.csv").write_bytes(content)
    return path


def test_a_measured_road_is_kept_with_its_hash(tarn_folder: Path) -> None:
    loaded = load(measured(tarn_folder, "{file: roads/forest.csv, start: 120 m, offset: -1.8 m}", b"\x00 any bytes"))
    i, section = next((i, s) for i, s in enumerate(loaded.programme.road_loop.sections) if s.name == "forest track")
    assert section.surface is not None
    assert section.surface.file == "roads/forest.csv"
    assert (section.surface.start.si, section.surface.offset.si) == (120.0, -1.8)
    assert loaded.roads == {"roads/forest.csv": b"\x00 any bytes"}
    assert "roads/forest.csv" not in loaded.files, "a road is no dyno sweep"
    assert loaded.hashes["roads/forest.csv"] == hashlib.sha256(b"\x00 any bytes").hexdigest()
    assert loaded.programme.files()[f"road_loop.sections.{i}.surface.file"] == "roads/forest.csv"


@pytest.mark.parametrize(("surface", "content", "said"), [
    ("{file: roads/forest.csv}", None, "there is no such file beside the programme"),
    ("{file: ../forest.csv}", b"", "must lie in the programme's folder"),
    ("{file: roads/forest.csv, class: C}", b"", "one of class, density and file"),
    ("{start: 3 m}", b"", "one of class, density and file"),
    ("{class: C, start: 3 m}", b"", "start goes with file"),
    ("{class: C, offset: 1 m}", b"", "offset goes with file"),
    ("{file: roads/forest.csv, waviness: 2.2}", b"", "waviness goes with class or density"),
    ("{file: roads/forest.csv, start: -3 m}", b"", "start"),
])  # fmt: skip
def test_a_wrong_surface_is_refused(tarn_folder: Path, surface: str, content: bytes | None, said: str) -> None:
    with pytest.raises(ProgrammeError, match=said) as caught:
        load(measured(tarn_folder, surface, content))
    assert all("surface" in p.path and p.line > 0 for p in caught.value.problems)


def test_speeds_along_a_section(tarn_text: str) -> None:
    changed = VALLEY.replace(
        ", surface", ", speed_changes: [{at: 200 m, speed: 50 km/h}], acceleration: 0.2 g, surface"
    )
    text = tarn_text.replace(VALLEY, changed)
    section = next(s for s in loads(text).programme.road_loop.sections if s.name == "valley road")
    assert section.acceleration.si == pytest.approx(1.96133)
    assert section.speed_changes[0].speed.si == pytest.approx(50 / 3.6)


@pytest.mark.parametrize(("changes", "path", "said"), [
    ("[{at: 300 m, speed: 20 km/h}]", "at", "at 1.5 m/s^2 this takes 154.3 m, and 420 m come first"),
    ("[{at: 50 m, speed: 20 km/h}, {at: 200 m, speed: 30 km/h}]", "at", "this takes 154.3 m, and 200 m come first"),
    ("[{at: 50 m, speed: 0 km/h}]", "speed", ""),
    ("[{at: 50 m, speed: 70 km/h, acceleration: 2}]", "acceleration", ""),
])  # fmt: skip
def test_a_change_of_speed_needs_room(spoil: Spoil, changes: str, path: str, said: str) -> None:
    problems = spoil(VALLEY, VALLEY.replace(", surface", f", speed_changes: {changes}, surface"))
    assert any(p.path == f"road_loop.sections.1.speed_changes.0.{path}" and said in p.wrong for p in problems)


@pytest.mark.parametrize(("feature", "path", "said"), [
    ("{kind: washout, at: 40 m, length: 4 m, depth: 200 mm, entry: 5 m, exit: 1 m}", "entry", "entry does not fit"),
    ("{kind: ramp, at: 40 m, length: 4 m, height: 200 mm, ramp: 2.5 m, radius: 2 m}", "ramp", "ramp does not fit"),
    ("{kind: camber, at: 40 m, length: 40 m, slope: 6 %, transition: 21 m}", "transition", "transition does not fit"),
    ("{kind: camber, at: 40 m, length: 40 m, slope: 40 %, transition: 10 m}", "slope", ""),
    ("{kind: washout, at: 419 m, length: 4 m, depth: 200 mm, entry: 1 m, exit: 1 m}", "at", "beyond the end"),
])  # fmt: skip
def test_an_obstacle_must_fit(spoil: Spoil, feature: str, path: str, said: str) -> None:
    problems = spoil(VALLEY, f"{VALLEY}, features: [{feature}]")
    assert any(p.path.endswith(f"features.0.{path}") and said in p.wrong for p in problems)


@pytest.mark.parametrize(("said", "path", "wrong"), [
    ("manoeuvre: {kind: gust, at: 10 m, length: 0 m}", "manoeuvre.length", "must be positive"),
    ("manoeuvre: {kind: gust, at: 410 m, length: 40 m}", "manoeuvre.at", "gust takes 40 m; the section is 420 m long"),
    ("manoeuvre: {kind: lane_change, at: 310 m}", "manoeuvre.at", "lane_change takes 125 m"),
    ("manoeuvre: {kind: lane_change, at: 50 m}, driver: fixed", "driver", "needs a driver"),
    ("manoeuvre: {kind: step_steer, at: 50 m, angle: 9 deg}, driver: steering", "driver", "is given"),
    (
        "manoeuvre: {kind: lorry, at: 90 m, lorry_speed: 78 km/h, way: overtaking}", "manoeuvre.lorry_speed",
        "a lorry that overtakes is faster",
    ),
    (
        "manoeuvre: {kind: lorry, at: 90 m, lorry_speed: 82 km/h, way: overtaken}", "manoeuvre.lorry_speed",
        "a lorry that is overtaken is slower",
    ),
    ("manoeuvre: {kind: braking, at: 400 m, deceleration: 3 m/s^2}", "manoeuvre.at", "braking takes 81 m at 3 m/s"),
    ("manoeuvre: {kind: braking, at: 9 m, to_speed: 95 km/h}", "manoeuvre.to_speed", "braking ends slower"),
    (
        "manoeuvre: {kind: braking, at: 9 m}, speed_changes: [{at: 300 m, speed: 70 km/h}]", "speed_changes",
        "no other changes of speed",
    ),
    ("manoeuvre: {kind: drift, at: 9 m}", "manoeuvre", "known: gust, lorry, lane_change"),
])  # fmt: skip
def test_a_manoeuvre_that_cannot_be_driven_is_told_by_its_field(spoil: Spoil, said: str, path: str, wrong: str) -> None:
    problems = spoil(VALLEY, VALLEY.replace(", surface", f", {said}, surface"))
    assert any(p.path == f"road_loop.sections.1.{path}" and wrong in p.wrong for p in problems), problems
