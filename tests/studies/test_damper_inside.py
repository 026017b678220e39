"""What is inside the invented Tarn's dampers: words of a change, contributions, heat, and where forces come from."""

from __future__ import annotations

import importlib.util
import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from tussock.errors import InputError
from tussock.mechanics.dampers.build import DamperBuild, StackValve
from tussock.mechanics.dampers.stack import Disc
from tussock.record import loads
from tussock.studies import damper_builds as builds
from tussock.studies import damper_heat, damper_inside, damper_loop, damper_sheet, dampers, drive, model, parts
from tussock.studies.job import KERB, Job, Setup

ROOT = Path(__file__).parents[2]
B1, B2, B3 = (Setup("bare", b) for b in ("B1", "B2", "B3"))


def tool() -> ModuleType:
    """The script that writes the demo's sweeps."""
    spec = importlib.util.spec_from_file_location("make_tarn_dyno", ROOT / "tools" / "make_tarn_dyno.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def build(job: Job, name: str = "front_b") -> DamperBuild:
    return builds.build_of(job, job.programme.kit.dampers[name], name)


def with_rebound(one: DamperBuild, change: Callable[[tuple[Disc, ...]], tuple[Disc, ...]]) -> DamperBuild:
    valve = one.piston.rebound
    assert isinstance(valve, StackValve)
    return replace(one, piston=replace(one.piston, rebound=replace(valve, discs=change(valve.discs))))


def disc(like: Disc, thickness: float, diameter: float) -> Disc:
    return replace(like, thickness=thickness * 1e-3, radius=diameter * 0.5e-3)


def told(old: DamperBuild, new: DamperBuild) -> list[str]:
    return [str(change) for change in builds.changes(old, new)]


def test_a_swap_is_said_as_the_workshop_says_it(job: Job) -> None:
    old = with_rebound(build(job), lambda d: (d[0], d[0], d[0], *d[2:]))
    new = with_rebound(old, lambda d: (*d[:2], disc(d[2], 0.25, 28.0), *d[3:]))
    assert told(old, new) == ["rebound: third 0.20 x 28 swapped for 0.25 x 28"]
    assert told(new, old) == ["rebound: third 0.25 x 28 swapped for 0.20 x 28"]
    assert told(old, old) == []


def test_discs_added_and_taken_out_are_said(job: Job) -> None:
    old = build(job)
    more = with_rebound(old, lambda d: (d[0], d[0], *d[1:]))
    assert told(old, more) in (["rebound: 0.20 x 28 added after the second"], ["rebound: 0.20 x 28 added on the seat"])
    assert told(more, old)[0].endswith("0.20 x 28 taken out")
    last = with_rebound(old, lambda d: (*d, disc(d[0], 0.30, 16.0)))
    assert told(old, last) == ["rebound: 0.30 x 16 added after the seventh"]


def test_bleed_and_body_are_said_too(job: Job) -> None:
    old, body = build(job), build(job).body
    bled = replace(old, piston=replace(old.piston, bleed=()))
    assert told(old, bled) == ["bleed: 2 of 1.2 mm changed to none"]
    assert told(old, replace(old, body=replace(body, oil_volume=440e-6))) == ["body: oil 430 to 440 cm³"]
    assert told(old, replace(old, body=replace(body, gas_pressure=6.3e5))) == ["body: gas 5.3 to 6.3 bar"]


def edited(job: Job, *swaps: tuple[str, str]) -> Job:
    """The Tarn with pieces of its text replaced; its dyno files are not read again."""
    text = job.loaded.text
    for old, new in swaps:
        assert old in text
        text = text.replace(old, new, 1)
    changed = Job(loads(text))
    changed.__dict__["dyno_tests"] = job.dyno_tests
    return changed


def test_the_change_of_a_build_stands_in_words_and_as_force_in_three_bands(job: Job) -> None:
    """Front B becomes front A with the third rebound disc swapped."""
    a = "[2 of 0.15 x 28 mm, 0.15 x 26 mm, 0.15 x 24 mm, 0.20 x 22 mm, 0.20 x 20 mm, 0.20 x 18 mm]"
    b = "[2 of 0.20 x 28 mm, 0.20 x 26 mm, 0.20 x 24 mm, 0.20 x 22 mm, 0.20 x 20 mm, 0.20 x 18 mm]"
    taper = "0.20 x 26 mm, 0.20 x 24 mm]"
    changed = edited(
        job,
        (a, f"[3 of 0.20 x 28 mm, {taper}"),
        (b, f"[2 of 0.20 x 28 mm, 0.25 x 28 mm, {taper}"),
        ("[2 of 0.15 x 29 mm, 0.15 x 26 mm", "[0.15 x 29 mm, 0.15 x 26 mm"),
        ("[{holes: 2 of 1.2 mm, length: 1 mm}]", "[{holes: 2 of 1.3 mm, length: 1 mm}]"),
        ("[2 of 0.15 x 20 mm, 0.15 x 18 mm", "[0.15 x 20 mm, 0.15 x 18 mm"),
        ("parent: B2", "parent: B1"),
    )
    words, forces = damper_inside.changes_tables(changed)
    (said,) = (r[3] for r in words.rows if (r[0], r[2]) == ("B3", "front"))
    assert said == "rebound: third 0.20 x 28 swapped for 0.25 x 28"
    keys = [c.key for c in forces.columns]
    (row,) = (dict(zip(keys, r, strict=True)) for r in forces.rows if (r[0], r[2]) == ("B3", "front"))
    low, mid, high = (float(row[f"rebound_{band}"]) for band in ("low", "mid", "high"))  # type: ignore[arg-type]
    assert 0.0 <= low < mid < high < 200.0
    assert [row[f"compression_{band}"] for band in ("low", "mid", "high")] == pytest.approx([0.0] * 3, abs=1e-6)


def test_a_measured_damper_is_taken_as_measured_unless_the_programme_says_otherwise(job: Job) -> None:
    assert parts.fitted(job, B3, "front").curve_from == "dyno"
    valves = ("      dyno: dyno/front-b.csv\n", "      dyno: dyno/front-b.csv\n      forces_from: valves\n")
    told = edited(job, valves)
    fitted = parts.fitted(told, B3, "front")
    assert fitted.curve_from == "valves"
    assert fitted.curve.force_at(-0.52) == pytest.approx(
        builds.computed_curve(job, job.programme.kit.dampers["front_b"], "front_b").force_at(-0.52)
    )
    warm = edited(job, valves, ("  seed: 20261\n", "  seed: 20261\n  oil_temperature: 90 degC\n"))
    assert parts.fitted(warm, B3, "front").curve.force_at(-0.05) > fitted.curve.force_at(-0.05)


def test_a_damper_without_a_dyno_is_driven_by_its_valves(job: Job) -> None:
    bare = edited(job, ("      dyno: dyno/front-b.csv\n", ""))
    fitted = parts.fitted(bare, B3, "front")
    assert fitted.curve_from == "valves"
    assert fitted.curve.friction == builds.parameters(job).seal_friction
    assert fitted.curve.force_at(-0.52) < -800.0


def test_what_cannot_be_built_is_refused_by_the_dampers_name(job: Job) -> None:
    with pytest.raises(InputError, match=r"front_a\.body\.oil_volume: no room for gas .* Found 700 cm\^3"):
        edited(job, ("oil_volume: 430 cm^3", "oil_volume: 700 cm^3"))


def test_the_defaults_predict_the_sweeps_only_roughly_and_the_workshops_own_figures_well(job: Job) -> None:
    """The demo's sweeps hide what a calibration has to find; its curves come from the tool's parameters."""
    truth = tool().curves()
    for name in ("front_b", "rear_c"):
        damper = job.programme.kit.dampers[name]
        measured = damper_inside.measured_curve(job, damper)
        speeds = np.array([-1.0, -0.52, -0.26, -0.13, 0.13, 0.26, 0.52, 1.0])
        true, _ = truth[name.replace("_", "-")]
        assert measured.at(speeds) == pytest.approx(true.at(speeds), rel=0.03, abs=8.0)  # twice the sensor's noise
        off = builds.computed_curve(job, damper, name, temperature=298.15).at(speeds) / true.at(speeds) - 1.0
        assert 0.03 < np.sqrt(np.mean(off**2)) < 0.30


def test_a_sweep_is_what_the_tool_writes_bit_for_bit(job: Job) -> None:
    module = tool()
    curve, seed = module.curves()["rear-b"]
    text = module.synthesise(
        curve, speeds=(0.005, *module.SPEEDS), stroke=0.1, seed=seed, cycles=1.5, samples_per_cycle=120
    )
    assert job.loaded.files["dyno/rear-b.csv"] == text.encode()


def test_parts_add_up_and_every_speed_has_one_that_governs(job: Job) -> None:
    damper = job.programme.kit.dampers["front_b"]
    got = damper_inside.flow(job, damper, "front_b", np.array([-1.0, -0.3, -0.05, 0.05, 0.3, 1.0]))
    total = np.sum(list(damper_inside.groups(got, "foot").values()), axis=0)
    assert total == pytest.approx(got.hydraulic_force, abs=2.0)
    table = damper_inside.parts_table(job, B3)
    assert {row[5] for row in table.rows} >= {"piston bleed", "piston curtain"}
    assert all(float(row[-1]) > 0.0 for row in table.rows)  # type: ignore[arg-type]


def test_the_firm_build_heats_more_and_fades_more(job: Job) -> None:
    soft, firm = (damper_heat.heats(job, s)[0].warm for s in (B1, B2))
    assert firm.power[0] > soft.power[0]
    assert firm.hottest > soft.hottest
    assert firm.steady is not None
    assert firm.steady[0] > firm.hottest
    assert np.all(np.diff(firm.oil_temperature) > -1e-6)
    assert all(0.0 < float(f[1, -1]) < 0.3 for f in firm.fade)


def test_a_larger_piston_and_tube_run_cooler_at_lower_pressure(job: Job) -> None:
    """Common practice, no source: from 30 to 35 mm and 50 to 54 mm the pressure falls, oil and area grow."""
    table = damper_heat.larger_body(job, B3)
    keys = [c.key for c in table.columns]
    small, built, large = (dict(zip(keys, row, strict=True)) for row in table.rows[:3])
    assert (small["bore"], small["tube"], built["bore"], built["tube"]) == pytest.approx((0.030, 0.050, 0.035, 0.054))
    for key in ("pressure", "steady"):
        assert small[key] > built[key] > large[key]  # type: ignore[operator]
    for key in ("oil", "area"):
        assert small[key] < built[key] < large[key]  # type: ignore[operator]


def test_the_loop_opens_round_the_steady_curve_and_its_area_is_its_heat(job: Job) -> None:
    (_, _, got), _ = damper_loop.loops(job, B3)
    assert got.work == pytest.approx(got.heat, rel=0.02)
    assert 20.0 < got.hysteresis < 400.0
    assert damper_loop.picture(job, B3) is not None


def test_wheel_hop_is_damped_by_hand(job: Job) -> None:
    """Derived: zeta = c r^2 / (2 sqrt((K + K_tyre) m)), m half the axle."""
    tyre = float(job.programme.vehicle.tyre.vertical_stiffness)
    c = parts.fitted(job, B3, "rear").curve.mean_damping(0.52) * model.damper_ratio(job, B3, "rear") ** 2
    wanted = c / (2.0 * math.sqrt((model.wheel_rate(job, B3, "rear") + tyre) * parts.axle_mass(job, "rear").mass / 2.0))
    assert dampers.hop_ratio_at(job, B3, "rear", 0.52) == pytest.approx(wanted, rel=1e-9)
    assert 0.1 < wanted < 0.5


def test_dampers_known_by_their_curve_alone_have_no_inside_and_still_answer(job: Job) -> None:
    stock = Setup(KERB, "stock")
    assert damper_inside.with_valves(job, stock) == ()
    assert damper_heat.picture(job, stock) is None
    assert damper_loop.picture(job, stock) is None
    result = dampers.study(job, build="stock")
    assert "oil reaches" not in result.answer
    assert {t.key for t in result.tables} >= {"front_forces", "changes", "slopes"}
    assert "parts" not in {t.key for t in result.tables}


def test_the_houses_parameters_are_the_programmes_and_bring_the_prediction_near(job: Job) -> None:
    """With the tool's figures, which a calibration would find, the model meets the sweeps it was made from."""
    found = (
        "workshop:\n  parameters: {curtain_discharge: 0.64, port_factor: 0.93, bleed_factor: 0.88, band_gap: 0.042 mm, "
    )
    found += "seat_offset: -0.018 mm, jet_coefficient: 0.14, seal_friction: 29 N}\n"
    told = edited(job, ("workshop:\n", found), ("  seed: 20261\n", "  seed: 20261\n  oil_temperature: 25 degC\n"))
    assert builds.parameters(job).curtain_discharge == 0.70
    assert builds.parameters(told).seat_offset == pytest.approx(-0.018e-3)
    before, after = (damper_inside.against_measured(j) for j in (job, told))
    assert "text-book" in before.note
    assert "calibrated" in after.note
    for old, new in zip(before.rows, after.rows, strict=True):
        assert float(new[3] or 0.0) < 0.05 < float(old[3] or 0.0), old[0]
    wild = edited(job, ("workshop:\n", "workshop:\n  parameters: {curtain_discharge: 1.8}\n"))
    with pytest.raises(InputError, match=r"workshop.parameters: parameter curtain discharge is 1.8"):
        builds.parameters(wild)


def test_the_sheet_lists_every_disc_and_the_stock_is_counted(job: Job) -> None:
    table = damper_sheet.stacks_table(job, B3)
    row = next(r for r in table.rows if r[:4] == ("front", "front_b", "piston", "rebound"))
    assert row[4] == "2 of 0.20 x 28, 0.20 x 26, 0.20 x 24, 0.20 x 22, 0.20 x 20, 0.20 x 18"
    assert row[5] == pytest.approx(1.4e-3)
    assert row[-1] == 14.0
    assert damper_sheet.shortages(job, B3) == ()
    scarce = edited(job, ("80 of 0.20 x 28 mm", "7 of 0.20 x 28 mm"))
    (notice,) = damper_sheet.shortages(scarce, B3)
    assert notice.text.startswith("A set of B3 needs 8 discs of 0.20 x 28 mm in spring steel; 7 are in stock")


def test_the_drive_says_whose_curve_it_takes(job: Job) -> None:
    valves = ("      dyno: dyno/front-b.csv\n", "      dyno: dyno/front-b.csv\n      forces_from: valves\n")
    assert drive.curve_words(edited(job, valves), B3, "front") == "front_b, computed from its valves, oil at 40 degC"
    assert drive.curve_words(job, B3, "front") == "front_b, dyno/front-b.csv"
