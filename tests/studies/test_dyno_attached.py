"""Attached sweeps with what the programme says of their recording, and curves carried on by the valves."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tussock.errors import DomainError, InputError
from tussock.mechanics.dampers import ForceCurve
from tussock.record import Loaded, loads
from tussock.studies import damper_builds
from tussock.studies.dyno_attached import read_attached
from tussock.studies.job import Job

FRONT = "dyno/front-b.csv"
SAID = "      dyno: dyno/front-b.csv\n      dyno_run: {oil_temperature: 25 degC}\n"


def reread(tarn: Loaded, run: str, raw: bytes | None = None) -> Job:
    """The Tarn with another dyno_run of front damper B, and its file alone, read anew."""
    text = tarn.text
    assert SAID in text
    loaded = loads(text.replace(SAID, f"      dyno: {FRONT}\n      dyno_run: {run}\n"))
    job = Job(loaded)
    job.__dict__["dyno_tests"] = read_attached(loaded.programme, {FRONT: raw or tarn.files[FRONT]})
    return job


def test_the_stated_temperature_is_the_tests(tarn: Loaded, job: Job) -> None:
    assert job.dyno_tests[FRONT].mean_temperature == pytest.approx(298.15)
    warm = reread(tarn, "{oil_temperature: 61 degC}")
    assert warm.dyno_tests[FRONT].mean_temperature == pytest.approx(334.15)
    assert damper_builds.dyno_temperature(warm, warm.programme.kit.dampers["front_b"]) == pytest.approx(334.15)
    unknown = reread(tarn, "{note: nobody looked}")
    assert unknown.dyno_tests[FRONT].mean_temperature is None
    loop = float(unknown.programme.road_loop.oil_temperature)
    assert damper_builds.dyno_temperature(unknown, unknown.programme.kit.dampers["front_b"]) == loop


def test_a_file_with_other_titles_and_no_time_is_read_as_stated(tarn: Loaded, job: Job) -> None:
    lines = tarn.files[FRONT].decode().splitlines()
    start = next(i for i, line in enumerate(lines) if line.startswith("run,"))
    strange = "\n".join([*lines[:start], "run,time [s],displacement [mm],cell 2 [N]", *lines[start + 1 :]]).encode()
    with pytest.raises(InputError, match="force"):
        reread(tarn, "{oil_temperature: 25 degC}", strange)
    read = reread(tarn, "{channels: {force: 'cell 2 [N]'}, cutoff: 60 Hz}", strange).dyno_tests[FRONT]
    assert read.cutoff == 60.0
    assert read.curve.force_at(-0.52) == pytest.approx(job.dyno_tests[FRONT].curve.force_at(-0.52), rel=0.01)


def test_an_unknown_channel_is_named(tarn: Loaded) -> None:
    with pytest.raises(InputError, match=r"dyno_run\.channels\.push"):
        loads(tarn.text.replace(SAID, SAID.replace("{oil_temperature: 25 degC}", "{channels: {push: cell 2}}")))


def test_two_dampers_cannot_tell_two_stories_of_one_file(tarn: Loaded) -> None:
    text = tarn.text.replace("      dyno: dyno/rear-b.csv\n      dyno_run: {oil_temperature: 25 degC}\n",
                             f"      dyno: {FRONT}\n      dyno_run: {{oil_temperature: 40 degC}}\n")  # fmt: skip
    with pytest.raises(InputError, match=r"rear_b\.dyno_run: dyno/front-b\.csv was recorded once"):
        read_attached(loads(text).programme, {FRONT: tarn.files[FRONT]})


def test_valves_carry_a_measured_curve_on(job: Job) -> None:
    damper = job.programme.kit.dampers["front_b"]
    measured, taken = job.measured_curve(damper), job.curve(damper)
    assert taken.measured_range[1] == pytest.approx(damper_builds.CARRIED_TO)
    inside = np.linspace(-1.0, 1.0, 41)
    np.testing.assert_allclose(taken.at(inside), measured.at(inside), rtol=5e-3, atol=2.0)
    model = damper_builds.computed_curve(job, damper, "front_b", temperature=298.15, most=damper_builds.CARRIED_TO)
    for end, fast in ((-1.05, -3.0), (1.05, 3.0)):
        grown = taken.force_at(fast) / measured.force_at(end)
        assert grown == pytest.approx(model.force_at(fast) / model.force_at(end), rel=0.01)
    stock = job.programme.vehicle.axles["front"].damper
    assert job.curve(stock).measured_range == job.measured_curve(stock).measured_range


def test_a_curve_carried_on_by_itself_is_itself() -> None:
    curve = ForceCurve.from_points(
        speeds=[0.1, 0.5, 1.0, 2.0], compression=[50, 200, 380, 900], rebound=[90, 400, 700, 1500]
    )
    short = ForceCurve(velocity=curve.velocity[1:-1], force=curve.force[1:-1], gas_force=80.0, friction=20.0)
    whole = short.extended(replace(curve, gas_force=1.0))
    np.testing.assert_allclose(whole.force, curve.force, rtol=1e-12)
    assert (whole.gas_force, whole.friction) == (80.0, 20.0)
    np.testing.assert_array_equal(curve.extended(short).velocity, curve.velocity)


@pytest.mark.parametrize("volume", [285, 528])
def test_oil_that_the_record_just_accepts_is_accepted_inside(tarn: Loaded, volume: int) -> None:
    """The record says 284 to 529 cm3 for this body; the hydraulics' own limits are the same."""
    edited = Job(loads(tarn.text.replace("oil_volume: 430 cm^3", f"oil_volume: {volume} cm^3", 1)))
    damper = edited.programme.kit.dampers["front_a"]
    built = damper_builds.assembled(edited, damper, "front_a")
    with pytest.raises(DomainError, match=r"no room for gas|full rebound|has only|fit into"):
        replace(built, oil_volume=built.oil_volume + (2e-6 if volume > 400 else -2e-6))
