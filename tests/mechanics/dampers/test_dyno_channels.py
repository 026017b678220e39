"""Channels by title, unit, units row and mapping; filter; temperature. All data invented."""

from __future__ import annotations

import math

import numpy as np
import pytest
from dyno_samples import SPEEDS, TRUE, as_text, columns, numbers, rebuild, sine_text

from tussock.errors import DomainError
from tussock.mechanics.dampers import DynoError, DynoTest, read
from tussock.mechanics.dampers.channels import UNITS, split_title
from tussock.mechanics.dampers.dyno_notes import temperature_effect
from tussock.mechanics.dampers.filtering import gain, low_pass

GOOD = sine_text()


def assert_recovers(test: DynoTest, tolerance: float = 6.5) -> None:
    speeds = np.array(SPEEDS)
    assert test.curve.at(speeds) == pytest.approx(TRUE.at(speeds), abs=tolerance)
    assert test.curve.at(-speeds) == pytest.approx(TRUE.at(-speeds), abs=tolerance)


def retitled(*titles: str, delimiter: str = ", ") -> str:
    return rebuild([list(titles), *columns(GOOD)[1:]], delimiter)


@pytest.mark.parametrize(
    "titles",
    [
        ("Lauf", "Zeit [s]", "Weg [mm]", "Kraft [N]"),
        ("run", "t / s", "s / mm", "F / N"),
        ("sweep", "t in s", "x in mm", "F in N"),
        ("RUN", "Time(s)", "Position(mm)", "Load cell (N)"),
        ("run", '"time [s]"', '"travel [mm]"', '"load [N]"'),
    ],
)
def test_titles_that_are_understood(titles: tuple[str, ...]) -> None:
    assert_recovers(read(retitled(*titles), name="titles"))


def test_free_text_above_and_a_row_of_units_below_the_header() -> None:
    rows = columns(GOOD)
    text = "Test bench 2\nDate; 3 May\n\nrun;time;displacement;force\n;s;mm;N\n"
    text += "\n".join(";".join(r).replace(".", ",") for r in rows[1:]) + "\n"
    assert_recovers(read(text, name="units row"))


def test_hand_mapping() -> None:
    text = retitled("nr", "clock", "LVDT 3", "cell 2")
    mapping = {"run": "nr", "time": "clock [s]", "displacement": "LVDT 3 [mm]", "force": "cell 2 [N]"}
    assert_recovers(read(text, name="mapped", channels=mapping))
    with pytest.raises(DynoError, match="no column 'cell 9' for force, as the mapping says; found nr, clock"):
        read(text, name="mapped", channels=mapping | {"force": "cell 9"})
    with pytest.raises(DynoError, match="the mapping names a channel 'power'; there are run, time"):
        read(text, name="mapped", channels=mapping | {"power": "cell 2 [N]"})
    with pytest.raises(DynoError, match="or map the columns by their titles"):
        read(text, name="mapped")
    with pytest.raises(DynoError, match="has no unit; write it as 'cell 2 "):
        read(text, name="mapped", channels=mapping | {"force": "cell 2"})
    both = retitled("run", "time [s]", "displacement [mm]", "cell 2 [N]")
    with pytest.raises(DynoError, match="the column's own unit is 'N'"):
        read(both, name="mapped", channels={"force": "cell 2 [kN]"})


def test_rate_instead_of_time() -> None:
    """One rate for the whole file; runs by their number."""
    run, time, move, force = numbers(sine_text(speeds=(0.13, 0.26, 0.52)))
    parts = []
    for number in np.unique(run):
        of = run == number
        even = np.arange(time[of][0], time[of][-1], 2e-3)
        parts.append(
            (np.full(even.size, number), np.interp(even, time[of], move[of]), np.interp(even, time[of], force[of]))
        )
    number, x, f = (np.concatenate(a) for a in zip(*parts, strict=True))
    text = "run, displacement [mm], force [N]\n" + "".join(
        f"{a:g}, {b:.3f}, {c:.1f}\n" for a, b, c in zip(number, x, f, strict=True)
    )
    test = read(text, name="rate", rate=500.0)
    assert [r.peak_velocity for r in test.runs] == pytest.approx([0.13, 0.26, 0.52], rel=5e-3)
    with pytest.raises(DynoError, match=r"no column for time; .*or state the sampling rate"):
        read(text, name="rate")
    with pytest.raises(DynoError, match="leave the rate out"):
        read(GOOD, name="rate", rate=500.0)
    with pytest.raises(DynoError, match="the sampling rate is 0 Hz; it must be above 0"):
        read(text, name="rate", rate=0.0)


def test_units_by_definition() -> None:
    """NIST SP 811 (2008), appendix B: inch 25.4 mm, pound 0.453 592 37 kg, gravity 9.806 65 m/s2; 32 F is 0 C."""
    assert UNITS["displacement"]["in"][0] == 0.0254
    assert UNITS["force"]["lbf"][0] == pytest.approx(4.4482216152605, rel=1e-14)
    factor, offset = UNITS["temperature"]["degF"]
    assert 32.0 * factor + offset == pytest.approx(273.15, abs=1e-12)
    assert 212.0 * factor + offset == pytest.approx(373.15, abs=1e-12)
    for table in UNITS.values():
        assert all(f > 0.0 and math.isfinite(o) for f, o in table.values())
    assert split_title("Temperatur (°C)") == ("Temperatur", "°C")


def test_inches_and_pounds() -> None:
    rows = columns(GOOD)
    text = rebuild(
        [
            ["run", "time [s]", "position [in]", "load [lbf]"],
            *([r[0], r[1], f"{float(r[2]) / 25.4:.6f}", f"{float(r[3]) / 4.4482216152605:.4f}"] for r in rows[1:]),
        ]
    )
    assert_recovers(read(text, name="inches"))


def test_temperature_by_run() -> None:
    """It warms by 3 K a run; an empty cell is no reading."""
    rows = columns(GOOD)
    warm = [[*r, "" if i % 7 else f"{17.0 + 3.0 * int(r[0]):.1f}"] for i, r in enumerate(rows[1:])]
    test = read(rebuild([[*rows[0], "temperature [degC]"], *warm]), name="warm")
    assert [r.mean_temperature for r in test.runs] == pytest.approx([293.15 + 3.0 * i for i in range(6)])
    assert test.points[0].temperature == pytest.approx(308.15)
    assert "the damper was between 20 and 35 °C" in test.warnings[-1]


def test_fade_from_a_speed_that_was_run_twice() -> None:
    """The run at 0.52 m/s once more, 20 K hotter and 4 % weaker: -0.2 % per K."""
    run, time, move, force = numbers(sine_text(speeds=(0.005, 0.13, 0.26, 0.52, 0.52)))
    weak = np.where(run == 5, 110.0 + 0.96 * (force - 110.0), force)
    degrees = np.where(run == 5, 41.0, 21.0)
    text = "run, time [s], displacement [mm], force [N], temp [degC]\n" + "".join(
        f"{a:g}, {b:.6f}, {c:.3f}, {d:.2f}, {e:.1f}\n"
        for a, b, c, d, e in zip(run, time, move, weak, degrees, strict=True)
    )
    test = read(text, name="fade")
    assert temperature_effect(test.runs) == pytest.approx(-0.002, abs=2e-4)
    assert "its force changed by -0.2 % per K" in test.warnings[-1]
    assert temperature_effect(read(GOOD, name="cold").runs) is None


def test_filter_states_its_cutoff_and_shifts_nothing() -> None:
    plain, smooth = (
        read(GOOD, name="plain"),
        read(sine_text(force_noise=20.0, samples_per_cycle=400), name="s", cutoff=100.0),
    )
    assert plain.cutoff is None
    assert smooth.cutoff == 100.0
    assert_recovers(smooth, 15.0)
    assert all(r.filter_change < 15.0 for r in smooth.moving)
    assert any(r.filter_change > 0.0 for r in smooth.moving)
    with pytest.raises(DynoError, match=r"run 6: a filter at 20 Hz rounds off the peaks of a run at 3\.34 Hz"):
        read(sine_text(samples_per_cycle=400), name="low", cutoff=20.0)
    with pytest.raises(DynoError, match="run 1: a filter at 300 Hz does nothing to samples at"):
        read(GOOD, name="high", cutoff=300.0)


@pytest.mark.parametrize("frequency", [0.5, 20.0, 50.0, 120.0])
def test_gain_of_the_filter_in_closed_form(frequency: float) -> None:
    """A sine through the filter keeps its phase and is left with the stated gain, 1/sqrt(2) at the cut-off."""
    time = np.arange(0.0, 4.0, 5e-4)
    wave = np.sin(2 * np.pi * frequency * time)
    out = low_pass(time, wave, cutoff=50.0, frequency=0.5)
    inner = slice(2000, 6000)
    columns_ = np.stack([np.sin(2 * np.pi * frequency * time), np.cos(2 * np.pi * frequency * time)], axis=1)[inner]
    (with_it, across), *_ = np.linalg.lstsq(columns_, out[inner], rcond=None)
    assert with_it == pytest.approx(gain(frequency, 50.0), abs=3e-3)
    assert across == pytest.approx(0.0, abs=1e-3)
    assert gain(50.0, 50.0) == pytest.approx(1.0 / math.sqrt(2.0))


def test_filter_refuses_what_would_spoil() -> None:
    time = np.arange(0.0, 1.0, 1e-3)
    with pytest.raises(DomainError, match="rounds off"):
        low_pass(time, time, cutoff=10.0, frequency=2.0)
    with pytest.raises(DomainError, match="does nothing"):
        low_pass(time, time, cutoff=600.0, frequency=2.0)


def test_velocity_that_contradicts_the_displacement() -> None:
    run, time, move, force = numbers(sine_text(speeds=(0.005, 0.13, 0.26, 0.52)))
    speed = np.concatenate([np.gradient(move[run == k] * 1e-3, time[run == k]) for k in np.unique(run)])

    def text(factor: float) -> str:
        body = as_text(run, time, move, force).splitlines()
        return "\n".join(
            [body[0] + ", velocity [m/s]", *(f"{a}, {factor * b:.4f}" for a, b in zip(body[1:], speed, strict=True))]
        )

    assert len(read(text(1.0), name="v").runs) == 4
    with pytest.raises(DynoError, match=r"run 2 \(from line \d+\): the velocity channel has the other sign"):
        read(text(-1.0), name="v")
    with pytest.raises(DynoError, match="one of the units is wrong, or the time is"):
        read(text(60.0), name="v")
