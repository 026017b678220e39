"""The vehicle from the left, to scale, from the record's own measures; one outline for every drawing and film.

Body axes of the record: x forward from the front axle, z up from the ground at kerb height, in metres.
"""

from __future__ import annotations

import math
from typing import Any

from tussock.studies import parts
from tussock.studies.job import ENDS, Job
from tussock.studies.result import Shape

# What is left out of the record is drawn so; no measure of any vehicle.
_OVERHANG = (0.80, 0.75)
_SILL_OVER_TYRE = 1.15
_BONNET_OVER_ROOF = 0.62
_WINDSCREEN = 0.45
_CAB = 0.62  # back of a pick-up's cab, of the wheelbase behind the front axle
_ARCH = 1.22  # half-width of an arch over the tyre's radius
_ARCH_TOP = 1.32  # its height over the wheel centre, likewise, where no tyre limiter says it
_ARCH_POINTS = 13

Side = tuple[float, float]


def measured(job: Job) -> bool:
    """Return whether the record holds the body's own measures."""
    return job.programme.vehicle.outline is not None


def overhangs(job: Job) -> tuple[float, float]:
    """Return how far the body reaches before the front and behind the rear wheel centre [m]."""
    outline = job.programme.vehicle.outline
    return _OVERHANG if outline is None else (float(outline.front_overhang), float(outline.rear_overhang))


def body_side(job: Job) -> tuple[Shape, ...]:
    """Return the body with its wheel arches, and its windows."""
    vehicle = job.programme.vehicle
    outline: Any = vehicle.outline
    tyre, roof = float(vehicle.tyre.free_radius), float(vehicle.roof_height)
    base = abs(parts.wheel_centre(job, "rear")[0])
    front, rear = overhangs(job)

    def said(name: str, drawn: float) -> float:
        value = getattr(outline, name, None)
        return drawn if value is None else float(value)

    sill = said("sill_height", _SILL_OVER_TYRE * tyre)
    bonnet = said("bonnet_height", _BONNET_OVER_ROOF * roof)
    foot = said("windscreen_foot", _WINDSCREEN)
    edges = {end: sill if vehicle.bumper_height is None else float(vehicle.bumper_height[end]) for end in ENDS}
    head = foot + 0.62 * (roof - bonnet)  # top of the windscreen behind the front axle
    glass = 0.10  # of roof above, and of body below the windows
    nose = [(front, edges["front"]), (front, 0.8 * bonnet), (front - 0.10, 0.92 * bonnet), (-foot, bonnet)]
    if getattr(outline, "style", "wagon") == "pick_up":
        bed, back = said("bed_height", bonnet), said("cab_back", _CAB * base)
        tail = [(-back + 0.06, roof), (-back, bed), (-base - rear, bed)]
        window_end = [(-back + 0.14, roof - glass), (-back + 0.09, bonnet + 0.04)]
    else:
        tail = [(-base - rear + 0.14, roof), (-base - rear, bonnet)]
        window_end = [(-base - rear + 0.26, roof - glass), (-base - rear + 0.17, bonnet + 0.04)]
    under = [(-base - rear, edges["rear"])]
    for end in reversed(ENDS):
        under += _arch(job, end, sill=sill, tyre=tyre)
    body = (*nose, (-head, roof), *tail, *under)
    lean = (head - foot) / (roof - bonnet)
    windows = (
        (-foot - lean * 0.04 - 0.14, bonnet + 0.04),
        (-foot - lean * (roof - bonnet - glass) - 0.14, roof - glass),
        *window_end,
    )
    return Shape(label="", points=body, closed=True), Shape(label="", points=windows, role="plain", closed=True)


def _arch(job: Job, end: str, *, sill: float, tyre: float) -> list[Side]:
    """Return the edge of a wheel arch from its rear foot to its front foot."""
    x, _, z = parts.wheel_centre(job, end)
    tops = [
        limiter.chassis.si[2] for limiter in job.programme.vehicle.axles[end].limiters
        if limiter.kind == "tyre" and abs(limiter.chassis.si[0] - x) < 0.5 * tyre
    ]  # fmt: skip
    high = max(max(tops, default=z + _ARCH_TOP * tyre) - z, 1.05 * tyre)
    start = math.asin(max(min((sill - z) / high, 0.9), 0.0))
    turns = [math.pi - start - i * (math.pi - 2.0 * start) / (_ARCH_POINTS - 1) for i in range(_ARCH_POINTS)]
    return [(x + _ARCH * tyre * math.cos(t), z + high * math.sin(t)) for t in turns]


def wheel_side(radius: float) -> tuple[Shape, ...]:
    """Return a wheel about its centre, with a mark that shows it turn."""
    return (
        Shape(label="", points=((0.0, 0.0),), circle=radius),
        Shape(label="", points=((0.0, 0.0),), circle=0.5 * radius),
        Shape(label="", points=((0.0, 0.0), (0.0, 0.5 * radius)), role="plain"),
    )
