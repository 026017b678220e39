"""The vehicle at its heights from the left, to scale, stock dashed; and its ramp angles."""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.ramp_angles import breakover_angle, tangent_angle
from tussock.studies import model, outline, parts
from tussock.studies.display import number, show
from tussock.studies.job import ENDS, KERB, STOCK, Job, Setup
from tussock.studies.result import Caption, Cell, Column, Drawing, Role, Shape, Table

_UNDER = (1.7, 3.1, 4.2)  # where the captions stand below the ground, in lines
_BEYOND = 0.15  # how far the ground and the ramp lines go past the body [m]


@dataclass(frozen=True, kw_only=True, slots=True)
class Pose:
    """Where body and wheels of a setup stand.

    Attributes
    ----------
    lift : tuple of float
        Body over stock kerb above the front and the rear axle [m].
    base : float
        Wheelbase [m].
    wheels : tuple of float
        Heights of the front and the rear wheel centre over the ground [m].
    """

    lift: tuple[float, float]
    base: float
    wheels: tuple[float, float]

    def __call__(self, point: tuple[float, float]) -> tuple[float, float]:
        """Return where a point of the body stands [m]."""
        nose_up = math.asin((self.lift[0] - self.lift[1]) / self.base)
        c, s = math.cos(nose_up), math.sin(nose_up)
        return c * point[0] - s * point[1], self.lift[0] + s * point[0] + c * point[1]


def pose(job: Job, setup: Setup) -> Pose:
    """Return where a setup stands."""
    rest, standing = model.rest(job, setup), model.posture(job, setup)
    heights = [
        parts.wheel_centre(job, end)[2] + float(np.mean(rest.body_height[2 * a : 2 * a + 2]) + rest.heave[a])
        for a, end in enumerate(ENDS)
    ]
    return Pose(
        lift=(standing["front"].lift, standing["rear"].lift),
        base=abs(parts.wheel_centre(job, "rear")[0]),
        wheels=(heights[0], heights[1]),
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class RampAngles:
    """Approach, departure and breakover of a setup [rad]; None where the record lacks the measures."""

    approach: float | None
    departure: float | None
    breakover: float | None


def ramp_angles(job: Job, at: Pose) -> RampAngles:
    """Return the ramp angles at a pose."""
    vehicle = job.programme.vehicle
    front, rear = (0.0, at.wheels[0]), (-at.base, at.wheels[1])
    ends: list[float | None] = [None, None]
    breakover = None
    if vehicle.outline is not None:
        ahead, behind = outline.overhangs(job)
        if vehicle.bumper_height is not None:
            edges = (
                (ahead, float(vehicle.bumper_height.front)),
                (-at.base - behind, float(vehicle.bumper_height.rear)),
            )
            for i, (edge, wheel) in enumerate(zip(edges, (front, rear), strict=True)):
                ends[i] = _angle(at(edge), wheel)
        if vehicle.outline.lowest is not None:
            x, _, z = vehicle.outline.lowest.si
            try:
                breakover = breakover_angle((at((x, z)),), front=front, rear=rear)
            except DomainError:  # a point beside a wheel says nothing of the ramp
                breakover = None
    return RampAngles(approach=ends[0], departure=ends[1], breakover=breakover)


def _angle(point: tuple[float, float], wheel: tuple[float, float]) -> float | None:
    try:
        return tangent_angle(point, wheel=wheel[0], radius=wheel[1])
    except DomainError:  # the bumper reaches no farther than the wheel
        return None


def side_view(job: Job, setup: Setup) -> Drawing:
    """Return a setup from the left with its heights over stock, the ground, and its ramp angles."""
    kerb = Setup(fitout=KERB, build=STOCK)
    at, stock = pose(job, setup), pose(job, kerb)
    tyre = float(job.programme.vehicle.tyre.free_radius)
    ahead, behind = outline.overhangs(job)
    shapes = [*_standing(job, stock, tyre, stock=True), *_standing(job, at, tyre, stock=False)]
    left, right = -at.base - behind - _BEYOND, ahead + _BEYOND
    shapes.append(Shape(label="", points=((left, 0.0), (right, 0.0)), role="plain", ends=False))
    angles = ramp_angles(job, at)
    captions = [
        *_captions(job, setup, at, 0, angles.approach, "approach"),
        *_captions(job, setup, at, 1, angles.departure, "departure"),
    ]
    roof = max(z for _, z in shapes[_PARTS].points)
    captions.append(Caption(text=f"roof {show(roof, 'length')} over ground", x=-0.5 * at.base, y=roof, down=-1.2))
    for angle, wheel, sign, reach in ((angles.approach, 0, 1.0, ahead), (angles.departure, 1, -1.0, behind)):
        if angle is not None:
            x, radius = (0.0, -at.base)[wheel], at.wheels[wheel]
            start = (x + sign * radius * math.sin(angle), radius * (1.0 - math.cos(angle)))
            run = reach + _BEYOND - radius * math.sin(angle)
            end = (start[0] + sign * run, start[1] + run * math.tan(angle))
            shapes.append(Shape(label="", points=(start, end), role="plain", ends=False))
    fitout = KERB if setup.fitout == KERB else job.programme.fitouts[setup.fitout].title
    drawn = "" if outline.measured(job) else "; body drawn, not measured"
    return Drawing(
        key="side",
        title=f"{fitout} at its heights, stock at kerb dashed",
        plane=f"from the side, nose to the right, to scale{drawn}",
        shapes=tuple(shapes),
        captions=tuple(captions),
    )


def _captions(job: Job, setup: Setup, at: Pose, i: int, angle: float | None, word: str) -> list[Caption]:
    """Return what stands below an axle: its height over stock, what is wanted, and the angle before or behind it."""
    x, end = (0.0, -at.base)[i], ENDS[i]
    wanted = job.programme.targets.lift.get(setup.fitout)
    role: Role = "plain"
    words = f"{end}, over stock at kerb"
    if wanted is not None:
        target, tolerance = float(getattr(wanted, end)), float(wanted.tolerance)
        role = "plain" if abs(at.lift[i] - target) <= tolerance else "governs"
        low, high = (number(target + s * tolerance, "length", sign=True) for s in (-1.0, 1.0))
        words = f"{end}, wanted {low} to {high}"
    lift = show(at.lift[i], "length", sign=True)
    made = [Caption(text=lift, x=x, y=0.0, down=_UNDER[0], large=True, role=role)]
    made.append(Caption(text=words, x=x, y=0.0, down=_UNDER[1]))
    if angle is not None:
        made.append(Caption(text=f"{word} {show(angle, 'angle', digits=0)}", x=x, y=0.0, down=_UNDER[2]))
    return made


_PARTS = 6  # shapes of a standing vehicle: body, windows, and two circles a wheel


def _standing(job: Job, at: Pose, tyre: float, *, stock: bool) -> list[Shape]:
    """Return body and wheels where they stand; those of stock dashed and without windows to look through."""
    body, windows = (dataclasses.replace(s, points=tuple(at(p) for p in s.points)) for s in outline.body_side(job))
    own: Role = "stock" if stock else "build"
    shapes = [
        dataclasses.replace(s, role=own if stock else s.role, closed=not stock, points=(*s.points, s.points[0]))
        for s in (body, windows)
    ]
    for x, z in ((0.0, at.wheels[0]), (-at.base, at.wheels[1])):
        shapes += [
            Shape(label="", points=((x, z),), role=own, circle=size)
            for size in (tyre, 0.55 * tyre)
        ]  # fmt: skip
    return shapes


def ramp_table(job: Job, build: str) -> Table:
    """Return the ramp angles of stock and of every fit-out; without rows where the record lacks the measures."""
    setups = [("Stock at kerb", Setup(fitout=KERB, build=STOCK))]
    setups += [(record.title, Setup(fitout=name, build=build)) for name, record in job.programme.fitouts.items()]
    rows: list[tuple[Cell, ...]] = []
    for title, setup in setups:
        found = ramp_angles(job, pose(job, setup))
        row = (found.approach, found.breakover, found.departure)
        if any(angle is not None for angle in row):
            rows.append((title, *row))
    return Table(
        key="ramp_angles",
        title="Ramp angles",
        columns=(
            Column(key="fitout", title="Fit-out"),
            Column(key="approach", title="Approach", kind="angle"),
            Column(key="breakover", title="Breakover", kind="angle"),
            Column(key="departure", title="Departure", kind="angle"),
        ),
        rows=tuple(rows),
        note="to the bumpers' lower edges and the lowest point between the axles, as the programme measures them; "
        "bars, hitches and whatever else is bolted on below them take from these",
    )
