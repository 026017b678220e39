"""From the record's fields to the parts that mechanics computes with: masses, springs, stops, dampers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from tussock.errors import DomainError, InputError
from tussock.mechanics import mass as masses
from tussock.mechanics.arrays import Floats
from tussock.mechanics.mass import GRAVITY, Item, MassState
from tussock.mechanics.springs import BumpStop, CoilSpring
from tussock.studies.damper_builds import takes_valves
from tussock.studies.job import KERB, STOCK, Job, Setup
from tussock.studies.spring_laws import SpringLaw, spring_law
from tussock.studies.stop_library import stop_of

if TYPE_CHECKING:
    from tussock.mechanics.dampers import ForceCurve


@dataclass(frozen=True, kw_only=True)
class Spring:
    """A spring as fitted: its law and the packers under it [m]."""

    name: str
    title: str
    law: SpringLaw
    packer: float
    packers: tuple[str, ...]

    @property
    def rate(self) -> float:
        """Rate where it begins to carry [N/m]."""
        return self.law.rate

    @property
    def free_length(self) -> float:
        """Length without load, packers not counted [m]."""
        return self.law.free_length

    @property
    def coil(self) -> CoilSpring | None:
        """Its coil, where it is one of known dimensions."""
        return self.law.coil

    def force(self, length: Floats | float) -> Floats:
        """Return its force at lengths between its seats, packers included [m], [N]."""
        return self.law.force(np.asarray(length, dtype=np.float64) - self.packer)

    def further_force(self, length: Floats | float) -> Floats:
        """Return its force beyond what `rate` gives at lengths between its seats, packers included [m], [N]."""
        return self.law.further_force(np.asarray(length, dtype=np.float64) - self.packer)

    def rate_at(self, length: float) -> float:
        """Return its rate at a length between its seats, packers included [m], [N/m]."""
        return self.law.rate_at(length - self.packer)


@dataclass(frozen=True, kw_only=True)
class Fitted:
    """What one axle wears in a setup."""

    end: str
    spring: Spring
    stop: BumpStop
    damper: Any
    damper_name: str
    curve: ForceCurve
    curve_from: str  # "dyno", "points" or "valves"
    bar_rate: float


def spring_choice(job: Job, setup: Setup, end: str) -> tuple[str, Any]:
    """Return name and record of the spring on an axle."""
    programme = job.programme
    stock = programme.vehicle.axles[end].spring
    if setup.stock or setup.fitout == KERB:
        return STOCK, stock
    name = programme.fitouts[setup.fitout].springs[end]
    return name, stock if name == STOCK else programme.kit.springs[name]


def fitted_spring(job: Job, setup: Setup, end: str) -> Spring:
    """Return the spring on an axle with its packers."""
    name, record = spring_choice(job, setup, end)
    packers: tuple[str, ...] = ()
    if not setup.stock and setup.fitout != KERB:
        every = job.programme.kit.packers
        packers = tuple(p for p in job.programme.fitouts[setup.fitout].packers if every[p].axle == end)
    return Spring(
        name=name,
        title=record.title,
        law=spring_law(record),
        packer=sum(float(job.programme.kit.packers[p].height) for p in packers),
        packers=packers,
    )


def damper_choice(job: Job, setup: Setup, end: str) -> tuple[str, Any]:
    """Return name and record of the damper on an axle; what a build leaves out it has from its parent."""
    build = setup.build
    while build != STOCK:
        chosen = job.programme.builds[build].dampers
        for axle, name in chosen.items():
            if axle == end:
                return name, job.programme.kit.dampers[name]
        build = job.programme.builds[build].parent
    return STOCK, job.programme.vehicle.axles[end].damper


def curve_source(damper: Any) -> str:
    """Say where studies have a damper's force from: "dyno", "points" or "valves"."""
    if takes_valves(damper):
        return "valves"
    return "dyno" if damper.dyno is not None else "points"


def bump_stop(job: Job, setup: Setup, end: str) -> BumpStop:
    """Return the bump stop of an axle, with the kit's spacer unless stock."""
    record = job.programme.vehicle.axles[end].stop
    return stop_of(record, spacer=0.0 if setup.stock else float(job.programme.kit.stop_spacers[end]))


def fitted(job: Job, setup: Setup, end: str) -> Fitted:
    """Return all that an axle wears in a setup."""
    name, damper = damper_choice(job, setup, end)
    bar = job.programme.vehicle.axles[end].bar
    return Fitted(
        end=end,
        spring=fitted_spring(job, setup, end),
        stop=bump_stop(job, setup, end),
        damper=damper,
        damper_name=name,
        curve=job.curve(damper),
        curve_from=curve_source(damper),
        bar_rate=float(bar.roll_rate) if bar is not None and bar.roll_rate is not None else 0.0,
    )


def line_of(job: Job, setup: Setup, end: str, limiter: Any) -> tuple[float, Any, Any]:
    """Return usable length [m], chassis and axle end of a line; the kit's replacement unless stock."""
    length, slack = float(limiter.length), float(limiter.slack)
    chassis, axle = limiter.chassis, limiter.axle
    if not setup.stock:
        for new in job.programme.kit.lines[end]:
            if new.name == limiter.name:
                length = float(new.length)
                slack = slack if new.slack is None else float(new.slack)
                chassis, axle = new.chassis or chassis, new.axle or axle
    return length - slack, chassis.si, axle.si


def wheel_centre(job: Job, end: str) -> tuple[float, float, float]:
    """Return the left wheel centre at kerb [m]."""
    point: tuple[float, float, float] = job.programme.vehicle.axles[end].hardpoints["wheel_centre"].si
    return point


def track(job: Job, end: str) -> float:
    """Return the distance between the wheel centres of an axle [m]."""
    return 2.0 * wheel_centre(job, end)[1]


def axle_share(front: Any, end: str) -> float:
    """Return an axle's share of a force of which the front axle carries the given share, 0 to 1 [-]."""
    return float(front) if end == "front" else 1.0 - float(front)


def axle_mass(job: Job, end: str) -> MassState:
    """Return mass and inertia of an axle with its wheels, about its centre."""
    record = job.programme.vehicle.axles[end]
    x, y, z = wheel_centre(job, end)
    mass, given = float(record.mass), record.inertia
    if given is not None:
        inertia = (float(given.roll), float(given.pitch), float(given.yaw))
    else:  # independent wheels: two masses half a track out, each with half its wheel's spin about an upright axis
        spin = float(record.wheel_spin_inertia)
        inertia = (mass * y**2 + spin, 2.0 * spin, mass * y**2 + spin)
    return MassState(mass=mass, centre=(x, 0.0, z), inertia=inertia)


def kerb_weighing(job: Job) -> masses.Weighing:
    """Return what the scales said at kerb."""
    vehicle = job.programme.vehicle
    corners = vehicle.corners
    each = (corners.front_left, corners.front_right, corners.rear_left, corners.rear_right)
    return masses.weigh(
        [float(c) for c in each],
        wheelbase=float(vehicle.wheelbase),
        track=0.5 * (track(job, "front") + track(job, "rear")),
        corner_spread=max(c.spread for c in each),
        wheelbase_spread=vehicle.wheelbase.spread,
    )


def kerb_mass(job: Job) -> MassState:
    """Return the whole vehicle at kerb; height and inertia from the published regression where not measured."""
    vehicle = job.programme.vehicle
    scales = kerb_weighing(job)
    height = vehicle.centre_of_gravity_height
    z = float(height) if height is not None else masses.estimate_height(scales.mass)[0]
    if vehicle.inertia is not None:
        i = vehicle.inertia
        inertia = (float(i.roll), float(i.pitch), float(i.yaw))
    else:
        inertia, _ = masses.estimate_inertia(scales.mass)
    return MassState(mass=scales.mass, centre=(scales.x, scales.y, z), inertia=inertia)


def aboard(job: Job, fitout: str) -> tuple[Item, ...]:
    """Return people and items of a fit-out; nothing at kerb."""
    if fitout == KERB:
        return ()
    record = job.programme.fitouts[fitout]
    places = job.programme.vehicle.places
    people = [Item(name=name, mass=float(m), at=places[name].seat.si) for name, m in record.people.items()]
    return (*people, *(Item(name=i.name, mass=float(i.mass), at=i.at.si) for i in record.items))


def whole_mass(job: Job, fitout: str) -> MassState:
    """Return the whole vehicle in a fit-out."""
    return kerb_mass(job).with_items(aboard(job, fitout))


def sprung_mass(job: Job, fitout: str) -> MassState:
    """Return what stands on the springs in a fit-out."""
    try:
        return whole_mass(job, fitout).without(axle_mass(job, "front")).without(axle_mass(job, "rear"))
    except DomainError as error:
        raise InputError(f"fit-out {fitout}: {error}") from None


def sprung_corner(job: Job, fitout: str, end: str) -> float:
    """Return the sprung mass on one corner of an axle, both sides alike [kg]."""
    sprung = sprung_mass(job, fitout)
    front_x, rear_x = wheel_centre(job, "front")[0], wheel_centre(job, "rear")[0]
    share = (sprung.centre[0] - rear_x) / (front_x - rear_x)
    return sprung.mass * (share if end == "front" else 1.0 - share) / 2.0


def static_corner_load(job: Job, fitout: str, end: str) -> float:
    """Return the load of the sprung mass on one corner of an axle [N]."""
    return sprung_corner(job, fitout, end) * GRAVITY


def hardpoints(job: Job, end: str) -> dict[str, Floats]:
    """Return an axle's hardpoints in SI as arrays (3,) [m]."""
    return {name: np.array(point.si) for name, point in job.programme.vehicle.axles[end].hardpoints.items()}
