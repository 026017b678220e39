"""The vehicle of a programme as mechanics sees it: axles, their maps, the full vehicle and where it stands.

What several studies need is built once for each job and kept in it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal, TypeVar, cast

import numpy as np

from tussock.mechanics.arrays import Floats
from tussock.mechanics.axle_map import AxleMap
from tussock.mechanics.linkage import Axle, AxleSweep, BushRates, axle_map, build_axle, sweep
from tussock.mechanics.motion import AxleParts, DamperParts, Rest, Springing, Vehicle, settle, springing
from tussock.mechanics.tyre import Tyre
from tussock.record.parts import LinkStiffness
from tussock.studies import parts
from tussock.studies.job import ENDS, KERB, STOCK, Job, Setup

T = TypeVar("T")

FRICTION_TRAVEL = 2e-3  # over which friction between leaves builds up [m]; common practice, no source
TRAVEL_HEAVE = np.linspace(-0.20, 0.16, 73)  # stations along which limiters are followed [m]


def _once(job: Job, key: tuple[object, ...], make: Callable[[], T]) -> T:
    if key not in job.memo:
        job.memo[key] = make()
    return cast("T", job.memo[key])


def build(
    job: Job,
    end: str,
    *,
    changes: Mapping[str, Floats],
    rod_lengths: Mapping[str, Literal["keep", "refit"] | float] | None = None,
) -> Axle:
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
    """
    record = job.programme.vehicle.axles[end]
    bushes: dict[str, BushRates] = {}
    links: dict[str, float] = {}
    for name, bush in record.bushes.items():
        if isinstance(bush, LinkStiffness):
            links[name] = float(bush.stiffness)
        else:
            bushes[name] = BushRates(
                radial=float(bush.radial),
                axial=float(bush.axial),
                conical=float(bush.conical),
                torsional=float(bush.torsional),
            )
    return build_axle(
        record.layout,
        parts.hardpoints(job, end),
        wheel_radius=parts.wheel_centre(job, end)[2],
        bushes=bushes,
        link_stiffness=links or None,
        steering=record.steering is not None,
        central=tuple(getattr(record, "central", ())),
        pinion="rearward" if end == "front" else "forward",
        changes=dict(changes),
        rod_lengths=dict(rod_lengths or {}),
        name=f"{end} axle",
    )


def kit_changes(job: Job, end: str) -> dict[str, Floats]:
    """Return the hardpoints that the kit moves [m]."""
    return {name: np.array(point.si) for name, point in job.programme.kit.changes[end].items()}


def kit_rods(job: Job, end: str) -> dict[str, Literal["keep", "refit"] | float]:
    """Return the rods that the kit refits or replaces."""
    out: dict[str, Literal["keep", "refit"] | float] = {}
    for name, length in job.programme.kit.rod_lengths[end].items():
        out[name] = length if isinstance(length, str) else float(length)
    return out


def axle(job: Job, end: str, *, stock: bool) -> Axle:
    """Return an axle, as measured or with the kit's parts."""
    if stock or not (kit_changes(job, end) or kit_rods(job, end)):
        return _once(job, ("axle", end), lambda: build(job, end, changes={}))
    return _once(
        job,
        ("axle", end, "kit"),
        lambda: build(job, end, changes=kit_changes(job, end), rod_lengths=kit_rods(job, end)),
    )


def motion_map(job: Job, end: str, *, stock: bool) -> AxleMap:
    """Return an axle's map for heights and motion."""
    this = axle(job, end, stock=stock)
    return _once(job, ("map", end, id(this)), lambda: axle_map(this))


def travel_map(job: Job, end: str, *, stock: bool, roll: float) -> AxleMap:
    """Return an axle's map along its whole travel at zero roll and at `roll` [rad] either way."""
    this = axle(job, end, stock=stock)
    rolls = np.array([-roll, 0.0, roll])
    return _once(job, ("travel", end, id(this), roll), lambda: axle_map(this, TRAVEL_HEAVE, rolls))


def curves(job: Job, end: str, *, stock: bool, heave: Floats, roll: Floats) -> AxleSweep:
    """Return an axle's characteristics over heave [m] and roll [rad]."""
    return sweep(axle(job, end, stock=stock), heave, roll)


def tyre(job: Job) -> Tyre:
    """Return the tyre."""
    t = job.programme.vehicle.tyre
    return Tyre(
        vertical_stiffness=float(t.vertical_stiffness),
        vertical_damping=float(t.vertical_damping),
        free_radius=float(t.free_radius),
        cornering_stiffness=float(t.cornering_stiffness),
        reference_load=float(t.reference_load),
        friction=float(t.friction),
        relaxation_length=float(t.relaxation_length),
        # not measured: two fifths of the radius, common practice, no source
        contact_length=float(t.contact_length) if t.contact_length is not None else 0.4 * float(t.free_radius),
    )


def axle_parts(job: Job, setup: Setup, end: str, *, damper: DamperParts | None = None) -> AxleParts:
    """Return one axle of a setup for the motion; `damper` replaces the one fitted."""
    fitted = parts.fitted(job, setup, end)
    if damper is None:
        velocity, force = fitted.curve.table()
        mount = fitted.damper.mount_stiffness
        damper = DamperParts(
            velocity=velocity,
            force=force,
            friction=fitted.curve.friction,
            gas=fitted.curve.gas_force,
            mount=float(mount) if mount is not None else 0.0,
        )
    compression, stop_force = fitted.stop.table()
    spring = fitted.spring
    return AxleParts(
        axle=motion_map(job, end, stock=setup.stock),
        mass=parts.axle_mass(job, end),
        spin_inertia=float(job.programme.vehicle.axles[end].wheel_spin_inertia),
        spring_rate=(spring.rate, spring.rate),
        spring_length=(spring.free_length + spring.packer, spring.free_length + spring.packer),
        further_force=spring.further_force,
        spring_friction=spring.law.friction,
        friction_travel=FRICTION_TRAVEL,
        stop_height=fitted.stop.height,
        stop_compression=compression,
        stop_force=stop_force,
        damper=damper,
        bar_rate=fitted.bar_rate,
        tyre=tyre(job),
        drive_share=parts.axle_share(job.programme.vehicle.front_drive_share, end),
    )


def vehicle(job: Job, setup: Setup) -> Vehicle:
    """Return the full vehicle of a setup."""
    return _once(
        job,
        ("vehicle", setup),
        lambda: Vehicle(
            body=parts.sprung_mass(job, setup.fitout),
            front=axle_parts(job, setup, "front"),
            rear=axle_parts(job, setup, "rear"),
        ),
    )


def rest(job: Job, setup: Setup) -> Rest:
    """Return where a setup stands."""
    return _once(job, ("rest", setup), lambda: settle(vehicle(job, setup)))


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
        rise = here.body_height - kerb.body_height
        out[end] = Standing(
            heave=float(here.heave[a]),
            roll=float(here.roll[a]),
            lift=float(0.5 * (rise[left] + rise[right])),
            lean=float(here.body_height[left] - here.body_height[right]),
            spring_length=float(0.5 * (here.spring_length[left] + here.spring_length[right])),
            wheel_load=float(0.5 * (here.wheel_load[left] + here.wheel_load[right])),
        )
    return out


def ride_curves(job: Job, setup: Setup, end: str) -> AxleSweep:
    """Return an axle's characteristics about the height at which a setup stands, at zero roll."""
    heave = posture(job, setup)[end].heave
    this = axle(job, end, stock=setup.stock)
    around = np.array([heave - 0.01, heave, heave + 0.01])
    return _once(
        job,
        ("ride", end, id(this), round(heave, 6)),
        lambda: sweep(this, around, np.array([-0.01, 0.0, 0.01])),
    )


def spring_ratio(job: Job, setup: Setup, end: str) -> float:
    """Return spring travel over axle travel at ride height [-]."""
    return float(np.mean(ride_curves(job, setup, end).lengths["spring"].heave_ratio[1, 1]))


def damper_ratio(job: Job, setup: Setup, end: str) -> float:
    """Return damper travel over axle travel at ride height [-]."""
    return float(np.mean(ride_curves(job, setup, end).lengths["damper"].heave_ratio[1, 1]))


def springs_at(job: Job, setup: Setup, end: str) -> Springing:
    """Return force and rates of an axle's springs, bushes and anti-roll bar at ride height, at zero roll."""
    heave = posture(job, setup)[end].heave
    axles = vehicle(job, setup).axles
    return _once(job, ("springs", end, setup), lambda: springing(axles[ENDS.index(end)], heave=heave))


def wheel_rate(job: Job, setup: Setup, end: str) -> float:
    """Return the rate of one wheel in heave at ride height, springs, bushes and bar together [N/m]."""
    return springs_at(job, setup, end).wheel_rate


def roll_rate(job: Job, setup: Setup, end: str) -> float:
    """Return the roll rate of an axle at ride height: springs, bar, bushes [N m/rad]."""
    return springs_at(job, setup, end).roll_rate
