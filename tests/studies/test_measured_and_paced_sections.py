"""Sections on measured roads and with changing speeds, driven by the invented Tarn."""

from __future__ import annotations

import math
import re
import shutil
from pathlib import Path

import numpy as np
import pytest
from vary_programme import Vary

from tussock.errors import InputError
from tussock.mechanics.motion import simulate
from tussock.mechanics.motion.simulate import STEP
from tussock.mechanics.roads import Section, SpeedChange, build, expected_index, random_heights
from tussock.record import Loaded, load
from tussock.studies import damper_builds, loop, model
from tussock.studies.job import Job, Setup, open_job

BARE = Setup("bare", "B3")


def profile(height: float) -> str:
    """A left bump of 0.6 m at 25 m on a level road of 60 m, sampled at 20 mm."""
    x = np.arange(0.0, 62.0, 0.02)
    inside = np.clip((x - 25.0) / 0.6, 0.0, 1.0)
    left = 0.5 * height * (1.0 - np.cos(2.0 * math.pi * inside))
    rows = [f"{a:.3f}; {1e3 * b:.5f}; 0" for a, b in zip(x, left, strict=True)]
    return "\n".join(["distance [m]; left [mm]; right [mm]", *rows])


def section_text(surface: str, features: str = "", length: str = "60 m") -> str:
    return f"    - {{name: left bump, speed: 30 km/h, length: {length}, surface: {surface}{features}}}\n"


@pytest.fixture(scope="module")
def folder(tarn: Loaded, tmp_path_factory: pytest.TempPathFactory) -> Path:
    assert tarn.path is not None
    place = tmp_path_factory.mktemp("measured") / "tarn"
    shutil.copytree(tarn.path.parent, place)
    (place / "bump.csv").write_text(profile(0.06), encoding="utf-8")
    return place


def programme(folder: Path, section: str, name: str) -> Path:
    text = (folder / "programme.yaml").read_text(encoding="utf-8")
    start = text.index("  sections:\n") + len("  sections:\n")  # the log behind names the demo's own sections
    path = folder / name
    path.write_text(text[:start] + section, encoding="utf-8")
    return path


def opened(path: Path, job: Job) -> Job:
    """The changed programme, with what does not change computed once."""
    changed = Job(load(path))
    changed.__dict__["dyno_tests"] = job.dyno_tests
    changed.memo[("lift tables",)] = damper_builds.lifts(job)
    return changed


def test_a_measured_bump_shakes_as_the_same_one_that_is_built(folder: Path, job: Job) -> None:
    """The same shape by both ways in: every measure to 1 %, counts exactly."""
    measured = opened(programme(folder, section_text("{file: bump.csv}"), "measured.yaml"), job)
    bump = ", features: [{kind: bump, at: 25 m, length: 0.6 m, height: 60 mm, side: left}]"
    built = opened(programme(folder, section_text("{density: 0 m^3}", bump), "built.yaml"), job)
    np.testing.assert_allclose(loop.tracks(measured)["left bump"].left, loop.tracks(built)["left bump"].left, atol=2e-5)
    (one,), (other,) = loop.drive_loop(measured, BARE), loop.drive_loop(built, BARE)
    assert one.measures["seat"] > 0.1
    for key, value in other.measures.items():
        assert one.measures[key] == pytest.approx(value, rel=0.01, abs=1e-3), key


@pytest.mark.parametrize(("surface", "length", "said"), [
    ("{file: bump.csv}", "80 m", r"'left bump': bump.csv: 61.98 m were measured; a section from 0 m over 80 m"),
    ("{file: bump.csv, offset: 1 m}", "60 m", r"two wheel tracks only; an offset is for a surface"),
    ("{file: programme.yaml}", "60 m", r"programme.yaml: line \d+: no column for distance, left, right"),
])  # fmt: skip
def test_a_road_that_does_not_serve_is_refused(folder: Path, job: Job, surface: str, length: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        loop.sections(opened(programme(folder, section_text(surface, length=length), "wrong.yaml"), job))


def test_a_measured_road_says_its_class_and_roughness(folder: Path, job: Job, vary: Vary) -> None:
    """What the file was drawn from: class E, whose mean has a roughness index of 35.5 m/km; 25 % over 200 m."""
    tracks = random_heights(density=4096e-6, length=250.0, spacing=0.05, track=1.5, seed=8)
    rows = [f"{0.05 * i:.2f}, {a:.6f}, {b:.6f}" for i, (a, b) in enumerate(zip(*tracks, strict=True))]
    (folder / "rough.csv").write_text("\n".join(["distance [m], left [m], right [m]", *rows]), encoding="utf-8")
    changed = opened(
        programme(folder, section_text("{file: rough.csv, start: 40 m}", length="200 m"), "rough.yaml"), job
    )
    (words,) = loop.measured_words(changed).values()
    found = re.fullmatch(
        r"rough.csv, from 40 m on, class E and E, IRI ([\d.]+) and ([\d.]+) m/km left and right", words
    )
    assert found, words
    assert [float(g) for g in found.groups()] == pytest.approx([expected_index(4096e-6)] * 2, rel=0.25)
    assert loop.measured_words(vary({})) == {}
    bump = opened(programme(folder, section_text("{file: bump.csv}"), "measured.yaml"), job)
    assert loop.measured_words(bump) == {"surface of left bump": "bump.csv, from 0 m on"}


def test_it_is_said_at_once_when_the_programme_is_opened(folder: Path) -> None:
    with pytest.raises(InputError, match=r"61.98 m were measured"):
        open_job(programme(folder, section_text("{file: bump.csv}", length="80 m"), "wrong.yaml"))


def test_braking_pulls_with_mass_times_deceleration(job: Job) -> None:
    """Newton: from 20 to 10 m/s at 2 m/s^2 on a level road, the tyres hold back mass times deceleration."""
    section = Section(
        name="s", length=150.0, speed=20.0, speed_changes=(SpeedChange(at=30.0, speed=10.0),), acceleration=2.0
    )
    rest = model.rest(job, BARE)
    run = simulate(
        model.vehicle(job, BARE), build(section, track=1.5, seed=1), speed=section.driven_speed(STEP), rest=rest
    )
    assert run.time[-1] == pytest.approx(section.pace.duration, abs=3.0 * STEP)
    mass = float(np.sum(rest.wheel_load)) / 9.80665
    braking = (run.force_time > 3.5) & (run.force_time < 6.0)  # from 1.5 s to 6.5 s; the pitch has settled
    assert np.mean(run.traction[braking]) == pytest.approx(-2.0 * mass, rel=0.02)
    load = run.wheel_load[braking].mean(axis=0)
    assert load[0] + load[1] > rest.wheel_load[0] + rest.wheel_load[1] + 0.1 * mass  # it leans on its front wheels
    assert load.sum() == pytest.approx(float(np.sum(rest.wheel_load)), rel=0.01)


def test_a_section_says_its_mean_speed(vary: Vary) -> None:
    section = {
        "name": "gravel", "speed": "60 km/h", "length": "100 m", "surface": {"class": "B"},
        "speed_changes": [{"at": "20 m", "speed": "30 km/h"}], "acceleration": "3 m/s^2",
    }  # fmt: skip
    (run,) = loop.drive_loop(vary({"road_loop.sections": [section]}), BARE)
    fast, slow = 60 / 3.6, 30 / 3.6
    braking = (fast**2 - slow**2) / 6.0
    time = 20.0 / fast + (fast - slow) / 3.0 + (100.0 - 20.0 - braking) / slow
    assert run.speed == pytest.approx(100.0 / time)
    assert run.measures["pitch_rate"] > 0.0
