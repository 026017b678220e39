"""Wobble of steered wheels against the classic of a trailing wheel, trade facts, and the motion in time.

Sources
-------
[1] Pacejka, Tire and Vehicle Dynamics, 3rd ed. 2012, chapter 6 (from memory; derived again here by Routh's criterion):
    a wheel that trails by e on a vertical, undamped king pin held by a weak spring k, its side force built up over the
    relaxation length s by a straight tangent, pneumatic trail t:

        s I q^3 + V I q^2 + (k s + C (e + t) e) q + (k + C (e + t)) V = 0      stable if and only if e > s, at any speed

[2] Much caster wobbles sooner at speed, a steering damper calms: common practice, no source. This model says the same.
"""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from motion_vehicles import linear_damper, wagon

from tussock.errors import DomainError
from tussock.mechanics.mass import GRAVITY
from tussock.mechanics.motion import Vehicle, linearise, march, pack, settle
from tussock.mechanics.motion import kernels as k
from tussock.mechanics.motion.steering import Steering
from tussock.mechanics.motion.wobble import damper_for, held_by_friction, speed_of, wobble, wobbles

pytestmark = pytest.mark.literature

STEERING = Steering(
    inertia=3.0, stiffness=18e3, damping=20.0, friction=4.0, caster=math.radians(3.0), inclination=math.radians(7.0),
    king_pin_offset=0.10,
)  # fmt: skip
SPEEDS = (10.0, 20.0, 30.0)
SPRING = 3000.0  # of the trailing wheels [N m/rad]


def steering(**changes: float) -> Vehicle:
    return wagon(steering=dataclasses.replace(STEERING, **changes))


def trailing_wheels(trail: float, *, inertia: float, times: float = 1e4) -> Vehicle:
    """A wagon too heavy to move sideways, on level ground, its front wheels trailing from free vertical king pins.

    Mass and inertia ten thousand times, gravity as much less: loads and springs are the wagon's. No spin, no camber
    thrust, no carcass damping: what the classic leaves out.
    """
    vehicle = wagon()
    body = vehicle.body

    def end(parts: object) -> object:
        assert dataclasses.is_dataclass(parts)
        tyre = dataclasses.replace(parts.tyre, camber_gain=0.0, carcass_time=0.0, pneumatic_trail=0.02)
        mass = dataclasses.replace(
            parts.mass, mass=times * parts.mass.mass, inertia=tuple(times * i for i in parts.mass.inertia)
        )
        axle = parts.axle
        straight = dataclasses.replace(axle, steer=np.zeros_like(axle.steer), inclination=np.zeros_like(axle.steer))
        return dataclasses.replace(parts, tyre=tyre, mass=mass, axle=straight, spin_inertia=0.0)

    return dataclasses.replace(
        vehicle,
        body=dataclasses.replace(
            body, mass=times * body.mass, inertia=tuple(times * i for i in body.inertia),
            products=tuple(times * i for i in body.products),
        ),
        front=end(vehicle.front),
        rear=end(vehicle.rear),
        gravity=GRAVITY / times,
        steering=Steering(inertia=inertia, stiffness=SPRING, caster_offset=trail),
    )  # fmt: skip


@pytest.mark.parametrize("speed", [5.0, 30.0])
@pytest.mark.parametrize("share", [0.7, 0.97, 1.03, 1.4])
def test_trailing_wheel_is_stable_while_its_trail_exceeds_the_relaxation_length(share: float, speed: float) -> None:
    """Source 1: sign of the growth as Routh has it, and the swinging root to 0.3 %."""
    light = settle(trailing_wheels(0.1, inertia=4.0, times=1.0))
    tyre, loads = trailing_wheels(0.1, inertia=4.0).front.tyre, light.wheel_load[:2]
    relaxation = float(np.mean([tyre.relaxation_base + tyre.relaxation_gain * n for n in loads]))
    vehicle = trailing_wheels(share * relaxation, inertia=4.0)
    trail, stiffness = share * relaxation, sum(tyre.cornering(float(n)) for n in loads)
    lever = stiffness * (
        trail + float(np.mean([tyre.half_contact * 0.5 * (1 + n / tyre.reference_load) for n in loads])) / 3
    )
    roots = np.roots([4.0 * relaxation, 4.0 * speed, SPRING * relaxation + lever * trail, (SPRING + lever) * speed])
    expected = max((r for r in roots if r.imag > 0.0), key=abs)
    model = linearise(vehicle, speed=speed, rest=settle(vehicle, start=light.q))
    found = max((m for m in model.modes if m.swings), key=lambda m: m.shares["steering"])
    print(share, speed, found.eigenvalue, expected)
    assert (found.eigenvalue.real < 0.0) == (share > 1.0)
    assert found.eigenvalue.imag == pytest.approx(expected.imag, rel=3e-3)
    assert found.eigenvalue.real == pytest.approx(expected.real, abs=3e-4 * abs(expected))


def test_what_calms_and_what_stirs_a_wobble() -> None:
    """Source 2: less damped with more caster at speed, more with a damper; the wheels' spin couples it with tramp.

    Softer rods do not make it worse as such here: they take the steering's frequency away from the tramp's.
    """

    def least(vehicle: Vehicle) -> float:
        return wobble(vehicle, speed=30.0).least.damping

    plain = least(steering())
    assert least(steering(caster=math.radians(6.0))) < plain < least(steering(caster=0.0))
    assert least(steering(damper=30.0)) > plain + 0.02
    still = dataclasses.replace(steering(), front=dataclasses.replace(steering().front, spin_inertia=1e-6))
    print(plain, least(still))
    assert least(still) > plain + 0.02


def test_damping_falls_with_speed_to_where_it_grows() -> None:
    damping = [w.least.damping for w in wobbles(steering(), SPEEDS)]
    assert damping == sorted(damping, reverse=True)
    steep = steering(caster=math.radians(6.0))
    grows = speed_of(steep, 0.0, wobbles(steep, (*SPEEDS, 60.0)))
    assert grows is not None
    assert wobble(steering(caster=math.radians(6.0)), speed=grows - 0.5).least.damping > 0.0
    assert wobble(steering(caster=math.radians(6.0)), speed=grows + 0.5).least.damping < 0.0
    calm = steering(damper=100.0)
    assert speed_of(calm, 0.0, wobbles(calm, SPEEDS)) is None
    assert speed_of(calm, 0.9, wobbles(calm, SPEEDS)) == SPEEDS[0]


def test_the_damper_that_is_asked_for_does_it() -> None:
    damper = damper_for(steering(), 0.05, speeds=SPEEDS)
    assert damper is not None
    least = min(w.least.damping for w in wobbles(steering(damper=damper), SPEEDS))
    assert least == pytest.approx(0.05, abs=2e-3)
    assert damper_for(steering(damping=300.0), 0.01, speeds=SPEEDS) == 0.0


def test_friction_holds_a_small_wobble_and_lets_a_large_one_go() -> None:
    """In time, wheels let go of a turn: well within the swing that friction stops it dies, well beyond it goes on.

    The swing by harmonic balance is a linear figure; tyres that slide at large swings hold it back too.
    """
    plain = {"damper": linear_damper(1500.0, gas=60.0, mount=9e5)}
    caster = dataclasses.replace(STEERING, caster=math.radians(10.0), friction=4.0)
    vehicle = wagon(front=dict(plain), rear=dict(plain), steering=caster)
    speed = 40.0
    found = wobble(vehicle, speed=speed)
    assert found.least.damping < 0.0
    held = held_by_friction(vehicle, found)
    assert math.radians(0.05) < held < math.radians(3.0)

    def swing(start: float) -> float:
        """Largest steer in the last third of 3 s over that in the first third."""
        rest, step = settle(vehicle), 1e-3
        model = linearise(vehicle, speed=speed)
        q, u, local = model.running
        q[10] += start
        inputs = np.zeros((3000, k.INPUTS))
        inputs[:, k.IN_SPEED], inputs[:, k.IN_STEER] = speed, model.steer
        run = march(
            packed=pack(vehicle, lag=0.5 * step), rest=dataclasses.replace(rest, q=q, local=local), inputs=inputs,
            step=step, every=1, gravity=vehicle.gravity, velocity=u.copy(),
        )  # fmt: skip
        steer = run.position[:, 10] - run.position[:, 10].mean()
        return float(np.abs(steer[2000:]).max() / np.abs(steer[:1000]).max())

    print(math.degrees(held), swing(0.4 * held), swing(2.5 * held))
    assert swing(0.4 * held) < 0.5
    assert swing(2.5 * held) > 1.0


def test_a_steering_that_does_not_give_has_no_wobble() -> None:
    with pytest.raises(DomainError, match="follow the hand wheel rigidly"):
        wobble(wagon(), speed=20.0)
