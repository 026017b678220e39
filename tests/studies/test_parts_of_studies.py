"""What a setup weighs and wears, against sums by hand over the invented Tarn's own figures."""

from __future__ import annotations

import pytest
from vary_programme import Vary

from tussock.errors import InputError
from tussock.studies import model, parts
from tussock.studies.job import ENDS, KERB, STOCK, Job, Setup


def test_kerb_mass_is_what_the_scales_say(job: Job) -> None:
    """Weights on four scales: sums and levers, 459 + 453 in front, 421 + 417 behind, wheelbase 2.7 m, track 1.5 m."""
    state = parts.kerb_mass(job)
    assert state.mass == pytest.approx(1750.0)
    assert state.centre[0] == pytest.approx(-2.7 * (421 + 417) / 1750.0)
    assert state.centre[1] == pytest.approx(0.75 * (459 + 421 - 453 - 417) / 1750.0)
    assert state.centre[2] == pytest.approx(0.700)


def test_sprung_mass_is_the_rest_without_the_axles(job: Job) -> None:
    sprung = parts.sprung_mass(job, KERB)
    assert sprung.mass == pytest.approx(1750.0 - 152.0 - 141.0)
    assert sprung.mass * sprung.centre[0] == pytest.approx(-2.7 * 838.0 + 2.7 * 141.0)
    assert sprung.mass * sprung.centre[1] == pytest.approx(0.75 * 10.0)
    assert sprung.mass * sprung.centre[2] == pytest.approx(1750.0 * 0.7 - 293.0 * 0.361)
    corners = {e: parts.sprung_corner(job, KERB, e) for e in ENDS}
    assert 2.0 * corners["front"] == pytest.approx(912.0 - 152.0)
    assert 2.0 * corners["rear"] == pytest.approx(838.0 - 141.0)


def test_a_fitout_adds_its_people_and_items(job: Job) -> None:
    before, after = parts.kerb_mass(job), parts.whole_mass(job, "winch")
    added = ((75.0, -1.18, 0.38, 0.88), (46.0, 0.64, 0.0, 0.56), (38.0, 0.70, 0.0, 0.62), (22.0, 0.32, 0.42, 0.90))
    assert after.mass == pytest.approx(1750.0 + sum(a[0] for a in added))
    for axis in range(3):
        moment = before.mass * before.centre[axis] + sum(a[0] * a[1 + axis] for a in added)
        assert after.mass * after.centre[axis] == pytest.approx(moment)


def test_packers_belong_to_their_axle_and_to_the_kit(job: Job) -> None:
    front = parts.fitted_spring(job, Setup("rescue", "B3"), "front")
    assert (front.packers, front.packer) == (("front_10",), 0.010)
    assert parts.fitted_spring(job, Setup("rescue", "B3"), "rear").packers == ()
    assert parts.fitted_spring(job, Setup("rescue", STOCK), "front").packer == 0.0
    assert parts.fitted_spring(job, Setup(KERB, "B3"), "front").name == STOCK


def test_two_packers_stand_on_each_other(vary: Vary) -> None:
    job = vary({"fitouts.rescue.packers": ["front_10", "front_5", "rear_10"]})
    assert parts.fitted_spring(job, Setup("rescue", "B3"), "front").packer == pytest.approx(0.015)
    assert parts.fitted_spring(job, Setup("rescue", "B3"), "rear").packer == pytest.approx(0.010)


def test_a_build_has_from_its_parent_what_it_leaves_out(vary: Vary) -> None:
    job = vary({"builds.B3.dampers": {"front": "front_b"}, "builds.B2.dampers": {"front": "front_c"}})
    names = {b: tuple(parts.damper_choice(job, Setup("bare", b), e)[0] for e in ENDS) for b in ("B1", "B2", "B3")}
    assert names == {"B1": ("front_a", "rear_a"), "B2": ("front_c", "rear_a"), "B3": ("front_b", "rear_a")}
    stock = vary({"builds.B1.dampers": {"front": "front_a"}})
    assert parts.damper_choice(stock, Setup("bare", "B1"), "rear")[0] == STOCK


def test_lines_of_the_kit_replace_those_of_the_vehicle(vary: Vary) -> None:
    job = vary({"kit.lines.front": [{"name": "brake hose", "length": "480 mm", "axle": "-60, 560, 430 mm"}]})
    hose = next(x for x in job.programme.vehicle.axles["front"].limiters if x.name == "brake hose")
    usable, chassis, axle = parts.line_of(job, Setup("bare", "B1"), "front", hose)
    assert usable == pytest.approx(0.480 - 0.008)
    assert tuple(chassis) == pytest.approx((-0.170, 0.330, 0.640))
    assert tuple(axle) == pytest.approx((-0.060, 0.560, 0.430))
    usable, _, axle = parts.line_of(job, Setup("bare", STOCK), "front", hose)
    assert (usable, tuple(axle)) == (pytest.approx(0.430), pytest.approx((-0.050, 0.560, 0.420)))


def test_a_stops_loss_is_the_programmes_or_the_librarys(job: Job, vary: Vary) -> None:
    stock = Setup("bare", STOCK)
    said = {"vehicle.axles.front.stop.loss": "25 %", "kit.stop_stacks": {"front": [], "rear": ["tall_foam"]}}
    job_of_foam = vary(said)
    assert model.axle_parts(job, stock, "front").stop_loss == 0.0
    assert model.axle_parts(job_of_foam, stock, "front").stop_loss == pytest.approx(0.25)
    assert parts.bump_stop(job_of_foam, Setup("bare", "B3"), "rear").loss == pytest.approx(0.3)
    with pytest.raises(InputError, match=r"axles\.front\.stop\.loss: .*95 %"):
        vary({"vehicle.axles.front.stop.loss": "95 %"})


def test_stop_spacers_belong_to_the_kit(job: Job) -> None:
    assert parts.bump_stop(job, Setup("bare", STOCK), "front").height == pytest.approx(0.078)
    assert parts.bump_stop(job, Setup("bare", "B3"), "front").height == pytest.approx(0.100)


def test_a_programme_without_builds_asks_for_one(vary: Vary) -> None:
    """Nothing of the kit is fitted then; the vehicle as measured must be asked for by name."""
    job = vary({"builds": {}})
    with pytest.raises(InputError, match=r"no build.*--build stock"):
        job.setup()
    assert job.setup(build=STOCK) == Setup("bare", STOCK)
