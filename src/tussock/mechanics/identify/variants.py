"""Uncertain parameters of the vehicle's model, and the vehicle with them changed."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.identify.fit import Parameter
from tussock.mechanics.motion import AxleParts, DamperParts, Vehicle

#: What a workshop does not know well of a vehicle that it has weighed and measured, and by how much (common practice,
#: no source): factors on the model's values.
PARAMETERS: Mapping[str, Parameter] = {
    p.key: p
    for p in (
        Parameter(key="front_rebound", low=0.6, high=1.6),
        Parameter(key="front_compression", low=0.6, high=1.6),
        Parameter(key="rear_rebound", low=0.6, high=1.6),
        Parameter(key="rear_compression", low=0.6, high=1.6),
        Parameter(key="friction", low=0.4, high=2.5),
        Parameter(key="tyre_stiffness", low=0.75, high=1.33),
        Parameter(key="centre_height", low=0.9, high=1.11),
        Parameter(key="pitch_inertia", low=0.75, high=1.33),
        Parameter(key="roll_inertia", low=0.75, high=1.33),
    )
}


def _damper(parts: AxleParts, change: Callable[[DamperParts], DamperParts]) -> AxleParts:
    return replace(parts, damper=change(parts.damper))


def _scaled(parts: AxleParts, direction: str, factor: float) -> AxleParts:
    def change(damper: DamperParts) -> DamperParts:
        where = damper.velocity < 0.0 if direction == "rebound" else damper.velocity > 0.0
        return replace(damper, force=np.where(where, factor * damper.force, damper.force))

    return _damper(parts, change)


def changed(vehicle: Vehicle, factors: Mapping[str, float]) -> Vehicle:
    """Return a vehicle with factors on some of `PARAMETERS`.

    Friction is that of dampers' seals, springs and bushes together. The centre's height is that of the sprung mass.

    Raises
    ------
    DomainError
        For a parameter that is not known, or a factor that is not above 0.
    """
    front, rear, body = vehicle.front, vehicle.rear, vehicle.body
    for key, factor in factors.items():
        if key not in PARAMETERS or not factor > 0.0:
            raise DomainError(f"{key} times {factor:g}: known are {', '.join(PARAMETERS)}, factors are above 0")
        if key == "friction":
            front, rear = (
                replace(
                    _damper(p, lambda d, f=factor: replace(d, friction=f * d.friction)),  # type: ignore[misc]
                    spring_friction=factor * p.spring_friction,
                    bush_friction=factor * p.bush_friction,
                )
                for p in (front, rear)
            )
        elif key == "tyre_stiffness":
            front, rear = (
                replace(p, tyre=replace(p.tyre, vertical_stiffness=factor * p.tyre.vertical_stiffness))
                for p in (front, rear)
            )
        elif key == "centre_height":
            x, y, z = body.centre
            body = replace(body, centre=(x, y, factor * z))
        elif key in ("pitch_inertia", "roll_inertia"):
            roll, pitch, yaw = body.inertia
            inertia = (roll, factor * pitch, yaw) if key == "pitch_inertia" else (factor * roll, pitch, yaw)
            body = replace(body, inertia=inertia)
        else:
            end, direction = key.split("_")
            if end == "front":
                front = _scaled(front, direction, factor)
            else:
                rear = _scaled(rear, direction, factor)
    return replace(vehicle, front=front, rear=rear, body=body)
