"""Invented vehicles for the tests of motion: axles whose maps are closed forms, so that every node is exact."""

from __future__ import annotations

import dataclasses

import numpy as np

from tussock.mechanics.arrays import Floats
from tussock.mechanics.axle_map import AxleMap
from tussock.mechanics.mass import MassState
from tussock.mechanics.motion import AxleParts, DamperParts, Vehicle
from tussock.mechanics.tyre import Tyre

RADIUS = 0.361
TRACK = 1.5
WHEELBASE = 2.7


def track_rod_axle(
    *,
    design_x: float,
    arm: float,
    rod_body: tuple[float, float],
    rod_axle: tuple[float, float],
    seat: float,
    skew: float = 0.0,
    caster_share: float = 1.0,
    steers: bool = False,
    bush: float = 9000.0,
) -> AxleMap:
    """Return the map of a rigid axle on arms and a track rod.

    The axle centre moves on the arms' arc (arm > 0: pivots behind), turns with them by `caster_share`, and sideways on
    the circle of the track rod from `rod_body` to `rod_axle` (y, z over the axle centre at design). It steers by `skew`
    times its roll. Springs stand at +-`seat` across the axle.
    """
    heave = np.linspace(-0.14, 0.14, 15)
    roll = np.radians(np.linspace(-14.0, 14.0, 13))
    h, r = np.meshgrid(heave, roll, indexing="ij")
    x = design_x - arm + np.sign(arm) * np.sqrt(arm**2 - h**2)
    pitch = -caster_share * np.arcsin(h / arm)
    yaw = skew * r
    # track rod: (y + ay cos r - az sin r - by)^2 + (h + ay sin r + az cos r - bz)^2 = length^2
    (by, bz), (ay, az) = rod_body, rod_axle
    across = ay * np.cos(r) - az * np.sin(r) - by
    up = h + ay * np.sin(r) + az * np.cos(r) - bz
    length2 = (ay - by) ** 2 + (az - bz) ** 2
    y = -across + np.sign(ay - by) * np.sqrt(length2 - up**2)
    pair = [(seat, 1.0), (-seat, -1.0)]
    spring, damper, stop = [], [], []
    for s, _ in pair:
        place = np.stack([x - s * yaw * np.cos(r), y + s * np.cos(r), h + s * np.sin(r)])
        top = np.array([design_x, s, 0.30]).reshape(3, 1, 1)
        spring.append(np.sqrt(((top - place) ** 2).sum(0)))
        mount = np.array([design_x - 0.12, 0.92 * s, 0.46]).reshape(3, 1, 1)
        damper.append(np.sqrt(((mount - place) ** 2).sum(0)))
        stop.append(0.143 - h - s * np.sin(r))
    steer = 0.02 * h + 0.05 * r * h if steers else np.zeros_like(h)
    return AxleMap.of_rigid(
        heave=heave,
        roll=roll,
        centre_x=x,
        centre_y=y,
        centre_z0=RADIUS,
        design_x=design_x,
        pitch=pitch,
        yaw=yaw,
        spring=np.stack(spring, -1),
        damper=np.stack(damper, -1),
        stop=np.stack(stop, -1),
        steer=np.stack([steer, steer], -1),
        energy=0.5 * bush * r**2 + 0.5 * 3000.0 * h**2,
        track=TRACK,
    )


def mirrored_map(axle: AxleMap) -> AxleMap:
    """Return the map of the axle seen in a mirror."""
    flip, swap = (slice(None), slice(None, None, -1)), (slice(None), slice(None, None, -1), slice(None, None, -1))
    return dataclasses.replace(
        axle,
        wheel_x=axle.wheel_x[swap],
        wheel_y=-axle.wheel_y[swap],
        pitch=axle.pitch[flip],
        inclination=-axle.inclination[swap],
        spring=axle.spring[swap],
        damper=axle.damper[swap],
        stop=axle.stop[swap],
        steer=-axle.steer[swap],
        bar=-axle.bar[flip],
        energy=axle.energy[flip],
    )


def damper(compression: float, rebound: float, **settings: float) -> DamperParts:
    """Return a damper that starts at the given rates [N s/m] and turns digressive."""
    v = np.linspace(-3.0, 3.0, 121)
    force = np.where(v > 0.0, compression, rebound) * v / (1.0 + 0.5 * np.abs(v))
    return DamperParts(velocity=v, force=force, **settings)


def linear_damper(rate: float, **settings: float) -> DamperParts:
    """Return a damper with one rate [N s/m]."""
    v = np.linspace(-3.0, 3.0, 13)
    return DamperParts(velocity=v, force=rate * v, **settings)


def stop_curve() -> tuple[Floats, Floats]:
    """Return compression and force of an invented microcellular stop."""
    c = np.linspace(0.0, 0.07, 64)
    return c, 2e6 * c**2 * (1.0 + 20.0 * c)


TYRE = Tyre(
    vertical_stiffness=240e3,
    vertical_damping=150.0,
    free_radius=0.379,
    cornering_stiffness=42e3,
    reference_load=4400.0,
    friction=0.85,
    relaxation_length=0.62,
)


def axle_parts(axle: AxleMap, *, mass: float, rate: float, load: float, **changes: object) -> AxleParts:
    """Return an axle's parts; its springs carry `load` [N] each at design."""
    left = axle.spring[7, 6, 0]
    compression, force = stop_curve()
    settings: dict[str, object] = {
        "axle": axle,
        "mass": MassState(mass=mass, centre=(axle.design_x, 0.0, RADIUS), inertia=(56.0, 9.0, 57.0)),
        "spin_inertia": 1.5,
        "spring_rate": (rate, rate),
        "spring_length": (left + load / rate, left + load / rate),
        "stop_height": 0.078,
        "stop_compression": compression,
        "stop_force": force,
        "damper": damper(1200.0, 2300.0, friction=30.0, gas=60.0, mount=9e5),
        "bar_rate": 8000.0,
        "tyre": TYRE,
        **changes,
    }
    return AxleParts(**settings)  # type: ignore[arg-type]


def front_map() -> AxleMap:
    """Return the front axle's map: leading arms, track rod falling to the right."""
    return track_rod_axle(
        design_x=0.0, arm=0.88, rod_body=(0.40, 0.10), rod_axle=(-0.45, 0.04), seat=0.46, skew=0.05, steers=True
    )


def rear_map() -> AxleMap:
    """Return the rear axle's map: trailing arms that turn it less, track rod falling to the left."""
    return track_rod_axle(
        design_x=-WHEELBASE,
        arm=-0.80,
        rod_body=(-0.42, 0.15),
        rod_axle=(0.44, 0.09),
        seat=0.48,
        skew=-0.03,
        caster_share=0.4,
    )


def wagon(
    *, front: dict[str, object] | None = None, rear: dict[str, object] | None = None, **changes: object
) -> Vehicle:
    """Return an invented wagon of 1,750 kg; keywords replace its parts."""
    settings: dict[str, object] = {
        "body": MassState(
            mass=1460.0, centre=(-1.29, 0.012, 0.76), inertia=(560.0, 2350.0, 2450.0), products=(8.0, -60.0, 5.0)
        ),
        "front": axle_parts(front_map(), mass=150.0, rate=22e3, load=3650.0, **(front or {})),
        "rear": axle_parts(rear_map(), mass=140.0, rate=24e3, load=3350.0, **(rear or {})),
        **changes,
    }
    return Vehicle(**settings)  # type: ignore[arg-type]


def mirrored(vehicle: Vehicle) -> Vehicle:
    """Return the vehicle seen in a mirror."""

    def mass(m: MassState) -> MassState:
        (x, y, z), (xy, xz, yz) = m.centre, m.products
        return dataclasses.replace(m, centre=(x, -y, z), products=(-xy, xz, -yz))

    def end(p: AxleParts) -> AxleParts:
        return dataclasses.replace(
            p,
            axle=mirrored_map(p.axle),
            mass=mass(p.mass),
            spring_rate=(p.spring_rate[1], p.spring_rate[0]),
            spring_length=(p.spring_length[1], p.spring_length[0]),
        )

    return dataclasses.replace(vehicle, body=mass(vehicle.body), front=end(vehicle.front), rear=end(vehicle.rear))
