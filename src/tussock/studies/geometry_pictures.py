"""The pictures of the geometry study: curves over travel, and the front axle to scale."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from tussock.mechanics.arrays import Floats
from tussock.studies import model, parts
from tussock.studies.display import show
from tussock.studies.geometry_parts import Characteristics
from tussock.studies.job import ENDS, Job
from tussock.studies.mending import Part
from tussock.studies.result import Axis, Drawing, Line, LineChart, Mark, Picture, Shape


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
    charts: list[Picture] = [_front_view(job, posture, found)]
    charts += [
        LineChart(
            key=f"{e}_shift",
            title=f"{e.capitalize()} axle: sideways over its travel",
            x=travel_axis,
            y=Axis(title="to the left", kind="length_fine"),
            lines=lines(e, "shift_curve"),
        )
        for e in ENDS
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


def _flat(a: Floats, b: Floats) -> tuple[tuple[float, float], ...]:
    return ((float(a[1]), float(a[2])), (float(b[1]), float(b[2])))
