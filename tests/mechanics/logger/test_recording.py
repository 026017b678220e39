"""Logger files: columns and clocks as a stream, and every way in which a file can be wrong. All data is invented."""

from __future__ import annotations

import gzip
import tracemalloc
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tussock.errors import DomainError
from tussock.mechanics.logger import LoggerError, Wire, read_csv, read_recording

TIME = Wire(title="Time [s]")
WIRES = {"seat_z": Wire(title="Seat Z [g]", factor=9.80665, shift=1.0), "speed": Wire(title="Speed", factor=1 / 3.6)}


def written(path: Path, text: str) -> Path:
    path.write_text(text, encoding="utf-8")
    return path


def test_channels_at_different_rates_keep_their_own_stamps(tmp_path: Path) -> None:
    rows = "\n".join(f"{0.01 * i:.2f},{1.0 + 0.1 * (i % 2)},{36.0 if i % 5 == 0 else ''}" for i in range(20))
    got = read_csv(
        written(tmp_path / "run.csv", "logger of the house\nTime [s],Seat Z [g],Speed\n" + rows), WIRES, time=TIME
    )
    assert got.rows == 20
    assert got.channels["seat_z"].size == 20
    np.testing.assert_allclose(got.channels["seat_z"].values[:2], [0.0, 0.980665], rtol=1e-5, atol=1e-6)
    np.testing.assert_allclose(got.channels["speed"].time, [0.0, 0.05, 0.1, 0.15])
    np.testing.assert_allclose(got.channels["speed"].values, 10.0)
    assert (got.start, got.end) == (0.0, pytest.approx(0.19))
    assert got.channels["seat_z"].interval == pytest.approx(0.01)


def test_decimal_comma_and_semicolon(tmp_path: Path) -> None:
    text = "# invented\nTime [s];Seat Z [g];Speed\n0,0;1,5;72,0\n0,1;2,0;36,0\n"
    got = read_csv(written(tmp_path / "run.csv", text), WIRES, time=TIME)
    np.testing.assert_allclose(got.channels["seat_z"].values, [4.903325, 9.80665], rtol=1e-6)
    np.testing.assert_allclose(got.channels["speed"].values, [20.0, 10.0])


def test_a_packed_file_is_unpacked(tmp_path: Path) -> None:
    path = tmp_path / "run.csv.gz"
    with gzip.open(path, "wt") as stream:
        stream.write("Time [s],Seat Z [g],Speed\n0.0,1,36\n0.1,1,36\n")
    assert read_recording(path, WIRES, time=TIME).rows == 2


def test_a_clock_that_is_ahead_is_set_back(tmp_path: Path) -> None:
    wires = {"speed": Wire(title="Speed", clock=0.25)}
    got = read_csv(written(tmp_path / "a.csv", "Time [s],Speed\n0.5,1\n0.75,2\n"), wires, time=TIME)
    np.testing.assert_allclose(got.channels["speed"].time, [0.25, 0.5])


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "empty"),
        ("Time [s],Seat Z [g]\n0,1\n", r"no column for speed \('Speed'\)"),
        ("Time [s],Seat Z [g],Speed\n", "no rows"),
        (
            "Time [s],Seat Z [g],Speed\n0,1,1\n0.2,1,1\n0.1,1,1\n",
            "clock runs backwards near row 3: 0.100 s after 0.200",
        ),
        ("Time [s],Seat Z [g],Speed\n0,1,1\n0.1,stuck,1\n", "cannot be read near row 1"),
        ("Time [s];Seat Z [g];Speed\n0;1;1\n0,1;stuck;1\n", "row 3: Seat Z .g. is 'stuck'; a number is needed"),
        ("Time [s],Seat Z [g],Speed,Speed\n0,1,1,1\n", "more than one column is called Speed"),
        ("\x00\x01\x02", "binary"),
        ("Time [s],Seat Z [g],Speed\n,1,1\n", "no rows with a stamp"),
    ],
)
def test_what_is_wrong_is_said(tmp_path: Path, text: str, words: str) -> None:
    with pytest.raises(LoggerError, match=words):
        read_csv(written(tmp_path / "bad.csv", text), WIRES, time=TIME)


def test_a_file_that_is_not_there_and_one_cut_short(tmp_path: Path) -> None:
    with pytest.raises(LoggerError, match="cannot be read"):
        read_recording(tmp_path / "none.csv", WIRES, time=TIME)
    whole = gzip.compress(b"Time [s],Seat Z [g],Speed\n" + b"".join(b"%d,1,1\n" % i for i in range(5000)))
    (tmp_path / "cut.csv.gz").write_bytes(whole[: len(whole) // 2])
    with pytest.raises(LoggerError, match="cannot be read"):
        read_recording(tmp_path / "cut.csv.gz", WIRES, time=TIME)


def test_mdf_gives_what_text_gives_and_its_faults_are_said(tmp_path: Path) -> None:
    from asammdf import MDF, Signal

    t = np.linspace(0.0, 2.0, 201)
    seat = 1.0 + 0.2 * np.sin(20.0 * t)
    with MDF() as mdf:
        mdf.append(Signal(samples=seat, timestamps=t, name="Seat Z [g]"))
        mdf.append(Signal(samples=np.full(21, 36.0), timestamps=t[::10], name="Speed"))
        place = mdf.save(tmp_path / "run.mf4")
    got = read_recording(place, WIRES, time=TIME)
    np.testing.assert_allclose(got.channels["seat_z"].values, 9.80665 * (seat - 1.0), atol=1e-6)
    assert got.channels["speed"].size == 21
    with pytest.raises(LoggerError, match="no channel for rear"):
        read_recording(place, {"rear": Wire(title="Rear")}, time=TIME)
    (tmp_path / "cut.mf4").write_bytes(Path(place).read_bytes()[:3000])
    with pytest.raises(LoggerError, match=r"cut off: it ends at byte 3000"):
        read_recording(tmp_path / "cut.mf4", WIRES, time=TIME)


def test_memory_does_not_grow_with_the_file(tmp_path: Path) -> None:
    """A tenfold file must not take more memory: it is streamed. The figure for 2 GB is in bench/logger.py."""

    def peak(rows: int) -> int:
        t = np.arange(rows) * 1e-3
        path = tmp_path / f"{rows}.csv"
        with path.open("w") as stream:
            stream.write("Time [s],Seat Z [g],Speed\n")
            np.savetxt(stream, np.stack([t, np.sin(t), t], axis=1), fmt="%.3f", delimiter=",")
        read_csv(path, WIRES, time=TIME)  # what is loaded once does not count
        tracemalloc.start()
        got = read_csv(path, WIRES, time=TIME)
        top = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        assert got.rows == rows
        return top

    small, large = peak(110_000), peak(400_000)
    assert large < 1.3 * small


@given(factor=st.floats(0.01, 100.0), shift=st.floats(-5.0, 5.0))
@settings(max_examples=10, deadline=None)
def test_factor_and_shift(tmp_path_factory: pytest.TempPathFactory, factor: float, shift: float) -> None:
    path = written(tmp_path_factory.mktemp("f") / "a.csv", "Time [s],X\n0,3.5\n1,-2\n")
    got = read_csv(path, {"x": Wire(title="X", factor=factor, shift=shift)}, time=TIME)
    np.testing.assert_allclose(got.channels["x"].values, factor * (np.array([3.5, -2.0]) - shift), rtol=1e-5, atol=1e-5)


def test_a_wiring_without_a_factor_is_refused() -> None:
    with pytest.raises(DomainError, match="factor 0"):
        Wire(title="X", factor=0.0)
