"""The invented vehicles of these tests with an elastic steering and bushes that give."""

from __future__ import annotations

import dataclasses
import math

from tussock.mechanics.motion import Give, Steering, Vehicle

STEERING = Steering(
    inertia=3.2,
    stiffness=25e3,
    damping=40.0,
    damper=20.0,
    friction=25.0,
    caster=math.radians(4.0),
    inclination=math.radians(8.5),
    caster_offset=0.004,
    king_pin_offset=0.10,
    hand_wheel=11.0,
)
RIGID_GIVE = Give(steer=(-4e-7, -4e-7), shift=8e-7)
WHEEL_GIVE = Give(steer=(-1.5e-6, 0.0), inclination=2e-6, brake_steer=(-1e-6, 1e-6), shift=1e-6)


def full(vehicle: Vehicle, **steering: float) -> Vehicle:
    """Return a vehicle with steering, give of the bushes, 60 % of the brakes in front; keywords change the steering."""
    return dataclasses.replace(
        vehicle,
        front=dataclasses.replace(vehicle.front, give=WHEEL_GIVE, brake_share=0.6),
        rear=dataclasses.replace(vehicle.rear, give=RIGID_GIVE, brake_share=0.4),
        steering=dataclasses.replace(STEERING, **steering),
    )
