"""What joints, rods, drive shafts and shackles of an axle do along its travel, whatever its layout."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tussock.errors import InputError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.axle_map import AxleMap
from tussock.mechanics.linkage import Axle, Wheel, WheelSweep, shackle_limit, sweep, sweep_wheel
from tussock.mechanics.linkage.wheel_sweep import DriveShaftCurves
from tussock.studies import model, suspensions
from tussock.studies.job import Job, Setup
from tussock.studies.limiters import AxlePath

TRAVEL_STEP = 0.005  # of the stations at which a wheel is swept [m]
SHACKLE_ROLLS = 5  # at which the line of a shackle is searched
SHACKLE_MARGIN = np.deg2rad(15.0)  # kept between shackle and spring; common practice, no source


@dataclass(frozen=True)
class _WheelCurves:
    """A wheel swept as far as it reaches, read at any travel; beyond its reach the last value stands."""

    sweep: WheelSweep

    def at(self, values: Floats, travel: Floats) -> Floats:
        return np.asarray(np.interp(travel, self.sweep.travel, values))


def _wheel(job: Job, end: str, wheel: Wheel, reach: tuple[float, float]) -> _WheelCurves:
    key = ("wheel sweep", end, id(wheel), reach)
    if key not in job.memo:
        low, high = reach
        stations = TRAVEL_STEP * np.arange(np.ceil(low / TRAVEL_STEP), np.floor(high / TRAVEL_STEP) + 1.0)
        job.memo[key] = _WheelCurves(sweep_wheel(wheel, stations))
    found = job.memo[key]
    assert isinstance(found, _WheelCurves)
    return found


def _travels(path: AxlePath) -> tuple[Floats, Floats]:
    """Return the travel of the left and of the right wheel where they are followed [m]."""
    travel = path.pick(path.axle.travel)
    return travel[..., 0], travel[..., 1]


def joint_angle(job: Job, setup: Setup, end: str, path: AxlePath, name: str) -> Floats:
    """Return the largest cone angle of a joint, or of a rod at its ends, on either side where it is followed [rad].

    Raises
    ------
    InputError
        The axle has no such joint or rod.
    """
    this = model.axle(job, end, stock=setup.stock, setup=setup)
    if isinstance(this, Wheel):
        curves = _wheel(job, end, this, path.axle.reach)
        angles = curves.sweep.joint_angles
        if name not in angles:
            raise InputError(f"{end} axle: a limiter names {name!r}; the wheel has {', '.join(angles)}")
        own = np.abs(angles[name][:, 0])
        # a ball tilts by its first angle; a rod has one at either end
        worst = own.max(axis=1) if name in ("tie_rod", "drop_link") else own[:, 0]
        return np.asarray(np.max([curves.at(worst, t) for t in _travels(path)], axis=0))
    heave, roll = path.axle.heave, path.axle.roll
    joints = [element.name for element in this.linkage.elements]
    named = [j for j in joints if j == name or j.removesuffix("_left").removesuffix("_right") == name]
    if not named:
        raise InputError(f"{end} axle: a limiter names the joint {name!r}; the axle has {', '.join(joints)}")

    def worst_angle() -> Floats:
        swept = sweep(this, heave, roll).joint_angles
        return np.asarray(np.max(np.abs([swept[j][..., 0] for j in named]), axis=0))

    return path.pick(job.kept.of(this, ("joint", name, heave.tobytes(), roll.tobytes()), worst_angle))


def drive_joint_angle(job: Job, setup: Setup, end: str, path: AxlePath, which: str) -> Floats:
    """Return the larger angle of the inner or the outer drive joints along the travel [rad]."""
    curves, drive = _drive(job, setup, end, path)
    values = drive.inner_angle if which == "inner" else drive.outer_angle
    return np.asarray(np.max([curves.at(values[:, 0], t) for t in _travels(path)], axis=0))


def plunge_margin(job: Job, setup: Setup, end: str, path: AxlePath, *, out: float, inward: float) -> Floats:
    """Return what is left of a drive shaft's slip either way along the travel, worse side [m]."""
    curves, drive = _drive(job, setup, end, path)
    slips = [curves.at(drive.length_change[:, 0], t) for t in _travels(path)]
    return np.asarray(np.min([np.minimum(out - s, inward + s) for s in slips], axis=0))


def _drive(job: Job, setup: Setup, end: str, path: AxlePath) -> tuple[_WheelCurves, DriveShaftCurves]:
    this = model.axle(job, end, stock=setup.stock, setup=setup)
    curves = _wheel(job, end, this, path.axle.reach) if isinstance(this, Wheel) else None
    if curves is None or curves.sweep.drive is None:
        raise InputError(f"{end} axle: a limiter watches a drive shaft, and the axle has none between its wheels")
    return curves, curves.sweep.drive


def linkage_margins(job: Job, setup: Setup, end: str, path: AxlePath) -> dict[str, Floats]:
    """Return what the linkage itself allows: reach of independent wheels, shackles of leaf springs [m]."""
    this = model.axle(job, end, stock=setup.stock, setup=setup)
    out: dict[str, Floats] = {}
    if np.isfinite(path.axle.reach).all():
        low, high = path.axle.reach
        out["arms in line"] = np.min([np.minimum(t - low, high - t) for t in _travels(path)], axis=0)
    if isinstance(this, Axle) and suspensions.leaf_sprung(job, end):
        lowest = _shackles(job, this, path.axle)
        if np.isfinite(lowest).any():
            out["shackle in line"] = path.pick(path.axle.heave[:, None] - lowest)
    return out


def _shackles(job: Job, this: Axle, axle: AxleMap) -> Floats:
    """Return the heave at which a shackle comes in line at every roll; far below where none does [m].

    It is searched at few rolls, level and the outermost among them, and straight lines go between.
    """
    what = ("shackle", axle.heave.tobytes(), axle.roll.tobytes())
    return job.kept.of(this, what, lambda: _shackles_in_line(this, axle))


def _shackles_in_line(this: Axle, axle: AxleMap) -> Floats:
    count = axle.roll.size
    at = np.unique(np.round(np.linspace(0, count - 1, min(count, SHACKLE_ROLLS))).astype(int))
    found = [
        shackle_limit(this, margin=float(SHACKLE_MARGIN), droop=float(axle.heave[0]), roll=float(axle.roll[i]))
        for i in at
    ]
    below = float(axle.heave[0]) - float(np.ptp(axle.heave))
    heaves = [below if f is None else f.heave for f in found]
    return np.interp(axle.roll, axle.roll[at], heaves) if any(found) else np.full(count, -np.inf)
