"""ASAM MDF: what the general-purpose library asammdf writes is read back to the same test. All data invented."""

from __future__ import annotations

import sys
import tempfile
import warnings
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from dyno_samples import TRUE, numbers, sine_text

from tussock.mechanics.dampers import DynoError, DynoTest, read, read_bytes, read_file

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # what the library's own imports warn of is not ours
    from asammdf import MDF, Signal

TEXT = sine_text()
RUN, TIME, MOVE, FORCE = numbers(TEXT)


def signal(name: str, unit: str, values: np.ndarray, time: np.ndarray) -> Signal:
    return Signal(samples=values, timestamps=time, name=name, unit=unit)


def saved(fill: Callable[[MDF], None], version: str = "4.10") -> bytes:
    with MDF(version=version) as file, tempfile.TemporaryDirectory() as folder:
        fill(file)
        return Path(file.save(Path(folder) / f"dyno.{'mf4' if version >= '4' else 'mdf'}")).read_bytes()


def one_group(file: MDF) -> None:
    file.append(
        [
            signal("run", "", RUN.astype(np.int32), TIME),
            signal("displacement", "mm", MOVE, TIME),
            signal("force", "N", FORCE, TIME),
        ]
    )


def group_a_run(file: MDF) -> None:
    for number in np.unique(RUN):
        of = number == RUN
        file.append([signal("Weg", "mm", MOVE[of], TIME[of]), signal("Kraft", "kN", FORCE[of] * 1e-3, TIME[of])])


def group_a_channel(file: MDF) -> None:
    """The displacement at twice the force's rate, temperature at a few points, as loggers with several cards write."""
    half = np.sort(np.concatenate([TIME, TIME[:-1] + 0.5 * np.diff(TIME)]))
    file.append([signal("Position", "mm", np.interp(half, TIME, MOVE), half)])
    file.append([signal("Load", "N", FORCE, TIME), signal("run", "", RUN, TIME)])
    few = np.linspace(TIME[0], TIME[-1], 30)
    file.append([signal("Temp", "degC", np.linspace(20.0, 22.0, 30), few)])


def assert_same(test: DynoTest, tolerance: float) -> None:
    expected = read(TEXT, name="text")
    assert len(test.runs) == len(expected.runs)
    for mine, other in zip(test.points, expected.points, strict=True):
        assert mine.velocity == pytest.approx(other.velocity, rel=1e-4)
        assert mine.force == pytest.approx(other.force, abs=tolerance)
    assert test.curve.gas_force == pytest.approx(expected.curve.gas_force, abs=tolerance)
    assert test.curve.friction == pytest.approx(expected.curve.friction, abs=tolerance)


@pytest.mark.parametrize("version", ["3.30", "4.10", "4.20"])
def test_round_trip(version: str) -> None:
    """The same numbers from both files: nothing but the last bit may differ."""
    assert_same(read_bytes(saved(one_group, version), name="dyno.mf4"), 1e-6)


def test_a_data_group_for_each_run() -> None:
    assert_same(read_bytes(saved(group_a_run), name="dyno.mf4"), 1e-6)


def test_a_data_group_for_each_channel() -> None:
    test = read_bytes(saved(group_a_channel), name="dyno.mf4")
    assert_same(test, 1e-3)
    assert test.runs[0].mean_temperature == pytest.approx(293.9, abs=0.5)


def test_mapping_and_file(tmp_path) -> None:  # type: ignore[no-untyped-def]
    raw = saved(lambda f: f.append([signal("LVDT", "mm", MOVE, TIME), signal("cell", "N", FORCE, TIME)]))
    path = tmp_path / "dyno.mf4"
    path.write_bytes(raw)
    with pytest.raises(DynoError, match=r"no column for displacement, force; found LVDT \[mm\], cell \[N\]"):
        read_file(path)
    test = read_file(path, channels={"displacement": "LVDT", "force": "cell"})
    assert test.curve.force_at(-0.52) == pytest.approx(TRUE.force_at(-0.52), abs=6.0)


def test_units_are_needed() -> None:
    raw = saved(lambda f: f.append([signal("displacement", "mm", MOVE, TIME), signal("force", "", FORCE, TIME)]))
    with pytest.raises(DynoError, match=r"column 'force' has no unit; write it as 'force \[N\]'"):
        read_bytes(raw, name="dyno.mf4")


def test_faults_are_found_as_in_text() -> None:
    raw = saved(lambda f: f.append([signal("displacement", "mm", MOVE, TIME), signal("force", "N", -FORCE, TIME)]))
    with pytest.raises(DynoError, match="force has the other sign"):
        read_bytes(raw, name="dyno.mf4")
    gap = np.r_[0:300, 330 : TIME.size]
    part = [signal("run", "", RUN[gap], TIME[gap]), signal("displacement", "mm", MOVE[gap], TIME[gap])]
    raw = saved(lambda f: f.append([*part, signal("force", "N", FORCE[gap], TIME[gap])]))
    with pytest.raises(DynoError, match=r"run 2, sample 301: a gap of"):
        read_bytes(raw, name="dyno.mf4")
    hole = FORCE.copy()
    hole[500] = np.nan
    raw = saved(lambda f: f.append([signal("displacement", "mm", MOVE, TIME), signal("force", "N", hole, TIME)]))
    with pytest.raises(DynoError, match="force, sample 501 of group 1: 1 values are not finite numbers"):
        read_bytes(raw, name="dyno.mf4")


@pytest.mark.parametrize("share", [0.02, 0.3, 0.6, 0.95])
@pytest.mark.parametrize("version", ["3.30", "4.10"])
def test_a_file_that_is_cut_off_is_refused_in_words(share: float, version: str) -> None:
    raw = saved(one_group, version)
    with pytest.raises(DynoError, match=r"cut off: it ends at byte \d+, but goes on at byte \d+"):
        read_bytes(raw[: int(share * len(raw))], name="dyno.mf4")


def test_an_empty_file() -> None:
    with pytest.raises(DynoError, match=r"no column for displacement, force; found nothing"):
        read_bytes(saved(lambda f: None), name="dyno.mf4")


def test_without_the_library_the_extra_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    raw = saved(one_group)
    monkeypatch.setitem(sys.modules, "asammdf", None)
    with pytest.raises(DynoError, match=r"pip install 'tussock\[mdf\]'"):
        read_bytes(raw, name="dyno.mf4")


def test_a_rate_beside_the_file_s_own_time_is_refused() -> None:
    with pytest.raises(DynoError, match="leave the sampling rate out"):
        read_bytes(saved(one_group), name="dyno.mf4", rate=100.0)
