"""Friction of rubber bushes over the wheels' travel: the published loop, energy, the default step, the linear twin.

1. Fancher, Ervin, MacAdam, Winkler, SAE 800905, 1980 (from memory): dF = (+-F0 - F) |dx| / b, which a stroke one way
   solves as F = F0 - (F0 - F1) exp(-(x - x1) / b).
"""

from __future__ import annotations

import dataclasses
import itertools
import math

import numpy as np
import pytest
from motion_vehicles import linear_damper, wagon
from motion_wheels import pick_up
from test_motion_conservation import balance, inputs_over, rough_track

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.motion import (
    LinearModel,
    RoadNoise,
    Vehicle,
    linearise,
    march,
    pack,
    road_motion,
    road_twin,
    settle,
    simulate,
)
from tussock.mechanics.motion import kernels as k
from tussock.mechanics.motion.rest import Evaluator
from tussock.mechanics.roads import Section, build

FRICTION, TRAVEL = 120.0, 5e-3
RUBS = {"bush_friction": FRICTION, "bush_travel": TRAVEL}
SEAT = (0.2, 0.35, 0.3)


def worn(**settings: object) -> Vehicle:
    return wagon(front={**RUBS, **settings}, rear={**RUBS, **settings})


def loop(vehicle: Vehicle, path: Floats, *, along: int) -> Floats:
    """Force of the front axle's friction on heave (6) or roll (7) along a path that begins at rest."""
    evaluate, rest = Evaluator(pack(vehicle, lag=0.0), lag=0.0), settle(vehicle)
    q, local, forces = rest.q.copy(), rest.local.copy(), []
    for before, after in itertools.pairwise(path):
        u = np.zeros(k.SPEEDS)
        u[along - 1] = after - before  # in one second
        q[along] = rest.q[along] + 0.5 * (before + after)
        evaluate(q, u, local, np.zeros(k.INPUTS))
        middle = local.copy()
        middle[18:] += 0.5 * evaluate.local_rate[18:]
        evaluate(q, u, middle, np.zeros(k.INPUTS))
        local[18:] += evaluate.local_rate[18:]
        evaluate(q, u, local, np.zeros(k.INPUTS))
        forces.append(-evaluate._scratch[3][0, 19 + along - 6])
    return np.array(forces)


def published(x: Floats, *, force: float, travel: float) -> Floats:
    """Source 1, stroke by stroke."""
    out, now = [], 0.0
    for before, after in itertools.pairwise(x):
        end = math.copysign(force, after - before)
        now = end - (end - now) * math.exp(-abs(after - before) / travel)
        out.append(now)
    return np.array(out)


@pytest.mark.parametrize("make", [wagon, pick_up])
@pytest.mark.parametrize("along", [6, 7])
def test_the_loop_is_the_published_one(make: object, along: int) -> None:
    """Both wheels in heave; in roll each at its lever, half a track."""
    assert callable(make)
    vehicle = make(front={**RUBS, "spring_friction": 0.0, "damper": linear_damper(0.0)})
    half = 0.5 * vehicle.front.axle.track
    size = 0.03 if along == 6 else 0.03 / half
    path = size * np.concatenate(
        [np.linspace(0.0, 1.0, 601), np.linspace(1.0, -0.6, 961)[1:], np.linspace(-0.6, 0.1, 421)[1:]]
    )
    own = loop(vehicle, path, along=along)
    rolled = half * np.sin(settle(vehicle).q[7] + path) if along == 7 else path
    lever = 1.0 if along == 6 else half
    wanted = 2.0 * lever * published(rolled, force=FRICTION, travel=TRAVEL)
    print(f"off by {np.abs(own - wanted).max() / (2.0 * lever * FRICTION):.2%} of the envelope")
    assert np.abs(own - wanted).max() < 2e-3 * 2.0 * lever * FRICTION
    assert own.max() > 0.99 * 2.0 * lever * FRICTION
    assert own.min() < -0.99 * 2.0 * lever * FRICTION


def test_energy_closes_with_bushes_that_rub() -> None:
    vehicle = worn()
    gained, run = balance(vehicle, inputs_over(vehicle, rough_track(), speed=18.0))
    none, plain = balance(wagon(), inputs_over(wagon(), rough_track(), speed=18.0))
    taken = abs(float(run.work[2] + run.work[3]))
    print(f"{gained:.3f} J of {taken:.0f} J, without friction {none:.3f} J of {abs(plain.work[2] + plain.work[3]):.0f}")
    assert abs(gained) < 1e-3 * taken


def test_a_step_of_1_ms_is_accurate_with_bushes_that_rub() -> None:
    vehicle, track = worn(), rough_track(length=120.0)
    rest, runs = settle(vehicle), []
    for step in (1e-3, 5e-4, 2.5e-4):
        inputs = inputs_over(vehicle, track, speed=18.0, step=step)
        every = round(2e-3 / step)
        packed = pack(vehicle, lag=0.5 * step)
        runs.append(
            march(packed=packed, rest=rest, inputs=inputs, step=step, every=every, gravity=vehicle.gravity).position
        )
    size = runs[2][:, 3:10].std(axis=0)
    errors = [np.sqrt(np.mean((a - b)[:, 3:10] ** 2, axis=0)) / size for a, b in itertools.pairwise(runs)]
    print("error of 1 ms and of half of it:", [f"{100 * e.max():.3f} %" for e in errors])
    assert errors[0].max() < 2e-3
    assert errors[1].max() < 0.5 * errors[0].max()


@pytest.mark.parametrize(("density", "seed"), [(4e-6, 1), (16e-6, 2)])
def test_the_twin_on_a_road_moves_as_the_vehicle_in_time(density: float, seed: int) -> None:
    """100 s in time against slopes that stand for friction; left out altogether the smooth road's seat is missed."""
    vehicle = worn()
    twin = road_twin(vehicle, speed=20.0, density=density)
    road = build(Section(name="r", length=2000.0, speed=20.0, density=density), track=twin.model.track, seed=seed)
    run = simulate(vehicle, road, speed=20.0)
    late = slice(500, None)
    seen = {
        "seat": float(run.acceleration_at(SEAT)[late, 2].std()),
        "load": float(np.sqrt(np.mean(run.wheel_load[late].var(axis=0)))),
        "heave": float(run.velocity[late, 5].std()),
    }

    def told(model: LinearModel, rms: object) -> dict[str, float]:
        assert callable(rms)
        wheels = ("front left", "front right", "rear left", "rear right")
        return {
            "seat": rms(model.acceleration(SEAT, "vertical")),
            "load": math.sqrt(np.mean([rms(model.row(f"wheel load {w}")) ** 2 for w in wheels])),
            "heave": rms(model.row("front heave rate")),
        }

    slopes = told(twin.model, twin.motion.rms)
    plain_model = linearise(vehicle, speed=20.0)
    plain = told(plain_model, road_motion(plain_model, RoadNoise(density=density, contact_length=0.15)).rms)
    for name, value in seen.items():
        print(f"{name}: slopes {slopes[name] / value - 1.0:+.1%}, left out {plain[name] / value - 1.0:+.1%}")
        assert slopes[name] == pytest.approx(value, rel=6e-2), name
    if density < 1e-5:
        assert abs(plain["seat"] / seen["seat"] - 1.0) > 2.0 * abs(slopes["seat"] / seen["seat"] - 1.0)


def test_friction_that_never_builds_up_is_refused() -> None:
    with pytest.raises(DomainError, match="friction of the bushes: 50 N over 0 m"):
        dataclasses.replace(wagon().rear, bush_friction=50.0)
    with pytest.raises(DomainError, match="friction of the bushes: -5 N"):
        dataclasses.replace(wagon().rear, bush_friction=-5.0, bush_travel=5e-3)
