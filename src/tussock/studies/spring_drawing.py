"""What a drawing of a coil must say: dimensions, loads at lengths with their tolerance, wire and mass."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from tussock.mechanics.springs.specification import usual_load_tolerance
from tussock.studies.job import Job
from tussock.studies.result import Cell, Column, Table
from tussock.studies.spring_work import SpringWork


def drawing_table(job: Job, works: Sequence[SpringWork]) -> Table:
    """Return the drawing data of every coil whose dimensions are known."""
    rows: list[tuple[Cell, ...]] = []
    for w in works:
        coil = w.coil
        if coil is None:
            continue
        record: Any = job.programme.kit.springs[w.name]
        tolerance = record.load_tolerance
        # the wire runs on a helix: its pitch lengthens it a little
        turn = math.hypot(math.pi * coil.mean_diameter, coil.pitch)
        rows.append(
            (
                w.name,
                coil.wire,
                coil.mean_diameter - coil.wire,
                coil.mean_diameter + coil.wire,
                coil.mean_diameter + coil.wire + coil.solid_diameter_growth(),
                coil.active_coils,
                coil.total_coils,
                coil.free_length,
                coil.solid_length,
                w.ride,
                w.load,
                float(tolerance) if tolerance is not None else usual_load_tolerance(w.rate, w.free_length - w.ride),
                "ordered" if tolerance is not None else "to agree",
                turn * coil.total_coils,
                coil.mass,
            )
        )
    return Table(
        key="drawing",
        title="For the drawing",
        columns=(
            Column(key="spring", title="Spring"),
            Column(key="wire", title="Wire", kind="length_fine"),
            Column(key="inside", title="Inside", kind="length"),
            Column(key="outside", title="Outside", kind="length"),
            Column(key="solid_outside", title="Outside, solid", kind="length_fine"),
            Column(key="active", title="Active coils", kind="ratio"),
            Column(key="total", title="All coils", kind="ratio"),
            Column(key="free", title="Free", kind="length"),
            Column(key="solid", title="Solid", kind="length"),
            Column(key="length", title="Loaded at", kind="length"),
            Column(key="load", title="Load there", kind="force"),
            Column(key="load_tolerance", title="+-", kind="force"),
            Column(key="agreed", title="Tolerance"),
            Column(key="bar", title="Bar", kind="distance", digits=2),
            Column(key="mass", title="Mass", kind="mass", digits=1),
        ),
        rows=tuple(rows),
        note="hot coiled, ends closed and ground, three quarters of a dead coil at each; a tolerance to agree is "
        "(1.5 mm + 3 % of the deflection) times the rate, an order of magnitude from memory, since EN 15800 and ISO "
        "11891 were not at hand; state winding direction and place of the end tips too, since they turn the force line",
    )
