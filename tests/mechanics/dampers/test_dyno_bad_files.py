"""Dyno files that went wrong on the way, each refused with the run or line it went wrong in. All data invented."""

from __future__ import annotations

import re

import numpy as np
import pytest
from dyno_samples import SPEEDS, as_text, columns, numbers, rebuild, sine_text, steady_text

from tussock.mechanics.dampers import DynoError, read, read_bytes, read_file

GOOD = sine_text()


def refused(text: str, **options: object) -> str:
    with pytest.raises(DynoError) as caught:
        read(text, name="front-b.csv", **options)  # type: ignore[arg-type]
    assert all(line.startswith("front-b.csv: ") for line in str(caught.value).splitlines())
    return str(caught.value)


def without_runs(text: str = GOOD) -> str:
    return rebuild([row[1:] for row in columns(text)])


def test_rows_in_reverse_order() -> None:
    head, *rows = GOOD.splitlines()
    for text in (
        "\n".join([head, *reversed(rows)]),
        "\n".join(line.split(",", 1)[1] for line in [head, *reversed(rows)]),
    ):
        said = refused(text + "\n")
        assert re.search(r"time runs backwards, from 115\.465\d s on line 2 to \d\.\d+ s on line 1081", said)
        assert "the file is reversed; sort its rows by time" in said
        assert len(said.splitlines()) == 1


def test_rows_in_reverse_order_under_a_time_that_rises() -> None:
    """Time was written anew: the damper then gives work, as it does with a swapped sign."""
    run, time, move, force = numbers(GOOD)
    backwards = as_text(7 - run[::-1], time[-1] - time[::-1], move[::-1], force[::-1])
    said = refused(backwards)
    assert "gives work to the dyno in every cycle" in said
    assert "or the rows run backwards in time" in said


@pytest.mark.parametrize("seed", range(8))
def test_cut_off_within_a_line(seed: int) -> None:
    """Cut after any byte: either a whole number of good runs is left, or the end of the file is named."""
    at = int(np.random.default_rng(seed).integers(200, len(GOOD) - 2))
    text = GOOD[:at]
    said = refused(text)
    last = text.count("\n") + 1
    assert any(
        word in said
        for word in (
            f"line {last}: ",
            "is the file cut off within it?",
            "samples; at least 40",
            "a curve needs at least 3 speeds",
        )
    ), said


def test_cut_off_within_a_run() -> None:
    lines = GOOD.splitlines()
    said = refused("\n".join(lines[: 1 + 180 * 5 + 80]) + "\n")
    assert re.search(r"run 6 \(from line 902\): 0\.6\d cycles; at least one whole cycle is needed", said)
    assert "is the file cut off within it?" in said


def test_cut_off_line_is_said_to_be() -> None:
    lines = GOOD.splitlines()
    said = refused("\n".join(lines)[: -len(lines[-1]) // 2 - 6])
    assert "the file ends within this line, is it cut off?" in said


@pytest.mark.parametrize("rail", [600.0, 900.0])
def test_saturated_force(rail: float) -> None:
    run, time, move, force = numbers(GOOD)
    said = refused(as_text(run, time, move, np.clip(force, -rail, rail)))
    assert re.search(rf"run \d, line \d+: the force stands at -{rail:.0f} N, its lowest, for \d+ samples", said)
    assert "the channel is saturated; choose a larger range and test again" in said


def test_saturated_force_of_steady_runs() -> None:
    """There the force may truly stand still; that all fast runs have the same rail gives it away."""
    run, time, move, force = numbers(steady_text(speeds_in=(0.005, *SPEEDS)))
    said = refused(as_text(run, time, move, np.clip(force, -700.0, 1e6)))
    assert re.search(r"runs 4, 5, 6 at different speeds all have exactly -700 N as their lowest force", said)


def test_saturated_displacement() -> None:
    run, time, move, force = numbers(GOOD)
    said = refused(as_text(run, time, np.clip(move, -35.0, 35.0), force))
    assert "the displacement stands still at 35.00 mm" in said or "stands still at -35.00 mm" in said


def test_a_dead_force_channel() -> None:
    run, time, move, force = numbers(GOOD)
    force[np.flatnonzero(run == 4)[20:90]] = 115.0
    said = refused(as_text(run, time, move, force))
    assert re.search(r"run 4, line \d+: the force stands still at 115 N for 70 samples", said)


def test_two_sweeps_glued_with_their_run_numbers() -> None:
    other = sine_text(seed=9)
    said = refused(GOOD + other.split("\n", 1)[1])
    assert "line 1082: run 1 comes back after it began on line 2; two sweeps are glued together" in said


def test_two_files_glued_with_their_headers() -> None:
    said = refused(GOOD + sine_text(seed=9))
    assert "line 1082: a second header; two files are glued together, read each by itself" in said


def test_two_dampers_glued_without_run_numbers() -> None:
    """Time begins anew and the forces differ by more than two units of one kind may."""
    run, time, move, force = numbers(GOOD)
    firm = without_runs(as_text(run, time, move, 110.0 + 1.4 * (force - 110.0)))
    said = refused(without_runs() + firm.split("\n", 1)[1])
    assert re.search(r"runs \d+ and \d+, both at 0\.05 m/s, differ by \d+ N in rebound, more than two dampers", said)
    assert "are two sweeps glued together? read each by itself" in said


def test_the_same_damper_twice_is_taken_together_and_said_to_be() -> None:
    test = read(without_runs() + without_runs(sine_text(seed=9)).split("\n", 1)[1], name="twice")
    assert len(test.runs) == 12
    assert "time begins anew on line 1082: several sweeps in one file" in test.warnings[0]


def speeds_without_pause() -> str:
    """Four speeds one after the other without a pause, each beginning where the one before ended."""
    time, move, force, clock = [], [], [], 0.0
    for speed, cycles in ((0.005, 2.0), (0.13, 3.0), (0.26, 3.0), (0.52, 3.0)):
        omega = speed / 0.05
        t = np.arange(0.0, cycles * 2 * np.pi / omega, 2 * np.pi / omega / 200)
        v = 0.05 * omega * np.cos(omega * t)
        time.append(clock + t)
        move.append(50.0 * np.sin(omega * t))
        force.append(110.0 + 1800.0 * v + 30.0 * np.tanh(v / 1e-4) - 600.0 * np.minimum(v, 0.0) * -1.0)
        clock = time[-1][-1] + (t[1] - t[0])
    at, x, f = (np.concatenate(a) for a in (time, move, force))
    noise = np.random.default_rng(4).normal(0.0, 2.0, at.size)
    return as_text(np.ones(at.size), at, x, f + noise)


def test_speeds_glued_without_a_pause() -> None:
    said = refused(speeds_without_pause())
    assert "speeds are glued together without a pause" in said or "a gap of" in said
    fast = "\n".join([GOOD.splitlines()[0], *speeds_without_pause().splitlines()[401:]]) + "\n"
    said = refused(fast)
    assert "a gap" in said or re.search(
        r"3 speeds are glued together without a pause: 0\.130 m/s from line 2, 0\.260 m/s from line \d+", said
    )


def test_speeds_glued_without_a_pause_are_parted_on_request() -> None:
    """Sampled at an even rate, so that no gap tells where a speed begins."""
    _, time, move, force = numbers(speeds_without_pause())
    even = np.arange(time[400] + 1e-3, time[-1], 1e-3)
    text = as_text(np.ones(even.size), even, np.interp(even, time, move), np.interp(even, time, force))
    assert "speeds are glued together without a pause" in refused(text)
    test = read(text, name="glued", split=True)
    assert [round(r.peak_velocity, 2) for r in test.runs] == [0.13, 0.26, 0.52]
    assert any("was parted where its speed changes" in w for w in test.warnings)
    assert test.curve.force_at(0.52) == pytest.approx(1800.0 * 0.52, rel=0.02)


def test_sampled_too_slowly() -> None:
    run, time, move, force = numbers(GOOD)
    kept = (run < 6) | (np.arange(run.size) % 4 == 0)
    said = refused(as_text(run[kept], time[kept], move[kept], force[kept]))
    assert re.search(r"run 6 \(from line 902\): 31 samples in a cycle; at least 40 are needed, sample at \d+ Hz", said)


def test_a_rate_that_is_stated_wrong_shows_in_the_velocity_channel() -> None:
    run, time, move, force = numbers(sine_text(speeds=(0.005, 0.13, 0.26, 0.52)))
    rows = [["run", "time [s]", "displacement [mm]", "force [N]", "velocity [m/s]"]]
    for number in np.unique(run):
        of = run == number
        speed = np.gradient(move[of] * 1e-3, time[of])
        rows += [
            [f"{number:g}", f"{2.0 * a:.5f}", f"{b:.3f}", f"{c:.1f}", f"{d:.4f}"]
            for a, b, c, d in zip(time[of], move[of], force[of], speed, strict=True)
        ]
    said = refused(rebuild(rows))
    assert re.search(r"run 2 \(from line \d+\): the velocity channel shows [12]\.\d\d times the change", said)


def test_aliased_fast_run() -> None:
    """A run at 1.05 m/s sampled just below its own frequency looks like a slow one, with all its force."""
    run, time, move, force = numbers(GOOD)
    slow, fast = run == 1, run == 6
    move[slow], force[slow] = move[fast], force[fast]
    said = refused(as_text(run, time, move, force))
    assert "was the slow run sampled too slowly (aliased), so that it only looks slow?" in said


def test_time_with_too_few_decimals() -> None:
    rows = columns(GOOD)
    coarse = rebuild([rows[0], *([r[0], f"{float(r[1]):.2f}", *r[2:]] for r in rows[1:])])
    assert "is the time written with too few decimals? state the sampling rate instead" in refused(coarse)


def test_a_temperature_that_no_damper_has() -> None:
    rows = columns(GOOD)
    hot = rebuild(
        [[*rows[0], "oil temperature [degC]"], *([*r, "21.0" if i else "850.0"] for i, r in enumerate(rows[1:]))]
    )
    assert "run 1, line 2: a temperature of 850 °C" in refused(hot)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_encodings(encoding: str) -> None:
    """Windows writes all of these; only the title with a degree sign can tell them apart."""
    rows = columns(GOOD)
    text = rebuild([[*rows[0], "Temperatur [°C]"], *([*r, "21.5"] for r in rows[1:])], "; ")
    test = read_bytes(text.encode(encoding), name="other")
    assert test.mean_temperature == pytest.approx(294.65)


def test_bytes_that_are_no_text() -> None:
    for raw, said in (
        (b"\x89PNG\x00\x01\x02", "the file is binary"),
        ("force [N]".encode("utf-16")[:-1], "begins as UTF-16 text"),
        (b"", "the file is empty"),
    ):
        with pytest.raises(DynoError, match=said):
            read_bytes(raw, name="bytes")


def test_files_that_cannot_be_had(tmp_path) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(DynoError, match="cannot be read: No such file"):
        read_file(tmp_path / "none.csv")
    with pytest.raises(DynoError, match="cannot be read"):
        read_file(tmp_path)
    (tmp_path / "good.csv").write_text(GOOD, encoding="utf-8")
    assert read_file(tmp_path / "good.csv").name == "good.csv"
