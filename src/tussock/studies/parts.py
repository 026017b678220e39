"""From the record's fields to the parts that mechanics computes with: masses, springs, stops, dampers."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from tussock.errors import DomainError, InputError
from tussock.mechanics import mass as masses
from tussock.mechanics.arrays import Floats
from tussock.mechanics.mass import GRAVITY, Item, MassState
from tussock.mechanics.springs import AntiRollBar, BumpStop, CoilSpring
from tussock.studies.damper_builds import takes_valves
from tussock.studies.job import KERB, STOCK, Job, Setup
from tussock.studies.spring_laws import SpringLaw, spring_law
from tussock.studies.stop_library import stack, stop_of

if TYPE_CHECKING:
    from tussock.mechanics.dampers import ForceCurve


RAISED = ("seat", "block", "shackle")
ARCH_DATUM = 0.5  # a leaf spring's arch is measured from a point so far above the line of its eyes [m]


@dataclass(frozen=True, kw_only=True)
class Spring:
    """A spring as fitted: its law and what raises it.

    Attributes
    ----------
    name, title : str
        Of the spring.
    law : SpringLaw
        What it does.
    packer : float
        Height of the packers on its seats [m].
    packers : tuple of str
        Names of all that raises it.
    seats : float
        Of the length that the linkage knows, what neither spring nor packers fill: the ends of a coil-over's damper,
        the datum of a leaf spring's arch [m].
    block, shackle : float
        Block between leaf spring and axle, and how much longer the shackle is [m]; both are part of the linkage.
    """

    name: str
    title: str
    law: SpringLaw
    packer: float
    packers: tuple[str, ...]
    seats: float = 0.0
    block: float = 0.0
    shackle: float = 0.0

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

    @property
    def raised(self) -> tuple[float, float]:
        """Block and longer shackle [m]."""
        return self.block, self.shackle

    def longer(self, more: float) -> Spring:
        """Return the same spring with more free length, arch or free angle [m], [rad] of a torsion bar."""
        law = dataclasses.replace(self.law, free_length=self.law.free_length + more)
        return dataclasses.replace(self, law=law)

    def droop(self, length: float, ratio: float) -> float:
        """Return how far a wheel droops from where the spring stands `length` long until it carries nothing [m].

        Parameters
        ----------
        length : float
            Between its seats, packers included; as its law counts it [m].
        ratio : float
            Spring travel over wheel travel [-]; of a torsion bar [rad/m].
        """
        return (self.free_length + self.packer - length) / ratio

    def at_rate(self, rate: float, free_length: float) -> Spring:
        """Return a spring of this kind with another rate [N/m] and free length [m]."""
        stages = self.law.stages
        if stages is not None:
            stages = stages.at_rate(rate)
        law = dataclasses.replace(self.law, rate=rate, free_length=free_length, stages=stages)
        return dataclasses.replace(self, law=law)

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
    name = None if setup.stock else programme.worn(setup.build, "springs", end)
    if name is None and (setup.stock or setup.fitout == KERB):
        return STOCK, stock
    name = programme.fitouts[setup.fitout].springs[end] if name is None else name
    return name, stock if name == STOCK else programme.kit.springs[name]


def fitted_spring(job: Job, setup: Setup, end: str) -> Spring:
    """Return the spring on an axle with its packers."""
    name, record = spring_choice(job, setup, end)
    return spring_of(job, setup, end, name, record)


def spring_of(
    job: Job, setup: Setup, end: str, name: str, record: Any, *, packers: tuple[str, ...] | None = None
) -> Spring:
    """Return any spring on an axle, with the damper that a setup has there and its packers, or the named ones."""
    every = job.programme.kit.packers
    if packers is None:
        packers = () if setup.stock or setup.fitout == KERB else job.programme.fitouts[setup.fitout].packers
        worn = packers if (own := job.programme.worn(setup.build, "packers")) is None else own
        packers = tuple(p for p in worn if every[p].axle == end)
    raised = {kind: sum(float(every[p].height) for p in packers if every[p].kind == kind) for kind in RAISED}
    law = spring_law(record)
    seats = 0.0
    if law.kind == "leaf":
        raised["block"] += raised.pop("seat")  # a packer on a leaf spring's seat is a block
        seats = ARCH_DATUM
    elif law.kind == "coil":
        over = damper_choice(job, setup, end)[1].spring_seats
        seats = float(over) if over is not None else 0.0
    return Spring(
        name=name,
        title=record.title,
        law=law,
        packer=raised.get("seat", 0.0),
        packers=packers,
        seats=seats,
        block=raised["block"],
        shackle=raised["shackle"],
    )


def damper_choice(job: Job, setup: Setup, end: str) -> tuple[str, Any]:
    """Return name and record of the damper on an axle; what a build leaves out it has from its parent."""
    name = job.programme.worn(setup.build, "dampers", end)
    if name is None or name == STOCK:
        return STOCK, job.programme.vehicle.axles[end].damper
    return name, job.programme.kit.dampers[name]


def curve_source(damper: Any) -> str:
    """Say where studies have a damper's force from: "dyno", "points" or "valves"."""
    if takes_valves(damper):
        return "valves"
    return "dyno" if damper.dyno is not None else "points"


def bump_stop(job: Job, setup: Setup, end: str) -> BumpStop:
    """Return the bump stop of an axle; unless stock with the spacer and the stops of the build, or else of the kit."""
    stops, spacer = stop_choice(job, setup, end)
    key = ("bump stop", end, stops, spacer)
    if key not in job.memo:
        own = job.programme.vehicle.axles[end].stop
        job.memo[key] = (
            stack(*stops, spacer=spacer, own=job.programme.kit.stops) if stops else stop_of(own, spacer=spacer)
        )
    made = job.memo[key]
    assert isinstance(made, BumpStop)
    return made


def stop_choice(job: Job, setup: Setup, end: str) -> tuple[tuple[str, ...], float]:
    """Return the stops that replace the vehicle's on an axle, none where it stays, and the spacer under them [m]."""
    if setup.stock:
        return (), 0.0
    kit, programme = job.programme.kit, job.programme
    spacer, stops = (programme.worn(setup.build, part, end) for part in ("stop_spacers", "stop_stacks"))
    return kit.stop_stacks[end] if stops is None else stops, float(kit.stop_spacers[end] if spacer is None else spacer)


def fitted(job: Job, setup: Setup, end: str) -> Fitted:
    """Return all that an axle wears in a setup."""
    name, damper = damper_choice(job, setup, end)
    return Fitted(
        end=end,
        spring=fitted_spring(job, setup, end),
        stop=bump_stop(job, setup, end),
        damper=damper,
        damper_name=name,
        curve=job.curve(damper),
        curve_from=curve_source(damper),
        bar_rate=bar_rate(job, end, setup.build),
    )


def bar_rate(job: Job, end: str, build: str = STOCK) -> float:
    """Return the rate of a build's anti-roll bar over what the axle's map calls its twist [N m/rad]; 0 without one.

    Of a rigid axle, and of a bar known by its roll rate, that is the roll. Of a bar between independent wheels known by
    its dimensions it is the angle between its arms: half its end rate times the square of the arm.
    """
    record = job.programme.worn(build, "bars", end) or job.programme.vehicle.axles[end].bar
    if record is None:
        return 0.0
    if record.roll_rate is not None:
        return float(record.roll_rate)
    sizes = {name: getattr(record, name) for name in ("diameter", "arm", "length", "bush_spacing")}
    bar = AntiRollBar(
        **{name: float(value) for name, value in sizes.items() if value is not None},
        inner_diameter=float(record.inner_diameter) if record.inner_diameter is not None else 0.0,
    )
    if record.link_spacing is not None:
        return bar.roll_rate(link_spacing=float(record.link_spacing))
    return 0.5 * bar.end_rate * bar.arm**2


def arch_datum(job: Job, end: str) -> Floats:
    """Return the point over a leaf spring's seat, `ARCH_DATUM` above the line of its eyes in the stock pose [m]."""
    points = hardpoints(job, end)
    seat, one, two = points["leaf_seat"], points["fixed_eye"], points["shackle_eye"]
    share = (seat[0] - one[0]) / (two[0] - one[0])
    return np.array([seat[0], seat[1], one[2] + share * (two[2] - one[2]) + ARCH_DATUM])


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


def limit_of(job: Job, setup: Setup, end: str, limiter: Any) -> float:
    """Return the angle that a joint allows [rad]; the kit's replacement unless stock."""
    if not setup.stock:
        for new in job.programme.kit.joints[end]:
            if new.name == limiter.name:
                return float(new.limit)
    return float(limiter.limit)


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
