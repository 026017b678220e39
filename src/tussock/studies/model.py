"""The vehicle of a programme as mechanics sees it: axles, their maps, the full vehicle and where it stands.

What several studies need is built once for each job and kept in it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import TypeVar, cast

import numpy as np
from scipy.interpolate import RectBivariateSpline

from tussock.mechanics.arrays import Floats
from tussock.mechanics.axle_map import AxleMap
from tussock.mechanics.motion import AxleParts, DamperParts, Rest, Springing, Vehicle, settle, springing
from tussock.mechanics.motion.damper_parts import BOTTOM_STIFFNESS, TOP_OUT_STIFFNESS
from tussock.mechanics.tyre import Tyre
from tussock.studies import air_bags, damper_builds, parts, steering, suspensions
from tussock.studies.air_bags import BagFitted
from tussock.studies.frame import framed
from tussock.studies.job import ENDS, KERB, STOCK, Job, Setup
from tussock.studies.suspensions import Fitting, RodLength, Suspension

T = TypeVar("T")

FRICTION_TRAVEL = 2e-3  # over which friction between leaves builds up [m]; common practice, no source
BUSH_TRAVEL = 5e-3  # of the wheel, over which friction of rubber bushes builds up [m]; common practice, no source
TRAVEL_HEAVE = np.linspace(-0.20, 0.16, 73)  # stations along which limiters are followed [m]
MAP_ROLL = np.linspace(-np.deg2rad(14.0), np.deg2rad(14.0), 13)  # of the maps for motion, alike for both axles [rad]
STEP_HEAVE, STEP_ROLL = 0.004, 0.005  # over which rates at ride height are differentiated [m], [rad]


def once(job: Job, key: tuple[object, ...], make: Callable[[], T]) -> T:
    """Return what a job keeps under a key, made now if it is not there."""
    if key not in job.memo:
        job.memo[key] = make()
    return cast("T", job.memo[key])


def build(
    job: Job,
    end: str,
    *,
    changes: Mapping[str, Floats],
    rod_lengths: Mapping[str, RodLength] | None = None,
    setup: Setup | None = None,
    spring: parts.Spring | None = None,
) -> Suspension:
    """Return an axle of the programme with hardpoints changed.

    Parameters
    ----------
    job : Job
        The programme.
    end : str
        "front" or "rear".
    changes : mapping
        Moved hardpoints, ``point@body``, as measured in the stock pose [m]; empty for stock.
    rod_lengths : mapping, optional
        Rods that are refitted or made to a length.
    setup : Setup, optional
        Whose springs, where they are part of the linkage; the stock ones unless given.
    spring : Spring, optional
        Fitted instead of those.
    """
    if spring is None:
        spring = parts.fitted_spring(job, setup or Setup(fitout=KERB, build=STOCK), end)
    fitting = Fitting(changes=dict(changes), rod_lengths=dict(rod_lengths or {}), spring=spring)
    made = suspensions.content(job, end, fitting)
    return job.kept.once(made, lambda: suspensions.build(job, end, fitting))


def kit_changes(job: Job, end: str) -> dict[str, Floats]:
    """Return the hardpoints that the kit moves [m]."""
    return {name: np.array(point.si) for name, point in job.programme.kit.changes[end].items()}


def kit_rods(job: Job, end: str) -> dict[str, RodLength]:
    """Return the rods that the kit refits or replaces."""
    out: dict[str, RodLength] = {}
    for name, length in job.programme.kit.rod_lengths[end].items():
        out[name] = length if isinstance(length, str) else float(length)
    return out


def axle(
    job: Job, end: str, *, stock: bool, setup: Setup | None = None, spring: parts.Spring | None = None
) -> Suspension:
    """Return an axle, as measured or with the kit's parts.

    Leaf springs are part of it: `spring`, else those of `setup`, else the stock ones or those of the first fit-out.
    """
    leaves: parts.Spring | None = None
    if suspensions.leaf_sprung(job, end):
        if setup is None:
            setup = Setup(fitout=KERB, build=STOCK) if stock else job.setup()
        leaves = spring or parts.fitted_spring(job, setup, end)
    kitted = not stock and bool(kit_changes(job, end) or kit_rods(job, end))
    changes, rods = (kit_changes(job, end), kit_rods(job, end)) if kitted else ({}, {})
    # a leaf spring is known by what the linkage takes of it, so that fit-outs on the same pack share one axle
    own = None if leaves is None else (leaves.law.rate, leaves.law.free_length, leaves.law.leaf, leaves.raised)
    return once(
        job,
        ("axle", end, kitted, own),
        lambda: build(job, end, changes=changes, rod_lengths=rods, setup=setup, spring=leaves),
    )


def motion_map(job: Job, end: str, setup: Setup, spring: parts.Spring | None = None) -> AxleMap:
    """Return an axle's map for heights and motion; `spring` replaces the one fitted."""
    this = axle(job, end, stock=setup.stock, setup=setup, spring=spring)
    return once(job, ("map", end, id(this)), lambda: suspensions.kept_map(job, end, this, roll=MAP_ROLL))


def travel_map(job: Job, end: str, setup: Setup, *, roll: float) -> AxleMap:
    """Return an axle's map along its whole travel at zero roll and at `roll` [rad] either way."""
    this = axle(job, end, stock=setup.stock, setup=setup)
    rolls = np.array([-roll, 0.0, roll])
    return once(job, ("travel", end, id(this), roll), lambda: suspensions.kept_map(job, end, this, TRAVEL_HEAVE, rolls))


def tyre(job: Job, setup: Setup, end: str) -> Tyre:
    """Return an axle's tyre at the pressure to which the build is set."""
    t = job.programme.vehicle.tyre
    as_given = Tyre(
        vertical_stiffness=float(t.vertical_stiffness),
        vertical_damping=float(t.vertical_damping),
        free_radius=float(t.free_radius),
        cornering_stiffness=float(t.cornering_stiffness),
        reference_load=float(t.reference_load),
        friction=float(t.friction),
        relaxation_length=float(t.relaxation_length),
        # not measured: two fifths of the radius, common practice, no source
        contact_length=float(t.contact_length) if t.contact_length is not None else 0.4 * float(t.free_radius),
        pneumatic_trail=None if t.pneumatic_trail is None else float(t.pneumatic_trail),
    )
    set_to = job.programme.worn(setup.build, "tyre_pressure", end)
    if set_to is None or t.pressure is None:
        return as_given
    return as_given.inflated(float(set_to) / float(t.pressure))


def damper_parts(job: Job, fitted: parts.Fitted) -> DamperParts:
    """Return the damper of an axle for the motion."""
    made, curve = fitted.damper, fitted.curve

    def make() -> tuple[object, DamperParts]:
        velocity, force = curve.table()
        return curve, DamperParts(
            velocity=velocity,
            force=force,
            friction=curve.friction,
            gas=curve.gas_force,
            mount=float(made.mount_stiffness) if made.mount_stiffness is not None else 0.0,
            oil=damper_builds.oil_stiffness(job, made, curve),
            open_length=float(made.open_length),
            closed_length=float(made.closed_length),
            top_out_stiffness=float(made.top_out_stiffness or TOP_OUT_STIFFNESS),
            bottom_stiffness=float(made.bottom_stiffness or BOTTOM_STIFFNESS),
        )

    # by identity, as what is kept holds what it belongs to
    return once(job, ("damper parts", id(curve), id(made)), lambda: (made, *make()))[2]


def axle_parts(
    job: Job,
    setup: Setup,
    end: str,
    *,
    damper: DamperParts | None = None,
    spring: parts.Spring | None = None,
    bag: BagFitted | None = None,
    bag_stands: float | None = None,
) -> AxleParts:
    """Return one axle of a setup for the motion; `damper`, `spring` and `bag` replace those fitted.

    An air bag holds its pressure at every height until `bag_stands` says at which it was closed [m].
    """
    fitted = parts.fitted(job, setup, end)
    damper = damper or damper_parts(job, fitted)
    # by identity, as what is kept holds what it belongs to
    _, (compression, stop_force) = once(
        job, ("stop table", id(fitted.stop)), lambda: (fitted.stop, fitted.stop.table())
    )
    spring = spring or fitted.spring
    # leaf springs are in the energy of the map
    rate = 0.0 if spring.law.kind == "leaf" else spring.rate
    length = spring.free_length + spring.packer + spring.seats

    grid = motion_map(job, end, setup, spring)
    bag = bag or air_bags.fitted_bag(job, setup, end)
    helped = bag.force(grid, bag_stands) if bag is not None else None
    beside = bag.beside if bag is not None else ""

    def further(lengths: Floats, spring: parts.Spring = spring) -> Floats:
        own = spring.further_force(lengths - spring.seats)
        return own + helped(lengths) if helped is not None and beside == "spring" else own

    return AxleParts(
        axle=grid,
        mass=parts.axle_mass(job, end),
        spin_inertia=float(job.programme.vehicle.axles[end].wheel_spin_inertia),
        spring_rate=(rate, rate),
        spring_length=(length, length),
        further_force=further if spring.law.stages is not None or beside == "spring" else None,
        stop_side_force=helped if beside == "stop" else None,
        spring_friction=spring.law.friction,
        friction_travel=FRICTION_TRAVEL,
        bush_friction=float(job.programme.vehicle.axles[end].bush_friction or 0.0),
        bush_travel=BUSH_TRAVEL,
        stop_height=fitted.stop.height,
        stop_compression=compression,
        stop_force=stop_force,
        stop_loss=fitted.stop.loss,
        damper=damper,
        bar_rate=fitted.bar_rate,
        tyre=tyre(job, setup, end),
        drive_share=parts.axle_share(job.programme.vehicle.front_drive_share, end),
        brake_share=parts.axle_share(job.programme.vehicle.front_brake_share, end),
        carries_drive=not suspensions.independent(job, end),
        carries_brakes=not suspensions.independent(job, end) or job.programme.vehicle.axles[end].brakes == "outboard",
    )


def sprung(job: Job, setup: Setup, end: str, spring: parts.Spring) -> Vehicle:
    """Return the vehicle of a setup with other springs on one axle."""
    other = axle_parts(job, setup, end, spring=spring)
    whole = _open(job, setup)
    whole = replace(whole, front=other) if end == "front" else replace(whole, rear=other)
    return _steered(job, setup, _closed(job, setup, whole, springs={end: spring}), {end: spring})


def bagged(job: Job, setup: Setup, end: str, bag: BagFitted, spring: parts.Spring | None = None) -> Vehicle:
    """Return the vehicle of a setup with an air bag, and other springs if given, on one axle instead of its own."""
    other = axle_parts(job, setup, end, bag=bag, spring=spring)
    whole = _open(job, setup)
    whole = replace(whole, front=other) if end == "front" else replace(whole, rear=other)
    springs = {} if spring is None else {end: spring}
    return _steered(job, setup, _closed(job, setup, whole, bags={end: bag}, springs=springs), springs)


def vehicle(job: Job, setup: Setup) -> Vehicle:
    """Return the full vehicle of a setup, its air bags closed at the height at which it stands."""
    return once(job, ("vehicle", setup), lambda: _steered(job, setup, _closed(job, setup, _open(job, setup)), {}))


def _steered(job: Job, setup: Setup, whole: Vehicle, springs: Mapping[str, parts.Spring]) -> Vehicle:
    """Return a vehicle with its steering and the give of its bushes as they are where it stands."""
    stands = settle(whole)
    # to the millimetre: neither changes by more than the linkage is known
    heaves = [round(float(heave), 3) for heave in stands.heave]
    built = [axle(job, end, stock=setup.stock, setup=setup, spring=springs.get(end)) for end in ENDS]
    front, rear = (
        replace(ends, give=job.kept.of(this, ("give", heave), partial(steering.give, this, heave=heave)))
        for ends, this, heave in zip(whole.axles, built, heaves, strict=True)
    )
    grid, heave = whole.front.axle, heaves[0]

    def at(field: Floats, roll: float) -> float:
        return float(RectBivariateSpline(grid.heave, grid.roll, field).ev([heave], [roll])[0])

    # king pins are known level: what the axle leans where it stands is their lean already
    lean = at(grid.inclination[..., 0], 0.0), at(grid.inclination[..., 1], 0.0)
    found = once(
        job,
        ("steering", id(built[0]), heave),
        partial(steering.steering, job, built[0], heave=heave, pitch=at(grid.pitch, float(stands.roll[0])), lean=lean),
    )
    return replace(whole, front=front, rear=rear, steering=found)


def _closed(
    job: Job,
    setup: Setup,
    whole: Vehicle,
    *,
    springs: Mapping[str, parts.Spring] | None = None,
    bags: Mapping[str, BagFitted] | None = None,
) -> Vehicle:
    """Return a vehicle with its air bags closed where it stands while their lines hold the pressure."""
    worn = {end: (bags or {}).get(end) or air_bags.fitted_bag(job, setup, end) for end in ENDS}
    if not any(worn.values()):
        return whole
    stands = settle(whole)
    made = {"front": whole.front, "rear": whole.rear}
    for a, end in enumerate(ENDS):
        bag = worn[end]
        if bag is not None:
            height = float(np.mean(bag.heights(whole.axles[a].axle, float(stands.heave[a]), float(stands.roll[a]))))
            spring = (springs or {}).get(end)
            made[end] = axle_parts(job, setup, end, spring=spring, bag=bag, bag_stands=height)
    return replace(whole, front=made["front"], rear=made["rear"])


def _open(job: Job, setup: Setup) -> Vehicle:
    """Return the vehicle of a setup with its air bags held at their pressures."""
    return once(
        job,
        ("open vehicle", setup),
        lambda: framed(
            job,
            Vehicle(
                body=parts.sprung_mass(job, setup.fitout),
                front=axle_parts(job, setup, "front"),
                rear=axle_parts(job, setup, "rear"),
            ),
        ),
    )


def rest(job: Job, setup: Setup) -> Rest:
    """Return where a setup stands."""
    return once(job, ("rest", setup), lambda: settle(vehicle(job, setup)))


def bag_load(job: Job, setup: Setup, end: str) -> float:
    """Return what one air bag of an axle carries at its wheel where the setup stands [N]; 0 without one."""
    bag = air_bags.fitted_bag(job, setup, end)
    if bag is None:
        return 0.0
    at, grid, step = posture(job, setup)[end], vehicle(job, setup).axles[ENDS.index(end)].axle, STEP_HEAVE
    low, here, high = (float(np.mean(bag.heights(grid, at.heave + h, at.roll))) for h in (-step, 0.0, step))
    return float(bag.bag.held_forces(np.array([here]))[0]) * (low - high) / (2.0 * step)


@dataclass(frozen=True, kw_only=True, slots=True)
class Standing:
    """How one axle of a setup stands.

    Attributes
    ----------
    heave, roll : float
        Of the axle relative to the body [m], [rad]; droop is negative heave.
    lift : float
        Body over ground above the axle against the stock vehicle at kerb [m].
    lean : float
        Left side of the body over right side, at the wheels [m].
    spring_length : float
        Mean of both sides [m].
    wheel_load : float
        Mean of both sides [N].
    """

    heave: float
    roll: float
    lift: float
    lean: float
    spring_length: float
    wheel_load: float


def posture(job: Job, setup: Setup) -> dict[str, Standing]:
    """Return how both axles of a setup stand; heights count from the stock vehicle at kerb as computed."""
    here, kerb = rest(job, setup), rest(job, Setup(fitout=KERB, build=STOCK))
    out: dict[str, Standing] = {}
    for a, end in enumerate(ENDS):
        left, right = 2 * a, 2 * a + 1
        seats = parts.fitted_spring(job, setup, end).seats
        rise = here.body_height - kerb.body_height
        out[end] = Standing(
            heave=float(here.heave[a]),
            roll=float(here.roll[a]),
            lift=float(0.5 * (rise[left] + rise[right])),
            lean=float(here.body_height[left] - here.body_height[right]),
            spring_length=float(0.5 * (here.spring_length[left] + here.spring_length[right])) - seats,
            wheel_load=float(0.5 * (here.wheel_load[left] + here.wheel_load[right])),
        )
    return out


@dataclass(frozen=True, kw_only=True, slots=True)
class Ride:
    """How springs and dampers follow an axle about the height at which a setup stands.

    Attributes
    ----------
    spring_ratio, damper_ratio : float
        Shortening of spring and damper per heave, mean of both sides [-].
    levers : array (2,)
        Shortening of the left and the right spring per roll [m/rad].
    """

    spring_ratio: float
    damper_ratio: float
    levers: Floats


def ride(job: Job, setup: Setup, end: str) -> Ride:
    """Return an axle's motion ratios at the height at which a setup stands, at zero roll."""
    return once(job, ("ride", end, setup), lambda: _ride(job, setup, end))


def _ride(job: Job, setup: Setup, end: str) -> Ride:
    """Differentiate a map of nine nodes about ride height; the linkage is solved at each, so the steps are exact."""
    stands = posture(job, setup)[end]
    this = axle(job, end, stock=setup.stock, setup=setup)
    h, r = STEP_HEAVE, STEP_ROLL
    m = suspensions.map_of(job, end, this, stands.heave + np.array([-h, 0.0, h]), np.array([-r, 0.0, r]))
    return Ride(
        spring_ratio=float(-np.mean(m.spring[2, 1] - m.spring[0, 1]) / (2.0 * h)),
        damper_ratio=float(-np.mean(m.damper[2, 1] - m.damper[0, 1]) / (2.0 * h)),
        levers=np.asarray(-(m.spring[1, 2] - m.spring[1, 0]) / (2.0 * r)),
    )


def spring_ratio(job: Job, setup: Setup, end: str) -> float:
    """Return spring travel over axle travel at ride height [-]."""
    return ride(job, setup, end).spring_ratio


def damper_ratio(job: Job, setup: Setup, end: str) -> float:
    """Return damper travel over axle travel at ride height [-]."""
    return ride(job, setup, end).damper_ratio


def springs_at(job: Job, setup: Setup, end: str) -> Springing:
    """Return force and rates of an axle's springs, bushes and anti-roll bar at ride height, at zero roll."""
    heave = posture(job, setup)[end].heave
    axles = vehicle(job, setup).axles
    return once(job, ("springs", end, setup), lambda: springing(axles[ENDS.index(end)], heave=heave))


def wheel_rate(job: Job, setup: Setup, end: str) -> float:
    """Return the rate of one wheel in heave at ride height, springs, bushes and bar together [N/m]."""
    return springs_at(job, setup, end).wheel_rate


def roll_rate(job: Job, setup: Setup, end: str) -> float:
    """Return the roll rate of an axle at ride height: springs, bar, bushes [N m/rad]."""
    return springs_at(job, setup, end).roll_rate
