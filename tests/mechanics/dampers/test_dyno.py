"""Dyno sweeps: what was put in comes back, and bad files are refused in words. All data invented."""

from __future__ import annotations

import contextlib
import itertools
import math
import re
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tussock.errors import DomainError, InputError
from tussock.mechanics.dampers import DynoError, DynoTest, ForceCurve, read, synthesise
from tussock.mechanics.dampers.sine_run import fit_sine, peak_force, work_and_stiffness

SPEEDS = (0.05, 0.13, 0.26, 0.52, 1.05)
TRUE = ForceCurve.from_points(
    speeds=SPEEDS,
    compression=(105, 235, 375, 555, 920),
    rebound=(240, 600, 920, 1310, 2020),
    gas_force=110.0,
    friction=34.0,
    name="front B",
)


def sweeps(**change: object) -> str:
    options: dict[str, object] = {
        "speeds": (0.005, *SPEEDS),
        "stroke": 0.1,
        "seed": 5,
        "cycles": 1.5,
        "samples_per_cycle": 120,
    }
    return synthesise(TRUE, **(options | change))  # type: ignore[arg-type]


GOOD = sweeps()


def columns(text: str) -> list[list[str]]:
    return [[c.strip() for c in line.split(",")] for line in text.splitlines()]


def rebuild(rows: list[list[str]], delimiter: str = ", ") -> str:
    return "\n".join(delimiter.join(r) for r in rows) + "\n"


def times(column: int, factor: float, text: str = GOOD) -> str:
    rows = columns(text)
    return rebuild([rows[0], *([*r[:column], f"{float(r[column]) * factor:.6g}", *r[column + 1 :]] for r in rows[1:])])


def assert_recovers(test: DynoTest, tolerance: float) -> None:
    speeds = np.array(SPEEDS)
    assert test.curve.at(speeds) == pytest.approx(TRUE.at(speeds), abs=tolerance)
    assert test.curve.at(-speeds) == pytest.approx(TRUE.at(-speeds), abs=tolerance)
    assert test.curve.gas_force == pytest.approx(110.0, abs=tolerance)
    assert test.curve.friction == pytest.approx(34.0, abs=tolerance)


@pytest.mark.parametrize("seed", range(6))
def test_curve_comes_back_within_the_noise(seed: int) -> None:
    """Sensor noise 4 N: a peak force rests on some 20 samples, so 3 standard errors are about 4 N; 6 N is allowed
    since the friction and gas force of the slow run carry their own error."""
    test = read(sweeps(seed=seed), name="front-b.csv")
    assert_recovers(test, 6.0)
    assert test.warnings == ()
    assert test.scatter < 4.0
    assert [r.number for r in test.runs] == [1, 2, 3, 4, 5, 6]


def test_without_noise_the_curve_is_exact() -> None:
    """What is left is the parabola over the peak and the opened loop: below 0.2 % of 2000 N."""
    test = read(sweeps(force_noise=0.0, displacement_noise=0.0, force_step=0.1), name="quiet")
    assert_recovers(test, 2.5)


def test_fast_sampling_does_not_hide_the_slow_run() -> None:
    """At 2,000 samples a cycle the differenced displacement is all noise; the fitted sine is not."""
    test = read(sweeps(samples_per_cycle=2000, displacement_noise=5e-5, speeds=(0.005, 0.13, 0.26, 0.52)), name="fine")
    assert test.curve.friction == pytest.approx(34.0, abs=3.0)
    assert test.curve.gas_force == pytest.approx(110.0, abs=3.0)


def test_gas_spring_does_not_count_as_damping() -> None:
    """A gas force that rises 2 N/mm with the rod going in leaves curve and energy alone."""
    test = read(sweeps(gas_rate=2000.0, cycles=2.0), name="gas")
    assert_recovers(test, 6.0)
    for run in test.runs[1:]:
        expected = TRUE.energy_per_cycle(amplitude=run.amplitude, frequency=run.frequency)
        assert run.energy == pytest.approx(expected, rel=0.02)


def test_run_figures() -> None:
    test = read(GOOD, name="front-b.csv")
    for run, speed in zip(test.runs, (0.005, *SPEEDS), strict=True):
        assert run.stroke == pytest.approx(0.1, rel=2e-4)
        assert run.peak_velocity == pytest.approx(speed, rel=2e-3)
        expected = TRUE.energy_per_cycle(amplitude=0.05, frequency=speed / (0.1 * math.pi))
        assert run.energy == pytest.approx(expected, rel=0.03)


@settings(max_examples=20, deadline=None)
@given(
    frequency=st.floats(0.02, 4.0), phase=st.floats(-3.0, 3.0), cycles=st.floats(1.05, 4.0), start=st.floats(0.0, 90.0)
)
def test_sine_fit(frequency: float, phase: float, cycles: float, start: float) -> None:
    """Frequency, amplitude and middle of a noisy sine (seed 3) whose sampling is uneven."""
    rng = np.random.default_rng(3)
    count = int(150 * cycles)
    time = start + np.sort(rng.uniform(0.0, cycles / frequency, count))
    x = 0.02 + 0.04 * np.sin(2 * np.pi * frequency * time + phase) + rng.normal(0.0, 2e-5, count)
    sine = fit_sine(time, x)
    assert sine.frequency == pytest.approx(frequency, rel=1e-3)
    assert sine.amplitude == pytest.approx(0.04, rel=1e-3)
    assert sine.middle == pytest.approx(0.02, abs=5e-5)
    assert sine.misfit < 1e-3


def test_linear_damper_by_hand() -> None:
    """F = c v + k x + gas: the peak force is c times the peak velocity, the work pi c w X^2 (closed forms)."""
    time = np.linspace(0.0, 2.0, 801)
    omega, amplitude, c = 2 * np.pi * 1.3, 0.05, 1800.0
    x = amplitude * np.sin(omega * time)
    force = c * amplitude * omega * np.cos(omega * time) + 2000.0 * x + 110.0
    sine = fit_sine(time, x)
    work, stiffness = work_and_stiffness(sine, time, force)
    assert work == pytest.approx(math.pi * c * omega * amplitude**2, rel=1e-4)
    assert stiffness == pytest.approx(2000.0, rel=1e-3)
    peak, _ = peak_force(sine, time, force, 1)
    # a parabola within 25 degrees misses a cosine's top by a hundredth of a per cent
    assert peak - 110.0 == pytest.approx(c * amplitude * omega, rel=3e-4)


@pytest.mark.parametrize(
    "change",
    [
        lambda text: text.replace(",", ";").replace(".", ","),
        lambda text: text.replace(", ", "\t"),
        lambda text: "\ufeff# invented\n\n" + text,
        lambda text: text.replace("\n", "\r\n"),
        lambda text: text.replace("force [N]", "Force (N)"),
        lambda text: times(3, 1e-3, text).replace("force [N]", "force [kN]"),
        lambda text: times(1, 1e3, text).replace("time [s]", "time [ms]"),
        lambda text: times(2, 1e-3, text).replace("displacement [mm]", "displacement [m]"),
        lambda text: times(2, 1e-1, text).replace("displacement [mm]", "displacement [cm]"),
        lambda text: rebuild([[*reversed(r), "21.5"] for r in columns(text)]).replace("run, 21.5", "run, oil [C]"),
    ],
    ids=["semicolon", "tabulator", "comment", "crlf", "brackets", "kN", "ms", "m", "cm", "order"],
)
def test_other_ways_of_writing_the_same(change: Callable[[str], str]) -> None:
    assert_recovers(read(change(GOOD), name="other"), 6.5)


def test_without_run_numbers_pauses_part_the_runs() -> None:
    rows = columns(GOOD)
    test = read(rebuild([r[1:] for r in rows]), name="pauses")
    assert len(test.runs) == 6
    assert_recovers(test, 6.0)


def test_without_a_slow_run_the_turns_tell_gas_and_friction() -> None:
    """Noise 4 N over some 60 slow samples a turn: 6 N is allowed, and the error that is stated must cover the miss."""
    test = read(sweeps(speeds=SPEEDS), name="no slow run")
    assert len(test.warnings) == 1
    assert "no run at or below 12 mm/s" in test.warnings[0]
    assert_recovers(test, 6.0)
    assert test.rest.method == "turns of the sine runs"
    assert abs(test.rest.gas - 110.0) < 3.0 * test.rest.gas_error < 20.0
    assert abs(test.rest.friction - 34.0) < 3.0 * test.rest.friction_error < 20.0


def test_runs_at_one_speed_are_averaged() -> None:
    test = read(sweeps(speeds=(0.005, 0.13, 0.13, 0.26, 0.52)), name="twice")
    assert test.curve.velocity.size == 7


def test_soft_mount_is_noticed() -> None:
    test = read(sweeps(stiffness=9e4), name="soft")
    assert any("soft mount" in w for w in test.warnings)


def test_firm_compression_is_noticed() -> None:
    curve = TRUE.mirrored()
    text = synthesise(curve, speeds=(0.005, 0.13, 0.26, 0.52), stroke=0.1, seed=2)
    assert "compression exceeds rebound" in read(text, name="mirrored").warnings[0]


def refused(text: str) -> str:
    with pytest.raises(DynoError) as caught:
        read(text, name="front-b.csv")
    assert isinstance(caught.value, InputError)
    assert all(line.startswith("front-b.csv: ") for line in str(caught.value).splitlines())
    return str(caught.value)


def test_swapped_signs() -> None:
    """With gas in the damper its push tells which column is the other way round."""
    assert re.search(r"gives work to the dyno.*; force has the other sign", refused(times(3, -1.0)))
    assert re.search(r"gives work to the dyno.*; displacement has the other sign", refused(times(2, -1.0)))
    both = refused(times(3, -1.0, times(2, -1.0)))
    assert "the gas force comes out as -1" in both
    assert "displacement and force both have the other sign" in both


def test_swapped_sign_without_gas() -> None:
    curve = ForceCurve.from_points(speeds=(0.13, 0.26, 0.52), compression=(235, 375, 555), rebound=(600, 920, 1310))
    text = synthesise(curve, speeds=(0.005, 0.13, 0.26, 0.52), stroke=0.1, seed=2)
    assert "displacement or force has the other sign" in refused(times(3, -1.0, text))


def test_missing_columns() -> None:
    said = refused(GOOD.replace("force [N]", "pull [N]"))
    assert "line 1: no column for force; found run, time [s], displacement [mm], pull [N]" in said
    assert "expected 'run, time [s], displacement [mm], force [N]'" in said
    assert "no column for time, displacement, force" in refused("1, 2, 3\n4, 5, 6\n")


def test_units() -> None:
    assert "line 1: column 'force' has unit 'stone'" in refused(GOOD.replace("force [N]", "force [stone]"))
    assert "line 1: column 'time' has no unit; write it as 'time [s]'" in refused(GOOD.replace("time [s]", "time"))
    assert "column 'force' stands twice" in refused(GOOD.replace("time [s]", "force [N]"))


def test_wrong_unit_of_the_numbers() -> None:
    assert "is it in the stated unit?" in refused(times(2, 1e-3))
    assert "is the displacement in mm?" in refused(GOOD.replace("displacement [mm]", "displacement [m]"))
    assert "is the force in the stated unit?" in refused(GOOD.replace("force [N]", "force [kN]"))


def test_every_bad_line_is_named_at_once() -> None:
    lines = GOOD.splitlines()
    lines[9] = lines[9].rsplit(",", 1)[0] + ", nan"
    lines[19] = lines[19].rsplit(",", 1)[0] + ", inf"
    lines[29] = lines[29].rsplit(",", 1)[0] + ", n/a"
    lines[39] = lines[39].rsplit(",", 1)[0]
    lines[49] = lines[49].rsplit(",", 1)[0] + ", 1_000"
    lines[59] = lines[59].rsplit(",", 1)[0] + ", 1e999"
    said = refused("\n".join(lines))
    assert "line 10: force is 'nan'; a finite number is needed" in said
    assert "line 20: force is 'inf'" in said
    assert "line 30: force is 'n/a'; a number is needed" in said
    assert "line 40: 3 columns, the header has 4" in said
    assert "line 50: force is '1_000'" in said
    assert "line 60: force is '1e999', larger than any number" in said
    assert len(said.splitlines()) == 6


def test_bad_lines_and_signs_come_together() -> None:
    lines = times(3, -1.0).splitlines()
    lines[9] = lines[9].rsplit(",", 1)[0] + ", nan"
    said = refused("\n".join(lines))
    assert "line 10: force is 'nan'" in said
    assert "force has the other sign" in said


def test_many_bad_lines_are_counted() -> None:
    rows = columns(GOOD)
    said = refused(rebuild([rows[0], *([*r[:3], "x"] for r in rows[1:60]), *rows[60:]]))
    assert "and 39 more lines like these" in said


def test_decimal_comma() -> None:
    rows = columns(GOOD)
    mixed = rebuild([rows[0], *([*r[:3], r[3].replace(".", ",")] for r in rows[1:3]), *rows[3:]], ";")
    assert "use one of them throughout" in refused(mixed)
    parted_by_the_same = rebuild([rows[0], *([c.replace(".", ",") for c in r] for r in rows[1:])], ",")
    assert "line 2: 7 columns, the header has 4; is it a decimal comma? then part the columns by ';'" in refused(
        parted_by_the_same
    )


def test_gap_in_time() -> None:
    lines = GOOD.splitlines()
    said = refused("\n".join(lines[:260] + lines[280:]))
    assert re.search(r"run 2, line 261: a gap of \d+\.\d ms at \d+\.\d+ s", said)


def test_time_that_runs_backwards() -> None:
    lines = GOOD.splitlines()
    said = refused("\n".join([*lines[:60], lines[55], *lines[60:]]))
    assert "run 1, line 61: time does not rise" in said
    assert "are two runs mixed under one number?" in said


def test_too_few_samples_and_cycles() -> None:
    assert "samples in a cycle; at least 40 are needed" in refused(sweeps(samples_per_cycle=30))
    assert "cycles; at least one whole cycle is needed" in refused(sweeps(cycles=0.6))
    assert "17 samples; at least 40" in refused("\n".join(GOOD.splitlines()[:18]))
    assert "2 different speeds above 12 mm/s; a curve needs at least 3 speeds" in refused(
        sweeps(speeds=(0.005, 0.13, 0.26))
    )
    assert "no samples below the header on line 1" in refused(GOOD.splitlines()[0])


def test_constant_columns() -> None:
    rows = columns(GOOD)
    still = rebuild([rows[0], *([*r[:3], "12.0"] for r in rows[1:])])
    assert "the force is 12 N throughout; is the load cell connected?" in refused(still)
    stuck = rebuild([rows[0], *([*r[:2], "5.0", r[3]] for r in rows[1:])])
    assert "the displacement moves by 0.00 mm only" in refused(stuck)


def test_several_speeds_under_one_number() -> None:
    rows = columns(GOOD)
    one = rebuild([rows[0], *(["1", *r[1:]] for r in rows[181:])])
    said = refused(one)
    assert "a gap of" in said or "is not one sine" in said
    triangle = rebuild(
        [rows[0], *(["1", f"{i * 0.01:.2f}", f"{40.0 * abs((i * 0.01) % 1.0 - 0.5):.3f}", "5.0"] for i in range(400))]
    )
    assert "is not one sine" in refused(triangle) or "throughout" in refused(triangle)


def test_run_numbers_must_be_whole() -> None:
    rows = columns(GOOD)
    assert "line 2: run numbers must be whole" in refused(rebuild([rows[0], ["1.5", *rows[1][1:]], *rows[2:]]))


def test_forces_that_make_no_curve() -> None:
    """Forces of the fastest run taken times 0.3: the curve would fall."""
    rows = columns(GOOD)
    weak = [[*r[:3], f"{float(r[3]) * 0.3:.1f}"] if r[0] == "6" else r for r in rows[1:]]
    said = refused(rebuild([rows[0], *weak]))
    assert re.search(r"run 6 at 1\.050 m/s has \d+ N less rebound than run 5 at 0\.520 m/s", said)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "the file is empty; expected a header"),
        ("\n \n# only a comment\n", "the file is empty"),
        ("\x89PNG\x00\x01", "the file is binary"),
        ("a" * 41_000_000, "sweeps have at most 40 MB"),
    ],
    ids=["empty", "comment", "binary", "huge"],
)
def test_files_that_are_no_sweeps(text: str, said: str) -> None:
    assert said in refused(text)


@settings(max_examples=60, deadline=None)
@given(text=st.text(max_size=400))
def test_any_text_is_refused_in_words(text: str) -> None:
    with pytest.raises(DynoError):
        read(text, name="noise")


@settings(max_examples=40, deadline=None)
@given(data=st.data())
def test_a_spoilt_file_never_ends_in_a_traceback(data: st.DataObject) -> None:
    lines = GOOD.splitlines()
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(lines) - 1))
        lines[at] = data.draw(
            st.sampled_from(["", "1,2,3,4", "x", lines[at][::-1], lines[0], lines[at] + ",1", "-1,0,0,0"])
        )
    with contextlib.suppress(DynoError):
        read("\n".join(lines), name="spoilt")


def test_synthesis_is_repeatable_and_checked() -> None:
    assert sweeps() == GOOD
    assert sweeps(seed=6) != GOOD
    with pytest.raises(DomainError, match="must be positive"):
        sweeps(stroke=0.0)
    with pytest.raises(DomainError, match="noise cannot be negative"):
        sweeps(force_noise=-1.0)


def test_a_lopsided_bleed_is_taken_off_the_slow_run() -> None:
    """Without noise: the slow run taken at its face says 20 N less gas and 30 N more friction."""
    curve = ForceCurve.from_points(
        speeds=(0.011, 0.05, 0.13, 0.26, 0.52),
        compression=(10, 60, 180, 330, 500),
        rebound=(60, 300, 640, 950, 1300),
        gas_force=110.0,
        friction=34.0,
    )
    text = synthesise(
        curve,
        speeds=(0.011, 0.05, 0.13, 0.26, 0.52),
        stroke=0.1,
        seed=1,
        force_noise=0.0,
        displacement_noise=0.0,
        force_step=0.1,
    )
    test = read(text, name="bleed")
    assert test.rest.gas == pytest.approx(110.0, abs=6.0)
    assert test.rest.friction == pytest.approx(34.0, abs=6.0)
    assert abs(test.rest.gas - 110.0) < 2.0 * test.rest.gas_error
    assert abs(test.rest.friction - 34.0) < 2.0 * test.rest.friction_error


def test_free_travel_is_noticed() -> None:
    """The fastest run without force on the first quarter of each stroke: the peak stays, the loop thins."""
    rows = columns(GOOD)
    fast = [i for i, r in enumerate(rows) if r[0] == "6"]
    for before, at in itertools.pairwise(fast):
        x, going_in = float(rows[at][2]), float(rows[at][2]) > float(rows[before][2])
        if (going_in and x < -20.0) or (not going_in and x > 20.0):
            rows[at][3] = "110.0"
    warnings = read(rebuild(rows), name="free travel").warnings
    assert any(w.startswith("run 6: the loop takes") and "free travel" in w for w in warnings)


def test_a_noisy_load_cell_is_noticed() -> None:
    warnings = read(sweeps(force_noise=60.0), name="noisy").warnings
    assert any("run 2: the peak force scatters by" in w for w in warnings)


def test_gas_spring_shows_as_stiffness() -> None:
    test = read(sweeps(gas_rate=2000.0, cycles=2.0), name="gas")
    assert test.runs[0].stiffness == pytest.approx(2000.0, rel=0.05)
