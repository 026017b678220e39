"""Propeller shafts after a lift: joint angles, unsteady speed and slip over the travel, and the part that mends it."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from tussock.mechanics.driveline import LARGEST_DIFFERENCE, PropellerShaft, shaft_curves
from tussock.mechanics.linkage import Axle
from tussock.studies.display import show
from tussock.studies.job import Job
from tussock.studies.mending import Adjustment, Part, least
from tussock.studies.result import Cell, Column, Notice, Table

_MOST_WEDGE = math.radians(8.0)  # a wedge or a set of arms turns the pinion by at most this
_STEP = math.radians(0.5)  # wedges are made to this
_WORTH = math.radians(0.5)  # less equivalent angle than this is no reason for a part; common practice, no source


@dataclass(frozen=True, kw_only=True)
class ShaftState:
    """A propeller shaft at one ride height and over the travel about it.

    Attributes
    ----------
    gearbox, pinion : float
        Joint angles at ride height [rad].
    fluctuation : float
        Largest less least speed of the pinion over a turn at ride height [-].
    equivalent : float
        Angle of one joint that would make it [rad].
    largest : float
        Largest joint angle over the travel, level and in roll [rad].
    slip_least, slip_most : float
        Change of its length from the stock pose over the travel [m].
    highest_speed : float
        Vehicle speed at which it reaches the usual limit of acceleration [m/s]; inf where none or unknown.
    """

    gearbox: float
    pinion: float
    fluctuation: float
    equivalent: float
    largest: float
    slip_least: float
    slip_most: float
    highest_speed: float


@dataclass(frozen=True, kw_only=True)
class ShaftAnswer:
    """One axle's propeller shaft: stock, lifted, with the geometry's parts, and with the wedge or spacer found.

    Attributes
    ----------
    end : str
        Axle.
    states : mapping
        "stock", "lifted", "with the parts" and, where a wedge is found, "with the wedge".
    wedge : Part or None
        Pinion turned, nose up positive, by its size [rad].
    spacer : float
        How much longer (negative: shorter) the shaft must be made [m]; 0 where its spline is enough.
    top_speed : float or None
        Of the vehicle [m/s].
    """

    end: str
    states: Mapping[str, ShaftState]
    wedge: Part | None
    spacer: float
    top_speed: float | None

    @property
    def last(self) -> ShaftState:
        """The state with everything fitted."""
        return list(self.states.values())[-1]


def shaft_of(record: Any, end: str) -> PropellerShaft:
    """Return the propeller shaft of the record."""
    gearbox, pinion = np.array(record.gearbox.si), np.array(record.pinion.si)
    return PropellerShaft(
        name=f"{end} propshaft",
        drive_point=gearbox,
        driven_point=pinion,
        drive_axis=np.array(record.gearbox_shaft.si) - gearbox,
        driven_axis=np.array(record.pinion_shaft.si) - pinion,
        drive_joint=record.gearbox_joint,
        driven_joint=record.pinion_joint,
    )


def turned(shaft: PropellerShaft, axle: Axle, angle: float) -> PropellerShaft:
    """Return a shaft whose pinion is turned about the axle's centre line, nose up positive [rad]."""
    centre = np.asarray(axle.centre)
    forward = 1.0 if float(shaft.drive_point[0]) > float(shaft.driven_point[0]) else -1.0
    c, s = math.cos(forward * angle), math.sin(forward * angle)
    # about y: a pinion that looks forward rises with a turn that is negative about the axis to the left
    turn = np.array([[c, 0.0, -s], [0.0, 1.0, 0.0], [s, 0.0, c]])
    return dataclasses.replace(
        shaft,
        driven_point=centre + turn @ (np.asarray(shaft.driven_point) - centre),
        driven_axis=turn @ np.asarray(shaft.driven_axis),
    )


def state(
    job: Job, axle: Axle, shaft: PropellerShaft, *, end: str, ride: float, window: tuple[float, float]
) -> ShaftState:
    """Return a shaft about a ride height [m], over the travel down and up from there [m] and in roll."""
    roll = float(job.programme.targets.roll)
    down, up = window
    lever = 0.5 * axle.track * math.sin(roll)
    here = shaft_curves(axle, shaft, np.array([ride]), np.zeros(1))
    level = shaft_curves(axle, shaft, ride + np.linspace(-down, up, 9), np.zeros(1))
    rolled = shaft_curves(
        axle, shaft, ride + np.linspace(min(lever - down, 0.0), max(up - lever, 0.0), 5), np.array([-roll, roll])
    )
    record = job.programme.vehicle.axles[end].propshaft
    speed = math.inf
    if record is not None and record.final_drive is not None:
        radius = float(job.programme.vehicle.tyre.free_radius)
        speed = float(here.largest_speed()[0, 0]) / float(record.final_drive) * radius
    slips = np.concatenate([level.slip.ravel(), rolled.slip.ravel()])
    angles = [c.drive_angle for c in (level, rolled)] + [c.driven_angle for c in (level, rolled)]
    return ShaftState(
        gearbox=float(here.drive_angle[0, 0]),
        pinion=float(here.driven_angle[0, 0]),
        fluctuation=float(here.fluctuation[0, 0]),
        equivalent=float(here.equivalent_angle[0, 0]),
        largest=float(max(np.max(a) for a in angles)),
        slip_least=float(np.min(slips)),
        slip_most=float(np.max(slips)),
        highest_speed=speed,
    )


def answer(
    job: Job,
    end: str,
    *,
    stock: tuple[Axle, float],
    lifted: tuple[Axle, float],
    mended: tuple[Axle, float],
    window: tuple[float, float],
) -> ShaftAnswer | None:
    """Return what the lift did to an axle's shaft and what mends it; None where the programme has no shaft.

    Parameters
    ----------
    job, end : Job, str
        Which.
    stock, lifted, mended : pair of Axle and float
        The axle in each state and its heave at ride height [m].
    window : pair of float
        Travel down and up from there [m].
    """
    record = job.programme.vehicle.axles[end].propshaft
    if record is None:
        return None
    shaft = shaft_of(record, end)

    def at(axle: tuple[Axle, float], shaft: PropellerShaft = shaft) -> ShaftState:
        return state(job, axle[0], shaft, end=end, ride=axle[1], window=window)

    states = {"stock": at(stock), "lifted": at(lifted), "with the parts": at(mended)}
    wedge = _wedge(shaft, mended, states)
    if wedge is not None:
        states["with the wedge"] = at(mended, turned(shaft, mended[0], wedge.size))
    last = list(states.values())[-1]
    return ShaftAnswer(
        end=end,
        states=states,
        wedge=wedge,
        spacer=_spacer(record, last),
        top_speed=None if record.top_speed is None else float(record.top_speed),
    )


def _wedge(shaft: PropellerShaft, mended: tuple[Axle, float], states: Mapping[str, ShaftState]) -> Part | None:
    """Return the turn of the pinion with the least unsteady speed, None where it gains too little.

    On an axle that steers, the pinion turns with the caster: there is no wedge, and the table shows the bargain.
    """
    axle, ride = mended
    if axle.steers:
        return None
    way = Adjustment(
        key="pinion_wedge",
        title="wedge",
        end=shaft.name.split()[0],
        most=_MOST_WEDGE,
        step=_STEP,
        changes=lambda size: {},
        more="a wedge, or arms set, that turn the pinion's nose up by {}",
        less="a wedge, or arms set, that turn the pinion's nose down by {}",
        kind="angle",
    )

    def unsteady(size: float) -> float:
        found = shaft_curves(axle, turned(shaft, axle, size), np.array([ride]), np.zeros(1))
        # two joints of constant velocity are never unsteady: then the smaller angle at the pinion counts
        return float(found.equivalent_angle[0, 0]) + 1e-3 * float(found.driven_angle[0, 0])

    now = states["with the parts"].equivalent
    if now <= max(states["stock"].equivalent, 0.0) + _WORTH:
        return None
    part = least(way, unsteady)
    return part if now - unsteady(part.size) > _WORTH else None


def _spacer(record: Any, last: ShaftState) -> float:
    """Return the change of the shaft's length that keeps its spline in engagement and clear of its end [m]."""
    out = math.inf if record.slip_out is None else float(record.slip_out)
    into = math.inf if record.slip_in is None else float(record.slip_in)
    if last.slip_most <= out and last.slip_least >= -into:
        return 0.0
    if math.isfinite(out) and math.isfinite(into):
        # in the middle of what the spline has: what it needs may still be more than that, which is said
        return 0.5 * (last.slip_most + last.slip_least) - 0.5 * (out - into)
    return last.slip_most - out if last.slip_most > out else last.slip_least + into


def shaft_table(found: Sequence[ShaftAnswer]) -> Table:
    """Return joint angles, unsteady speed and slip of every shaft in every state."""
    rows: list[tuple[Cell, ...]] = []
    strong: list[int] = []
    for a in found:
        for name, s in a.states.items():
            if s is a.last:
                strong.append(len(rows))
            rows.append(
                (
                    a.end,
                    name,
                    s.gearbox,
                    s.pinion,
                    s.fluctuation,
                    s.equivalent,
                    s.largest,
                    s.slip_least,
                    s.slip_most,
                    s.highest_speed if math.isfinite(s.highest_speed) else None,
                )
            )
    words = [
        f"{a.end}: " + " and ".join([*((a.wedge.words,) if a.wedge else ()), *_spacer_words(a)])
        for a in found
        if a.wedge or a.spacer
    ]
    return Table(
        key="propshafts",
        title="Propeller shafts",
        columns=(
            Column(key="axle", title="Axle"),
            Column(key="state", title="State"),
            Column(key="gearbox", title="At the gearbox", kind="angle"),
            Column(key="pinion", title="At the pinion", kind="angle"),
            Column(key="fluctuation", title="Unsteady speed", kind="share", digits=2),
            Column(key="equivalent", title="As one joint of", kind="angle"),
            Column(key="largest", title="Largest in travel", kind="angle"),
            Column(key="slip_least", title="Slip from", kind="length_fine", sign=True),
            Column(key="slip_most", title="to", kind="length_fine", sign=True),
            Column(key="speed", title="Good up to", kind="speed"),
        ),
        rows=tuple(rows),
        strong=tuple(strong),
        note=("; ".join(words) + ". " if words else "")
        + "unsteady speed is largest less least over a turn at ride height; good up to 1000 rad/s² of it (from memory)",
    )


def _spacer_words(a: ShaftAnswer) -> tuple[str, ...]:
    if not a.spacer:
        return ()
    change = math.copysign(math.ceil(abs(a.spacer) * 1e3 - 1e-6) * 1e-3, a.spacer)
    return (f"a shaft {show(abs(change), 'length')} {'longer (spacer at its flange)' if change > 0 else 'shorter'}",)


def shaft_notices(job: Job, found: Sequence[ShaftAnswer]) -> tuple[Notice, ...]:
    """Say where a shaft is left with unequal joints, too fast for its angle, or beyond its spline."""
    out: list[Notice] = []
    for a in found:
        record, last = job.programme.vehicle.axles[a.end].propshaft, a.last
        if last.equivalent > max(a.states["stock"].equivalent, 0.0) + 2.0 * LARGEST_DIFFERENCE:
            out.append(
                Notice(
                    text=f"The {a.end} propshaft turns as unevenly as one joint at {show(last.equivalent, 'angle')}",
                    remedy="a double joint, or the gearbox lowered on its mounts",
                )
            )
        was = a.states["stock"].highest_speed
        if a.top_speed is not None and last.highest_speed < min(a.top_speed, 0.95 * was):
            out.append(
                Notice(
                    text=f"The {a.end} propshaft is good up to {show(last.highest_speed, 'speed')} at its angles "
                    f"(stock {show(was, 'speed') if math.isfinite(was) else 'any speed'}), "
                    f"{show(a.top_speed, 'speed')} is driven",
                    remedy="smaller or equal joint angles; vibration breaks joints and gearbox cases",
                )
            )
        if record is not None and record.slip_out is not None and record.slip_in is not None:
            needs, has = last.slip_most - last.slip_least, float(record.slip_out) + float(record.slip_in)
            if needs > has:
                out.append(
                    Notice(
                        text=f"The {a.end} propshaft slips {show(needs, 'length')} over the travel, its spline has "
                        f"{show(has, 'length')}",
                        remedy="a longer spline, or less travel",
                    )
                )
    return tuple(out)
