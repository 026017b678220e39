"""From an axle of the record to its linkage and its map: one builder for rigid axles, one for independent wheels.

What differs between layouts is a row of `_KINDS`; nobody else asks for the layout to build or to map an axle.
"""

from __future__ import annotations

import dataclasses
import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Literal, TypeAlias

import numpy as np

from tussock.mechanics.arrays import Floats
from tussock.mechanics.axle_map import AxleMap
from tussock.mechanics.linkage import (
    Axle,
    BushRates,
    LeafHalf,
    LeafSprings,
    Wheel,
    axle_map,
    axle_map_of_wheels,
    build_axle,
    build_wheel,
    graduated_shape,
    leaf_halves,
)
from tussock.mechanics.springs import LeafSpring
from tussock.record.layouts import LAYOUTS, steering_of
from tussock.record.parts import LinkStiffness
from tussock.studies import parts
from tussock.studies.job import Job
from tussock.studies.spring_laws import SpringLaw

Suspension: TypeAlias = Axle | Wheel
RodLength: TypeAlias = Literal["keep", "refit"] | float

FULL_LENGTH = 0.95  # a leaf of at least this share of the main one reaches the eyes


@dataclass(frozen=True, kw_only=True)
class Fitting:
    """What an axle is built with beside its hardpoints.

    Attributes
    ----------
    changes : mapping
        Moved hardpoints, ``point@body``, in the stock pose [m].
    rod_lengths : mapping
        Rods that are refitted or made to a length.
    spring : Spring
        The spring fitted; a leaf spring is part of the linkage.
    hardpoints : mapping or None
        Instead of those measured [m], to see what each does.
    """

    changes: Mapping[str, Floats]
    rod_lengths: Mapping[str, RodLength]
    spring: parts.Spring
    hardpoints: Mapping[str, Floats] | None = None

    def points(self, job: Job, end: str) -> dict[str, Floats]:
        """Return the hardpoints to build from [m]."""
        return parts.hardpoints(job, end) if self.hardpoints is None else dict(self.hardpoints)


def independent(job: Job, end: str) -> bool:
    """Return whether the wheels of an axle move each for itself."""
    return LAYOUTS[job.programme.vehicle.axles[end].layout].independent


def leaf_sprung(job: Job, end: str) -> bool:
    """Return whether the springs of an axle are leaves, part of its linkage."""
    return "leaf" in LAYOUTS[job.programme.vehicle.axles[end].layout].springs


def build(job: Job, end: str, fitting: Fitting) -> Suspension:
    """Return an axle of the programme built: a rigid axle, or the left one of two independent wheels."""
    return _KINDS[independent(job, end)].build(job, end, fitting)


def map_of(job: Job, end: str, built: Suspension, heave: Floats | None = None, roll: Floats | None = None) -> AxleMap:
    """Return the map of an axle built, over heave [m] and roll [rad], as wide as usual unless given."""
    return _KINDS[independent(job, end)].map(job, end, built, heave, roll)


def kept_map(job: Job, end: str, built: Suspension, heave: Floats | None = None, roll: Floats | None = None) -> AxleMap:
    """Return the map of an axle built, as `map_of`, or the one that an earlier version made of the same axle."""
    grid = tuple(None if at is None else at.tobytes() for at in (heave, roll))
    return job.kept.of(built, ("map", *grid), lambda: map_of(job, end, built, heave, roll))


def content(job: Job, end: str, fitting: Fitting) -> tuple[object, ...]:
    """Return all that an axle is built from and mapped by, to be compared: its record and what is fitted."""
    law, spring = fitting.spring.law, fitting.spring
    leaf = (
        ()
        if law.kind != "leaf" or law.leaf is None
        else (law.rate, law.free_length, law.friction, law.leaf.model_dump_json(), spring.block, spring.shackle)
    )
    return (
        "axle",
        end,
        _record_content(job, end),
        law.kind,
        leaf,
        tuple((name, at.tobytes()) for name, at in fitting.changes.items()),
        tuple(fitting.rod_lengths.items()),
        None if fitting.hardpoints is None else tuple((n, at.tobytes()) for n, at in fitting.hardpoints.items()),
    )


def _record_content(job: Job, end: str) -> str:
    key = ("content of axle", end)
    if key not in job.memo:
        record = job.programme.vehicle.axles[end]
        # all but what is not built in; of spring and bar only what the map asks of them
        text = record.model_dump_json(exclude={"damper", "limiters", "stop", "spring", "bar"})
        text += f"{record.spring.kind} {record.bar is not None and record.bar.roll_rate is not None}"
        job.memo[key] = hashlib.sha256(text.encode()).hexdigest()
    return str(job.memo[key])


def _bushes(record: Any) -> tuple[dict[str, BushRates], dict[str, float]]:
    """Return bush rates and link stiffnesses of an axle."""
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
                progressive=_progressive(bush),
            )
    return bushes, links


def _progressive(bush: Any) -> dict[str, tuple[float, float]]:
    """Return growth and gap of a bush's directions: the rate is the first one up to the gap, then rises evenly."""
    out: dict[str, tuple[float, float]] = {}
    for word in ("radial", "axial", "conical", "torsional"):
        law = getattr(bush, f"{word}_stiffens")
        if law is not None:
            # load k x + h (x - gap)^2, so the rate k + 2 h (x - gap) is the one measured where it was measured
            growth = (float(law.rate) - float(getattr(bush, word))) / (2.0 * (float(law.at) - float(law.after)))
            out[word] = (growth, float(law.after))
    return out


def _over_damper(points: dict[str, Floats], changes: dict[str, Floats]) -> None:
    """Seat the spring of a coil-over on its damper's ends, where these are and where a part moves them."""
    for table in (points, changes):
        for name in [n for n in table if n.startswith("damper_")]:
            table[name.replace("damper_", "spring_", 1)] = table[name]


def _rigid(job: Job, end: str, fitting: Fitting) -> Axle:
    record = job.programme.vehicle.axles[end]
    bushes, links = _bushes(record)
    points, changes = fitting.points(job, end), dict(fitting.changes)
    leaves = None
    if fitting.spring.law.kind == "leaf":
        leaves = leaf_pair(points, fitting.spring.law)
        points |= {"spring_axle": points["leaf_seat"], "spring_chassis": parts.arch_datum(job, end)}
        changes |= _raised(points, changes, fitting.spring)
        if "leaf_seat@axle" in changes:
            changes["spring_axle@axle"] = changes["leaf_seat@axle"]
    return build_axle(
        record.layout,
        points,
        wheel_radius=parts.wheel_centre(job, end)[2],
        bushes=bushes,
        link_stiffness=links or None,
        leaf_springs=leaves,
        steering=record.steering is not None,
        central=record.central,
        pinion="rearward" if end == "front" else "forward",
        changes=changes,
        rod_lengths=dict(fitting.rod_lengths),
        name=f"{end} axle",
    )


def _raised(points: Mapping[str, Floats], changes: Mapping[str, Floats], spring: parts.Spring) -> dict[str, Floats]:
    """Return where blocks move the spring's seat and longer shackles its eye [m]."""
    out: dict[str, Floats] = {}
    if spring.block:
        seat = changes.get("leaf_seat@axle", points["leaf_seat"])
        out["leaf_seat@axle"] = seat + np.array([0.0, 0.0, spring.block])
    if spring.shackle:
        pivot = points["shackle_pivot"]
        eye = changes.get("shackle_eye@shackle", points["shackle_eye"])
        out["shackle_eye@shackle"] = eye + spring.shackle * (eye - pivot) / np.linalg.norm(eye - pivot)
    return out


def leaf_pair(points: Mapping[str, Floats], law: SpringLaw) -> LeafSprings:
    """Return the leaf springs of an axle for its linkage: shares of the halves from the leaves, rate as measured.

    Helper leaves are not in it: their force acts over the arch (`Spring.further_force`).
    """
    record = law.leaf
    assert record is not None
    seat = points["leaf_seat"]
    spans = sorted((points[eye] - seat for eye in ("fixed_eye", "shackle_eye")), key=lambda d: -d[0])
    main = [leaf for leaf in record.leaves if leaf.stage == "main"] or list(record.leaves)
    reach = float(main[0].length)
    full = sum(float(leaf.length) >= FULL_LENGTH * reach for leaf in main)
    thicknesses = tuple(float(leaf.thickness) for leaf in main)
    front, rear = leaf_halves(
        LeafSpring(
            thicknesses=thicknesses,
            width=float(record.width),
            front_length=float(np.linalg.norm(spans[0])),
            rear_length=float(np.linalg.norm(spans[1])),
            full_length=max(full, 1),
            clamp_length=float(record.clamp_length),
            clamp_share=1.0,
        )
    )
    a, b = (float(np.linalg.norm(s)) for s in spans)
    # (a + b)^2 / (b^2 / k_a + a^2 / k_b): the rate at the seat of two cantilevers, scaled to the one measured
    scale = law.rate / ((a + b) ** 2 / (b**2 / front.rate + a**2 / rear.rate))
    front, rear = (_scaled(half, scale) for half in (front, rear))
    share = sum(t**3 for t in thicknesses[: max(full, 1)]) / sum(t**3 for t in thicknesses)
    return LeafSprings(
        front=front,
        rear=rear,
        clamp=float(record.clamp_length),
        free_camber=law.free_length,
        shape=graduated_shape(share),
        friction=law.friction,
    )


def _scaled(half: LeafHalf, scale: float) -> LeafHalf:
    return dataclasses.replace(half, rate=half.rate * scale)


def _wheel(job: Job, end: str, fitting: Fitting) -> Wheel:
    record = job.programme.vehicle.axles[end]
    points, changes = fitting.points(job, end), dict(fitting.changes)
    if "spring_chassis" not in points and fitting.spring.law.kind == "coil":
        _over_damper(points, changes)
    alignment = record.alignment
    return build_wheel(
        record.layout,
        points,
        wheel_radius=parts.wheel_centre(job, end)[2],
        steering=_steering(record),
        toe=float(alignment.toe) if alignment else 0.0,
        camber=float(alignment.camber) if alignment else 0.0,
        bushes=_bushes(record)[0],
        changes=changes,
        rod_lengths=dict(fitting.rod_lengths),
        name=f"{end} wheel",
    )


def _steering(record: Any) -> Literal["rack", "relay", "fixed"]:
    kind = steering_of(record.layout, record.steering.kind if record.steering is not None else None)
    return "rack" if kind == "rack" else "relay" if kind == "relay" else "fixed"


def _map_axle(job: Job, end: str, built: Suspension, heave: Floats | None, roll: Floats | None) -> AxleMap:
    assert isinstance(built, Axle)
    return axle_map(built, heave, roll)


def _map_wheels(job: Job, end: str, built: Suspension, heave: Floats | None, roll: Floats | None) -> AxleMap:
    assert isinstance(built, Wheel)
    record = job.programme.vehicle.axles[end]
    found = axle_map_of_wheels(
        built,
        heave,
        roll,
        springing="torsion bar" if record.spring.kind == "torsion_bar" else "coil",
        torque_on="body" if record.brakes == "inboard" else "upright",
    )
    if record.bar is not None and record.bar.roll_rate is not None:
        # a bar known by its roll rate twists with the roll, whatever its drop links do
        found = dataclasses.replace(found, bar=np.broadcast_to(found.roll, found.bar.shape).copy())
    return found


@dataclass(frozen=True)
class _Kind:
    build: Callable[[Job, str, Fitting], Suspension]
    map: Callable[[Job, str, Suspension, Floats | None, Floats | None], AxleMap]


_KINDS: Mapping[bool, _Kind] = {False: _Kind(_rigid, _map_axle), True: _Kind(_wheel, _map_wheels)}
