"""Logger files of the packaged wagon: cut, judged, compared, and the hidden vehicle found in them. All is invented."""

from __future__ import annotations

import gzip
import importlib.util
import sys
from importlib.resources import files
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest

from tussock.errors import InputError
from tussock.record import Loaded, loads, with_field
from tussock.record.problems import ProgrammeError
from tussock.studies import measured, model, vehicle_fit
from tussock.studies.job import Job, Setup
from tussock.studies.recordings import as_driven, read_drives

TOOL = Path(__file__).parents[2] / "tools" / "make_tarn_logger.py"


@pytest.fixture(scope="module")
def tool() -> ModuleType:
    spec = importlib.util.spec_from_file_location("make_tarn_logger", TOOL)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module  # its dataclasses look themselves up there
    spec.loader.exec_module(module)
    return module


def test_both_laps_are_cut_into_their_sections(job: Job) -> None:
    laps = read_drives(job, build="B3", fitout="bare")
    assert [[p.section for p in lap.passes] for lap in laps] == [["fast gravel", "forest track"]] * 2
    first = laps[0].passes[0]
    assert first.speed == pytest.approx(70.0 / 3.6, rel=0.01)
    assert laps[1].passes[0].speed == pytest.approx(1.02 * 70.0 / 3.6, rel=0.01)
    assert (first.end - first.start) * first.speed == pytest.approx(380.0, abs=3.0)


def test_the_late_clock_is_found_to_a_millisecond(job: Job, tool: ModuleType) -> None:
    late = f"the dampers' clock was {1e3 * tool.DAMPERS_LATE:.0f} ms late against the hubs'; set right"
    assert [lap.clocks for lap in read_drives(job, build="B3", fitout="bare")] == [(late,), (late,)]


def test_the_dead_channel_is_left_out_and_named(job: Job) -> None:
    one, two = read_drives(job, build="B3", fitout="bare")
    assert all("body_front_right" in p.channels for p in one.passes)
    assert all("body_front_right" not in p.channels for p in two.passes)
    result = measured.study(job, fitout="bare", build="B3")
    assert any("body_front_right dead" in n.text for n in result.notices)
    assert any(f.kind == "spikes" for p in one.passes for f in p.faults.get("hub_rear_left", ()))


def test_dampers_know_where_they_stood(job: Job, tool: ModuleType) -> None:
    _, rest, _ = tool.drives(1.0)
    for lap in read_drives(job, build="B3", fitout="bare"):
        assert lap.rest is not None
        for key, value in rest.items():
            assert lap.rest[key] == pytest.approx(value, abs=1e-4)


def test_measured_comfort_is_that_of_the_hidden_vehicle(job: Job, tool: ModuleType) -> None:
    """Through sensors, noise and the even clock the seat's r.m.s. stays within 2 % of the hidden vehicle's own."""
    from tussock.mechanics.measures import seat_comfort

    channels, _, _ = tool.drives(1.0)
    (lap, _) = read_drives(job, build="B3", fitout="bare")
    for p in lap.passes:
        own = channels[p.section]
        seat = np.stack([own[f"seat_{a}"] for a in "xyz"], axis=1)
        assert measured.measures_of(p)["seat"] == pytest.approx(seat_comfort(seat, 0.004).total, rel=0.02)


def test_the_answer_comes_first_and_repeats_are_said(job: Job) -> None:
    result = measured.study(job, fitout="bare", build="B3")
    assert result.answer.startswith("Over 4 passes of 2 sections the measured seat, weighted r.m.s. is 1.0")
    assert result.passes
    assert {p.key for p in result.pictures} == {"seat_spectrum", "hub_to_body", "damper_speed"}
    assert len(result.table("measured").rows) == 14
    assert result.table("recordings").rows[1][3] == "body_front_right"


def test_the_hidden_vehicle_is_found_in_the_files(job: Job, tool: ModuleType) -> None:
    """Few drives, so wide intervals: every hidden factor within four deviations, damping as the tool has it to 15 %."""
    result = vehicle_fit.study(job, fitout="bare", build="B3", drives=70, seed=2)
    assert result.values["front_rebound_factor"] == pytest.approx(tool.HIDDEN["front_rebound"], rel=0.15)
    assert result.values["rear_rebound_factor"] == pytest.approx(tool.HIDDEN["rear_rebound"], rel=0.15)
    rows = {str(r[0]): r for r in result.table("fit").rows}
    for key, value in tool.HIDDEN.items():
        _, factor, low, high, _ = rows[vehicle_fit._TITLES[key]]
        spread = np.log(float(high) / float(low)) / 3.29
        assert abs(np.log(value / float(factor))) < 4.0 * spread
    assert "4 passes determine" in result.answer


def test_a_build_without_recordings_is_told_which_have_some(job: Job) -> None:
    with pytest.raises(InputError, match="no drive of B1 with bare has a recording; there are recordings of B3"):
        measured.study(job, fitout="bare", build="B1")


def changed(old: str, new: str) -> str:
    text = files("tussock").joinpath("data/tarn/programme.yaml").read_text(encoding="utf-8")
    assert old in text
    return text.replace(old, new)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('title: "Seat Z [g]", unit: g', 'title: "Seat Z [g]", unit: mm', "seat_z is an acceleration"),
        ("b3-lap1.csv.gz, logger: van", "b3-lap1.csv.gz, logger: box", "there is no logger of this name"),
        ("pitch_rate: {title", "pitch: {title", "pitch"),
        ("latitude: 0.104639 deg", "latitude: 104.639 deg", "latitude"),
    ],
)
def test_a_wrong_wiring_is_said_with_its_field(old: str, new: str, words: str) -> None:
    with pytest.raises(ProgrammeError, match=words):
        loads(changed(old, new))


def spoiled(tmp_path: Path, text: str) -> Job:
    """Return a job whose B3 recordings hold a text in place of the packaged file."""
    import shutil

    from tussock.studies.job import open_job

    folder = tmp_path / "tarn"
    with_files = files("tussock").joinpath("data/tarn")
    shutil.copytree(str(with_files), folder)
    for lap in ("b3-lap1.csv.gz", "b3-lap2.csv.gz"):
        (folder / "logger" / lap).unlink()
    (folder / "logger" / "lap.csv").write_text(text)
    place = folder / "programme.yaml"
    whole = place.read_text(encoding="utf-8").replace("logger/b3-lap1.csv.gz", "logger/lap.csv")
    place.write_text(whole.replace("      - {file: logger/b3-lap2.csv.gz, logger: van}\n", ""), encoding="utf-8")
    return open_job(place)


def test_a_file_that_passes_no_section_or_lacks_a_channel_is_said(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"logger/lap.csv: no column for"):
        measured.study(spoiled(tmp_path, "Time [s],Speed [km/h]\n0,1\n1,2\n"), fitout="bare", build="B3")


def test_a_file_from_elsewhere_passes_no_section(tmp_path: Path, job: Job) -> None:
    titles: list[Any] = [c.title for c in job.programme.loggers["van"].channels.values()]
    rows = [",".join([f"{0.1 * i:.1f}", *("0.5" for _ in titles)]) for i in range(60)]
    text = ",".join(["Time [s]", *titles]) + "\n" + "\n".join(rows)
    with pytest.raises(InputError, match="passes no section of the loop"):
        measured.study(spoiled(tmp_path, text), fitout="bare", build="B3")


def packaged_lap() -> tuple[str, list[list[str]], list[str]]:
    """Return the titles' line, the rows cut into cells, and the titles of the first packaged lap."""
    raw = gzip.decompress(files("tussock").joinpath("data/tarn/logger/b3-lap1.csv.gz").read_bytes()).decode()
    lines = [line for line in raw.splitlines() if line and not line.startswith("#")]
    return lines[0], [line.split(",") for line in lines[1:]], lines[0].split(",")


def test_a_clipped_channel_is_left_out_and_named(tmp_path: Path) -> None:
    """An accelerometer whose range ends 0.2 g beside gravity, on a road that wants more."""
    head, rows, titles = packaged_lap()
    at = titles.index("Seat Z [g]")
    for row in rows:
        if row[at]:
            row[at] = f"{min(max(float(row[at]), 0.8), 1.2):.4f}"
    text = "\n".join([head, *(",".join(row) for row in rows)])
    result = measured.study(spoiled(tmp_path, text), fitout="bare", build="B3")
    said = [n for n in result.notices if "seat_z" in n.text]
    assert len(said) == 1
    assert "clipped" in said[0].text
    assert "left out there" in said[0].text
    assert not any("r.m.s. at the seat" in str(r[1]) for r in result.table("measured").rows)


def test_a_clock_that_runs_backwards_is_refused_with_its_row(tmp_path: Path) -> None:
    head, rows, _ = packaged_lap()
    rows[5000:5200] = rows[5000:5200][::-1]
    text = "\n".join([head, *(",".join(row) for row in rows)])
    with pytest.raises(
        InputError, match=r"logger/lap.csv: the clock runs backwards near row 5[01]\d\d: .*part the file"
    ):
        measured.study(spoiled(tmp_path, text), fitout="bare", build="B3")


def test_the_model_drives_on_the_pressures_of_the_drive(tarn: Loaded, job: Job) -> None:
    """The build is set to 2.4 bar; who drove on 2.16 bar in front had a tyre 7 % softer there, and behind as ever."""
    b3 = Setup("bare", "B3")
    assert as_driven(job, b3) is model.vehicle(job, b3)
    at = next(i for i, d in enumerate(tarn.programme.written_drives) if d.recordings)
    softer = Job(with_field(tarn, f"drives.{at}.tyre_pressure.front", "2.16 bar"))
    driven, own = as_driven(softer, b3), model.vehicle(softer, b3)
    ratio = driven.front.tyre.vertical_stiffness / own.front.tyre.vertical_stiffness
    assert ratio == pytest.approx(0.93)
    assert driven.rear is own.rear
