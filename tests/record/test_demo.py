"""The invented Tarn programme is read, and so is the sample of every released document format."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import pytest

from tussock.errors import InputError
from tussock.record import FORMAT, load

TARN = Path(str(files("tussock"))) / "data" / "tarn" / "programme.yaml"
SAMPLES = Path(__file__).parents[1] / "data" / "programmes"


def test_the_demo_is_read_with_its_files() -> None:
    loaded = load(TARN)
    assert loaded.programme.programme.data == "invented"
    assert set(loaded.hashes) == set(loaded.programme.files().values())
    assert {f for f in loaded.hashes if f.startswith("dyno/")} == set(loaded.files)
    assert len(loaded.files) == 8
    assert {f for f in loaded.hashes if f.startswith("logger/")} == {"logger/b3-lap1.csv.gz", "logger/b3-lap2.csv.gz"}


def test_the_sample_has_the_values_that_are_written_in_it() -> None:
    vehicle = load(SAMPLES / "format-1.yaml", check_files=False).programme.vehicle
    assert vehicle.wheelbase.si == 2.7
    assert vehicle.wheelbase.spread == 0.003
    assert vehicle.corners.total == 459 + 453 + 421 + 417
    assert vehicle.axles.front.spring.rate.si == 21500.0
    assert vehicle.axles["front"].hardpoints["arm_chassis"].si == (-0.885, 0.412, 0.432)
    assert vehicle.axles.front.stop.curve[1].at == 0.010
    assert vehicle.axles.front.stop.curve[1].force == 260.0


def test_what_a_build_leaves_out_comes_from_its_parents() -> None:
    programme = load(SAMPLES / "format-1.yaml", check_files=False).programme
    assert programme.targets.bump_force.si == 3.0
    assert programme.lineage("B3") == ("B3", "B2", "B1", "stock")
    assert programme.damper("B2", "rear") is programme.kit.dampers["rear_b"]
    assert programme.damper("stock", "front") is programme.vehicle.axles.front.damper
    assert programme.spring("stock", "rear") is programme.vehicle.axles.rear.spring
    with pytest.raises(InputError, match="did you mean 'front_winch'"):
        programme.spring("front_winsh", "front")
    with pytest.raises(InputError, match="there is no build 'B9'"):
        programme.damper("B9", "front")


@pytest.mark.parametrize("version", range(1, FORMAT + 1))
def test_the_sample_of_every_released_format_is_read(version: int) -> None:
    loaded = load(SAMPLES / f"format-{version}.yaml", check_files=False)
    assert loaded.programme.programme.name == "Tarn"
