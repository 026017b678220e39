"""What the travel asks of the parts over the plane of heave and roll: lines, dampers, springs."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from tussock.studies import model, parts
from tussock.studies.job import Job, Setup
from tussock.studies.travel_plane import LOOSE, Plane, edges

LINE_STEP = 0.005  # lengths in which lines are ordered [m]; common practice, no source
TOP_OUT = 0.005  # of a damper's stroke kept at either end, so that it does not knock [m]; common practice, no source


def rounded_up(length: float, step: float = LINE_STEP) -> float:
    """Return a length rounded up to whole steps [m]."""
    return step * math.ceil(length / step - 1e-6)


@dataclass(frozen=True, kw_only=True, slots=True)
class LineNeed:
    """The length a hose, cable or strap needs, slack included.

    Attributes
    ----------
    end, name : str
        Which.
    length, slack : float
        As fitted, and what must be left [m].
    wanted : float
        Length for the droop, bump and roll of the targets, to the millimetre above [m].
    order : float
        The same in whole steps of `LINE_STEP` [m].
    whole : float
        Length, in those steps, with which it never ends the travel before something else does [m].
    heave, roll : float
        Where it is stretched most within the targets, heave from ride height [m], [rad].
    """

    end: str
    name: str
    length: float
    slack: float
    wanted: float
    order: float
    whole: float
    heave: float
    roll: float


def line_needs(job: Job, setup: Setup, plane: Plane) -> tuple[LineNeed, ...]:
    """Return the length that every line of an axle needs."""
    targets = job.programme.targets
    lines = {x.name: x for x in job.programme.vehicle.axles[plane.end].limiters if x.kind == "line"}
    others = {n: m for n, m in plane.ending.items() if n not in lines}
    free = edges(others, plane.heave, plane.roll, plane.ride)
    out: list[LineNeed] = []
    for name, limiter in lines.items():
        usable, _, _ = parts.line_of(job, setup, plane.end, limiter)
        slack = float(limiter.slack)
        for new in () if setup.stock else job.programme.kit.lines[plane.end]:
            if new.name == name and new.slack is not None:
                slack = float(new.slack)
        margin = plane.margins[name]
        left, heave, roll = plane.least(
            margin, droop=float(targets.droop[plane.end]), bump=float(targets.bump[plane.end]), roll=float(targets.roll)
        )
        ends: list[float] = []
        for edge in free:
            column = margin[:, int(np.argmin(np.abs(plane.roll - edge.roll)))]
            for stop, limit in ((edge.low, plane.heave[0]), (edge.high, plane.heave[-1])):
                ends.append(float(np.interp(limit if stop is None else stop.heave, plane.heave, column)))
        fitted = usable + slack
        out.append(
            LineNeed(
                end=plane.end,
                name=name,
                length=fitted,
                slack=slack,
                wanted=rounded_up(fitted - left, 1e-3),
                order=rounded_up(fitted - left),
                whole=rounded_up(fitted - min([left, *ends])),
                heave=heave - plane.ride,
                roll=roll,
            )
        )
    return tuple(out)


@dataclass(frozen=True, kw_only=True, slots=True)
class DamperNeed:
    """The lengths a damper needs between its mounts.

    Attributes
    ----------
    end : str
        Which axle.
    ride : float
        Length at ride height, mean of both sides [m].
    longest, shortest : float
        Within the targets' droop and roll, and at the end of bump up to that roll, worse side [m].
    open_length, closed_length : float
        Of the damper fitted [m].
    """

    end: str
    ride: float
    longest: float
    shortest: float
    open_length: float
    closed_length: float

    @property
    def stroke(self) -> float:
        """Of the damper fitted [m]."""
        return self.open_length - self.closed_length

    @property
    def dead(self) -> float:
        """Closed length less the stroke: what piston, guide, foot and mounts of this make take [m]."""
        return self.closed_length - self.stroke

    @property
    def open_wanted(self) -> float:
        """Shortest open length that will do, `TOP_OUT` kept [m]."""
        return self.longest + TOP_OUT

    @property
    def closed_wanted(self) -> float:
        """Longest closed length that will do, `TOP_OUT` kept [m]."""
        return self.shortest - TOP_OUT

    @property
    def stroke_wanted(self) -> float:
        """[m]."""
        return self.open_wanted - self.closed_wanted

    @property
    def room(self) -> float:
        """What is left of the closed length when the stroke wanted and the dead length of this make are in it [m]."""
        return self.closed_wanted - self.stroke_wanted - self.dead


def damper_need(job: Job, setup: Setup, plane: Plane) -> DamperNeed:
    """Return the lengths that the travel of an axle asks of its dampers."""
    targets, fitted = job.programme.targets, parts.fitted(job, setup, plane.end).damper
    roll, damper = float(targets.roll), plane.axle.damper
    most, least = np.max(damper, axis=-1), np.min(damper, axis=-1)
    droop, bump = float(targets.droop[plane.end]), float(targets.bump[plane.end])
    longest = -plane.least(-most, droop=droop, bump=bump, roll=roll)[0]
    shortest = plane.least(least, droop=droop, bump=bump, roll=roll)[0]
    # what ends bump otherwise: a damper that closes first must not excuse itself
    free = edges({n: m for n, m in plane.ending.items() if n != "damper closed"}, plane.heave, plane.roll, plane.ride)
    for edge in free:
        if edge.high is not None and abs(edge.roll) <= roll + 1e-9:
            j = int(np.argmin(np.abs(plane.roll - edge.roll)))
            shortest = min(shortest, float(np.interp(edge.high.heave, plane.heave, least[:, j])))
    level = int(np.argmin(np.abs(plane.roll)))
    return DamperNeed(
        end=plane.end,
        ride=float(np.interp(plane.ride, plane.heave, damper[:, level].mean(axis=-1))),
        longest=longest,
        shortest=shortest,
        open_length=float(fitted.open_length),
        closed_length=float(fitted.closed_length),
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class Captive:
    """A coil at full droop.

    Attributes
    ----------
    end : str
        Which axle.
    droop, crossed : float
        Gap between spring and seat at full droop, level, and at the worst place of the free travel [m]; negative is
        still pressed by so much.
    roll : float
        Roll at that place [rad].
    free_length, rate : float
        Of the spring fitted [m], [N/m].
    longer, softer : float
        Free length and rate of the spring that stays seated everywhere and carries the same load at ride height
        [m], [N/m].
    retained : bool
        Whether the seats hold the coil.
    """

    end: str
    droop: float
    crossed: float
    roll: float
    free_length: float
    rate: float
    longer: float
    softer: float
    retained: bool


def captive(job: Job, setup: Setup, plane: Plane) -> Captive | None:
    """Return how an axle's coil stands at full droop and in articulation; None without a coil."""
    if LOOSE not in plane.margins or not plane.edges:
        return None
    margin = plane.margins[LOOSE]
    worst, at, level = math.inf, 0.0, math.nan
    for edge in plane.edges:
        j = int(np.argmin(np.abs(plane.roll - edge.roll)))
        low = float(plane.heave[0]) if edge.low is None else edge.low.heave
        left = float(np.interp(low, plane.heave, margin[:, j]))
        if left < worst:
            worst, at = left, edge.roll
        if abs(edge.roll) < 1e-9:
            level = left
    if math.isnan(level):  # not even level is anything free
        level = worst
    spring = parts.fitted_spring(job, setup, plane.end)
    ride = model.posture(job, setup)[plane.end].spring_length - spring.packer
    longer = spring.free_length + max(-worst, 0.0)
    seat: Any = job.programme.vehicle.axles[plane.end].spring_seat
    return Captive(
        end=plane.end,
        droop=-level,
        crossed=-worst,
        roll=at,
        free_length=spring.free_length,
        rate=spring.rate,
        longer=longer,
        softer=spring.rate * (spring.free_length - ride) / (longer - ride),
        retained=seat is not None and bool(seat.retained),
    )
