"""Adjusters on both invented vehicles: what each leaves alone, what acts together, what is refused."""

from __future__ import annotations

import dataclasses
import itertools
import pickle

import cloudpickle
import numpy as np
import pytest
from vary_programme import Vary

from tussock.errors import InputError
from tussock.mechanics.dampers import BANDS
from tussock.mechanics.motion import settle, springing
from tussock.mechanics.motion.steering import RIGID
from tussock.studies.adjusters import ADJUSTERS, PARTS, Fittings, adjusted, adjuster, check_range, fittings
from tussock.studies.designs import Range, parse_range
from tussock.studies.job import ENDS, Job, Setup

NOT_ON_LEAVES = {"rear_packer"}


@pytest.fixture(scope="module")
def tarn_fitted(job: Job) -> Fittings:
    return fittings(job, Setup("bare", "B3"))


@pytest.fixture(scope="module")
def dunnock_fitted(dunnock: Job) -> Fittings:
    return fittings(dunnock, dunnock.setup())


@pytest.fixture(params=["tarn", "dunnock"])
def fitted(request: pytest.FixtureRequest, tarn_fitted: Fittings, dunnock_fitted: Fittings) -> Fittings:
    return tarn_fitted if request.param == "tarn" else dunnock_fitted


def test_neutral_values_leave_the_very_same_vehicle(fitted: Fittings) -> None:
    assert adjusted(fitted, {key: a.neutral for key, a in ADJUSTERS.items()}) is fitted.vehicle


def _step(key: str, up: bool) -> float:
    """Return a value a tenth of the way from neutral to the end of what the part can be."""
    rule = ADJUSTERS[key].rule
    return rule.neutral + 0.1 * ((rule.most if up else rule.least) - rule.neutral)


def test_every_adjuster_changes_the_vehicle_and_it_still_stands(fitted: Fittings) -> None:
    without = set() if fitted.ends["rear"].spring.law.kind == "coil" else NOT_ON_LEAVES
    without |= {f"{end}_bar" for a, end in enumerate(ENDS) if fitted.vehicle.axles[a].bar_rate == 0.0}
    # the Dunnock's wishbones turn on joints that do not give
    without |= {f"{end}_bush_rate" for a, end in enumerate(ENDS) if fitted.vehicle.axles[a].give == RIGID}
    for key in sorted(set(ADJUSTERS) - without):
        made = adjusted(fitted, {key: _step(key, True)})
        assert made is not fitted.vehicle
        ends = ADJUSTERS[key].ends
        assert (made.front is fitted.vehicle.front) == ("front" not in ends), key
        assert (made.rear is fitted.vehicle.rear) == ("rear" not in ends), key
        assert (made.body is fitted.vehicle.body) == bool(ends), key
        assert np.all(settle(made).wheel_load > 500.0), key


@pytest.mark.parametrize("factor", [0.7, 1.4])
def test_another_spring_rate_keeps_the_height_and_moves_the_wheel_rate(fitted: Fittings, factor: float) -> None:
    """Coils, coil-overs and leaves alike; the bar and the bushes have their share of the rate, so it moves by less."""
    before = settle(fitted.vehicle)
    for a, end in enumerate(ENDS):
        made = adjusted(fitted, {f"{end}_spring": factor})
        after = settle(made)
        # the mean of both sides: the car leans to the driver's side, and less on firmer springs
        rise = (after.body_height - before.body_height).reshape(2, 2).mean(axis=1)
        assert np.abs(rise).max() < 0.2e-3
        assert (abs(after.body_roll) < abs(before.body_roll)) == (factor > 1.0)
        heave = float(before.heave[a])
        was, now = (springing(v.axles[a], heave=heave).wheel_rate for v in (fitted.vehicle, made))
        assert 0.75 < (now / was - 1.0) / (factor - 1.0) < 1.1


def test_the_rates_of_both_springs_add_up_to_the_axle(tarn_fitted: Fittings) -> None:
    """Two coils of rate k at spring ratio i: heave rate grows by 2 (f - 1) k i^2, but for the ratio's own slope."""
    axle, made = tarn_fitted.vehicle.rear, adjusted(tarn_fitted, {"rear_spring": 1.25}).rear
    heave = float(settle(tarn_fitted.vehicle).heave[1])
    near = [float(np.interp(heave + h, axle.axle.heave, axle.axle.spring[:, 6, 0])) for h in (-0.005, 0.005)]
    ratio = (near[0] - near[1]) / 0.01
    grown = springing(made, heave=heave).heave_rate - springing(axle, heave=heave).heave_rate
    assert grown == pytest.approx(2.0 * 0.25 * axle.spring_rate[0] * ratio**2, rel=0.02)


def test_bands_of_a_direction_make_the_whole_and_order_does_not_matter(fitted: Fittings) -> None:
    whole = adjusted(fitted, {"front_rebound": 1.3}).front.damper
    keys = [f"front_rebound_{band}" for band in BANDS]
    for order in itertools.permutations(keys):
        parts = adjusted(fitted, dict.fromkeys(order, 1.3)).front.damper
        np.testing.assert_array_equal(parts.force, whole.force)
    twice = adjusted(fitted, {"front_damping": 1.2, "front_rebound": 1.1})
    turned = adjusted(fitted, {"front_rebound": 1.1, "front_damping": 1.2})
    np.testing.assert_array_equal(twice.front.damper.force, turned.front.damper.force)
    v = twice.front.damper.velocity
    ratio = twice.front.damper.force[v < 0.0] / fitted.vehicle.front.damper.force[v < 0.0]
    # a curve has one slope at rest, of both directions: up to its first point rebound comes nearer to compression
    curve = fitted.ends["front"].curve.velocity
    beyond = v[v < 0.0] <= float(curve[curve < 0.0].max())
    assert beyond.sum() > 60
    np.testing.assert_allclose(ratio[beyond], 1.32, rtol=1e-9)
    assert np.all((ratio[~beyond] > 1.2) & (ratio[~beyond] < 1.32))


def test_a_changed_vehicle_goes_to_another_process_whole(fitted: Fittings) -> None:
    values = {"front_spring": 1.2, "rear_spring": 0.9, "rear_rebound": 1.1}
    there = pickle.loads(cloudpickle.dumps(fitted))
    here, sent = settle(adjusted(fitted, values)), settle(adjusted(there, values))
    np.testing.assert_array_equal(here.q, sent.q)


def test_every_part_belongs_to_an_adjuster_and_neutral_is_within_it() -> None:
    assert {a.part for a in ADJUSTERS.values()} == set(PARTS)
    for rule in PARTS.values():
        assert rule.least <= rule.neutral <= rule.most


def test_a_build_set_to_a_pressure_drives_as_its_adjuster_says(vary: Vary) -> None:
    """A build at 2.9 bar behind is the present one with the rear pressure at 2.9 / 2.4."""
    other = vary({"builds.B3.tyre_pressure": {"rear": "2.9 bar"}})
    built, stock = (fittings(other, Setup("bare", b)).vehicle for b in ("B3", "stock"))
    raised = adjusted(fittings(vary({}), Setup("bare", "B3")), {"rear_tyre_pressure": 2.9 / 2.4})
    assert built.rear.tyre == raised.rear.tyre
    assert built.front.tyre == stock.front.tyre == stock.rear.tyre


# -------------------------------------------------------------------------------------------------- bad input


def test_an_unknown_adjuster_names_its_neighbours() -> None:
    with pytest.raises(InputError, match=r"no adjuster 'front_rebond'.*front_rebound"):
        adjuster("front_rebond")


@pytest.mark.parametrize(
    ("key", "low", "high", "words"),
    [
        ("front_rebound", 1.3, 0.8, "from 1.3 to 0.8 does not rise"),
        ("front_rebound", 1.0, 1.0, "does not rise"),
        ("rear_spring", -0.5, 1.2, "negative stiffness.*0.4 to 3 is right"),
        ("front_stop_height", -0.5, 0.0, "beyond what it can be; -?.*40 mm to 60 mm"),
        ("front_spring", float("nan"), 1.0, "does not rise"),
    ],
)
def test_a_range_that_cannot_be_is_refused(key: str, low: float, high: float, words: str) -> None:
    with pytest.raises(InputError, match=words):
        check_range(key, low, high)


def test_parts_that_the_vehicle_does_not_have_are_refused(dunnock_fitted: Fittings) -> None:
    with pytest.raises(InputError, match="rear_packer: a packer fits a coil spring alone"):
        adjusted(dunnock_fitted, {"rear_packer": 0.01})
    assert dunnock_fitted.vehicle.rear.bar_rate == 0.0
    with pytest.raises(InputError, match="rear_bar: there is no anti-roll bar"):
        adjusted(dunnock_fitted, {"rear_bar": 1.2})


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("front_rebound", "is no range"),
        ("front_rebound: 0.8", "is no range"),
        ("front_rebound: much to 1.2", "front|plain number|not a number"),
        ("front_packer: 5 to 10 mm", "no unit"),
        ("rear_packer: 5 kg to 10 mm", "a mass, wanted a length"),
        ("sideways: 1 to 2", "no adjuster"),
    ],
)
def test_a_range_written_wrongly_says_how(text: str, words: str) -> None:
    with pytest.raises(InputError, match=words):
        parse_range(text)


def test_a_range_is_read_with_its_unit() -> None:
    assert parse_range("rear_packer: -5 mm to 15 mm") == Range(key="rear_packer", low=-0.005, high=0.015)
    assert parse_range(" front_rebound : 80 % to 1.25").low == pytest.approx(0.8)


# ------------------------------------------------------------------------------------------------------ bushes


def test_firmer_bushes_give_as_the_linkage_with_such_bushes_does(vary: Vary, tarn_fitted: Fittings) -> None:
    """Both links of the rear axle twice as stiff in the programme; the axle under load is then solved anew."""
    links = {"lower_link": "10 kN/mm", "upper_link": "8 kN/mm"}
    firm = vary({f"vehicle.axles.rear.bushes.{name}.stiffness": rate for name, rate in links.items()})
    solved = fittings(firm, Setup("bare", "B3")).vehicle.rear.give
    scaled = adjusted(tarn_fitted, {"rear_bush_rate": 2.0}).rear.give
    assert scaled.shift == pytest.approx(solved.shift, rel=0.03)
    assert scaled.steer == pytest.approx(solved.steer, rel=0.03, abs=1e-9)
    assert scaled.brake_steer == pytest.approx(solved.brake_steer, rel=0.03, abs=1e-9)


def test_an_axle_without_bushes_has_no_rate_of_them(tarn_fitted: Fittings) -> None:
    stiff = dataclasses.replace(
        tarn_fitted,
        vehicle=dataclasses.replace(
            tarn_fitted.vehicle, front=dataclasses.replace(tarn_fitted.vehicle.front, give=RIGID)
        ),
    )
    with pytest.raises(InputError, match="front_bush_rate: the programme gives this axle no bushes"):
        adjusted(stiff, {"front_bush_rate": 1.2})
