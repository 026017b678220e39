"""The pictures of the geometry study: curves over travel, and the front axle to scale."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage import Wheel
from tussock.mechanics.linkage.model import Rod
from tussock.studies import model, parts
from tussock.studies.display import show
from tussock.studies.geometry_parts import Characteristics
from tussock.studies.job import ENDS, Job
from tussock.studies.mending import Part
from tussock.studies.result import Axis, Drawing, Line, LineChart, Mark, Picture, Role, Shape

NO_SHIFT = 1e-5  # an axle that moves sideways by less does not [m]
HALF_WIDTH = 0.12  # of the tyre as drawn [m]


def pictures(
    job: Job,
    posture: Mapping[str, model.Standing],
    stock: Mapping[str, Characteristics],
    lifted: Mapping[str, Characteristics],
    mended: Mapping[str, Characteristics],
    found: tuple[Part, ...],
) -> tuple[Picture, ...]:
    """Return front view and curves, stock against lifted against mended."""

    def lines(end: str, name: str) -> tuple[Line, ...]:
        trio: list[tuple[str, Characteristics, str]] = [
            ("stock", stock[end], "stock"),
            ("lifted", lifted[end], "build"),
        ]
        if any(p.end == end for p in found):
            trio.append(("with the parts", mended[end], "build"))
        return tuple(
            Line(
                label=label,
                x=tuple(map(float, c.heave)),
                y=tuple(map(float, getattr(c, name))),
                role="stock" if role == "stock" else "build",
            )
            for label, c, role in trio
        )

    travel_axis = Axis(title="wheel travel from ride height", kind="length")
    loose = {e: stock[e].camber_curve is not None for e in ENDS}
    charts: list[Picture] = []
    if loose["front"]:
        charts.append(_wheel_view(job, posture))
    elif "track_rod_chassis" in parts.hardpoints(job, "front"):
        charts.append(_front_view(job, posture, found))
    charts += [
        LineChart(
            key=f"{e}_shift",
            title=f"{e.capitalize()} left wheel: contact outward over its travel"
            if loose[e]
            else f"{e.capitalize()} axle: sideways over its travel",
            x=travel_axis,
            y=Axis(title="outward" if loose[e] else "to the left", kind="length_fine"),
            lines=lines(e, "shift_curve"),
        )
        for e in ENDS
        if max(float(np.ptp(c[e].shift_curve)) for c in (stock, lifted, mended)) > NO_SHIFT
    ]
    charts += [
        LineChart(
            key=f"{e}_camber",
            title=f"{e.capitalize()} wheels: camber over travel",
            x=travel_axis,
            y=Axis(title="top outward", kind="angle_fine"),
            lines=lines(e, "camber_curve"),
        )
        for e in ENDS
        if loose[e]
    ]
    charts.append(
        LineChart(
            key="caster",
            title="Caster over travel",
            x=travel_axis,
            y=Axis(title="caster", kind="angle"),
            lines=lines("front", "caster_curve"),
        )
    )
    charts.append(
        LineChart(
            key="steer",
            title="Steer of the front wheels over travel, hand wheel held",
            x=travel_axis,
            y=Axis(title="to the left", kind="angle_fine"),
            lines=lines("front", "steer_curve"),
        )
    )
    return tuple(charts)


def _front_view(job: Job, posture: Mapping[str, model.Standing], found: tuple[Part, ...]) -> Drawing:
    """Return the front axle from the front at ride height: track rod as stock at kerb, lifted, and with its bracket."""
    points = parts.hardpoints(job, "front")
    wheel = parts.wheel_centre(job, "front")
    drop = posture["front"].heave
    radius, half = float(job.programme.vehicle.tyre.free_radius), 0.11
    chassis = points["track_rod_chassis"]
    shapes: list[Shape] = []
    # the chassis stands still; the axle hangs lower by the lift
    for side in (1.0, -1.0):
        y = side * wheel[1]
        z = wheel[2] + drop
        shapes.append(
            Shape(
                label="",
                points=tuple((y + a * half, z + b * radius) for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1), (-1, -1))),
                role="plain",
            )
        )
    shapes.append(Shape(label="", points=((-wheel[1], wheel[2] + drop), (wheel[1], wheel[2] + drop)), role="plain"))
    stock_end = points["track_rod_axle"]
    shapes.append(
        Shape(label="stock at kerb", points=_flat(stock_end, chassis), role="stock"),
    )
    lifted_end = stock_end + np.array([0.0, 0.0, drop])
    shapes.append(Shape(label="lifted", points=_flat(lifted_end, chassis), role="build"))
    bracket = next((p for p in found if p.end == "front" and p.key == "track_rod_bracket"), None)
    marks = [Mark(text="chassis end", x=float(chassis[1]), y=float(chassis[2]))]
    if bracket is not None:
        raised = lifted_end + np.array([0.0, 0.0, bracket.size])
        shapes.append(Shape(label="with bracket", points=_flat(raised, chassis), role="build"))
        marks.append(
            Mark(
                text=f"bracket {show(bracket.size, 'length', sign=True)}",
                x=float(raised[1]),
                y=float(raised[2]),
                role="governs",
            )
        )
    return Drawing(
        key="front_view",
        title="Front axle seen from the front at ride height, to scale",
        plane="y to the left, z up",
        shapes=tuple(shapes),
        marks=tuple(marks),
    )


def _wheel_view(job: Job, posture: Mapping[str, model.Standing]) -> Drawing:
    """Return the left front wheel from the front with its arms, tie rod and drive shaft, stock at kerb and lifted."""
    built = model.axle(job, "front", stock=True)
    assert isinstance(built, Wheel)
    shapes: list[Shape] = []
    marks: list[Mark] = []
    radius = float(job.programme.vehicle.tyre.free_radius)
    states: tuple[tuple[str, Role, float], ...] = (
        ("stock at kerb", "stock", 0.0),
        ("lifted", "build", posture["front"].heave),
    )
    for label, role, travel in states:
        pose = built.pose(travel)
        spans = [
            (pose.place(e.body_a, e.point_a), pose.place(e.body_b, e.point_b))
            for e in built.linkage.elements
            if isinstance(e, Rod) and e.name == "tie_rod"
        ]
        for body, ball in (("lower_arm", "lower_ball"), ("upper_arm", "upper_ball")):
            joint = next((e for e in built.linkage.elements if e.name == ball), None)
            if joint is not None:
                pivots = [parts.hardpoints(job, "front")[f"{body}_{end}"] for end in ("front", "rear")]
                spans.append((np.mean(pivots, axis=0), pose.place(body, joint.point_a)))
        (low_body, low), (top_body, top) = built.steering_axis
        spans.append((pose.place(low_body, low), pose.place(top_body, top)))
        if built.drive is not None:
            spans.append((built.drive[0], pose.place("upright", built.drive[1])))
        damper = built.attachments["damper"]
        spans.append((damper.chassis, pose.place(damper.body, damper.at)))
        spin = pose.place("upright", built.centre + built.spin) - pose.place("upright", built.centre)
        down = np.array([0.0, -spin[2], spin[1]])
        centre = pose.place("upright", built.centre)
        box = ((-1, -1), (1, -1), (1, 1), (-1, 1), (-1, -1))
        corners = [centre + a * HALF_WIDTH * spin + b * radius * down for a, b in box]
        shapes.append(Shape(label="", points=tuple((float(c[1]), float(c[2])) for c in corners), role=role))
        shapes += [Shape(label="", points=_flat(np.asarray(a), np.asarray(b)), role=role) for a, b in spans]
        marks.append(Mark(text=label, x=float(corners[2][1]), y=float(corners[2][2]), role=role))
    return Drawing(
        key="front_view",
        title="Left front wheel seen from the front, to scale: stock at kerb, and lifted",
        plane="y to the left, z up",
        shapes=tuple(shapes),
        marks=tuple(marks),
    )


def _flat(a: Floats, b: Floats) -> tuple[tuple[float, float], ...]:
    return ((float(a[1]), float(a[2])), (float(b[1]), float(b[2])))
