"""What the sample does not use: the log of drives, sensors, attachments, curves, surfaces by density, layouts."""

from __future__ import annotations

from pathlib import Path

import pydantic
import pytest

from tussock.record import ProgrammeError, load, loads

DRIVES = """drives:
  - id: D1
    date: 2026-10-01
    driver: A
    build: B2
    against: B1
    fitout: winch
    tyre_pressure: {front: 2.2 bar, rear: 35 psi}
    weather: dry, light wind
    verdicts:
      - {section: moor road, attribute: body_float, verdict: slightly better}
      - {section: potholes, verdict: much worse}
    ratings:
      - {attribute: comfort, mark: 6}
      - {attribute: control, mark: 8}
    note: pitches less
    files: [runs/moor.csv]
attachments:
  - {file: runs/moor.csv, title: logger, kind: logger}
"""


@pytest.fixture
def logged(tarn_folder: Path, tarn_text: str) -> Path:
    (tarn_folder / "runs").mkdir()
    (tarn_folder / "runs" / "moor.csv").write_bytes(b"\x00\x01 a logger may be binary")
    path = tarn_folder / "programme.yaml"
    path.write_text(tarn_text.replace("drives: []\n", DRIVES))
    return path


def test_a_drive_is_logged_with_its_verdicts(logged: Path) -> None:
    loaded = load(logged)
    (drive,) = loaded.programme.drives
    assert [v.attribute for v in drive.verdicts] == ["body_float", "overall"]
    assert drive.tyre_pressure is not None
    assert drive.tyre_pressure.rear.si == pytest.approx(241316.5, abs=0.1)  # 35 psi; NIST SP 811: 6.894757 kPa each
    assert [(r.attribute, r.mark) for r in drive.ratings] == [("comfort", 6), ("control", 8)]
    assert "runs/moor.csv" in loaded.hashes
    assert "runs/moor.csv" not in loaded.files, "only dyno files are kept with their bytes"


@pytest.mark.parametrize(
    ("old", "new", "path", "said"),
    [
        (
            "section: moor road, attribute",
            "section: moor rod, attribute",
            "drives.0.verdicts.0.section",
            "'moor road'?",
        ),
        ("attribute: body_float", "attribute: float", "drives.0.verdicts.0.attribute", "'body_float'?"),
        ("verdict: much worse", "verdict: awful", "drives.0.verdicts.1.verdict", "known:"),
        ("mark: 8", "mark: 11", "drives.0.ratings.1.mark", "drive D1: a mark is a whole number from 1 (worst) to 10"),
        ("attribute: control", "attribute: contrl", "drives.0.ratings.1.attribute", "'control'?"),
        ("    against: B1\n", "", "drives.0.against", "say which"),
        ("rear: 35 psi", "rear: 35", "drives.0.tyre_pressure.rear", "did you mean 35 psi?"),
        ("kind: logger", "kind: loger", "attachments.0.kind", "'logger'?"),
        ("files: [runs/moor.csv]", "files: [runs/moor2.csv]", "drives.0.files.0", "no such file"),
    ],
)
def test_a_wrong_drive_is_refused(logged: Path, old: str, new: str, path: str, said: str) -> None:
    text = logged.read_text()
    assert old in text
    logged.write_text(text.replace(old, new, 1))
    with pytest.raises(ProgrammeError) as caught:
        load(logged)
    (problem,) = caught.value.problems
    assert problem.path == path
    assert said in problem.wrong


def test_a_damper_may_be_given_by_its_curve(tarn_text: str) -> None:
    curve = 'curve: ["-0.26 m/s: -900 N", "-0.05 m/s: -300 N", "0 m/s: 0 N", "0.05 m/s: 150 N", "260 mm/s: 500 N"]'
    damper = loads(tarn_text.replace("dyno: dyno/stock-front.csv", curve)).programme.vehicle.axles.front.damper
    assert damper.curve is not None
    assert [(p.at, p.force) for p in damper.curve][:2] == [(-0.26, -900.0), (-0.05, -300.0)]
    with pytest.raises(ProgrammeError, match=r"damper.curve.1: the velocity must rise"):
        loads(tarn_text.replace("dyno: dyno/stock-front.csv", curve.replace("-0.05", "-0.55")))
    with pytest.raises(ProgrammeError, match=r"both a dyno file and a curve"):
        loads(tarn_text.replace("dyno: dyno/stock-front.csv", f"dyno: dyno/x.csv\n        {curve}"))


def test_a_surface_may_be_given_by_its_density(tarn_text: str) -> None:
    surface = loads(tarn_text.replace("{class: E}", "{density: 4096e-6 m^3, waviness: 2.2}")).programme
    section = next(s for s in surface.road_loop.sections if s.name == "forest track")
    assert section.surface is not None
    assert section.surface.road_class is None
    assert section.surface.density is not None
    assert section.surface.density.si == pytest.approx(4096e-6)
    with pytest.raises(ProgrammeError, match="class and density"):
        loads(tarn_text.replace("{class: E}", "{class: E, density: 4096e-6 m^3}"))


def test_an_axle_on_links_alone_needs_no_track_rod(tarn_text: str) -> None:
    lines = [
        line
        for line in tarn_text.replace("layout: links_track_rod", "layout: links").splitlines()
        if not line.strip().startswith(
            ("track_rod_axle: -2832", "track_rod_chassis: -2832", "- {name: track rod to floor")
        )
    ]
    assert loads("\n".join(lines)).programme.vehicle.axles.rear.layout == "links"
    with pytest.raises(ProgrammeError, match=r"track_rod_axle: unknown hardpoint for the layout links"):
        loads(tarn_text.replace("layout: links_track_rod", "layout: links"))


def test_a_height_sensor_is_read(tarn_text: str) -> None:
    points = 'pivot: "-2500, 300, 560 mm", lever: "-2580, 300, 550 mm", link: "-2580, 300, 430 mm"'
    sensor = f"sensors: [{{name: lamp level, axle: rear, {points}, range: 25 deg}}]"
    vehicle = loads(tarn_text.replace("  gross_mass:", f"  {sensor}\n  gross_mass:")).programme.vehicle
    assert vehicle.sensors[0].lever.x == -2.58


def test_an_obstacle_holds_what_is_inside_it(tarn_text: str) -> None:
    with pytest.raises(ProgrammeError, match=r"features.0.spacing: the spacing does not fit"):
        loads(tarn_text.replace("spacing: 0.18 m", "spacing: 3.2 m"))
    with pytest.raises(ProgrammeError, match=r"must not be above 0.5"):
        loads(tarn_text.replace("wavelength: 0.8 m, depth", "wavelength: 0.8 m, irregularity: 0.9, depth"))


def test_a_programme_cannot_be_changed(tarn_text: str) -> None:
    programme = loads(tarn_text).programme
    with pytest.raises(pydantic.ValidationError):
        programme.vehicle.wheelbase = programme.vehicle.roof_height  # type: ignore[misc]
    with pytest.raises(AttributeError):
        programme.vehicle.wheelbase.si = 3.0  # type: ignore[misc]


def test_models_written_out_are_the_same_programme(tarn_text: str) -> None:
    programme = loads(tarn_text).programme
    written = programme.model_dump(mode="json", by_alias=True, exclude_unset=True)
    assert type(programme).model_validate(written) == programme
