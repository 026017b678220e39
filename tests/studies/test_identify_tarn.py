"""The packaged wagon as a hidden vehicle: what its sensors show gives its parameters back. All data is invented."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tussock.errors import DomainError, SolverError
from tussock.mechanics.identify import Plan, Sensors, changed, drive, emulate, estimate, figures, find, usual_places
from tussock.mechanics.motion import settle
from tussock.studies import loop, model
from tussock.studies.job import Job

KEYS = ("front_rebound", "rear_compression", "tyre_stiffness", "pitch_inertia")


@pytest.fixture(scope="module")
def plan(job: Job) -> Plan:
    vehicle = model.vehicle(job, job.setup())
    section = next(s for s in loop.sections(job) if s.name == "forest track")
    return Plan(
        vehicle=vehicle,
        sections=(replace(section, features=(), length=70.0),),
        body=usual_places(vehicle),
        seat=(0.1, 0.38, 0.05),
        track=1.5,
        keys=KEYS,
    )


def test_a_hidden_vehicle_is_found(plan: Plan) -> None:
    """Every parameter within four stated deviations, damping to 10 %, and each better known than before."""
    hidden = {"front_rebound": 1.3, "rear_compression": 0.8, "tyre_stiffness": 1.1, "pitch_inertia": 0.9}
    fit = find(plan, figures(plan, hidden, seed=11), count=45, seed=5)
    for key, value in hidden.items():
        i = [p.key for p in fit.parameters].index(key)
        assert abs(fit.theta[i] - fit.parameters[i].theta(value)) < 4.0 * fit.sigma[i]
        assert fit.determined(key)
    assert fit.factor("front_rebound") == pytest.approx(1.3, rel=0.1)


def test_dead_channels_are_done_without(plan: Plan) -> None:
    sensors = Sensors(vehicle=plan.vehicle, rest=settle(plan.vehicle), body=plan.body, seat=plan.seat)
    (whole,) = drive(plan, {}, seed=12)
    assert whole.keys() >= {"seat_x", "hub_rear_right", "damper_front_left", "yaw_rate"}
    assert set(sensors.rest_channels) == {k for k in whole if k.startswith("damper")}
    emulator = emulate(plan, count=33, seed=6, half=0.4)
    kept = [n for n in emulator.names if "hub" not in n]
    got = figures(plan, {}, seed=13)
    values = np.array([v for n, v in zip(got.names, got.values, strict=True) if n in kept])
    assert 0.6 < estimate(emulator.kept(kept), values).factor("front_rebound") < 1.6


def test_what_the_sensors_show_is_what_the_vehicle_does(plan: Plan) -> None:
    """Nothing drifts, hubs shake more than the seat, dampers move by centimetres."""
    (got,) = drive(plan, {}, seed=14)
    assert abs(np.mean(got["hub_front_left"])) < 0.05 * np.std(got["hub_front_left"])
    assert np.std(got["hub_front_left"]) > 2.0 * np.std(got["seat_z"]) > 0.0
    left, right = got["damper_front_left"], got["damper_front_right"]
    assert 0.0 < np.std(0.5 * (left + right)) < 0.05


def test_variants_change_what_they_name_and_no_more(plan: Plan) -> None:
    v = plan.vehicle
    stiff = changed(v, {"tyre_stiffness": 1.2, "centre_height": 1.05, "roll_inertia": 1.1, "friction": 2.0})
    assert stiff.front.tyre.vertical_stiffness == pytest.approx(1.2 * v.front.tyre.vertical_stiffness)
    assert stiff.body.centre[2] == pytest.approx(1.05 * v.body.centre[2])
    assert stiff.body.inertia[0] == pytest.approx(1.1 * v.body.inertia[0])
    assert stiff.rear.damper.friction == pytest.approx(2.0 * v.rear.damper.friction)
    soft = changed(v, {"rear_compression": 0.5}).rear.damper
    closing = soft.velocity > 0.0
    np.testing.assert_allclose(soft.force[closing], 0.5 * v.rear.damper.force[closing])
    np.testing.assert_allclose(soft.force[~closing], v.rear.damper.force[~closing])
    with pytest.raises(DomainError, match="known are"):
        changed(v, {"colour": 1.0})


def test_a_plan_that_says_nothing_is_refused(plan: Plan) -> None:
    with pytest.raises(DomainError, match="no section"):
        replace(plan, sections=())
    with pytest.raises(DomainError, match="random surface driven for at least 8 s"):
        replace(plan, sections=(replace(plan.sections[0], length=20.0),))


def test_a_vehicle_far_from_the_model_is_said(plan: Plan) -> None:
    far = figures(plan, {"tyre_stiffness": 3.0}, seed=15)
    with pytest.raises(SolverError, match="tyre_stiffness"):
        find(plan, far, count=33, seed=7)
